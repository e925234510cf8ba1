//! The missing threads of a question, with what their owner answered about each.
//! It does not choose what stands in for them.

use std::collections::BTreeSet;

use super::super::case::{Candidate, Case, bad_answer, find, whole};
use super::super::{MAX_MISSING, SubstituteOptions};
use crate::change::Answer;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::table::ThreadRef;

/// The field of a request that names the missing threads.
const FIELD: &str = "missing_threads";

/// The field of a request that names the colors that stay.
const STAYING: &str = "staying_color_indexes";

/// Most preferred alternates that are looked at.
pub(super) const MAX_RANKS: usize = 64;

/// A thread that is missing.
pub(super) struct Gap<'c> {
    pub(super) thread: Candidate<'c>,
    /// Share of all stitches that are worked in it; half of a blend's.
    pub(super) weight: f64,
    /// Its owner answered: this one stands in.
    pub(super) fixed: Option<Candidate<'c>>,
    pub(super) refused: BTreeSet<ThreadRef>,
}

/// The missing threads, with the answers of an earlier list.
pub(super) fn gaps<'c>(case: &Case<'_, 'c>, options: &SubstituteOptions) -> Result<Vec<Gap<'c>>> {
    if options.missing.is_empty() {
        return Err(bad_missing("", "no thread is missing", "name at least one missing thread"));
    }
    if let Some(place) = options.staying.iter().find(|place| **place >= case.kept.len()) {
        let reason = format!("the palette has {} colors", case.kept.len());
        let error = bad_missing(&place.to_string(), &reason, "name places from 0");
        return Err(error.at(Place::field(STAYING)));
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
        let weight = weight_of(case, name, &options.staying)?;
        if weight <= 0.0 && is_stayed_in(case, name, &options.staying) {
            continue;
        }
        if weight <= 0.0 {
            unused.push(name.to_string());
        }
        gaps.push(Gap { thread, weight, fixed: None, refused: BTreeSet::new() });
    }
    if unused.is_empty() {
        read_answers(case, &options.staying, &mut gaps)?;
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

/// True when a color that stays is worked in the thread.
pub(super) fn is_stayed_in(case: &Case<'_, '_>, name: &ThreadRef, staying: &[usize]) -> bool {
    let colors = staying.iter().filter_map(|place| case.palette.colors().get(*place));
    colors.into_iter().any(|color| color.threads.contains(name))
}

/// Share of stitches that lose a thread. A kept color cannot, unless it stays.
fn weight_of(case: &Case<'_, '_>, name: &ThreadRef, staying: &[usize]) -> Result<f64> {
    let mut sum = 0.0;
    let colors = case.palette.colors().iter().zip(case.weights()).zip(&case.kept);
    for (place, ((color, weight), kept)) in colors.enumerate() {
        if !color.threads.contains(name) || staying.contains(&place) {
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
fn read_answers<'c>(case: &Case<'_, 'c>, staying: &[usize], gaps: &mut [Gap<'c>]) -> Result<()> {
    for answered in &case.ask.answers {
        let place = answered.color;
        let Some(color) = case.palette.colors().get(place) else {
            return Err(bad_answer(place, "the palette has no such color"));
        };
        if staying.contains(&place) {
            continue;
        }
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
    pub(super) fn is_kin(&self, other: Candidate<'_>) -> bool {
        self.thread.thread.is_kin_of(other.thread)
    }

    /// Place in the owner's list of preferred alternates.
    pub(super) fn rank(&self, other: Candidate<'_>) -> Option<usize> {
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
