//! At most so many threads for a whole palette, with a bound on how much better it could be.
//! It does not know the chart.

use super::Ask;
use super::case::{Candidate, Case, Wish};
use super::evidence::{self, Outcome, RUNNERS_UP};
use super::median::{self, Effort, Pace, Solution};
use super::meter::Meter;
use super::model::{Limits, Reduction};
use crate::catalog::Catalog;
use crate::change::{ChangeList, Question};
use crate::error::{Error, ErrorKind, Place, Result};
use crate::palette::PaletteSummary;

/// What one answer is worth: one to two seconds of a core when nothing closes sooner.
const EFFORT: Effort = Effort { cells: 500_000_000, nodes: 20_000 };

pub(super) fn run(
    catalog: &Catalog,
    palette: &PaletteSummary,
    ask: &Ask,
    max_threads: usize,
    meter: &mut Meter<'_>,
) -> Result<ChangeList> {
    run_within(Limits::USUAL, (catalog, palette, ask), max_threads, meter)
}

/// The same with other limits on the costs held in memory.
pub(super) fn run_within(
    limits: Limits,
    (catalog, palette, ask): (&Catalog, &PaletteSummary, &Ask),
    max_threads: usize,
    meter: &mut Meter<'_>,
) -> Result<ChangeList> {
    if max_threads == 0 {
        return Err(no_threads_at_all());
    }
    let case = Case::new(catalog, palette, ask, meter)?;
    let reduction = Reduction::new(&case, max_threads, limits, meter)?;
    can_be_served(&case, &reduction)?;
    let settled = settled_mean(&case)?;
    let found =
        median::solve(&reduction.problem, EFFORT, &mut Listened { meter, settled, fraction: 0.0 })?;
    let solution = match found {
        median::Outcome::Found(solution) => solution,
        median::Outcome::Impossible { fewest, at_least } => {
            let beside = max_threads.saturating_sub(reduction.problem.most);
            return Err(too_few(max_threads, beside, fewest, at_least));
        }
    };
    let after = after(&case, &reduction, &solution, meter)?;
    let runners_up = runners_up(&case, &after, meter)?;
    meter.tell(1.0, settled + solution.total, Some(settled + solution.bound));
    let outcome = Outcome {
        question: Question::Reduce,
        remarks: vec![Vec::new(); after.len()],
        after,
        runners_up,
        bound: Some(settled + solution.bound),
        proved: solution.proved,
    };
    evidence::list(&case, &outcome, meter)
}

/// Hears the solver on behalf of the one who waits.
struct Listened<'l, 'w> {
    meter: &'l mut Meter<'w>,
    /// Part of the mean difference that is settled beside the problem.
    settled: f64,
    fraction: f64,
}

impl Pace for Listened<'_, '_> {
    fn look(&mut self) -> Result<()> {
        self.meter.look()
    }

    fn tell(&mut self, part: f64, total: f64, bound: Option<f64>) {
        self.fraction = self.fraction.max(part);
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

/// The threads of every color.
fn after<'c>(
    case: &Case<'_, 'c>,
    reduction: &Reduction<'c>,
    solution: &Solution,
    meter: &mut Meter<'_>,
) -> Result<Vec<Vec<Candidate<'c>>>> {
    let mut after: Vec<Vec<Candidate<'c>>> = case
        .wishes
        .iter()
        .map(|wish| match wish {
            Wish::Fixed(threads) => threads.clone(),
            Wish::Free(_) => Vec::new(),
        })
        .collect();
    let rows = reduction.colors.iter().zip(&solution.seats).enumerate();
    for (row, (place, seat)) in rows {
        let own = own_column(case, reduction, solution, row, *place);
        let listed = own.unwrap_or(*seat);
        let thread = match reduction.threads.get(listed) {
            Some(thread) => Some(*thread),
            None => nearest_open(case, reduction, solution, *place, meter)?,
        };
        if let (Some(after), Some(thread)) = (after.get_mut(*place), thread) {
            after.push(thread);
        }
    }
    Ok(after)
}

/// The open thread nearest to a color that has none in its list.
fn nearest_open<'c>(
    case: &Case<'_, 'c>,
    reduction: &Reduction<'c>,
    solution: &Solution,
    place: usize,
    meter: &mut Meter<'_>,
) -> Result<Option<Candidate<'c>>> {
    let Some(standard) = case.standards.get(place) else { return Ok(None) };
    let mut best: Option<(f64, Candidate<'c>)> = None;
    for thread in solution.open.iter().filter_map(|column| reduction.threads.get(*column)) {
        let difference = meter.difference(standard, &thread.thread.color, case.ask.formula)?;
        if best.is_none_or(|(held, _)| difference < held) && !case.refuses(place, *thread) {
            best = Some((difference, *thread));
        }
    }
    Ok(best.map(|(_, thread)| thread))
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
