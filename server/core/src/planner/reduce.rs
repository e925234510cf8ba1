//! At most so many threads for a whole palette, with a bound on how much better it could be.
//! It does not know the chart.

use super::Ask;
use super::bound::{Proof, prove};
use super::case::{Candidate, Case, Wish};
use super::evidence::{self, Outcome, RUNNERS_UP};
use super::meter::Meter;
use super::model::{BARRED, MAX_CELLS, Reduction};
use super::search::{CELL_BUDGET, Selection};
use crate::catalog::Catalog;
use crate::change::{ChangeList, Question};
use crate::error::{Error, ErrorKind, Place, Result};
use crate::palette::PaletteSummary;

/// Part of the work that the search is, before the proof.
const SEARCH_PART: f64 = 0.2;

/// How many more threads are tried before an impossible request is answered without a number.
const MORE_TRIES: usize = 32;

pub(super) fn run(
    catalog: &Catalog,
    palette: &PaletteSummary,
    ask: &Ask,
    max_threads: usize,
    meter: &mut Meter<'_>,
) -> Result<ChangeList> {
    run_within(MAX_CELLS, (catalog, palette, ask), max_threads, meter)
}

/// The same with another limit on the costs held in memory.
pub(super) fn run_within(
    max_cells: usize,
    (catalog, palette, ask): (&Catalog, &PaletteSummary, &Ask),
    max_threads: usize,
    meter: &mut Meter<'_>,
) -> Result<ChangeList> {
    if max_threads == 0 {
        return Err(no_threads_at_all());
    }
    let case = Case::new(catalog, palette, ask, meter)?;
    let mut reduction = Reduction::new(&case, (max_threads, max_cells), meter)?;
    can_be_served(&case, &reduction)?;
    let settled = settled_mean(&case)?;
    let (best, proof) = solve(&reduction, settled, meter)?;
    if best.total() >= BARRED {
        let tried = reduction.model.open;
        return Err(fewest(&mut reduction, max_threads, tried, meter)?);
    }
    let after = after(&case, &reduction, &best);
    let runners_up = runners_up(&case, &after, meter)?;
    meter.tell(1.0, settled + best.total(), Some(settled + proof.bound));
    let outcome = Outcome {
        question: Question::Reduce,
        remarks: vec![Vec::new(); after.len()],
        after,
        runners_up,
        bound: Some(settled + proof.bound),
        proved: proof.proved,
    };
    evidence::list(&case, &outcome, meter)
}

/// Search, then proof.
fn solve<'m>(
    reduction: &'m Reduction<'_>,
    settled: f64,
    meter: &mut Meter<'_>,
) -> Result<(Selection<'m>, Proof)> {
    let model = &reduction.model;
    let mut best = Selection::locked(model);
    if model.costs.rows() == 0 {
        return Ok((best, Proof { bound: 0.0, proved: true }));
    }
    best.add_greedily(meter)?;
    meter.tell(SEARCH_PART / 2.0, settled + best.total(), None);
    best.improve(CELL_BUDGET, meter)?;
    meter.tell(SEARCH_PART, settled + best.total(), None);
    if best.total() >= BARRED {
        return Ok((best, Proof { bound: 0.0, proved: false }));
    }
    let tell = |meter: &Meter<'_>, part: f64, total: f64, bound: f64| {
        let fraction = SEARCH_PART + part * (1.0 - SEARCH_PART);
        meter.tell(fraction, settled + total, Some(settled + bound));
    };
    let proof = prove(model, &mut best, meter, &tell)?;
    best.drop_idle();
    Ok((best, proof))
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
    best: &Selection<'_>,
) -> Vec<Vec<Candidate<'c>>> {
    let mut after: Vec<Vec<Candidate<'c>>> = case
        .wishes
        .iter()
        .map(|wish| match wish {
            Wish::Fixed(threads) => threads.clone(),
            Wish::Free(_) => Vec::new(),
        })
        .collect();
    for (row, place) in reduction.colors.iter().enumerate() {
        let column = own_column(case, reduction, best, row, *place).or_else(|| best.server(row));
        let thread = column.and_then(|column| reduction.threads.get(column));
        if let (Some(after), Some(thread)) = (after.get_mut(*place), thread) {
            after.push(*thread);
        }
    }
    after
}

/// A color stays in its own thread when that one is open and no other is nearer.
fn own_column(
    case: &Case<'_, '_>,
    reduction: &Reduction<'_>,
    best: &Selection<'_>,
    row: usize,
    place: usize,
) -> Option<usize> {
    let own = case.own_threads(case.palette.colors().get(place)?)?;
    let [own] = own.as_slice() else { return None };
    let column = reduction.threads.binary_search(own).ok()?;
    let costs = &reduction.model.costs;
    let nearest = costs.cell(row, best.server(row)?);
    (best.open().contains(&column) && costs.cell(row, column) <= nearest).then_some(column)
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
    let costs = &reduction.model.costs;
    for (row, place) in reduction.colors.iter().enumerate() {
        let mut columns = 0..costs.columns();
        if columns.all(|column| costs.cell(row, column) >= BARRED) {
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

/// The error for refusals that so few threads cannot meet, with the fewest that were found to.
fn fewest(
    reduction: &mut Reduction<'_>,
    max_threads: usize,
    tried: usize,
    meter: &mut Meter<'_>,
) -> Result<Error> {
    let mut nearest = "ask for more threads, or refuse fewer".to_owned();
    for more in 1..=MORE_TRIES {
        reduction.model.open = tried + more;
        let mut best = Selection::locked(&reduction.model);
        best.add_greedily(meter)?;
        best.improve(CELL_BUDGET, meter)?;
        if best.total() < BARRED {
            nearest = format!("ask for {}", max_threads.saturating_add(more));
            break;
        }
    }
    Ok(Error::new(ErrorKind::Impossible {
        reason: format!("found no {max_threads} threads that the answers leave to every color"),
        nearest,
    }))
}

fn no_threads_at_all() -> Error {
    Error::new(ErrorKind::BadValue {
        value: "0".into(),
        reason: "a palette needs at least one thread".into(),
        remedy: "ask for 1 or more".into(),
    })
    .at(Place::field("max_thread_count"))
}
