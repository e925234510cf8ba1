//! What was typed, checked: numbers in range, words known, defaults filled in.
//! It opens no file and asks no table.

use dyekin_core::color::AdaptationMethod;
use dyekin_core::difference::Measure as OfPairs;
use dyekin_core::nearest::{MAX_COUNT, ThreadFilter};
use dyekin_core::spectrum::Lights;
use dyekin_core::table::{Currency, Finish, Price};
use dyekin_core::{Conditions, DeltaE, Formula, Origin};

use crate::cli::{FilterArgs, LightsArgs, MeasureArgs, ReadingArgs};
use crate::failure::{Failure, Result};

/// What holds for colors that do not state it themselves.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Reading {
    pub(crate) conditions: Option<Conditions>,
    pub(crate) origin: Option<Origin>,
    pub(crate) alpha_first: bool,
    /// Which of several measurements of a file is meant.
    pub(crate) measurement: Option<String>,
}

impl Reading {
    pub(crate) fn checked(typed: &ReadingArgs) -> Result<Self> {
        let conditions = typed.white.as_deref().map(conditions).transpose()?;
        let origin = typed.origin.as_deref().map(origin).transpose()?;
        let measurement = typed.measurement.as_deref().map(measurement).transpose()?;
        Ok(Self { conditions, origin, alpha_first: typed.alpha_first, measurement })
    }
}

/// How differences are measured and where a match ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Measure {
    pub(crate) formula: Formula,
    /// How measured colors under different lights are compared; `None` refuses them.
    pub(crate) adaptation: Option<AdaptationMethod>,
    pub(crate) limit: Option<DeltaE>,
}

impl Measure {
    pub(crate) fn checked(typed: &MeasureArgs) -> Result<Self> {
        let limit = typed.within.map(|value| difference("--within", value)).transpose()?;
        Ok(Self { formula: formula(&typed.formula)?, adaptation: typed.adapt.adapt, limit })
    }

    /// The part of it that a single difference needs.
    pub(crate) fn of_pairs(self) -> OfPairs {
        OfPairs { formula: self.formula, adaptation: self.adaptation }
    }
}

/// Which threads may answer, before codes are looked up.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Wanted {
    /// Everything but the excluded codes.
    pub(crate) filter: ThreadFilter,
    /// True when the user named finishes, or `any`.
    pub(crate) finish_stated: bool,
    /// Codes as typed.
    pub(crate) exclude: Vec<String>,
}

impl Wanted {
    pub(crate) fn checked(typed: &FilterArgs) -> Result<Self> {
        let filter = ThreadFilter {
            available_only: typed.available,
            finishes: finishes(&typed.finish)?,
            fibers: typed.fiber.iter().map(|fiber| fiber.trim().to_lowercase()).collect(),
            excluded: Vec::new(),
            max_price: typed
                .max_price
                .as_deref()
                .map(|text| price("--max-price", text))
                .transpose()?,
        };
        Ok(Self { filter, finish_stated: !typed.finish.is_empty(), exclude: typed.exclude.clone() })
    }
}

/// Checks a difference that was typed behind an option.
pub(crate) fn difference(option: &str, value: f64) -> Result<DeltaE> {
    DeltaE::new(value).map_err(|_| {
        Failure::said(
            format!("{option} {value}: a difference is a number, 0 or more"),
            format!("write for example {option} 5.0"),
        )
    })
}

/// Checks how many threads are asked for.
pub(crate) fn count(option: &str, value: usize) -> Result<usize> {
    if (1..=MAX_COUNT).contains(&value) {
        return Ok(value);
    }
    Err(Failure::said(
        format!("{option} {value}: outside 1 to {MAX_COUNT}"),
        format!("ask for at least 1 and at most {MAX_COUNT} threads"),
    ))
}

/// Checks the lights that rank.
pub(crate) fn lights(typed: &LightsArgs) -> Result<Option<Lights>> {
    let read = |text: &str| {
        Lights::parse(text).map_err(|error| {
            let hint = error.hint().unwrap_or_default();
            Failure::said(format!("--lights {}", error.kind()), hint)
        })
    };
    typed.lights.as_deref().map(read).transpose()
}

fn conditions(text: &str) -> Result<Conditions> {
    Conditions::parse(text).ok_or_else(|| {
        unknown("--white", text, "lights are A, D50, D65, FL2, FL11 and LED-B3, observers 2 and 10: write for example D65/10")
    })
}

fn measurement(text: &str) -> Result<String> {
    match text.trim() {
        "" => {
            Err(unknown("--measurement", text, "write M0, M1, M2 or M3, or a specification's Id"))
        }
        named => Ok(named.to_owned()),
    }
}

fn origin(text: &str) -> Result<Origin> {
    Origin::parse(text)
        .ok_or_else(|| unknown("--origin", text, "write screen, scan, meter, spectrum or unknown"))
}

/// Checks a formula with its parameters.
pub(crate) fn formula(text: &str) -> Result<Formula> {
    Formula::parse(text).map_err(|error| {
        let hint = error.hint().unwrap_or_default();
        Failure::said(format!("--formula {}", error.kind()), hint)
    })
}

fn finishes(words: &[String]) -> Result<Vec<Finish>> {
    if words.iter().any(|word| word.trim().eq_ignore_ascii_case("any")) {
        return Ok(Vec::new());
    }
    words
        .iter()
        .map(|word| {
            Finish::parse(word).ok_or_else(|| {
                unknown("--finish", word, "write plain, metallic, variegated, fluorescent or any")
            })
        })
        .collect()
}

/// Digits behind the point of a price in millionths.
const PRICE_DIGITS: usize = 6;

/// Checks a price that was typed behind an option.
pub(crate) fn price(option: &str, text: &str) -> Result<Price> {
    let bad = || unknown(option, text, "write for example 2.50 or \"2.50 EUR\"");
    let mut parts = text.split_whitespace();
    let (Some(amount), currency, None) = (parts.next(), parts.next(), parts.next()) else {
        return Err(bad());
    };
    let (whole, part) = amount.split_once('.').unwrap_or((amount, ""));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if whole.is_empty() || part.len() > PRICE_DIGITS || !digits(whole) || !digits(part) {
        return Err(bad());
    }
    let micros = format!("{whole}{part:0<PRICE_DIGITS$}").parse().map_err(|_| bad())?;
    let currency = currency.map(|word| Currency::parse(word).ok_or_else(bad)).transpose()?;
    Ok(Price { micros, currency })
}

fn unknown(option: &str, text: &str, hint: &str) -> Failure {
    let shown = dyekin_core::error::shown(text);
    Failure::said(format!("{option} `{shown}`: not understood"), hint)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prices_keep_their_millionths() {
        assert_eq!(
            price("--max-price", "2.50").unwrap(),
            Price { micros: 2_500_000, currency: None }
        );
        let euro = Currency::parse("EUR");
        assert_eq!(
            price("--max-price", "0.1 eur").unwrap(),
            Price { micros: 100_000, currency: euro }
        );
        for text in ["", "-1", "1e3", "2,50", "2.50 EURO", "1 EUR now", "0.0000001"] {
            assert!(price("--max-price", text).is_err(), "{text}");
        }
    }

    #[test]
    fn any_finish_means_no_filter() {
        assert_eq!(finishes(&["any".to_owned()]).unwrap(), []);
        assert_eq!(finishes(&["Metallic".to_owned()]).unwrap(), [Finish::Metallic]);
        assert!(finishes(&["shiny".to_owned()]).is_err());
    }

    #[test]
    fn counts_outside_the_range_are_refused() {
        assert!(count("--count", 0).is_err());
        assert!(count("--count", MAX_COUNT + 1).is_err());
        assert_eq!(count("--count", 1).unwrap(), 1);
    }
}
