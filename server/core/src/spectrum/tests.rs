//! Spectra against numbers that this code did not make.
//! Sources stand in `tests/data/README.md` and beside each test.

use std::collections::BTreeMap;

use super::*;
use crate::difference::{DeltaE, Formula};

/// Tristimulus weights for 400 to 700 nm at 10 nm, computed for this project with colour-science 0.4.7.
const WEIGHTS: &str = include_str!("../../../../tests/data/reference/e308_weights.csv");

/// Twelve invented spectra and their CIELAB, with that of colour-science 0.4.7 beside it.
const INVENTED: &str = include_str!("../../../../tests/data/reference/reflectances.csv");
const INVENTED_LAB: &str = include_str!("../../../../tests/data/reference/reflectance_to_lab.csv");

/// Eight more spectra at 5 nm; CIELAB of cuts of them, by colour-science 0.4.7 (`spectra.py`).
const FINE: &str = include_str!("../../../../tests/data/reference/spectra.csv");
const FINE_LAB: &str = include_str!("../../../../tests/data/reference/spectra_to_lab.csv");

/// CIE 15 special index of two pairs, computed for this project in double precision.
const METAMERISM: &str = include_str!("../../../../tests/data/reference/metamerism.csv");

fn rows(text: &str) -> impl Iterator<Item = Vec<&str>> {
    let lines = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    lines.map(|line| line.split(',').collect())
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

fn under(light: &str, observer: &str) -> Conditions {
    Conditions::parse(&format!("{light}/{observer}")).unwrap()
}

fn every_condition() -> impl Iterator<Item = Conditions> {
    Illuminant::ALL.into_iter().flat_map(|illuminant| {
        [Observer::TwoDegree, Observer::TenDegree]
            .map(|observer| Conditions { illuminant, observer })
    })
}

fn named(text: &str) -> BTreeMap<&str, Vec<f64>> {
    rows(text).map(|row| (row[0], row[1..].iter().map(|field| number(field)).collect())).collect()
}

fn invented() -> BTreeMap<&'static str, Reflectance> {
    let spectrum = |values: Vec<f64>| Reflectance::new(400, 10, &values).unwrap();
    named(INVENTED).into_iter().map(|(name, values)| (name, spectrum(values))).collect()
}

fn bits(lab: Lab) -> [u64; 3] {
    [lab.l(), lab.a(), lab.b()].map(f64::to_bits)
}

fn largest_gap(lab: Lab, wanted: &[&str]) -> f64 {
    let found = [lab.l(), lab.a(), lab.b()];
    found
        .iter()
        .zip(wanted)
        .map(|(found, wanted)| (found - number(wanted)).abs())
        .fold(0.0, f64::max)
}

/// What a spectrum with one lit band gives is that band's weight.
#[test]
fn weights_of_400_to_700_nm_are_those_of_the_printed_table() {
    let mut count = 0;
    for row in rows(WEIGHTS) {
        let mut values = [0.0; 31];
        values[(row[2].parse::<usize>().unwrap() - 400) / 10] = 1.0;
        let found = Reflectance::new(400, 10, &values).unwrap().xyz(under(row[0], row[1]));
        for (found, printed) in found.components().iter().zip(&row[3..]) {
            // Five decimals there, six here; an end weight sums up to nine rounded ones.
            assert!((found - number(printed)).abs() < 1.1e-5, "{row:?}: {found}");
        }
        count += 1;
    }
    assert_eq!(count, 12 * 31);
}

#[test]
fn weight_sums_are_the_whites() {
    let fine = Reflectance::new(400, 5, &[0.5; 61]).unwrap();
    let whites = every_condition().flat_map(|conditions| {
        [white(conditions), fine.white(conditions)].map(|sum| (conditions, sum))
    });
    for (conditions, sum) in whites {
        let tabulated = conditions.white();
        // Lines of fluorescent lamps fall between bands of 10 nm.
        let room = match conditions.illuminant {
            Illuminant::D50 | Illuminant::D65 | Illuminant::A => 0.025,
            Illuminant::Fl2 | Illuminant::Fl11 | Illuminant::LedB3 => 0.11,
        };
        assert!((sum.y - 100.0).abs() < 2e-5, "{conditions}: {sum:?}");
        assert!((sum.x - tabulated.x).abs() < room, "{conditions}: {sum:?} {tabulated:?}");
        assert!((sum.z - tabulated.z).abs() < room, "{conditions}: {sum:?} {tabulated:?}");
    }
}

#[test]
fn the_perfect_diffuser_is_white_to_the_last_bit() {
    for (start, step, count) in [(400, 10, 31), (380, 10, 41), (380, 5, 81), (400, 20, 16)] {
        let perfect = Reflectance::new(start, step, &vec![1.0; count]).unwrap();
        for conditions in every_condition() {
            let lab = perfect.lab(conditions).unwrap();
            assert_eq!(bits(lab), [100.0_f64, 0.0, 0.0].map(f64::to_bits), "{conditions} {step}");
        }
    }
}

#[test]
fn lab_of_invented_spectra_is_that_of_two_other_computations() {
    let spectra = invented();
    let mut count = 0;
    for row in rows(INVENTED_LAB) {
        let lab = spectra[row[0]].lab(under(row[1], row[2])).unwrap();
        assert!(largest_gap(lab, &row[6..9]) < 1.2e-4, "{row:?}: {lab:?}");
        assert!(largest_gap(lab, &row[9..12]) < 1.2e-4, "{row:?}: {lab:?}");
        count += 1;
    }
    assert_eq!(count, 12 * 12);
}

#[test]
fn ranges_and_steps_give_the_lab_of_the_reference_package() {
    let spectra = named(FINE);
    let mut count = 0;
    for row in rows(FINE_LAB) {
        let [start, end, step] = [3, 4, 5].map(|at| row[at].parse::<u16>().unwrap());
        let cut: Vec<f64> = (360..=780)
            .step_by(5)
            .zip(&spectra[row[0]])
            .filter(|(at, _)| (start..=end).contains(at) && (at - start) % step == 0)
            .map(|(_, value)| *value)
            .collect();
        let lab = Reflectance::new(start, step, &cut).unwrap().lab(under(row[1], row[2])).unwrap();
        let smooth = ["A", "D50", "D65"].contains(&row[1]);
        let room = match step {
            5 | 10 => 1e-4,
            _ if smooth => 0.2,
            _ => 0.4,
        };
        let gap = largest_gap(lab, &row[6..9]);
        assert!(gap < room, "{row:?}: {lab:?}, {gap}");
        count += 1;
    }
    assert_eq!(count, 8 * 12 * 6);
}

#[test]
fn metamerism_is_that_of_an_independent_computation() {
    let spectra = invented();
    let mut count = 0;
    for row in rows(METAMERISM) {
        let (standard, sample) = row[0].split_once('|').unwrap();
        let change =
            Change { reference: Conditions::TEXTILE, test: Illuminant::parse(row[1]).unwrap() };
        let index =
            |formula| metamerism(&spectra[standard], &spectra[sample], change, formula).unwrap();
        let close = |found: DeltaE, printed: &str, room: f64| {
            assert!((found.value() - number(printed)).abs() < room, "{row:?}: {found:?}");
        };
        close(index(Formula::Cie76).residual, row[2], 3e-5);
        close(index(Formula::Cie76).uncorrected, row[3], 1.5e-4);
        close(index(Formula::DEFAULT).uncorrected, row[4], 1.5e-4);
        close(index(Formula::Cie76).index, row[5], 1.5e-4);
        count += 1;
    }
    assert_eq!(count, 10);
}

#[test]
fn the_index_of_a_pair_that_does_not_match_leaves_out_the_mismatch() {
    let spectra = invented();
    let gray = |value: f64| Reflectance::new(400, 10, &[value; 31]).unwrap();
    let change = Change { reference: Conditions::TEXTILE, test: Illuminant::A };
    let found = metamerism(&gray(0.2), &gray(0.3), change, Formula::Cie76).unwrap();
    assert!(found.residual.value() > 9.0 && found.uncorrected.value() > 9.0, "{found:?}");
    assert!(found.index.value() < 1e-9, "{found:?}");
    let black = metamerism(&spectra["navy"], &gray(0.0), change, Formula::Cie76).unwrap_err();
    assert!(black.to_string().contains("reflects nothing"), "{black}");
}

#[test]
fn the_worst_light_is_the_one_under_which_the_pair_drifts_most() {
    let spectra = invented();
    let lights = Lights::parse("daylight,lamp,led,FL11").unwrap();
    let pair = Spectra { standard: &spectra["leaf_green"], sample: &spectra["leaf_green_metamer"] };
    let found = over_lights(pair, &lights, Observer::TenDegree, Formula::DEFAULT).unwrap();
    // Same source as the metamerism rows: columns of CIEDE2000 and of the corrected index.
    let wanted =
        [(0.0, None), (0.1065, Some(0.2585)), (1.7479, Some(4.0629)), (3.1809, Some(5.6698))];
    for (under, (delta_e, index)) in found.each().iter().zip(wanted) {
        assert!((under.delta_e.value() - delta_e).abs() < 2e-4, "{under:?}");
        assert_eq!(under.metamerism.is_some(), index.is_some(), "{under:?}");
        let gap =
            under.metamerism.map(DeltaE::value).zip(index).map_or(0.0, |(a, b)| (a - b).abs());
        assert!(gap < 2e-4, "{under:?}");
    }
    assert_eq!(found.worst().illuminant, Illuminant::Fl11);
    assert_eq!(found.worst(), found.each()[3]);
    // It matches under daylight and does not here: the listed difference and the one seen.
    let daylight = pair.difference(Conditions::TEXTILE, Formula::DEFAULT).unwrap();
    assert!(found.drifts_from(&daylight));
    let there = pair.difference(found.worst_conditions(), Formula::DEFAULT).unwrap();
    assert!((there.delta_e.value() - found.worst().delta_e.value()).abs() < 1e-12);
    assert!(!found.drifts_from(&there));
}

#[test]
fn of_equal_differences_the_first_light_is_the_worst() {
    let gray = Reflectance::new(400, 10, &[0.5; 31]).unwrap();
    let lights = Lights::parse("led,lamp").unwrap();
    let pair = Spectra { standard: &gray, sample: &gray };
    let found = over_lights(pair, &lights, Observer::TwoDegree, Formula::DEFAULT).unwrap();
    assert_eq!(found.worst().illuminant, Illuminant::LedB3);
}

#[test]
fn lights_are_named_once_and_known() {
    let refusal = |text| Lights::parse(text).unwrap_err();
    assert_eq!(Lights::parse("daylight,lamp,led").unwrap(), Lights::usual());
    assert_eq!(refusal("daylight,moon").to_string(), "`moon`: not a known light");
    assert_eq!(refusal("lamp,a").to_string(), "`A`: the light stands twice");
    assert!(refusal("").hint().unwrap().contains("daylight, lamp, led"));
    assert!(Lights::new(&[]).is_err());
}

#[test]
fn spectra_that_cannot_be_used_are_refused_with_what_to_do() {
    let refusal = |start, step, values: &[f64]| {
        let error = Reflectance::new(start, step, values).unwrap_err();
        format!("{error}; {}", error.hint().unwrap())
    };
    let with = |at: usize, value: f64| {
        let mut values = [0.5; 31];
        values[at] = value;
        values
    };
    for (found, said) in [
        (refusal(400, 7, &[0.5; 44]), "`7 nm`: a step"),
        (refusal(405, 10, &[0.5; 31]), "`405 nm`: a spectrum starts"),
        (refusal(410, 10, &[0.5; 31]), "`410 to 710 nm`: a color needs"),
        (refusal(400, 10, &[0.5; 30]), "`400 to 690 nm`: a color needs"),
        (refusal(400, 10, &[]), "`400 to 0 nm`: a color needs"),
        (refusal(400, 20, &[0.5; 99]), "the values go beyond 1100 nm"),
        (refusal(400, 10, &with(3, f64::NAN)), "`NaN`: no reflectance at 430 nm;"),
        (refusal(400, 10, &with(1, f64::INFINITY)), "`inf`: no reflectance at 410 nm;"),
        (refusal(400, 10, &with(0, -0.02)), "`-0.02`: no reflectance at 400 nm;"),
        (refusal(400, 10, &[45.0; 31]), "at 400 nm, 30 more as well; write factors"),
        (refusal(400, 10, &[45.0; 31]), "percents? divide by 100"),
    ] {
        assert!(found.contains(said), "{found}\n{said}");
    }
}

#[test]
fn noise_near_black_counts_as_black() {
    let values: Vec<f64> = (0..31).map(|at| if at % 2 == 0 { -0.004 } else { 0.0 }).collect();
    let lab = Reflectance::new(400, 10, &values).unwrap().lab(Conditions::TEXTILE).unwrap();
    assert_eq!(bits(lab), [0; 3]);
}

#[test]
fn a_fluorescent_spectrum_above_the_range_of_lab_is_refused() {
    let bright = Reflectance::new(400, 10, &[1.04; 31]).unwrap();
    assert!(bright.lab(Conditions::TEXTILE).unwrap().l() > 101.0);
    assert!(Reflectance::new(400, 10, &[1.2; 31]).unwrap().lab(Conditions::TEXTILE).is_err());
}

#[test]
fn samples_are_kept_as_given_and_used_within_the_range_of_the_weights() {
    let fine = Reflectance::new(355, 5, &[0.25; 90]).unwrap();
    assert_eq!((fine.start_nm(), fine.step_nm(), fine.end_nm()), (355, 5, 800));
    assert_eq!((fine.values().len(), fine.samples().count()), (90, 90));
    let used: Vec<u16> = fine.used().iter().map(|(at, _)| *at).collect();
    assert_eq!((used.first(), used.last(), used.len()), (Some(&360), Some(&780), 85));
    let coarse = Reflectance::new(400, 20, &[0.25; 16]).unwrap();
    assert_eq!(coarse.samples().count(), 16);
    let used: Vec<u16> = coarse.used().iter().map(|(at, _)| *at).collect();
    assert_eq!((used.first(), used.last(), used.len()), (Some(&400), Some(&700), 31));
}
