//! What a screen color looks like to people with a color vision deficiency, as a simulation.
//! It does not know charts, symbols or when two colors are too alike.
//!
//! All three work on linear light, clip to what a screen shows and encode again.
//!
//! | deficiency | missing cones | source |
//! |---|---|---|
//! | protan | long | Machado, Oliveira, Fernandes, IEEE TVCG 15 (2009) 1291-1298, severity 1 |
//! | deutan | middle | the same |
//! | tritan | short | Brettel, Viénot, Mollon, JOSA A 14 (1997) 2647-2655 |
//!
//! The model of 2009 is weak for tritan, hence the older one there.

use crate::Srgb8;
use crate::color::matrix::Matrix;
use crate::difference::{DeltaE, Formula, Pair};

/// A color vision deficiency, in its full form.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Deficiency {
    /// Without long-wave cones: red darkens and meets green.
    Protan,
    /// Without middle-wave cones: red meets green.
    Deutan,
    /// Without short-wave cones: blue meets green, yellow meets white.
    Tritan,
}

/// Machado et al. 2009, table of severity 1.0, protanomaly.
const PROTAN: Matrix = Matrix([
    [0.152_286, 1.052_583, -0.204_868],
    [0.114_503, 0.786_281, 0.099_216],
    [-0.003_882, -0.048_116, 1.051_998],
]);

/// Machado et al. 2009, table of severity 1.0, deuteranomaly.
const DEUTAN: Matrix = Matrix([
    [0.367_322, 0.860_646, -0.227_968],
    [0.280_085, 0.672_501, 0.047_413],
    [-0.011_820, 0.042_940, 0.968_881],
]);

impl Deficiency {
    /// All three.
    pub const ALL: [Self; 3] = [Self::Protan, Self::Deutan, Self::Tritan];

    /// The word of options and files: `protan`, `deutan`, `tritan`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Protan => "protan",
            Self::Deutan => "deutan",
            Self::Tritan => "tritan",
        }
    }

    /// Reads the word, in any case.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|held| held.as_str().eq_ignore_ascii_case(text.trim()))
    }

    /// The color that stands, for other people, for what a person with this deficiency sees.
    ///
    /// ```
    /// use dyekin_core::Srgb8;
    /// use dyekin_core::vision::Deficiency;
    ///
    /// let red = Srgb8::parse_hex("#ff0000")?;
    /// assert_eq!(Deficiency::Protan.simulate(red).to_string(), "#6d5f00");
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    #[must_use]
    pub fn simulate(self, color: Srgb8) -> Srgb8 {
        let linear = color.to_linear();
        Srgb8::from_linear(match self {
            Self::Protan => PROTAN.apply(linear),
            Self::Deutan => DEUTAN.apply(linear),
            Self::Tritan => without_short_cones(linear),
        })
    }
}

/// Linear sRGB to XYZ, from the primaries and the white of IEC 61966-2-1.
const XYZ_OF_SRGB: Matrix = Matrix([
    [0.412_390_8, 0.357_584_3, 0.180_480_8],
    [0.212_639_0, 0.715_168_7, 0.072_192_3],
    [0.019_330_8, 0.119_194_8, 0.950_532_2],
]);

/// XYZ to long, middle and short cone responses (Smith and Pokorny, Vision Res. 15 (1975) 161-171).
const CONES_OF_XYZ: Matrix = Matrix([
    [0.155_14, 0.543_12, -0.032_86],
    [-0.155_14, 0.456_84, 0.032_86],
    [0.0, 0.0, 0.016_08],
]);

/// XYZ of 485 nm and 660 nm (CIE 1931): lights that look the same with and without short cones, so
/// that they and white span the two half planes which a tritan sees (Brettel et al. 1997).
const ANCHORS: [[f64; 3]; 2] = [[0.057_95, 0.169_3, 0.616_2], [0.164_9, 0.061_0, 0.0]];

/// Keeps the long and middle responses of a color and takes the short one from the half plane that
/// lies on the color's side of white. White itself stays white.
fn without_short_cones(linear: [f64; 3]) -> [f64; 3] {
    let cones_of_rgb = CONES_OF_XYZ.after(&XYZ_OF_SRGB);
    let white = cones_of_rgb.apply([1.0; 3]);
    let [long, middle, _] = cones_of_rgb.apply(linear);
    let [blue, red] = ANCHORS.map(|anchor| CONES_OF_XYZ.apply(anchor));
    let is_blue_side = side(white, [long, middle, 0.0]) * side(white, blue) >= 0.0;
    let [n1, n2, n3] = cross(white, if is_blue_side { blue } else { red });
    let short = -(n1 * long + n2 * middle) / n3;
    cones_of_rgb.inverse().apply([long, middle, short])
}

/// On which side of the plane through black, white and the axis of short cones a color lies.
fn side([white_long, white_middle, _]: [f64; 3], [long, middle, _]: [f64; 3]) -> f64 {
    white_middle * long - white_long * middle
}

/// The normal of the plane of two directions.
fn cross([a1, a2, a3]: [f64; 3], [b1, b2, b3]: [f64; 3]) -> [f64; 3] {
    [a2 * b3 - a3 * b2, a3 * b1 - a1 * b3, a1 * b2 - a2 * b1]
}

/// The smallest difference that anyone sees between two screen colors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeastSeen {
    /// Who sees it: `None` is a person without a deficiency.
    pub deficiency: Option<Deficiency>,
    /// The difference of the simulated colors.
    pub delta_e: DeltaE,
}

/// The smallest difference over normal vision and every deficiency; of equal ones the first, normal
/// vision before protan, deutan, tritan.
#[must_use]
pub fn least_seen(standard: Srgb8, sample: Srgb8, formula: Formula) -> LeastSeen {
    let seen = |deficiency: Option<Deficiency>| {
        let as_seen = |color: Srgb8| deficiency.map_or(color, |held| held.simulate(color)).to_lab();
        let pair = Pair { standard: as_seen(standard), sample: as_seen(sample) };
        LeastSeen { deficiency, delta_e: formula.delta_e(pair) }
    };
    Deficiency::ALL
        .into_iter()
        .map(|held| seen(Some(held)))
        .fold(seen(None), |least, found| if found.delta_e < least.delta_e { found } else { least })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Machado et al. 2009 and Brettel et al. 1997 on 14 colors: the former computed for this
    /// project, the latter by the Python package `daltonlens` 0.1.5, which truncates where we round.
    const SIMULATED: &str = include_str!("../../../tests/data/reference/color_vision.csv");

    /// Machado et al. 2009, the matrices as the Python package `colour-science` 0.4.7 holds them.
    const MATRICES: &str = include_str!("../../../tests/data/reference/color_vision_matrices.csv");

    fn hex(text: &str) -> Srgb8 {
        Srgb8::parse_hex(text).unwrap()
    }

    fn rows(text: &str) -> impl Iterator<Item = Vec<&str>> {
        let lines = text.lines().filter(|line| !line.starts_with('#')).skip(1);
        lines.map(|line| line.split(',').collect())
    }

    fn gap(one: Srgb8, other: Srgb8) -> u8 {
        let pairs = [(one.red, other.red), (one.green, other.green), (one.blue, other.blue)];
        pairs.into_iter().map(|(left, right)| left.abs_diff(right)).max().unwrap()
    }

    #[test]
    fn simulations_are_those_of_other_computations() {
        let mut counts = [0; 2];
        for row in rows(SIMULATED) {
            let deficiency = Deficiency::parse(row[1]).unwrap();
            let found = deficiency.simulate(hex(row[0]));
            match deficiency {
                Deficiency::Protan | Deficiency::Deutan => {
                    assert_eq!(found, hex(row[2]), "{row:?}");
                    counts[0] += 1;
                }
                Deficiency::Tritan => {
                    assert!(gap(found, hex(row[3])) <= 1, "{row:?}: {found}");
                    counts[1] += 1;
                }
            }
        }
        assert_eq!(counts, [28, 14]);
    }

    #[test]
    fn the_matrices_are_the_published_ones() {
        let held = [("protan", PROTAN), ("deutan", DEUTAN)];
        let mut count = 0;
        for row in rows(MATRICES) {
            let Some((_, matrix)) = held.iter().find(|(name, _)| *name == row[0]) else { continue };
            for (found, printed) in matrix.0.iter().flatten().zip(&row[1..]) {
                assert_eq!(format!("{found:.6}"), *printed);
            }
            count += 1;
        }
        assert_eq!(count, 2);
    }

    #[test]
    fn grays_stay_gray_for_everyone() {
        for level in 0..=u8::MAX {
            let gray = Srgb8::new(level, level, level);
            for deficiency in Deficiency::ALL {
                assert_eq!(deficiency.simulate(gray), gray, "{deficiency:?}");
            }
        }
    }

    #[test]
    fn pairs_that_many_confuse_come_close() {
        // CIEDE2000 before and after simulation, computed for this project in double precision without
        // rounding to 8 bits, which moves it by up to 0.1.
        for (one, other, deficiency, normal, simulated) in [
            ("#c0392b", "#6b6b12", Deficiency::Deutan, 41.3, 4.6),
            ("#e8a0b4", "#b8b8b0", Deficiency::Deutan, 26.1, 0.6),
            ("#8e44ad", "#2060b0", Deficiency::Protan, 24.5, 2.7),
        ] {
            let [one, other] = [one, other].map(hex);
            let delta_e = |standard: Srgb8, sample: Srgb8| {
                let pair = Pair { standard: standard.to_lab(), sample: sample.to_lab() };
                Formula::DEFAULT.delta_e(pair).value()
            };
            assert!((delta_e(one, other) - normal).abs() < 0.06);
            let seen = delta_e(deficiency.simulate(one), deficiency.simulate(other));
            assert!((seen - simulated).abs() < 0.15, "{deficiency:?}: {seen}");
            let least = least_seen(one, other, Formula::DEFAULT);
            assert_eq!(least.deficiency, Some(deficiency));
            assert!((least.delta_e.value() - seen).abs() < 1e-12);
        }
    }

    #[test]
    fn lightness_alone_is_seen_least_without_a_deficiency_when_all_see_it_alike() {
        let least = least_seen(hex("#404040"), hex("#909090"), Formula::DEFAULT);
        assert_eq!(least.deficiency, None);
    }
}
