//! Published numbers against the formulas and conversions of dyekin-core.
//! It does not know how they are computed.
//!
//! Sources and tolerances of the files: `tests/data/README.md`.

mod light;
mod mixes;

use dyekin_core::difference::{Application, Pair, gray_scale};
use dyekin_core::{Formula, Lab, Srgb8};
use dyekin_tests::reference_rows;
use palette::color_difference::Ciede2000;

/// Half a unit of the fourth decimal, and room for its rounding.
const FOUR_DECIMALS: f64 = 5.1e-5;

/// `palette` adds 360 degrees to every mean hue that wraps, the paper subtracts from large ones.
const ORACLE: f64 = 2e-4;

fn numbers(fields: &[String]) -> Vec<f64> {
    fields.iter().map(|field| field.parse().expect("a number")).collect()
}

fn lab(values: &[f64]) -> Lab {
    Lab::new(values[0], values[1], values[2]).expect("a color in range")
}

fn both_ways(formula: Formula, one: Lab, other: Lab) -> [f64; 2] {
    [(one, other), (other, one)]
        .map(|(standard, sample)| formula.delta_e(Pair { standard, sample }).value())
}

#[test]
fn ciede2000_gives_the_34_published_values_in_both_orders() {
    let rows = reference_rows("ciede2000.csv");
    assert_eq!(rows.len(), 34);
    for row in &rows {
        let row = numbers(row);
        for value in both_ways(Formula::DEFAULT, lab(&row[1..4]), lab(&row[4..7])) {
            assert!((value - row[7]).abs() < FOUR_DECIMALS, "pair {}: {value}", row[0]);
            assert!((value - row[8]).abs() < 1e-9, "pair {}: {value}", row[0]);
        }
    }
}

/// Pairs 10 and 14 have hues exactly 180 degrees apart but for rounding, pairs 9, 11, 13 and 15 lie
/// 0.002 degrees to either side. The other branch gives 7.2195 and 4.7461 for 10 and 14.
#[test]
fn hues_almost_exactly_180_degrees_apart_take_the_published_branch() {
    let rows = reference_rows("ciede2000.csv");
    for (place, published) in
        [(8, 7.1792), (9, 7.1792), (10, 7.2195), (12, 4.8045), (13, 4.8045), (14, 4.7461)]
    {
        let row = numbers(&rows[place]);
        assert!((row[7] - published).abs() < 1e-9, "pair {}", row[0]);
        for value in both_ways(Formula::DEFAULT, lab(&row[1..4]), lab(&row[4..7])) {
            assert!((value - published).abs() < FOUR_DECIMALS, "pair {}: {value}", row[0]);
        }
    }
}

/// Eq. 14 halves a sum of hues of 360 and more downward; the rotation term is not periodic in the mean
/// hue, so that adding 360 instead gives 34.481917. Independent double-precision computation.
#[test]
fn hues_around_zero_whose_sum_passes_360_take_the_branch_of_the_paper() {
    let (one, other) = (lab(&[50.0, 38.9, 59.0]), lab(&[50.0, 7.6, -11.5]));
    for value in both_ways(Formula::DEFAULT, one, other) {
        assert!((value - 34.482_075_335).abs() < 1e-8, "{value}");
    }
}

/// Columns of `color_pairs.csv`: each formula with its place, and with that of its swapped value.
const PAIR_COLUMNS: [(Formula, usize, usize); 9] = [
    (Formula::Cie76, 6, 6),
    (Formula::Cie94(Application::GraphicArts), 7, 8),
    (Formula::Cie94(Application::Textile), 9, 10),
    (Formula::CMC_PERCEPTIBILITY, 11, 12),
    (Formula::CMC_ACCEPTABILITY, 13, 14),
    (Formula::DEFAULT, 15, 15),
    (Formula::CIEDE2000_TEXTILE, 16, 16),
    (Formula::Din99o, 17, 17),
    (Formula::Hyab, 18, 18),
];

#[test]
fn color_pairs_agree_with_independent_implementations() {
    let rows = reference_rows("color_pairs.csv");
    assert_eq!(rows.len(), 26);
    for row in &rows {
        let row = numbers(row);
        assert_eq!(row.len(), 19);
        for (formula, there, back) in PAIR_COLUMNS {
            let found = both_ways(formula, lab(&row[..3]), lab(&row[3..6]));
            for (value, expected) in found.iter().zip([row[there], row[back]]) {
                assert!((value - expected).abs() < 1e-6, "{row:?} under {formula}: {value}");
            }
        }
    }
}

#[test]
fn every_formula_in_use_has_a_column_of_reference_pairs() {
    for formula in Formula::PRESETS {
        assert!(PAIR_COLUMNS.iter().any(|(column, ..)| *column == formula), "{formula}");
    }
}

/// Why no metric tree may answer for these formulas.
#[test]
fn triangle_counterexamples_are_reproduced() {
    let rows = reference_rows("triangle_counterexamples.csv");
    assert_eq!(rows.len(), 6);
    for row in &rows {
        let formula = Formula::parse(&row[0]).expect("a formula");
        let values = numbers(&row[1..]);
        let colors = [lab(&values[..3]), lab(&values[3..6]), lab(&values[6..9])];
        let from = |standard: usize, sample: usize| {
            let pair = Pair { standard: colors[standard], sample: colors[sample] };
            formula.delta_e(pair).value()
        };
        let found = [from(0, 2), from(0, 1), from(1, 2)];
        for (value, expected) in found.iter().zip(&values[9..12]) {
            assert!((value - expected).abs() < 1e-6, "{row:?}: {value}");
        }
        assert!((found[0] - found[1] - found[2] - values[12]).abs() < 2e-6, "{row:?}");
        assert!(values[12] > 0.0);
    }
}

/// Computed for this project in double precision: who is the standard decides by a factor of two.
#[test]
fn exchanging_the_colors_asks_cmc_and_cie94_another_question() {
    let (dark, light) = (lab(&[20.0, 0.0, 0.0]), lab(&[80.0, 0.0, 0.0]));
    let [there, back] = both_ways(Formula::CMC_ACCEPTABILITY, dark, light);
    assert!((there - 49.530_201).abs() < 1e-6 && (back - 22.074_436).abs() < 1e-6);
    let (gray, red) = (lab(&[50.0, 0.0, 0.0]), lab(&[50.0, 2.0, 0.0]));
    let [there, back] = both_ways(Formula::Cie94(Application::GraphicArts), gray, red);
    assert!((there - 2.0).abs() < 1e-9 && (back - 1.834_862).abs() < 1e-6);
}

/// ISO 105-A02: how large the steps of the visual scale are under the formulas.
#[test]
fn steps_of_the_visual_gray_scale_have_their_known_differences() {
    let rows = reference_rows("iso105_a02_steps.csv");
    assert_eq!(rows.len(), 9);
    let first = lab(&[41.216, 0.0, 0.0]);
    for row in &rows {
        let step: f64 = row[1].parse().expect("a number");
        let second = lab(&[41.216 + step, 0.0, 0.0]);
        for (formula, printed) in [
            (Formula::Cie76, &row[1]),
            (Formula::DEFAULT, &row[4]),
            (Formula::CIEDE2000_TEXTILE, &row[5]),
            (Formula::CMC_PERCEPTIBILITY, &row[6]),
            (Formula::CMC_ACCEPTABILITY, &row[7]),
        ] {
            let expected: f64 = printed.parse().expect("a number");
            let value = formula.delta_e(Pair { standard: first, sample: second }).value();
            // Printed to three decimals, for a lightness printed to three.
            assert!((value - expected).abs() < 1.1e-3, "{row:?} under {formula}: {value}");
        }
        a_step_within_its_tolerance_keeps_its_grade(row);
    }
}

fn a_step_within_its_tolerance_keeps_its_grade(row: &[String]) {
    let [step, tolerance] = [1, 2].map(|at| row[at].parse::<f64>().expect("a number"));
    let grade_of = |size: f64| {
        let pair =
            Pair { standard: lab(&[41.216, 0.0, 0.0]), sample: lab(&[41.216 + size, 0.0, 0.0]) };
        gray_scale(pair).grade.to_string()
    };
    for size in [step - tolerance, step + tolerance] {
        assert_eq!(grade_of(size.max(0.0)), row[0], "{row:?}: {size}");
    }
    // The classes are values from memory of ISO 105-A05; the last one has no end.
    if let Ok(end) = row[3].parse::<f64>() {
        assert_eq!(grade_of(end - 1e-6), row[0], "{row:?}");
        assert_ne!(grade_of(end + 1e-6), row[0], "{row:?}");
    }
}

/// The length in CIELAB that each pair of the grades has.
#[test]
fn pairs_with_grades_have_their_printed_length() {
    for row in reference_rows("iso105_a05_grades.csv") {
        let row = numbers(&row[..13]);
        for value in both_ways(Formula::Cie76, lab(&row[..3]), lab(&row[3..6])) {
            assert!((value - row[6]).abs() < FOUR_DECIMALS, "{row:?}: {value}");
        }
    }
}

#[test]
fn srgb_becomes_the_reference_cielab_and_comes_back() {
    let rows = reference_rows("srgb_to_lab.csv");
    assert_eq!(rows.len(), 20);
    for row in &rows {
        let color = Srgb8::parse_hex(&row[0]).expect("six digits");
        let found = color.to_lab();
        // The two matrices in use lie up to 0.026 apart.
        for expected in [&row[1..4], &row[4..7]].map(numbers) {
            for (value, wanted) in [found.l(), found.a(), found.b()].iter().zip(expected) {
                assert!((value - wanted).abs() < 0.03, "{}: {found:?}", row[0]);
            }
        }
        assert_eq!(Srgb8::nearest_to(found), color);
    }
}

/// The hues of the pair are within a thousandth of a degree of being opposite.
fn is_opposite(one: Lab, other: Lab) -> bool {
    let cross = one.a() * other.b() - other.a() * one.b();
    let dot = one.a() * other.a() + one.b() * other.b();
    dot < 0.0 && cross.abs() < 2e-5 * dot.abs()
}

#[test]
fn ciede2000_agrees_with_palette_on_a_million_pairs() {
    // A grid over the whole range, paired with a prime stride: near, far, neutral and opposite.
    let steps = [-120.0, -61.3, -20.7, -3.1, 0.0, 0.4, 7.9, 33.2, 75.5, 110.0];
    let lights = [0.0, 12.5, 37.1, 50.0, 51.3, 78.8, 96.4, 100.0, 101.5, 102.0];
    let mut colors = Vec::new();
    for l in lights {
        for a in steps {
            colors.extend(steps.map(|b| Lab::new(l, a, b).expect("a color in range")));
        }
    }
    let oracle = |lab: Lab| -> palette::Lab<palette::white_point::D65, f64> {
        palette::Lab::new(lab.l(), lab.a(), lab.b())
    };
    let mut compared = 0_u32;
    for standard in &colors {
        for sample in &colors {
            if is_opposite(*standard, *sample) {
                continue;
            }
            let pair = Pair { standard: *standard, sample: *sample };
            let ours = Formula::DEFAULT.delta_e(pair).value();
            let theirs = oracle(*standard).difference(oracle(*sample));
            assert!((ours - theirs).abs() < ORACLE, "{pair:?}: {ours} and {theirs}");
            compared += 1;
        }
    }
    assert!(compared > 900_000, "{compared} pairs compared");
}
