//! Threads of which there is only so much, or that cost money by the skein: the choice, or why there is
//! none. It does not know how it is searched.

use super::amounts::Amounts;
use super::{Counted, EFFORT, Listened, ReduceOptions};
use crate::error::{Error, ErrorKind, Result};
use crate::planner::case::Case;
use crate::planner::load::{self, Column, Found, Outcome, Problem};
use crate::planner::median::{Effort, Solution};
use crate::planner::model::Reduction;

/// A choice by stitches alone.
pub(super) struct Answer {
    pub(super) solution: Solution,
    /// The fewest threads, where they were counted.
    pub(super) fewest: Option<usize>,
    /// What threads beside the problem cost; part of the total and of the bound.
    pub(super) beside: f64,
    /// What threads hold and cost, where that is limited.
    pub(super) limits: Option<Problem>,
}

/// Chooses threads within what there is of them, at the prices of whole skeins, and counts them where
/// the fewest are wanted.
pub(super) fn choose(
    case: &Case<'_, '_>,
    reduction: &mut Reduction<'_>,
    (options, amounts): (&ReduceOptions, &Amounts<'_>),
    effort: Effort,
    pace: &mut Listened<'_, '_>,
) -> Result<Answer> {
    let (mut problem, beside) = amounts.problem(case, reduction)?;
    if let Some((row, said)) = amounts.too_large(&problem) {
        let place = reduction.colors.get(row).copied().unwrap_or(0);
        return Err(impossible(format!("color {place} {said}")));
    }
    let mut fewest = None;
    if options.wants_fewest() {
        let Some((count, at_least)) = count(&problem, pace)? else { return Err(none_at_all(true)) };
        problem.most = count;
        fewest = Some(at_least + reduction.beside.len());
    }
    match load::solve(&problem, effort, pace)? {
        Outcome::Found(found) => {
            let solution = solution(found, beside);
            Ok(Answer { solution, fewest, beside, limits: Some(problem) })
        }
        Outcome::Nothing { proved } => Err(refused(&problem, reduction, options, proved, pace)?),
    }
}

fn solution(found: Found, beside: f64) -> Solution {
    Solution {
        open: found.open,
        seats: found.seats,
        total: found.total + beside,
        bound: found.bound + beside,
        proved: found.proved,
        multipliers: Vec::new(),
    }
}

/// How few threads do, and how many are needed at least; `None` when no number was found that does.
fn count(problem: &Problem, pace: &mut Listened<'_, '_>) -> Result<Option<(usize, usize)>> {
    let even = Problem {
        cells: problem.cells.free_of_cost(),
        columns: problem
            .columns
            .iter()
            .map(|column| Column { open: 1.0, piece: 0.0, ..*column })
            .collect(),
        most: problem.columns.len(),
        grain: 1.0,
        weights: problem.weights.clone(),
    };
    Ok(match load::solve(&even, EFFORT, &mut Counted { pace })? {
        Outcome::Found(found) if found.proved => Some((found.open.len(), found.open.len())),
        Outcome::Found(found) => Some((found.open.len(), whole(found.bound))),
        Outcome::Nothing { .. } => None,
    })
}

/// Why there is no choice, with the nearest that there is.
fn refused(
    problem: &Problem,
    reduction: &Reduction<'_>,
    options: &ReduceOptions,
    proved: bool,
    pace: &mut Listened<'_, '_>,
) -> Result<Error> {
    let Some(most) = options.max_threads else { return Ok(none_at_all(proved)) };
    let Some((count, at_least)) = count(problem, pace)? else { return Ok(none_at_all(proved)) };
    let beside = reduction.beside.len();
    let said = if proved || at_least + beside > most { "no" } else { "found no" };
    let within = options.tolerance.map(|most| format!(" within {}", most.value()));
    let within = within.unwrap_or_default();
    Ok(Error::new(ErrorKind::Impossible {
        reason: match most {
            1 => format!("{said} thread{within} holds enough for every color"),
            _ => format!("{said} {most} threads{within} hold enough for every color"),
        },
        nearest: format!("ask for {}, or find more of them", (count + beside).max(most + 1)),
    }))
}

fn none_at_all(proved: bool) -> Error {
    impossible(match proved {
        true => "no choice of threads holds enough for every color".to_owned(),
        false => "found no choice of threads that holds enough for every color".to_owned(),
    })
}

fn impossible(reason: String) -> Error {
    Error::new(ErrorKind::Impossible {
        reason,
        nearest: "find more of the threads, admit more of them, or allow a larger difference"
            .into(),
    })
}

/// The next whole number.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a bound on a count of threads lies between 0 and their number"
)]
fn whole(bound: f64) -> usize {
    (bound - 1e-6).ceil().max(0.0) as usize
}
