//! Bytes of a thread table to a table, or to all that is wrong with them.
//! It does not open files; the caller names the source for the messages.

use super::{Table, TableId};
use crate::color::{Conditions, Origin};
use crate::error::{Error, ErrorKind, Place};

/// What the caller knows about a file that the file does not say itself.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadOptions {
    /// The id that the table gets.
    pub id: TableId,
    /// The file's name in messages.
    pub source_name: String,
    /// Conditions of Lab values for rows that do not state theirs.
    pub conditions: Option<Conditions>,
    /// Origin of colors for rows that do not state theirs.
    pub origin: Option<Origin>,
    /// Whether eight hex digits have alpha first.
    pub alpha_first: bool,
}

/// Something to know about a table that did load.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// Where, when it has a place.
    pub place: Option<Place>,
    /// What, in one sentence without a full stop.
    pub text: String,
}

/// A table that loaded.
#[derive(Clone, Debug)]
pub struct Loaded {
    /// The table.
    pub table: Table,
    /// What the reader took for granted or left out.
    pub notices: Vec<Notice>,
}

/// A table that did not load.
#[derive(Clone, Debug, PartialEq)]
pub struct Refused {
    /// The problems, in the order of the file, up to 50.
    pub problems: Vec<Error>,
    /// Problems beyond those listed.
    pub unlisted: usize,
}

/// Reads a table in any of the formats, told apart by content.
///
/// # Errors
///
/// All problems of the file at once.
pub fn read(bytes: &[u8], options: &ReadOptions) -> Result<Loaded, Refused> {
    let _ = (bytes, options);
    Err(Refused {
        problems: vec![Error::new(ErrorKind::BadFile {
            reason: "not a thread table".into(),
            remedy: String::new(),
        })],
        unlisted: 0,
    })
}
