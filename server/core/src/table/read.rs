//! Bytes of a thread table to a table, or to all that is wrong with them.
//! It does not open files; the caller names the source for the messages.

use super::row::Rows;
use super::{Table, TableId, bytes, cgats, csv, cxf, gimp, json, swatch};
use crate::color::{Conditions, Origin};
use crate::error::{Error, Place};

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
    /// Which measurement of a `CxF3` object is meant: a condition of ISO 13655, `M0` to `M3`, or the id
    /// of a specification of the document. Without it, an object with several is refused.
    pub measurement: Option<String>,
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

/// Reads a table in any of the formats, told apart by content: CSV or TSV with a header line, JSON,
/// CGATS.17 text, `CxF3`, GIMP palettes, swatch exchange files. The README of the project describes
/// them.
///
/// A table loads whole or not at all.
///
/// # Errors
///
/// All problems of the file at once, in the order of its lines.
///
/// # Examples
///
/// ```
/// use dyekin_core::table::{self, ReadOptions};
///
/// let options = ReadOptions {
///     id: dyekin_core::TableId::from_any("Meadow"),
///     source_name: "meadow.csv".into(),
///     conditions: None,
///     origin: None,
///     alpha_first: false,
///     measurement: None,
/// };
/// let loaded = table::read(b"code,name,hex\nK-1,Moss path,#4a6b3c\n", &options).unwrap();
/// assert_eq!(loaded.table.threads().len(), 1);
///
/// let refused = table::read(b"code,name,hex\nK-1,Moss path,#4a6\nK-2,Clay,\n", &options);
/// let told: Vec<String> = refused.unwrap_err().problems.iter().map(|p| p.to_string()).collect();
/// assert_eq!(told, ["meadow.csv, line 3, column hex: the row has no color"]);
/// ```
pub fn read(bytes: &[u8], options: &ReadOptions) -> Result<Loaded, Refused> {
    let mut rows = Rows::new(options);
    if swatch::is_one(bytes) {
        swatch::read(bytes, &mut rows);
    } else if let Some(text) = bytes::text(bytes, &mut rows.report) {
        read_text(&text, &mut rows);
    }
    rows.into_loaded()
}

fn read_text(text: &str, rows: &mut Rows<'_>) {
    if text.trim_start().starts_with(['{', '[']) {
        json::read(text, rows);
    } else if cxf::is_one(text) {
        cxf::read(text, rows);
    } else if gimp::is_one(text) {
        gimp::read(text, rows);
    } else if cgats::is_one(text) {
        cgats::read(text, rows);
    } else {
        csv::read(text, rows);
    }
}
