//! Reduction: keeps, exclusions, answers, limits, determinism.

use super::*;
use crate::change::Answer;

fn run(threads: &[Color], colors: Vec<ChartColor>, ask: &Ask, open: usize) -> Result<ChangeList> {
    reduce(&catalog_of(threads), &summary(colors), ask, &at_most(open), &Patient)
}

fn keeping(keeps: Vec<Keep>) -> Ask {
    Ask { keeps, ..ask() }
}

fn answering(color: usize, proposed: &[usize], answer: Answer) -> Ask {
    let proposed = proposed.iter().map(|row| thread(*row)).collect();
    Ask { answers: vec![Answered { color, proposed, answer }], ..ask() }
}

fn gray_palette() -> Vec<ChartColor> {
    grays(&[10.0, 30.0, 50.0, 70.0]).into_iter().map(|color| picture(color, 100)).collect()
}

#[test]
fn kept_threads_that_do_not_fit_are_refused_with_the_nearest_possible() {
    let threads = grays(&[10.0, 20.0, 30.0, 40.0, 50.0, 60.0]);
    let ask = keeping((0..5).map(|row| Keep::Thread(thread(row))).collect());
    let error = run(&threads, gray_palette(), &ask, 3).unwrap_err();
    assert_eq!(error.to_string(), "5 threads that are kept or answered do not fit into 3");
    assert_eq!(error.hint().unwrap(), "ask for 5, keep fewer, or take answers back");
    assert!(run(&threads, gray_palette(), &ask, 5).is_ok());
}

#[test]
fn no_thread_at_all_is_a_bad_value() {
    let error = run(&grays(&[10.0]), gray_palette(), &ask(), 0).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::BadValue { .. }));
    assert_eq!(error.place().unwrap().field.as_deref(), Some("max_thread_count"));
}

#[test]
fn more_threads_than_anyone_has_give_every_color_its_nearest() {
    let threads = grays(&[11.0, 31.0, 50.0, 71.0, 90.0]);
    let list = run(&threads, gray_palette(), &ask(), usize::MAX).unwrap();
    assert_eq!(list.totals.threads_after, 4);
    assert!(list.totals.proved_best);
    assert_eq!(after(&list, 2), Some(thread(2)));
}

#[test]
fn a_color_in_an_open_thread_stays_in_it_beside_an_equal_twin() {
    let threads = grays(&[40.0, 40.0, 90.0]);
    let colors = vec![worked(threads[1], 10, &[1]), picture(threads[0], 10)];
    let list = run(&threads, colors, &ask(), 3).unwrap();
    assert!(list.totals.max_difference.value() <= 0.0);
}

#[test]
fn a_kept_color_stays_in_its_thread_and_counts() {
    let threads = grays(&[10.0, 12.0, 50.0, 52.0]);
    let colors = vec![
        worked(threads[0], 5, &[0]),
        picture(threads[1], 5_000),
        picture(threads[2], 4_000),
        picture(threads[3], 4_100),
    ];
    let free = run(&threads, colors.clone(), &ask(), 2).unwrap();
    assert_eq!(after(&free, 0), Some(thread(1)));
    let list = run(&threads, colors, &keeping(vec![Keep::Color(0)]), 2).unwrap();
    assert!(list.unchanged.contains(&0));
    assert_eq!(after(&list, 1), Some(thread(0)));
    assert_eq!(list.totals.threads_after, 2);
}

#[test]
fn a_kept_color_keeps_a_thread_that_no_other_color_may_join() {
    let colors = grays(&[10.0, 40.0]);
    let mut tinsel = Thread::plain(Code::parse("M").unwrap(), "", colors[0]);
    tinsel.finish = Finish::Metallic;
    let plain = Thread::plain(Code::parse("P").unwrap(), "", colors[1]);
    let table = Table::new(TableId::parse("own").unwrap(), vec![tinsel, plain]).unwrap();
    let own = ThreadRef { table: table.id().clone(), code: Code::parse("M").unwrap() };
    let mut ask = keeping(vec![Keep::Color(0)]);
    ask.filter.finishes = vec![Finish::Plain];
    let mut kept = picture(colors[0], 5);
    kept.threads = vec![own];
    let palette = summary(vec![kept, picture(colors[0], 50)]);
    let catalog = Catalog::build([table]);
    let list = reduce(&catalog, &palette, &ask, &at_most(2), &Patient).unwrap();
    assert_eq!(list.unchanged, vec![0]);
    assert_eq!(after(&list, 1).unwrap().code.as_str(), "P");
    let error = reduce(&catalog, &palette, &ask, &at_most(1), &Patient).unwrap_err();
    assert_eq!(error.hint().unwrap(), "ask for 2, or keep fewer");
}

#[test]
fn kept_picture_colors_get_threads_of_their_own_the_larger_first() {
    let threads = grays(&[20.0, 40.0, 80.0]);
    let colors = vec![
        picture(lab(22.0, 0.0, 0.0), 10),
        picture(lab(21.0, 0.0, 0.0), 90),
        picture(lab(80.0, 0.0, 0.0), 900),
    ];
    let ask = keeping(vec![Keep::Color(0), Keep::Color(1)]);
    let list = run(&threads, colors, &ask, 3).unwrap();
    assert_eq!(after(&list, 1), Some(thread(0)));
    assert_eq!(after(&list, 0), Some(thread(1)));
    assert!(list.changes.iter().find(|c| c.color == 0).unwrap().remarks.contains(&Remark::Kept));
}

#[test]
fn a_kept_blend_keeps_both_threads() {
    let threads = grays(&[10.0, 30.0, 50.0, 70.0]);
    let colors = vec![worked(lab(20.0, 0.0, 0.0), 10, &[0, 1]), picture(threads[3], 500)];
    let list = run(&threads, colors.clone(), &keeping(vec![Keep::Color(0)]), 3).unwrap();
    assert_eq!(list.unchanged, vec![0]);
    assert_eq!(list.totals.threads_after, 3);
    let error = run(&threads, colors, &keeping(vec![Keep::Color(0)]), 1).unwrap_err();
    assert_eq!(error.to_string(), "2 threads that are kept or answered do not fit into 1");
}

#[test]
fn an_area_keeps_its_colors_and_an_unknown_one_names_the_known() {
    let threads = grays(&[10.0, 12.0]);
    let mut eyes = worked(threads[0], 5, &[0]);
    eyes.area = Some("eyes".into());
    let colors = vec![eyes, worked(threads[0], 500, &[0]), worked(threads[1], 900, &[1])];
    let ask = keeping(vec![Keep::Area("eyes".into())]);
    let list = run(&threads, colors.clone(), &ask, 1).unwrap();
    assert_eq!(list.unchanged, vec![0, 1]);
    let ask = keeping(vec![Keep::Area("nose".into())]);
    let error = run(&threads, colors, &ask, 1).unwrap_err();
    assert_eq!(error.hint().unwrap(), "areas of the palette: eyes");
}

#[test]
fn keeping_what_is_excluded_or_absent_is_refused() {
    let threads = grays(&[10.0, 12.0]);
    let mut ask = keeping(vec![Keep::Thread(thread(0))]);
    ask.filter.excluded.push(thread(0));
    let error = run(&threads, gray_palette(), &ask, 2).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::Impossible { .. }));
    let error = run(&threads, gray_palette(), &keeping(vec![Keep::Color(9)]), 2).unwrap_err();
    assert_eq!(error.place().unwrap().field.as_deref(), Some("options.keeps[0]"));
    let error =
        run(&threads, gray_palette(), &keeping(vec![Keep::Thread(thread(7))]), 2).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::UnknownThread { .. }));
}

#[test]
fn excluded_threads_are_never_chosen() {
    let threads = grays(&[10.0, 11.0, 50.0]);
    let mut ask = ask();
    ask.filter.excluded.push(thread(0));
    let list = run(&threads, gray_palette(), &ask, 3).unwrap();
    assert_eq!(after(&list, 0), Some(thread(1)));
    assert!(list.changes.iter().all(|c| c.runners_up.iter().all(|r| r.thread != thread(0))));
}

#[test]
fn yes_and_another_fix_the_thread_of_a_color() {
    let threads = grays(&[10.0, 30.0, 50.0, 70.0, 90.0]);
    for ask in [answering(0, &[4], Answer::Yes), answering(0, &[0], Answer::Another(thread(4)))] {
        let list = run(&threads, gray_palette(), &ask, 2).unwrap();
        assert_eq!(after(&list, 0), Some(thread(4)));
        assert_eq!(list.totals.threads_after, 2);
    }
}

#[test]
fn another_thread_outside_the_filter_serves_that_color_only() {
    let colors = grays(&[10.0, 30.0]);
    let mut metallic = Thread::plain(Code::parse("M").unwrap(), "", colors[1]);
    metallic.finish = Finish::Metallic;
    let plain = Thread::plain(Code::parse("P").unwrap(), "", colors[0]);
    let table = Table::new(TableId::parse("own").unwrap(), vec![metallic, plain]).unwrap();
    let gold = ThreadRef { table: table.id().clone(), code: Code::parse("M").unwrap() };
    let mut ask = answering(0, &[], Answer::Another(gold.clone()));
    ask.filter.finishes = vec![Finish::Plain];
    let palette = summary(vec![picture(colors[0], 5), picture(colors[1], 500)]);
    let list = reduce(&Catalog::build([table]), &palette, &ask, &at_most(2), &Patient).unwrap();
    assert_eq!(after(&list, 0), Some(gold.clone()));
    assert_ne!(after(&list, 1), Some(gold));
}

#[test]
fn no_forbids_a_thread_to_a_picture_color_and_keeps_a_worked_one() {
    let threads = grays(&[10.0, 30.0, 50.0, 70.0]);
    let list = run(&threads, gray_palette(), &answering(0, &[0], Answer::No), 4).unwrap();
    assert_eq!(after(&list, 0), Some(thread(1)));
    let colors = vec![worked(threads[0], 5, &[0]), picture(threads[1], 500)];
    let list = run(&threads, colors, &answering(0, &[1], Answer::No), 2).unwrap();
    assert_eq!(list.unchanged, vec![0]);
}

#[test]
fn answers_that_cannot_stand_say_so() {
    let threads = grays(&[10.0, 30.0]);
    let twice = Ask {
        answers: vec![
            Answered { color: 0, proposed: vec![thread(0)], answer: Answer::Yes },
            Answered { color: 0, proposed: vec![thread(0)], answer: Answer::Another(thread(1)) },
        ],
        ..ask()
    };
    let mut excluded = answering(0, &[1], Answer::Yes);
    excluded.filter.excluded.push(thread(1));
    let kept = Ask { keeps: vec![Keep::Color(0)], ..answering(0, &[1], Answer::Yes) };
    for (ask, reason) in [
        (answering(9, &[0], Answer::Yes), "no such color"),
        (answering(0, &[], Answer::Yes), "proposed no thread"),
        (answering(0, &[0], Answer::Another(thread(5))), "no thread `T-005`"),
        (twice, "answered twice"),
        (excluded, "is excluded"),
        (kept, "kept as it is"),
    ] {
        let colors = vec![worked(threads[0], 5, &[0]), picture(threads[1], 500)];
        let error = run(&threads, colors, &ask, 2).unwrap_err();
        assert!(matches!(error.kind(), ErrorKind::BadAnswer { .. }), "{error}");
        assert!(error.to_string().contains(reason), "{error}");
    }
}

#[test]
fn refusing_every_thread_is_impossible_and_names_the_color() {
    let threads = grays(&[10.0, 30.0]);
    let error = run(&threads, gray_palette(), &answering(1, &[0, 1], Answer::No), 2).unwrap_err();
    assert!(error.to_string().contains("color 1"), "{error}");
}

#[test]
fn refusals_that_need_more_threads_say_how_many() {
    let threads = grays(&[10.0, 30.0]);
    let answers = [(0, 0), (3, 1)].map(|(color, row)| Answered {
        color,
        proposed: vec![thread(row)],
        answer: Answer::No,
    });
    let ask = Ask { answers: answers.to_vec(), ..ask() };
    let error = run(&threads, gray_palette(), &ask, 1).unwrap_err();
    assert_eq!(error.hint().unwrap(), "ask for 2");
    let list = run(&threads, gray_palette(), &ask, 2).unwrap();
    assert_eq!(after(&list, 0), Some(thread(1)));
    assert_eq!(after(&list, 3), Some(thread(0)));
}

#[test]
fn measured_colors_of_different_lights_are_refused() {
    let under =
        |conditions| Color::lab_under(Lab::new(50.0, 1.0, 1.0).unwrap(), conditions, Origin::Meter);
    let colors = vec![picture(under(Conditions::SCREEN), 3)];
    let error = run(&[under(Conditions::TEXTILE)], colors, &ask(), 1).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::ConditionsDiffer { .. }));
}

#[test]
fn the_order_of_the_colors_does_not_matter() {
    for seed in 0..20 {
        let mut random = Seeded(seed);
        let threads = random.colors(60);
        let colors = random.palette(40);
        let there = run(&threads, colors.clone(), &ask(), 9).unwrap();
        let back = run(&threads, colors.iter().rev().cloned().collect(), &ask(), 9).unwrap();
        for color in 0..colors.len() {
            assert_eq!(after(&there, color), after(&back, colors.len() - 1 - color));
        }
    }
}

#[test]
fn the_order_of_the_rows_of_a_table_does_not_matter() {
    let mut random = Seeded(3);
    let colors = random.colors(50);
    let palette = summary(random.palette(30));
    let rows = |order: &mut dyn Iterator<Item = usize>| {
        let threads = order.map(|row| {
            Thread::plain(Code::parse(&format!("T-{row:03}")).unwrap(), "", colors[row])
        });
        let table = Table::new(TableId::parse("own").unwrap(), threads.collect()).unwrap();
        reduce(&Catalog::build([table]), &palette, &ask(), &at_most(7), &Patient).unwrap()
    };
    let (there, back) = (rows(&mut (0..50)), rows(&mut (0..50).rev()));
    assert_eq!(there.changes, back.changes);
    assert_eq!(there.totals, back.totals);
}

#[test]
fn with_too_little_memory_for_all_costs_the_bound_still_holds() {
    for seed in 0..60 {
        let mut random = Seeded(1_000 + seed);
        let colors = random.palette(6);
        let threads = random.colors(10);
        let optimum = exhaustive(&colors, &threads, 2);
        let (catalog, palette) = (catalog_of(&threads), summary(colors));
        let mut meter = Meter::new(&Patient);
        let limits = model::Limits { cells: 40, scan: [40, 4_000][seed as usize % 2] };
        let asked = (&catalog, &palette, &ask());
        let list = reduce::run_within(limits, asked, &at_most(2), &mut meter).unwrap();
        let found = list.totals.mean_difference.value();
        assert!(list.totals.lower_bound.unwrap().value() <= optimum * (1.0 + 1e-8), "{seed}");
        assert!(found >= optimum - 1e-9, "{seed}");
        assert!(!list.totals.proved_best || found <= optimum * (1.0 + 1e-8), "{seed}");
    }
}

/// Hears everything.
#[derive(Default)]
struct Listener(std::cell::RefCell<Vec<Progress>>);

impl Watch for Listener {
    fn stopped(&self) -> bool {
        false
    }

    fn progress(&self, progress: &Progress) {
        self.0.borrow_mut().push(*progress);
    }
}

#[test]
fn a_real_size_is_nearly_proved_and_tells_its_progress() {
    let mut random = Seeded(5);
    let catalog = catalog_of(&random.colors(480));
    let palette = summary(random.palette(120));
    let listener = Listener::default();
    let list = reduce(&catalog, &palette, &ask(), &at_most(24), &listener).unwrap();
    let (mean, bound) = (list.totals.mean_difference, list.totals.lower_bound.unwrap());
    assert!(bound.value() >= 0.995 * mean.value(), "{bound:?} {mean:?}");
    assert_eq!(list.totals.threads_after, 24);
    let heard = listener.0.into_inner();
    assert!(heard.len() >= 3);
    assert!(heard.windows(2).all(|pair| pair[0].fraction <= pair[1].fraction));
    assert!((heard.last().unwrap().fraction - 1.0).abs() < 1e-12);
    assert_eq!(list, reduce(&catalog, &palette, &ask(), &at_most(24), &Patient).unwrap());
}

#[test]
fn hostile_numbers_are_refused_or_harmless() {
    let colors = vec![picture(lab(1.0, 0.0, 0.0), u64::MAX), picture(lab(2.0, 0.0, 0.0), 9)];
    let error = PaletteSummary::new(colors, None, None).unwrap_err();
    assert!(matches!(error.kind(), ErrorKind::OverLimit { .. }));
    let colors = vec![picture(lab(1.0, 0.0, 0.0), 1 << 52), picture(lab(90.0, 0.0, 0.0), 1)];
    let list = run(&grays(&[5.0, 80.0]), colors, &ask(), 1).unwrap();
    assert_eq!(after(&list, 1), Some(thread(0)));
    let same = vec![picture(lab(50.0, 0.0, 0.0), 1); 300];
    let list = run(&grays(&[50.0; 40]), same, &ask(), 5).unwrap();
    assert_eq!(list.totals.threads_after, 1);
    assert!(list.totals.proved_best);
    assert!(list.changes.iter().all(|change| change.remarks.len() <= 20));
}

#[test]
fn keeps_and_refusals_are_met_at_the_least_cost_there_is() {
    for seed in 0..150 {
        let mut random = Seeded(5_000 + seed);
        let (colors, threads) = (random.palette(6), random.colors(7));
        let kept = (random.next() * 7.0) as usize;
        let refused: Vec<(usize, usize)> =
            (0..4).map(|color| (color, (random.next() * 7.0) as usize)).collect();
        let answers = refused.iter().map(|(color, row)| Answered {
            color: *color,
            proposed: vec![thread(*row)],
            answer: Answer::No,
        });
        let ask = Ask { answers: answers.collect(), ..keeping(vec![Keep::Thread(thread(kept))]) };
        let all: u64 = colors.iter().map(|color| color.stitches).sum();
        let cost = |set: u32| {
            let nearest = |(place, color): (usize, &ChartColor)| {
                let open = (0..7).filter(|row| set >> row & 1 == 1);
                let open = open.filter(|row| !refused.contains(&(place, *row)));
                let least = open.map(|row| apart(color.color, threads[row]));
                color.stitches as f64 / all as f64 * least.fold(f64::INFINITY, f64::min)
            };
            colors.iter().enumerate().map(nearest).sum::<f64>()
        };
        let sets = (0_u32..128).filter(|set| set >> kept & 1 == 1 && set.count_ones() <= 3);
        let optimum = sets.map(cost).fold(f64::INFINITY, f64::min);
        let list = run(&threads, colors.clone(), &ask, 3).unwrap();
        let totals = &list.totals;
        assert!((totals.mean_difference.value() - optimum).abs() < 1e-9, "seed {seed}");
        assert!(totals.lower_bound.unwrap().value() <= optimum * (1.0 + 1e-8), "seed {seed}");
        assert!(totals.proved_best, "seed {seed}");
    }
}
