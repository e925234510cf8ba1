//! The column of every row in the end: its own thread where that is as good, and moved about so that
//! touching colors stay apart. It does not choose among numbers of threads.

use super::EDGES_PART;
use super::limited::Answer;
use crate::error::Result;
use crate::planner::case::Case;
use crate::planner::contrast::{self, Contrast, Start};
use crate::planner::median::Solution;
use crate::planner::meter::Meter;
use crate::planner::model::Reduction;

/// A reduction by stitches alone.
pub(super) struct Plain<'p, 'a, 'c> {
    pub(super) case: &'p Case<'a, 'c>,
    pub(super) reduction: &'p Reduction<'c>,
    pub(super) answer: &'p Answer,
    /// What keeps and answers settle of what is made small.
    pub(super) settled: f64,
    /// True when what is made small is the mean difference.
    pub(super) is_mean: bool,
}

/// The columns that were chosen in the end.
pub(super) struct Chosen {
    /// The column of each row.
    pub(super) columns: Vec<usize>,
    /// What the rows pay for them, prices included.
    pub(super) rows: f64,
    /// No open column would be cheaper for any row, and the open ones are those of the solution.
    pub(super) is_least: bool,
    /// Lower bound on mean difference and lost contrast together, where contrast counts.
    pub(super) with_edges: Option<f64>,
}

impl Plain<'_, '_, '_> {
    /// Moves threads and colors about so that touching colors stay apart, where that counts.
    pub(super) fn chosen(
        &self,
        contrast: Option<&Contrast>,
        meter: &mut Meter<'_>,
    ) -> Result<Chosen> {
        let columns = self.columns(meter)?;
        let Answer { solution, limits, .. } = self.answer;
        let least = solution.total;
        let Some(contrast) = contrast else {
            return Ok(Chosen { columns, rows: least, is_least: true, with_edges: None });
        };
        let bound = self.settled + solution.bound;
        let tell = |meter: &Meter<'_>, part: f64| {
            let part = 1.0 - EDGES_PART * (1.0 - part);
            match self.is_mean {
                true => meter.tell(part, self.settled + least, Some(bound)),
                false => meter.tell_part(part),
            }
        };
        let start =
            Start { open: &solution.open, columns: &columns, multipliers: &solution.multipliers };
        let kept = match limits {
            None => contrast::keep(self.case, self.reduction, (contrast, start), meter, &tell)?,
            Some(limits) => {
                let within = (self.reduction, limits);
                contrast::keep_within(self.case, within, (contrast, start), meter)?
            }
        };
        let with_edges = (self.settled + self.answer.beside + kept.bound).max(bound);
        let rows = self.paid(&kept.columns, meter)?;
        let is_least = rows <= least;
        Ok(Chosen { columns: kept.columns, rows, is_least, with_edges: Some(with_edges) })
    }

    /// The column of every row.
    fn columns(&self, meter: &mut Meter<'_>) -> Result<Vec<usize>> {
        let Self { case, reduction, answer, .. } = self;
        let Answer { solution, limits, .. } = answer;
        let mut columns = Vec::with_capacity(solution.seats.len());
        for (row, (place, seat)) in reduction.colors.iter().zip(&solution.seats).enumerate() {
            let own = own_column(case, reduction, solution, row, *place);
            let own = own.filter(|_| limits.is_none());
            let listed = own.unwrap_or(*seat);
            columns.push(match listed < reduction.threads.len() {
                true => listed,
                false => nearest_open(case, reduction, solution, *place, meter)?,
            });
        }
        Ok(columns)
    }

    /// What the rows pay for these columns, prices included.
    fn paid(&self, columns: &[usize], meter: &mut Meter<'_>) -> Result<f64> {
        let cells = &self.reduction.problem.cells;
        let mut sum = 0.0;
        for (row, column) in columns.iter().enumerate() {
            let listed = cells.row(row).find(|(_, other)| other == column);
            let mut cost = listed.map_or(f64::INFINITY, |(cost, _)| cost);
            let wanted = std::iter::once((*column, &mut cost));
            self.reduction.measure_unlisted(self.case, row, wanted, meter)?;
            sum += cost;
        }
        Ok(sum + self.answer.beside + self.prices(columns))
    }

    /// What columns cost that serve rows or are locked.
    fn prices(&self, columns: &[usize]) -> f64 {
        let problem = &self.reduction.problem;
        let is_used = |column: &usize| {
            columns.contains(column) || problem.locked.get(*column).is_some_and(|locked| *locked)
        };
        let used = (0..problem.prices.len()).filter(is_used);
        match &self.answer.limits {
            None => used.filter_map(|column| problem.prices.get(column)).sum(),
            Some(limits) => used.map(|column| limits.price(column, columns)).sum(),
        }
    }
}

/// The open column nearest to a color that has none in its list.
fn nearest_open(
    case: &Case<'_, '_>,
    reduction: &Reduction<'_>,
    solution: &Solution,
    place: usize,
    meter: &mut Meter<'_>,
) -> Result<usize> {
    let mut best = (f64::INFINITY, usize::MAX);
    let Some(standard) = case.standards.get(place) else { return Ok(best.1) };
    for column in &solution.open {
        let Some(thread) = reduction.threads.get(*column) else { continue };
        let difference = meter.difference(standard, &thread.thread.color, case.ask.formula)?;
        if difference < best.0 && !case.refuses(place, *thread) {
            best = (difference, *column);
        }
    }
    Ok(best.1)
}

/// A color stays in its own thread when that one is open and no other is nearer.
fn own_column(
    case: &Case<'_, '_>,
    reduction: &Reduction<'_>,
    solution: &Solution,
    row: usize,
    place: usize,
) -> Option<usize> {
    let own = case.own_threads(case.palette.colors().get(place)?)?;
    let [own] = own.as_slice() else { return None };
    let column = reduction.threads.binary_search(own).ok()?;
    solution.open.binary_search(&column).ok()?;
    // Cheapest cells come first: of those open, only equals of the first may take its place.
    let cells = &reduction.problem.cells;
    let is_open = |(_, column): &(f64, usize)| solution.open.binary_search(column).is_ok();
    let mut open = cells.row(row).filter(is_open);
    let (least, first) = open.next()?;
    let equals = open.take_while(|(cost, _)| *cost <= least);
    (first == column || equals.map(|(_, other)| other).any(|other| other == column))
        .then_some(column)
}
