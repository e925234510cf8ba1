//! CIEDE2000 without trigonometry, as a lower bound for one color at a time.
//! It does not know the reach, rows or the tree.
//!
//! Only the rotation needs an angle, see `difference::ciede2000`; here it is bounded from both sides by
//! the cosine of the way to hue 275. What comes out is the squared difference itself but for that term.
//!
//! Near opposite hues the direction of the sum is lost, and the bound is 0: the formula decides.

use std::sync::LazyLock;

use crate::color::Lab;
use crate::difference::Factors;
use crate::difference::ciede2000::{self, Hued, Parts};
use crate::math;

/// Room for rounding of a cosine or sine.
const ROUNDING: f64 = 1e-9;

/// Bins over the cosine, -1 to 1.
const BINS: usize = 512;

/// Half of [`BINS`], for the way from a cosine to its bin.
const HALF: f64 = 256.0;

/// Largest and least rotation over each bin of the cosine of the way to hue 275.
static ROTATIONS: LazyLock<[(f64, f64); BINS]> = LazyLock::new(|| {
    let at = |cosine: f64| ciede2000::rotation(math::acos(cosine.clamp(-1.0, 1.0)).to_degrees());
    let mut low = -1.0;
    std::array::from_fn(|_| {
        let high = low + 1.0 / HALF;
        let ends = (at(high + ROUNDING), at(low - ROUNDING));
        low = high;
        ends
    })
});

/// The standard of a search, ready for many colors.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tight {
    standard: [f64; 3],
    chroma: f64,
    factors: Factors,
    rotations: &'static [(f64, f64); BINS],
}

impl Tight {
    pub(super) fn new(standard: Lab, factors: Factors) -> Self {
        Self {
            standard: [standard.l(), standard.a(), standard.b()],
            chroma: standard.chroma(),
            factors,
            rotations: &ROTATIONS,
        }
    }

    /// Least squared difference of a color, but for rounding.
    pub(super) fn least(&self, at: [f64; 3]) -> f64 {
        let [_, a, b] = at;
        match Parts::of(self.standard, at, (self.chroma, length(a, b)), self.factors) {
            Parts::Neutral { square } => square,
            Parts::Opposite => 0.0,
            Parts::Hued(hued) => {
                let (most, least) = self.rotation(&hued);
                hued.square(if hued.twist() > 0.0 { most } else { least })
            }
        }
    }

    /// The standard's rotation does not wrap at hue 0: above the axis of hues 0 and 180 only the
    /// larger end is certain.
    fn rotation(&self, hued: &Hued) -> (f64, f64) {
        let (most, least) = self
            .rotations
            .get(bin(hued.to_blue()))
            .copied()
            .unwrap_or((ciede2000::ROTATION_PEAK, 0.0));
        (most, if hued.sin < -ROUNDING { least } else { 0.0 })
    }
}

/// Of a vector of the chroma plane, whose range rules out overflow.
pub(super) fn length(a: f64, b: f64) -> f64 {
    (a * a + b * b).sqrt()
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a cosine gives 0 to 512, and a negative by rounding gives 0"
)]
fn bin(cosine: f64) -> usize {
    (((cosine + 1.0) * HALF) as usize).min(BINS - 1)
}
