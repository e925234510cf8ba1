//! Threads that the data cannot tell apart: the rule, its units, and what a count hides.
//! It does not know how a group is shown.

use super::*;
use crate::color::AdaptationMethod;
use crate::difference::Ratio;

fn gray(l: f64, origin: Origin) -> Color {
    Color::lab_under(Lab::new(l, 0.0, 0.0).unwrap(), Conditions::SCREEN, origin)
}

fn stated(l: f64, uncertainty: f64) -> Color {
    gray(l, Origin::Meter).with_uncertainty(uncertainty).unwrap()
}

fn asked(count: usize) -> NearestOptions {
    NearestOptions { count_as_near: true, formula: Formula::Cie76, ..options(count) }
}

/// Grays by their lightness, so that CIE76 differences can be foreseen.
fn shelf(colors: impl IntoIterator<Item = Color>) -> Catalog {
    let codes = (0..).map(|row| format!("{row:04}"));
    let threads = codes.zip(colors).map(|(code, color)| thread(&code, color));
    Catalog::build([table("t", threads.collect())])
}

fn flags(found: &Nearest<'_>) -> Vec<bool> {
    found.matches.iter().map(|hit| hit.as_near).collect()
}

#[test]
fn screen_colors_are_told_apart_from_one_unit_on() {
    // One unit of CIEDE2000 counts as two of CIE76, whose bands are twice as wide.
    let catalog = shelf([53.0, 54.9, 55.0, 55.1].map(|l| gray(l, Origin::Screen)));
    let found = nearest(&catalog, &gray(50.0, Origin::Screen), &asked(4)).unwrap();
    assert_eq!(flags(&found), [false, true, true, false]);
    assert_eq!(found.more_as_near, 0);
}

#[test]
fn the_unit_is_that_of_the_formula() {
    // Near-identical ends at 1.0 (CIEDE2000, DIN99o), 0.7 (textile presets) and 2.0 (CIE76, HyAB).
    let screens = [1.0; 3];
    for (formula, unit) in [
        (Formula::DEFAULT, 1.0),
        (Formula::CIEDE2000_TEXTILE, 0.7),
        (Formula::Cmc(Ratio::new(2.0, 1.0).unwrap()), 0.7),
        (Formula::Din99o, 1.0),
        (Formula::Cie76, 2.0),
        (Formula::Hyab, 2.0),
    ] {
        assert!((noise::between(screens, formula) - unit).abs() < 1e-12, "{formula}");
    }
}

#[test]
fn stated_uncertainties_count_and_are_combined() {
    // sqrt((0.3^2 + 0.4^2 + 1.2^2) / 3) = 0.7506 in CIEDE2000, twice that in CIE76: 1.5011.
    let standard = stated(50.0, 0.3);
    let catalog = shelf([stated(53.0, 0.4), stated(54.5, 1.2), stated(54.6, 1.2)]);
    let found = nearest(&catalog, &standard, &asked(3)).unwrap();
    assert_eq!(flags(&found), [false, true, false]);
    // A measured color without a stated one has 0.2: 0.4 in CIE76.
    let catalog = shelf([53.0, 53.39, 53.41].map(|l| gray(l, Origin::Meter)));
    let found = nearest(&catalog, &gray(50.0, Origin::Meter), &asked(3)).unwrap();
    assert_eq!(flags(&found), [false, true, false]);
}

#[test]
fn an_uncertain_thread_behind_a_certain_one_still_counts() {
    let catalog = shelf([stated(53.0, 0.1), stated(54.0, 0.1), stated(54.5, 3.0)]);
    let standard = stated(50.0, 0.1);
    let found = nearest(&catalog, &standard, &asked(3)).unwrap();
    assert_eq!(flags(&found), [false, false, true]);
    for count in [1, 2] {
        let found = nearest(&catalog, &standard, &asked(count)).unwrap();
        assert_eq!(found.more_as_near, 1, "{count}");
    }
}

#[test]
fn threads_that_the_count_leaves_out_are_counted() {
    let catalog = shelf((0..300).map(|step| gray(51.0 + 0.01 * f64::from(step), Origin::Screen)));
    let standard = gray(50.0, Origin::Screen);
    // 201 of them lie within two units of the first; the others are farther.
    for (count, more) in [(1, 100), (150, 51), (201, 0), (250, 0)] {
        let found = nearest(&catalog, &standard, &asked(count)).unwrap();
        assert_eq!((found.matches.len(), found.more_as_near), (count, more), "{count}");
    }
    let limited = NearestOptions { limit: Some(DeltaE::new(1.5).unwrap()), ..asked(1) };
    let found = nearest(&catalog, &standard, &limited).unwrap();
    assert_eq!(found.more_as_near, 50, "none beyond the limit");
    let silent = NearestOptions { count_as_near: false, ..asked(1) };
    assert_eq!(nearest(&catalog, &standard, &silent).unwrap().more_as_near, 0);
}

#[test]
fn adapted_colors_are_as_uncertain_as_pictures() {
    let d50 = Conditions::parse("D50/2").unwrap();
    let standard = Color::lab_under(Lab::new(50.0, 0.0, 0.0).unwrap(), d50, Origin::Meter);
    let catalog = shelf([53.0, 54.1, 54.3].map(|l| gray(l, Origin::Meter)));
    let adaptation = Some(AdaptationMethod::Bradford);
    let found = nearest(&catalog, &standard, &NearestOptions { adaptation, ..asked(1) }).unwrap();
    // 2 * sqrt((0.2^2 + 1 + 0.2^2 + 0.2^2) / 3) = 1.22.
    assert_eq!(found.more_as_near, 1);
    let found = nearest(&catalog, &standard, &NearestOptions { adaptation, ..asked(3) }).unwrap();
    assert_eq!(flags(&found), [false, true, false]);
}

#[test]
fn what_the_data_cannot_tell_is_the_same_over_any_order_and_split_of_tables() {
    let colors: Vec<Color> = (0..40)
        .map(|step| stated(51.0 + 0.13 * f64::from(step), 0.05 * f64::from(step % 11)))
        .collect();
    let standard = stated(50.0, 0.2);
    let one = shelf(colors.iter().copied());
    let parts = |from: usize| {
        let picked = colors.iter().enumerate().skip(from).step_by(2);
        let threads = picked.map(|(row, color)| thread(&format!("{row:04}"), *color)).collect();
        table(["even", "odd"][from], threads)
    };
    let two = Catalog::build([parts(1), parts(0)]);
    for count in [1, 3, 8, 40] {
        let here = nearest(&one, &standard, &asked(count)).unwrap();
        let there = nearest(&two, &standard, &asked(count)).unwrap();
        assert_eq!(flags(&here), flags(&there));
        assert_eq!(here.more_as_near, there.more_as_near);
        let tied = flags(&here).iter().filter(|flag| **flag).count() + here.more_as_near;
        let all = nearest(&one, &standard, &asked(40)).unwrap();
        assert_eq!(tied, flags(&all).iter().filter(|flag| **flag).count(), "{count}");
    }
}
