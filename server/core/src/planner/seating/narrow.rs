//! What cannot be, taken away: seats that clash with sure ones or stand against the order.
//! It does not know costs.

use super::super::assignment::Domains;
use super::super::meter::Meter;
use super::{BETWEEN_LOOKS, CLASH_CELLS, Search, Seat};
use crate::error::Result;

impl Search<'_, '_> {
    /// Takes away the seats that agree with none of another row; false when a row has none left.
    pub(super) fn narrow(&mut self, domains: &mut Domains, meter: &mut Meter<'_>) -> Result<bool> {
        let rows = self.grid.rows();
        let mut told = vec![false; rows];
        loop {
            if !self.keep_order(domains) {
                return Ok(false);
            }
            let single = (0..rows).find_map(|row| {
                let told = told.get(row).copied().unwrap_or(true);
                domains.only(row).filter(|_| !told).map(|column| (row, column))
            });
            let Some(seat) = single else {
                return Ok((0..rows).all(|row| domains.first(row).is_some()));
            };
            told.get_mut(seat.0).into_iter().for_each(|told| *told = true);
            self.clear_for(seat, domains, meter)?;
        }
    }

    /// Takes away from all other rows what clashes with a seat that is sure.
    fn clear_for(
        &mut self,
        seat: Seat,
        domains: &mut Domains,
        meter: &mut Meter<'_>,
    ) -> Result<()> {
        for row in (0..self.grid.rows()).filter(|row| *row != seat.0) {
            let mut out = vec![seat.1];
            let mut looked = 0;
            for column in domains.columns(row) {
                looked += 1;
                if column != seat.1 && self.clash.clash(seat, (row, column), meter)? {
                    out.push(column);
                }
            }
            meter.work(looked * CLASH_CELLS, BETWEEN_LOOKS)?;
            for column in out {
                domains.take(row, column);
            }
        }
        Ok(())
    }

    /// Lets no row sit below all seats of a row that must be lower; false when a row has none left.
    fn keep_order(&self, domains: &mut Domains) -> bool {
        loop {
            let mut changed = false;
            for (higher, lower) in self.question.order {
                let Some(floor) = domains.first(*lower) else { return false };
                let Some(ceiling) = domains.last(*higher) else { return false };
                let (floor, ceiling) = (self.level(floor), self.level(ceiling));
                while let Some(lowest) = domains.first(*higher)
                    && self.level(lowest) <= floor
                {
                    changed |= domains.take(*higher, lowest);
                }
                while let Some(highest) = domains.last(*lower)
                    && self.level(highest) >= ceiling
                {
                    changed |= domains.take(*lower, highest);
                }
            }
            if !changed {
                return true;
            }
        }
    }

    pub(super) fn level(&self, column: usize) -> f64 {
        self.question.levels.get(column).copied().unwrap_or(0.0)
    }
}
