//! How much thread there is and what it costs: stock, skeins, money, and what is refused. Best answers
//! are held against an outside solver elsewhere.

use super::*;
use crate::change::{ReduceReport, Weighing, to_pay};
use crate::table::{Currency, Price};

/// Meters that a stitch takes in these tests.
const PER_STITCH: f64 = 0.01;

fn euro(micros: i64) -> Option<Price> {
    Some(Price { micros, currency: Currency::parse("EUR") })
}

/// A table of grays with skeins of 8 m at 1 EUR.
fn shelf(steps: &[f64]) -> Catalog {
    let threads = grays(steps).into_iter().enumerate().map(|(row, color)| {
        let mut made = Thread::plain(thread(row).code, "", color);
        made.skein_metres = Some(8.0);
        made.price = euro(1_000_000);
        made
    });
    Catalog::build([Table::new(TableId::parse("own").unwrap(), threads.collect()).unwrap()])
}

fn stocked(stock: &[(usize, f64)], most: usize) -> ReduceOptions {
    let meters = stock.iter().map(|(row, meters)| (thread(*row), *meters)).collect();
    let stock = Some(ThreadStock { meters, meters_per_stitch: PER_STITCH });
    ReduceOptions { stock, ..ReduceOptions::at_most(most) }
}

fn money(worth: f64) -> Money {
    let worth = DeltaE::new(worth).unwrap();
    Money { worth, skein_price: None, skein_meters: None, meters_per_stitch: PER_STITCH }
}

fn bought(worth: f64, most: usize) -> ReduceOptions {
    ReduceOptions { money: Some(money(worth)), ..ReduceOptions::at_most(most) }
}

fn pictures(parts: &[(f64, u64)]) -> Vec<ChartColor> {
    parts.iter().map(|(l, stitches)| picture(lab(*l, 0.0, 0.0), *stitches)).collect()
}

fn run(catalog: &Catalog, colors: Vec<ChartColor>, options: &ReduceOptions) -> Result<ChangeList> {
    reduce(catalog, &summary(colors), &ask(), options, &Patient)
}

fn report(list: &ChangeList) -> &ReduceReport {
    list.reduction.as_ref().unwrap()
}

#[test]
fn a_color_goes_elsewhere_when_its_nearest_thread_is_short() {
    let catalog = shelf(&[20.0, 24.0, 80.0]);
    let colors = pictures(&[(20.0, 500), (21.0, 600), (80.0, 100)]);
    let enough = stocked(&[(0, 11.0), (1, 6.0), (2, 1.0)], 3);
    let list = run(&catalog, colors.clone(), &enough).unwrap();
    assert_eq!((after(&list, 0), after(&list, 1)), (Some(thread(0)), Some(thread(0))));
    let short = stocked(&[(0, 10.0), (1, 6.0), (2, 1.0)], 3);
    let list = run(&catalog, colors, &short).unwrap();
    assert!(list.totals.proved_best);
    assert_eq!((after(&list, 0), after(&list, 1)), (Some(thread(0)), Some(thread(1))));
    let needs = &report(&list).needs;
    let meters: Vec<f64> = needs.iter().map(|need| need.meters).collect();
    assert_eq!(meters, [5.0, 6.0, 1.0]);
    let there: Vec<f64> = needs.iter().map(|need| need.stock_meters.unwrap()).collect();
    assert_eq!(there, [10.0, 6.0, 1.0]);
}

#[test]
fn stock_that_is_too_small_says_how_much_is_missing() {
    let catalog = shelf(&[20.0, 40.0]);
    let stock = stocked(&[(0, 4.0), (1, 3.0)], 2);
    let error = run(&catalog, pictures(&[(20.0, 500)]), &stock).unwrap_err();
    let said = "color 0 needs 5.0 m of one thread; the most there is of one is 4.0 m";
    assert_eq!(error.to_string(), said);
    let error =
        run(&catalog, pictures(&[(20.0, 300), (21.0, 300), (22.0, 200)]), &stock).unwrap_err();
    assert_eq!(error.to_string(), "no choice of threads holds enough for every color");
    let hint = "find more of the threads, admit more of them, or allow a larger difference";
    assert_eq!(error.hint().unwrap(), hint);
    let one = stocked(&[(0, 4.0), (1, 3.0)], 1);
    let error = run(&catalog, pictures(&[(20.0, 300), (21.0, 300)]), &one).unwrap_err();
    assert_eq!(error.to_string(), "no thread holds enough for every color");
    assert_eq!(error.hint().unwrap(), "ask for 2, or find more of them");
}

#[test]
fn what_is_kept_counts_toward_stock_and_price() {
    let catalog = shelf(&[20.0, 24.0, 80.0]);
    let threads = grays(&[20.0, 24.0, 80.0]);
    let colors = vec![worked(threads[0], 700, &[0]), picture(lab(21.0, 0.0, 0.0), 400)];
    let keeping = Ask { keeps: vec![Keep::Color(0)], ..ask() };
    let ask = |options: &ReduceOptions| {
        reduce(&catalog, &summary(colors.clone()), &keeping, options, &Patient)
    };
    let list = ask(&stocked(&[(0, 10.0), (1, 5.0)], 3)).unwrap();
    assert_eq!(after(&list, 1), Some(thread(1)));
    let error = ask(&stocked(&[(0, 6.0), (1, 5.0)], 3)).unwrap_err();
    let said = "what is kept or answered takes 7.0 m of own T-000, of which 6.0 m are there";
    assert_eq!(error.to_string(), said);
    let list = ask(&bought(0.001, 3)).unwrap();
    let (skeins, price) = to_pay(&report(&list).needs).unwrap();
    assert_eq!((skeins, Some(price)), (2, euro(2_000_000)));
}

#[test]
fn a_blend_takes_half_of_each_of_its_threads() {
    let catalog = shelf(&[20.0, 40.0, 80.0]);
    let colors = vec![worked(lab(30.0, 0.0, 0.0), 500, &[0, 1]), picture(lab(80.0, 0.0, 0.0), 50)];
    let keeping = Ask { keeps: vec![Keep::Color(0)], ..ask() };
    let options = stocked(&[(0, 2.5), (1, 2.5), (2, 1.0)], 3);
    let list = reduce(&catalog, &summary(colors), &keeping, &options, &Patient).unwrap();
    let meters: Vec<f64> = report(&list).needs.iter().map(|need| need.meters).collect();
    assert_eq!(meters, [2.5, 2.5, 0.5]);
}

#[test]
fn a_second_skein_is_bought_only_where_it_is_worth_it() {
    let catalog = shelf(&[20.0, 22.0]);
    let colors = pictures(&[(20.0, 500), (20.5, 400)]);
    let skeins = |options: &ReduceOptions| {
        let list = run(&catalog, colors.clone(), options).unwrap();
        assert!(list.totals.proved_best);
        let pieces: Vec<u64> =
            report(&list).needs.iter().map(|need| need.skeins.unwrap()).collect();
        pieces
    };
    assert_eq!(skeins(&bought(10.0, 2)), [2], "one thread, two skeins: nearer at the same price");
    let owned = ReduceOptions { owned: vec![thread(0)], ..bought(10.0, 2) };
    let list = run(&catalog, colors.clone(), &owned).unwrap();
    assert_eq!(report(&list).threads_to_get, 0);
    assert!(report(&list).needs[0].owned && report(&list).needs[0].price.is_none());
    assert!(to_pay(&report(&list).needs).is_none(), "nothing is to be paid");
    let many = pictures(&[(20.0, 790), (21.9, 790)]);
    let list = run(&catalog, many, &bought(0.01, 2)).unwrap();
    assert_eq!(list.totals.threads_after, 2, "two skeins in any case");
}

#[test]
fn prices_that_are_missing_or_cannot_be_added_are_refused() {
    let colors = pictures(&[(20.0, 5)]);
    let made = |row: usize, price: Option<Price>, meters: Option<f64>| {
        let mut made = Thread::plain(thread(row).code, "", lab(20.0 + row as f64, 0.0, 0.0));
        (made.price, made.skein_metres) = (price, meters);
        made
    };
    let dollar = Some(Price { micros: 5, currency: Currency::parse("USD") });
    let catalog = |threads: Vec<Thread>| {
        Catalog::build([Table::new(TableId::parse("own").unwrap(), threads).unwrap()])
    };
    for (threads, said) in [
        (vec![made(0, None, Some(8.0))], "thread own T-000 has no price of a skein"),
        (
            vec![made(0, None, None), made(1, None, None)],
            "2 threads have no price of a skein, own T-000 among them",
        ),
        (vec![made(0, euro(5), None)], "thread own T-000 has no length of a skein"),
        (
            vec![made(0, euro(5), Some(8.0)), made(1, dollar, Some(8.0))],
            "prices in EUR and USD cannot be added up",
        ),
    ] {
        let error = run(&catalog(threads), colors.clone(), &bought(1.0, 1)).unwrap_err();
        assert_eq!(error.to_string(), said);
    }
    let stated = Money { skein_price: euro(2_500_000), skein_meters: Some(10.0), ..money(1.0) };
    let options = ReduceOptions { money: Some(stated), ..ReduceOptions::at_most(1) };
    let list = run(&catalog(vec![made(0, None, None)]), colors, &options).unwrap();
    assert_eq!(to_pay(&report(&list).needs).unwrap(), (1, euro(2_500_000).unwrap()));
}

#[test]
fn the_fewest_threads_that_hold_enough_are_counted() {
    let catalog = shelf(&[20.0, 22.0, 24.0, 26.0]);
    let colors = pictures(&[(20.0, 400), (21.0, 400), (22.0, 400), (23.0, 400)]);
    let tolerance = Some(DeltaE::new(5.0).unwrap());
    let fewest = |stock: &[(usize, f64)]| {
        let options = ReduceOptions { max_threads: None, tolerance, ..stocked(stock, 1) };
        run(&catalog, colors.clone(), &options).unwrap()
    };
    let enough = fewest(&[(0, 16.0), (1, 16.0), (2, 16.0), (3, 16.0)]);
    let short = fewest(&[(0, 8.0), (1, 8.0), (2, 8.0), (3, 4.0)]);
    assert_eq!((enough.totals.threads_after, short.totals.threads_after), (1, 2));
    assert_eq!((report(&enough).fewest, report(&short).fewest), (Some(1), Some(2)));
    assert!(short.totals.proved_best);
}

#[test]
fn a_random_list_never_needs_more_of_a_thread_than_is_there() {
    let mut state = 7;
    let mut below = |limit: u64| bits(&mut state) % limit;
    let (mut answered, mut refused) = (0, 0);
    for _ in 0..200 {
        let catalog = shelf(&(0..12).map(|_| below(1_000) as f64 / 10.0).collect::<Vec<_>>());
        let colors: Vec<(f64, u64)> =
            (0..9).map(|_| (below(1_000) as f64 / 10.0, 1 + below(900))).collect();
        let stock: Vec<(usize, f64)> = (0..12).map(|row| (row, below(100) as f64 / 10.0)).collect();
        match run(&catalog, pictures(&colors), &stocked(&stock, 5)) {
            Ok(list) => {
                answered += 1;
                let needs = &report(&list).needs;
                let all: f64 = needs.iter().map(|need| need.meters).sum();
                let stitches: u64 = colors.iter().map(|(_, stitches)| stitches).sum();
                assert!((all - stitches as f64 * PER_STITCH).abs() < 1e-9, "all is counted");
                for need in needs {
                    assert!(need.meters <= need.stock_meters.unwrap() * (1.0 + 1e-9), "{need:?}");
                }
            }
            Err(error) => {
                refused += 1;
                assert!(matches!(error.kind(), ErrorKind::Impossible { .. }), "{error}");
            }
        }
    }
    assert!(answered > 50 && refused > 20, "{answered} {refused}");
}

#[test]
fn lengths_and_stocks_that_cannot_be_are_refused_by_their_field() {
    let catalog = shelf(&[20.0]);
    let long = |meters_per_stitch, skein_meters| {
        let money = Money { meters_per_stitch, skein_meters, ..money(1.0) };
        ReduceOptions { money: Some(money), ..ReduceOptions::at_most(1) }
    };
    let both = ReduceOptions { stock: stocked(&[(0, 9.0)], 1).stock, ..long(0.02, None) };
    let edges = ReduceOptions {
        keep_edges: KeepEdges::Low,
        weighing: Weighing::Squared,
        ..stocked(&[(0, 9.0)], 1)
    };
    for (options, field) in [
        (long(0.0, None), "money.meters_per_stitch"),
        (long(f64::NAN, None), "money.meters_per_stitch"),
        (long(PER_STITCH, Some(0.0)), "money.skein_meters"),
        (both, "money.meters_per_stitch"),
        (stocked(&[(0, f64::NAN)], 1), "stock.threads[0].meters"),
        (stocked(&[(0, 1.0), (0, -1.0)], 1), "stock.threads[1].meters"),
        (edges, "keep_edges"),
    ] {
        let error = run(&catalog, pictures(&[(20.0, 5)]), &options).unwrap_err();
        assert!(matches!(error.kind(), ErrorKind::BadValue { .. }), "{error}");
        assert_eq!(error.place().unwrap().field.as_deref(), Some(field));
    }
}
