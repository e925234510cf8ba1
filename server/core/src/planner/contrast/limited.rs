//! Keeps contrast among threads of which there is only so much, or that cost money by the skein: colors
//! move while that fits. It does not know how a plan is searched.

use super::super::case::Case;
use super::super::load::{self, Problem, Pull};
use super::super::median::{Beyond, Cells, Pace};
use super::super::meter::Meter;
use super::super::model::Reduction;
use super::board::Board;
use super::search::{Kept, Start};
use super::split::Best;
use super::{Contrast, bound};
use crate::error::Result;

/// Searches from a choice within limits that was made by stitches alone.
pub(in super::super) fn keep_within(
    case: &Case<'_, '_>,
    (reduction, limits): (&Reduction<'_>, &Problem),
    (contrast, start): (&Contrast, Start<'_>),
    meter: &mut Meter<'_>,
) -> Result<Kept> {
    let mut board = Board::new(case, reduction, (contrast, start.open), meter)?;
    for thread in 0..board.width() {
        board.measure(thread, meter)?;
    }
    let pulls = Pulls::new(&board, limits.columns.len());
    let leaning = pulls.leaning(limits);
    let (columns, total) =
        load::keep_apart(&leaning, start.columns, &pulls, &mut Waiting { meter })?;
    // What threads hold is left out here, so that this stays a bound.
    let relaxed = load::relaxed(limits);
    let multipliers = load::payments(&leaning, &columns);
    let bound = bound::bound(&relaxed, &multipliers, &mut Found { board: &board, total }, meter)?;
    Ok(Kept { columns, bound: bound + board.settled })
}

/// A choice that stays what it is.
struct Found<'b> {
    board: &'b Board<'b>,
    total: f64,
}

impl Best for Found<'_> {
    fn board(&self) -> &Board<'_> {
        self.board
    }

    fn total(&self) -> f64 {
        self.total
    }

    fn offer(&mut self, _: &[usize], _: &mut Meter<'_>) -> Result<()> {
        Ok(())
    }
}

/// Colors that pull at each other.
struct Pulls<'b> {
    board: &'b Board<'b>,
    /// The number in the shortlist of each column.
    numbers: Vec<Option<usize>>,
}

impl<'b> Pulls<'b> {
    fn new(board: &'b Board<'b>, columns: usize) -> Self {
        let mut numbers = vec![None; columns];
        for (number, column) in board.columns.iter().enumerate() {
            numbers.get_mut(*column).into_iter().for_each(|of| *of = Some(number));
        }
        Self { board, numbers }
    }

    fn number(&self, column: usize) -> Option<usize> {
        self.numbers.get(column).copied().flatten()
    }

    /// The limited problem within the shortlist, with what rows lose beside all that is settled.
    fn leaning(&self, limits: &Problem) -> Problem {
        let of_row = |row: usize| {
            let costs = self.board.costs(row);
            let listed = limits.cells.row(row).filter_map(|(_, column)| {
                let cost = costs.get(self.number(column)?)?;
                Some((*cost, u32::try_from(column).ok()?))
            });
            listed.collect()
        };
        let rows: Vec<Vec<(f64, u32)>> = (0..limits.cells.rows()).map(of_row).collect();
        let beyond = vec![Beyond::NOTHING; rows.len()];
        Problem { cells: Cells::new(limits.columns.len(), rows, beyond), ..limits.clone() }
    }
}

impl Pull for Pulls<'_> {
    fn lost(&self, row: usize, column: usize, seats: &[usize]) -> f64 {
        let Some(number) = self.number(column) else { return 0.0 };
        let lost = self.board.links(row).iter().map(|link| {
            let other = seats.get(link.row).and_then(|seat| self.number(*seat));
            let apart = other.and_then(|other| self.board.apart(number, link.step).get(other));
            apart.map_or(0.0, |apart| link.loss(*apart))
        });
        lost.sum()
    }

    fn most(&self) -> f64 {
        let links = (0..self.board.rows).flat_map(|row| self.board.links(row));
        links.map(|link| link.loss(0.0)).sum()
    }
}

/// Hears a search whose length nobody knows.
struct Waiting<'m, 'w> {
    meter: &'m mut Meter<'w>,
}

impl Pace for Waiting<'_, '_> {
    fn look(&mut self) -> Result<()> {
        self.meter.look()
    }

    fn tell(&mut self, _: f64, _: f64, _: Option<f64>) {}
}
