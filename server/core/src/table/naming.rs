//! Codes for files that have none: the names where each color has one of its own, else numbers.
//! It does not know formats; one decision holds for a whole file.

use std::collections::HashMap;

use super::report::Report;
use super::{Code, injury};

/// A color that needs a code.
#[derive(Clone, Copy, Debug)]
pub(super) struct Nameless<'n> {
    pub(super) name: &'n str,
    /// The color as text; equal texts are equal colors.
    pub(super) color: &'n str,
}

/// How the colors of one file get their codes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Naming {
    /// The name is the code.
    Names,
    /// The number of the color in the file is the code.
    Numbers,
}

impl Naming {
    /// Decides for a whole file. A name given twice to one color is still its own.
    pub(super) fn decide<'n>(colors: impl Iterator<Item = Nameless<'n>>) -> Self {
        let mut by_key: HashMap<String, &str> = HashMap::new();
        for Nameless { name, color } in colors {
            if injury::is_failed_formula(name) {
                return Self::Numbers;
            }
            let Ok(code) = Code::parse(name) else { return Self::Numbers };
            if *by_key.entry(code.key().to_owned()).or_insert(color) != color {
                return Self::Numbers;
            }
        }
        Self::Names
    }

    /// Says how `what`, such as `a palette`, got its codes.
    pub(super) fn tell(self, what: &str, report: &mut Report) {
        let how = match self {
            Self::Names => "each color's name is its code",
            Self::Numbers => {
                "not every color has a name of its own, so each code is the color's number in \
                 the file and changes with the order"
            }
        };
        report.notice(None, format!("{what} has no codes: {how}"));
    }

    /// The code of a color with this name and number.
    pub(super) fn code(self, name: &str, number: usize) -> String {
        match self {
            Self::Names => name.to_owned(),
            Self::Numbers => number.to_string(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_codes_only_when_each_color_has_its_own() {
        let decide = |colors: &[(&'static str, &'static str)]| {
            Naming::decide(colors.iter().map(|(name, color)| Nameless { name, color }))
        };
        for (colors, expected) in [
            (&[("Moss", "1"), ("Ice", "2")][..], Naming::Names),
            (&[("Moss", "1"), ("moss ", "1")], Naming::Names),
            (&[("Moss", "1"), ("MOSS", "2")], Naming::Numbers),
            (&[("Moss", "1"), ("", "2")], Naming::Numbers),
            (&[("Mo\u{7}ss", "1")], Naming::Numbers),
            (&[("#REF!", "1")], Naming::Numbers),
            (&[], Naming::Names),
        ] {
            assert_eq!(decide(colors), expected, "{colors:?}");
        }
    }
}
