//! CIEDE2000 (ISO/CIE 11664-6) in double precision, after Sharma, Wu, Dalal, Color Res. Appl. 30
//! (2005) 21-30. Symmetric, not a metric. It does not know of the index that prunes for it.
//!
//! Letters as in the paper: a bar is a mean, a prime marks values after the a* correction.
//! Reference conditions: D65, 1000 lx, gray surround, samples over 4 degrees, differences up to 5.

use super::{DeltaE, Factors, Pair};
use crate::color::Lab;

/// 25 to the 7th, chroma scale of G and `R_C` (eq. 4 and 17).
const CHROMA_SCALE: f64 = 6_103_515_625.0;

/// Hues count as opposite when the cross product is below this share of its two terms.
/// House choice: keeps the branch the same for both orders and on every machine.
const OPPOSITE: f64 = 1e-6;

/// All that the formula computes on its way, named as in the paper.
#[derive(Clone, Copy, Debug)]
pub(super) struct Steps {
    pub(super) g: f64,
    /// Mean hue in degrees.
    pub(super) h_bar: f64,
    pub(super) t: f64,
    pub(super) s_l: f64,
    pub(super) s_c: f64,
    pub(super) s_h: f64,
    pub(super) r_t: f64,
    delta_l: f64,
    delta_c: f64,
    delta_h: f64,
}

/// The difference of the two colors.
pub(super) fn delta_e(pair: Pair, factors: Factors) -> DeltaE {
    let steps = steps(pair);
    let l = steps.delta_l / (factors.l() * steps.s_l);
    let c = steps.delta_c / (factors.c() * steps.s_c);
    let h = steps.delta_h / (factors.h() * steps.s_h);
    DeltaE::computed((l * l + c * c + h * h + steps.r_t * c * h).max(0.0).sqrt())
}

/// Eq. 2 to 21.
pub(super) fn steps(Pair { standard, sample }: Pair) -> Steps {
    let g = g(f64::midpoint(standard.chroma(), sample.chroma()));
    let first = Prime::new(standard, g);
    let second = Prime::new(sample, g);
    let hues = Hues::new(standard, sample, first, second);
    let l_bar = f64::midpoint(standard.l(), sample.l());
    let c_bar = f64::midpoint(first.c, second.c);
    let t = t(hues.mean);
    let from_50 = (l_bar - 50.0) * (l_bar - 50.0);
    let turn = 30.0 * (-((hues.mean - 275.0) / 25.0).powi(2)).exp();
    Steps {
        g,
        h_bar: hues.mean,
        t,
        s_l: 1.0 + 0.015 * from_50 / (20.0 + from_50).sqrt(),
        s_c: 1.0 + 0.045 * c_bar,
        s_h: 1.0 + 0.015 * c_bar * t,
        r_t: -2.0 * saturation(c_bar) * (2.0 * turn).to_radians().sin(),
        delta_l: sample.l() - standard.l(),
        delta_c: second.c - first.c,
        delta_h: 2.0 * (first.c * second.c).sqrt() * (hues.delta / 2.0).to_radians().sin(),
    }
}

/// G of eq. 4: stretches a* near the neutral axis.
fn g(c_bar: f64) -> f64 {
    0.5 * (1.0 - saturation(c_bar))
}

/// The root of eq. 4 and 17: 0 for neutrals, 1 for vivid colors.
fn saturation(chroma: f64) -> f64 {
    let seventh = chroma.powi(7);
    (seventh / (seventh + CHROMA_SCALE)).sqrt()
}

/// T of eq. 15, hue in degrees.
fn t(hue: f64) -> f64 {
    let cos = |degrees: f64| degrees.to_radians().cos();
    1.0 - 0.17 * cos(hue - 30.0) + 0.24 * cos(2.0 * hue) + 0.32 * cos(3.0 * hue + 6.0)
        - 0.20 * cos(4.0 * hue - 63.0)
}

/// Chroma and hue after the a* correction (eq. 5 to 7).
#[derive(Clone, Copy, Debug)]
struct Prime {
    c: f64,
    /// Degrees, 0 up to 360.
    h: f64,
}

impl Prime {
    fn new(lab: Lab, g: f64) -> Self {
        let a = (1.0 + g) * lab.a();
        let degrees = lab.b().atan2(a).to_degrees();
        let h = if degrees < 0.0 { degrees + 360.0 } else { degrees };
        Self { c: a.hypot(lab.b()), h }
    }
}

/// Hue difference and mean hue in degrees (eq. 10 and 14).
#[derive(Clone, Copy, Debug)]
struct Hues {
    delta: f64,
    mean: f64,
}

impl Hues {
    fn new(standard: Lab, sample: Lab, first: Prime, second: Prime) -> Self {
        let sum = first.h + second.h;
        let plain = second.h - first.h;
        // The product is zero, not "both are zero": a neutral has no hue.
        if first.c * second.c <= 0.0 {
            return Self { delta: 0.0, mean: sum };
        }
        if is_within_half_turn(standard, sample, plain) {
            return Self { delta: plain, mean: sum / 2.0 };
        }
        let delta = if plain > 0.0 { plain - 360.0 } else { plain + 360.0 };
        // Eq. 14 has both cases: the rotation term is not periodic in the mean hue.
        let mean = if sum < 360.0 { (sum + 360.0) / 2.0 } else { (sum - 360.0) / 2.0 };
        Self { delta, mean }
    }
}

/// Whether |h2 - h1| <= 180, decided by the sign of a cross product: one unit in the last place of
/// an angle must not choose between answers that lie far apart.
fn is_within_half_turn(standard: Lab, sample: Lab, plain: f64) -> bool {
    let first = standard.a() * sample.b();
    let second = sample.a() * standard.b();
    let cross = first - second;
    if cross.abs() <= OPPOSITE * (first.abs() + second.abs()) {
        // Same hue or opposite hues: opposite ones take the "<= 180" branch by rule.
        return plain.abs() < 270.0;
    }
    (cross > 0.0) == (plain > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn opposite_hues_give_one_answer_in_both_orders() {
        // One unit in the last place decides between 56.31 and 78.07 when angles are subtracted.
        let first = Lab::new(37.0, -66.3, -50.7).unwrap();
        let second = Lab::new(40.0, 34.0, 26.0).unwrap();
        let there = delta_e(Pair { standard: first, sample: second }, Factors::REFERENCE);
        let back = delta_e(Pair { standard: second, sample: first }, Factors::REFERENCE);
        assert!((there.value() - back.value()).abs() < 1e-9);
    }
}
