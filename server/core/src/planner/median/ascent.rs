//! Bounds a problem from below by subgradient steps of its Lagrangian, and fixes columns by their
//! reduced costs. Sets that it comes across on its way are offered to the search.
//!
//! Each row must join one column; the multiplier of that row is what it would pay at most. For any
//! multipliers u, sum(u) + the reduced costs of the locked columns + the lowest negative reduced
//! costs of as many others as may be open is a lower bound (Held, Wolfe, Crowder, Math. Programming
//! 6 (1974) 62-88, from memory). It does not split the choices: `branch` does.

use std::borrow::Cow;

use super::cells::{Lists, name};
use super::seats::{Seats, dearest};
use super::{CLOSED, Effort, Pace, Problem};
use crate::error::Result;

/// Most steps at the root; most steps in each part of the choices, and their first length.
const ROOT_STEPS: u32 = 1_000;
const PART_STEPS: u32 = 30;
const PART_LENGTH: f64 = 1.25;

/// Gap, relative to the best total, at which parts of the choices close sooner than the root does;
/// steps at the root after which it is looked at.
const NEARLY: f64 = 1e-4;
const STRETCH: u32 = 32;

/// Where multipliers climb.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Slope {
    /// Over all choices.
    Root,
    /// Over a part of them, from multipliers that were good for more.
    Part,
}

impl Slope {
    fn steps(self) -> u32 {
        match self {
            Self::Root => ROOT_STEPS,
            Self::Part => PART_STEPS,
        }
    }
}

/// First length of a step, relative to the one that would close the gap along the slope.
const LENGTH: f64 = 1.5;

/// Steps without a better bound before the length is halved.
const PATIENCE: u32 = 10;

/// Length below which nothing moves any more.
const SHORTEST: f64 = 1e-3;

/// Part of the last direction that the next one keeps: damps zigzags.
const MOMENTUM: f64 = 0.75;

/// Weight of the present step in how often a column is chosen.
const FRESH: f64 = 0.1;

/// How a column stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::planner) enum State {
    /// Undecided.
    Live,
    /// In every set that beats the best one.
    Must,
    /// In no set that beats the best one.
    Out,
}

/// The choices that are left in a part of them.
#[derive(Clone, Debug)]
pub(super) struct Left {
    /// How each column stands.
    pub(super) states: Vec<State>,
    /// What each row may pay at most.
    pub(super) limits: Vec<f64>,
}

/// The multipliers on their way up.
pub(super) struct Ascent<'p> {
    problem: &'p Problem,
    /// The lists by row, without most of the columns that are out.
    pub(super) rows: Cow<'p, Lists>,
    multipliers: Vec<f64>,
    pub(super) best_multipliers: Vec<f64>,
    direction: Vec<f64>,
    /// How far each row's multiplier moves beside the others'.
    scales: Vec<f64>,
    /// How many chosen columns want each row.
    takers: Vec<f64>,
    /// Cells that cost less than their row's multiplier.
    below: usize,
    pub(super) left: Left,
    /// Columns that are not known to be out of all choices.
    pub(super) active: Vec<usize>,
    /// Reduced cost of each column.
    pub(super) reduced: Vec<f64>,
    /// Columns of the relaxed optimum.
    chosen: Vec<usize>,
    is_chosen: Vec<bool>,
    /// Undecided columns with their reduced costs.
    order: Vec<(f64, usize)>,
    /// The best bound known.
    pub(super) bound: f64,
    /// The best bound that the present multipliers reached; may lie below the floor at first.
    level: f64,
    length: f64,
    idle: u32,
    /// How often each column was in the relaxed optimum lately, 0 to 1.
    pub(super) often: Vec<f64>,
    /// Cells visited.
    pub(super) visited: u64,
    /// No undecided choice is left.
    pub(super) decided: bool,
}

impl<'p> Ascent<'p> {
    /// Starts from what the rows pay in the best set.
    pub(super) fn new(problem: &'p Problem, best: &Seats<'p>) -> Self {
        let mut multipliers = first_multipliers(problem, best);
        clip(problem, &mut multipliers);
        let columns = problem.cells.columns();
        let state = |locked: &bool| if *locked { State::Must } else { State::Live };
        Self {
            problem,
            rows: Cow::Borrowed(problem.cells.by_row()),
            best_multipliers: multipliers.clone(),
            direction: vec![0.0; multipliers.len()],
            scales: scales(problem),
            takers: vec![0.0; multipliers.len()],
            below: 0,
            multipliers,
            left: Left {
                states: problem.locked.iter().map(state).collect(),
                limits: vec![f64::INFINITY; problem.cells.rows()],
            },
            active: (0..columns).collect(),
            reduced: vec![0.0; columns],
            chosen: Vec::new(),
            is_chosen: vec![false; columns],
            order: Vec::new(),
            bound: floor(problem),
            level: f64::NEG_INFINITY,
            length: LENGTH,
            idle: 0,
            often: vec![0.0; columns],
            visited: 0,
            decided: false,
        }
    }

    /// Climbs; true when nothing in these choices beats the best set.
    pub(super) fn climb(
        &mut self,
        at: Slope,
        best: &mut Seats<'p>,
        effort: Effort,
        pace: &mut dyn Pace,
    ) -> Result<bool> {
        let (steps, is_root) = (at.steps(), at == Slope::Root);
        let mut live_before = usize::MAX;
        for step in 0..steps {
            if self.advance(best, pace)? {
                return Ok(true);
            }
            if is_root && step % STRETCH == STRETCH - 1 {
                let live = self.count(State::Live);
                if best.total() - self.level < NEARLY * best.total() && live == live_before {
                    break;
                }
                live_before = live;
            }
            if self.length < SHORTEST || self.visited > effort.cells {
                break;
            }
            if (is_root && step % 64 == 32) || self.is_promising(best) {
                self.polish(best, effort, pace)?;
            }
            self.step(best.total());
            if is_root && step % 16 == 0 {
                self.forget_columns();
                let part = f64::from(step) / f64::from(steps) / 2.0;
                pace.tell(part, best.total(), Some(self.bound));
            }
        }
        if is_root {
            self.forget_columns();
        }
        Ok(false)
    }

    /// Goes on from multipliers of a problem much like this one.
    pub(super) fn start_from(&mut self, multipliers: &[f64]) {
        self.multipliers.copy_from_slice(multipliers);
        clip(self.problem, &mut self.multipliers);
        self.best_multipliers.clone_from(&self.multipliers);
    }

    /// Takes up a part of the choices.
    pub(super) fn enter(&mut self, left: Left, multipliers: Vec<f64>, bound: f64) {
        self.multipliers.clone_from(&multipliers);
        self.best_multipliers = multipliers;
        self.left = left;
        self.bound = bound;
        self.level = f64::NEG_INFINITY;
        self.length = PART_LENGTH;
        self.idle = 0;
        self.decided = false;
        self.direction.fill(0.0);
    }

    /// Prices once; true when nothing can beat the best set.
    fn advance(&mut self, best: &mut Seats<'p>, pace: &mut dyn Pace) -> Result<bool> {
        pace.look()?;
        self.price();
        let safe = self.choose(best.total());
        self.fix(best.total(), safe);
        self.record(safe);
        Ok(self.is_closed(best))
    }

    /// Bound that closes the gap to a set of this total.
    pub(super) fn target(&self, total: f64) -> f64 {
        total - (self.problem.grain * (1.0 - 1e-6)).max(CLOSED * total)
    }

    /// Searches from the relaxed optimum.
    fn polish(&mut self, best: &mut Seats<'p>, effort: Effort, pace: &mut dyn Pace) -> Result<()> {
        let mut other = Seats::of(self.problem, &self.chosen);
        let live: Vec<bool> = self.left.states.iter().map(|state| *state != State::Out).collect();
        other.improve(Some(&live), effort.cells / u64::from(ROOT_STEPS), pace)?;
        self.visited += other.visited;
        if other.serves_all() && other.total() < best.total() {
            *best = other;
        }
        Ok(())
    }

    /// Forgets columns that are out; leaves them off the lists once they are many.
    fn forget_columns(&mut self) {
        let out = |column: usize| self.left.states.get(column) == Some(&State::Out);
        self.active.retain(|column| !out(*column));
        let cells = self.active.iter().map(|column| self.problem.cells.column_len(*column));
        if cells.sum::<usize>() * 4 < self.rows.cells() * 3 {
            self.rows = Cow::Owned(self.rows.only(|column| !out(column)));
        }
    }

    /// Reduced costs under the present multipliers.
    fn price(&mut self) {
        for column in &self.active {
            if let (Some(reduced), Some(price)) =
                (self.reduced.get_mut(*column), self.problem.prices.get(*column))
            {
                *reduced = *price;
            }
        }
        let mut visited = 0;
        let multipliers = self.multipliers.iter().zip(&self.left.limits).enumerate();
        for (row, (multiplier, limit)) in multipliers {
            for (cost, column) in self.rows.list(row) {
                if cost >= *multiplier || cost > *limit {
                    break;
                }
                visited += 1;
                if let Some(reduced) = self.reduced.get_mut(column) {
                    *reduced += cost - multiplier;
                }
            }
        }
        self.below = visited;
        self.visited += (visited + self.active.len()) as u64;
    }

    /// How many columns of this state there are.
    pub(super) fn count(&self, wanted: State) -> usize {
        let states = self.active.iter().filter_map(|column| self.left.states.get(*column));
        states.filter(|state| **state == wanted).count()
    }

    /// How many undecided columns may be open.
    pub(super) fn free(&self) -> usize {
        self.problem.most.saturating_sub(self.count(State::Must))
    }

    /// Chooses the columns of the relaxed optimum; returns its total, a lower bound.
    fn choose(&mut self, best: f64) -> f64 {
        let free = self.free();
        let mut total = self.multipliers.iter().sum::<f64>();
        for column in self.chosen.drain(..) {
            if let Some(chosen) = self.is_chosen.get_mut(column) {
                *chosen = false;
            }
        }
        self.order.clear();
        for column in &self.active {
            let reduced = self.reduced.get(*column).copied().unwrap_or(0.0);
            match self.left.states.get(*column) {
                Some(State::Must) => {
                    total += reduced;
                    self.chosen.push(*column);
                }
                Some(State::Live) => self.order.push((reduced, *column)),
                Some(State::Out) | None => {}
            }
        }
        let by_price = |one: &(f64, usize), two: &(f64, usize)| {
            one.0.total_cmp(&two.0).then(one.1.cmp(&two.1))
        };
        if free > 0 && free < self.order.len() {
            self.order.select_nth_unstable_by(free - 1, by_price);
        }
        let taken = free.min(self.order.len());
        if let Some(inside) = self.order.get_mut(..taken) {
            inside.sort_unstable_by(by_price);
            for (reduced, column) in inside.iter().filter(|(reduced, _)| *reduced < 0.0) {
                total += reduced;
                self.chosen.push(*column);
            }
        }
        for column in &self.active {
            if let Some(often) = self.often.get_mut(*column) {
                *often *= 1.0 - FRESH;
            }
        }
        for column in &self.chosen {
            if let (Some(chosen), Some(often)) =
                (self.is_chosen.get_mut(*column), self.often.get_mut(*column))
            {
                *chosen = true;
                *often += FRESH;
            }
        }
        // Rounding must not lift the bound above the truth.
        total - CLOSED * total.abs().max(best) / 16.0
    }

    /// Fixes the columns whose turn would pass the best set.
    fn fix(&mut self, best: f64, safe: f64) {
        let free = self.free();
        let taken = free.min(self.order.len());
        let (inside, outside) = self.order.split_at(taken);
        let is_full = taken == free;
        let last_in = inside.last().map_or(0.0, |(reduced, _)| reduced.min(0.0));
        let last_in = if is_full { last_in } else { 0.0 };
        let first_out = outside.iter().map(|(reduced, _)| *reduced).fold(0.0, f64::min);
        let margin = self.target(best) + 2.0 * CLOSED * best - safe;
        for (reduced, column) in outside {
            if reduced - last_in > margin {
                set(&mut self.left.states, *column, State::Out);
            }
        }
        for (reduced, column) in inside {
            if first_out - reduced > margin {
                set(&mut self.left.states, *column, State::Must);
            } else if reduced - last_in > margin {
                set(&mut self.left.states, *column, State::Out);
            }
        }
    }

    /// Takes a bound into account; halves the length of the steps when bounds no longer rise.
    fn record(&mut self, safe: f64) {
        self.bound = self.bound.max(safe);
        if safe > self.level {
            self.level = safe;
            self.best_multipliers.clone_from(&self.multipliers);
            self.idle = 0;
        } else {
            self.idle += 1;
        }
        if self.idle >= PATIENCE {
            self.idle = 0;
            self.length /= 2.0;
            self.multipliers.clone_from(&self.best_multipliers);
            self.direction.fill(0.0);
        }
    }

    /// True when the bound reaches the best set, or the columns that are left leave no choice.
    fn is_closed(&mut self, best: &mut Seats<'p>) -> bool {
        if self.count(State::Must) > self.problem.most {
            return true;
        }
        if let Some(last) = self.last_choice() {
            let other = Seats::of(self.problem, &last);
            if other.serves_all() && other.total() < best.total() {
                *best = other.clone();
            }
            self.decided = true;
            if self.problem.cells.is_whole() {
                return true;
            }
            // Cells that no list holds leave a doubt.
            let least = other.least();
            self.bound = self.bound.max(least - CLOSED / 16.0 * least);
        }
        self.bound >= self.target(best.total())
    }

    /// The only set left, when the columns leave no choice that matters.
    fn last_choice(&self) -> Option<Vec<usize>> {
        let (must, live) = (self.count(State::Must), self.count(State::Live));
        let most = self.problem.most;
        let state = |column: &usize| self.left.states.get(*column).copied();
        let price = |column: &usize| self.problem.prices.get(*column).copied().unwrap_or(0.0);
        let dear = |column: &usize| state(column) == Some(State::Live) && price(column) > 0.0;
        let is_last =
            must == most || live == 0 || (must + live <= most && !self.active.iter().any(dear));
        let wanted = |column: &usize| match state(column) {
            Some(State::Must) => true,
            Some(State::Live) => must < most,
            Some(State::Out) | None => false,
        };
        is_last.then(|| self.active.iter().copied().filter(wanted).collect())
    }

    /// True when the relaxed optimum happens to beat the best set.
    fn is_promising(&mut self, best: &Seats<'p>) -> bool {
        let limit = best.total();
        let prices = self.chosen.iter().filter_map(|column| self.problem.prices.get(*column));
        let mut sum: f64 = prices.sum();
        for row in 0..self.multipliers.len() {
            let is_chosen = |column: usize| self.is_chosen.get(column).copied().unwrap_or(false);
            match self.rows.list(row).find(|(_, column)| is_chosen(*column)) {
                Some((cost, _)) => sum += cost,
                None => return false,
            }
            if sum >= limit {
                return false;
            }
        }
        sum < limit * (1.0 - CLOSED)
    }

    /// How many chosen columns want each row: looked up by row or by column, whichever is shorter.
    fn count_takers(&mut self) {
        self.takers.fill(0.0);
        let by_column: usize =
            self.chosen.iter().map(|column| self.problem.cells.column_len(*column)).sum();
        if by_column < self.below {
            for column in &self.chosen {
                for (cost, row) in self.problem.cells.column(*column) {
                    if let (Some(takers), Some(multiplier), Some(limit)) = (
                        self.takers.get_mut(row),
                        self.multipliers.get(row),
                        self.left.limits.get(row),
                    ) && cost < *multiplier
                        && cost <= *limit
                    {
                        *takers += 1.0;
                    }
                }
            }
            return;
        }
        let multipliers = self.multipliers.iter().zip(&self.left.limits);
        for (row, ((multiplier, limit), takers)) in multipliers.zip(&mut self.takers).enumerate() {
            let wanted = |(cost, _): &(f64, usize)| cost < multiplier && cost <= limit;
            let cells = self.rows.list(row).take_while(wanted);
            let chosen = |column: usize| self.is_chosen.get(column).copied().unwrap_or(false);
            *takers = cells.filter(|(_, column)| chosen(*column)).map(|_| 1.0).sum();
        }
    }

    /// Moves the multipliers along the subgradient: up where no chosen column wants the row, down
    /// where several do.
    fn step(&mut self, best: f64) {
        self.count_takers();
        let mut norm = 0.0;
        let slopes = self.takers.iter().zip(&self.scales);
        for ((takers, scale), direction) in slopes.zip(&mut self.direction) {
            *direction = scale * (1.0 - takers) + MOMENTUM * *direction;
            norm += *direction * *direction;
        }
        if norm <= 0.0 {
            self.length = 0.0;
            return;
        }
        let gap = (best - self.level).max(CLOSED * best);
        let step = self.length * gap / norm;
        let directions = self.direction.iter().zip(&self.scales);
        for (multiplier, (direction, scale)) in self.multipliers.iter_mut().zip(directions) {
            *multiplier += step * scale * direction;
        }
        clip(self.problem, &mut self.multipliers);
    }
}

/// Halfway between what a row pays and what it would pay instead; at least its share of the price of
/// its column.
fn first_multipliers(problem: &Problem, best: &Seats<'_>) -> Vec<f64> {
    let mut rows_of = vec![0_u32; problem.cells.columns()];
    for (_, _, column) in best.payments() {
        if let Some(rows) = column.and_then(|column| rows_of.get_mut(column)) {
            *rows += 1;
        }
    }
    let share = |column: Option<usize>| {
        let column = column?;
        let rows = f64::from((*rows_of.get(column)?).max(1));
        problem.prices.get(column).map(|price| price / rows)
    };
    let start = |(cost, instead, column): (f64, Option<f64>, Option<usize>)| {
        let priced = cost + share(column).unwrap_or(0.0);
        instead.map_or(priced, |instead| f64::midpoint(cost, instead).max(priced))
    };
    best.payments().map(start).collect()
}

/// The fourth root of what cells of each row cost on average: rows that pay a thousand times as much
/// as others need longer steps than those, though not a thousand times as long. By trial. Where many
/// columns cannot serve a row, what it would pay at most has little to do with its cells.
fn scales(problem: &Problem) -> Vec<f64> {
    let (rows, columns) = (problem.cells.rows(), problem.cells.columns());
    let is_short =
        |row: usize| problem.cells.row_len(row) * 2 < columns && !problem.cells.is_cut(row);
    if (0..rows).any(is_short) {
        return vec![1.0; rows];
    }
    let scale = |row: usize| {
        let sum: f64 = problem.cells.row(row).map(|(cost, _)| cost).sum();
        let mean = sum / f64::from(name(problem.cells.row_len(row)).max(1));
        if mean > 0.0 { mean.sqrt().sqrt() } else { 1.0 }
    };
    (0..rows).map(scale).collect()
}

/// Keeps multipliers within what the lists tell: beyond it reduced costs would miss cells.
fn clip(problem: &Problem, multipliers: &mut [f64]) {
    for (multiplier, beyond) in multipliers.iter_mut().zip(problem.cells.beyond()) {
        *multiplier = multiplier.min(beyond.least);
    }
}

pub(in crate::planner) fn set(states: &mut [State], column: usize, state: State) {
    if let Some(held) = states.get_mut(column) {
        *held = state;
    }
}

/// Every row with its cheapest column, and the locked ones paid: no choice is cheaper.
fn floor(problem: &Problem) -> f64 {
    let beyond = problem.cells.beyond().iter().enumerate();
    let lowest = beyond.map(|(row, beyond)| {
        problem.cells.row(row).next().map_or(beyond.least, |(cost, _)| cost.min(beyond.least))
    });
    let locked = problem.prices.iter().zip(&problem.locked).filter(|(_, locked)| **locked);
    let sum = lowest.sum::<f64>() + locked.map(|(price, _)| price).sum::<f64>();
    sum - CLOSED / 16.0 * sum.abs().min(dearest(problem))
}
