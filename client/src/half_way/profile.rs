//! The shortest joins inside one narrow area for every amount of thread, exactly: cell by cell, with
//! what matters of the cells before told apart (dynamic programming over a profile).
//! It gives up where too much would have to be told apart.

use std::collections::BTreeMap;

use super::cuts::Found;
use super::lattice::{Lattice, Set};

/// What cannot be had.
const NEVER: u32 = u32::MAX;

/// Cells that can be told apart at once.
const WIDEST: usize = 64;

/// Rows that are remembered, in amounts of thread: a bound on memory.
const MOST_REMEMBERED: usize = 6_000_000;

/// The least join for every amount of thread, with the way that led there.
struct Row {
    /// By amount.
    joins: Vec<u32>,
    /// For each amount twice the number of the row before, and one more where the cell stays in
    /// the old thread.
    ways: Vec<u32>,
}

/// The shortest join for each amount that is worth its thread; `None` when it would take more than
/// the budget of steps.
pub(super) fn shortest(lattice: &Lattice, reach: u64, budget: &mut u64) -> Option<Vec<Found>> {
    let unit = lattice.unit();
    let amounts = usize::try_from(reach / unit).ok()?.checked_add(1)?;
    let all = usize::try_from(lattice.quarters(&vec![true; lattice.cells.len()]) / unit).ok()?;
    let amounts = amounts.min(all + 1);
    let whole = lattice.join(&lattice.least());
    let last_use = last_uses(lattice);
    let mut layers: Vec<Vec<Row>> = Vec::with_capacity(lattice.cells.len() + 1);
    let mut first = Row { joins: vec![NEVER; amounts], ways: Vec::new() };
    first.joins.first_mut().into_iter().for_each(|join| *join = 0);
    layers.push(vec![first]);
    // Profiles of the last layer, in the order of its rows: which cells that still matter stay.
    let mut slots: Vec<usize> = Vec::new();
    let mut profiles: Vec<u64> = vec![0];
    let mut remembered = 0;
    for cell in 0..lattice.cells.len() {
        let mut next: BTreeMap<u64, Row> = BTreeMap::new();
        let after: Vec<usize> = slots
            .iter()
            .copied()
            .chain([cell])
            .filter(|slot| last_use.get(*slot).is_some_and(|last| *last > cell))
            .collect();
        if after.len() > WIDEST {
            return None;
        }
        let rows = layers.last()?;
        for (place, (row, profile)) in rows.iter().zip(&profiles).enumerate() {
            for stays in [false, true] {
                *budget = budget.checked_sub(amounts as u64)?;
                let Some(step) = step(lattice, cell, (&slots, *profile), stays) else { continue };
                let kept = |slot: usize| {
                    if slot == cell { stays } else { bit(&slots, *profile, slot) }
                };
                let key = after
                    .iter()
                    .enumerate()
                    .filter(|(_, slot)| kept(**slot))
                    .fold(0_u64, |key, (place, _)| key | 1 << place);
                let by = usize::try_from(step.quarters / unit).ok()?;
                let way = u32::try_from(place).ok()?.checked_mul(2)? + u32::from(stays);
                let target = next
                    .entry(key)
                    .or_insert_with(|| Row { joins: vec![NEVER; amounts], ways: vec![0; amounts] });
                target.take(row, (by, step.join, whole), way);
            }
        }
        next.retain(|_, row| row.joins.iter().any(|join| *join != NEVER));
        remembered += next.len() * amounts;
        if remembered > MOST_REMEMBERED {
            return None;
        }
        slots = after;
        let (keys, rows): (Vec<u64>, Vec<Row>) = next.into_iter().unzip();
        profiles = keys;
        layers.push(rows);
    }
    Some(traced(lattice, &layers, (amounts, unit)))
}

/// What one cell adds.
struct Step {
    quarters: u64,
    join: u64,
}

fn step(
    lattice: &Lattice,
    cell: usize,
    (slots, profile): (&[usize], u64),
    stays: bool,
) -> Option<Step> {
    let held = lattice.cells.get(cell)?;
    if held.held && !stays {
        return None;
    }
    let before = lattice.beside.get(cell)?.iter().filter(|(other, _)| *other < cell);
    let meets = before.filter(|(other, _)| bit(slots, profile, *other) != stays);
    let join: u64 = meets.map(|(_, length)| length).sum();
    let done = if stays { 0 } else { held.done };
    Some(Step { quarters: if stays { held.quarters } else { 0 }, join: join + done })
}

fn bit(slots: &[usize], profile: u64, cell: usize) -> bool {
    slots.iter().position(|slot| *slot == cell).is_some_and(|place| profile >> place & 1 == 1)
}

impl Row {
    /// Takes over what is shorter by another way. Joins longer than giving everything away are
    /// never worth it.
    fn take(&mut self, from: &Self, (by, longer, whole): (usize, u64, u64), way: u32) {
        let targets = self.joins.iter_mut().zip(&mut self.ways).skip(by);
        for (join, (target, target_way)) in from.joins.iter().zip(targets) {
            let sum = u64::from(*join) + longer;
            if *join == NEVER || sum > whole {
                continue;
            }
            if let Ok(sum) = u32::try_from(sum)
                && sum < *target
            {
                *target = sum;
                *target_way = way;
            }
        }
    }
}

/// For each cell the last one that it meets.
fn last_uses(lattice: &Lattice) -> Vec<usize> {
    let last = |(cell, beside): (usize, &Vec<(usize, u64)>)| {
        beside.iter().map(|(other, _)| *other).max().map_or(cell, |other| other.max(cell))
    };
    lattice.beside.iter().enumerate().map(last).collect()
}

/// The sets behind the joins that are worth their thread.
fn traced(lattice: &Lattice, layers: &[Vec<Row>], (amounts, unit): (usize, u64)) -> Vec<Found> {
    let Some(end) = layers.last().and_then(|rows| rows.first()) else { return Vec::new() };
    let mut found = Vec::new();
    let mut least = NEVER;
    for amount in 0..amounts {
        let join = end.joins.get(amount).copied().unwrap_or(NEVER);
        if join == NEVER || join > least {
            continue;
        }
        least = join;
        if let Some(set) = way_to(lattice, layers, amount, unit) {
            found.push(Found { quarters: lattice.quarters(&set), join: join.into(), set });
        }
    }
    found
}

fn way_to(lattice: &Lattice, layers: &[Vec<Row>], amount: usize, unit: u64) -> Option<Set> {
    let mut set = vec![false; lattice.cells.len()];
    let (mut row, mut amount) = (0_usize, amount);
    for (cell, rows) in layers.iter().enumerate().skip(1).rev() {
        let way = rows.get(row)?.ways.get(amount).copied()?;
        let (before, stays) = (way / 2, way % 2 == 1);
        *set.get_mut(cell - 1)? = stays;
        if stays {
            let quarters = lattice.cells.get(cell - 1)?.quarters;
            amount = amount.checked_sub(usize::try_from(quarters / unit).ok()?)?;
        }
        row = before as usize;
    }
    Some(set)
}
