//! Ties, limits, filters and conditions over several tables.
//! It does not know how a search is pruned.

mod adapted;
mod as_near;
mod over_lights;

use std::cell::Cell;

use super::*;
use crate::color::{Conditions, Illuminant, Lab, Observer, Origin, Srgb8};
use crate::error::ErrorKind;
use crate::table::{Code, Currency, Status, Table};
use crate::watch::Progress;

fn measured(l: f64, a: f64, b: f64) -> Color {
    Color::lab_under(Lab::new(l, a, b).unwrap(), Conditions::TEXTILE, Origin::Meter)
}

fn thread(code: &str, color: Color) -> Thread {
    Thread::plain(Code::parse(code).unwrap(), "", color)
}

fn id(text: &str) -> TableId {
    TableId::parse(text).unwrap()
}

fn table(name: &str, threads: Vec<Thread>) -> Table {
    Table::new(id(name), threads).unwrap()
}

fn options(count: usize) -> NearestOptions {
    NearestOptions {
        tables: Vec::new(),
        count,
        formula: Formula::DEFAULT,
        adaptation: None,
        lights: None,
        limit: None,
        filter: ThreadFilter::default(),
        count_as_near: false,
    }
}

fn codes(answer: &Nearest<'_>) -> Vec<String> {
    answer
        .matches
        .iter()
        .map(|hit| format!("{} {}", hit.table.table().id(), hit.thread.code))
        .collect()
}

/// Four threads of one color, with the codes in this order.
fn tied(name: &str, order: [&str; 4]) -> Table {
    table(name, order.iter().map(|code| thread(code, measured(50.0, 0.0, 5.0))).collect())
}

#[test]
fn ties_are_broken_by_table_then_by_code_wherever_the_count_cuts() {
    let catalog =
        Catalog::build([tied("b", ["9", "1", "7", "3"]), tied("a", ["z", "m", "Y", "c"])]);
    let all = ["a c", "a m", "a Y", "a z", "b 1", "b 3", "b 7", "b 9"];
    for count in 1..=8 {
        let answer = nearest(&catalog, &measured(50.0, 0.0, 0.0), &options(count)).unwrap();
        assert_eq!(codes(&answer), all[..count], "{count}");
    }
}

#[test]
fn mirrored_colors_tie_and_are_broken_by_code() {
    // Under CIE76 all six lie exactly 3 away; the table lists them against the order of codes.
    let steps = [
        (3.0, 0.0, 0.0),
        (-3.0, 0.0, 0.0),
        (0.0, 3.0, 0.0),
        (0.0, -3.0, 0.0),
        (0.0, 0.0, 3.0),
        (0.0, 0.0, -3.0),
    ];
    let threads = steps
        .iter()
        .zip(["f", "e", "d", "c", "b", "a"])
        .map(|((l, a, b), code)| thread(code, measured(50.0 + l, *a, *b)))
        .collect();
    let catalog = Catalog::build([table("t", threads)]);
    for count in 1..=6 {
        let asked = NearestOptions { formula: Formula::Cie76, ..options(count) };
        let answer = nearest(&catalog, &measured(50.0, 0.0, 0.0), &asked).unwrap();
        assert_eq!(codes(&answer), ["t a", "t b", "t c", "t d", "t e", "t f"][..count]);
    }
}

#[test]
fn nothing_within_the_limit_names_the_nearest_beyond_it() {
    let catalog = Catalog::build([
        table("a", vec![thread("far", measured(80.0, 0.0, 0.0))]),
        table(
            "b",
            vec![
                thread("near", measured(57.0, 0.0, 0.0)),
                thread("next", measured(59.0, 0.0, 0.0)),
            ],
        ),
    ]);
    let standard = measured(50.0, 0.0, 0.0);
    let asked = NearestOptions { limit: Some(DeltaE::new(5.0).unwrap()), ..options(3) };
    let answer = nearest(&catalog, &standard, &asked).unwrap();
    assert!(answer.matches.is_empty());
    let beyond = answer.beyond.unwrap();
    assert_eq!(beyond.thread.code.as_str(), "near");
    assert!(beyond.difference.delta_e.value() > 5.0);

    let asked = NearestOptions { limit: Some(beyond.difference.delta_e), ..options(3) };
    let answer = nearest(&catalog, &standard, &asked).unwrap();
    assert_eq!(codes(&answer), ["b near"], "the limit itself is within");
    assert!(answer.beyond.is_none());
}

#[test]
fn every_filter_acts_only_when_given() {
    let at = |code: &str, change: &dyn Fn(&mut Thread)| {
        let mut thread = thread(code, measured(50.0, 0.0, 0.0));
        change(&mut thread);
        thread
    };
    let euro = |micros: i64| Price { micros, currency: Currency::parse("EUR") };
    let catalog = Catalog::build([table(
        "t",
        vec![
            at("plain", &|_| {}),
            at("ready", &|thread| thread.status = Status::Available),
            at("shiny", &|thread| thread.finish = Finish::Metallic),
            at("silk", &|thread| thread.fiber = Some("silk".into())),
            at("cheap", &|thread| thread.price = Some(euro(900_000))),
            at("dear", &|thread| thread.price = Some(euro(2_000_000))),
        ],
    )]);
    let under = |filter: ThreadFilter| {
        let asked = NearestOptions { filter, ..options(10) };
        codes(&nearest(&catalog, &measured(50.0, 0.0, 0.0), &asked).unwrap()).join(", ")
    };
    let none = ThreadFilter::default;
    assert_eq!(under(none()), "t cheap, t dear, t plain, t ready, t shiny, t silk");
    assert_eq!(under(ThreadFilter { available_only: true, ..none() }), "t ready");
    assert_eq!(under(ThreadFilter { finishes: vec![Finish::Metallic], ..none() }), "t shiny");
    assert_eq!(under(ThreadFilter { fibers: vec!["silk".into()], ..none() }), "t silk");
    assert_eq!(under(ThreadFilter { max_price: Some(euro(1_000_000)), ..none() }), "t cheap");
    let out = ThreadRef { table: id("t"), code: Code::parse("SILK").unwrap() };
    let elsewhere = ThreadRef { table: id("u"), code: Code::parse("plain").unwrap() };
    let excluded = ThreadFilter { excluded: vec![out, elsewhere], ..none() };
    assert_eq!(under(excluded), "t cheap, t dear, t plain, t ready, t shiny");
    assert_eq!(under(ThreadFilter { fibers: vec!["wool".into()], ..none() }), "");
}

#[test]
fn a_table_measured_under_another_light_is_refused_whole() {
    let lamp = Conditions { illuminant: Illuminant::A, observer: Observer::TenDegree };
    let odd = Color::lab_under(Lab::new(5.0, 0.0, 0.0).unwrap(), lamp, Origin::Meter);
    // The odd thread is far from the color asked for: whether it answers must not matter.
    let picture = Color::screen(Srgb8::new(119, 119, 119));
    let threads = vec![thread("good", picture), thread("odd", odd)];
    let catalog = Catalog::build([table("t", threads)]);
    let refused = nearest(&catalog, &measured(50.0, 0.0, 0.0), &options(1)).unwrap_err();
    assert!(matches!(refused.kind(), ErrorKind::ConditionsDiffer { .. }), "{refused}");

    let screen = Color::screen(Srgb8::new(119, 119, 119));
    assert_eq!(codes(&nearest(&catalog, &screen, &options(1)).unwrap()), ["t good"]);
}

#[test]
fn an_unknown_table_is_an_error_and_an_empty_catalog_an_empty_answer() {
    let standard = measured(50.0, 0.0, 0.0);
    let asked = NearestOptions { tables: vec![id("gone")], ..options(1) };
    let empty = Catalog::default();
    let refused = nearest(&empty, &standard, &asked).unwrap_err();
    assert!(matches!(refused.kind(), ErrorKind::UnknownTable { .. }), "{refused}");
    let answer = nearest(&empty, &standard, &options(1)).unwrap();
    assert!(answer.matches.is_empty() && answer.beyond.is_none());
}

/// Stops after it was asked so many times.
struct Patience(Cell<u32>);

impl Watch for Patience {
    fn stopped(&self) -> bool {
        let left = self.0.get();
        self.0.set(left.saturating_sub(1));
        left == 0
    }

    fn progress(&self, _: &Progress) {}
}

fn wide() -> Catalog {
    let threads = (0..2_000_u32)
        .map(|row| {
            let (l, a) = (f64::from(row % 50) * 2.0, f64::from(row / 50) * 5.0 - 100.0);
            thread(&format!("w-{row}"), measured(l, a, 0.3 * a))
        })
        .collect();
    Catalog::build([table("wide", threads)])
}

#[test]
fn many_colors_answer_as_one_by_one_and_in_their_order() {
    let catalog = wide();
    let standards: Vec<Color> =
        (0..100).map(|step| measured(f64::from(step), f64::from(step) - 50.0, 10.0)).collect();
    let many = nearest_many(&catalog, &standards, &options(5), &Patient).unwrap();
    assert_eq!(many.len(), standards.len());
    for (standard, together) in standards.iter().zip(&many) {
        let alone = nearest(&catalog, standard, &options(5)).unwrap();
        assert_eq!(codes(&alone), codes(together));
        assert_eq!(alone.tally, together.tally);
    }
}

#[test]
fn a_batch_stops_when_nobody_waits_even_inside_one_color() {
    let catalog = wide();
    let standards = vec![measured(50.0, 0.0, 0.0); 1_000];
    let refused =
        nearest_many(&catalog, &standards, &options(1), &Patience(Cell::new(3))).unwrap_err();
    assert_eq!(*refused.kind(), ErrorKind::Stopped);

    let watch = Patience(Cell::new(3));
    let refused = nearest_many(&catalog, &standards[..1], &options(1_000), &watch).unwrap_err();
    assert_eq!(*refused.kind(), ErrorKind::Stopped);
}

#[test]
fn a_batch_with_one_color_that_cannot_be_compared_is_refused_before_any_work() {
    let catalog = wide();
    let lamp = Conditions { illuminant: Illuminant::A, observer: Observer::TenDegree };
    let odd = Color::lab_under(Lab::new(5.0, 0.0, 0.0).unwrap(), lamp, Origin::Meter);
    let never = Patience(Cell::new(0));
    let refused = nearest_many(&catalog, &[measured(50.0, 0.0, 0.0), odd], &options(1), &never);
    assert!(matches!(refused.unwrap_err().kind(), ErrorKind::ConditionsDiffer { .. }));
}
