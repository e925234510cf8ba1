//! Lines of data cut into sets of as many cells as the data format has columns, one set at a time.
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

/// The number of words of a line, or why it has none.
type Counted = Result<usize, Fault>;

/// The sets of a table. Only the lines are held; cells are cut when they are asked for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sets<'s, 't> {
    lines: &'s [(u64, &'t str)],
    width: usize,
    manner: Manner,
    count: usize,
}

impl<'s, 't> Sets<'s, 't> {
    /// The sets, with every line that does not make one reported.
    pub(super) fn told(lines: &'s [(u64, &'t str)], width: usize, rows: &mut Rows<'_>) -> Self {
        let counts = counts(lines);
        let sets = Self::of(lines, width, &counts);
        let first = lines.first().map(|(line, _)| Place::line(*line));
        match sets.manner {
            Manner::Lines => {}
            Manner::Tabs => {
                let text = "cells are taken between tabs, because names hold blanks without quotes";
                rows.report.notice(first, text);
            }
            Manner::Wrapped => {
                rows.report.notice(first, "every row of this table runs over several lines");
            }
            Manner::Ragged => report_ragged(lines, &counts, width, rows),
        }
        sets
    }

    /// The sets without a word about lines that make none.
    pub(super) fn quietly(lines: &'s [(u64, &'t str)], width: usize) -> Self {
        Self::of(lines, width, &counts(lines))
    }

    fn of(lines: &'s [(u64, &'t str)], width: usize, counts: &[Counted]) -> Self {
        let manner = manner(lines, counts, width);
        let count = match manner {
            Manner::Lines | Manner::Ragged => {
                counts.iter().filter(|count| **count == Ok(width)).count()
            }
            Manner::Tabs => lines.iter().filter(|(_, line)| !is_comment(line)).count(),
            Manner::Wrapped => counts.iter().flatten().sum::<usize>() / width.max(1),
        };
        Self { lines, width, manner, count }
    }

    pub(super) fn len(self) -> usize {
        self.count
    }

    pub(super) fn iter(self) -> impl Iterator<Item = Set<'t>> + 's {
        let mut lines = self.lines.iter().copied();
        std::iter::from_fn(move || {
            let mut open: Option<Set<'t>> = None;
            for (line, text) in lines.by_ref() {
                let cells = match self.manner {
                    Manner::Tabs if is_comment(text) => continue,
                    Manner::Tabs => tabbed(text, self.width).unwrap_or_default(),
                    Manner::Lines | Manner::Ragged | Manner::Wrapped => {
                        token::words(text).unwrap_or_default()
                    }
                };
                match &mut open {
                    Some(set) => set.cells.extend(cells),
                    None if cells.is_empty() => continue,
                    None => open = Some(Set { line, cells }),
                }
                let found = open.as_ref().map_or(0, |set| set.cells.len());
                if found == self.width {
                    return open;
                }
                if self.manner != Manner::Wrapped {
                    open = None;
                }
            }
            None
        })
    }
}

fn counts(lines: &[(u64, &str)]) -> Vec<Counted> {
    lines.iter().map(|(_, line)| token::words(line).map(|words| words.len())).collect()
}

fn manner(lines: &[(u64, &str)], counts: &[Counted], width: usize) -> Manner {
    let fits = |count: &Counted| *count == Ok(width) || *count == Ok(0);
    if counts.iter().all(fits) {
        Manner::Lines
    } else if lines.iter().all(|(_, line)| is_comment(line) || tabbed(line, width).is_some()) {
        Manner::Tabs
    } else if is_wrapped(counts, width) {
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
fn is_wrapped(counts: &[Counted], width: usize) -> bool {
    let mut have = 0;
    let fits = counts.iter().all(|count| {
        let Ok(count) = count else { return false };
        have += count;
        let fits = *count < width && have <= width;
        if have == width {
            have = 0;
        }
        fits
    });
    fits && have == 0
}

fn ragged(count: usize, width: usize) -> String {
    let cells = if count == 1 { "cell" } else { "cells" };
    format!("{count} {cells}, {width} expected")
}

fn report_ragged(lines: &[(u64, &str)], counts: &[Counted], width: usize, rows: &mut Rows<'_>) {
    for ((line, text), count) in lines.iter().zip(counts) {
        let (reason, remedy) = match count {
            Err(fault) => (fault.reason.to_owned(), fault.remedy),
            Ok(0) => continue,
            Ok(count) if *count == width => continue,
            Ok(count) if *count > width => (
                ragged(*count, width),
                if text.contains('"') {
                    "one number or name is too many"
                } else {
                    "a name with blanks needs quotes: \"Moss path\""
                },
            ),
            Ok(count) => {
                (ragged(*count, width), "give every column a value; an empty name is written \"\"")
            }
        };
        let kind = ErrorKind::BadFile { reason, remedy: remedy.into() };
        rows.report.problem(kind, Place::line(*line));
    }
}
