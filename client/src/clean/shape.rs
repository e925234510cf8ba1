//! How a cell lies among its neighbors. It does not know which colors are settled.

use super::Cells;
use super::mixer::Mixer;
use super::raster::Raster;
use super::settled::color_at;

/// Right, down, and the two diagonals.
const AXES: [(isize, isize); 4] = [(1, 0), (0, 1), (1, 1), (1, -1)];

/// True when the cell lies between two opposite neighbors and is a mix of them.
pub(super) fn is_between(
    cells: &Cells,
    raster: Raster,
    mixer: &Mixer,
    place: usize,
    color: u16,
) -> bool {
    AXES.iter().any(|(right, down)| {
        let at = |sign: isize| {
            raster.step(place, sign * right, sign * down).and_then(|other| color_at(cells, other))
        };
        match (at(1), at(-1)) {
            (Some(one), Some(other)) => mixer.is_between(color, one, other),
            (None, _) | (_, None) => false,
        }
    })
}

/// True when the cell is the first of four equal ones in a square.
pub(super) fn is_block(cells: &Cells, raster: Raster, place: usize, color: u16) -> bool {
    [(1, 0), (0, 1), (1, 1)].into_iter().all(|(right, down)| {
        raster.step(place, right, down).is_some_and(|other| color_at(cells, other) == Some(color))
    })
}

/// True when the cell has equal neighbors in more than one direction.
pub(super) fn bends(cells: &Cells, raster: Raster, place: usize, color: u16) -> bool {
    let has = |right: isize, down: isize| {
        raster.step(place, right, down).is_some_and(|other| color_at(cells, other) == Some(color))
    };
    AXES.iter().filter(|(right, down)| has(*right, *down) || has(-right, -down)).count() >= 2
}

/// True when the cell has an equal neighbor beside it and one above or below.
pub(super) fn turns(cells: &Cells, raster: Raster, place: usize, color: u16) -> bool {
    let has = |right: isize, down: isize| {
        raster.step(place, right, down).is_some_and(|other| color_at(cells, other) == Some(color))
    };
    (has(1, 0) || has(-1, 0)) && (has(0, 1) || has(0, -1))
}
