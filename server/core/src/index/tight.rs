//! CIEDE2000 without trigonometry, as a lower bound for one color at a time.
//! It does not know the reach, rows or the tree.
//!
//! All angles of the formula come from the two vectors (a1', b1') and (a2', b2'): with their cross
//! and dot products `dH' = cross / sqrt((C1' C2' + dot) / 2)`, the mean hue is the direction of the
//! sum of the unit vectors, and T follows from its cosine and sine by multiple angles. Only the
//! angle in `R_T` needs the hue in degrees; it is bounded from both sides by the cosine of the way
//! to hue 275. What comes out is the squared difference itself but for that last term.
//!
//! Near opposite hues the direction of the sum is lost, and the bound is 0: the formula decides.

use std::sync::LazyLock;

use crate::color::Lab;
use crate::difference::{Factors, ciede2000};
use crate::math;

/// Squared sine of the hue difference below which hues beyond 90 degrees count as opposite.
const OPPOSITE: f64 = 1e-6;

/// C1' C2' below which there is no hue: dH' is then below the room for rounding.
const NO_HUE: f64 = 1e-30;

/// Room for rounding of a cosine or sine.
const ROUNDING: f64 = 1e-9;

/// Bins over the cosine, -1 to 1.
const BINS: usize = 512;

/// Half of [`BINS`], for the way from a cosine to its bin.
const HALF: f64 = 256.0;

/// Cosine and sine of hue 275.
const BLUE: (f64, f64) = (0.087_155_742_747_658_17, -0.996_194_698_091_745_5);

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
    pub(super) fn least(&self, [l2, a2, b2]: [f64; 3]) -> f64 {
        let [l1, a1, b1] = self.standard;
        let stretch = 1.0 + ciede2000::g(f64::midpoint(self.chroma, length(a2, b2)));
        let (a1, a2) = (stretch * a1, stretch * a2);
        let (c1, c2) = (length(a1, b1), length(a2, b2));
        let c_bar = f64::midpoint(c1, c2);
        let x = (l2 - l1) / (self.factors.l() * ciede2000::s_l(f64::midpoint(l1, l2)));
        let y = (c2 - c1) / (self.factors.c() * ciede2000::s_c(c_bar));
        let product = c1 * c2;
        if product < NO_HUE {
            return x * x + y * y;
        }
        let (dot, cross) = (a1 * a2 + b1 * b2, a1 * b2 - a2 * b1);
        if dot < 0.0 && cross * cross < OPPOSITE * product * product {
            return 0.0;
        }
        let (cos, sin) = unit(a1 / c1 + a2 / c2, b1 / c1 + b2 / c2);
        let s_h = ciede2000::s_h(c_bar, ciede2000::t_of_direction(cos, sin));
        let z = hue_part(product, dot, cross) / (self.factors.h() * s_h);
        let (most, least) = self.rotation(cos, sin);
        let rotation = if y * z > 0.0 { most } else { least };
        x * x + y * y + z * z - 2.0 * ciede2000::saturation(c_bar) * rotation * y * z
    }

    /// The standard's rotation does not wrap at hue 0: above the axis of hues 0 and 180 only the
    /// larger end is certain.
    fn rotation(&self, cos: f64, sin: f64) -> (f64, f64) {
        let (most, least) = self
            .rotations
            .get(bin(cos * BLUE.0 + sin * BLUE.1))
            .copied()
            .unwrap_or((ciede2000::ROTATION_PEAK, 0.0));
        (most, if sin < -ROUNDING { least } else { 0.0 })
    }
}

/// dH'. Beyond 90 degrees the sum in the first form cancels, below it the difference in the second.
fn hue_part(product: f64, dot: f64, cross: f64) -> f64 {
    if dot >= 0.0 {
        return cross / (0.5 * (product + dot)).sqrt();
    }
    (2.0 * (product - dot)).sqrt().copysign(cross)
}

/// Of a vector of the chroma plane, whose range rules out overflow.
pub(super) fn length(a: f64, b: f64) -> f64 {
    (a * a + b * b).sqrt()
}

fn unit(a: f64, b: f64) -> (f64, f64) {
    let scale = length(a, b).recip();
    (a * scale, b * scale)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a cosine gives 0 to 512, and a negative by rounding gives 0"
)]
fn bin(cosine: f64) -> usize {
    (((cosine + 1.0) * HALF) as usize).min(BINS - 1)
}
