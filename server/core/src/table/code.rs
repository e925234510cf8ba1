//! Thread codes and table ids: texts that stay texts for ever.
//! It does not know any maker's shape of codes.

use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};

use unicode_normalization::UnicodeNormalization;

use crate::error::{Error, ErrorKind, Result, is_hostile};

/// Longest code, in characters.
pub(super) const MAX_CODE_CHARS: usize = 64;

/// A thread code: shown as written, compared by its key (NFC, trimmed, case-folded).
#[derive(Clone)]
pub struct Code {
    /// The code as written, followed by its key where the key differs: one allocation a code.
    text: Box<str>,
    shown_bytes: usize,
}

impl Code {
    /// Reads a code. Blanks around it and zero-width characters anywhere do not count.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadCode`] when it is empty, too long or holds control characters.
    pub fn parse(text: &str) -> Result<Self> {
        if text.is_ascii() {
            let shown = text.trim();
            check(text, shown, shown.len())?;
            return Ok(Self::joined(shown.to_owned(), &shown.to_ascii_lowercase()));
        }
        let shown: String = text.chars().filter(|c| !is_zero_width(*c)).nfc().collect();
        let shown = shown.trim();
        check(text, shown, shown.chars().count())?;
        // Upper case first: some letters have several lower-case forms.
        let key: String = shown.to_uppercase().to_lowercase().nfc().collect();
        Ok(Self::joined(shown.to_owned(), &key))
    }

    fn joined(mut shown: String, key: &str) -> Self {
        let shown_bytes = shown.len();
        if shown != key {
            shown.push_str(key);
        }
        Self { text: shown.into_boxed_str(), shown_bytes }
    }

    /// Stands where a code could not be read; never in a table.
    pub(super) fn placeholder() -> Self {
        Self::joined("?".into(), "?")
    }

    fn parts(&self) -> (&str, &str) {
        self.text.split_at_checked(self.shown_bytes).unwrap_or((&self.text, ""))
    }

    /// The code as written.
    #[must_use]
    pub fn as_str(&self) -> &str {
        self.parts().0
    }

    /// What two spellings of one code share.
    #[must_use]
    pub fn key(&self) -> &str {
        match self.parts() {
            (shown, "") => shown,
            (_, key) => key,
        }
    }
}

/// Checks a trimmed code.
fn check(text: &str, shown: &str, characters: usize) -> Result<()> {
    let reason = if shown.is_empty() {
        "it is empty"
    } else if characters > MAX_CODE_CHARS {
        "it is longer than 64 characters"
    } else if shown.chars().any(is_hostile) {
        "it holds a control character"
    } else {
        return Ok(());
    };
    Err(Error::new(ErrorKind::BadCode { value: text.to_owned(), reason: reason.to_owned() }))
}

fn is_zero_width(character: char) -> bool {
    matches!(character, '\u{200b}'..='\u{200d}' | '\u{2060}' | '\u{feff}')
}

impl fmt::Debug for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Code({:?})", self.as_str())
    }
}

impl PartialEq for Code {
    fn eq(&self, other: &Self) -> bool {
        self.key() == other.key()
    }
}

impl Eq for Code {}

impl PartialOrd for Code {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Code {
    fn cmp(&self, other: &Self) -> Ordering {
        self.key().cmp(other.key())
    }
}

impl Hash for Code {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.key().hash(state);
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// Name of a table: `[a-z0-9][a-z0-9-]{0,62}`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TableId(String);

impl TableId {
    /// Reads an id.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when it is not 1 to 63 lower-case letters, digits and hyphens.
    pub fn parse(text: &str) -> Result<Self> {
        let good = (1..=63).contains(&text.len())
            && !text.starts_with('-')
            && text
                .bytes()
                .all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-');
        if good {
            return Ok(Self(text.to_owned()));
        }
        Err(Error::new(ErrorKind::BadValue {
            value: text.to_owned(),
            reason: "a table id is 1 to 63 lower-case letters, digits and hyphens".into(),
            remedy: "name the table for example `autumn-cottons`".into(),
        }))
    }

    /// An id made from any text, such as a file's stem: other characters become hyphens.
    #[must_use]
    pub fn from_any(text: &str) -> Self {
        let mut id: String = text
            .to_lowercase()
            .chars()
            .map(|character| if character.is_ascii_alphanumeric() { character } else { '-' })
            .collect();
        id = id.trim_matches('-').to_owned();
        id.truncate(63);
        if id.is_empty() { Self("table".to_owned()) } else { Self(id) }
    }

    /// The id.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for TableId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Most near spellings that an error lists.
const NEAR_COUNT: usize = 3;

/// Codes that are spelled like the one asked for, nearest first.
pub(crate) fn near<'c>(asked: &Code, codes: impl Iterator<Item = &'c Code>) -> Vec<String> {
    let mut scored: Vec<(usize, &Code)> = codes
        .map(|code| (edits(asked.key(), code.key()), code))
        .filter(|(edits, _)| *edits <= 2)
        .collect();
    scored.sort();
    scored.into_iter().take(NEAR_COUNT).map(|(_, code)| code.to_string()).collect()
}

/// Levenshtein edits between two short texts.
fn edits(left: &str, right: &str) -> usize {
    let right: Vec<char> = right.chars().collect();
    let mut row: Vec<usize> = (0..=right.len()).collect();
    for (line, character) in left.chars().enumerate() {
        let mut diagonal = line;
        let mut before = line + 1;
        for (cell, other) in row.iter_mut().skip(1).zip(&right) {
            let cost = diagonal + usize::from(character != *other);
            diagonal = *cell;
            before = cost.min(diagonal + 1).min(before + 1);
            *cell = before;
        }
        if let Some(first) = row.first_mut() {
            *first = line + 1;
        }
    }
    row.last().copied().unwrap_or(0)
}
