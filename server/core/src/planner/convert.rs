//! Each color to its nearest thread; which colors fall together is said, not solved.
//! It does not know the chart.

use super::Ask;
use super::case::{Candidate, Case, Wish};
use super::evidence::{self, Outcome, RUNNERS_UP};
use super::meter::Meter;
use super::model::nothing_admitted;
use crate::catalog::Catalog;
use crate::change::{ChangeList, Question};
use crate::error::Result;
use crate::palette::{ChartColor, PaletteSummary};

pub(super) fn run(
    catalog: &Catalog,
    palette: &PaletteSummary,
    ask: &Ask,
    meter: &mut Meter<'_>,
) -> Result<ChangeList> {
    let case = Case::new(catalog, palette, ask, meter)?;
    let colors = palette.colors();
    let mut after = Vec::with_capacity(colors.len());
    let mut runners_up = Vec::with_capacity(colors.len());
    for (place, (color, wish)) in colors.iter().zip(&case.wishes).enumerate() {
        let (threads, others) = match (wish, stays(&case, color, wish)) {
            (Wish::Fixed(threads), _) => (threads.clone(), near(&case, place, threads, meter)?),
            (Wish::Free(_), Some(own)) => (own, Vec::new()),
            (Wish::Free(_), None) => choose(&case, place, color, meter)?,
        };
        after.push(threads);
        runners_up.push(others);
    }
    let outcome = Outcome {
        question: Question::Convert,
        remarks: vec![Vec::new(); after.len()],
        after,
        runners_up,
        bound: None,
        proved: false,
        combined: None,
    };
    evidence::list(&case, &outcome, meter)
}

/// The color's own threads when all of them may answer.
fn stays<'c>(
    case: &Case<'_, 'c>,
    color: &ChartColor,
    wish: &Wish<'_>,
) -> Option<Vec<Candidate<'c>>> {
    let own = case.own_threads(color)?;
    let barred = |thread: &Candidate<'_>| match wish {
        Wish::Free(barred) => barred.contains(&thread.name()),
        Wish::Fixed(_) => false,
    };
    own.iter().all(|thread| case.admits(*thread) && !barred(thread)).then_some(own)
}

type Choice<'c> = (Vec<Candidate<'c>>, Vec<Candidate<'c>>);

/// The nearest thread with its runners-up; for a blend the nearest of each strand.
fn choose<'c>(
    case: &Case<'_, 'c>,
    place: usize,
    color: &ChartColor,
    meter: &mut Meter<'_>,
) -> Result<Choice<'c>> {
    let strands = case.own_threads(color).filter(|own| own.len() > 1).unwrap_or_default();
    let mut threads: Vec<Candidate<'c>> = Vec::new();
    let mut others = Vec::new();
    for strand in strands {
        let count = RUNNERS_UP + 1;
        let near = case.nearest_for(place, &strand.thread.color, count, meter)?;
        let mut near = near.into_iter().map(|(thread, _)| thread);
        threads.push(near.next().ok_or_else(|| nothing_admitted(case))?);
        if others.is_empty() {
            others = near.collect();
        }
    }
    if threads.is_empty() {
        let near = case.nearest_to(place, RUNNERS_UP + 1, meter)?;
        let mut near = near.into_iter().map(|(thread, _)| thread);
        threads.push(near.next().ok_or_else(|| nothing_admitted(case))?);
        others = near.collect();
    }
    Ok((threads, others))
}

fn near<'c>(
    case: &Case<'_, 'c>,
    place: usize,
    chosen: &[Candidate<'c>],
    meter: &mut Meter<'_>,
) -> Result<Vec<Candidate<'c>>> {
    let near = case.nearest_to(place, RUNNERS_UP + chosen.len(), meter)?;
    let others = near.into_iter().map(|(thread, _)| thread);
    Ok(others.filter(|thread| !chosen.contains(thread)).take(RUNNERS_UP).collect())
}
