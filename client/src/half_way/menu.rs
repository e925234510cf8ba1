//! What can be done with each area: finish it, give it away, or join old and new somewhere in it.
//! It does not know the other areas.

use std::collections::HashSet;

use super::cuts::{Cuts, Found};
use super::enclose::{Aim, Enclosed};
use super::join::Join;
use super::joint::SharedOffer;
use super::lattice::{Lattice, Set};
use super::need::Need;
use super::pack::Cost;
use super::plane::Plane;
use super::profile;
use super::region::{Board, Region};

/// Cells of an area of which every set is looked at.
const EVERY_SET: usize = 10;

/// Amounts for which the floor of an area is told one by one, before several are told as one.
/// House choice.
const FLOORS: u64 = 256;

/// Steps of work for all areas of a thread together. House choice.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Effort {
    /// Of exact search in narrow areas.
    pub(super) narrow: u64,
    /// Of ways through wide areas.
    pub(super) ways: u64,
    /// Of least cuts.
    pub(super) cuts: u64,
}

impl Effort {
    pub(crate) const USUAL: Self =
        Self { narrow: 60_000_000, ways: 200_000_000, cuts: 240_000_000 };

    /// A part of what is left of one kind of work, to be taken off it.
    fn share(left: u64) -> u64 {
        left / 4
    }
}

/// Lengths of the one or two missing threads of a needle; 0 for a second one that it does not have.
pub(crate) type Needs = [u64; 2];

/// One thing to do with an area.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Choice {
    /// Cells that are not stitched and stay in the old thread.
    pub(crate) kept: Vec<usize>,
    /// The most that they take of each missing thread of the needle, in micrometres.
    pub(crate) needs: Needs,
    /// The join, weighed, and then quarters given away, weighed.
    pub(crate) cost: Cost,
}

/// All that is considered for an area.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Menu {
    pub(crate) choices: Vec<Choice>,
    /// Offers that no choice of any kind is below.
    pub(crate) floor: Vec<SharedOffer>,
}

/// An area with what its stitches take.
#[derive(Clone, Copy)]
pub(crate) struct Dish<'a> {
    pub(crate) region: &'a Region,
    pub(crate) board: &'a Board,
    /// Thread use and room of each missing thread of the needle.
    pub(crate) threads: &'a [(Need, u64)],
}

impl Menu {
    /// What can be done with an area.
    pub(crate) fn of(dish: Dish<'_>, effort: &mut Effort) -> Self {
        let none = dish.choice(dish.held());
        let whole = dish.choice(dish.region.cells.clone());
        let whole = dish.has_room(&whole).then_some(whole);
        if !is_begun(dish.board, dish.region) {
            return Self::exact([Some(none), whole].into_iter().flatten().collect());
        }
        let mut menu = Self::begun(dish, effort);
        for choice in [Some(none), whole].into_iter().flatten() {
            if !menu.choices.iter().any(|held| held.kept == choice.kept) {
                menu.choices.push(choice);
            }
        }
        menu.choices.retain(|choice| dish.has_room(choice) || choice.kept == dish.held());
        menu
    }

    /// Joins inside an area that is begun: every set of its cells, or the shortest joins for every
    /// amount, or what least cuts find.
    fn begun(dish: Dish<'_>, effort: &mut Effort) -> Self {
        let places = dish.lengthwise();
        let lattice = Lattice::of(dish.board, &places);
        let open = dish.open();
        let choice = |found: &Found| dish.found(open, chosen(&places, &found.set), found);
        if places.len() <= EVERY_SET {
            let sets = every_set(&lattice);
            return Self::exact(sets.iter().map(choice).collect());
        }
        let reach = dish.threads.iter().map(|(need, room)| need.reach(*room)).min().unwrap_or(0);
        let share = Effort::share(effort.narrow);
        let mut left = share;
        let exact = profile::shortest(&lattice, reach, &mut left);
        effort.narrow -= share - left;
        if let Some(found) = exact {
            let floor =
                found.iter().map(|found| dish.floor(found.quarters, found.quarters, found.join));
            let floor = floor.collect();
            return Self { choices: found.iter().map(choice).collect(), floor };
        }
        let share = Effort::share(effort.ways);
        let mut left = share;
        let quarters = open.saturating_sub(reach);
        let aim = Aim { quarters, whole: lattice.join(&lattice.least()) };
        let plane = Plane::of(dish.board, dish.region);
        let enclosed = plane
            .map_or_else(Enclosed::default, |mut plane| Enclosed::of(&mut plane, aim, &mut left));
        effort.ways -= share - left;
        let share = Effort::share(effort.cuts);
        let mut left = share;
        let sets = enclosed.found.iter().map(|cells| without(&places, cells)).collect();
        let cuts = Cuts::of(&lattice, (reach, sets), &mut left);
        effort.cuts -= share - left;
        let floor = dish.floors((&lattice, reach), (&cuts, &enclosed));
        Self { choices: cuts.found.iter().map(choice).collect(), floor }
    }

    /// Lines or knots: given away, or finished.
    pub(crate) fn of_marks(cost: Cost, needs: Needs) -> Self {
        let given = Choice { kept: Vec::new(), needs: [0, 0], cost };
        let finished = Choice { kept: Vec::new(), needs, cost: (0, 0) };
        Self::exact(vec![given, finished])
    }

    /// Choices beside which there are no others.
    fn exact(choices: Vec<Choice>) -> Self {
        let floor = choices.iter().map(Choice::offer).collect();
        Self { choices, floor }
    }

    pub(crate) fn offers(&self) -> Vec<SharedOffer> {
        self.choices.iter().map(Choice::offer).collect()
    }
}

impl Dish<'_> {
    /// The choice of what stays in the old thread, with what it takes and costs.
    fn choice(&self, kept: Vec<usize>) -> Choice {
        let pieces = self.board.pieces(&kept);
        let stays: u64 = pieces.iter().sum();
        let join = Join::between(self.board, self.region, &kept).map_or(0, |join| join.length());
        Choice {
            needs: self.needs(&pieces),
            cost: (join * self.region.weight, (self.open() - stays) * self.region.weight),
            kept,
        }
    }

    /// The same for a set of cells whose join and quarters are known.
    fn found(&self, open: u64, kept: Vec<usize>, found: &Found) -> Choice {
        let pieces = self.board.pieces(&kept);
        Choice {
            needs: self.needs(&pieces),
            cost: (
                found.join * self.region.weight,
                open.saturating_sub(found.quarters) * self.region.weight,
            ),
            kept,
        }
    }

    /// The most that pieces take of each thread.
    fn needs(&self, pieces: &[u64]) -> Needs {
        let of = |thread: usize| {
            let need = self.threads.get(thread);
            need.map_or(0, |(need, _)| pieces.iter().map(|piece| need.most(*piece)).sum())
        };
        [of(0), of(1)]
    }

    fn has_room(&self, choice: &Choice) -> bool {
        choice.needs.iter().zip(self.threads).all(|(need, (_, room))| need <= room)
    }

    /// Quarters that are not stitched.
    fn open(&self) -> u64 {
        self.region.cells.iter().map(|place| self.board.quarters_at(*place)).sum()
    }

    fn held(&self) -> Vec<usize> {
        let cells = self.region.cells.iter().copied();
        cells.filter(|place| self.board.is_held(*place)).collect()
    }

    /// Its cells along its longer side, so that few of them matter at once.
    fn lengthwise(&self) -> Vec<usize> {
        let mut places = self.region.cells.clone();
        let (rows, columns) = self.board.bounds(&places);
        if columns.1 - columns.0 > rows.1 - rows.0 {
            places.sort_by_key(|place| (self.board.column(*place), *place));
        }
        places
    }

    /// An offer that no set of `from` to `to` quarters is below, if none has a shorter join.
    fn floor(&self, from: u64, to: u64, join: u64) -> SharedOffer {
        let weight = self.region.weight;
        let lost = self.open().saturating_sub(to);
        SharedOffer { needs: self.needs(&[from]), cost: (join * weight, lost * weight) }
    }

    fn floors(
        &self,
        (lattice, reach): (&Lattice, u64),
        (cuts, enclosed): (&Cuts, &Enclosed),
    ) -> Vec<SharedOffer> {
        let unit = lattice.unit();
        let mut floors = Vec::new();
        let top = reach.min(self.open()) / unit;
        let mut to = top;
        loop {
            // Fine where most is kept, and coarser the less it is.
            let from = to.saturating_sub((top - to) / FLOORS);
            let given = enclosed.floor(self.open().saturating_sub(to * unit));
            floors.push(self.floor(from * unit, to * unit, cuts.floor(to * unit).max(given)));
            match from.checked_sub(1) {
                Some(next) => to = next,
                None => return floors,
            }
        }
    }
}

impl Choice {
    fn offer(&self) -> SharedOffer {
        SharedOffer { needs: self.needs, cost: self.cost }
    }
}

fn chosen(places: &[usize], set: &[bool]) -> Vec<usize> {
    let kept = places.iter().zip(set).filter(|(_, kept)| **kept);
    kept.map(|(place, _)| *place).collect()
}

/// The set of all cells but some.
fn without(places: &[usize], given: &[usize]) -> Set {
    let given: HashSet<&usize> = given.iter().collect();
    places.iter().map(|place| !given.contains(place)).collect()
}

/// Every set of cells with those that must stay.
fn every_set(lattice: &Lattice) -> Vec<Found> {
    let held = lattice.least();
    let of_bits =
        |bits: u32| -> Set { (0..held.len()).map(|cell| bits >> cell & 1 == 1).collect() };
    let keeps = |set: &Set| set.iter().zip(&held).all(|(kept, held)| *kept || !*held);
    let found =
        |set: Set| Found { quarters: lattice.quarters(&set), join: lattice.join(&set), set };
    (0..1_u32 << held.len().min(EVERY_SET)).map(of_bits).filter(keeps).map(found).collect()
}

/// True for a region that touches what is stitched, or of which some must stay.
pub(crate) fn is_begun(board: &Board, region: &Region) -> bool {
    region.cells.iter().any(|place| {
        board.is_held(*place) || board.contacts(*place).any(|contact| board.is_done(contact.other))
    })
}
