//! Every row in one column, with what the columns serve; moved, exchanged and relabeled until nothing
//! helps. Rows may pull at each other. It proves nothing.

use super::{CLOSED, Column, Problem, Pull};
use crate::error::Result;
use crate::planner::median::Pace;

/// The column of a row that has none.
const NOBODY: usize = usize::MAX;

/// Part of the total that a move must gain to be worth it; below it lies rounding.
const WORTH: f64 = 1e-11;

/// Most rounds of all moves.
const ROUNDS: u32 = 60;

/// Rows in columns. Where a column serves more than it holds, the excess is fined so much that
/// no plan that fits is ever worse.
#[derive(Clone)]
pub(super) struct Plan<'p> {
    problem: &'p Problem,
    seats: Vec<usize>,
    loads: Vec<f64>,
    counts: Vec<u32>,
    /// Fine for each unit of excess, and the least excess that counts.
    fine: f64,
    unit: f64,
    /// What a row without a column costs.
    dearest: f64,
    pull: Option<&'p dyn Pull>,
}

impl<'p> Plan<'p> {
    /// Rows in these columns.
    pub(super) fn seated(problem: &'p Problem, seats: &[usize]) -> Self {
        let mut plan = Self::empty(problem);
        for (row, column) in seats.iter().enumerate() {
            plan.seat(row, *column);
        }
        plan
    }

    /// Rows in the cheapest of these columns and of the locked ones, largest first, while there is
    /// room; others are opened where that helps.
    pub(super) fn in_columns(problem: &'p Problem, columns: &[usize]) -> Self {
        let mut plan = Self::empty(problem);
        let mut wanted = vec![false; problem.columns.len()];
        let locked = problem.columns.iter().enumerate().filter(|(_, column)| column.locked);
        for column in locked.map(|(place, _)| place).chain(columns.iter().copied()) {
            if let Some(wanted) = wanted.get_mut(column) {
                *wanted = true;
            }
        }
        let mut rows: Vec<usize> = (0..problem.weights.len()).collect();
        let weight = |row: &usize| problem.weights.get(*row).copied().unwrap_or(0.0);
        rows.sort_by(|one, two| weight(two).total_cmp(&weight(one)).then(one.cmp(two)));
        for row in rows {
            let of_wanted = |column: usize| wanted.get(column).copied().unwrap_or(false);
            let best = plan.cheapest(row, &of_wanted).or_else(|| plan.cheapest(row, &|_| true));
            if let Some((_, column)) = best {
                plan.seat(row, column);
            }
        }
        plan
    }

    fn empty(problem: &'p Problem) -> Self {
        let dearest = dearest(problem);
        let smallest = problem.weights.iter().copied().fold(f64::INFINITY, f64::min);
        let unit = if smallest.is_finite() { smallest.min(1.0) } else { 1.0 };
        Self {
            problem,
            seats: vec![NOBODY; problem.weights.len()],
            loads: vec![0.0; problem.columns.len()],
            counts: vec![0; problem.columns.len()],
            fine: (1.0 + dearest) / unit,
            unit,
            dearest,
            pull: None,
        }
    }

    /// The same with rows that pull at each other.
    pub(super) fn pulled(self, pull: &'p dyn Pull) -> Self {
        let dearest = self.dearest + pull.most();
        let fine = self.fine * (1.0 + dearest) / (1.0 + self.dearest);
        Self { pull: Some(pull), dearest, fine, ..self }
    }

    /// The column of each row.
    pub(super) fn seats(&self) -> &[usize] {
        &self.seats
    }

    /// Open columns, in order.
    pub(super) fn open(&self) -> Vec<usize> {
        (0..self.counts.len()).filter(|column| self.is_open(*column)).collect()
    }

    fn is_locked(&self, column: usize) -> bool {
        self.problem.columns.get(column).is_some_and(|column| column.locked)
    }

    fn is_open(&self, column: usize) -> bool {
        self.is_locked(column) || self.counts.get(column).is_some_and(|count| *count > 0)
    }

    /// True when every row has a column, no column serves more than it holds, and no more are open
    /// than may be.
    pub(super) fn fits(&self) -> bool {
        let within = |(column, load): (&Column, &f64)| *load <= column.room() * (1.0 + CLOSED);
        self.seats.iter().all(|seat| *seat != NOBODY)
            && self.problem.columns.iter().zip(&self.loads).all(within)
            && self.open().len() <= self.problem.most
    }

    /// True when this plan is to be taken instead: one that fits before one that does not.
    pub(super) fn beats(&self, other: &Self) -> bool {
        match (self.fits(), other.fits()) {
            (true, false) => true,
            (false, true) => false,
            (true, true) | (false, false) => self.total() < other.total(),
        }
    }

    /// What rows and open columns cost together, fines included.
    pub(super) fn total(&self) -> f64 {
        let rows = self.seats.iter().enumerate();
        let seated = rows.map(|(row, seat)| self.cost(row, *seat).unwrap_or(self.dearest + 1.0));
        let open = (0..self.counts.len()).filter(|column| self.is_open(*column));
        let prices = open.map(|column| self.priced(column, self.load(column), true));
        let lost = (0..self.seats.len()).map(|row| self.lost(row) / 2.0);
        seated.sum::<f64>() + prices.sum::<f64>() + lost.sum::<f64>()
    }

    /// What a row loses beside the others where it sits.
    fn lost(&self, row: usize) -> f64 {
        self.lost_in(row, self.seat_of(row))
    }

    fn lost_in(&self, row: usize, column: usize) -> f64 {
        self.pull.map_or(0.0, |pull| pull.lost(row, column, &self.seats))
    }

    /// What each row pays, with its share of its column's price.
    pub(super) fn payments(&self) -> Vec<f64> {
        let share = |(row, seat): (usize, &usize)| {
            let load = self.load(*seat).max(self.weight(row));
            let price = self.problem.columns.get(*seat).map_or(0.0, |column| column.price(load));
            self.cost(row, *seat).map_or(0.0, |cost| cost + price * self.weight(row) / load)
        };
        self.seats.iter().enumerate().map(share).collect()
    }

    /// What a plan that fits costs at most.
    pub(super) fn limit(&self) -> f64 {
        if self.fits() { self.total() } else { self.dearest + 1.0 }
    }

    fn cost(&self, row: usize, column: usize) -> Option<f64> {
        self.problem.cells.cost(row, column)
    }

    fn weight(&self, row: usize) -> f64 {
        self.problem.weights.get(row).copied().unwrap_or(0.0)
    }

    fn load(&self, column: usize) -> f64 {
        self.loads.get(column).copied().unwrap_or(0.0)
    }

    fn seat_of(&self, row: usize) -> usize {
        self.seats.get(row).copied().unwrap_or(NOBODY)
    }

    /// What a column costs with this load, fine included.
    fn priced(&self, column: usize, load: f64, is_open: bool) -> f64 {
        let Some(known) = self.problem.columns.get(column) else { return 0.0 };
        if !is_open {
            return 0.0;
        }
        let room = known.room();
        // Room need not be whole: however small an excess is, no gain is worth it.
        let excess = if load > room * (1.0 + CLOSED) { (load - room).max(self.unit) } else { 0.0 };
        known.price(load) + excess * self.fine
    }

    /// The change of a column's price when its load and its rows change by these.
    fn change(&self, column: usize, load: f64, rows: i64) -> f64 {
        let before = self.load(column);
        let count = i64::from(self.counts.get(column).copied().unwrap_or(0));
        let locked = self.is_locked(column);
        // An empty column serves exactly nothing, whatever rounding left.
        let after = if count + rows == 0 { 0.0 } else { before + load };
        self.priced(column, after, locked || count + rows > 0)
            - self.priced(column, before, locked || count > 0)
    }

    fn seat(&mut self, row: usize, column: usize) {
        let weight = self.weight(row);
        let Some(held) = self.seats.get_mut(row) else { return };
        let old = std::mem::replace(held, column);
        self.add(old, -weight, false);
        self.add(column, weight, true);
    }

    fn add(&mut self, column: usize, weight: f64, joins: bool) {
        if let (Some(load), Some(count)) = (self.loads.get_mut(column), self.counts.get_mut(column))
        {
            *count = if joins { *count + 1 } else { count.saturating_sub(1) };
            *load = if *count == 0 { 0.0 } else { *load + weight };
        }
    }

    fn has_room(&self) -> bool {
        self.open().len() < self.problem.most
    }

    /// The column that a row without one joins at the least cost.
    fn cheapest(&self, row: usize, wanted: &dyn Fn(usize) -> bool) -> Option<(f64, usize)> {
        let has_room = self.has_room();
        let weight = self.weight(row);
        let cells = self.problem.cells.row(row).filter(|(_, column)| wanted(*column));
        let cells = cells.filter(|(_, column)| has_room || self.is_open(*column));
        let priced = cells.map(|(cost, column)| {
            (cost + self.change(column, weight, 1) + self.lost_in(row, column), column)
        });
        priced.min_by(|one, two| one.0.total_cmp(&two.0).then(one.1.cmp(&two.1)))
    }

    /// Seats rows otherwise where that helps together with what they lose beside others, which
    /// `change` leaves out; true when it does.
    fn reseat(&mut self, to: &[(usize, usize)], change: f64, worth: f64) -> bool {
        let back: Vec<(usize, usize)> =
            to.iter().map(|(row, _)| (*row, self.seat_of(*row))).collect();
        let mut change = change;
        for (row, column) in to {
            change += self.lost_in(*row, *column) - self.lost(*row);
            self.seat(*row, *column);
        }
        let helps = change < -worth;
        if !helps {
            back.iter().for_each(|(row, column)| self.seat(*row, *column));
        }
        helps
    }

    /// Moves, exchanges and relabels until nothing helps.
    pub(super) fn improve(&mut self, pace: &mut dyn Pace) -> Result<u64> {
        let mut visited = 0;
        for _ in 0..ROUNDS {
            let before = self.total();
            visited += self.move_rows(pace)?;
            visited += self.exchange_rows(pace)?;
            visited += self.relabel(pace)?;
            visited += self.close(pace)?;
            if self.total() >= before - self.worth(before) {
                break;
            }
        }
        Ok(visited)
    }

    fn worth(&self, total: f64) -> f64 {
        WORTH * total.abs().max(self.dearest.min(1.0))
    }

    /// Each row to the column where the plan costs least.
    fn move_rows(&mut self, pace: &mut dyn Pace) -> Result<u64> {
        let mut visited = 0;
        for row in 0..self.seats.len() {
            pace.look()?;
            let seat = self.seat_of(row);
            let weight = self.weight(row);
            let left = self.change(seat, -weight, -1);
            let paid = self.cost(row, seat).unwrap_or(self.dearest + 1.0);
            let lost = self.lost(row);
            let is_last = self.counts.get(seat) == Some(&1);
            let has_room = self.has_room() || (is_last && !self.is_locked(seat));
            let mut best: Option<(f64, usize)> = None;
            for (cost, column) in self.problem.cells.row(row) {
                visited += 1;
                // Prices only grow with what is served, so that dearer cells cannot help.
                if cost - paid + left - lost >= 0.0 {
                    break;
                }
                if column == seat || !(has_room || self.is_open(column)) {
                    continue;
                }
                let change = cost - paid + left + self.change(column, weight, 1) - lost;
                let change = change + self.lost_in(row, column);
                if best.is_none_or(|(held, _)| change < held) {
                    best = Some((change, column));
                }
            }
            let worth = self.worth(paid);
            if let Some((_, column)) = best.filter(|(change, _)| *change < -worth) {
                self.seat(row, column);
            }
        }
        Ok(visited)
    }

    /// Two rows of different columns change places where that helps.
    fn exchange_rows(&mut self, pace: &mut dyn Pace) -> Result<u64> {
        let mut visited = 0;
        for one in 0..self.seats.len() {
            pace.look()?;
            for two in one + 1..self.seats.len() {
                let (first, second) = (self.seat_of(one), self.seat_of(two));
                if first == second {
                    continue;
                }
                visited += 1;
                let costs = self.cost(one, second).zip(self.cost(two, first));
                let paid = self.cost(one, first).zip(self.cost(two, second));
                let (Some((there, here)), Some((before, beside))) = (costs, paid) else { continue };
                let heavier = self.weight(two) - self.weight(one);
                let prices = self.change(first, heavier, 0) + self.change(second, -heavier, 0);
                let change = there + here - before - beside + prices;
                let worth = self.worth(before + beside);
                if change - self.lost(one) - self.lost(two) < -worth {
                    self.reseat(&[(one, second), (two, first)], change, worth);
                }
            }
        }
        Ok(visited)
    }

    /// All rows of a column go to a closed one where that helps.
    fn relabel(&mut self, pace: &mut dyn Pace) -> Result<u64> {
        let mut visited = 0;
        for column in self.open() {
            pace.look()?;
            let rows = self.rows_of(column);
            let Some(fewest) =
                rows.iter().copied().min_by_key(|row| self.problem.cells.row_len(*row))
            else {
                continue;
            };
            let load = self.load(column);
            let count = i64::from(self.counts.get(column).copied().unwrap_or(0));
            let left = self.change(column, -load, -count);
            let paid: f64 = rows.iter().filter_map(|row| self.cost(*row, column)).sum();
            let mut best: Option<(f64, f64, usize)> = None;
            for (_, other) in self.problem.cells.row(fewest) {
                if self.is_open(other) {
                    continue;
                }
                visited += rows.len() as u64;
                let costs: Option<f64> = rows.iter().map(|row| self.cost(*row, other)).sum();
                let Some(costs) = costs else { continue };
                let change = costs - paid + left + self.change(other, load, count);
                // Rows that stay together lose the same: told too high here, exactly below.
                let moved = |row: &usize| self.lost_in(*row, other) - self.lost(*row);
                let with_lost = change + rows.iter().map(moved).sum::<f64>();
                if best.is_none_or(|(held, _, _)| with_lost < held) {
                    best = Some((with_lost, change, other));
                }
            }
            let may = !self.is_locked(column) || self.has_room();
            if let Some((_, change, other)) = best.filter(|_| may) {
                let to: Vec<(usize, usize)> = rows.iter().map(|row| (*row, other)).collect();
                self.reseat(&to, change, self.worth(paid));
            }
        }
        Ok(visited)
    }

    /// Closes a column and gives each of its rows the best of the others, where that helps.
    fn close(&mut self, pace: &mut dyn Pace) -> Result<u64> {
        let mut visited = 0;
        for column in self.open() {
            pace.look()?;
            let mut other = self.clone();
            for row in self.rows_of(column) {
                visited += self.problem.cells.row_len(row) as u64;
                other.seat(row, NOBODY);
                let elsewhere = |open: usize| open != column && other.is_open(open);
                match other.cheapest(row, &elsewhere) {
                    Some((_, place)) => other.seat(row, place),
                    None => break,
                }
            }
            let all = other.seats.iter().all(|seat| *seat != NOBODY);
            if all && other.total() < self.total() - self.worth(self.total()) {
                *self = other;
            }
        }
        Ok(visited)
    }

    fn rows_of(&self, column: usize) -> Vec<usize> {
        let rows = self.seats.iter().enumerate().filter(|(_, seat)| **seat == column);
        rows.map(|(row, _)| row).collect()
    }
}

/// No plan that fits costs more than this.
fn dearest(problem: &Problem) -> f64 {
    let rows = 0..problem.weights.len();
    let cells: f64 =
        rows.map(|row| problem.cells.row(row).map(|(cost, _)| cost).fold(0.0, f64::max)).sum();
    let all: f64 = problem.weights.iter().sum();
    let prices: f64 = problem.columns.iter().map(|column| column.price(all)).sum();
    cells + prices
}
