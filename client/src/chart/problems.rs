//! Collects everything that is wrong with one file, up to a limit, in the order of the file.
//! It does not know any format.

use dyekin_core::error::{Error, ErrorKind, Place};
use dyekin_core::table::Refused;

/// Most problems that are listed; the others are counted.
const MAX_LISTED: usize = 50;

/// The problems of one file.
#[derive(Debug)]
pub(crate) struct Problems {
    source_name: String,
    listed: Vec<Error>,
    unlisted: usize,
}

impl Problems {
    /// No problem yet in the file of this name.
    pub(crate) fn of(source_name: &str) -> Self {
        Self { source_name: source_name.to_owned(), listed: Vec::new(), unlisted: 0 }
    }

    /// The text of a file of at most so many bytes, with no problem yet.
    ///
    /// # Errors
    ///
    /// A file that is longer, for which there is a remedy, and one that is no text.
    pub(crate) fn reading<'b>(
        source_name: &str,
        bytes: &'b [u8],
        (limit, remedy): (usize, &str),
    ) -> Result<(&'b str, Self), Refused> {
        let mut problems = Self::of(source_name);
        if bytes.len() > limit {
            let reason = format!("{} bytes, the limit is {limit}", bytes.len());
            problems.push_file(reason, remedy);
            return Err(problems.refused());
        }
        match super::decode_text(bytes) {
            Ok(text) => Ok((text, problems)),
            Err(problem) => {
                problems.push(problem);
                Err(problems.refused())
            }
        }
    }

    /// Adds a problem and gives it the file's name.
    pub(crate) fn push(&mut self, problem: Error) {
        if self.listed.len() == MAX_LISTED {
            self.unlisted += 1;
            return;
        }
        let mut place = problem.place().cloned().unwrap_or_default();
        place.source_name.get_or_insert_with(|| self.source_name.clone());
        self.listed.push(problem.at(place));
    }

    /// Counts a problem that would not be listed any more; false while there is room.
    pub(crate) fn count_if_full(&mut self) -> bool {
        let full = self.listed.len() == MAX_LISTED;
        self.unlisted += usize::from(full);
        full
    }

    /// Adds a problem of the whole file.
    pub(crate) fn push_file(&mut self, reason: impl Into<String>, remedy: &str) {
        self.push(bad_file(reason, remedy));
    }

    /// Puts them in the order of the file.
    pub(crate) fn sort_by_line(&mut self) {
        let spot = |problem: &Error| {
            let place = problem.place()?;
            let column = place.column.as_ref().and_then(|column| column.parse::<u64>().ok());
            Some((place.line, column))
        };
        self.listed.sort_by_key(spot);
    }

    /// True when nothing is wrong.
    pub(crate) fn is_empty(&self) -> bool {
        self.listed.is_empty()
    }

    /// The value when nothing is wrong.
    pub(crate) fn ok<T>(self, value: T) -> Result<T, Refused> {
        if self.is_empty() { Ok(value) } else { Err(self.refused()) }
    }

    /// All problems.
    pub(crate) fn refused(self) -> Refused {
        Refused { problems: self.listed, unlisted: self.unlisted }
    }
}

/// Bytes that are not what the format promises.
pub(crate) fn bad_file(reason: impl Into<String>, remedy: &str) -> Error {
    Error::new(ErrorKind::BadFile { reason: reason.into(), remedy: remedy.to_owned() })
}

/// A value that cannot stand.
pub(crate) fn bad_value(value: &str, reason: impl Into<String>, remedy: &str) -> Error {
    Error::new(ErrorKind::BadValue {
        value: value.to_owned(),
        reason: reason.into(),
        remedy: remedy.to_owned(),
    })
}

/// A place by line and column, both from 1.
pub(crate) fn spot(line: u64, column: u64) -> Place {
    Place::cell(line, column.to_string())
}
