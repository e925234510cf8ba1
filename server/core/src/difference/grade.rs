//! The gray-scale grade of a pair, estimated after ISO 105-A05. Symmetric, not a metric.
//! It does not know of the formulas that rank.
//!
//! The scale judges how one specimen changed in a fastness test. Saying how different two threads are
//! with it is an analogy that the trade understands, no test result.
//!
//! Sources. The continuous grade, the term x, the mean hue and the sign of the hue part: ISO
//! 105-A05, sections 7.2 and 8. The term D, both denominators and the table of classes: **values from
//! memory of the standard**, hence "estimated after". Two checks support them: the classes end midway
//! between the steps of the visual scale (ISO 105-A02), and those steps give whole and half grades.

use std::fmt;

use super::{Difference, Pair};
use crate::color::Lab;
use crate::math;

/// What the grade is called wherever it is printed: it is not a grade given by the standard.
pub const GRADE_SOURCE: &str = "estimated after ISO 105-A05";

/// A class of the gray scale for change in color, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Grade {
    /// 5: no change.
    Five,
    /// 4-5.
    FourFive,
    /// 4.
    Four,
    /// 3-4.
    ThreeFour,
    /// 3.
    Three,
    /// 2-3.
    TwoThree,
    /// 2.
    Two,
    /// 1-2.
    OneTwo,
    /// 1: the largest change.
    One,
}

impl Grade {
    /// All classes but the last with the `dE_F` where they end. Values from memory of the standard;
    /// each is midway between two steps of ISO 105-A02.
    const ENDS: [(f64, Self); 8] = [
        (0.40, Self::Five),
        (1.25, Self::FourFive),
        (2.10, Self::Four),
        (2.95, Self::ThreeFour),
        (4.10, Self::Three),
        (5.80, Self::TwoThree),
        (8.20, Self::Two),
        (11.60, Self::OneTwo),
    ];

    /// The class of a `dE_F`.
    fn of(change: f64) -> Self {
        // A difference of two decimals that stands on an end belongs to the class behind it.
        let ends = Self::ENDS.into_iter().find(|(end, _)| change < end - ON_THE_END);
        ends.map_or(Self::One, |(_, grade)| grade)
    }

    /// As written on the scale: `5`, `4-5` ... `1`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Five => "5",
            Self::FourFive => "4-5",
            Self::Four => "4",
            Self::ThreeFour => "3-4",
            Self::Three => "3",
            Self::TwoThree => "2-3",
            Self::Two => "2",
            Self::OneTwo => "1-2",
            Self::One => "1",
        }
    }
}

impl fmt::Display for Grade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// Room for rounding at the end of a class.
const ON_THE_END: f64 = 1e-9;

/// How a pair stands on the gray scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GrayScale {
    /// `dE_F`, CIELAB units with the chroma and hue parts of vivid colors reduced, 0 or more.
    pub change: f64,
    /// The continuous grade, 5 for no change down to 1.
    pub continuous: f64,
    /// The class, from the table of classes and not by rounding the continuous grade.
    pub grade: Grade,
}

/// The gray-scale grade of the two colors, estimated after ISO 105-A05.
///
/// ```
/// use dyekin_core::difference::{Pair, gray_scale};
/// use dyekin_core::Lab;
///
/// let standard = Lab::new(42.0, 58.0, 28.0)?;
/// let sample = Lab::new(44.0, 52.0, 25.0)?;
/// assert_eq!(gray_scale(Pair { standard, sample }).grade.to_string(), "3");
/// # Ok::<(), dyekin_core::Error>(())
/// ```
#[must_use]
pub fn gray_scale(pair: Pair) -> GrayScale {
    let parts = Parts::of(pair);
    let denominator = |scale: f64| 1.0 + (scale * parts.mean_chroma / 1_000.0).powi(2);
    let chroma = (parts.chroma - parts.shift) / denominator(20.0);
    let hue = (parts.hue - parts.shift) / denominator(10.0);
    let change = (parts.lightness.powi(2) + chroma * chroma + hue * hue).sqrt();
    GrayScale { change, continuous: continuous(change), grade: Grade::of(change) }
}

impl Difference {
    /// The gray-scale grade of the two colors, estimated after ISO 105-A05, whatever the formula.
    #[must_use]
    pub fn gray_scale(&self) -> GrayScale {
        gray_scale(Pair { standard: self.standard, sample: self.sample() })
    }
}

/// ISO 105-A05 section 8, with its floor at 1.
fn continuous(change: f64) -> f64 {
    let grade = if change <= 3.4 { 5.0 - change / 1.7 } else { 5.0 - math::log2(change / 0.85) };
    grade.max(1.0)
}

/// ISO 105-A05 section 7.2.
#[derive(Clone, Copy, Debug)]
struct Parts {
    lightness: f64,
    chroma: f64,
    /// Positive when the hue angle grows.
    hue: f64,
    mean_chroma: f64,
    /// D, taken from both the chroma and the hue part: it is large for purplish blues, hue 280.
    shift: f64,
}

impl Parts {
    fn of(pair: Pair) -> Self {
        let Pair { standard, sample } = pair;
        let chroma = sample.chroma() - standard.chroma();
        let mean_chroma = f64::midpoint(sample.chroma(), standard.chroma());
        let x = (around(mean_hue(standard, sample) - 280.0) / 30.0).powi(2);
        Self {
            lightness: sample.l() - standard.l(),
            chroma,
            hue: hue_part(standard, sample),
            mean_chroma,
            shift: chroma * mean_chroma * math::exp(-x) / 100.0,
        }
    }
}

/// The hue part from the hue angle's change by the shorter way: its sign is exchanged with the colors
/// even where their hues are opposite.
fn hue_part(standard: Lab, sample: Lab) -> f64 {
    let plain = sample.hue_degrees() - standard.hue_degrees();
    let turn = around(plain).copysign(if plain.abs() <= 180.0 { plain } else { -plain });
    2.0 * (standard.chroma() * sample.chroma()).sqrt() * math::sin((turn / 2.0).to_radians())
}

/// Degrees from a hue to another one by the shorter way.
fn around(degrees: f64) -> f64 {
    if degrees.abs() <= 180.0 { degrees } else { 360.0 - degrees.abs() }
}

fn mean_hue(standard: Lab, sample: Lab) -> f64 {
    let (first, second) = (standard.hue_degrees(), sample.hue_degrees());
    let mean = f64::midpoint(first, second);
    match ((first - second).abs() <= 180.0, first + second < 360.0) {
        (true, _) => mean,
        (false, true) => mean + 180.0,
        (false, false) => mean - 180.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 23 pairs with all intermediates, computed for this project in double precision.
    const GRADES: &str = include_str!("../../../../tests/data/reference/iso105_a05_grades.csv");

    /// The steps of the visual scale, ISO 105-A02 (EN 20105-A02:1994).
    const STEPS: &str = include_str!("../../../../tests/data/reference/iso105_a02_steps.csv");

    fn rows(text: &str) -> Vec<Vec<String>> {
        let rows = text.lines().filter(|line| !line.starts_with('#')).skip(1);
        rows.map(|line| line.split(',').map(str::to_owned).collect()).collect()
    }

    fn numbers(fields: &[String]) -> Vec<f64> {
        fields.iter().map(|field| field.parse().unwrap()).collect()
    }

    fn neutral_step(size: f64) -> GrayScale {
        // The first chip has a luminance factor of 12.
        let standard = Lab::new(41.216, 0.0, 0.0).unwrap();
        let sample = Lab::new(41.216 + size, 0.0, 0.0).unwrap();
        gray_scale(Pair { standard, sample })
    }

    #[test]
    fn grades_are_those_of_the_check_table_in_both_orders() {
        let rows = rows(GRADES);
        assert_eq!(rows.len(), 23);
        for row in &rows {
            let values = numbers(&row[..13]);
            let at =
                |from: usize| Lab::new(values[from], values[from + 1], values[from + 2]).unwrap();
            for (standard, sample) in [(at(0), at(3)), (at(3), at(0))] {
                let found = gray_scale(Pair { standard, sample });
                assert!((found.change - values[11]).abs() < 5.1e-5, "{row:?}: {found:?}");
                // The table goes on below the last grade, the standard does not.
                let continuous = values[12].max(1.0);
                assert!((found.continuous - continuous).abs() < 5.1e-5, "{row:?}: {found:?}");
                assert_eq!(found.grade.as_str(), row[13], "{row:?}: {found:?}");
            }
        }
    }

    #[test]
    fn intermediates_are_those_of_the_check_table() {
        for row in rows(GRADES) {
            let values = numbers(&row[..13]);
            let standard = Lab::new(values[0], values[1], values[2]).unwrap();
            let sample = Lab::new(values[3], values[4], values[5]).unwrap();
            let parts = Parts::of(Pair { standard, sample });
            assert!((parts.mean_chroma - values[7]).abs() < 5.1e-5, "{row:?}: {parts:?}");
            assert!((mean_hue(standard, sample) - values[8]).abs() < 5.1e-5, "{row:?}");
            assert!((parts.shift - values[10]).abs() < 5.1e-5, "{row:?}: {parts:?}");
        }
    }

    #[test]
    fn the_steps_of_the_visual_scale_get_their_grades() {
        let steps = rows(STEPS);
        assert_eq!(steps.len(), 9);
        for (place, step) in steps.iter().enumerate() {
            let size: f64 = step[1].parse().unwrap();
            let found = neutral_step(size);
            assert_eq!(found.grade.as_str(), step[0]);
            let whole = 5.0 - 0.5 * f64::from(u32::try_from(place).unwrap());
            assert!((found.continuous - whole).abs() < 0.035, "{step:?}: {found:?}");
        }
    }

    /// The table of classes rests on memory; the midpoints of published steps agree with it.
    #[test]
    fn classes_end_midway_between_the_steps_of_the_visual_scale() {
        let sizes: Vec<f64> = rows(STEPS).iter().map(|step| step[1].parse().unwrap()).collect();
        for (pair, (end, _)) in sizes.windows(2).zip(Grade::ENDS) {
            assert!((f64::midpoint(pair[0], pair[1]) - end).abs() < 1e-9, "{pair:?}: {end}");
        }
    }

    #[test]
    fn a_chromatic_step_counts_less_in_purplish_blue() {
        // CIELAB length 7.9, yet grade 4; computed for this project in double precision.
        let standard = Lab::new(35.0, 20.0, -55.0).unwrap();
        let sample = Lab::new(36.0, 14.0, -50.0).unwrap();
        assert_eq!(gray_scale(Pair { standard, sample }).grade, Grade::Four);
    }
}
