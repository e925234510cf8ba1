//! Bounds a problem from below by subgradient steps of its Lagrangian: every column is a knapsack of
//! the rows that would pay for it. It does not split the choices: `parts` does.
//!
//! For multipliers u, sum(u) + what the locked columns are worth + the lowest worths of as many others
//! as may be open is a lower bound. A column's worth is the least, over the numbers of its pieces, of
//! its price less the most that rows gain within what those pieces serve.

use super::knapsack::{Filled, Item};
use super::plan::Plan;
use super::{CLOSED, Column, Problem};
use crate::error::Result;
use crate::planner::median::{Effort, Pace, State, set};

/// Most steps at the root; most steps in each part of the choices, and their first length.
const ROOT_STEPS: u32 = 600;
const PART_STEPS: u32 = 40;
const PART_LENGTH: f64 = 1.0;

/// First length of a step, relative to the one that would close the gap along the slope.
const LENGTH: f64 = 1.5;

/// Steps without a better bound before the length is halved.
const PATIENCE: u32 = 10;

/// Length below which nothing moves any more.
const SHORTEST: f64 = 1e-3;

/// Part of the last direction that the next one keeps: damps zigzags.
const MOMENTUM: f64 = 0.7;

/// Weight of the present step in how often a column is chosen.
const FRESH: f64 = 0.1;

/// Root steps between two searches from the relaxed optimum.
const BETWEEN_SEARCHES: u32 = 20;

/// Where more pieces than these may pay, they are counted in fractions, which bounds them too.
const PIECES: f64 = 64.0;

/// Columns and rows that are settled in one part of the choices.
#[derive(Clone, Debug)]
pub(super) struct Settled {
    pub(super) states: Vec<State>,
    /// The column that a row must join.
    pub(super) fixed: Vec<Option<usize>>,
    /// Columns that a row must not join.
    pub(super) barred: Vec<(usize, usize)>,
}

/// The multipliers on their way up.
pub(super) struct Climb<'p> {
    problem: &'p Problem,
    multipliers: Vec<f64>,
    pub(super) best_multipliers: Vec<f64>,
    direction: Vec<f64>,
    /// How many chosen columns take each row, in fractions.
    pub(super) takers: Vec<f64>,
    pub(super) settled: Settled,
    /// What fixed rows take of each column, and what they pay.
    taken: Vec<f64>,
    paid: f64,
    items: Vec<Vec<Item>>,
    worths: Vec<f64>,
    /// Pieces of each column's worth.
    pieces: Vec<f64>,
    order: Vec<(f64, usize)>,
    chosen: Vec<usize>,
    /// The best bound known.
    pub(super) bound: f64,
    level: f64,
    length: f64,
    idle: u32,
    /// How often each column was in the relaxed optimum lately, 0 to 1.
    pub(super) often: Vec<f64>,
    /// Cells visited.
    pub(super) visited: u64,
}

impl<'p> Climb<'p> {
    /// Starts from what the rows pay in a plan; `floor` is a bound that is known already.
    pub(super) fn new(problem: &'p Problem, plan: &Plan<'p>, floor: f64) -> Self {
        let state = |column: &Column| if column.locked { State::Must } else { State::Live };
        let (rows, columns) = (problem.weights.len(), problem.columns.len());
        let multipliers = plan.payments();
        Self {
            problem,
            best_multipliers: multipliers.clone(),
            multipliers,
            direction: vec![0.0; rows],
            takers: vec![0.0; rows],
            settled: Settled {
                states: problem.columns.iter().map(state).collect(),
                fixed: vec![None; rows],
                barred: Vec::new(),
            },
            taken: vec![0.0; columns],
            paid: 0.0,
            items: vec![Vec::new(); columns],
            worths: vec![0.0; columns],
            pieces: vec![0.0; columns],
            order: Vec::new(),
            chosen: Vec::new(),
            bound: floor,
            level: f64::NEG_INFINITY,
            length: LENGTH,
            idle: 0,
            often: vec![0.0; columns],
            visited: 0,
        }
    }

    pub(super) fn problem(&self) -> &'p Problem {
        self.problem
    }

    /// Climbs at the root; true when nothing beats the best plan.
    pub(super) fn climb(
        &mut self,
        best: &mut Plan<'p>,
        effort: Effort,
        pace: &mut dyn Pace,
    ) -> Result<bool> {
        for step in 0..ROOT_STEPS {
            if self.advance(best, pace)? {
                return Ok(true);
            }
            if self.length < SHORTEST || self.visited > effort.cells {
                break;
            }
            if step % BETWEEN_SEARCHES == BETWEEN_SEARCHES / 2 {
                self.search(best, pace)?;
                let part = f64::from(step) / f64::from(ROOT_STEPS) / 2.0;
                pace.tell(part, best.limit(), Some(self.bound));
            }
            self.step(best);
        }
        Ok(false)
    }

    /// Climbs in one part of the choices; true when nothing in it beats the best plan.
    pub(super) fn climb_part(
        &mut self,
        best: &mut Plan<'p>,
        searches: bool,
        pace: &mut dyn Pace,
    ) -> Result<bool> {
        for _ in 0..PART_STEPS {
            if self.advance(best, pace)? {
                return Ok(true);
            }
            if self.length < SHORTEST {
                break;
            }
            self.step(best);
        }
        if searches {
            self.search(best, pace)?;
        }
        Ok(self.bound >= self.target(best))
    }

    /// Takes up a part of the choices.
    pub(super) fn enter(&mut self, settled: Settled, multipliers: Vec<f64>, bound: f64) {
        self.taken.fill(0.0);
        self.paid = 0.0;
        for (row, column) in settled.fixed.iter().enumerate() {
            let Some(column) = column else { continue };
            self.paid += self.problem.cells.cost(row, *column).unwrap_or(f64::INFINITY);
            if let (Some(taken), Some(weight)) =
                (self.taken.get_mut(*column), self.problem.weights.get(row))
            {
                *taken += weight;
            }
        }
        self.multipliers.clone_from(&multipliers);
        self.best_multipliers = multipliers;
        self.settled = settled;
        self.bound = bound;
        self.level = f64::NEG_INFINITY;
        self.length = PART_LENGTH;
        self.idle = 0;
        self.direction.fill(0.0);
    }

    /// Bound that closes the gap to the best plan.
    pub(super) fn target(&self, best: &Plan<'_>) -> f64 {
        let limit = best.limit();
        limit - (self.problem.grain * (1.0 - 1e-6)).max(CLOSED * limit)
    }

    fn is_fixed(&self, row: usize) -> bool {
        self.settled.fixed.get(row).is_some_and(Option::is_some)
    }

    fn advance(&mut self, best: &mut Plan<'p>, pace: &mut dyn Pace) -> Result<bool> {
        pace.look()?;
        self.gather();
        self.weigh();
        let safe = self.choose(best.limit());
        self.fix(best, safe);
        self.record(safe);
        let must = self.settled.states.iter().filter(|state| **state == State::Must).count();
        Ok(must > self.problem.most || self.bound >= self.target(best))
    }

    /// The rows that would gain by each column.
    fn gather(&mut self) {
        self.items.iter_mut().for_each(Vec::clear);
        for (row, multiplier) in self.multipliers.iter().enumerate() {
            if self.settled.fixed.get(row).is_some_and(Option::is_some) {
                continue;
            }
            let weight = self.problem.weights.get(row).copied().unwrap_or(0.0);
            let cells = self.problem.cells.row(row).take_while(|(cost, _)| cost < multiplier);
            for (cost, column) in cells {
                self.visited += 1;
                let is_out = self.settled.states.get(column) == Some(&State::Out);
                if is_out || self.settled.barred.contains(&(row, column)) {
                    continue;
                }
                if let Some(items) = self.items.get_mut(column) {
                    items.push(Item { gain: multiplier - cost, weight, row });
                }
            }
        }
    }

    /// The column with what fixed rows take of it.
    fn column(&self, place: usize) -> Option<Column> {
        let column = self.problem.columns.get(place)?;
        let taken = column.taken + self.taken.get(place).copied().unwrap_or(0.0);
        Some(Column { taken, ..*column })
    }

    /// What every column is worth under the present multipliers.
    fn weigh(&mut self) {
        for place in 0..self.worths.len() {
            let Some(column) = self.column(place) else { continue };
            let Some(items) = self.items.get_mut(place) else { continue };
            items.sort_unstable_by(|one, two| {
                let densities = (two.gain * one.weight).total_cmp(&(one.gain * two.weight));
                densities.then(one.row.cmp(&two.row))
            });
            let (worth, pieces, looked) = worth(&column, items);
            self.visited += looked;
            if let (Some(held), Some(count)) =
                (self.worths.get_mut(place), self.pieces.get_mut(place))
            {
                (*held, *count) = (worth, pieces);
            }
        }
    }

    /// Chooses the columns of the relaxed optimum; returns its total, a lower bound.
    fn choose(&mut self, limit: f64) -> f64 {
        let rows = self.multipliers.iter().enumerate();
        let free = rows.filter(|(row, _)| !self.is_fixed(*row)).map(|(_, multiplier)| multiplier);
        let mut total = self.paid + free.sum::<f64>();
        self.chosen.clear();
        self.order.clear();
        for (column, (state, worth)) in self.settled.states.iter().zip(&self.worths).enumerate() {
            match state {
                State::Must => {
                    total += worth;
                    self.chosen.push(column);
                }
                State::Live => self.order.push((*worth, column)),
                State::Out => {}
            }
        }
        let free = self.problem.most.saturating_sub(self.chosen.len());
        self.order.sort_unstable_by(|one, two| one.0.total_cmp(&two.0).then(one.1.cmp(&two.1)));
        for (worth, column) in self.order.iter().take(free).filter(|(worth, _)| *worth < 0.0) {
            total += worth;
            self.chosen.push(*column);
        }
        for often in &mut self.often {
            *often *= 1.0 - FRESH;
        }
        for column in &self.chosen {
            if let Some(often) = self.often.get_mut(*column) {
                *often += FRESH;
            }
        }
        // Rounding must not lift the bound above the truth.
        total - CLOSED * total.abs().max(limit) / 16.0
    }

    /// Settles the columns whose turn would pass the best plan.
    fn fix(&mut self, best: &Plan<'_>, safe: f64) {
        let must = self.settled.states.iter().filter(|state| **state == State::Must).count();
        let free = self.problem.most.saturating_sub(must);
        let taken = free.min(self.order.len());
        let (inside, outside) = self.order.split_at(taken);
        let last_in = match taken == free {
            true => inside.last().map_or(0.0, |(worth, _)| worth.min(0.0)),
            false => 0.0,
        };
        let first_out = outside.first().map_or(0.0, |(worth, _)| worth.min(0.0));
        let margin = self.target(best) + 2.0 * CLOSED * best.limit() - safe;
        for (worth, column) in outside.iter().chain(inside) {
            if *worth - last_in > margin {
                set(&mut self.settled.states, *column, State::Out);
            }
        }
        for (worth, column) in inside {
            if first_out - worth > margin {
                set(&mut self.settled.states, *column, State::Must);
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

    /// Searches from the relaxed optimum.
    fn search(&mut self, best: &mut Plan<'p>, pace: &mut dyn Pace) -> Result<()> {
        let mut other = Plan::in_columns(self.problem, &self.chosen);
        self.visited += other.improve(pace)?;
        if other.beats(best) {
            *best = other;
        }
        Ok(())
    }

    /// How many chosen columns take each row.
    fn count_takers(&mut self) {
        self.takers.fill(0.0);
        for place in &self.chosen {
            let pieces = self.pieces.get(*place).copied().unwrap_or(0.0);
            let Some(column) = self.column(*place) else { continue };
            let Some(items) = self.items.get(*place) else { continue };
            let takers = &mut self.takers;
            Filled::of(items, column.served_by(pieces)).each(items, |row, part| {
                if let Some(takers) = takers.get_mut(row) {
                    *takers += part;
                }
            });
        }
    }

    /// Moves the multipliers along the subgradient: up where too few take the row, down where too
    /// many do.
    fn step(&mut self, best: &Plan<'_>) {
        self.count_takers();
        let mut norm = 0.0;
        let free = self.settled.fixed.iter().map(Option::is_none);
        for ((takers, direction), is_free) in self.takers.iter().zip(&mut self.direction).zip(free)
        {
            let slope = if is_free { 1.0 - takers } else { 0.0 };
            *direction = if is_free { slope + MOMENTUM * *direction } else { 0.0 };
            norm += *direction * *direction;
        }
        if norm <= 0.0 {
            self.length = 0.0;
            return;
        }
        // Without a plan that fits, the distance to the optimum is anybody's guess.
        let gap = if best.fits() { best.limit() - self.level } else { self.level.abs() * 0.05 };
        let step = self.length * gap.max(CLOSED * best.limit()) / norm;
        for (multiplier, direction) in self.multipliers.iter_mut().zip(&self.direction) {
            *multiplier = (*multiplier + step * direction).max(0.0);
        }
    }
}

/// The least that a column with these rows comes to, with its pieces and the items looked at. The
/// items come by gain for their weight, best first.
fn worth(column: &Column, items: &[Item]) -> (f64, f64, u64) {
    if column.room() < -CLOSED * column.taken.abs() {
        return (f64::INFINITY, 0.0, 0);
    }
    let all: f64 = items.iter().map(|item| item.gain).sum();
    let weight: f64 = items.iter().map(|item| item.weight).sum();
    let (mut pieces, mut looked) = (column.pieces(0.0), 0);
    if column.piece > 0.0 && all / column.piece > PIECES {
        return (by_fractions(column, items), column.pieces(weight), items.len() as u64);
    }
    let mut best = (f64::INFINITY, pieces);
    loop {
        let served = column.served_by(pieces);
        let filled = Filled::of(items, served);
        let total = column.open + column.piece * pieces - filled.gain;
        looked += items.len() as u64 + u64::from(filled.looked) + 1;
        if total < best.0 {
            best = (total, pieces);
        }
        pieces += 1.0;
        let is_last = column.piece <= 0.0 || served >= weight.min(column.room());
        if is_last || column.open + column.piece * pieces - all >= best.0 {
            return (best.0, best.1, looked);
        }
    }
}

/// The same with pieces counted in fractions: never more.
fn by_fractions(column: &Column, items: &[Item]) -> f64 {
    let each = column.piece / column.yields;
    let spare = (column.there - column.taken).max(0.0);
    let paid = column.piece * ((column.taken - column.there) / column.yields).max(0.0);
    let gains: f64 = items.iter().map(|item| (item.gain - each * item.weight).max(0.0)).sum();
    column.open + paid - gains - each * spare
}
