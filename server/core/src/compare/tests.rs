//! Two versions of a small table, with one change of each kind.

use super::*;
use crate::color::{Conditions, Lab, Origin, Srgb8};
use crate::table::{Finish, Price, TableId};
use crate::watch::{Patient, Progress};

fn thread(code: &str, hex: &str) -> Thread {
    let color = Color::screen(Srgb8::parse_hex(hex).unwrap());
    Thread::plain(Code::parse(code).unwrap(), format!("name of {code}"), color)
}

fn out(code: &str, hex: &str, status: Status) -> Thread {
    Thread { status, ..thread(code, hex) }
}

fn compared(old: &[Thread], new: &[Thread]) -> Comparison {
    let held = |id: &str, threads: &[Thread]| {
        CatalogTable::new(Table::new(TableId::parse(id).unwrap(), threads.to_vec()).unwrap())
    };
    compare(&held("old", old), &held("new", new), Measure::plain(Formula::DEFAULT), &Patient)
        .unwrap()
}

fn codes<'t>(threads: impl IntoIterator<Item = &'t Thread>) -> Vec<&'t str> {
    threads.into_iter().map(|thread| thread.code.as_str()).collect()
}

fn named(answer: &Answer) -> Option<&str> {
    answer.as_ref().unwrap().as_ref().map(|stand_in| stand_in.thread.code.as_str())
}

#[test]
fn a_table_is_the_same_as_itself_in_any_order_of_rows() {
    let threads = [thread("A", "#4a6b3c"), out("B", "#5a7b4c", Status::Discontinued)];
    let turned = [threads[1].clone(), threads[0].clone()];
    let found = compared(&threads, &turned);
    assert!(found.is_same(), "{found:?}");
    assert_eq!(found.shared, 2);
    assert_ne!(found.old.hash, found.new.hash);
}

#[test]
fn every_kind_of_change_is_told_apart() {
    let old = [
        thread("gone", "#101010"),
        thread("same", "#202020"),
        thread("color", "#303030"),
        thread("name", "#404040"),
        thread("status", "#505050"),
        thread("price", "#606060"),
    ];
    let mut new = old[1..].to_vec();
    new[1].color = Color::screen(Srgb8::parse_hex("#383838").unwrap());
    new[2].name = "another".into();
    new[3].status = Status::Low;
    new[4].price = Some(Price { micros: 1_500_000, currency: None });
    new[4].pack = Some(6);
    new.push(thread("added", "#707070"));
    let found = compared(&old, &new);
    assert_eq!(found.shared, 5);
    assert_eq!(codes(&found.gone), ["gone"]);
    assert_eq!(codes(&found.added), ["added"]);
    let [recolored] = found.recolored.as_slice() else { panic!("{found:?}") };
    assert_eq!(recolored.after.code.as_str(), "color");
    let difference = recolored.difference.as_ref().unwrap();
    assert!(difference.lightness > 0.0 && difference.delta_e.value() > 1.0);
    assert_eq!(codes(found.renamed.iter().map(|changed| &changed.after)), ["name"]);
    assert_eq!(found.renamed[0].before.name, "name of name");
    assert_eq!(codes(found.restated.iter().map(|changed| &changed.after)), ["status"]);
    let [other] = found.others.as_slice() else { panic!("{found:?}") };
    assert_eq!(
        (other.code.as_str(), &other.fields[..]),
        ("price", &[Field::Pack, Field::Price][..])
    );
    assert!(!found.is_same());
}

#[test]
fn codes_are_one_whatever_their_case() {
    let found = compared(&[thread("qm-1", "#101010")], &[thread("QM-1 ", "#101010")]);
    assert_eq!((found.shared, found.gone.len(), found.added.len()), (1, 0, 0));
}

#[test]
fn a_gone_thread_gets_the_nearest_of_the_new_version() {
    let old = [thread("gone", "#404040"), thread("near", "#434343"), thread("far", "#4a4a4a")];
    let new = [thread("far", "#4a4a4a"), thread("next", "#3e3e3e")];
    let found = compared(&old, &new);
    assert_eq!(codes(&found.gone), ["gone", "near"]);
    let [gone, near] = found.substitutions.as_slice() else { panic!("{found:?}") };
    assert!(gone.gone && near.gone);
    assert_eq!((named(&gone.before), named(&gone.after)), (Some("near"), Some("next")));
    assert_eq!((named(&near.before), named(&near.after)), (Some("gone"), Some("next")));
}

#[test]
fn a_stand_in_that_is_sold_out_is_replaced() {
    let missing = out("gap", "#404040", Status::Unavailable);
    let old = [missing, thread("near", "#434343"), thread("far", "#5a5a5a")];
    let mut new = old.to_vec();
    new[1].status = Status::BackOrder;
    let found = compared(&old, &new);
    let substitutions: Vec<_> = found
        .substitutions
        .iter()
        .map(|change| (change.thread.code.as_str(), named(&change.before), named(&change.after)))
        .collect();
    let needed_only_now = ("near", Some("far"), Some("far"));
    assert_eq!(substitutions, [("gap", Some("near"), Some("far")), needed_only_now]);
    new.truncate(2);
    let found = compared(&old, &new);
    assert_eq!(named(&found.substitutions[1].after), None, "{found:?}");
    assert_eq!(found.substitutions[1].thread.code.as_str(), "gap");
}

#[test]
fn a_recolored_stand_in_is_told_with_both_differences() {
    let missing = out("gap", "#404040", Status::Discontinued);
    let found = compared(
        &[missing.clone(), thread("near", "#434343")],
        &[missing, thread("near", "#4a4a4a")],
    );
    let [change] = found.substitutions.as_slice() else { panic!("{found:?}") };
    let far = |answer: &Answer| {
        answer.as_ref().unwrap().as_ref().map(|stand_in| stand_in.difference.delta_e.value())
    };
    assert!(far(&change.before) < far(&change.after));
    assert_eq!(named(&change.before), named(&change.after));
}

#[test]
fn listed_alternates_come_before_the_nearest() {
    let mut missing = out("gap", "#404040", Status::Discontinued);
    missing.alternates = ["sold", "wish"].map(|code| Code::parse(code).unwrap()).into();
    let others = [
        thread("near", "#414141"),
        out("sold", "#424242", Status::Unavailable),
        thread("wish", "#606060"),
    ];
    let mut before = missing.clone();
    before.alternates = Box::default();
    let with = |first: &Thread| [&[first.clone()][..], &others].concat();
    let found = compared(&with(&before), &with(&missing));
    let gap = found.substitutions.iter().find(|change| change.thread.code == missing.code).unwrap();
    assert_eq!((named(&gap.before), named(&gap.after)), (Some("near"), Some("wish")));
    assert!(gap.after.as_ref().unwrap().as_ref().unwrap().preferred);
}

#[test]
fn another_finish_stands_in_for_none() {
    let mut shiny = thread("near", "#414141");
    shiny.finish = Finish::Metallic;
    let missing = out("gap", "#404040", Status::Discontinued);
    let found = compared(&[missing.clone(), thread("near", "#414141")], &[missing, shiny]);
    let [change] = found.substitutions.as_slice() else { panic!("{found:?}") };
    assert_eq!((named(&change.before), named(&change.after)), (Some("near"), None));
}

#[test]
fn colors_measured_under_another_light_are_not_compared() {
    let measured = |code: &str, white: &str| {
        let white = Conditions::parse(white).unwrap();
        let color = Color::lab_under(Lab::new(50.0, 1.0, 1.0).unwrap(), white, Origin::Meter);
        Thread::plain(Code::parse(code).unwrap(), "", color)
    };
    let found = compared(
        &[measured("A", "D65/10"), measured("B", "D65/10")],
        &[measured("A", "D50/2"), measured("C", "D50/2")],
    );
    let refused = found.recolored[0].difference.as_ref().unwrap_err();
    assert!(matches!(refused.kind(), ErrorKind::ConditionsDiffer { .. }));
    let [gone] = found.substitutions.as_slice() else { panic!("{found:?}") };
    assert_eq!(named(&gone.before), Some("A"));
    assert!(matches!(gone.after.as_ref().unwrap_err().kind(), ErrorKind::ConditionsDiffer { .. }));
}

#[test]
fn field_names_read_back() {
    for field in Field::ALL {
        assert_eq!(Field::parse(field.as_str()), Some(field));
    }
    assert!(Field::ALL.is_sorted());
}

#[test]
fn a_comparison_that_nobody_waits_for_stops() {
    struct Gone;
    impl Watch for Gone {
        fn stopped(&self) -> bool {
            true
        }
        fn progress(&self, _: &Progress) {}
    }
    let held = || {
        let threads = vec![thread("A", "#101010")];
        CatalogTable::new(Table::new(TableId::parse("t").unwrap(), threads).unwrap())
    };
    let refused = compare(&held(), &held(), Measure::plain(Formula::DEFAULT), &Gone).unwrap_err();
    assert_eq!(*refused.kind(), ErrorKind::Stopped);
}

#[test]
fn versions_under_two_lights_are_compared_when_adaptation_is_asked_for() {
    use crate::color::{AdaptationMethod, Trust};
    let under = |code: &str, white: &str, status| {
        let conditions = Conditions::parse(white).unwrap();
        let lab = Lab::new(if code == "A" { 40.0 } else { 41.0 }, 20.0, 30.0).unwrap();
        let color = Color::lab_under(lab, conditions, Origin::Meter);
        Thread { status, ..Thread::plain(Code::parse(code).unwrap(), "", color) }
    };
    let old = [under("A", "D50/10", Status::Available), under("B", "D50/10", Status::Available)];
    let new = [under("B", "D65/10", Status::Available)];
    let plain = compared(&old, &new);
    let refused = plain.recolored[0].difference.as_ref().unwrap_err();
    assert!(refused.hint().unwrap().contains("--adapt"), "{refused}");
    assert!(plain.substitutions[0].after.is_err(), "A of the old version, B of the new one");

    let held = |id: &str, threads: &[Thread]| {
        CatalogTable::new(Table::new(TableId::parse(id).unwrap(), threads.to_vec()).unwrap())
    };
    let adaptation = Some(AdaptationMethod::Bradford);
    let measure = Measure { formula: Formula::DEFAULT, adaptation };
    let found = compare(&held("old", &old), &held("new", &new), measure, &Patient).unwrap();
    let adapted = Trust::Adapted(AdaptationMethod::Bradford);
    assert_eq!(found.recolored[0].difference.as_ref().unwrap().trust, adapted);
    let after = found.substitutions[0].after.as_ref().unwrap().as_ref().unwrap();
    assert_eq!((after.thread.code.as_str(), after.difference.trust), ("B", adapted));
}
