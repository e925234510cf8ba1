//! A key alone after its changes: codes and counts without a chart, as CSV or JSON.
//! It does not know what touches what, and says nothing about it.

use dyekin_core::error::{Error, Place};
use serde_json::{Value, json};

use super::outputs::KeyFormat;
use crate::apply::{FindThread, Outcome, Unanswered, named};
use crate::change_file::{ChangeFile, FileChange};
use crate::chart::problems::bad_file;
use crate::chart::{KeyAlone, KeyRow, KeyThread, csv_cell};
use crate::report::json::to_text;

/// One line of the new key.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Row {
    thread: KeyThread,
    name: String,
    hex: String,
    stitches: u64,
}

/// The key with the threads that the changes lead to; equal threads are added up.
///
/// # Errors
///
/// All threads that answers name and that cannot be found.
pub(crate) fn changed(
    key: &KeyAlone,
    file: &ChangeFile,
    unanswered: Unanswered,
    find: &FindThread<'_>,
) -> Result<Vec<Row>, Vec<Error>> {
    let mut rows: Vec<Row> = Vec::new();
    let mut problems = Vec::new();
    for old in key.rows() {
        let row = match after(old, file, unanswered, find) {
            Ok(row) => row,
            Err(problem) => {
                problems.push(problem);
                continue;
            }
        };
        match rows.iter_mut().find(|held| held.thread.thread == row.thread.thread) {
            Some(held) => held.stitches = held.stitches.saturating_add(row.stitches),
            None => rows.push(row),
        }
    }
    if problems.is_empty() { Ok(rows) } else { Err(problems) }
}

fn after(
    old: &KeyRow,
    file: &ChangeFile,
    unanswered: Unanswered,
    find: &FindThread<'_>,
) -> Result<Row, Error> {
    let stays = Row {
        thread: old.thread.clone(),
        name: old.name.as_ref().map(|name| name.as_str().to_owned()).unwrap_or_default(),
        hex: old.color.srgb().to_string(),
        stitches: old.stitches,
    };
    let is_of = |(_, change): &(usize, &FileChange)| {
        change.of.before.iter().any(|held| held.thread == old.thread.thread)
    };
    let Some((number, change)) = file.changes.iter().enumerate().find(is_of) else {
        return Ok(stays);
    };
    Ok(match Outcome::of(change, unanswered) {
        Outcome::Refused | Outcome::Unanswered => stays,
        Outcome::Proposed => match change.after.first() {
            Some(new) => Row {
                thread: new.thread.clone(),
                name: new.name.clone(),
                hex: new.hex.to_string(),
                stitches: old.stitches,
            },
            None => stays,
        },
        Outcome::Blend(_) => {
            // No list for a key alone offers one: nobody knows what is an area.
            let problem = bad_file(
                "a key alone has no areas, and a blend is for areas",
                "answer yes, no or another thread, or give the chart",
            );
            return Err(problem.at(Place::field(format!("changes[{number}].answer"))));
        }
        Outcome::Another(thread) => {
            let place = Place::field(format!("changes[{number}].answer"));
            let new = named(file, thread, find).map_err(|problem| problem.at(place))?;
            Row {
                thread: new.thread,
                name: new.name.map(|name| name.as_str().to_owned()).unwrap_or_default(),
                hex: new.color.to_string(),
                stitches: old.stitches,
            }
        }
    })
}

/// The key as a file.
pub(crate) fn bytes(rows: &[Row], format: KeyFormat) -> Vec<u8> {
    match format {
        KeyFormat::Csv => csv(rows),
        KeyFormat::Json => json(rows),
    }
}

fn csv(rows: &[Row]) -> Vec<u8> {
    let mut out = String::from("table,code,name,hex,stitches\n");
    for row in rows {
        let cells = [
            row.thread.thread.table.as_str(),
            row.thread.thread.code.as_str(),
            &row.name,
            &row.hex,
            &row.stitches.to_string(),
        ];
        let cells: Vec<String> = cells.iter().map(|cell| csv_cell(cell)).collect();
        out.push_str(&cells.join(","));
        out.push('\n');
    }
    out.into_bytes()
}

fn json(rows: &[Row]) -> Vec<u8> {
    let threads: Vec<Value> = rows
        .iter()
        .map(|row| {
            json!({
                "symbol": null,
                "name": row.name,
                "hex": row.hex,
                "threads": [{
                    "table": row.thread.thread.table.as_str(),
                    "code": row.thread.thread.code.as_str(),
                    "table_hash": row.thread.table_hash.to_string(),
                }],
                "stitches": row.stitches,
            })
        })
        .collect();
    let mut text = to_text(
        &json!({"format": "dyekin-key", "version": 1, "neighbors_known": false, "key": threads}),
    );
    text.push('\n');
    text.into_bytes()
}
