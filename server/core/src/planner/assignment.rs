//! The cheapest way to give each row a column of its own: Hungarian method on a rectangle, by
//! shortest augmenting paths. It does not know what rows and columns stand for.

use super::meter::Meter;
use crate::error::Result;

/// Gives each row a column of its own so that the sum of costs is least. `costs` holds one row
/// after another, finite; rows are at most as many as columns. Of equal sums, the answer prefers
/// lower columns for the rows in their order.
///
/// Work: rows² times columns.
pub(super) fn assign(
    costs: &[Vec<f64>],
    columns: usize,
    meter: &mut Meter<'_>,
) -> Result<Vec<usize>> {
    let mut tableau = Tableau::new(costs.len(), columns);
    for row in 0..costs.len() {
        tableau.seat(row, costs, meter)?;
    }
    let mut answer = vec![0; costs.len()];
    for (column, row) in tableau.row_of.iter().enumerate() {
        if let Some(place) = row.and_then(|row| answer.get_mut(row)) {
            *place = column;
        }
    }
    Ok(answer)
}

/// Prices of rows and columns, and who sits where.
struct Tableau {
    row_prices: Vec<f64>,
    column_prices: Vec<f64>,
    row_of: Vec<Option<usize>>,
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

impl Tableau {
    fn new(rows: usize, columns: usize) -> Self {
        Self {
            row_prices: vec![0.0; rows],
            column_prices: vec![0.0; columns],
            row_of: vec![None; columns],
        }
    }

    /// Finds the shortest path from a row without a column to a free column and moves along it.
    fn seat(&mut self, row: usize, costs: &[Vec<f64>], meter: &mut Meter<'_>) -> Result<()> {
        let unseen = Step { cost: f64::INFINITY, from: None, done: false };
        let mut steps = vec![unseen; self.column_prices.len()];
        let (mut at, mut from, mut reached) = (row, None, 0.0);
        let mut path_rows = vec![(row, 0.0)];
        loop {
            meter.look()?;
            self.relax(&mut steps, costs, (at, from, reached));
            let Some((column, cost)) = nearest_open(&steps) else { return Ok(()) };
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
                    return Ok(());
                }
            }
        }
    }

    /// Lets the row `at`, reached at a cost through its column, shorten the paths to others.
    fn relax(
        &self,
        steps: &mut [Step],
        costs: &[Vec<f64>],
        (at, from, reached): (usize, Option<usize>, f64),
    ) {
        let row_price = self.row_prices.get(at).copied().unwrap_or(0.0);
        let row = costs.get(at).map_or(&[] as &[f64], Vec::as_slice);
        for (step, (cost, price)) in steps.iter_mut().zip(row.iter().zip(&self.column_prices)) {
            let through = reached + cost - row_price - price;
            if !step.done && through < step.cost {
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

    fn sum(costs: &[Vec<f64>], answer: &[usize]) -> f64 {
        costs.iter().zip(answer).map(|(row, column)| row[*column]).sum()
    }

    /// The least sum over all ways to seat the rows, by trying each.
    fn brute_force(costs: &[Vec<f64>], taken: &mut Vec<usize>) -> f64 {
        let Some(row) = costs.get(taken.len()) else { return 0.0 };
        let mut best = f64::INFINITY;
        for (column, cost) in row.iter().enumerate() {
            if !taken.contains(&column) {
                taken.push(column);
                best = best.min(cost + brute_force(costs, taken));
                taken.pop();
            }
        }
        best
    }

    proptest! {
        #[test]
        fn equals_the_best_of_all_permutations(
            rows in 1_usize..=5,
            spare in 0_usize..=3,
            seed in prop::collection::vec(0_u16..40, 40),
        ) {
            let columns = rows + spare;
            let costs: Vec<Vec<f64>> =
                seed.chunks(columns).take(rows).map(|row| row.iter().map(|c| f64::from(*c)).collect()).collect();
            prop_assume!(costs.len() == rows && costs.iter().all(|row| row.len() == columns));
            let answer = assign(&costs, columns, &mut Meter::new(&Patient)).unwrap();
            let mut seats = answer.clone();
            seats.sort_unstable();
            seats.dedup();
            prop_assert_eq!(seats.len(), rows);
            prop_assert!((sum(&costs, &answer) - brute_force(&costs, &mut Vec::new())).abs() < 1e-9);
        }
    }

    #[test]
    fn second_choices_give_way_to_the_better_sum() {
        let costs = vec![vec![1.0, 2.0], vec![1.0, 9.0]];
        assert_eq!(assign(&costs, 2, &mut Meter::new(&Patient)).unwrap(), vec![1, 0]);
    }
}
