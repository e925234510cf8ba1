//! Rows of a table whose colors look exchanged, judged by the rows around them.
//! It does not know names or codes: it sees the order of the file only.
//!
//! Most ranges are listed along hue families and, inside one, along lightness. Both rules ask first
//! whether the table is listed in such an order at all; one in another order says nothing. The
//! numbers are house choices: on the three ranges of `data/` they raise no alarm.
//!
//! 1. *Lightness*: of six rows in a row, the middle two are exchanged. With them put back the six
//!    run strictly lighter or strictly darker, and the two differ by at least [`STEP`] in L*. Only
//!    where at least one in ten runs of six rows of the table does so.
//! 2. *Neighbors*: a row stands out when every one of the [`AROUND`] rows before and behind it is
//!    at least [`FAR`] away in CIELAB. Two such rows are swapped when each color comes at most
//!    half as near as that to the rows around the other's place. Only where half the rows have a
//!    neighbor within [`NEAR`], and where few rows stand out.

use super::{Clue, Swap};
use crate::color::Lab;
use crate::difference::{Difference, Formula, Pair};
use crate::error::{ErrorKind, Result};
use crate::table::Thread;
use crate::watch::Watch;

/// Rows before and behind a pair that must run one way with it.
const BESIDE: usize = 2;

/// Rows that must run one way: the pair and those beside it.
const RUN: usize = 2 + 2 * BESIDE;

/// Smallest step of lightness that a swap shows in, in L*.
const STEP: f64 = 2.0;

/// One of so many runs of the table must run one way.
const ONE_RUN_OF: usize = 10;

/// Rows before and behind a row that are looked at.
const AROUND: usize = 3;

/// From here on a row stands out, in CIELAB units.
const FAR: f64 = 20.0;

/// Half the rows of a table in order have a row beside them within this, in CIELAB units.
const NEAR: f64 = 15.0;

/// How much nearer each color must be to the rows around the other's place.
const BETTER: f64 = 0.5;

/// Of so many rows only one may stand out.
const ONE_FAR_OF: usize = 5;

/// Most rows that may stand out.
const MAX_FAR: usize = 1_000;

/// Rows between two looks at whether the answer is still wanted.
const CHUNK: usize = 64;

/// The pairs that look swapped, in the order of the table. No row is in two of them.
pub(super) fn find(threads: &[Thread], formula: Formula, watch: &dyn Watch) -> Result<Vec<Swap>> {
    let colors: Vec<Lab> = threads.iter().map(|thread| thread.color.lab()).collect();
    let mut pairs = by_neighbors(&colors, watch)?;
    for (one, two) in by_lightness(&colors) {
        let taken =
            |row: usize| pairs.iter().any(|(first, second, _)| row == *first || row == *second);
        if !taken(one) && !taken(two) {
            pairs.push((one, two, Clue::Lightness));
        }
    }
    pairs.sort_unstable_by_key(|(one, two, _)| (*one, *two));
    let mut swaps = Vec::with_capacity(pairs.len());
    for (one, two, clue) in pairs {
        if let (Some(first), Some(second)) = (threads.get(one), threads.get(two)) {
            let difference = Difference::between(&first.color, &second.color, formula)?;
            let (first, second) = (first.without_spectrum(), second.without_spectrum());
            swaps.push(Swap { first, second, clue, difference });
        }
    }
    Ok(swaps)
}

/// Pairs of neighboring rows that break a run of lightness.
fn by_lightness(colors: &[Lab]) -> Vec<(usize, usize)> {
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    let mut good = 0;
    for (start, run) in colors.windows(RUN).enumerate() {
        let mut lightness: Vec<f64> = run.iter().map(|color| color.l()).collect();
        if runs_one_way(&lightness) {
            good += 1;
            continue;
        }
        lightness.swap(BESIDE, BESIDE + 1);
        let step = lightness.get(BESIDE).zip(lightness.get(BESIDE + 1));
        let clear = step.is_some_and(|(one, two)| (one - two).abs() >= STEP);
        if clear && runs_one_way(&lightness) {
            pairs.push((start + BESIDE, start + BESIDE + 1));
        }
    }
    // A run that a swap breaks would be a good one.
    let runs = (colors.len() + 1).saturating_sub(RUN);
    let ordered = (good + pairs.len()) * ONE_RUN_OF >= runs;
    if ordered { pairs } else { Vec::new() }
}

fn runs_one_way(lightness: &[f64]) -> bool {
    let rises = |pair: &[f64]| matches!(pair, [one, two] if one < two);
    let falls = |pair: &[f64]| matches!(pair, [one, two] if one > two);
    lightness.windows(2).all(rises) || lightness.windows(2).all(falls)
}

/// Pairs of rows anywhere that stand out and fit each other's place.
fn by_neighbors(colors: &[Lab], watch: &dyn Watch) -> Result<Vec<(usize, usize, Clue)>> {
    let mut own = Vec::with_capacity(colors.len());
    for (row, color) in colors.iter().enumerate() {
        if row % CHUNK == 0 && watch.stopped() {
            return Err(ErrorKind::Stopped.into());
        }
        own.push(misfit(colors, row, *color, row));
    }
    let outliers: Vec<(usize, f64)> =
        own.iter().copied().enumerate().filter(|(_, misfit)| *misfit >= FAR).collect();
    if outliers.len() > (colors.len() / ONE_FAR_OF).min(MAX_FAR) || !is_in_order(&own) {
        return Ok(Vec::new());
    }
    let mut candidates = Vec::new();
    for (place, (row, misfit)) in outliers.iter().enumerate() {
        if watch.stopped() {
            return Err(ErrorKind::Stopped.into());
        }
        let others = outliers.iter().skip(place + 1);
        candidates.extend(others.filter_map(|(other, others)| {
            let worst = exchanged(colors, *row, *other)? / misfit.min(*others);
            (worst <= BETTER).then_some((worst, *row, *other))
        }));
    }
    candidates.sort_by(|left, right| {
        left.0.total_cmp(&right.0).then((left.1, left.2).cmp(&(right.1, right.2)))
    });
    let mut pairs: Vec<(usize, usize, Clue)> = Vec::new();
    for (_, one, two) in candidates {
        let free = |row: usize| pairs.iter().all(|pair| pair.0 != row && pair.1 != row);
        if free(one) && free(two) {
            pairs.push((one, two, Clue::Neighbors));
        }
    }
    Ok(pairs)
}

fn is_in_order(misfits: &[f64]) -> bool {
    let near = misfits.iter().filter(|misfit| **misfit <= NEAR).count();
    2 * near >= misfits.len()
}

/// The larger misfit of two rows' colors at each other's place.
fn exchanged(colors: &[Lab], one: usize, two: usize) -> Option<f64> {
    let (first, second) = (*colors.get(one)?, *colors.get(two)?);
    Some(misfit(colors, two, first, one).max(misfit(colors, one, second, two)))
}

/// How far a color is from the nearest of the rows around a place, but for one of them.
fn misfit(colors: &[Lab], place: usize, color: Lab, without: usize) -> f64 {
    let from = place.saturating_sub(AROUND);
    let around = colors.iter().enumerate().skip(from).take(place + AROUND + 1 - from);
    let others = around.filter(|(row, _)| *row != place && *row != without);
    others
        .map(|(_, other)| Formula::Cie76.delta_e(Pair { standard: *other, sample: color }).value())
        .fold(f64::INFINITY, f64::min)
}
