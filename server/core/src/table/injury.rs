//! Marks that spreadsheets leave on codes: lost zeros, exponents, dates, failed formulas.
//! It only suspects: a code is text and is never changed here.

use std::collections::HashMap;

use super::Thread;
use super::report::{Report, Seen, rows};
use crate::error::{Place, shown};

/// Most codes that one notice names.
const NAMED: usize = 5;

/// Adds notices about codes that a spreadsheet may have changed.
pub(super) fn tell(threads: &[Thread], lines: &[u64], report: &mut Report) {
    tell_lost_zeros(threads, lines, report);
    let (mut exponents, mut dates) = (Seen::default(), Seen::default());
    for (thread, line) in threads.iter().zip(lines) {
        let code = thread.code.as_str();
        if is_exponent(code) {
            exponents.note(*line);
        } else if is_date(code) {
            dates.note(*line);
        }
    }
    exponents.tell(report, |count| {
        format!("{} with a code like 1E+11: a spreadsheet may have lost its digits", rows(count))
    });
    dates.tell(report, |count| {
        format!("{} with a code like a date: a spreadsheet may have changed it", rows(count))
    });
}

/// Codes of digits that differ only in leading zeros or an ending `.0`.
fn tell_lost_zeros(threads: &[Thread], lines: &[u64], report: &mut Report) {
    let mut groups: HashMap<&str, Vec<usize>> = HashMap::new();
    for (row, thread) in threads.iter().enumerate() {
        let code = thread.code.as_str();
        if let Some(digits) = bare_digits(code)
            && digits.len() != code.len()
        {
            groups.entry(digits).or_default().push(row);
        }
    }
    if groups.is_empty() {
        return;
    }
    for (row, thread) in threads.iter().enumerate() {
        if let Some(group) = groups.get_mut(thread.code.as_str()) {
            group.push(row);
        }
    }
    let mut alike: Vec<Vec<usize>> = groups.into_values().filter(|rows| rows.len() > 1).collect();
    alike.iter_mut().for_each(|rows| rows.sort_unstable());
    alike.sort_unstable();
    let Some(first) = alike.first() else { return };
    let names: Vec<String> = first
        .iter()
        .take(NAMED)
        .filter_map(|row| threads.get(*row))
        .map(|thread| shown(thread.code.as_str()))
        .collect();
    let more = match alike.len() {
        1 => String::new(),
        count => format!(" (and {} more such groups)", count - 1),
    };
    let line = first.first().and_then(|row| lines.get(*row)).copied();
    report.notice(
        line.map(|line| Place::cell(line, "code")),
        format!(
            "{} differ only in zeros: was this saved by a spreadsheet?{more}",
            names.join(" / ")
        ),
    );
}

/// Digits without leading zeros and without an ending `.0`.
fn bare_digits(code: &str) -> Option<&str> {
    let whole = match code.split_once('.') {
        Some((whole, zeros)) if !zeros.is_empty() && zeros.bytes().all(|b| b == b'0') => whole,
        Some(_) => return None,
        None => code,
    };
    if whole.is_empty() || !whole.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    Some(whole.trim_start_matches('0')).filter(|digits| !digits.is_empty())
}

/// A number as spreadsheets show long digits: `1E+11`, `5.59E+11`.
pub(super) fn is_exponent(text: &str) -> bool {
    let Some((digits, power)) = text.split_once("E+") else { return false };
    let mut marks = 0;
    let good = digits.bytes().all(|byte| {
        marks += usize::from(matches!(byte, b'.' | b','));
        byte.is_ascii_digit() || matches!(byte, b'.' | b',')
    });
    good && marks <= 1
        && digits.starts_with(|c: char| c.is_ascii_digit())
        && !power.is_empty()
        && power.bytes().all(|byte| byte.is_ascii_digit())
}

/// A date as spreadsheets make it of codes and numbers: `2031-03-01`, `01.03.2031`, `3-Mar`.
pub(super) fn is_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split(['-', '/', '.']).collect();
    let number = |part: &str, low: u16, high: u16| {
        part.bytes().all(|byte| byte.is_ascii_digit())
            && part.parse().is_ok_and(|value| (low..=high).contains(&value))
    };
    match *parts.as_slice() {
        [first, second] if !text.contains('.') => {
            (is_month(first) && number(second, 1, 2099))
                || (number(first, 1, 31) && is_month(second))
        }
        [first, second, third] => {
            let year_first = first.len() == 4 && number(first, 1900, 2099);
            let year_last = third.len() == 4 && number(third, 1900, 2099);
            (year_first && number(second, 1, 12) && number(third, 1, 31))
                || (year_last && number(first, 1, 31) && number(second, 1, 31))
        }
        _ => false,
    }
}

fn is_month(text: &str) -> bool {
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
        .into_iter()
        .any(|month| month.eq_ignore_ascii_case(text))
}

/// What spreadsheets put where a formula failed: `#N/A`, `#REF!`.
pub(super) fn is_failed_formula(text: &str) -> bool {
    ["#n/a", "#ref!", "#div/0!", "#name?", "#value!", "#num!", "#null!", "#spill!"]
        .into_iter()
        .any(|failed| failed.eq_ignore_ascii_case(text.trim()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exponents_and_dates_are_told_from_codes() {
        for text in ["1E+11", "5.59E+11", "6,29E+12"] {
            assert!(is_exponent(text), "{text}");
        }
        for text in ["1E5", "E+5", "5587E590003", "1.2.3E+4", "1E+", "K1E+5"] {
            assert!(!is_exponent(text), "{text}");
        }
        for text in ["3-Mar", "mar-31", "2031-03-01", "01/03/2031", "1.3.2031"] {
            assert!(is_date(text), "{text}");
        }
        for text in ["3-31", "QM-2M2", "2031-13-01", "12.5", "", "-", "1-2-3", "mar-"] {
            assert!(!is_date(text), "{text}");
        }
    }

    #[test]
    fn only_whole_digits_lose_zeros() {
        for (code, digits) in [("0090417", "90417"), ("90417.0", "90417"), ("5", "5")] {
            assert_eq!(bare_digits(code), Some(digits), "{code}");
        }
        for code in ["000", "", ".0", "1.5", "1.", "A1", "-5"] {
            assert_eq!(bare_digits(code), None, "{code}");
        }
    }
}
