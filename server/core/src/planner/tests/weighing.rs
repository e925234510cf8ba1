//! What a reduction makes small and holds, against every choice: tolerance, squares, worths.

use super::*;
use crate::change::Weighing;

/// A small question in numbers: what each color pays for each thread.
struct Small {
    colors: Vec<ChartColor>,
    threads: Vec<Color>,
    options: ReduceOptions,
}

impl Small {
    fn seeded(seed: u64, options: ReduceOptions) -> Self {
        let mut random = Seeded(9_000 + seed);
        let count = 2 + seed as usize % 6;
        Self { colors: random.palette(count), threads: random.colors(8), options }
    }

    fn answer(&self) -> Result<ChangeList> {
        let palette = summary(self.colors.clone());
        reduce(&catalog_of(&self.threads), &palette, &ask(), &self.options, &Patient)
    }

    /// What a set of threads costs; `None` for one that a color has no thread in.
    fn total(&self, set: u32) -> Option<f64> {
        let all: u64 = self.colors.iter().map(|color| color.stitches).sum();
        let open = || (0..self.threads.len()).filter(move |row| set >> row & 1 == 1);
        let mut sum = 0.0;
        for color in &self.colors {
            let least = open()
                .map(|row| apart(color.color, self.threads[row]))
                .filter(|found| self.options.tolerance.is_none_or(|most| *found <= most.value()))
                .min_by(f64::total_cmp)?;
            let weight = color.stitches as f64 / all as f64;
            sum += weight
                * if self.options.weighing == Weighing::Squared { least * least } else { least };
        }
        let bought = open().filter(|row| !self.options.owned.contains(&thread(*row))).count();
        Some(sum + self.options.thread_worth.value() * bought as f64)
    }

    /// The least total of sets of at most so many threads.
    fn least(&self, most: usize) -> Option<f64> {
        let sets = (1_u32..1 << self.threads.len()).filter(|set| set.count_ones() as usize <= most);
        sets.filter_map(|set| self.total(set)).min_by(f64::total_cmp)
    }
}

fn delta_e(value: f64) -> DeltaE {
    DeltaE::new(value).unwrap()
}

fn free() -> ReduceOptions {
    ReduceOptions { max_threads: None, ..ReduceOptions::at_most(1) }
}

#[track_caller]
fn assert_close(found: f64, wanted: f64, seed: u64) {
    assert!((found - wanted).abs() <= 1e-8 * wanted.abs() + 1e-12, "{seed}: {found} {wanted}");
}

#[test]
fn a_tolerance_is_held_by_the_fewest_threads_and_the_best_of_those() {
    let (mut answered, mut refused) = (0, 0);
    for seed in 0..300 {
        let tolerance = delta_e([15.0, 22.0, 30.0, 45.0][seed as usize % 4]);
        let small = Small::seeded(seed, ReduceOptions { tolerance: Some(tolerance), ..free() });
        let fewest = (1..=8).find(|most| small.least(*most).is_some());
        match (small.answer(), fewest) {
            (Ok(list), Some(fewest)) => {
                answered += 1;
                let report = list.reduction.unwrap();
                assert_eq!(list.totals.threads_after, fewest, "{seed}");
                assert_eq!(report.fewest, Some(fewest), "{seed}");
                assert!(list.totals.proved_best, "{seed}");
                assert!(list.totals.max_difference <= tolerance, "{seed}");
                let least = small.least(fewest).unwrap();
                assert_close(list.totals.mean_difference.value(), least, seed);
                assert_close(report.total, least, seed);
            }
            (Err(error), None) => {
                refused += 1;
                assert!(matches!(error.kind(), ErrorKind::Impossible { .. }), "{error}");
            }
            (answer, fewest) => panic!("{seed}: {answer:?} {fewest:?}"),
        }
    }
    assert!(answered > 100 && refused > 30, "{answered} {refused}");
}

#[test]
fn a_number_of_threads_and_a_tolerance_are_met_together_or_the_nearest_is_named() {
    let (mut answered, mut refused) = (0, 0);
    for seed in 0..300 {
        let most = 1 + seed as usize % 4;
        let tolerance = delta_e([25.0, 30.0, 45.0][seed as usize % 3]);
        let options = ReduceOptions { tolerance: Some(tolerance), ..ReduceOptions::at_most(most) };
        let small = Small::seeded(seed, options);
        match (small.answer(), small.least(most)) {
            (Ok(list), Some(least)) => {
                answered += 1;
                assert_close(list.totals.mean_difference.value(), least, seed);
                assert!(list.totals.proved_best && list.totals.threads_after <= most, "{seed}");
                assert_eq!(list.reduction.unwrap().fewest, None);
            }
            (Err(error), None) => {
                refused += 1;
                match (1..=8).find(|most| small.least(*most).is_some()) {
                    Some(fewest) => {
                        let tolerance = tolerance.value();
                        let threads = match most {
                            1 => "no thread keeps".to_owned(),
                            _ => format!("no {most} threads keep"),
                        };
                        let said = format!("{threads} every color within {tolerance}");
                        assert_eq!(error.to_string(), said, "{seed}");
                        let hint = format!("ask for {fewest}, or allow a larger difference");
                        assert_eq!(error.hint().unwrap(), hint, "{seed}");
                    }
                    None => {
                        assert!(error.to_string().contains("the nearest differs by"), "{error}")
                    }
                }
            }
            (answer, least) => panic!("{seed}: {answer:?} {least:?}"),
        }
    }
    assert!(answered > 50 && refused > 50, "{answered} {refused}");
}

#[test]
fn a_tolerance_holds_where_edges_are_kept_too() {
    let mut moved = 0;
    for seed in 0..40 {
        let mut random = Seeded(20_000 + seed);
        let threads = random.colors(60);
        let colors = random.palette(14);
        let touching = (1..14).map(|place| Neighbors {
            first: place - 1,
            second: Side::Color(place),
            edges: 1 + (random.next() * 90.0) as u64,
        });
        let palette = PaletteSummary::new(colors, Some(touching.collect()), None).unwrap();
        let catalog = catalog_of(&threads);
        let plain = ReduceOptions { tolerance: Some(delta_e(20.0)), ..ReduceOptions::at_most(6) };
        let kept = ReduceOptions { keep_edges: KeepEdges::High, ..plain.clone() };
        let Ok(plain) = reduce(&catalog, &palette, &ask(), &plain, &Patient) else { continue };
        let kept = reduce(&catalog, &palette, &ask(), &kept, &Patient).unwrap();
        assert!(kept.totals.max_difference <= delta_e(20.0), "{seed}");
        assert!(kept.totals.combined.is_some() && kept.totals.threads_after <= 6, "{seed}");
        moved += u32::from(kept.changes != plain.changes);
    }
    assert!(moved > 3, "{moved}");
}

#[test]
fn squared_differences_are_summed_when_asked_for() {
    let mut differ = 0;
    for seed in 0..200 {
        let most = 1 + seed as usize % 3;
        let plain = Small::seeded(seed, ReduceOptions::at_most(most));
        let options = ReduceOptions { weighing: Weighing::Squared, ..ReduceOptions::at_most(most) };
        let squared = Small::seeded(seed, options);
        let list = squared.answer().unwrap();
        let report = list.reduction.clone().unwrap();
        assert_close(report.total, squared.least(most).unwrap(), seed);
        assert_close(report.bound.unwrap(), report.total, seed);
        assert!(list.totals.proved_best && list.totals.lower_bound.is_none(), "{seed}");
        differ += u32::from(list.changes != plain.answer().unwrap().changes);
    }
    assert!(differ > 10, "{differ}");
}

#[test]
fn a_thread_is_added_only_where_it_is_worth_it_and_owned_ones_are_free() {
    let mut counts = std::collections::BTreeSet::new();
    for seed in 0..300 {
        let options = ReduceOptions {
            max_threads: [None, Some(3)][seed as usize % 2],
            tolerance: [None, Some(delta_e(60.0))][seed as usize / 2 % 2],
            weighing: [Weighing::Plain, Weighing::Squared][seed as usize / 4 % 2],
            thread_worth: delta_e([0.5, 3.0, 20.0, 200.0][seed as usize / 8 % 4]),
            owned: [vec![], vec![thread(1), thread(5)]][seed as usize / 32 % 2].clone(),
            ..free()
        };
        let small = Small::seeded(seed, options);
        let Some(least) = small.least(small.options.max_threads.unwrap_or(8)) else { continue };
        let list = small.answer().unwrap();
        let report = list.reduction.unwrap();
        assert_close(report.total, least, seed);
        assert_close(report.bound.unwrap(), least, seed);
        assert!(list.totals.proved_best, "{seed}");
        let chosen: std::collections::BTreeSet<ThreadRef> =
            list.changes.iter().map(|change| change.after[0].thread.clone()).collect();
        let bought = chosen.iter().filter(|name| !small.options.owned.contains(name)).count();
        assert_eq!(report.threads_to_get, bought, "{seed}");
        counts.insert(list.totals.threads_after);
    }
    assert!(counts.len() >= 4, "{counts:?}");
}

#[test]
fn kept_colors_are_paid_for_and_not_held_to_the_tolerance() {
    let threads = grays(&[10.0, 50.0, 90.0]);
    let colors = vec![worked(threads[0], 5, &[0]), picture(threads[1], 5)];
    let mut kept = colors.clone();
    kept[0].color = lab(90.0, 0.0, 0.0);
    let ask = Ask { keeps: vec![Keep::Color(0)], ..ask() };
    let options = ReduceOptions { thread_worth: delta_e(2.0), ..free() };
    let catalog = catalog_of(&threads);
    let list = reduce(&catalog, &summary(colors), &ask, &options, &Patient).unwrap();
    assert_close(list.reduction.unwrap().total, 4.0, 0);
    let options = ReduceOptions { tolerance: Some(delta_e(1.0)), ..free() };
    let list = reduce(&catalog, &summary(kept), &ask, &options, &Patient).unwrap();
    assert_eq!((list.totals.threads_after, list.reduction.unwrap().fewest), (2, Some(2)));
}

#[test]
fn colors_without_a_thread_in_reach_are_counted_and_the_reach_is_named() {
    let threads = grays(&[10.0, 20.0]);
    let colors =
        |lightness: &[f64]| grays(lightness).into_iter().map(|gray| picture(gray, 5)).collect();
    let options = ReduceOptions { tolerance: Some(delta_e(6.0)), ..ReduceOptions::at_most(2) };
    let ask = |lightness: &[f64], options: &ReduceOptions| {
        reduce(&catalog_of(&threads), &summary(colors(lightness)), &ask(), options, &Patient)
    };
    let error = ask(&[10.0, 60.0], &options).unwrap_err();
    assert!(error.to_string().starts_with("color 1 (#919191) has no thread within 6"), "{error}");
    let error = ask(&[10.0, 60.0, 70.0], &options).unwrap_err();
    assert!(
        error.to_string().starts_with("2 colors have no thread within 6; of color 2"),
        "{error}"
    );
    let hint = error.hint().unwrap();
    let enough: f64 = hint["allow ".len()..hint.find(',').unwrap()].parse().unwrap();
    let options = ReduceOptions { tolerance: Some(delta_e(enough)), ..options };
    assert!(ask(&[10.0, 60.0, 70.0], &options).is_ok());
}

#[test]
fn what_cannot_be_asked_is_refused_by_its_field() {
    let owned = vec![thread(0)];
    for (options, field) in [
        (ReduceOptions::at_most(0), "max_thread_count"),
        (free(), "max_thread_count"),
        (ReduceOptions { owned, ..ReduceOptions::at_most(2) }, "owned_threads"),
        (
            ReduceOptions {
                keep_edges: KeepEdges::Low,
                weighing: Weighing::Squared,
                ..ReduceOptions::at_most(2)
            },
            "keep_edges",
        ),
    ] {
        let small = Small::seeded(1, options);
        let error = small.answer().unwrap_err();
        assert!(matches!(error.kind(), ErrorKind::BadValue { .. }), "{error}");
        assert_eq!(error.place().unwrap().field.as_deref(), Some(field));
    }
}

#[test]
fn the_fewest_threads_of_a_real_size_are_proved() {
    let mut random = Seeded(11);
    let catalog = catalog_of(&random.colors(480));
    let palette = summary(random.palette(120));
    for tolerance in [11.0, 13.0] {
        let options = ReduceOptions { tolerance: Some(delta_e(tolerance)), ..free() };
        let list = reduce(&catalog, &palette, &ask(), &options, &Patient).unwrap();
        let report = list.reduction.unwrap();
        assert_eq!(report.fewest, Some(list.totals.threads_after), "{tolerance}");
        assert!(report.bound.unwrap() >= 0.9 * report.total, "{tolerance}: {:?}", report.bound);
        let fewer = ReduceOptions { max_threads: Some(list.totals.threads_after - 1), ..options };
        let error = reduce(&catalog, &palette, &ask(), &fewer, &Patient).unwrap_err();
        assert!(error.to_string().starts_with("no "), "{error}");
    }
}
