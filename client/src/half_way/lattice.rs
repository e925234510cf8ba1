//! The cells of one area that are not stitched, what touches what among them, and the joins that
//! sets of them make. It does not know thread or colors.

use std::collections::HashMap;

use super::flow::Net;
use super::region::Board;

/// The open cells of an area, numbered in an order of the caller's.
#[derive(Clone, Debug)]
pub(super) struct Lattice {
    pub(super) cells: Vec<Cell>,
    /// For each cell the cells that it meets, and how long they meet.
    pub(super) beside: Vec<Vec<(usize, u64)>>,
}

/// One open cell.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cell {
    /// Quarters of a stitch.
    pub(super) quarters: u64,
    /// How long it meets what is stitched, in halves of a cell edge.
    pub(super) done: u64,
    /// Whether it must stay in the old thread.
    pub(super) held: bool,
}

/// What is settled about a cell before a cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    Either,
    New,
    Old,
}

/// Which cells stay in the old thread.
pub(super) type Set = Vec<bool>;

/// A least cut: its sides at their smallest and largest, and what it costs.
#[derive(Clone, Debug)]
pub(super) struct Cut {
    pub(super) fewest: Set,
    pub(super) most: Set,
    /// Length times scale, and quarters times price.
    pub(super) value: u64,
}

/// How much lengths and quarters count in a cut.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rates {
    pub(super) scale: u64,
    pub(super) price: u64,
}

impl Lattice {
    pub(super) fn of(board: &Board, places: &[usize]) -> Self {
        let numbers: HashMap<usize, usize> =
            places.iter().enumerate().map(|(number, place)| (*place, number)).collect();
        let mut cells = Vec::with_capacity(places.len());
        let mut beside = Vec::with_capacity(places.len());
        for place in places {
            let (mut done, mut around) = (0, Vec::new());
            for contact in board.contacts(*place) {
                match numbers.get(&contact.other) {
                    Some(other) => around.push((*other, contact.length)),
                    None => done += contact.length,
                }
            }
            let (quarters, held) = (board.quarters_at(*place), board.is_held(*place));
            cells.push(Cell { quarters, done, held });
            beside.push(around);
        }
        Self { cells, beside }
    }

    /// The quarters that every amount is a multiple of.
    pub(super) fn unit(&self) -> u64 {
        self.cells.iter().fold(0, |unit, cell| common(unit, cell.quarters)).max(1)
    }

    /// Quarters of a stitch in a set.
    pub(super) fn quarters(&self, set: &[bool]) -> u64 {
        let kept = self.cells.iter().zip(set).filter(|(_, kept)| **kept);
        kept.map(|(cell, _)| cell.quarters).sum()
    }

    /// The length of the join that a set makes, in halves of a cell edge.
    pub(super) fn join(&self, set: &[bool]) -> u64 {
        let is_kept = |cell: usize| set.get(cell).copied().unwrap_or(false);
        let new = self.cells.iter().zip(&self.beside).zip(set).filter(|(_, kept)| !**kept);
        new.map(|((cell, beside), _)| {
            let kept = beside.iter().filter(|(other, _)| is_kept(*other));
            cell.done + kept.map(|(_, length)| length).sum::<u64>()
        })
        .sum()
    }

    /// Only what must stay.
    pub(super) fn least(&self) -> Set {
        self.cells.iter().map(|cell| cell.held).collect()
    }

    /// The cut that costs least where some cells are settled; `None` when the budget is spent.
    pub(super) fn cut(&self, sides: &[Side], rates: Rates, budget: &mut u64) -> Option<Cut> {
        let free: Vec<usize> = sides
            .iter()
            .enumerate()
            .filter_map(|(cell, side)| (*side == Side::Either).then_some(cell))
            .collect();
        let mut node = vec![usize::MAX; sides.len()];
        for (place, cell) in free.iter().enumerate() {
            node.get_mut(*cell).into_iter().for_each(|held| *held = place);
        }
        let (source, sink) = (free.len(), free.len() + 1);
        let mut net = Net::new(free.len() + 2);
        for (place, number) in free.iter().enumerate() {
            let Some((cell, beside)) = self.cells.get(*number).zip(self.beside.get(*number)) else {
                continue;
            };
            let (mut old, mut new) = (cell.done, 0);
            for (other, length) in beside {
                match sides.get(*other) {
                    Some(Side::Old) => old += length,
                    Some(Side::New) => new += length,
                    Some(Side::Either) => {
                        // Both ways at once, from the first of the two.
                        let at = node.get(*other).copied().unwrap_or(usize::MAX);
                        if place < at {
                            let room = length * rates.scale;
                            net.link(place, at, room, room);
                        }
                    }
                    None => {}
                }
            }
            net.link(source, place, old * rates.scale, 0);
            net.link(place, sink, new * rates.scale + cell.quarters * rates.price, 0);
        }
        net.fill((source, sink), budget)?;
        let whole = |before: &[bool]| -> Set {
            let side = |(cell, side): (usize, &Side)| match side {
                Side::Old => true,
                Side::New => false,
                Side::Either => {
                    node.get(cell).and_then(|at| before.get(*at)).copied().unwrap_or(false)
                }
            };
            sides.iter().enumerate().map(side).collect()
        };
        let fewest = whole(&net.fewest_before(source));
        let most = whole(&net.most_before(sink));
        let value = self.join(&fewest) * rates.scale + self.quarters(&fewest) * rates.price;
        Some(Cut { fewest, most, value })
    }

    /// Steps of each cell from what is stitched or must stay, from 0.
    pub(super) fn steps(&self) -> Vec<usize> {
        let begins = self.cells.iter().enumerate().filter(|(_, cell)| cell.held || cell.done > 0);
        let mut layer: Vec<usize> = begins.map(|(number, _)| number).collect();
        let mut steps = vec![usize::MAX; self.cells.len()];
        let mut step = 0;
        while !layer.is_empty() {
            let mut next = Vec::new();
            for cell in layer {
                match steps.get_mut(cell) {
                    Some(held) if *held == usize::MAX => *held = step,
                    _ => continue,
                }
                let beside = self.beside.get(cell).into_iter().flatten();
                next.extend(beside.map(|(other, _)| *other));
            }
            layer = next;
            step += 1;
        }
        steps
    }
}

fn common(one: u64, other: u64) -> u64 {
    if other == 0 { one } else { common(other, one % other) }
}
