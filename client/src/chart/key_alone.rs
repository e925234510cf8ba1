//! A key without its chart: codes and stitch counts, where nobody knows which colors touch.
//! It does not know the file that it came from.

use dyekin_core::Color;

use super::{KeyThread, Label};

/// One row of a key alone.
#[derive(Clone, Debug, PartialEq)]
pub struct KeyRow {
    /// The thread.
    pub thread: KeyThread,
    /// Its name in the table.
    pub name: Option<Label>,
    /// Its color in the table.
    pub color: Color,
    /// Stitches, 1 or more.
    pub stitches: u64,
}

/// Codes and counts, each thread once, at least one.
#[derive(Clone, Debug, PartialEq)]
pub struct KeyAlone {
    rows: Vec<KeyRow>,
}

impl KeyAlone {
    /// A key of these rows; counts of one thread are added. `None` without stitches.
    #[must_use]
    pub fn new(rows: Vec<KeyRow>) -> Option<Self> {
        let mut merged: Vec<KeyRow> = Vec::with_capacity(rows.len());
        let mut places = std::collections::HashMap::new();
        for row in rows.into_iter().filter(|row| row.stitches > 0) {
            let place = *places.entry(row.thread.clone()).or_insert(merged.len());
            match merged.get_mut(place) {
                Some(held) => held.stitches = held.stitches.saturating_add(row.stitches),
                None => merged.push(row),
            }
        }
        (!merged.is_empty()).then_some(Self { rows: merged })
    }

    /// The rows.
    #[must_use]
    pub fn rows(&self) -> &[KeyRow] {
        &self.rows
    }
}
