//! The color of a row: which form it has, its light, observer, origin and uncertainty.
//! It does not know the other columns.

use super::{ILLUMINANTS, OBSERVERS, Pending, Row, Rows};
use crate::color::{Color, Conditions, Illuminant, Observer, Origin, Srgb8};
use crate::table::column::Column;
use crate::table::paint;
use crate::table::spectral::Spectral;

/// L* below which no thread lies: black velvet has about 5. House choice.
const DARKEST: f64 = 2.0;

const ORIGINS: &str = "screen, scan, meter, spectrum or unknown";

impl Rows<'_> {
    /// The color of a row; a stand-in when it cannot be read, and then the table is refused.
    pub(super) fn color(&mut self, row: &Row<'_>) -> Color {
        let own = self.word(row, Column::Origin, Origin::parse, ORIGINS);
        let stated = own.or(self.options.origin);
        let uncertainty = self.amount(
            row,
            Column::Uncertainty,
            "a number of difference units, 0 or more",
            |units| units >= 0.0,
        );
        let forms = [
            self.offers(Column::LAB) && !row.are_blank(Column::LAB),
            !row.is_blank(Column::Hex),
            self.offers(Column::RGB) && !row.are_blank(Column::RGB),
        ];
        if forms.into_iter().filter(|form| *form).count() > 1 {
            self.facts.idle_forms.note(row.line);
        }
        let spectrum = row.spectrum.held();
        let color = match forms {
            [true, _, _] => {
                let color = self.lab(row, stated);
                if let Some(color) = &color {
                    self.compare_with_spectrum(row, color);
                }
                color
            }
            [_, hex, rgb] if let Some(spectrum) = spectrum => {
                if hex || rgb {
                    self.facts.beside_spectrum.note(row.line);
                }
                self.color_of_spectrum(row, spectrum, own)
            }
            [_, true, _] => {
                self.hex(row).map(|rgb| Color::listed(rgb, stated.unwrap_or(Origin::Screen)))
            }
            [_, _, true] => {
                self.rgb(row, stated.unwrap_or(Origin::Screen), uncertainty);
                None
            }
            _ if matches!(row.spectrum, Spectral::Refused) => None,
            _ => {
                self.no_color(row);
                None
            }
        };
        let [is_lab, ..] = forms;
        if !is_lab && spectrum.is_none() {
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

    /// True when the file has all three columns.
    fn offers(&self, columns: [Column; 3]) -> bool {
        columns.into_iter().all(|column| self.spelled_in_file(column))
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
        let path = row.origin.map(|keyed| keyed.path.into());
        self.pending.push(Pending {
            row: self.threads.len(),
            line: row.line,
            path,
            rgb,
            origin,
            uncertainty,
        });
    }

    fn lab(&mut self, row: &Row<'_>, stated: Option<Origin>) -> Option<Color> {
        let conditions = self.conditions(row);
        let numbers = Column::LAB.map(|column| self.number(row, column).map(|number| number.value));
        let whole = self.components_are_fine(row, numbers);
        let [Some(first), Some(second), Some(third)] = numbers else { return None };
        if !whole {
            return None;
        }
        let lab = match self.space.to_lab([first, second, third], conditions) {
            Ok(lab) => lab,
            Err(error) => {
                self.refuse(row, Column::LabL, &error);
                return None;
            }
        };
        if lab.l() > 100.0 {
            self.facts.bright.note(row.line);
        }
        if lab.l() < DARKEST {
            self.facts.dark.note(row.line);
        }
        if stated.is_none() {
            self.facts.no_origin.note(row.line);
        }
        Some(Color::lab_under(lab, conditions, stated.unwrap_or(Origin::Unknown)))
    }

    /// Checks each component alone, so that every one out of range is told.
    fn components_are_fine(&mut self, row: &Row<'_>, numbers: [Option<f64>; 3]) -> bool {
        let mut fine = true;
        for ((column, number), axis) in Column::LAB.into_iter().zip(numbers).zip(0..) {
            let fault = number.and_then(|value| self.space.fault(axis, value));
            if let Some(error) = fault {
                self.refuse(row, column, &error);
                fine = false;
            }
        }
        fine
    }

    fn conditions(&mut self, row: &Row<'_>) -> Conditions {
        let light = self.word(row, Column::Illuminant, Illuminant::parse, ILLUMINANTS);
        let observer = self.word(row, Column::Observer, Observer::parse, OBSERVERS);
        if self.options.conditions.is_none() {
            match (light, observer) {
                (Some(_), Some(_)) => {}
                (None, Some(_)) => self.facts.no_light.note(row.line),
                (Some(_), None) => self.facts.no_observer.note(row.line),
                (None, None) => self.facts.no_white.note(row.line),
            }
        }
        self.conditions_of(light, observer)
    }

    /// What holds where a row states these.
    pub(in crate::table) fn conditions_of(
        &self,
        light: Option<Illuminant>,
        observer: Option<Observer>,
    ) -> Conditions {
        let otherwise = self.options.conditions.unwrap_or(Conditions::TEXTILE);
        Conditions {
            illuminant: light.unwrap_or(otherwise.illuminant),
            observer: observer.unwrap_or(otherwise.observer),
        }
    }

    /// sRGB has its own white; a stated one is checked for spelling and otherwise not used.
    fn idle_white(&mut self, row: &Row<'_>) {
        let light = self.word(row, Column::Illuminant, Illuminant::parse, ILLUMINANTS);
        let observer = self.word(row, Column::Observer, Observer::parse, OBSERVERS);
        let screen = Conditions::SCREEN;
        if light.is_some_and(|light| light != screen.illuminant)
            || observer.is_some_and(|observer| observer != screen.observer)
        {
            self.facts.idle_white.note(row.line);
        }
    }
}
