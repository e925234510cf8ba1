//! Conversion: nearest each, collisions said, blends strand by strand.

use super::*;

fn run(threads: &[Color], colors: Vec<ChartColor>, ask: &Ask) -> ChangeList {
    convert(&catalog_of(threads), &summary(colors), ask, &Patient).unwrap()
}

#[test]
fn every_color_gets_the_nearest_of_all_threads() {
    let mut random = Seeded(21);
    let (threads, colors) = (random.colors(90), random.palette(120));
    let list = run(&threads, colors.clone(), &ask());
    assert_eq!(list.changes.len(), 120);
    for change in &list.changes {
        let mut all: Vec<(f64, usize)> = threads
            .iter()
            .enumerate()
            .map(|(row, thread)| (apart(colors[change.color].color, *thread), row))
            .collect();
        all.sort_by(|one, two| one.0.total_cmp(&two.0).then(one.1.cmp(&two.1)));
        assert_eq!(change.after[0].thread, thread(all[0].1));
        let runners: Vec<_> = change.runners_up.iter().map(|next| next.thread.clone()).collect();
        assert_eq!(runners, all[1..4].iter().map(|(_, row)| thread(*row)).collect::<Vec<_>>());
    }
}

#[test]
fn colors_that_fall_together_say_with_whom() {
    let threads = grays(&[20.0, 80.0]);
    let colors = vec![
        picture(lab(20.0, 0.0, 0.0), 10),
        picture(lab(24.0, 0.0, 0.0), 10),
        picture(lab(80.0, 0.0, 0.0), 10),
    ];
    let list = run(&threads, colors, &ask());
    let of = |color: usize| &list.changes.iter().find(|c| c.color == color).unwrap().remarks;
    assert_eq!(*of(0), vec![Remark::SharesThread(1)]);
    assert_eq!(*of(1), vec![Remark::SharesThread(0)]);
    assert!(of(2).is_empty());
}

#[test]
fn a_color_in_an_admitted_thread_stays() {
    let threads = grays(&[20.0, 20.0, 80.0]);
    let list = run(&threads, vec![worked(threads[1], 10, &[1])], &ask());
    assert_eq!(list.unchanged, vec![0]);
    let mut ask = ask();
    ask.filter.excluded.push(thread(1));
    let list = run(&threads, vec![worked(threads[1], 10, &[1])], &ask);
    assert_eq!(after(&list, 0), Some(thread(0)));
}

#[test]
fn the_strands_of_a_blend_are_converted_one_by_one() {
    let threads = grays(&[20.0, 80.0]);
    let other = table_of("other", &grays(&[79.0, 22.0]));
    let other_id = other.id().clone();
    let catalog = Catalog::build([table_of("own", &threads), other]);
    let ask = Ask { tables: vec![other_id], ..ask() };
    let palette = summary(vec![worked(lab(50.0, 0.0, 0.0), 10, &[0, 1])]);
    let list = convert(&catalog, &palette, &ask, &Patient).unwrap();
    let codes: Vec<_> =
        list.changes[0].after.iter().map(|next| next.thread.code.as_str().to_owned()).collect();
    assert_eq!(codes, ["T-001", "T-000"]);
    assert!(list.changes[0].after[0].difference.lightness > 1.9);
}

#[test]
fn no_thread_within_the_filters_is_said_plainly() {
    let mut ask = ask();
    ask.filter.finishes = vec![Finish::Metallic];
    let palette = summary(vec![picture(lab(50.0, 0.0, 0.0), 1)]);
    let error = convert(&catalog_of(&grays(&[50.0])), &palette, &ask, &Patient).unwrap_err();
    assert_eq!(error.hint().unwrap(), "the tables hold 1 threads; loosen the filters");
    let error = convert(&Catalog::default(), &palette, &ask, &Patient).unwrap_err();
    assert_eq!(error.hint().unwrap(), "load a thread table first");
}
