//! Looks at all choices that are left after the bound, in halves: with a column and without it, then a
//! row in a column and elsewhere. It does not know how a half is bounded.

use super::climb::{Climb, Settled};
use super::plan::Plan;
use super::{PARTS, Problem};
use crate::error::Result;
use crate::planner::median::{Effort, Pace, State, set};

/// How often a column must have been wanted lately to be decided before rows are.
const WANTED: f64 = 0.02;

/// Parts between two searches for better plans.
const BETWEEN_SEARCHES: u32 = 8;

/// A part of the choices that is still to be looked at.
struct Part {
    settled: Settled,
    multipliers: Vec<f64>,
    bound: f64,
}

/// Branch and bound, deepest first. True when nothing is left that could beat the best plan; otherwise
/// the bound becomes the lowest of what is left.
pub(super) fn look_at_all<'p>(
    climb: &mut Climb<'p>,
    best: &mut Plan<'p>,
    effort: Effort,
    pace: &mut dyn Pace,
) -> Result<bool> {
    let problem = climb.problem();
    let mut left = split(problem, climb, best);
    let mut done = 0;
    while let Some(part) = left.pop() {
        if part.bound >= climb.target(best) {
            continue;
        }
        done += 1;
        if done > PARTS || climb.visited > effort.cells {
            climb.bound = left.iter().map(|part| part.bound).fold(part.bound, f64::min);
            return Ok(false);
        }
        climb.enter(part.settled, part.multipliers, part.bound);
        if !climb.climb_part(best, done % BETWEEN_SEARCHES == 0, pace)? {
            left.extend(split(problem, climb, best));
        }
        if done % 16 == 0 {
            let lowest = left.iter().map(|part| part.bound).fold(f64::INFINITY, f64::min);
            let part = f64::midpoint(1.0, f64::from(done) / f64::from(PARTS));
            pace.tell(part, best.limit(), Some(lowest.min(best.limit())));
        }
    }
    Ok(true)
}

/// The two halves; none when every row is settled: then the plan of the rows is tried.
fn split<'p>(problem: &'p Problem, climb: &Climb<'p>, best: &mut Plan<'p>) -> Vec<Part> {
    if let Some(column) = wanted_column(climb) {
        let half = |state: State| {
            let mut settled = climb.settled.clone();
            set(&mut settled.states, column, state);
            part(climb, settled)
        };
        return vec![half(State::Out), half(State::Must)];
    }
    let Some((row, column)) = undecided_row(problem, climb) else {
        let seats: Option<Vec<usize>> = climb.settled.fixed.iter().copied().collect();
        let plan = seats.map(|seats| Plan::seated(problem, &seats));
        if let Some(plan) = plan.filter(|plan| plan.fits() && plan.total() < best.limit()) {
            *best = plan;
        }
        return Vec::new();
    };
    let mut elsewhere = climb.settled.clone();
    elsewhere.barred.push((row, column));
    let mut there = climb.settled.clone();
    if let Some(fixed) = there.fixed.get_mut(row) {
        *fixed = Some(column);
    }
    set(&mut there.states, column, State::Must);
    vec![part(climb, elsewhere), part(climb, there)]
}

fn part(climb: &Climb<'_>, settled: Settled) -> Part {
    Part { settled, multipliers: climb.best_multipliers.clone(), bound: climb.bound }
}

/// The undecided column that was wanted most often lately.
fn wanted_column(climb: &Climb<'_>) -> Option<usize> {
    let often = |column: &usize| climb.often.get(*column).copied().unwrap_or(0.0);
    let live = climb.settled.states.iter().enumerate();
    let live = live.filter(|(_, state)| **state == State::Live).map(|(column, _)| column);
    let wanted = live.filter(|column| often(column) > WANTED);
    wanted.max_by(|one, two| often(one).total_cmp(&often(two)).then(two.cmp(one)))
}

/// The row that is least settled, the heavier first, with its cheapest column that is left; none when
/// all rows are fixed or one has no column left.
fn undecided_row(problem: &Problem, climb: &Climb<'_>) -> Option<(usize, usize)> {
    let doubt = |row: &usize| (1.0 - climb.takers.get(*row).copied().unwrap_or(0.0)).abs();
    let weight = |row: &usize| problem.weights.get(*row).copied().unwrap_or(0.0);
    let open = (0..problem.weights.len())
        .filter(|row| climb.settled.fixed.get(*row).is_some_and(Option::is_none));
    let row = open.max_by(|one, two| {
        let by_doubt = doubt(one).total_cmp(&doubt(two));
        by_doubt.then(weight(one).total_cmp(&weight(two))).then(two.cmp(one))
    })?;
    let is_left = |column: usize| {
        climb.settled.states.get(column).is_some_and(|state| *state != State::Out)
            && !climb.settled.barred.contains(&(row, column))
    };
    let is_open = |column: usize| climb.settled.states.get(column) == Some(&State::Must);
    let left: Vec<usize> = problem
        .cells
        .row(row)
        .map(|(_, column)| column)
        .filter(|column| is_left(*column))
        .collect();
    let first = left.iter().copied().find(|column| is_open(*column));
    first.or_else(|| left.first().copied()).map(|column| (row, column))
}
