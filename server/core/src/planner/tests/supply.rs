//! Conversion from ranges with a price, from own threads, and without collisions: against all choices
//! on small palettes, and its promises one by one.

use super::*;
use crate::change::{Loosened, OwnReport, RangeReport};

const RANGES: [&str; 4] = ["main", "oak", "pine", "rowan"];

fn id(name: &str) -> TableId {
    TableId::parse(name).unwrap()
}

fn of(table: &str, row: usize) -> ThreadRef {
    ThreadRef { table: id(table), code: Code::parse(&format!("T-{row:03}")).unwrap() }
}

fn units(value: f64) -> DeltaE {
    DeltaE::new(value).unwrap()
}

/// The first range costs nothing, each other one the same.
fn extra(price: f64) -> Supply {
    let priced = |name: &&str| RangePrice { table: id(name), price: units(price) };
    Supply::Priced(RANGES[1..].iter().map(priced).collect())
}

fn options(supply: Supply, distinct: Option<f64>) -> ConvertOptions {
    ConvertOptions { supply, distinct: distinct.map(units) }
}

fn owned(rows: &[usize], buy_within: Option<f64>) -> Supply {
    let threads = rows.iter().map(|row| thread(*row)).collect();
    Supply::Owned { threads, buy_within: buy_within.map(units) }
}

fn ranges(tables: &[Vec<Color>]) -> Catalog {
    Catalog::build(RANGES.iter().zip(tables).map(|(name, colors)| table_of(name, colors)))
}

fn run(
    catalog: &Catalog,
    colors: &[ChartColor],
    ask: &Ask,
    options: &ConvertOptions,
) -> Result<ChangeList> {
    super::super::convert(catalog, &summary(colors.to_vec()), ask, options, &Patient)
}

fn weights(colors: &[ChartColor]) -> Vec<f64> {
    let all: u64 = colors.iter().map(|color| color.stitches).sum();
    colors.iter().map(|color| color.stitches as f64 / all as f64).collect()
}

/// The least sum over all ways to give each color a thread of its own, by trying each.
fn permuted(colors: &[ChartColor], threads: &[Color], taken: &mut Vec<usize>, least: f64) -> f64 {
    let color = taken.len();
    if color == colors.len() {
        let spread = |one: usize, other: usize| apart(threads[one], threads[other]);
        let clash = taken.iter().enumerate().any(|(place, one)| {
            taken[place + 1..].iter().any(|other| least > 0.0 && spread(*one, *other) < least)
        });
        return if clash { f64::INFINITY } else { 0.0 };
    }
    let mut best = f64::INFINITY;
    for thread in 0..threads.len() {
        if !taken.contains(&thread) {
            taken.push(thread);
            let own = weights(colors)[color] * apart(colors[color].color, threads[thread]);
            best = best.min(own + permuted(colors, threads, taken, least));
            taken.pop();
        }
    }
    best
}

/// All subsets of the priced ranges with the threads that they bring.
fn subsets(tables: &[Vec<Color>], price: f64) -> Vec<(Vec<Color>, f64)> {
    let sets = 0_usize..1 << (tables.len() - 1);
    let open = |set: usize| {
        let extra = (1..tables.len()).filter(move |range| set >> (range - 1) & 1 == 1);
        let threads = std::iter::once(0).chain(extra).flat_map(|range| tables[range].clone());
        (threads.collect(), f64::from(set.count_ones()) * price)
    };
    sets.map(open).collect()
}

#[test]
fn the_ranges_taken_are_the_best_of_all_choices() {
    let (mut opened, mut rounds) = (0, 0);
    for seed in 0..200 {
        let mut random = Seeded(9_000 + seed);
        let tables: Vec<Vec<Color>> = (0..4).map(|_| random.colors(6)).collect();
        let colors = random.palette(1 + seed as usize % 9);
        let price = [0.0, 0.3, 1.0, 4.0][seed as usize % 4];
        let cost = |(threads, paid): &(Vec<Color>, f64)| {
            let nearest = |color: &ChartColor| {
                let all = threads.iter().map(|thread| apart(color.color, *thread));
                all.fold(f64::INFINITY, f64::min)
            };
            let each = colors.iter().zip(weights(&colors));
            each.map(|(color, weight)| weight * nearest(color)).sum::<f64>() + paid
        };
        let best = subsets(&tables, price).iter().map(cost).fold(f64::INFINITY, f64::min);
        let list = run(&ranges(&tables), &colors, &ask(), &options(extra(price), None)).unwrap();
        let report = list.ranges.unwrap();
        assert!((report.cost.value() - best).abs() < 1e-9, "seed {seed}: {report:?} {best}");
        assert!(report.proved_best, "seed {seed}");
        assert!((report.lower_bound.unwrap().value() - best).abs() < 1e-9);
        let paid: f64 =
            report.ranges.iter().filter(|held| held.threads > 0).map(|h| h.price.value()).sum();
        let mean = list.totals.mean_difference.value();
        assert!((report.cost.value() - mean - paid).abs() < 1e-9);
        opened += report.ranges.iter().skip(1).filter(|held| held.threads > 0).count();
        rounds += 1;
    }
    // Some of the questions open ranges and some do not.
    assert!(opened > rounds / 2 && opened < 3 * rounds, "{opened} of {rounds}");
}

#[test]
fn colors_get_the_nearest_threads_of_their_own() {
    for seed in 0..120 {
        let mut random = Seeded(500 + seed);
        let colors = random.palette(1 + seed as usize % 5);
        let threads = random.colors(colors.len() + seed as usize % 3);
        let least = [0.0, 6.0][seed as usize % 2];
        let best = permuted(&colors, &threads, &mut Vec::new(), least);
        let asked = options(Supply::All, Some(least));
        let list = run(&catalog_of(&threads), &colors, &ask(), &asked).unwrap();
        let joint = list.joint.unwrap();
        let mut got: Vec<ThreadRef> =
            list.changes.iter().map(|change| change.after[0].thread.clone()).collect();
        got.sort();
        got.dedup();
        assert_eq!(got.len(), colors.len(), "seed {seed}");
        if best.is_finite() {
            let found = list.totals.mean_difference.value();
            assert!((found - best).abs() < 1e-9, "seed {seed}: {found} {best}");
            assert!(list.totals.proved_best && joint.loosened.is_empty(), "seed {seed}");
        } else {
            assert_eq!(joint.loosened, [Loosened::Apart], "seed {seed}");
            assert!(joint.proved_impossible, "seed {seed}");
        }
    }
}

#[test]
fn ranges_and_colors_of_their_own_are_chosen_together() {
    let mut opened = 0;
    for seed in 0..60 {
        let mut random = Seeded(7_700 + seed);
        let tables: Vec<Vec<Color>> = (0..3).map(|_| random.colors(3)).collect();
        let colors = random.palette(2 + seed as usize % 3);
        let price = [0.0, 0.5, 2.0][seed as usize % 3];
        let cost = |(threads, paid): &(Vec<Color>, f64)| {
            permuted(&colors, threads, &mut Vec::new(), 0.0) + paid
        };
        let best = subsets(&tables, price).iter().map(cost).fold(f64::INFINITY, f64::min);
        let catalog = ranges(&tables);
        let supply = match extra(price) {
            Supply::Priced(mut all) => {
                all.truncate(2);
                Supply::Priced(all)
            }
            other @ (Supply::All | Supply::Owned { .. }) => other,
        };
        let list = run(&catalog, &colors, &ask(), &options(supply, Some(0.0))).unwrap();
        let report = list.ranges.unwrap();
        assert!((report.cost.value() - best).abs() < 1e-9, "seed {seed}: {report:?} {best}");
        assert!(report.proved_best, "seed {seed}");
        opened += report.ranges.iter().filter(|held| held.threads > 0).count();
    }
    assert!(opened > 60, "{opened}");
}

/// The fewest threads to buy and the least mean difference with so many, by trying each set.
fn bought(colors: &[ChartColor], threads: &[Color], own: &[usize], limit: f64) -> (u32, f64) {
    let others: Vec<usize> = (0..threads.len()).filter(|row| !own.contains(row)).collect();
    let reaches = |color: &ChartColor, row: usize| apart(color.color, threads[row]) <= limit;
    let served: Vec<bool> =
        colors.iter().map(|color| (0..threads.len()).any(|row| reaches(color, row))).collect();
    let mut best = (u32::MAX, f64::INFINITY);
    for set in 0_u32..1 << others.len() {
        let taken = others.iter().enumerate().filter(|(place, _)| set >> place & 1 == 1);
        let open: Vec<usize> = own.iter().copied().chain(taken.map(|(_, row)| *row)).collect();
        let nearest = |color: &ChartColor| {
            open.iter().map(|row| apart(color.color, threads[*row])).fold(f64::INFINITY, f64::min)
        };
        let all_within =
            colors.iter().zip(&served).all(|(color, served)| !served || nearest(color) <= limit);
        if !all_within {
            continue;
        }
        let mean: f64 =
            colors.iter().zip(weights(colors)).map(|(color, weight)| weight * nearest(color)).sum();
        if (set.count_ones(), mean) < best {
            best = (set.count_ones(), mean);
        }
    }
    best
}

#[test]
fn the_fewest_threads_are_bought_and_of_those_the_nearest() {
    let mut counts = [0_u32; 6];
    for seed in 0..150 {
        let mut random = Seeded(40 + seed);
        let colors = random.palette(2 + seed as usize % 8);
        let threads = random.colors(11);
        let own = &[2, 5, 7][..1 + seed as usize % 3];
        let limit = [12.0, 20.0, 30.0][seed as usize / 3 % 3];
        let (fewest, mean) = bought(&colors, &threads, own, limit);
        let asked = options(owned(own, Some(limit)), None);
        let list = run(&catalog_of(&threads), &colors, &ask(), &asked).unwrap();
        let report = list.own.unwrap();
        assert_eq!(report.purchases.len(), fewest as usize, "seed {seed}: {report:?}");
        assert!(report.proved_fewest, "seed {seed}");
        // What no thread brings within the limit has no say in what is bought.
        if report.beyond == 0 {
            let found = list.totals.mean_difference.value();
            assert!((found - mean).abs() < 1e-9, "seed {seed}: {found} {mean}");
        }
        let marked = list
            .changes
            .iter()
            .filter(|change| change.remarks.contains(&Remark::BeyondLimit))
            .count();
        assert_eq!(marked, report.beyond, "seed {seed}");
        counts[(fewest as usize).min(5)] += 1;
    }
    assert!(counts[0] > 0 && counts[1] > 0 && counts[2] > 0 && counts[3] > 0, "{counts:?}");
}

#[test]
fn own_threads_alone_answer_when_nothing_is_bought() {
    let threads = grays(&[10.0, 30.0, 50.0, 52.0, 90.0]);
    let colors = vec![picture(lab(51.9, 0.0, 0.0), 10), picture(lab(31.0, 0.0, 0.0), 90)];
    let asked = options(owned(&[0, 1, 2], None), None);
    let list = run(&catalog_of(&threads), &colors, &ask(), &asked).unwrap();
    assert_eq!((after(&list, 0), after(&list, 1)), (Some(thread(2)), Some(thread(1))));
    let report = list.own.unwrap();
    let expected = OwnReport {
        usable: 3,
        unsuited: 0,
        used: 2,
        within: None,
        purchases: Vec::new(),
        beyond: 0,
        proved_fewest: true,
    };
    assert_eq!(report, expected);
    let runners: Vec<_> = list.changes[0].runners_up.iter().map(|next| &next.thread).collect();
    assert_eq!(runners, [&thread(0), &thread(2)]);
}

#[test]
fn own_threads_need_not_be_on_sale_and_a_thread_kept_beside_them_is_bought() {
    let threads = grays(&[10.0, 30.0, 50.0]);
    let colors = vec![picture(lab(11.0, 0.0, 0.0), 10), worked(threads[2], 30, &[2])];
    let mut ask = ask();
    ask.filter.available_only = true;
    ask.keeps.push(Keep::Color(1));
    let list =
        run(&catalog_of(&threads), &colors, &ask, &options(owned(&[0, 1], None), None)).unwrap();
    assert_eq!(after(&list, 0), Some(thread(0)));
    assert_eq!(list.unchanged, [1]);
    let purchases = list.own.unwrap().purchases;
    assert_eq!(purchases.len(), 1);
    assert_eq!((&purchases[0].thread, purchases[0].stitches), (&thread(2), 30));
}

#[test]
fn a_color_stays_in_its_own_thread_only_while_that_is_at_hand() {
    let threads = grays(&[20.0, 24.0, 80.0]);
    let colors = vec![worked(threads[0], 10, &[0]), worked(threads[2], 10, &[2])];
    let asked = options(owned(&[1, 2], None), None);
    let list = run(&catalog_of(&threads), &colors, &ask(), &asked).unwrap();
    assert_eq!(after(&list, 0), Some(thread(1)));
    assert_eq!(list.unchanged, [1]);
}

#[test]
fn colors_apart_are_bought_for_as_few_as_can_be() {
    // Three near grays and two own threads among them: one has to be bought.
    let threads = grays(&[48.0, 50.0, 52.0, 54.0, 90.0]);
    let colors = vec![
        picture(lab(50.0, 0.0, 0.0), 10),
        picture(lab(50.5, 0.0, 0.0), 10),
        picture(lab(51.0, 0.0, 0.0), 10),
    ];
    let asked = options(owned(&[1, 4], Some(3.0)), Some(0.0));
    let list = run(&catalog_of(&threads), &colors, &ask(), &asked).unwrap();
    let report = list.own.unwrap();
    assert_eq!((report.purchases.len(), report.beyond, report.used), (2, 0, 1));
    assert!(report.proved_fewest);
    let alone = options(owned(&[1, 2, 4], None), Some(0.0));
    let list = run(&catalog_of(&threads), &colors, &ask(), &alone).unwrap();
    assert_eq!(list.totals.threads_after, 3);
    assert!(list.totals.proved_best);
    let few = options(owned(&[1, 4], None), Some(0.0));
    let error = run(&catalog_of(&threads), &colors, &ask(), &few).unwrap_err();
    assert_eq!(
        error.to_string(),
        "3 colors cannot all have a different thread of those that may answer"
    );
}

#[test]
fn one_color_in_two_areas_and_in_a_blend_gets_one_thread() {
    let threads = grays(&[20.0, 80.0]);
    let catalog = Catalog::build([
        table_of("own", &threads),
        table_of("other", &grays(&[21.0, 22.0, 79.0, 78.0])),
    ]);
    let in_area = |color: ChartColor| ChartColor { area: Some("eyes".into()), ..color };
    let colors = vec![
        worked(threads[0], 10, &[0]),
        in_area(worked(threads[0], 3, &[0])),
        worked(lab(50.0, 0.0, 0.0), 5, &[0, 1]),
        worked(threads[1], 7, &[1]),
        picture(lab(21.4, 0.0, 0.0), 500),
    ];
    let ask = Ask { tables: vec![id("other")], ..ask() };
    let list = run(&catalog, &colors, &ask, &options(Supply::All, Some(0.0))).unwrap();
    // The large color of the picture takes the nearest thread, the other gray the next one.
    assert_eq!(after(&list, 4), Some(of("other", 0)));
    assert_eq!(after(&list, 0), Some(of("other", 1)));
    assert_eq!(after(&list, 1), after(&list, 0));
    let blend = list.changes.iter().find(|change| change.color == 2).unwrap();
    let codes: Vec<_> = blend.after.iter().map(|next| next.thread.clone()).collect();
    assert_eq!(codes, [of("other", 1), of("other", 2)]);
    assert!(list.totals.proved_best);
}

#[test]
fn answers_hold_and_nobody_else_gets_their_thread() {
    let threads = grays(&[49.0, 50.0, 56.0]);
    let colors = vec![picture(lab(50.0, 0.0, 0.0), 10), picture(lab(50.2, 0.0, 0.0), 90)];
    let mut ask = ask();
    ask.answers.push(Answered { color: 0, proposed: vec![thread(1)], answer: Answer::Yes });
    let list = run(&catalog_of(&threads), &colors, &ask, &options(Supply::All, Some(0.0))).unwrap();
    assert_eq!(after(&list, 0), Some(thread(1)));
    assert_eq!(after(&list, 1), Some(thread(0)));
    assert_eq!(list.joint.unwrap().least_apart.map(|least| least.value() > 0.0), Some(true));
}

#[test]
fn a_range_that_an_answer_takes_is_there_for_all() {
    let tables = [grays(&[20.0]), grays(&[50.0, 90.0]), grays(&[51.0]), grays(&[5.0])];
    let colors = vec![picture(lab(89.0, 0.0, 0.0), 1), picture(lab(50.0, 0.0, 0.0), 1)];
    let mut ask = ask();
    let far = options(extra(60.0), None);
    let list = run(&ranges(&tables), &colors, &ask, &far).unwrap();
    assert_eq!(list.totals.threads_after, 1);
    let chosen = Answer::Another(of("oak", 1));
    ask.answers.push(Answered { color: 0, proposed: vec![of("main", 0)], answer: chosen });
    for distinct in [None, Some(0.0)] {
        let far = options(extra(60.0), distinct);
        let list = run(&ranges(&tables), &colors, &ask, &far).unwrap();
        assert_eq!(after(&list, 1), Some(of("oak", 0)));
        let RangeReport { ranges, cost, .. } = list.ranges.unwrap();
        let used: Vec<_> =
            ranges.iter().filter(|held| held.threads > 0).map(|h| h.table.as_str()).collect();
        assert_eq!(used, ["oak"]);
        let mean = list.totals.mean_difference.value();
        assert!((cost.value() - mean - 60.0).abs() < 1e-9);
    }
}

#[test]
fn a_range_that_is_not_chosen_has_no_price_and_own_threads_must_exist() {
    let tables = [grays(&[20.0]), grays(&[50.0]), grays(&[51.0]), grays(&[5.0])];
    let colors = vec![picture(lab(89.0, 0.0, 0.0), 1)];
    let narrow = Ask { tables: vec![id("main"), id("pine")], ..ask() };
    let error = run(&ranges(&tables), &colors, &narrow, &options(extra(1.0), None)).unwrap_err();
    assert_eq!(error.place().unwrap().field.as_deref(), Some("range_prices[0].table_id"));
    assert_eq!(error.hint().unwrap(), "the tables are main, pine");
    let none = Supply::Owned { threads: vec![of("main", 7)], buy_within: None };
    let error = run(&ranges(&tables), &colors, &ask(), &options(none, None)).unwrap_err();
    assert_eq!(error.place().unwrap().field.as_deref(), Some("own.threads[0]"));
    let many = Supply::Owned { threads: vec![of("main", 0); MAX_OWNED + 1], buy_within: None };
    let error = run(&ranges(&tables), &colors, &ask(), &options(many, None)).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::OverLimit { limit: 10_000, .. }));
    let mut random = Seeded(3);
    let colors = random.palette(MAX_DISTINCT + 1);
    let asked = options(Supply::All, Some(0.0));
    let error = run(&catalog_of(&random.colors(600)), &colors, &ask(), &asked).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::OverLimit { limit: 512, .. }));
}

#[test]
fn a_large_palette_is_kept_apart_with_proof() {
    let mut random = Seeded(77);
    let (threads, colors) = (random.colors(700), random.palette(150));
    for least in [0.0, 1.0] {
        let asked = options(Supply::All, Some(least));
        let list = run(&catalog_of(&threads), &colors, &ask(), &asked).unwrap();
        assert_eq!(list.totals.threads_after, 150);
        assert!(list.totals.proved_best, "{least}");
        assert!(list.joint.unwrap().least_apart.unwrap().value() >= least);
    }
}
