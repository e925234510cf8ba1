//! Mixes against an independent computation, and the search against all pairs.
//! Sources stand in `tests/data/README.md` and beside each test.

use super::*;
use crate::color::{Conditions, Origin, Srgb8};
use crate::seeded::bits;
use crate::table::{Code, Finish, Table, ThreadRef};
use crate::watch::{Patient, Progress};

/// Eight mixes in equal parts, computed for this project in double precision.
const MIXES: &str = include_str!("../../../../tests/data/reference/blends.csv");

fn meter(l: f64, a: f64, b: f64) -> Color {
    Color::lab_under(Lab::new(l, a, b).unwrap(), Conditions::TEXTILE, Origin::Meter)
}

fn thread(code: &str, color: Color) -> Thread {
    Thread::plain(Code::parse(code).unwrap(), "", color)
}

fn table(id: &str, threads: Vec<Thread>) -> Table {
    Table::new(TableId::parse(id).unwrap(), threads).unwrap()
}

fn options(count: usize) -> BlendOptions {
    BlendOptions {
        tables: Vec::new(),
        count,
        formula: Formula::DEFAULT,
        adaptation: None,
        limit: None,
        filter: ThreadFilter::default(),
        parts: Parts::ALL.to_vec(),
    }
}

/// Splitmix64.
struct Seeded(u64);

impl Seeded {
    fn next(&mut self) -> u64 {
        bits(&mut self.0)
    }

    fn screen(&mut self) -> Color {
        let [red, green, blue, ..] = self.next().to_le_bytes();
        Color::screen(Srgb8::new(red, green, blue))
    }

    /// A number from `low` to `high` in steps of a tenth, so that equal colors happen.
    fn between(&mut self, low: i32, high: i32) -> f64 {
        let span = u64::try_from(10 * (high - low)).unwrap();
        f64::from(i32::try_from(self.next() % (span + 1)).unwrap()) / 10.0 + f64::from(low)
    }

    fn threads(&mut self, count: usize) -> Vec<Thread> {
        (0..count).map(|at| thread(&format!("t{}", (at * 7919) % 10_007), self.screen())).collect()
    }
}

/// What tells one blend from another, with the bits of its difference.
type Line = (u64, String, String, &'static str);

fn line(blend: &Blend<'_>) -> Line {
    let [first, second] = [blend.first, blend.second].map(|held| held.code.to_string());
    (blend.difference.delta_e.value().to_bits(), first, second, blend.mix.parts.as_str())
}

/// All pairs of one table in order, by the public mix and the formula alone.
fn by_all_pairs(table: &Table, standard: &Color, options: &BlendOptions) -> Vec<Line> {
    let mut threads: Vec<&Thread> = table
        .threads()
        .iter()
        .filter(|held| held.finish == Finish::Plain)
        .filter(|held| options.filter.admits(table.id(), held))
        .collect();
    threads.sort_by(|left, right| left.code.cmp(&right.code));
    let mut all = Vec::new();
    for (at, first) in threads.iter().enumerate() {
        for (other, second) in threads.iter().enumerate().filter(|(other, _)| *other != at) {
            for parts in &options.parts {
                if *parts == Parts::OneAndOne && other < at {
                    continue;
                }
                let sample = Mix::of(&first.color, &second.color, *parts).unwrap().estimate;
                let pair = Pair { standard: standard.lab(), sample };
                all.push((options.formula.delta_e(pair), at, other, *parts, first, second));
            }
        }
    }
    all.sort_by(|left, right| {
        left.0.order(&right.0).then((left.1, left.2, left.3).cmp(&(right.1, right.2, right.3)))
    });
    let within = |found: &&(DeltaE, usize, usize, Parts, &&Thread, &&Thread)| {
        options.limit.is_none_or(|limit| found.0 <= limit)
    };
    let lines = all.iter().filter(within).take(options.count);
    lines
        .map(|(delta_e, _, _, parts, first, second)| {
            let bits = delta_e.value().to_bits();
            (bits, first.code.to_string(), second.code.to_string(), parts.as_str())
        })
        .collect()
}

#[track_caller]
fn check(held: &Table, standard: &Color, options: &BlendOptions) -> Tally {
    let catalog = Catalog::build([held.clone()]);
    let found = suggest_blends(&catalog, standard, options, &Patient).unwrap();
    let lines: Vec<Line> = found.blends.iter().map(line).collect();
    let wanted = by_all_pairs(held, standard, options);
    assert_eq!(lines, wanted, "{standard:?} {options:?}");
    if wanted.is_empty() && options.limit.is_some() {
        let all = by_all_pairs(held, standard, &BlendOptions { limit: None, ..options.clone() });
        assert_eq!(found.beyond.iter().map(line).next(), all.first().cloned());
    } else {
        assert!(found.beyond.is_none());
    }
    found.tally
}

#[test]
fn mixes_in_equal_parts_are_those_of_an_independent_computation() {
    let lines = MIXES.lines().filter(|line| !line.starts_with('#')).skip(1);
    let mut count = 0;
    for text in lines {
        let row: Vec<f64> = text.split(',').map(|field| field.parse().unwrap()).collect();
        let (one, other) = (meter(row[0], row[1], row[2]), meter(row[3], row[4], row[5]));
        let mix = Mix::of(&one, &other, Parts::OneAndOne).unwrap();
        assert_eq!(mix, Mix::of(&other, &one, Parts::OneAndOne).unwrap());
        for (lab, wanted) in [(mix.estimate, &row[6..9]), (mix.full_spread, &row[9..12])] {
            for (found, wanted) in [lab.l(), lab.a(), lab.b()].iter().zip(wanted) {
                assert!((found - wanted).abs() < 6e-5, "{text}: {lab:?}");
            }
        }
        let pair = Pair { standard: mix.estimate, sample: mix.full_spread };
        let apart = Formula::DEFAULT.delta_e(pair).value();
        assert!((apart - row[12]).abs() < 6e-5, "{text}: {apart}");
        count += 1;
    }
    assert_eq!(count, 8);
}

#[test]
fn two_strands_weigh_twice_as_much_as_one() {
    // Y of L* 50 is 18.418651, of L* 70 it is 40.749436 (ISO/CIE 11664-4).
    let mix = |parts| Mix::of(&meter(50.0, 0.0, 0.0), &meter(70.0, 0.0, 0.0), parts).unwrap();
    let y = |lab: Lab| lab.to_xyz(Conditions::TEXTILE.white()).y;
    let third = (2.0 * 18.418_651 + 40.749_436) / 3.0;
    assert!((y(mix(Parts::TwoAndOne).estimate) - third).abs() < 1e-5);
    let rooted = ((2.0 * 18.418_651_f64.sqrt() + 40.749_436_f64.sqrt()) / 3.0).powi(2);
    assert!((y(mix(Parts::TwoAndOne).full_spread) - rooted).abs() < 1e-5);
    let half = f64::midpoint(18.418_651, 40.749_436);
    assert!((y(mix(Parts::OneAndOne).estimate) - half).abs() < 1e-5);
}

#[test]
fn a_thread_with_itself_is_itself() {
    for color in [meter(20.0, 5.0, -25.0), meter(85.0, 5.0, 80.0), meter(0.0, 0.0, 0.0)] {
        for parts in Parts::ALL {
            let mix = Mix::of(&color, &color, parts).unwrap();
            for lab in [mix.estimate, mix.full_spread] {
                let pair = Pair { standard: color.lab(), sample: lab };
                assert!(Formula::Cie76.delta_e(pair).value() < 1e-10, "{mix:?}");
            }
            assert!(!mix.speckle);
        }
    }
}

#[test]
fn speckle_is_warned_of_above_ten_units_of_lightness() {
    let speckle = |l: f64| {
        Mix::of(&meter(l, 30.0, 0.0), &meter(40.0, -30.0, 0.0), Parts::OneAndOne).unwrap().speckle
    };
    assert_eq!([30.0, 29.99, 50.0, 50.01].map(speckle), [false, true, false, true]);
}

#[test]
fn colors_of_two_lights_do_not_mix() {
    let other = Color::lab_under(
        Lab::new(50.0, 0.0, 0.0).unwrap(),
        Conditions::parse("D50/2").unwrap(),
        Origin::Meter,
    );
    assert!(Mix::of(&meter(50.0, 0.0, 0.0), &other, Parts::OneAndOne).is_err());
}

#[test]
fn the_search_finds_what_all_pairs_hold() {
    let mut seeded = Seeded(3);
    for size in [1, 2, 3, 17, 60] {
        let held = table("shelf", seeded.threads(size));
        for round in 0..12 {
            let standard = seeded.screen();
            for formula in Formula::PRESETS {
                for count in [1, 5, 40, 100_000] {
                    let parts = match round % 3 {
                        0 => Parts::ALL.to_vec(),
                        1 => vec![Parts::OneAndOne],
                        _ => vec![Parts::TwoAndOne],
                    };
                    check(&held, &standard, &BlendOptions { formula, parts, ..options(count) });
                }
            }
        }
    }
}

#[test]
fn colors_that_no_thread_comes_near_are_answered_exactly() {
    let mut seeded = Seeded(5);
    let held = table("shelf", seeded.threads(90));
    for _ in 0..40 {
        let (l, a) = (seeded.between(0, 102), seeded.between(-200, 200));
        let standard = Lab::new(l, a, seeded.between(-200, 200)).unwrap();
        let standard = Color::lab_under(standard, Conditions::SCREEN, Origin::Screen);
        for formula in Formula::PRESETS {
            check(&held, &standard, &BlendOptions { formula, ..options(7) });
        }
    }
}

#[test]
fn a_limit_keeps_what_is_within_and_tells_the_nearest_beyond() {
    let mut seeded = Seeded(8);
    let held = table("shelf", seeded.threads(40));
    for limit in [0.0, 0.3, 1.0, 3.0, 12.0] {
        for _ in 0..12 {
            let limit = Some(DeltaE::new(limit).unwrap());
            check(&held, &seeded.screen(), &BlendOptions { limit, ..options(9) });
        }
    }
}

#[test]
fn equal_colors_are_ordered_by_code() {
    let mut seeded = Seeded(13);
    let colors: Vec<Color> = (0..4).map(|_| seeded.screen()).collect();
    let threads =
        (0..24).map(|at| thread(&format!("c{}", (at * 5) % 24), colors[at % 4])).collect();
    let held = table("shelf", threads);
    for count in [1, 3, 50] {
        check(&held, &colors[1], &options(count));
        check(&held, &seeded.screen(), &options(count));
    }
    let grays = (0..12).map(|at| thread(&format!("g{at}"), meter(50.0, 0.0, 0.0))).collect();
    check(&table("grays", grays), &meter(51.0, 0.0, 0.0), &options(30));
}

#[test]
fn measured_tables_near_black_and_white_are_searched_exactly() {
    let mut seeded = Seeded(21);
    for (low, high) in [(0, 8), (96, 102)] {
        let threads = (0..40)
            .map(|at| {
                let (l, a) = (seeded.between(low, high), seeded.between(-3, 3));
                thread(&format!("m{at}"), meter(l, a, seeded.between(-3, 3)))
            })
            .collect();
        let held = table("edge", threads);
        for _ in 0..20 {
            let (l, a) = (seeded.between(low, high), seeded.between(-4, 4));
            check(&held, &meter(l, a, seeded.between(-4, 4)), &options(6));
        }
    }
}

#[test]
fn five_hundred_threads_cost_few_formula_calls() {
    let mut seeded = Seeded(34);
    let held = table("shelf", seeded.threads(500));
    let catalog = Catalog::build([held]);
    let mut most = Tally::default();
    for _ in 0..50 {
        let found = suggest_blends(&catalog, &seeded.screen(), &options(5), &Patient).unwrap();
        assert_eq!(found.blends.len(), 5);
        most.formula_calls = most.formula_calls.max(found.tally.formula_calls);
        most.bound_calls = most.bound_calls.max(found.tally.bound_calls);
    }
    // 374,250 blends are there.
    assert!(most.formula_calls < 600, "{most:?}");
    // Of 374,250 mixes.
    assert!(most.bound_calls < 150_000, "{most:?}");
}

#[test]
fn blends_come_from_one_table_and_are_ordered_over_all() {
    let gray = |code: &str, l: f64| thread(code, meter(l, 0.0, 0.0));
    let late = table("b", vec![gray("1", 40.0), gray("2", 60.0)]);
    let early = table("a", vec![gray("8", 40.0), gray("9", 60.0)]);
    let far = table("c", vec![gray("5", 10.0), gray("6", 90.0)]);
    let catalog = Catalog::build([late, far, early]);
    let answer = suggest_blends(&catalog, &meter(51.5, 0.0, 0.0), &options(3), &Patient).unwrap();
    let found: Vec<(String, String, &str)> = answer
        .blends
        .iter()
        .map(|blend| {
            let codes = format!("{}{}", blend.first.code, blend.second.code);
            (blend.table.table().id().to_string(), codes, blend.mix.parts.as_str())
        })
        .collect();
    let wanted = [("a", "89", "1+1"), ("b", "12", "1+1"), ("a", "98", "2+1")];
    assert_eq!(found, wanted.map(|(id, codes, parts)| (id.into(), codes.into(), parts)));
    assert!(answer.blends.iter().all(|blend| blend.difference.trust == Trust::Rough));
    assert!(answer.blends.iter().all(|blend| blend.mix.speckle));
}

#[test]
fn only_plain_threads_that_the_filter_admits_take_part() {
    let mut seeded = Seeded(55);
    let mut threads = seeded.threads(20);
    for (at, held) in threads.iter_mut().enumerate() {
        held.finish = match at % 4 {
            0 => Finish::Metallic,
            1 => Finish::Variegated,
            _ => Finish::Plain,
        };
    }
    let excluded = threads[2].code.clone();
    let held = table("shelf", threads);
    let mut asked = options(1_000);
    asked.filter.excluded = vec![ThreadRef { table: held.id().clone(), code: excluded.clone() }];
    check(&held, &seeded.screen(), &asked);
    let catalog = Catalog::build([held]);
    let found = suggest_blends(&catalog, &seeded.screen(), &asked, &Patient).unwrap();
    // Nine threads: 36 pairs in equal parts, 72 in unequal ones.
    assert_eq!(found.blends.len(), 108);
    assert!(found.blends.iter().all(|blend| blend.first.code != excluded));
}

#[test]
fn a_single_thread_has_no_blend() {
    let catalog = Catalog::build([table("one", vec![thread("1", meter(50.0, 0.0, 0.0))])]);
    let limited = BlendOptions { limit: Some(DeltaE::new(1.0).unwrap()), ..options(5) };
    for asked in [options(5), limited] {
        let found = suggest_blends(&catalog, &meter(50.0, 0.0, 0.0), &asked, &Patient).unwrap();
        assert!(found.blends.is_empty() && found.beyond.is_none());
    }
}

#[test]
fn questions_that_cannot_be_answered_are_refused() {
    let catalog = Catalog::build([table("one", vec![thread("1", meter(50.0, 0.0, 0.0))])]);
    let refusal = |standard: &Color, asked: &BlendOptions| {
        suggest_blends(&catalog, standard, asked, &Patient).unwrap_err().to_string()
    };
    let gray = meter(50.0, 0.0, 0.0);
    let parts = |parts: &[Parts]| BlendOptions { parts: parts.to_vec(), ..options(1) };
    assert!(refusal(&gray, &parts(&[])).contains("no strands"));
    assert!(refusal(&gray, &parts(&[Parts::OneAndOne; 2])).contains("the same strands twice"));
    let tables = vec![TableId::parse("two").unwrap()];
    assert!(refusal(&gray, &BlendOptions { tables, ..options(1) }).contains("two"));
    let print = Conditions::parse("D50/2").unwrap();
    let other = Color::lab_under(gray.lab(), print, Origin::Meter);
    assert!(refusal(&other, &options(1)).contains("measured under"));
}

#[test]
fn too_many_threads_are_refused_with_the_limit() {
    let threads =
        (0..=MAX_THREADS).map(|at| thread(&format!("t{at}"), meter(50.0, 0.0, 0.0))).collect();
    let catalog = Catalog::build([table("warehouse", threads)]);
    let refused = suggest_blends(&catalog, &meter(50.0, 0.0, 0.0), &options(1), &Patient);
    assert!(refused.unwrap_err().to_string().contains("4001, the limit is 4000"));
}

#[test]
fn the_search_stops_when_nobody_waits() {
    struct Gone;
    impl Watch for Gone {
        fn stopped(&self) -> bool {
            true
        }
        fn progress(&self, _: &Progress) {}
    }
    let catalog = Catalog::build([table("shelf", Seeded(1).threads(10))]);
    let stopped = suggest_blends(&catalog, &meter(50.0, 0.0, 0.0), &options(1), &Gone);
    assert_eq!(*stopped.unwrap_err().kind(), ErrorKind::Stopped);
}

/// A table of threads measured under one light, and of pictures of threads.
fn half_measured(seeded: &mut Seeded, conditions: Conditions) -> Table {
    let threads = (0..24)
        .map(|at| {
            let (l, a, b) =
                (seeded.between(10, 95), seeded.between(-40, 40), seeded.between(-40, 40));
            let color = match at % 3 {
                0 => seeded.screen(),
                _ => Color::lab_under(Lab::new(l, a, b).unwrap(), conditions, Origin::Meter),
            };
            thread(&format!("h{at}"), color)
        })
        .collect();
    table("half", threads)
}

/// All pairs in order, each against the standard as it looks under the light of the pair.
fn by_all_pairs_adapted(table: &Table, standard: &Color, method: AdaptationMethod) -> Vec<Line> {
    let mut threads: Vec<&Thread> = table.threads().iter().collect();
    threads.sort_by(|left, right| left.code.cmp(&right.code));
    let mut all = Vec::new();
    for (at, first) in threads.iter().enumerate() {
        for (other, second) in threads.iter().enumerate().filter(|(other, _)| *other != at) {
            for parts in Parts::ALL {
                if parts == Parts::OneAndOne && other < at {
                    continue;
                }
                let mix = Mix::of(&first.color, &second.color, parts).unwrap();
                let is_measured =
                    [first, second].iter().any(|held| held.color.origin().is_measured());
                let face = if is_measured {
                    standard.adapted_to(mix.conditions, method).unwrap()
                } else {
                    *standard
                };
                let pair = Pair { standard: face.lab(), sample: mix.estimate };
                all.push((Formula::DEFAULT.delta_e(pair), at, other, parts, first, second));
            }
        }
    }
    all.sort_by(|left, right| {
        left.0.order(&right.0).then((left.1, left.2, left.3).cmp(&(right.1, right.2, right.3)))
    });
    let line =
        |(delta_e, _, _, parts, first, second): (DeltaE, _, _, Parts, &&Thread, &&Thread)| {
            let bits = delta_e.value().to_bits();
            (bits, first.code.to_string(), second.code.to_string(), parts.as_str())
        };
    all.into_iter().take(30).map(line).collect()
}

#[test]
fn a_color_under_another_light_is_adapted_to_what_was_measured() {
    let mut seeded = Seeded(144);
    let held = half_measured(&mut seeded, Conditions::TEXTILE);
    let catalog = Catalog::build([held.clone()]);
    let lamp = Conditions::parse("A/10").unwrap();
    for method in [AdaptationMethod::Bradford, AdaptationMethod::Cat16] {
        for _ in 0..12 {
            let (l, a) = (seeded.between(5, 98), seeded.between(-60, 60));
            let lab = Lab::new(l, a, seeded.between(-60, 60)).unwrap();
            let standard = Color::lab_under(lab, lamp, Origin::Meter);
            let asked = BlendOptions { adaptation: Some(method), ..options(30) };
            let found = suggest_blends(&catalog, &standard, &asked, &Patient).unwrap();
            let lines: Vec<Line> = found.blends.iter().map(line).collect();
            assert_eq!(lines, by_all_pairs_adapted(&held, &standard, method));
            for blend in &found.blends {
                let pictures = [blend.first, blend.second]
                    .iter()
                    .all(|held| !held.color.origin().is_measured());
                let wanted = if pictures { Trust::Rough } else { Trust::Adapted(method) };
                assert_eq!(blend.difference.trust, wanted);
                assert_eq!(blend.full_spread.trust, wanted);
            }
        }
    }
}

#[test]
fn another_light_without_adaptation_and_another_observer_are_refused() {
    let held = half_measured(&mut Seeded(145), Conditions::TEXTILE);
    let catalog = Catalog::build([held]);
    let refusal = |light: &str, adaptation: Option<AdaptationMethod>| {
        let conditions = Conditions::parse(light).unwrap();
        let lab = Lab::new(50.0, 10.0, 10.0).unwrap();
        let standard = Color::lab_under(lab, conditions, Origin::Meter);
        let asked = BlendOptions { adaptation, ..options(3) };
        suggest_blends(&catalog, &standard, &asked, &Patient).map(|found| found.blends.len())
    };
    let bradford = Some(AdaptationMethod::Bradford);
    let kind = |answer: Result<usize>| answer.unwrap_err().kind().clone();
    assert!(matches!(kind(refusal("A/10", None)), ErrorKind::ConditionsDiffer { .. }));
    assert!(matches!(kind(refusal("A/2", bradford)), ErrorKind::BadValue { .. }));
    assert_eq!(refusal("A/10", bradford).unwrap(), 3);
    assert_eq!(refusal("D65/10", bradford).unwrap(), 3);
}

#[test]
fn a_thread_asked_for_takes_no_part_and_a_blend_is_held_against_the_nearest_alone() {
    let mut seeded = Seeded(233);
    let held = table("shelf", seeded.threads(60));
    let catalog = Catalog::build([held.clone()]);
    for asked in held.threads().iter().take(10) {
        let own = ThreadRef { table: held.id().clone(), code: asked.code.clone() };
        let open = options(20);
        let blender = Blender::new(&catalog, &open).unwrap();
        let found = blender.suggest_without(&asked.color, Some(&own), &Patient).unwrap();
        let mut filtered = options(20);
        filtered.filter.excluded = vec![own];
        let wanted = by_all_pairs(&held, &asked.color, &filtered);
        assert_eq!(found.blends.iter().map(line).collect::<Vec<_>>(), wanted);
        let others = held.threads().iter().filter(|other| other.code != asked.code);
        let nearest = others
            .map(|other| {
                let pair = Pair { standard: asked.color.lab(), sample: other.color.lab() };
                (Formula::DEFAULT.delta_e(pair), other.code.clone())
            })
            .min_by(|left, right| left.0.order(&right.0).then_with(|| left.1.cmp(&right.1)));
        let alone = found.alone.unwrap();
        assert_eq!(Some((alone.difference.delta_e, alone.thread.code.clone())), nearest);
    }
}
