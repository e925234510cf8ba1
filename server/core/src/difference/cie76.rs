//! CIE76, the Euclidean length in CIELAB (ISO/CIE 11664-4). Symmetric, a metric.
//! It does not know of other formulas.

use super::{DeltaE, Pair};

/// The length of the straight line between the two colors, in CIELAB units.
pub(super) fn delta_e(Pair { standard, sample }: Pair) -> DeltaE {
    DeltaE::computed(squared(standard.components(), sample.components()).sqrt())
}

/// The square of that length.
pub(crate) fn squared([l1, a1, b1]: [f64; 3], [l2, a2, b2]: [f64; 3]) -> f64 {
    let (l, a, b) = (l2 - l1, a2 - a1, b2 - b1);
    l * l + a * a + b * b
}
