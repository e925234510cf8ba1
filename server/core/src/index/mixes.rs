//! Mixes of one color's light with that of many others, compared with a standard under CIEDE2000 in
//! single precision, many at once. It does not know which mixes may answer.
//!
//! Like what `kernel` says of colors, what comes out is never a score but rules out. The lights are
//! kept as Y, X - Y and Y - Z: there a mix is still an average, and since
//! `f(X) - f(Y) = (X - Y) / (f(X)² + f(X) f(Y) + f(Y)²)` for cube roots, a* and b* keep their digits
//! near neutral, where the difference of two roots would lose them.

use fearless_simd::{Simd, dispatch, prelude::*};

use super::columns::{BLOCK, Blocks, InstructionSet, single};
use super::kernel::{Kernel, lanes};
use crate::color::Lab;
use crate::color::xyz::LINE_BELOW;
use crate::difference::Factors;

/// How much farther off than a color as it stands a mix may be measured. More than twice the largest
/// error seen, see the tests.
const ROOM: f32 = 4.0;

/// A third of the exponent of a number's inverse, as bits: the start that three of Newton's steps
/// take to single precision from within 4 %.
const START: f32 = 1_419_910_400.0;

/// Slope of the compression near black.
const SLOPE: f32 = 7.787_037;

/// What the compression of 0 is.
const BLACK: f32 = 16.0 / 116.0;

/// Ratios to the white of many colors, side by side: Y, X - Y and Y - Z.
#[derive(Clone, Debug, Default)]
pub(crate) struct Lights(Blocks<3>);

impl Lights {
    /// Colors of one block.
    pub(crate) const BLOCK: usize = BLOCK;

    /// In the order given.
    pub(crate) fn of(lights: impl ExactSizeIterator<Item = [f64; 3]>) -> Self {
        Self(Blocks::of(lights, [0.0; 3]))
    }
}

/// A standard under CIEDE2000, ready for many mixes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mixer {
    set: InstructionSet,
    kernel: Kernel,
}

impl Mixer {
    pub(super) fn new(set: InstructionSet, standard: Lab, factors: Factors) -> Self {
        Self { set, kernel: Kernel::new(set, standard, factors) }
    }

    /// Adds the places of a block's colors whose mix with a light, of which the light makes up the
    /// share, may have a squared difference of at most the cut. Places beyond the last color may be
    /// among them.
    pub(crate) fn sift(
        &self,
        (light, share): ([f64; 3], f64),
        (lights, block): (&Lights, usize),
        cut: f64,
        open: &mut Vec<u32>,
    ) {
        let reach = single(cut.sqrt()).next_up();
        let own = light.map(|part| single(share * part));
        let rest = single(1.0 - share);
        dispatch!(self.set.0, simd => {
            self.sift_lanes(simd, (own, rest), (lights, block), reach, open);
        });
    }

    #[inline(always)]
    fn sift_lanes<S: Simd>(
        &self,
        simd: S,
        (own, rest): ([f32; 3], f32),
        (lights, block): (&Lights, usize),
        reach: f32,
        open: &mut Vec<u32>,
    ) {
        let mut first = u32::try_from(block * BLOCK).unwrap_or(u32::MAX);
        let [y, x_y, y_z] = lights.0.block(block).map(|column| column.chunks_exact(S::f32s::LEN));
        for ((y, x_y), y_z) in y.zip(x_y).zip(y_z) {
            let other = [y, x_y, y_z].map(|lanes| S::f32s::from_slice(simd, lanes));
            let least = self.least(simd, mixed::<S>(own, rest, other));
            let mut mask = least.simd_le(reach).to_bitmask();
            while mask != 0 {
                open.push(first + mask.trailing_zeros());
                mask &= mask - 1;
            }
            first += lanes::<S>();
        }
    }

    /// What differences of mixes do not fall below.
    #[inline(always)]
    fn least<S: Simd>(&self, simd: S, mix: [S::f32s; 3]) -> S::f32s {
        let [l, a, b] = compressed::<S>(mix);
        let chroma = a.mul_add(a, b * b).sqrt();
        self.kernel.least(simd, [l, a, b, chroma], ROOM)
    }
}

#[inline(always)]
fn mixed<S: Simd>(
    [own_y, own_x, own_z]: [f32; 3],
    rest: f32,
    [y, x_y, y_z]: [S::f32s; 3],
) -> [S::f32s; 3] {
    let mix = |other: S::f32s, own: f32| other * rest + own;
    [mix(y, own_y), mix(x_y, own_x), mix(y_z, own_z)]
}

/// L*, a* and b* of Y, X - Y and Y - Z.
#[inline(always)]
fn compressed<S: Simd>([y, x_y, y_z]: [S::f32s; 3]) -> [S::f32s; 3] {
    let (x, z) = (y + x_y, y - y_z);
    let (of_x, of_y, of_z) = (compress::<S>(x), compress::<S>(y), compress::<S>(z));
    let a = apart::<S>((x, of_x), (y, of_y), x_y);
    let b = apart::<S>((y, of_y), (z, of_z), y_z);
    [of_y * 116.0 - 16.0, a * 500.0, b * 200.0]
}

/// What the compressions of two ratios that are `gap` apart differ by.
#[inline(always)]
fn apart<S: Simd>(
    (one, of_one): (S::f32s, S::f32s),
    (other, of_other): (S::f32s, S::f32s),
    gap: S::f32s,
) -> S::f32s {
    let below = single(LINE_BELOW);
    let (curved, straight) = (one.min(other).simd_gt(below), one.max(other).simd_le(below));
    let sum = of_one.mul_add(of_one, of_one.mul_add(of_other, of_other * of_other));
    straight.select(gap * SLOPE, curved.select(gap / sum, of_one - of_other))
}

/// f of ISO/CIE 11664-4.
#[inline(always)]
fn compress<S: Simd>(ratio: S::f32s) -> S::f32s {
    let below = single(LINE_BELOW);
    let root = root::<S>(ratio.max(below));
    ratio.simd_gt(below).select(root, ratio.mul_add(SLOPE, BLACK))
}

/// The cube root of a number above 0.
#[inline(always)]
fn root<S: Simd>(number: S::f32s) -> S::f32s {
    let bits: S::f32s = number.bitcast::<S::i32s>().to_float();
    let start: S::i32s = bits.mul_add(-1.0 / 3.0, START).to_int();
    let third = number * (1.0 / 3.0);
    let step = |inverse: S::f32s| {
        let cubed = inverse * inverse * inverse;
        inverse * (third * cubed * -1.0 + 4.0 / 3.0)
    };
    let inverse = step(step(step(start.bitcast())));
    number * inverse * inverse
}

#[cfg(test)]
mod tests {
    use super::super::tests::{KINDS, Seeded, factors, question, table};
    use super::*;
    use crate::color::xyz::{compressed as exactly, ratios};
    use crate::difference::{Formula, Pair};

    fn opposed([x, y, z]: [f64; 3]) -> [f64; 3] {
        [y, x - y, y - z]
    }

    /// Differences of mixes in single precision, without a margin.
    fn rough(mixer: &Mixer, own: [f64; 3], share: f64, lights: &Lights) -> Vec<f32> {
        let own = own.map(|part| single(share * part));
        let rest = single(1.0 - share);
        dispatch!(mixer.set.0, simd => all(simd, mixer, own, rest, lights))
    }

    #[inline(always)]
    fn all<S: Simd>(simd: S, mixer: &Mixer, own: [f32; 3], rest: f32, lights: &Lights) -> Vec<f32> {
        let mut all = Vec::new();
        for block in lights.0.all() {
            let [y, x_y, y_z] = block.map(|column| column.chunks_exact(S::f32s::LEN));
            for ((y, x_y), y_z) in y.zip(x_y).zip(y_z) {
                let other = [y, x_y, y_z].map(|lanes| S::f32s::from_slice(simd, lanes));
                let [l, a, b] = compressed::<S>(mixed::<S>(own, rest, other));
                let chroma = a.mul_add(a, b * b).sqrt();
                all.extend_from_slice(mixer.kernel.least(simd, [l, a, b, chroma], 0.0).as_slice());
            }
        }
        all
    }

    #[test]
    fn no_mix_is_nearer_than_its_lower_end_and_half_the_margin_would_do() {
        let (mut measured, mut ruled_out) = (0, 0);
        for set in InstructionSet::all() {
            let mut seeded = Seeded(4);
            for place in 0..1_100 {
                let kind = KINDS[place % KINDS.len()];
                let colors = table(kind, 100, &mut seeded);
                let standard = question(kind, &colors, &mut seeded);
                let factors = factors(&mut seeded);
                let mixer = Mixer::new(set, standard, factors);
                let all: Vec<_> = colors.iter().map(|color| ratios(*color)).collect();
                let lights = Lights::of(all.iter().copied().map(opposed));
                let share = [0.5, 2.0 / 3.0, 1.0 / 3.0][place % 3];
                let own = all[place % all.len()];
                let rough = rough(&mixer, opposed(own), share, &lights);
                for (at, other) in all.iter().enumerate() {
                    let mix = |axis: usize| share * own[axis] + (1.0 - share) * other[axis];
                    let [l, a, b] = exactly([mix(0), mix(1), mix(2)]);
                    let Ok(sample) = Lab::new(l, a, b) else { continue };
                    let pair = Pair { standard, sample };
                    let score = Formula::Ciede2000(factors).delta_e(pair).value();
                    let room = f64::from(ROOM) * f64::from(mixer.kernel.room(single(score)));
                    let off = (f64::from(rough[at]) - score).abs();
                    // Near opposite hues nothing is known.
                    assert!(
                        off < 0.5 * room || rough[at] <= 0.0,
                        "{set} {factors:?} {pair:?} {} {score} {room}",
                        rough[at]
                    );
                    let opens = |reach: f64| {
                        let mut open = Vec::new();
                        let block = (&lights, at / BLOCK);
                        mixer.sift((opposed(own), share), block, reach.powi(2), &mut open);
                        open.iter().any(|place| *place as usize == at)
                    };
                    assert!(opens(score), "{set} {pair:?}");
                    measured += 1;
                    ruled_out += usize::from(!opens((score - 2.0 * room).max(0.0)));
                }
            }
        }
        // A lower end of 0 would be none.
        assert!(ruled_out > measured * 9 / 10, "{ruled_out} of {measured}");
    }
}
