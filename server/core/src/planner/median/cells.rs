//! What each row pays for each column: lists by row, cheapest first, and lists by column.
//! It does not know how the cells are used.

/// Cells by row and by column. A row may leave out dear cells: [`Beyond`] says what those cost.
#[derive(Clone, Debug)]
pub(in crate::planner) struct Cells {
    by_row: Lists,
    by_column: Lists,
    beyond: Vec<Beyond>,
}

/// What the usable cells of a row cost that its list leaves out.
#[derive(Clone, Copy, Debug)]
pub(in crate::planner) struct Beyond {
    /// None costs less; infinite when none is left out.
    pub(in crate::planner) least: f64,
    /// None costs more; infinite when none is left out.
    pub(in crate::planner) most: f64,
}

impl Beyond {
    /// The list is whole.
    pub(in crate::planner) const NOTHING: Self = Self { least: f64::INFINITY, most: f64::INFINITY };
}

impl Cells {
    /// Cells from rows of (cost, column); of one row no column comes twice, and every column is
    /// below `columns`. `beyond` tells of each row what its list leaves out.
    pub(in crate::planner) fn new(
        columns: usize,
        rows: Vec<Vec<(f64, u32)>>,
        beyond: Vec<Beyond>,
    ) -> Self {
        let mut by_row = Lists::default();
        for mut row in rows {
            row.sort_unstable_by(|(one, first), (two, second)| {
                one.total_cmp(two).then(first.cmp(second))
            });
            by_row.push(&row);
        }
        let by_column = by_row.turned(columns);
        Self { by_row, by_column, beyond }
    }

    /// Rows.
    pub(in crate::planner) fn rows(&self) -> usize {
        self.by_row.len()
    }

    /// Cells listed, of all rows.
    pub(super) fn cells(&self) -> usize {
        self.by_row.cells()
    }

    /// Columns.
    pub(in crate::planner) fn columns(&self) -> usize {
        self.by_column.len()
    }

    /// The cells of a row, cheapest first, equal ones by column.
    pub(in crate::planner) fn row(&self, row: usize) -> impl Iterator<Item = (f64, usize)> {
        self.by_row.list(row)
    }

    /// How many columns can serve a row.
    pub(in crate::planner) fn row_len(&self, row: usize) -> usize {
        self.by_row.list_len(row)
    }

    /// What a row pays for a column; `None` where that cannot serve it.
    pub(in crate::planner) fn cost(&self, row: usize, column: usize) -> Option<f64> {
        self.by_column.cost(column, name(row))
    }

    /// The same cells without those that are not wanted.
    pub(in crate::planner) fn only(&self, wanted: impl Fn(usize, usize) -> bool) -> Self {
        let of_row = |row| {
            let cells = self.row(row).filter(|(_, column)| wanted(row, *column));
            cells.map(|(cost, column)| (cost, name(column))).collect()
        };
        let rows = (0..self.rows()).map(of_row).collect();
        Self::new(self.columns(), rows, self.beyond.clone())
    }

    /// The same cells at no cost.
    pub(in crate::planner) fn free_of_cost(&self) -> Self {
        let free = |row| self.row(row).map(|(_, column)| (0.0, name(column))).collect();
        let rows = (0..self.rows()).map(free).collect();
        Self::new(self.columns(), rows, self.beyond.clone())
    }

    /// The cells of a column, by row.
    pub(in crate::planner) fn column(&self, column: usize) -> impl Iterator<Item = (f64, usize)> {
        self.by_column.list(column)
    }

    /// How many rows a column can serve.
    pub(in crate::planner) fn column_len(&self, column: usize) -> usize {
        self.by_column.list_len(column)
    }

    /// What the lists leave out, by row.
    pub(in crate::planner) fn beyond(&self) -> &[Beyond] {
        &self.beyond
    }

    /// True when the list of a row leaves out usable cells.
    pub(in crate::planner) fn is_cut(&self, row: usize) -> bool {
        self.beyond.get(row).is_some_and(|beyond| beyond.least.is_finite())
    }

    /// True when no list leaves out a usable cell.
    pub(super) fn is_whole(&self) -> bool {
        self.beyond.iter().all(|beyond| beyond.least.is_infinite())
    }

    /// The lists by row.
    pub(super) fn by_row(&self) -> &Lists {
        &self.by_row
    }
}

/// Lists of (cost, number of the other side).
#[derive(Clone, Debug)]
pub(super) struct Lists {
    ends: Vec<usize>,
    costs: Vec<f64>,
    others: Vec<u32>,
}

impl Default for Lists {
    fn default() -> Self {
        Self { ends: vec![0], costs: Vec::new(), others: Vec::new() }
    }
}

impl Lists {
    fn push(&mut self, list: &[(f64, u32)]) {
        self.costs.extend(list.iter().map(|(cost, _)| cost));
        self.others.extend(list.iter().map(|(_, other)| other));
        self.ends.push(self.costs.len());
    }

    fn len(&self) -> usize {
        self.ends.len() - 1
    }

    /// All cells.
    pub(super) fn cells(&self) -> usize {
        self.costs.len()
    }

    fn range(&self, place: usize) -> std::ops::Range<usize> {
        match self.ends.get(place..).unwrap_or_default() {
            [start, end, ..] => *start..*end,
            _ => 0..0,
        }
    }

    fn list_len(&self, place: usize) -> usize {
        self.range(place).len()
    }

    /// One list.
    pub(super) fn list(&self, place: usize) -> impl Iterator<Item = (f64, usize)> {
        let range = self.range(place);
        let costs = self.costs.get(range.clone()).unwrap_or_default();
        let others = self.others.get(range).unwrap_or_default();
        costs.iter().zip(others).map(|(cost, other)| (*cost, *other as usize))
    }

    /// The cost of one cell of a list that is in the order of the other side.
    fn cost(&self, place: usize, other: u32) -> Option<f64> {
        let range = self.range(place);
        let others = self.others.get(range.clone()).unwrap_or_default();
        let at = others.binary_search(&other).ok()?;
        self.costs.get(range.start + at).copied()
    }

    /// The same cells without those whose other side is not wanted.
    pub(super) fn only(&self, wanted: impl Fn(usize) -> bool) -> Self {
        let mut kept = Self::default();
        for place in 0..self.len() {
            for (cost, other) in self.list(place).filter(|(_, other)| wanted(*other)) {
                kept.costs.push(cost);
                kept.others.push(name(other));
            }
            kept.ends.push(kept.costs.len());
        }
        kept
    }

    /// The same cells listed by their other side.
    fn turned(&self, others: usize) -> Self {
        let mut next = vec![0_usize; others + 1];
        for other in &self.others {
            if let Some(count) = next.get_mut(*other as usize + 1) {
                *count += 1;
            }
        }
        let mut sum = 0;
        for count in &mut next {
            sum += *count;
            *count = sum;
        }
        let ends = next.clone();
        let mut turned =
            Self { ends, costs: vec![0.0; self.cells()], others: vec![0; self.cells()] };
        for place in 0..self.len() {
            for (cost, other) in self.list(place) {
                let Some(at) = next.get_mut(other) else { continue };
                if let (Some(held), Some(holder)) =
                    (turned.costs.get_mut(*at), turned.others.get_mut(*at))
                {
                    (*held, *holder) = (cost, name(place));
                }
                *at += 1;
            }
        }
        turned
    }
}

/// Rows and columns are counted in 32 bits: a palette has at most 4,096 colors, and a catalog never
/// comes near.
pub(super) fn name(place: usize) -> u32 {
    u32::try_from(place).unwrap_or(u32::MAX)
}
