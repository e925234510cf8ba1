//! Whites, tristimulus values and colors carried over between lights, against reference tables.
//! It does not know how they are computed.

use dyekin_core::color::{AdaptationMethod, Xyz};
use dyekin_core::difference::Pair;
use dyekin_core::spectrum::{Reflectance, white};
use dyekin_core::{Color, Conditions, Formula, Lab, Origin, Srgb8};
use dyekin_tests::reference_rows;
use palette::convert::FromColorUnclamped;

use super::{FOUR_DECIMALS, lab, numbers};

fn under(illuminant: &str, observer: &str) -> Conditions {
    Conditions::parse(&format!("{illuminant}/{observer}")).expect("conditions")
}

fn close(found: Xyz, wanted: &[f64], room: f64, row: &[String]) {
    for (value, wanted) in [found.x, found.y, found.z].iter().zip(wanted) {
        assert!((value - wanted).abs() < room, "{row:?}: {found:?}");
    }
}

#[test]
fn whites_are_those_of_the_chromaticities_and_of_the_weights() {
    let rows = reference_rows("white_points.csv");
    assert_eq!(rows.len(), 12);
    for row in &rows {
        let conditions = under(&row[0], &row[1]);
        let values = numbers(&row[2..]);
        let (x, y) = (values[0], values[1]);
        let chromatic = [100.0 * x / y, 100.0, 100.0 * (1.0 - x - y) / y];
        close(conditions.white(), &chromatic, 1e-9, row);
        // Made from chromaticities of more digits than are printed.
        close(conditions.white(), &values[2..5], 1.1e-3, row);
        close(white(conditions), &values[5..8], FOUR_DECIMALS, row);
    }
}

#[test]
fn spectra_have_the_reference_tristimulus_values() {
    let rows = reference_rows("reflectances.csv");
    let spectrum = |name: &str| {
        let row = rows.iter().find(|row| row[0] == name).expect("a spectrum");
        Reflectance::new(400, 10, &numbers(&row[1..])).expect("a reflectance")
    };
    let mut count = 0;
    for row in reference_rows("reflectance_to_lab.csv") {
        let found = spectrum(&row[0]).xyz(under(&row[1], &row[2]));
        // Sums of weights of five decimals there.
        close(found, &numbers(&row[3..6]), 2e-4, &row);
        count += 1;
    }
    assert_eq!(count, 144);
}

#[test]
fn screen_colors_have_the_reference_tristimulus_values_and_differences() {
    let others = reference_rows("srgb_to_lab_d50.csv");
    let mut count = 0;
    for (row, other) in reference_rows("srgb_to_lab.csv").iter().zip(&others) {
        let values = numbers(&row[1..]);
        let color = Srgb8::parse_hex(&row[0]).expect("six digits");
        let found = color.to_lab().to_xyz(Conditions::SCREEN.white());
        let wanted: Vec<f64> = values[6..9].iter().map(|part| 100.0 * part).collect();
        close(found, &wanted, 0.02, row);
        let [derived, four_digit] = [lab(&values[..3]), lab(&values[3..6])];
        let between = |formula: Formula, sample: Lab| {
            formula.delta_e(Pair { standard: derived, sample }).value()
        };
        assert!((between(Formula::Cie76, four_digit) - values[9]).abs() < 2e-6, "{row:?}");
        assert_eq!(other[0], row[0]);
        let print = lab(&numbers(&other[4..7]));
        assert!((between(Formula::DEFAULT, print) - values[10]).abs() < 2e-6, "{row:?}");
        count += 1;
    }
    assert_eq!(count, 20);
}

/// Encoded sRGB, 0 to 255, not rounded.
fn encoded(color: Lab) -> [f64; 3] {
    let color =
        palette::Lab::<palette::white_point::D65, f64>::new(color.l(), color.a(), color.b());
    let srgb = palette::Srgb::<f64>::from_color_unclamped(color);
    [srgb.red, srgb.green, srgb.blue].map(|part| 255.0 * part)
}

/// Lab 42.15 -18.30 22.75 of a print file, computed for this project with the linear Bradford of ICC.1:
/// as a color under D50 it is another screen color than when its light is forgotten.
#[test]
fn a_color_of_a_print_file_becomes_the_screen_color_of_its_light() {
    let at = Lab::new(42.15, -18.30, 22.75).expect("a color");
    let print = Color::lab_under(at, under("D50", "2"), Origin::Meter);
    let shown = print.adapted_to(Conditions::SCREEN, AdaptationMethod::Bradford).expect("adapts");
    for (color, wanted) in [(shown.lab(), [77.9, 107.4, 60.3]), (at, [81.7, 106.8, 61.0])] {
        for (value, wanted) in encoded(color).iter().zip(wanted) {
            assert!((value - wanted).abs() < 0.06, "{color:?}: {:?}", encoded(color));
        }
    }
    assert_eq!(shown.srgb(), Srgb8::new(78, 107, 60));
}
