//! Looks at all choices that are left after the bound, in halves: a row joins one of its nearest
//! columns, or all of these are closed; or a column is open or closed. It does not know how a half is
//! bounded.
//!
//! Where one column is nearly as good as the next, closing one alone settles nothing, and rows split
//! better. Where many columns are left for each that may be open, a row has too many near ones.

use super::ascent::{Ascent, Left, Slope, State, set};
use super::seats::Seats;
use super::{Effort, Pace};
use crate::error::Result;

/// A part of the choices that is still to be looked at.
struct Part {
    left: Left,
    multipliers: Vec<f64>,
    bound: f64,
}

/// How often a column is in the relaxed optimum to count as wanted.
const WANTED: f64 = 0.02;

/// Columns left for each that may be open, below which rows split better. By trial.
const FEW: usize = 8;

/// Branch and bound, deepest first: the likelier half, then the other. True when nothing is left that
/// could beat the best set; otherwise the bound becomes the lowest of what is left.
pub(super) fn look_at_all<'p>(
    ascent: &mut Ascent<'p>,
    best: &mut Seats<'p>,
    effort: Effort,
    pace: &mut dyn Pace,
) -> Result<bool> {
    let root = ascent.best_multipliers.clone();
    let by_rows = ascent.count(State::Live) < FEW * ascent.free().max(1);
    let mut left = split(ascent, by_rows);
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
        ascent.enter(part.left, part.multipliers, part.bound);
        if !ascent.climb(Slope::Part, best, effort, pace)? {
            let halves = split(ascent, by_rows);
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

/// The two halves, the likelier one last; none where nothing is left to decide.
fn split(ascent: &Ascent<'_>, by_rows: bool) -> Vec<Part> {
    if ascent.decided {
        return Vec::new();
    }
    let halves = if by_rows { split_row(ascent) } else { None };
    halves.or_else(|| split_column(ascent)).unwrap_or_default()
}

fn part(ascent: &Ascent<'_>, left: Left) -> Part {
    Part { left, multipliers: ascent.best_multipliers.clone(), bound: ascent.bound }
}

/// Where the columns that a row wants fall apart into near and far ones.
#[derive(Clone, Copy, Debug)]
struct Cut {
    row: usize,
    /// What the farthest of the near ones costs.
    cost: f64,
    /// How often one of the near ones is wanted.
    often: f64,
    /// How undecided that is, times what hangs on it.
    score: f64,
}

/// Halves by the row on which most hangs: it joins one of its near columns, or none is open.
fn split_row(ascent: &Ascent<'_>) -> Option<Vec<Part>> {
    let cuts = (0..ascent.left.limits.len()).filter_map(|row| cut(ascent, row));
    let best = cuts.fold(None, |held: Option<Cut>, cut| match held {
        Some(held) if held.score >= cut.score => Some(held),
        _ => Some(cut),
    })?;
    let (mut near, mut far) = (ascent.left.clone(), ascent.left.clone());
    *near.limits.get_mut(best.row)? = best.cost;
    for (_, column) in ascent.rows.list(best.row).take_while(|(cost, _)| *cost <= best.cost) {
        set(&mut far.states, column, State::Out);
    }
    let (near, far) = (part(ascent, near), part(ascent, far));
    Some(if best.often >= 0.5 { vec![far, near] } else { vec![near, far] })
}

/// The cut of a row on which most hangs; `None` where it is decided what it joins.
fn cut(ascent: &Ascent<'_>, row: usize) -> Option<Cut> {
    let limit = ascent.left.limits.get(row).copied()?;
    let mut best: Option<Cut> = None;
    let (mut often, mut paid, mut last) = (0.0_f64, 0.0, f64::NEG_INFINITY);
    for (cost, column) in ascent.rows.list(row).take_while(|(cost, _)| *cost <= limit) {
        let state = ascent.left.states.get(column).copied()?;
        let wanted = ascent.often.get(column).copied()?;
        if state == State::Out || wanted < WANTED {
            continue;
        }
        if often > 0.0 && cost > last {
            let score = often.min(1.0 - often) * (cost - paid / often);
            if score > best.map_or(0.0, |best| best.score) {
                best = Some(Cut { row, cost: last, often, score });
            }
        }
        (often, paid, last) = (often + wanted, paid + wanted * cost, cost);
        // The row joins this one or one before it.
        if state == State::Must || often >= 1.0 {
            break;
        }
    }
    best
}

/// Halves by the column that the relaxed optimum wanted most often of those undecided.
fn split_column(ascent: &Ascent<'_>) -> Option<Vec<Part>> {
    let price = |column: &usize| ascent.reduced.get(*column).copied().unwrap_or(0.0);
    let often = |column: &usize| ascent.often.get(*column).copied().unwrap_or(0.0);
    let is_live = |column: &usize| ascent.left.states.get(*column) == Some(&State::Live);
    let live = ascent.active.iter().copied().filter(is_live);
    let wanted = live.max_by(|one, two| {
        let by_often = often(one).total_cmp(&often(two));
        by_often.then(price(two).total_cmp(&price(one))).then(two.cmp(one))
    })?;
    let half = |state: State| {
        let mut left = ascent.left.clone();
        set(&mut left.states, wanted, state);
        part(ascent, left)
    };
    Some(vec![half(State::Out), half(State::Must)])
}
