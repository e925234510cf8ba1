//! CIEDE2000 in single precision over many colors at once, in the widest vectors that the processor
//! has. It does not know rows, boxes or which answers are wanted.
//!
//! What comes out is never a score. It is a range that the formula's own value lies in, so that
//! colors can be ordered and ruled out before the formula decides among the few that are left.
//!
//! # How it differs
//!
//! The formula goes without angles as in `difference::ciede2000`, in the same names, with w for
//! `p + |dot|`. Here the rotation needs none either, and divisions are rare:
//!
//! - The exponential in the rotation is the 8th power of a polynomial in v = 1 - cos(h̄' - 275°), and
//!   the outer sine is a short series. Above the axis of hues 0 and 180 the rotation is 0: the paper
//!   does not let it wrap at hue 0, and what it leaves there is below 6e-7.
//! - `half` divides `cross` up to 90 degrees and w beyond.
//! - `S_L`, `S_C`, `S_H` and the root in `R_C` share one division.
//!
//! Near opposite hues the side of the mean hue hangs on the last digits, and with it the value. Such
//! a color gets the range from 0 up without an end.

use fearless_simd::{Simd, dispatch, prelude::*};

use super::columns::{BLOCK, Colors, InstructionSet, first_of, single};
use crate::color::Lab;
use crate::difference::Factors;

/// What a range adds to both sides of the value in single precision: a share of it, and a part that
/// a factor below 1 magnifies. More than twice the largest error seen, see the tests.
const MARGIN: (f32, f32) = (4e-5, 6e-5);

/// Sine of the hue difference below which hues beyond 90 degrees count as opposite. The rounding of
/// a coordinate moves it by 1e-7.
const OPPOSITE: f32 = 1e-4;

/// Keeps roots of what neutrals leave away from 0; the hue part is then 0 whatever the hue.
const TINY: f32 = 1e-30;

/// Chroma scale of G and `R_C` (eq. 4 and 17).
const CHROMA_SCALE: f32 = 25.0;

/// Cosine and sine of hue 275.
const BLUE: (f32, f32) = (0.087_155_74, -0.996_194_7);

/// Weights of cos h, sin h, cos 2h, cos 3h, sin 3h, cos 4h and sin 4h in T (eq. 15): its amplitudes
/// times the cosine and sine of the phases 30, 6 and 63 degrees.
const HARMONICS: [f32; 7] =
    [-0.147_224_32, -0.085, 0.24, 0.318_247, -0.033_449_11, -0.090_798_1, -0.178_201_3];

/// `exp(-(θ / 25°)² / 8)` for θ = acos(1 - v), v from 0 to [`FARTHEST`], lowest power first: the
/// polynomial of degree 4 whose 8th power has the least largest error, 2e-7 in the rotation's sine.
const BELL: [f32; 5] = [1.0, -1.313_118_8, 0.643_205_8, -0.147_758_64, 0.015_630_684];

/// Blocks that are measured before the first of them is looked at.
const TOGETHER: usize = 4;

/// Beyond it the rotation is 0 in single precision.
const FARTHEST: f32 = 1.1;

/// Twice 30 degrees, the outer amplitude in eq. 16 and 18.
const AMPLITUDE: f32 = std::f32::consts::FRAC_PI_3;

/// What looks for near colors among those that are measured.
pub(super) trait Sift {
    /// How far a color may be.
    fn reach(&self) -> f64;
    /// Learns that the difference of a color is at most so much; answers the reach from there on.
    fn tighten(&mut self, place: u32, most: f64) -> f64;
    /// Takes up a color whose difference is at least so much, which is within reach.
    fn open(&mut self, place: u32, least: f64);
}

/// A standard under CIEDE2000, ready for many colors.
#[derive(Clone, Copy, Debug)]
pub(super) struct Kernel {
    set: InstructionSet,
    l: f32,
    a: f32,
    b: f32,
    chroma: f32,
    k_l: f32,
    k_c: f32,
    k_h: f32,
    /// The absolute part of the margin.
    margin: f32,
}

impl Kernel {
    pub(super) fn new(set: InstructionSet, standard: Lab, factors: Factors) -> Self {
        let least_factor = factors.l().min(factors.c()).min(factors.h()).min(1.0);
        Self {
            set,
            l: single(standard.l()),
            a: single(standard.a()),
            b: single(standard.b()),
            chroma: single(standard.chroma()),
            k_l: single(factors.l()),
            k_c: single(factors.c()),
            k_h: single(factors.h()),
            margin: MARGIN.1 / single(least_factor),
        }
    }

    /// Differences of all colors, 0 near opposite hues.
    fn measure(&self, colors: &Colors, differences: &mut [f32]) {
        dispatch!(self.set.0, simd => self.measure_lanes(simd, colors, differences));
    }

    #[inline(always)]
    fn measure_lanes<S: Simd>(&self, simd: S, colors: &Colors, differences: &mut [f32]) {
        for (block, slot) in colors.all().zip(differences.chunks_mut(BLOCK)) {
            let mut lanes = [0.0; BLOCK];
            for (vector, lanes) in vectors(simd, block).zip(lanes.chunks_exact_mut(S::f32s::LEN)) {
                self.squares(simd, vector).max(0.0).sqrt().store_slice(lanes);
            }
            slot.copy_from_slice(lanes.get(..slot.len()).unwrap_or(&lanes));
        }
    }

    /// Shows the ranges of the colors of some blocks that may lie within the sieve's reach.
    pub(super) fn sift(&self, colors: &Colors, blocks: &[u32], sieve: &mut impl Sift) {
        dispatch!(self.set.0, simd => self.sift_lanes(simd, colors, blocks, sieve));
    }

    #[inline(always)]
    fn sift_lanes<S: Simd>(&self, simd: S, colors: &Colors, blocks: &[u32], sieve: &mut impl Sift) {
        let mut reach = single(sieve.reach()).next_up();
        let mut ends = [[[0.0; BLOCK]; 2]; TOGETHER];
        for blocks in blocks.chunks(TOGETHER) {
            for (block, ends) in blocks.iter().zip(&mut ends) {
                self.store_ends(simd, colors.block(*block as usize), ends);
            }
            // The reach first: most colors are then out of it before they are taken up.
            for (block, [_, most]) in blocks.iter().zip(&ends) {
                reach = each_within(simd, *block, most, reach, |place, most| {
                    single(sieve.tighten(place, most)).next_up()
                });
            }
            for (block, [least, _]) in blocks.iter().zip(&ends) {
                each_within(simd, *block, least, reach, |place, least| {
                    sieve.open(place, least);
                    reach
                });
            }
        }
    }

    /// Stores the two ends of where the differences of a block lie for certain.
    #[inline(always)]
    fn store_ends<S: Simd>(
        &self,
        simd: S,
        block: [&[f32]; 4],
        [least, most]: &mut [[f32; BLOCK]; 2],
    ) {
        let ends = least.chunks_exact_mut(S::f32s::LEN).zip(most.chunks_exact_mut(S::f32s::LEN));
        for (vector, (least, most)) in vectors(simd, block).zip(ends) {
            let [low, high] = self.ranges(simd, vector);
            low.store_slice(least);
            high.store_slice(most);
        }
    }

    /// The two ends of where differences lie for certain.
    #[inline(always)]
    fn ranges<S: Simd>(&self, simd: S, vector: [S::f32s; 4]) -> [S::f32s; 2] {
        let squares = self.squares(simd, vector);
        let opposite = squares.simd_lt(0.0);
        let middle = squares.max(0.0).sqrt();
        let least = ((middle - self.margin) * (1.0 - MARGIN.0)).max(0.0);
        let most = (middle + self.margin) * (1.0 + MARGIN.0);
        [least, opposite.select(S::f32s::simd_from(simd, f32::INFINITY), most)]
    }

    /// The lower end with so many times the margin, for colors that are less well known.
    #[inline(always)]
    pub(super) fn least<S: Simd>(&self, simd: S, vector: [S::f32s; 4], room: f32) -> S::f32s {
        let middle = self.squares(simd, vector).max(0.0).sqrt();
        (middle - self.margin * room) * (1.0 - MARGIN.0 * room)
    }

    /// How far off a difference may be.
    #[cfg(test)]
    pub(super) fn room(&self, difference: f32) -> f32 {
        self.margin + MARGIN.0 * difference
    }

    /// Squared differences, -1 near opposite hues.
    #[inline(always)]
    fn squares<S: Simd>(&self, simd: S, [l2, a2, b2, chroma]: [S::f32s; 4]) -> S::f32s {
        let stretch = saturation::<S>((chroma + self.chroma) * 0.5).mul_add(-0.5, 1.5);
        let (a1, a2, b1) = (stretch * self.a, stretch * a2, self.b);
        let c1 = a1.mul_add(a1, b1 * b1).sqrt();
        let c2 = a2.mul_add(a2, b2 * b2).sqrt();
        let mean_chroma = (c1 + c2) * 0.5;

        let (p, dot, cross) = (c1 * c2, a1.mul_add(a2, b2 * b1), a1.mul_sub(b2, a2 * b1));
        let acute = dot.simd_ge(0.0);
        let w = p + dot.abs();
        let half = (w * 0.5).max(TINY).sqrt();
        let inverse = S::f32s::simd_from(simd, 0.5) / (half * p.max(TINY).sqrt());
        let hue_part = acute.select(cross, w.copysign(cross));
        let side = S::f32s::simd_from(simd, 1.0).copysign(cross);
        let (x1, y1, x2, y2) = (a1 * c2, c2 * b1, a2 * c1, b2 * c1);
        let cos = acute.select(x1 + x2, side * (y2 - y1)) * inverse;
        let sin = acute.select(y1 + y2, side * (x1 - x2)) * inverse;

        let from_50 = (l2 + self.l).mul_add(0.5, -50.0);
        let from_50 = from_50 * from_50;
        let root = (from_50 + 20.0).sqrt();
        // Divisors of the three parts, but for the root in S_L.
        let l = from_50.mul_add(0.015, root) * self.k_l;
        let c = mean_chroma.mul_add(0.045, 1.0) * self.k_c;
        let s_h = (mean_chroma * 0.015).mul_add(t::<S>(cos, sin), 1.0);
        let h = s_h * half * self.k_h;
        let seventh = seventh::<S>(mean_chroma);
        let all = l * c * h;
        let inverse = S::f32s::simd_from(simd, 1.0) / seventh.mul_add(all, all);
        let saturation = (seventh * all * inverse).sqrt();
        let inverse = seventh.mul_add(inverse, inverse);
        let light = (l2 - self.l) * root * c * h * inverse;
        let chroma = (c2 - c1) * l * h * inverse;
        let hue = hue_part * l * c * inverse;

        let turn = saturation * rotation::<S>(simd, cos, sin);
        let mixed = (turn * chroma).mul_add(-2.0, hue) * hue;
        let square = light.mul_add(light, chroma.mul_add(chroma, mixed)).max(0.0);
        let opposite = cross.abs().simd_lt(p * OPPOSITE) & dot.simd_lt(0.0);
        opposite.select(S::f32s::simd_from(simd, -1.0), square)
    }
}

/// Shows the places and values of a block that are at most the reach, which `show` answers anew;
/// answers the last one.
#[inline(always)]
fn each_within<S: Simd>(
    simd: S,
    block: u32,
    values: &[f32; BLOCK],
    mut reach: f32,
    mut show: impl FnMut(u32, f64) -> f32,
) -> f32 {
    let mut first = first_of(block);
    for values in values.chunks_exact(S::f32s::LEN) {
        let mut open = S::f32s::from_slice(simd, values).simd_le(reach).to_bitmask();
        while open != 0 {
            let lane = open.trailing_zeros();
            open &= open - 1;
            if let Some(value) = values.get(lane as usize).filter(|value| **value <= reach) {
                reach = show(first + lane, f64::from(*value));
            }
        }
        first += lanes::<S>();
    }
    reach
}

/// Colors side by side, to be compared roughly with one standard after the other.
#[derive(Clone, Debug)]
pub struct ManyColors {
    colors: Colors,
    count: usize,
}

impl ManyColors {
    /// Puts colors side by side.
    #[must_use]
    pub fn new(colors: &[Lab]) -> Self {
        let points = colors.iter().copied().map(Lab::components);
        Self { colors: Colors::of_points(points), count: colors.len() }
    }

    /// CIEDE2000 of every color from a standard in single precision, in the order of the colors: good
    /// enough to order by, not to answer with.
    ///
    /// Each is off by less than 4e-5 of itself and 6e-5 over the least of the factors or 1, whichever
    /// is less; where hues are opposite to within 0.006 degrees it is 0.
    pub fn rough(
        &self,
        set: InstructionSet,
        standard: Lab,
        factors: Factors,
        differences: &mut Vec<f32>,
    ) {
        differences.resize(self.count, 0.0);
        Kernel::new(set, standard, factors).measure(&self.colors, differences);
    }
}

/// Lanes of a vector.
#[inline(always)]
#[expect(clippy::cast_possible_truncation, reason = "at most sixteen")]
pub(super) fn lanes<S: Simd>() -> u32 {
    S::f32s::LEN as u32
}

/// The vectors of a block.
#[inline(always)]
fn vectors<S: Simd>(simd: S, [l, a, b, c]: [&[f32]; 4]) -> impl Iterator<Item = [S::f32s; 4]> {
    let load = move |lanes| S::f32s::from_slice(simd, lanes);
    let [l, a, b, c] = [l, a, b, c].map(|column| column.chunks_exact(S::f32s::LEN));
    l.zip(a).zip(b.zip(c)).map(move |((l, a), (b, c))| [load(l), load(a), load(b), load(c)])
}

/// The root of eq. 4 and 17.
#[inline(always)]
fn saturation<S: Simd>(chroma: S::f32s) -> S::f32s {
    let seventh = seventh::<S>(chroma);
    (seventh / (seventh + 1.0)).sqrt()
}

/// The seventh power of a chroma over its scale.
#[inline(always)]
fn seventh<S: Simd>(chroma: S::f32s) -> S::f32s {
    let scaled = chroma * CHROMA_SCALE.recip();
    let squared = scaled * scaled;
    squared * squared * squared * scaled
}

/// T of eq. 15 from the cosine and sine of the mean hue.
#[inline(always)]
fn t<S: Simd>(cos: S::f32s, sin: S::f32s) -> S::f32s {
    let (cos2, sin2) = ((cos * cos).mul_add(2.0, -1.0), cos * sin * 2.0);
    let (cos3, sin3) = (cos2.mul_add(2.0, -1.0) * cos, cos2.mul_add(2.0, 1.0) * sin);
    let (cos4, sin4) = ((cos2 * cos2).mul_add(2.0, -1.0), cos2 * sin2 * 2.0);
    [cos, sin, cos2, cos3, sin3, cos4, sin4]
        .into_iter()
        .zip(HARMONICS)
        .fold(cos * 0.0 + 1.0, |sum, (term, weight)| term.mul_add(weight, sum))
}

/// The sine of eq. 16 and 18.
#[inline(always)]
fn rotation<S: Simd>(simd: S, cos: S::f32s, sin: S::f32s) -> S::f32s {
    let away = (cos.mul_add(-BLUE.0, sin * -BLUE.1) + 1.0).min(FARTHEST);
    let [one, v, v2, v3, v4] = BELL;
    let bell = away.mul_add(v4, v3).mul_add(away, v2).mul_add(away, v).mul_add(away, one);
    let squared = bell * bell;
    let fourth = squared * squared;
    let angle = fourth * fourth * AMPLITUDE;
    let squared = angle * angle;
    let series = squared
        .mul_add(1.0 / 362_880.0, -1.0 / 5_040.0)
        .mul_add(squared, 1.0 / 120.0)
        .mul_add(squared, -1.0 / 6.0)
        .mul_add(squared, 1.0);
    sin.simd_gt(0.0).select(S::f32s::simd_from(simd, 0.0), series * angle)
}

#[cfg(test)]
mod tests {
    use super::super::tests::{KINDS, Seeded, factors, question, table};
    use super::*;
    use crate::difference::{Formula, Pair};

    #[test]
    fn every_range_holds_the_formulas_value_and_half_of_it_would_do() {
        for set in InstructionSet::all() {
            let mut seeded = Seeded(1);
            for place in 0..4_400 {
                let kind = KINDS[place % KINDS.len()];
                let colors = table(kind, 100, &mut seeded);
                let standard = question(kind, &colors, &mut seeded);
                let factors = factors(&mut seeded);
                holds(set, standard, factors, &colors);
            }
        }
    }

    fn holds(set: InstructionSet, standard: Lab, factors: Factors, colors: &[Lab]) {
        let many = ManyColors::new(colors);
        let mut rough = Vec::new();
        many.rough(set, standard, factors, &mut rough);
        assert_eq!(rough.len(), colors.len());
        let kernel = Kernel::new(set, standard, factors);
        let blocks: Vec<u32> = (0..7).collect();
        let mut all = All::default();
        kernel.sift(&many.colors, &blocks, &mut all);
        let filling = blocks.len() * BLOCK;
        assert!(all.most.len() == filling && all.least.len() == filling);
        let ranges = all.least.iter().zip(&all.most);
        for ((sample, rough), (least, most)) in colors.iter().zip(&rough).zip(ranges) {
            let pair = Pair { standard, sample: *sample };
            let score = Formula::Ciede2000(factors).delta_e(pair).value();
            assert!(*least <= score && score <= *most, "{set} {pair:?} {least} {score} {most}");
            let off = (f64::from(*rough) - score).abs();
            let room = f64::from(kernel.room(single(score)));
            assert!(most.is_infinite() || off < 0.5 * room, "{set} {pair:?} {off}");
        }
    }

    /// Takes up every color.
    #[derive(Default)]
    struct All {
        least: Vec<f64>,
        most: Vec<f64>,
    }

    impl Sift for All {
        fn reach(&self) -> f64 {
            f64::INFINITY
        }

        fn tighten(&mut self, place: u32, most: f64) -> f64 {
            assert_eq!(place as usize, self.most.len());
            self.most.push(most);
            f64::INFINITY
        }

        fn open(&mut self, place: u32, least: f64) {
            assert_eq!(place as usize, self.least.len());
            self.least.push(least);
        }
    }
}
