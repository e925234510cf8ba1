//! Values in single precision, sixteen to a block, and the vector instructions that read them.
//! It does not know formulas, rows or the tree.

use std::fmt;
use std::sync::LazyLock;

use fearless_simd::Level;

use super::tight::length;

/// Colors of a block: the lanes of the widest vector.
pub(super) const BLOCK: usize = 16;
const LANES: u32 = 16;

/// A set of vector instructions of this processor.
#[derive(Clone, Copy, Debug)]
pub struct InstructionSet(pub(super) Level);

impl InstructionSet {
    /// The widest one.
    #[must_use]
    pub fn best() -> Self {
        static BEST: LazyLock<Level> = LazyLock::new(Level::new);
        Self(*BEST)
    }

    /// The widest one of each width that this processor has, the widest first.
    #[must_use]
    pub fn all() -> Vec<Self> {
        let best = Level::new();
        let mut all = vec![best];
        #[cfg(target_arch = "x86_64")]
        if best.as_avx512().is_some() {
            all.extend(best.as_avx2().map(Level::Avx2));
        }
        if std::mem::discriminant(&best) != std::mem::discriminant(&Level::baseline()) {
            all.push(Level::baseline());
        }
        all.into_iter().map(Self).collect()
    }
}

impl fmt::Display for InstructionSet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?}", self.0)
    }
}

/// Blocks of lanes, each with its columns of sixteen values one after the other.
#[derive(Clone, Debug, Default)]
pub(super) struct Blocks<const COLUMNS: usize> {
    lanes: Vec<f32>,
}

impl<const COLUMNS: usize> Blocks<COLUMNS> {
    /// Of things with a value for each column; the last block is filled up.
    pub(super) fn of(
        mut things: impl ExactSizeIterator<Item = [f64; COLUMNS]>,
        filling: [f64; COLUMNS],
    ) -> Self {
        let blocks = things.len().div_ceil(BLOCK);
        let mut lanes = Vec::with_capacity(blocks * COLUMNS * BLOCK);
        for _ in 0..blocks {
            let block: [[f64; COLUMNS]; BLOCK] =
                std::array::from_fn(|_| things.next().unwrap_or(filling));
            for column in 0..COLUMNS {
                let values = block.iter().filter_map(|thing| thing.get(column));
                lanes.extend(values.map(|value| single(*value)));
            }
        }
        Self { lanes }
    }

    /// All blocks in order.
    pub(super) fn all(&self) -> impl Iterator<Item = [&[f32]; COLUMNS]> {
        self.lanes.chunks_exact(COLUMNS * BLOCK).map(columns)
    }

    /// The columns of one block, empty ones when there is no such block.
    #[inline(always)]
    pub(super) fn block(&self, number: usize) -> [&[f32]; COLUMNS] {
        let from = number * COLUMNS * BLOCK;
        columns(self.lanes.get(from..from + COLUMNS * BLOCK).unwrap_or(&[]))
    }
}

#[inline(always)]
fn columns<const COLUMNS: usize>(lanes: &[f32]) -> [&[f32]; COLUMNS] {
    let mut columns = lanes.chunks_exact(BLOCK);
    std::array::from_fn(|_| columns.next().unwrap_or(&[]))
}

/// Blocks of colors: L*, a*, b* and C*ab.
pub(super) type Colors = Blocks<4>;

impl Colors {
    /// The blocks of colors.
    pub(super) fn of_points(points: impl ExactSizeIterator<Item = [f64; 3]>) -> Self {
        Self::of(points.map(|[l, a, b]| [l, a, b, length(a, b)]), [0.0; 4])
    }
}

/// The place of a block's first color.
pub(super) fn first_of(block: u32) -> u32 {
    block.saturating_mul(LANES)
}

/// Rounds to the nearest.
#[expect(clippy::cast_possible_truncation, reason = "what it loses is part of all margins")]
pub(super) fn single(value: f64) -> f32 {
    value as f32
}
