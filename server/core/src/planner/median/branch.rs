//! Looks at all choices that are left after the bound, in halves: with a column and without it. It
//! does not know how a half is bounded.

use super::ascent::{Ascent, Slope, State, set};
use super::seats::Seats;
use super::{Effort, Pace};
use crate::error::Result;

/// A part of the choices that is still to be looked at.
struct Part {
    states: Vec<State>,
    multipliers: Vec<f64>,
    bound: f64,
}

/// Branch and bound, deepest first: with a column, then without it. True when nothing is left that
/// could beat the best set; otherwise the bound becomes the lowest of what is left.
pub(super) fn look_at_all<'p>(
    ascent: &mut Ascent<'p>,
    best: &mut Seats<'p>,
    effort: Effort,
    pace: &mut dyn Pace,
) -> Result<bool> {
    let root = ascent.best_multipliers.clone();
    let mut left = split(ascent);
    // Decided parts that cells no list holds keep open.
    let mut doubt = if left.is_empty() { ascent.bound } else { f64::INFINITY };
    let mut done = 0;
    while let Some(part) = left.pop() {
        if part.bound >= ascent.target(best.total()) {
            continue;
        }
        done += 1;
        if done > effort.nodes || ascent.visited > effort.cells {
            left.push(part);
            let lowest = left.iter().map(|part| part.bound).fold(doubt, f64::min);
            ascent.bound = lowest;
            ascent.best_multipliers = root;
            return Ok(false);
        }
        ascent.enter(part.states, part.multipliers, part.bound);
        if !ascent.climb(Slope::Part, best, effort, pace)? {
            let halves = split(ascent);
            if halves.is_empty() {
                doubt = doubt.min(ascent.bound);
            }
            left.extend(halves);
        }
        if done % 16 == 0 {
            let lowest = left.iter().map(|part| part.bound).fold(ascent.bound, f64::min);
            let part = f64::midpoint(1.0, f64::from(done) / f64::from(effort.nodes.max(1)));
            pace.tell(part, best.total(), Some(lowest));
        }
    }
    ascent.best_multipliers = root;
    let proved = doubt >= ascent.target(best.total());
    if !proved {
        ascent.bound = doubt;
    }
    Ok(proved)
}

/// The two halves: without and with the column that the relaxed optimum wanted most often of those
/// undecided.
fn split(ascent: &Ascent<'_>) -> Vec<Part> {
    let price = |column: &usize| ascent.reduced.get(*column).copied().unwrap_or(0.0);
    let often = |column: &usize| ascent.often.get(*column).copied().unwrap_or(0.0);
    let is_live = |column: &usize| ascent.states.get(*column) == Some(&State::Live);
    let live = ascent.active.iter().copied().filter(is_live);
    let wanted = live.max_by(|one, two| {
        let by_often = often(one).total_cmp(&often(two));
        by_often.then(price(two).total_cmp(&price(one))).then(two.cmp(one))
    });
    let wanted = wanted.filter(|_| !ascent.decided);
    let half = |state: State| {
        let mut states = ascent.states.clone();
        set(&mut states, wanted?, state);
        let multipliers = ascent.best_multipliers.clone();
        Some(Part { states, multipliers, bound: ascent.bound })
    };
    [half(State::Out), half(State::Must)].into_iter().flatten().collect()
}
