//! Tristimulus values, the whites of lights, and the way to CIELAB and back (ISO/CIE 11664-4).
//! It does not know spectra or how a color under one white is carried to another.

use super::{Conditions, Illuminant, Lab, Observer};
use crate::error::Result;
use crate::math;

/// Below this ratio to the white the compression is a line (ISO/CIE 11664-4): (6/29)³.
pub(crate) const LINE_BELOW: f64 = 216.0 / 24_389.0;

/// Slope of L* on that line (ISO/CIE 11664-4): (29/3)³.
const LINE_SLOPE: f64 = 24_389.0 / 27.0;

/// CIE tristimulus values.
///
/// Units: Y = 100 is the perfect reflecting diffuser. The light and observer are those of whoever
/// holds them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Xyz {
    /// X.
    pub x: f64,
    /// Y, the luminance factor in percent.
    pub y: f64,
    /// Z.
    pub z: f64,
}

impl Xyz {
    /// CIELAB relative to a white. The white itself is 100, 0, 0 exactly.
    ///
    /// # Errors
    ///
    /// [`crate::ErrorKind::BadColor`] when the result is no CIELAB value that is taken.
    pub fn to_lab(self, white: Self) -> Result<Lab> {
        let [l, a, b] = compressed([self.x / white.x, self.y / white.y, self.z / white.z]);
        Lab::new(l, a, b)
    }

    pub(crate) fn components(self) -> [f64; 3] {
        [self.x, self.y, self.z]
    }

    pub(crate) fn from_components([x, y, z]: [f64; 3]) -> Self {
        Self { x, y, z }
    }
}

impl Lab {
    /// Tristimulus values under the white that the CIELAB value is relative to.
    ///
    /// ```
    /// use dyekin_core::color::{Conditions, Lab};
    ///
    /// let white = Conditions::TEXTILE.white();
    /// let gray = Lab::new(50.0, 0.0, 0.0)?.to_xyz(white);
    /// assert!((gray.y - 18.418_651).abs() < 1e-6);
    /// assert!((gray.to_lab(white)?.l() - 50.0).abs() < 1e-12);
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    #[must_use]
    pub fn to_xyz(self, white: Xyz) -> Xyz {
        let [x, y, z] = ratios(self);
        Xyz { x: x * white.x, y: y * white.y, z: z * white.z }
    }
}

/// L*, a*, b* of ratios to the white.
pub(crate) fn compressed(ratios: [f64; 3]) -> [f64; 3] {
    compressed_by(ratios, math::cbrt)
}

/// The same by a cube root of the caller's.
pub(crate) fn compressed_by(ratios: [f64; 3], root: impl Fn(f64) -> f64) -> [f64; 3] {
    let [x, y, z] = ratios.map(|ratio| compress_by(ratio, &root));
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// Ratios X/Xn, Y/Yn, Z/Zn of a CIELAB value: linear in light, whatever the white is.
pub(crate) fn ratios(lab: Lab) -> [f64; 3] {
    let y = (lab.l() + 16.0) / 116.0;
    [y + lab.a() / 500.0, y, y - lab.b() / 200.0].map(expand)
}

/// f of ISO/CIE 11664-4: a line near black, then the cube root.
pub(crate) fn compress_by(ratio: f64, root: impl Fn(f64) -> f64) -> f64 {
    if ratio > LINE_BELOW { root(ratio) } else { (LINE_SLOPE * ratio + 16.0) / 116.0 }
}

/// Undoes the compression; grows with its argument.
pub(crate) fn expand(compressed: f64) -> f64 {
    let cube = compressed * compressed * compressed;
    if cube > LINE_BELOW { cube } else { (116.0 * compressed - 16.0) / LINE_SLOPE }
}

impl Conditions {
    /// The white that CIELAB values under these conditions are relative to, when no spectrum says
    /// more: Y = 100, X and Z from the chromaticity.
    ///
    /// Source: chromaticity coordinates of CIE 15:2018, four or five decimals. They agree with the
    /// XYZ of ISO 105-J03 to 0.03 for daylight and lamp. Spectra use the sum of their weights.
    #[must_use]
    pub fn white(self) -> Xyz {
        let (x, y) = match self.observer {
            Observer::TwoDegree => two_degree(self.illuminant),
            Observer::TenDegree => ten_degree(self.illuminant),
        };
        Xyz { x: 100.0 * x / y, y: 100.0, z: 100.0 * (1.0 - x - y) / y }
    }
}

fn two_degree(light: Illuminant) -> (f64, f64) {
    match light {
        Illuminant::A => (0.447_58, 0.407_45),
        Illuminant::D50 => (0.345_70, 0.358_50),
        Illuminant::D65 => (0.312_70, 0.329_00),
        Illuminant::Fl2 => (0.372_10, 0.375_10),
        Illuminant::Fl11 => (0.380_50, 0.376_90),
        Illuminant::LedB3 => (0.375_60, 0.372_30),
    }
}

fn ten_degree(light: Illuminant) -> (f64, f64) {
    match light {
        Illuminant::A => (0.451_17, 0.405_94),
        Illuminant::D50 => (0.347_73, 0.359_52),
        Illuminant::D65 => (0.313_82, 0.331_00),
        Illuminant::Fl2 => (0.379_25, 0.367_33),
        Illuminant::Fl11 => (0.385_41, 0.371_23),
        Illuminant::LedB3 => (0.380_85, 0.368_52),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn under(text: &str) -> Conditions {
        Conditions::parse(text).unwrap()
    }

    #[test]
    fn whites_agree_with_the_textile_standard() {
        // ISO 105-J03, table of tristimulus values of whites, as printed.
        for (conditions, x, z) in [
            ("D65/10", 94.811, 107.304),
            ("D65/2", 95.047, 108.883),
            ("A/10", 111.144, 35.200),
            ("A/2", 109.850, 35.585),
        ] {
            let white = under(conditions).white();
            assert!((white.x - x).abs() < 0.003, "{conditions}: {white:?}");
            assert!((white.z - z).abs() < 0.03, "{conditions}: {white:?}");
        }
    }

    #[test]
    fn every_white_is_neutral_to_the_last_bit() {
        for light in Illuminant::ALL {
            for observer in [Observer::TwoDegree, Observer::TenDegree] {
                let white = Conditions { illuminant: light, observer }.white();
                let lab = white.to_lab(white).unwrap();
                let bits = [lab.l(), lab.a(), lab.b()].map(f64::to_bits);
                assert_eq!(bits, [100.0_f64, 0.0, 0.0].map(f64::to_bits), "{light:?}");
            }
        }
    }

    #[test]
    fn every_lab_comes_back_from_its_tristimulus_values() {
        let white = Conditions::TEXTILE.white();
        for (l, a, b) in [(0.0, 0.0, 0.0), (3.0, 1.0, -2.0), (8.0, 0.0, 0.0), (71.5, 10.4, 64.8)] {
            let lab = Lab::new(l, a, b).unwrap().to_xyz(white).to_lab(white).unwrap();
            for (found, wanted) in [(lab.l(), l), (lab.a(), a), (lab.b(), b)] {
                assert!((found - wanted).abs() < 1e-12, "{lab:?}");
            }
        }
    }

    #[test]
    fn what_is_no_color_is_refused() {
        let white = Conditions::SCREEN.white();
        for y in [-1.0, 120.0, f64::NAN] {
            assert!(Xyz { x: 50.0, y, z: 50.0 }.to_lab(white).is_err(), "{y}");
        }
    }
}
