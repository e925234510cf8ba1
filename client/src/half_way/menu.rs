//! What can be done with each area: finish it, give it away, or join old and new somewhere in it.
//! It does not know the other areas.

use super::cuts::{Cuts, Found};
use super::join::Join;
use super::lattice::{Lattice, Set};
use super::marks::Marks;
use super::need::Need;
use super::pack::{Cost, Offer};
use super::profile;
use super::region::{Board, Region};

/// How much lines and knots weigh when there is not enough for everything: outlines tell.
/// House choice.
const MARKS_WEIGHT: u64 = 2;

/// Cells of an area of which every set is looked at.
const EVERY_SET: usize = 10;

/// Ranges of amounts for which the floor of an area is told. House choice.
const FLOORS: u64 = 256;

/// Steps of work for all areas of a thread together. House choice.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Effort {
    /// Of exact search in narrow areas.
    pub(super) narrow: u64,
    /// Of least cuts.
    pub(super) cuts: u64,
}

impl Effort {
    pub(crate) const USUAL: Self = Self { narrow: 60_000_000, cuts: 240_000_000 };

    /// A part of what is left of one kind of work, to be taken off it.
    fn share(left: u64) -> u64 {
        left / 4
    }
}

/// One thing to do with an area.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Choice {
    /// Cells that are not stitched and stay in the old thread.
    pub(crate) kept: Vec<usize>,
    /// The most thread that they take, in micrometres.
    pub(crate) need: u64,
    /// The join, weighed, and then quarters given away, weighed.
    pub(crate) cost: Cost,
}

/// All that is considered for an area.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Menu {
    pub(crate) choices: Vec<Choice>,
    /// Offers that no choice of any kind is below.
    pub(crate) floor: Vec<Offer>,
}

/// An area with what its stitches take.
#[derive(Clone, Copy)]
pub(crate) struct Dish<'a> {
    pub(crate) region: &'a Region,
    pub(crate) board: &'a Board,
    pub(crate) need: &'a Need,
}

impl Menu {
    /// Everything goes to the new thread, but what must stay.
    pub(crate) fn nothing(dish: Dish<'_>) -> Self {
        Self::exact(vec![dish.choice(dish.held())])
    }

    /// What can be done with an area when so much thread is left.
    pub(crate) fn of(dish: Dish<'_>, room: u64, effort: &mut Effort) -> Self {
        let none = dish.choice(dish.held());
        let whole = dish.choice(dish.region.cells.clone());
        let whole = (whole.need <= room).then_some(whole);
        if !is_begun(dish.board, dish.region) {
            return Self::exact([Some(none), whole].into_iter().flatten().collect());
        }
        let mut menu = Self::begun(dish, room, effort);
        for choice in [Some(none), whole].into_iter().flatten() {
            if !menu.choices.iter().any(|held| held.kept == choice.kept) {
                menu.choices.push(choice);
            }
        }
        menu.choices.retain(|choice| choice.need <= room || choice.kept == dish.held());
        menu
    }

    /// Joins inside an area that is begun: every set of its cells, or the shortest joins for every
    /// amount, or what least cuts find.
    fn begun(dish: Dish<'_>, room: u64, effort: &mut Effort) -> Self {
        let places = dish.lengthwise();
        let lattice = Lattice::of(dish.board, &places);
        let open = dish.open();
        let choice = |found: &Found| dish.found(open, chosen(&places, &found.set), found);
        if places.len() <= EVERY_SET {
            let sets = every_set(&lattice);
            return Self::exact(sets.iter().map(choice).collect());
        }
        let reach = dish.need.reach(room);
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
        let share = Effort::share(effort.cuts);
        let mut left = share;
        let cuts = Cuts::of(&lattice, reach, &mut left);
        effort.cuts -= share - left;
        let floor = dish.floors(&cuts, reach);
        Self { choices: cuts.found.iter().map(choice).collect(), floor }
    }

    /// What can be done with lines and knots; nothing but to give them away where another thread
    /// of their needle is missing too.
    pub(crate) fn of_marks(marks: Marks, need: &Need, other_missing: bool) -> Self {
        let given = Choice { kept: Vec::new(), need: 0, cost: (0, marks.quarters * MARKS_WEIGHT) };
        let most = need.most_in(marks.quarters, marks.pieces);
        let finished = Choice { kept: Vec::new(), need: most, cost: (0, 0) };
        Self::exact(if other_missing { vec![given] } else { vec![given, finished] })
    }

    /// Choices beside which there are no others.
    fn exact(choices: Vec<Choice>) -> Self {
        let floor = choices.iter().map(Choice::offer).collect();
        Self { choices, floor }
    }

    pub(crate) fn offers(&self) -> Vec<Offer> {
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
            need: pieces.iter().map(|piece| self.need.most(*piece)).sum(),
            cost: (join * self.region.weight, (self.open() - stays) * self.region.weight),
            kept,
        }
    }

    /// The same for a set of cells whose join and quarters are known.
    fn found(&self, open: u64, kept: Vec<usize>, found: &Found) -> Choice {
        let pieces = self.board.pieces(&kept);
        Choice {
            need: pieces.iter().map(|piece| self.need.most(*piece)).sum(),
            cost: (
                found.join * self.region.weight,
                open.saturating_sub(found.quarters) * self.region.weight,
            ),
            kept,
        }
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
    fn floor(&self, from: u64, to: u64, join: u64) -> Offer {
        let weight = self.region.weight;
        let lost = self.open().saturating_sub(to);
        Offer { need: self.need.most(from), cost: (join * weight, lost * weight) }
    }

    fn floors(&self, cuts: &Cuts, reach: u64) -> Vec<Offer> {
        let most = reach.min(self.open());
        let stride = (most + 1).div_ceil(FLOORS).max(1);
        let mut floors = Vec::new();
        let mut from = 0;
        while from <= most {
            let to = (from + stride - 1).min(most);
            floors.push(self.floor(from, to, cuts.floor(to)));
            from += stride;
        }
        floors
    }
}

impl Choice {
    fn offer(&self) -> Offer {
        Offer { need: self.need, cost: self.cost }
    }
}

fn chosen(places: &[usize], set: &[bool]) -> Vec<usize> {
    let kept = places.iter().zip(set).filter(|(_, kept)| **kept);
    kept.map(|(place, _)| *place).collect()
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
