//! Whether a chart is blended at all. It does not change anything.

use std::collections::BTreeSet;

use super::decide::{Explain, Memory};
use super::mixer::Mixer;
use super::raster::Raster;
use super::settled::{self, CORES, Settled, color_at};
use super::{Cells, Range};

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
    /// half of the open cells explained (two fifths where sharpening has spread them), 0.4 % of all cells.
    pub(super) fn is_enough(&self, mixer: &Mixer) -> bool {
        let least = if mixer.is_mapped() { BETWEEN.1 } else { BETWEEN.0 };
        let share = if mixer.rings() { 4 } else { 5 };
        self.between >= least
            && 10 * self.explained >= share * self.open
            && 250 * self.explained >= self.cells
    }
}

/// In-between colors that make a chart blended, in a picture and in a chart that was mapped to
/// threads. House choices, tuned on drawings.
const BETWEEN: (usize, usize) = (6, 12);

/// False for a chart that cannot be blended: a quick look at how many of its colors lie nowhere inside
/// an area of their own, as in-between colors do.
pub(super) fn may_be_blended(cells: &Cells, raster: Raster, range: &Range) -> bool {
    let mut inside = vec![0_usize; cells.colors.len()];
    for place in 0..cells.cells.len() {
        let Some(color) = color_at(cells, place) else { continue };
        let Some(count) = inside.get_mut(usize::from(color)) else { continue };
        if *count < CORES && settled::is_inside(cells, raster, place, color) {
            *count += 1;
        }
    }
    let least = match range {
        Range::Any => BETWEEN.0,
        Range::Threads(_) => BETWEEN.1,
    };
    inside.into_iter().filter(|count| *count < CORES).count() >= least
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
    let explain = Explain::new(cells, raster, mixer, settled);
    let choices = explain.spread(1, &mut Memory::new(cells)).choices;
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
