//! Finds a good set of threads: greedy additions, then swaps, additions and drops with the nearest
//! and second nearest open thread of every color. It proves nothing.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use super::meter::Meter;
use super::model::Model;
use crate::error::Result;

/// Cost cells that one search may visit. A count, not a clock: the answer is the same everywhere.
pub(super) const CELL_BUDGET: u64 = 800_000_000;

/// Smallest gain in mean difference that is worth a move; below it lies rounding.
pub(super) const WORTH_MOVING: f64 = 1e-10;

/// What a color pays while no thread is open.
const UNSERVED: f64 = 1e9;

/// Slot of a color that no open thread serves.
const NO_SLOT: usize = usize::MAX;

/// Open threads, and for each color the nearest and second nearest of them.
#[derive(Clone, Debug)]
pub(super) struct Selection<'m> {
    model: &'m Model,
    /// Open columns; a slot is a place in this list.
    open: Vec<usize>,
    is_open: Vec<bool>,
    is_locked: Vec<bool>,
    first: Vec<usize>,
    first_cost: Vec<f64>,
    second: Vec<usize>,
    second_cost: Vec<f64>,
    /// What the palette loses when a slot closes.
    losses: Vec<f64>,
    scratch: Vec<f64>,
    /// Cost cells visited.
    pub(super) visited: u64,
}

impl<'m> Selection<'m> {
    /// The locked threads and no other.
    pub(super) fn locked(model: &'m Model) -> Self {
        Self::of(model, &model.locked)
    }

    /// These columns open.
    pub(super) fn of(model: &'m Model, columns: &[usize]) -> Self {
        let rows = model.costs.rows();
        let mut is_locked = vec![false; model.costs.columns()];
        for column in &model.locked {
            if let Some(locked) = is_locked.get_mut(*column) {
                *locked = true;
            }
        }
        let mut selection = Self {
            model,
            open: Vec::new(),
            is_open: vec![false; model.costs.columns()],
            is_locked,
            first: vec![NO_SLOT; rows],
            first_cost: vec![UNSERVED; rows],
            second: vec![NO_SLOT; rows],
            second_cost: vec![UNSERVED; rows],
            losses: Vec::new(),
            scratch: Vec::new(),
            visited: 0,
        };
        for column in columns {
            selection.add(*column);
        }
        selection
    }

    /// Open columns in no special order.
    pub(super) fn open(&self) -> &[usize] {
        &self.open
    }

    /// The open column that serves a row.
    pub(super) fn server(&self, row: usize) -> Option<usize> {
        self.first.get(row).and_then(|slot| self.open.get(*slot)).copied()
    }

    /// Mean difference of the rows.
    pub(super) fn total(&self) -> f64 {
        self.first_cost.iter().sum()
    }

    /// Nearest costs, by row.
    pub(super) fn first_costs(&self) -> &[f64] {
        &self.first_cost
    }

    /// Second nearest costs, by row.
    pub(super) fn second_costs(&self) -> &[f64] {
        &self.second_cost
    }

    fn is_locked(&self, column: usize) -> bool {
        self.is_locked.get(column).copied().unwrap_or(true)
    }

    /// Opens a column.
    fn add(&mut self, column: usize) {
        let slot = self.open.len();
        self.open.push(column);
        if let Some(open) = self.is_open.get_mut(column) {
            *open = true;
        }
        for row in 0..self.first.len() {
            self.offer(row, slot, column);
        }
        self.visited += self.first.len() as u64;
    }

    /// Lets a slot compete for a row.
    fn offer(&mut self, row: usize, slot: usize, column: usize) {
        let cost = self.model.costs.cell(row, column);
        let places = (
            self.first.get_mut(row),
            self.first_cost.get_mut(row),
            self.second.get_mut(row),
            self.second_cost.get_mut(row),
        );
        let (Some(first), Some(first_cost), Some(second), Some(second_cost)) = places else {
            return;
        };
        // Equal costs go to the lower column, whatever the order of opening.
        let wins = |slot: usize, held: f64| {
            cost < held
                || (cost.total_cmp(&held).is_eq()
                    && self.open.get(slot).is_none_or(|other| column < *other))
        };
        if wins(*first, *first_cost) {
            (*second, *second_cost) = (*first, *first_cost);
            (*first, *first_cost) = (slot, cost);
        } else if wins(*second, *second_cost) {
            (*second, *second_cost) = (slot, cost);
        }
    }

    /// Finds the two nearest slots of a row again.
    fn reseat(&mut self, row: usize) {
        for slots in [&mut self.first, &mut self.second] {
            if let Some(slot) = slots.get_mut(row) {
                *slot = NO_SLOT;
            }
        }
        for costs in [&mut self.first_cost, &mut self.second_cost] {
            if let Some(cost) = costs.get_mut(row) {
                *cost = UNSERVED;
            }
        }
        for slot in 0..self.open.len() {
            let column = self.open.get(slot).copied().unwrap_or(0);
            self.offer(row, slot, column);
        }
        self.visited += self.open.len() as u64;
    }

    fn rows_of(&self, slot: usize) -> Vec<usize> {
        let seats = self.first.iter().zip(&self.second).enumerate();
        seats
            .filter(|(_, (first, second))| **first == slot || **second == slot)
            .map(|(row, _)| row)
            .collect()
    }

    /// Puts a column into a slot in place of the one that is there.
    fn swap(&mut self, slot: usize, column: usize) {
        let orphans = self.rows_of(slot);
        if let Some(held) = self.open.get_mut(slot) {
            let leaving = std::mem::replace(held, column);
            for (place, open) in [(leaving, false), (column, true)] {
                if let Some(is_open) = self.is_open.get_mut(place) {
                    *is_open = open;
                }
            }
        }
        let mut orphan = orphans.iter().peekable();
        for row in 0..self.first.len() {
            if orphan.next_if_eq(&&row).is_some() {
                self.reseat(row);
            } else {
                self.offer(row, slot, column);
            }
        }
        self.visited += self.first.len() as u64;
    }

    /// Closes a slot; the last slot takes its place.
    fn drop_slot(&mut self, slot: usize) {
        let Some(last) = self.open.len().checked_sub(1) else { return };
        let mut orphans = self.rows_of(slot);
        orphans.extend(self.rows_of(last));
        orphans.sort_unstable();
        orphans.dedup();
        let leaving = self.open.swap_remove(slot);
        if let Some(is_open) = self.is_open.get_mut(leaving) {
            *is_open = false;
        }
        for row in orphans {
            self.reseat(row);
        }
    }

    /// What the palette gains when a column opens besides the others.
    fn gain(&mut self, column: usize) -> f64 {
        let costs = self.model.costs.column(column);
        self.visited += costs.len() as u64;
        let gains = costs.iter().zip(&self.first_cost).map(|(cost, held)| (held - cost).max(0.0));
        gains.sum()
    }

    /// Opens the columns that help most until none helps or no more may be open.
    ///
    /// Gains only shrink as columns open, so a gain seen earlier is a bound for one not seen again.
    pub(super) fn add_greedily(&mut self, meter: &mut Meter<'_>) -> Result<()> {
        if self.open.is_empty() && self.model.open > 0 {
            self.open_best_single(meter)?;
        }
        let mut heap = BinaryHeap::new();
        for column in 0..self.model.costs.columns() {
            if !self.is_open.get(column).copied().unwrap_or(true) {
                meter.look()?;
                heap.push(Gain { gain: self.gain(column), column, seen_with: self.open.len() });
            }
        }
        while self.open.len() < self.model.open {
            let Some(top) = heap.pop() else { break };
            if top.gain <= WORTH_MOVING {
                break;
            }
            if top.seen_with == self.open.len() {
                self.add(top.column);
                continue;
            }
            meter.look()?;
            let gain = self.gain(top.column);
            heap.push(Gain { gain, column: top.column, seen_with: self.open.len() });
        }
        Ok(())
    }

    fn open_best_single(&mut self, meter: &mut Meter<'_>) -> Result<()> {
        let mut best = (f64::INFINITY, 0);
        for column in 0..self.model.costs.columns() {
            meter.look()?;
            let total = self.model.costs.column(column).iter().sum::<f64>();
            if total < best.0 {
                best = (total, column);
            }
        }
        self.add(best.1);
        Ok(())
    }

    /// Swaps, drops and adds until nothing helps or the budget is spent.
    pub(super) fn improve(&mut self, budget: u64, meter: &mut Meter<'_>) -> Result<()> {
        loop {
            let before = self.total();
            self.swap_all(budget, meter)?;
            self.drop_idle();
            self.add_greedily(meter)?;
            if self.total() >= before - WORTH_MOVING || self.visited > budget {
                return Ok(());
            }
        }
    }

    /// Tries every closed column against every open one, taking each swap that helps at once.
    fn swap_all(&mut self, budget: u64, meter: &mut Meter<'_>) -> Result<()> {
        self.weigh_losses();
        let columns = self.model.costs.columns();
        let (mut column, mut idle) = (0, 0);
        while idle < columns && self.visited <= budget {
            meter.look()?;
            idle += 1;
            if !self.is_open.get(column).copied().unwrap_or(true)
                && let Some((slot, change)) = self.best_swap(column)
                && change < -WORTH_MOVING
            {
                self.swap(slot, column);
                self.weigh_losses();
                idle = 0;
            }
            column = (column + 1) % columns.max(1);
        }
        Ok(())
    }

    /// What the palette loses with each slot.
    fn weigh_losses(&mut self) {
        self.losses.clear();
        self.losses.resize(self.open.len(), 0.0);
        let costs = self.first_cost.iter().zip(&self.second_cost);
        for (slot, (first, second)) in self.first.iter().zip(costs) {
            if let Some(loss) = self.losses.get_mut(*slot) {
                *loss += second - first;
            }
        }
    }

    /// The slot whose thread a column would best replace, and the change in total.
    fn best_swap(&mut self, column: usize) -> Option<(usize, f64)> {
        let costs = self.model.costs.column(column);
        self.visited += costs.len() as u64;
        if let [only] = self.open.as_slice() {
            // With one open thread "second nearest" means nothing.
            let change = costs.iter().zip(&self.first_cost).map(|(cost, held)| cost - held).sum();
            return (!self.is_locked(*only)).then_some((0, change));
        }
        self.scratch.clone_from(&self.losses);
        let mut change = 0.0;
        let seats = self.first.iter().zip(self.first_cost.iter().zip(&self.second_cost));
        for (cost, (slot, (first, second))) in costs.iter().zip(seats) {
            if cost < first {
                change += cost - first;
                if let Some(loss) = self.scratch.get_mut(*slot) {
                    *loss += first - second;
                }
            } else if cost < second
                && let Some(loss) = self.scratch.get_mut(*slot)
            {
                *loss += cost - second;
            }
        }
        let slots = self.scratch.iter().zip(&self.open).enumerate();
        let free = slots.filter(|(_, (_, column))| !self.is_locked(**column));
        let best = free.min_by(|(_, (one, first)), (_, (two, second))| {
            one.total_cmp(two).then_with(|| first.cmp(second))
        })?;
        Some((best.0, change + best.1.0))
    }

    /// Closes threads that no color joins and nobody keeps.
    pub(super) fn drop_idle(&mut self) {
        let mut slot = 0;
        while let Some(column) = self.open.get(slot).copied() {
            if self.is_locked(column) || self.first.contains(&slot) {
                slot += 1;
            } else {
                self.drop_slot(slot);
            }
        }
    }
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
