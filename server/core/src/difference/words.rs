//! A difference said in words, for people who do not read numbers.
//! It does not know where the words are printed.

use super::Difference;
use crate::color::Trust;

/// The name of the size of a CIEDE2000 difference, as people see two patches side by side.
///
/// Bands: house choice built on published thresholds; not a standard.
#[must_use]
pub fn band(difference: &Difference) -> &'static str {
    let rough = difference.trust == Trust::Rough;
    match difference.delta_e.value() {
        value if value < 1.0 && rough => "looks close, not checked",
        value if value < 0.5 => "indistinguishable",
        value if value < 1.0 => "near-identical",
        value if value < 2.0 && rough => "looks close, not checked",
        value if value < 2.0 => "close",
        value if value < 5.0 => "visible side by side",
        _ => "clearly different",
    }
}

/// Smallest part, in CIELAB units, that is worth a word.
const WORTH_A_WORD: f64 = 0.5;

/// The signed parts in words, such as `lighter and a bit greener`; empty when no part is worth one.
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
