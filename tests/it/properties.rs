//! What holds for any input, through the public API.
//! It does not know how a search is pruned.

use dyekin_core::difference::Pair;
use dyekin_core::{Formula, Lab};

#[test]
fn formulas_give_the_same_bits_in_both_orders() {
    let steps = [-120.0, -61.3, -20.7, 0.0, 0.4, 33.2, 75.5];
    let mut colors = Vec::new();
    for l in [0.0, 37.1, 50.0, 102.0] {
        for a in steps {
            colors.extend(steps.map(|b| Lab::new(l, a, b).expect("a color in range")));
        }
    }
    for formula in [Formula::DEFAULT, Formula::Cie76] {
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
