//! What a command works with: the backend, the tables chosen, and what typed codes mean there.
//! It does not know charts or what a command does with the answers.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use dyekin_core::error::{Error, ErrorKind};
use dyekin_core::nearest::ThreadFilter;
use dyekin_core::table::{Loaded, Notice, ReadOptions, Table};
use dyekin_core::{Catalog, Color, TableId, Thread, ThreadRef};

use super::stem;
use crate::asked::{self, Asked};
use crate::backend::{Backend, Embedded};
use crate::cli::TableArgs;
use crate::failure::{Failure, Result};
use crate::files;
use crate::printer::Printer;
use crate::report::text;
use crate::settings::{Reading, Wanted};

/// Notices of one table that are shown; `table check` shows all.
pub(crate) const NOTICES_SHOWN: usize = 3;

/// A backend with the tables that the user chose from it.
#[derive(Debug)]
pub(crate) struct Shop {
    pub(crate) backend: Box<dyn Backend>,
    /// The tables to choose threads from.
    pub(crate) tables: Vec<TableId>,
    /// The table that bare codes of a chart belong to, when it was said.
    pub(crate) from: Option<TableId>,
    pub(crate) reading: Reading,
    server: Option<String>,
    /// The tables in process, for a second shop over them.
    embedded: Embedded,
}

/// What a second shop is opened from; it can go to another thread.
#[derive(Clone, Debug)]
pub(crate) struct Again {
    tables: Vec<TableId>,
    from: Option<TableId>,
    reading: Reading,
    server: Option<String>,
    embedded: Embedded,
}

impl Again {
    /// Opens it.
    pub(crate) fn open(&self, stop: Arc<AtomicBool>) -> Result<Shop> {
        let Self { tables, from, reading, server, embedded } = self.clone();
        let backend = match &server {
            Some(server) => connect(server, stop)?,
            None => Box::new(embedded.clone()),
        };
        Ok(Shop { backend, tables, from, reading, server, embedded })
    }
}

/// Whether a command can do without a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Need {
    /// It answers from tables.
    Tables,
    /// Colors are enough.
    Nothing,
}

impl Shop {
    /// Opens the tables that were typed, in process or at a server.
    pub(crate) fn open(
        typed: &TableArgs,
        from: Option<&Path>,
        need: Need,
        printer: &mut Printer,
    ) -> Result<Self> {
        let reading = Reading::checked(&typed.reading)?;
        match &typed.reading.server {
            Some(server) => Self::remote(server, typed, from, reading, printer),
            None => Self::embedded(typed, from, reading, need, printer),
        }
    }

    fn remote(
        server: &str,
        typed: &TableArgs,
        from: Option<&Path>,
        reading: Reading,
        printer: &Printer,
    ) -> Result<Self> {
        let ids = typed.tables.iter().map(|name| server_table(name, server));
        let tables = ids.collect::<Result<_>>()?;
        let from = from.map(|name| server_table(name, server)).transpose()?;
        let backend = connect(server, printer.stop_flag())?;
        let (server, embedded) = (Some(server.to_owned()), Embedded::default());
        Ok(Self { backend, tables, from, reading, server, embedded })
    }

    /// A second shop over the same tables, for another thread of the run: the tables in process are
    /// shared, to a server it has a connection of its own.
    pub(crate) fn again(&self) -> Again {
        Again {
            tables: self.tables.clone(),
            from: self.from.clone(),
            reading: self.reading.clone(),
            server: self.server.clone(),
            embedded: self.embedded.clone(),
        }
    }

    fn embedded(
        typed: &TableArgs,
        from: Option<&Path>,
        reading: Reading,
        need: Need,
        printer: &mut Printer,
    ) -> Result<Self> {
        if typed.tables.is_empty() && need == Need::Tables {
            return Err(Failure::said(
                "no thread table given",
                "add --table FILE, or ask a server with --server URL",
            ));
        }
        let mut files: Vec<&Path> = typed.tables.iter().map(PathBuf::as_path).collect();
        let from_id = from.map(|name| from_table(name, &mut files)).transpose()?;
        let tables = load(&files, &reading, printer)?;
        let chosen =
            tables.iter().take(typed.tables.len()).map(|table| table.id().clone()).collect();
        let embedded = Embedded::new(Catalog::build(tables));
        let backend = Box::new(embedded.clone());
        Ok(Self { backend, tables: chosen, from: from_id, reading, server: None, embedded })
    }

    /// The tables to search for a bare code: those chosen, or all of the server.
    pub(crate) fn searched(&mut self) -> Result<Vec<TableId>> {
        if !self.tables.is_empty() || self.server.is_none() {
            return Ok(self.tables.clone());
        }
        Ok(self.backend.list_tables()?.into_iter().map(|head| head.id).collect())
    }

    /// What each typed text means: a color of its own, or a thread with its color.
    ///
    /// All problems are reported at once.
    pub(crate) fn resolve(&mut self, texts: &[String]) -> Result<Vec<Standard>> {
        let reading = self.reading.clone();
        self.resolve_by(texts, &|text| asked::parse(text, &reading))
    }

    /// The threads that each typed text means; colors are refused.
    pub(crate) fn resolve_threads(&mut self, texts: &[String]) -> Result<Vec<ThreadRef>> {
        let found = self.resolve_by(texts, &|text| asked::thread(text.trim()))?;
        Ok(found
            .into_iter()
            .filter_map(|standard| match standard {
                Standard::Thread(wanted, _) => Some(wanted),
                Standard::Color(_) => None,
            })
            .collect())
    }

    fn resolve_by(
        &mut self,
        texts: &[String],
        parse: &dyn Fn(&str) -> std::result::Result<Asked, Error>,
    ) -> Result<Vec<Standard>> {
        let (mut found, mut problems) = (Vec::new(), Vec::new());
        for text in texts {
            let meant = match parse(text) {
                Ok(asked) => self.look_up(asked)?,
                Err(error) => Err(vec![error]),
            };
            match meant {
                Ok(standard) => found.push(standard),
                Err(errors) => problems.extend(errors),
            }
        }
        if problems.is_empty() { Ok(found) } else { Err(problems.into()) }
    }

    fn look_up(&mut self, asked: Asked) -> Result<std::result::Result<Standard, Vec<Error>>> {
        match asked {
            Asked::Color(color) => Ok(Ok(Standard::Color(color))),
            Asked::Thread { table: Some(table), code } => {
                let wanted = ThreadRef { table, code };
                let thread = self.backend.threads(std::slice::from_ref(&wanted))?.pop();
                Ok(match thread {
                    Some(Ok(thread)) => Ok(Standard::Thread(wanted, Box::new(thread))),
                    Some(Err(error)) => Err(vec![error]),
                    None => Err(Vec::new()),
                })
            }
            Asked::Thread { table: None, code } => self.bare(&code),
            Asked::Either(color, code) => Ok(match self.bare(&code)? {
                Ok(Standard::Thread(wanted, _)) => Err(vec![two_meanings(color, &wanted)]),
                Ok(Standard::Color(_)) | Err(_) => Ok(Standard::Color(color)),
            }),
        }
    }

    /// A code of the searched tables; it must stand in exactly one of them.
    fn bare(
        &mut self,
        code: &dyekin_core::Code,
    ) -> Result<std::result::Result<Standard, Vec<Error>>> {
        let tables = self.searched()?;
        let wanted: Vec<ThreadRef> =
            tables.into_iter().map(|table| ThreadRef { table, code: code.clone() }).collect();
        if wanted.is_empty() {
            return Ok(Err(vec![no_table(code)]));
        }
        let (mut found, mut problems) = (Vec::new(), Vec::new());
        for (wanted, thread) in wanted.iter().zip(self.backend.threads(&wanted)?) {
            match thread {
                Ok(thread) => found.push((wanted.clone(), thread)),
                Err(error) => problems.push(error),
            }
        }
        let others: Vec<String> = found.iter().map(|(wanted, _)| spelled(wanted)).collect();
        match found.pop() {
            Some((wanted, thread)) if found.is_empty() => {
                Ok(Ok(Standard::Thread(wanted, Box::new(thread))))
            }
            Some(_) => Ok(Err(vec![several(code, &others)])),
            None => Ok(Err(problems)),
        }
    }

    /// The filter with its excluded codes. A bare code is excluded from every table that has it.
    pub(crate) fn filter(&mut self, wanted: &Wanted) -> Result<ThreadFilter> {
        let mut filter = wanted.filter.clone();
        let mut problems = Vec::new();
        for text in &wanted.exclude {
            match asked::thread(text.trim()) {
                Ok(Asked::Thread { table, code }) => {
                    let tables = match table {
                        Some(table) => vec![table],
                        None => self.searched()?,
                    };
                    let refs: Vec<ThreadRef> = tables
                        .into_iter()
                        .map(|table| ThreadRef { table, code: code.clone() })
                        .collect();
                    let (known, unknown) = self.known(&refs)?;
                    if known.is_empty() {
                        problems.extend(unknown);
                    }
                    filter.excluded.extend(known);
                }
                Ok(Asked::Color(_) | Asked::Either(..)) => {}
                Err(error) => problems.push(error),
            }
        }
        if problems.is_empty() { Ok(filter) } else { Err(problems.into()) }
    }

    /// Splits threads into those that their tables have and the errors for the others.
    pub(crate) fn known(&mut self, refs: &[ThreadRef]) -> Result<(Vec<ThreadRef>, Vec<Error>)> {
        let (mut known, mut unknown) = (Vec::new(), Vec::new());
        for (wanted, thread) in refs.iter().zip(self.backend.threads(refs)?) {
            match thread {
                Ok(_) => known.push(wanted.clone()),
                Err(error) => unknown.push(error),
            }
        }
        Ok((known, unknown))
    }
}

/// A color that others are compared with.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Standard {
    /// A color of its own.
    Color(Color),
    /// A thread.
    Thread(ThreadRef, Box<Thread>),
}

impl Standard {
    pub(crate) fn color(&self) -> &Color {
        match self {
            Self::Color(color) => color,
            Self::Thread(_, thread) => &thread.color,
        }
    }

    /// What it is called in a report.
    pub(crate) fn name(&self) -> String {
        match self {
            Self::Color(color) => match color.listed_srgb() {
                Some(listed) => listed.to_string(),
                None => {
                    let lab = color.lab();
                    format!("lab({} {} {})", lab.l(), lab.a(), lab.b())
                }
            },
            Self::Thread(wanted, thread) => text::thread_name(wanted, &thread.name),
        }
    }
}

fn spelled(wanted: &ThreadRef) -> String {
    format!("{}:{}", wanted.table, wanted.code)
}

fn several(code: &dyekin_core::Code, spellings: &[String]) -> Error {
    Error::new(ErrorKind::BadValue {
        value: code.to_string(),
        reason: "more than one table has this code".into(),
        remedy: format!("write {}", spellings.join(" or ")),
    })
}

fn two_meanings(color: Color, wanted: &ThreadRef) -> Error {
    Error::new(ErrorKind::BadValue {
        value: wanted.code.to_string(),
        reason: format!("it is a color and also a code of table {}", wanted.table),
        remedy: format!("write {} or {}", color.srgb(), spelled(wanted)),
    })
}

fn no_table(code: &dyekin_core::Code) -> Error {
    Error::new(ErrorKind::BadValue {
        value: code.to_string(),
        reason: "neither a color nor, without a table, a code".into(),
        remedy: "write a color such as #4a6b3c, or name the table of the code with --table".into(),
    })
}

/// The name of a server's table; a path is refused, since the server cannot see our files.
pub(crate) fn server_table(name: &Path, server: &str) -> Result<TableId> {
    let text = name.to_string_lossy();
    TableId::parse(&text).map_err(|error| {
        let looks_like_a_file = text.contains(['/', '\\', '.']);
        if !looks_like_a_file {
            return error.into();
        }
        Failure::said(
            format!(
                "--table {}: with --server this is the name of a table there",
                files::shown(name)
            ),
            format!(
                "import the file first: dyekin table import {} --server {server}; then --table {}",
                files::shown(name),
                TableId::from_any(&stem(name))
            ),
        )
    })
}

/// `--from` names a file, or one of the tables given with `--table`.
fn from_table<'p>(name: &'p Path, files: &mut Vec<&'p Path>) -> Result<TableId> {
    let text = name.to_string_lossy();
    let given = files.iter().map(|file| TableId::from_any(&stem(file)));
    if let Some(id) = given.into_iter().find(|id| id.as_str() == text) {
        return Ok(id);
    }
    if files.contains(&name) {
        return Ok(TableId::from_any(&stem(name)));
    }
    if !text.contains(['/', '\\', '.']) {
        return Err(Failure::said(
            format!("--from {}: none of the tables given has this name", files::shown(name)),
            "write the table's file, or the name of one that --table gives",
        ));
    }
    files.push(name);
    Ok(TableId::from_any(&stem(name)))
}

#[cfg(feature = "remote")]
pub(crate) fn connect(server: &str, stop: Arc<AtomicBool>) -> Result<Box<dyn Backend>> {
    let remote = crate::backend::Remote::connect(server)?;
    Ok(Box::new(remote.heeding(stop)))
}

#[cfg(not(feature = "remote"))]
pub(crate) fn connect(server: &str, _: Arc<AtomicBool>) -> Result<Box<dyn Backend>> {
    Err(Failure::said(
        format!("--server {server}: this dyekin was built without the part that asks servers"),
        "leave --server out to answer in process",
    ))
}

/// How a table file is read.
pub(crate) fn read_options(path: &Path, name: Option<&TableId>, reading: &Reading) -> ReadOptions {
    ReadOptions {
        id: name.cloned().unwrap_or_else(|| TableId::from_any(&stem(path))),
        source_name: path.to_string_lossy().into_owned(),
        conditions: reading.conditions,
        origin: reading.origin,
        alpha_first: reading.alpha_first,
        measurement: reading.measurement.clone(),
    }
}

/// Reads all files, or reports all their problems.
fn load(files: &[&Path], reading: &Reading, printer: &mut Printer) -> Result<Vec<Table>> {
    let (mut tables, mut problems, mut unlisted) = (Vec::<Table>::new(), Vec::new(), 0);
    for path in files {
        let options = read_options(path, None, reading);
        if tables.iter().any(|table| *table.id() == options.id) {
            return Err(Failure::said(
                format!("{}: a second table of the name {}", files::shown(path), options.id),
                "tables are named after their files: rename one of them",
            ));
        }
        match dyekin_core::table::read(&files::read(path)?, &options) {
            Ok(Loaded { table, notices }) => {
                show_notices(&options.source_name, &notices, NOTICES_SHOWN, printer);
                tables.push(table);
            }
            Err(refused) => {
                problems.extend(refused.problems);
                unlisted += refused.unlisted;
            }
        }
    }
    if problems.is_empty() {
        Ok(tables)
    } else {
        Err(Failure::Domain { errors: problems, unlisted })
    }
}

/// Shows what the reader of a table took for granted, the first ones only.
pub(crate) fn show_notices(source: &str, notices: &[Notice], most: usize, printer: &mut Printer) {
    show_some(source, notices, (most, "dyekin table check"), printer);
}

/// Shows the first of some notices, and what shows them all.
pub(crate) fn show_some(
    source: &str,
    notices: &[Notice],
    (most, more): (usize, &str),
    printer: &mut Printer,
) {
    for notice in notices.iter().take(most) {
        printer.note(&text::notice(source, notice));
    }
    if notices.len() > most {
        let rest = notices.len() - most;
        printer.note(&format!("note: {rest} more of {source}: {more} shows them"));
    }
}

#[cfg(test)]
impl Shop {
    /// A shop around the backend of a test.
    pub(crate) fn of(backend: Box<dyn Backend>, tables: Vec<TableId>) -> Self {
        let (reading, embedded) = (Reading::default(), Embedded::default());
        Self { backend, tables, from: None, reading, server: None, embedded }
    }
}
