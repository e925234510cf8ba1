//! Cells of some colors that are told apart from the rest of these colors, such as those that
//! another thread is to take over. It does not know why they are.

use std::collections::BTreeSet;

use dyekin_core::Srgb8;

use crate::chart::{KeyThread, Label, Run, Size};

/// Cells, and perhaps lines and knots, of one color.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Portion {
    /// The cells, as runs in reading order that neither overlap nor touch.
    pub runs: Vec<Run>,
    /// Whether its lines and knots belong to it: all of them or none.
    pub marks: bool,
}

impl Portion {
    /// The cells at these places of a chart, in reading order.
    #[must_use]
    pub fn of_places(places: &BTreeSet<usize>, size: Size, marks: bool) -> Self {
        let width = usize::from(size.width());
        let mut runs: Vec<Run> = Vec::new();
        for place in places {
            let (x, y) = (u16::try_from(place % width), u16::try_from(place / width));
            let (Ok(x), Ok(y)) = (x, y) else { continue };
            match runs.last_mut() {
                Some(run) if run.y == y && run.x + run.count == x => run.count += 1,
                _ => runs.push(Run { y, x, count: 1 }),
            }
        }
        Self { runs, marks }
    }

    /// A mark for each cell of a chart that belongs to it; cells beyond its edge are left out.
    fn cells(&self, size: Size) -> Vec<bool> {
        let mut cells = vec![false; size.cells()];
        for run in &self.runs {
            let Some(first) = size.place(run.x, run.y) else { continue };
            let room = usize::from(size.width() - run.x);
            let count = room.min(run.count.into());
            cells.iter_mut().skip(first).take(count).for_each(|cell| *cell = true);
        }
        cells
    }
}

/// Which color a portion is of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OfColor {
    /// The color as the chart shows it.
    pub color: Srgb8,
    /// The threads it is worked in.
    pub threads: Vec<KeyThread>,
}

/// Portions of colors under one name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Apart {
    /// What reports and lists call it, as they name an area; no area of the chart has this name.
    pub name: Label,
    /// The portions, of each color one at most.
    pub portions: Vec<(OfColor, Portion)>,
}

/// The portion of one group of entries, cell by cell.
pub(super) struct Taken {
    cells: Vec<bool>,
    marks: bool,
}

impl Taken {
    pub(super) fn of(portion: &Portion, size: Size) -> Self {
        Self { cells: portion.cells(size), marks: portion.marks }
    }

    /// True when a cell belongs to it, or the lines and knots where no cell is given.
    pub(super) fn holds(&self, cell: Option<usize>) -> bool {
        cell.map_or(self.marks, |cell| self.cells.get(cell).copied().unwrap_or(false))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_become_runs_and_cells_again() {
        let size = Size::new(5, 3).unwrap();
        let places = BTreeSet::from([0, 1, 4, 5, 6, 12]);
        let portion = Portion::of_places(&places, size, false);
        let run = |y, x, count| Run { y, x, count };
        assert_eq!(portion.runs, [run(0, 0, 2), run(0, 4, 1), run(1, 0, 2), run(2, 2, 1)]);
        let cells = portion.cells(size).into_iter().enumerate();
        let back: BTreeSet<usize> = cells.filter(|(_, held)| *held).map(|(cell, _)| cell).collect();
        assert_eq!(back, places);
    }

    #[test]
    fn cells_beyond_the_edge_are_left_out() {
        let run = |y, x, count| Run { y, x, count };
        let portion = Portion { runs: vec![run(0, 3, 9), run(7, 0, 1)], marks: true };
        let taken = Taken::of(&portion, Size::new(5, 2).unwrap());
        let held: Vec<usize> = (0..10).filter(|cell| taken.holds(Some(*cell))).collect();
        assert_eq!(held, [3, 4]);
        assert!(taken.holds(None));
    }
}
