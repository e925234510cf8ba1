//! What is worked already, as people say it: `rows 1-120`, `cols 1-50`, both, or a picture, and for
//! lines and knots the same behind these words. It does not know what is worked in the cells.

use std::path::PathBuf;

use dyekin_core::error::Error;

use crate::chart::Size;
use crate::chart::problems::bad_value;

pub(crate) const REMEDY: &str = "write \"rows 1-120\", \"cols 1-50\", \"rows 121-130 cols 1-40\", or the name of \
     a picture in which stitched cells are black; \"lines\" or \"knots\" before it for those";

/// What was typed behind `--done`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Said {
    pub(crate) what: What,
    pub(crate) place: Where,
}

/// What is worked there: stitches where nothing else was named.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct What {
    pub(crate) stitches: bool,
    pub(crate) lines: bool,
    pub(crate) knots: bool,
}

/// Where it is worked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Where {
    /// In these rows and columns; all rows or all columns where none are named.
    Cells { rows: Vec<Span>, columns: Vec<Span>, typed: String },
    /// In the cells that a picture marks.
    Picture(PathBuf),
}

/// Rows or columns, both ends included, from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Span {
    first: u16,
    last: u16,
}

impl Span {
    fn holds(self, number: usize) -> bool {
        (usize::from(self.first)..=usize::from(self.last)).contains(&number)
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Columns,
    Rows,
}

impl Kind {
    fn of(word: &str) -> Option<Self> {
        match word {
            "row" | "rows" => Some(Self::Rows),
            "col" | "cols" | "column" | "columns" => Some(Self::Columns),
            _ => None,
        }
    }
}

/// Reads what was typed.
///
/// # Errors
///
/// For rows and columns that are no numbers, or turned round.
pub(crate) fn said(text: &str) -> Result<Said, Error> {
    let (what, rest) = what(text.trim());
    let lower = spelled(&rest.to_lowercase());
    let words: Vec<&str> =
        lower.split([' ', '\t', ',']).filter(|word| !word.is_empty() && *word != "and").collect();
    if words.is_empty() && !what.stitches {
        let typed = text.trim().to_owned();
        let place = Where::Cells { rows: Vec::new(), columns: Vec::new(), typed };
        return Ok(Said { what, place });
    }
    if words.first().is_none_or(|word| Kind::of(word).is_none()) {
        if words.is_empty() {
            return Err(bad_value(text, "nothing is named", REMEDY));
        }
        return Ok(Said { what, place: Where::Picture(PathBuf::from(rest)) });
    }
    let (rows, columns) = spans(&words).map_err(|reason| bad_value(text.trim(), reason, REMEDY))?;
    Ok(Said { what, place: Where::Cells { rows, columns, typed: text.trim().to_owned() } })
}

/// What the first words name, and the rest of the text.
fn what(text: &str) -> (What, &str) {
    let mut found = What { stitches: false, lines: false, knots: false };
    let mut rest = text;
    loop {
        let (word, behind) = rest.split_once([' ', '\t', ',']).unwrap_or((rest, ""));
        match word.to_lowercase().as_str() {
            "line" | "lines" => found.lines = true,
            "knot" | "knots" => found.knots = true,
            "stitches" | "crosses" => found.stitches = true,
            "and" | "in" | "" if rest != text && !rest.is_empty() => {}
            _ => break,
        }
        rest = behind.trim_start();
    }
    if found == (What { stitches: false, lines: false, knots: false }) {
        found.stitches = true;
    }
    (found, rest)
}

/// `rows1-120` and `rows 1 to 120` as they are meant.
fn spelled(lower: &str) -> String {
    let mut spelled = String::with_capacity(lower.len());
    for word in lower.split(' ') {
        let digits = word.find(|letter: char| letter.is_ascii_digit()).unwrap_or(word.len());
        let (name, rest) = word.split_at(digits);
        let parted = [name, rest].join(if Kind::of(name).is_some() { " " } else { "" });
        spelled.push_str(if word == "to" { "-" } else { &parted });
        spelled.push(' ');
    }
    spelled
}

/// The rows and columns that words name.
fn spans(words: &[&str]) -> Result<(Vec<Span>, Vec<Span>), &'static str> {
    let (mut rows, mut columns) = (Vec::new(), Vec::new());
    let mut kind = Kind::Rows;
    // `1 - 120` is one span, as `1-120` is.
    let spaced = words.join(" ").replace(['\u{2013}', '\u{2014}'], "-");
    let joined = spaced.replace(" -", "-").replace("- ", "-");
    let mut is_named = true;
    for word in joined.split(' ') {
        if let Some(named) = Kind::of(word) {
            if !is_named {
                return Err("no number behind a word");
            }
            (kind, is_named) = (named, false);
            continue;
        }
        let span = span(word).ok_or("rows and columns are numbers from 1")?;
        if span.first > span.last {
            return Err("the first is behind the last");
        }
        is_named = true;
        match kind {
            Kind::Rows => rows.push(span),
            Kind::Columns => columns.push(span),
        }
    }
    if is_named { Ok((rows, columns)) } else { Err("no number behind a word") }
}

fn span(word: &str) -> Option<Span> {
    let number = |text: &str| {
        let plain = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        plain.then(|| text.parse::<u16>().ok()).flatten().filter(|number| *number > 0)
    };
    let (first, last) = word.split_once('-').unwrap_or((word, word));
    Some(Span { first: number(first)?, last: number(last)? })
}

/// Marks the cells in rows and columns.
///
/// # Errors
///
/// For rows or columns that the chart does not have; all of them.
pub(crate) fn mark(
    done: &mut [bool],
    (rows, columns, typed): (&[Span], &[Span], &str),
    size: Size,
) -> Result<(), Vec<Error>> {
    let beyond = |spans: &[Span], side: u16, what: &str| -> Vec<Error> {
        let outside = spans.iter().filter(|span| span.last > side);
        let problem = |span: &Span| {
            let reason = format!("the chart has {side} {what}");
            let remedy = match span.first <= side {
                true => format!("write for example {}-{side}", span.first),
                false => format!("write numbers from 1 to {side}"),
            };
            bad_value(typed, reason, &remedy)
        };
        outside.map(problem).collect()
    };
    let mut problems = beyond(rows, size.height(), "rows");
    problems.extend(beyond(columns, size.width(), "columns"));
    if !problems.is_empty() {
        return Err(problems);
    }
    let in_some =
        |spans: &[Span], number: usize| spans.is_empty() || spans.iter().any(|s| s.holds(number));
    for (y, row) in done.chunks_mut(usize::from(size.width())).enumerate() {
        if in_some(rows, y + 1) {
            for (x, cell) in row.iter_mut().enumerate() {
                *cell |= in_some(columns, x + 1);
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Cells of a chart of 4 x 3 that are marked, row by row.
    fn marked(text: &str) -> String {
        let Where::Cells { rows, columns, typed } = said(text).unwrap().place else {
            panic!("{text}")
        };
        let mut done = [false; 12];
        mark(&mut done, (&rows, &columns, &typed), Size::new(4, 3).unwrap()).unwrap();
        let row = |row: &[bool]| -> String {
            row.iter().map(|cell| if *cell { '#' } else { '.' }).collect()
        };
        done.chunks(4).map(row).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn rows_and_columns_are_counted_from_one_and_both_ends_are_in() {
        assert_eq!(marked("rows 1-2"), "#### #### ....");
        assert_eq!(marked("Row 3"), ".... .... ####");
        assert_eq!(marked("rows 1 - 1, 3"), "#### .... ####");
        assert_eq!(marked("rows 1\u{2013}2"), "#### #### ....");
        assert_eq!(marked("cols 2-3"), ".##. .##. .##.");
        assert_eq!(marked("columns 1,4"), "#..# #..# #..#");
        assert_eq!(marked("rows 2-3 and cols 1-2"), ".... ##.. ##..");
        assert_eq!(marked("cols 4 rows 1"), "...# .... ....");
        assert_eq!(marked("rows1-2"), "#### #### ....");
        assert_eq!(marked("rows 1 to 2"), "#### #### ....");
        assert_eq!(marked("Lines in rows 3"), ".... .... ####");
        assert_eq!(marked("lines and knots cols 2"), ".#.. .#.. .#..");
        assert_eq!(marked("knots"), "#### #### ####");
    }

    #[test]
    fn other_words_name_a_picture() {
        let picture = |text: &str| match said(text).unwrap() {
            Said { what, place: Where::Picture(path) } => (what, path),
            other => panic!("{other:?}"),
        };
        assert_eq!(picture("done.png").1, PathBuf::from("done.png"));
        assert_eq!(picture("rowboat.png").1, PathBuf::from("rowboat.png"));
        assert_eq!(picture("lines.png").1, PathBuf::from("lines.png"));
        let (what, path) = picture("lines My Marks.png");
        assert_eq!(path, PathBuf::from("My Marks.png"));
        assert!(what.lines && !what.knots && !what.stitches);
    }

    #[test]
    fn stitches_are_meant_where_nothing_else_is_named() {
        let what = |text: &str| {
            let What { stitches, lines, knots } = said(text).unwrap().what;
            (stitches, lines, knots)
        };
        assert_eq!(what("rows 1"), (true, false, false));
        assert_eq!(what("lines rows 1"), (false, true, false));
        assert_eq!(what("knots, lines rows 1"), (false, true, true));
        assert_eq!(what("stitches and lines rows 1"), (true, true, false));
        assert_eq!(what("crosses, lines and knots in rows 1"), (true, true, true));
    }

    #[test]
    fn what_is_no_row_is_refused() {
        for text in [
            "",
            " ",
            "rows",
            "rows 0",
            "rows 5-2",
            "rows a-b",
            "rows 1-",
            "rows -3",
            "rows 1.5",
            "rows cols 3",
            "rows 1-2-3",
            "rows 99999",
            "cols 3 rows",
        ] {
            assert!(said(text).is_err(), "{text}");
        }
    }

    #[test]
    fn every_row_and_column_beyond_the_chart_is_told() {
        let Where::Cells { rows, columns, typed } = said("rows 2-9, 12 cols 5").unwrap().place
        else {
            panic!("rows and columns")
        };
        let size = Size::new(4, 3).unwrap();
        let found = mark(&mut [false; 12], (&rows, &columns, &typed), size).unwrap_err();
        let told: Vec<String> = found.iter().map(ToString::to_string).collect();
        assert_eq!(told.len(), 3, "{told:?}");
        assert!(told[0].contains("the chart has 3 rows"), "{told:?}");
        assert!(told[2].contains("the chart has 4 columns"), "{told:?}");
    }
}
