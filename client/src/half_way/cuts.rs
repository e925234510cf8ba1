//! Short joins inside one area that is begun, for every amount of thread: least cuts where thread
//! has a price, least cuts near what is stitched, and what grows from them cell by cell; and a floor
//! that no join is below. It does not know the other areas.

use std::collections::{BTreeMap, BTreeSet};

use super::lattice::{Lattice, Rates, Set, Side};

/// Distances from what is stitched at which a least cut is looked for. House choice.
const RINGS: usize = 48;

/// Sets from which others grow. House choice.
const SEEDS: usize = 64;

/// Sets of one area that are told apart: beyond, only every so manieth of equal joins is kept.
/// House choice.
const MOST_SETS: usize = 400;

/// Fewest sets of one area that are told apart, however many cells it has.
const FEWEST_SETS: usize = 8;

/// Cells of all sets of one area together: a bound on memory.
const MOST_CELLS: usize = 40_000_000;

/// A set with its quarters and the join that it makes, in halves of a cell edge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Found {
    pub(super) quarters: u64,
    pub(super) join: u64,
    pub(super) set: Set,
}

/// Joins that were found, and lines that none is below.
#[derive(Clone, Debug, Default)]
pub(super) struct Cuts {
    pub(super) found: Vec<Found>,
    lines: Vec<Line>,
}

/// For every set: join times scale, and quarters times price, are at least the value together.
#[derive(Clone, Copy, Debug)]
struct Line {
    rates: Rates,
    value: u64,
}

impl Cuts {
    /// Looks for joins with up to so many quarters in the old thread, from sets that are known too.
    pub(super) fn of(lattice: &Lattice, (reach, known): (u64, Vec<Set>), budget: &mut u64) -> Self {
        let mut cuts = Self::default();
        let least = lattice.least();
        let all = vec![true; least.len()];
        let mut seeds = vec![cuts.add(lattice, least.clone()), cuts.add(lattice, all.clone())];
        // What is near is cheap to look at, and is not to go without because the rest is large.
        let mut near = *budget / 2;
        let half = near;
        let mut own: Vec<Found> = known.into_iter().map(|set| cuts.add(lattice, set)).collect();
        cuts.grow_all(lattice, (&mut own, reach), &mut near);
        cuts.rings(lattice, (&mut seeds, reach), &mut near);
        cuts.grow_all(lattice, (&mut seeds, reach), &mut near);
        *budget -= half - near;
        let mut seeds = vec![measured(lattice, least.clone()), measured(lattice, all)];
        cuts.priced(lattice, (&mut seeds, reach), budget);
        cuts.grow_all(lattice, (&mut seeds, reach), budget);
        cuts.found.retain(|found| found.quarters <= reach || found.set == least);
        cuts.thin(lattice);
        cuts
    }

    /// Lets sets grow, and one that takes too much thread shrink.
    fn grow_all(
        &mut self,
        lattice: &Lattice,
        (seeds, reach): (&mut Vec<Found>, u64),
        budget: &mut u64,
    ) {
        seeds.sort_by(|one, other| {
            (one.quarters, one.join, &one.set).cmp(&(other.quarters, other.join, &other.set))
        });
        seeds.dedup();
        for seed in seeds.iter().filter(|seed| seed.quarters <= reach).take(SEEDS) {
            self.grow(lattice, seed, reach, budget);
        }
        if let Some(above) = seeds.iter().find(|seed| seed.quarters > reach) {
            self.shrink(lattice, above, reach, budget);
        }
    }

    fn add(&mut self, lattice: &Lattice, set: Set) -> Found {
        let found = measured(lattice, set);
        self.found.push(found.clone());
        found
    }

    /// Least cuts for every price of thread at which another one is least (they lie inside each
    /// other), down to the first that takes more than the reach.
    fn priced(
        &mut self,
        lattice: &Lattice,
        (seeds, reach): (&mut Vec<Found>, u64),
        budget: &mut u64,
    ) {
        let [few, all] = seeds.as_slice() else { return };
        let mut open = vec![(few.clone(), all.clone())];
        while let Some((small, large)) = open.pop() {
            if small.quarters >= reach || small.join <= large.join {
                continue;
            }
            let rates =
                Rates { scale: large.quarters - small.quarters, price: small.join - large.join };
            let side = |(small, large): (&bool, &bool)| match (small, large) {
                (true, _) => Side::Old,
                (false, true) => Side::Either,
                (false, false) => Side::New,
            };
            let sides: Vec<Side> = small.set.iter().zip(&large.set).map(side).collect();
            let Some(cut) = lattice.cut(&sides, rates, budget) else { return };
            self.lines.push(Line { rates, value: cut.value });
            let chord = small.join * rates.scale + small.quarters * rates.price;
            if cut.value >= chord {
                continue;
            }
            let (inner, outer) = (self.add(lattice, cut.fewest), self.add(lattice, cut.most));
            seeds.extend([inner.clone(), outer.clone()]);
            open.push((small, inner));
            open.push((outer, large));
        }
    }

    /// Least cuts that leave everything beyond so many steps from what is stitched to the new
    /// thread.
    fn rings(
        &mut self,
        lattice: &Lattice,
        (seeds, reach): (&mut Vec<Found>, u64),
        budget: &mut u64,
    ) {
        let steps = lattice.steps();
        let far = steps.iter().copied().filter(|step| *step < usize::MAX).max().unwrap_or(0);
        let stride = far.div_ceil(RINGS).max(1);
        for ring in (0..=far).step_by(stride) {
            let side = |(cell, step): (usize, &usize)| {
                let is_held = lattice.cells.get(cell).is_some_and(|cell| cell.held);
                match (is_held, *step <= ring) {
                    (true, _) => Side::Old,
                    (false, true) => Side::Either,
                    (false, false) => Side::New,
                }
            };
            let sides: Vec<Side> = steps.iter().enumerate().map(side).collect();
            let Some(cut) = lattice.cut(&sides, Rates { scale: 1, price: 0 }, budget) else {
                return;
            };
            let (inner, outer) = (self.add(lattice, cut.fewest), self.add(lattice, cut.most));
            let is_beyond = inner.quarters > reach;
            seeds.extend([inner, outer]);
            if is_beyond {
                return;
            }
        }
    }

    /// Adds cells to a set, each time the one that makes the join shortest, as far as thread
    /// reaches; keeps what is worth it.
    fn grow(&mut self, lattice: &Lattice, seed: &Found, reach: u64, budget: &mut u64) {
        self.walk(lattice, seed, budget, &|next| next.quarters <= reach);
    }

    /// Takes cells out of a set until thread reaches, and on.
    fn shrink(&mut self, lattice: &Lattice, seed: &Found, reach: u64, budget: &mut u64) {
        let mut walk = Walk::new(lattice, seed, false);
        while let Some(next) = walk.step(budget) {
            if next.0 <= reach {
                self.found.push(Found { quarters: next.0, join: next.1, set: walk.set.clone() });
                let seed = Found { quarters: next.0, join: next.1, set: walk.set };
                self.grow(lattice, &seed, reach, budget);
                return;
            }
        }
    }

    fn walk(
        &mut self,
        lattice: &Lattice,
        seed: &Found,
        budget: &mut u64,
        fits: &dyn Fn(&Found) -> bool,
    ) {
        let mut walk = Walk::new(lattice, seed, true);
        let mut last = seed.clone();
        let most = self.room(lattice) as u64;
        let stride = if self.found.len() as u64 > most { seed.quarters / most } else { 0 };
        while let Some((quarters, join)) = walk.step(budget) {
            let next = Found { quarters, join, set: Vec::new() };
            if !fits(&next) {
                break;
            }
            // Worth it where the join is no longer than before; of many such, some are enough.
            let is_shorter = join < last.join;
            if is_shorter || (join == last.join && quarters >= last.quarters + stride) {
                last = Found { set: walk.set.clone(), ..next };
                self.found.push(last.clone());
            }
            if self.found.len() > 2 * self.room(lattice) {
                self.thin(lattice);
            }
        }
        self.thin(lattice);
    }

    /// How many sets are told apart.
    fn room(&self, lattice: &Lattice) -> usize {
        (MOST_CELLS / lattice.cells.len().max(1)).clamp(FEWEST_SETS, MOST_SETS)
    }

    /// Leaves only sets that are worth their thread, and not too many.
    fn thin(&mut self, lattice: &Lattice) {
        let mut best: BTreeMap<u64, Found> = BTreeMap::new();
        for found in self.found.drain(..) {
            match best.get_mut(&found.quarters) {
                Some(held) if (found.join, &found.set) < (held.join, &held.set) => *held = found,
                Some(_) => {}
                None => {
                    best.insert(found.quarters, found);
                }
            }
        }
        let mut sorted: Vec<Found> = best.into_values().collect();
        let mut least = u64::MAX;
        sorted.retain(|found| {
            let worth = found.join <= least;
            least = least.min(found.join);
            worth
        });
        let every = sorted.len().div_ceil(self.room(lattice)).max(1);
        let last = sorted.len().saturating_sub(1);
        let joins: Vec<u64> = sorted.iter().map(|found| found.join).collect();
        let mut place = 0;
        sorted.retain(|_| {
            // The first and the last of equal joins always stay.
            let own = joins.get(place);
            let turns = place == 0
                || place == last
                || joins.get(place - 1) != own
                || joins.get(place + 1) != own;
            let stays = turns || place.is_multiple_of(every);
            place += 1;
            stays
        });
        // Where too many joins differ, too.
        let every = sorted.len().div_ceil(2 * self.room(lattice)).max(1);
        let last = sorted.len().saturating_sub(1);
        let kept = sorted.into_iter().enumerate();
        let kept = kept.filter(|(place, _)| place.is_multiple_of(every) || *place == last);
        self.found = kept.map(|(_, found)| found).collect();
    }

    /// A join that no set of up to so many quarters is below.
    pub(super) fn floor(&self, quarters: u64) -> u64 {
        let at = |line: &Line| {
            let paid = quarters.saturating_mul(line.rates.price);
            line.value.saturating_sub(paid).div_ceil(line.rates.scale.max(1))
        };
        self.lines.iter().map(at).max().unwrap_or(0)
    }
}

fn measured(lattice: &Lattice, set: Set) -> Found {
    Found { quarters: lattice.quarters(&set), join: lattice.join(&set), set }
}

/// A set that gains or loses one cell after the other.
struct Walk<'l> {
    lattice: &'l Lattice,
    set: Set,
    grows: bool,
    quarters: u64,
    join: u64,
    /// Cells that can go next: what they change the join by, when they came up, and which.
    open: BTreeSet<(i64, usize, usize)>,
    keys: Vec<Option<(i64, usize, usize)>>,
    clock: usize,
}

impl<'l> Walk<'l> {
    fn new(lattice: &'l Lattice, seed: &Found, grows: bool) -> Self {
        let mut walk = Self {
            lattice,
            set: seed.set.clone(),
            grows,
            quarters: seed.quarters,
            join: seed.join,
            open: BTreeSet::new(),
            keys: vec![None; seed.set.len()],
            clock: 0,
        };
        (0..seed.set.len()).for_each(|cell| walk.rank(cell));
        walk
    }

    /// Puts a cell where it belongs among those that can go next.
    fn rank(&mut self, cell: usize) {
        let old = self.keys.get_mut(cell).and_then(Option::take);
        if let Some(key) = old {
            self.open.remove(&key);
        }
        let is_kept = self.set.get(cell).copied().unwrap_or(false);
        let Some(held) = self.lattice.cells.get(cell) else { return };
        if is_kept == self.grows || (!self.grows && held.held) {
            return;
        }
        let (mut kept, mut new, mut touches) = (held.done, 0, held.done > 0);
        for (other, length) in self.lattice.beside.get(cell).into_iter().flatten() {
            let is_kept = self.set.get(*other).copied().unwrap_or(false);
            if is_kept {
                kept += length
            } else {
                new += length
            }
            touches |= is_kept == self.grows;
        }
        // What grows goes on where it is; what shrinks may begin anywhere.
        if self.grows && !touches {
            return;
        }
        let (kept, new) = (signed(kept), signed(new));
        let change = if self.grows { new - kept } else { kept - new };
        let came = old.map_or(self.clock, |(_, came, _)| came);
        let key = (change, came, cell);
        self.open.insert(key);
        self.keys.get_mut(cell).into_iter().for_each(|held| *held = Some(key));
    }

    /// The next cell: quarters and join after it.
    fn step(&mut self, budget: &mut u64) -> Option<(u64, u64)> {
        let (change, _, cell) = self.open.pop_first()?;
        self.keys.get_mut(cell).into_iter().for_each(|held| *held = None);
        let around: Vec<usize> = {
            let beside = self.lattice.beside.get(cell).into_iter().flatten();
            beside.map(|(other, _)| *other).collect()
        };
        *budget = budget.checked_sub(around.len() as u64 + 1)?;
        let grows = self.grows;
        self.set.get_mut(cell).into_iter().for_each(|kept| *kept = grows);
        self.clock += 1;
        let quarters = self.lattice.cells.get(cell).map_or(0, |cell| cell.quarters);
        self.quarters = if grows { self.quarters + quarters } else { self.quarters - quarters };
        self.join = self.join.saturating_add_signed(change);
        around.into_iter().for_each(|other| self.rank(other));
        Some((self.quarters, self.join))
    }
}

fn signed(length: u64) -> i64 {
    i64::try_from(length).unwrap_or(i64::MAX)
}
