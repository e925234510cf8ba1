//! What can be wrong with a request or a file, and where it stands.
//! It does not know how an error is printed or which gRPC code it becomes.

use std::fmt;

/// A result of this crate.
pub type Result<T> = std::result::Result<T, Error>;

/// One thing that is wrong, with its place when it has one.
#[derive(Clone, Debug, PartialEq)]
pub struct Error {
    kind: Box<ErrorKind>,
    place: Option<Box<Place>>,
}

impl Error {
    /// An error without a place.
    #[must_use]
    pub fn new(kind: ErrorKind) -> Self {
        Self { kind: Box::new(kind), place: None }
    }

    /// The same error at a place.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.place = Some(Box::new(place));
        self
    }

    /// What is wrong.
    #[must_use]
    pub fn kind(&self) -> &ErrorKind {
        &self.kind
    }

    /// Where it is wrong.
    #[must_use]
    pub fn place(&self) -> Option<&Place> {
        self.place.as_deref()
    }

    /// What the user can do about it, without a full stop.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        self.kind.hint()
    }
}

impl From<ErrorKind> for Error {
    fn from(kind: ErrorKind) -> Self {
        Self::new(kind)
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.place {
            write!(f, "{place}: ")?;
        }
        self.kind.fmt(f)
    }
}

impl std::error::Error for Error {}

/// Where something is wrong: a file, a line of the file, a column by name, a field of a request.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Place {
    /// The file as the user named it, or the table.
    pub source_name: Option<String>,
    /// Line of the file, from 1; a quoted line break counts.
    pub line: Option<u64>,
    /// Name of the column, as the header spells it.
    pub column: Option<String>,
    /// Path of a request's field, such as `queries[3].color`.
    pub field: Option<String>,
}

impl Place {
    /// A place in a request.
    #[must_use]
    pub fn field(path: impl Into<String>) -> Self {
        Self { field: Some(path.into()), ..Self::default() }
    }

    /// A line of a file.
    #[must_use]
    pub fn line(line: u64) -> Self {
        Self { line: Some(line), ..Self::default() }
    }

    /// A column in a line of a file.
    #[must_use]
    pub fn cell(line: u64, column: impl Into<String>) -> Self {
        Self { line: Some(line), column: Some(column.into()), ..Self::default() }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts = Vec::new();
        if let Some(name) = &self.source_name {
            parts.push(shown(name));
        }
        if let Some(line) = self.line {
            parts.push(format!("line {line}"));
        }
        if let Some(column) = &self.column {
            parts.push(format!("column {}", shown(column)));
        }
        if let Some(field) = &self.field {
            parts.push(field.clone());
        }
        f.write_str(&parts.join(", "))
    }
}

/// What is wrong. Exhaustive on purpose: a new kind must be placed in the server's status table.
#[derive(Clone, Debug, PartialEq)]
pub enum ErrorKind {
    /// The answer of a change names a thread that cannot stand.
    BadAnswer {
        /// The change that is answered.
        change: String,
        /// Why the answer cannot stand.
        reason: String,
    },
    /// A code that cannot be a code: empty, too long, or with control characters.
    BadCode {
        /// The text as found.
        value: String,
        /// Why it is refused.
        reason: String,
    },
    /// A color that cannot be read or lies out of range.
    BadColor {
        /// The text as found.
        value: String,
        /// Why it is refused.
        reason: String,
        /// What to write instead.
        remedy: String,
    },
    /// Bytes that are not what the format promises.
    BadFile {
        /// Why the file is refused.
        reason: String,
        /// What to do.
        remedy: String,
    },
    /// A value of a named field that cannot be read or lies out of range.
    BadValue {
        /// The text as found.
        value: String,
        /// Why it is refused.
        reason: String,
        /// What to write instead.
        remedy: String,
    },
    /// Two measured colors under different lights or observers.
    ConditionsDiffer {
        /// Conditions of the color asked for.
        standard: String,
        /// Conditions of the table or second color.
        sample: String,
    },
    /// Two rows of one table share a code.
    DuplicateCode {
        /// The code as first written.
        code: String,
        /// The lines that share it; positions from 1 where no file is read.
        lines: Vec<u64>,
    },
    /// A request that no choice of threads can meet.
    Impossible {
        /// What cannot be met.
        reason: String,
        /// What can.
        nearest: String,
    },
    /// More than a stated limit allows.
    OverLimit {
        /// What is too many or too large.
        what: String,
        /// How much was found.
        found: u64,
        /// The limit.
        limit: u64,
    },
    /// The caller went away or its time ran out.
    Stopped,
    /// No table of that id.
    UnknownTable {
        /// The id asked for.
        table: String,
        /// Ids that are close in spelling, or all of a few.
        known: Vec<String>,
    },
    /// No thread of that code in the table.
    UnknownThread {
        /// The table asked.
        table: String,
        /// The code asked for.
        code: String,
        /// Codes that are close in spelling.
        near: Vec<String>,
    },
}

impl fmt::Display for ErrorKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::BadAnswer { change, reason } => {
                write!(f, "the answer to change {} cannot stand: {reason}", shown(change))
            }
            Self::BadCode { value, reason } => {
                write!(f, "`{}` cannot be a thread code: {reason}", shown(value))
            }
            Self::BadColor { value, reason, .. } => {
                write!(f, "`{}` is not a usable color: {reason}", shown(value))
            }
            Self::BadFile { reason, .. } | Self::Impossible { reason, .. } => f.write_str(reason),
            Self::BadValue { value, reason, .. } if value.is_empty() => f.write_str(reason),
            Self::BadValue { value, reason, .. } => write!(f, "`{}`: {reason}", shown(value)),
            Self::ConditionsDiffer { standard, sample } => write!(
                f,
                "the color asked for was measured under {standard}, the other under {sample}"
            ),
            Self::DuplicateCode { code, lines } => {
                write!(f, "code `{}` stands on lines {}", shown(code), list(lines))
            }
            Self::OverLimit { what, found, limit } => {
                write!(f, "{what}: {found}, the limit is {limit}")
            }
            Self::Stopped => f.write_str("stopped before the answer was complete"),
            Self::UnknownTable { table, .. } => write!(f, "no thread table `{}`", shown(table)),
            Self::UnknownThread { table, code, .. } => {
                write!(f, "table {} has no thread `{}`", shown(table), shown(code))
            }
        }
    }
}

impl ErrorKind {
    fn hint(&self) -> Option<String> {
        let hint = match self {
            Self::BadAnswer { .. } => {
                "answer yes, no, or another with a thread of the tables".into()
            }
            Self::BadCode { .. } => "write 1 to 64 characters, none of them a control one".into(),
            Self::BadColor { remedy, .. }
            | Self::BadFile { remedy, .. }
            | Self::BadValue { remedy, .. } => remedy.clone(),
            Self::ConditionsDiffer { standard, sample } if is_one_observer(standard, sample) => {
                "measure both under one light, or ask for an estimate: `--adapt bradford` (in a \
                 request, `adaptation`)"
                    .into()
            }
            Self::ConditionsDiffer { .. } => {
                "measured colors are compared only under one light and observer; measure both alike"
                    .into()
            }
            Self::DuplicateCode { .. } => {
                "give each thread one row; codes differing only in case or blanks are one".into()
            }
            Self::Impossible { nearest, .. } => nearest.clone(),
            Self::OverLimit { limit, .. } => format!("keep to {limit}, or split it into several"),
            Self::Stopped => "ask again, with more time if it ran out".into(),
            Self::UnknownTable { known, .. } if known.is_empty() => {
                "load a thread table first".into()
            }
            Self::UnknownTable { known, .. } => format!("known tables: {}", shown_list(known)),
            Self::UnknownThread { near, .. } if near.is_empty() => {
                "no code is close in spelling; look it up in the table".into()
            }
            Self::UnknownThread { near, .. } => {
                format!("close in spelling: {}", shown_list(near))
            }
        };
        Some(hint).filter(|hint| !hint.is_empty())
    }
}

/// True when two conditions, as they are printed, name the same observer: then adaptation can carry
/// one to the other.
fn is_one_observer(standard: &str, sample: &str) -> bool {
    let observer = |text: &str| text.split_once('/').map(|(_, observer)| observer.to_owned());
    observer(standard).is_some_and(|one| observer(sample) == Some(one))
}

/// Longest piece of foreign text that an error repeats, in characters.
const SHOWN_CHARS: usize = 40;

/// Foreign text made fit for a message: control and bidi characters escaped, cut at 40 characters.
#[must_use]
pub fn shown(text: &str) -> String {
    let mut out = String::new();
    for (count, character) in text.chars().enumerate() {
        if count == SHOWN_CHARS {
            out.push('…');
            break;
        }
        push_harmless(&mut out, character);
    }
    out
}

/// Foreign text of any length with its control and bidi characters escaped as `\u{1b}`.
#[must_use]
pub fn harmless(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        push_harmless(&mut out, character);
    }
    out
}

fn push_harmless(out: &mut String, character: char) {
    if is_hostile(character) {
        out.extend(character.escape_unicode());
    } else {
        out.push(character);
    }
}

/// True for characters that move a cursor, color a terminal or turn the reading direction around.
#[must_use]
pub fn is_hostile(character: char) -> bool {
    character.is_control()
        || matches!(character,
            '\u{061c}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}')
}

fn shown_list(texts: &[String]) -> String {
    texts.iter().map(|text| shown(text)).collect::<Vec<_>>().join(", ")
}

fn list(lines: &[u64]) -> String {
    const LISTED: usize = 20;
    let named: Vec<String> = lines.iter().take(LISTED).map(ToString::to_string).collect();
    match lines.len().checked_sub(LISTED) {
        None | Some(0) => named.join(", "),
        Some(more) => format!("{} and {more} more", named.join(", ")),
    }
}
