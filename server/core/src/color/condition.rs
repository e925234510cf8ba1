//! The light and the observer that a CIELAB value belongs to.
//! It does not convert between them: that is adaptation, and always asked for.

use std::fmt;

/// A CIE standard illuminant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Illuminant {
    /// Incandescent lamp.
    A,
    /// Daylight of 5003 K, used in print.
    D50,
    /// Daylight of 6504 K, used for textiles and screens.
    D65,
    /// Cool white fluorescent lamp.
    Fl2,
    /// Three-band fluorescent lamp, common in shops.
    Fl11,
    /// Blue-pumped LED of about 4100 K (CIE 015:2018).
    LedB3,
}

impl Illuminant {
    /// Every light that spectra can be seen under.
    pub const ALL: [Self; 6] = [Self::A, Self::D50, Self::D65, Self::Fl2, Self::Fl11, Self::LedB3];

    /// The CIE's name.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::A => "A",
            Self::D50 => "D50",
            Self::D65 => "D65",
            Self::Fl2 => "FL2",
            Self::Fl11 => "FL11",
            Self::LedB3 => "LED-B3",
        }
    }

    /// Reads the CIE's name, in any case.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|light| light.as_str().eq_ignore_ascii_case(text.trim()))
    }

    /// What people call the light: `daylight` (D65), `lamp` (A), `led` (LED-B3).
    #[must_use]
    pub fn everyday_name(self) -> Option<&'static str> {
        match self {
            Self::D65 => Some("daylight"),
            Self::A => Some("lamp"),
            Self::LedB3 => Some("led"),
            Self::D50 | Self::Fl2 | Self::Fl11 => None,
        }
    }

    /// The light as people speak of it, such as `lamp light`.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::A => "lamp light",
            Self::D50 => "D50 daylight",
            Self::D65 => "daylight",
            Self::Fl2 => "FL2 tube light",
            Self::Fl11 => "FL11 tube light",
            Self::LedB3 => "LED light",
        }
    }

    /// Reads a light by its everyday name or the CIE's, in any case.
    #[must_use]
    pub fn parse_light(text: &str) -> Option<Self> {
        let named = |light: &Self| {
            light.everyday_name().is_some_and(|name| name.eq_ignore_ascii_case(text.trim()))
        };
        Self::ALL.into_iter().find(named).or_else(|| Self::parse(text))
    }
}

/// A CIE standard observer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Observer {
    /// CIE 1931, fields of 1° to 4°.
    TwoDegree,
    /// CIE 1964, larger fields; usual for textiles.
    TenDegree,
}

impl Observer {
    /// The field of view in degrees, 2 or 10.
    #[must_use]
    pub fn degrees(self) -> u8 {
        match self {
            Self::TwoDegree => 2,
            Self::TenDegree => 10,
        }
    }

    /// Reads `2` or `10`, with or without a degree sign.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        match text.trim().trim_end_matches('°') {
            "2" => Some(Self::TwoDegree),
            "10" => Some(Self::TenDegree),
            _ => None,
        }
    }
}

/// A light together with an observer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Conditions {
    /// The light.
    pub illuminant: Illuminant,
    /// The observer.
    pub observer: Observer,
}

impl Conditions {
    /// What sRGB means: D65, 2° (IEC 61966-2-1).
    pub const SCREEN: Self = Self { illuminant: Illuminant::D65, observer: Observer::TwoDegree };

    /// What textile meters usually report: D65, 10° (first row of the table in ISO 105-J03).
    pub const TEXTILE: Self = Self { illuminant: Illuminant::D65, observer: Observer::TenDegree };

    /// Reads `D65/10`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (light, observer) = text.split_once('/')?;
        Some(Self { illuminant: Illuminant::parse(light)?, observer: Observer::parse(observer)? })
    }
}

impl fmt::Display for Conditions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}°", self.illuminant.as_str(), self.observer.degrees())
    }
}
