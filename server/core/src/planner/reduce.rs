//! At most so many threads for a whole palette, with a bound on how much better it could be.
//! It does not know the chart.

use super::case::{Candidate, Case, Wish};
use super::contrast::{self, Contrast, Start, Terms};
use super::evidence::{self, Outcome, RUNNERS_UP};
use super::median::{self, Effort, Pace, Solution};
use super::meter::Meter;
use super::model::{Limits, Reduction};
use super::{Ask, ReduceOptions};
use crate::catalog::Catalog;
use crate::change::{ChangeList, Combined, Question};
use crate::error::{Error, ErrorKind, Place, Result};
use crate::palette::PaletteSummary;

/// What one answer is worth: one to two seconds of a core when nothing closes sooner.
const EFFORT: Effort = Effort { cells: 500_000_000, nodes: 20_000 };

/// What the start is worth of a search that keeps edges too: there a proof for stitches alone is a
/// help, not the answer.
const EFFORT_AT_FIRST: Effort = Effort { cells: 60_000_000, nodes: 200 };

/// Part of the work that keeping edges is, at its end.
const EDGES_PART: f64 = 0.5;

pub(super) fn run(
    catalog: &Catalog,
    palette: &PaletteSummary,
    ask: &Ask,
    options: &ReduceOptions,
    meter: &mut Meter<'_>,
) -> Result<ChangeList> {
    run_within(Limits::USUAL, (catalog, palette, ask), options, meter)
}

/// The same with other limits on the costs held in memory.
pub(super) fn run_within(
    limits: Limits,
    (catalog, palette, ask): (&Catalog, &PaletteSummary, &Ask),
    options: &ReduceOptions,
    meter: &mut Meter<'_>,
) -> Result<ChangeList> {
    let max_threads = options.max_threads;
    if max_threads == 0 {
        return Err(no_threads_at_all());
    }
    let case = Case::new(catalog, palette, ask, meter)?;
    let terms = Terms { keep: options.keep_edges, shading: &options.keep_shading };
    let contrast = Contrast::new(&case, terms, meter)?;
    let reduction = Reduction::new(&case, max_threads, limits, meter)?;
    can_be_served(&case, &reduction)?;
    let settled = settled_mean(&case)?;
    let (effort, share) = match contrast {
        None => (EFFORT, 1.0),
        Some(_) => (EFFORT_AT_FIRST, 1.0 - EDGES_PART),
    };
    let mut listened = Listened { meter, settled, share, fraction: 0.0 };
    let solution = match median::solve(&reduction.problem, effort, &mut listened)? {
        median::Outcome::Found(solution) => solution,
        median::Outcome::Impossible { fewest, at_least } => {
            let beside = max_threads.saturating_sub(reduction.problem.most);
            return Err(too_few(max_threads, beside, fewest, at_least));
        }
    };
    let plain = Plain { case: &case, reduction: &reduction, solution: &solution, settled };
    let chosen = plain.chosen(contrast.as_ref(), meter)?;
    let after = after(&case, &reduction, &chosen.columns);
    let runners_up = runners_up(&case, &after, meter)?;
    let bound = settled + solution.bound;
    meter.tell(1.0, settled + chosen.rows, Some(bound));
    let combined = match (&contrast, chosen.with_edges) {
        (Some(contrast), Some(with_edges)) => {
            let lost_contrast = contrast.lost(&case, &after, meter)?;
            let total = settled + chosen.rows + lost_contrast;
            let (keep_edges, lower_bound) = (options.keep_edges, with_edges.min(total));
            Some(Combined { keep_edges, lost_contrast, total, lower_bound })
        }
        _ => None,
    };
    let outcome = Outcome {
        question: Question::Reduce,
        remarks: vec![Vec::new(); after.len()],
        after,
        runners_up,
        bound: Some(bound),
        proved: solution.proved && chosen.is_least,
        combined,
    };
    evidence::list(&case, &outcome, meter)
}

/// Hears the solver on behalf of the one who waits.
struct Listened<'l, 'w> {
    meter: &'l mut Meter<'w>,
    /// Part of the mean difference that is settled beside the problem.
    settled: f64,
    /// Part of the whole work that the solver is.
    share: f64,
    fraction: f64,
}

impl Pace for Listened<'_, '_> {
    fn look(&mut self) -> Result<()> {
        self.meter.look()
    }

    fn tell(&mut self, part: f64, total: f64, bound: Option<f64>) {
        self.fraction = self.fraction.max(part * self.share);
        let bound = bound.map(|bound| self.settled + bound);
        self.meter.tell(self.fraction, self.settled + total, bound);
    }
}

/// Part of the mean difference that keeps and answers settle.
fn settled_mean(case: &Case<'_, '_>) -> Result<f64> {
    let mut sum = 0.0;
    let colors = case.palette.colors().iter().enumerate().zip(case.weights());
    for (((place, color), weight), wish) in colors.zip(&case.wishes) {
        if let Wish::Fixed(threads) = wish {
            sum += weight * evidence::mean(&evidence::differences(case, place, color, threads)?);
        }
    }
    Ok(sum)
}

/// A reduction by stitches alone.
struct Plain<'p, 'a, 'c> {
    case: &'p Case<'a, 'c>,
    reduction: &'p Reduction<'c>,
    solution: &'p Solution,
    /// Mean difference that keeps and answers settle.
    settled: f64,
}

/// The columns that were chosen in the end.
struct Chosen {
    /// The column of each row.
    columns: Vec<usize>,
    /// What the rows pay for them.
    rows: f64,
    /// No open column would be cheaper for any row, and the open ones are those of the solution.
    is_least: bool,
    /// Lower bound on mean difference and lost contrast together, where contrast counts.
    with_edges: Option<f64>,
}

impl Plain<'_, '_, '_> {
    /// Moves threads and colors about so that touching colors stay apart, where that counts.
    fn chosen(&self, contrast: Option<&Contrast>, meter: &mut Meter<'_>) -> Result<Chosen> {
        let columns = self.columns(meter)?;
        let least = self.solution.total;
        let Some(contrast) = contrast else {
            return Ok(Chosen { columns, rows: least, is_least: true, with_edges: None });
        };
        let bound = self.settled + self.solution.bound;
        let tell = |meter: &Meter<'_>, part: f64| {
            meter.tell(1.0 - EDGES_PART * (1.0 - part), self.settled + least, Some(bound));
        };
        let start = Start {
            open: &self.solution.open,
            columns: &columns,
            multipliers: &self.solution.multipliers,
        };
        let kept = contrast::keep(self.case, self.reduction, (contrast, start), meter, &tell)?;
        let with_edges = (self.settled + kept.bound).max(bound);
        let rows = self.paid(&kept.columns, meter)?;
        Ok(Chosen {
            columns: kept.columns,
            rows,
            is_least: rows <= least,
            with_edges: Some(with_edges),
        })
    }

    /// The column of every row.
    fn columns(&self, meter: &mut Meter<'_>) -> Result<Vec<usize>> {
        let Self { case, reduction, solution, .. } = self;
        let mut columns = Vec::with_capacity(solution.seats.len());
        for (row, (place, seat)) in reduction.colors.iter().zip(&solution.seats).enumerate() {
            let own = own_column(case, reduction, solution, row, *place);
            let listed = own.unwrap_or(*seat);
            columns.push(match listed < reduction.threads.len() {
                true => listed,
                false => nearest_open(case, reduction, solution, *place, meter)?,
            });
        }
        Ok(columns)
    }

    /// What the rows pay for these columns.
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
        Ok(sum)
    }
}

/// The threads of every color.
fn after<'c>(
    case: &Case<'_, 'c>,
    reduction: &Reduction<'c>,
    columns: &[usize],
) -> Vec<Vec<Candidate<'c>>> {
    let mut after: Vec<Vec<Candidate<'c>>> = case
        .wishes
        .iter()
        .map(|wish| match wish {
            Wish::Fixed(threads) => threads.clone(),
            Wish::Free(_) => Vec::new(),
        })
        .collect();
    for (place, column) in reduction.colors.iter().zip(columns) {
        let thread = reduction.threads.get(*column);
        if let (Some(after), Some(thread)) = (after.get_mut(*place), thread) {
            after.push(*thread);
        }
    }
    after
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

/// The nearest other threads of every color that changes.
pub(super) fn runners_up<'c>(
    case: &Case<'_, 'c>,
    after: &[Vec<Candidate<'c>>],
    meter: &mut Meter<'_>,
) -> Result<Vec<Vec<Candidate<'c>>>> {
    let mut all = Vec::with_capacity(after.len());
    for (place, after) in after.iter().enumerate() {
        let near = case.nearest_to(place, RUNNERS_UP + after.len(), meter)?;
        let others = near.into_iter().map(|(thread, _)| thread);
        all.push(others.filter(|thread| !after.contains(thread)).take(RUNNERS_UP).collect());
    }
    Ok(all)
}

/// Refuses when some color has no thread left that its owner did not refuse.
fn can_be_served(case: &Case<'_, '_>, reduction: &Reduction<'_>) -> Result<()> {
    for (row, place) in reduction.colors.iter().enumerate() {
        if reduction.problem.cells.row(row).next().is_none() {
            let shown = case.palette.colors().get(*place).map(|color| color.color.srgb());
            let shown = shown.map(|shown| shown.to_string()).unwrap_or_default();
            return Err(Error::new(ErrorKind::Impossible {
                reason: format!("every admitted thread is refused for color {place} ({shown})"),
                nearest: "admit more threads, or answer `another`".into(),
            }));
        }
    }
    Ok(())
}

/// The error for refusals that so few threads cannot meet, with the fewest that can; `beside` are
/// threads that are settled beside the problem.
fn too_few(max_threads: usize, beside: usize, fewest: Option<usize>, at_least: usize) -> Error {
    let most = max_threads.saturating_sub(beside);
    let said = if at_least > most { "no" } else { "found no" };
    Error::new(ErrorKind::Impossible {
        reason: format!("{said} {max_threads} threads that the answers leave to every color"),
        nearest: fewest.map_or_else(
            || "admit more threads, or refuse fewer".to_owned(),
            |fewest| format!("ask for {}", fewest.saturating_add(beside)),
        ),
    })
}

fn no_threads_at_all() -> Error {
    Error::new(ErrorKind::BadValue {
        value: "0".into(),
        reason: "a palette needs at least one thread".into(),
        remedy: "ask for 1 or more".into(),
    })
    .at(Place::field("max_thread_count"))
}
