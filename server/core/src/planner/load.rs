//! Medians whose columns are not boundless: what a column can serve is limited, and what it costs
//! grows in steps with what it serves. Each row joins one column whole.
//!
//! Where the limits and steps do not bite, the answer is the one of [`super::median`], which is asked
//! first. Otherwise [`plan`] searches by moving, exchanging and relabeling, [`climb`] bounds from
//! below by a Lagrangian whose columns are knapsacks, and [`parts`] splits what is left. Effort is
//! counted in cells and parts, never by a clock. It does not know what rows and columns stand for.

mod climb;
mod column;
mod knapsack;
mod parts;
mod plan;

pub(super) use column::Column;

use super::median::{self, Cells, Effort, Pace};
use crate::error::Result;
use climb::Climb;
use plan::Plan;

/// Gap, relative to the best total, that counts as closed: the size of rounding.
const CLOSED: f64 = 1e-9;

/// Parts of the choices that are looked at: each costs dozens of passes over the cells.
const PARTS: u32 = 4_000;

/// What may be opened, what it costs, and how much it serves.
#[derive(Clone, Debug)]
pub(super) struct Problem {
    /// What each row pays for each column; every list is whole.
    pub(super) cells: Cells,
    /// How much each row takes of its column, more than 0.
    pub(super) weights: Vec<f64>,
    /// The columns.
    pub(super) columns: Vec<Column>,
    /// Most open columns, locked ones included.
    pub(super) most: usize,
    /// Every total is a multiple of this; 0 when that is not known.
    pub(super) grain: f64,
}

impl Problem {
    /// What a column costs when rows join these columns.
    pub(super) fn price(&self, column: usize, columns: &[usize]) -> f64 {
        let rows = columns.iter().zip(&self.weights).filter(|(joined, _)| **joined == column);
        let load = rows.map(|(_, weight)| weight).sum();
        self.columns.get(column).map_or(0.0, |known| known.price(load))
    }
}

/// The best choice that was found and how good it is.
#[derive(Clone, Debug)]
pub(super) struct Found {
    /// The column of each row.
    pub(super) seats: Vec<usize>,
    /// Open columns, in order.
    pub(super) open: Vec<usize>,
    /// What rows and open columns cost together.
    pub(super) total: f64,
    /// No choice has a smaller total.
    pub(super) bound: f64,
    /// The bound is reached.
    pub(super) proved: bool,
}

/// What became of a problem.
#[derive(Clone, Debug)]
pub(super) enum Outcome {
    /// A choice that serves every row within what the columns hold.
    Found(Found),
    /// None was found.
    Nothing {
        /// It is proved that there is none.
        proved: bool,
    },
}

/// Rows that lose something by where others sit.
pub(super) trait Pull {
    /// What a row loses in a column while the others sit like this, 0 or more; what two rows lose
    /// beside each other is the same from both sides. A seat of no column takes no part.
    fn lost(&self, row: usize, column: usize, seats: &[usize]) -> f64;

    /// All rows together never lose more.
    fn most(&self) -> f64;
}

/// What each row of a choice pays, with its share of its column's price.
pub(super) fn payments(problem: &Problem, seats: &[usize]) -> Vec<f64> {
    Plan::seated(problem, seats).payments()
}

/// Moves the rows of a choice that fits about, so that they lose less beside each other; returns their
/// columns and the total, what they lose included.
///
/// # Errors
///
/// What [`Pace::look`] returns.
pub(super) fn keep_apart(
    problem: &Problem,
    seats: &[usize],
    pull: &dyn Pull,
    pace: &mut dyn Pace,
) -> Result<(Vec<usize>, f64)> {
    let mut plan = Plan::seated(problem, seats).pulled(pull);
    plan.improve(pace)?;
    Ok((plan.seats().to_vec(), plan.total()))
}

/// Solves a problem as well as the effort allows.
///
/// # Errors
///
/// What [`Pace::look`] returns.
pub(super) fn solve(problem: &Problem, effort: Effort, pace: &mut dyn Pace) -> Result<Outcome> {
    let problem = &fitting(problem);
    let relaxed = relaxed(problem);
    let (mut best, floor) = match median::solve(&relaxed, effort, pace)? {
        median::Outcome::Found(solution) => {
            let plan = Plan::seated(problem, &solution.seats);
            if solution.proved && plan.fits() && reaches(plan.total(), solution.bound) {
                return Ok(Outcome::Found(found(&plan, plan.total())));
            }
            (Plan::in_columns(problem, &solution.open), solution.bound)
        }
        median::Outcome::Impossible { at_least, .. } if at_least > problem.most => {
            return Ok(Outcome::Nothing { proved: true });
        }
        median::Outcome::Impossible { fewest: _, at_least: _ } => {
            (Plan::in_columns(problem, &[]), 0.0)
        }
    };
    best.improve(pace)?;
    let mut climb = Climb::new(problem, &best, floor);
    let proved = climb.climb(&mut best, effort, pace)?
        || parts::look_at_all(&mut climb, &mut best, effort, pace)?;
    if !best.fits() {
        return Ok(Outcome::Nothing { proved });
    }
    let bound = if proved { best.total() } else { climb.bound.min(best.total()) };
    Ok(Outcome::Found(found(&best, bound)))
}

/// The same without cells of columns that have no room for the row.
fn fitting(problem: &Problem) -> Problem {
    let has_room = |row: usize, column: usize| {
        let weight = problem.weights.get(row).copied().unwrap_or(0.0);
        let room = problem.columns.get(column).map_or(0.0, Column::room);
        weight <= room * (1.0 + CLOSED)
    };
    Problem { cells: problem.cells.only(has_room), ..problem.clone() }
}

fn found(plan: &Plan<'_>, bound: f64) -> Found {
    let total = plan.total();
    Found {
        seats: plan.seats().to_vec(),
        open: plan.open(),
        total,
        bound: bound.min(total),
        proved: reaches(total, bound),
    }
}

fn reaches(total: f64, bound: f64) -> bool {
    bound >= total - CLOSED * total.abs()
}

/// The same without limits, at what each column costs at least once it serves anything.
pub(super) fn relaxed(problem: &Problem) -> median::Problem {
    let mut least = vec![f64::INFINITY; problem.columns.len()];
    for (row, weight) in problem.weights.iter().enumerate() {
        for (_, column) in problem.cells.row(row) {
            if let Some(least) = least.get_mut(column) {
                *least = weight.min(*least);
            }
        }
    }
    let price = |(column, least): (&Column, f64)| {
        let load = if column.locked || least.is_infinite() { 0.0 } else { least };
        column.price(load)
    };
    median::Problem {
        cells: problem.cells.clone(),
        prices: problem.columns.iter().zip(least).map(price).collect(),
        locked: problem.columns.iter().map(|column| column.locked).collect(),
        most: problem.most,
        grain: 0.0,
    }
}

#[cfg(test)]
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    reason = "tests cast small numbers"
)]
mod tests;
