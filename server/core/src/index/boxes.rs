//! Boxes around each sixteen colors, around each sixteen of those boxes, and so on up to one, and
//! which of the smallest a quadratic form cannot rule out. It does not know formulas or rows.
//!
//! A box is a middle and half a size along each axis. All values are in single precision: sizes have
//! room for the rounding of what is compared with them, cuts for that of sums of squares.

use fearless_simd::{Simd, dispatch, prelude::*};

use super::around::Quadratic;
use super::columns::{BLOCK, Blocks, InstructionSet, single};

/// Room on each side of a box: coordinates up to 200 round by 8e-6, and so does what is taken from
/// the standard, itself rounded, and half a size.
const ROOM: f64 = 1e-4;

/// Share of the two terms of a cross product that their difference may be off by: six roundings of
/// 6e-8 each.
const CROSS: f32 = 1e-6;

/// Share of a square in single precision that the roundings of a sum of five may add to it: less
/// than thirty of 6e-8 each.
const SQUARE: f64 = 1e-5;

/// Where a box that is no box lies: farther than any form lets through.
const NOWHERE: f64 = 1e15;

/// Boxes of one size: the middles along the three axes, then the half sizes.
#[derive(Debug, Default)]
struct Level {
    boxes: Blocks<6>,
    count: usize,
}

impl Level {
    fn of(boxes: &[Sides]) -> Self {
        let nowhere = [NOWHERE, NOWHERE, NOWHERE, 0.0, 0.0, 0.0];
        let rows = boxes.iter().map(|sides| {
            let [l, a, b] = sides.map(|(low, high)| f64::midpoint(low, high));
            let [half_l, half_a, half_b] = sides.map(|(low, high)| 0.5 * (high - low) + ROOM);
            [l, a, b, half_l, half_a, half_b]
        });
        Self { boxes: Blocks::of(rows, nowhere), count: boxes.len() }
    }
}

/// The boxes of an index.
#[derive(Debug, Default)]
pub(super) struct Boxes {
    /// Smallest boxes first; the last level has at most sixteen.
    levels: Vec<Level>,
}

impl Boxes {
    /// Of colors in an order that keeps near ones together.
    pub(super) fn of(colors: impl ExactSizeIterator<Item = [f64; 3]>) -> Self {
        let mut sides = groups(colors.map(|color| color.map(|at| (at, at))));
        let mut levels = vec![Level::of(&sides)];
        while sides.len() > BLOCK {
            sides = groups(sides.into_iter());
            levels.push(Level::of(&sides));
        }
        Self { levels }
    }

    /// The middles of the smallest boxes.
    pub(super) fn middles(&self) -> impl Iterator<Item = [f32; 3]> {
        let level = self.levels.first();
        let blocks = level.into_iter().flat_map(|level| level.boxes.all());
        let middles =
            blocks.flat_map(|[l, a, b, ..]| l.iter().zip(a).zip(b).map(|((l, a), b)| [*l, *a, *b]));
        middles.take(level.map_or(0, |level| level.count))
    }

    /// Numbers of the smallest boxes, ascending, that may hold a color where the form is at most the
    /// cut.
    pub(super) fn within(&self, set: InstructionSet, form: &Quadratic, cut: f64) -> Vec<u32> {
        dispatch!(set.0, simd => self.within_lanes(simd, form, single(cut * (1.0 + SQUARE)).next_up()))
    }

    #[inline(always)]
    fn within_lanes<S: Simd>(&self, simd: S, form: &Quadratic, cut: f32) -> Vec<u32> {
        let form = Form::of(form);
        let mut groups = Vec::with_capacity(64);
        let mut open = Vec::with_capacity(64);
        groups.push(0);
        for level in self.levels.iter().rev() {
            open.clear();
            for group in &groups {
                level.open(simd, &form, *group as usize * BLOCK, cut, &mut open);
            }
            std::mem::swap(&mut groups, &mut open);
        }
        groups
    }
}

impl Level {
    /// Adds the numbers of the sixteen boxes from one on that the form lets through.
    #[inline(always)]
    fn open<S: Simd>(&self, simd: S, form: &Form, from: usize, cut: f32, open: &mut Vec<u32>) {
        let columns =
            self.boxes.block(from / BLOCK).map(|column| column.chunks_exact(S::f32s::LEN));
        let [l, a, b, half_l, half_a, half_b] = columns;
        let load = |lanes| S::f32s::from_slice(simd, lanes);
        let mut first = from;
        for (((l, a), b), ((half_l, half_a), half_b)) in
            l.zip(a).zip(b).zip(half_l.zip(half_a).zip(half_b))
        {
            let middle = [load(l), load(a), load(b)];
            let least = form.least::<S>(middle, [load(half_l), load(half_a), load(half_b)]);
            let mut mask = least.simd_le(cut).to_bitmask();
            while mask != 0 {
                let number = first + mask.trailing_zeros() as usize;
                open.extend(u32::try_from(number).ok().filter(|_| number < self.count));
                mask &= mask - 1;
            }
            first += S::f32s::LEN;
        }
    }
}

/// A box as its two sides along each axis.
type Sides = [(f64, f64); 3];

/// The smallest boxes around each sixteen.
fn groups(mut boxes: impl ExactSizeIterator<Item = Sides>) -> Vec<Sides> {
    let count = boxes.len().div_ceil(BLOCK);
    let around = |_| {
        let mut all = [(f64::INFINITY, f64::NEG_INFINITY); 3];
        for sides in boxes.by_ref().take(BLOCK) {
            for ((low, high), side) in all.iter_mut().zip(sides) {
                (*low, *high) = (low.min(side.0), high.max(side.1));
            }
        }
        all
    };
    (0..count).map(around).collect()
}

/// A quadratic form in single precision.
#[derive(Clone, Copy, Debug)]
struct Form {
    standard: [f32; 3],
    light: f32,
    bend: f32,
    a: f32,
    b: f32,
    across: f32,
}

impl Form {
    fn of(form: &Quadratic) -> Self {
        let (standard, weights, bend) = form.parts();
        Self {
            standard: standard.map(single),
            light: single(weights.light),
            bend: single(bend),
            a: single(weights.a),
            b: single(weights.b),
            across: single(weights.across),
        }
    }

    /// A value that the form does not fall below in boxes: the least of each term.
    #[inline(always)]
    fn least<S: Simd>(&self, [l, a, b]: [S::f32s; 3], half: [S::f32s; 3]) -> S::f32s {
        let [l1, a1, b1] = self.standard;
        let [half_l, half_a, half_b] = half;
        let (l, a, b) = (l - l1, a - a1, b - b1);
        let gap_l = (l.abs() - half_l).max(0.0);
        let gap_a = (a.abs() - half_a).max(0.0);
        let gap_b = (b.abs() - half_b).max(0.0);
        let (one, other) = (b * a1, a * b1);
        let reach = half_b * a1.abs() + half_a * b1.abs() + (one.abs() + other.abs()) * CROSS;
        let across = ((one - other).abs() - reach).max(0.0);
        let from_50 = gap_l.copysign(l).mul_add(0.5, l1 - 50.0);
        let from_50 = from_50 * from_50;
        let root = (from_50 + 20.0).sqrt();
        let light = gap_l * root / from_50.mul_add(self.bend, root);
        (light * light * self.light)
            + (gap_a * gap_a * self.a)
            + (gap_b * gap_b * self.b)
            + (across * across * self.across)
    }
}
