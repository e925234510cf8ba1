//! Substitution from a stock: enough for what is missing together with the present use.

use super::substitution::missing;
use super::*;

fn stocked(rows: &[usize], meters: &[(usize, f64)]) -> SubstituteOptions {
    let meters = meters.iter().map(|(row, length)| (thread(*row), *length)).collect();
    let stock = Some(ThreadStock { meters, meters_per_stitch: 0.01 });
    SubstituteOptions { stock, ..missing(rows) }
}

fn run(
    colors: &[ChartColor],
    threads: &[Color],
    options: &SubstituteOptions,
) -> Result<ChangeList> {
    substitute(&catalog_of(threads), &summary(colors.to_vec()), &ask(), options, &Patient)
}

#[test]
fn a_thread_stands_in_only_where_there_is_enough_of_it() {
    let threads = grays(&[50.0, 51.0, 53.0, 56.0]);
    let colors = [worked(threads[0], 1_000, &[0])];
    // 10 m are needed: the nearest has less, the next exactly that.
    let list = run(&colors, &threads, &stocked(&[0], &[(1, 9.9), (2, 10.0), (3, 80.0)])).unwrap();
    assert_eq!(after(&list, 0), Some(thread(2)));
    assert!(list.totals.proved_best);
    let runners: Vec<_> = list.changes[0].runners_up.iter().map(|next| &next.thread).collect();
    assert_eq!(runners, [&thread(3)]);
    // What the stock does not list is not there; lengths of one thread are added.
    let list = run(&colors, &threads, &stocked(&[0], &[(3, 4.0), (3, 6.0)])).unwrap();
    assert_eq!(after(&list, 0), Some(thread(3)));
}

#[test]
fn present_use_counts_and_a_blend_takes_half() {
    let threads = grays(&[50.0, 51.0, 58.0, 90.0]);
    let colors = [
        worked(threads[0], 1_000, &[0]),
        worked(threads[1], 500, &[1]),
        worked(lab(70.0, 0.0, 0.0), 200, &[1, 3]),
    ];
    let reuse = |meters: f64| SubstituteOptions {
        allow_used: true,
        ..stocked(&[0], &[(1, meters), (2, 10.0)])
    };
    // 10 m for the missing one, 5 m and half of 2 m for the present use.
    let list = run(&colors, &threads, &reuse(15.9)).unwrap();
    assert_eq!(after(&list, 0), Some(thread(2)));
    let list = run(&colors, &threads, &reuse(16.0)).unwrap();
    assert_eq!(after(&list, 0), Some(thread(1)));
}

#[test]
fn all_missing_threads_are_served_from_the_stock_together() {
    let mut random = Seeded(61);
    for round in 0..60 {
        let threads = random.colors(9);
        let colors: Vec<ChartColor> =
            (0..3).map(|row| worked(threads[row], 100 + 300 * row as u64, &[row])).collect();
        let meters: Vec<(usize, f64)> = (3..9).map(|row| (row, random.next() * 9.0)).collect();
        let enough =
            |row: usize, color: usize| meters[row - 3].1 >= 0.01 * colors[color].stitches as f64;
        let mut best = f64::INFINITY;
        for picks in 0..216 {
            let pick = [3 + picks / 36, 3 + picks / 6 % 6, 3 + picks % 6];
            let differ = pick[0] != pick[1] && pick[0] != pick[2] && pick[1] != pick[2];
            if differ && (0..3).all(|color| enough(pick[color], color)) {
                let cost = |color: usize| {
                    colors[color].stitches as f64 / 1_200.0
                        * apart(threads[color], threads[pick[color]])
                };
                best = best.min((0..3).map(cost).sum());
            }
        }
        match run(&colors, &threads, &stocked(&[0, 1, 2], &meters)) {
            Ok(list) => {
                let found = list.totals.mean_difference.value();
                assert!((found - best).abs() < 1e-9, "round {round}: {found} {best}");
            }
            Err(error) => {
                assert!(matches!(error.kind(), ErrorKind::Impossible { .. }));
                assert!(best.is_infinite(), "round {round}");
            }
        }
    }
}

#[test]
fn too_little_of_everything_is_said_with_the_length() {
    let threads = grays(&[50.0, 51.0]);
    let colors = [worked(threads[0], 1_000, &[0])];
    let error = run(&colors, &threads, &stocked(&[0], &[(1, 3.0)])).unwrap_err();
    let said = error.to_string();
    assert!(said.contains("own T-000 (plain, 10.0 m)"), "{said}");
    let mut wrong = stocked(&[0], &[(1, -1.0)]);
    let error = run(&colors, &threads, &wrong).unwrap_err();
    assert_eq!(error.place().unwrap().field.as_deref(), Some("stock.threads[0].meters"));
    wrong.stock = Some(ThreadStock { meters: Vec::new(), meters_per_stitch: 0.0 });
    let error = run(&colors, &threads, &wrong).unwrap_err();
    assert_eq!(error.place().unwrap().field.as_deref(), Some("stock.meters_per_stitch"));
    let error = run(&colors, &threads, &stocked(&[0], &[(7, 1.0)])).unwrap_err();
    assert_eq!(error.place().unwrap().field.as_deref(), Some("stock.threads[0]"));
}
