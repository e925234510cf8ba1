//! How the spectra of a table look under each light: computed when a light is first asked for, once.
//! It does not compare.

use std::sync::OnceLock;

use super::CatalogTable;
use crate::color::{Conditions, Illuminant, Lab, Observer};

/// CIELAB of all rows of a table under one light each.
#[derive(Debug, Default)]
pub(super) struct Sights([OnceLock<Box<[Option<Lab>]>>; 2 * Illuminant::ALL.len()]);

impl Sights {
    fn of(&self, conditions: Conditions) -> Option<&OnceLock<Box<[Option<Lab>]>>> {
        let light = Illuminant::ALL.iter().position(|light| *light == conditions.illuminant)?;
        let observer = match conditions.observer {
            Observer::TwoDegree => 0,
            Observer::TenDegree => 1,
        };
        self.0.get(2 * light + observer)
    }
}

impl CatalogTable {
    /// By row of the index: CIELAB of the thread's spectrum under a light. `None` for a thread
    /// without a spectrum, or with one that is too bright there. Empty when no thread has one.
    pub(crate) fn seen_under(&self, conditions: Conditions) -> &[Option<Lab>] {
        let look = || {
            if !self.table.threads().iter().any(|thread| thread.spectrum.is_some()) {
                return Box::default();
            }
            let seen = |row: usize| self.thread_at(row)?.spectrum.as_ref()?.lab(conditions).ok();
            (0..self.by_code.len()).map(seen).collect()
        };
        self.sights.of(conditions).map_or(&[], |sight| sight.get_or_init(look))
    }
}
