//! Bytes of a chart file to a chart, whatever its format, or to all that is wrong with them.
//! It does not open files; the caller names the source for the messages.

use dyekin_core::Table;
use dyekin_core::table::{Notice, Refused};

use super::problems::Problems;
use super::{Chart, KeyAlone};

/// Largest chart file, in bytes.
pub const MAX_FILE_BYTES: usize = 64 << 20;

/// What the caller knows about a file that the file does not say itself.
#[derive(Clone, Debug)]
pub struct ReadOptions<'t> {
    /// The file's name in messages.
    pub source_name: &'t str,
    /// The table that bare codes belong to, for a grid of codes or a key alone.
    pub table: Option<&'t Table>,
    /// Pixels across one stitch of a picture; `None` expects one and refuses pictures that look
    /// enlarged, `Some(1)` takes every pixel for a stitch.
    pub pixels_per_stitch: Option<u16>,
}

/// A file format that charts are read from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// CSV grid of thread codes.
    Grid,
    /// Chart JSON.
    Json,
    /// CSV of codes and counts.
    Key,
    /// PNG picture.
    Png,
}

/// What a file holds.
#[derive(Clone, Debug)]
pub enum Content {
    /// A chart.
    Chart(Box<Chart>),
    /// Codes and counts without a grid: neighbors are unknown.
    Key(KeyAlone),
}

/// A file that could be read.
#[derive(Clone, Debug)]
pub struct Loaded {
    /// What it holds.
    pub content: Content,
    /// Its format, as its content shows.
    pub kind: FileKind,
    /// What the reader took for granted or left out.
    pub notices: Vec<Notice>,
}

/// Reads a chart file; the format is told by the content, never by the name.
///
/// # Errors
///
/// All problems of the file at once.
pub fn read(bytes: &[u8], options: &ReadOptions<'_>) -> Result<Loaded, Refused> {
    let _ = bytes;
    let mut problems = Problems::of(options.source_name);
    problems.push_file("not a chart file", "give a PNG, a chart JSON or a CSV grid of codes");
    Err(problems.refused())
}
