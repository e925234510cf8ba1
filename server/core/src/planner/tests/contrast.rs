//! Edges kept: against all assignments, and what holds beside them.

use super::*;
use crate::change::Combined;

fn keeping(keep_edges: KeepEdges, max_threads: usize) -> ReduceOptions {
    ReduceOptions { keep_edges, ..at_most(max_threads) }
}

/// A palette whose colors touch one another and the cloth here and there.
pub(super) fn touching(random: &mut Seeded, count: usize) -> PaletteSummary {
    let colors = random.palette(count);
    let mut pairs = Vec::new();
    for first in 0..count {
        for second in first + 1..count {
            if random.next() < 0.6 {
                let edges = 1 + (random.next().powi(3) * 300.0) as u64;
                pairs.push(Neighbors { first, second: Side::Color(second), edges });
            }
        }
        if random.next() < 0.3 {
            pairs.push(Neighbors { first, second: Side::Cloth, edges: 1 + first as u64 });
        }
    }
    PaletteSummary::new(colors, Some(pairs), Some(random.color())).unwrap()
}

/// What the objective says of one choice of threads, written down once more from its definition.
pub(super) fn objective(palette: &PaletteSummary, shown: &[Color], price: f64) -> f64 {
    let colors = palette.colors();
    let each = colors.iter().zip(shown);
    let mut sum: f64 =
        each.map(|(color, shown)| color.stitches as f64 * apart(color.color, *shown)).sum();
    for pair in palette.neighbors().unwrap() {
        let (before, after) = match pair.second {
            Side::Cloth => (*palette.cloth().unwrap(), *palette.cloth().unwrap()),
            Side::Color(second) => (colors[second].color, shown[second]),
        };
        let first = colors[pair.first].color;
        let step = match pair.second {
            Side::Cloth => 0.0,
            Side::Color(_) => before.lab().l() - first.lab().l(),
        };
        let before = apart(first, before);
        if before >= 6.0 {
            let share = lightness(first, step) / before;
            let left = left((shown[pair.first], after), step, share);
            let short = (1.0 - left / before.min(12.0)).max(0.0);
            sum += price * pair.edges as f64 * short.powi(3);
        }
    }
    sum / palette.stitches() as f64
}

/// A step in lightness from a color on, weighed as CIE 142-2001 does.
fn lightness(from: Color, step: f64) -> f64 {
    let off = (from.lab().l() + step / 2.0 - 50.0).powi(2);
    step / (1.0 + 0.015 * off / (20.0 + off).sqrt())
}

/// The contrast that is left where lightness rose by `step` before, `share` of the contrast then.
/// When lightness runs the other way it does not count, and neither does its share of the rest.
fn left((first, second): (Color, Color), step: f64, share: f64) -> f64 {
    let now = second.lab().l() - first.lab().l();
    let all = apart(first, second);
    if step.abs() < 2.0 || now * step >= 0.0 {
        return all;
    }
    let flat = (all * all - lightness(first, now).powi(2)).max(0.0).sqrt();
    flat * (1.0 - share * share).max(0.0).sqrt()
}

/// The least objective over all assignments to at most `open` threads.
fn least(palette: &PaletteSummary, threads: &[Color], open: usize, price: f64) -> f64 {
    let count = palette.colors().len();
    let mut best = f64::INFINITY;
    for number in 0..threads.len().pow(count as u32) {
        let seat = |place: usize| number / threads.len().pow(place as u32) % threads.len();
        let used: std::collections::BTreeSet<usize> = (0..count).map(seat).collect();
        if used.len() <= open {
            let shown: Vec<Color> = (0..count).map(|place| threads[seat(place)]).collect();
            best = best.min(objective(palette, &shown, price));
        }
    }
    best
}

fn combined(list: &ChangeList) -> (f64, Combined) {
    let all = list.totals.combined.unwrap();
    (list.totals.mean_difference.value() + all.lost_contrast, all)
}

#[test]
fn small_palettes_get_nearly_always_the_best_assignment_and_a_bound_that_never_passes_it() {
    let (mut rounds, mut best, mut over) = (0, 0, 0.0_f64);
    for seed in 0..240 {
        let mut random = Seeded(seed);
        let palette = touching(&mut random, 3 + seed as usize % 3);
        let threads = random.colors(3 + seed as usize / 3 % 4);
        let open = 2 + seed as usize % 3;
        let setting = KeepEdges::ALL[1 + seed as usize % 3];
        let asked = keeping(setting, open);
        let list = reduce(&catalog_of(&threads), &palette, &ask(), &asked, &Patient).unwrap();
        if list.totals.combined.is_none() {
            continue;
        }
        let (found, all) = combined(&list);
        let least = least(&palette, &threads, open, setting.price());
        rounds += 1;
        assert!(found >= least - 1e-9, "seed {seed}: {found} < {least}");
        assert!(all.lower_bound <= least * (1.0 + 1e-9), "seed {seed}: {all:?} > {least}");
        best += u32::from(found <= least * (1.0 + 1e-9));
        over = over.max(found / least - 1.0);
    }
    assert!(rounds >= 200 && best * 100 >= rounds * 98, "best in {best} of {rounds}, {over} over");
}

/// Optima proved by `HiGHS` (scipy's `milp`) with differences of coloraide: `tests/python/edges.py`.
#[test]
fn stored_instances_get_the_optimum_that_an_outside_solver_proved() {
    let stored = include_str!("../../../../../tests/data/reference/edges_kept.json");
    let tasks: serde_json::Value = serde_json::from_str(stored).unwrap();
    let (mut best, mut over) = (0, 0.0_f64);
    let tasks = tasks.as_array().unwrap();
    for (number, task) in tasks.iter().enumerate() {
        let list_of = |name: &str| task[name].as_array().unwrap().iter();
        let lab_of = |parts: &serde_json::Value| {
            let part = |axis: usize| parts[axis].as_f64().unwrap();
            lab(part(0), part(1), part(2))
        };
        let colors = list_of("colors").zip(list_of("stitches"));
        let colors = colors.map(|(parts, count)| picture(lab_of(parts), count.as_u64().unwrap()));
        let pairs = list_of("pairs").map(|pair| {
            let place = |side: usize| pair[side].as_u64().unwrap() as usize;
            let (first, second) = (place(0), Side::Color(place(1)));
            Neighbors { first, second, edges: pair[2].as_u64().unwrap() }
        });
        let palette = PaletteSummary::new(colors.collect(), Some(pairs.collect()), None).unwrap();
        let threads: Vec<Color> = list_of("threads").map(lab_of).collect();
        let setting = KeepEdges::parse(task["keep_edges"].as_str().unwrap()).unwrap();
        let open = task["max_threads"].as_u64().unwrap() as usize;
        let (catalog, options) = (catalog_of(&threads), keeping(setting, open));
        let list = reduce(&catalog, &palette, &ask(), &options, &Patient).unwrap();
        let (found, all) = combined(&list);
        let optimum = task["optimum"].as_f64().unwrap();
        assert!(found >= optimum * (1.0 - 1e-6), "instance {number}: {found} < {optimum}");
        assert!(all.lower_bound <= optimum * (1.0 + 1e-6), "instance {number}: {all:?}");
        best += usize::from(found <= optimum * (1.0 + 1e-6));
        over = over.max(found / optimum - 1.0);
    }
    assert!(tasks.len() >= 20 && best + 1 >= tasks.len() && over < 0.01, "{best}, {over} over");
}

#[test]
fn the_objective_that_is_told_is_the_one_that_is_meant() {
    for seed in 0..20 {
        let mut random = Seeded(900 + seed);
        let palette = touching(&mut random, 14);
        let threads = random.colors(60);
        let asked = keeping(KeepEdges::Normal, 6);
        let list = reduce(&catalog_of(&threads), &palette, &ask(), &asked, &Patient).unwrap();
        let shown = |color: usize| {
            let row = (0..60).find(|row| Some(thread(*row)) == after(&list, color));
            threads[row.unwrap()]
        };
        let shown: Vec<Color> = (0..14).map(shown).collect();
        let (found, all) = combined(&list);
        let meant = objective(&palette, &shown, KeepEdges::Normal.price());
        assert!((found - meant).abs() < 1e-9, "{found}, {meant}");
        assert!(all.lower_bound <= found && list.totals.threads_after <= 6);
    }
}

/// A little lettering on a light ground, and threads of which two would show it.
pub(super) fn lettering() -> (PaletteSummary, Catalog) {
    let colors = vec![
        picture(lab(30.0, 0.0, 0.0), 4_000),
        picture(lab(70.0, 0.0, 0.0), 4_000),
        picture(lab(60.0, 0.0, 0.0), 90),
    ];
    let pairs = vec![Neighbors { first: 1, second: Side::Color(2), edges: 260 }];
    let palette = PaletteSummary::new(colors, Some(pairs), None).unwrap();
    (palette, catalog_of(&grays(&[30.0, 69.0, 52.0])))
}

#[test]
fn lettering_survives_that_stitches_alone_would_give_up() {
    let (palette, catalog) = lettering();
    let of = |setting| reduce(&catalog, &palette, &ask(), &keeping(setting, 2), &Patient).unwrap();
    let (off, normal) = (of(KeepEdges::Off), of(KeepEdges::Normal));
    assert_eq!(off.edges.unwrap().vanished, 260);
    assert!(off.totals.combined.is_none() && off.totals.proved_best);
    assert_eq!(normal.edges.unwrap().vanished, 0);
    assert!(!normal.totals.proved_best, "another choice has a smaller mean difference");
}

#[test]
fn keeps_and_answers_hold_with_edges_kept() {
    let mut random = Seeded(5);
    let threads = random.colors(80);
    let palette = touching(&mut random, 20);
    let answer = |color, row, answer| Answered { color, proposed: vec![thread(row)], answer };
    let ask = Ask {
        keeps: vec![Keep::Thread(thread(7)), Keep::Color(3)],
        answers: vec![answer(0, 11, Answer::Yes), answer(1, 12, Answer::No)],
        ..ask()
    };
    let asked = keeping(KeepEdges::High, 8);
    let list = reduce(&catalog_of(&threads), &palette, &ask, &asked, &Patient).unwrap();
    assert_eq!(after(&list, 0), Some(thread(11)));
    assert_ne!(after(&list, 1), Some(thread(12)));
    let kept = palette.colors()[3].color;
    let nearest = threads.iter().map(|thread| apart(kept, *thread)).fold(f64::INFINITY, f64::min);
    let kept = list.changes.iter().find(|change| change.color == 3).unwrap();
    assert!((kept.after[0].difference.delta_e.value() - nearest).abs() < 1e-9);
    assert!(list.totals.threads_after <= 8);
}

#[test]
fn the_order_of_the_colors_changes_nothing() {
    let mut random = Seeded(6);
    let threads = random.colors(80);
    let palette = touching(&mut random, 20);
    let last = palette.colors().len() - 1;
    let colors = palette.colors().iter().rev().cloned().collect();
    let turn = |pair: &Neighbors| {
        let second = match pair.second {
            Side::Cloth => Side::Cloth,
            Side::Color(second) => Side::Color(last - second),
        };
        Neighbors { first: last - pair.first, second, edges: pair.edges }
    };
    let pairs = palette.neighbors().unwrap().iter().map(turn).collect();
    let turned = PaletteSummary::new(colors, Some(pairs), palette.cloth().copied()).unwrap();
    let (catalog, asked) = (catalog_of(&threads), keeping(KeepEdges::Normal, 8));
    let one = reduce(&catalog, &palette, &ask(), &asked, &Patient).unwrap();
    let two = reduce(&catalog, &turned, &ask(), &asked, &Patient).unwrap();
    for color in 0..=last {
        assert_eq!(after(&one, color), after(&two, last - color));
    }
}

#[test]
fn a_glint_stays_the_lighter_one() {
    let colors = vec![
        picture(lab(20.0, 0.0, 0.0), 900),
        picture(lab(88.0, 0.0, 0.0), 900),
        picture(lab(98.0, 0.0, 0.0), 4),
    ];
    let pairs = vec![Neighbors { first: 1, second: Side::Color(2), edges: 16 }];
    let palette = PaletteSummary::new(colors, Some(pairs), None).unwrap();
    let threads = [lab(20.0, 0.0, 0.0), lab(88.0, 0.0, 0.0), lab(70.0, 0.0, 25.0)];
    let catalog = catalog_of(&threads);
    let list = reduce(&catalog, &palette, &ask(), &keeping(KeepEdges::High, 3), &Patient).unwrap();
    assert_eq!(after(&list, 2), Some(thread(1)), "as light as what it lies on, but not darker");
    assert_eq!(list.edges.unwrap().turned, 0);
}

#[test]
fn the_cloth_keeps_its_color_and_pushes_others_away() {
    let colors = vec![picture(lab(82.0, 0.0, 0.0), 400), picture(lab(20.0, 0.0, 0.0), 400)];
    let pairs = vec![Neighbors { first: 0, second: Side::Cloth, edges: 300 }];
    let cloth = Some(lab(93.0, 0.0, 0.0));
    let palette = PaletteSummary::new(colors, Some(pairs), cloth).unwrap();
    let catalog = catalog_of(&grays(&[20.0, 76.0, 87.5]));
    let of = |setting| reduce(&catalog, &palette, &ask(), &keeping(setting, 2), &Patient).unwrap();
    assert_eq!(after(&of(KeepEdges::Off), 0), Some(thread(2)));
    assert_eq!(after(&of(KeepEdges::Normal), 0), Some(thread(1)));
}

#[test]
fn soft_shading_counts_in_the_areas_that_are_named() {
    let shaded = |l: f64, stitches| ChartColor {
        area: Some("face".into()),
        ..picture(lab(l, 0.0, 0.0), stitches)
    };
    let colors = vec![shaded(70.0, 300), shaded(75.0, 100), picture(lab(20.0, 0.0, 0.0), 900)];
    let pairs = vec![Neighbors { first: 0, second: Side::Color(1), edges: 90 }];
    let palette = PaletteSummary::new(colors, Some(pairs), None).unwrap();
    let catalog = catalog_of(&grays(&[20.0, 25.0, 70.0, 76.0]));
    let mut asked = keeping(KeepEdges::High, 2);
    let free = reduce(&catalog, &palette, &ask(), &asked, &Patient).unwrap();
    assert!(free.totals.combined.is_none(), "no outline, so nothing counts");
    asked.keep_shading = vec!["face".into()];
    asked.max_threads = Some(3);
    let kept = reduce(&catalog, &palette, &ask(), &asked, &Patient).unwrap();
    assert!(kept.totals.combined.unwrap().lost_contrast < 1e-6);
    asked.keep_shading = vec!["fence".into()];
    let error = reduce(&catalog, &palette, &ask(), &asked, &Patient).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::BadValue { .. }), "{error}");
}

#[test]
fn a_stopped_watch_stops_the_search_that_keeps_edges() {
    let mut random = Seeded(9);
    let threads = random.colors(300);
    let palette = touching(&mut random, 40);
    let (catalog, ask) = (catalog_of(&threads), ask());
    let (normal, off) = (keeping(KeepEdges::Normal, 12), keeping(KeepEdges::Off, 12));
    let (with, without) = (Impatient::new(u64::MAX), Impatient::new(u64::MAX));
    reduce(&catalog, &palette, &ask, &normal, &with).unwrap();
    reduce(&catalog, &palette, &ask, &off, &without).unwrap();
    assert!(with.looks.get() > without.looks.get());
    for stop_at in [without.looks.get(), with.looks.get() - 1] {
        let error =
            reduce(&catalog, &palette, &ask, &normal, &Impatient::new(stop_at)).unwrap_err();
        assert_eq!(*error.kind(), ErrorKind::Stopped);
    }
}
