//! CIEDE2000 (ISO/CIE 11664-6) in double precision, after Sharma, Wu, Dalal, Color Res. Appl. 30
//! (2005) 21-30. Symmetric, not a metric. It does not know of the index that prunes for it.
//!
//! Letters as in the paper: a bar is a mean, a prime marks values after the a* correction.
//! Reference conditions: D65, 1000 lx, gray surround, samples over 4 degrees, differences up to 5.
//!
//! # The formula without angles
//!
//! The paper goes through hue angles; nearly all of it is had from the vectors (a1', b1') and
//! (a2', b2') alone. With p for C1' C2', `dot` and `cross` for their products, w = p + |dot| and
//! `half = sqrt(w / 2)`:
//!
//! - dH' is `cross / half` up to 90 degrees, and `2 half` with the sign of the cross product beyond.
//! - The mean hue is the direction of the sum of the unit vectors up to 90 degrees; beyond, where that
//!   sum cancels, it is their difference turned by a right angle. Either has the length
//!   `2 half sqrt(p)` when both vectors are multiplied by p.
//! - T follows from the mean hue's cosine and sine by multiple angles.
//! - Only the rotation needs the way to hue 275, and from hue 0 to 120 not even that: there it is
//!   below half a unit in the last place of what it is added to.
//!
//! Near opposite hues the side of the mean hue hangs on the last digits; the way of the paper decides.

use super::{DeltaE, Factors, Pair};
use crate::color::{Lab, hue_degrees};
use crate::math;

/// 25 to the 7th, chroma scale of G and `R_C` (eq. 4 and 17).
const CHROMA_SCALE: f64 = 6_103_515_625.0;

/// Growth of `S_C` per unit of chroma (eq. 20).
pub(crate) const S_C_SLOPE: f64 = 0.045;

/// Growth of `S_L` per unit of lightness, far from L* 50 (eq. 19).
pub(crate) const S_L_SLOPE: f64 = 0.015;

/// Hues count as opposite when the cross product is below this share of its two terms.
/// House choice: keeps the branch the same for both orders and on every machine.
const OPPOSITE: f64 = 1e-6;

/// Sine of 60 degrees: no rotation term exceeds this share of `R_C` (eq. 16 and 18).
pub(crate) const ROTATION_PEAK: f64 = 0.866_025_403_784_438_6;

/// Cosine and sine of hue 275.
pub(crate) const BLUE: (f64, f64) = (0.087_155_742_747_658_17, -0.996_194_698_091_745_5);

/// Cosine of hue 120. From hue 0 up to it the way to hue 275 is 155 degrees or more.
const UNTURNED: f64 = -0.5;

/// C1' C2' below which there is no hue: dH' is then below what rounding leaves of dC'.
const NO_HUE: f64 = 1e-30;

/// The difference of the two colors.
pub(crate) fn delta_e(pair: Pair, factors: Factors) -> DeltaE {
    let Pair { standard, sample } = pair;
    let chromas = (standard.chroma(), sample.chroma());
    let square = match Parts::of(standard.components(), sample.components(), chromas, factors) {
        Parts::Neutral { square } => square,
        Parts::Opposite => by_angles(pair, factors),
        Parts::Hued(hued) => hued.square(hued.rotation()),
    };
    DeltaE::computed(square.max(0.0).sqrt())
}

/// What two colors differ in.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Parts {
    /// One of them has no hue: the square of the difference is known.
    Neutral { square: f64 },
    /// The hues are opposite, or nearly so.
    Opposite,
    /// All others.
    Hued(Hued),
}

/// The parts of a difference, each divided by its weight, and where their mean lies.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Hued {
    lightness: f64,
    chroma: f64,
    hue: f64,
    /// `R_C / 2` of eq. 17.
    saturation: f64,
    /// Cosine and sine of the mean hue.
    pub(crate) cos: f64,
    pub(crate) sin: f64,
}

impl Parts {
    /// Of CIELAB values and their chromas, the standard first.
    #[inline]
    pub(crate) fn of(
        [l1, a1, b1]: [f64; 3],
        [l2, a2, b2]: [f64; 3],
        chromas: (f64, f64),
        factors: Factors,
    ) -> Self {
        let stretch = 1.0 + g(f64::midpoint(chromas.0, chromas.1));
        let (a1, a2) = (stretch * a1, stretch * a2);
        let (c1, c2) = ((a1 * a1 + b1 * b1).sqrt(), (a2 * a2 + b2 * b2).sqrt());
        let c_bar = f64::midpoint(c1, c2);
        let lightness = (l2 - l1) / (factors.l() * s_l(f64::midpoint(l1, l2)));
        let chroma = (c2 - c1) / (factors.c() * s_c(c_bar));
        let p = c1 * c2;
        if p < NO_HUE {
            return Self::Neutral { square: lightness * lightness + chroma * chroma };
        }
        let (ahead, behind) = (a1 * b2, a2 * b1);
        let (dot, cross) = (a1 * a2 + b1 * b2, ahead - behind);
        let acute = dot >= 0.0;
        if !acute && is_in_line(ahead, behind) {
            return Self::Opposite;
        }
        let half = (0.5 * (p + dot.abs())).sqrt();
        let delta = if acute { cross / half } else { (2.0 * half).copysign(cross) };
        let (a, b) = if acute {
            (a1 * c2 + a2 * c1, b1 * c2 + b2 * c1)
        } else {
            let side = 1.0_f64.copysign(cross);
            (side * (b2 * c1 - b1 * c2), side * (a1 * c2 - a2 * c1))
        };
        let length = (2.0 * half * p.sqrt()).recip();
        let (cos, sin) = (a * length, b * length);
        let hue = delta / (factors.h() * s_h(c_bar, t_of_direction(cos, sin)));
        Self::Hued(Hued { lightness, chroma, hue, saturation: saturation(c_bar), cos, sin })
    }
}

impl Hued {
    /// The squared difference, with the sine of eq. 16 and 18.
    pub(crate) fn square(&self, rotation: f64) -> f64 {
        let Self { lightness, chroma, hue, saturation, .. } = *self;
        let turned = 2.0 * saturation * rotation * self.twist();
        lightness * lightness + chroma * chroma + hue * hue - turned
    }

    /// The product that the rotation is for: the larger the rotation, the less the difference where
    /// it is above 0, and the more where it is below.
    pub(crate) fn twist(&self) -> f64 {
        self.chroma * self.hue
    }

    fn rotation(&self) -> f64 {
        if self.sin >= 0.0 && self.cos > UNTURNED {
            return 0.0;
        }
        rotation(math::acos(self.to_blue().clamp(-1.0, 1.0)).to_degrees())
    }

    /// Cosine of the way from the mean hue to hue 275.
    pub(crate) fn to_blue(self) -> f64 {
        self.cos * BLUE.0 + self.sin * BLUE.1
    }
}

/// Whether a cross product, of which these are the terms, is 0 but for rounding.
fn is_in_line(ahead: f64, behind: f64) -> bool {
    (ahead - behind).abs() <= OPPOSITE * (ahead.abs() + behind.abs())
}

/// The squared difference as the paper computes it.
#[cold]
fn by_angles(pair: Pair, factors: Factors) -> f64 {
    let steps = steps(pair);
    let l = steps.delta_l / (factors.l() * steps.s_l);
    let c = steps.delta_c / (factors.c() * steps.s_c);
    let h = steps.delta_h / (factors.h() * steps.s_h);
    l * l + c * c + h * h + steps.r_t * c * h
}

/// What the paper computes on its way, with its names; some of it for comparison only.
#[derive(Clone, Copy, Debug)]
struct Steps {
    #[cfg(test)]
    g: f64,
    /// Mean hue in degrees.
    #[cfg(test)]
    h_bar: f64,
    #[cfg(test)]
    t: f64,
    s_l: f64,
    s_c: f64,
    s_h: f64,
    r_t: f64,
    delta_l: f64,
    delta_c: f64,
    delta_h: f64,
}

/// Eq. 2 to 21.
fn steps(Pair { standard, sample }: Pair) -> Steps {
    let g = g(f64::midpoint(standard.chroma(), sample.chroma()));
    let first = Prime::new(standard, g);
    let second = Prime::new(sample, g);
    let hues = Hues::new(standard, sample, first, second);
    let c_bar = f64::midpoint(first.c, second.c);
    let t = t(hues.mean);
    Steps {
        #[cfg(test)]
        g,
        #[cfg(test)]
        h_bar: hues.mean,
        #[cfg(test)]
        t,
        s_l: s_l(f64::midpoint(standard.l(), sample.l())),
        s_c: s_c(c_bar),
        s_h: s_h(c_bar, t),
        r_t: -2.0 * saturation(c_bar) * rotation(hues.mean - 275.0),
        delta_l: sample.l() - standard.l(),
        delta_c: second.c - first.c,
        delta_h: 2.0 * (first.c * second.c).sqrt() * math::sin((hues.delta / 2.0).to_radians()),
    }
}

/// G of eq. 4: stretches a* near the neutral axis. Falls from 0.5 toward 0 as chroma grows.
pub(crate) fn g(c_bar: f64) -> f64 {
    0.5 * (1.0 - saturation(c_bar))
}

/// The root of eq. 4 and 17: 0 for neutrals, toward 1 for vivid colors.
pub(crate) fn saturation(chroma: f64) -> f64 {
    let squared = chroma * chroma;
    let seventh = squared * squared * squared * chroma;
    (seventh / (seventh + CHROMA_SCALE)).sqrt()
}

/// Amplitudes of eq. 15, for one to four times the hue.
const T_AMPLITUDES: [f64; 4] = [-0.17, 0.24, 0.32, -0.20];

/// T of eq. 15, hue in degrees. Range: 0.3621 to 1.5725.
pub(crate) fn t(hue: f64) -> f64 {
    let (sin, cos) = math::sin_cos(hue.to_radians());
    t_of_direction(cos, sin)
}

/// T of eq. 15 from the cosine and sine of the hue, by multiple angles.
pub(crate) fn t_of_direction(cos: f64, sin: f64) -> f64 {
    // Cosine and sine of the phases 30, 6 and 63 degrees.
    const PHASE_ONE: (f64, f64) = (0.866_025_403_784_438_6, 0.5);
    const PHASE_THREE: (f64, f64) = (0.994_521_895_368_273_3, 0.104_528_463_267_653_47);
    const PHASE_FOUR: (f64, f64) = (0.453_990_499_739_546_8, 0.891_006_524_188_367_9);
    let [one, two, three, four] = T_AMPLITUDES;
    let (cos2, sin2) = (cos * cos - sin * sin, 2.0 * sin * cos);
    let (cos3, sin3) = (cos * cos2 - sin * sin2, sin * cos2 + cos * sin2);
    let (cos4, sin4) = (cos2 * cos2 - sin2 * sin2, 2.0 * sin2 * cos2);
    1.0 + one * (cos * PHASE_ONE.0 + sin * PHASE_ONE.1)
        + two * cos2
        + three * (cos3 * PHASE_THREE.0 - sin3 * PHASE_THREE.1)
        + four * (cos4 * PHASE_FOUR.0 + sin4 * PHASE_FOUR.1)
}

/// The sine of eq. 16 and 18, from degrees away from hue 275. Range: 0 to [`ROTATION_PEAK`],
/// falling as the hue leaves 275.
pub(crate) fn rotation(from_275: f64) -> f64 {
    let scaled = from_275 / 25.0;
    let turn = 30.0 * math::exp(-scaled * scaled);
    math::sin((2.0 * turn).to_radians())
}

/// `S_L` of eq. 19. Smallest at L* 50, grows to both sides.
pub(crate) fn s_l(l_bar: f64) -> f64 {
    let from_50 = (l_bar - 50.0) * (l_bar - 50.0);
    1.0 + S_L_SLOPE * from_50 / (20.0 + from_50).sqrt()
}

/// `S_C` of eq. 20. Grows with chroma.
pub(crate) fn s_c(c_bar: f64) -> f64 {
    1.0 + S_C_SLOPE * c_bar
}

/// `S_H` of eq. 21. Grows with chroma and with T.
pub(crate) fn s_h(c_bar: f64, t: f64) -> f64 {
    1.0 + 0.015 * c_bar * t
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
        Self { c: (a * a + lab.b() * lab.b()).sqrt(), h: hue_degrees(a, lab.b()) }
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
    let (ahead, behind) = (standard.a() * sample.b(), sample.a() * standard.b());
    if is_in_line(ahead, behind) {
        // Same hue or opposite hues: opposite ones take the "<= 180" branch by rule.
        return plain.abs() < 270.0;
    }
    (ahead > behind) == (plain > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seeded;

    /// Sharma, Wu, Dalal 2005, Table 1, with the intermediates it prints.
    const PUBLISHED: &str = include_str!("../../../../tests/data/reference/ciede2000.csv");

    fn lab(l: f64, a: f64, b: f64) -> Lab {
        Lab::new(l, a, b).unwrap()
    }

    fn both_ways(one: Lab, other: Lab) -> [f64; 2] {
        [(one, other), (other, one)].map(|(standard, sample)| {
            delta_e(Pair { standard, sample }, Factors::REFERENCE).value()
        })
    }

    #[test]
    fn intermediates_are_those_of_the_paper_in_both_orders() {
        let rows =
            PUBLISHED.lines().filter(|line| line.starts_with(|first: char| first.is_ascii_digit()));
        assert_eq!(rows.clone().count(), 34);
        for row in rows {
            let row: Vec<f64> = row.split(',').map(|field| field.parse().unwrap()).collect();
            let (one, other) = (lab(row[1], row[2], row[3]), lab(row[4], row[5], row[6]));
            for (standard, sample) in [(one, other), (other, one)] {
                let found = steps(Pair { standard, sample });
                let found =
                    [found.h_bar, found.g, found.t, found.s_l, found.s_c, found.s_h, found.r_t];
                for (value, printed) in found.iter().zip(&row[9..]) {
                    assert!((value - printed).abs() < 5.1e-5, "pair {}: {found:?}", row[0]);
                }
            }
        }
    }

    #[test]
    fn the_way_without_angles_is_the_papers() {
        let mut state = 61;
        let mut axis = |most: f64| {
            let unit = f64::from((seeded::bits(&mut state) >> 32) as u32) / f64::from(u32::MAX);
            most * (2.0 * unit - 1.0)
        };
        let factors = [Factors::REFERENCE, Factors::new(2.0, 1.0, 1.0).unwrap()];
        let mut largest = 0.0_f64;
        for round in 0..200_000 {
            // Far pairs, near pairs and near-neutral ones.
            let (reach, near) = [(60.0, 130.0), (90.0, 2.0), (0.5, 1.0)][round % 3];
            let standard = lab(50.0 + axis(50.0), axis(reach), axis(reach));
            let at = [standard.a() + axis(near), standard.b() + axis(near)];
            let sample = lab(50.0 + axis(50.0), at[0], at[1]);
            let pair = Pair { standard, sample };
            for factors in factors {
                let paper = by_angles(pair, factors).max(0.0).sqrt();
                let off = (delta_e(pair, factors).value() - paper).abs() / paper.max(1.0);
                largest = largest.max(off);
            }
        }
        assert!(largest < 2e-13, "{largest}");
    }

    #[test]
    fn where_the_rotation_is_left_out_it_changes_no_digit() {
        // 2 y z is at most y² + z², so the rotation is its share of what it is taken from.
        for hue in 0..=120 {
            assert!(rotation(f64::from(hue) - 275.0) < f64::EPSILON / 4.0, "{hue}");
        }
    }

    #[test]
    fn opposite_hues_give_one_answer_in_both_orders() {
        // One unit in the last place decides between 56.31 and 78.07 when angles are subtracted.
        let [there, back] = both_ways(lab(37.0, -66.3, -50.7), lab(40.0, 34.0, 26.0));
        assert_eq!(there.to_bits(), back.to_bits());
        assert!((there - 56.31).abs() < 0.01, "{there}");
    }

    #[test]
    fn opposite_hues_take_one_branch_at_every_chroma_and_angle() {
        // Multiples of whole triples: exactly opposite on paper, off by a last place in f64.
        for step in 1..500 {
            let by = f64::from(step) * 0.1;
            let [there, back] =
                both_ways(lab(50.0, 0.3 * by, 0.7 * by), lab(50.0, -0.6 * by, -1.4 * by));
            let paper = both_ways(
                lab(50.0, 0.3 * by, 0.7 * by),
                lab(50.0, -0.6 * by - 1e-4 * by, -1.4 * by),
            );
            assert_eq!(there.to_bits(), back.to_bits());
            assert!((there - paper[0]).abs() < 0.01, "{by}: {there} and {}", paper[0]);
        }
    }

    #[test]
    fn the_jump_at_180_degrees_is_the_published_one() {
        // Largest jump over all hues at L* 50 with equal chromas, computed in double precision.
        for (chroma, jump) in [(2.5, 0.273), (5.0, 0.99), (10.0, 3.3), (20.0, 8.4), (40.0, 17.1)] {
            let largest = (0..360).map(|hue| jump_at(chroma, f64::from(hue))).fold(0.0, f64::max);
            assert!((largest - jump).abs() < 0.02 * jump + 0.05, "{chroma}: {largest}");
        }
    }

    fn jump_at(chroma: f64, hue: f64) -> f64 {
        let at = |degrees: f64| {
            let (sin, cos) = math::sin_cos(degrees.to_radians());
            lab(50.0, chroma * cos, chroma * sin)
        };
        let side = |by: f64| both_ways(at(hue), at(hue + 180.0 + by))[0];
        (side(1e-3) - side(-1e-3)).abs()
    }

    #[test]
    fn hues_on_both_sides_of_zero_average_to_zero_not_to_180() {
        let [there, back] = both_ways(lab(50.0, 40.0, 2.0), lab(50.0, 40.0, -1.0));
        assert_eq!(there.to_bits(), back.to_bits());
        // Independent double-precision computation of the same pair.
        assert!((there - 1.673_046).abs() < 1e-6, "{there}");
        let mean = |one: Lab, other: Lab| steps(Pair { standard: one, sample: other }).h_bar;
        // Eq. 14: a sum below 360 is halved upward, a larger one downward.
        assert!((mean(lab(50.0, 40.0, 1.0), lab(50.0, 40.0, -2.0)) - 359.3).abs() < 0.1);
        assert!((mean(lab(50.0, 40.0, 2.0), lab(50.0, 40.0, -1.0)) - 0.7).abs() < 0.1);
    }

    #[test]
    fn one_hue_within_rounding_of_zero_stays_one_hue() {
        let [there, back] = both_ways(lab(50.0, 60.0, 1e-7), lab(50.0, 61.0, -1e-7));
        let [flat, _] = both_ways(lab(50.0, 60.0, 0.0), lab(50.0, 61.0, 0.0));
        assert!((there - flat).abs() < 1e-6 && (back - flat).abs() < 1e-6, "{there} and {flat}");
    }

    #[test]
    fn a_neutral_has_no_hue_difference() {
        let found = steps(Pair { standard: lab(50.0, 0.0, 0.0), sample: lab(50.0, -1.0, 2.0) });
        assert!(found.delta_h.abs() < 1e-12);
        assert!((found.h_bar - 126.8697).abs() < 1e-4);
        let [same, _] = both_ways(lab(102.0, 0.0, 0.0), lab(102.0, 0.0, 0.0));
        assert!(same.abs() < 1e-12);
    }

    #[test]
    fn factors_divide_their_own_part() {
        let standard = lab(50.0, 0.0, 0.0);
        let under = |l, c, h, sample| {
            let factors = Factors::new(l, c, h).unwrap();
            delta_e(Pair { standard, sample }, factors).value()
        };
        let lighter = lab(51.0, 0.0, 0.0);
        assert!((under(2.0, 1.0, 1.0, lighter) - 0.499_584).abs() < 1e-6);
        assert!((under(1.0, 3.0, 3.0, lighter) - 0.999_167).abs() < 1e-6);
        let stronger = lab(50.0, 2.0, 0.0);
        assert!((under(1.0, 2.0, 1.0, stronger) - 2.810_293 / 2.0).abs() < 1e-6);
        assert!((under(3.0, 1.0, 3.0, stronger) - 2.810_293).abs() < 1e-6);
    }
}
