//! Which offers to take, one of each item, so that needs fit into a room and the cost is least.
//! It does not know what is offered.

use std::collections::BTreeMap;

/// States looked at before needs are rounded to a coarser grain. House choice.
const BUDGET: usize = 3_000_000;

/// How much coarser each further attempt is.
const COARSER: u64 = 4;

/// What an offer costs: the first number counts, and the second where the first are equal.
pub(crate) type Cost = (u64, u64);

/// One way to do an item.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Offer {
    pub(crate) need: u64,
    pub(crate) cost: Cost,
}

/// One offer of each item.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Packed {
    /// The offer of each item, by its place.
    pub(crate) taken: Vec<usize>,
    pub(crate) cost: Cost,
    /// Whether every need counted to the last unit: then no choice costs less.
    pub(crate) exact: bool,
}

/// The cheapest offers that fit into the room; `None` when none do.
pub(crate) fn pack(items: &[Vec<Offer>], room: u64) -> Option<Packed> {
    pack_within(items, room, BUDGET)
}

/// A cost that no choice within the room can be below; `None` when no choice fits.
pub(crate) fn floor(items: &[Vec<Offer>], room: u64) -> Option<Cost> {
    let bundles = bundles(items);
    let mut grain = 1;
    loop {
        let least = Table { grain, round: Round::Down };
        match least.fill(&bundles, room, BUDGET) {
            Filled::OverBudget => grain *= COARSER,
            Filled::Impossible => return None,
            Filled::Best(best) => return Some(best.cost),
        }
    }
}

fn pack_within(items: &[Vec<Offer>], room: u64, budget: usize) -> Option<Packed> {
    let bundles = bundles(items);
    let mut grain = 1;
    let mut coarse = None;
    loop {
        match (Table { grain, round: Round::Up }).fill(&bundles, room, budget) {
            Filled::OverBudget => grain *= COARSER,
            // Rounding up may have made it so: the cheapest need of each is the last resort.
            Filled::Impossible => break,
            Filled::Best(best) => {
                coarse = Some(best);
                break;
            }
        }
    }
    let taken = match coarse {
        Some(best) => unbundled(&bundles, &best.taken, items.len()),
        None => leanest(items, room)?,
    };
    let cost = total(items, &taken);
    Some(Packed { taken, cost, exact: grain == 1 })
}

fn total(items: &[Vec<Offer>], taken: &[usize]) -> Cost {
    let costs = items.iter().zip(taken).filter_map(|(offers, place)| offers.get(*place));
    costs.fold((0, 0), |sum, offer| added(sum, offer.cost))
}

/// Of each item the offer that needs least, if these fit.
fn leanest(items: &[Vec<Offer>], room: u64) -> Option<Vec<usize>> {
    let mut needed = 0_u64;
    let mut taken = Vec::with_capacity(items.len());
    for offers in items {
        let (place, offer) = offers.iter().enumerate().min_by_key(|(_, offer)| **offer)?;
        needed = needed.saturating_add(offer.need);
        taken.push(place);
    }
    (needed <= room).then_some(taken)
}

/// Items that are offered the very same, taken together in powers of two: any number of them is
/// a sum of these.
struct Bundle {
    items: Vec<usize>,
    offers: Vec<Offer>,
}

fn bundles(items: &[Vec<Offer>]) -> Vec<Bundle> {
    let mut alike: BTreeMap<&[Offer], Vec<usize>> = BTreeMap::new();
    let mut order: Vec<&[Offer]> = Vec::new();
    for (item, offers) in items.iter().enumerate() {
        let held = alike.entry(offers).or_default();
        if held.is_empty() {
            order.push(offers);
        }
        held.push(item);
    }
    let mut bundles = Vec::new();
    for offers in order {
        let same = alike.get(offers).map_or(&[] as &[usize], Vec::as_slice);
        // Sums of bundles reach every mixture of two offers, and not of more.
        let mut size = if offers.len() == 2 { 1 } else { usize::MAX };
        let mut rest = same;
        while !rest.is_empty() {
            let count = if size == usize::MAX { 1 } else { size.min(rest.len()) };
            let (now, later) = rest.split_at(count);
            let times = count as u64;
            let offers = offers.iter().map(|offer| Offer {
                need: offer.need.saturating_mul(times),
                cost: (offer.cost.0.saturating_mul(times), offer.cost.1.saturating_mul(times)),
            });
            bundles.push(Bundle { items: now.to_vec(), offers: offers.collect() });
            rest = later;
            size = size.saturating_mul(2);
        }
    }
    bundles
}

fn unbundled(bundles: &[Bundle], taken: &[usize], items: usize) -> Vec<usize> {
    let mut places = vec![0; items];
    for (bundle, place) in bundles.iter().zip(taken) {
        for item in &bundle.items {
            places.get_mut(*item).into_iter().for_each(|held| *held = *place);
        }
    }
    places
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Round {
    Down,
    Up,
}

/// How needs are counted.
#[derive(Clone, Copy, Debug)]
struct Table {
    grain: u64,
    round: Round,
}

enum Filled {
    Best(Best),
    Impossible,
    OverBudget,
}

struct Best {
    taken: Vec<usize>,
    cost: Cost,
}

/// Offers of the first items that fit, with the state that they go on from.
#[derive(Clone, Copy, Debug)]
struct State {
    need: u64,
    cost: Cost,
    offer: u32,
    from: u32,
}

impl Table {
    fn units(self, need: u64) -> u64 {
        match self.round {
            Round::Down => need / self.grain,
            Round::Up => need.div_ceil(self.grain),
        }
    }

    /// All states that no other state beats in both need and cost, item by item (Nemhauser and
    /// Ullmann 1969).
    fn fill(self, bundles: &[Bundle], room: u64, budget: usize) -> Filled {
        let room = room / self.grain;
        let mut layers: Vec<Vec<State>> = Vec::with_capacity(bundles.len());
        let mut states = vec![State { need: 0, cost: (0, 0), offer: 0, from: 0 }];
        let mut spent = 0;
        for bundle in bundles {
            let mut next = Vec::with_capacity(states.len() * bundle.offers.len());
            for (offer, held) in bundle.offers.iter().enumerate() {
                let need = self.units(held.need);
                for (from, state) in states.iter().enumerate() {
                    let need = state.need.saturating_add(need);
                    if need <= room {
                        let cost = added(state.cost, held.cost);
                        let (offer, from) = (number(offer), number(from));
                        next.push(State { need, cost, offer, from });
                    }
                }
            }
            spent += next.len();
            if spent > budget && room > 1 {
                return Filled::OverBudget;
            }
            if next.is_empty() {
                return Filled::Impossible;
            }
            next.sort_by_key(|state| (state.need, state.cost));
            let mut best: Option<Cost> = None;
            next.retain(|state| {
                let better = best.is_none_or(|best| state.cost < best);
                if better {
                    best = Some(state.cost);
                }
                better
            });
            layers.push(std::mem::replace(&mut states, next));
        }
        layers.push(states);
        traced(&layers)
    }
}

/// The way to the cheapest state: costs fall with needs, so it is the last one.
fn traced(layers: &[Vec<State>]) -> Filled {
    let Some((last, before)) = layers.split_last() else { return Filled::Impossible };
    let Some(end) = last.last() else { return Filled::Impossible };
    let (cost, mut state) = (end.cost, *end);
    let mut taken = Vec::with_capacity(before.len());
    for layer in before.iter().rev() {
        taken.push(state.offer as usize);
        match layer.get(state.from as usize) {
            Some(from) => state = *from,
            None => return Filled::Impossible,
        }
    }
    taken.reverse();
    Filled::Best(Best { taken, cost })
}

fn added(one: Cost, other: Cost) -> Cost {
    (one.0.saturating_add(other.0), one.1.saturating_add(other.1))
}

fn number(place: usize) -> u32 {
    u32::try_from(place).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `SplitMix64`, as elsewhere in tests.
    struct Dice(u64);

    impl Dice {
        fn below(&mut self, sides: u64) -> u64 {
            self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut z = self.0;
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            (z ^ (z >> 31)) % sides
        }

        fn items(&mut self, count: u64) -> Vec<Vec<Offer>> {
            let offer = |dice: &mut Self| Offer {
                need: dice.below(9),
                cost: (dice.below(4), dice.below(20)),
            };
            (0..count).map(|_| (0..=self.below(3)).map(|_| offer(self)).collect()).collect()
        }
    }

    fn best(items: &[Vec<Offer>], room: u64) -> Option<Cost> {
        let Some((first, rest)) = items.split_first() else { return Some((0, 0)) };
        let each = first.iter().filter(|offer| offer.need <= room);
        each.filter_map(|offer| Some(added(offer.cost, best(rest, room - offer.need)?))).min()
    }

    fn fits(items: &[Vec<Offer>], packed: &Packed, room: u64) {
        let needs = items.iter().zip(&packed.taken).map(|(offers, place)| offers[*place].need);
        assert!(needs.sum::<u64>() <= room);
        assert_eq!(total(items, &packed.taken), packed.cost);
    }

    #[test]
    fn equals_the_best_of_all_choices() {
        let mut dice = Dice(1);
        let (mut possible, mut not) = (0, 0);
        for _ in 0..400 {
            let count = dice.below(6) + 1;
            let items = dice.items(count);
            let room = dice.below(30);
            let found = pack(&items, room);
            let expected = best(&items, room);
            assert_eq!(found.as_ref().map(|packed| packed.cost), expected);
            assert_eq!(floor(&items, room), expected);
            if let Some(packed) = found {
                assert!(packed.exact);
                fits(&items, &packed, room);
                possible += 1;
            } else {
                not += 1;
            }
        }
        assert!(possible > 200 && not > 20, "{possible} possible, {not} not");
    }

    #[test]
    fn a_coarse_answer_fits_and_is_between_the_floor_and_the_leanest() {
        let mut dice = Dice(2);
        let mut coarse = 0;
        for _ in 0..200 {
            let items = dice.items(8);
            let room = 20 + dice.below(40);
            let Some(expected) = best(&items, room) else { continue };
            let packed = pack_within(&items, room, 40).unwrap();
            fits(&items, &packed, room);
            assert!(packed.cost >= expected);
            coarse += usize::from(!packed.exact);
        }
        assert!(coarse > 50, "{coarse}");
    }

    #[test]
    fn many_items_of_one_kind_are_packed_exactly() {
        let one = vec![Offer { need: 0, cost: (0, 4) }, Offer { need: 21_605, cost: (0, 0) }];
        let items = vec![one; 100_000];
        let packed = pack(&items, 4_000_000).unwrap();
        assert!(packed.exact);
        assert_eq!(packed.cost, (0, 4 * (100_000 - 4_000_000 / 21_605)));
    }
}
