//! What a command says: words that text and JSON share.
//! It does not know where the words go.

pub(crate) mod affected;
pub(crate) mod changes;
pub(crate) mod check;
pub(crate) mod clean;
pub(crate) mod curve;
pub(crate) mod growing;
pub(crate) mod half_way;
pub(crate) mod json;
pub(crate) mod light;
mod supply;
pub(crate) mod text;

use dyekin_core::color::Trust;
use dyekin_core::difference::{band, describe};
use dyekin_core::{Color, Difference, Formula, Thread};

/// A difference as people read it: one decimal and `~` from a picture of a color, two from a meter.
pub(crate) fn number(difference: &Difference) -> String {
    rounded(difference.delta_e.value(), difference.trust)
}

/// A number in difference units as people read it; one that rests on adaptation says so.
pub(crate) fn rounded(value: f64, trust: Trust) -> String {
    match trust {
        Trust::Measured => format!("{value:.2}"),
        Trust::Adapted(method) => format!("~{value:.1} adapted by {method}"),
        Trust::Rough => format!("~{value:.1}"),
    }
}

/// A difference in words, such as `visible side by side: the new one is lighter (~3.2)`.
pub(crate) fn verdict(difference: &Difference, same_listed: bool, subject: &str) -> String {
    if same_listed {
        return "same listed value".to_owned();
    }
    let parts = describe(difference);
    let parts = if parts.is_empty() { parts } else { format!("{subject} is {parts}") };
    sized(difference, &parts)
}

/// The size of a difference alone, such as `visible side by side (~3.2)`.
pub(crate) fn size(difference: &Difference) -> String {
    sized(difference, "")
}

fn sized(difference: &Difference, parts: &str) -> String {
    // The usual formula goes without saying; every other one has its own units and bands.
    let usual = difference.formula == Formula::DEFAULT;
    let unit = if usual { String::new() } else { format!(" {}", difference.formula) };
    let words: Vec<&str> =
        [band(difference), parts].into_iter().filter(|part| !part.is_empty()).collect();
    format!("{} ({}{unit})", words.join(": "), number(difference))
}

/// True when both were listed with the very same sRGB value, which is not the same as looking alike.
pub(crate) fn same_listed(standard: &Color, sample: &Color) -> bool {
    standard.listed_srgb().is_some() && standard.listed_srgb() == sample.listed_srgb()
}

/// What must be known of a thread before it is bought; empty when nothing must.
pub(crate) fn availability(thread: &Thread) -> &'static str {
    use dyekin_core::table::Status;
    match thread.status {
        Status::Available | Status::Unknown => "",
        Status::BackOrder => "back order",
        Status::Discontinued => "discontinued",
        Status::Low => "low",
        Status::Unavailable => "unavailable",
    }
}

/// One line of advice where a decision is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Caution {
    /// What a blend is good for.
    Blend,
    /// Buy at once, one lot.
    Lot,
    /// Only artwork that one may use.
    Rights,
    /// Screen colors are approximate.
    Screen,
    /// Threads can bleed.
    Wet,
}

impl Caution {
    /// The advice.
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Blend => dyekin_core::blend::CAUTION,
            Self::Lot => {
                "Buy all you need at once, of one lot if a lot is printed; never mix lots inside one area."
            }
            Self::Rights => "Convert only artwork you have the rights to.",
            Self::Screen => {
                "Screen colors are approximate: buy one skein of each of the best three and compare them \
                 in daylight and in the light where the piece will hang."
            }
            Self::Wet => {
                "Before you stitch, wet the thread, blot it on white and let it dry: dark, vivid and red \
                 ones first."
            }
        }
    }
}

/// A whole number with commas between thousands.
pub(crate) fn thousands(number: u64) -> String {
    let digits = number.to_string();
    let mut out = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// `1 stitch`, `2,310 stitches`.
pub(crate) fn counted(number: u64, one: &str, many: &str) -> String {
    format!("{} {}", thousands(number), if number == 1 { one } else { many })
}

#[cfg(test)]
mod tests {
    use dyekin_core::Srgb8;

    use super::*;

    fn screen(hex: &str) -> Color {
        Color::screen(Srgb8::parse_hex(hex).unwrap())
    }

    fn between(standard: &str, sample: &str, formula: Formula) -> String {
        let (standard, sample) = (screen(standard), screen(sample));
        let difference = Difference::between(&standard, &sample, formula).unwrap();
        verdict(&difference, same_listed(&standard, &sample), "the new one")
    }

    #[test]
    fn rough_differences_are_never_called_checked_or_equal() {
        assert_eq!(between("#4a6b3c", "#4a6b3c", Formula::DEFAULT), "same listed value");
        let close = between("#4a6b3c", "#4b6b3c", Formula::DEFAULT);
        assert!(close.starts_with("looks close, not checked"), "{close}");
        assert!(close.contains("(~"), "{close}");
    }

    #[test]
    fn another_formula_names_itself_and_has_its_own_bands() {
        let words = between("#4a6b3c", "#5a7b4c", Formula::Cie76);
        assert!(words.ends_with("CIE76)"), "{words}");
        let cut = |formula| between("#4a6b3c", "#4e6f40", formula);
        assert!(cut(Formula::DEFAULT).starts_with("looks close"), "{}", cut(Formula::DEFAULT));
        let textile = cut(Formula::CMC_ACCEPTABILITY);
        assert!(textile.ends_with("CMC 2:1)"), "{textile}");
    }

    #[test]
    fn thousands_are_separated() {
        assert_eq!(thousands(0), "0");
        assert_eq!(thousands(999), "999");
        assert_eq!(thousands(1_234_567), "1,234,567");
        assert_eq!(counted(1, "stitch", "stitches"), "1 stitch");
    }
}
