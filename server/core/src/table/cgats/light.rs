//! The illuminant and observer that the keywords of a CGATS table state, in their many spellings.
//! It does not decide what holds when nothing is stated.

use std::borrow::Cow;

use crate::color::{Illuminant, Observer};
use crate::error::{ErrorKind, Place};
use crate::table::report::Report;

/// A value and the line that states it.
type Stated<T> = Option<(T, u64)>;

/// What the keywords of a table say about light and observer.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Light {
    pub(super) illuminant: Stated<Illuminant>,
    pub(super) observer: Stated<Observer>,
}

/// A keyword's line.
#[derive(Clone, Copy, Debug)]
pub(super) struct Keyword<'k> {
    pub(super) name: &'k str,
    pub(super) line: u64,
}

impl Light {
    pub(super) fn is_silent(&self) -> bool {
        self.illuminant.is_none() && self.observer.is_none()
    }

    /// Takes what a keyword says, when it is one that can say it.
    pub(super) fn note(
        &mut self,
        keyword: Keyword<'_>,
        values: &[Cow<'_, str>],
        report: &mut Report,
    ) {
        let value = values.join(" ");
        match keyword.name.to_ascii_uppercase().as_str() {
            "ILLUMINATION_NAME" | "ILLUMINANT" => self.light(&value, keyword, report),
            "OBSERVER_ANGLE" | "OBSERVER" | "STANDARD_OBSERVER" => {
                self.observer(&value, keyword, report);
            }
            "WEIGHTING_FUNCTION" | "COMPUTATIONAL_PARAMETER" => {
                self.pairs(&value, ["ILLUMINANT", "OBSERVER"], keyword, report);
            }
            "MEASUREMENT_SOURCE" => {
                self.pairs(&value, ["ILLUMINATION", "OBSERVERANGLE"], keyword, report);
            }
            _ => {}
        }
    }

    /// Pairs of a name and a value, such as `ILLUMINANT, D50` or `Illumination=D50`.
    fn pairs(&mut self, text: &str, names: [&str; 2], keyword: Keyword<'_>, report: &mut Report) {
        let between = |c: char| c.is_whitespace() || matches!(c, ',' | ';' | '=' | ':' | '"');
        let parts: Vec<&str> = text.split(between).filter(|part| !part.is_empty()).collect();
        for pair in parts.windows(2) {
            let [name, value] = pair else { continue };
            if name.eq_ignore_ascii_case(names[0]) {
                self.light(value, keyword, report);
            } else if name.eq_ignore_ascii_case(names[1]) {
                self.observer(value, keyword, report);
            }
        }
    }

    fn light(&mut self, value: &str, keyword: Keyword<'_>, report: &mut Report) {
        match parse_illuminant(value) {
            Some(light) => keep(&mut self.illuminant, light, value, keyword, report),
            None => {
                let remedy = "A, D50, D65, FL2, FL11 and LED-B3 are known; \
                              export the colors under one of them";
                refuse(value, "an illuminant that is not known here", remedy, keyword, report);
            }
        }
    }

    fn observer(&mut self, value: &str, keyword: Keyword<'_>, report: &mut Report) {
        match parse_observer(value) {
            Some(observer) => keep(&mut self.observer, observer, value, keyword, report),
            None => {
                let remedy = "write 2 degree or 10 degree";
                refuse(value, "an observer that is not known here", remedy, keyword, report);
            }
        }
    }
}

fn keep<T: Copy + PartialEq>(
    stated: &mut Stated<T>,
    found: T,
    value: &str,
    keyword: Keyword<'_>,
    report: &mut Report,
) {
    match stated {
        Some((before, line)) if *before != found => {
            let reason = format!("line {line} states another one");
            refuse(
                value,
                &reason,
                "keep the one that the colors were computed for",
                keyword,
                report,
            );
        }
        Some(_) => {}
        None => *stated = Some((found, keyword.line)),
    }
}

fn refuse(value: &str, reason: &str, remedy: &str, keyword: Keyword<'_>, report: &mut Report) {
    let kind = ErrorKind::BadValue {
        value: value.to_owned(),
        reason: reason.to_owned(),
        remedy: remedy.to_owned(),
    };
    report.problem(kind, Place::cell(keyword.line, keyword.name));
}

/// Reads `D50`, `CIE D50`, `F11`, `LED_B3`.
pub(in crate::table) fn parse_illuminant(text: &str) -> Option<Illuminant> {
    let upper = text.trim().to_ascii_uppercase();
    let bare = upper.strip_prefix("CIE").unwrap_or(&upper).replace([' ', '_', '-'], "");
    match bare.as_str() {
        "F2" => Some(Illuminant::Fl2),
        "F11" => Some(Illuminant::Fl11),
        "LEDB3" => Some(Illuminant::LedB3),
        bare => Illuminant::parse(bare),
    }
}

/// Reads `2`, `10 degree`, `2_Degree`, `2°`, `CIE 1964`.
pub(in crate::table) fn parse_observer(text: &str) -> Option<Observer> {
    let lower = text.trim().to_ascii_lowercase();
    let digits: String = lower.chars().filter(char::is_ascii_digit).collect();
    let rest: String = lower.chars().filter(char::is_ascii_alphabetic).collect();
    if !matches!(rest.as_str(), "" | "deg" | "degree" | "degrees" | "cie") {
        return None;
    }
    match digits.as_str() {
        "2" | "1931" => Some(Observer::TwoDegree),
        "10" | "1964" => Some(Observer::TenDegree),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lights_and_observers_are_read_in_their_spellings() {
        for (text, light) in [
            ("D50", Some(Illuminant::D50)),
            (" cie d65", Some(Illuminant::D65)),
            ("F11", Some(Illuminant::Fl11)),
            ("LED_B3", Some(Illuminant::LedB3)),
            ("a", Some(Illuminant::A)),
            ("C", None),
            ("D5", None),
            ("", None),
        ] {
            assert_eq!(parse_illuminant(text), light, "{text}");
        }
        for (text, observer) in [
            ("2 degree", Some(Observer::TwoDegree)),
            ("10_Degree", Some(Observer::TenDegree)),
            ("10°", Some(Observer::TenDegree)),
            ("CIE 1964", Some(Observer::TenDegree)),
            ("1931", Some(Observer::TwoDegree)),
            ("Custom_CMF", None),
            ("4", None),
            ("", None),
        ] {
            assert_eq!(parse_observer(text), observer, "{text}");
        }
    }
}
