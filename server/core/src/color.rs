//! Colors as the trade has them: a CIELAB value with its light, observer, origin and uncertainty.
//! It does not know of threads or of how two colors differ.

mod adaptation;
mod condition;
mod contrast;
mod lab;
pub(crate) mod matrix;
mod srgb;
pub(crate) mod xyz;

pub(crate) use adaptation::Adapter;
pub use adaptation::{Adaptation, AdaptationMethod, Adapted};
pub use condition::{Conditions, Illuminant, Observer};
pub use contrast::contrast;
pub use lab::Lab;
pub(crate) use lab::{AB_MAX, L_MAX, hue_degrees};
pub use srgb::Srgb8;
pub use xyz::Xyz;

use crate::error::{Error, ErrorKind, Result};

/// Where a color value comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Origin {
    /// A color meter: colorimeter or spectrophotometer giving Lab.
    Meter,
    /// A scanner or a phone.
    Scan,
    /// A screen or the web.
    Screen,
    /// A reflectance spectrum, from which Lab was computed.
    Spectrum,
    /// Nobody knows; treated like a screen color.
    Unknown,
}

impl Origin {
    /// True when the value stands for the real surface and not for a picture of it.
    #[must_use]
    pub fn is_measured(self) -> bool {
        matches!(self, Self::Meter | Self::Spectrum)
    }

    /// The word of the table format: `meter`, `scan`, `screen`, `spectrum`, `unknown`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Meter => "meter",
            Self::Scan => "scan",
            Self::Screen => "screen",
            Self::Spectrum => "spectrum",
            Self::Unknown => "unknown",
        }
    }

    /// Reads the word of the table format, in any case.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        [Self::Meter, Self::Scan, Self::Screen, Self::Spectrum, Self::Unknown]
            .into_iter()
            .find(|origin| origin.as_str().eq_ignore_ascii_case(text.trim()))
    }
}

/// Stands for an uncertainty that is not known.
const UNKNOWN: f64 = -1.0;

/// A color with all that a comparison must know of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Color {
    lab: Lab,
    conditions: Conditions,
    origin: Origin,
    /// Below 0 where it is not known: a table holds many colors.
    uncertainty: f64,
    listed: Option<Srgb8>,
    adapted: Option<Adapted>,
}

impl Color {
    /// A color of a screen or picture: sRGB, hence D65 and the 2° observer.
    #[must_use]
    pub fn screen(listed: Srgb8) -> Self {
        Self::listed(listed, Origin::Screen)
    }

    /// An sRGB value with a stated origin, under D65 and the 2° observer.
    #[must_use]
    pub fn listed(listed: Srgb8, origin: Origin) -> Self {
        Self {
            lab: listed.to_lab(),
            conditions: Conditions::SCREEN,
            origin,
            uncertainty: UNKNOWN,
            listed: Some(listed),
            adapted: None,
        }
    }

    /// A CIELAB value under stated conditions.
    #[must_use]
    pub fn lab_under(lab: Lab, conditions: Conditions, origin: Origin) -> Self {
        Self { lab, conditions, origin, uncertainty: UNKNOWN, listed: None, adapted: None }
    }

    /// The same color with an uncertainty.
    ///
    /// Units: CIEDE2000 units, one standard deviation. Range: 0 or more.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when the number is negative or not finite.
    pub fn with_uncertainty(mut self, uncertainty: f64) -> Result<Self> {
        if !uncertainty.is_finite() || uncertainty < 0.0 {
            return Err(Error::new(ErrorKind::BadValue {
                value: uncertainty.to_string(),
                reason: "an uncertainty is a number of difference units, 0 or more".into(),
                remedy: "write for example 0.3".into(),
            }));
        }
        self.uncertainty = uncertainty;
        Ok(self)
    }

    /// The CIELAB value under [`Color::conditions`].
    #[must_use]
    pub fn lab(&self) -> Lab {
        self.lab
    }

    /// The light and observer of the CIELAB value.
    #[must_use]
    pub fn conditions(&self) -> Conditions {
        self.conditions
    }

    /// Where the value comes from.
    #[must_use]
    pub fn origin(&self) -> Origin {
        self.origin
    }

    /// Uncertainty in CIEDE2000 units, one standard deviation, when it is known.
    #[must_use]
    pub fn uncertainty(&self) -> Option<f64> {
        Some(self.uncertainty).filter(|known| *known >= 0.0)
    }

    /// The sRGB value as the table or picture listed it.
    #[must_use]
    pub fn listed_srgb(&self) -> Option<Srgb8> {
        self.listed
    }

    /// How the value came to its conditions, when it was not measured under them.
    #[must_use]
    pub fn adapted(&self) -> Option<Adapted> {
        self.adapted
    }

    /// The sRGB value to show: the listed one, or the nearest that a screen has (white to white).
    #[must_use]
    pub fn srgb(&self) -> Srgb8 {
        self.listed.unwrap_or_else(|| Srgb8::nearest_to(self.lab))
    }

    /// Whether a difference between the two may be stated as checked, only roughly, or not at all.
    ///
    /// Two measured colors are comparable under one light and observer only, and an adapted one among
    /// them makes the difference [`Trust::Adapted`]. As soon as one is a
    /// screen, scan or unknown color, the two are compared white to white and the result is rough.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::ConditionsDiffer`] for two measured colors under different conditions.
    pub fn trust(standard: &Self, sample: &Self) -> Result<Trust> {
        if !standard.origin.is_measured() || !sample.origin.is_measured() {
            return Ok(Trust::Rough);
        }
        if standard.conditions == sample.conditions {
            let label = standard.adapted.or(sample.adapted);
            return Ok(label.map_or(Trust::Measured, |label| Trust::Adapted(label.method)));
        }
        Err(Error::new(ErrorKind::ConditionsDiffer {
            standard: standard.conditions.to_string(),
            sample: sample.conditions.to_string(),
        }))
    }
}

/// How far a difference can be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Trust {
    /// Both colors were measured under the same conditions: two decimals.
    Measured,
    /// Both colors were measured, at least one under another light and then adapted: one decimal,
    /// marked `~` and said to be adapted by this method, never called checked.
    Adapted(AdaptationMethod),
    /// At least one is a picture of a color: one decimal, marked `~`, never called checked.
    Rough,
}
