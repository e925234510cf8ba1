//! CSV of thread codes, both ways: a grid with one cell per stitch, and a key of codes and counts.
//! It does not know pictures. Bare codes belong to the table that the caller names.

mod grid;
mod key;

pub(crate) use grid::{read as read_grid, write as write_grid};
pub(crate) use key::read as read_key;

use dyekin_core::error::Error;
use dyekin_core::table::find;
use dyekin_core::{Table, Thread, ThreadRef};

use super::record::Records;
use super::text::unguarded;
use super::{Blend, Entry, KeyThread, Label, Strands, Work};

/// What stands between the codes of a blend.
pub(crate) const BLEND_SIGN: &str = " + ";

/// What the first line of a CSV file says that it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum CsvKind {
    /// No header: a grid of codes.
    Grid,
    /// A header with codes and counts.
    Key,
    /// A header with codes and colors.
    ThreadTable,
}

/// Tells the kinds of CSV apart by their header.
pub(crate) fn kind(text: &str) -> CsvKind {
    let first = Records::new(text, usize::MAX).next().and_then(Result::ok);
    let names: Vec<String> = first
        .map(|record| record.fields.iter().map(|name| name.trim().to_lowercase()).collect())
        .unwrap_or_default();
    let has = |wanted: &[&str]| names.iter().any(|name| wanted.contains(&name.as_str()));
    if !has(&["code"]) || names.len() < 2 {
        CsvKind::Grid
    } else if has(&["count", "stitches"]) {
        CsvKind::Key
    } else if has(&["hex", "color", "colour", "rgb", "r", "l", "l*", "lab_l"]) {
        CsvKind::ThreadTable
    } else {
        CsvKind::Key
    }
}

/// The thread of a code as the key of a chart names it.
fn key_thread(table: &Table, thread: &Thread) -> KeyThread {
    KeyThread {
        thread: ThreadRef { table: table.id().clone(), code: thread.code.clone() },
        table_hash: table.hash(),
    }
}

/// The entry that a field of codes stands for: one code, or two with ` + ` between them.
fn entry(table: &Table, field: &str) -> Result<Entry, Error> {
    let text = unguarded(field.trim());
    let found = find(table, text).or_else(|error| match find(table, field.trim()) {
        Ok(thread) => Ok(thread),
        Err(_) => Err(error),
    });
    match found {
        Ok(thread) => Ok(Entry {
            symbol: None,
            color: thread.color.srgb(),
            work: Work::Thread(key_thread(table, thread)),
            strands: Strands::default(),
            name: Label::cut(&thread.name),
        }),
        Err(error) => match text.split_once(BLEND_SIGN) {
            Some((first, second)) => blend(table, first, second),
            None => Err(error),
        },
    }
}

fn blend(table: &Table, first: &str, second: &str) -> Result<Entry, Error> {
    let (first, second) = (find(table, first)?, find(table, second)?);
    let both = Blend::new((key_thread(table, first), 1), (key_thread(table, second), 1))?;
    Ok(Entry {
        symbol: None,
        color: super::key::mixed(first.color.srgb(), second.color.srgb()),
        work: Work::Blend(both),
        strands: Strands::default(),
        name: None,
    })
}
