//! How far two colors look apart: the formulas, their parameters and the signed parts.
//! It does not know threads, limits or the index.

mod cie76;
pub(crate) mod ciede2000;
mod words;

use std::fmt;

use crate::color::{Color, Lab, Trust};
use crate::error::{Error, ErrorKind, Result};

pub use words::{band, describe};

/// A difference in units of the formula that made it: finite, 0 or more.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct DeltaE(f64);

impl DeltaE {
    /// A checked difference.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when the number is negative or not finite.
    pub fn new(value: f64) -> Result<Self> {
        if value.is_finite() && value >= 0.0 {
            return Ok(Self(value));
        }
        Err(Error::new(ErrorKind::BadValue {
            value: value.to_string(),
            reason: "a difference is a number, 0 or more".into(),
            remedy: "write for example 5.0".into(),
        }))
    }

    /// A value computed by a formula, which is finite and not negative by its form.
    pub(crate) fn computed(value: f64) -> Self {
        Self(value.max(0.0))
    }

    /// The number.
    #[must_use]
    pub fn value(self) -> f64 {
        self.0
    }

    /// Orders differences; they are never NaN.
    #[must_use]
    pub fn order(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}

/// The parametric factors of a formula in the CIE94 family; 1:1:1 are the reference conditions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Factors {
    l: f64,
    c: f64,
    h: f64,
}

impl Factors {
    /// kL = kC = kH = 1.
    pub const REFERENCE: Self = Self { l: 1.0, c: 1.0, h: 1.0 };

    /// Checked factors kL, kC, kH. Range: 0.1 to 10.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when a factor is out of range.
    pub fn new(l: f64, c: f64, h: f64) -> Result<Self> {
        for value in [l, c, h] {
            if !(0.1..=10.0).contains(&value) {
                return Err(Error::new(ErrorKind::BadValue {
                    value: value.to_string(),
                    reason: "a parametric factor lies in 0.1 to 10".into(),
                    remedy: "use 1:1:1, or 2:1:1 for textiles".into(),
                }));
            }
        }
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

/// A color-difference formula with its parameters.
///
/// | formula | symmetric | a metric | suited for |
/// |---|---|---|---|
/// | CIEDE2000 | yes | no | the default; small to moderate differences |
/// | CIE76 | yes | yes | index geometry, history; overstates vivid colors |
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Formula {
    /// ISO/CIE 11664-4: the Euclidean length in CIELAB.
    Cie76,
    /// ISO/CIE 11664-6.
    Ciede2000(Factors),
}

impl Formula {
    /// CIEDE2000 under reference conditions, the default everywhere.
    pub const DEFAULT: Self = Self::Ciede2000(Factors::REFERENCE);

    /// The difference alone, in this formula's units.
    ///
    /// The standard is the color asked for, the sample is the thread that answers.
    ///
    /// ```
    /// use dyekin_core::difference::Pair;
    /// use dyekin_core::{Formula, Lab};
    ///
    /// let standard = Lab::new(50.0, 2.6772, -79.7751)?;
    /// let sample = Lab::new(50.0, 0.0, -82.7485)?;
    /// let delta_e = Formula::DEFAULT.delta_e(Pair { standard, sample });
    /// assert_eq!(format!("{:.4}", delta_e.value()), "2.0425");
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    #[must_use]
    pub fn delta_e(self, pair: Pair) -> DeltaE {
        match self {
            Self::Cie76 => cie76::delta_e(pair),
            Self::Ciede2000(factors) => ciede2000::delta_e(pair, factors),
        }
    }

    /// Name as written on the command line and in files: `cie76`, `ciede2000`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Cie76 => "cie76",
            Self::Ciede2000(_) => "ciede2000",
        }
    }

    /// Parameters as printed beside each number, such as `1:1:1`; empty without parameters.
    #[must_use]
    pub fn parameters(self) -> String {
        match self {
            Self::Cie76 => String::new(),
            Self::Ciede2000(factors) => format!("{}:{}:{}", factors.l, factors.c, factors.h),
        }
    }
}

impl fmt::Display for Formula {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Cie76 => f.write_str("CIE76"),
            Self::Ciede2000(_) => write!(f, "CIEDE2000 {}", self.parameters()),
        }
    }
}

/// Two colors with their roles, so that no formula can be called the wrong way round.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// The color asked for.
    pub standard: Lab,
    /// The color that is judged.
    pub sample: Lab,
}

/// A difference with its signed parts and how far it can be trusted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// The total, in units of [`Difference::formula`].
    pub delta_e: DeltaE,
    /// The formula and its parameters.
    pub formula: Formula,
    /// L* of the sample minus L* of the standard: positive is lighter.
    pub lightness: f64,
    /// C*ab of the sample minus that of the standard: positive is stronger.
    pub chroma: f64,
    /// Hue part in CIELAB units, positive when the hue angle grows.
    pub hue: f64,
    /// a* of the sample minus that of the standard: positive is redder.
    pub a: f64,
    /// b* of the sample minus that of the standard: positive is yellower.
    pub b: f64,
    /// How far the number can be trusted.
    pub trust: Trust,
}

impl Difference {
    /// Compares two colors.
    ///
    /// ```
    /// use dyekin_core::difference::{band, describe};
    /// use dyekin_core::{Color, Difference, Formula, Srgb8};
    ///
    /// let asked = Color::screen(Srgb8::parse_hex("#4a6b3c")?);
    /// let offered = Color::screen(Srgb8::parse_hex("#506f40")?);
    /// let difference = Difference::between(&asked, &offered, Formula::DEFAULT)?;
    /// assert_eq!(band(&difference), "looks close, not checked");
    /// assert_eq!(describe(&difference), "a bit lighter and slightly redder");
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    ///
    /// # Errors
    ///
    /// [`ErrorKind::ConditionsDiffer`] when both are measured under different conditions.
    pub fn between(standard: &Color, sample: &Color, formula: Formula) -> Result<Self> {
        let trust = Color::trust(standard, sample)?;
        let pair = Pair { standard: standard.lab(), sample: sample.lab() };
        Ok(Self::of_pair(pair, formula, trust))
    }

    /// The parts of a pair whose trust is already known.
    pub(crate) fn of_pair(pair: Pair, formula: Formula, trust: Trust) -> Self {
        Self::scored(pair, formula, formula.delta_e(pair), trust)
    }

    /// The parts of a pair whose difference under the formula is already known.
    pub(crate) fn scored(pair: Pair, formula: Formula, delta_e: DeltaE, trust: Trust) -> Self {
        let Pair { standard, sample } = pair;
        let (a, b) = (sample.a() - standard.a(), sample.b() - standard.b());
        let chroma = sample.chroma() - standard.chroma();
        // Cancellation gives small negatives for equal hues.
        let hue = (a * a + b * b - chroma * chroma).max(0.0).sqrt();
        let turn = standard.a() * sample.b() - sample.a() * standard.b();
        Self {
            delta_e,
            formula,
            lightness: sample.l() - standard.l(),
            chroma,
            hue: if turn < 0.0 { -hue } else { hue },
            a,
            b,
            trust,
        }
    }
}
