//! A CIELAB value (ISO/CIE 11664-4), finite by construction.
//! It does not know its white: [`super::Conditions`] does.

use crate::error::{Error, ErrorKind, Result};
use crate::math;

/// Highest lightness that is taken: fluorescent threads exceed 100.
pub(crate) const L_MAX: f64 = 102.0;

/// Largest magnitude of a* and b* that is taken; real surfaces stay below 130.
pub(crate) const AB_MAX: f64 = 200.0;

/// A CIELAB value.
///
/// Range: L* 0 to 102, a* and b* -200 to 200, all finite. The white and observer are named by the
/// [`super::Color`] that holds it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lab {
    l: f64,
    a: f64,
    b: f64,
}

impl Lab {
    /// A checked CIELAB value.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadColor`] when a component is not finite or out of range.
    pub fn new(l: f64, a: f64, b: f64) -> Result<Self> {
        check("L*", l, 0.0, L_MAX)?;
        check("a*", a, -AB_MAX, AB_MAX)?;
        check("b*", b, -AB_MAX, AB_MAX)?;
        // Adding zero turns -0 into 0, so that equal colors are equal bits.
        Ok(Self { l: l + 0.0, a: a + 0.0, b: b + 0.0 })
    }

    /// A value that is known to be in range, clamped against rounding.
    pub(crate) fn clamped(l: f64, a: f64, b: f64) -> Self {
        Self {
            l: l.clamp(0.0, L_MAX) + 0.0,
            a: a.clamp(-AB_MAX, AB_MAX) + 0.0,
            b: b.clamp(-AB_MAX, AB_MAX) + 0.0,
        }
    }

    /// Lightness L*, 0 to 102.
    #[must_use]
    pub fn l(self) -> f64 {
        self.l
    }

    /// Red (positive) against green (negative), a*.
    #[must_use]
    pub fn a(self) -> f64 {
        self.a
    }

    /// Yellow (positive) against blue (negative), b*.
    #[must_use]
    pub fn b(self) -> f64 {
        self.b
    }

    /// L*, a* and b*.
    #[must_use]
    pub fn components(self) -> [f64; 3] {
        [self.l, self.a, self.b]
    }

    /// Chroma C*ab, 0 or more.
    #[must_use]
    pub fn chroma(self) -> f64 {
        // The range rules out the overflow that `hypot` guards against at twice the time.
        (self.a * self.a + self.b * self.b).sqrt()
    }

    /// Hue angle in degrees, 0 up to 360; 0 for a neutral.
    #[must_use]
    pub fn hue_degrees(self) -> f64 {
        hue_degrees(self.a, self.b)
    }
}

/// The angle of a point of the chroma plane in degrees, 0 up to 360; 0 for the origin.
pub(crate) fn hue_degrees(a: f64, b: f64) -> f64 {
    let degrees = math::atan2(b, a).to_degrees();
    if degrees >= 0.0 {
        return degrees;
    }
    let turned = degrees + 360.0;
    // A tiny negative angle rounds up to the full turn, which is 0.
    if turned < 360.0 { turned } else { 0.0 }
}

fn check(name: &str, value: f64, low: f64, high: f64) -> Result<()> {
    if value.is_finite() && (low..=high).contains(&value) {
        return Ok(());
    }
    Err(Error::new(ErrorKind::BadColor {
        value: value.to_string(),
        reason: format!("{name} is outside {low} to {high}"),
        remedy: format!("{name} must be a number from {low} to {high}"),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hue_runs_from_0_up_to_360() {
        for (a, b, degrees) in [
            (1.0, 0.0, 0.0),
            (0.0, 1.0, 90.0),
            (-1.0, 0.0, 180.0),
            (0.0, -1.0, 270.0),
            (1.0, -1e-300, 0.0),
            (0.0, 0.0, 0.0),
        ] {
            let hue = Lab::new(50.0, a, b).unwrap().hue_degrees();
            assert!((hue - degrees).abs() < 1e-12, "{a} {b}: {hue}");
        }
        assert!((Lab::new(50.0, 1.0, -1e-9).unwrap().hue_degrees() - 360.0).abs() < 1e-6);
    }

    #[test]
    fn components_out_of_range_or_not_finite_are_refused() {
        for (l, a, b) in [
            (-0.1, 0.0, 0.0),
            (102.1, 0.0, 0.0),
            (50.0, 200.1, 0.0),
            (50.0, 0.0, -200.1),
            (f64::NAN, 0.0, 0.0),
            (50.0, f64::INFINITY, 0.0),
        ] {
            assert!(Lab::new(l, a, b).is_err(), "{l} {a} {b}");
        }
        assert!(Lab::new(102.0, -200.0, 200.0).is_ok());
    }

    #[test]
    fn equal_colors_are_equal_bits() {
        let lab = Lab::new(-0.0, -0.0, 0.0).unwrap();
        assert_eq!([lab.l(), lab.a(), lab.b()].map(f64::to_bits), [0; 3]);
    }
}
