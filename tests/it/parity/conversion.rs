//! Conversion from ranges with a price, from own threads and without collisions, here and there.
//! It does not say what a right answer is: other tests do.

use dyekin_core::planner::{ConvertOptions, RangePrice, Supply, ThreadStock};

use super::*;

impl Dice {
    fn difference(&mut self, most: u64) -> DeltaE {
        DeltaE::new(self.part(0, i32::try_from(most).unwrap())).unwrap()
    }

    pub(super) fn stock(&mut self, catalog: &Catalog) -> ThreadStock {
        let mut meters = Vec::new();
        for held in catalog.tables() {
            for thread in held.table().threads() {
                if self.roll(3) > 0 {
                    let name =
                        ThreadRef { table: held.table().id().clone(), code: thread.code.clone() };
                    meters.push((name, self.part(0, 40)));
                }
            }
        }
        ThreadStock { meters, meters_per_stitch: self.part(1, 5) / 100.0 }
    }

    fn supply(&mut self, catalog: &Catalog) -> Supply {
        match self.roll(3) {
            0 => Supply::All,
            1 => {
                let range = |dice: &mut Self| RangePrice {
                    table: dice.pick(catalog.tables()).table().id().clone(),
                    price: dice.difference(3),
                };
                Supply::Priced((0..=self.roll(2)).map(|_| range(self)).collect())
            }
            _ => {
                let count = if self.roll(4) == 0 { 3 } else { 40 };
                let known = |dice: &mut Self| {
                    let held = dice.pick(catalog.tables()).table();
                    ThreadRef {
                        table: held.id().clone(),
                        code: dice.pick(held.threads()).code.clone(),
                    }
                };
                let mut threads: Vec<ThreadRef> = (0..count).map(|_| known(self)).collect();
                if self.roll(6) == 0 {
                    threads.push(self.thread(catalog));
                }
                let buy_within = (self.roll(2) == 0).then(|| self.difference(20));
                Supply::Owned { threads, buy_within }
            }
        }
    }
}

#[test]
fn generated_conversions_are_the_same() {
    let served = Served::start();
    let catalog = catalog();
    let (mut here, mut there) = (Embedded::new(catalog.clone()), served.remote());
    let mut dice = Dice(11);
    let (mut answered, mut refused, mut reports) = (0, 0, [0; 3]);
    for round in 0..90 {
        let palette = dice.palette(&catalog);
        let ask = dice.ask(&catalog);
        let options = ConvertOptions {
            supply: dice.supply(&catalog),
            distinct: (dice.roll(3) == 0).then(|| dice.difference(4)),
        };
        let left = words(here.convert(&palette, &ask, &options, &Patient));
        let right = words(there.convert(&palette, &ask, &options, &Patient));
        assert_eq!(left, right, "round {round}");
        match left {
            Ok(list) => {
                answered += 1;
                let held = [list.joint.is_some(), list.ranges.is_some(), list.own.is_some()];
                for (report, held) in reports.iter_mut().zip(held) {
                    *report += u32::from(held);
                }
            }
            Err(_) => refused += 1,
        }
    }
    assert!(answered > 20 && refused > 5, "{answered} answered, {refused} refused");
    assert!(reports.iter().all(|count| *count > 2), "{reports:?}");
}
