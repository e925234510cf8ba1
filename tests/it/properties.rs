//! What holds for any input, through the public API.
//! It does not know how a search is pruned.

use dyekin_core::difference::{Pair, gray_scale};
use dyekin_core::{Formula, Lab};

#[test]
fn symmetric_formulas_give_the_same_bits_in_both_orders() {
    let steps = [-120.0, -61.3, -20.7, 0.0, 0.4, 33.2, 75.5];
    let mut colors = Vec::new();
    for l in [0.0, 37.1, 50.0, 102.0] {
        for a in steps {
            colors.extend(steps.map(|b| Lab::new(l, a, b).expect("a color in range")));
        }
    }
    let symmetric = |formula: &Formula| !matches!(formula, Formula::Cie94(_) | Formula::Cmc(_));
    for formula in Formula::PRESETS.into_iter().filter(symmetric) {
        for one in &colors {
            for other in &colors {
                let [there, back] = [(one, other), (other, one)].map(|(standard, sample)| {
                    formula.delta_e(Pair { standard: *standard, sample: *sample }).value().to_bits()
                });
                assert_eq!(there, back, "{formula}: {one:?} {other:?}");
            }
        }
    }
}

#[test]
fn the_gray_scale_grade_is_the_same_in_both_orders() {
    let steps = [-120.0, -61.3, -3.0, 0.0, 0.4, 33.2, 75.5];
    let colors: Vec<Lab> = steps
        .iter()
        .flat_map(|a| steps.map(|b| Lab::new(50.0 + a / 10.0, *a, b).expect("a color in range")))
        .collect();
    for standard in &colors {
        for sample in &colors {
            let there = gray_scale(Pair { standard: *standard, sample: *sample });
            let back = gray_scale(Pair { standard: *sample, sample: *standard });
            assert!((there.change - back.change).abs() < 1e-9, "{standard:?} {sample:?}");
            assert_eq!(there.grade, back.grade, "{standard:?} {sample:?}");
        }
    }
}
