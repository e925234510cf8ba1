//! The k-d tree over one table's colors and the search that makes its answers exact.
//! It does not know threads: it sees rows of colors, and is the only file that names kiddo.
//!
//! Most formulas are no metrics in CIELAB, so nearness in the tree orders the work and never decides
//! an answer:
//!
//! 1. the colors nearest in CIELAB are scored; the k-th best score is the reach,
//! 2. no color outside a ball around the standard can be within reach, so the tree lists
//!    those inside it,
//! 3. each of them gets a lower bound; those that stay under the reach are scored, lowest bound
//!    first, and the reach shrinks with each better one.
//!
//! For CIEDE2000 the ball and the bound come from `bound`, then `tight`; for every other formula from
//! `direct`, where the bound is the formula's own square.
//!
//! Every score is the formula's own. Equal CIELAB values are one point with several rows.

mod around;
mod bound;
mod direct;
mod hue;
mod search;
mod tight;

use std::cmp::Ordering;
use std::collections::HashMap;
use std::num::NonZero;

use kiddo::{ImmutableKdTree, SquaredEuclidean};

use crate::color::Lab;
use crate::difference::DeltaE;
use crate::error::Result;
pub(crate) use around::{Around, Quadratic};
use bound::Extent;
pub(crate) use bound::with_room;
use search::Search;
pub(crate) use search::{Ask, More};

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

impl Hit {
    /// Difference, then row.
    fn order(&self, other: &Self) -> Ordering {
        self.delta_e.order(&other.delta_e).then(self.row.cmp(&other.row))
    }
}

/// Colors below which a plain pass beats the tree.
const SMALL: usize = 48;

/// The tree holds L* times this. A unit of L* weighs more than one of a* or b* for all but neutral
/// colors, so a ball around the standard then holds fewer colors that a bound must rule out.
/// House choice: 1 and 1.5 gave more bounds and longer searches on random screen colors.
const STRETCH: f64 = 2.0;

/// An immutable search structure over rows of colors.
#[derive(Debug)]
pub(crate) struct LabIndex {
    /// The different colors.
    points: Vec<[f64; 3]>,
    colors: Vec<Lab>,
    /// Rows of each color, ascending, one color after the other.
    rows: Vec<u32>,
    /// Where the rows of a color start; one entry more than colors.
    starts: Vec<usize>,
    extent: Extent,
    /// None for few colors, which are passed over one by one.
    tree: Option<ImmutableKdTree<f64, 3>>,
}

impl LabIndex {
    /// Builds the index; row numbers follow the order of the colors.
    pub(crate) fn build(colors: impl Iterator<Item = Lab>) -> Self {
        let mut places: HashMap<[u64; 3], usize> = HashMap::new();
        let mut distinct: Vec<Lab> = Vec::new();
        let mut grouped: Vec<Vec<u32>> = Vec::new();
        for (row, color) in (0_u32..).zip(colors) {
            let place = *places.entry(color.components().map(f64::to_bits)).or_insert_with(|| {
                distinct.push(color);
                grouped.push(Vec::new());
                distinct.len() - 1
            });
            if let Some(group) = grouped.get_mut(place) {
                group.push(row);
            }
        }
        let points: Vec<[f64; 3]> = distinct.iter().copied().map(Lab::components).collect();
        let mut starts = vec![0];
        starts.extend(grouped.iter().scan(0, |end, group| {
            *end += group.len();
            Some(*end)
        }));
        // The tree refuses more points than a u32 counts; a pass over all is exact as well.
        let tree = if points.len() < SMALL {
            None
        } else {
            let places: Vec<[f64; 3]> = points.iter().copied().map(stretched).collect();
            ImmutableKdTree::new_from_slice(&places).ok()
        };
        let extent = Extent::of(&points);
        Self { points, colors: distinct, rows: grouped.concat(), starts, extent, tree }
    }

    /// The rows nearest to the standard among those admitted, exact for the formula, ordered by
    /// difference, then by row. With a limit, rows beyond it may be missing but for the nearest.
    ///
    /// # Errors
    ///
    /// [`crate::ErrorKind::Stopped`] when the one who waits no longer does.
    pub(crate) fn nearest(&self, ask: &Ask<'_>, tally: &mut Tally) -> Result<Vec<Hit>> {
        if self.points.is_empty() || ask.count == 0 {
            return Ok(Vec::new());
        }
        Search::new(self, ask, tally).run()
    }

    fn rows_of(&self, place: u32) -> &[u32] {
        let place = place as usize;
        let from = self.starts.get(place).copied().unwrap_or(0);
        let to = self.starts.get(place + 1).copied().unwrap_or(from);
        self.rows.get(from..to).unwrap_or(&[])
    }

    /// About the `count` colors nearest in CIELAB, in no order.
    fn near(&self, standard: [f64; 3], count: usize) -> Vec<u32> {
        let Some(tree) = &self.tree else {
            return self.near_by_pass(standard, count);
        };
        let Some(count) = NonZero::new(count) else {
            return Vec::new();
        };
        tree.query(&stretched(standard))
            .nearest_n::<SquaredEuclidean<f64>>(count)
            .execute()
            .into_iter()
            .map(|found| found.item)
            .collect()
    }

    fn near_by_pass(&self, standard: [f64; 3], count: usize) -> Vec<u32> {
        let mut all: Vec<(f64, u32)> = self
            .points
            .iter()
            .zip(0..)
            .map(|(at, place)| (squared(standard, *at), place))
            .collect();
        if count < all.len() {
            all.select_nth_unstable_by(count, |left, right| left.0.total_cmp(&right.0));
            all.truncate(count);
        }
        all.into_iter().map(|(_, place)| place).collect()
    }

    /// Shows each color within a squared radius of the stretched space, and perhaps others.
    fn within(
        &self,
        standard: [f64; 3],
        radius_squared: f64,
        mut visit: impl FnMut(u32, [f64; 3]),
    ) {
        let mut show = |place: u32| {
            if let Some(at) = self.points.get(place as usize) {
                visit(place, *at);
            }
        };
        match &self.tree {
            Some(tree) => tree
                .query(&stretched(standard))
                .within::<SquaredEuclidean<f64>>(radius_squared)
                .unsorted()
                .visit(|found| show(found.item)),
            None => (0..).take(self.points.len()).for_each(show),
        }
    }
}

/// Where the tree holds a color.
fn stretched([l, a, b]: [f64; 3]) -> [f64; 3] {
    [STRETCH * l, a, b]
}

fn squared(one: [f64; 3], other: [f64; 3]) -> f64 {
    one.iter().zip(other).map(|(left, right)| (left - right) * (left - right)).sum()
}

#[cfg(test)]
mod tests;
