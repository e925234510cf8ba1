//! Lines of CGATS text cut into words and quoted strings, as the standard and spreadsheets write them.
//! It does not know keywords or columns.

use std::borrow::Cow;

/// Why a line cannot be cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Fault {
    pub(super) reason: &'static str,
    pub(super) remedy: &'static str,
}

const OPEN: Fault = Fault {
    reason: "a quote opens here and is never closed",
    remedy: "close it on the same line, or remove it",
};

const BEHIND: Fault = Fault {
    reason: "text after a closing quote",
    remedy: "leave a blank behind the quote; inside quotes a quote is written twice",
};

/// The words and strings of a line; a `#` where one could begin starts a comment.
pub(super) fn words(line: &str) -> Result<Vec<Cow<'_, str>>, Fault> {
    let mut words = Vec::new();
    let mut rest = line.trim_start();
    while !rest.is_empty() && !rest.starts_with('#') {
        let (word, after) = if rest.starts_with('"') { string(rest)? } else { bare(rest) };
        words.push(word);
        rest = after.trim_start();
    }
    Ok(words)
}

fn bare(text: &str) -> (Cow<'_, str>, &str) {
    let end = text.find(char::is_whitespace).unwrap_or(text.len());
    let (word, after) = text.split_at_checked(end).unwrap_or((text, ""));
    (Cow::Borrowed(word), after)
}

/// A string at the front of a text, without its quotes, and what follows it.
fn string(text: &str) -> Result<(Cow<'_, str>, &str), Fault> {
    let inside = text.strip_prefix('"').unwrap_or(text);
    // A spreadsheet wrote `""Moss path""` for `"Moss path"`.
    if let Some(doubled) = inside.strip_prefix('"')
        && doubled.starts_with(|c: char| !c.is_whitespace() && c != '"')
    {
        let (word, after) = doubled.split_once("\"\"").ok_or(OPEN)?;
        return ended(Cow::Borrowed(word), after);
    }
    let mut owned = String::new();
    let mut rest = inside;
    loop {
        let (part, after) = rest.split_once('"').ok_or(OPEN)?;
        let Some(next) = after.strip_prefix('"') else {
            let word =
                if owned.is_empty() { Cow::Borrowed(part) } else { Cow::Owned(owned + part) };
            return ended(without_outer_quotes(word), after);
        };
        owned.push_str(part);
        owned.push('"');
        rest = next;
    }
}

fn ended<'t>(word: Cow<'t, str>, after: &'t str) -> Result<(Cow<'t, str>, &'t str), Fault> {
    if after.starts_with(|c: char| !c.is_whitespace()) {
        return Err(BEHIND);
    }
    Ok((word, after))
}

/// A spreadsheet wrote `"""Moss path"""` for a cell that held quotes.
fn without_outer_quotes(word: Cow<'_, str>) -> Cow<'_, str> {
    match word.strip_prefix('"').and_then(|inner| inner.strip_suffix('"')) {
        Some(inner) => Cow::Owned(inner.to_owned()),
        None => word,
    }
}

/// The cells of a line that has tabs for borders only, so that names need no quotes.
pub(super) fn cells(line: &str) -> Result<Vec<Cow<'_, str>>, Fault> {
    line.split('\t')
        .map(|cell| {
            let cell = cell.trim();
            match cell.starts_with('"').then(|| string(cell)) {
                Some(Ok((word, after))) if after.trim().is_empty() => Ok(word),
                Some(Ok(_)) => Err(BEHIND),
                Some(Err(fault)) => Err(fault),
                None => Ok(Cow::Borrowed(cell)),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strings_keep_blanks_and_lose_their_quotes_once() {
        for (line, expected) in [
            ("1 \"Moss path\" -18.30", &["1", "Moss path", "-18.30"][..]),
            ("1\t\"Moss\"\t\t2\t", &["1", "Moss", "2"]),
            ("\"5\"\" hoop\" x", &["5\" hoop", "x"]),
            ("\"\"\"Moss path\"\"\" 2", &["Moss path", "2"]),
            ("\"\"Moss path\"\" 2", &["Moss path", "2"]),
            ("\"\" 2", &["", "2"]),
            ("a\"b 5\" # a comment \"", &["a\"b", "5\""]),
            ("A#1 #", &["A#1"]),
            ("\"# no comment\"", &["# no comment"]),
            ("\u{a0}1\u{a0}2", &["1", "2"]),
            ("", &[]),
            ("# all of it", &[]),
        ] {
            assert_eq!(words(line).unwrap(), expected, "{line:?}");
        }
    }

    #[test]
    fn broken_strings_say_how() {
        for (line, fault) in [
            ("1 \"Moss", OPEN),
            ("\"", OPEN),
            ("\"\"Moss", OPEN),
            ("\"Moss\"path", BEHIND),
            ("\"\"Moss\"\"path", BEHIND),
        ] {
            assert_eq!(words(line), Err(fault), "{line:?}");
        }
    }

    #[test]
    fn cells_between_tabs_may_hold_blanks_and_nothing() {
        assert_eq!(
            cells("1\tMoss path\t\t\"Ice, pale\"").unwrap(),
            ["1", "Moss path", "", "Ice, pale"]
        );
        assert_eq!(cells("1\t\"Moss\" path"), Err(BEHIND));
    }
}
