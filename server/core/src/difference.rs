//! How far two colors look apart: the formulas, their parameters and the signed parts.
//! It does not know threads, limits or the index.

pub(crate) mod cie76;
pub(crate) mod cie94;
pub(crate) mod ciede2000;
pub(crate) mod cmc;
pub(crate) mod din99o;
pub(crate) mod ellipsoid;
mod formula;
mod grade;
pub(crate) mod hyab;
mod parameter;
mod words;

use crate::color::{AdaptationMethod, Adapter, Color, Lab, Trust};
use crate::error::{Error, ErrorKind, Result};

pub use formula::Formula;
pub use grade::{GRADE_SOURCE, Grade, GrayScale, gray_scale};
pub use parameter::{Application, Factors, Ratio};
pub use words::{band, band_of, describe};
pub(crate) use words::{close_below, near_identical};

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

/// Two colors with their roles, so that no formula can be called the wrong way round.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// The color asked for.
    pub standard: Lab,
    /// The color that is judged.
    pub sample: Lab,
}

/// How differences are measured: the formula, and what is done where the lights differ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measure {
    /// The formula.
    pub formula: Formula,
    /// How a standard that was measured under another light than the sample is carried over to the
    /// sample's; without it such a pair is refused. Pictures of colors are compared white to white
    /// anyway.
    pub adaptation: Option<AdaptationMethod>,
}

impl Measure {
    /// A formula alone: measured colors under different conditions are refused.
    #[must_use]
    pub fn plain(formula: Formula) -> Self {
        Self { formula, adaptation: None }
    }
}

/// A difference with its signed parts and how far it can be trusted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// The total, in units of [`Difference::formula`].
    pub delta_e: DeltaE,
    /// The formula and its parameters.
    pub formula: Formula,
    /// The color asked for, from which the parts are taken; for an adapted difference as it looks
    /// under the sample's conditions.
    pub standard: Lab,
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
    /// assert_eq!(describe(&difference), "a bit lighter, slightly redder and slightly duller");
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

    /// Compares two colors, under the sample's conditions where the lights differ and adaptation is
    /// asked for.
    ///
    /// ```
    /// use dyekin_core::color::{AdaptationMethod, Trust};
    /// use dyekin_core::difference::Measure;
    /// use dyekin_core::{Color, Conditions, Difference, Formula, Lab, Origin};
    ///
    /// let measured = |l, a, b, conditions| {
    ///     Ok::<Color, dyekin_core::Error>(Color::lab_under(Lab::new(l, a, b)?, conditions, Origin::Meter))
    /// };
    /// let asked = measured(41.75, -19.66, 22.34, Conditions::parse("D50/2").unwrap())?;
    /// let offered = measured(42.0, -21.0, 23.0, Conditions::parse("D65/2").unwrap())?;
    /// let plain = Measure::plain(Formula::DEFAULT);
    /// assert!(Difference::measured(&asked, &offered, plain).is_err());
    ///
    /// let adapted = Measure { adaptation: Some(AdaptationMethod::Bradford), ..plain };
    /// let difference = Difference::measured(&asked, &offered, adapted)?;
    /// assert_eq!(difference.trust, Trust::Adapted(AdaptationMethod::Bradford));
    /// assert!(difference.delta_e.value() < 1.0);
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    ///
    /// # Errors
    ///
    /// [`ErrorKind::ConditionsDiffer`] when both are measured under different conditions and no
    /// adaptation is asked for, [`ErrorKind::BadValue`] when it is and the observers differ.
    pub fn measured(standard: &Color, sample: &Color, measure: Measure) -> Result<Self> {
        let (standard, trust) = Adapter::new(measure.adaptation).meet(standard, sample)?;
        let pair = Pair { standard: standard.lab(), sample: sample.lab() };
        Ok(Self::of_pair(pair, measure.formula, trust))
    }

    /// The parts of a pair whose trust is already known.
    pub(crate) fn of_pair(pair: Pair, formula: Formula, trust: Trust) -> Self {
        Self::scored(pair, formula, formula.delta_e(pair), trust)
    }

    /// The parts of a pair whose difference under the formula is already known.
    pub(crate) fn scored(pair: Pair, formula: Formula, delta_e: DeltaE, trust: Trust) -> Self {
        let Pair { standard, sample } = pair;
        let chroma = sample.chroma() - standard.chroma();
        Self {
            delta_e,
            formula,
            standard,
            lightness: sample.l() - standard.l(),
            chroma,
            hue: hue_part(pair, chroma),
            a: sample.a() - standard.a(),
            b: sample.b() - standard.b(),
            trust,
        }
    }

    /// The color that is judged, but for rounding.
    fn sample(&self) -> Lab {
        let Self { standard, lightness, a, b, .. } = self;
        Lab::clamped(standard.l() + lightness, standard.a() + a, standard.b() + b)
    }
}

/// The hue part in CIELAB units, what the chroma part leaves of the way in the chroma plane: positive
/// when the hue angle grows, by the shorter way.
fn hue_part(Pair { standard, sample }: Pair, chroma: f64) -> f64 {
    let (a, b) = (sample.a() - standard.a(), sample.b() - standard.b());
    // Cancellation gives small negatives for equal hues.
    let hue = (a * a + b * b - chroma * chroma).max(0.0).sqrt();
    let turn = standard.a() * sample.b() - sample.a() * standard.b();
    if turn < 0.0 { -hue } else { hue }
}
