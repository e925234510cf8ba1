//! HyAB (Abasi, Amani Tehran, Fairchild, Color Res. Appl. 2020, doi 10.1002/col.22451): the
//! lightness part plus the length in the chroma plane. Symmetric, a metric.
//! It does not know of other formulas or of the index.
//!
//! Made for large differences, above about 10; small ones are ranked better by CIEDE2000.

use super::{DeltaE, Pair};

/// The difference of the two colors.
pub(super) fn delta_e(Pair { standard, sample }: Pair) -> DeltaE {
    DeltaE::computed(sum(standard.components(), sample.components()))
}

/// |dL*| plus the length of (da*, db*).
pub(crate) fn sum([l1, a1, b1]: [f64; 3], [l2, a2, b2]: [f64; 3]) -> f64 {
    let (l, a, b) = (l2 - l1, a2 - a1, b2 - b1);
    l.abs() + (a * a + b * b).sqrt()
}
