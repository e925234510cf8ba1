//! What stands in a folder, and which names lead to one file. It opens no file but to look at its
//! first bytes.

use std::ffi::OsString;
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

use super::cannot;
use crate::failure::Result;

/// What a name leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// A link that leads nowhere.
    DeadLink,
    /// An ordinary file, perhaps by a link.
    File,
    /// A folder.
    Folder,
    /// A link to a folder.
    LinkedFolder,
    /// A device, a pipe, a socket.
    Special,
}

/// A name in a folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Named {
    pub(crate) name: OsString,
    pub(crate) kind: Kind,
}

/// The one file or folder behind a path, however it is spelled.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Identity(PathBuf, u64, u64);

/// True for a folder, also by a link.
pub(crate) fn is_folder(path: &Path) -> bool {
    fs::metadata(path).is_ok_and(|found| found.is_dir())
}

/// True when something stands there already, be it a link that leads nowhere.
pub(crate) fn is_taken(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok()
}

/// What a path leads to; `None` when nothing has this name.
pub(crate) fn kind(path: &Path) -> Option<Kind> {
    let own = fs::symlink_metadata(path).ok()?;
    let is_link = own.file_type().is_symlink();
    let Ok(found) = fs::metadata(path) else { return Some(Kind::DeadLink) };
    Some(match (found.is_dir(), found.is_file()) {
        (true, _) if is_link => Kind::LinkedFolder,
        (true, _) => Kind::Folder,
        (false, true) => Kind::File,
        (false, false) => Kind::Special,
    })
}

/// The names in a folder, in the order of their bytes.
///
/// # Errors
///
/// [`crate::Failure::Said`] when the folder cannot be read.
pub(crate) fn list(folder: &Path) -> Result<Vec<Named>> {
    let refused = |error| cannot("read", folder, &error);
    let mut names = Vec::new();
    for found in fs::read_dir(folder).map_err(refused)? {
        let name = found.map_err(refused)?.file_name();
        // A file that disappears while the folder is read is none.
        if let Some(kind) = kind(&folder.join(&name)) {
            names.push(Named { name, kind });
        }
    }
    names.sort_by(|one, other| one.name.as_encoded_bytes().cmp(other.name.as_encoded_bytes()));
    Ok(names)
}

/// The first bytes of a file, or fewer when it has not so many.
///
/// # Errors
///
/// [`crate::Failure::Said`] when the file cannot be read.
pub(crate) fn head(path: &Path, bytes: u64) -> Result<Vec<u8>> {
    let mut head = Vec::new();
    File::open(path)
        .and_then(|file| file.take(bytes).read_to_end(&mut head))
        .map_err(|error| cannot("read", path, &error))?;
    Ok(head)
}

/// The file behind a path; `None` where there is none.
#[cfg(unix)]
pub(crate) fn identity(path: &Path) -> Option<Identity> {
    use std::os::unix::fs::MetadataExt;
    let found = fs::metadata(path).ok()?;
    Some(Identity(PathBuf::new(), found.dev(), found.ino()))
}

/// The file behind a path; `None` where there is none. Hard links are not seen through.
#[cfg(not(unix))]
pub(crate) fn identity(path: &Path) -> Option<Identity> {
    Some(Identity(fs::canonicalize(path).ok()?, 0, 0))
}

/// Makes a folder and those around it, where they are not there.
///
/// # Errors
///
/// [`crate::Failure::Said`] when the disk refuses.
pub(crate) fn make_folder(path: &Path) -> Result<()> {
    fs::create_dir_all(path).map_err(|error| cannot("write", path, &error))
}
