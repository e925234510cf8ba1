//! Audits of planted faults, and of the example ranges as they are.

use super::*;
use crate::color::{Conditions, Lab, Origin, Srgb8};
use crate::error::ErrorKind;
use crate::table::{Code, Finish, ReadOptions, Table, TableId, read};
use crate::watch::{Patient, Progress};

const RANGES: [&str; 3] = ["larkpenny", "ottersby", "quillmoor"];

fn range(name: &str) -> Vec<Thread> {
    let path = format!("{}/../../data/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    let options = ReadOptions {
        id: TableId::parse(name).unwrap(),
        source_name: path.clone(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    };
    read(&std::fs::read(path).unwrap(), &options).unwrap().table.threads().to_vec()
}

fn held(threads: Vec<Thread>) -> CatalogTable {
    CatalogTable::new(Table::new(TableId::parse("shelf").unwrap(), threads).unwrap())
}

fn lab(code: &str, l: f64, a: f64, b: f64) -> Thread {
    let white = Conditions::parse("D65/10").unwrap();
    let color = Color::lab_under(Lab::new(l, a, b).unwrap(), white, Origin::Meter);
    Thread::plain(Code::parse(code).unwrap(), "", color)
}

fn options(twins: f64, gap: f64) -> AuditOptions {
    AuditOptions {
        formula: Formula::DEFAULT,
        twins: DeltaE::new(twins).unwrap(),
        gap: DeltaE::new(gap).unwrap(),
    }
}

fn audited(threads: Vec<Thread>, options: &AuditOptions) -> Audit {
    audit(&held(threads), options, &Patient).unwrap()
}

fn swaps(threads: &[Thread]) -> Vec<(String, String, Clue)> {
    let found = swaps::find(threads, Formula::DEFAULT, &Patient).unwrap();
    let code = |thread: &Thread| thread.code.to_string();
    found.iter().map(|swap| (code(&swap.first), code(&swap.second), swap.clue)).collect()
}

/// The colors of two rows exchanged, as a slip in a spreadsheet does.
fn exchanged(threads: &[Thread], one: usize, two: usize) -> Vec<Thread> {
    let mut threads = threads.to_vec();
    let color = threads[one].color;
    threads[one].color = threads[two].color;
    threads[two].color = color;
    threads
}

/// Numbers that look random and are the same in every run (Knuth's MMIX constants).
fn dice(seed: &mut u64, sides: usize) -> usize {
    *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    usize::try_from(*seed >> 33).unwrap() % sides
}

/// Every pair of kin within the limit, by brute force.
fn pairs(threads: &[Thread], options: &AuditOptions) -> Vec<(f64, Code, Code)> {
    let mut sorted: Vec<&Thread> = threads.iter().collect();
    sorted.sort_by_key(|thread| &thread.code);
    let mut found = Vec::new();
    for (place, first) in sorted.iter().enumerate() {
        for second in sorted.iter().skip(place + 1).filter(|second| first.is_kin_of(second)) {
            let far = Difference::between(&first.color, &second.color, options.formula).unwrap();
            if far.delta_e.value() <= options.twins.value() {
                found.push((far.delta_e.value(), first.code.clone(), second.code.clone()));
            }
        }
    }
    found.sort_by(|left, right| left.0.total_cmp(&right.0));
    found
}

#[test]
fn near_twins_are_those_of_a_pass_over_all_pairs() {
    for name in RANGES {
        for formula in [Formula::DEFAULT, Formula::Cie76] {
            let asked = AuditOptions { formula, ..options(3.0, 99.0) };
            let threads = range(name);
            let expected = pairs(&threads, &asked);
            let found = audited(threads, &asked);
            let twins: Vec<_> = found
                .twins
                .iter()
                .map(|twins| {
                    let (first, second) = (twins.first.code.clone(), twins.second.code.clone());
                    (twins.difference.delta_e.value(), first, second)
                })
                .collect();
            assert!(!expected.is_empty(), "{name}");
            assert_eq!(found.more_twins, expected.len() > MAX_LISTED);
            assert_eq!(twins, expected[..expected.len().min(MAX_LISTED)], "{name} {formula}");
        }
    }
}

#[test]
fn a_table_of_one_color_lists_its_first_pairs_and_says_that_there_are_more() {
    let threads: Vec<Thread> =
        (0..3_000).map(|row| lab(&format!("T{row:04}"), 50.0, 10.0, 10.0)).collect();
    let found = audited(threads, &options(0.0, 99.0));
    assert_eq!(found.twins.len(), MAX_LISTED);
    assert!(found.more_twins);
    let last = found.twins.last().unwrap();
    assert_eq!((last.first.code.as_str(), last.second.code.as_str()), ("T0000", "T0500"));
}

#[test]
fn threads_of_another_finish_or_fiber_are_no_twins() {
    let mut threads = vec![lab("A", 50.0, 0.0, 0.0), lab("B", 50.0, 0.0, 0.0)];
    threads.push(lab("C", 50.0, 0.0, 0.0));
    threads[1].finish = Finish::Metallic;
    threads[2].fiber = Some("silk".into());
    let found = audited(threads.clone(), &options(1.0, 99.0));
    assert_eq!(found.twins.len(), 1, "an unknown fiber contradicts none");
    threads[0].fiber = Some("cotton".into());
    assert!(audited(threads, &options(1.0, 99.0)).is_clean());
}

#[test]
fn the_example_ranges_raise_no_alarm_of_swapped_rows() {
    for name in RANGES {
        let mut threads = range(name);
        assert_eq!(swaps(&threads), [], "{name}");
        threads.reverse();
        assert_eq!(swaps(&threads), [], "{name} from its end");
    }
}

#[test]
fn rows_in_no_order_raise_no_alarm() {
    for name in RANGES {
        for seed in 0..20 {
            let (mut threads, mut seed) = (range(name), seed);
            for place in (1..threads.len()).rev() {
                threads.swap(place, dice(&mut seed, place + 1));
            }
            assert_eq!(swaps(&threads), [], "{name} {seed}");
        }
    }
}

#[test]
fn two_neighboring_rows_of_a_run_of_lightness_are_found() {
    let threads: Vec<Thread> = (0..12)
        .map(|row| lab(&format!("T{row:02}"), 90.0 - 6.0 * f64::from(row), 20.0, 10.0))
        .collect();
    assert_eq!(swaps(&threads), []);
    let found = swaps(&exchanged(&threads, 5, 6));
    assert_eq!(found, [("T05".to_owned(), "T06".to_owned(), Clue::Lightness)]);
}

/// Swaps of neighbors planted in a range: found, and with others beside them.
fn planted(threads: &[Thread]) -> (usize, usize, usize) {
    let (mut tried, mut found, mut wrong) = (0, 0, 0);
    for row in 0..threads.len() - 1 {
        let (one, two) = (threads[row].color.lab(), threads[row + 1].color.lab());
        if (one.l() - two.l()).abs() < 4.0 {
            continue;
        }
        tried += 1;
        let alarms = swaps(&exchanged(threads, row, row + 1));
        let (first, second) = (threads[row].code.to_string(), threads[row + 1].code.to_string());
        let hits = alarms.iter().filter(|alarm| (&alarm.0, &alarm.1) == (&first, &second)).count();
        found += hits;
        wrong += alarms.len() - hits;
    }
    (tried, found, wrong)
}

#[test]
fn most_planted_swaps_of_neighbors_are_found_where_lightness_runs() {
    let (tried, found, wrong) = planted(&range("quillmoor"));
    assert!(tried > 150 && found * 100 >= tried * 60, "{found} of {tried}");
    assert!(wrong * 50 <= tried, "{wrong} false alarms in {tried}");
    let (tried, found, wrong) = planted(&range("ottersby"));
    assert!(tried > 100 && found * 100 >= tried * 35, "{found} of {tried}");
    assert!(wrong * 50 <= tried, "{wrong} false alarms in {tried}");
}

#[test]
fn many_planted_swaps_of_distant_rows_are_found() {
    for (name, share) in [("quillmoor", 65), ("ottersby", 45), ("larkpenny", 40)] {
        let threads = range(name);
        let (mut seed, mut tried, mut found, mut wrong) = (7, 0, 0, 0);
        while tried < 200 {
            let (one, two) = (dice(&mut seed, threads.len()), dice(&mut seed, threads.len()));
            let pair = crate::difference::Pair {
                standard: threads[one].color.lab(),
                sample: threads[two].color.lab(),
            };
            if one + 3 > two || Formula::Cie76.delta_e(pair).value() < 20.0 {
                continue;
            }
            tried += 1;
            let alarms = swaps(&exchanged(&threads, one, two));
            let (first, second) = (threads[one].code.as_str(), threads[two].code.as_str());
            found += alarms.iter().filter(|alarm| alarm.0 == first && alarm.1 == second).count();
            // A foreign color may be paired with another row, but one of the two is a right one.
            let astray = |alarm: &&(String, String, Clue)| {
                [&alarm.0, &alarm.1].iter().all(|code| *code != first && *code != second)
            };
            wrong += alarms.iter().filter(astray).count();
        }
        assert!(found * 100 >= tried * share, "{name}: {found} of {tried}");
        assert!(wrong * 50 <= tried, "{name}: {wrong} false alarms in {tried}");
    }
}

#[test]
fn gaps_are_beyond_the_limit_and_a_thread_at_each_would_close_them_all() {
    for name in RANGES {
        let mut threads = range(name);
        let asked = options(0.0, 8.0);
        let found = audited(threads.clone(), &asked);
        assert!(!found.gaps.is_empty() && !found.more_gaps, "{name}: {}", found.gaps.len());
        let mut last = f64::INFINITY;
        for (place, gap) in found.gaps.iter().enumerate() {
            let far = gap.difference.delta_e.value();
            assert!(far > 8.0 && far <= last);
            last = far;
            let plain = threads.iter().filter(|thread| thread.finish == Finish::Plain);
            let nearest = plain
                .map(|thread| {
                    let difference =
                        Difference::between(&gap.color, &thread.color, asked.formula).unwrap();
                    difference.delta_e.value()
                })
                .fold(f64::INFINITY, f64::min);
            assert!((nearest - far).abs() < 1e-12, "{name} {place}");
        }
        for (place, gap) in found.gaps.iter().enumerate() {
            threads.push(Thread::plain(
                Code::parse(&format!("new {place}")).unwrap(),
                "",
                Color::screen(gap.color.srgb()),
            ));
        }
        assert_eq!(audited(threads, &asked).gaps, [], "{name}");
    }
}

#[test]
fn a_lone_gap_is_found_where_it_was_made() {
    let mut threads = range("quillmoor");
    let clean = audited(threads.clone(), &options(0.0, 12.0));
    let rose = Srgb8::parse_hex("#b0506a").unwrap();
    let near = |thread: &Thread| {
        let difference =
            Difference::between(&Color::screen(rose), &thread.color, Formula::DEFAULT).unwrap();
        difference.delta_e.value() < 20.0
    };
    threads.retain(|thread| !near(thread));
    let found = audited(threads, &options(0.0, 12.0));
    let first = Difference::between(&found.gaps[0].color, &Color::screen(rose), Formula::DEFAULT);
    assert!(first.unwrap().delta_e.value() < 8.0, "{:?}", found.gaps[0].color);
    assert!(found.gaps.len() > clean.gaps.len());
}

#[test]
fn a_table_without_plain_threads_has_no_gaps_to_speak_of() {
    let mut threads = vec![lab("A", 50.0, 0.0, 0.0)];
    threads[0].finish = Finish::Variegated;
    let found = audited(threads, &options(1.0, 5.0));
    assert!(found.gaps.is_empty());
    assert_eq!(found.plain_threads, 0);
}

#[test]
fn an_audit_that_nobody_waits_for_stops() {
    struct Gone;
    impl Watch for Gone {
        fn stopped(&self) -> bool {
            true
        }
        fn progress(&self, _: &Progress) {}
    }
    let refused = audit(&held(range("quillmoor")), &options(1.0, 5.0), &Gone).unwrap_err();
    assert_eq!(*refused.kind(), ErrorKind::Stopped);
}
