//! Curves against exhaustive search, and lists that lead through an anchor.

use std::collections::BTreeSet;

use super::*;

const WITH_CURVE: MergeOptions = MergeOptions { anchor: None, curve: true };

fn curved(threads: &[Color], colors: Vec<ChartColor>, ask: &Ask) -> MergeList {
    suggest_merges(&catalog_of(threads), &summary(colors), ask, WITH_CURVE, &Patient).unwrap()
}

#[test]
fn every_count_of_small_palettes_gets_the_optimum() {
    for seed in 0..150 {
        let mut random = Seeded(seed);
        let colors = random.palette(1 + (seed as usize % 8));
        let threads = random.colors(1 + (seed as usize / 8 % 10));
        let list = curved(&threads, colors.clone(), &ask());
        let counts: Vec<usize> = list.curve.iter().map(|point| point.threads).collect();
        assert_eq!(counts, (1..=colors.len()).rev().collect::<Vec<_>>(), "seed {seed}");
        for point in &list.curve {
            let optimum = exhaustive(&colors, &threads, point.threads);
            let found = point.mean_difference.value();
            assert!((found - optimum).abs() <= 1e-9 * optimum + 1e-12, "seed {seed}: {point:?}");
            assert!(point.proved_best, "seed {seed}: {point:?}");
            assert!(point.max_difference.value() >= found - 1e-12);
        }
    }
}

#[test]
fn a_curve_is_what_reduce_says_of_every_count() {
    let mut random = Seeded(3);
    let threads = random.colors(60);
    let mut colors = random.palette(40);
    colors.push(worked(threads[4], 90, &[4]));
    colors.push(worked(threads[7], 30, &[7, 8]));
    let keeps = vec![Keep::Color(40), Keep::Color(41), Keep::Thread(thread(9))];
    let ask = Ask { keeps, ..ask() };
    let list = curved(&threads, colors.clone(), &ask);
    // Two strands of the kept blend, the kept color and the kept thread.
    assert_eq!(list.curve.last().unwrap().threads, 4);
    assert_eq!(list.colors, list.curve[0].threads);
    let (catalog, palette) = (catalog_of(&threads), summary(colors));
    for point in &list.curve {
        let totals =
            reduce(&catalog, &palette, &ask, &at_most(point.threads), &Patient).unwrap().totals;
        let (mean, max) = (totals.mean_difference.value(), totals.max_difference.value());
        assert!((point.mean_difference.value() - mean).abs() < 1e-9, "{point:?} {mean}");
        assert!((point.max_difference.value() - max).abs() < 1e-9, "{point:?} {max}");
    }
}

#[test]
fn no_step_does_better_than_the_curve_and_the_curve_never_rises() {
    let mut random = Seeded(5);
    let (threads, colors) = (random.colors(200), random.palette(90));
    let list = curved(&threads, colors, &ask());
    assert_eq!(list.curve.len(), 90);
    assert!(list.curve.iter().all(|point| point.proved_best));
    let means: Vec<f64> = list.curve.iter().map(|point| point.mean_difference.value()).collect();
    assert!(means.windows(2).all(|pair| pair[0] <= pair[1]));
    for step in &list.steps {
        let best = list.best(step.threads_left).unwrap();
        assert_eq!(best.threads, step.threads_left);
        let mean = step.mean_difference.value();
        assert!(mean >= best.lower_bound.value() * (1.0 - 1e-9), "{}", step.threads_left);
        let gap = list.gap_percent(step).unwrap();
        assert!((mean - best.mean_difference.value() * (1.0 + gap / 100.0)).abs() < 1e-9);
    }
}

/// Threads in use or anchored after the step that leaves so many.
fn open_after(list: &MergeList, threads_left: usize) -> BTreeSet<ThreadRef> {
    let later = list.steps.iter().filter(|step| step.threads_left < threads_left);
    let mut open: BTreeSet<ThreadRef> = later.clone().map(|step| step.leaving.clone()).collect();
    open.extend(later.flat_map(|step| step.moves.iter().map(|to| to.to.clone())));
    open
}

#[test]
fn a_list_leads_through_the_palette_that_reduce_chooses() {
    let mut random = Seeded(8);
    let (threads, colors) = (random.colors(150), random.palette(70));
    let (catalog, palette) = (catalog_of(&threads), summary(colors));
    for anchor in [1, 5, 12, 30, 69, 500] {
        let options = MergeOptions { anchor: Some(anchor), curve: false };
        let list = suggest_merges(&catalog, &palette, &ask(), options, &Patient).unwrap();
        assert!(list.curve.is_empty() && list.anchor == Some(anchor));
        let chosen = reduce(&catalog, &palette, &ask(), &at_most(anchor), &Patient).unwrap();
        let used: BTreeSet<ThreadRef> = chosen
            .changes
            .iter()
            .flat_map(|change| change.after.iter().map(|after| after.thread.clone()))
            .collect();
        let step = list.steps.iter().find(|step| step.threads_left == used.len()).unwrap();
        let mean = chosen.totals.mean_difference.value();
        assert!((step.mean_difference.value() - mean).abs() < 1e-9, "{anchor}");
        if used.len() > 1 {
            assert_eq!(open_after(&list, used.len()), used, "{anchor}");
        }
        let left: Vec<usize> = list.steps.iter().map(|step| step.threads_left).collect();
        assert_eq!(left, (1..list.colors).rev().collect::<Vec<_>>());
    }
}

#[test]
fn lists_stay_near_the_best_from_eight_threads_on() {
    for seed in 0..3 {
        let mut random = Seeded(seed);
        let (catalog, palette) = (catalog_of(&random.colors(300)), summary(random.palette(120)));
        for anchor in [None, Some(30)] {
            let options = MergeOptions { anchor, curve: true };
            let list = suggest_merges(&catalog, &palette, &ask(), options, &Patient).unwrap();
            let nearest = list.curve[0].mean_difference;
            let counts = list.steps.iter().filter(|step| {
                step.threads_left >= 8
                    && list.best(step.threads_left).unwrap().mean_difference > nearest
            });
            let gaps: Vec<f64> = counts.map(|step| list.gap_percent(step).unwrap()).collect();
            let mean = gaps.iter().sum::<f64>() / gaps.len() as f64;
            assert!(gaps.len() > 40 && mean <= 1.0, "seed {seed}, {anchor:?}: {mean}");
        }
    }
}

#[test]
fn an_anchor_of_none_and_one_too_small_for_what_is_kept_are_refused() {
    let mut random = Seeded(1);
    let (catalog, palette) = (catalog_of(&random.colors(9)), summary(random.palette(9)));
    let keeps = vec![Keep::Thread(thread(1)), Keep::Thread(thread(2))];
    let ask = Ask { keeps, ..ask() };
    let asked = |anchor| {
        let options = MergeOptions { anchor: Some(anchor), curve: false };
        suggest_merges(&catalog, &palette, &ask, options, &Patient).unwrap_err()
    };
    for none in [asked(0), asked(4_097)] {
        assert!(matches!(none.kind(), ErrorKind::BadValue { .. }), "{none}");
        assert_eq!(none.place().unwrap().field.as_deref(), Some("anchor_thread_count"));
    }
    assert!(matches!(asked(1).kind(), ErrorKind::Impossible { .. }));
}

#[test]
fn the_order_of_the_colors_does_not_change_a_curve() {
    let mut random = Seeded(4);
    let (threads, mut colors) = (random.colors(80), random.palette(50));
    let one = curved(&threads, colors.clone(), &ask());
    colors.reverse();
    assert_eq!(one.curve, curved(&threads, colors, &ask()).curve);
}

#[test]
fn a_curve_ends_where_refusals_leave_too_few_threads() {
    let threads = grays(&[20.0, 50.0, 80.0]);
    let colors = vec![picture(threads[0], 9), picture(threads[1], 9), picture(threads[2], 9)];
    let no = |color: usize, refused: &[usize]| Answered {
        color,
        proposed: refused.iter().map(|row| thread(*row)).collect(),
        answer: Answer::No,
    };
    // The dark color takes only the dark thread, the light one only the light thread.
    let answers = vec![no(0, &[1]), no(0, &[2]), no(2, &[0]), no(2, &[1])];
    let list = curved(&threads, colors, &Ask { answers, ..ask() });
    let counts: Vec<usize> = list.curve.iter().map(|point| point.threads).collect();
    assert_eq!(counts, [3, 2]);
    assert_eq!(list.steps.last().unwrap().threads_left, 2);
}

#[test]
fn a_stopped_watch_stops_a_curve_at_once_and_progress_only_grows() {
    struct Grows(std::cell::Cell<f64>);
    impl Watch for Grows {
        fn stopped(&self) -> bool {
            false
        }
        fn progress(&self, progress: &Progress) {
            assert!(
                progress.fraction >= self.0.get(),
                "{} after {}",
                progress.fraction,
                self.0.get()
            );
            self.0.set(progress.fraction);
        }
    }
    let mut random = Seeded(6);
    let (catalog, palette) = (catalog_of(&random.colors(120)), summary(random.palette(60)));
    let ask = ask();
    let question = |anchor| merge::Question {
        catalog: &catalog,
        palette: &palette,
        ask: &ask,
        options: MergeOptions { anchor, curve: true },
    };
    let patient = Impatient::new(u64::MAX);
    merge::run(question(Some(9)), &mut Meter::new(&patient)).unwrap();
    let looks = patient.looks.get();
    for stop_at in [1, 60, looks / 2, looks - 1] {
        let watch = Impatient::new(stop_at);
        let error = merge::run(question(Some(9)), &mut Meter::new(&watch)).unwrap_err();
        assert_eq!((error.kind(), watch.looks.get()), (&ErrorKind::Stopped, stop_at));
    }
    merge::run(question(Some(9)), &mut Meter::new(&Grows(0.0.into()))).unwrap();
}
