//! The key of a chart: its entries with symbol, color, threads and strands.
//! It does not know where the entries are used, nor the tables that its threads come from.

use std::fmt;

use dyekin_core::error::{Error, ErrorKind, is_hostile};
use dyekin_core::math;
use dyekin_core::{Srgb8, TableHash, ThreadRef};

use super::Label;

/// Most entries of one key; the same as the colors of one palette summary.
pub const MAX_ENTRIES: usize = dyekin_core::palette::MAX_COLORS;

/// Most strands of one use.
pub const MAX_STRANDS: u8 = 24;

/// Longest symbol, in characters.
const MAX_SYMBOL_CHARS: usize = 8;

/// An entry by its place in the key, from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EntryId(u16);

impl EntryId {
    /// An entry's id; `None` beyond [`MAX_ENTRIES`].
    #[must_use]
    pub fn new(place: usize) -> Option<Self> {
        if place < MAX_ENTRIES { u16::try_from(place).ok().map(Self) } else { None }
    }

    /// The place in the key.
    #[must_use]
    pub fn index(self) -> usize {
        usize::from(self.0)
    }

    /// The place in the key, in its narrow form.
    #[must_use]
    pub fn number(self) -> u16 {
        self.0
    }
}

/// What marks an entry on paper: 1 to 8 visible characters.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Symbol(String);

impl Symbol {
    /// Reads a symbol.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when it is empty, too long, or holds blanks or control characters.
    pub fn parse(text: &str) -> Result<Self, Error> {
        let hidden = |character: char| is_hostile(character) || character.is_whitespace();
        if (1..=MAX_SYMBOL_CHARS).contains(&text.chars().count()) && !text.chars().any(hidden) {
            return Ok(Self(text.to_owned()));
        }
        Err(Error::new(ErrorKind::BadValue {
            value: text.to_owned(),
            reason: "a symbol is 1 to 8 visible characters without blanks".into(),
            remedy: "choose another symbol, or leave it out to get one".into(),
        }))
    }

    /// The symbol.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Symbol {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A thread with the content of the table that was meant.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct KeyThread {
    /// Table and code.
    pub thread: ThreadRef,
    /// Hash of the table's content when the thread was chosen.
    pub table_hash: TableHash,
}

/// Two different threads in one needle.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Blend {
    threads: [(KeyThread, u8); 2],
}

impl Blend {
    /// A blend of two threads, each with its strands.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when the threads are the same or a count of strands is not 1 to 24.
    pub fn new(first: (KeyThread, u8), second: (KeyThread, u8)) -> Result<Self, Error> {
        if first.0.thread == second.0.thread {
            return Err(Error::new(ErrorKind::BadValue {
                value: first.0.thread.to_string(),
                reason: "a blend of a thread with itself".into(),
                remedy: "name two different threads, or one thread without a blend".into(),
            }));
        }
        check_strands(first.1)?;
        check_strands(second.1)?;
        Ok(Self { threads: [first, second] })
    }

    /// The two threads with their strands.
    #[must_use]
    pub fn threads(&self) -> &[(KeyThread, u8); 2] {
        &self.threads
    }
}

/// What an entry is worked in.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Work {
    /// No thread yet: a color of a picture.
    Color,
    /// One thread.
    Thread(KeyThread),
    /// Two threads in one needle.
    Blend(Blend),
}

impl Work {
    /// The threads: none, one or two.
    pub fn threads(&self) -> impl Iterator<Item = &KeyThread> {
        let (one, two) = match self {
            Self::Color => (None, None),
            Self::Thread(thread) => (Some(thread), None),
            Self::Blend(Blend { threads: [first, second] }) => (Some(&first.0), Some(&second.0)),
        };
        one.into_iter().chain(two)
    }
}

/// Strands for each use; `None` where the chart does not say. Range: 1 to 24.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Strands {
    cross: Option<u8>,
    line: Option<u8>,
    knot: Option<u8>,
}

impl Strands {
    /// Checked counts for crosses (whole and part), lines and knots.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when a count is not 1 to 24.
    pub fn new(cross: Option<u8>, line: Option<u8>, knot: Option<u8>) -> Result<Self, Error> {
        for count in [cross, line, knot].into_iter().flatten() {
            check_strands(count)?;
        }
        Ok(Self { cross, line, knot })
    }

    /// Strands of crosses, whole and part.
    #[must_use]
    pub fn cross(self) -> Option<u8> {
        self.cross
    }

    /// Strands of back-stitch lines.
    #[must_use]
    pub fn line(self) -> Option<u8> {
        self.line
    }

    /// Strands of knots.
    #[must_use]
    pub fn knot(self) -> Option<u8> {
        self.knot
    }
}

fn check_strands(count: u8) -> Result<(), Error> {
    if (1..=MAX_STRANDS).contains(&count) {
        return Ok(());
    }
    Err(Error::new(ErrorKind::BadValue {
        value: count.to_string(),
        reason: format!("strands are 1 to {MAX_STRANDS}"),
        remedy: "write for example 2".into(),
    }))
}

/// One entry of the key.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Entry {
    /// What marks it on paper; `None` until one is assigned.
    pub symbol: Option<Symbol>,
    /// The color as the chart shows it.
    pub color: Srgb8,
    /// What it is worked in.
    pub work: Work,
    /// Strands for each use.
    pub strands: Strands,
    /// Its name; foreign text.
    pub name: Option<Label>,
}

impl Entry {
    /// An entry for a color of a picture.
    #[must_use]
    pub fn of_color(color: Srgb8) -> Self {
        Self { symbol: None, color, work: Work::Color, strands: Strands::default(), name: None }
    }
}

/// The color of two threads in one needle: the mean of their light (linear sRGB, IEC 61966-2-1),
/// an estimate.
pub(crate) fn mixed(first: Srgb8, second: Srgb8) -> Srgb8 {
    let channel = |one: u8, other: u8| {
        let light = f64::midpoint(to_light(one), to_light(other));
        // The encoded value is searched, so that no second curve has to be kept.
        (0..=u8::MAX)
            .min_by(|left, right| {
                let away = |value: u8| (to_light(value) - light).abs();
                away(*left).total_cmp(&away(*right))
            })
            .unwrap_or(one)
    };
    Srgb8::new(
        channel(first.red, second.red),
        channel(first.green, second.green),
        channel(first.blue, second.blue),
    )
}

/// Linear light of an encoded sRGB value, 0 to 1 (IEC 61966-2-1).
pub(crate) fn to_light(value: u8) -> f64 {
    let encoded = f64::from(value) / 255.0;
    if encoded <= 0.04045 { encoded / 12.92 } else { math::pow((encoded + 0.055) / 1.055, 2.4) }
}
