//! How many skeins a person has: whole, half, a third; written before or behind the code.
//! It does not know codes.

use std::fmt;

/// Most skeins of one line. More is a slip of the pen. House choice.
const MOST: u64 = 9_999;

/// Skeins, in thousandths.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Count(u64);

impl Count {
    pub(crate) fn is_zero(self) -> bool {
        self.0 == 0
    }

    /// As a number of skeins or meters.
    pub(crate) fn value(self) -> f64 {
        let whole = u32::try_from(self.0 / 1_000).unwrap_or(u32::MAX);
        let part = u16::try_from(self.0 % 1_000).unwrap_or(0);
        f64::from(whole) + f64::from(part) / 1_000.0
    }

    pub(crate) fn plus(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }

    /// True for more than a person has of one thread.
    pub(super) fn is_absurd(self) -> bool {
        self.0 > MOST * 1_000
    }

    /// Reads `2`, `0.5`, `0,5`, `1/2`, `\u{bd}` or `1\u{bd}`.
    pub(super) fn parse(text: &str) -> Option<Self> {
        if let Some((over, under)) = text.split_once('/') {
            let (over, under) = (digits(over)?, digits(under)?);
            return (over * 1_000).checked_div(under).map(Self);
        }
        let last = text.chars().next_back()?;
        if let Some(part) = vulgar(last) {
            let whole = text.get(..text.len() - last.len_utf8())?;
            let whole = if whole.is_empty() { 0 } else { digits(whole)? };
            return Some(Self(whole * 1_000 + part));
        }
        let Some((whole, part)) = text.split_once(['.', ',']) else {
            return Some(Self(digits(text)? * 1_000));
        };
        if part.len() > 3 {
            return None;
        }
        digits(part)?;
        Some(Self(digits(whole)? * 1_000 + digits(&format!("{part:0<3}"))?))
    }
}

impl fmt::Display for Count {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, part) = (self.0 / 1_000, self.0 % 1_000);
        if part == 0 {
            return write!(f, "{whole}");
        }
        write!(f, "{whole}.{}", format!("{part:03}").trim_end_matches('0'))
    }
}

/// Up to nine digits.
fn digits(text: &str) -> Option<u64> {
    let plain = (1..=9).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    plain.then(|| text.parse().ok()).flatten()
}

/// Thousandths of a fraction that is one character: halves, quarters, thirds and an eighth.
fn vulgar(character: char) -> Option<u64> {
    let known = [
        ('\u{bd}', 500),
        ('\u{bc}', 250),
        ('\u{be}', 750),
        ('\u{2153}', 333),
        ('\u{2154}', 667),
        ('\u{215b}', 125),
    ];
    known.into_iter().find(|(held, _)| *held == character).map(|(_, part)| part)
}

/// The marks of multiplication that people write.
const TIMES: [char; 5] = ['x', 'X', '*', '\u{d7}', '\u{2715}'];

/// A count that says that it is one: `x2`, `2x`, `(2)`, `=2`.
pub(super) fn marked(word: &str) -> Option<Count> {
    let bare = word.trim_start_matches(['(', '[', '{']).trim_end_matches([')', ']', '}']);
    let in_brackets = bare.len() + 2 == word.len();
    let inner = bare.strip_prefix(TIMES).or_else(|| bare.strip_suffix(TIMES));
    let inner = inner.or_else(|| bare.strip_prefix('='));
    match inner {
        Some(inner) => Count::parse(inner),
        None if in_brackets => Count::parse(bare),
        None => None,
    }
}

/// A count behind the signs that people put before it, such as `-2` or `(2`.
pub(super) fn plain(word: &str) -> Option<Count> {
    Count::parse(word.trim_start_matches(['-', ':', '=', '~', '(', '[']))
}

/// A length in meters, such as `12m`; the word behind a number may say it too, see [`is_meter`].
pub(super) fn length(word: &str) -> Option<Count> {
    let bare = word.trim_start_matches(['(', '[', '=']).trim_end_matches([')', ']']);
    let (digits, unit) = bare.split_at(bare.find(char::is_alphabetic)?);
    if is_meter(unit) { Count::parse(digits) } else { None }
}

/// How much of a thread one word says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Amount {
    /// A number without a unit.
    Bare(f64),
    Meters(f64),
    Skeins(f64),
}

/// Reads `4.2m`, `1/2skein`, `x2` or `0`.
pub(crate) fn amount(word: &str) -> Option<Amount> {
    let believed = |count: Option<Count>| count.filter(|count| !count.is_absurd());
    if let Some(count) = believed(marked(word)) {
        return Some(Amount::Skeins(count.value()));
    }
    let Some(unit_at) = word.find(char::is_alphabetic) else {
        return believed(Count::parse(word)).map(|count| Amount::Bare(count.value()));
    };
    let (digits, unit) = word.split_at(unit_at);
    let count = believed(Count::parse(digits))?.value();
    match (is_meter(unit), is_unit(unit)) {
        (true, _) => Some(Amount::Meters(count)),
        (false, true) => Some(Amount::Skeins(count)),
        (false, false) => None,
    }
}

/// True for the unit of a length.
pub(super) fn is_meter(word: &str) -> bool {
    let word = word.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase();
    ["m", "meter", "meters", "metre", "metres"].contains(&word.as_str())
}

/// True for a lone mark of multiplication.
pub(super) fn is_times(word: &str) -> bool {
    let mut characters = word.chars();
    let only = characters.next().filter(|_| characters.next().is_none());
    only.is_some_and(|character| TIMES.contains(&character))
}

/// True for a word that says what is counted.
pub(super) fn is_unit(word: &str) -> bool {
    let word = word.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase();
    ["skein", "skeins", "hank", "hanks", "bobbin", "bobbins", "piece", "pieces", "pcs"]
        .contains(&word.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_are_read_however_they_are_written() {
        for (text, thousandths) in [
            ("2", 2_000),
            ("0.5", 500),
            ("0,5", 500),
            ("1/2", 500),
            ("\u{bd}", 500),
            ("1\u{bd}", 1_500),
            ("12.25", 12_250),
            ("0", 0),
        ] {
            assert_eq!(Count::parse(text), Some(Count(thousandths)), "{text}");
        }
        for text in ["", "x", "1/0", "-1", "1.2345", "\u{bd}2", "1e3", "1234567890", "1.", ",5"] {
            assert_eq!(Count::parse(text), None, "{text}");
        }
        for text in ["x2", "2x", "\u{d7}2", "(2)", "[2]", "(x2)", "=2", "2\u{d7}"] {
            assert_eq!(marked(text), Some(Count(2_000)), "{text}");
        }
        assert_eq!(marked("2"), None);
        for text in ["2m", "(2m)", "2.0m", "2metres"] {
            assert_eq!(length(text), Some(Count(2_000)), "{text}");
        }
        for text in ["2", "m", "m2", "2mm", "2M5"] {
            assert_eq!(length(text), None, "{text}");
        }
        assert!((Count(1_250).value() - 1.25).abs() < 1e-12);
        assert_eq!(Count(1_500).to_string(), "1.5");
        assert_eq!(Count(2_000).to_string(), "2");
        assert_eq!(Count(333).to_string(), "0.333");
    }
}
