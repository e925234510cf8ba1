//! Colors that only thin shapes have: found by how many cells they explain that nothing else does.
//! It does not know areas, nor which of its finds hold in the end.

use std::collections::BTreeMap;

use super::mixer::Mixer;
use super::raster::Raster;
use super::settled::{Settled, color_at};
use super::{Cells, shape};

/// Most cells that are looked at; of more, every second, third and so on.
const SAMPLE: usize = 4_000;

/// Most colors that are tried.
const TRIED: usize = 300;

/// Most colors that are found.
const MOST: usize = 60;

/// Shares of a color below which it says nothing about a cell.
const SLIGHT: f64 = 0.08;

/// Cells at a bend that make a color worth trying although each lies between two others.
const BENDS: usize = 3;

/// Units within which cells count for a peak among the colors, and between two peaks.
const PEAK: (f64, f64) = (1.7, 2.0);

/// Cells that make a peak.
const PEAK_CELLS: f64 = 3.0;

/// An open cell with the settled colors near it.
struct Open {
    place: usize,
    color: u16,
    near: Vec<u16>,
}

/// The colors, the one that explains most first.
pub(super) fn colors(cells: &Cells, raster: Raster, mixer: &Mixer, settled: &Settled) -> Vec<u16> {
    let mut search = Search::new(cells, raster, mixer, settled);
    let mut found = Vec::new();
    while found.len() < MOST {
        let Some(best) = search.best() else { break };
        found.push(best);
        search.take(best);
    }
    found
}

/// Open cells, colors that may explain them, and how well each does.
struct Search<'c> {
    cells: &'c Cells,
    raster: Raster,
    mixer: &'c Mixer,
    open: Vec<Open>,
    tried: Vec<(u16, Vec<f64>)>,
}

impl<'c> Search<'c> {
    fn new(cells: &'c Cells, raster: Raster, mixer: &'c Mixer, settled: &Settled) -> Self {
        let open = unexplained(cells, raster, mixer, settled);
        let is_new =
            |color: &u16| settled.nearest(mixer, *color).is_none_or(|(_, apart)| apart > 1.0);
        let gains = |color: u16| {
            open.iter().map(|cell| explains(mixer, color, cell.color, &cell.near)).collect()
        };
        let tried = candidates(cells, raster, mixer).into_iter().filter(is_new);
        let tried = tried.map(|color| (color, gains(color))).collect();
        Self { cells, raster, mixer, open, tried }
    }

    /// The color that explains most, when that is enough.
    fn best(&self) -> Option<u16> {
        let gains = self.tried.iter().map(|(color, gains)| (*color, gains.iter().sum::<f64>()));
        let (best, gain) = gains.max_by(|one, other| one.1.total_cmp(&other.1))?;
        let own = if self.mixer.is_exact() {
            self.cells.cells.iter().filter(|cell| **cell == Some(best)).count()
        } else {
            let is_own = |cell: &&Open| self.mixer.apart(cell.color, best) <= 1.0;
            self.open.iter().filter(is_own).count()
        };
        (gain >= self.mixer.worth(own)).then_some(best)
    }

    /// Leaves out what a color explains, and lets it be a side of what is left.
    fn take(&mut self, best: u16) {
        let gains = self.tried.iter().find(|(color, _)| *color == best);
        let gone: Vec<bool> =
            gains.into_iter().flat_map(|(_, gains)| gains).map(|gain| *gain > 0.0).collect();
        keep(&mut self.open, &gone);
        self.tried.retain(|(color, _)| self.mixer.apart(*color, best) > 1.0);
        let fresh: Vec<bool> = self
            .open
            .iter()
            .map(|cell| stands_near(self.raster, self.cells, cell.place, best))
            .collect();
        for (color, gains) in &mut self.tried {
            keep(gains, &gone);
            for ((gain, cell), fresh) in gains.iter_mut().zip(&self.open).zip(&fresh) {
                if *fresh {
                    *gain = gain.max(explains(self.mixer, *color, cell.color, &[best]));
                }
            }
        }
    }
}

/// Keeps the items that are not gone.
fn keep<T>(items: &mut Vec<T>, gone: &[bool]) {
    let mut gone = gone.iter();
    items.retain(|_| !gone.next().copied().unwrap_or(false));
}

/// Open cells that no two settled colors near them mix to.
fn unexplained(cells: &Cells, raster: Raster, mixer: &Mixer, settled: &Settled) -> Vec<Open> {
    let all: Vec<usize> =
        (0..cells.cells.len()).filter(|place| settled.is_open(cells, *place)).collect();
    let stride = all.len().div_ceil(SAMPLE).max(1);
    let mut open = Vec::new();
    for place in all.into_iter().step_by(stride) {
        let Some(color) = color_at(cells, place) else { continue };
        let near = settled.near(cells, raster, place);
        if !is_mix(mixer, color, &near) {
            open.push(Open { place, color, near });
        }
    }
    open
}

/// How well a color explains an open cell: as itself, or as one side of a mix.
fn explains(mixer: &Mixer, color: u16, cell: u16, near: &[u16]) -> f64 {
    let apart = mixer.apart(cell, color);
    if apart <= 2.0 {
        return 2.0 - 0.5 * apart;
    }
    near.iter()
        .map(|near| mixer.pair(cell, *near, color))
        .filter(|fit| fit.miss <= 1.0 && fit.share > SLIGHT && fit.share < 1.0 + mixer.overshoot())
        .map(|fit| if fit.share > 1.0 { 0.8 } else { 1.0 })
        .fold(0.0, f64::max)
}

fn is_mix(mixer: &Mixer, color: u16, near: &[u16]) -> bool {
    near.iter().enumerate().any(|(number, first)| {
        near.iter().skip(number + 1).any(|second| mixer.pair(color, *first, *second).miss <= 1.0)
    })
}

fn stands_near(raster: Raster, cells: &Cells, place: usize, color: u16) -> bool {
    raster.around(place, 2).any(|other| color_at(cells, other) == Some(color))
}

/// Colors that may stand for themselves: those of cells that lie between no two opposite neighbors,
/// and those that run around a bend.
fn candidates(cells: &Cells, raster: Raster, mixer: &Mixer) -> Vec<u16> {
    let mut counts: BTreeMap<u16, (f64, usize)> = BTreeMap::new();
    for place in 0..cells.cells.len() {
        let Some(color) = color_at(cells, place) else { continue };
        let held = counts.entry(color).or_default();
        if !shape::is_between(cells, raster, mixer, place, color) {
            held.0 += 1.0;
        }
        if shape::bends(cells, raster, place, color) {
            held.1 += 1;
        }
    }
    let all: Vec<(u16, f64)> = counts
        .into_iter()
        .filter(|(_, (count, bends))| *count > 0.0 || *bends >= BENDS)
        .map(|(color, (count, bends))| (color, if bends >= BENDS { count.max(1.0) } else { count }))
        .collect();
    if mixer.rings() { peaks(mixer, &all) } else { frequent(all) }
}

fn frequent(mut all: Vec<(u16, f64)>) -> Vec<u16> {
    all.sort_by(|one, other| other.1.total_cmp(&one.1));
    all.into_iter().map(|(color, _)| color).take(TRIED).collect()
}

/// Where colors gather: ringing spreads every color a little.
fn peaks(mixer: &Mixer, all: &[(u16, f64)]) -> Vec<u16> {
    let (within, between) = PEAK;
    let density = |color: u16| {
        let near = all
            .iter()
            .map(|(other, count)| count * (1.0 - mixer.apart(color, *other) / within).max(0.0));
        near.sum::<f64>()
    };
    let mut dense: Vec<(f64, u16)> =
        all.iter().map(|(color, _)| (density(*color), *color)).collect();
    dense.sort_by(|one, other| other.0.total_cmp(&one.0));
    let mut peaks: Vec<u16> = Vec::new();
    for (density, color) in dense {
        if density >= PEAK_CELLS && peaks.iter().all(|peak| mixer.apart(*peak, color) > between) {
            peaks.push(color);
        }
    }
    peaks.truncate(TRIED);
    peaks
}
