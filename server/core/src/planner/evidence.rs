//! From chosen threads to a reviewable list: evidence, runners-up, remarks, order, totals.
//! It does not know how the threads were chosen.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, HashSet};

use super::VISIBLE;
use super::case::{Candidate, Case, whole};
use super::edges::{self, Edges};
use super::meter::Meter;
use super::sight::Judged;
use crate::change::{Change, ChangeList, Combined, Proposed, Question, Remark, Totals};
use crate::color::Color;
use crate::difference::{DeltaE, Difference};
use crate::error::Result;
use crate::noise;
use crate::palette::ChartColor;
use crate::spectrum::Seen;
use crate::table::ThreadRef;

/// Runners-up of each change.
pub(super) const RUNNERS_UP: usize = 3;

/// Most colors that one change names as sharing its thread.
const NAMED: usize = 8;

/// Least contrast with what it touches that makes a small color telling: four times the visible
/// limit. House choice.
const STRONG: f64 = 4.0 * VISIBLE;

/// A color is small when it has at most one stitch in so many. House choice.
const SMALL_ONE_IN: u64 = 100;

/// What was chosen, by color.
pub(super) struct Outcome<'c> {
    pub(super) question: Question,
    /// Threads of each color afterwards; none for a color that stays without a thread.
    pub(super) after: Vec<Vec<Candidate<'c>>>,
    /// Other threads that were near, best first, by color.
    pub(super) runners_up: Vec<Vec<Candidate<'c>>>,
    /// What the question itself has to say, by color.
    pub(super) remarks: Vec<Vec<Remark>>,
    /// Lower bound on the mean difference.
    pub(super) bound: Option<f64>,
    /// Whether the choice is proved best.
    pub(super) proved: bool,
    /// Mean difference and lost contrast together, where contrast counted.
    pub(super) combined: Option<Combined>,
}

/// Builds the list.
pub(super) fn list(
    case: &Case<'_, '_>,
    outcome: &Outcome<'_>,
    meter: &mut Meter<'_>,
) -> Result<ChangeList> {
    let edges = edges::look(case, &outcome.after, meter)?;
    let totals = totals(case, outcome)?;
    let listing = Listing::new(case, outcome, edges.as_ref());
    let mut changes = Vec::new();
    let mut unchanged = Vec::new();
    for (place, color) in case.palette.colors().iter().enumerate() {
        let after = outcome.after.get(place).map_or(&[] as &[_], Vec::as_slice);
        if stays(color, after) {
            unchanged.push(place);
        } else {
            changes.push(listing.change(place, color, after)?);
        }
    }
    let contrasts = edges.as_ref().map(|edges| edges.contrasts.as_slice());
    sort_for_review(&mut changes, contrasts, case.palette.stitches());
    let used = outcome.after.iter().flatten().map(|thread| thread.table).collect();
    Ok(ChangeList {
        question: outcome.question,
        tables: case.versions(&used),
        formula: case.ask.formula,
        changes,
        unchanged,
        totals,
        edges: edges.map(|edges| edges.report),
        joint: None,
        reduction: None,
        ranges: None,
        own: None,
    })
}

fn stays(color: &ChartColor, after: &[Candidate<'_>]) -> bool {
    after.is_empty()
        || (after.len() == color.threads.len()
            && after.iter().zip(&color.threads).all(|(new, old)| new.name() == *old))
}

/// The differences of a color's new threads: from the standard, or strand by strand for a blend
/// that stays a blend of threads in the catalog.
pub(super) fn differences(
    case: &Case<'_, '_>,
    place: usize,
    color: &ChartColor,
    after: &[Candidate<'_>],
) -> Result<Vec<Difference>> {
    let judged = judged(case, place, color, after)?;
    Ok(judged.into_iter().map(|judged| judged.difference).collect())
}

/// The same with what other lights say.
fn judged(
    case: &Case<'_, '_>,
    place: usize,
    color: &ChartColor,
    after: &[Candidate<'_>],
) -> Result<Vec<Judged>> {
    let shown = case.standards.get(place).copied().unwrap_or(color.color);
    let own = case.own_threads(color).filter(|own| own.len() == after.len());
    let judge = |(strand, new): (usize, &Candidate<'_>)| {
        let old = own.as_ref().and_then(|own| own.get(strand)).map(|old| old.thread);
        let spectrum = old.and_then(|old| old.spectrum.as_deref());
        let color = old.filter(|_| after.len() > 1).map_or(&shown, |old| &old.color);
        case.judge(Seen { color, spectrum }, new.thread)
    };
    after.iter().enumerate().map(judge).collect()
}

/// One number for a color: the mean of its strands.
pub(super) fn mean(differences: &[Difference]) -> f64 {
    let sum: f64 = differences.iter().map(|difference| difference.delta_e.value()).sum();
    if differences.is_empty() { 0.0 } else { sum / whole(differences.len() as u64) }
}

fn totals(case: &Case<'_, '_>, outcome: &Outcome<'_>) -> Result<Totals> {
    let (mut sum, mut largest) = (0.0_f64, 0.0_f64);
    let colors = case.palette.colors().iter().enumerate().zip(case.weights());
    for (((place, color), weight), after) in colors.zip(&outcome.after) {
        let difference = mean(&differences(case, place, color, after)?);
        sum += weight * difference;
        largest = largest.max(difference);
    }
    let threads: BTreeSet<&Candidate<'_>> = outcome.after.iter().flatten().collect();
    // The bound was summed in another order; it must not pass the mean by a last bit.
    let bound = outcome.bound.map(|bound| if outcome.proved { sum } else { bound.min(sum) });
    Ok(Totals {
        colors_before: colors_before(case),
        threads_after: threads.len(),
        mean_difference: DeltaE::computed(sum),
        max_difference: DeltaE::computed(largest),
        lower_bound: bound.map(DeltaE::computed),
        proved_best: outcome.proved,
        combined: outcome.combined,
    })
}

/// A color that was split by area counts once.
fn colors_before(case: &Case<'_, '_>) -> usize {
    let bits = |color: &Color| {
        let lab = color.lab();
        [lab.l().to_bits(), lab.a().to_bits(), lab.b().to_bits()]
    };
    let colors = case.palette.colors().iter();
    colors.map(|color| (bits(&color.color), &color.threads)).collect::<HashSet<_>>().len()
}

/// What all changes of one list look up.
struct Listing<'l, 'a, 'c> {
    case: &'l Case<'a, 'c>,
    outcome: &'l Outcome<'c>,
    edges: Option<&'l Edges>,
    /// Colors of each thread afterwards, most stitches first.
    sharers: BTreeMap<Candidate<'c>, Vec<usize>>,
    /// Threads that the chart uses before.
    used: HashSet<&'l ThreadRef>,
}

impl<'l, 'a, 'c> Listing<'l, 'a, 'c> {
    fn new(case: &'l Case<'a, 'c>, outcome: &'l Outcome<'c>, edges: Option<&'l Edges>) -> Self {
        let colors = case.palette.colors();
        let mut places: Vec<usize> = (0..colors.len()).collect();
        places.sort_by_key(|place| Reverse(colors.get(*place).map_or(0, |color| color.stitches)));
        let mut sharers: BTreeMap<Candidate<'c>, Vec<usize>> = BTreeMap::new();
        for place in places {
            for thread in outcome.after.get(place).into_iter().flatten() {
                let sharers = sharers.entry(*thread).or_default();
                if sharers.len() <= NAMED && !sharers.contains(&place) {
                    sharers.push(place);
                }
            }
        }
        let used = colors.iter().flat_map(|color| &color.threads).collect();
        Self { case, outcome, edges, sharers, used }
    }

    fn change(&self, place: usize, color: &ChartColor, after: &[Candidate<'c>]) -> Result<Change> {
        let standard = self.case.standards.get(place).copied().unwrap_or(color.color);
        let judged = judged(self.case, place, color, after)?;
        let differences: Vec<Difference> = judged.iter().map(|judged| judged.difference).collect();
        let proposed = |thread: &Candidate<'_>, judged: Judged, as_near: bool| Proposed {
            thread: thread.name(),
            name: thread.thread.name.clone(),
            color: thread.thread.color,
            difference: judged.difference,
            as_near,
            over_lights: judged.over_lights,
        };
        let mut runners_up = Vec::new();
        let own = self.case.own_threads(color).filter(|own| own.len() == after.len());
        let own = own.unwrap_or_default();
        let beside = beside(&own, after);
        let old = own.get(beside.unwrap_or(0)).map(|old| old.thread);
        let standard_of_others = old.filter(|_| beside.is_some()).map_or(standard, |old| old.color);
        let spectrum = old.and_then(|old| old.spectrum.as_deref());
        for thread in self.outcome.runners_up.get(place).into_iter().flatten() {
            let seen = Seen { color: &standard_of_others, spectrum };
            let judged = self.case.judge(seen, thread.thread)?;
            let chosen = after.get(beside.unwrap_or(0)).zip(differences.get(beside.unwrap_or(0)));
            let as_near = chosen.is_some_and(|(chosen, own)| {
                let other = (&thread.thread.color, &judged.difference);
                noise::hides(&standard_of_others, (&chosen.thread.color, own), other)
            });
            runners_up.push(proposed(thread, judged, as_near));
        }
        let after_with = after.iter().zip(judged);
        Ok(Change {
            color: place,
            standard,
            before: color.threads.clone(),
            stitches: color.stitches,
            remarks: self.remarks(place, color, after, (&differences, &runners_up)),
            after: after_with.map(|(thread, own)| proposed(thread, own, false)).collect(),
            runners_up,
            answer: None,
        })
    }

    fn remarks(
        &self,
        place: usize,
        color: &ChartColor,
        after: &[Candidate<'c>],
        (differences, runners_up): (&[Difference], &[Proposed]),
    ) -> Vec<Remark> {
        let mut remarks = self.outcome.remarks.get(place).cloned().unwrap_or_default();
        if self.case.kept.get(place).copied().unwrap_or(false) {
            remarks.push(Remark::Kept);
        }
        if let ([only], Some(next)) = (differences, runners_up.first())
            && next.difference.delta_e.value() < only.delta_e.value()
        {
            remarks.push(Remark::NotNearest);
        }
        let is_new = |thread: &&Candidate<'_>| !color.threads.contains(&thread.name());
        if after.iter().filter(is_new).any(|thread| self.used.contains(&thread.name())) {
            remarks.push(Remark::AlreadyUsed);
        }
        let others = after.iter().filter(is_new).filter_map(|thread| self.sharers.get(thread));
        let others = others.flatten().filter(|other| **other != place).take(NAMED);
        remarks.extend(others.map(|other| Remark::SharesThread(*other)));
        let lost = self.edges.and_then(|edges| edges.remarks.get(place));
        remarks.extend(lost.into_iter().flatten().cloned());
        remarks
    }
}

/// Runners-up of a blend stand in for its first strand that changes: its place.
fn beside(own: &[Candidate<'_>], after: &[Candidate<'_>]) -> Option<usize> {
    own.iter().zip(after).position(|(old, new)| old != new).filter(|_| after.len() > 1)
}

/// Small but telling changes first, the sharpest contrast leading; then the largest areas. Never
/// difference times stitches: an eye of four stitches would drown in a sky.
fn sort_for_review(changes: &mut [Change], contrasts: Option<&[f64]>, all: u64) {
    let contrast = |change: &Change| {
        let known = contrasts.and_then(|contrasts| contrasts.get(change.color));
        let strong = known.copied().filter(|contrast| *contrast >= STRONG);
        strong.filter(|_| change.stitches <= all / SMALL_ONE_IN)
    };
    changes.sort_by(|one, two| {
        let by_size = two.stitches.cmp(&one.stitches);
        match (contrast(one), contrast(two)) {
            (Some(first), Some(second)) => second.total_cmp(&first).then(by_size.reverse()),
            (Some(_), None) => std::cmp::Ordering::Less,
            (None, Some(_)) => std::cmp::Ordering::Greater,
            (None, None) => by_size,
        }
        .then(one.color.cmp(&two.color))
    });
}
