//! Lines of data cut into sets of as many cells as the data format has columns.
//! It does not know what a column means.

use std::borrow::Cow;

use super::token::{self, Fault};
use crate::error::{ErrorKind, Place};
use crate::table::row::Rows;

/// One set of data: a row of the table.
#[derive(Debug)]
pub(super) struct Set<'t> {
    pub(super) line: u64,
    pub(super) cells: Vec<Cow<'t, str>>,
}

/// How the lines of a table make its sets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Manner {
    /// A set a line, cells between blanks.
    Lines,
    /// A set a line, cells between tabs, so that they may hold blanks.
    Tabs,
    /// Every set on several lines.
    Wrapped,
    /// Some line fits none of these.
    Ragged,
}

type Cut<'t> = Result<Vec<Cow<'t, str>>, Fault>;

/// The sets, with every line that does not make one reported.
pub(super) fn cut<'t>(lines: &[(u64, &'t str)], width: usize, rows: &mut Rows<'_>) -> Vec<Set<'t>> {
    let words = by_words(lines);
    let manner = manner(lines, &words, width);
    let first = lines.first().map(|(line, _)| Place::line(*line));
    match manner {
        Manner::Lines => {}
        Manner::Tabs => {
            let text = "cells are taken between tabs, because names hold blanks without quotes";
            rows.report.notice(first, text);
        }
        Manner::Wrapped => {
            rows.report.notice(first, "every row of this table runs over several lines");
        }
        Manner::Ragged => report_ragged(lines, &words, width, rows),
    }
    sets(lines, words, width, manner)
}

/// The sets without a word about lines that make none.
pub(super) fn quietly<'t>(lines: &[(u64, &'t str)], width: usize) -> Vec<Set<'t>> {
    let words = by_words(lines);
    let manner = manner(lines, &words, width);
    sets(lines, words, width, manner)
}

fn by_words<'t>(lines: &[(u64, &'t str)]) -> Vec<Cut<'t>> {
    lines.iter().map(|(_, line)| token::words(line)).collect()
}

fn count(cells: &Cut<'_>) -> usize {
    cells.as_ref().map_or(0, Vec::len)
}

fn manner(lines: &[(u64, &str)], words: &[Cut<'_>], width: usize) -> Manner {
    let fits = |cells: &Cut<'_>| cells.as_ref().is_ok_and(|c| c.is_empty() || c.len() == width);
    if words.iter().all(fits) {
        Manner::Lines
    } else if lines.iter().all(|(_, line)| is_comment(line) || tabbed(line, width).is_some()) {
        Manner::Tabs
    } else if is_wrapped(words, width) {
        Manner::Wrapped
    } else {
        Manner::Ragged
    }
}

fn is_comment(line: &str) -> bool {
    line.trim_start().starts_with('#')
}

/// The cells between tabs when they are as many as expected; empty ones at the end may be more.
fn tabbed(line: &str, width: usize) -> Option<Vec<Cow<'_, str>>> {
    let mut cells = token::cells(line).ok()?;
    while cells.len() > width && cells.last().is_some_and(|cell| cell.is_empty()) {
        cells.pop();
    }
    Some(cells).filter(|cells| cells.len() == width)
}

/// True when sets end where lines end, and none fits on one line.
fn is_wrapped(words: &[Cut<'_>], width: usize) -> bool {
    let mut have = 0;
    words.iter().all(|cells| {
        let count = count(cells);
        have += count;
        let fits = cells.is_ok() && count < width && have <= width;
        if have == width {
            have = 0;
        }
        fits
    }) && have == 0
}

fn sets<'t>(
    lines: &[(u64, &'t str)],
    words: Vec<Cut<'t>>,
    width: usize,
    manner: Manner,
) -> Vec<Set<'t>> {
    let mut sets: Vec<Set<'t>> = Vec::new();
    for ((line, text), words) in lines.iter().copied().zip(words) {
        let Ok(words) = words.or_else(|fault| match manner {
            Manner::Tabs => Ok(Vec::new()),
            Manner::Lines | Manner::Wrapped | Manner::Ragged => Err(fault),
        }) else {
            continue;
        };
        match manner {
            Manner::Tabs if is_comment(text) => {}
            Manner::Tabs => {
                sets.extend(tabbed(text, width).map(|cells| Set { line, cells }));
            }
            Manner::Wrapped => match sets.last_mut().filter(|set| set.cells.len() < width) {
                Some(open) => open.cells.extend(words),
                None if words.is_empty() => {}
                None => sets.push(Set { line, cells: words }),
            },
            Manner::Lines | Manner::Ragged if words.len() == width => {
                sets.push(Set { line, cells: words });
            }
            Manner::Lines | Manner::Ragged => {}
        }
    }
    sets
}

fn report_ragged(lines: &[(u64, &str)], words: &[Cut<'_>], width: usize, rows: &mut Rows<'_>) {
    for ((line, text), cells) in lines.iter().zip(words) {
        let (reason, remedy) = match cells {
            Err(fault) => (fault.reason.to_owned(), fault.remedy),
            Ok(cells) if cells.is_empty() || cells.len() == width => continue,
            Ok(cells) if cells.len() > width => (
                format!("{} cells, {width} expected", cells.len()),
                if text.contains('"') {
                    "one number or name is too many"
                } else {
                    "a name with blanks needs quotes: \"Moss path\""
                },
            ),
            Ok(cells) => (
                format!("{} cells, {width} expected", cells.len()),
                "give every column a value; an empty name is written \"\"",
            ),
        };
        let kind = ErrorKind::BadFile { reason, remedy: remedy.into() };
        rows.report.problem(kind, Place::line(*line));
    }
}
