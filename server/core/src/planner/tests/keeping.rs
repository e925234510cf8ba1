//! Edges kept beside stock, skeins and what threads are worth: against all assignments.

use std::collections::BTreeMap;

use super::contrast::{lettering, objective, touching};
use super::*;
use crate::table::{Currency, Price};

/// Meters that a stitch takes in these tests, and meters in a skein.
const PER_STITCH: f64 = 0.01;
const SKEIN: f64 = 2.0;

/// A question with limits, and what it takes to weigh an assignment anew.
struct Limited {
    palette: PaletteSummary,
    threads: Vec<Color>,
    options: ReduceOptions,
    stock: Option<Vec<f64>>,
}

impl Limited {
    fn drawn(seed: u64) -> Self {
        let mut random = Seeded(7_000 + seed);
        let palette = touching(&mut random, 3 + seed as usize % 3);
        let threads = random.colors(3 + seed as usize / 3 % 3);
        let total = palette.stitches() as f64 * PER_STITCH;
        let stock: Option<Vec<f64>> =
            (seed % 4 < 2).then(|| threads.iter().map(|_| total * (0.2 + random.next())).collect());
        let listed = stock.as_ref().map(|stock| ThreadStock {
            meters: stock.iter().enumerate().map(|(row, held)| (thread(row), *held)).collect(),
            meters_per_stitch: PER_STITCH,
        });
        let worth = |some: bool, most: f64| DeltaE::new(if some { most } else { 0.0 }).unwrap();
        let money = (seed % 4 == 1 || seed % 4 == 2).then(|| Money {
            worth: worth(true, 0.3),
            skein_price: Some(Price { micros: 1_500_000, currency: Currency::parse("EUR") }),
            skein_meters: Some(SKEIN),
            meters_per_stitch: PER_STITCH,
        });
        let options = ReduceOptions {
            keep_edges: KeepEdges::ALL[1 + seed as usize % 3],
            thread_worth: worth(seed % 4 == 3, 2.0),
            money,
            stock: listed,
            ..at_most(2 + seed as usize % 3)
        };
        Self { palette, threads, options, stock }
    }

    /// What an assignment costs in all; `None` where stock forbids it.
    fn weigh(&self, seats: &[usize]) -> Option<f64> {
        let mut meters = BTreeMap::new();
        for (color, seat) in self.palette.colors().iter().zip(seats) {
            *meters.entry(*seat).or_insert(0.0) += color.stitches as f64 * PER_STITCH;
        }
        let fits = |(seat, needed): (&usize, &f64)| {
            self.stock.as_ref().is_none_or(|stock| *needed <= stock[*seat] * (1.0 + 1e-9))
        };
        let allowed = meters.len() <= self.options.max_threads.unwrap() && meters.iter().all(fits);
        let skeins: f64 = meters.values().map(|needed| (needed / SKEIN - 1e-9).ceil()).sum();
        let money = self.options.money.map_or(0.0, |money| money.worth.value() * 1.5 * skeins);
        let prices = money + self.options.thread_worth.value() * meters.len() as f64;
        let shown: Vec<Color> = seats.iter().map(|seat| self.threads[*seat]).collect();
        let price = self.options.keep_edges.price();
        allowed.then(|| prices + objective(&self.palette, &shown, price))
    }

    fn least(&self) -> Option<f64> {
        let (count, width) = (self.palette.colors().len(), self.threads.len());
        let seats = |number: usize| -> Vec<usize> {
            (0..count).map(|place| number / width.pow(place as u32) % width).collect()
        };
        let all = (0..width.pow(count as u32)).filter_map(|number| self.weigh(&seats(number)));
        all.min_by(f64::total_cmp)
    }
}

#[test]
fn limits_and_prices_hold_with_edges_kept_and_the_bound_never_passes_the_best() {
    let (mut rounds, mut best, mut over) = (0, 0, 0.0_f64);
    for seed in 0..400 {
        let asked = Limited::drawn(seed);
        let catalog = catalog_of(&asked.threads);
        let answer = reduce(&catalog, &asked.palette, &ask(), &asked.options, &Patient);
        let Some(least) = asked.least() else {
            assert!(answer.is_err(), "seed {seed}");
            continue;
        };
        let list = answer.unwrap();
        let Some(all) = list.totals.combined else { continue };
        let seat = |color| {
            (0..asked.threads.len()).find(|row| Some(thread(*row)) == after(&list, color)).unwrap()
        };
        let seats: Vec<usize> = (0..asked.palette.colors().len()).map(seat).collect();
        let found = asked.weigh(&seats).expect("stock that is enough");
        assert!((found - all.total).abs() < 1e-9, "seed {seed}: {found} {all:?}");
        assert!(all.lower_bound <= least * (1.0 + 1e-9), "seed {seed}: {all:?} > {least}");
        assert!(found >= least - 1e-9, "seed {seed}: {found} < {least}");
        rounds += 1;
        best += u32::from(found <= least * (1.0 + 1e-9));
        over = over.max(found / least - 1.0);
    }
    assert!(rounds >= 200 && best * 100 >= rounds * 90, "best in {best} of {rounds}, {over} over");
}

#[test]
fn lettering_survives_beside_stock() {
    let (palette, catalog) = lettering();
    let meters = [(0, 50.0), (1, 60.0), (2, 60.0)].map(|(row, meters)| (thread(row), meters));
    let stock = ThreadStock { meters: meters.to_vec(), meters_per_stitch: PER_STITCH };
    let of = |keep_edges| {
        let options = ReduceOptions { stock: Some(stock.clone()), keep_edges, ..at_most(2) };
        reduce(&catalog, &palette, &ask(), &options, &Patient).unwrap()
    };
    assert_eq!(of(KeepEdges::Off).edges.unwrap().vanished, 260);
    assert_eq!(of(KeepEdges::Normal).edges.unwrap().vanished, 0);
}
