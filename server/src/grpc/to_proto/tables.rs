//! Audits and comparisons of tables to wire. It cannot fail and does not know the requests.

use dyekin_core::audit::{Audit, Clue, Gap, Swap, Twins};
use dyekin_core::compare::{
    Answer, Changed, Comparison, Field, OtherChange, Recolored, StandIn, Substitution,
};
use dyekin_core::{Difference, Formula, Thread};
use dyekin_proto::v1 as pb;

use super::{color, comparison, count32, difference, formula, table_versions, thread};
use crate::grpc::paging::Cut;
use crate::grpc::status;

/// A difference of two threads, the first of which is the standard.
fn between(found: &Difference, standard: &Thread, sample: &Thread) -> pb::Difference {
    difference(found, standard.color.conditions(), sample.color.conditions())
}

fn twins(twins: &Twins) -> pb::NearTwins {
    pb::NearTwins {
        first: Some(thread(&twins.first)),
        second: Some(thread(&twins.second)),
        difference: Some(between(&twins.difference, &twins.first, &twins.second)),
    }
}

fn swap(swap: &Swap) -> pb::SwappedRows {
    let clue = match swap.clue {
        Clue::Lightness => pb::SwapClue::Lightness,
        Clue::Neighbors => pb::SwapClue::Neighbors,
    };
    pb::SwappedRows {
        first: Some(thread(&swap.first)),
        second: Some(thread(&swap.second)),
        clue: clue.into(),
        difference: Some(between(&swap.difference, &swap.first, &swap.second)),
    }
}

fn gap(gap: &Gap) -> pb::ColorGap {
    let (standard, sample) = (gap.color.conditions(), gap.nearest.color.conditions());
    pb::ColorGap {
        color: Some(color(&gap.color)),
        nearest: Some(thread(&gap.nearest)),
        difference: Some(difference(&gap.difference, standard, sample)),
    }
}

/// What was found in a table, as far as it belongs to the page; without the next token.
pub(in crate::grpc) fn audit(
    audit: &Audit,
    asked: Formula,
    page: &mut Cut,
) -> pb::AuditTableResponse {
    pb::AuditTableResponse {
        table: table_versions(std::slice::from_ref(&audit.table)).pop(),
        formula: Some(formula(asked)),
        twins: page.take(&audit.twins, twins),
        more_twins: audit.more_twins,
        swaps: page.take(&audit.swaps, swap),
        gaps: page.take(&audit.gaps, gap),
        more_gaps: audit.more_gaps,
        plain_thread_count: count32(audit.plain_threads),
        next_page_token: String::new(),
    }
}

fn changed(changed: &Changed) -> pb::ChangedThread {
    pb::ChangedThread { before: Some(thread(&changed.before)), after: Some(thread(&changed.after)) }
}

fn recolored(found: &Recolored) -> pb::RecoloredThread {
    let (before, after) = (&found.before, &found.after);
    pb::RecoloredThread {
        before: Some(thread(before)),
        after: Some(thread(after)),
        comparison: Some(comparison(&before.color, &after.color, &found.difference)),
    }
}

fn field(field: Field) -> pb::ThreadField {
    match field {
        Field::Alternates => pb::ThreadField::Alternates,
        Field::Fiber => pb::ThreadField::Fiber,
        Field::Finish => pb::ThreadField::Finish,
        Field::Gtin => pb::ThreadField::Gtin,
        Field::Minimum => pb::ThreadField::Minimum,
        Field::Origin => pb::ThreadField::Origin,
        Field::Pack => pb::ThreadField::Pack,
        Field::Price => pb::ThreadField::Price,
        Field::SkeinMetres => pb::ThreadField::SkeinLength,
        Field::Spectrum => pb::ThreadField::Spectrum,
        Field::Strands => pb::ThreadField::Strands,
        Field::Uncertainty => pb::ThreadField::Uncertainty,
    }
}

fn other(other: &OtherChange) -> pb::OtherChange {
    let fields = other.fields.iter().map(|changed| field(*changed).into()).collect();
    pb::OtherChange { code: other.code.to_string(), fields }
}

fn stand_in(answer: &Answer, missing: &Thread) -> pb::StandInAnswer {
    let outcome = match answer {
        Ok(None) => None,
        Ok(Some(StandIn { thread: found, difference: far, preferred })) => {
            Some(pb::stand_in_answer::Outcome::StandIn(pb::StandIn {
                thread: Some(thread(found)),
                difference: Some(between(far, missing, found)),
                preferred: *preferred,
            }))
        }
        Err(error) => Some(pb::stand_in_answer::Outcome::Problem(status::problem(error))),
    };
    pb::StandInAnswer { outcome }
}

fn substitution(found: &Substitution) -> pb::ChangedSubstitution {
    pb::ChangedSubstitution {
        thread: Some(thread(&found.thread)),
        gone: found.gone,
        before: Some(stand_in(&found.before, &found.thread)),
        after: Some(stand_in(&found.after, &found.thread)),
    }
}

/// What two versions of a table differ in, as far as it belongs to the page; without the next token.
pub(in crate::grpc) fn compared(
    found: &Comparison,
    page: &mut Cut,
) -> pb::CompareTableVersionsResponse {
    pb::CompareTableVersionsResponse {
        old_table: table_versions(std::slice::from_ref(&found.old)).pop(),
        new_table: table_versions(std::slice::from_ref(&found.new)).pop(),
        formula: Some(formula(found.formula)),
        shared_thread_count: count32(found.shared),
        gone_threads: page.take(&found.gone, thread),
        added_threads: page.take(&found.added, thread),
        recolored_threads: page.take(&found.recolored, recolored),
        renamed_threads: page.take(&found.renamed, changed),
        restated_threads: page.take(&found.restated, changed),
        other_changes: page.take(&found.others, other),
        substitutions: page.take(&found.substitutions, substitution),
        next_page_token: String::new(),
    }
}
