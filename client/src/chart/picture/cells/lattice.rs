//! Where the cells of a picture lie, and the color of each.
//! It does not find them; it is told.

use crate::chart::picture::raster::{CLEAR, Raster, Rgba};

/// Part of a cell's side that is left out at each edge, where colors run into each other: a fifth.
const EDGE_PART: usize = 5;

/// Levels of one channel that compression and smoothing move a color by (house choice: JPEG at a
/// quality of 75 stays within 25 beside hard edges).
const NEAR: u8 = 32;

/// Part of a cell's pixels that must be near its middle color: 7 of 10.
const NEAR_PART: (usize, usize) = (7, 10);

/// The edges of columns and of rows of cells, in pixels; each cell lies between two of a list.
#[derive(Clone, Debug)]
pub(super) struct Lattice {
    columns: Vec<(usize, usize)>,
    rows: Vec<(usize, usize)>,
    left_out: usize,
}

/// One pixel per cell.
pub(super) struct Sampled {
    pub(super) raster: Raster,
    /// Cells, in reading order, that have no clear color.
    pub(super) mixed: Vec<usize>,
}

impl Lattice {
    /// So many cells, divided evenly.
    pub(super) fn of_cells(raster: &Raster, across: usize, down: usize) -> Self {
        let even = |length: usize, cells: usize| {
            (0..cells).map(|cell| (cell * length / cells, (cell + 1) * length / cells)).collect()
        };
        Self {
            columns: even(raster.width(), across),
            rows: even(raster.height(), down),
            left_out: 0,
        }
    }

    /// Cells of one size; the shift is where most color changes lie on the lattice. Cells of which
    /// less than half is there are left out.
    pub(super) fn of_side(raster: &Raster, side: usize) -> Self {
        let (across, down) = super::soft::edges(raster);
        let first = |edges: &[u64]| super::soft::best_shift(edges, side).0;
        Self::of_pitch(raster, side, (first(&across), first(&down))).without_slivers(side)
    }

    /// Without cells at the rims of which less than half is there.
    pub(super) fn without_slivers(mut self, side: usize) -> Self {
        let before = self.pixels();
        for cells in [&mut self.columns, &mut self.rows] {
            cells.retain(|(from, to)| (to - from) * 2 >= side);
        }
        self.left_out += before - self.pixels();
        self
    }

    /// Cells of one size with edges at the shift; those at the rims may be cut.
    pub(super) fn of_pitch(raster: &Raster, side: usize, shift: (usize, usize)) -> Self {
        let cells = |length: usize, shift: usize| {
            let mut edges: Vec<usize> = (shift..length).step_by(side.max(1)).collect();
            if edges.first() != Some(&0) {
                edges.insert(0, 0);
            }
            edges.push(length);
            let pair = |pair: &[usize]| Some((*pair.first()?, *pair.last()?));
            edges.windows(2).filter_map(pair).collect()
        };
        Self {
            columns: cells(raster.width(), shift.0),
            rows: cells(raster.height(), shift.1),
            left_out: 0,
        }
    }

    /// Without a plain border, and how many pixels that is: lines narrower than a cell that are of
    /// another color than what follows or narrower than half a cell, and whole cells outside of the
    /// same color if nothing inside has it.
    pub(super) fn without_border(mut self, raster: &Raster, side: usize) -> (Self, usize) {
        let column = |x: usize| plain(raster.column(x));
        let row = |y: usize| plain(raster.run(y, 0, raster.width()).iter().copied());
        let columns = narrow_rims(&self.columns, side, &column);
        let rows = narrow_rims(&self.rows, side, &row);
        let colors: Vec<Rgba> = columns.colors.iter().chain(&rows.colors).copied().collect();
        if colors.is_empty() {
            return (self, 0);
        }
        let (before, color) = (self.pixels(), colors.first().copied());
        columns.drop_from(&mut self.columns);
        rows.drop_from(&mut self.rows);
        if colors.iter().all(|other| Some(*other) == color) {
            self.drop_frame(raster, color.unwrap_or(CLEAR));
        }
        let border = before - self.pixels();
        (self, border)
    }

    /// Columns and rows of pixels in cells.
    fn pixels(&self) -> usize {
        self.columns.iter().chain(&self.rows).map(|(from, to)| to - from).sum()
    }

    /// Drops the outermost cells that are wholly of one color, unless cells inside have it too.
    fn drop_frame(&mut self, raster: &Raster, color: Rgba) {
        let cells = self.corners(raster);
        let of_color =
            |mut line: Box<dyn Iterator<Item = Rgba> + '_>| line.all(|cell| cell == color);
        let column = |x: &usize| of_color(Box::new(cells.column(*x)));
        let row = |y: &usize| of_color(Box::new(cells.run(*y, 0, cells.width()).iter().copied()));
        let (width, height) = (cells.width(), cells.height());
        let (left, right) =
            ((0..width).take_while(column).count(), (0..width).rev().take_while(column).count());
        let (top, bottom) =
            ((0..height).take_while(row).count(), (0..height).rev().take_while(row).count());
        if left == width {
            return;
        }
        let inside = |y: usize| cells.run(y, left, width - right);
        if (top..height - bottom).any(|y| inside(y).contains(&color)) {
            return;
        }
        self.columns = self.columns.get(left..width - right).unwrap_or_default().to_vec();
        self.rows = self.rows.get(top..height - bottom).unwrap_or_default().to_vec();
    }

    /// Pixels at the rims that belong to no cell.
    pub(super) fn left_out(&self) -> usize {
        self.left_out
    }

    /// The upper left pixel of each cell.
    pub(super) fn corners(&self, raster: &Raster) -> Raster {
        let corner = |y: usize, x: usize| raster.run(y, x, x + 1).first().copied().unwrap_or(CLEAR);
        let row = |y: usize| self.columns.iter().map(move |(x, _)| corner(y, *x));
        let pixels = self.rows.iter().flat_map(|(y, _)| row(*y)).collect();
        Raster::new(self.columns.len(), pixels)
    }

    /// The middle color of the inner part of each cell, channel by channel.
    pub(super) fn sampled(&self, raster: &Raster) -> Sampled {
        let mut pixels = Vec::with_capacity(self.columns.len() * self.rows.len());
        let mut mixed = Vec::new();
        let mut inner: Vec<Rgba> = Vec::new();
        for rows in &self.rows {
            for columns in &self.columns {
                inner.clear();
                let ((left, right), (top, bottom)) = (trimmed(*columns), trimmed(*rows));
                for y in top..bottom {
                    inner.extend_from_slice(raster.run(y, left, right));
                }
                let color = middle(&inner);
                let near = inner.iter().filter(|pixel| is_near(**pixel, color)).count();
                if near * NEAR_PART.1 < inner.len() * NEAR_PART.0 {
                    mixed.push(pixels.len());
                }
                pixels.push(color);
            }
        }
        Sampled { raster: Raster::new(self.columns.len(), pixels), mixed }
    }
}

/// The first and last lines of cells that belong to a border.
struct Rims {
    first: bool,
    last: bool,
    colors: Vec<Rgba>,
}

impl Rims {
    fn drop_from(&self, cells: &mut Vec<(usize, usize)>) {
        if self.last {
            cells.pop();
        }
        if self.first {
            cells.remove(0);
        }
    }
}

/// `line` says which color a line of pixels has, if one.
fn narrow_rims(
    cells: &[(usize, usize)],
    side: usize,
    line: &dyn Fn(usize) -> Option<Rgba>,
) -> Rims {
    let mut rims = Rims { first: false, last: false, colors: Vec::new() };
    let border = |rim: &(usize, usize), next: usize| {
        let color = line(rim.0)?;
        let narrow = rim.1 - rim.0 < side && (rim.0..rim.1).all(|at| line(at) == Some(color));
        (narrow && ((rim.1 - rim.0) * 2 < side || line(next) != Some(color))).then_some(color)
    };
    if let [first, .., last] = cells {
        let colors =
            (border(first, first.1), last.0.checked_sub(1).and_then(|next| border(last, next)));
        (rims.first, rims.last) = (colors.0.is_some(), colors.1.is_some());
        rims.colors.extend([colors.0, colors.1].into_iter().flatten());
    }
    rims
}

/// The color of pixels that have one.
fn plain(mut pixels: impl Iterator<Item = Rgba>) -> Option<Rgba> {
    let first = pixels.next()?;
    pixels.all(|pixel| pixel == first).then_some(first)
}

/// The inner part of a range, at least one pixel.
fn trimmed((from, to): (usize, usize)) -> (usize, usize) {
    let edge = (to - from + 2) / EDGE_PART;
    let (inner_from, inner_to) = (from + edge, to.saturating_sub(edge));
    if inner_from < inner_to { (inner_from, inner_to) } else { (from, to) }
}

fn middle(pixels: &[Rgba]) -> Rgba {
    let mut values = Vec::with_capacity(pixels.len());
    [0, 1, 2, 3].map(|channel: usize| {
        values.clear();
        values.extend(pixels.iter().filter_map(|pixel| pixel.get(channel).copied()));
        let half = values.len() / 2;
        if values.is_empty() { 0 } else { *values.select_nth_unstable(half).1 }
    })
}

fn is_near(first: Rgba, second: Rgba) -> bool {
    first.iter().zip(&second).all(|(first, second)| first.abs_diff(*second) <= NEAR)
}

#[cfg(test)]
mod tests {
    use super::{Lattice, trimmed};
    use crate::chart::picture::raster::Raster;

    #[test]
    fn the_rims_of_a_cell_do_not_count() {
        assert_eq!(trimmed((0, 10)), (2, 8));
        assert_eq!(trimmed((0, 3)), (1, 2));
        assert_eq!(trimmed((5, 7)), (5, 7));
        assert_eq!(trimmed((5, 6)), (5, 6));
    }

    #[test]
    fn uneven_cells_are_divided_evenly() {
        // 3 cells over 8 pixels: 2, 3 and 3 pixels.
        let reds = [10, 10, 90, 90, 90, 200, 200, 200];
        let raster = Raster::new(8, reds.iter().map(|red| [*red, 0, 0, 255]).collect());
        let sampled = Lattice::of_cells(&raster, 3, 1).sampled(&raster);
        let found: Vec<u8> = sampled.raster.pixels().iter().map(|pixel| pixel[0]).collect();
        assert_eq!((found, sampled.mixed), (vec![10, 90, 200], vec![]));
    }
}
