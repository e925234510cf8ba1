//! The k-d tree over one table's colors and the bounds that make its answers exact.
//! It does not know threads: it sees rows of colors, and is the only file that names kiddo.

use crate::color::Lab;
use crate::difference::{DeltaE, Formula, Pair};

/// How much work searches did, for tests that assert work where time cannot be asserted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Formula evaluations.
    pub formula_calls: u64,
    /// Evaluations of a lower bound on a color.
    pub bound_calls: u64,
}

/// A row of the table with its exact difference to the color asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Hit {
    pub(crate) row: usize,
    pub(crate) delta_e: DeltaE,
}

/// An immutable search structure over rows of colors.
#[derive(Debug)]
pub(crate) struct LabIndex {
    colors: Vec<Lab>,
}

impl LabIndex {
    /// Builds the index; row numbers follow the order of the colors.
    pub(crate) fn build(colors: impl Iterator<Item = Lab>) -> Self {
        Self { colors: colors.collect() }
    }

    /// The `count` rows nearest to the standard among those admitted, exact for the formula,
    /// ordered by difference, then by row.
    pub(crate) fn nearest(
        &self,
        standard: Lab,
        count: usize,
        formula: Formula,
        admit: &dyn Fn(usize) -> bool,
        tally: &mut Tally,
    ) -> Vec<Hit> {
        let mut hits: Vec<Hit> = Vec::new();
        for (row, sample) in self.colors.iter().enumerate().filter(|(row, _)| admit(*row)) {
            tally.formula_calls += 1;
            let delta_e = formula.delta_e(Pair { standard, sample: *sample });
            hits.push(Hit { row, delta_e });
        }
        hits.sort_by(|left, right| {
            left.delta_e.order(&right.delta_e).then(left.row.cmp(&right.row))
        });
        hits.truncate(count);
        hits
    }
}
