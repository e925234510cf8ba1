//! A grid of codes: one line per row of the chart, one field per cell, empty for bare cloth.
//! It does not know headers or counts.

use std::collections::HashMap;

use dyekin_core::Table;
use dyekin_core::error::{Error, ErrorKind, Place};
use dyekin_core::table::Refused;

use super::super::problems::{Problems, bad_file, bad_value, spot};
use super::super::record::{Record, Records};
use super::super::text::csv_cell;
use super::super::{Chart, Draft, Entry, EntryId, Grid, MAX_SIDE, Size, Work};
use super::BLEND_SIGN;
use crate::chart::shown_entry;

/// A cell of bare cloth among numbered entries.
const BARE: u16 = u16::MAX;

/// Reads a grid of codes of one table.
pub(crate) fn read(text: &str, source_name: &str, table: &Table) -> Result<Chart, Refused> {
    let mut reader = Reader {
        table,
        problems: Problems::of(source_name),
        known: HashMap::new(),
        key: Vec::new(),
        cells: Vec::new(),
        width: None,
        rows: 0,
    };
    for record in Records::new(text, usize::from(MAX_SIDE)) {
        match record {
            Ok(record) => {
                if !reader.row(&record) {
                    break;
                }
            }
            Err(problem) => reader.problems.push(problem),
        }
    }
    reader.finish()
}

struct Reader<'t> {
    table: &'t Table,
    problems: Problems,
    /// The entry of each spelling; `None` for one that was reported already.
    known: HashMap<String, Option<u16>>,
    key: Vec<Entry>,
    cells: Vec<u16>,
    width: Option<usize>,
    rows: u64,
}

impl Reader<'_> {
    /// Takes a row; false when there are too many.
    fn row(&mut self, record: &Record<'_>) -> bool {
        self.rows += 1;
        if self.rows > u64::from(MAX_SIDE) {
            self.problems.push(
                Error::new(ErrorKind::OverLimit {
                    what: "rows of cells".into(),
                    found: self.rows,
                    limit: u64::from(MAX_SIDE),
                })
                .at(Place::line(record.line)),
            );
            return false;
        }
        let width = *self.width.get_or_insert(record.fields.len());
        if record.fields.len() != width {
            let reason = format!("{}, {width} expected", record.counted());
            let remedy = "give every line one field per cell; an empty field is bare cloth";
            let problem = bad_value(&record.fields.join(","), reason, remedy);
            self.problems.push(problem.at(Place::line(record.line)));
        }
        for (number, field) in record.fields.iter().enumerate() {
            let cell = self.cell(field, record.line, number as u64 + 1);
            self.cells.push(cell);
        }
        true
    }

    fn cell(&mut self, field: &str, line: u64, column: u64) -> u16 {
        if field.trim().is_empty() {
            return BARE;
        }
        if let Some(known) = self.known.get(field) {
            return known.unwrap_or(BARE);
        }
        let number = self.entry(field, line, column);
        self.known.insert(field.to_owned(), number);
        number.unwrap_or(BARE)
    }

    /// The entry of a new spelling.
    fn entry(&mut self, field: &str, line: u64, column: u64) -> Option<u16> {
        // Near spellings cost a pass over the table: not looked for when nobody will read them.
        if self.problems.count_if_full() {
            return None;
        }
        match super::entry(self.table, field) {
            Ok(entry) => {
                let place = self.key.iter().position(|held| held.work == entry.work);
                let place = place.unwrap_or_else(|| {
                    self.key.push(entry);
                    self.key.len() - 1
                });
                let id = EntryId::new(place);
                if id.is_none() {
                    let reason = "more than 4096 different codes in one chart";
                    self.problems
                        .push(bad_file(reason, "use fewer threads").at(spot(line, column)));
                }
                id.map(EntryId::number)
            }
            Err(problem) => {
                self.problems.push(problem.at(spot(line, column)));
                None
            }
        }
    }

    fn finish(mut self) -> Result<Chart, Refused> {
        if self.problems.is_empty() && self.key.is_empty() {
            self.problems.push_file("no code in the file", "write one code for each stitch");
        }
        if !self.problems.is_empty() {
            return Err(self.problems.refused());
        }
        let size = match Size::new(self.width.unwrap_or(0) as u64, self.rows) {
            Ok(size) => size,
            Err(problem) => {
                self.problems.push(problem);
                return Err(self.problems.refused());
            }
        };
        let mut grid = Grid::bare(size);
        for (place, number) in self.cells.iter().enumerate().filter(|(_, n)| **n != BARE) {
            grid.put_at(place, EntryId::new(usize::from(*number)));
        }
        match Chart::new(Draft::of_grid(grid, self.key)) {
            Ok(chart) => Ok(chart),
            Err(found) => {
                found.into_iter().for_each(|problem| self.problems.push(problem));
                Err(self.problems.refused())
            }
        }
    }
}

/// The chart as a grid of codes.
///
/// # Errors
///
/// When an entry that a cell shows has no thread yet.
pub(crate) fn write(chart: &Chart) -> Result<Vec<u8>, Error> {
    let codes: Vec<Option<String>> = chart.key().iter().map(codes).collect();
    let width = usize::from(chart.size().width());
    let mut out = String::new();
    for (place, cell) in chart.grid().cells().enumerate() {
        if place % width > 0 {
            out.push(',');
        }
        if let Some(entry) = shown_entry(cell) {
            match codes.get(entry.index()) {
                Some(Some(code)) => out.push_str(code),
                _ => return Err(without_thread(chart)),
            }
        }
        if place % width + 1 == width {
            // A line of one empty field would be a blank line.
            if width == 1 && (out.is_empty() || out.ends_with('\n')) {
                out.push_str("\"\"");
            }
            out.push('\n');
        }
    }
    Ok(out.into_bytes())
}

fn codes(entry: &Entry) -> Option<String> {
    let codes: Vec<&str> = entry.work.threads().map(|held| held.thread.code.as_str()).collect();
    (!codes.is_empty()).then(|| csv_cell(&codes.join(BLEND_SIGN)))
}

fn without_thread(chart: &Chart) -> Error {
    let bare: Vec<String> = chart
        .key()
        .iter()
        .filter(|entry| entry.work == Work::Color)
        .map(|entry| entry.color.to_string())
        .collect();
    let first: Vec<&str> = bare.iter().take(5).map(String::as_str).collect();
    bad_file(
        format!("{} colors have no thread, so no code: {}", bare.len(), first.join(", ")),
        "convert the chart first, or write it as .json or .png",
    )
}
