//! Random options of reductions. It does not know what is answered.

use dyekin_core::change::Weighing;
use dyekin_core::planner::{KeepEdges, Money, ReduceOptions, ThreadStock};
use dyekin_core::table::{Currency, Price};
use dyekin_core::{Catalog, DeltaE, PaletteSummary};

use super::Dice;

impl Dice {
    pub(super) fn reduce_options(
        &mut self,
        palette: &PaletteSummary,
        catalog: &Catalog,
    ) -> ReduceOptions {
        let mut areas: Vec<String> =
            palette.colors().iter().filter_map(|color| color.area.clone()).collect();
        areas.push("nowhere".into());
        let count = usize::try_from(self.roll(6) / 4).unwrap();
        let keep_shading = (0..count).map(|_| self.pick(&areas).clone()).collect();
        let (is_mean, worth) = (self.roll(2) == 0, *self.pick(&[0.4, 3.0]));
        let squared = !is_mean && self.roll(2) == 0;
        let weighing = if squared { Weighing::Squared } else { Weighing::Plain };
        let keep_edges = if squared { KeepEdges::Off } else { *self.pick(&KeepEdges::ALL) };
        let is_priced = !is_mean && self.roll(2) == 0;
        let owned = if is_priced { self.roll(2) * 3 } else { self.roll(9) / 8 };
        ReduceOptions {
            max_threads: (self.roll(5) > 0).then(|| usize::try_from(self.roll(9)).unwrap() + 1),
            tolerance: (self.roll(3) == 0).then(|| DeltaE::new(self.part(12, 60)).unwrap()),
            weighing,
            thread_worth: DeltaE::new(if is_priced { worth } else { 0.0 }).unwrap(),
            owned: (0..owned).map(|_| self.thread(catalog)).collect(),
            keep_edges,
            keep_shading,
            money: (!is_mean && self.roll(3) == 0).then(|| self.money()),
            stock: (!is_mean && self.roll(4) == 0).then(|| ThreadStock {
                meters: (0..60).map(|_| (self.thread(catalog), self.part(0, 30))).collect(),
                meters_per_stitch: 0.0043,
            }),
        }
    }

    fn money(&mut self) -> Money {
        let euro = Price { micros: 1_350_000, currency: Currency::parse("EUR") };
        Money {
            worth: DeltaE::new(self.part(0, 2)).unwrap(),
            skein_price: (self.roll(6) > 0).then_some(euro),
            skein_meters: (self.roll(6) > 0).then_some(8.0),
            meters_per_stitch: if self.roll(8) == 0 { 0.01 } else { 0.0043 },
        }
    }
}
