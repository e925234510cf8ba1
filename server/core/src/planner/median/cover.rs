//! The fewest columns that serve every row. It does not look at costs.

mod shrink;

use super::ascent::{Ascent, Slope};
use super::branch;
use super::seats::Seats;
use super::{Effort, Pace, Problem};
use crate::error::Result;

/// How few columns serve every row.
#[derive(Clone, Debug)]
pub(in crate::planner) struct Cover {
    /// Columns that do, the fewest that were found; `None` when some row has none at all.
    pub(in crate::planner) open: Option<Vec<usize>>,
    /// How many these are.
    pub(in crate::planner) count: Option<usize>,
    /// Fewer than these are proved not to.
    pub(in crate::planner) at_least: usize,
}

/// Finds the fewest columns, locked ones included, that serve every row.
///
/// # Errors
///
/// What [`Pace::look`] returns.
pub(in crate::planner) fn fewest(
    problem: &Problem,
    effort: Effort,
    pace: &mut dyn Pace,
) -> Result<Cover> {
    let is_whole = problem.cells.is_whole();
    if (0..problem.cells.rows()).any(|row| problem.cells.row(row).next().is_none()) {
        let at_least = if is_whole { problem.cells.columns().saturating_add(1) } else { 0 };
        return Ok(Cover { open: None, count: None, at_least });
    }
    let shrunk = shrink::shrink(&problem.cells, &problem.locked, pace)?;
    let columns = shrunk.columns.len();
    let even = Problem {
        cells: shrunk.cells,
        prices: vec![1.0; columns],
        locked: vec![false; columns],
        most: columns,
        grain: 1.0,
    };
    let (chosen, bound) = fewest_of(&even, effort, pace)?;
    let chosen = chosen.iter().filter_map(|column| shrunk.columns.get(*column).copied());
    // Cells that no list holds might serve with fewer.
    let at_least = if is_whole { shrunk.open.len() + bound } else { 0 };
    let mut open = shrunk.open;
    open.extend(chosen);
    open.sort_unstable();
    Ok(Cover { count: Some(open.len()), open: Some(open), at_least })
}

/// The fewest columns of a question in which each costs 1, and how many they are at least.
fn fewest_of(even: &Problem, effort: Effort, pace: &mut dyn Pace) -> Result<(Vec<usize>, usize)> {
    if even.cells.rows() == 0 {
        return Ok((Vec::new(), 0));
    }
    let mut best = Seats::of(even, &[]);
    best.improve(None, effort.cells, pace)?;
    let mut ascent = Ascent::new(even, &best);
    let proved = ascent.climb(Slope::Root, &mut best, effort, pace)?
        || branch::look_at_all(&mut ascent, &mut best, effort, pace)?;
    let bound = ascent.bound;
    let (open, _) = best.into_parts();
    let at_least = if proved { open.len() } else { whole(bound).min(open.len()) };
    Ok((open, at_least))
}

/// The next whole number.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a bound on a count of columns lies between 0 and their number"
)]
fn whole(bound: f64) -> usize {
    (bound - 1e-6).ceil().max(0.0) as usize
}
