//! Places of cells in reading order and their neighbors. It does not know what stands in a cell.

/// Cells across and all cells.
#[derive(Clone, Copy, Debug)]
pub(super) struct Raster {
    width: usize,
    height: usize,
}

impl Raster {
    pub(super) fn of(width: usize, cells: usize) -> Self {
        let width = width.max(1);
        Self { width, height: cells / width }
    }

    pub(super) fn columns(self) -> usize {
        self.width
    }

    pub(super) fn rows(self) -> usize {
        self.height
    }

    /// Column and row of a cell.
    pub(super) fn at(self, place: usize) -> (usize, usize) {
        (place % self.width, place / self.width)
    }

    /// All cells no farther than `radius` rows and columns, without the cell itself.
    pub(super) fn around(self, place: usize, radius: usize) -> impl Iterator<Item = usize> {
        let (x, y) = (place % self.width, place / self.width);
        let rows = y.saturating_sub(radius)..(y + radius + 1).min(self.height);
        let columns = x.saturating_sub(radius)..(x + radius + 1).min(self.width);
        rows.flat_map(move |row| columns.clone().map(move |column| row * self.width + column))
            .filter(move |other| *other != place)
    }

    /// The cell so many columns and rows away; `None` beyond the edge.
    pub(super) fn step(self, place: usize, right: isize, down: isize) -> Option<usize> {
        let x = (place % self.width).checked_add_signed(right)?;
        let y = (place / self.width).checked_add_signed(down)?;
        (x < self.width && y < self.height).then(|| y * self.width + x)
    }

    /// The cell so many columns and rows away, or the last one before the edge.
    pub(super) fn near(self, place: usize, right: isize, down: isize) -> usize {
        let x = (place % self.width).saturating_add_signed(right).min(self.width - 1);
        let y = (place / self.width).saturating_add_signed(down).min(self.height.max(1) - 1);
        y * self.width + x
    }

    /// Rows or columns between two cells, whichever are more.
    pub(super) fn reach(self, one: usize, other: usize) -> usize {
        let columns = (one % self.width).abs_diff(other % self.width);
        let rows = (one / self.width).abs_diff(other / self.width);
        columns.max(rows)
    }
}
