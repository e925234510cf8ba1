//! The spaces in which files of measurements give a color, brought to CIELAB (ISO/CIE 11664-4).
//! It does not know files or columns; the caller says which space, scale and white hold.

use crate::color::{Conditions, Illuminant, Lab, Observer};
use crate::error::{Error, ErrorKind, Result};

/// CIE 15: the ratio below which the cube root becomes a line, 216/24389.
const LINEAR_BELOW: f64 = 216.0 / 24_389.0;

/// CIE 15: slope of that line, 24389/27.
const SLOPE: f64 = 24_389.0 / 27.0;

/// What three numbers of a color mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Space {
    /// L*, a*, b*.
    Lab,
    /// L*, C*ab and the hue angle in degrees.
    Lch,
    /// X, Y, Z, with the Y of the perfect white.
    Xyz {
        /// 100 or 1.
        white_y: f64,
    },
}

impl Space {
    /// What is wrong with the first, second or third number alone (`axis` 0, 1 or 2).
    pub(super) fn fault(self, axis: usize, value: f64) -> Option<Error> {
        match (self, axis) {
            (Self::Lab | Self::Lch, 0) => Lab::new(value, 0.0, 0.0).err(),
            (Self::Lab, 1) => Lab::new(0.0, value, 0.0).err(),
            (Self::Lab, _) => Lab::new(0.0, 0.0, value).err(),
            (Self::Lch, 1) if value < 0.0 => Some(bad(value, "a chroma is 0 or more")),
            (Self::Lch, 1) => None,
            (Self::Lch, _) => {
                (value.abs() > 360.0).then(|| bad(value, "a hue angle is -360 to 360 degrees"))
            }
            (Self::Xyz { .. }, _) => (value < 0.0).then(|| bad(value, "X, Y and Z are 0 or more")),
        }
    }

    /// The color in CIELAB.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadColor`] when it lies outside the range of [`Lab`].
    pub(super) fn to_lab(self, numbers: [f64; 3], conditions: Conditions) -> Result<Lab> {
        let [first, second, third] = numbers;
        match self {
            Self::Lab => Lab::new(first, second, third),
            Self::Lch => {
                let (sin, cos) = third.to_radians().sin_cos();
                Lab::new(first, second * cos, second * sin)
            }
            Self::Xyz { white_y } => {
                let white = white(conditions).map(|part| part * white_y / 100.0);
                let [x, y, z] = [first / white[0], second / white[1], third / white[2]].map(root);
                Lab::new(116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z))
            }
        }
    }
}

fn bad(value: f64, reason: &str) -> Error {
    Error::new(ErrorKind::BadColor {
        value: value.to_string(),
        reason: reason.to_owned(),
        remedy: "nothing is clipped: write the color that was measured".into(),
    })
}

/// The function f of CIE 15, equation 8.4.
fn root(ratio: f64) -> f64 {
    if ratio > LINEAR_BELOW { ratio.cbrt() } else { (SLOPE * ratio + 16.0) / 116.0 }
}

/// X, Y and Z of the perfect white, on the scale where its Y is 100.
///
/// Source: ISO 105-J03 for A and D65, CIE 15 for D50 under 2°; the others from the chromaticities of
/// CIE 15:2018 as (100 x/y, 100, 100 (1-x-y)/y).
pub(super) fn white(conditions: Conditions) -> [f64; 3] {
    let (x, z) = match (conditions.illuminant, conditions.observer) {
        (Illuminant::A, Observer::TwoDegree) => (109.850, 35.585),
        (Illuminant::A, Observer::TenDegree) => (111.144, 35.200),
        (Illuminant::D50, Observer::TwoDegree) => (96.422, 82.521),
        (Illuminant::D50, Observer::TenDegree) => (96.7206, 81.4280),
        (Illuminant::D65, Observer::TwoDegree) => (95.047, 108.883),
        (Illuminant::D65, Observer::TenDegree) => (94.811, 107.304),
        (Illuminant::Fl2, Observer::TwoDegree) => (99.2002, 67.3954),
        (Illuminant::Fl2, Observer::TenDegree) => (103.2450, 68.9897),
        (Illuminant::Fl11, Observer::TwoDegree) => (100.9552, 64.3672),
        (Illuminant::Fl11, Observer::TenDegree) => (103.8197, 65.5550),
        (Illuminant::LedB3, Observer::TwoDegree) => (100.8864, 67.7142),
        (Illuminant::LedB3, Observer::TenDegree) => (103.3468, 68.0100),
    };
    [x, 100.0, z]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_perfect_white_is_neutral_on_either_scale() {
        for conditions in [Conditions::SCREEN, Conditions::TEXTILE] {
            for white_y in [1.0, 100.0] {
                let xyz = white(conditions).map(|part| part * white_y / 100.0);
                let lab = Space::Xyz { white_y }.to_lab(xyz, conditions).unwrap();
                assert!((lab.l() - 100.0).abs() < 1e-9, "{lab:?}");
                assert!(lab.a().abs() < 1e-9 && lab.b().abs() < 1e-9, "{lab:?}");
            }
        }
    }

    /// 18.418651851 % is Y at L* 50 by CIE 15; below 216/24389 the function is the line.
    #[test]
    fn lightness_follows_both_branches_of_the_formula() {
        let white = white(Conditions::TEXTILE);
        for (y, l) in [(18.418_651_851, 50.0), (0.5, 4.516_481_481), (0.0, 0.0)] {
            let xyz = white.map(|part| part * y / 100.0);
            let space = Space::Xyz { white_y: 100.0 };
            let lab = space.to_lab(xyz, Conditions::TEXTILE).unwrap();
            assert!((lab.l() - l).abs() < 1e-7, "{y}: {lab:?}");
        }
    }

    #[test]
    fn hue_and_chroma_become_a_and_b() {
        for (lch, a, b) in [
            ([50.0, 20.0, 90.0], 0.0, 20.0),
            ([50.0, 20.0, -180.0], -20.0, 0.0),
            ([50.0, 20.0, 315.0], 14.142_135_624, -14.142_135_624),
        ] {
            let lab = Space::Lch.to_lab(lch, Conditions::TEXTILE).unwrap();
            assert!((lab.a() - a).abs() < 1e-9 && (lab.b() - b).abs() < 1e-9, "{lab:?}");
        }
    }
}
