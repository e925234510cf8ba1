//! Merge lists: never chained, measured from the originals, kept threads never leave.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;

use super::*;

fn merges(threads: &[Color], colors: Vec<ChartColor>, ask: &Ask) -> MergeList {
    suggest_merges(&catalog_of(threads), &summary(colors), ask, STEPS, &Patient).unwrap()
}

/// Row of a test thread's code.
fn row(name: &ThreadRef) -> usize {
    name.code.as_str()[2..].parse().unwrap()
}

/// Replays a list and checks each promise at each step.
fn check(threads: &[Color], colors: &[ChartColor], list: &MergeList) {
    let nearest = |color: &ChartColor, open: &BTreeSet<usize>| {
        let by_difference = |one: &usize, two: &usize| {
            let apart = |row: &usize| apart(color.color, threads[*row]);
            apart(one).total_cmp(&apart(two)).then(one.cmp(two))
        };
        open.iter().copied().min_by(by_difference).unwrap()
    };
    let all: BTreeSet<usize> = (0..threads.len()).collect();
    let mut at: BTreeMap<usize, usize> =
        colors.iter().enumerate().map(|(place, color)| (place, nearest(color, &all))).collect();
    let mut open: BTreeSet<usize> = at.values().copied().collect();
    let joining = colors.len() - open.len();
    let stitches: u64 = colors.iter().map(|color| color.stitches).sum();
    let mut cost = 0.0;
    for (number, step) in list.steps.iter().enumerate() {
        assert_eq!(step.threads_left, colors.len() - number - 1);
        assert!(step.mean_difference.value() >= cost - 1e-9);
        cost = step.mean_difference.value();
        if number >= joining {
            assert!(open.remove(&row(&step.leaving)));
        }
        for change in &step.moves {
            let to = row(&change.to);
            let original = apart(colors[change.color].color, threads[to]);
            assert!((change.difference.delta_e.value() - original).abs() < 1e-12);
            at.insert(change.color, to);
        }
        assert_eq!(
            step.stitches_moved,
            step.moves.iter().map(|change| change.stitches).sum::<u64>()
        );
        let mut mean = 0.0;
        for (place, thread) in &at {
            let best = nearest(&colors[*place], &open);
            let now = apart(colors[*place].color, threads[*thread]);
            assert!((apart(colors[*place].color, threads[best]) - now).abs() < 1e-12);
            mean += colors[*place].stitches as f64 / stitches as f64 * now;
        }
        assert!((mean - cost).abs() < 1e-9);
    }
    assert_eq!(list.steps.len(), colors.len() - 1);
    assert_eq!(open.len(), 1);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn every_step_gives_each_color_its_best_thread_left(seed in any::<u64>(), count in 1_usize..30, rows in 1_usize..25) {
        let mut random = Seeded(seed);
        let (colors, threads) = (random.palette(count), random.colors(rows));
        let list = merges(&threads, colors.clone(), &ask());
        check(&threads, &colors, &list);
    }
}

#[test]
fn colors_of_one_nearest_thread_join_first_and_cost_nothing_more() {
    let threads = grays(&[20.0, 60.0]);
    let colors = vec![
        picture(lab(20.0, 0.0, 0.0), 100),
        picture(lab(21.0, 0.0, 0.0), 10),
        picture(lab(60.0, 0.0, 0.0), 50),
    ];
    let list = merges(&threads, colors, &ask());
    assert_eq!(list.colors, 3);
    assert_eq!(list.steps[0].moves[0].color, 1);
    assert_eq!(list.steps[0].leaving, thread(0));
    assert_eq!(list.steps[0].threads_left, 2);
    assert_eq!(list.steps[1].leaving, thread(1));
    assert_eq!(list.steps[1].moves[0].to, thread(0));
    assert_eq!(list.steps[1].stitches_moved, 50);
}

#[test]
fn kept_threads_and_colors_never_leave() {
    let mut random = Seeded(11);
    let threads = random.colors(30);
    let mut colors = random.palette(15);
    colors.push(worked(threads[4], 2, &[4]));
    let keeps = vec![Keep::Color(15), Keep::Thread(thread(9))];
    let list = merges(&threads, colors, &Ask { keeps, ..ask() });
    let shares = |step: &MergeStep| step.moves.iter().any(|change| change.to == step.leaving);
    let left = list.steps.iter().filter(|step| !shares(step)).map(|step| &step.leaving);
    let left: Vec<_> = left.collect();
    assert!(!left.contains(&&thread(4)) && !left.contains(&&thread(9)));
    assert_eq!(list.steps.last().unwrap().threads_left, 2);
    assert!(list.steps.iter().all(|step| step.moves.iter().all(|change| change.color != 15)));
}

#[test]
fn a_color_stays_in_its_own_thread_beside_an_equal_twin() {
    let threads = grays(&[40.0, 40.0]);
    let colors = vec![worked(threads[1], 10, &[1]), worked(threads[0], 30, &[0])];
    let list = merges(&threads, colors, &ask());
    assert_eq!(list.steps.len(), 1);
    assert!(list.steps[0].mean_difference.value() <= 0.0);
}

#[test]
fn a_thousand_colors_cost_one_formula_call_a_pair_and_the_index() {
    let mut random = Seeded(2);
    let (catalog, palette) = (catalog_of(&random.colors(400)), summary(random.palette(1_000)));
    let mut meter = Meter::new(&Patient);
    let list = merge::run(steps_of(&catalog, &palette, &ask()), &mut meter).unwrap();
    assert_eq!(list.steps.len(), 999);
    // Pairs of colors and threads in use, as many again for the start, and 200 a search.
    assert!(meter.calls() <= 1_000 * 400 + 2 * 1_000 + 1_000 * 200, "{}", meter.calls());
}
