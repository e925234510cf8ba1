//! The fewest columns that serve every row. It does not look at costs.

use super::ascent::Ascent;
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
    let columns = problem.cells.columns();
    let even = Problem {
        cells: problem.cells.free_of_cost(),
        prices: vec![1.0; columns],
        locked: problem.locked.clone(),
        most: columns,
        grain: 1.0,
    };
    let mut best = Seats::of(&even, &[]);
    best.improve(None, effort.cells, pace)?;
    if !best.serves_all() {
        return Ok(Cover { open: None, count: None, at_least: columns.saturating_add(1) });
    }
    let mut ascent = Ascent::new(&even, &best);
    let proved = ascent.climb(&mut best, effort, pace)?
        || branch::look_at_all(&mut ascent, &mut best, effort, pace)?;
    let bound = ascent.bound;
    let (open, _) = best.into_parts();
    let at_least = if proved { open.len() } else { whole(bound).min(open.len()) };
    Ok(Cover { count: Some(open.len()), open: Some(open), at_least })
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
