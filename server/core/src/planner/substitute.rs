//! Missing threads replaced jointly: each gets a thread of its own, as near as all of them allow.
//! It does not know the chart.

use std::collections::BTreeSet;

use super::assignment::assign;
use super::case::{Candidate, Case, bad_answer, find, whole};
use super::evidence::{self, Outcome, RUNNERS_UP};
use super::meter::Meter;
use super::{Ask, MAX_MISSING, SubstituteOptions};
use crate::catalog::Catalog;
use crate::change::{Answer, ChangeList, Question, Remark};
use crate::difference::DeltaE;
use crate::error::{Error, ErrorKind, Place, Result, shown};
use crate::palette::PaletteSummary;
use crate::table::ThreadRef;

/// The field of a request that names the missing threads.
const FIELD: &str = "missing_threads";

/// Most preferred alternates that are looked at.
const MAX_RANKS: usize = 64;

/// Weight of a step down the list of preferred alternates: more than any difference, so that the
/// owner's own list comes first and differences decide the rest.
const TIER: f64 = 1e4;

/// Cost of a thread that may not stand in: more than all tiers together.
const NEVER: f64 = 1e9;

pub(super) fn run(
    catalog: &Catalog,
    palette: &PaletteSummary,
    ask: &Ask,
    options: &SubstituteOptions,
    meter: &mut Meter<'_>,
) -> Result<ChangeList> {
    let case = Case::unsettled(catalog, palette, ask)?;
    let mut gaps = gaps(&case, options)?;
    read_answers(&case, &mut gaps)?;
    let board = Board::new(&case, &gaps, options.allow_used, meter)?;
    board.can_be_filled(&case)?;
    let stand_ins = board.solve(meter)?;
    let outcome = outcome(&case, &board, &stand_ins, options.limit)?;
    evidence::list(&case, &outcome, meter)
}

/// A thread that is missing.
struct Gap<'c> {
    thread: Candidate<'c>,
    /// Share of all stitches that are worked in it; half of a blend's.
    weight: f64,
    /// Its owner answered: this one stands in.
    fixed: Option<Candidate<'c>>,
    refused: BTreeSet<ThreadRef>,
}

fn gaps<'c>(case: &Case<'_, 'c>, options: &SubstituteOptions) -> Result<Vec<Gap<'c>>> {
    if options.missing.is_empty() {
        return Err(bad_missing("", "no thread is missing", "name at least one missing thread"));
    }
    if options.missing.len() > MAX_MISSING {
        return Err(Error::new(ErrorKind::OverLimit {
            what: "missing threads".into(),
            found: options.missing.len() as u64,
            limit: MAX_MISSING as u64,
        })
        .at(Place::field(FIELD)));
    }
    let names: BTreeSet<&ThreadRef> = options.missing.iter().collect();
    let mut gaps = Vec::with_capacity(names.len());
    let mut unused = Vec::new();
    for name in names {
        let thread = find(case.catalog, name)?;
        if case.kept_threads.contains(&thread) {
            return Err(missing_but_kept(name));
        }
        let weight = weight_of(case, name)?;
        if weight <= 0.0 {
            unused.push(name.to_string());
        }
        gaps.push(Gap { thread, weight, fixed: None, refused: BTreeSet::new() });
    }
    if unused.is_empty() {
        return Ok(gaps);
    }
    Err(bad_missing(
        &unused.join(", "),
        "no color of the chart is worked in it",
        &format!("leave it out; {}", used_threads(case)),
    ))
}

fn used_threads(case: &Case<'_, '_>) -> String {
    let used: BTreeSet<&ThreadRef> =
        case.palette.colors().iter().flat_map(|color| &color.threads).collect();
    if used.is_empty() {
        return "the chart names no threads, convert it first".into();
    }
    let named: Vec<String> = used.iter().take(10).map(ToString::to_string).collect();
    let more = if used.len() > named.len() { ", …" } else { "" };
    format!("the chart is worked in {}{more}", named.join(", "))
}

/// Share of stitches worked in a thread. A kept color cannot lose its thread.
fn weight_of(case: &Case<'_, '_>, name: &ThreadRef) -> Result<f64> {
    let mut sum = 0.0;
    let colors = case.palette.colors().iter().zip(case.weights()).zip(&case.kept);
    for (place, ((color, weight), kept)) in colors.enumerate() {
        if !color.threads.contains(name) {
            continue;
        }
        if *kept {
            return Err(Error::new(ErrorKind::Impossible {
                reason: format!("color {place} is kept, but its thread {name} is missing"),
                nearest: "keep it no longer, or leave the thread out of the missing ones".into(),
            }));
        }
        sum += weight / whole(color.threads.len() as u64);
    }
    Ok(sum)
}

/// Answers speak of colors; here each is about the missing threads of that color.
fn read_answers<'c>(case: &Case<'_, 'c>, gaps: &mut [Gap<'c>]) -> Result<()> {
    for answered in &case.ask.answers {
        let place = answered.color;
        let Some(color) = case.palette.colors().get(place) else {
            return Err(bad_answer(place, "the palette has no such color"));
        };
        for (strand, name) in color.threads.iter().enumerate() {
            let Some(gap) = gaps.iter_mut().find(|gap| gap.thread.name() == *name) else {
                continue;
            };
            match (&answered.answer, answered.proposed.get(strand)) {
                (Answer::Another(thread), _) | (Answer::Yes, Some(thread)) => {
                    gap.fix(case, place, thread)?;
                }
                (Answer::No, Some(thread)) => gap.refuse(place, thread)?,
                (Answer::Yes | Answer::No, None) => {
                    return Err(bad_answer(place, "the list proposed no thread for it"));
                }
            }
        }
    }
    all_different(gaps)
}

impl<'c> Gap<'c> {
    fn fix(&mut self, case: &Case<'_, 'c>, color: usize, name: &ThreadRef) -> Result<()> {
        let thread =
            find(case.catalog, name).map_err(|error| bad_answer(color, &error.to_string()))?;
        if case.ask.filter.excluded.contains(name) {
            return Err(bad_answer(color, &format!("thread {name} is excluded")));
        }
        if thread == self.thread {
            return Err(bad_answer(color, &format!("thread {name} is missing")));
        }
        if self.refused.contains(name) {
            return Err(bad_answer(color, "one answer refuses the thread that another one wants"));
        }
        if self.fixed.is_some_and(|fixed| fixed != thread) {
            return Err(bad_answer(color, "its thread is answered twice, with different threads"));
        }
        self.fixed = Some(thread);
        Ok(())
    }

    fn refuse(&mut self, color: usize, name: &ThreadRef) -> Result<()> {
        if self.fixed.is_some_and(|fixed| fixed.name() == *name) {
            return Err(bad_answer(color, "one answer refuses the thread that another one wants"));
        }
        self.refused.insert(name.clone());
        Ok(())
    }

    /// True when the thread is of one kind with the missing one. An unknown fiber contradicts none.
    fn is_kin(&self, other: Candidate<'_>) -> bool {
        self.thread.thread.is_kin_of(other.thread)
    }

    /// Place in the owner's list of preferred alternates.
    fn rank(&self, other: Candidate<'_>) -> Option<usize> {
        let listed = self.thread.thread.alternates.iter().take(MAX_RANKS);
        let mut listed = listed.filter(|_| other.table == self.thread.table);
        listed.position(|code| *code == other.thread.code)
    }
}

/// No two missing threads may be answered with one thread, nor any with a missing one.
fn all_different(gaps: &[Gap<'_>]) -> Result<()> {
    let mut seen = BTreeSet::new();
    for fixed in gaps.iter().filter_map(|gap| gap.fixed) {
        let name = fixed.name().to_string();
        let missing = gaps.iter().any(|gap| gap.thread == fixed);
        if missing || !seen.insert(fixed) {
            let reason = if missing { "it is missing" } else { "two missing threads get it" };
            return Err(Error::new(ErrorKind::BadAnswer { change: name, reason: reason.into() }));
        }
    }
    Ok(())
}

/// One thread that may stand in for one gap.
#[derive(Clone, Copy)]
struct Bid<'c> {
    thread: Candidate<'c>,
    /// Steps down the owner's list; threads that are not on it come after it.
    tier: usize,
    difference: f64,
}

/// Who may stand in for whom.
struct Board<'g, 'c> {
    gaps: &'g [Gap<'c>],
    /// Bids for each gap, best first: as many as there are gaps and runners-up, which is enough
    /// for the best joint answer.
    bids: Vec<Vec<Bid<'c>>>,
}

impl<'g, 'c> Board<'g, 'c> {
    fn new(
        case: &Case<'_, 'c>,
        gaps: &'g [Gap<'c>],
        allow_used: bool,
        meter: &mut Meter<'_>,
    ) -> Result<Self> {
        let used: BTreeSet<&ThreadRef> =
            case.palette.colors().iter().flat_map(|color| &color.threads).collect();
        let may_answer = |thread: &Candidate<'_>| {
            !gaps.iter().any(|gap| gap.thread == *thread)
                && (allow_used || !used.contains(&thread.name()))
        };
        let pool: Vec<Candidate<'c>> = case.candidates()?.into_iter().filter(may_answer).collect();
        let enough = gaps.len() + RUNNERS_UP;
        let mut bids = Vec::with_capacity(gaps.len());
        for gap in gaps {
            let mut own = bids_for(case, gap, &pool, meter)?;
            own.sort_by(|one, two| {
                let by_difference = one.difference.total_cmp(&two.difference);
                one.tier.cmp(&two.tier).then(by_difference).then(one.thread.cmp(&two.thread))
            });
            own.truncate(enough);
            bids.push(own);
        }
        Ok(Self { gaps, bids })
    }

    /// Every gap needs at least one bid or an answer; all that have none are named at once.
    fn can_be_filled(&self, case: &Case<'_, '_>) -> Result<()> {
        let empty: Vec<&Gap<'_>> = self
            .gaps
            .iter()
            .zip(&self.bids)
            .filter(|(gap, bids)| gap.fixed.is_none() && bids.is_empty())
            .map(|(gap, _)| gap)
            .collect();
        if empty.is_empty() {
            return Ok(());
        }
        let described = |gap: &&Gap<'_>| {
            let (name, thread) = (gap.thread.name(), gap.thread.thread);
            let fiber = thread.fiber.as_ref().map(|fiber| format!(" {}", shown(fiber)));
            format!("{name} ({}{})", thread.finish.as_str(), fiber.unwrap_or_default())
        };
        let named: Vec<String> = empty.iter().map(described).collect();
        let tables = if case.ask.tables.is_empty() { "the tables" } else { "the chosen tables" };
        Err(Error::new(ErrorKind::Impossible {
            reason: format!(
                "{tables} have no free thread of that finish to stand in for {}",
                named.join(", ")
            ),
            nearest:
                "leave it out and look yourself, give another table, admit other finishes, or \
                      allow threads that the chart already uses"
                    .into(),
        }))
    }

    /// The joint answer: for each gap its stand-in.
    fn solve(&self, meter: &mut Meter<'_>) -> Result<Vec<Bid<'c>>> {
        let fixed = self.gaps.iter().filter_map(|gap| gap.fixed);
        let mut columns: Vec<Candidate<'c>> = fixed.clone().collect();
        columns.extend(self.bids.iter().flatten().map(|bid| bid.thread));
        columns.sort();
        columns.dedup();
        if columns.len() < self.gaps.len() {
            return Err(too_few(self.gaps.len(), columns.len()));
        }
        let costs: Vec<Vec<f64>> = self
            .gaps
            .iter()
            .zip(&self.bids)
            .map(|(gap, bids)| cost_row(gap, bids, &columns))
            .collect();
        let seats = assign(&costs, columns.len(), meter)?;
        let mut stand_ins = Vec::with_capacity(seats.len());
        for ((gap, bids), column) in self.gaps.iter().zip(&self.bids).zip(seats) {
            let Some(thread) = columns.get(column) else { continue };
            let bid = bids.iter().find(|bid| bid.thread == *thread).copied();
            let answered = || Bid { thread: *thread, tier: 0, difference: 0.0 };
            match (bid, gap.fixed) {
                (_, Some(fixed)) if fixed == *thread => stand_ins.push(answered()),
                (Some(bid), None) => stand_ins.push(bid),
                (None, None) | (_, Some(_)) => {
                    return Err(too_few(self.gaps.len(), stand_ins.len()));
                }
            }
        }
        Ok(stand_ins)
    }

    /// True when nobody's list of alternates had a say, so that differences alone decided.
    fn is_by_difference(&self) -> bool {
        let ranked = |gap: &Gap<'_>, bids: &[Bid<'_>]| {
            gap.fixed.is_none() && bids.iter().any(|bid| gap.rank(bid.thread).is_some())
        };
        !self.gaps.iter().zip(&self.bids).any(|(gap, bids)| ranked(gap, bids))
    }
}

fn bids_for<'c>(
    case: &Case<'_, 'c>,
    gap: &Gap<'c>,
    pool: &[Candidate<'c>],
    meter: &mut Meter<'_>,
) -> Result<Vec<Bid<'c>>> {
    let mut bids = Vec::new();
    let mut listed = 0;
    for thread in pool {
        let rank = gap.rank(*thread);
        if gap.refused.contains(&thread.name()) || (rank.is_none() && !gap.is_kin(*thread)) {
            continue;
        }
        listed += usize::from(rank.is_some());
        let (standard, sample) = (&gap.thread.thread.color, &thread.thread.color);
        let difference = meter.difference(standard, sample, case.ask.formula)?;
        bids.push(Bid { thread: *thread, tier: rank.unwrap_or(MAX_RANKS), difference });
    }
    if listed == 0 {
        bids.iter_mut().for_each(|bid| bid.tier = 0);
    }
    Ok(bids)
}

fn cost_row(gap: &Gap<'_>, bids: &[Bid<'_>], columns: &[Candidate<'_>]) -> Vec<f64> {
    let mut row = vec![NEVER; columns.len()];
    let mut price = |thread: &Candidate<'_>, cost: f64| {
        if let Ok(column) = columns.binary_search(thread)
            && let Some(cell) = row.get_mut(column)
        {
            *cell = cost;
        }
    };
    match gap.fixed {
        Some(fixed) => price(&fixed, 0.0),
        None => {
            for bid in bids {
                let tiers = whole(bid.tier as u64) * TIER;
                price(&bid.thread, gap.weight * bid.difference + tiers);
            }
        }
    }
    row
}

fn outcome<'c>(
    case: &Case<'_, 'c>,
    board: &Board<'_, 'c>,
    stand_ins: &[Bid<'c>],
    limit: Option<DeltaE>,
) -> Result<Outcome<'c>> {
    let proved = board.is_by_difference();
    let mut outcome = Outcome {
        question: Question::Substitute,
        after: Vec::new(),
        runners_up: Vec::new(),
        remarks: Vec::new(),
        bound: proved.then_some(0.0),
        proved,
    };
    for color in case.palette.colors() {
        let filled =
            |name: &ThreadRef| board.gaps.iter().position(|gap| gap.thread.name() == *name);
        let places: Vec<Option<usize>> = color.threads.iter().map(filled).collect();
        let gap = places.iter().flatten().next().copied();
        let Some(gap) = gap else {
            outcome.after.push(case.own_threads(color).unwrap_or_default());
            outcome.runners_up.push(Vec::new());
            outcome.remarks.push(Vec::new());
            continue;
        };
        let mut after = Vec::with_capacity(color.threads.len());
        let mut beyond = false;
        for (name, place) in color.threads.iter().zip(&places) {
            match place.and_then(|place| Some((board.gaps.get(place)?, stand_ins.get(place)?))) {
                Some((gap, bid)) => {
                    beyond |= is_beyond(gap, bid.thread, limit, case)?;
                    after.push(bid.thread);
                }
                None => after.push(find(case.catalog, name)?),
            }
        }
        outcome.after.push(after);
        outcome.runners_up.push(runners_up(board, stand_ins, gap));
        outcome.remarks.push(if beyond { vec![Remark::BeyondLimit] } else { Vec::new() });
    }
    Ok(outcome)
}

fn is_beyond(
    gap: &Gap<'_>,
    thread: Candidate<'_>,
    limit: Option<DeltaE>,
    case: &Case<'_, '_>,
) -> Result<bool> {
    let Some(limit) = limit else { return Ok(false) };
    let (standard, sample) = (&gap.thread.thread.color, &thread.thread.color);
    let difference = case.difference(standard, sample)?;
    Ok(difference.delta_e.value() > limit.value())
}

/// The next best threads for a gap that no other gap gets.
fn runners_up<'c>(board: &Board<'_, 'c>, stand_ins: &[Bid<'c>], gap: usize) -> Vec<Candidate<'c>> {
    let bids = board.bids.get(gap).into_iter().flatten().map(|bid| bid.thread);
    let taken = |thread: &Candidate<'_>| stand_ins.iter().any(|bid| bid.thread == *thread);
    bids.filter(|thread| !taken(thread)).take(RUNNERS_UP).collect()
}

fn too_few(missing: usize, found: usize) -> Error {
    Error::new(ErrorKind::Impossible {
        reason: format!("{missing} missing threads have only {found} different ones to stand in"),
        nearest: "admit more threads, or allow threads that the chart already uses".into(),
    })
}

fn missing_but_kept(name: &ThreadRef) -> Error {
    Error::new(ErrorKind::Impossible {
        reason: format!("thread {name} is both kept and missing"),
        nearest: "keep it no longer, or leave it out of the missing threads".into(),
    })
}

fn bad_missing(value: &str, reason: &str, remedy: &str) -> Error {
    Error::new(ErrorKind::BadValue {
        value: value.to_owned(),
        reason: reason.to_owned(),
        remedy: remedy.to_owned(),
    })
    .at(Place::field(FIELD))
}
