//! Domain to wire. It cannot fail and does not know the requests.

mod blends;
mod light;
mod supply;
mod tables;

use std::collections::BTreeSet;

use dyekin_core::change::{self, Answer, ChangeList, EdgeReport, Proposed, Remark, TableVersion};
use dyekin_core::color::{AdaptationMethod, Trust};
use dyekin_core::difference::{Application, Difference, band, describe};
use dyekin_core::nearest::{Match, Nearest};
use dyekin_core::planner::{CurvePoint, KeepEdges, MergeList, MergeMove, MergeStep};
use dyekin_core::spectrum::OverLights;
use dyekin_core::table::{Finish, Notice, Price, Status};
use dyekin_core::watch::Progress;
use dyekin_core::{
    Catalog, CatalogTable, Color, Conditions, Formula, Lab, Origin, PaletteSummary, Thread,
    ThreadRef,
};
use dyekin_proto::v1 as pb;

use super::status;
use crate::state::TableHead;

pub(super) use blends::{blend_result, no_blends};
pub(super) use tables::{audit, compared};

/// A count on the wire; counts are bounded far below the largest number.
fn count32(count: usize) -> i32 {
    i32::try_from(count).unwrap_or(i32::MAX)
}

fn count64(count: u64) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

pub(super) fn conditions(conditions: Conditions) -> pb::Conditions {
    pb::Conditions {
        illuminant: light::illuminant(conditions.illuminant).into(),
        observer: light::observer(conditions.observer).into(),
    }
}

fn lab(lab: Lab) -> pb::LabColor {
    pb::LabColor { l: lab.l(), a: lab.a(), b: lab.b() }
}

pub(super) fn color(color: &Color) -> pb::Color {
    let value = match color.listed_srgb() {
        Some(listed) => pb::color::Value::Hex(listed.to_string()),
        None => pb::color::Value::Lab(lab(color.lab())),
    };
    let origin = match color.origin() {
        Origin::Meter => pb::Origin::Meter,
        Origin::Scan => pb::Origin::Scan,
        Origin::Screen => pb::Origin::Screen,
        Origin::Spectrum => pb::Origin::Spectrum,
        Origin::Unknown => pb::Origin::Unknown,
    };
    pb::Color {
        value: Some(value),
        conditions: Some(conditions(color.conditions())),
        origin: origin.into(),
        uncertainty: color.uncertainty(),
        screen_hex: color.srgb().to_string(),
        computed_lab: Some(lab(color.lab())),
    }
}

pub(super) fn formula(formula: Formula) -> pb::DifferenceFormula {
    let (kind, [lightness_factor, chroma_factor, hue_factor]) = match formula {
        Formula::Cie76 => (pb::FormulaKind::Cie76, [None; 3]),
        Formula::Cie94(Application::GraphicArts) => (pb::FormulaKind::Cie94GraphicArts, [None; 3]),
        Formula::Cie94(Application::Textile) => (pb::FormulaKind::Cie94Textile, [None; 3]),
        Formula::Ciede2000(factors) => {
            (pb::FormulaKind::Ciede2000, [factors.l(), factors.c(), factors.h()].map(Some))
        }
        Formula::Cmc(ratio) => (pb::FormulaKind::Cmc, [Some(ratio.l()), Some(ratio.c()), None]),
        Formula::Din99o => (pb::FormulaKind::Din99o, [None; 3]),
        Formula::Hyab => (pb::FormulaKind::Hyab, [None; 3]),
    };
    pb::DifferenceFormula { kind: kind.into(), lightness_factor, chroma_factor, hue_factor }
}

/// A difference with the conditions of both colors.
pub(super) fn difference(
    difference: &Difference,
    standard: Conditions,
    sample: Conditions,
) -> pb::Difference {
    let unasked = pb::AdaptationMethod::Unspecified;
    let (trust, standard, adaptation) = match difference.trust {
        Trust::Measured => (pb::Trust::Measured, standard, unasked),
        // The standard has been carried over to the sample.
        Trust::Adapted(method) => (pb::Trust::Adapted, sample, adaptation(method)),
        Trust::Rough => (pb::Trust::Rough, standard, unasked),
    };
    pb::Difference {
        delta_e: difference.delta_e.value(),
        formula: Some(formula(difference.formula)),
        lightness: difference.lightness,
        chroma: difference.chroma,
        hue: difference.hue,
        a: difference.a,
        b: difference.b,
        trust: trust.into(),
        standard_conditions: Some(conditions(standard)),
        sample_conditions: Some(conditions(sample)),
        band: band(difference).to_owned(),
        description: describe(difference),
        standard_lab: Some(lab(difference.standard)),
        gray_scale_grade: difference.gray_scale().grade.to_string(),
        adaptation: adaptation.into(),
    }
}

fn adaptation(method: AdaptationMethod) -> pb::AdaptationMethod {
    match method {
        AdaptationMethod::Bradford => pb::AdaptationMethod::Bradford,
        AdaptationMethod::Cat16 => pb::AdaptationMethod::Cat16,
    }
}

fn finish(finish: Finish) -> pb::Finish {
    match finish {
        Finish::Fluorescent => pb::Finish::Fluorescent,
        Finish::Metallic => pb::Finish::Metallic,
        Finish::Plain => pb::Finish::Plain,
        Finish::Variegated => pb::Finish::Variegated,
    }
}

fn thread_status(status: Status) -> pb::ThreadStatus {
    match status {
        Status::Available => pb::ThreadStatus::Available,
        Status::BackOrder => pb::ThreadStatus::BackOrder,
        Status::Discontinued => pb::ThreadStatus::Discontinued,
        Status::Low => pb::ThreadStatus::Low,
        Status::Unavailable => pb::ThreadStatus::Unavailable,
        Status::Unknown => pb::ThreadStatus::Unknown,
    }
}

fn price(price: Price) -> pb::Price {
    pb::Price {
        amount_micros: price.micros,
        currency_code: price.currency.map(|currency| currency.to_string()).unwrap_or_default(),
    }
}

/// A thread as its table has it.
pub(super) fn whole_thread(thread: &Thread) -> pb::Thread {
    let spectrum = thread.spectrum.as_deref().map(light::spectrum);
    pb::Thread { spectrum, ..self::thread(thread) }
}

/// A thread for an answer that may hold many, without its spectrum.
fn thread(thread: &Thread) -> pb::Thread {
    pb::Thread {
        code: thread.code.to_string(),
        name: thread.name.clone(),
        color: Some(color(&thread.color)),
        finish: finish(thread.finish).into(),
        fiber: thread.fiber.as_deref().unwrap_or_default().to_owned(),
        strand_count: thread.strands.map(i32::from),
        skein_meters: thread.skein_metres,
        price: thread.price.map(price),
        pack_skein_count: thread.pack.map(i64::from),
        minimum_skein_count: thread.minimum.map(i64::from),
        status: thread_status(thread.status).into(),
        gtin: thread.gtin.as_ref().map(|gtin| gtin.as_str().to_owned()).unwrap_or_default(),
        alternate_codes: thread.alternates.iter().map(ToString::to_string).collect(),
        spectrum: None,
    }
}

pub(super) fn thread_ref(thread: &ThreadRef) -> pb::ThreadRef {
    pb::ThreadRef { table_id: thread.table.to_string(), code: thread.code.to_string() }
}

fn thread_refs(threads: &[ThreadRef]) -> Vec<pb::ThreadRef> {
    threads.iter().map(thread_ref).collect()
}

/// A table without its threads.
pub(super) fn table(head: &TableHead, imported: bool) -> pb::ThreadTable {
    let source = if imported { pb::TableSource::Import } else { pb::TableSource::Directory };
    pb::ThreadTable {
        table_id: head.id.to_string(),
        content_hash: head.hash.to_string(),
        thread_count: count32(head.threads),
        conditions: head.conditions.map(conditions),
        source: source.into(),
        durable: !imported,
    }
}

pub(super) fn notice(notice: &Notice) -> pb::Notice {
    pb::Notice { place: notice.place.as_ref().map(status::place), text: notice.text.clone() }
}

/// Versions of the tables searched.
pub(super) fn versions<'c>(
    tables: impl IntoIterator<Item = &'c CatalogTable>,
) -> Vec<pb::TableVersion> {
    tables
        .into_iter()
        .map(|held| pb::TableVersion {
            table_id: held.table().id().to_string(),
            content_hash: held.table().hash().to_string(),
        })
        .collect()
}

fn a_match(found: &Match<'_>, standard: Conditions) -> pb::Match {
    let listed = [standard, found.thread.color.conditions()];
    let [standard, sample] = under(listed, found.over_lights.as_deref());
    pb::Match {
        table_id: found.table.table().id().to_string(),
        thread: Some(thread(found.thread)),
        difference: Some(difference(&found.difference, standard, sample)),
        as_near: found.as_near,
        over_lights: found.over_lights.as_deref().map(light::over_lights),
    }
}

/// What the difference of two colors was taken under: what they are listed under, or both the worst
/// of the lights that rank.
fn under(listed: [Conditions; 2], over_lights: Option<&OverLights>) -> [Conditions; 2] {
    over_lights.filter(|found| found.ranked()).map_or(listed, |found| [found.worst_conditions(); 2])
}

/// The answer to one query.
pub(super) fn match_result(
    query_id: String,
    standard: Conditions,
    answer: Result<Nearest<'_>, dyekin_core::Error>,
) -> pb::MatchResult {
    match answer {
        Ok(nearest) => pb::MatchResult {
            matches: nearest.matches.iter().map(|found| a_match(found, standard)).collect(),
            beyond_limit: nearest.beyond.as_ref().map(|found| a_match(found, standard)),
            problem: None,
            query_id,
            more_as_near_count: count32(nearest.more_as_near),
            left_out_thread_count: count32(nearest.left_out),
        },
        Err(error) => unanswered(query_id, &error),
    }
}

/// A query without an answer.
pub(super) fn unanswered(query_id: String, error: &dyekin_core::Error) -> pb::MatchResult {
    pb::MatchResult { problem: Some(status::problem(error)), query_id, ..Default::default() }
}

/// One pair compared.
pub(super) fn comparison(
    standard: &Color,
    sample: &Color,
    outcome: &Result<Difference, dyekin_core::Error>,
) -> pb::Comparison {
    let outcome = match outcome {
        Ok(found) => pb::comparison::Outcome::Difference(difference(
            found,
            standard.conditions(),
            sample.conditions(),
        )),
        Err(error) => pb::comparison::Outcome::Problem(status::problem(error)),
    };
    pb::Comparison { outcome: Some(outcome) }
}

fn proposed(proposed: &Proposed, standard: &Color) -> pb::ProposedThread {
    let over_lights = proposed.over_lights.as_deref();
    let [standard, sample] =
        under([standard.conditions(), proposed.color.conditions()], over_lights);
    pb::ProposedThread {
        thread: Some(thread_ref(&proposed.thread)),
        name: proposed.name.clone(),
        color: Some(color(&proposed.color)),
        difference: Some(difference(&proposed.difference, standard, sample)),
        as_near: proposed.as_near,
        over_lights: over_lights.map(light::over_lights),
    }
}

fn remark(remark: &Remark) -> pb::Remark {
    let (kind, color_index) = match remark {
        Remark::AlreadyUsed => (pb::RemarkKind::AlreadyUsed, None),
        Remark::BeyondLimit => (pb::RemarkKind::BeyondLimit, None),
        Remark::FadesIntoCloth => (pb::RemarkKind::FadesIntoCloth, None),
        Remark::Kept => (pb::RemarkKind::Kept, None),
        Remark::LosesEdge(other) => (pb::RemarkKind::LosesEdge, Some(count32(*other))),
        Remark::NotNearest => (pb::RemarkKind::NotNearest, None),
        Remark::SharesThread(other) => (pb::RemarkKind::SharesThread, Some(count32(*other))),
        Remark::TurnsShading(other) => (pb::RemarkKind::TurnsShading, Some(count32(*other))),
    };
    pb::Remark { kind: kind.into(), color_index }
}

fn answer(answer: &Answer) -> pb::Answer {
    let (decision, another) = match answer {
        Answer::Another(thread) => (pb::Decision::Another, Some(thread_ref(thread))),
        Answer::No => (pb::Decision::No, None),
        Answer::Yes => (pb::Decision::Yes, None),
    };
    pb::Answer { decision: decision.into(), another }
}

fn change(change: &change::Change) -> pb::Change {
    let standard = &change.standard;
    pb::Change {
        color_index: count32(change.color),
        previous_threads: thread_refs(&change.before),
        stitch_count: count64(change.stitches),
        proposed_threads: change.after.iter().map(|next| proposed(next, standard)).collect(),
        runner_up_threads: change.runners_up.iter().map(|next| proposed(next, standard)).collect(),
        remarks: change.remarks.iter().map(remark).collect(),
        answer: change.answer.as_ref().map(answer),
        standard: Some(color(standard)),
    }
}

fn table_versions(tables: &[TableVersion]) -> Vec<pb::TableVersion> {
    tables
        .iter()
        .map(|version| pb::TableVersion {
            table_id: version.table.to_string(),
            content_hash: version.hash.to_string(),
        })
        .collect()
}

fn edges(edges: EdgeReport) -> pb::EdgeReport {
    pb::EdgeReport {
        outline_edge_count: count64(edges.outline),
        vanished_edge_count: count64(edges.vanished),
        faded_edge_count: count64(edges.faded),
        soft_edge_count: count64(edges.soft),
        soft_vanished_edge_count: count64(edges.soft_vanished),
        soft_faded_edge_count: count64(edges.soft_faded),
        turned_edge_count: count64(edges.turned),
    }
}

/// A change list.
pub(super) fn change_list(list: &ChangeList) -> pb::ChangeList {
    let question = match list.question {
        change::Question::Convert => pb::Question::Convert,
        change::Question::Reduce => pb::Question::Reduce,
        change::Question::Substitute => pb::Question::Substitute,
    };
    let totals = &list.totals;
    pb::ChangeList {
        question: question.into(),
        tables: table_versions(&list.tables),
        formula: Some(formula(list.formula)),
        changes: list.changes.iter().map(change).collect(),
        unchanged_color_indexes: list.unchanged.iter().map(|place| count32(*place)).collect(),
        totals: Some(pb::ChangeTotals {
            color_count: count32(totals.colors_before),
            thread_count: count32(totals.threads_after),
            mean_delta_e: totals.mean_difference.value(),
            max_delta_e: totals.max_difference.value(),
            lower_bound_delta_e: totals.lower_bound.map(dyekin_core::DeltaE::value),
            proved_best: totals.proved_best,
            combined: totals.combined.as_ref().map(combined),
        }),
        edges: list.edges.map(edges),
        joint: list.joint.as_ref().map(joint),
        reduction: list.reduction.as_ref().map(reduction),
        ranges: list.ranges.as_ref().map(supply::ranges),
        own: list.own.as_ref().map(supply::own),
    }
}

fn reduction(report: &change::ReduceReport) -> pb::ReduceReport {
    let weighing = match report.weighing {
        change::Weighing::Plain => pb::Weighing::Plain,
        change::Weighing::Squared => pb::Weighing::Squared,
    };
    pb::ReduceReport {
        max_thread_count: report.max_threads.map(count32),
        tolerance_delta_e: report.tolerance.map(dyekin_core::DeltaE::value),
        fewest_thread_count: report.fewest.map(count32),
        weighing: weighing.into(),
        thread_worth: report.thread_worth.value(),
        needed_thread_count: count32(report.threads_to_get),
        total: report.total,
        lower_bound: report.bound,
        money_worth: report.money_worth.value(),
        needs: report.needs.iter().map(need).collect(),
    }
}

fn need(need: &change::ThreadNeed) -> pb::ThreadNeed {
    pb::ThreadNeed {
        thread: Some(thread_ref(&need.thread)),
        meters: need.meters,
        skein_count: need.skeins.map(count64),
        price: need.price.map(price),
        owned: need.owned,
        stock_meters: need.stock_meters,
    }
}

fn combined(combined: &change::Combined) -> pb::CombinedTotal {
    let keep_edges = match combined.keep_edges {
        KeepEdges::Off => pb::KeepEdges::Off,
        KeepEdges::Low => pb::KeepEdges::Low,
        KeepEdges::Normal => pb::KeepEdges::Normal,
        KeepEdges::High => pb::KeepEdges::High,
    };
    pb::CombinedTotal {
        keep_edges: keep_edges.into(),
        lost_contrast: combined.lost_contrast,
        total: combined.total,
        lower_bound: combined.lower_bound,
    }
}

fn joint(report: &change::JointReport) -> pb::JointReport {
    let term = |loosened: &change::Loosened| match loosened {
        change::Loosened::Apart => pb::LoosenedTerm::Apart.into(),
        change::Loosened::Lightness => pb::LoosenedTerm::Lightness.into(),
        change::Loosened::Outlines => pb::LoosenedTerm::Outlines.into(),
    };
    pb::JointReport {
        min_apart_delta_e: report.min_apart.value(),
        least_apart_delta_e: report.least_apart.map(dyekin_core::DeltaE::value),
        lightness_step_count: count32(report.steps),
        reversed_step_count: count32(report.reversed_steps),
        loosened_terms: report.loosened.iter().map(term).collect(),
        proved_impossible: report.proved_impossible,
        lights: light::lights(report.lights.as_ref()),
        left_out_thread_count: count32(report.left_out),
    }
}

/// How far a reduction is.
pub(super) fn progress(progress: &Progress) -> pb::ReduceProgress {
    pb::ReduceProgress {
        fraction: progress.fraction,
        mean_delta_e: progress.mean_difference.map(dyekin_core::DeltaE::value),
        lower_bound_delta_e: progress.lower_bound.map(dyekin_core::DeltaE::value),
    }
}

/// A merge list. The conditions of both sides of a difference come from palette and catalog.
pub(super) fn merge_list(
    list: &MergeList,
    palette: &PaletteSummary,
    catalog: &Catalog,
) -> pb::MergeList {
    pb::MergeList {
        steps: list.steps.iter().map(|step| merge_step(step, list, palette, catalog)).collect(),
        formula: Some(formula(list.formula)),
        tables: table_versions(&list.tables),
        color_count: count32(list.colors),
        threads: named(list).into_iter().filter_map(|name| listed(name, catalog)).collect(),
        anchor_thread_count: list.anchor.map(count32),
        curve: list.curve.iter().map(curve_point).collect(),
    }
}

/// Every thread that the steps name, once.
fn named(list: &MergeList) -> BTreeSet<&ThreadRef> {
    let moved = list.steps.iter().flat_map(|step| &step.moves).map(|part| &part.to);
    list.steps.iter().map(|step| &step.leaving).chain(moved).collect()
}

fn listed(name: &ThreadRef, catalog: &Catalog) -> Option<pb::ListedThread> {
    let found = catalog.thread(name).ok()?;
    Some(pb::ListedThread {
        thread: Some(thread_ref(name)),
        name: found.name.clone(),
        color: Some(color(&found.color)),
    })
}

fn curve_point(point: &CurvePoint) -> pb::CurvePoint {
    pb::CurvePoint {
        max_thread_count: count32(point.threads),
        mean_delta_e: point.mean_difference.value(),
        max_delta_e: point.max_difference.value(),
        lower_bound_delta_e: point.lower_bound.value(),
        proved_best: point.proved_best,
    }
}

fn merge_step(
    step: &MergeStep,
    list: &MergeList,
    palette: &PaletteSummary,
    catalog: &Catalog,
) -> pb::MergeStep {
    pb::MergeStep {
        remaining_thread_count: count32(step.threads_left),
        leaving: Some(thread_ref(&step.leaving)),
        moves: step.moves.iter().map(|part| merge_move(part, palette, catalog)).collect(),
        moved_stitch_count: count64(step.stitches_moved),
        mean_delta_e: step.mean_difference.value(),
        max_delta_e: step.max_difference.value(),
        lower_bound_delta_e: list.best(step.threads_left).map(|best| best.lower_bound.value()),
    }
}

fn merge_move(part: &MergeMove, palette: &PaletteSummary, catalog: &Catalog) -> pb::MergeMove {
    let shown = palette.colors().get(part.color);
    let sample = catalog.thread(&part.to).ok().map(|thread| thread.color.conditions());
    let standard = shown.map(|shown| shown.color.conditions());
    let conditions = standard.or(sample).unwrap_or(Conditions::SCREEN);
    pb::MergeMove {
        color_index: count32(part.color),
        stitch_count: count64(part.stitches),
        target: Some(thread_ref(&part.to)),
        difference: Some(difference(&part.difference, conditions, sample.unwrap_or(conditions))),
    }
}
