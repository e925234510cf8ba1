//! A difference said in words, for people who do not read numbers.
//! It does not know where the words are printed.

use super::{Difference, Formula};
use crate::color::Trust;

/// Upper ends of the first four bands under CIEDE2000 with 1:1:1. House choice built on published
/// thresholds for patches side by side; not a standard.
const REFERENCE: [f64; 4] = [0.5, 1.0, 2.0, 5.0];

/// The same with a lightness factor for textiles, which halves neutral steps. House choice.
const TEXTILE: [f64; 4] = [0.3, 0.7, 1.5, 3.5];

/// The same under CIE76, after the observer classes of Mokrzycki and Tatol 2011.
const LENGTH: [f64; 4] = [1.0, 2.0, 3.5, 5.0];

/// kL from which the textile bands hold: between 1:1:1 and the usual 2:1:1.
const TEXTILE_LIGHTNESS: f64 = 1.5;

/// The name of the size of a difference, as people see two patches side by side.
///
/// A rough difference gets no better word than `looks close, not checked`.
#[must_use]
pub fn band(difference: &Difference) -> &'static str {
    let value = difference.delta_e.value();
    let [indistinguishable, identical, close, visible] = ends(difference.formula);
    let rough = difference.trust != Trust::Measured;
    match value {
        value if value < close && rough => "looks close, not checked",
        value if value < indistinguishable => "indistinguishable",
        value if value < identical => "near-identical",
        value if value < close => "close",
        value if value < visible => "visible side by side",
        _ => "clearly different",
    }
}

fn ends(formula: Formula) -> [f64; 4] {
    match formula {
        Formula::Cie76 => LENGTH,
        Formula::Ciede2000(factors) if factors.l() >= TEXTILE_LIGHTNESS => TEXTILE,
        Formula::Ciede2000(_) => REFERENCE,
    }
}

/// Smallest part, in CIELAB units, that is worth a word.
const WORTH_A_WORD: f64 = 0.5;

/// The signed parts in words, largest first, such as `lighter and a bit greener`; empty when no part
/// is worth a word. The words speak of the sample, as seen from the standard.
#[must_use]
pub fn describe(difference: &Difference) -> String {
    let mut parts: Vec<(f64, &str)> = vec![
        (difference.lightness, if difference.lightness > 0.0 { "lighter" } else { "darker" }),
        (difference.a, if difference.a > 0.0 { "redder" } else { "greener" }),
        (difference.b, if difference.b > 0.0 { "yellower" } else { "bluer" }),
    ];
    parts.retain(|(size, _)| size.abs() >= WORTH_A_WORD);
    parts.sort_by(|left, right| right.0.abs().total_cmp(&left.0.abs()));
    let words: Vec<String> =
        parts.iter().map(|(size, word)| format!("{}{word}", degree(size.abs()))).collect();
    match words.as_slice() {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

fn degree(size: f64) -> &'static str {
    match size {
        size if size < 1.5 => "slightly ",
        size if size < 4.0 => "a bit ",
        size if size < 10.0 => "",
        _ => "much ",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::{Color, Conditions, Lab, Origin};
    use crate::difference::{DeltaE, Factors};

    fn sized(value: f64, formula: Formula, trust: Trust) -> Difference {
        Difference {
            delta_e: DeltaE::new(value).unwrap(),
            formula,
            lightness: 0.0,
            chroma: 0.0,
            hue: 0.0,
            a: 0.0,
            b: 0.0,
            trust,
        }
    }

    fn words(standard: (f64, f64, f64), sample: (f64, f64, f64)) -> String {
        let color = |(l, a, b)| {
            let lab = Lab::new(l, a, b).unwrap();
            Color::lab_under(lab, Conditions::TEXTILE, Origin::Meter)
        };
        let (standard, sample) = (color(standard), color(sample));
        describe(&Difference::between(&standard, &sample, Formula::DEFAULT).unwrap())
    }

    #[test]
    fn bands_of_measured_differences_start_at_their_lower_end() {
        for (value, word) in [
            (0.0, "indistinguishable"),
            (0.499, "indistinguishable"),
            (0.5, "near-identical"),
            (1.0, "close"),
            (2.0, "visible side by side"),
            (4.999, "visible side by side"),
            (5.0, "clearly different"),
            (120.0, "clearly different"),
        ] {
            assert_eq!(band(&sized(value, Formula::DEFAULT, Trust::Measured)), word, "{value}");
        }
    }

    #[test]
    fn a_rough_difference_is_never_called_more_than_looking_close() {
        for (value, word) in [
            (0.0, "looks close, not checked"),
            (1.99, "looks close, not checked"),
            (2.0, "visible side by side"),
            (5.0, "clearly different"),
        ] {
            assert_eq!(band(&sized(value, Formula::DEFAULT, Trust::Rough)), word, "{value}");
        }
    }

    #[test]
    fn each_formula_has_its_own_bands() {
        let textile = Formula::Ciede2000(Factors::new(2.0, 1.0, 1.0).unwrap());
        for (formula, value, word) in [
            (textile, 1.6, "visible side by side"),
            (Formula::DEFAULT, 1.6, "close"),
            (Formula::Cie76, 1.6, "near-identical"),
            (textile, 3.5, "clearly different"),
        ] {
            assert_eq!(band(&sized(value, formula, Trust::Measured)), word, "{formula}");
        }
    }

    #[test]
    fn parts_are_said_largest_first_with_their_degree() {
        for (sample, said) in [
            ((50.0, 10.0, 10.0), ""),
            ((50.4, 10.4, 9.6), ""),
            ((51.0, 10.0, 10.0), "slightly lighter"),
            ((48.0, 10.0, 10.0), "a bit darker"),
            ((56.0, 7.0, 10.0), "lighter and a bit greener"),
            ((50.0, 22.0, 10.0), "much redder"),
            ((44.0, 13.0, 9.0), "darker, a bit redder and slightly bluer"),
            ((50.0, 10.0, 15.0), "yellower"),
        ] {
            assert_eq!(words((50.0, 10.0, 10.0), sample), said, "{sample:?}");
        }
    }

    #[test]
    fn swapping_the_colors_turns_each_word_into_its_opposite() {
        let (one, other) = ((40.0, 20.0, -8.0), (47.0, 17.5, -2.5));
        assert_eq!(words(one, other), "lighter, yellower and a bit greener");
        assert_eq!(words(other, one), "darker, bluer and a bit redder");
    }
}
