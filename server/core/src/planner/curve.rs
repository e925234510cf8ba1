//! The best palettes of every number of threads, from many down to few, each with its bound.
//! It does not know merges: a palette of one thread fewer may share few threads with the last one.

use super::case::{Candidate, Case, Wish};
use super::median::{Effort, Pace, Solution, Walk};
use super::meter::Meter;
use super::model::{Limits, Reduction};
use super::{CurvePoint, ReduceOptions, evidence, reduce};
use crate::difference::DeltaE;
use crate::error::Result;

/// What a whole curve is worth: one to two seconds of a core when it is long and hard.
const EFFORT: Effort = Effort { cells: 1_000_000_000, nodes: 20_000 };

/// How many times its even share of what is left one count may take.
const GENEROUS: u64 = 8;

/// Gap, relative to the mean, that counts as closed: the size of rounding.
pub(super) const CLOSED: f64 = 1e-9;

/// The points of a curve from `most` threads down, each count once.
///
/// # Errors
///
/// What [`Reduction::new`] and the meter return.
pub(super) fn points(
    case: &Case<'_, '_>,
    most: usize,
    meter: &mut Meter<'_>,
) -> Result<Vec<CurvePoint>> {
    let settled = case.settled_threads().len();
    let options = ReduceOptions::at_most(most.max(settled));
    let reduction = Reduction::new(case, &options, Limits::USUAL, meter)?;
    reduce::can_be_served(case, &reduction, &options, meter)?;
    let Reduction { problem, colors, threads, beside, .. } = reduction;
    let beside = beside.len();
    let scale = Scale { case, colors: &colors, threads: &threads, aside: Aside::of(case)? };
    let mut walk = Walk::new(problem);
    let mut points: Vec<CurvePoint> = Vec::new();
    while let Some(columns) = walk.next_most() {
        let done = 1.0 - fraction(columns, most);
        let aside = scale.aside.mean;
        let mut listened = Listened { meter: &mut *meter, aside, done };
        let effort = share(walk.visited, columns);
        let Some(found) = walk.next(effort, &mut listened)? else { break };
        let weighed = scale.weigh(found, meter)?;
        let top = most.max(settled);
        let first = points.last().map_or(top, |last| last.threads - 1);
        let last = found.open.len().min(columns) + beside;
        points.extend((last..=first).rev().map(|threads| CurvePoint { threads, ..weighed }));
    }
    agree(&mut points);
    Ok(points)
}

/// The effort of one count: a generous share of what is left.
fn share(visited: u64, counts: usize) -> Effort {
    let left = EFFORT.cells.saturating_sub(visited);
    let even = left / (counts.max(1) as u64);
    Effort { cells: even.saturating_mul(GENEROUS).min(left), ..EFFORT }
}

#[expect(clippy::cast_precision_loss, reason = "a palette has at most 4,096 colors")]
fn fraction(part: usize, whole: usize) -> f64 {
    part as f64 / whole.max(1) as f64
}

/// More threads never do worse, fewer never better: what is known of one count helps its neighbors.
fn agree(points: &mut [CurvePoint]) {
    let mut bound = DeltaE::default();
    for point in points.iter_mut() {
        if point.lower_bound.order(&bound).is_lt() {
            point.lower_bound = bound;
        }
        bound = point.lower_bound;
    }
    let mut best: Option<CurvePoint> = None;
    for point in points.iter_mut().rev() {
        if let Some(best) = best
            && best.mean_difference.order(&point.mean_difference).is_lt()
        {
            point.mean_difference = best.mean_difference;
            point.max_difference = best.max_difference;
        }
        best = Some(*point);
        close(point);
    }
}

/// Calls a point proved when its bound reaches it.
pub(super) fn close(point: &mut CurvePoint) {
    let mean = point.mean_difference.value();
    if point.lower_bound.value() >= mean * (1.0 - CLOSED) {
        point.lower_bound = point.mean_difference;
        point.proved_best = true;
    }
}

/// What keeps and answers settle.
struct Aside {
    mean: f64,
    max: f64,
}

impl Aside {
    fn of(case: &Case<'_, '_>) -> Result<Self> {
        let mut aside = Self { mean: 0.0, max: 0.0 };
        let colors = case.palette.colors().iter().enumerate().zip(case.weights());
        for (((place, color), weight), wish) in colors.zip(&case.wishes) {
            if let Wish::Fixed(threads) = wish {
                let mean = evidence::mean(&evidence::differences(case, place, color, threads)?);
                aside.mean += weight * mean;
                aside.max = aside.max.max(mean);
            }
        }
        Ok(aside)
    }
}

/// Weighs solutions as palettes.
struct Scale<'l, 'a, 'c> {
    case: &'l Case<'a, 'c>,
    colors: &'l [usize],
    threads: &'l [Candidate<'c>],
    aside: Aside,
}

impl Scale<'_, '_, '_> {
    /// Mean and largest difference, and the bound. The count is left to the caller.
    fn weigh(&self, found: &Solution, meter: &mut Meter<'_>) -> Result<CurvePoint> {
        let weights = self.case.weights();
        let (mut mean, mut max) = (self.aside.mean, self.aside.max);
        for (place, seat) in self.colors.iter().zip(&found.seats) {
            let difference = match self.threads.get(*seat) {
                Some(thread) => self.difference(*place, *thread, meter)?,
                None => self.nearest_open(*place, &found.open, meter)?,
            };
            mean += weights.get(*place).copied().unwrap_or(0.0) * difference;
            max = max.max(difference);
        }
        let bound = if found.proved { mean } else { (self.aside.mean + found.bound).min(mean) };
        Ok(CurvePoint {
            threads: 0,
            mean_difference: DeltaE::computed(mean),
            max_difference: DeltaE::computed(max),
            lower_bound: DeltaE::computed(bound),
            proved_best: found.proved,
        })
    }

    fn difference(
        &self,
        place: usize,
        thread: Candidate<'_>,
        meter: &mut Meter<'_>,
    ) -> Result<f64> {
        let Some(standard) = self.case.standards.get(place) else { return Ok(0.0) };
        meter.difference(standard, &thread.thread.color, self.case.ask.formula)
    }

    /// For a color that has no open thread in its list.
    fn nearest_open(&self, place: usize, open: &[usize], meter: &mut Meter<'_>) -> Result<f64> {
        let mut nearest = f64::INFINITY;
        for thread in open.iter().filter_map(|column| self.threads.get(*column)) {
            if !self.case.refuses(place, *thread) {
                nearest = nearest.min(self.difference(place, *thread, meter)?);
            }
        }
        Ok(nearest)
    }
}

/// Hears the walk on behalf of the one who waits.
struct Listened<'l, 'w> {
    meter: &'l mut Meter<'w>,
    aside: f64,
    /// Part of the counts that are done.
    done: f64,
}

impl Pace for Listened<'_, '_> {
    fn look(&mut self) -> Result<()> {
        self.meter.look()
    }

    fn tell(&mut self, _: f64, total: f64, bound: Option<f64>) {
        self.meter.tell(self.done, self.aside + total, bound.map(|bound| self.aside + bound));
    }
}
