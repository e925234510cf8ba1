//! The end of reading: decisions for the whole file, duplicates, notices, the table or the refusal.
//! It does not know formats; it sees the rows they gave.

use std::collections::HashSet;

use super::column::Column;
use super::injury;
use super::paint::{self, Scale};
use super::read::{Loaded, Refused};
use super::report::rows;
use super::row::{Pending, Rows};
use super::{Keyed, Table, faults, groups_of_one_code, rows_by_key};
use crate::color::{Color, Conditions, Srgb8};
use crate::error::{ErrorKind, Place};

/// Line counts at which spreadsheets silently stop.
const SHEET_LINES: [u64; 2] = [65_536, 1_048_576];

impl Rows<'_> {
    /// Notes that a text file has as many lines as a spreadsheet can hold.
    pub(super) fn note_line_count(&mut self, count: u64) {
        if SHEET_LINES.contains(&count) {
            let text = format!(
                "the file has exactly {count} lines, where spreadsheets stop: possibly cut off"
            );
            self.report.notice(None, text);
        }
    }

    /// The table, or all problems.
    pub(super) fn into_loaded(mut self) -> Result<Loaded, Refused> {
        self.report.begin_second_look();
        self.decide_decimal_mark();
        self.decide_scale();
        self.check_threads();
        let by_key = rows_by_key(&self.threads);
        let dropped = self.check_duplicates(&by_key);
        if self.threads.is_empty() && !self.report.has_problems() {
            let reason = "the table has no thread".into();
            let remedy = "a table needs at least one row with a code and a color".into();
            self.report.problem(ErrorKind::BadFile { reason, remedy }, Place::default());
        }
        if self.report.has_problems() {
            return Err(self.report.into_refused());
        }
        self.tell();
        injury::tell(&self.threads, &self.lines, &mut self.report);
        let notices = self.report.into_notices();
        let mut threads = self.threads;
        if dropped.is_empty() {
            let table = Table::assembled(self.options.id.clone(), threads, by_key);
            return Ok(Loaded { table, notices });
        }
        let mut row = 0;
        threads.retain(|_| {
            row += 1;
            !dropped.contains(&(row - 1))
        });
        let by_key = rows_by_key(&threads);
        Ok(Loaded { table: Table::assembled(self.options.id.clone(), threads, by_key), notices })
    }

    fn decide_decimal_mark(&mut self) {
        let marks = std::mem::take(&mut self.facts.marks);
        if marks.comma_count == 0 {
            return;
        }
        let (mixed, other) = if marks.point_count == 0 {
            if marks.sure_commas > 0 {
                let text = "numbers are read with a decimal comma";
                let first = marks.commas.into_iter().next();
                let first = first.map(|(place, _)| Place { column: None, ..place });
                self.report.notice(first, text);
                return;
            }
            (&marks.commas, "this may be a decimal comma or a thousands separator")
        } else if marks.comma_count <= marks.point_count {
            (&marks.commas, "a decimal comma, where most numbers have a decimal point")
        } else {
            (&marks.points, "a decimal point, where most numbers have a decimal comma")
        };
        for (place, text) in mixed {
            let kind = ErrorKind::BadValue {
                value: text.clone(),
                reason: other.into(),
                remedy: "write all numbers of the file with a decimal point and without separators"
                    .into(),
            };
            self.report.problem(kind, place.clone());
        }
    }

    fn decide_scale(&mut self) {
        let pending = std::mem::take(&mut self.pending);
        if pending.is_empty() {
            return;
        }
        let Some(scale) = self.facts.votes.decide() else {
            let reason = "r, g and b are all 0 or 1: this may be the scale 0 to 1 or 0 to 255";
            let remedy = "write the colors as hex, such as #ffffff";
            let kind = ErrorKind::BadFile { reason: reason.into(), remedy: remedy.into() };
            self.report.problem(kind, Place::default());
            return;
        };
        let text = match scale {
            Scale::Byte => "r, g and b are read on the scale 0 to 255",
            Scale::Unit => "r, g and b are read on the scale 0 to 1 and rounded to 8 bits",
        };
        self.report.notice(None, text);
        for waiting in &pending {
            self.settle(waiting, scale);
        }
    }

    fn settle(&mut self, waiting: &Pending, scale: Scale) {
        let parts = waiting.rgb.map(|value| match scale {
            Scale::Byte => paint::byte_of(value, true),
            Scale::Unit => paint::byte_of(value * 255.0, false),
        });
        for ((column, value), part) in Column::RGB.into_iter().zip(waiting.rgb).zip(parts) {
            if part.is_none() {
                self.refuse_component(waiting, column, value, scale);
            }
        }
        let [Some(red), Some(green), Some(blue)] = parts else { return };
        let mut color = Color::listed(Srgb8::new(red, green, blue), waiting.origin);
        if let Some(Ok(certain)) = waiting.uncertainty.map(|units| color.with_uncertainty(units)) {
            color = certain;
        }
        if let Some(thread) = self.threads.get_mut(waiting.row) {
            thread.color = color;
        }
    }

    fn refuse_component(&mut self, waiting: &Pending, column: Column, value: f64, scale: Scale) {
        let reason = match scale {
            Scale::Byte => "not a whole number from 0 to 255",
            Scale::Unit => "not a number from 0 to 1, the scale of this file",
        };
        let kind = ErrorKind::BadColor {
            value: value.to_string(),
            reason: reason.into(),
            remedy: "nothing is clipped: write the color that is meant".into(),
        };
        let place = match &waiting.path {
            Some(path) => Place {
                line: Some(waiting.line),
                field: Some(format!("{path}{}", column.as_str())),
                ..Place::default()
            },
            None => self.cell(waiting.line, column),
        };
        self.report.problem(kind, place);
    }

    /// What only the whole can show: measured colors under more than one light.
    fn check_threads(&mut self) {
        if self.report.has_problems() {
            return;
        }
        for (row, kind) in faults(&self.threads) {
            let line = self.lines.get(row).copied();
            self.report.problem(kind, Place { line, ..Place::default() });
        }
    }

    /// Reports codes that collide; returns the rows that only repeat an earlier one.
    fn check_duplicates(&mut self, by_key: &[Keyed]) -> HashSet<usize> {
        let mut repeated = HashSet::new();
        let groups = groups_of_one_code(&self.threads, by_key);
        for group in &groups {
            let mut threads = group.iter().filter_map(|row| self.threads.get(*row));
            let lines: Vec<u64> =
                group.iter().filter_map(|row| self.lines.get(*row)).copied().collect();
            let Some(first) = threads.next() else { continue };
            if threads.all(|thread| thread == first) {
                repeated.extend(group.iter().skip(1));
                continue;
            }
            let code = first.code.to_string();
            let place = self.cell(lines.first().copied().unwrap_or_default(), Column::Code);
            self.report.problem(ErrorKind::DuplicateCode { code, lines }, place);
        }
        if let Some(first) = repeated.iter().min() {
            let place = self.lines.get(*first).map(|line| Place::line(*line));
            let count = rows(repeated.len() as u64);
            let text = format!("{count} equal to an earlier one in every column: kept once");
            self.report.notice(place, text);
        }
        repeated
    }

    /// Turns the facts into notices.
    fn tell(&mut self) {
        let facts = std::mem::take(&mut self.facts);
        let report = &mut self.report;
        facts.spectra.tell(report);
        facts.totals.tell(report, |count| {
            format!("{} with no color, looks like a total: not read", rows(count))
        });
        facts.no_white.tell(report, |count| {
            format!(
                "no illuminant or observer stated for {}: taken as {}; say otherwise with `--white D50/2`",
                rows(count),
                Conditions::TEXTILE
            )
        });
        facts.no_light.tell(report, |count| {
            format!(
                "no illuminant stated for {}: taken as {}; say otherwise with `--white D50/2`",
                rows(count),
                Conditions::TEXTILE.illuminant.as_str()
            )
        });
        facts.no_observer.tell(report, |count| {
            format!(
                "no observer stated for {}: taken as {}°; say otherwise with `--white D50/2`",
                rows(count),
                Conditions::TEXTILE.observer.degrees()
            )
        });
        facts.no_origin.tell(report, |count| {
            format!(
                "no origin stated for {}: taken as unknown; say `--origin meter` when a color meter gave them",
                rows(count)
            )
        });
        facts.odd_minus.tell(report, |count| {
            format!("{} with a dash or U+2212 before digits: read as minus", rows(count))
        });
        facts.bright.tell(report, |count| {
            format!("{} with L* above 100: a fluorescent thread, or a slip?", rows(count))
        });
        facts.dark.tell(report, |count| {
            format!(
                "{} with L* below 2, darker than any thread: are these numbers parts of 1?",
                rows(count)
            )
        });
        facts.idle_forms.tell(report, |count| {
            format!(
                "{} with a color in more than one form: L, a, b is used before hex, hex before r, g, b",
                rows(count)
            )
        });
        facts.beside_spectrum.tell(report, |count| {
            format!(
                "{} with hex or r, g, b beside a reflectance spectrum: the spectrum is used",
                rows(count)
            )
        });
        facts.idle_white.tell(report, |count| {
            format!(
                "{} with an illuminant or observer beside an sRGB color: not used, sRGB is {}",
                rows(count),
                Conditions::SCREEN
            )
        });
        facts
            .idle_currency
            .tell(report, |count| format!("{} with a currency and no price", rows(count)));
        facts.hostile_names.tell(report, |count| {
            format!(
                "{} with control or invisible characters in the name: kept, shown escaped",
                rows(count)
            )
        });
    }
}
