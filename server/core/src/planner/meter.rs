//! Formula calls made on behalf of one question: counted, checked for comparability, and stopped
//! when the one who waits goes away. It does not know what the differences are for.

use crate::catalog::Catalog;
use crate::color::{AdaptationMethod, Adapter, Color};
use crate::difference::{DeltaE, Formula, Pair};
use crate::error::{ErrorKind, Result};
use crate::nearest::{Nearest, NearestOptions, nearest};
use crate::watch::{Progress, Watch};

/// Most formula calls between two looks at the watch.
pub(super) const CALLS_BETWEEN_LOOKS: u64 = 256;

/// Counts formula calls and looks at the watch in time.
pub(super) struct Meter<'w> {
    watch: &'w dyn Watch,
    adapter: Adapter,
    calls: u64,
    next_look: u64,
    worked: u64,
    next_look_at_work: u64,
    /// Where the present part of the work begins and ends, 0 to 1.
    part: (f64, f64),
}

impl<'w> Meter<'w> {
    pub(super) fn new(watch: &'w dyn Watch) -> Self {
        Self {
            watch,
            adapter: Adapter::new(None),
            calls: 0,
            next_look: 0,
            worked: 0,
            next_look_at_work: 0,
            part: (0.0, 1.0),
        }
    }

    /// The same, carrying standards over to the conditions of their samples where a method is given.
    pub(super) fn adapting(self, adaptation: Option<AdaptationMethod>) -> Self {
        Self { adapter: Adapter::new(adaptation), ..self }
    }

    /// Formula calls so far.
    #[cfg(test)]
    pub(super) fn calls(&self) -> u64 {
        self.calls
    }

    /// Gives up when the answer is no longer wanted.
    pub(super) fn look(&mut self) -> Result<()> {
        self.next_look = self.calls + CALLS_BETWEEN_LOOKS;
        if self.watch.stopped() {
            return Err(ErrorKind::Stopped.into());
        }
        Ok(())
    }

    /// Counts steps that are no formula calls, and looks at the watch every so many of them.
    pub(super) fn work(&mut self, steps: u64, between_looks: u64) -> Result<()> {
        self.worked += steps;
        if self.worked < self.next_look_at_work {
            return Ok(());
        }
        self.next_look_at_work = self.worked + between_looks;
        self.look()
    }

    /// Steps counted so far.
    pub(super) fn worked(&self) -> u64 {
        self.worked
    }

    /// The difference of two colors that may be compared, under the sample's conditions where
    /// adaptation is asked for.
    pub(super) fn difference(
        &mut self,
        standard: &Color,
        sample: &Color,
        formula: Formula,
    ) -> Result<f64> {
        let (standard, _) = self.adapter.meet(standard, sample)?;
        self.white_to_white(&standard, sample, formula)
    }

    /// The difference of two colors whatever their conditions.
    pub(super) fn white_to_white(
        &mut self,
        standard: &Color,
        sample: &Color,
        formula: Formula,
    ) -> Result<f64> {
        if self.calls >= self.next_look {
            self.look()?;
        }
        self.calls += 1;
        let pair = Pair { standard: standard.lab(), sample: sample.lab() };
        Ok(formula.delta_e(pair).value())
    }

    /// One search of the index, between two looks at the watch.
    pub(super) fn nearest<'c>(
        &mut self,
        catalog: &'c Catalog,
        standard: &Color,
        options: &NearestOptions,
    ) -> Result<Nearest<'c>> {
        self.look()?;
        let found = nearest(catalog, standard, options)?;
        self.calls += found.tally.formula_calls;
        Ok(found)
    }

    /// Tells how far a search is that does not make the mean difference small.
    pub(super) fn tell_part(&self, fraction: f64) {
        self.watch.progress(&Progress {
            fraction: fraction.clamp(0.0, 1.0),
            mean_difference: None,
            lower_bound: None,
        });
    }

    /// What is told from now on is how far a part of the whole work is.
    pub(super) fn between(&mut self, start: f64, end: f64) {
        self.part = (start, end);
    }

    /// Tells how far the search is.
    pub(super) fn tell(&self, fraction: f64, mean: f64, bound: Option<f64>) {
        self.watch.progress(&Progress {
            fraction: self.part.0 + fraction.clamp(0.0, 1.0) * (self.part.1 - self.part.0),
            mean_difference: Some(DeltaE::computed(mean)),
            lower_bound: bound.map(DeltaE::computed),
        });
    }
}
