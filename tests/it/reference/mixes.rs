//! Two-thread mixes against tables of mixed light, mixed spectra and of means that are no mixes.
//! It does not know how a mix is computed.

use dyekin_core::blend::{Mix, Parts};
use dyekin_core::difference::Pair;
use dyekin_core::spectrum::Reflectance;
use dyekin_core::{Color, Conditions, Formula, Lab, Origin};
use dyekin_tests::reference_rows;
use palette::convert::FromColorUnclamped;

use super::{FOUR_DECIMALS, lab, numbers};

/// Half a unit of the third decimal, with room for weights of five decimals.
const THREE_DECIMALS: f64 = 8e-4;

fn meter(at: Lab) -> Color {
    Color::lab_under(at, Conditions::TEXTILE, Origin::Meter)
}

fn apart(standard: Lab, sample: Lab) -> f64 {
    Formula::DEFAULT.delta_e(Pair { standard, sample }).value()
}

fn close(found: Lab, wanted: &[f64], room: f64, row: &[String]) {
    for (value, wanted) in [found.l(), found.a(), found.b()].iter().zip(wanted) {
        assert!((value - wanted).abs() < room, "{row:?}: {found:?}");
    }
}

/// The mean of the encoded values, as drawing programs mix.
fn mean_of_encoded(one: Lab, other: Lab) -> Lab {
    type Wide = palette::Lab<palette::white_point::D65, f64>;
    let encoded =
        |at: Lab| palette::Srgb::<f64>::from_color_unclamped(Wide::new(at.l(), at.a(), at.b()));
    let (one, other) = (encoded(one), encoded(other));
    let mean = palette::Srgb::new(
        f64::midpoint(one.red, other.red),
        f64::midpoint(one.green, other.green),
        f64::midpoint(one.blue, other.blue),
    );
    let Wide { l, a, b, .. } = Wide::from_color_unclamped(mean);
    Lab::new(l, a, b).expect("a color")
}

/// Neither the mean of CIELAB nor that of encoded values is how light mixes: by how far is known.
#[test]
fn means_of_coordinates_are_no_mixes() {
    let rows = reference_rows("blends.csv");
    assert_eq!(rows.len(), 8);
    for row in &rows {
        let values = numbers(row);
        let (one, other) = (lab(&values[..3]), lab(&values[3..6]));
        let mix = Mix::of(&meter(one), &meter(other), Parts::OneAndOne).expect("a mix");
        let middle = |one: f64, other: f64| f64::midpoint(one, other);
        let mean = lab(&[
            middle(one.l(), other.l()),
            middle(one.a(), other.a()),
            middle(one.b(), other.b()),
        ]);
        close(mean, &values[13..16], FOUR_DECIMALS, row);
        assert!((apart(mix.estimate, mean) - values[19]).abs() < 1e-4, "{row:?}");
        // `palette` has a white of its own, up to 0.026 away.
        let encoded = mean_of_encoded(one, other);
        close(encoded, &values[16..19], 0.03, row);
        assert!((apart(mix.estimate, encoded) - values[20]).abs() < 0.03, "{row:?}");
    }
}

fn spectrum(name: &str) -> Vec<f64> {
    let rows = reference_rows("reflectances.csv");
    numbers(&rows.iter().find(|row| row[0] == name).expect("a spectrum")[1..])
}

fn seen(values: &[f64]) -> Lab {
    let reflectance = Reflectance::new(400, 10, values).expect("a reflectance");
    reflectance.lab(Conditions::TEXTILE).expect("a color")
}

/// Averages both spectra in a quantity and turns back.
fn mixed(one: &[f64], other: &[f64], there: fn(f64) -> f64, back: fn(f64) -> f64) -> Lab {
    let bands = one.iter().zip(other);
    seen(
        &bands
            .map(|(one, other)| back(f64::midpoint(there(*one), there(*other))))
            .collect::<Vec<_>>(),
    )
}

/// Kubelka and Munk: absorption by scatter.
fn absorbed(r: f64) -> f64 {
    (1.0 - r).powi(2) / (2.0 * r)
}

fn reflected(k: f64) -> f64 {
    1.0 + k - (k * k + 2.0 * k).sqrt()
}

/// Stearns and Noechel with M = 0.15.
fn stearns(r: f64) -> f64 {
    (1.0 - r) / (0.15 * (r - 0.01) + 0.01)
}

fn noechel(f: f64) -> f64 {
    (1.0 + f * (0.15 * 0.01 - 0.01)) / (1.0 + 0.15 * f)
}

/// Light averages alike band by band and as a whole, so the estimate needs no spectra. The other end of
/// the range is taken on X, Y, Z: it lies near that of the spectra. Mixtures within one fiber (Kubelka
/// and Munk; Stearns and Noechel) are another thing, far darker than strands beside each other.
#[test]
fn the_estimate_is_the_mix_of_the_spectra() {
    let rows = reference_rows("blends_spectral.csv");
    assert_eq!(rows.len(), 7);
    for row in &rows {
        let values = numbers(&row[2..]);
        let (one, other) = (spectrum(&row[0]), spectrum(&row[1]));
        let linear = mixed(&one, &other, |r| r, |r| r);
        let spread = mixed(&one, &other, f64::sqrt, |r| r * r);
        let munk = mixed(&one, &other, absorbed, reflected);
        let noechel = mixed(&one, &other, stearns, noechel);
        for (place, found) in [linear, spread, munk, noechel].into_iter().enumerate() {
            close(found, &values[3 * place..3 * place + 3], THREE_DECIMALS, row);
        }
        for (found, wanted) in [spread, munk, noechel].into_iter().zip(&values[12..15]) {
            assert!((apart(linear, found) - wanted).abs() < 2e-3, "{row:?}: {found:?}");
        }
        let mix =
            Mix::of(&meter(seen(&one)), &meter(seen(&other)), Parts::OneAndOne).expect("a mix");
        assert!(apart(linear, mix.estimate) < 1e-9, "{row:?}: {mix:?}");
        let (whole, by_band) = (apart(linear, mix.full_spread), apart(linear, spread));
        assert!((0.4..2.0).contains(&(whole / by_band)), "{row:?}: {whole} and {by_band}");
    }
}
