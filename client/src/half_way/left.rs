//! How much of a thread is left, as people say it: `CODE 4.2 m`, `CODE half a skein`, in numbers.
//! It does not know how much is needed.

use dyekin_core::error::Error;
use dyekin_core::{Code, TableId, ThreadRef};

use super::need::micrometres;
use crate::asked::{self, Asked};
use crate::chart::problems::bad_value;
use crate::own_threads::{Amount, amount};

/// How far a length that was measured may be off, as a share. House choice.
const MEASURED: f64 = 0.05;

/// How far a part of a skein may be off that was judged by eye, as a share. House choice.
const BY_EYE: f64 = 0.2;

const REMEDY: &str = "write code and amount, such as --left \"CODE 4.2 m\", --left \"CODE 3.8-4.2 m\", \
     --left \"CODE 1/2 skein\" or --left \"CODE 0\"";

/// What was typed behind `--left`.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Said {
    pub(crate) table: Option<TableId>,
    pub(crate) code: Code,
    amount: Span,
    typed: String,
}

/// An amount from its low to its high end.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Span {
    Meters(f64, f64),
    Skeins(f64, f64),
    Nothing,
}

/// What is left of one thread, in micrometres of thread as sold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Left {
    pub(crate) thread: ThreadRef,
    pub(crate) low: u64,
    pub(crate) high: u64,
}

/// Reads `CODE AMOUNT`.
///
/// # Errors
///
/// When it has no code, no amount, or an amount without a unit.
pub(crate) fn said(text: &str) -> Result<Said, Error> {
    let bad = |reason: &str| bad_value(text.trim(), reason, REMEDY);
    let words: Vec<&str> = text.split_whitespace().collect();
    let (code, span) = cut(&words).ok_or_else(|| bad("not a code and how much of it is left"))?;
    let span = span.ok_or_else(|| bad("the low end is above the high end"))?;
    let code = code.join(" ");
    match asked::thread(&code)? {
        Asked::Thread { table, code } => {
            Ok(Said { table, code, amount: span, typed: text.trim().to_owned() })
        }
        Asked::Color(_) | Asked::Either(..) => Err(bad("not a code and how much of it is left")),
    }
}

/// The code's words and the amount behind them; an amount of `None` is turned round.
fn cut<'w, 't>(words: &'w [&'t str]) -> Option<(&'w [&'t str], Option<Span>)> {
    for behind in [1, 2] {
        let (code, amount_words) = words.split_at_checked(words.len().checked_sub(behind)?)?;
        if code.is_empty() {
            return None;
        }
        if let Some(span) = span(&amount_words.concat()) {
            return Some((code, span));
        }
    }
    None
}

/// Reads `4.2m`, `3.8-4.2m`, `1/2skein`, `x2`, `0`.
fn span(text: &str) -> Option<Option<Span>> {
    let (low, high) = match text.split_once(['-', '\u{2013}']) {
        Some((low, high)) => (Some(low), high),
        None => (None, text),
    };
    let high = amount(high)?;
    let low = match low {
        None => None,
        Some(text) => Some(amount(text)?),
    };
    let ordered = |low: f64, high: f64, span: Span| (low <= high).then_some(span);
    Some(match (low, high) {
        (None, Amount::Meters(value)) => {
            Some(Span::Meters(value * (1.0 - MEASURED), value * (1.0 + MEASURED)))
        }
        (None, Amount::Skeins(value)) => {
            let part = (value - value.floor()) * BY_EYE;
            Some(Span::Skeins(value - part, value + part))
        }
        (None, Amount::Bare(value)) if value <= 0.0 => Some(Span::Nothing),
        (Some(Amount::Bare(low) | Amount::Meters(low)), Amount::Meters(high)) => {
            ordered(low, high, Span::Meters(low, high))
        }
        (Some(Amount::Bare(low) | Amount::Skeins(low)), Amount::Skeins(high)) => {
            ordered(low, high, Span::Skeins(low, high))
        }
        _ => return None,
    })
}

impl Said {
    /// What is left of a thread whose skein has this length.
    ///
    /// # Errors
    ///
    /// When it is told in skeins and nobody knows how long one is.
    pub(crate) fn of(&self, thread: &ThreadRef, skein: Option<f64>) -> Result<Left, Error> {
        let (low, high) = match (self.amount, skein) {
            (Span::Nothing, _) => (0.0, 0.0),
            (Span::Meters(low, high), _) => (low, high),
            (Span::Skeins(low, high), Some(skein)) => (low * skein, high * skein),
            (Span::Skeins(..), None) => {
                return Err(bad_value(
                    &self.typed,
                    "its table does not say how long a skein is",
                    "write meters, such as --left \"CODE 4.2 m\"",
                ));
            }
        };
        Ok(Left { thread: thread.clone(), low: micrometres(low), high: micrometres(high) })
    }

    /// As it was typed.
    pub(crate) fn typed(&self) -> &str {
        &self.typed
    }

    /// True when it speaks of the thread.
    pub(crate) fn means(&self, thread: &ThreadRef) -> bool {
        self.code == thread.code && self.table.as_ref().is_none_or(|table| *table == thread.table)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn thread() -> ThreadRef {
        ThreadRef { table: TableId::parse("pond").unwrap(), code: Code::parse("PN 3B").unwrap() }
    }

    fn read(text: &str) -> (u64, u64) {
        let left = said(text).unwrap().of(&thread(), Some(8.0)).unwrap();
        (left.low, left.high)
    }

    #[test]
    fn lengths_and_skeins_are_read_with_their_low_and_high_ends() {
        assert_eq!(read("PN 3B 4 m"), (3_800_000, 4_200_000));
        assert_eq!(read("PN 3B 4m"), (3_800_000, 4_200_000));
        assert_eq!(read("PN-3B 3,5-4.25 metres"), (3_500_000, 4_250_000));
        assert_eq!(read("pond:PN-3B 2 skeins"), (16_000_000, 16_000_000));
        assert_eq!(read("PN-3B x2"), (16_000_000, 16_000_000));
        assert_eq!(read("PN-3B \u{bd} skein"), (3_200_000, 4_800_000));
        assert_eq!(read("PN-3B 1\u{bd} skeins"), (11_200_000, 12_800_000));
        assert_eq!(read("PN-3B 1/4-1/2 skein"), (2_000_000, 4_000_000));
        assert_eq!(read("PN-3B 0"), (0, 0));
        assert_eq!(read("PN-3B 0 m"), (0, 0));
    }

    #[test]
    fn what_is_no_amount_is_refused() {
        for text in [
            "",
            "PN-3B",
            "4 m",
            "PN-3B 4",
            "PN-3B -4 m",
            "PN-3B 5-4 m",
            "PN-3B 4 yd",
            "PN-3B 4 kg",
            "PN-3B m",
            "PN-3B 1-2",
            "PN-3B some",
            "PN-3B 99999999 m",
        ] {
            assert!(said(text).is_err(), "{text}: {:?}", said(text));
        }
    }

    #[test]
    fn skeins_of_unknown_length_are_refused() {
        assert!(said("PN-3B x2").unwrap().of(&thread(), None).is_err());
        assert!(said("PN-3B 2 m").unwrap().of(&thread(), None).is_ok());
    }

    #[test]
    fn a_code_is_told_apart_by_its_table() {
        assert!(said("PN 3B 4 m").unwrap().means(&thread()));
        assert!(said("pond:PN 3B 4 m").unwrap().means(&thread()));
        assert!(!said("lake:PN 3B 4 m").unwrap().means(&thread()));
        assert!(!said("PN 3A 4 m").unwrap().means(&thread()));
    }
}
