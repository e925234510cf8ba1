//! Short texts of a chart: names, titles, notes. They are foreign: shown only when escaped.
//! They do not know where they are shown.

use std::fmt;

use dyekin_core::error::{Error, ErrorKind};

/// Longest name or title, in characters.
const MAX_CHARS: usize = 200;

/// Longest note, in characters.
const MAX_NOTE_CHARS: usize = 10_000;

/// A text that is not empty and not longer than its limit.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Label(String);

impl Label {
    /// A name or title of 1 to 200 characters.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when it is empty or longer.
    pub fn parse(text: &str) -> Result<Self, Error> {
        Self::within(text, MAX_CHARS)
    }

    /// A note of 1 to 10,000 characters.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when it is empty or longer.
    pub fn parse_note(text: &str) -> Result<Self, Error> {
        Self::within(text, MAX_NOTE_CHARS)
    }

    /// A name cut at 200 characters; `None` when nothing is left.
    #[must_use]
    pub fn cut(text: &str) -> Option<Self> {
        let text: String = text.chars().take(MAX_CHARS).collect();
        (!text.is_empty()).then_some(Self(text))
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    fn within(text: &str, limit: usize) -> Result<Self, Error> {
        let chars = text.chars().count();
        if (1..=limit).contains(&chars) {
            return Ok(Self(text.to_owned()));
        }
        Err(Error::new(ErrorKind::BadValue {
            value: text.to_owned(),
            reason: format!("a text of {chars} characters; 1 to {limit} are possible"),
            remedy: "shorten it, or leave the field out".into(),
        }))
    }
}

impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&dyekin_core::error::harmless(&self.0))
    }
}
