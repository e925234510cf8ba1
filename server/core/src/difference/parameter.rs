//! The parameters of the formulas, checked.
//! It does not know how a formula uses them.

use std::fmt;

use crate::error::{Error, ErrorKind, Result};

/// Least and largest parametric factor that is taken. House choice: beyond it a part of the
/// difference counts for nothing.
const FACTORS: std::ops::RangeInclusive<f64> = 0.1..=10.0;

/// The parametric factors of CIEDE2000; 1:1:1 are the reference conditions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Factors {
    l: f64,
    c: f64,
    h: f64,
}

impl Factors {
    /// kL = kC = kH = 1.
    pub const REFERENCE: Self = Self { l: 1.0, c: 1.0, h: 1.0 };

    /// kL = 2, kC = kH = 1, usual for textiles: lightness counts half.
    pub const TEXTILE: Self = Self { l: 2.0, c: 1.0, h: 1.0 };

    /// Checked factors kL, kC, kH. Range: 0.1 to 10.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when a factor is out of range.
    pub fn new(l: f64, c: f64, h: f64) -> Result<Self> {
        check([l, c, h], "use 1:1:1, or 2:1:1 for textiles")?;
        Ok(Self { l, c, h })
    }

    /// kL, divides the lightness part.
    #[must_use]
    pub fn l(self) -> f64 {
        self.l
    }

    /// kC, divides the chroma part.
    #[must_use]
    pub fn c(self) -> f64 {
        self.c
    }

    /// kH, divides the hue part.
    #[must_use]
    pub fn h(self) -> f64 {
        self.h
    }
}

impl fmt::Display for Factors {
    /// As in `2:1:1`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.l, self.c, self.h)
    }
}

/// The ratio l:c of CMC(l:c).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ratio {
    l: f64,
    c: f64,
}

impl Ratio {
    /// 2:1, for acceptability: would a buyer take it (ISO 105-J03)?
    pub const ACCEPTABILITY: Self = Self { l: 2.0, c: 1.0 };

    /// 1:1, for perceptibility: can it be seen (ISO 105-J03)?
    pub const PERCEPTIBILITY: Self = Self { l: 1.0, c: 1.0 };

    /// A checked ratio l:c. Range: 0.1 to 10 each.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when a part is out of range.
    pub fn new(l: f64, c: f64) -> Result<Self> {
        check([l, c], "use 2:1 for acceptability or 1:1 for perceptibility")?;
        Ok(Self { l, c })
    }

    /// l, divides the lightness part.
    #[must_use]
    pub fn l(self) -> f64 {
        self.l
    }

    /// c, divides the chroma part.
    #[must_use]
    pub fn c(self) -> f64 {
        self.c
    }
}

impl fmt::Display for Ratio {
    /// As in `2:1`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.l, self.c)
    }
}

/// What CIE94 is applied to. It decides three constants together: kL, K1 and K2.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Application {
    /// kL = 1, K1 = 0.045, K2 = 0.015: the reference conditions, used in graphic arts.
    GraphicArts,
    /// kL = 2, K1 = 0.048, K2 = 0.014.
    Textile,
}

impl Application {
    /// The word printed beside each number: `graphic-arts`, `textile`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::GraphicArts => "graphic-arts",
            Self::Textile => "textile",
        }
    }
}

fn check<const N: usize>(values: [f64; N], remedy: &str) -> Result<()> {
    match values.into_iter().find(|value| !FACTORS.contains(value)) {
        None => Ok(()),
        Some(value) => Err(Error::new(ErrorKind::BadValue {
            value: value.to_string(),
            reason: "a parametric factor lies in 0.1 to 10".into(),
            remedy: remedy.into(),
        })),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factors_out_of_range_are_refused() {
        for bad in [0.0, 0.09, 10.1, -1.0, f64::NAN, f64::INFINITY] {
            assert!(Factors::new(1.0, bad, 1.0).is_err(), "{bad}");
            assert!(Ratio::new(1.0, bad).is_err(), "{bad}");
            assert!(Ratio::new(bad, 1.0).is_err(), "{bad}");
        }
        assert_eq!(Ratio::new(2.0, 1.0).unwrap(), Ratio::ACCEPTABILITY);
        assert_eq!(Factors::new(2.0, 1.0, 1.0).unwrap(), Factors::TEXTILE);
    }
}
