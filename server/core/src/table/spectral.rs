//! Reflectance beside or in place of a color: the Lab that it gives, and whether a stated Lab agrees.
//! It does not know how files write spectra.

use std::sync::Arc;

use super::column::Column;
use super::report::{Report, Seen, rows as count_of};
use super::row::{ILLUMINANTS, OBSERVERS, Row, Rows};
use crate::color::{Color, Conditions, Illuminant, Lab, Observer, Origin};
use crate::difference::{Formula, Pair};
use crate::error::{Place, Result};
use crate::spectrum::Reflectance;

/// Difference from which a stated Lab and that of its spectrum are said to disagree, in CIEDE2000
/// units. House choice: above what steps, weights and two decimals can explain under daylight.
const APART: f64 = 0.5;

/// What a row has for a reflectance spectrum.
#[derive(Clone, Debug, Default)]
pub(super) enum Spectral {
    /// Nothing.
    #[default]
    Absent,
    /// One that can be used.
    Held(Arc<Reflectance>),
    /// One that cannot be used, beside a color that can.
    Idle,
    /// One whose problems have been told.
    Refused,
}

impl Spectral {
    pub(super) fn held(&self) -> Option<&Arc<Reflectance>> {
        match self {
            Self::Held(spectrum) => Some(spectrum),
            Self::Absent | Self::Idle | Self::Refused => None,
        }
    }
}

/// Reflectance factors at equal steps.
#[derive(Debug)]
pub(super) struct Bands {
    pub(super) start_nm: u16,
    pub(super) step_nm: u16,
    pub(super) factors: Vec<f64>,
}

impl Bands {
    /// The checked spectrum.
    ///
    /// # Errors
    ///
    /// Those of [`Reflectance::new`].
    pub(super) fn spectrum(&self) -> Result<Spectral> {
        let spectrum = Reflectance::new(self.start_nm, self.step_nm, &self.factors)?;
        Ok(Spectral::Held(Arc::new(spectrum)))
    }
}

impl Rows<'_> {
    /// The color that a row's spectrum gives: for the light and observer of the caller, else for
    /// those that the file states, else for D65 and 10°.
    pub(super) fn color_of_spectrum(
        &mut self,
        row: &Row<'_>,
        spectrum: &Reflectance,
        stated: Option<Origin>,
    ) -> Option<Color> {
        let light = self.word(row, Column::Illuminant, Illuminant::parse, ILLUMINANTS);
        let observer = self.word(row, Column::Observer, Observer::parse, OBSERVERS);
        let conditions =
            self.options.conditions.unwrap_or_else(|| self.conditions_of(light, observer));
        match spectrum.lab(conditions) {
            Ok(lab) => {
                self.facts.spectra.note_computed(row.line, conditions);
                if lab.l() > 100.0 {
                    self.facts.bright.note(row.line);
                }
                Some(Color::lab_under(lab, conditions, stated.unwrap_or(Origin::Spectrum)))
            }
            Err(error) => {
                let field = row.origin.map(|keyed| keyed.path.trim_end_matches(['.', ',', ' ']));
                let field = field.map(str::to_owned);
                let place = Place { line: Some(row.line), field, ..Place::default() };
                self.report.problem(error.kind().clone(), place);
                None
            }
        }
    }

    /// Compares the Lab that a row states with that of its spectrum, when it has one.
    pub(super) fn compare_with_spectrum(&mut self, row: &Row<'_>, color: &Color) {
        let computed = match &row.spectrum {
            Spectral::Held(spectrum) => spectrum.lab(color.conditions()).ok(),
            Spectral::Idle => None,
            Spectral::Absent | Spectral::Refused => return,
        };
        match computed {
            Some(computed) => self.facts.spectra.compare(row.line, color, computed),
            None => self.facts.spectra.note_idle(row.line),
        }
    }
}

/// What the spectra of a file did.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Spectra {
    computed: Seen,
    conditions: Option<Conditions>,
    compared: Seen,
    idle: Seen,
    apart: Seen,
    most: f64,
}

impl Spectra {
    /// A row got its Lab from its spectrum.
    pub(super) fn note_computed(&mut self, line: u64, conditions: Conditions) {
        self.computed.note(line);
        self.conditions = Some(conditions);
    }

    /// A row states a Lab and has a spectrum that gives another, perhaps. A Lab that says it comes
    /// from a spectrum and agrees with it is as it should be.
    pub(super) fn compare(&mut self, line: u64, stated: &Color, computed: Lab) {
        let pair = Pair { standard: computed, sample: stated.lab() };
        let apart = Formula::DEFAULT.delta_e(pair).value();
        if apart <= APART && stated.origin() == Origin::Spectrum {
            return;
        }
        self.compared.note(line);
        if apart > APART {
            self.apart.note(line);
            self.most = self.most.max(apart);
        }
    }

    /// A row states a Lab and has a spectrum that cannot be used.
    pub(super) fn note_idle(&mut self, line: u64) {
        self.idle.note(line);
    }

    pub(super) fn tell(self, report: &mut Report) {
        if let Some(conditions) = self.conditions {
            self.computed.tell(report, |count| {
                format!(
                    "{} with a reflectance spectrum: Lab is computed for {conditions} (ASTM E308); \
                     say otherwise with `--white D50/2`",
                    count_of(count)
                )
            });
        }
        self.compared.tell(report, |count| {
            let what = if self.apart.count == 0 { ", and agrees" } else { "" };
            format!(
                "{} with Lab and a reflectance spectrum: the Lab is read{what}",
                count_of(count)
            )
        });
        self.idle.tell(report, |count| {
            format!(
                "{} with Lab and a reflectance spectrum that gives none: the Lab is read",
                count_of(count)
            )
        });
        self.apart.tell(report, |count| {
            format!(
                "{} with a Lab that differs from that of the spectrum, by up to {:.1} (CIEDE2000): \
                 which of them is right?",
                count_of(count),
                self.most
            )
        });
    }
}
