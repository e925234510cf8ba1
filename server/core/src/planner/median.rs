//! The weighted p-median with prices: open few columns, join every row to one, at the least total,
//! with a proof of how good that is. It does not know what rows and columns stand for.
//!
//! A row is something to be served, a column something that can serve and may have a price. At most
//! so many columns may be open; locked ones always are. A cell that is not listed cannot be used.
//! The search is greedy additions, then swaps, additions and drops ([`seats`]); the proof is a
//! Lagrangian bound with columns fixed by their reduced costs ([`ascent`]) and a branch and bound
//! over what is left ([`branch`]). A [`Walk`] solves for one number of columns after another. Effort
//! is counted in cells, never by a clock: one problem has one answer.

mod ascent;
mod branch;
mod cells;
mod cover;
mod seats;
mod walk;

pub(super) use ascent::{State, set};
pub(super) use cells::{Beyond, Cells};
pub(super) use cover::fewest;
pub(super) use walk::Walk;

use crate::error::Result;
use ascent::{Ascent, Slope};
use seats::Seats;

/// Gap, relative to the best total, that counts as closed: the size of rounding.
const CLOSED: f64 = 1e-9;

/// What may be opened and what it costs.
#[derive(Clone, Debug)]
pub(super) struct Problem {
    /// What each row pays for each column.
    pub(super) cells: Cells,
    /// What each column costs once open, 0 or more.
    pub(super) prices: Vec<f64>,
    /// Columns that are open whatever they cost.
    pub(super) locked: Vec<bool>,
    /// Most open columns, locked ones included.
    pub(super) most: usize,
    /// Every total is a multiple of this; 0 when that is not known.
    pub(super) grain: f64,
}

/// How much work an answer is worth.
#[derive(Clone, Copy, Debug)]
pub(super) struct Effort {
    /// Cells that may be visited.
    pub(super) cells: u64,
    /// Parts of the choices that the branch and bound may look at.
    pub(super) nodes: u32,
}

/// The best choice that was found and how good it is.
#[derive(Clone, Debug)]
pub(super) struct Solution {
    /// Open columns, in order.
    pub(super) open: Vec<usize>,
    /// The column that serves each row: the cheapest open one, the first of equals.
    pub(super) seats: Vec<usize>,
    /// What rows and open columns cost together.
    pub(super) total: f64,
    /// No choice has a smaller total.
    pub(super) bound: f64,
    /// The bound is reached.
    pub(super) proved: bool,
    /// What each row would pay at most, where a Lagrangian bound was climbed to.
    pub(super) multipliers: Vec<f64>,
}

/// What became of a problem.
#[derive(Clone, Debug)]
pub(super) enum Outcome {
    /// A choice that serves every row.
    Found(Solution),
    /// No choice serves every row.
    Impossible {
        /// The fewest columns that serve every row, as far as is known.
        fewest: Option<usize>,
        /// Fewer columns than these are proved not to.
        at_least: usize,
    },
}

/// The one who waits for an answer.
pub(super) trait Pace {
    /// Gives up when the answer is no longer wanted. Asked at least once per pass over the cells.
    ///
    /// # Errors
    ///
    /// [`crate::ErrorKind::Stopped`] when it is not.
    fn look(&mut self) -> Result<()>;

    /// Hears how far the work is: its part of the effort, the best total, the bound.
    fn tell(&mut self, part: f64, total: f64, bound: Option<f64>);
}

/// Solves a problem as well as the effort allows.
///
/// # Errors
///
/// What [`Pace::look`] returns.
pub(super) fn solve(problem: &Problem, effort: Effort, pace: &mut dyn Pace) -> Result<Outcome> {
    solve_from(problem, &[], effort, pace)
}

/// The same, where columns are known already that serve every row.
pub(super) fn solve_from(
    problem: &Problem,
    known: &[usize],
    effort: Effort,
    pace: &mut dyn Pace,
) -> Result<Outcome> {
    let mut best = Seats::of(problem, known);
    if problem.cells.rows() == 0 {
        return Ok(Outcome::Found(best.into_proved()));
    }
    best.improve(None, effort.cells, pace)?;
    if !known.is_empty() {
        let mut other = Seats::of(problem, &[]);
        other.improve(None, effort.cells, pace)?;
        if other.serves_all() && other.total() < best.total() {
            best = other;
        }
    }
    if !best.serves_all() {
        let cover = fewest(problem, effort, pace)?;
        let found = cover.open.filter(|open| open.len() <= problem.most);
        let Some(open) = found else {
            let fewest = cover.count;
            return Ok(Outcome::Impossible { fewest, at_least: cover.at_least });
        };
        best = Seats::of(problem, &open);
        best.improve(None, effort.cells, pace)?;
    }
    pace.tell(0.0, best.total(), None);
    let mut ascent = Ascent::new(problem, &best);
    let climbed = ascent.climb(Slope::Root, &mut best, effort, pace)?;
    let multipliers = ascent.best_multipliers.clone();
    let proved = climbed || branch::look_at_all(&mut ascent, &mut best, effort, pace)?;
    Ok(Outcome::Found(best.into_solution(proved, ascent.bound, multipliers)))
}

#[cfg(test)]
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::float_cmp,
    reason = "tests cast small numbers, and published optima are whole"
)]
mod tests;
