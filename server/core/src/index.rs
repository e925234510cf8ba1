//! The k-d tree over one table's colors and the search that makes its answers exact.
//! It does not know threads: it sees rows of colors, and is the only file that names kiddo.
//!
//! CIEDE2000 is not a metric, so nearness in the tree orders the work and never decides an answer:
//!
//! 1. the colors nearest in CIELAB are scored; the k-th best score is the reach,
//! 2. no color outside a ball around the standard can be within reach (`bound`), so the tree lists
//!    those inside it,
//! 3. each of them gets a lower bound; those that stay under the reach are scored, lowest bound
//!    first, and the reach shrinks with each better one.
//!
//! Every score is the formula's own. Equal CIELAB values are one point with several rows.

mod bound;
mod hue;

use std::cmp::Ordering;
use std::collections::HashMap;
use std::num::NonZero;

use kiddo::{ImmutableKdTree, SquaredEuclidean};

use crate::color::Lab;
use crate::difference::{DeltaE, Formula, Pair};
use crate::error::{Error, ErrorKind, Result};
use crate::watch::Watch;
use bound::{Bound, Extent, with_room};

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

/// One question to an index.
pub(crate) struct Ask<'a> {
    /// The color asked for.
    pub(crate) standard: Lab,
    /// Most rows to answer.
    pub(crate) count: usize,
    /// The formula that ranks.
    pub(crate) formula: Formula,
    /// Rows beyond it are of no interest, but for the nearest one.
    pub(crate) limit: Option<DeltaE>,
    /// Which rows may answer.
    pub(crate) admit: &'a dyn Fn(usize) -> bool,
    /// Who waits.
    pub(crate) watch: &'a dyn Watch,
}

/// Colors below which a plain pass beats the tree.
const SMALL: usize = 48;

/// Colors scored beyond those asked for before the reach is taken: a smaller ball pays for them.
const SPARE: usize = 2;

/// Formula calls between two looks at the watch.
const POLL: u64 = 256;

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
            let place = *places.entry(point(color).map(f64::to_bits)).or_insert_with(|| {
                distinct.push(color);
                grouped.push(Vec::new());
                distinct.len() - 1
            });
            if let Some(group) = grouped.get_mut(place) {
                group.push(row);
            }
        }
        let points: Vec<[f64; 3]> = distinct.iter().copied().map(point).collect();
        let mut starts = vec![0];
        starts.extend(grouped.iter().scan(0, |end, group| {
            *end += group.len();
            Some(*end)
        }));
        // The tree refuses more points than a u32 counts; a pass over all is exact as well.
        let tree =
            if points.len() < SMALL { None } else { ImmutableKdTree::new_from_slice(&points).ok() };
        let extent = Extent::of(&points);
        Self { points, colors: distinct, rows: grouped.concat(), starts, extent, tree }
    }

    /// The rows nearest to the standard among those admitted, exact for the formula, ordered by
    /// difference, then by row. With a limit, rows beyond it may be missing but for the nearest.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Stopped`] when the one who waits no longer does.
    pub(crate) fn nearest(&self, ask: &Ask<'_>, tally: &mut Tally) -> Result<Vec<Hit>> {
        if self.points.is_empty() || ask.count == 0 {
            return Ok(Vec::new());
        }
        Search { index: self, ask, tally, best: Vec::new(), scored: Vec::new() }.run()
    }

    fn rows_of(&self, place: u32) -> &[u32] {
        let place = place as usize;
        let from = self.starts.get(place).copied().unwrap_or(0);
        let to = self.starts.get(place + 1).copied().unwrap_or(from);
        self.rows.get(from..to).unwrap_or(&[])
    }

    /// The `count` colors nearest in CIELAB.
    fn near(&self, standard: [f64; 3], count: usize) -> Vec<u32> {
        let Some(tree) = &self.tree else {
            return self.near_by_pass(standard, count);
        };
        let Some(count) = NonZero::new(count) else {
            return Vec::new();
        };
        tree.query(&standard)
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

    /// Shows each color within a squared CIELAB radius.
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
                .query(&standard)
                .within::<SquaredEuclidean<f64>>(radius_squared)
                .unsorted()
                .visit(|found| show(found.item)),
            None => (0..).take(self.points.len()).for_each(show),
        }
    }
}

fn point(color: Lab) -> [f64; 3] {
    [color.l(), color.a(), color.b()]
}

fn squared(one: [f64; 3], other: [f64; 3]) -> f64 {
    one.iter().zip(other).map(|(left, right)| (left - right) * (left - right)).sum()
}

/// A search under way.
struct Search<'s, 'a> {
    index: &'s LabIndex,
    ask: &'s Ask<'a>,
    tally: &'s mut Tally,
    /// The best rows so far, in order, at most as many as asked for.
    best: Vec<Hit>,
    /// Colors that are scored or rejected already, ascending.
    scored: Vec<u32>,
}

impl Search<'_, '_> {
    fn run(mut self) -> Result<Vec<Hit>> {
        let total = self.index.points.len();
        let wanted = if self.ask.limit.is_some() { 1 } else { self.ask.count };
        let mut seeds = wanted.saturating_add(SPARE).min(total);
        loop {
            self.seed(seeds)?;
            match self.reach() {
                Some(reach) => {
                    self.sweep(reach)?;
                    return Ok(self.best);
                }
                None if seeds == total => return Ok(self.best),
                // A filter rejected the near ones: look farther.
                None => seeds = seeds.saturating_mul(8).min(total),
            }
        }
    }

    /// Largest difference that can still matter, once enough rows are known.
    fn reach(&self) -> Option<f64> {
        let full = self.best.len() >= self.ask.count;
        let last = self.best.last().filter(|_| full).map(|hit| hit.delta_e.value());
        let limited = self
            .ask
            .limit
            .and_then(|limit| self.best.first().map(|hit| limit.value().max(hit.delta_e.value())));
        match (last, limited) {
            (Some(last), Some(limited)) => Some(last.min(limited)),
            (one, other) => one.or(other),
        }
    }

    fn cut(&self) -> f64 {
        self.reach().map_or(f64::INFINITY, |reach| with_room(reach * reach))
    }

    fn seed(&mut self, count: usize) -> Result<()> {
        let before = std::mem::take(&mut self.scored);
        let near = self.index.near(point(self.ask.standard), count);
        for place in &near {
            if before.binary_search(place).is_err() {
                self.offer(*place)?;
            }
        }
        self.scored = near;
        self.scored.extend(before);
        self.scored.sort_unstable();
        Ok(())
    }

    fn sweep(&mut self, reach: f64) -> Result<()> {
        let mut open: Vec<(f64, u32)> = Vec::new();
        let mut looked = 0;
        let standard = point(self.ask.standard);
        let cut = self.cut();
        match self.ask.formula {
            Formula::Cie76 => self.index.within(standard, cut, |place, at| {
                looked += 1;
                open.push((squared(standard, at), place));
            }),
            Formula::Ciede2000(factors) => {
                let bound = Bound::new(self.ask.standard, factors, &self.index.extent, reach);
                self.index.within(standard, bound.radius_squared(), |place, at| {
                    looked += 1;
                    open.extend(bound.least(at, cut).map(|least| (least, place)));
                });
            }
        }
        self.tally.bound_calls += looked;
        self.score(open)
    }

    /// Scores colors in the order of their lower bounds until none can be within reach.
    fn score(&mut self, mut open: Vec<(f64, u32)>) -> Result<()> {
        open.sort_unstable_by(|left, right| left.0.total_cmp(&right.0));
        for (least, place) in open {
            if least > self.cut() {
                break;
            }
            if self.scored.binary_search(&place).is_err() {
                self.offer(place)?;
            }
        }
        Ok(())
    }

    /// Scores a color for its admitted rows.
    fn offer(&mut self, place: u32) -> Result<()> {
        let index = self.index;
        let admit = self.ask.admit;
        let mut rows = index
            .rows_of(place)
            .iter()
            .map(|row| *row as usize)
            .filter(|row| admit(*row))
            .peekable();
        let Some(sample) = index.colors.get(place as usize).filter(|_| rows.peek().is_some())
        else {
            return Ok(());
        };
        if self.tally.formula_calls.is_multiple_of(POLL) && self.ask.watch.stopped() {
            return Err(Error::new(ErrorKind::Stopped));
        }
        self.tally.formula_calls += 1;
        let pair = Pair { standard: self.ask.standard, sample: *sample };
        let delta_e = self.ask.formula.delta_e(pair);
        for row in rows {
            if !self.keep(Hit { row, delta_e }) {
                break;
            }
        }
        Ok(())
    }

    /// Puts a hit in its place; false when it and all later rows of its color are too late.
    fn keep(&mut self, hit: Hit) -> bool {
        let place = self.best.partition_point(|held| held.order(&hit).is_lt());
        if place >= self.ask.count {
            return false;
        }
        self.best.truncate(self.ask.count - 1);
        self.best.insert(place, hit);
        true
    }
}

#[cfg(test)]
mod tests;
