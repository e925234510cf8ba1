//! Lines for people: wrapped to the width, foreign text made harmless, columns when they fit.
//! It does not write them.

use dyekin_core::difference::GRADE_SOURCE;
use dyekin_core::error::harmless;
use dyekin_core::table::{Notice, Price};
use dyekin_core::{Color, Difference, Error, ErrorKind, Place, Thread, ThreadRef};
use unicode_width::UnicodeWidthStr;

use super::availability;
use crate::failure::Failure;

/// Text broken into lines of at most `width` columns; lines after the first are indented.
pub(crate) fn wrap(text: &str, width: usize, indent: usize) -> Vec<String> {
    wrap_behind(String::new(), text, width, indent)
}

/// Text broken into lines, the first of which begins with what is there already.
fn wrap_behind(mut line: String, text: &str, width: usize, indent: usize) -> Vec<String> {
    let mut lines = Vec::new();
    for word in text.split_whitespace() {
        let start = line.is_empty() || line.trim().is_empty();
        if !start && line.width() + 1 + word.width() > width {
            lines.push(std::mem::replace(&mut line, " ".repeat(indent)));
            line.push_str(word);
        } else {
            if !start {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines.push(line);
    lines
}

/// The same, with all lines indented.
pub(crate) fn wrap_indented(text: &str, width: usize, indent: usize) -> Vec<String> {
    let inner = width.saturating_sub(indent);
    wrap(text, inner, 0).into_iter().map(|line| format!("{}{line}", " ".repeat(indent))).collect()
}

/// The same, with the first line and the others indented by different widths.
pub(crate) fn wrap_hanging(
    text: &str,
    width: usize,
    (first, others): (usize, usize),
) -> Vec<String> {
    wrap_behind(" ".repeat(first), text, width, others)
}

/// Rows of cells as lines. When a row does not fit the width, each row becomes a short block: its
/// first cells on one line, the last one wrapped below.
pub(crate) fn rows(rows: &[Vec<String>], width: usize) -> Vec<String> {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns)
        .map(|column| {
            rows.iter()
                .filter_map(|row| row.get(column))
                .map(|cell| cell.width())
                .max()
                .unwrap_or(0)
        })
        .collect();
    let total: usize = widths.iter().sum::<usize>() + 2 * columns.saturating_sub(1);
    if total <= width {
        return rows.iter().map(|row| aligned(row, &widths)).collect();
    }
    rows.iter().flat_map(|row| block(row, width)).collect()
}

/// Narrowest last column of a table, in columns of the terminal.
const LAST_COLUMN: usize = 24;

/// Rows of cells as a table whose last column is wrapped; as blocks where no room is left for it.
pub(crate) fn table(rows: &[Vec<String>], width: usize) -> Vec<String> {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns.saturating_sub(1))
        .map(|column| rows.iter().filter_map(|row| row.get(column)).map(|cell| cell.width()).max())
        .map(Option::unwrap_or_default)
        .collect();
    let lead: usize = widths.iter().map(|width| width + 2).sum();
    if lead + LAST_COLUMN > width {
        return self::rows(rows, width);
    }
    let mut lines = Vec::new();
    for row in rows {
        let Some((last, first)) = row.split_last() else { continue };
        let mut head = format!("{:<lead$}", aligned(first, &widths));
        for line in wrap(last, width - lead, 0) {
            lines.push(format!("{head}{line}").trim_end().to_owned());
            head = " ".repeat(lead);
        }
    }
    lines
}

fn aligned(row: &[String], widths: &[usize]) -> String {
    let mut line = String::new();
    for (cell, width) in row.iter().zip(widths) {
        line.push_str(cell);
        line.push_str(&" ".repeat(width.saturating_sub(cell.width()) + 2));
    }
    line.trim_end().to_owned()
}

fn block(row: &[String], width: usize) -> Vec<String> {
    let Some((last, first)) = row.split_last() else { return Vec::new() };
    let head = first.iter().filter(|cell| !cell.is_empty()).map(String::as_str);
    let mut lines = wrap(&head.collect::<Vec<_>>().join("  "), width, 3);
    lines.extend(wrap_indented(last, width, 3));
    lines
}

/// A thread by table, code and name, harmless.
pub(crate) fn thread_name(thread: &ThreadRef, name: &str) -> String {
    format!("{} {}", harmless(&thread.to_string()), harmless(name)).trim_end().to_owned()
}

/// What `--details` adds to a difference.
pub(crate) fn difference_details(difference: &Difference) -> String {
    format!(
        "{} {:.4}; lightness {:+.2}, chroma {:+.2}, hue {:+.2}, red-green {:+.2}, yellow-blue {:+.2}; \
         gray scale {}, {GRADE_SOURCE}",
        difference.formula,
        difference.delta_e.value(),
        difference.lightness,
        difference.chroma,
        difference.hue,
        difference.a,
        difference.b,
        difference.gray_scale().grade
    )
}

/// What `--details` adds to a color.
pub(crate) fn color_details(color: &Color) -> String {
    let lab = color.lab();
    let uncertainty =
        color.uncertainty().map(|value| format!(", give or take {value}")).unwrap_or_default();
    format!(
        "{}, L* {:.2} a* {:.2} b* {:.2}, {}, {}{uncertainty}",
        color.srgb(),
        lab.l(),
        lab.a(),
        lab.b(),
        color.conditions(),
        color.origin().as_str()
    )
}

/// What `--details` adds to a thread.
pub(crate) fn thread_details(thread: &Thread) -> String {
    let mut parts = vec![color_details(&thread.color), thread.finish.as_str().to_owned()];
    parts.extend(thread.fiber.as_deref().map(harmless));
    parts.push(format!("status {}", thread.status.as_str()));
    parts.extend(thread.price.map(price));
    parts.join(", ")
}

/// A price with its currency, as far as that is known.
pub(crate) fn price(price: Price) -> String {
    let currency = price.currency.map(|currency| format!(" {currency}")).unwrap_or_default();
    format!("{}{currency}", money(price.micros))
}

/// Millionths as a decimal number with at least two digits behind the point.
pub(crate) fn money(micros: i64) -> String {
    let (whole, part) = (micros / 1_000_000, (micros % 1_000_000).abs());
    let digits = format!("{part:06}");
    let kept = digits.trim_end_matches('0');
    format!("{whole}.{kept:0<2}")
}

/// The words after a thread that must be known before it is bought.
pub(crate) fn with_availability(words: String, thread: &Thread) -> String {
    match availability(thread) {
        "" => words,
        status => format!("{words}; {status}"),
    }
}

/// A failure as the lines that a user reads: what is wrong, where, and what to do.
pub(crate) fn failure(failure: &Failure) -> Vec<String> {
    match failure {
        Failure::Bug { what } => vec![
            format!("error: {what}"),
            "hint: this is a fault of dyekin, not of your input; please report it".to_owned(),
        ],
        Failure::Domain { errors, unlisted } => {
            let last_unknown = errors.iter().rposition(is_unknown_code);
            // Where one table has the code nearly as it was written, that is what was meant.
            let is_told = last_unknown
                .and_then(|last| errors.get(last))
                .is_some_and(|unknown| errors.iter().any(|error| is_nearly(error, unknown)));
            let mut lines = Vec::new();
            for (number, error) in errors.iter().enumerate() {
                let hint = match is_unknown_code(error) {
                    false => error.hint(),
                    true if last_unknown == Some(number) && !is_told => {
                        Some(UNKNOWN_CODE.to_owned())
                    }
                    true => None,
                };
                lines.push(problem(error));
                lines.extend(hint.map(|hint| format!("hint: {}", harmless(&hint))));
            }
            match *unlisted {
                0 => {}
                1 => lines.push("error: and 1 more problem".to_owned()),
                more => lines.push(format!("error: and {more} more problems")),
            }
            lines
        }
        Failure::Said { message, hint } => {
            let mut lines = vec![format!("error: {message}")];
            lines.extend(hint.as_ref().map(|hint| format!("hint: {hint}")));
            lines
        }
        Failure::TimedOut { .. } => vec![
            format!("error: {failure}"),
            "hint: ask again with fewer colors or threads, or raise the time limit of the server"
                .to_owned(),
        ],
        Failure::Unreachable { .. } => vec![
            format!("error: {failure}"),
            "hint: is the server running, and is the address right?".to_owned(),
        ],
    }
}

/// What to do about codes that resemble none of their table, said once for all of them.
const UNKNOWN_CODE: &str = "write a color as #4a6b3c, a code as its table has it; that table must be \
                            given with --table, for the codes of a chart also with --from";

fn is_unknown_code(error: &Error) -> bool {
    matches!(error.kind(), ErrorKind::UnknownThread { near, .. } if near.is_empty())
}

/// True when an error knows near spellings of a code that resembles none of another table.
fn is_nearly(error: &Error, unknown: &Error) -> bool {
    match (error.kind(), unknown.kind()) {
        (
            ErrorKind::UnknownThread { code, near, .. },
            ErrorKind::UnknownThread { code: other, .. },
        ) => !near.is_empty() && code == other,
        _ => false,
    }
}

/// One problem of the domain, without what to do. A field of a request is for programs: people do not see it.
fn problem(error: &Error) -> String {
    let place = error.place().map(place).filter(|place| !place.is_empty());
    let what = harmless(&error.kind().to_string());
    match place {
        Some(place) => format!("error: reading {place}: {what}"),
        None => format!("error: {what}"),
    }
}

/// A place in a file, such as `table.csv line 7, column L`.
fn place(place: &Place) -> String {
    let name = place.source_name.as_deref().map(harmless).unwrap_or_default();
    // Without a file the field is a path into a request, which nobody typed.
    let field = place.field.clone().filter(|_| place.source_name.is_some());
    let spot = Place { source_name: None, field, ..place.clone() }.to_string();
    format!("{name} {spot}").trim().to_owned()
}

/// Something to know about a table that did load.
pub(crate) fn notice(source: &str, notice: &Notice) -> String {
    let mut at = notice.place.clone().unwrap_or_default();
    at.source_name.get_or_insert_with(|| source.to_owned());
    format!("note: {}: {}", place(&at), harmless(&notice.text))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_between_words() {
        assert_eq!(wrap("one two three", 8, 2), ["one two", "  three"]);
        assert_eq!(wrap("unbreakable", 4, 2), ["unbreakable"]);
        assert_eq!(wrap("", 4, 2), [""]);
    }

    #[test]
    fn rows_become_blocks_when_they_do_not_fit() {
        let row =
            vec!["1".to_owned(), "meadow QV-1".to_owned(), "looks close, not checked".to_owned()];
        assert_eq!(
            rows(std::slice::from_ref(&row), 80),
            ["1  meadow QV-1  looks close, not checked"]
        );
        assert_eq!(rows(&[row], 20), ["1 meadow QV-1", "   looks close, not", "   checked"]);
    }

    #[test]
    fn a_table_wraps_its_last_column() {
        let row = vec!["88".to_owned(), "one two three four five six seven".to_owned()];
        assert_eq!(
            table(std::slice::from_ref(&row), 30),
            ["88  one two three four five", "    six seven"]
        );
        assert_eq!(table(&[row], 20), ["88", "   one two three", "   four five six", "   seven"]);
    }

    #[test]
    fn a_problem_names_file_line_column_and_remedy() {
        let error = Error::new(ErrorKind::BadColor {
            value: "104.2".into(),
            reason: "L* is outside 0 to 102".into(),
            remedy: "L* must be a number from 0 to 102".into(),
        })
        .at(Place { source_name: Some("table.csv".into()), ..Place::cell(7, "L") });
        assert_eq!(
            failure(&error.into()),
            [
                "error: reading table.csv line 7, column L: `104.2` is not a usable color: L* is outside 0 to 102",
                "hint: L* must be a number from 0 to 102"
            ]
        );
    }

    #[test]
    fn foreign_text_cannot_move_the_cursor() {
        let code = dyekin_core::Code::parse("A1").unwrap();
        let thread = ThreadRef { table: dyekin_core::TableId::parse("t").unwrap(), code };
        assert_eq!(thread_name(&thread, "\u{1b}[2J\u{202e}"), "t A1 \\u{1b}[2J\\u{202e}");
    }

    #[test]
    fn money_keeps_two_digits_or_more() {
        assert_eq!(money(2_500_000), "2.50");
        assert_eq!(money(1), "0.000001");
        assert_eq!(money(3_000_000), "3.00");
    }
}
