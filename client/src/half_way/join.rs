//! Where old and new thread meet inside one area, and how long that is.
//! It does not choose where.

use std::collections::BTreeSet;

use super::region::{Board, EDGE, Region};

/// Where old and new meet in one area.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Join {
    /// Cell edges along which they meet.
    pub(crate) edges: u64,
    /// Corners at which they meet and nowhere else.
    pub(crate) corners: u64,
    /// First and last row and column of the new cells at the join, from 0.
    pub(crate) rows: (usize, usize),
    pub(crate) columns: (usize, usize),
}

impl Join {
    /// The join between what is stitched or kept and the rest of a region; `None` where they do not
    /// meet.
    pub(crate) fn between(board: &Board, region: &Region, kept: &[usize]) -> Option<Self> {
        let kept: BTreeSet<usize> = kept.iter().copied().collect();
        let is_old = |place: usize| board.is_done(place) || kept.contains(&place);
        let (mut edges, mut corners) = (0, 0);
        let mut at_join = Vec::new();
        for place in region.cells.iter().filter(|place| !kept.contains(place)) {
            let mut meets = false;
            for contact in board.contacts(*place).filter(|contact| is_old(contact.other)) {
                meets = true;
                if contact.length == EDGE { edges += 1 } else { corners += 1 }
            }
            if meets {
                at_join.push(*place);
            }
        }
        let (rows, columns) = board.bounds(&at_join);
        (edges + corners > 0).then_some(Self { edges, corners, rows, columns })
    }

    /// Its length in halves of a cell edge.
    pub(crate) fn length(&self) -> u64 {
        self.edges * EDGE + self.corners
    }
}
