//! What is stitched already, as people say it: `rows 1-120`, `cols 1-50`, both, or a picture.
//! It does not know what is worked in the cells.

use std::path::PathBuf;

use dyekin_core::error::Error;

use crate::chart::Size;
use crate::chart::problems::bad_value;

const REMEDY: &str = "write \"rows 1-120\", \"cols 1-50\", \"rows 121-130 cols 1-40\", or the name of \
     a picture in which stitched cells are black";

/// What was typed behind `--done`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Said {
    /// Cells in these rows and columns; all rows or all columns where none are named.
    Cells { rows: Vec<Span>, columns: Vec<Span>, typed: String },
    /// Cells that a picture marks.
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
    let lower = text.trim().to_lowercase();
    let words: Vec<&str> =
        lower.split([' ', '\t', ',']).filter(|word| !word.is_empty() && *word != "and").collect();
    if words.first().is_none_or(|word| Kind::of(word).is_none()) {
        if lower.is_empty() {
            return Err(bad_value(text, "nothing is named", REMEDY));
        }
        return Ok(Said::Picture(PathBuf::from(text)));
    }
    let bad = |reason: &str| bad_value(text.trim(), reason, REMEDY);
    let (mut rows, mut columns) = (Vec::new(), Vec::new());
    let mut kind = Kind::Rows;
    // `1 - 120` is one span, as `1-120` is.
    let spaced = words.join(" ").replace(['\u{2013}', '\u{2014}'], "-");
    let joined = spaced.replace(" -", "-").replace("- ", "-");
    let mut is_named = true;
    for word in joined.split(' ') {
        if let Some(named) = Kind::of(word) {
            if !is_named {
                return Err(bad("no number behind a word"));
            }
            (kind, is_named) = (named, false);
            continue;
        }
        let span = span(word).ok_or_else(|| bad("rows and columns are numbers from 1"))?;
        if span.first > span.last {
            return Err(bad("the first is behind the last"));
        }
        is_named = true;
        match kind {
            Kind::Rows => rows.push(span),
            Kind::Columns => columns.push(span),
        }
    }
    if !is_named {
        return Err(bad("no number behind a word"));
    }
    Ok(Said::Cells { rows, columns, typed: text.trim().to_owned() })
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
        let Said::Cells { rows, columns, typed } = said(text).unwrap() else { panic!("{text}") };
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
    }

    #[test]
    fn other_words_name_a_picture() {
        assert_eq!(said("done.png").unwrap(), Said::Picture("done.png".into()));
        assert_eq!(said("rowboat.png").unwrap(), Said::Picture("rowboat.png".into()));
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
        let Ok(Said::Cells { rows, columns, typed }) = said("rows 2-9, 12 cols 5") else {
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
