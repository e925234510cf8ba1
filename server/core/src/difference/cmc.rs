//! CMC(l:c) (ISO 105-J03, the equations for `S_L`, `S_C`, `S_H`, F and T). Asymmetric: lightness,
//! chroma and hue in the weights are the standard's; not a metric.
//! It does not know of other formulas or of the index.
//!
//! Fitted to small differences of textiles. T jumps by 0.002 at hues 164 and 345 and `S_L` by 0.0002
//! at L* 16, which is part of the standard.

use super::ellipsoid::{Divisors, Ellipsoid};
use super::{DeltaE, Pair, Ratio};
use crate::color::Lab;
use crate::math;

/// Lightness below which `S_L` is constant.
const DARK: f64 = 16.0;

/// Hues whose T has the amplitudes of blues and greens, degrees.
const COOL: std::ops::RangeInclusive<f64> = 164.0..=345.0;

/// The weights of a standard, with l and c.
pub(crate) fn ellipsoid(standard: Lab, ratio: Ratio) -> Ellipsoid {
    let s_c = s_c(standard.chroma());
    let f = f(standard.chroma());
    let s_h = s_c * (f * t(standard.hue_degrees()) + 1.0 - f);
    let divisors = Divisors { l: ratio.l() * s_l(standard.l()), c: ratio.c() * s_c, h: s_h };
    Ellipsoid::new(standard, divisors)
}

/// The difference of the sample from the standard.
pub(super) fn delta_e(pair: Pair, ratio: Ratio) -> DeltaE {
    ellipsoid(pair.standard, ratio).delta_e(pair)
}

fn s_l(l: f64) -> f64 {
    if l < DARK { 0.511 } else { 0.040_975 * l / (1.0 + 0.017_65 * l) }
}

fn s_c(chroma: f64) -> f64 {
    0.0638 * chroma / (1.0 + 0.0131 * chroma) + 0.638
}

/// How far the hue counts: 0 for neutrals, toward 1 for vivid colors.
fn f(chroma: f64) -> f64 {
    let squared = chroma * chroma;
    let fourth = squared * squared;
    (fourth / (fourth + 1_900.0)).sqrt()
}

/// T for a hue in degrees. Range: 0.36 to 0.76, so that `S_H` never exceeds `S_C`.
fn t(hue: f64) -> f64 {
    let cos = |degrees: f64| math::cos(degrees.to_radians());
    if COOL.contains(&hue) {
        0.56 + (0.2 * cos(hue + 168.0)).abs()
    } else {
        0.36 + (0.4 * cos(hue + 35.0)).abs()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Both sides of the jumps of ISO 105-J03, computed for this project in double precision.
    #[test]
    fn the_weights_jump_where_the_standard_has_it() {
        for (found, expected) in [
            (t(163.999_999), 0.7382),
            (t(164.0), 0.7366),
            (t(345.0), 0.7382),
            (t(345.000_001), 0.7359),
            (s_l(15.999_999), 0.511),
            (s_l(16.0), 0.5112),
        ] {
            assert!((found - expected).abs() < 5.1e-5, "{found} and {expected}");
        }
    }

    #[test]
    fn the_hue_weight_never_exceeds_the_chroma_weight() {
        let largest = (0..36_000).map(|step| t(f64::from(step) * 0.01)).fold(0.0, f64::max);
        assert!((largest - 0.76).abs() < 1e-6, "{largest}");
    }
}
