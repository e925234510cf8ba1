//! What several threads share: needles with two of them take of both. One offer of each item is
//! taken, so that every thread's needs fit into its room and the cost is least.
//! It does not know what is offered.

use super::pack::{BUDGET, Cost, Front, Offer, Round, Way, added};

/// Comparisons of shared ways before needs are rounded to a coarser grain. House choice.
const COMPARED: usize = 20_000_000;

/// How much coarser each further attempt is.
const COARSER: u64 = 4;

/// One way to do an item that takes of two threads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct SharedOffer {
    /// What it takes of the first and of the second thread.
    pub(super) needs: [u64; 2],
    pub(super) cost: Cost,
}

/// An item of two threads, told by their places.
#[derive(Clone, Debug)]
pub(super) struct Shared {
    pub(super) threads: [usize; 2],
    pub(super) offers: Vec<SharedOffer>,
}

/// Items of each thread alone and of two together, and the room of each thread.
#[derive(Clone, Debug)]
pub(super) struct Items {
    pub(super) own: Vec<Vec<Vec<Offer>>>,
    pub(super) shared: Vec<Shared>,
    pub(super) rooms: Vec<u64>,
}

/// One offer of each item, by its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Taken {
    pub(super) own: Vec<Vec<usize>>,
    pub(super) shared: Vec<usize>,
    pub(super) cost: Cost,
}

/// A way to take the first shared items.
#[derive(Clone, Debug)]
struct State {
    needs: Vec<u64>,
    cost: Cost,
    offer: usize,
    from: usize,
}

impl Items {
    /// The cheapest offers that fit; `None` when none do.
    pub(super) fn pack(&self) -> Option<Taken> {
        // Rounding up may leave nothing that fits: the leanest offers are the last resort.
        self.packed().or_else(|| self.leanest())
    }

    fn packed(&self) -> Option<Taken> {
        let (fronts, layers, end) = self.solved(Round::Up)?;
        let state = layers.last()?.get(end)?;
        let own = fronts.iter().zip(self.rests(state));
        let ways: Option<Vec<(Cost, Way)>> = own.map(|(front, rest)| front.best(rest)).collect();
        let own: Vec<Vec<usize>> =
            fronts.iter().zip(ways?).map(|(front, (_, way))| front.taken(way)).collect();
        let mut shared = Vec::with_capacity(self.shared.len());
        let mut place = end;
        for layer in layers.iter().skip(1).rev() {
            let state = layer.get(place)?;
            shared.push(state.offer);
            place = state.from;
        }
        shared.reverse();
        Some(Taken { cost: self.total(&own, &shared), own, shared })
    }

    /// Of each item the offer that needs least, if these fit.
    fn leanest(&self) -> Option<Taken> {
        let mut rooms = self.rooms.clone();
        let mut shared = Vec::with_capacity(self.shared.len());
        for item in &self.shared {
            let offers = item.offers.iter().enumerate();
            let (place, offer) = offers.min_by_key(|(_, offer)| (offer.needs, offer.cost))?;
            for (thread, need) in item.threads.iter().zip(offer.needs) {
                let room = rooms.get_mut(*thread)?;
                *room = room.checked_sub(need)?;
            }
            shared.push(place);
        }
        let mut own = Vec::with_capacity(self.own.len());
        for (items, room) in self.own.iter().zip(rooms) {
            let front = Front::of(items, room, Round::Up, BUDGET)?;
            own.push(front.taken(front.best(room)?.1));
        }
        Some(Taken { cost: self.total(&own, &shared), own, shared })
    }

    /// A cost that no choice that fits is below; `None` when none fits.
    pub(super) fn floor(&self) -> Option<Cost> {
        let (fronts, layers, end) = self.solved(Round::Down)?;
        self.whole(&fronts, layers.last()?.get(end)?)
    }

    fn solved(&self, round: Round) -> Option<(Vec<Front>, Vec<Vec<State>>, usize)> {
        let fronts = self.own.iter().zip(&self.rooms);
        let fronts: Option<Vec<Front>> =
            fronts.map(|(items, room)| Front::of(items, *room, round, BUDGET)).collect();
        let fronts = fronts?;
        let mut grain = 1;
        let layers = loop {
            match self.layers(&fronts, (grain, round)) {
                Some(layers) => break layers,
                None => grain *= COARSER,
            }
        };
        let costs = layers.last()?.iter().enumerate();
        let costs = costs.filter_map(|(place, state)| Some((self.whole(&fronts, state)?, place)));
        let (_, end) = costs.min()?;
        Some((fronts, layers, end))
    }

    /// What is left of each thread behind shared items.
    fn rests<'s>(&'s self, state: &'s State) -> impl Iterator<Item = u64> + 's {
        self.rooms.iter().zip(&state.needs).map(|(room, need)| room.saturating_sub(*need))
    }

    fn whole(&self, fronts: &[Front], state: &State) -> Option<Cost> {
        let mut cost = state.cost;
        for (front, rest) in fronts.iter().zip(self.rests(state)) {
            cost = added(cost, front.best(rest)?.0);
        }
        Some(cost)
    }

    /// All ways to take shared items that no other way beats in every need and in cost, item by
    /// item; `None` when they are too many.
    fn layers(&self, fronts: &[Front], (grain, round): (u64, Round)) -> Option<Vec<Vec<State>>> {
        let needs = vec![0; self.rooms.len()];
        let mut layers = vec![vec![State { needs, cost: (0, 0), offer: 0, from: 0 }]];
        let mut compared = 0;
        let is_last = self.rooms.iter().all(|room| grain > *room);
        for item in &self.shared {
            let mut next = Vec::new();
            for (from, state) in layers.last()?.iter().enumerate() {
                for (offer, held) in item.offers.iter().enumerate() {
                    let mut needs = state.needs.clone();
                    for (thread, need) in item.threads.iter().zip(held.needs) {
                        let need = rounded(need, (grain, round));
                        let sum = needs.get_mut(*thread)?;
                        *sum = sum.saturating_add(need);
                    }
                    let rests = self.rooms.iter().zip(&needs).zip(fronts);
                    let fits = rests.into_iter().all(|((room, need), front)| {
                        need.checked_add(front.least_need()).is_some_and(|sum| sum <= *room)
                    });
                    if fits {
                        next.push(State { needs, cost: added(state.cost, held.cost), offer, from });
                    }
                }
            }
            let kept = unbeaten(next, &mut compared, if is_last { usize::MAX } else { COMPARED })?;
            layers.push(kept);
        }
        Some(layers)
    }

    fn total(&self, own: &[Vec<usize>], shared: &[usize]) -> Cost {
        let each = self.own.iter().zip(own).flat_map(|(items, taken)| items.iter().zip(taken));
        let own = each.filter_map(|(offers, place)| offers.get(*place)).map(|offer| offer.cost);
        let each = self.shared.iter().zip(shared);
        let shared = each.filter_map(|(item, place)| item.offers.get(*place));
        own.chain(shared.map(|offer| offer.cost)).fold((0, 0), added)
    }
}

fn rounded(need: u64, (grain, round): (u64, Round)) -> u64 {
    match round {
        Round::Down => need / grain * grain,
        Round::Up => need.div_ceil(grain).saturating_mul(grain),
    }
}

/// The states that no other one beats; `None` beyond a number of comparisons.
fn unbeaten(mut states: Vec<State>, compared: &mut usize, most: usize) -> Option<Vec<State>> {
    states.sort_by(|one, other| (one.cost, &one.needs).cmp(&(other.cost, &other.needs)));
    let mut kept: Vec<State> = Vec::new();
    for state in states {
        *compared += kept.len();
        if *compared > most {
            return None;
        }
        let beats = |held: &State| held.needs.iter().zip(&state.needs).all(|(one, two)| one <= two);
        if !kept.iter().any(beats) {
            kept.push(state);
        }
    }
    Some(kept)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::half_way::dice::Dice;

    fn cost(dice: &mut Dice) -> Cost {
        (dice.below(4), dice.below(20))
    }

    fn items(dice: &mut Dice, largest: u64) -> Items {
        let mut own = Vec::new();
        for _ in 0..3 {
            let items = 0..dice.below(3);
            own.push(
                items
                    .map(|_| {
                        (0..=dice.below(2))
                            .map(|_| Offer { need: dice.below(largest), cost: cost(dice) })
                            .collect()
                    })
                    .collect(),
            );
        }
        let mut shared = Vec::new();
        for threads in [[0, 1], [0, 1], [1, 2], [2, 0]] {
            let offers = (0..=dice.below(3)).map(|_| SharedOffer {
                needs: [dice.below(largest), dice.below(largest)],
                cost: cost(dice),
            });
            shared.push(Shared { threads, offers: offers.collect() });
        }
        let rooms = (0..3).map(|_| dice.below(12 * largest)).collect();
        Items { own, shared, rooms }
    }

    /// The least cost of all choices, one item after the other.
    fn best(items: &Items) -> Option<Cost> {
        if let Some((first, rest)) = items.shared.split_first() {
            let each = first.offers.iter().filter_map(|offer| {
                let mut left = Items { shared: rest.to_vec(), ..items.clone() };
                for (thread, need) in first.threads.iter().zip(offer.needs) {
                    left.rooms[*thread] = left.rooms[*thread].checked_sub(need)?;
                }
                Some(added(offer.cost, best(&left)?))
            });
            return each.min();
        }
        for (thread, held) in items.own.iter().enumerate() {
            if let Some((first, rest)) = held.split_first() {
                let each = first.iter().filter_map(|offer| {
                    let mut left = items.clone();
                    left.own[thread] = rest.to_vec();
                    left.rooms[thread] = left.rooms[thread].checked_sub(offer.need)?;
                    Some(added(offer.cost, best(&left)?))
                });
                return each.min();
            }
        }
        Some((0, 0))
    }

    #[test]
    fn equals_the_best_of_all_choices() {
        let mut dice = Dice(7);
        let (mut possible, mut not) = (0, 0);
        for _ in 0..300 {
            let items = items(&mut dice, 9);
            let expected = best(&items);
            let found = items.pack();
            assert_eq!(found.as_ref().map(|found| found.cost), expected);
            assert_eq!(items.floor(), expected);
            let Some(found) = found else {
                not += 1;
                continue;
            };
            possible += 1;
            let mut rooms = items.rooms.clone();
            for (thread, (held, taken)) in items.own.iter().zip(&found.own).enumerate() {
                for (offers, place) in held.iter().zip(taken) {
                    rooms[thread] -= offers[*place].need;
                }
            }
            for (item, place) in items.shared.iter().zip(&found.shared) {
                for (thread, need) in item.threads.iter().zip(item.offers[*place].needs) {
                    rooms[*thread] = rooms[*thread].checked_sub(need).unwrap();
                }
            }
        }
        assert!(possible > 150 && not > 20, "{possible} possible, {not} not");
    }

    #[test]
    fn a_coarser_grain_fits_and_its_floor_is_below() {
        let mut dice = Dice(8);
        for _ in 0..100 {
            let items = items(&mut dice, 900);
            let Some(expected) = best(&items) else { continue };
            let fronts: Vec<Front> = items
                .own
                .iter()
                .zip(&items.rooms)
                .map(|(own, room)| Front::of(own, *room, Round::Down, BUDGET).unwrap())
                .collect();
            let layers = items.layers(&fronts, (64, Round::Down)).unwrap();
            let floor = layers.last().unwrap().iter();
            let floor = floor.filter_map(|state| items.whole(&fronts, state)).min().unwrap();
            assert!(floor <= expected);
            let layers = items.layers(&fronts, (64, Round::Up)).unwrap();
            let above = layers.last().unwrap().iter();
            let above = above.filter_map(|state| items.whole(&fronts, state)).min();
            assert!(above.is_none_or(|above| above >= expected));
        }
    }
}
