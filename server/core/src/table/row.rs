//! One row of any format to one thread, with every problem of the row.
//! It does not know the formats: a row is texts by column.

mod color;

use super::column::{COLUMNS, Column};
use super::injury;
use super::number::{self, Mark, Number};
use super::paint::ScaleVotes;
use super::read::ReadOptions;
use super::report::{Report, Seen};
use super::spectral::{Spectra, Spectral};
use super::tristimulus::Space;
use super::{Code, Currency, Finish, Gtin, MAX_THREADS, Price, Status, Thread};
use crate::color::Origin;
use crate::error::{Error, ErrorKind, Place, is_hostile, shown};

/// Most alternates of one thread.
pub(super) const MAX_ALTERNATES: usize = 30;

/// Longest fiber, in characters.
pub(super) const MAX_FIBER_CHARS: usize = 64;

/// Words that begin the last rows of a list made by a spreadsheet.
const TOTAL_WORDS: [&str; 12] = [
    "total", "totals", "subtotal", "sum", "grand", "count", "gesamt", "summe", "somme", "totaal",
    "totale", "suma",
];

/// The cells of a row; an empty text is an absent value.
#[derive(Debug)]
pub(super) struct Row<'r> {
    pub(super) line: u64,
    /// Where the row stands in a file that has no columns.
    pub(super) origin: Option<Keyed<'r>>,
    pub(super) cells: [&'r str; COLUMNS],
    pub(super) spectrum: Spectral,
}

/// A row of a file without columns: the path to its thread and the keys of its values.
#[derive(Clone, Copy, Debug)]
pub(super) struct Keyed<'r> {
    /// What stands before a key in a message, such as `threads[3].`.
    pub(super) path: &'r str,
    pub(super) keys: [&'r str; COLUMNS],
}

impl Keyed<'_> {
    fn place(&self, line: u64, column: Column) -> Place {
        let key = self.keys.get(column.index()).copied().unwrap_or_default();
        let key = if key.is_empty() { column.as_str() } else { key };
        let field = Some(format!("{}{}", self.path, shown(key)));
        Place { line: Some(line), field, ..Place::default() }
    }
}

impl<'r> Row<'r> {
    fn get(&self, column: Column) -> &'r str {
        self.cells.get(column.index()).copied().unwrap_or_default()
    }

    fn is_blank(&self, column: Column) -> bool {
        self.get(column).trim().is_empty()
    }

    fn are_blank(&self, columns: [Column; 3]) -> bool {
        columns.into_iter().all(|column| self.is_blank(column))
    }

    /// True when a code or name begins like a total and no color is there.
    pub(super) fn is_total(&self) -> bool {
        if self.origin.is_some() {
            return false;
        }
        let no_color = matches!(self.spectrum, Spectral::Absent)
            && self.is_blank(Column::Hex)
            && self.are_blank(Column::LAB)
            && self.are_blank(Column::RGB);
        no_color && (is_total_word(self.get(Column::Code)) || is_total_word(self.get(Column::Name)))
    }
}

fn is_total_word(text: &str) -> bool {
    let word = text.trim().split(|c: char| !c.is_alphabetic()).next().unwrap_or_default();
    TOTAL_WORDS.into_iter().any(|total| total.eq_ignore_ascii_case(word))
}

/// A color that waits for the scale of the whole file.
#[derive(Clone, Debug)]
pub(super) struct Pending {
    pub(super) row: usize,
    /// Line of r, g and b, and the path to their thread where the file has no columns.
    pub(super) line: u64,
    pub(super) path: Option<Box<str>>,
    pub(super) rgb: [f64; 3],
    pub(super) origin: Origin,
    pub(super) uncertainty: Option<f64>,
}

/// The decimal mark of one number.
#[derive(Clone, Copy, Debug)]
pub(super) struct Marked {
    pub(super) mark: Mark,
    /// A comma may separate thousands here.
    pub(super) may_be_thousands: bool,
}

/// Decimal marks seen, with the places of the first of each.
#[derive(Debug, Default)]
pub(super) struct Marks {
    pub(super) points: Vec<(Place, String)>,
    pub(super) commas: Vec<(Place, String)>,
    pub(super) point_count: u64,
    pub(super) comma_count: u64,
    /// Commas that cannot be thousands separators.
    pub(super) sure_commas: u64,
}

/// What the rows taken together say about the file.
#[derive(Debug, Default)]
pub(super) struct Facts {
    pub(super) marks: Marks,
    pub(super) votes: ScaleVotes,
    pub(super) odd_minus: Seen,
    pub(super) bright: Seen,
    /// Lab values darker than any thread.
    pub(super) dark: Seen,
    pub(super) no_white: Seen,
    pub(super) no_light: Seen,
    pub(super) no_observer: Seen,
    pub(super) no_origin: Seen,
    pub(super) hostile_names: Seen,
    pub(super) idle_forms: Seen,
    pub(super) idle_white: Seen,
    pub(super) idle_currency: Seen,
    pub(super) beside_spectrum: Seen,
    pub(super) spectra: Spectra,
    pub(super) totals: Seen,
}

/// Threads read so far, and what was found on the way.
#[derive(Debug)]
pub(super) struct Rows<'o> {
    pub(super) options: &'o ReadOptions,
    pub(super) report: Report,
    /// Column names as the file spells them, for messages; empty where it has no such column.
    pub(super) spelled: [String; COLUMNS],
    /// What the columns L, a and b hold.
    pub(super) space: Space,
    /// More threads than a table may hold have come.
    pub(super) is_full: bool,
    pub(super) threads: Vec<Thread>,
    pub(super) lines: Vec<u64>,
    pub(super) pending: Vec<Pending>,
    pub(super) facts: Facts,
}

impl<'o> Rows<'o> {
    pub(super) fn new(options: &'o ReadOptions) -> Self {
        Self {
            options,
            report: Report::new(&options.source_name),
            spelled: Column::ALL.map(|column| column.as_str().to_owned()),
            space: Space::Lab,
            is_full: false,
            threads: Vec::new(),
            lines: Vec::new(),
            pending: Vec::new(),
            facts: Facts::default(),
        }
    }

    /// Reads a row. A row with problems is kept as far as it goes, so that its code still counts
    /// among the duplicates; the table is refused anyway.
    pub(super) fn push(&mut self, row: &Row<'_>) {
        if row.is_total() {
            self.facts.totals.note(row.line);
            return;
        }
        if self.threads.len() >= MAX_THREADS {
            self.refuse_more(row.line);
            return;
        }
        let code = self.code(row);
        let color = self.color(row);
        let name = self.name(row);
        let thread = Thread {
            finish: self
                .word(row, Column::Finish, Finish::parse, FINISHES)
                .unwrap_or(Finish::Plain),
            fiber: self.fiber(row).map(String::into_boxed_str),
            strands: self
                .count(row, Column::Strands, 99)
                .and_then(|count| u8::try_from(count).ok()),
            skein_metres: self.amount(
                row,
                Column::SkeinMetres,
                "a length in metres above 0",
                |m| m > 0.0,
            ),
            price: self.price(row),
            pack: self.count(row, Column::Pack, u32::MAX),
            minimum: self.count(row, Column::Minimum, u32::MAX),
            status: self
                .word(row, Column::Status, Status::parse, STATUSES)
                .unwrap_or(Status::Unknown),
            gtin: self.gtin(row),
            alternates: self.alternates(row).into(),
            spectrum: row.spectrum.held().cloned(),
            ..Thread::plain(code.clone().unwrap_or_else(Code::placeholder), name, color)
        };
        if code.is_some() {
            self.threads.push(thread);
            self.lines.push(row.line);
        }
    }

    /// The place of a cell: its column, or its path where the file has no columns.
    fn place(&self, row: &Row<'_>, column: Column) -> Place {
        match &row.origin {
            Some(keyed) => keyed.place(row.line, column),
            None => self.cell(row.line, column),
        }
    }

    /// The place of a cell in a file with columns.
    pub(super) fn cell(&self, line: u64, column: Column) -> Place {
        Place::cell(line, self.spelled.get(column.index()).cloned().unwrap_or_default())
    }

    fn refuse_more(&mut self, line: u64) {
        let kind = ErrorKind::OverLimit {
            what: "threads in one table, this row or more".into(),
            found: MAX_THREADS as u64 + 1,
            limit: MAX_THREADS as u64,
        };
        self.report.problem(kind, Place::line(line));
        self.is_full = true;
    }

    fn refuse(&mut self, row: &Row<'_>, column: Column, error: &Error) {
        let place = self.place(row, column);
        self.report.problem(error.kind().clone(), place);
    }

    fn bad_value(&mut self, row: &Row<'_>, column: Column, reason: &str, remedy: &str) {
        let kind = ErrorKind::BadValue {
            value: row.get(column).to_owned(),
            reason: reason.to_owned(),
            remedy: remedy.to_owned(),
        };
        let place = self.place(row, column);
        self.report.problem(kind, place);
    }

    fn code(&mut self, row: &Row<'_>) -> Option<Code> {
        let text = row.get(Column::Code);
        if injury::is_failed_formula(text) {
            let remedy = "put the code itself into the cell";
            self.bad_value(row, Column::Code, "a spreadsheet formula failed here", remedy);
            return None;
        }
        Code::parse(text).map_err(|error| self.refuse(row, Column::Code, &error)).ok()
    }

    fn name(&mut self, row: &Row<'_>) -> String {
        let name = row.get(Column::Name);
        if name.chars().any(is_hostile) {
            self.facts.hostile_names.note(row.line);
        }
        name.to_owned()
    }

    pub(super) fn word<T>(
        &mut self,
        row: &Row<'_>,
        column: Column,
        parse: fn(&str) -> Option<T>,
        words: &str,
    ) -> Option<T> {
        if row.is_blank(column) {
            return None;
        }
        let parsed = parse(row.get(column));
        if parsed.is_none() {
            self.bad_value(row, column, "not a word that is known here", &format!("write {words}"));
        }
        parsed
    }

    /// A number in any spelling, noting how it was spelled.
    fn number<'r>(&mut self, row: &Row<'r>, column: Column) -> Option<Number<'r>> {
        match number::parse(row.get(column)) {
            Ok(number) => {
                if number.odd_minus {
                    self.facts.odd_minus.note(row.line);
                }
                let may_be_thousands = matches!(column, Column::Price | Column::SkeinMetres)
                    && number::may_be_thousands(row.get(column));
                let marked = Marked { mark: number.mark, may_be_thousands };
                self.note_mark(row, column, marked);
                Some(number)
            }
            Err(fault) => {
                self.bad_value(row, column, fault.reason, fault.remedy);
                None
            }
        }
    }

    fn note_mark(&mut self, row: &Row<'_>, column: Column, marked: Marked) {
        let mut marks = std::mem::take(&mut self.facts.marks);
        marks.note(marked, row.get(column), || self.cell(row.line, column));
        self.facts.marks = marks;
    }

    fn amount(
        &mut self,
        row: &Row<'_>,
        column: Column,
        what: &str,
        good: fn(f64) -> bool,
    ) -> Option<f64> {
        if row.is_blank(column) {
            return None;
        }
        let value = self.number(row, column)?.value;
        if !good(value) {
            self.bad_value(
                row,
                column,
                &format!("not {what}"),
                "leave it empty when it is not known",
            );
            return None;
        }
        // Adding zero turns -0 into 0.
        Some(value + 0.0)
    }

    fn count(&mut self, row: &Row<'_>, column: Column, most: u32) -> Option<u32> {
        if row.is_blank(column) {
            return None;
        }
        let text = row.get(column).trim();
        let count = Some(text)
            .filter(|text| text.bytes().all(|byte| byte.is_ascii_digit()))
            .and_then(|text| text.parse().ok())
            .filter(|count| (1..=most).contains(count));
        if count.is_none() {
            let reason = format!("not a whole number from 1 to {most}");
            self.bad_value(row, column, &reason, "write digits only, or leave it empty");
        }
        count
    }

    fn fiber(&mut self, row: &Row<'_>) -> Option<String> {
        if row.is_blank(Column::Fiber) {
            return None;
        }
        let fiber = row.get(Column::Fiber).trim().to_lowercase();
        if !is_fiber(&fiber) {
            let reason = "a fiber is a word of at most 64 characters without control characters";
            self.bad_value(row, Column::Fiber, reason, "write for example cotton, silk or wool");
            return None;
        }
        Some(fiber)
    }

    fn price(&mut self, row: &Row<'_>) -> Option<Price> {
        let letters = |text: &str| Currency::parse(text);
        let currency = self.word(row, Column::Currency, letters, "three letters such as EUR");
        if row.is_blank(Column::Price) {
            if currency.is_some() {
                self.facts.idle_currency.note(row.line);
            }
            return None;
        }
        if row
            .get(Column::Price)
            .chars()
            .any(|c| matches!(c, '€' | '$' | '£' | '¥') || c.is_alphabetic())
        {
            let remedy =
                "write the amount alone, such as 3.50, and the currency in the column currency";
            self.bad_value(row, Column::Price, "a price is a number", remedy);
            return None;
        }
        let number = self.number(row, Column::Price)?;
        let micros = number::micros(&number.plain);
        if micros.is_none() {
            let reason = "not a price of 0 or more with at most six decimals";
            self.bad_value(row, Column::Price, reason, "write for example 3.50");
        }
        micros.map(|micros| Price { micros, currency })
    }

    fn gtin(&mut self, row: &Row<'_>) -> Option<Gtin> {
        if row.is_blank(Column::Gtin) {
            return None;
        }
        Gtin::parse(row.get(Column::Gtin))
            .map_err(|error| self.refuse(row, Column::Gtin, &error))
            .ok()
    }

    /// Codes one a line, or separated by `;`, or by blanks: the first of these that occurs.
    fn alternates(&mut self, row: &Row<'_>) -> Vec<Code> {
        let text = row.get(Column::Alternates);
        let separator = match text {
            text if text.contains('\n') => '\n',
            text if text.contains(';') => ';',
            _ => ' ',
        };
        let mut codes = Vec::new();
        for part in text.split(separator).filter(|part| !part.trim().is_empty()) {
            match Code::parse(part) {
                Ok(code) => codes.push(code),
                Err(error) => self.refuse(row, Column::Alternates, &error),
            }
        }
        if codes.len() > MAX_ALTERNATES {
            let reason = format!("{} alternates, the limit is {MAX_ALTERNATES}", codes.len());
            self.bad_value(row, Column::Alternates, &reason, "keep the best");
        }
        codes
    }
}

/// The words of the columns for light and observer.
pub(super) const ILLUMINANTS: &str = "A, D50, D65, FL2, FL11 or LED-B3";
pub(super) const OBSERVERS: &str = "2 or 10";

const FINISHES: &str = "plain, metallic, variegated or fluorescent";
const STATUSES: &str = "available, low, back order, discontinued, unavailable or unknown";

/// True for a fiber as it is kept: lower case, trimmed, short, harmless.
pub(super) fn is_fiber(fiber: &str) -> bool {
    !fiber.is_empty()
        && fiber.trim() == fiber
        && fiber.chars().count() <= MAX_FIBER_CHARS
        && !fiber.chars().any(is_hostile)
        && fiber.to_lowercase() == fiber
}

impl Marks {
    /// Counts a mark; the place is made only where it may be told.
    pub(super) fn note(&mut self, marked: Marked, text: &str, place: impl FnOnce() -> Place) {
        let (places, count) = match marked.mark {
            Mark::None => return,
            Mark::Point => (&mut self.points, &mut self.point_count),
            Mark::Comma => (&mut self.commas, &mut self.comma_count),
        };
        *count += 1;
        if marked.mark == Mark::Comma {
            self.sure_commas += u64::from(!marked.may_be_thousands);
        }
        if places.len() < super::report::MAX_LISTED_PROBLEMS {
            places.push((place(), text.to_owned()));
        }
    }
}
