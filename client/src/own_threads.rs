//! A person's own list of threads, one a line as people keep them: codes in any spelling, with or
//! without their range, counts, names, notes. Nothing is dropped silently: what is not understood is
//! a problem, what is taken for granted a notice. It does not know what the threads are for.

mod count;
mod line;
mod shelf;

use std::collections::BTreeMap;

use dyekin_core::error::Place;
use dyekin_core::table::{Notice, Refused};
use dyekin_core::{Table, ThreadRef};

pub(crate) use count::{Amount, Count, amount};
use line::{Line, Read};
use shelf::Shelf;

use crate::chart::problems::{Problems, bad_file};

/// Largest list, in bytes. House choice: ten thousand long lines fit.
const MAX_BYTES: usize = 4 << 20;

/// A thread that a person has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Own {
    pub(crate) thread: ThreadRef,
    /// Skeins, where the list says how many.
    pub(crate) count: Option<Count>,
    /// Meters beside them, where it says so.
    pub(crate) meters: Option<Count>,
    /// The line on which it stands first.
    pub(crate) line: u64,
}

/// What a list says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct OwnList {
    /// Each thread once, by table and code.
    pub(crate) threads: Vec<Own>,
    /// What was taken for granted, in the order of the file.
    pub(crate) notices: Vec<Notice>,
}

/// Reads a list of threads of these tables.
///
/// # Errors
///
/// All lines that name no thread, or not surely one, at once.
pub(crate) fn read(bytes: &[u8], source_name: &str, tables: &[Table]) -> Result<OwnList, Refused> {
    let remedy = "give a plain text file with one thread a line";
    let (text, mut problems) = Problems::reading(source_name, bytes, (MAX_BYTES, remedy))?;
    let shelf = Shelf::of(tables);
    let mut reader = Reader::default();
    for (number, line) in (1_u64..).zip(lines(text)) {
        match line::read(line, &shelf) {
            Line::Blank => {}
            Line::Note => reader.notes.push(number),
            Line::Thread(read) => reader.take(number, read),
            Line::Unclear(problem) => {
                if !problems.count_if_full() {
                    problems.push(problem.at(Place::line(number)));
                }
            }
        }
    }
    if problems.is_empty() && reader.held.is_empty() {
        let remedy = "write one thread a line, such as its code";
        problems.push(bad_file("no thread that you have is listed", remedy));
    }
    problems.ok(reader.finished())
}

/// Lines, however they end.
fn lines(text: &str) -> impl Iterator<Item = &str> {
    text.split('\n').flat_map(|line| line.strip_suffix('\r').unwrap_or(line).split('\r'))
}

/// One thread while the list is read.
#[derive(Default)]
struct Held {
    lines: Vec<u64>,
    count: Option<Count>,
    meters: Option<Count>,
}

#[derive(Default)]
struct Reader {
    held: BTreeMap<ThreadRef, Held>,
    notices: Vec<(u64, String)>,
    notes: Vec<u64>,
}

impl Reader {
    fn take(&mut self, number: u64, read: Read) {
        self.notices.extend(read.notices.into_iter().map(|text| (number, text)));
        let said = [read.count, read.meters];
        let mut said = said.iter().flatten();
        if said.clone().count() > 0 && said.all(|held| held.is_zero()) {
            let text = format!("none left of {}, so it does not count as owned", read.thread);
            self.notices.push((number, text));
            return;
        }
        let held = self.held.entry(read.thread).or_default();
        held.lines.push(number);
        held.count = sum(held.count, read.count);
        held.meters = sum(held.meters, read.meters);
    }

    fn finished(mut self) -> OwnList {
        for (thread, held) in &self.held {
            if let [_, .., last] = held.lines.as_slice() {
                let lines: Vec<String> = held.lines.iter().map(ToString::to_string).collect();
                let lines = lines.join(", ");
                let text = format!("{thread} stands on lines {lines}; its counts are added");
                self.notices.push((*last, text));
            }
        }
        if let Some(first) = self.notes.first() {
            let text = match self.notes.len() {
                1 => "this line is a note, not a thread".to_owned(),
                many => format!("this and {} more lines are notes, not threads", many - 1),
            };
            self.notices.push((*first, text));
        }
        self.notices.sort();
        let notice = |(line, text)| Notice { place: Some(Place::line(line)), text };
        let own = |(thread, held): (ThreadRef, Held)| Own {
            thread,
            count: held.count,
            meters: held.meters,
            line: held.lines.first().copied().unwrap_or_default(),
        };
        OwnList {
            threads: self.held.into_iter().map(own).collect(),
            notices: self.notices.into_iter().map(notice).collect(),
        }
    }
}

fn sum(one: Option<Count>, other: Option<Count>) -> Option<Count> {
    match (one, other) {
        (Some(one), Some(other)) => Some(one.plus(other)),
        (one, other) => one.or(other),
    }
}

#[cfg(test)]
mod tests;
