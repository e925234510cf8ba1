//! CIE76, the Euclidean length in CIELAB (ISO/CIE 11664-4). Symmetric, a metric.
//! It does not know of other formulas.

use super::{DeltaE, Pair};

/// The length of the straight line between the two colors, in CIELAB units.
pub(super) fn delta_e(Pair { standard, sample }: Pair) -> DeltaE {
    let l = sample.l() - standard.l();
    let a = sample.a() - standard.a();
    let b = sample.b() - standard.b();
    DeltaE::computed((l * l + a * a + b * b).sqrt())
}
