//! Each open cell to the settled color that covers most of it.
//! It does not know which colors are settled, nor whether the chart is blended.

use super::mixer::Mixer;
use super::raster::Raster;
use super::settled::{Settled, color_at};
use super::{Cells, Stray};

/// Passes over the chart; later ones know more neighbors.
const PASSES: usize = 4;

/// A settled color near a cell.
#[derive(Clone, Copy, Debug)]
struct Side {
    color: u16,
    /// What it costs to take part in the mix, by how near it stands.
    cost: f64,
}

/// What a cell was explained by.
#[derive(Clone, Copy, Debug)]
pub(super) struct Choice {
    /// The color that covers most of it.
    pub(super) color: u16,
    /// How badly it is explained; 0 is perfectly.
    pub(super) cost: f64,
    /// The part of the cell that the color covers, as far as the mix says.
    pub(super) share: f64,
}

/// Cost above which a cell keeps its color.
const KEEP: f64 = 16.0;

pub(super) fn decide(
    cells: &Cells,
    raster: Raster,
    mixer: &Mixer,
    settled: &Settled,
) -> Vec<Stray> {
    let labels = labels(cells, raster, mixer, settled).0;
    let moved = |place: usize| {
        let from = color_at(cells, place)?;
        let to = labels.get(place).copied().flatten()?;
        (from != to).then_some(Stray { place, from, to })
    };
    (0..cells.cells.len()).filter_map(moved).collect()
}

/// The settled color that each cell belongs to; `None` where nothing explains it.
pub(super) fn labels(
    cells: &Cells,
    raster: Raster,
    mixer: &Mixer,
    settled: &Settled,
) -> (Vec<Option<u16>>, Vec<Option<Choice>>) {
    spread(cells, raster, mixer, settled, PASSES)
}

/// The same after so many passes: the first one knows only the neighbors that are settled.
pub(super) fn spread(
    cells: &Cells,
    raster: Raster,
    mixer: &Mixer,
    settled: &Settled,
    passes: usize,
) -> (Vec<Option<u16>>, Vec<Option<Choice>>) {
    let mut choices = vec![None; cells.cells.len()];
    let count = cells.cells.len();
    let open: Vec<usize> = (0..count).filter(|place| settled.is_open(cells, *place)).collect();
    let mut labels: Vec<Option<u16>> =
        (0..count).map(|place| settled.of_cell(cells, place)).collect();
    let mut stale = open;
    for _ in 0..passes {
        let chosen: Vec<Option<Choice>> = stale
            .iter()
            .map(|place| {
                let color = color_at(cells, *place)?;
                choose(mixer, settled, color, &sides(raster, &labels, *place), None)
            })
            .collect();
        let mut touched = vec![false; count];
        for (place, choice) in stale.iter().zip(chosen) {
            if let Some(held) = choices.get_mut(*place) {
                *held = choice;
            }
            let new = choice.filter(|choice| choice.cost <= KEEP).map(|choice| choice.color);
            if let Some(label) = labels.get_mut(*place)
                && *label != new
            {
                *label = new;
                for near in raster.around(*place, 2) {
                    if let Some(touched) = touched.get_mut(near) {
                        *touched = true;
                    }
                }
            }
        }
        stale = (0..count)
            .filter(|place| {
                touched.get(*place).copied().unwrap_or(false) && settled.is_open(cells, *place)
            })
            .collect();
        if stale.is_empty() {
            break;
        }
    }
    (labels, choices)
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

/// The loss of each settled color, in their order.
pub(super) fn losses(cells: &Cells, raster: Raster, mixer: &Mixer, settled: &Settled) -> Vec<Loss> {
    let labels = labels(cells, raster, mixer, settled).0;
    let mut losses = vec![Loss::default(); settled.colors.len()];
    for (place, label) in labels.iter().enumerate() {
        let (Some(label), Some(color)) = (label, color_at(cells, place)) else { continue };
        let Some(number) = settled.colors.iter().position(|held| held == label) else { continue };
        // A cell inside an area says nothing that its neighbors do not say.
        if raster.around(place, 1).all(|near| labels.get(near).copied().flatten() == Some(*label)) {
            if let Some(loss) = losses.get_mut(number) {
                loss.cells += 1.0;
                loss.total += CAP;
            }
            continue;
        }
        let sides = sides(raster, &labels, place);
        let cost = |without: Option<u16>| {
            choose(mixer, settled, color, &sides, without).map_or(CAP, |choice| choice.cost)
        };
        let with = if settled.of_cell(cells, place).is_some() { 0.0 } else { cost(None) };
        let without = cost(Some(*label));
        if let Some(loss) = losses.get_mut(number) {
            loss.cells += 1.0;
            loss.total += (without.min(CAP) - with.min(CAP)).max(0.0);
        }
    }
    losses
}

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
        0 => 1.0,
        1 => 0.3,
        _ => 0.0,
    };
    near.into_iter().map(|(color, close)| Side { color, cost: cost(close) }).collect()
}

/// Cost of a settled color that stands nowhere near.
const FAR: f64 = 8.0;

/// Cost up to which colors that stand nowhere near are not asked.
const NEAR_ENOUGH: f64 = 3.0;

/// The best explanation, by the colors near the cell, or else by any; never by `without`.
fn choose(
    mixer: &Mixer,
    settled: &Settled,
    color: u16,
    near: &[Side],
    without: Option<u16>,
) -> Option<Choice> {
    let mut sides: Vec<Side> =
        near.iter().filter(|side| Some(side.color) != without).copied().collect();
    let best = among(mixer, color, &sides);
    if best.is_some_and(|best| best.cost <= NEAR_ENOUGH) {
        return best;
    }
    let known = sides.len();
    for other in &settled.colors {
        if Some(*other) != without && !sides.iter().take(known).any(|side| side.color == *other) {
            sides.push(Side { color: *other, cost: FAR });
        }
    }
    among(mixer, color, &sides)
}

/// What a mix costs more than a color alone: one of two colors, and one of three.
const TWO: f64 = 0.5;
const THREE: f64 = 2.0;

fn among(mixer: &Mixer, color: u16, sides: &[Side]) -> Option<Choice> {
    let mut best: Option<Choice> = None;
    let offer = |best: &mut Option<Choice>, choice: Choice| {
        if best.as_ref().is_none_or(|held| choice.cost < held.cost) {
            *best = Some(choice);
        }
    };
    // A mix that costs as much by its colors alone is not worth computing.
    let hopeless = |best: &Option<Choice>, least: f64| best.is_some_and(|held| least >= held.cost);
    for (number, first) in sides.iter().enumerate() {
        let miss = mixer.apart(color, first.color);
        offer(&mut best, Choice { color: first.color, cost: miss * miss + first.cost, share: 1.0 });
        for (other, second) in sides.iter().enumerate().skip(number + 1) {
            let known = first.cost + second.cost;
            if known > 9.5 {
                continue;
            }
            if !hopeless(&best, known + TWO) {
                let fit = mixer.pair(color, first.color, second.color);
                let over = (-fit.share).max(fit.share - 1.0).max(0.0) / 0.15;
                let cost = fit.miss * fit.miss + known + TWO + over * over;
                let taken = if fit.share >= 0.5 { second } else { first };
                let share = fit.share.max(1.0 - fit.share);
                offer(&mut best, Choice { color: taken.color, cost, share });
            }
            if known > 2.5 {
                continue;
            }
            for third in sides.iter().skip(other + 1) {
                if known + third.cost > 2.5 || hopeless(&best, known + third.cost + THREE) {
                    continue;
                }
                let of = [first.color, second.color, third.color];
                let Some((shares, miss)) = mixer.triple(color, of) else { continue };
                let least = shares.iter().copied().fold(f64::INFINITY, f64::min);
                if least < -0.1 {
                    continue;
                }
                let under = (-least).max(0.0) / 0.05;
                let cost = miss * miss + known + third.cost + THREE + under * under;
                let most = shares.iter().zip(of).max_by(|a, b| a.0.total_cmp(b.0));
                if let Some((share, taken)) = most {
                    offer(&mut best, Choice { color: taken, cost, share: *share });
                }
            }
        }
    }
    best
}
