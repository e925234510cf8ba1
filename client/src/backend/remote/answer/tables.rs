//! Audits and comparisons of tables as domain types.
//! It does not know how a message travels.

use dyekin_core::audit::{Audit, Clue, Gap, Swap, Twins};
use dyekin_core::compare::{
    Answer, Changed, Comparison, Field, OtherChange, Recolored, StandIn, Substitution,
};

use super::{
    code, color, comparison, difference, formula, impossible, missing, number, refusal, thread,
    version, wire,
};
use crate::failure::Result;

/// A thread that must be there.
fn must(found: Option<wire::Thread>) -> Result<dyekin_core::Thread> {
    thread(found.ok_or_else(|| missing("thread"))?)
}

fn all<W, T>(found: Vec<W>, read: impl Fn(W) -> Result<T>) -> Result<Vec<T>> {
    found.into_iter().map(read).collect()
}

fn table(found: Option<&wire::TableVersion>) -> Result<dyekin_core::change::TableVersion> {
    version(found.ok_or_else(|| missing("table"))?)
}

fn twins(found: wire::NearTwins) -> Result<Twins> {
    Ok(Twins {
        first: must(found.first)?,
        second: must(found.second)?,
        difference: difference(found.difference.as_ref())?,
    })
}

fn swap(found: wire::SwappedRows) -> Result<Swap> {
    let clue = match found.clue() {
        wire::SwapClue::Unspecified => return Err(missing("clue")),
        wire::SwapClue::Lightness => Clue::Lightness,
        wire::SwapClue::Neighbors => Clue::Neighbors,
    };
    Ok(Swap {
        clue,
        first: must(found.first)?,
        second: must(found.second)?,
        difference: difference(found.difference.as_ref())?,
    })
}

fn gap(found: wire::ColorGap) -> Result<Gap> {
    Ok(Gap {
        color: color(found.color.as_ref())?,
        nearest: must(found.nearest)?,
        difference: difference(found.difference.as_ref())?,
    })
}

/// The pages of one audit so far, and the next one.
pub(in crate::backend::remote) fn join_audits(
    so_far: Option<wire::AuditTableResponse>,
    page: wire::AuditTableResponse,
) -> wire::AuditTableResponse {
    let Some(mut whole) = so_far else { return page };
    whole.twins.extend(page.twins);
    whole.swaps.extend(page.swaps);
    whole.gaps.extend(page.gaps);
    whole
}

/// The pages of one comparison so far, and the next one.
pub(in crate::backend::remote) fn join_comparisons(
    so_far: Option<wire::CompareTableVersionsResponse>,
    page: wire::CompareTableVersionsResponse,
) -> wire::CompareTableVersionsResponse {
    let Some(mut whole) = so_far else { return page };
    whole.gone_threads.extend(page.gone_threads);
    whole.added_threads.extend(page.added_threads);
    whole.recolored_threads.extend(page.recolored_threads);
    whole.renamed_threads.extend(page.renamed_threads);
    whole.restated_threads.extend(page.restated_threads);
    whole.other_changes.extend(page.other_changes);
    whole.substitutions.extend(page.substitutions);
    whole
}

/// What was found in a table.
pub(in crate::backend::remote) fn audit(found: wire::AuditTableResponse) -> Result<Audit> {
    Ok(Audit {
        table: table(found.table.as_ref())?,
        twins: all(found.twins, twins)?,
        more_twins: found.more_twins,
        swaps: all(found.swaps, swap)?,
        gaps: all(found.gaps, gap)?,
        more_gaps: found.more_gaps,
        plain_threads: number(found.plain_thread_count, "number of threads")?,
    })
}

fn changed(found: wire::ChangedThread) -> Result<Changed> {
    Ok(Changed { before: must(found.before)?, after: must(found.after)? })
}

fn recolored(found: wire::RecoloredThread) -> Result<Recolored> {
    let outcome = found.comparison.ok_or_else(|| missing("comparison"))?;
    Ok(Recolored {
        before: must(found.before)?,
        after: must(found.after)?,
        difference: comparison(outcome)?,
    })
}

fn field(found: i32) -> Result<Field> {
    match wire::ThreadField::try_from(found) {
        Ok(wire::ThreadField::Alternates) => Ok(Field::Alternates),
        Ok(wire::ThreadField::Fiber) => Ok(Field::Fiber),
        Ok(wire::ThreadField::Finish) => Ok(Field::Finish),
        Ok(wire::ThreadField::Gtin) => Ok(Field::Gtin),
        Ok(wire::ThreadField::Minimum) => Ok(Field::Minimum),
        Ok(wire::ThreadField::Origin) => Ok(Field::Origin),
        Ok(wire::ThreadField::Pack) => Ok(Field::Pack),
        Ok(wire::ThreadField::Price) => Ok(Field::Price),
        Ok(wire::ThreadField::SkeinLength) => Ok(Field::SkeinMetres),
        Ok(wire::ThreadField::Spectrum) => Ok(Field::Spectrum),
        Ok(wire::ThreadField::Strands) => Ok(Field::Strands),
        Ok(wire::ThreadField::Uncertainty) => Ok(Field::Uncertainty),
        Ok(wire::ThreadField::Unspecified) | Err(_) => Err(impossible("field")),
    }
}

fn other(found: wire::OtherChange) -> Result<OtherChange> {
    Ok(OtherChange { code: code(&found.code)?, fields: all(found.fields, field)? })
}

fn answer(found: Option<wire::StandInAnswer>) -> Result<Answer> {
    use wire::stand_in_answer::Outcome;
    Ok(match found.ok_or_else(|| missing("stand-in"))?.outcome {
        None => Ok(None),
        Some(Outcome::Problem(problem)) => Err(refusal::error(&problem)),
        Some(Outcome::StandIn(found)) => Ok(Some(StandIn {
            thread: must(found.thread)?,
            difference: difference(found.difference.as_ref())?,
            preferred: found.preferred,
        })),
    })
}

fn substitution(found: wire::ChangedSubstitution) -> Result<Substitution> {
    Ok(Substitution {
        thread: must(found.thread)?,
        gone: found.gone,
        before: answer(found.before)?,
        after: answer(found.after)?,
    })
}

/// What two versions of a table differ in.
pub(in crate::backend::remote) fn compared(
    found: wire::CompareTableVersionsResponse,
) -> Result<Comparison> {
    Ok(Comparison {
        old: table(found.old_table.as_ref())?,
        new: table(found.new_table.as_ref())?,
        formula: formula(found.formula.as_ref())?,
        shared: number(found.shared_thread_count, "number of threads")?,
        gone: all(found.gone_threads, thread)?,
        added: all(found.added_threads, thread)?,
        recolored: all(found.recolored_threads, recolored)?,
        renamed: all(found.renamed_threads, changed)?,
        restated: all(found.restated_threads, changed)?,
        others: all(found.other_changes, other)?,
        substitutions: all(found.substitutions, substitution)?,
    })
}
