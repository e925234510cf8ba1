//! The settled colors of a chart: those that stand for themselves and not for a mix of others.
//! It does not decide where a stray stitch belongs.

use std::collections::{BTreeMap, BTreeSet};

use dyekin_core::math;

use super::decide::{Explain, Loss, Memory};
use super::mixer::Mixer;
use super::model::Model;
use super::raster::Raster;
use super::{Cells, shape, thin};

/// Equal neighbors, of eight, of a cell inside an area.
const INSIDE: usize = 7;

/// Cells inside areas that make a color settled. House choice.
pub(super) const CORES: usize = 3;

/// Cost of a missing color, in all and for each of its cells, below which the chart hardly misses it:
/// in sharpened pictures, evenly mixed ones and charts in threads. House choices, tuned on drawings.
const MISSED: (f64, f64) = (14.0, 1.6);
const MISSED_EXACT: (f64, f64) = (14.0, 3.0);
const MISSED_MAPPED: (f64, f64) = (40.0, 2.5);

/// The same for a color that many cells have that do not follow each other in a row: a line in a middle
/// color looks like a mix.
const MISSED_REPEATED: (f64, f64) = (100.0, 0.5);

/// Such cells that are many.
const REPEATED: usize = 16;

/// Rounds of taking colors back; each takes back a third of those that are hardly missed.
const ROUNDS: usize = 12;

/// How many squared units of the model one more stitch of a color outweighs, on a logarithmic scale.
const FREQUENT: f64 = 1.0;

/// Rounds of joining shades.
const JOINS: usize = 4;

/// Cells inside an area of their very color that make it no shade of another. House choice.
const FLAT: usize = 6;

/// Cells of a color for each of its squares of four cells, at most, that make it stand for itself where
/// mixing was even; or the share of its cells, in percent, that lie at a turn, and at least how many. A
/// blend makes such shapes too, but by accident. House choices, tuned on drawings.
const PER_BLOCK: usize = 5;
const TURNING: usize = 65;
const TURNS: usize = 3;

/// Squares of four cells that make a thread stand for itself. House choice.
const BLOCKS_MAPPED: usize = 16;

/// Colors that stand for themselves.
#[derive(Debug)]
pub(super) struct Settled {
    /// By their numbers.
    pub(super) colors: Vec<u16>,
    /// For each color of the chart the settled color that it is, within rounding.
    pub(super) own: Vec<Option<u16>>,
}

impl Settled {
    pub(super) fn find(cells: &Cells, raster: Raster, mixer: &Mixer) -> Self {
        let mut settled = Self::solid(cells, raster, mixer);
        for color in thin::colors(cells, raster, mixer, &settled) {
            settled.colors.push(color);
        }
        settled.claim(cells, mixer);
        if mixer.rings() {
            settled.refine(cells, raster, mixer);
        }
        settled.prune(cells, raster, mixer);
        if mixer.rings() {
            settled.refine(cells, raster, mixer);
            settled.prune(cells, raster, mixer);
            settled.refine(cells, raster, mixer);
        }
        settled
    }

    /// Takes for each color the one that the chart has and that the model puts it nearest to, and
    /// takes back what is only a shade of another.
    fn refine(&mut self, cells: &Cells, raster: Raster, mixer: &Mixer) {
        let explain = Explain::new(cells, raster, mixer, self);
        let mut labels = explain.labels(&mut Memory::new(cells)).colors;
        let flat = flat(cells, raster, mixer);
        let Some(mut model) = Model::learn(cells, raster, mixer, self, &labels) else { return };
        for _ in 0..JOINS {
            let shades = model.shades(&flat);
            if shades.is_empty() {
                break;
            }
            let into = |color: u16| shades.iter().find(|held| held.0 == color).map(|held| held.1);
            self.colors.retain(|color| into(*color).is_none());
            for label in &mut labels {
                *label = label.map(|label| into(label).unwrap_or(label));
            }
            match Model::learn(cells, raster, mixer, self, &labels) {
                Some(learned) => model = learned,
                None => break,
            }
        }
        if mixer.rings() {
            self.move_to(&model, cells, mixer, &labels);
        }
        self.claim(cells, mixer);
    }

    /// Takes for each color the one of its cells that the model puts it nearest to.
    fn move_to(&mut self, model: &Model, cells: &Cells, mixer: &Mixer, labels: &[Option<u16>]) {
        for held in &mut self.colors {
            let Some(goal) = model.point(*held) else { continue };
            let mut counts: BTreeMap<u16, f64> = BTreeMap::new();
            for (place, label) in labels.iter().enumerate() {
                if *label == Some(*held)
                    && let Some(color) = color_at(cells, place)
                {
                    *counts.entry(color).or_default() += 1.0;
                }
            }
            let off = |color: u16| {
                let point = mixer.point(color);
                point.iter().zip(goal).map(|(one, other)| (one - other).powi(2)).sum::<f64>()
            };
            let score = |color: u16| {
                off(color) - FREQUENT * math::ln(counts.get(&color).copied().unwrap_or(1.0))
            };
            let best = counts.keys().copied().min_by(|a, b| score(*a).total_cmp(&score(*b)));
            if let Some(best) = best {
                *held = best;
            }
        }
        let mut seen = BTreeSet::new();
        self.colors.retain(|color| seen.insert(*color));
    }

    /// Takes back colors that the chart hardly misses.
    fn prune(&mut self, cells: &Cells, raster: Raster, mixer: &Mixer) {
        let mut memory = Memory::new(cells);
        let flat = if mixer.rings() { Vec::new() } else { flat(cells, raster, mixer) };
        let stays = |color: u16| flat.get(usize::from(color)).copied().unwrap_or_default();
        let repeats = if mixer.is_exact() { repeats(cells, raster) } else { Vec::new() };
        for _ in 0..ROUNDS {
            let losses = Explain::new(cells, raster, mixer, self).losses(&stays, &mut memory);
            let is_poor = |color: u16, loss: &Loss| {
                let repeats = repeats.get(usize::from(color)).copied().unwrap_or_default();
                !stays(color) && !is_missed(mixer, loss, repeats)
            };
            let all = self.colors.iter().zip(&losses);
            let mut poor: Vec<(f64, u16)> = all
                .filter(|(color, loss)| is_poor(**color, loss))
                .map(|(color, loss)| (loss.total, *color))
                .collect();
            poor.sort_by(|one, other| one.0.total_cmp(&other.0));
            if poor.is_empty() {
                break;
            }
            let some = poor.len().div_ceil(3);
            for (_, color) in poor.into_iter().take(some) {
                self.colors.retain(|held| *held != color);
            }
            self.claim(cells, mixer);
        }
    }

    /// The settled color of a cell that has one.
    pub(super) fn of_cell(&self, cells: &Cells, place: usize) -> Option<u16> {
        let color = color_at(cells, place)?;
        self.own.get(usize::from(color)).copied().flatten()
    }

    /// True for a cell whose color is not settled.
    pub(super) fn is_open(&self, cells: &Cells, place: usize) -> bool {
        color_at(cells, place).is_some() && self.of_cell(cells, place).is_none()
    }

    /// The colors that have areas, those with the largest first.
    pub(super) fn solid(cells: &Cells, raster: Raster, mixer: &Mixer) -> Self {
        let mut counts = vec![Cores::default(); cells.colors.len()];
        for place in 0..cells.cells.len() {
            if let Some(color) = color_at(cells, place)
                && let Some(held) = counts.get_mut(usize::from(color))
            {
                held.look(cells, raster, mixer, place);
            }
        }
        let is_solid = |held: &Cores| held.near >= CORES || (mixer.is_exact() && held.is_shape());
        let mut found: Vec<(Cores, u16)> =
            counts.into_iter().zip(0_u16..).filter(|(held, _)| is_solid(held)).collect();
        found.sort_by_key(|(held, color)| (std::cmp::Reverse(held.near), *color));
        let mut taken: Vec<(Cores, u16)> = Vec::new();
        for (held, color) in found {
            if !taken.iter().any(|(larger, near)| {
                held.belongs_to(larger, mixer.apart(*near, color), mixer.rings())
            }) {
                taken.push((held, color));
            }
        }
        let colors = taken.into_iter().map(|(_, color)| color).collect();
        let mut settled = Self { colors, own: vec![None; cells.colors.len()] };
        settled.claim(cells, mixer);
        settled
    }

    /// The settled color nearest to a color.
    pub(super) fn nearest(&self, mixer: &Mixer, color: u16) -> Option<(u16, f64)> {
        self.colors
            .iter()
            .map(|held| (*held, mixer.apart(color, *held)))
            .min_by(|one, other| one.1.total_cmp(&other.1))
    }

    /// Gives every color within rounding of a settled one to it.
    fn claim(&mut self, cells: &Cells, mixer: &Mixer) {
        for number in 0..cells.colors.len() {
            let Ok(color) = u16::try_from(number) else { break };
            let near = self.nearest(mixer, color).filter(|(_, apart)| *apart <= 1.0);
            if let Some(own) = self.own.get_mut(number) {
                *own = near.map(|(held, _)| held);
            }
        }
    }

    /// Settled colors in the 5 x 5 cells around a cell.
    pub(super) fn near(&self, cells: &Cells, raster: Raster, place: usize) -> Vec<u16> {
        let mut near: Vec<u16> = Vec::new();
        for other in raster.around(place, 2) {
            if let Some(held) = self.of_cell(cells, other)
                && !near.contains(&held)
            {
                near.push(held);
            }
        }
        near
    }
}

/// How a color stands in areas.
#[derive(Clone, Copy, Debug, Default)]
struct Cores {
    /// All its cells.
    cells: usize,
    /// Cells that are surrounded by the color, within rounding.
    near: usize,
    /// Cells that are surrounded by the very same color.
    exact: usize,
    /// Squares of four cells of the very same color.
    blocks: usize,
    /// Cells with one of the very same color beside and one above or below.
    turns: usize,
}

impl Cores {
    fn look(&mut self, cells: &Cells, raster: Raster, mixer: &Mixer, place: usize) {
        let Some(color) = color_at(cells, place) else { return };
        let (mut off, mut equal) = (0, 0);
        for near in raster.around(place, 1) {
            let other = color_at(cells, near);
            equal += usize::from(other == Some(color));
            off += usize::from(other.is_none_or(|other| mixer.apart(other, color) > 1.0));
        }
        self.cells += 1;
        self.near += usize::from(off <= 8 - INSIDE);
        self.exact += usize::from(equal >= INSIDE);
        self.blocks += usize::from(shape::is_block(cells, raster, place, color));
        self.turns += usize::from(shape::turns(cells, raster, place, color));
    }

    /// True for a color that is made of shapes which even mixing does not make: blends repeat along a
    /// straight edge, but only in a row.
    fn is_shape(&self) -> bool {
        let squares = self.blocks > 0 && PER_BLOCK * self.blocks >= self.cells;
        squares || (self.turns >= TURNS && 100 * self.turns >= TURNING * self.cells)
    }

    /// True for a shade of a color with more cores: within rounding, or a band of its ringing.
    fn belongs_to(self, larger: &Self, apart: f64, rings: bool) -> bool {
        // What lies flat stands for itself: ringing runs in narrow bands.
        if rings && self.exact >= 6 {
            return apart <= 0.5;
        }
        apart <= 1.0 || (rings && apart <= 2.5 && 5 * self.near < larger.near)
    }
}

/// True for a color that the chart would miss.
fn is_missed(mixer: &Mixer, loss: &Loss, repeats: usize) -> bool {
    let reaches =
        |(in_all, each): (f64, f64)| loss.total >= in_all && loss.total >= each * loss.cells;
    if mixer.is_mapped() {
        reaches(MISSED_MAPPED)
    } else if mixer.rings() {
        reaches(MISSED)
    } else {
        reaches(MISSED_EXACT) || (repeats >= REPEATED && reaches(MISSED_REPEATED))
    }
}

/// The colors that lie flat somewhere, or make shapes that no mixing makes.
fn flat(cells: &Cells, raster: Raster, mixer: &Mixer) -> Vec<bool> {
    let mut counts = vec![Cores::default(); cells.colors.len()];
    for place in 0..cells.cells.len() {
        let Some(color) = color_at(cells, place) else { continue };
        let Some(held) = counts.get_mut(usize::from(color)) else { continue };
        held.cells += 1;
        held.exact += usize::from(is_inside(cells, raster, place, color));
        if !mixer.rings() {
            held.blocks += usize::from(shape::is_block(cells, raster, place, color));
            held.turns += usize::from(shape::turns(cells, raster, place, color));
        }
    }
    let is_flat = |held: Cores| {
        if mixer.is_mapped() {
            held.exact >= CORES || held.blocks >= BLOCKS_MAPPED
        } else {
            held.exact >= FLAT || held.is_shape()
        }
    };
    counts.into_iter().map(is_flat).collect()
}

/// How often each color comes, a row of equal cells counted once: along a straight edge a blend
/// repeats.
fn repeats(cells: &Cells, raster: Raster) -> Vec<usize> {
    let mut counts = vec![0; cells.colors.len()];
    for place in 0..cells.cells.len() {
        let Some(color) = color_at(cells, place) else { continue };
        let follows = [(-1, 0), (0, -1)].into_iter().any(|(right, down)| {
            let before = raster.step(place, right, down);
            before.and_then(|before| color_at(cells, before)) == Some(color)
        });
        if let Some(count) = counts.get_mut(usize::from(color)) {
            *count += usize::from(!follows);
        }
    }
    counts
}

/// True for a cell inside an area of its very color.
pub(super) fn is_inside(cells: &Cells, raster: Raster, place: usize, color: u16) -> bool {
    let is_own = |near: &usize| color_at(cells, *near) == Some(color);
    raster.around(place, 1).filter(is_own).count() >= INSIDE
}

/// The color of a cell.
pub(super) fn color_at(cells: &Cells, place: usize) -> Option<u16> {
    cells.cells.get(place).copied().flatten()
}
