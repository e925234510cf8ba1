//! DIN99o (DIN 6176) with kE = kCH = 1: a length in coordinates of its own. Symmetric, a metric.
//! It does not know of other formulas or of the index.

use super::{DeltaE, Pair};
use crate::color::Lab;
use crate::math;

/// Scale of L*, which makes 100 of L* 100 but for 0.0003.
const LIGHT_SCALE: f64 = 303.67;

/// Growth of the logarithm per unit of L*.
const LIGHT_RATE: f64 = 0.0039;

/// Growth of the logarithm per unit of G.
const CHROMA_RATE: f64 = 0.075;

/// What the logarithm of the chroma is divided by.
const CHROMA_SCALE: f64 = 0.0435;

/// Cosine and sine of 26 degrees, by which the axes are turned and the hue is turned back.
const TURN: (f64, f64) = (0.898_794_046_299_167, 0.438_371_146_789_077_4);

/// How the turned yellow-blue axis is squeezed.
const SQUEEZE: f64 = 0.83;

/// L99o, a99o and b99o of a color. Adding 26 degrees to a hue turns its vector, so no angle is taken.
pub(crate) fn place([l, a, b]: [f64; 3]) -> [f64; 3] {
    let (cos, sin) = TURN;
    let [e, f] = turned([a, b]);
    let g = (e * e + f * f).sqrt();
    let light = light(l);
    if g <= 0.0 {
        return [light, 0.0, 0.0];
    }
    let scale = chroma(g) / g;
    [light, scale * (e * cos - f * sin), scale * (f * cos + e * sin)]
}

/// L99o of a lightness.
pub(crate) fn light(l: f64) -> f64 {
    LIGHT_SCALE * math::ln_1p(LIGHT_RATE * l)
}

/// The axes e and f of a* and b*.
pub(crate) fn turned([a, b]: [f64; 2]) -> [f64; 2] {
    let (cos, sin) = TURN;
    [a * cos + b * sin, SQUEEZE * (b * cos - a * sin)]
}

/// Least and largest e and f of a box of a* and b*.
pub(crate) fn turned_box([a1, b1]: [f64; 2], [a2, b2]: [f64; 2]) -> ([f64; 2], [f64; 2]) {
    let (cos, sin) = TURN;
    let low = [a1 * cos + b1 * sin, SQUEEZE * (b1 * cos - a2 * sin)];
    (low, [a2 * cos + b2 * sin, SQUEEZE * (b2 * cos - a1 * sin)])
}

/// C99o of a length G.
pub(crate) fn chroma(g: f64) -> f64 {
    math::ln_1p(CHROMA_RATE * g) / CHROMA_SCALE
}

/// The difference of the two colors.
pub(super) fn delta_e(Pair { standard, sample }: Pair) -> DeltaE {
    let squared = squared(place(standard.components()), place(sample.components()));
    DeltaE::computed(squared.sqrt())
}

/// The squared length between two places.
pub(crate) fn squared([l1, a1, b1]: [f64; 3], [l2, a2, b2]: [f64; 3]) -> f64 {
    let (l, a, b) = (l2 - l1, a2 - a1, b2 - b1);
    l * l + a * a + b * b
}

/// How many units of L*, and of the length in the plane of a* and b*, one unit of difference is worth
/// at most, for colors no lighter than `lightest` and no farther from the standard than `reach`.
///
/// L* as a function of L99o has the slope `(1 + 0.0039 L*) / (303.67 * 0.0039)`, which grows with
/// L*. In the plane G is `(exp(0.0435 C99o) - 1) / 0.075`: its slope grows with C99o and is never less
/// than G / C99o, the factor across. All places in question lie in the disk of radius
/// C99o + reach, which is convex, so the slope at its rim bounds the length of the way between them.
/// Undoing the squeeze lengthens it by 1 / 0.83 at most; turning does not change it.
pub(crate) fn widest(standard: Lab, lightest: f64, reach: f64) -> (f64, f64) {
    let light = (1.0 + LIGHT_RATE * lightest) / (LIGHT_SCALE * LIGHT_RATE);
    let [_, a, b] = place(standard.components());
    let rim = (a * a + b * b).sqrt() + reach;
    let plane = CHROMA_SCALE / CHROMA_RATE * math::exp(CHROMA_SCALE * rim) / SQUEEZE;
    (light, plane)
}

/// Weight of `(a1 db - b1 da)²` by which squared differences within reach exceed the form of
/// [`widest`].
///
/// With the two lengths G1 and G2 and the angle h between them, the plane's part is
/// `dC99o² + 4 C99o1 C99o2 sin²(h / 2)`. Up to the rim, C99o grows by at least the slope k there and is
/// at least t G, where t is C99o / G at the rim: what is beyond `k² (dG² + 4 G1 G2 sin²(h / 2))` is
/// `(t² - k²) 4 G1 G2 sin²(h / 2)`, at least `(t² - k²) (G1 G2 sin h)² / (G1 G2)`. The squeeze shrinks
/// the cross product `G1 G2 sin h` of two vectors to 0.83 of that of a* and b*.
pub(crate) fn across(standard: Lab, reach: f64) -> f64 {
    let [_, a, b] = place(standard.components());
    let own = (a * a + b * b).sqrt();
    let length = |c: f64| math::exp_m1(CHROMA_SCALE * c) / CHROMA_RATE;
    let rim = length(own + reach);
    let slope = CHROMA_RATE / (CHROMA_SCALE * (1.0 + CHROMA_RATE * rim));
    let ratio = chroma(rim) / rim;
    let product = length(own) * rim;
    let weight = SQUEEZE * SQUEEZE * (ratio * ratio - slope * slope) / product;
    if product > 0.0 && weight > 0.0 { weight } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// DIN99o coordinates (DIN 6176), computed for this project in double precision.
    const COORDINATES: &str =
        include_str!("../../../../tests/data/reference/din99o_coordinates.csv");

    #[test]
    fn coordinates_are_those_of_the_standard() {
        let rows = COORDINATES
            .lines()
            .filter(|line| line.starts_with(|first: char| first.is_ascii_digit()));
        assert_eq!(rows.clone().count(), 8);
        for row in rows {
            let row: Vec<f64> = row.split(',').map(|field| field.parse().unwrap()).collect();
            let found = place([row[0], row[1], row[2]]);
            for (value, expected) in found.iter().zip(&row[3..]) {
                assert!((value - expected).abs() < 1e-6, "{row:?}: {found:?}");
            }
        }
    }

    #[test]
    fn no_way_in_the_lab_space_is_longer_than_its_difference_allows() {
        let steps = [-200.0, -90.0, -31.0, -4.0, 0.0, 0.2, 12.0, 70.0, 200.0];
        let colors: Vec<Lab> = [0.0, 8.0, 50.0, 102.0]
            .into_iter()
            .flat_map(|l| steps.map(|a| steps.map(|b| Lab::new(l, a, b).unwrap())).concat())
            .collect();
        for standard in &colors {
            for sample in &colors {
                let (near, far) = (place(standard.components()), place(sample.components()));
                let reach = squared(near, far).sqrt();
                let (light, plane) = widest(*standard, 102.0, reach);
                let l = (sample.l() - standard.l()).abs();
                let ab = math::hypot(sample.a() - standard.a(), sample.b() - standard.b());
                assert!(l <= light * (far[0] - near[0]).abs() + 1e-9, "{standard:?} {sample:?}");
                let across = math::hypot(far[1] - near[1], far[2] - near[2]);
                assert!(ab <= plane * across + 1e-9, "{standard:?} {sample:?}");
            }
        }
    }
}
