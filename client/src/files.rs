//! The only user of the file system: reads with a size cap, writes whole files or nothing.
//! It does not know what is in a file.

mod listing;

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use dyekin_core::error::harmless;

pub(crate) use listing::{Identity, Kind, head, identity, is_folder, is_taken, list, make_folder};

use crate::change_file::digest;
use crate::failure::{Failure, Result};

/// Largest file that is read, in bytes. House choice: a table of a million rows fits.
pub const MAX_BYTES: u64 = 256 * 1024 * 1024;

/// A path fit for a message.
#[must_use]
pub fn shown(path: &Path) -> String {
    harmless(&path.to_string_lossy())
}

/// Reads a whole file of at most [`MAX_BYTES`].
///
/// # Errors
///
/// [`Failure::Said`] when the file cannot be read or is too large.
pub fn read(path: &Path) -> Result<Vec<u8>> {
    read_capped(path, MAX_BYTES)
}

fn read_capped(path: &Path, cap: u64) -> Result<Vec<u8>> {
    let file = File::open(path).map_err(|error| cannot("read", path, &error))?;
    let mut bytes = Vec::new();
    file.take(cap + 1).read_to_end(&mut bytes).map_err(|error| cannot("read", path, &error))?;
    if bytes.len() as u64 > cap {
        return Err(Failure::said(
            format!("reading {}: larger than {cap} bytes", shown(path)),
            "no chart or thread table is that large; is it the right file?",
        ));
    }
    Ok(bytes)
}

fn cannot(verb: &str, path: &Path, error: &io::Error) -> Failure {
    let message = match verb {
        "read" => format!("reading {}: {}", shown(path), said(error)),
        _ => format!("writing {}: {}", shown(path), said(error)),
    };
    Failure::Said { message, hint: hint(verb, path, error.kind()).map(str::to_owned) }
}

/// What to do about a file that the system refuses.
fn hint(verb: &str, path: &Path, kind: io::ErrorKind) -> Option<&'static str> {
    match (kind, verb) {
        (io::ErrorKind::NotFound, "read") => Some("check the name, and the folder that you are in"),
        (io::ErrorKind::NotFound, _) => Some("make the folder first, or write into another one"),
        (io::ErrorKind::IsADirectory, "read") => Some("name a file in the folder"),
        (io::ErrorKind::NotADirectory, _) => Some("a part of the path before the name is a file"),
        (io::ErrorKind::PermissionDenied, "read") => {
            Some("ask for the right to read it, or copy it to where you have it")
        }
        (io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem, _) => {
            Some("write into a folder of your own")
        }
        (io::ErrorKind::StorageFull, _) => Some("make room, or write to another disk"),
        // A folder that is read says so only when its bytes are asked for, on some systems.
        (_, "read") if path.is_dir() => Some("name a file in the folder"),
        _ => None,
    }
}

/// The system's words without its numbers.
pub(crate) fn said(error: &io::Error) -> String {
    let words = [
        (io::ErrorKind::NotFound, "no such file or folder"),
        (io::ErrorKind::PermissionDenied, "permission denied"),
        (io::ErrorKind::IsADirectory, "it is a folder"),
        (io::ErrorKind::StorageFull, "the disk is full"),
    ];
    let known = words.into_iter().find(|(kind, _)| *kind == error.kind());
    known.map_or_else(|| error.to_string(), |(_, words)| words.to_owned())
}

/// Files to be written together: all are checked before the work, and written whole after it.
#[derive(Debug)]
pub struct Outputs {
    inputs: Vec<PathBuf>,
    existing: Existing,
    taken: Vec<PathBuf>,
}

/// What becomes of an output that exists.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Existing {
    /// It stays, and the run is refused.
    #[default]
    Refused,
    /// It is replaced.
    Replaced,
    /// It is replaced when it is what an earlier run wrote: its content has one of these digests, or
    /// is what would be written. Otherwise it stays, and the run is refused.
    Continued(Vec<String>),
}

impl Outputs {
    /// Outputs beside these inputs. With `force` an existing output is replaced; an input never is.
    #[must_use]
    pub fn beside(inputs: &[&Path], force: bool) -> Self {
        Self::with(inputs, if force { Existing::Replaced } else { Existing::Refused })
    }

    /// Outputs beside these inputs, with what becomes of those that exist.
    #[must_use]
    pub fn with(inputs: &[&Path], existing: Existing) -> Self {
        let inputs = inputs.iter().map(|path| path.to_path_buf()).collect();
        Self { inputs, existing, taken: Vec::new() }
    }

    /// Checks an output before the work begins.
    ///
    /// # Errors
    ///
    /// [`Failure::Said`] when it is an input under any spelling or link, is named twice, exists
    /// without `force`, or is no ordinary file.
    pub fn add(&mut self, path: &Path) -> Result<()> {
        let target = resolve(path)?;
        if self.inputs.iter().any(|input| is_same(input, &target)) {
            return Err(Failure::said(
                format!("writing {}: that is an input, which is never overwritten", shown(path)),
                "give the output another name",
            ));
        }
        if self.taken.iter().any(|other| *other == target || is_same(other, &target)) {
            return Err(Failure::said(
                format!("writing {}: two outputs have this name", shown(path)),
                "give each output its own name",
            ));
        }
        self.check_existing(path, &target)?;
        self.taken.push(target);
        Ok(())
    }

    fn check_existing(&self, path: &Path, target: &Path) -> Result<()> {
        let Ok(found) = fs::symlink_metadata(target) else { return Ok(()) };
        if !found.is_file() {
            let message = format!("writing {}: it is not an ordinary file", shown(path));
            return Err(Failure::said(message, "name a file that is none yet"));
        }
        match self.existing {
            Existing::Refused => Err(exists(path)),
            // What is written says whether it is the same.
            Existing::Replaced | Existing::Continued(_) => Ok(()),
        }
    }

    /// Whether a file takes the place of one that exists; `None` when that one is the same already.
    fn replaces(&self, path: &Path, target: &Path, bytes: &[u8]) -> Result<Option<bool>> {
        match &self.existing {
            Existing::Refused => Ok(Some(false)),
            Existing::Replaced => Ok(Some(true)),
            Existing::Continued(_) if !target.exists() => Ok(Some(false)),
            Existing::Continued(known) => {
                let held = read(target)?;
                if held == bytes {
                    Ok(None)
                } else if known.contains(&digest(&held)) {
                    Ok(Some(true))
                } else {
                    Err(exists(path))
                }
            }
        }
    }

    /// Writes all files: each under another name first, and only when all are whole do they get
    /// their names. A command that is killed leaves no half file.
    ///
    /// # Errors
    ///
    /// [`Failure::Said`] when the disk refuses; files that have their name by then stay.
    pub fn write(&self, files: &[(&Path, Vec<u8>)]) -> Result<()> {
        let mut staged: Vec<(Staged<'_>, bool)> = Vec::new();
        for (path, bytes) in files {
            let target = resolve(path)?;
            if !self.taken.contains(&target) {
                let what = format!("output {} was never checked", shown(path));
                return Err(Failure::Bug { what });
            }
            if let Some(replaces) = self.replaces(path, &target, bytes)? {
                staged.push((Staged::write(path, target, bytes)?, replaces));
            }
        }
        staged.into_iter().try_for_each(|(file, replaces)| file.name(replaces))
    }
}

fn exists(path: &Path) -> Failure {
    Failure::said(
        format!("writing {}: the file exists", shown(path)),
        "name another file, or add --force to replace it",
    )
}

/// The file that would really be written: links followed, the folder spelled one way.
fn resolve(path: &Path) -> Result<PathBuf> {
    if let Ok(real) = fs::canonicalize(path) {
        return Ok(real);
    }
    if fs::symlink_metadata(path).is_ok() {
        let message = format!("writing {}: it is a link that leads nowhere", shown(path));
        return Err(Failure::said(message, "remove the link, or name another file"));
    }
    let Some(name) = path.file_name() else {
        let message = format!("writing {}: no file name", shown(path));
        return Err(Failure::said(message, "write the name of a file behind the folder"));
    };
    let folder = match path.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    };
    let folder = fs::canonicalize(folder).map_err(|error| cannot("write", path, &error))?;
    Ok(folder.join(name))
}

/// True for one file under two names: other spelling, symbolic or hard link.
fn is_same(left: &Path, right: &Path) -> bool {
    same_file::is_same_file(left, right).unwrap_or(false)
}

/// A file that is whole on the disk but does not have its name yet. Dropped, it disappears.
#[derive(Debug)]
struct Staged<'f> {
    asked: &'f Path,
    target: PathBuf,
    draft: PathBuf,
}

impl<'f> Staged<'f> {
    fn write(asked: &'f Path, target: PathBuf, bytes: &[u8]) -> Result<Self> {
        let (mut file, draft) =
            open_draft(&target).map_err(|error| cannot("write", asked, &error))?;
        let staged = Self { asked, target, draft };
        file.write_all(bytes)
            .and_then(|()| file.sync_all())
            .map_err(|error| cannot("write", asked, &error))?;
        if let Ok(before) = fs::metadata(&staged.target) {
            file.set_permissions(before.permissions())
                .map_err(|error| cannot("write", asked, &error))?;
        }
        Ok(staged)
    }

    fn name(self, replaces: bool) -> Result<()> {
        if replaces {
            return fs::rename(&self.draft, &self.target)
                .map_err(|error| cannot("write", self.asked, &error));
        }
        // A link fails where a rename would silently replace a file that came in between.
        match fs::hard_link(&self.draft, &self.target) {
            Ok(()) => Ok(()),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(exists(self.asked)),
            Err(_) if self.target.exists() => Err(exists(self.asked)),
            // Some file systems have no links.
            Err(_) => fs::rename(&self.draft, &self.target)
                .map_err(|error| cannot("write", self.asked, &error)),
        }
    }
}

impl Drop for Staged<'_> {
    fn drop(&mut self) {
        // After a rename the draft is gone already.
        let _ = fs::remove_file(&self.draft);
    }
}

/// Most drafts that may lie about from earlier runs.
const MAX_DRAFTS: u32 = 1_000;

/// Age at which a draft whose writer is gone is a leftover: on a shared folder the writer may run on
/// another machine.
const STALE: Duration = Duration::from_secs(3_600);

/// Removes drafts of the same target that a killed run has left behind.
fn sweep(target: &Path, short: &str) {
    let Some(folder) = target.parent() else { return };
    // Where the system does not tell which processes run, nothing is removed.
    let processes = Path::new("/proc");
    if !processes.join(std::process::id().to_string()).exists() {
        return;
    }
    let prefix = format!(".{short}.");
    for found in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = found.file_name();
        let name = name.to_string_lossy();
        let rest = name.strip_prefix(&prefix).and_then(|rest| rest.strip_suffix(".part"));
        let Some((process, count)) = rest.and_then(|rest| rest.split_once('-')) else { continue };
        let is_number =
            |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        if !is_number(process) || !is_number(count) || processes.join(process).exists() {
            continue;
        }
        let age = found.metadata().and_then(|held| held.modified()).map(|made| made.elapsed());
        if matches!(age, Ok(Ok(age)) if age > STALE) {
            // What cannot be removed does no harm.
            let _ = fs::remove_file(found.path());
        }
    }
}

fn open_draft(target: &Path) -> io::Result<(File, PathBuf)> {
    let name = target.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let short: String = name.chars().take(60).collect();
    sweep(target, &short);
    for count in 0..MAX_DRAFTS {
        let draft = target.with_file_name(format!(".{short}.{}-{count}.part", std::process::id()));
        match OpenOptions::new().write(true).create_new(true).open(&draft) {
            Ok(file) => return Ok((file, draft)),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(error),
        }
    }
    Err(io::ErrorKind::AlreadyExists.into())
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Folder(PathBuf);

    impl Folder {
        fn new(name: &str) -> Self {
            let path =
                std::env::temp_dir().join(format!("dyekin-files-{}-{name}", std::process::id()));
            let _ = fs::remove_dir_all(&path);
            fs::create_dir_all(&path).unwrap();
            Self(path)
        }

        fn file(&self, name: &str, text: &str) -> PathBuf {
            let path = self.0.join(name);
            fs::write(&path, text).unwrap();
            path
        }
    }

    impl Drop for Folder {
        fn drop(&mut self) {
            let _ = fs::remove_dir_all(&self.0);
        }
    }

    fn message(result: Result<()>) -> String {
        result.unwrap_err().to_string()
    }

    #[test]
    fn an_input_is_refused_under_every_spelling() {
        let folder = Folder::new("spelling");
        let input = folder.file("in.png", "in");
        let symbolic = folder.0.join("symbolic.png");
        std::os::unix::fs::symlink(&input, &symbolic).unwrap();
        let hard = folder.0.join("hard.png");
        fs::hard_link(&input, &hard).unwrap();
        let dotted = folder.0.join(".").join("in.png");
        for path in [&input, &symbolic, &hard, &dotted] {
            let mut outputs = Outputs::beside(&[&input], true);
            assert!(message(outputs.add(path)).contains("never overwritten"), "{path:?}");
        }
    }

    #[test]
    fn an_existing_output_needs_force() {
        let folder = Folder::new("force");
        let old = folder.file("out.csv", "old");
        assert!(message(Outputs::beside(&[], false).add(&old)).contains("the file exists"));
        let mut outputs = Outputs::beside(&[], true);
        outputs.add(&old).unwrap();
        outputs.write(&[(&old, b"new".to_vec())]).unwrap();
        assert_eq!(fs::read_to_string(&old).unwrap(), "new");
        assert_eq!(fs::read_dir(&folder.0).unwrap().count(), 1);
    }

    #[test]
    fn a_file_that_came_in_between_stays() {
        let folder = Folder::new("between");
        let path = folder.0.join("out.csv");
        let mut outputs = Outputs::beside(&[], false);
        outputs.add(&path).unwrap();
        folder.file("out.csv", "somebody else's");
        assert!(message(outputs.write(&[(&path, b"ours".to_vec())])).contains("the file exists"));
        assert_eq!(fs::read_to_string(&path).unwrap(), "somebody else's");
        assert_eq!(fs::read_dir(&folder.0).unwrap().count(), 1);
    }

    #[test]
    fn no_file_appears_when_one_of_them_cannot_be_written() {
        let folder = Folder::new("together");
        let (first, second) = (folder.0.join("a.csv"), folder.0.join("b.csv"));
        let mut outputs = Outputs::beside(&[], false);
        outputs.add(&first).unwrap();
        let files = [(first.as_path(), b"a".to_vec()), (second.as_path(), b"b".to_vec())];
        assert!(matches!(outputs.write(&files), Err(Failure::Bug { .. })));
        assert_eq!(fs::read_dir(&folder.0).unwrap().count(), 0);
    }

    #[test]
    fn drafts_of_killed_runs_are_swept_and_those_of_others_stay() {
        let folder = Folder::new("sweep");
        let old = std::time::SystemTime::now() - 2 * STALE;
        let aged = |name: &str| {
            let path = folder.file(name, "draft");
            File::options().append(true).open(&path).unwrap().set_modified(old).unwrap();
            path
        };
        // No process has this number: it is above what any system gives.
        let leftover = aged(".out.csv.4194999999-0.part");
        let fresh = folder.file(".out.csv.4194999999-1.part", "draft");
        let running = aged(&format!(".out.csv.{}-7.part", std::process::id()));
        let others = aged(".other.csv.4194999999-0.part");
        let foreign = aged(".out.csv.4194999999-x.part");
        let path = folder.0.join("out.csv");
        let mut outputs = Outputs::beside(&[], false);
        outputs.add(&path).unwrap();
        outputs.write(&[(&path, b"ours".to_vec())]).unwrap();
        assert!(!leftover.exists());
        for stays in [fresh, running, others, foreign, path] {
            assert!(stays.exists(), "{stays:?}");
        }
    }

    #[test]
    fn every_refusal_of_the_system_says_what_to_do() {
        let folder = Folder::new("hints");
        for path in [folder.0.clone(), folder.0.join("none.png"), folder.file("a", "").join("b")] {
            let error = read(&path).unwrap_err();
            assert!(matches!(&error, Failure::Said { hint: Some(_), .. }), "{error:?}");
        }
        let mut outputs = Outputs::beside(&[], false);
        for path in [folder.0.clone(), folder.0.join("none").join("a.csv"), "/".into()] {
            let error = outputs.add(&path).unwrap_err();
            assert!(matches!(&error, Failure::Said { hint: Some(_), .. }), "{error:?}");
        }
    }

    #[test]
    fn two_outputs_of_one_name_are_refused() {
        let folder = Folder::new("twice");
        let mut outputs = Outputs::beside(&[], false);
        outputs.add(&folder.0.join("a.csv")).unwrap();
        let again = folder.0.join(".").join("a.csv");
        assert!(message(outputs.add(&again)).contains("two outputs"));
    }

    #[test]
    fn a_file_over_the_cap_is_refused() {
        let folder = Folder::new("cap");
        let path = folder.file("big", "12345");
        assert_eq!(read_capped(&path, 5).unwrap(), b"12345");
        assert!(read_capped(&path, 4).unwrap_err().to_string().contains("larger than 4 bytes"));
    }
}
