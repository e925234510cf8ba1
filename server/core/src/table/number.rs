//! Numbers as people and spreadsheets write them: decimal comma, typographic minus, injuries.
//! It does not know what a number means or which range it must keep.

use std::borrow::Cow;

/// The decimal mark that a number showed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mark {
    None,
    Point,
    Comma,
}

/// A number in plain form: ASCII digits, `-`, `.`, perhaps an exponent.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Number<'t> {
    pub(super) plain: Cow<'t, str>,
    pub(super) value: f64,
    pub(super) mark: Mark,
    /// The minus was a dash or U+2212.
    pub(super) odd_minus: bool,
}

/// Why a text is not a number, and what to write.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Fault {
    pub(super) reason: &'static str,
    pub(super) remedy: &'static str,
}

/// Reads a finite number.
pub(super) fn parse(text: &str) -> Result<Number<'_>, Fault> {
    let trimmed = text.trim();
    if trimmed.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'-' | b'+'))
        && let Ok(value) = trimmed.parse::<f64>()
        && value.is_finite()
    {
        let mark = if trimmed.contains('.') { Mark::Point } else { Mark::None };
        return Ok(Number { plain: Cow::Borrowed(trimmed), value, mark, odd_minus: false });
    }
    parse_unusual(trimmed).ok_or_else(|| fault(trimmed))
}

fn parse_unusual(trimmed: &str) -> Option<Number<'_>> {
    let mut mark = if trimmed.contains('.') { Mark::Point } else { Mark::None };
    let mut plain = trimmed.to_owned();
    let mut odd_minus = false;
    if let Some(rest) = trimmed.strip_prefix(is_odd_minus) {
        plain = format!("-{rest}");
        odd_minus = true;
    }
    if mark == Mark::None && plain.matches(',').count() == 1 {
        plain = plain.replace(',', ".");
        mark = Mark::Comma;
    }
    let usual =
        |byte: u8| byte.is_ascii_digit() || matches!(byte, b'.' | b'-' | b'+' | b'e' | b'E');
    if !plain.bytes().all(usual) {
        return None;
    }
    let value: f64 = plain.parse().ok()?;
    value.is_finite().then_some(Number { plain: Cow::Owned(plain), value, mark, odd_minus })
}

fn is_odd_minus(character: char) -> bool {
    matches!(character, '\u{2010}'..='\u{2013}' | '\u{2212}' | '\u{fe63}' | '\u{ff0d}')
}

/// True for a comma followed by exactly three digits at the end: one thousand or a decimal?
pub(super) fn may_be_thousands(text: &str) -> bool {
    text.trim().rsplit_once(',').is_some_and(|(_, decimals)| {
        decimals.len() == 3 && decimals.bytes().all(|byte| byte.is_ascii_digit())
    })
}

fn fault(trimmed: &str) -> Fault {
    let lower = trimmed.to_ascii_lowercase();
    let bare = lower.trim_start_matches(['-', '+']);
    let (reason, remedy) = if trimmed.is_empty() {
        (
            "the value is missing",
            "write the number; leave the cell empty only where a value may be missing",
        )
    } else if trimmed.starts_with('#') {
        ("a spreadsheet formula failed here", "put the number itself into the cell")
    } else if matches!(bare, "nan" | "inf" | "infinity") {
        ("not a finite number", "write a number such as 42.15")
    } else if looks_exponential(bare) {
        ("too large for a number", "write a number such as 42.15")
    } else if super::injury::is_date(trimmed) {
        (
            "this looks like a date",
            "a spreadsheet turned a number into a date: write the number again",
        )
    } else if trimmed.contains('%') {
        ("a percentage is not read here", "write the number without %")
    } else if trimmed.contains(',') {
        ("not a number", "write it without thousands separators, such as 1234.5")
    } else if has_unit(trimmed) {
        ("not a number", "write the number alone, in the unit of the column")
    } else {
        ("not a number", "write a number such as 42.15")
    };
    Fault { reason, remedy }
}

/// A number and a word behind it, such as `8 m`.
fn has_unit(text: &str) -> bool {
    let word = text.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').trim_start();
    word.len() < text.len() && !word.is_empty() && word.chars().all(char::is_alphabetic)
}

fn looks_exponential(text: &str) -> bool {
    text.contains('e') && text.parse::<f64>().is_ok_and(f64::is_infinite)
}

/// A decimal number as millionths, when it is one with at most six decimals and fits.
pub(super) fn micros(plain: &str) -> Option<i64> {
    let (whole, decimals) = plain.split_once('.').unwrap_or((plain, ""));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    let whole = whole.strip_prefix('+').unwrap_or(whole);
    if (whole.is_empty() && decimals.is_empty()) || !digits(whole) || !digits(decimals) {
        return None;
    }
    let decimals = decimals.trim_end_matches('0');
    if decimals.len() > 6 {
        return None;
    }
    let whole: i64 = if whole.is_empty() { 0 } else { whole.parse().ok()? };
    let fraction: i64 = format!("{decimals:0<6}").parse().ok()?;
    whole.checked_mul(1_000_000)?.checked_add(fraction)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_keep_their_value_and_mark() {
        for (text, plain, mark) in [
            (" 5", "5", Mark::None),
            ("-18.30", "-18.30", Mark::Point),
            ("1,5", "1.5", Mark::Comma),
            ("\u{2212}18,3", "-18.3", Mark::Comma),
            ("+.5", "+.5", Mark::Point),
            ("\u{a0}1e2\u{a0}", "1e2", Mark::None),
        ] {
            let number = parse(text).unwrap();
            assert_eq!((number.plain.as_ref(), number.mark), (plain, mark), "{text:?}");
        }
    }

    #[test]
    fn what_is_no_number_says_why() {
        for (text, reason) in [
            ("", "the value is missing"),
            ("1.234,5", "not a number"),
            ("12%", "a percentage is not read here"),
            ("+inf", "not a finite number"),
            ("-1E999", "too large for a number"),
            ("01.03.2031", "this looks like a date"),
            ("--5", "not a number"),
            ("5-", "not a number"),
            ("0x10", "not a number"),
            ("٣", "not a number"),
        ] {
            assert_eq!(parse(text).unwrap_err().reason, reason, "{text:?}");
        }
        for text in ["8 m", "26ft", "7.5 g"] {
            let fault = parse(text).unwrap_err();
            assert_eq!(fault.remedy, "write the number alone, in the unit of the column");
        }
    }

    #[test]
    fn prices_are_exact_decimals() {
        let cases = [("3.50", 3_500_000), (".5", 500_000), ("7.", 7_000_000), ("0.000001", 1)];
        for (text, value) in cases {
            assert_eq!(micros(text), Some(value), "{text}");
        }
        for text in ["", ".", "-1", "0.0000001", "9223372036855", "1e3"] {
            assert_eq!(micros(text), None, "{text}");
        }
    }
}
