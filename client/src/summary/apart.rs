//! Cells of some colors that are told apart from the rest of these colors, such as those that
//! another thread is to take over. It does not know why they are.

use std::collections::BTreeSet;

use dyekin_core::Srgb8;

use crate::chart::{KeyThread, Knot, Label, Line, Point, Run, Size};

/// Cells, and perhaps lines and knots, of one color.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Portion {
    /// The cells, as runs in reading order that neither overlap nor touch.
    pub runs: Vec<Run>,
    /// Which of its lines and knots belong to it.
    pub marks: Marked,
}

/// Which lines and knots of a color are meant.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Marked {
    /// All of them.
    All,
    /// None of them.
    None,
    /// Those at these places.
    These(BTreeSet<Mark>),
}

/// Where a line or a knot is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mark {
    /// A line, from where to where.
    Line(Point, Point),
    /// A knot.
    Knot(Point),
}

impl From<&Line> for Mark {
    fn from(line: &Line) -> Self {
        Self::Line(line.from(), line.to())
    }
}

impl From<&Knot> for Mark {
    fn from(knot: &Knot) -> Self {
        Self::Knot(knot.at)
    }
}

/// Where something of a color is worked.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Spot {
    /// In a cell, by its place in reading order.
    Cell(usize),
    /// As a line or knot.
    Mark(Mark),
}

impl Spot {
    pub(crate) fn of(mark: impl Into<Mark>) -> Self {
        Self::Mark(mark.into())
    }
}

impl Portion {
    /// The cells at these places of a chart, in reading order.
    #[must_use]
    pub fn of_places(places: &BTreeSet<usize>, size: Size, marks: Marked) -> Self {
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
    marks: Marked,
}

impl Taken {
    pub(super) fn of(portion: &Portion, size: Size) -> Self {
        Self { cells: portion.cells(size), marks: portion.marks.clone() }
    }

    /// True for what belongs to it.
    pub(super) fn holds(&self, spot: Spot) -> bool {
        match (spot, &self.marks) {
            (Spot::Cell(cell), _) => self.cells.get(cell).copied().unwrap_or(false),
            (Spot::Mark(_), Marked::All) => true,
            (Spot::Mark(_), Marked::None) => false,
            (Spot::Mark(mark), Marked::These(marks)) => marks.contains(&mark),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_become_runs_and_cells_again() {
        let size = Size::new(5, 3).unwrap();
        let places = BTreeSet::from([0, 1, 4, 5, 6, 12]);
        let portion = Portion::of_places(&places, size, Marked::None);
        let run = |y, x, count| Run { y, x, count };
        assert_eq!(portion.runs, [run(0, 0, 2), run(0, 4, 1), run(1, 0, 2), run(2, 2, 1)]);
        let cells = portion.cells(size).into_iter().enumerate();
        let back: BTreeSet<usize> = cells.filter(|(_, held)| *held).map(|(cell, _)| cell).collect();
        assert_eq!(back, places);
    }

    #[test]
    fn cells_beyond_the_edge_are_left_out() {
        let run = |y, x, count| Run { y, x, count };
        let portion = Portion { runs: vec![run(0, 3, 9), run(7, 0, 1)], marks: Marked::All };
        let taken = Taken::of(&portion, Size::new(5, 2).unwrap());
        let held: Vec<usize> = (0..10).filter(|cell| taken.holds(Spot::Cell(*cell))).collect();
        assert_eq!(held, [3, 4]);
        let at = |half_x, half_y| Point { half_x, half_y };
        assert!(taken.holds(Spot::Mark(Mark::Knot(at(1, 1)))));
        let some = Marked::These(BTreeSet::from([Mark::Line(at(0, 0), at(2, 0))]));
        let taken = Taken::of(&Portion { marks: some, ..portion }, Size::new(5, 2).unwrap());
        assert!(taken.holds(Spot::Mark(Mark::Line(at(0, 0), at(2, 0)))));
        assert!(!taken.holds(Spot::Mark(Mark::Line(at(2, 0), at(4, 0)))));
        assert!(!taken.holds(Spot::Mark(Mark::Knot(at(0, 0)))));
    }
}
