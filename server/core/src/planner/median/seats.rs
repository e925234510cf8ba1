//! Open columns and the two cheapest of them for every row; greedy additions, then swaps, additions
//! and drops. It proves nothing.

use std::cmp::Ordering;
use std::collections::{BTreeSet, BinaryHeap};

use super::{Pace, Problem, Solution};
use crate::error::Result;

/// Part of the total that a move must gain to be worth it; below it lies rounding.
const WORTH: f64 = 1e-11;

/// The column of a row that no open column serves.
const NOBODY: usize = usize::MAX;

/// A seat: what a row pays, and the column that it pays for.
#[derive(Clone, Copy, Debug)]
struct Seat {
    cost: f64,
    column: usize,
}

impl Seat {
    /// Cheaper seats first, equal ones by column.
    fn beats(self, other: Self) -> bool {
        self.cost < other.cost
            || (self.cost.total_cmp(&other.cost).is_eq() && self.column < other.column)
    }
}

/// Open columns, and for each row the cheapest and second cheapest of them.
#[derive(Clone, Debug)]
pub(super) struct Seats<'p> {
    problem: &'p Problem,
    open: Vec<usize>,
    is_open: Vec<bool>,
    first: Vec<Seat>,
    second: Vec<Seat>,
    /// What is lost with each open column, its price not counted; 0 for closed ones.
    losses: Vec<f64>,
    scratch: Vec<f64>,
    /// What each row pays when nobody in its list is open.
    unserved: Vec<f64>,
    /// Cells visited.
    pub(super) visited: u64,
}

impl<'p> Seats<'p> {
    /// Locked columns and these, as many as may be open.
    pub(super) fn of(problem: &'p Problem, columns: &[usize]) -> Self {
        let (rows, all) = (problem.cells.rows(), problem.cells.columns());
        let nobody = Seat { cost: 0.0, column: NOBODY };
        let mut seats = Self {
            problem,
            open: Vec::new(),
            is_open: vec![false; all],
            first: vec![nobody; rows],
            second: vec![nobody; rows],
            losses: vec![0.0; all],
            scratch: vec![0.0; all],
            unserved: unserved(problem),
            visited: 0,
        };
        let locked = problem.locked.iter().enumerate().filter(|(_, locked)| **locked);
        let locked: Vec<usize> = locked.map(|(column, _)| column).collect();
        for column in locked.iter().chain(columns) {
            let wanted = locked.contains(column) || seats.open.len() < problem.most;
            if let Some(open) = seats.is_open.get_mut(*column)
                && !*open
                && wanted
            {
                *open = true;
                seats.open.push(*column);
            }
        }
        for row in 0..rows {
            seats.reseat(row);
        }
        seats
    }

    /// What rows and open columns cost together.
    pub(super) fn total(&self) -> f64 {
        let mut prices: Vec<f64> = self.open.iter().map(|column| self.price(*column)).collect();
        prices.sort_unstable_by(f64::total_cmp);
        self.first.iter().map(|seat| seat.cost).sum::<f64>() + prices.iter().sum::<f64>()
    }

    /// What the open columns cost at least when cells count that no list holds.
    pub(super) fn least(&self) -> f64 {
        let rows = self.first.iter().zip(self.problem.cells.beyond());
        let prices = self.open.iter().map(|column| self.price(*column));
        rows.map(|(seat, beyond)| seat.cost.min(beyond.least)).sum::<f64>() + prices.sum::<f64>()
    }

    /// True when every row has a column, or may have one that its list leaves out.
    pub(super) fn serves_all(&self) -> bool {
        let mut rows = self.first.iter().zip(self.problem.cells.beyond());
        rows.all(|(seat, beyond)| seat.column != NOBODY || beyond.least.is_finite())
            && !self.open.is_empty()
    }

    /// What each row pays, with what it would pay instead, and its column.
    pub(super) fn payments(&self) -> impl Iterator<Item = (f64, Option<f64>, Option<usize>)> {
        self.first.iter().zip(&self.second).map(|(first, second)| {
            let served = |seat: &Seat| seat.column != NOBODY;
            let instead = served(second).then_some(second.cost);
            (first.cost, instead, served(first).then_some(first.column))
        })
    }

    /// The answer when there is nothing to decide.
    pub(super) fn into_proved(mut self) -> Solution {
        self.drop_dear();
        self.into_solution(true, f64::INFINITY, Vec::new())
    }

    /// The answer with how good it is.
    pub(super) fn into_solution(self, proved: bool, bound: f64, multipliers: Vec<f64>) -> Solution {
        let total = self.total();
        let bound = if proved { total } else { bound.min(total) };
        let (open, seats) = self.into_parts();
        Solution { open, seats, total, bound, proved, multipliers }
    }

    /// The open column whose rows lose least without it, locked ones left out.
    pub(super) fn cheapest(&mut self) -> Option<usize> {
        self.weigh_losses();
        let loss = |open: usize| self.losses.get(open).copied().unwrap_or(0.0) - self.price(open);
        let free = self.open.iter().copied().filter(|open| !self.is_locked(*open));
        free.min_by(|one, two| loss(*one).total_cmp(&loss(*two)).then(one.cmp(two)))
    }

    /// Open columns in order, and the column of each row.
    pub(super) fn into_parts(mut self) -> (Vec<usize>, Vec<usize>) {
        self.open.sort_unstable();
        (self.open, self.first.into_iter().map(|seat| seat.column).collect())
    }

    fn price(&self, column: usize) -> f64 {
        self.problem.prices.get(column).copied().unwrap_or(0.0)
    }

    fn is_locked(&self, column: usize) -> bool {
        self.problem.locked.get(column).copied().unwrap_or(true)
    }

    fn is_open(&self, column: usize) -> bool {
        self.is_open.get(column).copied().unwrap_or(true)
    }

    fn has_room(&self) -> bool {
        self.open.len() < self.problem.most
    }

    fn worth(&self) -> f64 {
        WORTH * self.total()
    }

    fn mark(&mut self, column: usize, open: bool) {
        if let Some(is_open) = self.is_open.get_mut(column) {
            *is_open = open;
        }
    }

    /// Finds the two cheapest columns of a row again.
    fn reseat(&mut self, row: usize) {
        let cost = self.unserved.get(row).copied().unwrap_or(0.0);
        let nobody = Seat { cost, column: NOBODY };
        let mut seen = 0;
        let mut open = self.problem.cells.row(row).filter(|(_, column)| {
            seen += 1;
            self.is_open.get(*column).copied().unwrap_or(false)
        });
        let mut next = || open.next().map_or(nobody, |(cost, column)| Seat { cost, column });
        let (one, two) = (next(), next());
        self.visited += seen;
        if let (Some(first), Some(second)) = (self.first.get_mut(row), self.second.get_mut(row)) {
            (*first, *second) = (one, two);
        }
    }

    /// Lets a column compete for the rows that it can serve.
    fn offer(&mut self, column: usize) {
        for (cost, row) in self.problem.cells.column(column) {
            let seat = Seat { cost, column };
            if let (Some(first), Some(second)) = (self.first.get_mut(row), self.second.get_mut(row))
            {
                if seat.beats(*first) {
                    *second = *first;
                    *first = seat;
                } else if seat.beats(*second) {
                    *second = seat;
                }
            }
        }
        self.visited += self.problem.cells.column_len(column) as u64;
    }

    /// Opens a column.
    fn add(&mut self, column: usize) {
        self.open.push(column);
        self.mark(column, true);
        self.offer(column);
    }

    /// Closes a column.
    fn close(&mut self, column: usize) {
        self.open.retain(|open| *open != column);
        self.mark(column, false);
        for row in 0..self.first.len() {
            let holds = |seats: &[Seat]| seats.get(row).is_some_and(|seat| seat.column == column);
            if holds(&self.first) || holds(&self.second) {
                self.reseat(row);
            }
        }
    }

    /// What is gained when a column opens besides the others.
    fn gain(&mut self, column: usize) -> f64 {
        self.visited += self.problem.cells.column_len(column) as u64;
        let held = |row: usize| self.first.get(row).map_or(0.0, |seat| seat.cost);
        let cells = self.problem.cells.column(column);
        let gains: f64 = cells.map(|(cost, row)| (held(row) - cost).max(0.0)).sum();
        gains - self.price(column)
    }

    /// Opens the columns that help most until none helps or no more may be open.
    ///
    /// Gains only shrink as columns open, so a gain seen earlier is a bound for one not seen again.
    fn add_greedily(&mut self, live: Option<&[bool]>, pace: &mut dyn Pace) -> Result<()> {
        if !self.has_room() {
            return Ok(());
        }
        let mut heap = BinaryHeap::new();
        for column in 0..self.problem.cells.columns() {
            if !self.is_open(column) && is_live(live, column) {
                let gain = self.gain(column);
                heap.push(Gain { gain, column, seen_with: self.open.len() });
            }
        }
        while self.has_room() {
            pace.look()?;
            let Some(top) = heap.pop() else { break };
            if top.gain <= self.worth() {
                break;
            }
            if top.seen_with == self.open.len() {
                self.add(top.column);
                continue;
            }
            let gain = self.gain(top.column);
            heap.push(Gain { gain, column: top.column, seen_with: self.open.len() });
        }
        Ok(())
    }

    /// Adds, swaps and drops until nothing helps or the budget is spent. `live` are the columns
    /// worth opening, all when it is not given.
    pub(super) fn improve(
        &mut self,
        live: Option<&[bool]>,
        budget: u64,
        pace: &mut dyn Pace,
    ) -> Result<()> {
        let end = self.visited.saturating_add(budget);
        self.add_greedily(live, pace)?;
        loop {
            let before = self.total();
            self.swap_all(live, end, pace)?;
            self.drop_dear();
            self.add_greedily(live, pace)?;
            if self.total() >= before - self.worth() || self.visited > end {
                return Ok(());
            }
        }
    }

    /// Tries every closed column against every open one, taking each swap that helps at once.
    fn swap_all(&mut self, live: Option<&[bool]>, end: u64, pace: &mut dyn Pace) -> Result<()> {
        self.weigh_losses();
        let columns: Vec<usize> =
            (0..self.problem.cells.columns()).filter(|column| is_live(live, *column)).collect();
        let mut worth = self.worth();
        let mut idle = 0;
        for column in columns.iter().copied().cycle() {
            if idle >= columns.len() || self.visited > end {
                break;
            }
            pace.look()?;
            idle += 1;
            if !self.is_open(column)
                && let Some((leaving, change)) = self.best_swap(column)
                && change < -worth
            {
                self.close(leaving);
                self.add(column);
                self.weigh_losses();
                worth = self.worth();
                idle = 0;
            }
        }
        Ok(())
    }

    /// What is lost with each open column.
    fn weigh_losses(&mut self) {
        self.losses.fill(0.0);
        for (first, second) in self.first.iter().zip(&self.second) {
            if let Some(loss) = self.losses.get_mut(first.column) {
                *loss += second.cost - first.cost;
            }
        }
    }

    /// The open column that a closed one would best replace, and the change in total.
    fn best_swap(&mut self, column: usize) -> Option<(usize, f64)> {
        self.visited += (self.problem.cells.column_len(column) + self.open.len()) as u64;
        for open in &self.open {
            if let (Some(scratch), Some(loss)) =
                (self.scratch.get_mut(*open), self.losses.get(*open))
            {
                *scratch = *loss;
            }
        }
        let mut change = self.price(column);
        for (cost, row) in self.problem.cells.column(column) {
            let (Some(first), Some(second)) = (self.first.get(row), self.second.get(row)) else {
                continue;
            };
            if cost >= second.cost {
                continue;
            }
            let Some(loss) = self.scratch.get_mut(first.column) else {
                change += cost - first.cost;
                continue;
            };
            if cost < first.cost {
                change += cost - first.cost;
                *loss += first.cost - second.cost;
            } else {
                *loss += cost - second.cost;
            }
        }
        let free = self.open.iter().copied().filter(|open| !self.is_locked(*open));
        let priced = free
            .map(|open| (open, self.scratch.get(open).copied().unwrap_or(0.0) - self.price(open)));
        let best = priced.min_by(|(first, one), (second, two)| {
            one.total_cmp(two).then_with(|| first.cmp(second))
        })?;
        Some((best.0, change + best.1))
    }

    /// Closes columns that cost more than they help, the worst first, and those that serve nobody.
    pub(super) fn drop_dear(&mut self) {
        loop {
            self.weigh_losses();
            let loss = |open: usize| self.losses.get(open).copied().unwrap_or(0.0);
            let serving: BTreeSet<usize> = self.first.iter().map(|seat| seat.column).collect();
            let serves = |open: usize| serving.contains(&open);
            let worth = self.worth();
            let idle = |open: &usize| {
                !self.is_locked(*open)
                    && (loss(*open) - self.price(*open) < -worth || !serves(*open))
            };
            let worst = self.open.iter().copied().filter(idle).min_by(|one, two| {
                let (first, second) =
                    (loss(*one) - self.price(*one), loss(*two) - self.price(*two));
                first.total_cmp(&second).then(one.cmp(two))
            });
            let Some(worst) = worst else { return };
            self.close(worst);
        }
    }
}

fn is_live(live: Option<&[bool]>, column: usize) -> bool {
    live.is_none_or(|live| live.get(column).copied().unwrap_or(false))
}

/// What a row pays without a column: the most that its list leaves out, or else more than any choice
/// can cost that serves every row.
fn unserved(problem: &Problem) -> Vec<f64> {
    let fine = 1.0 + dearest(problem);
    let most = problem.cells.beyond().iter().map(|beyond| beyond.most);
    most.map(|most| if most.is_finite() { most } else { fine }).collect()
}

/// No choice that serves every row costs more than this.
pub(super) fn dearest(problem: &Problem) -> f64 {
    let rows = problem.cells.beyond().iter().enumerate();
    let most = rows.map(|(row, beyond)| match beyond.most.is_finite() {
        true => beyond.most,
        false => problem.cells.row(row).last().map_or(0.0, |(cost, _)| cost),
    });
    most.sum::<f64>() + problem.prices.iter().sum::<f64>()
}

/// A gain waiting in the heap: larger gains first, then lower columns.
#[derive(Clone, Copy, Debug)]
struct Gain {
    gain: f64,
    column: usize,
    seen_with: usize,
}

impl PartialEq for Gain {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Gain {}

impl PartialOrd for Gain {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Gain {
    fn cmp(&self, other: &Self) -> Ordering {
        self.gain.total_cmp(&other.gain).then_with(|| other.column.cmp(&self.column))
    }
}
