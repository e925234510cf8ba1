//! Substitution: joint, distinct, of one kind, the owner's list first.

use proptest::prelude::*;

use super::*;
use crate::change::Answer;
use crate::difference::DeltaE;

pub(super) fn missing(rows: &[usize]) -> SubstituteOptions {
    let missing = rows.iter().map(|row| thread(*row)).collect();
    SubstituteOptions {
        missing,
        allow_used: false,
        limit: None,
        min_apart: DeltaE::computed(0.0),
        keep_lightness: false,
        keep_outlines: false,
        lights: None,
        stock: None,
        staying: Vec::new(),
    }
}

/// A catalog of one table whose threads are plain unless `change` says otherwise.
fn catalog_with(colors: &[Color], change: impl Fn(usize, &mut Thread)) -> Catalog {
    let threads = colors.iter().enumerate().map(|(row, color)| {
        let mut thread = Thread::plain(Code::parse(&format!("T-{row:03}")).unwrap(), "", *color);
        change(row, &mut thread);
        thread
    });
    Catalog::build([Table::new(TableId::parse("own").unwrap(), threads.collect()).unwrap()])
}

fn run(
    catalog: &Catalog,
    colors: Vec<ChartColor>,
    ask: &Ask,
    options: &SubstituteOptions,
) -> Result<ChangeList> {
    substitute(catalog, &summary(colors), ask, options, &Patient)
}

#[test]
fn two_missing_threads_share_the_near_ones_so_that_the_sum_is_least() {
    // Both are nearest to the thread at 31; the smaller one has a good second choice.
    let threads = grays(&[30.0, 33.0, 31.0, 36.0, 90.0]);
    let colors = vec![worked(threads[0], 500, &[0]), worked(threads[1], 100, &[1])];
    let list = run(&catalog_of(&threads), colors, &ask(), &missing(&[0, 1])).unwrap();
    assert_eq!(after(&list, 0), Some(thread(2)));
    assert_eq!(after(&list, 1), Some(thread(3)));
    assert!(list.totals.proved_best);
    let next = list.changes.iter().find(|change| change.color == 1).unwrap();
    assert_eq!(next.runners_up[0].thread, thread(4));
    assert_eq!(next.remarks, vec![]);
}

#[test]
fn a_used_thread_stands_in_only_when_allowed() {
    let threads = grays(&[30.0, 31.0, 60.0]);
    let colors = || vec![worked(threads[0], 5, &[0]), worked(threads[1], 5, &[1])];
    let list = run(&catalog_of(&threads), colors(), &ask(), &missing(&[0])).unwrap();
    assert_eq!(after(&list, 0), Some(thread(2)));
    assert_eq!(list.unchanged, vec![1]);
    assert_eq!(list.totals.threads_after, 2);
    let allowed = SubstituteOptions { allow_used: true, ..missing(&[0]) };
    let list = run(&catalog_of(&threads), colors(), &ask(), &allowed).unwrap();
    assert_eq!(after(&list, 0), Some(thread(1)));
    let remarks = &list.changes[0].remarks;
    assert_eq!(*remarks, vec![Remark::AlreadyUsed, Remark::SharesThread(1)]);
}

#[test]
fn stand_ins_share_finish_and_known_fiber() {
    let threads = grays(&[30.0, 31.0, 32.0, 33.0, 50.0]);
    let catalog = catalog_with(&threads, |row, thread| {
        thread.fiber = Some(if row == 2 { "silk".into() } else { "cotton".into() });
        if row == 1 {
            thread.finish = Finish::Variegated;
        }
        if row == 3 {
            thread.fiber = None;
        }
    });
    let colors = vec![worked(threads[0], 5, &[0])];
    let list = run(&catalog, colors, &ask(), &missing(&[0])).unwrap();
    assert_eq!(after(&list, 0), Some(thread(3)));
}

#[test]
fn a_finish_that_nobody_has_is_said_plainly_for_all_at_once() {
    let threads = grays(&[30.0, 31.0, 32.0]);
    let catalog = catalog_with(&threads, |row, thread| {
        thread.finish = [Finish::Metallic, Finish::Variegated, Finish::Plain][row];
    });
    let colors = vec![worked(threads[0], 5, &[0]), worked(threads[1], 5, &[1])];
    let error = run(&catalog, colors, &ask(), &missing(&[0, 1])).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::Impossible { .. }));
    let text = error.to_string();
    assert!(text.contains("T-000 (metallic)") && text.contains("T-001 (variegated)"), "{text}");
}

#[test]
fn the_owners_alternates_come_first_in_their_order_and_only_when_admitted() {
    let threads = grays(&[30.0, 31.0, 60.0, 70.0]);
    let catalog = catalog_with(&threads, |row, thread| {
        if row == 0 {
            thread.alternates = ["t-003", "T-002"].map(|code| Code::parse(code).unwrap()).into();
        }
    });
    let colors = || vec![worked(threads[0], 5, &[0])];
    let list = run(&catalog, colors(), &ask(), &missing(&[0])).unwrap();
    assert_eq!(after(&list, 0), Some(thread(3)));
    assert!(list.totals.proved_best);
    let runners: Vec<_> =
        list.changes[0].runners_up.iter().map(|next| next.thread.clone()).collect();
    assert_eq!(runners, vec![thread(2), thread(1)]);
    let mut ask = ask();
    ask.filter.excluded = vec![thread(3), thread(2)];
    let list = run(&catalog, colors(), &ask, &missing(&[0])).unwrap();
    assert_eq!(after(&list, 0), Some(thread(1)));
}

#[test]
fn a_blend_loses_only_the_missing_strand() {
    let threads = grays(&[30.0, 60.0, 62.0]);
    let colors = vec![worked(lab(45.0, 0.0, 0.0), 5, &[0, 1]), worked(threads[0], 9, &[0])];
    let list = run(&catalog_of(&threads), colors, &ask(), &missing(&[1])).unwrap();
    let change = &list.changes[0];
    let names: Vec<_> = change.after.iter().map(|next| next.thread.clone()).collect();
    assert_eq!(names, vec![thread(0), thread(2)]);
    assert!(change.after[0].difference.delta_e.value() <= 0.0);
    assert!((change.after[1].difference.lightness - 2.0).abs() < 1e-12);
    assert_eq!(list.unchanged, vec![1]);
}

#[test]
fn one_thread_stands_in_for_all_colors_of_a_missing_one() {
    let threads = grays(&[30.0, 31.0, 32.0]);
    let mut eyes = worked(threads[0], 5, &[0]);
    eyes.area = Some("eyes".into());
    let colors = vec![eyes, worked(threads[0], 90, &[0])];
    let list = run(&catalog_of(&threads), colors, &ask(), &missing(&[0])).unwrap();
    assert_eq!(after(&list, 0), after(&list, 1));
    assert_eq!(list.totals.colors_before, 1);
}

#[test]
fn replacements_beyond_the_limit_are_marked() {
    let threads = grays(&[30.0, 50.0]);
    let options = SubstituteOptions { limit: Some(DeltaE::new(3.0).unwrap()), ..missing(&[0]) };
    let colors = vec![worked(threads[0], 5, &[0])];
    let list = run(&catalog_of(&threads), colors, &ask(), &options).unwrap();
    assert_eq!(list.changes[0].remarks, vec![Remark::BeyondLimit]);
}

#[test]
fn missing_threads_that_cannot_be_missing_are_refused() {
    let threads = grays(&[30.0, 50.0, 60.0]);
    let catalog = catalog_of(&threads);
    let colors = || vec![worked(threads[0], 5, &[0])];
    let error = run(&catalog, colors(), &ask(), &missing(&[0, 1])).unwrap_err();
    assert_eq!(
        error.to_string(),
        "missing_threads: `own T-001`: no color of the chart is worked in it"
    );
    assert_eq!(error.hint().unwrap(), "leave it out; the chart is worked in own T-000");
    let error = run(&catalog, colors(), &ask(), &missing(&[])).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::BadValue { .. }));
    let error = run(&catalog, colors(), &ask(), &missing(&[7])).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::UnknownThread { .. }));
    for keep in [Keep::Color(0), Keep::Thread(thread(0))] {
        let ask = Ask { keeps: vec![keep], ..ask() };
        let error = run(&catalog, colors(), &ask, &missing(&[0])).unwrap_err();
        assert!(error.to_string().contains("missing"), "{error}");
    }
    let picture = vec![picture(threads[0], 5)];
    let error = run(&catalog, picture, &ask(), &missing(&[0])).unwrap_err();
    assert!(error.hint().unwrap().contains("convert it first"));
}

#[test]
fn too_few_different_threads_is_impossible() {
    let threads = grays(&[30.0, 50.0, 60.0]);
    let colors = vec![worked(threads[0], 5, &[0]), worked(threads[1], 5, &[1])];
    let error = run(&catalog_of(&threads), colors, &ask(), &missing(&[0, 1])).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::Impossible { .. }), "{error}");
}

#[test]
fn answers_fix_or_refuse_a_stand_in() {
    let threads = grays(&[30.0, 31.0, 32.0, 90.0]);
    let colors = || vec![worked(threads[0], 5, &[0]), worked(threads[3], 5, &[3])];
    let answering = |answer| Ask {
        answers: vec![Answered { color: 0, proposed: vec![thread(1)], answer }],
        ..ask()
    };
    let catalog = catalog_of(&threads);
    let list = run(&catalog, colors(), &answering(Answer::No), &missing(&[0])).unwrap();
    assert_eq!(after(&list, 0), Some(thread(2)));
    let list = run(&catalog, colors(), &answering(Answer::Yes), &missing(&[0])).unwrap();
    assert_eq!(after(&list, 0), Some(thread(1)));
    let another = answering(Answer::Another(thread(3)));
    let list = run(&catalog, colors(), &another, &missing(&[0])).unwrap();
    assert_eq!(after(&list, 0), Some(thread(3)));
    let itself = answering(Answer::Another(thread(0)));
    let error = run(&catalog, colors(), &itself, &missing(&[0])).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::BadAnswer { .. }));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn equals_the_best_of_all_distinct_choices(seed in any::<u64>(), lost in 1_usize..4, spare in 0_usize..4) {
        let mut random = Seeded(seed);
        let count = 2 * lost + spare;
        let threads = random.colors(count);
        let colors: Vec<ChartColor> = (0..lost)
            .map(|row| worked(threads[row], 1 + (random.next() * 300.0) as u64, &[row]))
            .collect();
        let rows: Vec<usize> = (0..lost).collect();
        let list = run(&catalog_of(&threads), colors.clone(), &ask(), &missing(&rows)).unwrap();
        let best = least(&colors, &threads, lost, &mut Vec::new());
        let all: u64 = colors.iter().map(|color| color.stitches).sum();
        prop_assert!((list.totals.mean_difference.value() - best / all as f64).abs() < 1e-9);
        prop_assert_eq!(list.totals.threads_after, lost);
        prop_assert!(list.totals.proved_best);
    }
}

/// The least sum of stitches times difference over all ways to choose different stand-ins.
fn least(colors: &[ChartColor], threads: &[Color], lost: usize, taken: &mut Vec<usize>) -> f64 {
    let Some(color) = colors.get(taken.len()) else { return 0.0 };
    let mut best = f64::INFINITY;
    for row in lost..threads.len() {
        if !taken.contains(&row) {
            taken.push(row);
            let cost = color.stitches as f64 * apart(color.color, threads[row]);
            best = best.min(cost + least(colors, threads, lost, taken));
            taken.pop();
        }
    }
    best
}

#[test]
fn a_color_that_stays_keeps_its_missing_thread_and_the_rest_gets_another() {
    let threads = grays(&[30.0, 31.0, 36.0, 60.0]);
    let colors = || vec![worked(threads[0], 90, &[0]), worked(threads[0], 10, &[0])];
    let catalog = catalog_of(&threads);
    let options = SubstituteOptions { staying: vec![0], ..missing(&[0]) };
    let list = run(&catalog, colors(), &ask(), &options).unwrap();
    assert_eq!(list.unchanged, [0]);
    assert_eq!(after(&list, 1), Some(thread(1)));
    assert!(list.totals.proved_best);
    assert_eq!(list.totals.threads_after, 2);
    // A stand-in need not be apart from the thread that it takes over from.
    let apart = SubstituteOptions { min_apart: DeltaE::computed(20.0), ..options.clone() };
    let list = run(&catalog, colors(), &ask(), &apart).unwrap();
    assert_eq!(after(&list, 1), Some(thread(1)));
    assert_eq!(list.joint.unwrap().loosened, []);
    // What stays does not weigh on the stock either.
    let stock = Some(ThreadStock { meters: vec![(thread(2), 1.0)], meters_per_stitch: 0.1 });
    let list = run(&catalog, colors(), &ask(), &SubstituteOptions { stock, ..options }).unwrap();
    assert_eq!(after(&list, 1), Some(thread(2)));
}

#[test]
fn other_stand_ins_are_apart_from_what_stays_of_a_missing_thread() {
    let threads = grays(&[30.0, 36.0, 33.5, 48.0, 12.0]);
    let colors = || {
        let of = |row: usize, stitches| worked(threads[row], stitches, &[row]);
        vec![of(0, 90), of(0, 10), of(1, 500)]
    };
    let catalog = catalog_of(&threads);
    let none = SubstituteOptions { min_apart: DeltaE::computed(4.0), ..missing(&[0, 1]) };
    let list = run(&catalog, colors(), &ask(), &none).unwrap();
    assert_eq!(after(&list, 2), Some(thread(2)), "nothing stays");
    let some = SubstituteOptions { staying: vec![0], ..none.clone() };
    let list = run(&catalog, colors(), &ask(), &some).unwrap();
    assert_eq!(after(&list, 2), Some(thread(3)));
    assert_eq!(after(&list, 1), Some(thread(2)), "near to its own thread");
    let report = list.joint.unwrap();
    assert!(report.loosened.is_empty() && report.least_apart.unwrap().value() >= 4.0);
    // And from one of which everything stays.
    let all = SubstituteOptions { staying: vec![0, 1], ..none };
    let list = run(&catalog, colors(), &ask(), &all).unwrap();
    assert_eq!(after(&list, 2), Some(thread(3)));
}

#[test]
fn a_missing_thread_in_which_all_stay_needs_no_stand_in_and_gives_none() {
    let threads = grays(&[30.0, 31.0, 36.0]);
    let colors = vec![worked(threads[0], 90, &[0]), worked(threads[1], 10, &[1])];
    let both = SubstituteOptions { staying: vec![0], allow_used: true, ..missing(&[0, 1]) };
    let list = run(&catalog_of(&threads), colors.clone(), &ask(), &both).unwrap();
    assert_eq!(after(&list, 1), Some(thread(2)), "the nearer one is missing too");
    let all = SubstituteOptions { staying: vec![0, 1], ..missing(&[0, 1]) };
    let list = run(&catalog_of(&threads), colors.clone(), &ask(), &all).unwrap();
    assert_eq!((list.changes.len(), list.unchanged.len()), (0, 2));
    assert!(list.totals.proved_best);
    let beyond = SubstituteOptions { staying: vec![2], ..missing(&[0]) };
    let error = run(&catalog_of(&threads), colors, &ask(), &beyond).unwrap_err();
    assert!(error.to_string().contains("the palette has 2 colors"), "{error}");
}

#[test]
fn a_kept_color_of_a_missing_thread_may_stay() {
    let threads = grays(&[30.0, 31.0, 36.0]);
    let colors = || vec![worked(threads[0], 90, &[0]), worked(threads[0], 10, &[0])];
    let kept = Ask { keeps: vec![Keep::Color(0)], ..ask() };
    assert!(run(&catalog_of(&threads), colors(), &kept, &missing(&[0])).is_err());
    let options = SubstituteOptions { staying: vec![0], ..missing(&[0]) };
    let list = run(&catalog_of(&threads), colors(), &kept, &options).unwrap();
    assert_eq!(list.unchanged, [0]);
}
