//! The spaces in which files of measurements give a color, brought to CIELAB (ISO/CIE 11664-4).
//! It does not know files or columns; the caller says which space, scale and white hold.

use crate::color::{Conditions, Lab, Xyz};
use crate::error::{Error, ErrorKind, Result};
use crate::math;
use crate::spectrum;

/// The white that X, Y, Z of measurements are relative to, for a message.
///
/// Instruments compute them by ASTM E308, so it is the sum of the weights and not the white of the
/// chromaticities.
pub(super) fn shown_white(conditions: Conditions) -> String {
    let Xyz { x, y, z } = spectrum::white(conditions);
    format!("{conditions}: {x:.3} {y:.3} {z:.3}")
}

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
                let (sin, cos) = math::sin_cos(third.to_radians());
                Lab::new(first, second * cos, second * sin)
            }
            Self::Xyz { white_y } => {
                let [x, y, z] = numbers.map(|part| part * 100.0 / white_y);
                Xyz { x, y, z }.to_lab(spectrum::white(conditions))
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_perfect_white_is_neutral_on_either_scale() {
        for conditions in [Conditions::SCREEN, Conditions::TEXTILE] {
            for white_y in [1.0, 100.0] {
                let white = spectrum::white(conditions);
                let xyz = [white.x, white.y, white.z].map(|part| part * white_y / 100.0);
                let lab = Space::Xyz { white_y }.to_lab(xyz, conditions).unwrap();
                assert!((lab.l() - 100.0).abs() < 1e-9, "{lab:?}");
                assert!(lab.a().abs() < 1e-9 && lab.b().abs() < 1e-9, "{lab:?}");
            }
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
