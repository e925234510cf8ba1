//! Reflectance beside or in place of a color: the Lab that it gives, and whether a stated Lab agrees.
//! It does not know how files write spectra.

use super::report::{Report, Seen, rows as count_of};
use super::row::Rows;
use crate::color::{Conditions, Lab};
use crate::difference::{Formula, Pair};
use crate::error::Result;
use crate::spectrum::Reflectance;

/// Difference from which a stated Lab and that of its spectrum are said to disagree, in CIEDE2000
/// units. House choice: above what steps, weights and two decimals can explain under daylight.
const APART: f64 = 0.5;

/// Reflectance factors at equal steps.
#[derive(Debug)]
pub(super) struct Bands {
    pub(super) start_nm: u16,
    pub(super) step_nm: u16,
    pub(super) factors: Vec<f64>,
}

impl Bands {
    /// CIELAB by ASTM E308.
    ///
    /// # Errors
    ///
    /// Those of [`Reflectance::new`] and [`Reflectance::lab`].
    pub(super) fn lab(&self, conditions: Conditions) -> Result<Lab> {
        Reflectance::new(self.start_nm, self.step_nm, &self.factors)?.lab(conditions)
    }
}

impl Rows<'_> {
    /// The light and observer that a spectrum is computed for: those of the caller, else those that
    /// the file states, else D65 and 10°.
    pub(super) fn conditions_of_spectra(&self, stated: Option<Conditions>) -> Conditions {
        self.options.conditions.or(stated).unwrap_or(Conditions::TEXTILE)
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

    /// A row states a Lab and has a spectrum that gives another, perhaps.
    pub(super) fn compare(&mut self, line: u64, stated: Lab, computed: Lab) {
        self.compared.note(line);
        let pair = Pair { standard: computed, sample: stated };
        let apart = Formula::DEFAULT.delta_e(pair).value();
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
                     say otherwise with `--white D50/2`; the spectrum itself is not kept",
                    count_of(count)
                )
            });
        }
        self.compared.tell(report, |count| {
            let what = if self.apart.count == 0 { ", and agrees" } else { "" };
            format!(
                "{} with Lab and a reflectance spectrum: the Lab is read{what}; \
                 the spectrum itself is not kept",
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
