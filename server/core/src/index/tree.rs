//! The k-d tree, which finds some blocks near a color. The only file that names kiddo.
//! It does not know formulas or rows.
//!
//! Nearness orders the work and never decides an answer, so single precision will do, and so do the
//! middles of blocks.

use std::num::NonZero;

use kiddo::{ImmutableKdTree, SquaredEuclidean};

/// The tree holds L* times this: a unit of L* weighs more than one of a* or b* for all but neutral
/// colors. House choice.
const STRETCH: f32 = 2.0;

/// Points of CIELAB by their numbers.
#[derive(Debug)]
pub(super) struct Tree(ImmutableKdTree<f32, 3>);

impl Tree {
    /// `None` when the tree refuses the points, of which it takes as many as a u32 counts.
    pub(super) fn of(points: impl Iterator<Item = [f32; 3]>) -> Option<Self> {
        let points: Vec<[f32; 3]> = points.map(stretched).collect();
        ImmutableKdTree::new_from_slice(&points).ok().map(Self)
    }

    /// The numbers of about the `count` points nearest to a place, in no order.
    pub(super) fn near(&self, place: [f32; 3], count: NonZero<usize>) -> Vec<u32> {
        let query = stretched(place);
        let near = self.0.query(&query).nearest_n::<SquaredEuclidean<f32>>(count).execute();
        near.into_iter().map(|found| found.item).collect()
    }
}

fn stretched([l, a, b]: [f32; 3]) -> [f32; 3] {
    [STRETCH * l, a, b]
}
