//! Which settled colors stand in the same part of a chart. It does not know what they explain.

use super::Cells;
use super::raster::Raster;
use super::settled::Settled;

/// Rows and columns of a region. House choice.
const SIDE: usize = 32;

/// Colors of each region and of those around it, in the order of the settled colors.
#[derive(Debug)]
pub(super) struct Regions {
    raster: Raster,
    across: usize,
    colors: Vec<Vec<u16>>,
}

impl Regions {
    pub(super) fn new(cells: &Cells, raster: Raster, settled: &Settled) -> Self {
        let across = raster.columns().div_ceil(SIDE).max(1);
        let down = raster.rows().div_ceil(SIDE).max(1);
        let numbers = settled.colors.len();
        let mut stands = vec![false; numbers * across * down];
        let mut number_of: Vec<Option<usize>> = vec![None; cells.colors.len()];
        for (number, color) in settled.colors.iter().enumerate() {
            if let Some(held) = number_of.get_mut(usize::from(*color)) {
                *held = Some(number);
            }
        }
        let mut regions = Self { raster, across, colors: Vec::new() };
        for place in 0..cells.cells.len() {
            let color = settled.of_cell(cells, place);
            let number =
                color.and_then(|color| number_of.get(usize::from(color)).copied().flatten());
            let Some(number) = number else { continue };
            if let Some(held) = stands.get_mut(regions.of(place) * numbers + number) {
                *held = true;
            }
        }
        let tiles = Raster::of(across, across * down);
        let near = |region: usize| {
            let has = |number: usize| {
                let stands = |region: usize| {
                    stands.get(region * numbers + number).copied().unwrap_or_default()
                };
                stands(region) || tiles.around(region, 1).any(stands)
            };
            let numbered = settled.colors.iter().enumerate();
            numbered.filter(|(number, _)| has(*number)).map(|(_, color)| *color).collect()
        };
        regions.colors = (0..across * down).map(near).collect();
        regions
    }

    fn of(&self, place: usize) -> usize {
        let (x, y) = self.raster.at(place);
        y / SIDE * self.across + x / SIDE
    }

    /// The settled colors that stand in the part of the chart around a cell.
    pub(super) fn near(&self, place: usize) -> &[u16] {
        self.colors.get(self.of(place)).map_or(&[], Vec::as_slice)
    }
}
