//! Threads as the texts of a table's columns, exact enough to be read back as they were.
//! It does not know CSV or JSON.

use std::collections::BTreeSet;

use super::column::{COLUMNS, Column};
use super::{Code, Price, Table, Thread};

/// How CSV is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CsvForm {
    /// Every text exactly as it is, for programs.
    Plain,
    /// For spreadsheet programs, which run formulas and rewrite numbers.
    ///
    /// The headers of text columns begin with an apostrophe (`'code`). In such a column one leading
    /// apostrophe of a cell is not part of the text. Every code, alternate and trade item number
    /// gets one, and so does every name or fiber that begins with `= + - @`, their full-width
    /// forms, a tab, a line break or an apostrophe, also after blanks.
    SpreadsheetSafe,
}

/// The columns that at least one thread fills, in the order of the format.
pub(super) fn used_columns(table: &Table) -> Vec<Column> {
    let mut used = [false; COLUMNS];
    for thread in table.threads() {
        for (column, used) in Column::ALL.into_iter().zip(&mut used) {
            *used = *used || fills(thread, column);
        }
    }
    let always = |column| matches!(column, Column::Code | Column::Name);
    let columns = Column::ALL.into_iter().zip(used);
    columns.filter(|(column, used)| *used || always(*column)).map(|(column, _)| column).collect()
}

/// The wavelengths at which at least one thread has a reflectance, in nm, upward.
pub(super) fn wavelengths(table: &Table) -> Vec<u16> {
    let spectra = table.threads().iter().filter_map(|thread| thread.spectrum.as_deref());
    let found: BTreeSet<u16> = spectra.flat_map(|held| held.samples().map(|(at, _)| at)).collect();
    found.into_iter().collect()
}

/// The reflectance of a thread at a wavelength; empty where it has none.
pub(super) fn factor(thread: &Thread, nm: u16) -> String {
    let held = thread.spectrum.as_deref().and_then(|held| held.at(nm));
    held.map(|value| value.to_string()).unwrap_or_default()
}

fn fills(thread: &Thread, column: Column) -> bool {
    match column {
        Column::Code | Column::Name | Column::Origin | Column::Finish | Column::Status => true,
        Column::Hex => thread.color.listed_srgb().is_some(),
        Column::Red | Column::Green | Column::Blue => false,
        Column::LabL | Column::LabA | Column::LabB | Column::Illuminant | Column::Observer => {
            thread.color.listed_srgb().is_none()
        }
        Column::Uncertainty => thread.color.uncertainty().is_some(),
        Column::Fiber => thread.fiber.is_some(),
        Column::Strands => thread.strands.is_some(),
        Column::SkeinMetres => thread.skein_metres.is_some(),
        Column::Price => thread.price.is_some(),
        Column::Currency => thread.price.is_some_and(|price| price.currency.is_some()),
        Column::Pack => thread.pack.is_some(),
        Column::Minimum => thread.minimum.is_some(),
        Column::Gtin => thread.gtin.is_some(),
        Column::Alternates => !thread.alternates.is_empty(),
    }
}

/// The header of a column.
pub(super) fn header(column: Column, form: CsvForm) -> String {
    let guard = if form == CsvForm::SpreadsheetSafe && is_text(column) { "'" } else { "" };
    format!("{guard}{}", column.as_str())
}

/// The cell of a thread in a column; empty when the thread does not fill it.
pub(super) fn cell(thread: &Thread, column: Column, form: CsvForm) -> String {
    let text = text(thread, column);
    if form == CsvForm::SpreadsheetSafe && needs_guard(column, &text) {
        return format!("'{text}");
    }
    text
}

fn is_text(column: Column) -> bool {
    matches!(
        column,
        Column::Code | Column::Name | Column::Fiber | Column::Gtin | Column::Alternates
    )
}

fn needs_guard(column: Column, text: &str) -> bool {
    if matches!(column, Column::Code | Column::Gtin | Column::Alternates) {
        return !text.is_empty();
    }
    is_text(column)
        && (text.starts_with(|c: char| c == '\'' || c.is_control())
            || text.trim_start().starts_with(is_formula_start))
}

/// True for what makes a spreadsheet take a cell for a formula, full-width forms included.
fn is_formula_start(character: char) -> bool {
    matches!(
        character,
        '=' | '+' | '-' | '@' | '\u{ff1d}' | '\u{ff0b}' | '\u{ff0d}' | '\u{ff20}' | '\u{2212}'
    )
}

/// The exact text of a thread in a column.
pub(super) fn text(thread: &Thread, column: Column) -> String {
    let color = &thread.color;
    let lab = color.listed_srgb().is_none().then(|| color.lab());
    let of_lab = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    match column {
        Column::Code => thread.code.as_str().to_owned(),
        Column::Name => thread.name.clone(),
        Column::Hex => color.listed_srgb().map(|rgb| rgb.to_string()).unwrap_or_default(),
        Column::LabL => of_lab(lab.map(|lab| lab.l())),
        Column::LabA => of_lab(lab.map(|lab| lab.a())),
        Column::LabB => of_lab(lab.map(|lab| lab.b())),
        Column::Illuminant if lab.is_some() => color.conditions().illuminant.as_str().into(),
        Column::Observer if lab.is_some() => color.conditions().observer.degrees().to_string(),
        Column::Red | Column::Green | Column::Blue | Column::Illuminant | Column::Observer => {
            String::new()
        }
        Column::Origin => color.origin().as_str().into(),
        Column::Uncertainty => of_lab(color.uncertainty().map(|value| value + 0.0)),
        Column::Finish => thread.finish.as_str().into(),
        Column::Fiber => thread.fiber.as_deref().unwrap_or_default().to_owned(),
        Column::Strands => thread.strands.map(|count| count.to_string()).unwrap_or_default(),
        Column::SkeinMetres => of_lab(thread.skein_metres),
        Column::Price => thread.price.map(decimal).unwrap_or_default(),
        Column::Currency => {
            thread.price.and_then(|price| price.currency).map(|c| c.to_string()).unwrap_or_default()
        }
        Column::Pack => thread.pack.map(|count| count.to_string()).unwrap_or_default(),
        Column::Minimum => thread.minimum.map(|count| count.to_string()).unwrap_or_default(),
        Column::Status => thread.status.as_str().into(),
        Column::Gtin => {
            thread.gtin.as_ref().map(|gtin| gtin.as_str().to_owned()).unwrap_or_default()
        }
        Column::Alternates => alternates(&thread.alternates),
    }
}

/// A price as a decimal number without needless zeros.
fn decimal(price: Price) -> String {
    let (whole, micros) = (price.micros / 1_000_000, price.micros % 1_000_000);
    let text = format!("{whole}.{micros:06}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Codes under the weakest separator that keeps them apart: blank, `;`, line break.
fn alternates(codes: &[Code]) -> String {
    let holds = |wanted: fn(char) -> bool| codes.iter().any(|code| code.as_str().contains(wanted));
    let separator = if holds(|character| character == ';') {
        '\n'
    } else if holds(char::is_whitespace) {
        ';'
    } else {
        ' '
    };
    let mut text = String::new();
    for code in codes {
        text.push_str(code.as_str());
        text.push(separator);
    }
    if separator == ' ' || codes.len() > 1 {
        text.pop();
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alternates_take_the_weakest_separator_that_keeps_them_apart() {
        for (codes, expected) in [
            (&["A", "B"][..], "A B"),
            (&["A 1", "B"], "A 1;B"),
            (&["A 1"], "A 1;"),
            (&["A;1", "B 2"], "A;1\nB 2"),
            (&["A;1"], "A;1\n"),
            (&[], ""),
        ] {
            let codes: Vec<Code> = codes.iter().map(|code| Code::parse(code).unwrap()).collect();
            assert_eq!(alternates(&codes), expected);
        }
    }

    #[test]
    fn prices_are_written_without_needless_zeros() {
        for (micros, expected) in
            [(3_500_000, "3.5"), (0, "0"), (10_000_000, "10"), (1, "0.000001")]
        {
            assert_eq!(decimal(Price { micros, currency: None }), expected);
        }
    }

    #[test]
    fn what_a_spreadsheet_would_run_or_change_is_guarded() {
        for text in ["=1", "+1", "-1", "@a", "\t=1", "\r", "\u{ff1d}1", "'x", "  =1", "\n"] {
            assert!(needs_guard(Column::Name, text), "{text:?}");
        }
        for text in ["Moss", "", "1 = 1", "K-1"] {
            assert!(!needs_guard(Column::Name, text), "{text:?}");
        }
        assert!(needs_guard(Column::Code, "0090417"));
        assert!(!needs_guard(Column::LabA, "-18.3"));
    }
}
