//! The rows that gain most within what a column serves: whole rows where they can be weighed up, and
//! otherwise with the last one in part, which gains no less. It does not know prices.

use super::CLOSED;

/// Most rows that are weighed up whole.
const MOST_ITEMS: usize = 40;

/// Most choices that are looked at before rows are taken in part.
const MOST_LOOKS: u32 = 400;

/// A row that would gain by a column.
#[derive(Clone, Copy, Debug)]
pub(super) struct Item {
    pub(super) gain: f64,
    pub(super) weight: f64,
    pub(super) row: usize,
}

/// What a column is filled with.
#[derive(Clone, Copy, Debug)]
pub(super) struct Filled {
    /// What the rows gain, or a bound on it.
    pub(super) gain: f64,
    /// Choices that were looked at.
    pub(super) looked: u32,
    /// The places of whole rows, one bit each; `None` when the last row is taken in part.
    whole: Option<u64>,
    served: f64,
}

impl Filled {
    /// Fills what is served with items that come by gain for their weight, best first.
    pub(super) fn of(items: &[Item], served: f64) -> Self {
        let in_parts = Self { gain: 0.0, looked: 0, whole: None, served };
        let gain = in_parts.each(items, |_, _| {});
        let in_parts = Self { gain, ..in_parts };
        let weight: f64 = items.iter().map(|item| item.weight).sum();
        if weight <= served || items.len() > MOST_ITEMS {
            return in_parts;
        }
        let mut search = Search { items, best: (-1.0, 0), looked: 0 };
        search.look(0, served * (1.0 + CLOSED), (0.0, 0));
        if search.looked > MOST_LOOKS {
            return Self { looked: search.looked, ..in_parts };
        }
        // Rounding must not lift the bound above the truth.
        let (gain, whole) = search.best;
        Self { gain: gain.max(0.0), looked: search.looked, whole: Some(whole), served }
    }

    /// Tells each row that is taken with the part of it; returns what they gain.
    pub(super) fn each(&self, items: &[Item], mut take: impl FnMut(usize, f64)) -> f64 {
        let (mut left, mut gained) = (self.served, 0.0);
        for (place, item) in items.iter().enumerate() {
            let part = match self.whole {
                Some(whole) => f64::from(u8::from(whole >> place & 1 == 1)),
                None if item.weight > self.served * (1.0 + CLOSED) => 0.0,
                None => (left.max(0.0) / item.weight).min(1.0),
            };
            if part > 0.0 {
                left -= item.weight * part;
                gained += part * item.gain;
                take(item.row, part);
            }
        }
        gained
    }
}

/// With an item and without it, as long as that may gain more.
struct Search<'i> {
    items: &'i [Item],
    /// The most gained by whole rows, and which.
    best: (f64, u64),
    looked: u32,
}

impl Search<'_> {
    fn look(&mut self, place: usize, left: f64, (gained, taken): (f64, u64)) {
        self.looked += 1;
        if self.looked > MOST_LOOKS {
            return;
        }
        if gained > self.best.0 {
            self.best = (gained, taken);
        }
        if gained + self.at_most(place, left) <= self.best.0 {
            return;
        }
        let Some(item) = self.items.get(place) else { return };
        if item.weight <= left {
            let with = (gained + item.gain, taken | 1 << place);
            self.look(place + 1, left - item.weight, with);
        }
        self.look(place + 1, left, (gained, taken));
    }

    /// What the items from a place on gain at most.
    fn at_most(&self, place: usize, mut left: f64) -> f64 {
        let mut gained = 0.0;
        for item in self.items.get(place..).unwrap_or_default() {
            if item.weight <= left {
                left -= item.weight;
                gained += item.gain;
            } else {
                return gained + item.gain * left / item.weight;
            }
        }
        gained
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seeded::bits;

    #[test]
    fn the_best_whole_rows_of_all_are_found() {
        let mut random = 5;
        let mut part = |limit: u32| {
            let number = bits(&mut random) % u64::from(limit);
            f64::from(1 + u32::try_from(number).unwrap()) / 100.0
        };
        for _ in 0..500 {
            let mut items: Vec<Item> =
                (0..7).map(|row| Item { gain: part(900), weight: part(900), row }).collect();
            items.sort_by(|one, two| (two.gain * one.weight).total_cmp(&(one.gain * two.weight)));
            let served = part(2_000);
            let total = |set: u64, of: fn(&Item) -> f64| -> f64 {
                (0..7).filter(|place| set >> place & 1 == 1).map(|place| of(&items[place])).sum()
            };
            let fits =
                (0_u64..128).filter(|set| total(*set, |item| item.weight) <= served * (1.0 + 1e-9));
            let best = fits.map(|set| total(set, |item| item.gain)).fold(0.0, f64::max);
            let filled = Filled::of(&items, served);
            assert!((filled.gain - best).abs() < 1e-9, "{} {best}", filled.gain);
            assert!((filled.each(&items, |_, _| {}) - best).abs() < 1e-9);
        }
    }
}
