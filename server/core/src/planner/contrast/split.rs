//! Looks at choices in halves where the bound stays far below what was found: with a thread and without
//! it, then a color in a thread and elsewhere. It does not know how a half is bounded.

use std::collections::BTreeSet;

use super::super::median::{State, set};
use super::super::meter::Meter;
use super::board::Board;
use super::bound::{Ascent, Left};
use crate::error::Result;

/// Gap, relative to the total, at which a part of the choices is left alone. House choice.
const NEAR: f64 = 0.01;

/// Parts that are looked at, and steps of the multipliers in each.
const PARTS: u32 = 400;
const PART_STEPS: u32 = 25;

/// Cells that the parts may visit. A count, not a clock: the answer is the same everywhere.
const BUDGET: u64 = 150_000_000;

/// How often a thread must have been chosen lately to be decided before colors are.
const WANTED: f64 = 0.05;

/// The best choice so far.
pub(super) trait Best {
    /// The tables that it is chosen by.
    fn board(&self) -> &Board<'_>;

    /// What it comes to.
    fn total(&self) -> f64;

    /// Tries to do better with these threads.
    fn offer(&mut self, open: &[usize], meter: &mut Meter<'_>) -> Result<()>;
}

/// A part of the choices that is still to be looked at.
struct Part {
    left: Left,
    multipliers: Vec<f64>,
    bound: f64,
}

/// Raises the bound that `ascent` reached for all choices, the lowest parts first; returns it.
pub(super) fn look_at_all(
    ascent: &mut Ascent<'_>,
    best: &mut dyn Best,
    meter: &mut Meter<'_>,
) -> Result<f64> {
    let first = ascent.bound;
    let goal = |best: &dyn Best| best.total() * (1.0 - NEAR);
    let mut parts =
        vec![Part { left: ascent.left.clone(), multipliers: ascent.best.clone(), bound: first }];
    let mut lowest = f64::INFINITY;
    ascent.budget = ascent.spent + BUDGET;
    let mut offered = BTreeSet::new();
    for _ in 0..PARTS {
        if ascent.spent > ascent.budget {
            break;
        }
        let Some(part) = take_lowest(&mut parts) else { break };
        if part.bound >= goal(best) {
            parts.push(part);
            break;
        }
        ascent.enter(part.left, part.multipliers, part.bound, goal(best));
        let closed = ascent.climb(best.board(), best.total(), (PART_STEPS, NEAR), meter)?;
        let serving = ascent.serving().filter(|open| offered.insert(open.to_vec()));
        if let Some(open) = serving {
            best.offer(open, meter)?;
        }
        let halves = if closed { None } else { split(ascent, best.board()) };
        match halves {
            Some(halves) => parts.extend(halves),
            None => lowest = lowest.min(ascent.bound),
        }
    }
    let open = parts.iter().map(|part| part.bound).fold(f64::INFINITY, f64::min);
    // Choices that were ruled out on the way are only known not to pass the goal.
    Ok(open.min(lowest).min(goal(best)).max(first))
}

fn take_lowest(parts: &mut Vec<Part>) -> Option<Part> {
    let bounds = parts.iter().map(|part| part.bound).enumerate();
    let (place, _) = bounds.min_by(|one, two| one.1.total_cmp(&two.1))?;
    Some(parts.swap_remove(place))
}

/// The two halves; none when no choice is left that matters to the bound.
fn split(ascent: &Ascent<'_>, board: &Board<'_>) -> Option<[Part; 2]> {
    let part = |left: Left| Part { left, multipliers: ascent.best.clone(), bound: ascent.bound };
    if ascent.is_choice() {
        return None;
    }
    if let Some(column) = wanted_column(ascent) {
        let half = |state: State| {
            let mut left = ascent.left.clone();
            set(&mut left.states, column, state);
            part(left)
        };
        return Some([half(State::Must), half(State::Out)]);
    }
    let (row, column) = ascent.undecided_row(board)?;
    let (mut there, mut elsewhere) = (ascent.left.clone(), ascent.left.clone());
    there.fix(row, column);
    elsewhere.barred.insert((row, column));
    Some([part(there), part(elsewhere)])
}

/// The undecided thread that was chosen about every other time lately.
fn wanted_column(ascent: &Ascent<'_>) -> Option<usize> {
    let often = |column: &usize| ascent.often.get(*column).copied().unwrap_or(0.0);
    let doubt = |column: &usize| (often(column) - 0.5).abs();
    let live = ascent.left.states.iter().enumerate();
    let live = live.filter(|(_, state)| **state == State::Live).map(|(column, _)| column);
    let wanted = live.filter(|column| often(column) > WANTED);
    wanted.min_by(|one, two| doubt(one).total_cmp(&doubt(two)).then(one.cmp(two)))
}
