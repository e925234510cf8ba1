//! The smaller facts about a thread: finish, status, price, trade item number.
//! It does not know the file formats that spell them.

use std::fmt::{self, Write};

use super::csv::MAX_CELL_BYTES;
use super::row::{MAX_ALTERNATES, is_fiber};
use super::{Code, Thread, injury};
use crate::error::{Error, ErrorKind, Result};
use crate::spectrum::Reflectance;

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

/// Gives every field of a thread as text in a fixed order, for the content hash.
pub(super) fn canonical(thread: &Thread, buffer: &mut String, mut each: impl FnMut(&str)) {
    let color = &thread.color;
    let price = thread.price;
    let mut give = |value: Option<&dyn fmt::Display>| {
        buffer.clear();
        if let Some(value) = value {
            // Writing to a string cannot fail.
            let _ = write!(buffer, "{value}");
        }
        each(buffer);
    };
    give(Some(&thread.code.as_str()));
    give(Some(&thread.name));
    match color.listed_srgb() {
        // The Lab of a listed color is computed: its last bits may differ between machines.
        Some(rgb) => give(Some(&rgb)),
        None => {
            let lab = color.lab();
            give(Some(&format_args!("{} {} {}", lab.l(), lab.a(), lab.b())));
        }
    }
    give(Some(&color.conditions()));
    give(Some(&color.origin().as_str()));
    // Adding zero turns -0 into 0.
    give(color.uncertainty().map(|units| units + 0.0).as_ref().map(as_display));
    give(Some(&thread.finish.as_str()));
    give(thread.fiber.as_ref().map(as_display));
    give(thread.strands.as_ref().map(as_display));
    give(thread.skein_metres.as_ref().map(as_display));
    give(price.map(|price| price.micros).as_ref().map(as_display));
    give(price.and_then(|price| price.currency).as_ref().map(as_display));
    give(thread.pack.as_ref().map(as_display));
    give(thread.minimum.as_ref().map(as_display));
    give(Some(&thread.status.as_str()));
    give(thread.gtin.as_ref().map(|gtin| gtin.as_str()).as_ref().map(as_display));
    let alternates: Vec<&str> = thread.alternates.iter().map(Code::as_str).collect();
    give(Some(&alternates.join("\n")));
    // Tables without spectra keep the hash that they had before threads could hold one. No other
    // field holds a NUL, so that the extra one cannot be taken for the next thread's code.
    if let Some(spectrum) = &thread.spectrum {
        give(Some(&Sampled(spectrum)));
    }
}

/// A spectrum as the text that enters the hash.
struct Sampled<'s>(&'s Reflectance);

impl fmt::Display for Sampled<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\0spectrum {} {}", self.0.start_nm(), self.0.step_nm())?;
        self.0.values().iter().try_for_each(|value| write!(f, " {value}"))
    }
}

fn as_display<T: fmt::Display>(value: &T) -> &dyn fmt::Display {
    value
}

/// The first field of a thread that is out of its range.
pub(super) fn fault(thread: &Thread) -> Option<ErrorKind> {
    let bad = |value: &dyn fmt::Display, reason: &str| {
        Some(ErrorKind::BadValue {
            value: value.to_string(),
            reason: reason.to_owned(),
            remedy: String::new(),
        })
    };
    if thread.name.contains('\0') || thread.name.len() > MAX_CELL_BYTES {
        return bad(&thread.name, "a name is at most 8192 bytes without NUL");
    }
    if let Some(fiber) = thread.fiber.as_ref().filter(|fiber| !is_fiber(fiber)) {
        return bad(fiber, "a fiber is a word in lower case, at most 64 characters");
    }
    if let Some(strands) = thread.strands.filter(|strands| !(1..=99).contains(strands)) {
        return bad(&strands, "strands are 1 to 99");
    }
    if let Some(metres) = thread.skein_metres.filter(|m| !m.is_finite() || *m <= 0.0) {
        return bad(&metres, "a skein's length is a finite number of metres above 0");
    }
    if let Some(price) = thread.price.filter(|price| price.micros < 0) {
        return bad(&price.micros, "a price is 0 or more");
    }
    if injury::is_failed_formula(thread.code.as_str()) {
        return bad(&thread.code, "this is a failed spreadsheet formula, not a code");
    }
    if thread.alternates.len() > MAX_ALTERNATES {
        return bad(&thread.alternates.len(), "a thread has at most 30 alternates");
    }
    if let Some(rgb) = thread.color.listed_srgb().filter(|_| thread.spectrum.is_some()) {
        return bad(&rgb, "a thread with a reflectance spectrum has a CIELAB color");
    }
    if [thread.pack, thread.minimum].contains(&Some(0)) {
        return bad(&0, "pack and minimum are 1 or more");
    }
    None
}
