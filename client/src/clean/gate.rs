//! Whether a chart is blended at all. It does not change anything.

use std::collections::BTreeSet;

use super::Cells;
use super::mixer::Mixer;
use super::raster::Raster;
use super::settled::{Settled, color_at};

/// What speaks for blends.
#[derive(Debug, Default)]
pub(super) struct Evidence {
    /// Explained cells, each less the farther its mix misses.
    pub(super) weight: f64,
    open: usize,
    explained: usize,
    between: usize,
    cells: usize,
}

impl Evidence {
    /// Enough to clean the chart. House choices, tuned on drawings: six different in-between colors,
    /// half of the open cells explained, 0.4 % of all cells.
    pub(super) fn is_enough(&self, mixer: &Mixer) -> bool {
        let least = if mixer.is_mapped() { 12 } else { 6 };
        self.between >= least
            && 2 * self.explained >= self.open
            && 250 * self.explained >= self.cells
    }
}

/// Looks at every open cell.
pub(super) fn evidence(
    cells: &Cells,
    raster: Raster,
    mixer: &Mixer,
    settled: &Settled,
) -> Evidence {
    let mut found = Evidence { cells: cells.cells.iter().flatten().count(), ..Default::default() };
    let mut between: BTreeSet<u16> = BTreeSet::new();
    let choices = super::decide::spread(cells, raster, mixer, settled, 1).1;
    for (place, choice) in choices.iter().enumerate() {
        if !settled.is_open(cells, place) {
            continue;
        }
        found.open += 1;
        let (Some(color), Some(choice)) = (color_at(cells, place), choice) else { continue };
        if choice.cost <= 4.0 {
            found.explained += 1;
            found.weight += 1.0 / (1.0 + choice.cost);
            if choice.share < 0.9 {
                between.insert(color);
            }
        }
    }
    found.between = between.len();
    found
}

/// True when sharpening has left ringing: many open cells lie beyond the ends of a mix.
pub(super) fn rings(cells: &Cells, raster: Raster, mixer: &mut Mixer) -> bool {
    if mixer.is_mapped() {
        return false;
    }
    mixer.set_rings(true);
    let settled = Settled::solid(cells, raster, mixer);
    let (mut between, mut beyond) = (0_usize, 0_usize);
    for place in 0..cells.cells.len() {
        if !settled.is_open(cells, place) {
            continue;
        }
        let Some(color) = color_at(cells, place) else { continue };
        let near = settled.near(cells, raster, place);
        let mut best: Option<(f64, f64)> = None;
        for (number, first) in near.iter().enumerate() {
            for second in near.iter().skip(number + 1) {
                let fit = mixer.pair(color, *first, *second);
                if fit.miss <= 1.0 && best.is_none_or(|held| fit.miss < held.0) {
                    best = Some((fit.miss, fit.share));
                }
            }
        }
        match best {
            Some((_, share)) if !(-0.03..=1.03).contains(&share) => beyond += 1,
            Some(_) => between += 1,
            None => {}
        }
    }
    8 * beyond > between
}
