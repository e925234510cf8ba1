//! The cheapest way to give each row a column of its own: Hungarian method on a rectangle, by
//! shortest augmenting paths, which can go on from prices that it found before. It does not know
//! what rows and columns stand for, nor why a row may not have a column.

use super::meter::Meter;
use crate::error::Result;

/// Cells looked at between two looks at the watch: well under a millisecond.
const CELLS_BETWEEN_LOOKS: u64 = 1 << 18;

/// What sums of prices may be off by from rounding.
const ROUNDED: f64 = 1e-12;

/// Costs of each row with each column, finite and 0 or more; infinite where a row may not have it.
#[derive(Clone, Debug)]
pub(super) struct Grid {
    columns: usize,
    cells: Vec<f64>,
}

impl Grid {
    /// A grid from rows of one length.
    pub(super) fn new(columns: usize, rows: &[Vec<f64>]) -> Self {
        Self { columns, cells: rows.concat() }
    }

    pub(super) fn columns(&self) -> usize {
        self.columns
    }

    pub(super) fn rows(&self) -> usize {
        self.cells.len().checked_div(self.columns).unwrap_or(0)
    }

    /// What a row pays for each column.
    pub(super) fn row(&self, row: usize) -> &[f64] {
        let start = row * self.columns;
        self.cells.get(start..start + self.columns).unwrap_or(&[])
    }

    pub(super) fn cell(&self, row: usize, column: usize) -> f64 {
        self.row(row).get(column).copied().unwrap_or(f64::INFINITY)
    }

    /// The same with all costs 0.
    pub(super) fn free_of_charge(&self) -> Self {
        let free = |cost: &f64| if cost.is_finite() { 0.0 } else { f64::INFINITY };
        Self { columns: self.columns, cells: self.cells.iter().map(free).collect() }
    }

    /// Makes a cell dearer, or cheaper again.
    pub(super) fn charge(&mut self, row: usize, column: usize, more: f64) {
        let place = row * self.columns + column;
        self.cells.get_mut(place).into_iter().for_each(|cell| *cell += more);
    }

    /// Bytes that a copy takes.
    pub(super) fn bytes(&self) -> usize {
        self.cells.len() * 8
    }
}

/// Which columns each row may still have, as bits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Domains {
    words: usize,
    bits: Vec<u64>,
}

impl Domains {
    /// No column for any row.
    pub(super) fn none(grid: &Grid) -> Self {
        let words = grid.columns().div_ceil(64);
        Self { words, bits: vec![0; words * grid.rows()] }
    }

    /// Every column with a finite cost.
    pub(super) fn of(grid: &Grid) -> Self {
        let mut all = Self::none(grid);
        for row in 0..grid.rows() {
            for (column, cost) in grid.row(row).iter().enumerate() {
                if cost.is_finite() {
                    all.put(row, column);
                }
            }
        }
        all
    }

    fn place(&self, row: usize, column: usize) -> (usize, u64) {
        (row * self.words + column / 64, 1 << (column % 64))
    }

    /// Gives a row a column.
    pub(super) fn put(&mut self, row: usize, column: usize) {
        let (place, bit) = self.place(row, column);
        self.bits.get_mut(place).into_iter().for_each(|word| *word |= bit);
    }

    /// Takes a column from a row; true when the row had it.
    pub(super) fn take(&mut self, row: usize, column: usize) -> bool {
        let (place, bit) = self.place(row, column);
        let Some(word) = self.bits.get_mut(place) else { return false };
        let had = *word & bit != 0;
        *word &= !bit;
        had
    }

    /// True when the row may have the column.
    pub(super) fn has(&self, row: usize, column: usize) -> bool {
        let (place, bit) = self.place(row, column);
        self.bits.get(place).is_some_and(|word| word & bit != 0)
    }

    /// The columns that a row may have, in their order.
    pub(super) fn columns(&self, row: usize) -> impl DoubleEndedIterator<Item = usize> + '_ {
        let start = row * self.words;
        let words = self.bits.get(start..start + self.words).unwrap_or(&[]);
        words
            .iter()
            .enumerate()
            .flat_map(|(place, word)| Bits(*word).map(move |bit| place * 64 + bit))
    }

    /// The first column of a row.
    pub(super) fn first(&self, row: usize) -> Option<usize> {
        self.columns(row).next()
    }

    /// The last column of a row.
    pub(super) fn last(&self, row: usize) -> Option<usize> {
        self.columns(row).next_back()
    }

    /// The only column of a row; `None` when it has more, or none.
    pub(super) fn only(&self, row: usize) -> Option<usize> {
        let mut columns = self.columns(row);
        let first = columns.next()?;
        columns.next().is_none().then_some(first)
    }

    /// Bytes that a copy takes.
    pub(super) fn bytes(&self) -> usize {
        self.bits.len() * 8
    }
}

/// The places of the set bits of a word.
struct Bits(u64);

impl Iterator for Bits {
    type Item = usize;

    fn next(&mut self) -> Option<usize> {
        let lowest = (self.0 != 0).then(|| self.0.trailing_zeros())?;
        self.0 &= self.0 - 1;
        usize::try_from(lowest).ok()
    }
}

impl DoubleEndedIterator for Bits {
    fn next_back(&mut self) -> Option<usize> {
        let highest = (self.0 != 0).then(|| 63 - self.0.leading_zeros())?;
        self.0 &= !(1 << highest);
        usize::try_from(highest).ok()
    }
}

/// Prices of rows and columns, and who sits where. The prices of a row and a column never add up to
/// more than their cell, and to exactly the cell where the row sits, so that the sum of all prices
/// is the least sum of costs.
#[derive(Clone, Debug)]
pub(super) struct Seats {
    row_prices: Vec<f64>,
    column_prices: Vec<f64>,
    row_of: Vec<Option<usize>>,
    column_of: Vec<Option<usize>>,
}

/// One column on the way to a free one.
#[derive(Clone, Copy)]
struct Step {
    /// Reduced cost of the shortest path to the column.
    cost: f64,
    /// The column before it on that path; `None` when the path starts here.
    from: Option<usize>,
    done: bool,
}

impl Seats {
    /// Nobody sits, and nothing costs.
    pub(super) fn empty(grid: &Grid) -> Self {
        Self {
            row_prices: vec![0.0; grid.rows()],
            column_prices: vec![0.0; grid.columns()],
            row_of: vec![None; grid.columns()],
            column_of: vec![None; grid.rows()],
        }
    }

    /// The column of each row, in the order of the rows; `None` where it has none yet.
    pub(super) fn columns(&self) -> &[Option<usize>] {
        &self.column_of
    }

    /// The least sum of costs as long as every row sits: the sum of all prices.
    pub(super) fn bound(&self) -> f64 {
        self.row_prices.iter().sum::<f64>() + self.column_prices.iter().sum::<f64>()
    }

    /// What the sum grows by at least when the row takes the column.
    pub(super) fn extra(&self, grid: &Grid, row: usize, column: usize) -> f64 {
        let price = |prices: &[f64], place: usize| prices.get(place).copied().unwrap_or(0.0);
        let cost = grid.cell(row, column);
        cost - price(&self.row_prices, row) - price(&self.column_prices, column)
    }

    /// The price of a row.
    pub(super) fn row_price(&self, row: usize) -> f64 {
        self.row_prices.get(row).copied().unwrap_or(0.0)
    }

    /// Gets a row up when it sits where it no longer may.
    pub(super) fn leave(&mut self, row: usize) {
        if let Some(column) = self.column_of.get_mut(row).and_then(Option::take)
            && let Some(seat) = self.row_of.get_mut(column)
        {
            *seat = None;
        }
    }

    /// Makes up for cells that cost more or less than before: rows get up where they do not sit at
    /// the least price any more.
    pub(super) fn reprice_rows(&mut self, grid: &Grid, domains: &Domains) {
        for row in 0..self.row_prices.len() {
            let seat = self.column_of.get(row).copied().flatten();
            if seat.is_some_and(|column| self.extra(grid, row, column) > ROUNDED) {
                self.leave(row);
            }
            let open = domains.columns(row).map(|column| self.extra(grid, row, column));
            let least = open.fold(0.0, f64::min);
            if least < 0.0 {
                self.row_prices.get_mut(row).into_iter().for_each(|price| *price += least);
                if least < -ROUNDED {
                    self.leave(row);
                }
            }
        }
    }

    /// Seats every row that does not sit, by the shortest paths; false when one of them cannot sit.
    ///
    /// Work: for each such row at most rows times columns.
    pub(super) fn seat_all(
        &mut self,
        grid: &Grid,
        domains: &Domains,
        meter: &mut Meter<'_>,
    ) -> Result<bool> {
        self.refund(grid, domains);
        let waiting: Vec<usize> = (0..self.column_of.len())
            .filter(|row| self.column_of.get(*row).copied().flatten().is_none())
            .collect();
        for row in waiting {
            if !self.seat(row, (grid, domains), meter)? {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Columns that nobody sits on cost nothing: raises their price to 0, and unseats the rows for
    /// which that is too much.
    fn refund(&mut self, grid: &Grid, domains: &Domains) {
        loop {
            let free: Vec<usize> = self
                .row_of
                .iter()
                .zip(&self.column_prices)
                .enumerate()
                .filter_map(|(column, (row, price))| {
                    (row.is_none() && *price < 0.0).then_some(column)
                })
                .collect();
            if free.is_empty() {
                return;
            }
            for column in &free {
                self.column_prices.get_mut(*column).into_iter().for_each(|price| *price = 0.0);
            }
            for row in 0..self.row_prices.len() {
                self.lower(row, &free, (grid, domains));
            }
        }
    }

    /// Lowers the price of a row so far that the freed columns are not too dear together with it; it
    /// leaves its seat then, whose column is paid no longer.
    fn lower(&mut self, row: usize, free: &[usize], (grid, domains): (&Grid, &Domains)) {
        let open = free.iter().filter(|column| domains.has(row, **column));
        let least = open.map(|column| self.extra(grid, row, *column)).fold(0.0, f64::min);
        if least < 0.0 {
            self.row_prices.get_mut(row).into_iter().for_each(|price| *price += least);
            self.leave(row);
        }
    }

    /// Finds the shortest path from a row without a column to a free column and moves along it.
    fn seat(
        &mut self,
        row: usize,
        (grid, domains): (&Grid, &Domains),
        meter: &mut Meter<'_>,
    ) -> Result<bool> {
        let unseen = Step { cost: f64::INFINITY, from: None, done: false };
        let mut steps = vec![unseen; self.column_prices.len()];
        let (mut at, mut from, mut reached) = (row, None, 0.0);
        let mut path_rows = vec![(row, 0.0)];
        loop {
            meter.work(grid.columns() as u64, CELLS_BETWEEN_LOOKS)?;
            self.relax(&mut steps, (grid, domains), (at, from, reached));
            let Some((column, cost)) = nearest_open(&steps) else { return Ok(false) };
            if let Some(step) = steps.get_mut(column) {
                step.done = true;
            }
            reached = cost;
            match self.row_of.get(column).copied().flatten() {
                Some(next) => {
                    path_rows.push((next, cost));
                    (at, from) = (next, Some(column));
                }
                None => {
                    self.reprice(&steps, &path_rows, reached);
                    self.move_along(&steps, row, column);
                    return Ok(true);
                }
            }
        }
    }

    /// Lets the row `at`, reached at a cost through its column, shorten the paths to others.
    fn relax(
        &self,
        steps: &mut [Step],
        (grid, domains): (&Grid, &Domains),
        (at, from, reached): (usize, Option<usize>, f64),
    ) {
        let row_price = self.row_prices.get(at).copied().unwrap_or(0.0);
        let costs = grid.row(at);
        for column in domains.columns(at) {
            let price = self.column_prices.get(column).copied().unwrap_or(0.0);
            let cost = costs.get(column).copied().unwrap_or(f64::INFINITY);
            let through = reached + cost - row_price - price;
            if let Some(step) = steps.get_mut(column)
                && !step.done
                && through < step.cost
            {
                (step.cost, step.from) = (through, from);
            }
        }
    }

    fn reprice(&mut self, steps: &[Step], path_rows: &[(usize, f64)], reached: f64) {
        for (row, cost) in path_rows {
            if let Some(price) = self.row_prices.get_mut(*row) {
                *price += reached - cost;
            }
        }
        for (price, step) in self.column_prices.iter_mut().zip(steps) {
            if step.done {
                *price -= reached - step.cost;
            }
        }
    }

    fn move_along(&mut self, steps: &[Step], row: usize, free: usize) {
        let mut column = free;
        loop {
            let from = steps.get(column).and_then(|step| step.from);
            let mover = match from {
                Some(before) => self.row_of.get(before).copied().flatten(),
                None => Some(row),
            };
            if let Some(seat) = self.row_of.get_mut(column) {
                *seat = mover;
            }
            if let Some(seat) = mover.and_then(|mover| self.column_of.get_mut(mover)) {
                *seat = Some(column);
            }
            let Some(before) = from else { return };
            column = before;
        }
    }
}

fn nearest_open(steps: &[Step]) -> Option<(usize, f64)> {
    let open = steps.iter().enumerate().filter(|(_, step)| !step.done && step.cost.is_finite());
    open.map(|(column, step)| (column, step.cost)).min_by(|one, two| one.1.total_cmp(&two.1))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::watch::Patient;

    /// The least sum over all ways to seat the rows where they may sit, by trying each.
    fn brute_force(grid: &Grid, domains: &Domains, taken: &mut Vec<usize>) -> f64 {
        let row = taken.len();
        if row == grid.rows() {
            return 0.0;
        }
        let mut best = f64::INFINITY;
        for column in domains.columns(row) {
            if !taken.contains(&column) {
                taken.push(column);
                best = best.min(grid.cell(row, column) + brute_force(grid, domains, taken));
                taken.pop();
            }
        }
        best
    }

    fn sum(grid: &Grid, seats: &Seats) -> f64 {
        let cost = |(row, column): (usize, &Option<usize>)| grid.cell(row, column.unwrap());
        seats.columns().iter().enumerate().map(cost).sum()
    }

    fn check(grid: &Grid, domains: &Domains, seats: &mut Seats) -> bool {
        let seated = seats.seat_all(grid, domains, &mut Meter::new(&Patient)).unwrap();
        let best = brute_force(grid, domains, &mut Vec::new());
        assert_eq!(seated, best.is_finite());
        if seated {
            let mut columns: Vec<_> = seats.columns().iter().flatten().collect();
            columns.sort_unstable();
            columns.dedup();
            assert_eq!(columns.len(), grid.rows());
            assert!((sum(grid, seats) - best).abs() < 1e-9, "{} {best}", sum(grid, seats));
            assert!((seats.bound() - best).abs() < 1e-9, "{} {best}", seats.bound());
        }
        seated
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(512))]

        #[test]
        fn equals_the_best_of_all_permutations_and_goes_on_when_columns_are_taken(
            rows in 1_usize..=5,
            spare in 0_usize..=3,
            seed in prop::collection::vec(0_u16..40, 40),
            losses in prop::collection::vec((0_usize..5, 0_usize..8), 0..12),
        ) {
            let columns = rows + spare;
            let costs: Vec<Vec<f64>> = seed
                .chunks(columns)
                .take(rows)
                .map(|row| row.iter().map(|c| f64::from(*c)).collect())
                .collect();
            prop_assume!(costs.len() == rows && costs.iter().all(|row| row.len() == columns));
            let grid = Grid::new(columns, &costs);
            let mut domains = Domains::of(&grid);
            let mut seats = Seats::empty(&grid);
            let mut goes_on = check(&grid, &domains, &mut seats);
            for (row, column) in losses {
                let (row, column) = (row % rows, column % columns);
                if !goes_on {
                    break;
                }
                domains.take(row, column);
                if seats.columns()[row] == Some(column) {
                    seats.leave(row);
                }
                goes_on = check(&grid, &domains, &mut seats);
            }
        }
    }

    #[test]
    fn second_choices_give_way_to_the_better_sum() {
        let grid = Grid::new(2, &[vec![1.0, 2.0], vec![1.0, 9.0]]);
        let mut seats = Seats::empty(&grid);
        let domains = Domains::of(&grid);
        assert!(seats.seat_all(&grid, &domains, &mut Meter::new(&Patient)).unwrap());
        assert_eq!(seats.columns(), [Some(1), Some(0)]);
    }

    #[test]
    fn bits_come_in_order_from_both_ends() {
        let mut domains = Domains { words: 2, bits: vec![0; 2] };
        for column in [3, 63, 64, 70] {
            domains.put(0, column);
        }
        assert_eq!(domains.columns(0).collect::<Vec<_>>(), vec![3, 63, 64, 70]);
        assert_eq!(domains.columns(0).next_back(), Some(70));
        assert_eq!(domains.only(0), None);
        assert!(domains.take(0, 3) && !domains.take(0, 3));
    }
}
