//! Stand-ins ranked by their worst light: jointly best, refused without spectra, told as proposed.
//! It does not check how a spectrum becomes CIELAB.

use std::sync::Arc;

use super::substitution::missing;
use super::*;
use crate::change::Answer;
use crate::difference::DeltaE;
use crate::spectrum::{Lights, Reflectance, Spectra, over_lights};

/// Invented smooth reflectances, see tests/data/README.md.
const REFLECTANCES: &str = include_str!("../../../../../tests/data/reference/reflectances.csv");

/// Threads `T-000` and so on: mixtures of the invented reflectances, the last one without spectrum.
fn threads(count: usize) -> Vec<Thread> {
    let lines = REFLECTANCES.lines().filter(|line| !line.starts_with(['#', 'n']));
    let parts: Vec<Vec<f64>> = lines
        .map(|line| line.split(',').skip(1).map(|value| value.parse().unwrap()).collect())
        .collect();
    let mixed = |row: usize| {
        let share = |place: usize| f64::from(u32::try_from((row * 7 + place * 5) % 11).unwrap());
        let whole: f64 = (0..parts.len()).map(|place| share(place).powi(3)).sum();
        let at = |nm: usize| {
            let each = parts.iter().enumerate();
            each.map(|(place, held)| share(place).powi(3) * held[nm] / whole).sum::<f64>()
        };
        Reflectance::new(400, 10, &(0..31).map(at).collect::<Vec<_>>()).unwrap()
    };
    (0..count)
        .map(|row| {
            let spectrum = mixed(row);
            let color = spectrum.color(Conditions::TEXTILE).unwrap();
            let code = Code::parse(&format!("T-{row:03}")).unwrap();
            let spectrum = (row + 1 < count).then(|| Arc::new(spectrum));
            Thread { spectrum, ..Thread::plain(code, "", color) }
        })
        .collect()
}

fn catalog(threads: &[Thread]) -> Catalog {
    let id = TableId::parse("own").unwrap();
    Catalog::build([Table::new(id, threads.to_vec()).unwrap()])
}

fn by(lights: &str, rows: &[usize]) -> SubstituteOptions {
    SubstituteOptions { lights: Some(Lights::parse(lights).unwrap()), ..missing(rows) }
}

/// The largest difference of two threads under the lights.
fn worst(one: &Thread, other: &Thread, lights: &Lights) -> f64 {
    let [standard, sample] = [one, other].map(|thread| thread.spectrum.as_deref().unwrap());
    let observer = Conditions::TEXTILE.observer;
    let pair = Spectra { standard, sample };
    over_lights(pair, lights, observer, Formula::DEFAULT).unwrap().worst().delta_e.value()
}

#[test]
fn stand_ins_are_the_least_worst_together() {
    let held = threads(11);
    let colors = || {
        let part = |row: usize, stitches| worked(held[row].color, stitches, &[row]);
        vec![part(0, 500), part(1, 300), part(2, 60)]
    };
    for lights in ["daylight,lamp,led", "lamp", "FL11,FL2"] {
        let options = by(lights, &[0, 1]);
        let lights = options.lights.clone().unwrap();
        let list = substitute(&catalog(&held), &summary(colors()), &ask(), &options, &Patient);
        let list = list.unwrap();
        // Every pair of different threads with spectra that the chart does not use.
        let free = 3..10;
        let cost = |row: usize, to: usize| worst(&held[row], &held[to], &lights);
        let pairs = free.clone().flat_map(|one| free.clone().map(move |two| (one, two)));
        let best = pairs
            .filter(|(one, two)| one != two)
            .map(|(one, two)| 500.0 * cost(0, one) + 300.0 * cost(1, two))
            .fold(f64::INFINITY, f64::min);
        assert!((list.totals.mean_difference.value() * 860.0 - best).abs() < 1e-9);
        assert!(list.totals.proved_best);
        let joint = list.joint.as_ref().unwrap();
        assert_eq!((joint.lights.as_ref(), joint.left_out), (Some(&lights), 1));
        for change in &list.changes {
            let told = change.after[0].over_lights.as_ref().unwrap();
            assert!(told.ranked());
            assert_eq!(told.worst().delta_e, change.after[0].difference.delta_e);
            assert!(change.runners_up.iter().all(|other| other.over_lights.is_some()));
        }
    }
}

#[test]
fn without_lights_listed_colors_rank_and_spectra_only_tell() {
    let held = threads(11);
    let colors = vec![worked(held[0].color, 10, &[0])];
    let list = substitute(&catalog(&held), &summary(colors), &ask(), &missing(&[0]), &Patient);
    let list = list.unwrap();
    let change = &list.changes[0];
    let listed = Difference::between(&held[0].color, &change.after[0].color, Formula::DEFAULT);
    assert_eq!(change.after[0].difference, listed.unwrap());
    for proposed in change.after.iter().chain(&change.runners_up) {
        let has = proposed.thread.code.as_str() != "T-010";
        assert_eq!(proposed.over_lights.as_ref().map(|told| told.ranked()), has.then_some(false));
    }
    assert_eq!(list.joint.map(|joint| (joint.lights, joint.left_out)), Some((None, 0)));
}

#[test]
fn what_cannot_be_seen_is_refused_by_name() {
    let held = threads(6);
    let colors = || vec![worked(held[5].color, 10, &[5]), worked(held[0].color, 10, &[0])];
    let run = |ask: &Ask, options: &SubstituteOptions| {
        substitute(&catalog(&held), &summary(colors()), ask, options, &Patient)
    };
    let refused = run(&ask(), &by("lamp", &[5])).unwrap_err();
    assert!(refused.to_string().contains("own T-005"), "{refused}");
    assert!(refused.hint().unwrap().contains("leave the lights out"), "{refused:?}");
    let another = Answered { color: 1, proposed: vec![], answer: Answer::Another(thread(5)) };
    let answered = Ask { answers: vec![another], ..ask() };
    let refused = run(&answered, &by("lamp", &[0])).unwrap_err();
    assert!(refused.to_string().contains("no reflectance spectrum"), "{refused}");
}

#[test]
fn a_limit_is_measured_under_the_worst_light() {
    let held = threads(11);
    let colors = vec![worked(held[0].color, 10, &[0])];
    let plain = by("daylight,lamp,led", &[0]);
    let found = substitute(&catalog(&held), &summary(colors.clone()), &ask(), &plain, &Patient);
    let least = found.unwrap().totals.max_difference.value();
    for (limit, beyond) in [(least + 1e-6, false), (least - 1e-6, true)] {
        let options = SubstituteOptions { limit: Some(DeltaE::computed(limit)), ..plain.clone() };
        let list =
            substitute(&catalog(&held), &summary(colors.clone()), &ask(), &options, &Patient);
        let remarks = &list.unwrap().changes[0].remarks;
        assert_eq!(remarks.contains(&Remark::BeyondLimit), beyond);
    }
}
