//! Each open cell to the settled color that covers most of it.
//! It does not know which colors are settled, nor whether the chart is blended.

use super::choose::{Choice, FAR, Side, choose};
use super::mixer::Mixer;
use super::raster::Raster;
use super::regions::Regions;
use super::settled::{Settled, color_at};
use super::{Cells, Stray};

/// Most passes over the chart; later ones know more neighbors, and lines grow by two cells in each.
const PASSES: usize = 24;

/// Cost above which a cell keeps its color.
const KEEP: f64 = 16.0;

/// Cost up to which a cell that nothing explains well joins what explains it best: 15 units off.
/// House choice; a highlight is farther from everything around it.
const FILL: f64 = 225.0;

/// Rounds of that: a cell may have no neighbor with a color before.
const FILLS: usize = 2;

/// What is asked once for a cell and kept: one answer for each pass, one for all passes together,
/// and one without the cell's own color.
const KINDS: usize = PASSES + 2;

/// An answer and what it was the answer to.
#[derive(Debug)]
struct Held {
    sides: Vec<Side>,
    without: Option<u16>,
    choice: Option<Choice>,
}

/// Answers of earlier rounds, which hold as long as nothing near the cell has changed.
#[derive(Debug)]
pub(super) struct Memory {
    held: Vec<Option<Box<Held>>>,
    cells: usize,
}

impl Memory {
    pub(super) fn new(cells: &Cells) -> Self {
        let count = cells.cells.len();
        let mut held = Vec::new();
        held.resize_with(KINDS * count, || None);
        Self { held, cells: count }
    }

    fn slot(&mut self, kind: usize, place: usize) -> Option<&mut Option<Box<Held>>> {
        self.held.get_mut(kind * self.cells + place)
    }
}

/// A chart with its settled colors, to be explained.
#[derive(Debug)]
pub(super) struct Explain<'c> {
    cells: &'c Cells,
    raster: Raster,
    mixer: &'c Mixer,
    settled: &'c Settled,
    regions: Regions,
}

/// The color of each cell, and by what it was explained.
#[derive(Debug)]
pub(super) struct Labels {
    /// `None` where nothing explains the cell.
    pub(super) colors: Vec<Option<u16>>,
    /// Of open cells.
    pub(super) choices: Vec<Option<Choice>>,
}

/// What the chart would lose without a settled color.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Loss {
    /// Cells that belong to it.
    pub(super) cells: f64,
    /// How much worse they are explained without it.
    pub(super) total: f64,
}

/// Cost of a cell above which it makes no difference how badly it is explained.
const CAP: f64 = 16.0;

/// Share of a color that makes it most of a cell. House choice.
const MOSTLY: f64 = 0.75;

/// Rounds in which cells find other colors without theirs.
const TRIALS: usize = 24;

impl<'c> Explain<'c> {
    pub(super) fn new(
        cells: &'c Cells,
        raster: Raster,
        mixer: &'c Mixer,
        settled: &'c Settled,
    ) -> Self {
        let regions = Regions::new(cells, raster, settled);
        Self { cells, raster, mixer, settled, regions }
    }

    pub(super) fn strays(&self) -> Vec<Stray> {
        let mut labels = self.labels(&mut Memory::new(self.cells)).colors;
        self.fill(&mut labels);
        let moved = |place: usize| {
            let from = color_at(self.cells, place)?;
            let to = labels.get(place).copied().flatten()?;
            (from != to).then_some(Stray { place, from, to })
        };
        (0..self.cells.cells.len()).filter_map(moved).collect()
    }

    /// The settled color that each cell belongs to.
    pub(super) fn labels(&self, memory: &mut Memory) -> Labels {
        self.spread(PASSES, memory)
    }

    /// Gives what nothing explains well to what explains it best.
    fn fill(&self, labels: &mut [Option<u16>]) {
        for _ in 0..FILLS {
            let chosen: Vec<(usize, u16)> = (0..labels.len())
                .filter(|place| labels.get(*place) == Some(&None))
                .filter_map(|place| {
                    let color = color_at(self.cells, place)?;
                    let near = sides(self.raster, labels, place);
                    // Inside an area it is no blend, but what a hand has set.
                    if near.iter().filter(|side| side.cost < BESIDE).count() < 2 {
                        return None;
                    }
                    let choice = choose(self.mixer, color, &near, &[], None)?;
                    (choice.cost <= FILL).then_some((place, choice.color))
                })
                .collect();
            for (place, color) in chosen {
                if let Some(label) = labels.get_mut(place) {
                    *label = Some(color);
                }
            }
        }
    }

    /// The same after so many passes: the first one knows only the neighbors that are settled.
    pub(super) fn spread(&self, passes: usize, memory: &mut Memory) -> Labels {
        let count = self.cells.cells.len();
        let mut stale: Vec<usize> =
            (0..count).filter(|place| self.settled.is_open(self.cells, *place)).collect();
        let colors = (0..count).map(|place| self.settled.of_cell(self.cells, place)).collect();
        let mut labels = Labels { colors, choices: vec![None; count] };
        for pass in 0..passes {
            let chosen: Vec<Option<Choice>> = stale
                .iter()
                .map(|place| {
                    let sides = sides(self.raster, &labels.colors, *place);
                    self.ask(pass, *place, sides, None, memory)
                })
                .collect();
            stale = self.take(&mut labels, &stale, chosen);
            if stale.is_empty() {
                break;
            }
        }
        labels
    }

    /// Takes what was chosen and gives the open cells near what that changed.
    fn take(
        &self,
        labels: &mut Labels,
        places: &[usize],
        chosen: Vec<Option<Choice>>,
    ) -> Vec<usize> {
        let mut touched = vec![false; self.cells.cells.len()];
        for (place, choice) in places.iter().zip(chosen) {
            if let Some(held) = labels.choices.get_mut(*place) {
                *held = choice;
            }
            let new = choice.filter(|choice| choice.cost <= KEEP).map(|choice| choice.color);
            let Some(label) = labels.colors.get_mut(*place) else { continue };
            if *label == new {
                continue;
            }
            *label = new;
            for near in self.raster.around(*place, 2) {
                if let Some(touched) = touched.get_mut(near) {
                    *touched = true;
                }
            }
        }
        let touched = touched.into_iter().enumerate().filter(|(_, touched)| *touched);
        touched
            .map(|(place, _)| place)
            .filter(|place| self.settled.is_open(self.cells, *place))
            .collect()
    }

    /// The loss of each settled color, in their order; none for those that stay whatever it is.
    pub(super) fn losses(&self, stays: &dyn Fn(u16) -> bool, memory: &mut Memory) -> Vec<Loss> {
        let mut labels = self.labels(memory).colors;
        let mut losses = vec![Loss::default(); self.settled.colors.len()];
        let mut edges: Vec<Vec<usize>> = vec![Vec::new(); losses.len()];
        for (place, label) in labels.iter().enumerate() {
            let Some(label) = label else { continue };
            let number = self.settled.colors.iter().position(|held| held == label);
            let held = number.and_then(|number| Some((number, losses.get_mut(number)?)));
            let Some((number, loss)) = held else { continue };
            loss.cells += 1.0;
            // A cell inside an area says nothing that its neighbors do not say.
            let is_own = |near: usize| labels.get(near).copied().flatten() == Some(*label);
            if self.raster.around(place, 1).all(is_own) {
                loss.total += CAP;
            } else if let Some(held) = edges.get_mut(number) {
                held.push(place);
            }
        }
        for ((loss, places), color) in losses.iter_mut().zip(&edges).zip(&self.settled.colors) {
            if stays(*color) {
                continue;
            }
            let with = self.with(&labels, places, memory);
            let without = self.without(&mut labels, places, *color, memory);
            let lost = without.iter().zip(&with).map(|(without, with)| (without - with).max(0.0));
            loss.total += lost.sum::<f64>();
        }
        losses
    }

    /// How badly cells are explained.
    fn with(&self, labels: &[Option<u16>], places: &[usize], memory: &mut Memory) -> Vec<f64> {
        let explained = |place: &usize| {
            if self.settled.of_cell(self.cells, *place).is_some() {
                return 0.0;
            }
            let sides = sides(self.raster, labels, *place);
            cost(self.ask(PASSES, *place, sides, None, memory))
        };
        places.iter().map(explained).collect()
    }

    /// How badly the cells of a color are explained without it, once they have found others. The labels
    /// are the same afterwards.
    fn without(
        &self,
        labels: &mut [Option<u16>],
        places: &[usize],
        color: u16,
        memory: &mut Memory,
    ) -> Vec<f64> {
        let mut ask = |labels: &[Option<u16>], place: &usize| {
            let sides = sides(self.raster, labels, *place);
            self.ask(PASSES + 1, *place, sides, Some(color), memory)
        };
        if self.mixer.rings() {
            // Ringing disturbs too much for cells to find each other: each asks the neighbors that it has.
            return places.iter().map(|place| cost(ask(labels, place))).collect();
        }
        let mut costs = vec![CAP; places.len()];
        relabel(labels, places, || None);
        for _ in 0..TRIALS {
            let chosen: Vec<Option<Choice>> =
                places.iter().map(|place| ask(labels, place)).collect();
            costs = chosen.iter().map(|choice| cost(*choice)).collect();
            let mut new = chosen.into_iter().map(|choice| choice.filter(seeds));
            if !relabel(labels, places, || new.next().flatten().map(|choice| choice.color)) {
                break;
            }
        }
        relabel(labels, places, || Some(color));
        costs
    }

    /// The best explanation of a cell, from memory when that still holds.
    fn ask(
        &self,
        kind: usize,
        place: usize,
        sides: Vec<Side>,
        without: Option<u16>,
        memory: &mut Memory,
    ) -> Option<Choice> {
        let color = color_at(self.cells, place)?;
        let slot = memory.slot(kind, place)?;
        let far = self.regions.near(place);
        if let Some(held) = slot
            && held.without == without
            && held.sides == sides
            && let Some(choice) = &held.choice
            && choice
                .of
                .iter()
                .all(|of| far.contains(of) || sides.iter().any(|side| side.color == *of))
        {
            return held.choice;
        }
        let choice = choose(self.mixer, color, &sides, far, without);
        *slot = Some(Box::new(Held { sides, without, choice }));
        choice
    }
}

/// The cost of an explanation, as far as it makes a difference.
fn cost(choice: Option<Choice>) -> f64 {
    choice.map_or(CAP, |choice| choice.cost).min(CAP)
}

/// True when a cell that has lost its color counts for its neighbors with the one that it has found:
/// one that stands nowhere near must be most of it.
fn seeds(choice: &Choice) -> bool {
    choice.cost < FAR || (choice.cost <= KEEP && choice.share >= MOSTLY)
}

/// Labels cells anew; true when one has changed.
fn relabel(
    labels: &mut [Option<u16>],
    places: &[usize],
    mut new: impl FnMut() -> Option<u16>,
) -> bool {
    let mut has_moved = false;
    for place in places {
        let new = new();
        if let Some(label) = labels.get_mut(*place) {
            has_moved |= *label != new;
            *label = new;
        }
    }
    has_moved
}

/// What a color costs that stands two cells away and not beside the cell.
const BESIDE: f64 = 1.0;

/// Settled colors near a cell.
fn sides(raster: Raster, labels: &[Option<u16>], place: usize) -> Vec<Side> {
    let mut near: Vec<(u16, usize)> = Vec::new();
    for other in raster.around(place, 2) {
        let Some(color) = labels.get(other).copied().flatten() else { continue };
        let close = usize::from(raster.reach(place, other) == 1);
        match near.iter_mut().find(|held| held.0 == color) {
            Some(held) => held.1 += close,
            None => near.push((color, close)),
        }
    }
    let cost = |close: usize| match close {
        0 => BESIDE,
        1 => 0.3,
        _ => 0.0,
    };
    near.into_iter().map(|(color, close)| Side { color, cost: cost(close) }).collect()
}
