//! Which offers to take, one of each item, so that needs fit into a room and the cost is least.
//! It does not know what is offered.

use std::collections::BTreeMap;

/// States looked at before needs are rounded to a coarser grain. House choice.
pub(super) const BUDGET: usize = 3_000_000;

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

/// The best that can be done with some items for every room: what fits into it costs least.
pub(super) struct Front {
    bundles: Vec<Bundle>,
    items: usize,
    table: Table,
    layers: Vec<Vec<State>>,
    /// Of each item the offer that needs least: what is left where needs that are rounded up do not
    /// fit any more.
    leanest: (u64, Cost, Vec<usize>),
}

/// One way of a front to take its items.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    Leanest,
    State(usize),
}

impl Front {
    /// The front up to a room; `None` when not even the leanest offers fit.
    pub(super) fn of(items: &[Vec<Offer>], room: u64, round: Round, budget: usize) -> Option<Self> {
        let leanest = leanest(items)?;
        if leanest.0 > room {
            return None;
        }
        let bundles = bundles(items);
        let mut table = Table { grain: 1, round };
        let layers = loop {
            match table.fill(&bundles, room, budget) {
                Filled::OverBudget => table.grain *= COARSER,
                Filled::Layers(layers) => break layers,
            }
        };
        Some(Self { bundles, items: items.len(), table, layers, leanest })
    }

    /// What its leanest offers need.
    pub(super) fn least_need(&self) -> u64 {
        self.leanest.0
    }

    /// The cheapest way within a room of at most the one it was made for. Costs fall with needs.
    pub(super) fn best(&self, room: u64) -> Option<(Cost, Way)> {
        let states = self.layers.last().map_or(&[] as &[State], Vec::as_slice);
        let fits = states.partition_point(|state| state.need <= room / self.table.grain);
        let state = fits.checked_sub(1).and_then(|place| Some((states.get(place)?.cost, place)));
        match state {
            Some((cost, place)) => Some((cost, Way::State(place))),
            None => (self.leanest.0 <= room).then_some((self.leanest.1, Way::Leanest)),
        }
    }

    /// The offer of each item on a way.
    pub(super) fn taken(&self, way: Way) -> Vec<usize> {
        match way {
            Way::Leanest => self.leanest.2.clone(),
            Way::State(place) => unbundled(&self.bundles, &traced(&self.layers, place), self.items),
        }
    }
}

/// Of each item the offer that needs least, with need and cost of all; `None` where an item has
/// none.
fn leanest(items: &[Vec<Offer>]) -> Option<(u64, Cost, Vec<usize>)> {
    let (mut need, mut cost) = (0_u64, (0, 0));
    let mut taken = Vec::with_capacity(items.len());
    for offers in items {
        let (place, offer) = offers.iter().enumerate().min_by_key(|(_, offer)| **offer)?;
        need = need.saturating_add(offer.need);
        cost = added(cost, offer.cost);
        taken.push(place);
    }
    Some((need, cost, taken))
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

/// How needs are rounded: up they are surely enough, down nothing is below what they cost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Round {
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
    /// The states after each item, the last one empty where rounded needs do not fit.
    Layers(Vec<Vec<State>>),
    OverBudget,
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
        Filled::Layers(layers)
    }
}

/// The offers on the way to a state of the last layer.
fn traced(layers: &[Vec<State>], end: usize) -> Vec<usize> {
    let mut taken = Vec::with_capacity(layers.len());
    let mut place = end;
    for layer in layers.iter().skip(1).rev() {
        let Some(state) = layer.get(place) else { break };
        taken.push(state.offer as usize);
        place = state.from as usize;
    }
    taken.reverse();
    taken
}

pub(super) fn added(one: Cost, other: Cost) -> Cost {
    (one.0.saturating_add(other.0), one.1.saturating_add(other.1))
}

fn number(place: usize) -> u32 {
    u32::try_from(place).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::half_way::dice::Dice;

    fn items(dice: &mut Dice, count: u64) -> Vec<Vec<Offer>> {
        let offer =
            |dice: &mut Dice| Offer { need: dice.below(9), cost: (dice.below(4), dice.below(20)) };
        (0..count).map(|_| (0..=dice.below(3)).map(|_| offer(dice)).collect()).collect()
    }

    fn best(items: &[Vec<Offer>], room: u64) -> Option<Cost> {
        let Some((first, rest)) = items.split_first() else { return Some((0, 0)) };
        let each = first.iter().filter(|offer| offer.need <= room);
        each.filter_map(|offer| Some(added(offer.cost, best(rest, room - offer.need)?))).min()
    }

    /// Cost and offers of the best that fits, and whether needs counted to the last unit.
    fn pack(items: &[Vec<Offer>], room: u64, budget: usize) -> Option<(Cost, Vec<usize>, bool)> {
        let front = Front::of(items, room, Round::Up, budget)?;
        let (cost, way) = front.best(room)?;
        Some((cost, front.taken(way), front.table.grain == 1))
    }

    fn fits(items: &[Vec<Offer>], (cost, taken, _): &(Cost, Vec<usize>, bool), room: u64) {
        let offers: Vec<&Offer> =
            items.iter().zip(taken).map(|(offers, place)| &offers[*place]).collect();
        assert_eq!(offers.len(), items.len());
        assert!(offers.iter().map(|offer| offer.need).sum::<u64>() <= room);
        assert_eq!(offers.iter().fold((0, 0), |sum, offer| added(sum, offer.cost)), *cost);
    }

    #[test]
    fn equals_the_best_of_all_choices() {
        let mut dice = Dice(1);
        let (mut possible, mut not) = (0, 0);
        for _ in 0..400 {
            let count = dice.below(6) + 1;
            let items = items(&mut dice, count);
            let room = dice.below(30);
            let found = pack(&items, room, BUDGET);
            let expected = best(&items, room);
            assert_eq!(found.as_ref().map(|found| found.0), expected);
            let floor = Front::of(&items, room, Round::Down, BUDGET);
            assert_eq!(floor.and_then(|front| front.best(room)).map(|best| best.0), expected);
            if let Some(found) = found {
                assert!(found.2);
                fits(&items, &found, room);
                possible += 1;
            } else {
                not += 1;
            }
        }
        assert!(possible > 200 && not > 20, "{possible} possible, {not} not");
    }

    #[test]
    fn one_front_is_best_in_every_smaller_room() {
        let mut dice = Dice(3);
        for _ in 0..100 {
            let items = items(&mut dice, 5);
            let Some(front) = Front::of(&items, 40, Round::Up, BUDGET) else { continue };
            for room in 0..40 {
                assert_eq!(front.best(room).map(|found| found.0), best(&items, room));
            }
        }
    }

    #[test]
    fn a_coarse_answer_fits_and_is_between_the_floor_and_the_leanest() {
        let mut dice = Dice(2);
        let mut coarse = 0;
        for _ in 0..200 {
            let items = items(&mut dice, 8);
            let room = 20 + dice.below(40);
            let Some(expected) = best(&items, room) else { continue };
            let found = pack(&items, room, 40).unwrap();
            fits(&items, &found, room);
            assert!(found.0 >= expected);
            let floor = Front::of(&items, room, Round::Down, 40).unwrap();
            assert!(floor.best(room).unwrap().0 <= expected);
            coarse += usize::from(!found.2);
        }
        assert!(coarse > 50, "{coarse}");
    }

    #[test]
    fn many_items_of_one_kind_are_packed_exactly() {
        let one = vec![Offer { need: 0, cost: (0, 4) }, Offer { need: 21_605, cost: (0, 0) }];
        let items = vec![one; 100_000];
        let found = pack(&items, 4_000_000, BUDGET).unwrap();
        assert!(found.2);
        assert_eq!(found.0, (0, 4 * (100_000 - 4_000_000 / 21_605)));
    }
}
