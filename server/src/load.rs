//! Table files of a directory to a catalog: the only access to the file system besides the address
//! file. It does not know the formats; core reads the bytes.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use dyekin_core::error::harmless;
use dyekin_core::table::{Loaded, Notice, ReadOptions, read};
use dyekin_core::{Catalog, Error, Table, TableId};

/// Largest table file, in bytes.
pub const MAX_TABLE_BYTES: usize = 64 << 20;

/// Endings of files that are read as tables.
const ENDINGS: [&str; 3] = ["csv", "json", "tsv"];

/// A catalog read from a directory, with what there is to know about it.
#[derive(Debug)]
pub struct LoadedCatalog {
    /// The tables.
    pub catalog: Catalog,
    /// What the readers took for granted, as sentences with their file.
    pub notices: Vec<String>,
}

/// Something that keeps a directory from being read as a whole.
#[derive(Debug)]
pub enum LoadProblem {
    /// A file or the directory cannot be read.
    Io(PathBuf, io::Error),
    /// Two files give one table id.
    SameId(TableId, PathBuf, PathBuf),
    /// A file is not a sound table.
    Table(Error),
    /// Problems of a file beyond those listed.
    Unlisted(PathBuf, usize),
}

impl std::fmt::Display for LoadProblem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Io(path, error) => write!(f, "cannot read {}: {error}", shown(path)),
            Self::SameId(id, first, second) => {
                write!(f, "{} and {} both give table {id}", shown(first), shown(second))
            }
            Self::Table(error) => match error.hint() {
                Some(hint) => write!(f, "{error}; {hint}"),
                None => error.fmt(f),
            },
            Self::Unlisted(path, count) => {
                let problems = if *count == 1 { "problem" } else { "problems" };
                write!(f, "{}: {count} more {problems}", shown(path))
            }
        }
    }
}

/// Reads every table of a directory. The id of a table comes from its file's stem.
///
/// # Errors
///
/// All problems of all files; then no table is taken.
pub fn load_directory(directory: &Path) -> Result<LoadedCatalog, Vec<LoadProblem>> {
    let files = table_files(directory).map_err(|problem| vec![problem])?;
    let mut tables: BTreeMap<TableId, (PathBuf, Table)> = BTreeMap::new();
    let mut notices = Vec::new();
    let mut problems = Vec::new();
    for path in files {
        match load_file(&path) {
            Ok(Loaded { table, notices: found }) => {
                notices.extend(found.iter().map(|notice| told(&path, notice)));
                let id = table.id().clone();
                if let Some((first, _)) = tables.insert(id.clone(), (path.clone(), table)) {
                    problems.push(LoadProblem::SameId(id, first, path));
                }
            }
            Err(found) => problems.extend(found),
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let catalog = Catalog::build(tables.into_values().map(|(_, table)| table));
    Ok(LoadedCatalog { catalog, notices })
}

/// Writes the address that the server listens on, whole or not at all.
///
/// # Errors
///
/// What the file system says.
pub fn write_address(path: &Path, address: std::net::SocketAddr) -> io::Result<()> {
    let mut made = path.as_os_str().to_owned();
    made.push(".new");
    fs::write(&made, format!("{address}\n"))?;
    fs::rename(&made, path)
}

/// Removes the address of an earlier server, so that nobody who waits for the file reads it.
///
/// # Errors
///
/// What the file system says, unless there is no such file.
pub(crate) fn forget_address(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        Ok(()) | Err(_) => Ok(()),
    }
}

/// A path without characters that could forge a log line.
pub(crate) fn shown(path: &Path) -> String {
    harmless(&path.display().to_string())
}

fn told(path: &Path, notice: &Notice) -> String {
    let text = harmless(&notice.text);
    match &notice.place {
        Some(place) if place.source_name.is_some() => format!("{place}: {text}"),
        Some(place) => format!("{}: {place}: {text}", shown(path)),
        None => format!("{}: {text}", shown(path)),
    }
}

fn table_files(directory: &Path) -> Result<Vec<PathBuf>, LoadProblem> {
    let io = |error| LoadProblem::Io(directory.to_owned(), error);
    let mut files = Vec::new();
    for entry in fs::read_dir(directory).map_err(io)? {
        let path = entry.map_err(io)?.path();
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
        let hidden = path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'));
        if !hidden && ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str())) {
            files.push(path);
        } else {
            tracing::debug!(path = %path.display(), "not a table file");
        }
    }
    files.sort();
    Ok(files)
}

/// The bytes of a plain file: opening a pipe would wait for a writer for ever.
fn file_bytes(path: &Path) -> io::Result<Vec<u8>> {
    let other = |kind, text: &str| Err(io::Error::new(kind, text.to_owned()));
    let found = fs::metadata(path)?;
    if !found.is_file() {
        return other(io::ErrorKind::InvalidInput, "not a file; rename it or move it away");
    }
    let mut bytes = Vec::with_capacity(usize::try_from(found.len()).map_or(0, capped));
    // One byte more than allowed, whatever the file's size was a moment ago.
    File::open(path)?.take(MAX_TABLE_BYTES as u64 + 1).read_to_end(&mut bytes)?;
    if bytes.len() > MAX_TABLE_BYTES {
        let text = format!("more than {MAX_TABLE_BYTES} bytes; split the table into several files");
        return other(io::ErrorKind::FileTooLarge, &text);
    }
    Ok(bytes)
}

fn capped(size: usize) -> usize {
    size.min(MAX_TABLE_BYTES) + 1
}

fn load_file(path: &Path) -> Result<Loaded, Vec<LoadProblem>> {
    let io = |error| vec![LoadProblem::Io(path.to_owned(), error)];
    let bytes = file_bytes(path).map_err(io)?;
    let options = ReadOptions {
        id: TableId::from_any(&path.file_stem().unwrap_or_default().to_string_lossy()),
        source_name: path.file_name().unwrap_or_default().to_string_lossy().into_owned(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    };
    read(&bytes, &options).map_err(|refused| {
        let mut problems: Vec<_> = refused.problems.into_iter().map(LoadProblem::Table).collect();
        if refused.unlisted > 0 {
            problems.push(LoadProblem::Unlisted(path.to_owned(), refused.unlisted));
        }
        problems
    })
}
