//! Pairs of seats that cannot be taken together, found among the seats of all rows.
//! It does not know what is done about them.

use super::super::meter::Meter;
use super::{BETWEEN_LOOKS, CLASH_CELLS, Search, Seat};
use crate::error::Result;

/// Two seats that cannot be taken together.
#[derive(Clone, Copy)]
pub(super) enum Disagreement {
    /// They clash.
    Clash { one: Seat, other: Seat },
    /// The first seat should be higher than the second, and is not.
    Order { higher: Seat, lower: Seat },
}

impl Disagreement {
    pub(super) fn seats(self) -> (Seat, Seat) {
        match self {
            Self::Clash { one, other } => (one, other),
            Self::Order { higher, lower } => (higher, lower),
        }
    }
}

impl Search<'_, '_> {
    /// Pairs of seats that disagree, when the rows take these columns.
    pub(super) fn disagreements(
        &mut self,
        columns: &[usize],
        meter: &mut Meter<'_>,
    ) -> Result<Vec<Disagreement>> {
        let mut found = Vec::new();
        for (higher, lower) in self.question.order {
            if let (Some(at), Some(beside)) = (columns.get(*higher), columns.get(*lower))
                && self.level(*at) <= self.level(*beside)
            {
                let (higher, lower) = ((*higher, *at), (*lower, *beside));
                found.push(Disagreement::Order { higher, lower });
            }
        }
        for (row, column) in columns.iter().enumerate() {
            for (other, beside) in columns.iter().enumerate().skip(row + 1) {
                let (one, other) = ((row, *column), (other, *beside));
                meter.work(CLASH_CELLS, BETWEEN_LOOKS)?;
                if self.clash.clash(one, other, meter)? {
                    found.push(Disagreement::Clash { one, other });
                }
            }
        }
        Ok(found)
    }
}
