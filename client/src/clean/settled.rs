//! The settled colors of a chart: those that stand for themselves and not for a mix of others.
//! It does not decide where a stray stitch belongs.

use std::collections::{BTreeMap, BTreeSet};

use dyekin_core::math;

use super::decide::{Explain, Memory};
use super::mixer::Mixer;
use super::model::Model;
use super::raster::Raster;
use super::{Cells, shape, thin};

/// Equal neighbors, of eight, of a cell inside an area.
const INSIDE: usize = 7;

/// Cells inside areas that make a color settled. House choice.
pub(super) const CORES: usize = 3;

/// Cost of a missing color, in all and for each of its cells, below which the chart hardly misses it.
/// House choices, tuned on drawings.
const MISSED: (f64, f64) = (14.0, 1.6);

/// Rounds of taking colors back; each takes back a third of those that are hardly missed.
const ROUNDS: usize = 12;

/// How many squared units of the model one more stitch of a color outweighs, on a logarithmic scale.
const FREQUENT: f64 = 1.0;

/// Rounds of joining shades.
const JOINS: usize = 4;

/// Cells inside an area of their very color that make it no shade of another, in a picture that was
/// mixed evenly and in a sharpened one. House choices.
const FLAT: (usize, usize) = (3, 6);

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
        if !mixer.is_mapped() {
            settled.refine(cells, raster, mixer);
            settled.prune(cells, raster, mixer);
        }
        if mixer.rings() {
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
        for _ in 0..ROUNDS {
            let losses = Explain::new(cells, raster, mixer, self).losses(&mut memory);
            let mut poor: Vec<(f64, u16)> = Vec::new();
            for (color, loss) in self.colors.iter().zip(&losses) {
                let (in_all, each) = MISSED;
                if loss.total < in_all || loss.total < each * loss.cells {
                    poor.push((loss.total, *color));
                }
            }
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
        let is_solid = |held: &Cores| held.near >= CORES || (mixer.is_exact() && held.clumps >= 6);
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
    /// Cells that are surrounded by the color, within rounding.
    near: usize,
    /// Cells that are surrounded by the very same color.
    exact: usize,
    /// Squares of four, three each, and cells at a bend.
    clumps: usize,
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
        self.near += usize::from(off <= 8 - INSIDE);
        self.exact += usize::from(equal >= INSIDE);
        self.clumps += if shape::is_block(cells, raster, place, color) { 3 } else { 0 };
        self.clumps += usize::from(shape::bends(cells, raster, place, color));
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

/// The colors that lie flat somewhere.
fn flat(cells: &Cells, raster: Raster, mixer: &Mixer) -> Vec<bool> {
    let mut counts = vec![0_usize; cells.colors.len()];
    for place in 0..cells.cells.len() {
        let Some(color) = color_at(cells, place) else { continue };
        if let Some(count) = counts.get_mut(usize::from(color)) {
            *count += usize::from(is_inside(cells, raster, place, color));
        }
    }
    let least = if mixer.is_exact() { FLAT.0 } else { FLAT.1 };
    counts.into_iter().map(|count| count >= least).collect()
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
