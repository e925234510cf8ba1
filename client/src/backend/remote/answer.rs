//! Messages as answers in domain types; what no server of ours would send is called a fault.
//! It does not know how a message travels.

mod blends;
mod light;
mod reduction;
mod supply;
mod tables;

use std::sync::Arc;

use dyekin_core::change::{
    Change, Combined, EdgeReport, JointReport, Loosened, Proposed, Question, Remark, TableVersion,
    Totals,
};
use dyekin_core::color::{AdaptationMethod, Trust};
use dyekin_core::difference::{Application, Factors, Ratio};
use dyekin_core::error::Error;
use dyekin_core::planner::{CurvePoint, KeepEdges, MergeList, MergeMove, MergeStep};
use dyekin_core::table::{Currency, Finish, Gtin, Notice, Price, Status};
use dyekin_core::watch::Progress;
use dyekin_core::{
    ChangeList, Code, Color, Conditions, DeltaE, Difference, Formula, Lab, Origin, Srgb8,
    TableHash, TableId, Thread, ThreadRef,
};

use super::{refusal, wire};
use crate::backend::{Found, Hit, Imported, TableHead};
use crate::failure::{Failure, Result};

pub(super) use blends::blends;
pub(super) use tables::{audit, compared, join_audits, join_comparisons};

/// The fault of an answer that lacks a part.
pub(super) fn missing(what: &str) -> Failure {
    Failure::Bug { what: format!("the server's answer has no {what}") }
}

fn impossible(what: &str) -> Failure {
    Failure::Bug { what: format!("the server's answer has an impossible {what}") }
}

/// Turns an error of a domain constructor into the fault that it is in an answer.
fn faulty<T, E>(result: std::result::Result<T, E>, what: &str) -> Result<T> {
    result.map_err(|_| impossible(what))
}

fn number<N: TryInto<T>, T>(value: N, what: &str) -> Result<T> {
    value.try_into().map_err(|_| impossible(what))
}

pub(super) fn found(result: wire::MatchResult) -> Result<std::result::Result<Found, Error>> {
    if let Some(problem) = &result.problem {
        return Ok(Err(refusal::error(problem)));
    }
    Ok(Ok(Found {
        matches: result.matches.into_iter().map(hit).collect::<Result<_>>()?,
        more_as_near: number(result.more_as_near_count, "number of threads")?,
        beyond: result.beyond_limit.map(hit).transpose()?,
        left_out: number(result.left_out_thread_count, "number of threads")?,
    }))
}

/// The thread asked for, as its table has it.
pub(super) fn asked(result: wire::ThreadMatchResult) -> Result<std::result::Result<Thread, Error>> {
    if let Some(asked) = result.asked {
        return Ok(Ok(thread(asked)?));
    }
    match result.result.and_then(|result| result.problem) {
        Some(problem) => Ok(Err(refusal::error(&problem))),
        None => Err(missing("thread")),
    }
}

fn hit(found: wire::Match) -> Result<Hit> {
    let difference = difference(found.difference.as_ref())?;
    let told = found.over_lights.as_ref();
    Ok(Hit {
        table: table_id(&found.table_id)?,
        thread: thread(found.thread.ok_or_else(|| missing("thread"))?)?,
        difference,
        as_near: found.as_near,
        over_lights: told.map(|told| light::over_lights(told, difference.formula)).transpose()?,
    })
}

pub(super) fn comparison(
    comparison: wire::Comparison,
) -> Result<std::result::Result<Difference, Error>> {
    use wire::comparison::Outcome;
    match comparison.outcome {
        Some(Outcome::Difference(found)) => Ok(Ok(difference(Some(&found))?)),
        Some(Outcome::Problem(problem)) => Ok(Err(refusal::error(&problem))),
        None => Err(missing("comparison")),
    }
}

fn table_id(text: &str) -> Result<TableId> {
    faulty(TableId::parse(text), "table id")
}

fn code(text: &str) -> Result<Code> {
    faulty(Code::parse(text), "code")
}

fn thread_ref(found: Option<wire::ThreadRef>) -> Result<ThreadRef> {
    let found = found.ok_or_else(|| missing("thread"))?;
    Ok(ThreadRef { table: table_id(&found.table_id)?, code: code(&found.code)? })
}

pub(super) fn thread(found: wire::Thread) -> Result<Thread> {
    let small = |value: Option<i64>, what: &str| value.map(|value| number(value, what)).transpose();
    Ok(Thread {
        code: code(&found.code)?,
        finish: finish(found.finish())?,
        status: status(found.status())?,
        name: found.name,
        color: color(found.color.as_ref())?,
        spectrum: found.spectrum.as_ref().map(light::spectrum).transpose()?.map(Arc::new),
        fiber: Some(found.fiber).filter(|fiber| !fiber.is_empty()).map(Into::into),
        strands: found.strand_count.map(|count| number(count, "strands")).transpose()?,
        skein_metres: found.skein_meters,
        price: found.price.as_ref().map(price).transpose()?,
        pack: small(found.pack_skein_count, "pack")?,
        minimum: small(found.minimum_skein_count, "minimum")?,
        gtin: Some(found.gtin)
            .filter(|gtin| !gtin.is_empty())
            .map(|gtin| faulty(Gtin::parse(&gtin), "trade item number"))
            .transpose()?,
        alternates: found.alternate_codes.iter().map(|text| code(text)).collect::<Result<_>>()?,
    })
}

fn price(found: &wire::Price) -> Result<Price> {
    let currency = match found.currency_code.as_str() {
        "" => None,
        text => Some(Currency::parse(text).ok_or_else(|| impossible("currency"))?),
    };
    Ok(Price { micros: found.amount_micros, currency })
}

fn finish(found: wire::Finish) -> Result<Finish> {
    match found {
        wire::Finish::Unspecified => Err(missing("finish")),
        wire::Finish::Fluorescent => Ok(Finish::Fluorescent),
        wire::Finish::Metallic => Ok(Finish::Metallic),
        wire::Finish::Plain => Ok(Finish::Plain),
        wire::Finish::Variegated => Ok(Finish::Variegated),
    }
}

fn status(found: wire::ThreadStatus) -> Result<Status> {
    match found {
        wire::ThreadStatus::Unspecified => Err(missing("status")),
        wire::ThreadStatus::Available => Ok(Status::Available),
        wire::ThreadStatus::BackOrder => Ok(Status::BackOrder),
        wire::ThreadStatus::Discontinued => Ok(Status::Discontinued),
        wire::ThreadStatus::Low => Ok(Status::Low),
        wire::ThreadStatus::Unavailable => Ok(Status::Unavailable),
        wire::ThreadStatus::Unknown => Ok(Status::Unknown),
    }
}

fn color(found: Option<&wire::Color>) -> Result<Color> {
    let found = found.ok_or_else(|| missing("color"))?;
    let origin = origin(found.origin())?;
    let color = match &found.value {
        Some(wire::color::Value::Hex(hex)) => {
            Color::listed(faulty(Srgb8::parse_hex(hex), "color")?, origin)
        }
        Some(wire::color::Value::Lab(lab)) => {
            let lab = faulty(Lab::new(lab.l, lab.a, lab.b), "color")?;
            let conditions = found.conditions.as_ref().ok_or_else(|| missing("conditions"))?;
            Color::lab_under(lab, self::conditions(conditions)?, origin)
        }
        None => return Err(missing("color")),
    };
    match found.uncertainty {
        Some(uncertainty) => faulty(color.with_uncertainty(uncertainty), "uncertainty"),
        None => Ok(color),
    }
}

fn origin(found: wire::Origin) -> Result<Origin> {
    match found {
        wire::Origin::Unspecified => Err(missing("origin")),
        wire::Origin::Meter => Ok(Origin::Meter),
        wire::Origin::Scan => Ok(Origin::Scan),
        wire::Origin::Screen => Ok(Origin::Screen),
        wire::Origin::Spectrum => Ok(Origin::Spectrum),
        wire::Origin::Unknown => Ok(Origin::Unknown),
    }
}

fn conditions(found: &wire::Conditions) -> Result<Conditions> {
    let illuminant = light::illuminant(found.illuminant())?;
    let observer = light::observer(found.observer())?;
    Ok(Conditions { illuminant, observer })
}

fn delta_e(value: f64) -> Result<DeltaE> {
    faulty(DeltaE::new(value), "difference")
}

fn formula(found: Option<&wire::DifferenceFormula>) -> Result<Formula> {
    let found = found.ok_or_else(|| missing("formula"))?;
    let part = |factor: Option<f64>| factor.ok_or_else(|| missing("factor of the formula"));
    Ok(match found.kind() {
        wire::FormulaKind::Unspecified => return Err(missing("formula")),
        wire::FormulaKind::Cie76 => Formula::Cie76,
        wire::FormulaKind::Cie94GraphicArts => Formula::Cie94(Application::GraphicArts),
        wire::FormulaKind::Cie94Textile => Formula::Cie94(Application::Textile),
        wire::FormulaKind::Ciede2000 => {
            let (l, c) = (part(found.lightness_factor)?, part(found.chroma_factor)?);
            let factors = Factors::new(l, c, part(found.hue_factor)?);
            Formula::Ciede2000(faulty(factors, "formula")?)
        }
        wire::FormulaKind::Cmc => {
            let ratio = Ratio::new(part(found.lightness_factor)?, part(found.chroma_factor)?);
            Formula::Cmc(faulty(ratio, "formula")?)
        }
        wire::FormulaKind::Din99o => Formula::Din99o,
        wire::FormulaKind::Hyab => Formula::Hyab,
    })
}

fn difference(found: Option<&wire::Difference>) -> Result<Difference> {
    let found = found.ok_or_else(|| missing("difference"))?;
    let trust = match found.trust() {
        wire::Trust::Unspecified => return Err(missing("trust")),
        wire::Trust::Measured => Trust::Measured,
        wire::Trust::Rough => Trust::Rough,
        wire::Trust::Adapted => Trust::Adapted(match found.adaptation() {
            wire::AdaptationMethod::Unspecified => return Err(missing("adaptation")),
            wire::AdaptationMethod::Bradford => AdaptationMethod::Bradford,
            wire::AdaptationMethod::Cat16 => AdaptationMethod::Cat16,
        }),
    };
    let standard = found.standard_lab.as_ref().ok_or_else(|| missing("standard"))?;
    Ok(Difference {
        delta_e: delta_e(found.delta_e)?,
        formula: formula(found.formula.as_ref())?,
        standard: faulty(Lab::new(standard.l, standard.a, standard.b), "standard")?,
        lightness: found.lightness,
        chroma: found.chroma,
        hue: found.hue,
        a: found.a,
        b: found.b,
        trust,
    })
}

pub(super) fn version(found: &wire::TableVersion) -> Result<TableVersion> {
    let hash = TableHash::parse(&found.content_hash).ok_or_else(|| impossible("table hash"))?;
    Ok(TableVersion { table: table_id(&found.table_id)?, hash })
}

pub(super) fn head(found: &wire::ThreadTable) -> Result<TableHead> {
    Ok(TableHead {
        id: table_id(&found.table_id)?,
        hash: TableHash::parse(&found.content_hash).ok_or_else(|| impossible("table hash"))?,
        threads: number(found.thread_count, "number of threads")?,
        conditions: found.conditions.as_ref().map(conditions).transpose()?,
    })
}

pub(super) fn imported(found: wire::ImportTableResponse) -> Result<Imported> {
    let notice = |notice: wire::Notice| Notice {
        place: notice.place.as_ref().map(refusal::place),
        text: notice.text,
    };
    Ok(Imported {
        table: head(found.table.as_ref().ok_or_else(|| missing("table"))?)?,
        notices: found.notices.into_iter().map(notice).collect(),
        durable: found.durable,
    })
}

pub(super) fn progress(found: &wire::ReduceProgress) -> Progress {
    // Progress is only looked at: a number that cannot be is left out.
    let known = |value: Option<f64>| value.and_then(|value| DeltaE::new(value).ok());
    Progress {
        fraction: found.fraction,
        mean_difference: known(found.mean_delta_e),
        lower_bound: known(found.lower_bound_delta_e),
    }
}

pub(super) fn merge_list(found: wire::MergeList) -> Result<MergeList> {
    Ok(MergeList {
        formula: formula(found.formula.as_ref())?,
        tables: found.tables.iter().map(version).collect::<Result<_>>()?,
        colors: number(found.color_count, "number of colors")?,
        anchor: found.anchor_thread_count.map(|count| number(count, "anchor")).transpose()?,
        steps: found.steps.into_iter().map(merge_step).collect::<Result<_>>()?,
        curve: found.curve.iter().map(curve_point).collect::<Result<_>>()?,
    })
}

fn curve_point(found: &wire::CurvePoint) -> Result<CurvePoint> {
    Ok(CurvePoint {
        threads: number(found.max_thread_count, "number of threads")?,
        mean_difference: delta_e(found.mean_delta_e)?,
        max_difference: delta_e(found.max_delta_e)?,
        lower_bound: delta_e(found.lower_bound_delta_e)?,
        proved_best: found.proved_best,
    })
}

fn merge_step(found: wire::MergeStep) -> Result<MergeStep> {
    Ok(MergeStep {
        threads_left: number(found.remaining_thread_count, "number of threads")?,
        leaving: thread_ref(found.leaving)?,
        moves: found.moves.into_iter().map(merge_move).collect::<Result<_>>()?,
        stitches_moved: number(found.moved_stitch_count, "number of stitches")?,
        mean_difference: delta_e(found.mean_delta_e)?,
        max_difference: delta_e(found.max_delta_e)?,
    })
}

fn merge_move(found: wire::MergeMove) -> Result<MergeMove> {
    Ok(MergeMove {
        color: number(found.color_index, "place")?,
        stitches: number(found.stitch_count, "number of stitches")?,
        to: thread_ref(found.target)?,
        difference: difference(found.difference.as_ref())?,
    })
}

pub(super) fn change_list(found: wire::ChangeList) -> Result<ChangeList> {
    let question = match found.question() {
        wire::Question::Unspecified => return Err(missing("question")),
        wire::Question::Convert => Question::Convert,
        wire::Question::Reduce => Question::Reduce,
        wire::Question::Substitute => Question::Substitute,
    };
    let unchanged = found.unchanged_color_indexes.into_iter();
    Ok(ChangeList {
        question,
        tables: found.tables.iter().map(version).collect::<Result<_>>()?,
        formula: formula(found.formula.as_ref())?,
        changes: found.changes.into_iter().map(change).collect::<Result<_>>()?,
        unchanged: unchanged.map(|place| number(place, "place")).collect::<Result<_>>()?,
        totals: totals(found.totals.as_ref())?,
        edges: found.edges.as_ref().map(edges).transpose()?,
        joint: found.joint.as_ref().map(joint).transpose()?,
        reduction: found.reduction.as_ref().map(reduction::report).transpose()?,
        ranges: found.ranges.as_ref().map(supply::ranges).transpose()?,
        own: found.own.map(supply::own).transpose()?,
    })
}

fn change(found: wire::Change) -> Result<Change> {
    Ok(Change {
        color: number(found.color_index, "place")?,
        standard: color(found.standard.as_ref())?,
        before: found
            .previous_threads
            .into_iter()
            .map(|thread| thread_ref(Some(thread)))
            .collect::<Result<_>>()?,
        stitches: number(found.stitch_count, "number of stitches")?,
        after: found.proposed_threads.into_iter().map(proposed).collect::<Result<_>>()?,
        runners_up: found.runner_up_threads.into_iter().map(proposed).collect::<Result<_>>()?,
        remarks: found.remarks.iter().map(remark).collect::<Result<_>>()?,
        // The command puts its own answers in; a server only proposes.
        answer: None,
    })
}

fn proposed(found: wire::ProposedThread) -> Result<Proposed> {
    let difference = difference(found.difference.as_ref())?;
    let told = found.over_lights.as_ref();
    Ok(Proposed {
        thread: thread_ref(found.thread)?,
        name: found.name,
        color: color(found.color.as_ref())?,
        difference,
        as_near: found.as_near,
        over_lights: told.map(|told| light::over_lights(told, difference.formula)).transpose()?,
    })
}

fn remark(found: &wire::Remark) -> Result<Remark> {
    use wire::RemarkKind as Kind;
    let other = || number(found.color_index.ok_or_else(|| missing("place"))?, "place");
    match found.kind() {
        Kind::Unspecified => Err(missing("remark")),
        Kind::AlreadyUsed => Ok(Remark::AlreadyUsed),
        Kind::BeyondLimit => Ok(Remark::BeyondLimit),
        Kind::Kept => Ok(Remark::Kept),
        Kind::LosesEdge => Ok(Remark::LosesEdge(other()?)),
        Kind::NotNearest => Ok(Remark::NotNearest),
        Kind::SharesThread => Ok(Remark::SharesThread(other()?)),
        Kind::FadesIntoCloth => Ok(Remark::FadesIntoCloth),
        Kind::TurnsShading => Ok(Remark::TurnsShading(other()?)),
    }
}

fn totals(found: Option<&wire::ChangeTotals>) -> Result<Totals> {
    let found = found.ok_or_else(|| missing("totals"))?;
    Ok(Totals {
        colors_before: number(found.color_count, "number of colors")?,
        threads_after: number(found.thread_count, "number of threads")?,
        mean_difference: delta_e(found.mean_delta_e)?,
        max_difference: delta_e(found.max_delta_e)?,
        lower_bound: found.lower_bound_delta_e.map(delta_e).transpose()?,
        proved_best: found.proved_best,
        combined: found.combined.as_ref().map(combined).transpose()?,
    })
}

fn combined(found: &wire::CombinedTotal) -> Result<Combined> {
    let keep_edges = match found.keep_edges() {
        wire::KeepEdges::Unspecified => return Err(missing("setting of edges")),
        wire::KeepEdges::Off => KeepEdges::Off,
        wire::KeepEdges::Low => KeepEdges::Low,
        wire::KeepEdges::Normal => KeepEdges::Normal,
        wire::KeepEdges::High => KeepEdges::High,
    };
    Ok(Combined {
        keep_edges,
        lost_contrast: delta_e(found.lost_contrast)?.value(),
        total: delta_e(found.total)?.value(),
        lower_bound: delta_e(found.lower_bound)?.value(),
    })
}

fn joint(found: &wire::JointReport) -> Result<JointReport> {
    let term = |term: wire::LoosenedTerm| match term {
        wire::LoosenedTerm::Unspecified => Err(missing("term that gave way")),
        wire::LoosenedTerm::Apart => Ok(Loosened::Apart),
        wire::LoosenedTerm::Lightness => Ok(Loosened::Lightness),
        wire::LoosenedTerm::Outlines => Ok(Loosened::Outlines),
    };
    Ok(JointReport {
        min_apart: delta_e(found.min_apart_delta_e)?,
        least_apart: found.least_apart_delta_e.map(delta_e).transpose()?,
        steps: number(found.lightness_step_count, "number of steps")?,
        reversed_steps: number(found.reversed_step_count, "number of steps")?,
        loosened: found.loosened_terms().map(term).collect::<Result<_>>()?,
        proved_impossible: found.proved_impossible,
        lights: light::lights(&found.lights)?,
        left_out: number(found.left_out_thread_count, "number of threads")?,
    })
}

fn edges(found: &wire::EdgeReport) -> Result<EdgeReport> {
    Ok(EdgeReport {
        outline: number(found.outline_edge_count, "number of edges")?,
        vanished: number(found.vanished_edge_count, "number of edges")?,
        faded: number(found.faded_edge_count, "number of edges")?,
        soft: number(found.soft_edge_count, "number of edges")?,
        soft_vanished: number(found.soft_vanished_edge_count, "number of edges")?,
        soft_faded: number(found.soft_faded_edge_count, "number of edges")?,
        turned: number(found.turned_edge_count, "number of edges")?,
    })
}
