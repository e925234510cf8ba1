//! A change list as a text for people who carry it out by hand in a drawing program.
//! It does not change anything.

use std::collections::BTreeMap;

use dyekin_core::ThreadRef;
use dyekin_core::error::harmless;

use super::{Outcome, Unanswered};
use crate::change_file::{ChangeFile, ColorRef, FileChange};
use crate::chart::{Entry, Symbol};
use crate::summary::{Mark, Marked};

/// The by-hand list: every change that is carried out, then which entries to join.
///
/// `key` is the key of the chart after the changes: it has the names of threads that answers name.
#[must_use]
pub fn by_hand(file: &ChangeFile, unanswered: Unanswered, key: &[Entry]) -> Vec<u8> {
    let name = |thread: &ThreadRef| {
        let mut held = key.iter().filter(|entry| {
            let mut threads = entry.work.threads();
            threads.any(|held| held.thread == *thread)
        });
        let named = held.find_map(|entry| entry.name.as_ref());
        named.map(|name| name.as_str().to_owned()).unwrap_or_default()
    };
    let mut rows = Vec::new();
    let mut joins: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for change in &file.changes {
        if let Some((codes, words)) = goal(change, unanswered, &name) {
            joins.entry(codes).or_default().push(short(&change.of));
            rows.push([
                symbols(&change.of),
                old(&change.of),
                words,
                change.of.stitches.to_string(),
            ]);
        }
    }
    for of in &file.unchanged {
        let codes: Vec<String> = of.before.iter().map(|held| held.thread.to_string()).collect();
        if let Some(held) = joins.get_mut(&codes.join(" + ")) {
            held.insert(0, short(of));
        }
    }
    let mut out = String::from("Changes by hand\n\n");
    if rows.is_empty() {
        out.push_str("Nothing changes.\n");
    } else {
        table(&mut out, &rows);
    }
    for change in &file.changes {
        if goal(change, unanswered, &name).is_some() {
            cells(&mut out, &change.of);
        }
    }
    joins.retain(|_, entries| entries.len() > 1);
    if !joins.is_empty() {
        out.push_str("\nJoin these entries of the key, they are one thread now\n\n");
        for (codes, entries) in joins {
            out.push_str(&format!("{codes}: {}\n", entries.join(", ")));
        }
    }
    out.into_bytes()
}

/// Codes of the threads after a change, and the same with their names.
fn goal(
    change: &FileChange,
    unanswered: Unanswered,
    name: &dyn Fn(&ThreadRef) -> String,
) -> Option<(String, String)> {
    match Outcome::of(change, unanswered) {
        Outcome::Refused | Outcome::Unanswered => None,
        Outcome::Another(thread) => {
            let codes = harmless(&thread.to_string());
            let named = format!("{thread} {}", name(thread));
            Some((codes, harmless(named.trim())))
        }
        Outcome::Blend(place) => {
            let blend = change.blends.get(place)?;
            Some((blend.words(false), blend.words(true)))
        }
        Outcome::Proposed => {
            let codes: Vec<String> =
                change.after.iter().map(|held| harmless(&held.thread.thread.to_string())).collect();
            let words: Vec<String> = change
                .after
                .iter()
                .map(|held| harmless(format!("{} {}", held.thread.thread, held.name).trim()))
                .collect();
            Some((codes.join(" + "), words.join(" + ")))
        }
    }
}

/// The cells of a change that is only about some of its color, row by row, as people count them,
/// and its lines and knots, by how far they are from the left and the top edge.
fn cells(out: &mut String, of: &ColorRef) {
    let Some(portion) = &of.portion else { return };
    out.push_str(&format!("\n{}: only these\n\n", short(of)));
    let mut rows: BTreeMap<u16, Vec<String>> = BTreeMap::new();
    for run in &portion.runs {
        let first = run.x + 1;
        let spelled = match run.count {
            1 => first.to_string(),
            count => format!("{first}-{}", run.x + count),
        };
        rows.entry(run.y + 1).or_default().push(spelled);
    }
    for (row, columns) in rows {
        out.push_str(&format!("row {row}: {}\n", columns.join(", ")));
    }
    match &portion.marks {
        Marked::All => out.push_str("and its lines and knots\n"),
        Marked::None => {}
        Marked::These(marks) => marks.iter().for_each(|mark| {
            out.push_str(&match mark {
                Mark::Line(from, to) => format!("line from {from} to {to}\n"),
                Mark::Knot(at) => format!("knot at {at}\n"),
            });
        }),
    }
}

fn symbols(of: &ColorRef) -> String {
    of.symbols.iter().map(Symbol::as_str).collect::<Vec<_>>().join(" ")
}

/// What the color was: its threads, or its color where it has none; and its area.
fn old(of: &ColorRef) -> String {
    let codes: Vec<String> =
        of.before.iter().map(|held| harmless(&held.thread.to_string())).collect();
    let work = if codes.is_empty() { of.hex.to_string() } else { codes.join(" + ") };
    match &of.area {
        Some(area) => format!("{work} in {}", harmless(area)),
        None => work,
    }
}

fn short(of: &ColorRef) -> String {
    match symbols(of).as_str() {
        "" => old(of),
        symbols => format!("{symbols} ({})", old(of)),
    }
}

/// Rows with aligned columns; symbols first, so that they can be ticked off.
fn table(out: &mut String, rows: &[[String; 4]]) {
    let head = ["symbol", "before", "after", "stitches"].map(str::to_owned);
    let width = |column: usize| {
        let cells = std::iter::once(&head).chain(rows).filter_map(|row| row.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let widths = [width(0), width(1), width(2)];
    for row in std::iter::once(&head).chain(rows) {
        let mut line = String::new();
        for (cell, width) in row.iter().zip(widths) {
            let blanks = width.saturating_sub(cell.chars().count()) + 2;
            line.push_str(cell);
            line.extend(std::iter::repeat_n(' ', blanks));
        }
        line.extend(row.last().map(String::as_str));
        out.push_str(line.trim_end());
        out.push('\n');
    }
}
