//! How small difference and lost contrast together could be at best: the Lagrangian bound of the
//! weighted p-median, in which two touching colors that share a thread pay for the edge between
//! them. Contrast lost between two different threads is left out, so that the bound stays a bound.
//!
//! Each color must join one thread; the multiplier of its row is what it would pay at most. For given
//! multipliers each thread picks the set of colors that saves most, less what the edges inside of
//! the set cost; as many threads as may be open, those that save most, make up the bound. Without
//! edges this is the bound of the plain reduction.

use std::cmp::Ordering;

use super::super::median::Problem;
use super::super::meter::Meter;
use super::board::Board;
use crate::error::Result;

/// Most steps of the multipliers.
const MAX_STEPS: u32 = 500;

/// Cells that the steps may visit. A count, not a clock: the answer is the same everywhere.
const BUDGET: u64 = 250_000_000;

/// Steps without a better bound before the step length is halved.
const PATIENCE: u32 = 15;

/// First and last step length.
const LONGEST: f64 = 1.2;
const SHORTEST: f64 = 2e-3;

/// Gap, relative to the total, that is not worth another step.
const CLOSE: f64 = 1e-6;

/// Rounding, relative to the total, that must not lift the bound above the truth.
const ROUNDING: f64 = 1e-10;

/// Sets that one thread may weigh before it settles for a bound.
const MAX_SETS: usize = 400;

/// A lower bound on what the rows of `board` pay and lose together; `total` is what they do now.
pub(super) fn bound(
    problem: &Problem,
    board: &Board<'_>,
    (total, start): (f64, &[f64]),
    meter: &mut Meter<'_>,
) -> Result<f64> {
    let mut ascent = Ascent::new(problem, board, start);
    for _ in 0..MAX_STEPS {
        meter.look()?;
        ascent.advance(total);
        let closed = total - ascent.bound <= CLOSE * total;
        if closed || ascent.length < SHORTEST || ascent.spent > BUDGET {
            break;
        }
        ascent.step(total);
    }
    Ok((ascent.bound - ROUNDING * total.abs()).min(total))
}

struct Ascent<'m> {
    problem: &'m Problem,
    board: &'m Board<'m>,
    /// What rows pay beside all that is settled, for the threads of the shortlist.
    extra: Vec<Option<usize>>,
    multipliers: Vec<f64>,
    best: Vec<f64>,
    /// How many chosen threads pick each row.
    picked: Vec<u32>,
    bound: f64,
    length: f64,
    idle: u32,
    seat_of: Vec<usize>,
    /// Cells visited.
    spent: u64,
}

/// What a thread saves, and the rows that it picks.
struct Picks {
    column: usize,
    /// Reduced cost.
    price: f64,
    rows: Vec<usize>,
}

impl<'m> Ascent<'m> {
    fn new(problem: &'m Problem, board: &'m Board<'m>, start: &[f64]) -> Self {
        let (rows, columns) = (problem.cells.rows(), problem.cells.columns());
        let mut extra = vec![None; columns];
        for (number, column) in board.columns.iter().enumerate() {
            extra.get_mut(*column).into_iter().for_each(|of| *of = Some(number));
        }
        let mut ascent = Self {
            problem,
            board,
            extra,
            best: Vec::new(),
            multipliers: start.to_vec(),
            picked: vec![0; rows],
            bound: 0.0,
            length: LONGEST,
            idle: 0,
            seat_of: vec![usize::MAX; rows],
            spent: 0,
        };
        ascent.clip();
        ascent.best.clone_from(&ascent.multipliers);
        ascent
    }

    /// What a row pays for a column that costs it at least `least`.
    fn cost(&self, row: usize, column: usize, least: f64) -> f64 {
        match self.extra.get(column).copied().flatten() {
            Some(number) => self.board.costs(row).get(number).copied().unwrap_or(f64::INFINITY),
            None => least,
        }
    }

    fn is_locked(&self, column: usize) -> bool {
        self.problem.locked.get(column).copied().unwrap_or(true)
    }

    /// Keeps multipliers within what the lists tell: beyond it threads would save unseen.
    fn clip(&mut self) {
        for (multiplier, beyond) in self.multipliers.iter_mut().zip(self.problem.cells.beyond()) {
            *multiplier = multiplier.min(beyond.least);
        }
    }

    /// Prices the threads under the present multipliers and takes the bound into account.
    fn advance(&mut self, total: f64) {
        let (mut plain, locked) = self.plain_prices();
        plain.sort_unstable_by(|one, two| one.0.total_cmp(&two.0).then(one.1.cmp(&two.1)));
        let mut chosen: Vec<Picks> = locked.into_iter().map(|column| self.picks(column)).collect();
        let locked: f64 = chosen.iter().map(|picks| picks.price).sum();
        let free = self.problem.most.saturating_sub(chosen.len());
        let mut others: Vec<Picks> = Vec::new();
        for (price, column) in plain {
            let worst = others.last().map_or(0.0, |picks: &Picks| picks.price);
            if free == 0 || (others.len() >= free && price >= worst) {
                break;
            }
            let picks = self.picks(column);
            if picks.price >= 0.0 {
                continue;
            }
            let place = others.partition_point(|held| order(held, &picks) == Ordering::Less);
            others.insert(place, picks);
            others.truncate(free);
        }
        let saved: f64 = others.iter().map(|picks| picks.price).sum();
        let bound = self.multipliers.iter().sum::<f64>() + locked + saved;
        chosen.append(&mut others);
        self.picked.fill(0);
        for row in chosen.iter().flat_map(|picks| &picks.rows) {
            self.picked.get_mut(*row).into_iter().for_each(|count| *count += 1);
        }
        self.record(bound, total);
    }

    /// What each column that saves anything would save if no edge cost anything, and the locked
    /// columns.
    fn plain_prices(&mut self) -> (Vec<(f64, usize)>, Vec<usize>) {
        let cells = &self.problem.cells;
        let mut prices = self.problem.prices.clone();
        for (row, multiplier) in self.multipliers.iter().enumerate() {
            for (cost, column) in cells.row(row).take_while(|(cost, _)| cost < multiplier) {
                prices.get_mut(column).into_iter().for_each(|price| *price += cost - multiplier);
                self.spent += 1;
            }
        }
        let saves = |(column, price): &(usize, f64)| *price < 0.0 && !self.is_locked(*column);
        let free = prices.into_iter().enumerate().filter(saves);
        let locked = (0..cells.columns()).filter(|column| self.is_locked(*column)).collect();
        (free.map(|(column, price)| (price, column)).collect(), locked)
    }

    /// The set of rows with which a column saves most.
    fn picks(&mut self, column: usize) -> Picks {
        let mut wanted: Vec<(f64, usize)> = Vec::new();
        for (least, row) in self.problem.cells.column(column) {
            let multiplier = self.multipliers.get(row).copied().unwrap_or(0.0);
            if least >= multiplier {
                continue;
            }
            let saves = multiplier - self.cost(row, column, least);
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
            for link in self.board.links(*row) {
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
        if bound > self.bound + CLOSE * total {
            self.idle = 0;
        } else {
            self.idle += 1;
        }
        if bound > self.bound {
            self.bound = bound;
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
        let step = self.length * (total - self.bound).max(CLOSE * total) / norm;
        for (multiplier, picked) in self.multipliers.iter_mut().zip(&self.picked) {
            *multiplier += step * slope(picked);
        }
        self.clip();
    }
}

fn order(one: &Picks, two: &Picks) -> Ordering {
    one.price.total_cmp(&two.price).then(one.column.cmp(&two.column))
}

/// Which of several rows a thread should take, when some pairs of them cost something together.
struct Set {
    saves: Vec<f64>,
    /// Later rows that a row clashes with, and what both together cost.
    clashes: Vec<Vec<(usize, f64)>>,
    sets: usize,
    best: f64,
    best_taken: Vec<usize>,
    /// The most that sets could save that were not weighed.
    unseen: f64,
}

impl Set {
    fn new(wanted: &[(f64, usize)]) -> Self {
        Self {
            saves: wanted.iter().map(|(saves, _)| *saves).collect(),
            clashes: vec![Vec::new(); wanted.len()],
            sets: 0,
            best: 0.0,
            best_taken: Vec::new(),
            unseen: 0.0,
        }
    }

    fn clash(&mut self, place: usize, later: usize, cost: f64) {
        self.clashes.get_mut(place).into_iter().for_each(|of| of.push((later, cost)));
    }

    /// The most that can be saved, or a bound on it, and the best set that was weighed.
    fn best(mut self) -> (f64, Vec<usize>) {
        let saves = self.saves.clone();
        self.weigh(0, 0.0, saves, &mut Vec::new());
        (self.best.max(self.unseen), self.best_taken)
    }

    /// Decides one row after another, those that save most first.
    fn weigh(&mut self, from: usize, saved: f64, left: Vec<f64>, taken: &mut Vec<usize>) {
        let hoped = saved + left.iter().skip(from).map(|saves| saves.max(0.0)).sum::<f64>();
        if hoped <= self.best {
            return;
        }
        if self.sets >= MAX_SETS {
            self.unseen = self.unseen.max(hoped);
            return;
        }
        let mut left = left;
        let (mut place, mut saved, held) = (from, saved, taken.len());
        // Rows that clash with nobody to come are taken as they are.
        while let Some(saves) = left.get(place).copied() {
            let clashes = self.clashes.get(place).cloned().unwrap_or_default();
            let open = |(later, _): &(usize, f64)| left.get(*later).is_some_and(|s| *s > 0.0);
            if saves > 0.0 && clashes.iter().any(open) {
                self.sets += 1;
                let mut with = left.clone();
                for (later, cost) in &clashes {
                    with.get_mut(*later).into_iter().for_each(|saves| *saves -= cost);
                }
                taken.push(place);
                self.weigh(place + 1, saved + saves, with, taken);
                taken.pop();
                if let Some(saves) = left.get_mut(place) {
                    *saves = 0.0;
                }
                self.weigh(place + 1, saved, left, taken);
                taken.truncate(held);
                return;
            }
            if saves > 0.0 {
                saved += saves;
                taken.push(place);
            }
            place += 1;
        }
        if saved > self.best {
            self.best = saved;
            self.best_taken.clone_from(taken);
        }
        taken.truncate(held);
    }
}
