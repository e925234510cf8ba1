//! Few threads for a whole palette, with a bound on how much better they could be.
//! It does not know the chart.

mod amounts;
mod limited;
mod options;
mod refusal;
mod seats;

pub use options::{Money, ReduceOptions};
pub(super) use refusal::can_be_served;

use std::collections::BTreeSet;

use super::Ask;
use super::case::{Candidate, Case, Wish, find};
use super::contrast::{Contrast, Terms};
use super::evidence::{self, Outcome, RUNNERS_UP};
use super::median::{self, Effort, Pace, Solution};
use super::meter::Meter;
use super::model::{Limits, Reduction, prices, weighed};
use crate::catalog::Catalog;
use crate::change::{ChangeList, Combined, Question, ReduceReport};
use crate::error::{Place, Result};
use crate::palette::PaletteSummary;
use amounts::Amounts;
use limited::Answer;
use seats::Plain;

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
    options.check()?;
    check_owned(catalog, options)?;
    let case = Case::new(catalog, palette, ask, meter)?;
    let terms = Terms { keep: options.keep_edges, shading: &options.keep_shading };
    let contrast = Contrast::new(&case, terms, meter)?;
    let mut reduction = Reduction::new(&case, options, limits, meter)?;
    can_be_served(&case, &reduction, options, meter)?;
    let settled = settled_mean(&case, options)?;
    let share = if contrast.is_none() { 1.0 } else { 1.0 - EDGES_PART };
    // Within stock and by the skein, what stitches alone prove is most of what can be proved.
    let proves = contrast.is_none() || options.counts_amounts();
    let effort = if proves { EFFORT } else { EFFORT_AT_FIRST };
    let told = options.is_mean().then_some(settled);
    let mut pace = Listened { meter, settled: told, share, fraction: 0.0 };
    let amounts = Amounts::of(catalog, options)?;
    let counted = amounts.as_ref().filter(|_| options.counts_amounts());
    let answer = match counted {
        Some(amounts) => {
            limited::choose(&case, &mut reduction, (options, amounts), effort, &mut pace)?
        }
        None => solve((&mut reduction, options), effort, &mut pace)?,
    };
    let solution = &answer.solution;
    let is_mean = options.is_mean();
    let plain = Plain { case: &case, reduction: &reduction, answer: &answer, settled, is_mean };
    let chosen = plain.chosen(contrast.as_ref(), meter)?;
    let after = after(&case, &reduction, &chosen.columns);
    let bound = reduction.is_whole.then_some(settled + solution.bound);
    match options.is_mean() {
        true => meter.tell(1.0, settled + chosen.rows, bound),
        false => meter.tell_part(1.0),
    }
    let combined = match (&contrast, chosen.with_edges.filter(|_| reduction.is_whole)) {
        (Some(contrast), Some(with_edges)) => {
            let lost_contrast = contrast.lost(&case, &after, meter)?;
            let total = settled + chosen.rows + lost_contrast;
            let (keep_edges, lower_bound) = (options.keep_edges, with_edges.min(total));
            Some(Combined { keep_edges, lost_contrast, total, lower_bound })
        }
        _ => None,
    };
    let report = ReduceReport {
        max_threads: options.max_threads,
        tolerance: options.tolerance,
        fewest: answer.fewest,
        weighing: options.weighing,
        thread_worth: options.thread_worth,
        money_worth: options.money_worth(),
        threads_to_get: to_get(options, &after),
        needs: amounts.map(|amounts| amounts.needs(&case, &after)).unwrap_or_default(),
        total: settled + chosen.rows,
        bound,
    };
    let outcome = Outcome {
        question: Question::Reduce,
        remarks: vec![Vec::new(); after.len()],
        runners_up: runners_up(&case, &after, meter)?,
        after,
        bound: bound.filter(|_| options.is_mean()),
        proved: solution.proved && chosen.is_least && reduction.is_whole,
        combined,
    };
    let mut list = evidence::list(&case, &outcome, meter)?;
    list.reduction = Some(report);
    Ok(list)
}

/// The threads of the best palette of at most so many, by stitches alone.
pub(super) fn best_threads<'c>(
    case: &Case<'_, 'c>,
    max_threads: usize,
    meter: &mut Meter<'_>,
) -> Result<BTreeSet<Candidate<'c>>> {
    let options = ReduceOptions::at_most(max_threads);
    let mut reduction = Reduction::new(case, &options, Limits::USUAL, meter)?;
    can_be_served(case, &reduction, &options, meter)?;
    let settled = Some(settled_mean(case, &options)?);
    let mut pace = Listened { meter, settled, share: 1.0, fraction: 0.0 };
    let found = solve((&mut reduction, &options), EFFORT, &mut pace)?;
    Ok(found
        .solution
        .open
        .iter()
        .filter_map(|column| reduction.threads.get(*column))
        .copied()
        .collect())
}

/// Refuses owned threads that no table has.
fn check_owned(catalog: &Catalog, options: &ReduceOptions) -> Result<()> {
    for (place, name) in options.owned.iter().enumerate() {
        let field = || Place::field(format!("owned_threads[{place}]"));
        find(catalog, name).map_err(|error| error.at(field()))?;
    }
    Ok(())
}

/// Opens threads by stitches alone: the best of those asked for, or of the fewest, which are counted
/// then.
fn solve(
    (reduction, options): (&mut Reduction<'_>, &ReduceOptions),
    effort: Effort,
    pace: &mut Listened<'_, '_>,
) -> Result<Answer> {
    let fewest = match options.wants_fewest() {
        true => Some(fewest(reduction, pace)?),
        false => None,
    };
    let found = match &fewest {
        Some(fewest) => median::solve_from(&reduction.problem, &fewest.open, effort, pace)?,
        None => median::solve(&reduction.problem, effort, pace)?,
    };
    match found {
        median::Outcome::Found(solution) => {
            let beside: f64 = prices(options, &reduction.beside).iter().sum();
            let (total, bound) = (solution.total + beside, solution.bound + beside);
            let solution = Solution { total, bound, ..solution };
            let fewest = fewest.map(|fewest| fewest.at_least);
            Ok(Answer { solution, fewest, beside, limits: None })
        }
        median::Outcome::Impossible { fewest, at_least } => {
            Err(refusal::too_few(options, reduction, fewest, at_least))
        }
    }
}

/// Threads that hold the tolerance, as few as were found.
struct Fewest {
    open: Vec<usize>,
    /// Fewer threads than these are proved not to, those beside the problem included.
    at_least: usize,
}

/// Finds the fewest threads and holds the problem to that number.
fn fewest(reduction: &mut Reduction<'_>, pace: &mut Listened<'_, '_>) -> Result<Fewest> {
    let cover = median::fewest(&reduction.problem, EFFORT, &mut Counted { pace })?;
    let open = cover.open.unwrap_or_default();
    let locked = reduction.problem.locked.iter().filter(|locked| **locked).count();
    reduction.problem.most = open.len();
    let at_least = if reduction.is_whole { cover.at_least.max(locked) } else { locked };
    Ok(Fewest { open, at_least: at_least + reduction.beside.len() })
}

/// Threads of the list that are not owned.
fn to_get(options: &ReduceOptions, after: &[Vec<Candidate<'_>>]) -> usize {
    let owned: BTreeSet<_> = options.owned.iter().collect();
    let used: BTreeSet<&Candidate<'_>> = after.iter().flatten().collect();
    used.into_iter().filter(|thread| !owned.contains(&thread.name())).count()
}

/// Hears the solver on behalf of the one who waits.
struct Listened<'l, 'w> {
    meter: &'l mut Meter<'w>,
    /// Part of the mean difference that is settled beside the problem; `None` when something else
    /// is made small.
    settled: Option<f64>,
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
        match self.settled {
            Some(settled) => {
                let bound = bound.map(|bound| settled + bound);
                self.meter.tell(self.fraction, settled + total, bound);
            }
            None => self.meter.tell_part(self.fraction),
        }
    }
}

/// Hears a solver that counts threads: what it tells is no difference.
struct Counted<'p, 'l, 'w> {
    pace: &'p mut Listened<'l, 'w>,
}

impl Pace for Counted<'_, '_, '_> {
    fn look(&mut self) -> Result<()> {
        self.pace.look()
    }

    fn tell(&mut self, _: f64, _: f64, _: Option<f64>) {
        self.pace.meter.tell_part(self.pace.fraction);
    }
}

/// What colors add to what is summed that keeps and answers settle.
fn settled_mean(case: &Case<'_, '_>, options: &ReduceOptions) -> Result<f64> {
    let mut sum = 0.0;
    let colors = case.palette.colors().iter().enumerate().zip(case.weights());
    for (((place, color), weight), wish) in colors.zip(&case.wishes) {
        if let Wish::Fixed(threads) = wish {
            let mean = evidence::mean(&evidence::differences(case, place, color, threads)?);
            sum += weight * weighed(options.weighing, mean);
        }
    }
    Ok(sum)
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
