//! The smaller facts about a thread: finish, status, price, trade item number.
//! It does not know the file formats that spell them.

use std::fmt;

use super::{Code, Thread};
use crate::color::Lab;
use crate::error::{Error, ErrorKind, Result};

/// How a thread's surface behaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Finish {
    /// Brightened so that it can look lighter than white.
    Fluorescent,
    /// Color changes with the angle.
    Metallic,
    /// One even color.
    Plain,
    /// Several colors along the thread; one Lab value says little.
    Variegated,
}

impl Finish {
    const ALL: [Self; 4] = [Self::Fluorescent, Self::Metallic, Self::Plain, Self::Variegated];

    /// The word of the table format.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Fluorescent => "fluorescent",
            Self::Metallic => "metallic",
            Self::Plain => "plain",
            Self::Variegated => "variegated",
        }
    }

    /// Reads the word of the table format, in any case.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|finish| finish.as_str().eq_ignore_ascii_case(text.trim()))
    }
}

/// Whether a thread can be bought.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Status {
    /// It can be bought.
    Available,
    /// It will come again.
    BackOrder,
    /// It will not come again.
    Discontinued,
    /// It can be bought, but little is left.
    Low,
    /// It cannot be bought now.
    Unavailable,
    /// Nobody said. Not the same as available.
    Unknown,
}

impl Status {
    const ALL: [Self; 6] = [
        Self::Available,
        Self::BackOrder,
        Self::Discontinued,
        Self::Low,
        Self::Unavailable,
        Self::Unknown,
    ];

    /// The words of the table format.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Available => "available",
            Self::BackOrder => "back order",
            Self::Discontinued => "discontinued",
            Self::Low => "low",
            Self::Unavailable => "unavailable",
            Self::Unknown => "unknown",
        }
    }

    /// Reads the words of the table format, in any case; a hyphen or underscore for the blank is fine.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim().replace(['-', '_'], " ");
        Self::ALL.into_iter().find(|status| status.as_str().eq_ignore_ascii_case(&text))
    }

    /// True when it can be bought today: available or low.
    #[must_use]
    pub fn is_available(self) -> bool {
        matches!(self, Self::Available | Self::Low)
    }
}

/// A currency by its three letters (ISO 4217).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Currency([u8; 3]);

impl Currency {
    /// Reads three letters, in any case.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let letters: [u8; 3] = text.trim().to_ascii_uppercase().into_bytes().try_into().ok()?;
        letters.iter().all(u8::is_ascii_uppercase).then_some(Self(letters))
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|letter| write!(f, "{}", char::from(*letter)))
    }
}

/// Price of one skein.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Price {
    /// Millionths of the currency's unit, 0 or more.
    pub micros: i64,
    /// The currency, when the table says it.
    pub currency: Option<Currency>,
}

/// A trade item number as text of 8, 12, 13 or 14 digits with a right check digit.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Gtin(String);

impl Gtin {
    /// Reads and checks a number. Source: GS1 General Specifications 7.9.1, modulo-10 check digit.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] with a remedy.
    pub fn parse(text: &str) -> Result<Self> {
        let digits = text.trim();
        let bad = |reason: &str, remedy: &str| {
            Error::new(ErrorKind::BadValue {
                value: text.to_owned(),
                reason: reason.to_owned(),
                remedy: remedy.to_owned(),
            })
        };
        if !matches!(digits.len(), 8 | 12 | 13 | 14) || !digits.bytes().all(|b| b.is_ascii_digit())
        {
            return Err(bad(
                "a trade item number has 8, 12, 13 or 14 digits",
                "keep it as text: spreadsheets drop leading zeros and write 6.29E+12",
            ));
        }
        let sum: u32 = digits
            .bytes()
            .rev()
            .zip([1_u32, 3].into_iter().cycle())
            .map(|(digit, weight)| u32::from(digit - b'0') * weight)
            .sum();
        if !sum.is_multiple_of(10) {
            return Err(bad("the check digit is wrong", "compare the number with the label"));
        }
        Ok(Self(digits.to_owned()))
    }

    /// The digits as written.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

fn lab_text(lab: Lab) -> String {
    format!("{} {} {}", lab.l(), lab.a(), lab.b())
}

/// Every field of a thread as text in a fixed order, for the content hash.
pub(super) fn canonical(thread: &Thread) -> Vec<String> {
    let color = &thread.color;
    let number = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    let count = |value: Option<u32>| value.map(|value| value.to_string()).unwrap_or_default();
    vec![
        thread.code.as_str().to_owned(),
        thread.name.clone(),
        // The Lab of a listed color is computed: its last bits may differ between machines.
        color.listed_srgb().map_or_else(|| lab_text(color.lab()), |rgb| rgb.to_string()),
        color.conditions().to_string(),
        color.origin().as_str().to_owned(),
        number(color.uncertainty()),
        thread.finish.as_str().to_owned(),
        thread.fiber.clone().unwrap_or_default(),
        count(thread.strands.map(u32::from)),
        number(thread.skein_metres),
        thread.price.map(|price| price.micros.to_string()).unwrap_or_default(),
        thread.price.and_then(|price| price.currency).map(|c| c.to_string()).unwrap_or_default(),
        count(thread.pack),
        count(thread.minimum),
        thread.status.as_str().to_owned(),
        thread.gtin.as_ref().map(|gtin| gtin.as_str().to_owned()).unwrap_or_default(),
        thread.alternates.iter().map(Code::as_str).collect::<Vec<_>>().join(" "),
    ]
}
