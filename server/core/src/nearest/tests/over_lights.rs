//! Threads ranked by their worst light from spectra, and what every match says of other lights.
//! It does not check how a spectrum becomes CIELAB: the tests of spectra do.

use std::sync::Arc;

use super::*;
use crate::seeded::bits;
use crate::spectrum::{Lights, Reflectance, Seen, Spectra};

/// Invented smooth reflectances, see tests/data/README.md.
const REFLECTANCES: &str = include_str!("../../../../../tests/data/reference/reflectances.csv");

fn reflectances() -> Vec<(String, Reflectance)> {
    let lines = REFLECTANCES.lines().filter(|line| !line.starts_with(['#', 'n']));
    lines
        .map(|line| {
            let (name, values) = line.split_once(',').unwrap();
            let values: Vec<f64> = values.split(',').map(|value| value.parse().unwrap()).collect();
            (name.to_owned(), Reflectance::new(400, 10, &values).unwrap())
        })
        .collect()
}

fn with_spectrum(code: &str, spectrum: &Reflectance, conditions: Conditions) -> Thread {
    let color = spectrum.color(conditions).unwrap();
    Thread { spectrum: Some(Arc::new(spectrum.clone())), ..thread(code, color) }
}

fn seen(thread: &Thread) -> Seen<'_> {
    Seen { color: &thread.color, spectrum: thread.spectrum.as_deref() }
}

fn under(lights: &str, count: usize) -> NearestOptions {
    NearestOptions { lights: Some(Lights::parse(lights).unwrap()), ..options(count) }
}

fn ask<'c>(catalog: &'c Catalog, standard: &Thread, asked: &NearestOptions) -> Nearest<'c> {
    nearest_seen(catalog, seen(standard), asked, &Patient).unwrap()
}

/// Mixtures of the invented reflectances, from a seed, one in five left without its spectrum.
fn mixtures(count: usize, seed: u64, conditions: Conditions) -> Vec<Thread> {
    let parts = reflectances();
    let mut seed = seed;
    let mut part =
        || f64::from(u32::try_from(bits(&mut seed) >> 32).unwrap()) / f64::from(u32::MAX);
    (0..count)
        .map(|row| {
            let shares: Vec<f64> = parts.iter().map(|_| part().powi(4)).collect();
            let whole: f64 = shares.iter().sum();
            let at = |place: usize| {
                let each = parts.iter().zip(&shares);
                each.map(|((_, held), share)| held.values()[place] * share / whole).sum::<f64>()
            };
            let values: Vec<f64> = (0..31).map(at).collect();
            let mixed = Reflectance::new(400, 10, &values).unwrap();
            let mut thread = with_spectrum(&format!("{row:04}"), &mixed, conditions);
            if row % 5 == 4 {
                thread.spectrum = None;
            }
            thread
        })
        .collect()
}

#[test]
fn the_least_worst_threads_are_those_of_a_pass_over_all_pairs_and_lights() {
    let textile = Conditions::TEXTILE;
    let print = Conditions::parse("D50/2").unwrap();
    let catalog = Catalog::build([
        table("b", mixtures(300, 1, textile)),
        table("a", mixtures(200, 2, print)),
        table("c", vec![thread("bare", measured(50.0, 0.0, 0.0))]),
    ]);
    let formulas = [Formula::DEFAULT, Formula::Cie76, Formula::CMC_ACCEPTABILITY];
    for (standard, formula) in mixtures(12, 3, textile).iter().zip(formulas.iter().cycle()) {
        let Some(spectrum) = &standard.spectrum else { continue };
        for lights in ["daylight,lamp,led", "FL11", "lamp,D50,FL2,FL11,led,D65"] {
            let asked = NearestOptions { formula: *formula, ..under(lights, 7) };
            let answer = ask(&catalog, standard, &asked);
            let mut all: Vec<(f64, String)> = Vec::new();
            for held in catalog.tables() {
                for thread in held.table().threads() {
                    let Some(sample) = &thread.spectrum else { continue };
                    let pair = Spectra { standard: spectrum, sample };
                    let each = asked.lights.as_ref().unwrap().illuminants().map(|illuminant| {
                        let there = Conditions { illuminant, observer: Observer::TenDegree };
                        pair.difference(there, *formula).unwrap().delta_e.value()
                    });
                    let name = format!("{} {}", held.table().id(), thread.code);
                    all.push((each.fold(0.0, f64::max), name));
                }
            }
            all.sort_by(|one, two| one.0.total_cmp(&two.0).then_with(|| one.1.cmp(&two.1)));
            let wanted: Vec<&String> = all.iter().take(7).map(|(_, name)| name).collect();
            assert_eq!(codes(&answer).iter().collect::<Vec<_>>(), wanted, "{lights} {formula}");
            for (hit, (worst, _)) in answer.matches.iter().zip(&all) {
                assert_eq!(hit.difference.delta_e.value().to_bits(), worst.to_bits());
                let told = hit.over_lights.as_ref().unwrap();
                assert_eq!(told.worst().delta_e, hit.difference.delta_e);
                assert!(told.ranked());
            }
            // One in five of 500 mixtures, and the thread of the table without spectra.
            assert_eq!(answer.left_out, 101);
        }
    }
}

#[test]
fn a_pair_that_matches_in_daylight_is_ranked_by_the_light_where_it_drifts() {
    let all = reflectances();
    let textile = Conditions::TEXTILE;
    let threads = all.iter().map(|(name, held)| with_spectrum(name, held, textile)).collect();
    let catalog = Catalog::build([table("t", threads)]);
    let green = catalog.tables()[0].table().thread(&Code::parse("leaf_green").unwrap()).unwrap();
    let filter = ThreadFilter {
        excluded: vec![ThreadRef { table: id("t"), code: green.code.clone() }],
        ..ThreadFilter::default()
    };
    let daylight = ask(&catalog, green, &NearestOptions { filter: filter.clone(), ..options(1) });
    let hit = &daylight.matches[0];
    assert_eq!(hit.thread.code.as_str(), "leaf_green_metamer");
    assert!(hit.difference.delta_e.value() < 1e-3);
    // CIEDE2000 of the pair under LED-B3: tests/data/reference/metamerism.csv, column mi_00.
    let told = hit.over_lights.as_ref().unwrap();
    assert_eq!(told.worst().illuminant, Illuminant::LedB3);
    assert!((told.worst().delta_e.value() - 1.7479).abs() < 2e-4);
    assert!(!told.ranked() && !told.drifts_from(&hit.difference), "close even there");

    let tubes = NearestOptions { filter, ..under("daylight,FL11", 1) };
    let answer = ask(&catalog, green, &tubes);
    let hit = &answer.matches[0];
    assert_eq!(hit.thread.code.as_str(), "leaf_green_metamer");
    assert!((hit.difference.delta_e.value() - 3.1809).abs() < 2e-4, "under FL11, same source");
    assert_eq!(hit.over_lights.as_ref().unwrap().worst_conditions().to_string(), "FL11/10°");

    let limited = NearestOptions { limit: Some(DeltaE::new(3.0).unwrap()), ..tubes };
    let answer = ask(&catalog, green, &limited);
    assert!(answer.matches.is_empty());
    assert!(answer.beyond.unwrap().over_lights.is_some());
}

#[test]
fn what_has_no_spectrum_is_refused_or_counted() {
    let all = reflectances();
    let textile = Conditions::TEXTILE;
    let catalog = Catalog::build([table(
        "t",
        vec![with_spectrum("seen", &all[2].1, textile), thread("bare", measured(50.0, 0.0, 5.0))],
    )]);
    let bare = thread("asked", measured(50.0, 0.0, 5.0));
    let refused = nearest_seen(&catalog, seen(&bare), &under("lamp", 1), &Patient).unwrap_err();
    assert!(refused.to_string().contains("no reflectance spectrum"), "{refused}");
    assert!(refused.hint().unwrap().contains("leave the lights out"));
    let asked = with_spectrum("asked", &all[3].1, textile);
    let answer = ask(&catalog, &asked, &under("lamp", 5));
    assert_eq!((codes(&answer), answer.left_out), (vec!["t seen".to_owned()], 1));
    let answer = ask(&catalog, &asked, &options(5));
    assert_eq!((answer.matches.len(), answer.left_out), (2, 0));
    assert!(
        answer
            .matches
            .iter()
            .all(|hit| { hit.over_lights.is_some() == (hit.thread.code.as_str() == "seen") })
    );
    // What the filter keeps out is not left out for want of a spectrum.
    let filter = ThreadFilter { available_only: true, ..ThreadFilter::default() };
    let answer = ask(&catalog, &asked, &NearestOptions { filter, ..under("lamp", 5) });
    assert_eq!((answer.matches.len(), answer.left_out), (0, 0));
}

#[test]
fn spectra_are_compared_whatever_light_the_colors_were_listed_under() {
    let all = reflectances();
    let print = Conditions::parse("D50/2").unwrap();
    let catalog = Catalog::build([table("t", vec![with_spectrum("x", &all[4].1, print)])]);
    let asked = with_spectrum("asked", &all[4].1, Conditions::TEXTILE);
    assert!(nearest_seen(&catalog, seen(&asked), &options(1), &Patient).is_err());
    let answer = ask(&catalog, &asked, &under("daylight,lamp", 1));
    assert_eq!(answer.matches[0].difference.delta_e, DeltaE::default());
}

#[test]
fn a_pass_over_lights_stops_when_nobody_waits() {
    struct Gone;
    impl Watch for Gone {
        fn stopped(&self) -> bool {
            true
        }
        fn progress(&self, _: &Progress) {}
    }
    let catalog = Catalog::build([table("t", mixtures(10, 1, Conditions::TEXTILE))]);
    let asked = &mixtures(1, 2, Conditions::TEXTILE)[0];
    let stopped = nearest_seen(&catalog, seen(asked), &under("led", 1), &Gone).unwrap_err();
    assert_eq!(*stopped.kind(), ErrorKind::Stopped);
}
