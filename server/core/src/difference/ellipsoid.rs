//! The signed parts of a pair, each over a divisor that the standard alone decides: the form that
//! CIE94 and CMC share. It does not know where the divisors come from.

use super::{DeltaE, Pair};
use crate::color::Lab;

/// What the lightness, chroma and hue parts are divided by. All above 0.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Divisors {
    pub(crate) l: f64,
    pub(crate) c: f64,
    pub(crate) h: f64,
}

/// The colors of one difference from a standard: an ellipsoid, bent around the neutral axis.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ellipsoid {
    standard: [f64; 3],
    chroma: f64,
    divisors: Divisors,
}

impl Ellipsoid {
    pub(super) fn new(standard: Lab, divisors: Divisors) -> Self {
        Self { standard: standard.components(), chroma: standard.chroma(), divisors }
    }

    /// The squared difference of a sample.
    pub(crate) fn squared(&self, [l2, a2, b2]: [f64; 3]) -> f64 {
        let [l1, a1, b1] = self.standard;
        let (a, b) = (a2 - a1, b2 - b1);
        let chroma = (a2 * a2 + b2 * b2).sqrt() - self.chroma;
        // Cancellation gives small negatives for equal hues.
        let hue_squared = (a * a + b * b - chroma * chroma).max(0.0);
        let l = (l2 - l1) / self.divisors.l;
        let c = chroma / self.divisors.c;
        l * l + c * c + hue_squared / (self.divisors.h * self.divisors.h)
    }

    /// Largest divisors of the lightness and of anything in the chroma plane, since the squares of
    /// the chroma and hue parts add up to those of a* and b*.
    pub(crate) fn widest(&self) -> (f64, f64) {
        (self.divisors.l, self.divisors.c.max(self.divisors.h))
    }

    /// Weight of `(a1 db - b1 da)²` by which colors within reach exceed the form of
    /// [`Self::widest`]: the hue part counts for more than the chroma part, and its square is at
    /// least that over the product of both chromas.
    pub(crate) fn across(&self, reach: f64) -> f64 {
        let Divisors { c, h, .. } = self.divisors;
        let product = self.chroma * (self.chroma + reach * c);
        if h < c && product > 0.0 { (1.0 / (h * h) - 1.0 / (c * c)) / product } else { 0.0 }
    }

    /// The difference of the pair that has this standard.
    pub(super) fn delta_e(&self, pair: Pair) -> DeltaE {
        DeltaE::computed(self.squared(pair.sample.components()).sqrt())
    }
}
