//! How small difference and lost contrast together could be at best: the Lagrangian bound of the
//! weighted p-median, in which two touching colors that share a thread pay for the edge between
//! them. Contrast lost between two different threads is left out, so that the bound stays a bound.
//!
//! Each color must join one thread; the multiplier of its row is what it would pay at most. For given
//! multipliers each thread picks the [`Set`] of colors that saves most, less what the edges inside of
//! the set cost; as many threads as may be open, those that save most, make up the bound. Without
//! edges this is the bound of the plain reduction. It does not split the choices: [`split`] does.

use std::cmp::Ordering;
use std::collections::BTreeSet;

use super::super::median::{Problem, State, set};
use super::super::meter::Meter;
use super::board::Board;
use super::set::Set;
use super::split::{self, Best};
use crate::error::Result;

/// Most steps of the multipliers.
const MAX_STEPS: u32 = 500;

/// Cells that the steps may visit. A count, not a clock: the answer is the same everywhere.
const BUDGET: u64 = 250_000_000;

/// Steps without a better bound before the step length is halved.
const PATIENCE: u32 = 15;

/// First and last step length, and the first one in a part of the choices.
const LONGEST: f64 = 1.2;
const SHORTEST: f64 = 2e-3;
const PART_LENGTH: f64 = 0.8;

/// Gap, relative to the total, that is not worth another step.
const CLOSE: f64 = 1e-6;

/// Rounding, relative to the total, that must not lift the bound above the truth.
const ROUNDING: f64 = 1e-10;

/// Weight of the present step in how often a column is chosen.
const FRESH: f64 = 0.1;

/// A lower bound on what rows pay and lose together. Where it stays far below the best choice so far,
/// choices are looked at in halves, and that one may become a better one.
pub(super) fn bound(
    problem: &Problem,
    start: &[f64],
    best: &mut dyn Best,
    meter: &mut Meter<'_>,
) -> Result<f64> {
    let mut ascent = Ascent::new(problem, best.board(), start);
    ascent.climb(best.board(), best.total(), (MAX_STEPS, CLOSE), meter)?;
    let bound = split::look_at_all(&mut ascent, best, meter)?;
    let total = best.total();
    Ok((bound - ROUNDING * total.abs()).min(total))
}

/// The choices that are left in a part of them.
#[derive(Clone, Debug)]
pub(super) struct Left {
    /// How each column stands.
    pub(super) states: Vec<State>,
    /// The column that a row must join.
    fixed: Vec<Option<usize>>,
    /// Rows with columns that they must not join.
    pub(super) barred: BTreeSet<(usize, usize)>,
}

impl Left {
    fn all(problem: &Problem) -> Self {
        let state = |locked: &bool| if *locked { State::Must } else { State::Live };
        Self {
            states: problem.locked.iter().map(state).collect(),
            fixed: vec![None; problem.cells.rows()],
            barred: BTreeSet::new(),
        }
    }

    fn allows(&self, row: usize, column: usize) -> bool {
        let fixed = self.fixed.get(row).copied().flatten();
        self.states.get(column).is_some_and(|state| *state != State::Out)
            && fixed.is_none_or(|fixed| fixed == column)
            && (self.barred.is_empty() || !self.barred.contains(&(row, column)))
    }

    fn count(&self, wanted: State) -> usize {
        self.states.iter().filter(|state| **state == wanted).count()
    }

    /// Lets a row join this column only.
    pub(super) fn fix(&mut self, row: usize, column: usize) {
        self.fixed.get_mut(row).into_iter().for_each(|fixed| *fixed = Some(column));
        set(&mut self.states, column, State::Must);
    }

    /// Settles columns that others settle: the only one of a row, and the rest once as many are open
    /// as may be. False when no choice is left.
    fn settle(&mut self, problem: &Problem) -> bool {
        let cells = &problem.cells;
        for row in (0..cells.rows()).filter(|row| !cells.is_cut(*row)) {
            let mut allowed = cells.row(row).filter(|(_, column)| self.allows(row, *column));
            let (first, second) = (allowed.next(), allowed.next());
            drop(allowed);
            match (first, second) {
                (None, _) => return false,
                (Some((_, only)), None) => set(&mut self.states, only, State::Must),
                (Some(_), Some(_)) => {}
            }
        }
        let must = self.count(State::Must);
        if must == problem.most {
            let live = self.states.iter_mut().filter(|state| **state == State::Live);
            live.for_each(|state| *state = State::Out);
        }
        must <= problem.most
    }
}

/// The multipliers on their way up.
pub(super) struct Ascent<'m> {
    problem: &'m Problem,
    pub(super) left: Left,
    /// What choices may be ruled out that come to this.
    goal: f64,
    /// What rows pay beside all that is settled, for the threads of the shortlist.
    extra: Vec<Option<usize>>,
    multipliers: Vec<f64>,
    pub(super) best: Vec<f64>,
    /// Columns of the relaxed optimum.
    chosen: Vec<usize>,
    /// How often each column was in the relaxed optimum lately, 0 to 1.
    pub(super) often: Vec<f64>,
    /// How many chosen threads pick each row.
    picked: Vec<u32>,
    /// The best bound known; infinite when no choice is left.
    pub(super) bound: f64,
    /// The best bound that the present multipliers reached; may lie below the other at first.
    level: f64,
    length: f64,
    idle: u32,
    seat_of: Vec<usize>,
    /// Cells visited, and how many may be.
    pub(super) spent: u64,
    pub(super) budget: u64,
}

/// What a thread saves, and the rows that it picks.
struct Picks {
    column: usize,
    /// Reduced cost.
    price: f64,
    rows: Vec<usize>,
}

impl<'m> Ascent<'m> {
    fn new(problem: &'m Problem, board: &Board<'_>, start: &[f64]) -> Self {
        let (rows, columns) = (problem.cells.rows(), problem.cells.columns());
        let mut extra = vec![None; columns];
        for (number, column) in board.columns.iter().enumerate() {
            extra.get_mut(*column).into_iter().for_each(|of| *of = Some(number));
        }
        let mut ascent = Self {
            problem,
            left: Left::all(problem),
            goal: f64::INFINITY,
            extra,
            best: Vec::new(),
            multipliers: start.to_vec(),
            chosen: Vec::new(),
            often: vec![0.0; columns],
            picked: vec![0; rows],
            bound: 0.0,
            level: f64::NEG_INFINITY,
            length: LONGEST,
            idle: 0,
            seat_of: vec![usize::MAX; rows],
            spent: 0,
            budget: BUDGET,
        };
        ascent.clip();
        ascent.best.clone_from(&ascent.multipliers);
        ascent
    }

    /// Climbs so many steps; true when nothing that is left comes to less than the total without this
    /// part of it.
    pub(super) fn climb(
        &mut self,
        board: &Board<'_>,
        total: f64,
        (steps, near): (u32, f64),
        meter: &mut Meter<'_>,
    ) -> Result<bool> {
        for _ in 0..steps {
            meter.look()?;
            if !self.left.settle(self.problem) {
                self.bound = f64::INFINITY;
                return Ok(true);
            }
            self.advance(board, total);
            if self.bound >= total * (1.0 - near) {
                return Ok(true);
            }
            if self.length < SHORTEST || self.spent > self.budget {
                break;
            }
            self.step(total);
        }
        Ok(false)
    }

    /// Takes up a part of the choices, of which those are ruled out that come to the goal.
    pub(super) fn enter(&mut self, left: Left, multipliers: Vec<f64>, bound: f64, goal: f64) {
        self.multipliers.clone_from(&multipliers);
        self.best = multipliers;
        (self.left, self.bound, self.goal) = (left, bound, goal);
        (self.level, self.length, self.idle) = (f64::NEG_INFINITY, PART_LENGTH, 0);
    }

    /// True when the relaxed optimum seats each row once: then it is a choice.
    pub(super) fn is_choice(&self) -> bool {
        self.picked.iter().all(|picked| *picked == 1)
    }

    /// Columns of the relaxed optimum, when each row can join one of them.
    pub(super) fn serving(&self) -> Option<&[usize]> {
        let joins = |row: usize, column: usize| self.problem.cells.cost(row, column).is_some();
        let serves = |row: usize| self.chosen.iter().any(|column| joins(row, *column));
        (0..self.picked.len()).all(serves).then_some(&self.chosen)
    }

    /// The row that is seated least clearly, the dearest first, with the column that it would join.
    pub(super) fn undecided_row(&self, board: &Board<'_>) -> Option<(usize, usize)> {
        let doubt = |row: &usize| {
            let picked = self.picked.get(*row).copied().unwrap_or(1);
            f64::from(picked.abs_diff(1)) * self.best.get(*row).copied().unwrap_or(0.0)
        };
        let is_free = |row: &usize| self.left.fixed.get(*row).is_some_and(Option::is_none);
        let doubted = (0..self.picked.len()).filter(|row| is_free(row) && doubt(row) > 0.0);
        let row =
            doubted.max_by(|one, two| doubt(one).total_cmp(&doubt(two)).then(two.cmp(one)))?;
        let is_open =
            |column: usize| self.left.allows(row, column) && self.chosen.contains(&column);
        let open = self.problem.cells.row(row).filter(|(_, column)| is_open(*column));
        let costs = open.map(|(least, column)| (self.cost(board, row, column, least), column));
        let best = costs.min_by(|one, two| one.0.total_cmp(&two.0).then(one.1.cmp(&two.1)));
        best.map(|(_, column)| (row, column))
    }

    /// What a row pays for a column that costs it at least `least`.
    fn cost(&self, board: &Board<'_>, row: usize, column: usize, least: f64) -> f64 {
        match self.extra.get(column).copied().flatten() {
            Some(number) => board.costs(row).get(number).copied().unwrap_or(f64::INFINITY),
            None => least,
        }
    }

    /// Keeps multipliers within what the lists tell: beyond it threads would save unseen.
    fn clip(&mut self) {
        for (multiplier, beyond) in self.multipliers.iter_mut().zip(self.problem.cells.beyond()) {
            *multiplier = multiplier.min(beyond.least);
        }
    }

    /// Prices the threads under the present multipliers and takes the bound into account.
    fn advance(&mut self, board: &Board<'_>, total: f64) {
        let (mut live, must) = self.plain_prices();
        live.sort_unstable_by(|one, two| one.0.total_cmp(&two.0).then(one.1.cmp(&two.1)));
        let mut chosen: Vec<Picks> =
            must.into_iter().map(|column| self.picks(board, column)).collect();
        let paid: f64 = chosen.iter().map(|picks| picks.price).sum();
        let free = self.problem.most.saturating_sub(chosen.len());
        let mut others: Vec<Picks> = Vec::new();
        for (price, column) in &mut live {
            let worst = others.last().map_or(0.0, |picks: &Picks| picks.price);
            if free == 0 || *price >= 0.0 || (others.len() >= free && *price >= worst) {
                break;
            }
            let picks = self.picks(board, *column);
            *price = picks.price;
            if picks.price >= 0.0 {
                continue;
            }
            let place = others.partition_point(|held| order(held, &picks) == Ordering::Less);
            others.insert(place, picks);
            others.truncate(free);
        }
        let saved: f64 = others.iter().map(|picks| picks.price).sum();
        let bound = self.multipliers.iter().sum::<f64>() + paid + saved;
        self.rule_out(&live, &others, (free, self.goal - bound));
        chosen.append(&mut others);
        self.take(&chosen);
        self.record(bound, total);
    }

    /// Settles the columns whose turn would lift the bound by more than the margin. `live` are the
    /// prices of the undecided ones, or less than those; `taken` are those of the relaxed optimum.
    fn rule_out(&mut self, live: &[(f64, usize)], taken: &[Picks], (free, margin): (usize, f64)) {
        let last = taken.last().filter(|_| taken.len() == free);
        let last_in = last.map_or(0.0, |picks| picks.price);
        let is_taken = |column: usize| taken.iter().any(|picks| picks.column == column);
        let mut first_out = 0.0_f64;
        for (price, column) in live.iter().filter(|(_, column)| !is_taken(*column)) {
            first_out = first_out.min(*price);
            if price - last_in > margin {
                set(&mut self.left.states, *column, State::Out);
            }
        }
        for picks in taken.iter().filter(|picks| first_out - picks.price > margin) {
            set(&mut self.left.states, picks.column, State::Must);
        }
    }

    /// Takes these for the relaxed optimum.
    fn take(&mut self, chosen: &[Picks]) {
        self.picked.fill(0);
        for row in chosen.iter().flat_map(|picks| &picks.rows) {
            self.picked.get_mut(*row).into_iter().for_each(|count| *count += 1);
        }
        self.chosen.clear();
        self.chosen.extend(chosen.iter().map(|picks| picks.column));
        self.often.iter_mut().for_each(|often| *often *= 1.0 - FRESH);
        for column in &self.chosen {
            self.often.get_mut(*column).into_iter().for_each(|often| *often += FRESH);
        }
    }

    /// What each undecided column would cost if no edge cost anything, and the columns that are open.
    fn plain_prices(&mut self) -> (Vec<(f64, usize)>, Vec<usize>) {
        let cells = &self.problem.cells;
        let mut prices = self.problem.prices.clone();
        for (row, multiplier) in self.multipliers.iter().enumerate() {
            for (cost, column) in cells.row(row).take_while(|(cost, _)| cost < multiplier) {
                self.spent += 1;
                if self.left.allows(row, column) {
                    let price = prices.get_mut(column);
                    price.into_iter().for_each(|price| *price += cost - multiplier);
                }
            }
        }
        let (mut live, mut must) = (Vec::new(), Vec::new());
        for (column, (price, state)) in prices.into_iter().zip(&self.left.states).enumerate() {
            match state {
                State::Live => live.push((price, column)),
                State::Must => must.push(column),
                State::Out => {}
            }
        }
        (live, must)
    }

    /// The set of rows with which a column saves most.
    fn picks(&mut self, board: &Board<'_>, column: usize) -> Picks {
        let mut wanted: Vec<(f64, usize)> = Vec::new();
        for (least, row) in self.problem.cells.column(column) {
            let multiplier = self.multipliers.get(row).copied().unwrap_or(0.0);
            if least >= multiplier || !self.left.allows(row, column) {
                continue;
            }
            let saves = multiplier - self.cost(board, row, column, least);
            if saves > 0.0 {
                wanted.push((saves, row));
            }
        }
        wanted.sort_by(|one, two| two.0.total_cmp(&one.0).then(one.1.cmp(&two.1)));
        for (place, (_, row)) in wanted.iter().enumerate() {
            self.seat_of.get_mut(*row).into_iter().for_each(|seat| *seat = place);
        }
        let mut set = Set::new(&wanted);
        for (place, (_, row)) in wanted.iter().enumerate() {
            for link in board.links(*row) {
                let other = self.seat_of.get(link.row).copied().unwrap_or(usize::MAX);
                if other != usize::MAX && other > place {
                    set.clash(place, other, link.loss(0.0));
                }
            }
        }
        for (_, row) in &wanted {
            self.seat_of.get_mut(*row).into_iter().for_each(|seat| *seat = usize::MAX);
        }
        let (saved, places) = set.best();
        let rows = places.into_iter().filter_map(|place| wanted.get(place).map(|(_, row)| *row));
        let price = self.problem.prices.get(column).copied().unwrap_or(0.0) - saved;
        self.spent += self.problem.cells.column_len(column) as u64;
        Picks { column, price, rows: rows.collect() }
    }

    fn record(&mut self, bound: f64, total: f64) {
        self.idle = if bound > self.level + CLOSE * total { 0 } else { self.idle + 1 };
        self.bound = self.bound.max(bound);
        if bound > self.level {
            self.level = bound;
            self.best.clone_from(&self.multipliers);
        }
        if self.idle >= PATIENCE {
            self.idle = 0;
            self.length /= 2.0;
            self.multipliers.clone_from(&self.best);
        }
    }

    /// Moves the multipliers along the subgradient: up where no chosen thread picks the row, down
    /// where several do.
    fn step(&mut self, total: f64) {
        let slope = |picked: &u32| 1.0 - f64::from(*picked);
        let norm: f64 = self.picked.iter().map(|picked| slope(picked) * slope(picked)).sum();
        if norm <= 0.0 {
            self.length = 0.0;
            return;
        }
        let step = self.length * (total - self.level).max(CLOSE * total) / norm;
        for (multiplier, picked) in self.multipliers.iter_mut().zip(&self.picked) {
            *multiplier += step * slope(picked);
        }
        self.clip();
    }
}

fn order(one: &Picks, two: &Picks) -> Ordering {
    one.price.total_cmp(&two.price).then(one.column.cmp(&two.column))
}
