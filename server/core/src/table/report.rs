//! What a reader has to say about a file: problems up to a number, notices, and what is left out.
//! It does not know formats; the readers tell it what they find.

use super::read::{Notice, Refused};
use crate::error::{Error, ErrorKind, Place};

/// Most problems that are listed; the others are counted.
pub const MAX_LISTED_PROBLEMS: usize = 50;

/// Problems and notices about one file.
#[derive(Debug)]
pub(super) struct Report {
    source_name: String,
    problems: Vec<Error>,
    room: usize,
    found: usize,
    notices: Vec<Notice>,
    counted_as: Option<&'static str>,
}

impl Report {
    pub(super) fn new(source_name: &str) -> Self {
        Self {
            source_name: source_name.to_owned(),
            problems: Vec::new(),
            room: MAX_LISTED_PROBLEMS,
            found: 0,
            notices: Vec::new(),
            counted_as: None,
        }
    }

    /// Says that the file has no lines: what places call a line is the number of such a thing.
    pub(super) fn count_as(&mut self, thing: &'static str) {
        self.counted_as = Some(thing);
    }

    /// True when the file's name ends with these letters, in any case.
    pub(super) fn is_named(&self, ending: &str) -> bool {
        let name = self.source_name.as_bytes();
        let start = name.len().saturating_sub(ending.len());
        name.get(start..).is_some_and(|end| end.eq_ignore_ascii_case(ending.as_bytes()))
    }

    /// Adds a problem at a place of the file.
    pub(super) fn problem(&mut self, kind: ErrorKind, place: Place) {
        self.found += 1;
        if let Some(room) = self.room.checked_sub(1) {
            self.room = room;
            self.problems.push(Error::new(kind).at(self.in_file(place)));
        }
    }

    /// Adds a notice; without a place it is about the whole file.
    pub(super) fn notice(&mut self, place: Option<Place>, text: impl Into<String>) {
        let place = place.map(|place| self.in_file(place));
        self.notices.push(Notice { place, text: text.into() });
    }

    /// Says that problems from here on are found after the last line, so that early ones among them
    /// are not crowded out.
    pub(super) fn begin_second_look(&mut self) {
        self.room = MAX_LISTED_PROBLEMS;
    }

    pub(super) fn has_problems(&self) -> bool {
        self.found > 0
    }

    pub(super) fn into_refused(mut self) -> Refused {
        self.problems.sort_by_key(|error| error.place().and_then(|place| place.line));
        self.problems.truncate(MAX_LISTED_PROBLEMS);
        let unlisted = self.found - self.problems.len();
        let Some(thing) = self.counted_as else {
            return Refused { problems: self.problems, unlisted };
        };
        let renamed = self.problems.into_iter().map(|error| match error.place().cloned() {
            Some(place) => error.at(without_line(place, thing)),
            None => error,
        });
        Refused { problems: renamed.collect(), unlisted }
    }

    pub(super) fn into_notices(mut self) -> Vec<Notice> {
        if let Some(thing) = self.counted_as {
            for notice in &mut self.notices {
                notice.place = notice.place.take().map(|place| without_line(place, thing));
            }
        }
        self.notices
    }

    fn in_file(&self, place: Place) -> Place {
        Place { source_name: Some(self.source_name.clone()), ..place }
    }
}

/// A place in a file without lines: the number of a thing stands where the line stood.
fn without_line(place: Place, thing: &str) -> Place {
    let field = match (place.line, place.field) {
        (Some(number), None) => Some(format!("{thing} {number}")),
        (_, field) => field,
    };
    Place { line: None, field, ..place }
}

/// Something that happened on some lines: the first of them, and how many.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Seen {
    pub(super) first: Option<u64>,
    pub(super) count: u64,
}

impl Seen {
    pub(super) fn note(&mut self, line: u64) {
        self.first.get_or_insert(line);
        self.count += 1;
    }

    /// The place of the first and a text made from the count, when it happened at all.
    pub(super) fn tell(self, report: &mut Report, text: impl FnOnce(u64) -> String) {
        if let Some(line) = self.first {
            report.notice(Some(Place::line(line)), text(self.count));
        }
    }
}

/// `1 row` or `7 rows`.
pub(super) fn rows(count: u64) -> String {
    if count == 1 { "1 row".into() } else { format!("{count} rows") }
}
