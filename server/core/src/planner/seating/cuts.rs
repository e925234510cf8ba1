//! Sets of seats of which at most one can be taken: found where seats disagree, widened as far as
//! they go. They hold in the whole search. It does not know what the seats cost.

use super::super::assignment::{Domains, Grid};
use super::super::meter::Meter;
use super::disagree::Disagreement;
use super::{BETWEEN_LOOKS, CLASH_CELLS, Search, Seat};
use crate::error::Result;

/// Seats of which at most one can be taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Cut {
    seats: Domains,
}

impl Cut {
    fn new(grid: &Grid, seats: impl IntoIterator<Item = Seat>) -> Self {
        let mut held = Domains::none(grid);
        seats.into_iter().for_each(|(row, column)| held.put(row, column));
        Self { seats: held }
    }

    /// How many of the seats are taken when each row takes its column.
    pub(super) fn taken(&self, columns: &[Option<usize>]) -> u32 {
        let is_taken = |(row, column): (usize, &Option<usize>)| {
            u32::from(column.is_some_and(|column| self.seats.has(row, column)))
        };
        columns.iter().enumerate().map(is_taken).sum()
    }

    /// Makes all its seats dearer, or cheaper again.
    pub(super) fn charge(&self, grid: &mut Grid, more: f64) {
        for row in 0..grid.rows() {
            for column in self.seats.columns(row) {
                grid.charge(row, column, more);
            }
        }
    }

    fn has_both(&self, one: Seat, other: Seat) -> bool {
        self.seats.has(one.0, one.1) && self.seats.has(other.0, other.1)
    }
}

impl Search<'_, '_> {
    /// Sees to it that a cut is known that two seats that disagree break.
    pub(super) fn add_cut(&mut self, found: Disagreement, meter: &mut Meter<'_>) -> Result<()> {
        let (one, other) = found.seats();
        if self.cuts.iter().any(|cut| cut.has_both(one, other)) {
            return Ok(());
        }
        let cut = match found {
            Disagreement::Clash { .. } if self.clash.always(one.1, other.1, meter)? => {
                self.column_cut(one.1, other.1, meter)?
            }
            Disagreement::Clash { .. } => self.pair_cut(one, other, meter)?,
            Disagreement::Order { .. } => self.order_cut(one, other),
        };
        self.cuts.push(cut);
        Ok(())
    }

    /// The higher row not above a level and the lower one not below it cannot be together.
    fn order_cut(&self, higher: Seat, lower: Seat) -> Cut {
        let level = f64::midpoint(self.level(higher.1), self.level(lower.1));
        let below = self.open.columns(higher.0).filter(|column| self.level(*column) <= level);
        let above = self.open.columns(lower.0).filter(|column| self.level(*column) >= level);
        let below = below.map(|column| (higher.0, column));
        Cut::new(self.grid, below.chain(above.map(|column| (lower.0, column))))
    }

    /// Columns that clash with each other whoever takes them, cheap ones first.
    fn column_cut(&mut self, one: usize, other: usize, meter: &mut Meter<'_>) -> Result<Cut> {
        let rows = 0..self.grid.rows();
        let free: Vec<usize> = rows.filter(|row| self.open.only(*row).is_none()).collect();
        meter.work((free.len() * self.grid.columns()) as u64, BETWEEN_LOOKS)?;
        let mut columns = vec![one, other];
        for column in self.by_cost(&free) {
            if !columns.contains(&column) && self.clash_all(&columns, column, meter)? {
                columns.push(column);
            }
        }
        let seats = free.iter().flat_map(|row| columns.iter().map(|column| (*row, *column)));
        Ok(Cut::new(self.grid, seats.filter(|seat| self.open.has(seat.0, seat.1))))
    }

    /// The columns that some rows may have, by what they cost the one that pays least.
    fn by_cost(&self, rows: &[usize]) -> Vec<usize> {
        let least = |column: usize| {
            let open = rows.iter().filter(|row| self.open.has(**row, column));
            open.map(|row| self.grid.cell(*row, column)).fold(f64::INFINITY, f64::min)
        };
        let columns = (0..self.grid.columns()).map(|column| (least(column), column));
        let mut open: Vec<(f64, usize)> = columns.filter(|(cost, _)| cost.is_finite()).collect();
        open.sort_by(|left, right| left.0.total_cmp(&right.0).then(left.1.cmp(&right.1)));
        open.into_iter().map(|(_, column)| column).collect()
    }

    fn clash_all(
        &mut self,
        columns: &[usize],
        other: usize,
        meter: &mut Meter<'_>,
    ) -> Result<bool> {
        for column in columns {
            meter.work(CLASH_CELLS, BETWEEN_LOOKS)?;
            if !self.clash.always(*column, other, meter)? {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Seats of two rows, each of one clashing with each of the other.
    fn pair_cut(&mut self, one: Seat, other: Seat, meter: &mut Meter<'_>) -> Result<Cut> {
        let (mut first, mut second) = (vec![one], vec![other]);
        self.widen(&first, &mut second, meter)?;
        self.widen(&second, &mut first, meter)?;
        Ok(Cut::new(self.grid, first.into_iter().chain(second)))
    }

    /// Adds to one row's seats those that clash with all of another's.
    fn widen(
        &mut self,
        fixed: &[Seat],
        wider: &mut Vec<Seat>,
        meter: &mut Meter<'_>,
    ) -> Result<()> {
        let Some((row, known)) = wider.first().copied() else { return Ok(()) };
        let columns: Vec<usize> =
            self.open.columns(row).filter(|column| *column != known).collect();
        for column in columns {
            let mut clashes = true;
            for held in fixed {
                meter.work(CLASH_CELLS, BETWEEN_LOOKS)?;
                clashes = clashes && self.clash.clash(*held, (row, column), meter)?;
            }
            if clashes {
                wider.push((row, column));
            }
        }
        Ok(())
    }
}
