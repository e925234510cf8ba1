//! A difference said in words, for people who do not read numbers.
//! It does not know where the words are printed.

use super::{Application, DeltaE, Difference, Formula};
use crate::color::Trust;

/// Upper ends of the first four bands under CIEDE2000 with 1:1:1. House choice built on published
/// thresholds for patches side by side; not a standard.
///
/// CMC(1:1), CIE94 for graphic arts and DIN99o share them by house choice: for near colors their
/// numbers come out alike, within the scatter of what people see.
const REFERENCE: [f64; 4] = [0.5, 1.0, 2.0, 5.0];

/// The same where lightness counts half, as for textiles, which halves neutral steps. House choice.
const TEXTILE: [f64; 4] = [0.3, 0.7, 1.5, 3.5];

/// The same under CIE76, after the observer classes of Mokrzycki and Tatol 2011. HyAB shares them by
/// house choice: it equals CIE76 along an axis, and is made for differences beyond them all.
const LENGTH: [f64; 4] = [1.0, 2.0, 3.5, 5.0];

/// Lightness factor from which the textile bands hold: between 1 and the usual 2.
const TEXTILE_LIGHTNESS: f64 = 1.5;

/// The name of the size of a difference, as people see two patches side by side.
///
/// A rough difference gets no better word than `looks close, not checked`.
#[must_use]
pub fn band(difference: &Difference) -> &'static str {
    let rough = difference.trust != Trust::Measured;
    sized(difference.delta_e.value(), difference.formula, rough)
}

/// The same for a difference between measured colors of which the size alone is known.
#[must_use]
pub fn band_of(delta_e: DeltaE, formula: Formula) -> &'static str {
    sized(delta_e.value(), formula, false)
}

fn sized(value: f64, formula: Formula, rough: bool) -> &'static str {
    let [indistinguishable, identical, close, visible] = ends(formula);
    match value {
        value if value < close && rough => "looks close, not checked",
        value if value < indistinguishable => "indistinguishable",
        value if value < identical => "near-identical",
        value if value < close => "close",
        value if value < visible => "visible side by side",
        _ => "clearly different",
    }
}

/// The upper end of near-identical, by which differences under two formulas can be set side by side.
pub(crate) fn near_identical(formula: Formula) -> f64 {
    let [_, identical, _, _] = ends(formula);
    identical
}

/// The upper end of close, from which a difference is visible side by side.
pub(crate) fn close_below(formula: Formula) -> f64 {
    let [_, _, close, _] = ends(formula);
    close
}

fn ends(formula: Formula) -> [f64; 4] {
    let lightness = match formula {
        Formula::Cie76 | Formula::Hyab => return LENGTH,
        Formula::Cie94(Application::Textile) => return TEXTILE,
        Formula::Cie94(Application::GraphicArts) | Formula::Din99o => return REFERENCE,
        Formula::Ciede2000(factors) => factors.l(),
        Formula::Cmc(ratio) => ratio.l(),
    };
    if lightness >= TEXTILE_LIGHTNESS { TEXTILE } else { REFERENCE }
}

/// Smallest part, in CIELAB units, that is worth a word.
const WORTH_A_WORD: f64 = 0.5;

/// Chroma from which a color has a hue that people name. House choice.
const COLORED: f64 = 10.0;

/// Part of the nearer axis that another one must have across the mean hue to be as near: within ten
/// degrees of the diagonals. House choice.
const AS_NEAR: f64 = 0.7;

/// Cosine of the largest hue difference, 45 degrees, over which `stronger` has a meaning. House choice.
const ONE_HUE: f64 = 0.707;

/// The signed parts in words, largest first, such as `lighter and a bit greener`; empty when no part
/// is worth a word. The words speak of the sample, as seen from the standard.
///
/// Two colors of about one hue are told apart by chroma and hue (`stronger`, `duller` and one way
/// around the color circle), and so is a vivid color that turns gray; all others by a* and b*. A word for the hue is only said where the part
/// along its axis has its sign and is worth a word: no word contradicts the numbers beside it.
#[must_use]
pub fn describe(difference: &Difference) -> String {
    let mut parts = vec![Part::new(difference.lightness, "lighter", "darker")];
    parts.extend(of_one_hue(difference).unwrap_or_else(|| along_axes(difference).into()));
    parts.retain(|part| part.size >= WORTH_A_WORD);
    parts.sort_by(|left, right| right.size.total_cmp(&left.size));
    let words: Vec<String> =
        parts.iter().map(|part| format!("{}{}", degree(part.size), part.word)).collect();
    match words.as_slice() {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// A word with the size of its part.
struct Part {
    size: f64,
    word: &'static str,
}

impl Part {
    fn new(part: f64, positive: &'static str, negative: &'static str) -> Self {
        Self { size: part.abs(), word: if part > 0.0 { positive } else { negative } }
    }

    fn redder(part: f64) -> Self {
        Self::new(part, "redder", "greener")
    }

    fn yellower(part: f64) -> Self {
        Self::new(part, "yellower", "bluer")
    }
}

fn along_axes(difference: &Difference) -> [Part; 2] {
    [Part::redder(difference.a), Part::yellower(difference.b)]
}

/// Chroma and hue. None when the two are of other hues and the difference is one of hue, or when the
/// hue moves most and no word for it would be true.
fn of_one_hue(difference: &Difference) -> Option<Vec<Part>> {
    let Difference { standard, chroma, hue, a, b, .. } = difference;
    let (first, second) = (standard.chroma(), standard.chroma() + chroma);
    let [_, a1, b1] = standard.components();
    let (a2, b2) = (a1 + a, b1 + b);
    let one_hue = second >= COLORED && a1 * a2 + b1 * b2 >= ONE_HUE * first * second;
    // A vivid color that turns gray has lost its hue rather than changed it.
    let fades = *chroma < -hue.abs();
    if first < COLORED || !(one_hue || fades) {
        return None;
    }
    let stronger = Part::new(*chroma, "stronger", "duller");
    let turned = if one_hue && hue.abs() >= WORTH_A_WORD { turn(difference) } else { None };
    match turned {
        Some(turned) => Some(vec![stronger, turned]),
        None if chroma.abs() >= hue.abs() || hue.abs() < WORTH_A_WORD => Some(vec![stronger]),
        None => None,
    }
}

/// The word for the way around the color circle: along the axis that lies nearer across the mean
/// hue, or along the other one where both are about as near. None when it would contradict.
fn turn(difference: &Difference) -> Option<Part> {
    let Difference { standard, chroma, hue, a, b, .. } = difference;
    let (first, second) = (standard.chroma(), standard.chroma() + chroma);
    let [_, a1, b1] = standard.components();
    let (a2, b2) = (a1 + a, b1 + b);
    // Across the mean hue, in the direction of growing angles.
    let (across_a, across_b) = (-(b1 / first + b2 / second), a1 / first + a2 / second);
    let nearer = across_a.abs().max(across_b.abs());
    let red: Axis = (across_a, *a, Part::redder);
    let yellow: Axis = (across_b, *b, Part::yellower);
    let axes = if across_a.abs() > across_b.abs() { [red, yellow] } else { [yellow, red] };
    axes.into_iter().filter(|(across, ..)| across.abs() >= AS_NEAR * nearer).find_map(
        |(across, part, word)| {
            let turned = hue.abs().copysign(across * hue);
            (turned * part > 0.0 && part.abs() >= WORTH_A_WORD).then(|| word(turned))
        },
    )
}

/// How much of it goes across the mean hue, the part along it, and its word.
type Axis = (f64, f64, fn(f64) -> Part);

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
    use crate::difference::Ratio;
    use crate::math;

    fn sized(value: f64, formula: Formula, trust: Trust) -> Difference {
        Difference {
            delta_e: DeltaE::new(value).unwrap(),
            formula,
            standard: Lab::new(50.0, 0.0, 0.0).unwrap(),
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
        for (formula, value, word) in [
            (Formula::CIEDE2000_TEXTILE, 1.6, "visible side by side"),
            (Formula::DEFAULT, 1.6, "close"),
            (Formula::Cie76, 1.6, "near-identical"),
            (Formula::Hyab, 1.6, "near-identical"),
            (Formula::Din99o, 1.6, "close"),
            (Formula::CMC_ACCEPTABILITY, 1.6, "visible side by side"),
            (Formula::CMC_PERCEPTIBILITY, 1.6, "close"),
            (Formula::Cmc(Ratio::new(1.5, 1.0).unwrap()), 1.6, "visible side by side"),
            (Formula::Cie94(Application::Textile), 1.6, "visible side by side"),
            (Formula::Cie94(Application::GraphicArts), 1.6, "close"),
            (Formula::CIEDE2000_TEXTILE, 3.5, "clearly different"),
        ] {
            assert_eq!(band(&sized(value, formula, Trust::Measured)), word, "{formula}");
        }
    }

    #[test]
    fn parts_are_said_largest_first_with_their_degree() {
        for (sample, said) in [
            ((50.0, 1.0, 1.0), ""),
            ((50.4, 1.4, 0.6), ""),
            ((51.0, 1.0, 1.0), "slightly lighter"),
            ((48.0, 1.0, 1.0), "a bit darker"),
            ((56.0, -2.0, 1.0), "lighter and a bit greener"),
            ((50.0, 13.0, 1.0), "much redder"),
            ((44.0, 4.0, 0.0), "darker, a bit redder and slightly bluer"),
            ((50.0, 1.0, 6.0), "yellower"),
        ] {
            assert_eq!(words((50.0, 1.0, 1.0), sample), said, "{sample:?}");
        }
    }

    #[test]
    fn colors_of_one_hue_are_stronger_or_duller() {
        for (standard, sample, said) in [
            // A red that has lost red is no greener.
            ((40.0, 50.0, 20.0), (40.0, 45.0, 18.0), "duller"),
            ((40.0, 50.0, 20.0), (42.0, 53.0, 21.2), "a bit stronger and a bit lighter"),
            ((40.0, 50.0, 20.0), (40.0, 49.0, 26.0), "yellower and a bit stronger"),
            ((60.0, -30.0, 4.0), (60.0, -30.0, -1.0), "bluer"),
            ((35.0, 20.0, -50.0), (35.0, 26.0, -46.0), "redder and slightly duller"),
            // Around the circle it is greener as much as yellower, but a* has not changed.
            ((50.0, 10.0, 10.0), (50.0, 10.0, 15.0), "a bit stronger and a bit yellower"),
            // A vivid red turned gray, or dull and toward orange while b* falls: duller, not greener.
            ((50.0, 70.0, 40.0), (50.0, 8.0, 3.0), "much duller"),
            ((45.0, 60.0, 30.0), (45.0, 35.0, 25.0), "much duller"),
            ((45.0, 60.0, 30.0), (47.0, 31.0, 9.0), "much duller, bluer and a bit lighter"),
            ((45.0, 60.0, 30.0), (38.0, 0.0, 0.0), "much duller and darker"),
            // Hue 17 to 12: the way around the circle points to blue, and b* falls.
            ((50.0, 40.0, 12.0), (50.0, 41.0, 9.0), "a bit bluer"),
        ] {
            assert_eq!(words(standard, sample), said, "{standard:?} {sample:?}");
        }
    }

    #[test]
    fn neutrals_and_other_hues_are_told_apart_by_axes() {
        for (standard, sample, said) in [
            ((50.0, 0.0, 0.0), (50.0, 20.0, 0.0), "much redder"),
            ((50.0, 9.0, 0.0), (50.0, 6.0, 0.0), "a bit greener"),
            ((50.0, 40.0, 0.0), (50.0, -39.0, 0.0), "much greener"),
            ((50.0, 40.0, 0.0), (50.0, 0.0, 40.0), "much greener and much yellower"),
        ] {
            assert_eq!(words(standard, sample), said, "{standard:?} {sample:?}");
        }
    }

    #[test]
    fn no_word_contradicts_the_sign_of_its_part() {
        let steps = [-61.0, -40.3, -9.7, -3.0, 0.0, 2.1, 17.5, 33.0, 58.2];
        let colors: Vec<(f64, f64, f64)> =
            steps.iter().flat_map(|a| steps.map(|b| (50.0 + a / 10.0, *a, b))).collect();
        for standard in &colors {
            for (step, sample) in colors.iter().enumerate() {
                // Near as well as far.
                let by = [1.0, 0.1, 0.02][step % 3];
                let toward = |from: f64, to: f64| from + by * (to - from);
                let sample = (
                    toward(standard.0, sample.0),
                    toward(standard.1, sample.1),
                    toward(standard.2, sample.2),
                );
                let said = words(*standard, sample);
                let chroma = math::hypot(sample.1, sample.2) - math::hypot(standard.1, standard.2);
                for (word, part) in [
                    ("lighter", sample.0 - standard.0),
                    ("darker", standard.0 - sample.0),
                    ("redder", sample.1 - standard.1),
                    ("greener", standard.1 - sample.1),
                    ("yellower", sample.2 - standard.2),
                    ("bluer", standard.2 - sample.2),
                    ("stronger", chroma),
                    ("duller", -chroma),
                ] {
                    let allowed = part > WORTH_A_WORD - 1e-9 || !said.contains(word);
                    assert!(allowed, "{standard:?} {sample:?}: {said}");
                }
            }
        }
    }

    #[test]
    fn swapping_the_colors_turns_each_word_into_its_opposite() {
        for (one, other, there, back) in [
            (
                (40.0, 20.0, -8.0),
                (47.0, 17.5, -2.5),
                "lighter, yellower and a bit duller",
                "darker, bluer and a bit stronger",
            ),
            (
                (40.0, 2.0, -8.0),
                (47.0, 1.0, 2.5),
                "much yellower, lighter and slightly greener",
                "much bluer, darker and slightly redder",
            ),
        ] {
            assert_eq!(words(one, other), there);
            assert_eq!(words(other, one), back);
        }
    }
}
