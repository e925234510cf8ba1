//! The index over one table's colors and the search that makes its answers exact.
//! It does not know threads: it sees rows of colors.
//!
//! Most formulas are no metrics in CIELAB, so nearness there orders the work and never decides an
//! answer. The colors lie in blocks of sixteen, in the order of the leaves of a k-d tree (`tree`), and
//! boxes lie around blocks, around sixteen of those boxes, and so on (`boxes`). A search
//!
//! 1. measures the colors of a few near blocks; what their differences are at most gives the reach,
//!    beyond which no color can answer,
//! 2. makes a quadratic form that stays below the formula for all colors within reach, for CIEDE2000
//!    by `bound` and for the others by `direct`, and drops each box whose least value is beyond it,
//! 3. measures the colors of the blocks that are left, and the reach shrinks with each better one,
//! 4. scores those that may still be within reach by the formula itself.
//!
//! To measure is to say in which range a difference lies: by `kernel` in single precision, many colors
//! at once, for CIEDE2000. Every score is the formula's own. Equal CIELAB values are one color with
//! several rows.

mod around;
mod arrange;
mod bound;
mod boxes;
mod columns;
mod direct;
mod hue;
mod kernel;
mod mixes;
mod ring;
mod ruler;
mod search;
mod tight;
mod tree;

use std::cmp::Ordering;
use std::num::NonZero;

use crate::color::Lab;
use crate::difference::DeltaE;
use crate::error::Result;
pub(crate) use around::{Around, Quadratic};
pub(crate) use arrange::arrange;
use bound::Extent;
pub(crate) use bound::with_room;
use boxes::Boxes;
pub use columns::InstructionSet;
use columns::{BLOCK, Colors, single};
pub use kernel::ManyColors;
pub(crate) use mixes::{Lights, Mixer};
use search::Search;
pub(crate) use search::{Ask, More};
use tree::Tree;

/// How much work searches did, for tests that assert work where time cannot be asserted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Formula evaluations.
    pub formula_calls: u64,
    /// Colors whose range was taken.
    pub bound_calls: u64,
}

/// A row of the table with its exact difference to the color asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Hit {
    pub(crate) row: usize,
    pub(crate) delta_e: DeltaE,
}

impl Hit {
    /// Difference, then row.
    fn order(&self, other: &Self) -> Ordering {
        self.delta_e.order(&other.delta_e).then(self.row.cmp(&other.row))
    }
}

/// Blocks up to which measuring all of them beats the tree.
const FEW: usize = 12;

/// A color and the place of its rows among all.
#[derive(Clone, Copy, Debug)]
struct Held {
    lab: Lab,
    rows: (u32, u32),
}

/// A color that may answer.
#[derive(Clone, Copy, Debug)]
struct Candidate<'i> {
    /// Lower end of its difference.
    least: f64,
    lab: Lab,
    /// Its lowest row.
    first: u32,
    others: &'i [u32],
}

/// An immutable search structure over rows of colors.
#[derive(Debug)]
pub(crate) struct LabIndex {
    /// The different colors, those near each other in CIELAB mostly near each other here.
    colors: Vec<Held>,
    /// The same for the kernel.
    blocks: Colors,
    /// Rows of each color, ascending, one color after the other.
    rows: Vec<u32>,
    extent: Extent,
    boxes: Boxes,
    /// Over the middles of the blocks; none for few blocks.
    tree: Option<Tree>,
}

impl LabIndex {
    /// Builds the index; row numbers follow the order of the colors.
    pub(crate) fn build(colors: impl Iterator<Item = Lab>) -> Self {
        let mut colors: Vec<Held> =
            colors.zip(0..).map(|(lab, row)| Held { lab, rows: (row, row) }).collect();
        colors.sort_unstable_by_key(|held| (bits(held.lab), held.rows.0));
        let sorted: Vec<u32> = colors.iter().map(|held| held.rows.0).collect();
        for (held, place) in colors.iter_mut().zip(0..) {
            held.rows = (place, place + 1);
        }
        colors.dedup_by(|next, held| {
            let same = bits(next.lab) == bits(held.lab);
            if same {
                held.rows.1 = next.rows.1;
            }
            same
        });
        colors.shrink_to_fit();
        arrange(&mut colors, |held| held.lab.components());
        let rows = in_order(&mut colors, &sorted);
        drop(sorted);
        let points = || colors.iter().map(|held| held.lab.components());
        let boxes = Boxes::of(points());
        let tree = if colors.len() <= FEW * BLOCK { None } else { Tree::of(boxes.middles()) };
        let (blocks, extent) = (Colors::of_points(points()), Extent::of(points()));
        Self { colors, blocks, rows, extent, boxes, tree }
    }

    /// The rows nearest to the standard among those admitted, exact for the formula, ordered by
    /// difference, then by row. With a limit, rows beyond it may be missing but for the nearest.
    ///
    /// # Errors
    ///
    /// [`crate::ErrorKind::Stopped`] when the one who waits no longer does.
    pub(crate) fn nearest(&self, ask: &Ask<'_>, tally: &mut Tally) -> Result<Vec<Hit>> {
        if self.colors.is_empty() || ask.count == 0 {
            return Ok(Vec::new());
        }
        Search::new(self, ask, tally).run()
    }

    fn count_blocks(&self) -> usize {
        self.colors.len().div_ceil(BLOCK)
    }

    /// About the `count` blocks nearest in CIELAB, in no order; all of them without a tree.
    fn near(&self, standard: Lab, count: usize) -> Vec<u32> {
        let count = NonZero::new(count).filter(|count| count.get() < self.count_blocks());
        match self.tree.as_ref().zip(count) {
            Some((tree, count)) => tree.near(standard.components().map(single), count),
            None => (0..).take(self.count_blocks()).collect(),
        }
    }

    /// All about a color that its score needs.
    fn candidate(&self, least: f64, place: u32) -> Option<Candidate<'_>> {
        let lab = self.colors.get(place as usize)?.lab;
        let (first, others) = self.rows_of(place).split_first()?;
        Some(Candidate { least, lab, first: *first, others })
    }

    /// The rows of a color, ascending.
    fn rows_of(&self, place: u32) -> &[u32] {
        let range = self.colors.get(place as usize).map_or((0, 0), |held| held.rows);
        self.rows.get(range.0 as usize..range.1 as usize).unwrap_or(&[])
    }
}

fn bits(lab: Lab) -> [u64; 3] {
    lab.components().map(f64::to_bits)
}

/// The rows of colors in the order of the colors, whose places are changed to match.
fn in_order(colors: &mut [Held], rows: &[u32]) -> Vec<u32> {
    let mut ordered = Vec::with_capacity(rows.len());
    let mut end = 0;
    for held in colors {
        let (from, to) = held.rows;
        ordered.extend(rows.get(from as usize..to as usize).unwrap_or(&[]));
        held.rows = (end, end + (to - from));
        end = held.rows.1;
    }
    ordered
}

#[cfg(test)]
mod tests;
