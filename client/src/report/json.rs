//! The answers as JSON: the same facts as the text, in full precision.
//! It does not write them.

use dyekin_core::change::{
    Change, Combined, JointReport, Loosened, Proposed, Question, ReduceReport, Remark,
    TableVersion, ThreadNeed, Weighing, to_pay,
};
use dyekin_core::color::Trust;
use dyekin_core::difference::{band, describe};
use dyekin_core::error::is_hostile;
use dyekin_core::{
    ChangeList, Color, DeltaE, Difference, Error, Formula, Place, TableId, Thread, ThreadRef,
};
use serde_json::{Map, Value, json};

use super::light;
use super::text::money;
use super::{changes, supply};
use crate::backend::Hit;
use crate::failure::Failure;
use crate::summary::Summary;

/// A value as text. Characters that could harm a terminal are escaped, which JSON readers undo.
pub(crate) fn to_text(value: &Value) -> String {
    let mut out = String::new();
    for character in format!("{value:#}").chars() {
        if is_hostile(character) && character != '\n' {
            out.push_str(&format!("\\u{:04x}", u32::from(character)));
        } else {
            out.push(character);
        }
    }
    out
}

/// The name of a formula and its parameters, as members of an object.
pub(crate) fn add_formula(object: &mut Map<String, Value>, formula: Formula) {
    object.insert("formula".into(), json!(formula.name()));
    object.insert("parameters".into(), json!(formula.parameters()));
}

/// Tables with their hashes.
pub(crate) fn tables(tables: &[TableVersion]) -> Value {
    tables
        .iter()
        .map(|version| json!({"table": version.table.as_str(), "hash": version.hash.to_string()}))
        .collect()
}

/// A color with all that is known of it.
pub(crate) fn color(color: &Color) -> Value {
    let lab = color.lab();
    json!({
        "hex": color.srgb().to_string(),
        "lab": [lab.l(), lab.a(), lab.b()],
        "conditions": format!("{}/{}", color.conditions().illuminant.as_str(), color.conditions().observer.degrees()),
        "origin": color.origin().as_str(),
        "uncertainty": color.uncertainty(),
    })
}

/// The method that a number rests on, when it was adapted.
pub(crate) fn adapted(trust: Trust) -> Option<&'static str> {
    match trust {
        Trust::Adapted(method) => Some(method.as_str()),
        Trust::Measured | Trust::Rough => None,
    }
}

/// The members of a difference.
pub(crate) fn add_difference(object: &mut Map<String, Value>, difference: &Difference) {
    object.insert("difference".into(), json!(difference.delta_e.value()));
    object.insert("rough".into(), json!(difference.trust != Trust::Measured));
    object.insert("adapted".into(), json!(adapted(difference.trust)));
    object.insert("band".into(), json!(band(difference)));
    object.insert("words".into(), json!(describe(difference)));
    object.insert("lightness".into(), json!(difference.lightness));
    object.insert("chroma".into(), json!(difference.chroma));
    object.insert("hue".into(), json!(difference.hue));
    object.insert("red_green".into(), json!(difference.a));
    object.insert("yellow_blue".into(), json!(difference.b));
    object.insert("gray_scale".into(), json!(difference.gray_scale().grade.as_str()));
}

/// A thread of a table, without a difference.
pub(crate) fn thread(table: &TableId, thread: &Thread) -> Map<String, Value> {
    let mut object = Map::new();
    object.insert("table".into(), json!(table.as_str()));
    object.insert("code".into(), json!(thread.code.as_str()));
    object.insert("name".into(), json!(thread.name));
    if let Value::Object(members) = color(&thread.color) {
        object.extend(members);
    }
    object.insert("finish".into(), json!(thread.finish.as_str()));
    object.insert("fiber".into(), json!(thread.fiber));
    object.insert("status".into(), json!(thread.status.as_str()));
    object.insert("price".into(), json!(thread.price.map(|price| money(price.micros))));
    let currency = thread.price.and_then(|price| price.currency);
    object.insert("currency".into(), json!(currency.map(|currency| currency.to_string())));
    object
}

/// A thread that answers.
pub(crate) fn hit(hit: &Hit) -> Value {
    let mut object = thread(&hit.table, &hit.thread);
    add_difference(&mut object, &hit.difference);
    object.insert("as_near".into(), json!(hit.as_near));
    object.insert("over_lights".into(), light::object(hit.over_lights.as_deref()));
    Value::Object(object)
}

/// A problem with its hint.
pub(crate) fn problem(error: &Error) -> Value {
    json!({"message": error.kind().to_string(), "hint": error.hint()})
}

/// What is wrong with a file, in the order of the file.
pub(crate) fn problems(file: &str, failure: &Failure) -> Vec<Value> {
    let of_file = |mut value: Value, place: Option<&Place>| {
        if let Value::Object(members) = &mut value {
            members.insert("file".into(), json!(file));
            members.insert("line".into(), json!(place.and_then(|place| place.line)));
            let column = place.and_then(|place| place.column.as_deref().or(place.field.as_deref()));
            members.insert("column".into(), json!(column));
        }
        value
    };
    match failure {
        Failure::Domain { errors, .. } => {
            errors.iter().map(|error| of_file(problem(error), error.place())).collect()
        }
        Failure::Said { message, hint } => {
            vec![of_file(json!({"message": message, "hint": hint}), None)]
        }
        Failure::Bug { .. } | Failure::TimedOut { .. } | Failure::Unreachable { .. } => {
            vec![of_file(json!({"message": failure.to_string(), "hint": null}), None)]
        }
    }
}

/// A change list with its totals. Colors are named by their ids, `c` and their place from 1.
pub(crate) fn change_list(
    list: &ChangeList,
    summary: &Summary,
    limit: Option<DeltaE>,
) -> Map<String, Value> {
    let mut object = Map::new();
    let totals = &list.totals;
    object.insert("question".into(), json!(question(list.question)));
    object.insert("colors_before".into(), json!(totals.colors_before));
    object.insert("colors_after".into(), json!(totals.threads_after));
    object.insert("mean_difference".into(), json!(totals.mean_difference.value()));
    object.insert("max_difference".into(), json!(totals.max_difference.value()));
    object.insert("lower_bound".into(), json!(totals.lower_bound.map(DeltaE::value)));
    object.insert("gap_percent".into(), json!(changes::gap_percent(list)));
    object.insert("proved_best".into(), json!(totals.proved_best));
    object.insert("combined".into(), totals.combined.as_ref().map_or(Value::Null, combined));
    object.insert("rough".into(), json!(changes::trust(list) != Trust::Measured));
    object.insert("adapted".into(), json!(adapted(changes::trust(list))));
    add_formula(&mut object, list.formula);
    object.insert("within".into(), json!(limit.map(DeltaE::value)));
    object.insert("beyond_within".into(), json!(changes::beyond(list, limit)));
    object.insert("stitches".into(), json!(summary.palette().stitches()));
    object.insert("neighbors_known".into(), json!(list.edges.is_some()));
    object.insert(
        "edges".into(),
        list.edges.map_or(Value::Null, |edges| {
            json!({
                "outline": edges.outline,
                "vanished": edges.vanished,
                "faded": edges.faded,
                "soft": edges.soft,
                "soft_vanished": edges.soft_vanished,
                "soft_faded": edges.soft_faded,
                "turned": edges.turned,
            })
        }),
    );
    object.insert("joint".into(), list.joint.as_ref().map_or(Value::Null, joint));
    object.insert("reduction".into(), list.reduction.as_ref().map_or(Value::Null, reduction));
    object.insert("ranges".into(), list.ranges.as_ref().map_or(Value::Null, supply::ranges_json));
    object.insert("own".into(), list.own.as_ref().map_or(Value::Null, supply::own_json));
    object.insert("same_thread".into(), same_thread(list, summary));
    object.insert("tables".into(), tables(&list.tables));
    object.insert(
        "changes".into(),
        list.changes.iter().map(|change| self::change(change, summary)).collect(),
    );
    object.insert(
        "unchanged".into(),
        list.unchanged.iter().map(|place| Value::Object(chart_color(summary, *place))).collect(),
    );
    object
}

fn joint(report: &JointReport) -> Value {
    let word = |loosened: &Loosened| match loosened {
        Loosened::Apart => "apart",
        Loosened::Lightness => "lightness",
        Loosened::Outlines => "outlines",
    };
    json!({
        "min_apart": report.min_apart.value(),
        "least_apart": report.least_apart.map(DeltaE::value),
        "lightness_steps": report.steps,
        "reversed_steps": report.reversed_steps,
        "loosened": report.loosened.iter().map(word).collect::<Vec<_>>(),
        "proved_impossible": report.proved_impossible,
        "lights": light::names(report.lights.as_ref()),
        "left_out": report.left_out,
    })
}

fn reduction(report: &ReduceReport) -> Value {
    let weighing = match report.weighing {
        Weighing::Plain => "plain",
        Weighing::Squared => "squared",
    };
    json!({
        "max_threads": report.max_threads,
        "tolerance": report.tolerance.map(DeltaE::value),
        "fewest": report.fewest,
        "weighing": weighing,
        "thread_worth": report.thread_worth.value(),
        "threads_to_get": report.threads_to_get,
        "total": report.total,
        "lower_bound": report.bound,
        "money_worth": report.money_worth.value(),
        "needs": report.needs.iter().map(need).collect::<Vec<_>>(),
        "to_pay": to_pay(&report.needs).map(|(skeins, price)| json!({
            "skeins": skeins,
            "price": money(price.micros),
            "currency": price.currency.map(|currency| currency.to_string()),
        })),
    })
}

fn need(need: &ThreadNeed) -> Value {
    json!({
        "table": need.thread.table.as_str(),
        "code": need.thread.code.as_str(),
        "meters": need.meters,
        "skeins": need.skeins,
        "price": need.price.map(|price| money(price.micros)),
        "currency": need.price.and_then(|price| price.currency).map(|currency| currency.to_string()),
        "owned": need.owned,
        "stock_meters": need.stock_meters,
    })
}

fn question(question: Question) -> &'static str {
    match question {
        Question::Convert => "convert",
        Question::Reduce => "reduce",
        Question::Substitute => "substitute",
    }
}

fn same_thread(list: &ChangeList, summary: &Summary) -> Value {
    changes::shared(list, summary)
        .iter()
        .map(|(threads, colors)| {
            let colors: Vec<String> =
                colors.iter().map(|place| changes::color_id(*place)).collect();
            json!({"threads": thread_refs(threads), "colors": colors})
        })
        .collect()
}

/// Threads by table and code.
pub(crate) fn thread_refs(threads: &[ThreadRef]) -> Value {
    threads
        .iter()
        .map(|thread| json!({"table": thread.table.as_str(), "code": thread.code.as_str()}))
        .collect()
}

/// A color of the chart.
pub(crate) fn chart_color(summary: &Summary, place: usize) -> Map<String, Value> {
    let mut object = Map::new();
    object.insert("color".into(), json!(changes::color_id(place)));
    if let Some(known) = summary.places().get(place) {
        object.insert("hex".into(), json!(known.color().to_string()));
        object.insert("area".into(), json!(known.area().map(|area| area.as_str())));
        object.insert("before".into(), thread_refs(&known.thread_refs()));
    }
    let stitches = summary.palette().colors().get(place).map(|color| color.stitches);
    object.insert("stitches".into(), json!(stitches));
    object
}

/// A change of a list.
pub(crate) fn change(change: &Change, summary: &Summary) -> Value {
    let mut object = chart_color(summary, change.color);
    object.insert("standard".into(), color(&change.standard));
    object.insert("after".into(), change.after.iter().map(proposed).collect());
    object.insert("runners_up".into(), change.runners_up.iter().map(proposed).collect());
    object.insert("remarks".into(), change.remarks.iter().map(remark).collect());
    let checked = change.after.iter().all(|after| after.difference.trust == Trust::Measured);
    object.insert("checked".into(), json!(checked));
    Value::Object(object)
}

fn proposed(proposed: &Proposed) -> Value {
    let mut object = Map::new();
    object.insert("table".into(), json!(proposed.thread.table.as_str()));
    object.insert("code".into(), json!(proposed.thread.code.as_str()));
    object.insert("name".into(), json!(proposed.name));
    if let Value::Object(members) = color(&proposed.color) {
        object.extend(members);
    }
    add_difference(&mut object, &proposed.difference);
    object.insert("as_near".into(), json!(proposed.as_near));
    object.insert("over_lights".into(), light::object(proposed.over_lights.as_deref()));
    Value::Object(object)
}

fn combined(combined: &Combined) -> Value {
    json!({
        "keep_edges": combined.keep_edges.as_str(),
        "lost_contrast": combined.lost_contrast,
        "total": combined.total,
        "lower_bound": combined.lower_bound,
        "gap_percent": changes::combined_gap_percent(combined),
    })
}

fn remark(remark: &Remark) -> Value {
    let (kind, other) = match remark {
        Remark::SharesThread(other) => ("shares_thread", Some(*other)),
        Remark::Kept => ("kept", None),
        Remark::NotNearest => ("not_nearest", None),
        Remark::AlreadyUsed => ("already_used", None),
        Remark::LosesEdge(other) => ("loses_edge", Some(*other)),
        Remark::FadesIntoCloth => ("fades_into_cloth", None),
        Remark::BeyondLimit => ("beyond_limit", None),
        Remark::TurnsShading(other) => ("turns_shading", Some(*other)),
    };
    json!({"kind": kind, "color": other.map(changes::color_id)})
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hostile_characters_are_escaped_and_come_back() {
        let value = json!({"name": "\u{9b}31m\u{202e}\u{7f}\n"});
        let text = to_text(&value);
        assert!(text.chars().all(|character| character == '\n' || !is_hostile(character)));
        assert_eq!(serde_json::from_str::<Value>(&text).unwrap(), value);
    }
}
