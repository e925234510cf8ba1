//! Missing threads replaced jointly: each gets a thread of its own, as near as all of them allow.
//! It does not know the chart.

mod eyes;
mod gap;
mod stock;
mod surroundings;

use std::collections::BTreeSet;

use super::case::{Candidate, Case, find, whole};
use super::evidence::{self, Outcome, RUNNERS_UP};
use super::joint::{Bid, Field, Joint, Picks, Seeker, Terms};
use super::meter::Meter;
use super::sight::Sight;
use super::{Ask, SubstituteOptions};
use crate::catalog::Catalog;
use crate::change::{ChangeList, JointReport, Loosened, Question, Remark};
use crate::difference::{DeltaE, Difference};
use crate::error::{Error, ErrorKind, Result, shown};
use crate::palette::PaletteSummary;
use crate::spectrum::Seen;
use crate::table::ThreadRef;
use eyes::Eyes;
use gap::{Gap, MAX_RANKS};
use stock::Lengths;
use surroundings::Surroundings;

/// Weight of a step down the list of preferred alternates: more than any difference, so that the
/// owner's own list comes first and differences decide the rest.
const TIER: f64 = 1e4;

pub(super) fn run(
    catalog: &Catalog,
    palette: &PaletteSummary,
    ask: &Ask,
    options: &SubstituteOptions,
    meter: &mut Meter<'_>,
) -> Result<ChangeList> {
    let mut case = Case::unsettled(catalog, palette, ask)?;
    case.sight = options.lights.clone().map_or(Sight::Told, Sight::Ranked);
    let gaps = gap::gaps(&case, options)?;
    let mut eyes = Eyes::new(&gaps, options.lights.as_ref())?;
    let around = Surroundings::of(&case, (&gaps, &options.staying), meter)?;
    let lengths = Lengths::of(&case, &gaps, options)?;
    let lengths = lengths.as_ref();
    let field = field(&case, (&gaps, lengths), (options, &around, &mut eyes), meter)?;
    can_be_filled(&case, (&gaps, lengths), &field)?;
    let terms = Terms {
        apart: options.min_apart.value(),
        steps: if options.keep_lightness { around.steps.clone() } else { Vec::new() },
        outlines: options.keep_outlines,
    };
    let mut joint = Joint::new(&field);
    let Some(picks) = joint.solve(&terms, meter)? else {
        return Err(too_few(gaps.len(), field.threads.len()));
    };
    let staying = &options.staying;
    let answer = Answer { case: &case, gaps: &gaps, staying, field: &field, picks: &picks };
    let outcome = answer.outcome(&mut joint, options.limit, meter)?;
    let mut list = evidence::list(&case, &outcome, meter)?;
    let left_out = eyes.left_out();
    let report = report(&mut joint, &terms, &picks, meter)?;
    list.joint = Some(JointReport { lights: options.lights.clone(), left_out, ..report });
    Ok(list)
}

/// What was asked of the threads together, and what of it holds.
pub(super) fn report(
    joint: &mut Joint<'_, '_>,
    asked: &Terms,
    picks: &Picks,
    meter: &mut Meter<'_>,
) -> Result<JointReport> {
    let least = joint.least_apart(&picks.threads, meter)?;
    let mut loosened = Vec::new();
    if picks.terms.apart < asked.apart {
        loosened.push(Loosened::Apart);
    }
    let reversed = joint.reversed(&asked.steps, &picks.threads);
    if reversed > 0 {
        loosened.push(Loosened::Lightness);
    }
    if asked.outlines && !picks.terms.outlines {
        loosened.push(Loosened::Outlines);
    }
    Ok(JointReport {
        min_apart: DeltaE::computed(asked.apart),
        least_apart: least.map(DeltaE::computed),
        steps: asked.steps.len(),
        reversed_steps: reversed,
        loosened,
        proved_impossible: picks.impossible,
        lights: None,
        left_out: 0,
    })
}

/// Who may stand in for whom, and beside what.
fn field<'c>(
    case: &Case<'_, 'c>,
    (gaps, lengths): (&[Gap<'c>], Option<&Lengths>),
    (options, around, eyes): (&SubstituteOptions, &Surroundings, &mut Eyes<'_, 'c>),
    meter: &mut Meter<'_>,
) -> Result<Field<'c>> {
    let used: BTreeSet<&ThreadRef> =
        case.palette.colors().iter().flat_map(|color| &color.threads).collect();
    let is_missing = |thread: &Candidate<'_>| options.missing.contains(&thread.name());
    let may_answer = |thread: &Candidate<'_>| {
        !is_missing(thread) && (options.allow_used || !used.contains(&thread.name()))
    };
    let mut threads = case.candidates()?;
    threads.retain(may_answer);
    let open: BTreeSet<Candidate<'c>> = threads.iter().copied().collect();
    threads.extend(gaps.iter().filter_map(|gap| gap.fixed).filter(|fixed| !open.contains(fixed)));
    threads.sort_by(|one, two| {
        let level = |held: &Candidate<'_>| held.thread.color.lab().l();
        level(one).total_cmp(&level(two)).then(one.cmp(two))
    });
    threads.dedup();
    let mut seekers = Vec::with_capacity(gaps.len());
    for (place, (gap, outlines)) in gaps.iter().zip(&around.outlines).enumerate() {
        let bids = match gap.fixed {
            Some(fixed) => {
                let place = threads.iter().position(|thread| *thread == fixed);
                place.map(|thread| Bid { thread, cost: 0.0 }).into_iter().collect()
            }
            None => {
                let mut bids = bids(case, gap, (&threads, &open), eyes, meter)?;
                if let Some(lengths) = lengths {
                    let thread = |bid: &Bid| threads.get(bid.thread).copied();
                    let is_enough = |thread| lengths.suffice(case, gap, thread);
                    bids.retain(|bid| thread(bid).is_some_and(is_enough));
                }
                bids
            }
        };
        seekers.push(Seeker {
            bids,
            fixed: gap.fixed.is_some(),
            outlines: outlines.clone(),
            left: around.left_beside(place),
        });
    }
    let is_used =
        |(place, thread): (usize, &Candidate<'_>)| used.contains(&thread.name()).then_some(place);
    Ok(Field {
        in_use: around.in_use.clone(),
        reused: threads.iter().enumerate().filter_map(is_used).collect(),
        touching: around.touching.clone(),
        formula: case.ask.formula,
        threads,
        seekers,
    })
}

/// The threads of one kind with a missing one and those on its owner's list, cheapest first.
fn bids<'c>(
    case: &Case<'_, 'c>,
    gap: &Gap<'c>,
    (threads, open): (&[Candidate<'c>], &BTreeSet<Candidate<'c>>),
    eyes: &mut Eyes<'_, 'c>,
    meter: &mut Meter<'_>,
) -> Result<Vec<Bid>> {
    let mut ranked = Vec::new();
    let mut listed = 0;
    for (place, thread) in threads.iter().enumerate() {
        let rank = gap.rank(*thread);
        let is_out = gap.refused.contains(&thread.name()) || !open.contains(thread);
        if is_out || (rank.is_none() && !gap.is_kin(*thread)) {
            continue;
        }
        let Some(difference) = eyes.difference(case, gap, *thread, meter)? else { continue };
        listed += usize::from(rank.is_some());
        ranked.push((place, rank.unwrap_or(MAX_RANKS), gap.weight * difference));
    }
    let bid = |(thread, tier, cost): (usize, usize, f64)| {
        let tiers = if listed == 0 { 0.0 } else { whole(tier as u64) * TIER };
        Bid { thread, cost: cost + tiers }
    };
    let mut bids: Vec<Bid> = ranked.into_iter().map(bid).collect();
    bids.sort_by(|one, two| {
        let names = (threads.get(one.thread), threads.get(two.thread));
        one.cost.total_cmp(&two.cost).then(names.0.cmp(&names.1))
    });
    Ok(bids)
}

/// Every gap needs at least one bid or an answer; all that have none are named at once.
fn can_be_filled(
    case: &Case<'_, '_>,
    (gaps, lengths): (&[Gap<'_>], Option<&Lengths>),
    field: &Field<'_>,
) -> Result<()> {
    let described = |gap: &Gap<'_>| {
        let (name, thread) = (gap.thread.name(), gap.thread.thread);
        let fiber = thread.fiber.as_ref().map(|fiber| format!(" {}", shown(fiber)));
        let length = lengths.map(|lengths| format!(", {}", lengths.wanted(case, gap)));
        let (fiber, length) = (fiber.unwrap_or_default(), length.unwrap_or_default());
        format!("{name} ({}{fiber}{length})", thread.finish.as_str())
    };
    let empty = gaps.iter().zip(&field.seekers).filter(|(_, seeker)| seeker.bids.is_empty());
    let named: Vec<String> = empty.map(|(gap, _)| described(gap)).collect();
    if named.is_empty() {
        return Ok(());
    }
    let tables = if case.ask.tables.is_empty() { "the tables" } else { "the chosen tables" };
    Err(Error::new(ErrorKind::Impossible {
        reason: format!(
            "{tables} have no free thread of that finish{} to stand in for {}",
            if lengths.is_some() { ", with enough of it in stock," } else { "" },
            named.join(", ")
        ),
        nearest: "leave it out and look yourself, give another table, admit other finishes, or \
                  allow threads that the chart already uses"
            .into(),
    }))
}

/// The joint answer, to be told color by color.
struct Answer<'s, 'a, 'c> {
    case: &'s Case<'a, 'c>,
    gaps: &'s [Gap<'c>],
    staying: &'s [usize],
    field: &'s Field<'c>,
    picks: &'s Picks,
}

impl<'c> Answer<'_, '_, 'c> {
    fn outcome(
        &self,
        joint: &mut Joint<'_, 'c>,
        limit: Option<DeltaE>,
        meter: &mut Meter<'_>,
    ) -> Result<Outcome<'c>> {
        let mut outcome = Outcome {
            question: Question::Substitute,
            after: Vec::new(),
            runners_up: Vec::new(),
            remarks: Vec::new(),
            bound: self.bound()?,
            proved: self.picks.proved,
            combined: None,
        };
        for (color_place, color) in self.case.palette.colors().iter().enumerate() {
            let stays = self.staying.contains(&color_place);
            let filled = |name: &ThreadRef| {
                self.gaps.iter().position(|gap| !stays && gap.thread.name() == *name)
            };
            let places: Vec<Option<usize>> = color.threads.iter().map(filled).collect();
            let Some(gap) = places.iter().flatten().next().copied() else {
                outcome.after.push(self.case.own_threads(color).unwrap_or_default());
                outcome.runners_up.push(Vec::new());
                outcome.remarks.push(Vec::new());
                continue;
            };
            let mut after = Vec::with_capacity(color.threads.len());
            let mut beyond = false;
            for (name, place) in color.threads.iter().zip(&places) {
                match place.and_then(|place| Some((self.gaps.get(place)?, self.thread(place)?))) {
                    Some((gap, thread)) => {
                        beyond |= self.is_beyond(gap, thread, limit)?;
                        after.push(thread);
                    }
                    None => after.push(find(self.case.catalog, name)?),
                }
            }
            outcome.after.push(after);
            let others = joint.runners_up(gap, self.picks, RUNNERS_UP, meter)?;
            let others = others.iter().filter_map(|thread| self.field.threads.get(*thread));
            outcome.runners_up.push(others.copied().collect());
            outcome.remarks.push(if beyond { vec![Remark::BeyondLimit] } else { Vec::new() });
        }
        Ok(outcome)
    }

    /// The thread that stands in for a gap.
    fn thread(&self, gap: usize) -> Option<Candidate<'c>> {
        self.field.threads.get(*self.picks.threads.get(gap)?).copied()
    }

    /// A bound on the mean difference; `None` when the lists of alternates have a say in the costs
    /// and the search was not ended.
    fn bound(&self) -> Result<Option<f64>> {
        if self.picks.proved {
            return Ok(Some(0.0));
        }
        if self.picks.bound >= TIER {
            return Ok(None);
        }
        let mut bound = self.picks.bound;
        for gap in self.gaps {
            if let Some(fixed) = gap.fixed {
                bound += gap.weight * self.difference(gap, fixed)?.delta_e.value();
            }
        }
        Ok(Some(bound))
    }

    fn difference(&self, gap: &Gap<'_>, thread: Candidate<'_>) -> Result<Difference> {
        let own = gap.thread.thread;
        let standard = Seen { color: &own.color, spectrum: own.spectrum.as_deref() };
        self.case.judge(standard, thread.thread).map(|judged| judged.difference)
    }

    fn is_beyond(
        &self,
        gap: &Gap<'_>,
        thread: Candidate<'_>,
        limit: Option<DeltaE>,
    ) -> Result<bool> {
        let Some(limit) = limit else { return Ok(false) };
        Ok(self.difference(gap, thread)?.delta_e.value() > limit.value())
    }
}

fn too_few(missing: usize, found: usize) -> Error {
    Error::new(ErrorKind::Impossible {
        reason: format!(
            "{missing} missing threads cannot all have a different one of the {found} that may \
             stand in"
        ),
        nearest: "admit more threads, or allow threads that the chart already uses".into(),
    })
}
