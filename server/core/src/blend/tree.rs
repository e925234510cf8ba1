//! One table's threads in a tree of boxes, and the box of CIELAB that holds all mixes of two of them.
//! It does not know what is asked for, or formulas.
//!
//! A box bounds Y, X - Y and Y - Z, ratios to the white in which mixing is linear: the box of mixes
//! is the average of two boxes. In CIELAB `a* = 500 (f(X) - f(Y))`, where the compression f grows and
//! is concave (a line, then a cube root of no steeper slope). So a* grows with X - Y, and for a fixed
//! X - Y it moves toward 0 as Y grows: its ends over a box are at corners. The same holds for b* and
//! Y - Z.

use crate::color::xyz::{compress_by, compressed_by, ratios};
use crate::index::Lights;
use crate::table::Thread;

/// The compression of CIELAB but for rounding in the last places: the library's root costs thrice as
/// much, and bounds have room for rounding.
fn nearly_compress(ratio: f64) -> f64 {
    compress_by(ratio, nearly_root)
}

/// L*, a* and b* but for rounding.
pub(super) fn nearly_compressed(ratios: [f64; 3]) -> [f64; 3] {
    compressed_by(ratios, nearly_root)
}

/// A cube root above 0: a third of the exponent, off by 4 % at most, and two steps of Halley's method,
/// each of which leaves two thirds of the cube of the error.
fn nearly_root(number: f64) -> f64 {
    const THIRD_OF_BIAS: u64 = 0x2a9f_7893_0000_0000;
    let halley = |root: f64| {
        let cube = root * root * root;
        root * (cube + 2.0 * number) / (2.0 * cube + number)
    };
    halley(halley(f64::from_bits(number.to_bits() / 3 + THIRD_OF_BIAS)))
}

/// A thread that may take part.
#[derive(Clone, Copy, Debug)]
pub(super) struct Strand<'c> {
    pub(super) thread: &'c Thread,
    /// Place in the order of codes.
    pub(super) row: usize,
    /// Ratios to the white.
    pub(super) light: [f64; 3],
    /// Whether the thread itself was measured, not a picture of it.
    pub(super) measured: bool,
}

impl<'c> Strand<'c> {
    pub(super) fn new(row: usize, thread: &'c Thread) -> Self {
        let measured = thread.color.origin().is_measured();
        Self { thread, row, light: ratios(thread.color.lab()), measured }
    }

    /// Y, X - Y and Y - Z.
    pub(super) fn opposed(&self) -> [f64; 3] {
        let [x, y, z] = self.light;
        [y, x - y, y - z]
    }
}

/// A box of Y, X - Y and Y - Z.
#[derive(Clone, Copy, Debug)]
pub(super) struct LightBox {
    low: [f64; 3],
    high: [f64; 3],
}

impl LightBox {
    const NOTHING: Self = Self { low: [f64::INFINITY; 3], high: [f64::NEG_INFINITY; 3] };

    fn with(self, at: [f64; 3]) -> Self {
        Self { low: zip(self.low, at, f64::min), high: zip(self.high, at, f64::max) }
    }

    /// The box of all mixes, of which this gives the share.
    pub(super) fn mixed(&self, other: &Self, share: f64) -> Self {
        let mix = |one: f64, other: f64| share * one + (1.0 - share) * other;
        Self { low: zip(self.low, other.low, mix), high: zip(self.high, other.high, mix) }
    }

    /// Least and largest L*, a* and b*.
    pub(super) fn lab(&self) -> ([f64; 3], [f64; 3]) {
        let ([low, low_x, low_z], [high, high_x, high_z]) = (self.low, self.high);
        let (dark, light) = ((low, nearly_compress(low)), (high, nearly_compress(high)));
        // The end of Y where a part of this sign reaches farthest up, or down for the other end.
        let far_up = |part: f64| if part > 0.0 { dark } else { light };
        let far_down = |part: f64| if part > 0.0 { light } else { dark };
        let a = |(y, fy): (f64, f64), part: f64| 500.0 * (nearly_compress(y + part) - fy);
        let b = |(y, fy): (f64, f64), part: f64| 200.0 * (fy - nearly_compress(y - part));
        (
            [116.0 * dark.1 - 16.0, a(far_down(low_x), low_x), b(far_down(low_z), low_z)],
            [116.0 * light.1 - 16.0, a(far_up(high_x), high_x), b(far_up(high_z), high_z)],
        )
    }
}

fn zip([a1, a2, a3]: [f64; 3], [b1, b2, b3]: [f64; 3], one: impl Fn(f64, f64) -> f64) -> [f64; 3] {
    [one(a1, b1), one(a2, b2), one(a3, b3)]
}

/// Some threads that lie together.
#[derive(Clone, Debug)]
pub(super) struct Node {
    pub(super) bounds: LightBox,
    /// How much room the box takes in CIELAB: the sum of its sides.
    pub(super) spread: f64,
    /// Places of its threads.
    pub(super) places: std::ops::Range<usize>,
    /// Numbers of the two halves, `None` for a leaf.
    pub(super) halves: Option<(usize, usize)>,
}

/// The threads of one table that may take part.
#[derive(Clone, Debug)]
pub(super) struct Tree<'c> {
    strands: Vec<Strand<'c>>,
    /// The lights of the strands, in their order.
    lights: Lights,
    /// Halves come before what they are halves of.
    nodes: Vec<Node>,
}

impl<'c> Tree<'c> {
    /// With so many threads in each leaf but the last, which may have fewer: each begins at a multiple
    /// of that number.
    pub(super) fn new(strands: Vec<Strand<'c>>, leaf: usize) -> Self {
        let mut tree = Self { nodes: Vec::new(), lights: Lights::default(), strands };
        if !tree.strands.is_empty() {
            tree.grow(0..tree.strands.len(), leaf);
        }
        tree.lights = Lights::of(tree.strands.iter().map(Strand::opposed));
        tree
    }

    pub(super) fn lights(&self) -> &Lights {
        &self.lights
    }

    /// The strands, neighbors of one leaf beside each other.
    pub(super) fn strands(&self) -> &[Strand<'c>] {
        &self.strands
    }

    /// The number of the node that holds all; `None` without threads.
    pub(super) fn root(&self) -> Option<usize> {
        self.nodes.len().checked_sub(1)
    }

    pub(super) fn node(&self, number: usize) -> Option<&Node> {
        self.nodes.get(number)
    }

    /// Least and largest L*, which mixes do not leave.
    pub(super) fn lightness(&self) -> Option<(f64, f64)> {
        let lightness = self.strands.iter().map(|strand| strand.thread.color.lab().l());
        lightness.fold(None, |range, l| {
            Some(range.map_or((l, l), |(low, high): (f64, f64)| (low.min(l), high.max(l))))
        })
    }

    /// Adds the node of these places and all below it.
    fn grow(&mut self, places: std::ops::Range<usize>, leaf: usize) -> usize {
        let strands = self.strands.get_mut(places.clone()).unwrap_or_default();
        let bounds = strands.iter().map(Strand::opposed).fold(LightBox::NOTHING, LightBox::with);
        let (low, high) = bounds.lab();
        let spread = zip(high, low, |high, low| high - low).iter().sum();
        let middle = (strands.len() > leaf).then(|| places.start + halve(strands, leaf));
        let halves = middle.map(|middle| {
            (self.grow(places.start..middle, leaf), self.grow(middle..places.end, leaf))
        });
        self.nodes.push(Node { bounds, spread, places, halves });
        self.nodes.len() - 1
    }
}

/// Orders the strands along their widest axis of CIELAB and gives the middle in whole leaves.
fn halve(strands: &mut [Strand<'_>], leaf: usize) -> usize {
    let along = |axis: usize, strand: &Strand<'_>| {
        let [l, a, b] = strand.thread.color.lab().components();
        [l, a, b].get(axis).copied().unwrap_or(l)
    };
    let width = |axis: usize| {
        let ends = strands.iter().map(|strand| along(axis, strand));
        let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
            (low.min(at), high.max(at))
        });
        high - low
    };
    let axis = (0..3).max_by(|one, other| width(*one).total_cmp(&width(*other))).unwrap_or(0);
    let middle = (strands.len() / 2).next_multiple_of(leaf);
    strands.select_nth_unstable_by(middle, |left, right| {
        along(axis, left).total_cmp(&along(axis, right))
    });
    middle
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_quick_root_is_right_but_for_the_last_places() {
        for step in 0..200_000 {
            let number = 0.008 * 1.000_04_f64.powi(step);
            let error = (nearly_root(number) / crate::math::cbrt(number) - 1.0).abs();
            assert!(error < 1e-13, "{number}: {error}");
        }
    }
}
