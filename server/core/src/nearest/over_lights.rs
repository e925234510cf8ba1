//! Threads ranked by their largest difference under several lights, from spectra: least worst first.
//! It does not know the ranking by listed colors.
//!
//! Exact by a pass over all threads. A thread is given up as soon as one light shows it farther than
//! the last one that is kept.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use super::{MAX_MORE_AS_NEAR, Match, Question};
use crate::catalog::CatalogTable;
use crate::color::{Conditions, Lab};
use crate::difference::{DeltaE, Formula};
use crate::error::{ErrorKind, Result};
use crate::spectrum::{Lights, Seen, Spectra, no_spectrum, over_lights, worst_below};
use crate::watch::Watch;

/// Rows between two looks at the watch.
const ROWS_BETWEEN_LOOKS: usize = 1_024;

/// Threads in their order, and how many could not be ranked.
pub(super) struct Ranked<'c> {
    pub(super) found: Vec<Match<'c>>,
    pub(super) left_out: usize,
}

/// A row with its largest difference, by its table's place in the question.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Place {
    delta_e: DeltaE,
    table: usize,
    row: usize,
    /// The place of the light under which it is so large.
    light: usize,
}

impl Eq for Place {}

impl PartialOrd for Place {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Place {
    /// Tables are in the order of their ids, rows in that of their codes.
    fn cmp(&self, other: &Self) -> Ordering {
        let by_difference = self.delta_e.order(&other.delta_e);
        by_difference.then((self.table, self.row).cmp(&(other.table, other.row)))
    }
}

/// The best rows so far.
struct Best {
    heap: BinaryHeap<Place>,
    count: usize,
    left_out: usize,
}

impl Best {
    /// What a row may differ by at most to be kept.
    fn least(&self) -> f64 {
        let last = self.heap.peek().filter(|_| self.heap.len() >= self.count);
        last.map_or(f64::INFINITY, |last| last.delta_e.value())
    }

    fn keep(&mut self, place: Place) {
        self.heap.push(place);
        if self.heap.len() > self.count {
            self.heap.pop();
        }
    }

    /// Looks at all rows of a table.
    fn pass(
        &mut self,
        (table, held): (usize, &CatalogTable),
        (standard, conditions): (&[Lab], &[Conditions]),
        formula: Formula,
        admit: &dyn Fn(usize) -> bool,
        watch: &dyn Watch,
    ) -> Result<()> {
        let sights: Vec<_> = conditions.iter().map(|light| held.seen_under(*light)).collect();
        for row in 0..held.table().threads().len() {
            if row % ROWS_BETWEEN_LOOKS == 0 && watch.stopped() {
                return Err(ErrorKind::Stopped.into());
            }
            if !admit(row) {
                continue;
            }
            let seen = || sights.iter().map(|sight| sight.get(row).copied().flatten());
            if seen().any(|lab| lab.is_none()) {
                self.left_out += 1;
                continue;
            }
            if let Some((light, delta_e)) = worst_below(standard, seen(), formula, self.least()) {
                self.keep(Place { delta_e, table, row, light });
            }
        }
        Ok(())
    }
}

/// The best of all tables, least worst first.
///
/// # Errors
///
/// [`ErrorKind::BadValue`] for a standard without a spectrum, [`ErrorKind::BadColor`] for one that
/// is too bright under one of the lights, [`ErrorKind::Stopped`].
pub(super) fn rank<'c>(
    question: &Question<'c, '_>,
    standard: Seen<'_>,
    lights: &Lights,
) -> Result<Ranked<'c>> {
    let options = question.options;
    let spectrum =
        standard.spectrum.ok_or_else(|| no_spectrum("the color asked for has", lights))?;
    let observer = standard.color.conditions().observer;
    let conditions: Vec<Conditions> = lights.conditions(observer).collect();
    let labs: Vec<Lab> = conditions.iter().map(|at| spectrum.lab(*at)).collect::<Result<_>>()?;
    let more = if options.count_as_near { MAX_MORE_AS_NEAR } else { 0 };
    let mut best = Best { heap: BinaryHeap::new(), count: options.count + more, left_out: 0 };
    for (place, held) in question.tables.iter().copied().enumerate() {
        let admit = |row: usize| {
            let thread = held.thread_at(row);
            thread.is_some_and(|thread| options.filter.admits(held.table().id(), thread))
        };
        let seen = (labs.as_slice(), conditions.as_slice());
        best.pass((place, held), seen, options.formula, &admit, question.watch)?;
    }
    let left_out = best.left_out;
    let mut found = Vec::with_capacity(best.heap.len());
    for place in best.heap.into_sorted_vec() {
        let Some(held) = question.tables.get(place.table).copied() else { continue };
        let Some(thread) = held.thread_at(place.row) else { continue };
        let (Some(sample), Some(at)) = (&thread.spectrum, conditions.get(place.light)) else {
            continue;
        };
        let pair = Spectra { standard: spectrum, sample };
        let difference = pair.difference(*at, options.formula)?;
        found.push(Match { table: held, thread, difference, as_near: false, over_lights: None });
    }
    Ok(Ranked { found, left_out })
}

/// Says how each match holds under the lights asked for, or the usual ones, where spectra tell.
///
/// A pair that is too bright under one of them is not told.
pub(super) fn tell(
    standard: Seen<'_>,
    lights: Option<&Lights>,
    matches: &mut [Match<'_>],
    formula: Formula,
) {
    let Some(spectrum) = standard.spectrum else { return };
    let usual = Lights::usual();
    let observer = standard.color.conditions().observer;
    for hit in matches {
        let Some(sample) = &hit.thread.spectrum else { continue };
        let pair = Spectra { standard: spectrum, sample };
        let found = over_lights(pair, lights.unwrap_or(&usual), observer, formula).ok();
        let found = if lights.is_some() {
            found.map(crate::spectrum::OverLights::as_ranked)
        } else {
            found
        };
        hit.over_lights = found.map(Box::new);
    }
}
