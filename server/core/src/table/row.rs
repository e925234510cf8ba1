//! One row of any format to one thread, with every problem of the row.
//! It does not know CSV or JSON: a row is texts by column.

use super::column::{COLUMNS, Column};
use super::injury;
use super::number::{self, Mark, Number};
use super::paint::{self, ScaleVotes};
use super::read::ReadOptions;
use super::report::{Report, Seen};
use super::{Code, Currency, Finish, Gtin, Price, Status, Thread};
use crate::color::{Color, Conditions, Illuminant, Lab, Observer, Origin, Srgb8};
use crate::error::{Error, ErrorKind, Place, is_hostile};

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
    /// Path of the row in a JSON file, such as `threads[3]`.
    pub(super) path: Option<String>,
    pub(super) cells: [&'r str; COLUMNS],
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
        let no_color = self.is_blank(Column::Hex)
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
#[derive(Clone, Copy, Debug)]
pub(super) struct Pending {
    pub(super) row: usize,
    pub(super) line: u64,
    pub(super) rgb: [f64; 3],
    pub(super) origin: Origin,
    pub(super) uncertainty: Option<f64>,
}

/// Decimal marks seen, with the places of the first of each.
#[derive(Debug, Default)]
pub(super) struct Marks {
    pub(super) points: Vec<(u64, Column, String)>,
    pub(super) commas: Vec<(u64, Column, String)>,
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
    pub(super) no_white: Seen,
    pub(super) no_origin: Seen,
    pub(super) hostile_names: Seen,
    pub(super) idle_forms: Seen,
    pub(super) idle_white: Seen,
    pub(super) idle_currency: Seen,
    pub(super) totals: Seen,
}

/// Threads read so far, and what was found on the way.
#[derive(Debug)]
pub(super) struct Rows<'o> {
    pub(super) options: &'o ReadOptions,
    pub(super) report: Report,
    /// Column names as the file spells them, for messages.
    pub(super) spelled: [String; COLUMNS],
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
        let code = self.code(row);
        let color = self.color(row);
        let name = self.name(row);
        let thread = Thread {
            finish: self
                .word(row, Column::Finish, Finish::parse, FINISHES)
                .unwrap_or(Finish::Plain),
            fiber: self.fiber(row),
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
            alternates: self.alternates(row),
            ..Thread::plain(code.clone().unwrap_or_else(Code::placeholder), name, color)
        };
        if code.is_some() {
            self.threads.push(thread);
            self.lines.push(row.line);
        }
    }

    /// The place of a cell: its column in CSV, its path in JSON.
    fn place(&self, row: &Row<'_>, column: Column) -> Place {
        let spelled = self.spelled.get(column.index()).cloned().unwrap_or_default();
        match &row.path {
            Some(path) => Place {
                line: Some(row.line),
                field: Some(format!("{path}.{spelled}")),
                ..Place::default()
            },
            None => Place::cell(row.line, spelled),
        }
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

    fn word<T>(
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
                self.facts.marks.note(row, column, number.mark);
                Some(number)
            }
            Err(fault) => {
                self.bad_value(row, column, fault.reason, fault.remedy);
                None
            }
        }
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
        codes
    }

    fn color(&mut self, row: &Row<'_>) -> Color {
        let stated = self.word(row, Column::Origin, Origin::parse, ORIGINS).or(self.options.origin);
        let uncertainty = self.amount(
            row,
            Column::Uncertainty,
            "a number of difference units, 0 or more",
            |units| units >= 0.0,
        );
        let forms =
            [!row.are_blank(Column::LAB), !row.is_blank(Column::Hex), !row.are_blank(Column::RGB)];
        if forms.into_iter().filter(|form| *form).count() > 1 {
            self.facts.idle_forms.note(row.line);
        }
        let color = match forms {
            [true, _, _] => self.lab(row, stated),
            [_, true, _] => {
                self.hex(row).map(|rgb| Color::listed(rgb, stated.unwrap_or(Origin::Screen)))
            }
            [_, _, true] => {
                self.rgb(row, stated.unwrap_or(Origin::Screen), uncertainty);
                None
            }
            _ => {
                self.no_color(row);
                None
            }
        };
        let [is_lab, ..] = forms;
        if !is_lab {
            self.idle_white(row);
        }
        let color = color.unwrap_or_else(|| Color::screen(Srgb8::new(0, 0, 0)));
        match uncertainty.map(|units| color.with_uncertainty(units)) {
            Some(Ok(certain)) => certain,
            Some(Err(_)) | None => color,
        }
    }

    fn no_color(&mut self, row: &Row<'_>) {
        let column = if !self.spelled_in_file(Column::Hex) && self.spelled_in_file(Column::LabL) {
            Column::LabL
        } else if !self.spelled_in_file(Column::Hex) && self.spelled_in_file(Column::Red) {
            Column::Red
        } else {
            Column::Hex
        };
        self.bad_value(row, column, "the row has no color", "write a color, or delete the row");
    }

    fn spelled_in_file(&self, column: Column) -> bool {
        self.spelled.get(column.index()).is_some_and(|name| !name.is_empty())
    }

    fn hex(&mut self, row: &Row<'_>) -> Option<Srgb8> {
        paint::parse(row.get(Column::Hex), self.options.alpha_first)
            .map_err(|error| self.refuse(row, Column::Hex, &error))
            .ok()
    }

    fn rgb(&mut self, row: &Row<'_>, origin: Origin, uncertainty: Option<f64>) {
        let [red, green, blue] = Column::RGB.map(|column| self.number(row, column));
        let (Some(red), Some(green), Some(blue)) = (red, green, blue) else { return };
        let rgb = [red.value, green.value, blue.value];
        rgb.into_iter().for_each(|value| self.facts.votes.add(value));
        self.pending.push(Pending {
            row: self.threads.len(),
            line: row.line,
            rgb,
            origin,
            uncertainty,
        });
    }

    fn lab(&mut self, row: &Row<'_>, stated: Option<Origin>) -> Option<Color> {
        let conditions = self.conditions(row);
        let numbers = Column::LAB.map(|column| self.number(row, column).map(|number| number.value));
        // Each component alone first, so that every one out of range is told.
        let alone = [
            numbers[0].map(|l| Lab::new(l, 0.0, 0.0)),
            numbers[1].map(|a| Lab::new(0.0, a, 0.0)),
            numbers[2].map(|b| Lab::new(0.0, 0.0, b)),
        ];
        for (column, part) in Column::LAB.into_iter().zip(alone) {
            if let Some(Err(error)) = part {
                self.refuse(row, column, &error);
            }
        }
        let [Some(l), Some(a), Some(b)] = numbers else { return None };
        let lab = Lab::new(l, a, b).ok()?;
        if lab.l() > 100.0 {
            self.facts.bright.note(row.line);
        }
        if stated.is_none() {
            self.facts.no_origin.note(row.line);
        }
        Some(Color::lab_under(lab, conditions, stated.unwrap_or(Origin::Unknown)))
    }

    fn conditions(&mut self, row: &Row<'_>) -> Conditions {
        let light = self.word(row, Column::Illuminant, Illuminant::parse, ILLUMINANTS);
        let observer = self.word(row, Column::Observer, Observer::parse, "2 or 10");
        let stated = light.is_some() && observer.is_some();
        if !stated && self.options.conditions.is_none() {
            self.facts.no_white.note(row.line);
        }
        let otherwise = self.options.conditions.unwrap_or(Conditions::TEXTILE);
        Conditions {
            illuminant: light.unwrap_or(otherwise.illuminant),
            observer: observer.unwrap_or(otherwise.observer),
        }
    }

    /// sRGB has its own white; a stated one is checked for spelling and otherwise not used.
    fn idle_white(&mut self, row: &Row<'_>) {
        let light = self.word(row, Column::Illuminant, Illuminant::parse, ILLUMINANTS);
        let observer = self.word(row, Column::Observer, Observer::parse, "2 or 10");
        let screen = Conditions::SCREEN;
        if light.is_some_and(|light| light != screen.illuminant)
            || observer.is_some_and(|observer| observer != screen.observer)
        {
            self.facts.idle_white.note(row.line);
        }
    }
}

const FINISHES: &str = "plain, metallic, variegated or fluorescent";
const STATUSES: &str = "available, low, back order, discontinued, unavailable or unknown";
const ORIGINS: &str = "screen, scan, meter, spectrum or unknown";
const ILLUMINANTS: &str = "A, D50, D65, FL2, FL11 or LED-B3";

/// True for a fiber as it is kept: lower case, trimmed, short, harmless.
pub(super) fn is_fiber(fiber: &str) -> bool {
    !fiber.is_empty()
        && fiber.trim() == fiber
        && fiber.chars().count() <= MAX_FIBER_CHARS
        && !fiber.chars().any(is_hostile)
        && fiber.to_lowercase() == fiber
}

impl Marks {
    fn note(&mut self, row: &Row<'_>, column: Column, mark: Mark) {
        let (places, count) = match mark {
            Mark::None => return,
            Mark::Point => (&mut self.points, &mut self.point_count),
            Mark::Comma => (&mut self.commas, &mut self.comma_count),
        };
        let text = row.get(column);
        *count += 1;
        if mark == Mark::Comma {
            let may_be_thousands = matches!(column, Column::Price | Column::SkeinMetres)
                && number::may_be_thousands(text);
            self.sure_commas += u64::from(!may_be_thousands);
        }
        if places.len() < super::report::MAX_LISTED_PROBLEMS {
            places.push((row.line, column, text.to_owned()));
        }
    }
}
