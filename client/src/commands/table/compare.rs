//! `dyekin table compare`: what two versions of a table differ in.
//! It does not compare: the backend does.

use dyekin_core::color::Trust;
use dyekin_core::compare::{
    Answer, Changed, Comparison, Field, OtherChange, Recolored, StandIn, Substitution,
};
use dyekin_core::difference::Measure;
use dyekin_core::error::{Error, harmless};
use dyekin_core::{Difference, TableId, Thread};
use serde_json::{Map, Value, json};

use super::opened::{Opened, open};
use crate::cli::{ShowArgs, TableCompare};
use crate::exit::Exit;
use crate::failure::Result;
use crate::printer::Printer;
use crate::report::{
    Caution, availability, counted, json as as_json, number, same_listed, text, verdict,
};
use crate::settings;

pub(super) fn run(typed: &TableCompare, printer: &mut Printer) -> Result<Exit> {
    let formula = settings::formula(&typed.formula)?;
    let measure = Measure { formula, adaptation: typed.adapt.adapt };
    let Opened { mut backend, ids } = open(&[&typed.old, &typed.new], &typed.reading, printer)?;
    let [old, new] = ids.as_slice() else { return Ok(Exit::Done) };
    let found = backend.compare_tables(old, new, measure)?;
    if typed.show.json {
        printer.data(&as_json::to_text(&object(&found)));
    } else {
        tell(&found, typed.show, printer);
    }
    if is_rough(&found) {
        printer.caution(Caution::Screen.words());
    }
    Ok(if found.is_same() { Exit::Done } else { Exit::NothingMatched })
}

fn is_rough(found: &Comparison) -> bool {
    let recolored = found.recolored.iter().filter_map(|found| found.difference.as_ref().ok());
    let answers = found.substitutions.iter().flat_map(|found| [&found.before, &found.after]);
    let stand_ins = answers.filter_map(|answer| answer.as_ref().ok()?.as_ref());
    let mut all = recolored.chain(stand_ins.map(|stand_in| &stand_in.difference));
    all.any(|difference| difference.trust == Trust::Rough)
}

fn tell(found: &Comparison, show: ShowArgs, printer: &mut Printer) {
    for line in text::wrap(&summary(found), printer.width(), 2) {
        printer.data(&line);
    }
    let gone: Vec<_> = found.gone.iter().map(|thread| vec![named(thread)]).collect();
    section("gone", &gone, printer);
    let added = |thread: &Thread| vec![named(thread), availability(thread).to_owned()];
    section("new", &found.added.iter().map(added).collect::<Vec<_>>(), printer);
    let recolored: Vec<_> = found.recolored.iter().map(|row| recolored(row, show)).collect();
    section("recolored", &recolored, printer);
    let arrow = |changed: &Changed, before: &str, after: &str| {
        vec![harmless(changed.after.code.as_str()), format!("{before} → {after}")]
    };
    let renamed = |changed: &Changed| {
        let (before, after) = (harmless(&changed.before.name), harmless(&changed.after.name));
        arrow(changed, &or_nameless(before), &or_nameless(after))
    };
    section("renamed", &found.renamed.iter().map(renamed).collect::<Vec<_>>(), printer);
    let restated = |changed: &Changed| {
        arrow(changed, changed.before.status.as_str(), changed.after.status.as_str())
    };
    section("status", &found.restated.iter().map(restated).collect::<Vec<_>>(), printer);
    let others: Vec<_> = found.others.iter().map(other).collect();
    section("other changes", &others, printer);
    let substitutions: Vec<_> = found.substitutions.iter().map(substitution).collect();
    section("substitutions", &substitutions, printer);
}

fn or_nameless(name: String) -> String {
    if name.is_empty() { "(no name)".to_owned() } else { name }
}

fn summary(found: &Comparison) -> String {
    let (old, new) = (&found.old.table, &found.new.table);
    let shared = counted(found.shared as u64, "code in both", "codes in both");
    if found.is_same() {
        return format!("{old} → {new}: no change, {shared}");
    }
    let counts = [
        (found.gone.len(), "gone"),
        (found.added.len(), "new"),
        (found.recolored.len(), "recolored"),
        (found.renamed.len(), "renamed"),
        (found.restated.len(), "of another status"),
        (found.others.len(), "otherwise changed"),
    ];
    let mut parts = vec![shared];
    let told = counts.iter().filter(|(count, _)| *count > 0);
    parts.extend(told.map(|(count, what)| format!("{count} {what}")));
    let substitutions = found.substitutions.len() as u64;
    if substitutions > 0 {
        parts.push(counted(substitutions, "substitution changes", "substitutions change"));
    }
    format!("{old} → {new}: {}", parts.join(", "))
}

fn section(head: &str, rows: &[Vec<String>], printer: &mut Printer) {
    if rows.is_empty() {
        return;
    }
    printer.data(head);
    for line in text::table(rows, printer.width().saturating_sub(2)) {
        printer.data(&format!("  {line}"));
    }
}

fn named(thread: &Thread) -> String {
    let name = format!("{} {}", harmless(thread.code.as_str()), harmless(&thread.name));
    name.trim_end().to_owned()
}

fn problem(error: &Error) -> String {
    format!("no answer: {}", error.kind())
}

fn recolored(found: &Recolored, show: ShowArgs) -> Vec<String> {
    let words = match &found.difference {
        Ok(difference) => {
            let same = same_listed(&found.before.color, &found.after.color);
            let words = verdict(difference, same, "it");
            if show.details {
                format!("{words}; {}", text::difference_details(difference))
            } else {
                words
            }
        }
        Err(error) => problem(error),
    };
    vec![named(&found.after), words]
}

fn other(other: &OtherChange) -> Vec<String> {
    let fields: Vec<&str> = other.fields.iter().map(|field| field.as_str()).collect();
    vec![harmless(other.code.as_str()), fields.join(", ")]
}

fn substitution(found: &Substitution) -> Vec<String> {
    let why = if found.gone { "gone" } else { found.thread.status.as_str() };
    let head = format!("{} ({why})", named(&found.thread));
    if found.before == found.after {
        return vec![head, format!("needed only now: {}", answer(&found.after))];
    }
    vec![head, format!("{} → {}", answer(&found.before), answer(&found.after))]
}

fn answer(answer: &Answer) -> String {
    match answer {
        Ok(None) => "none".to_owned(),
        Ok(Some(StandIn { thread, difference, preferred })) => {
            let listed = if *preferred { ", listed alternate" } else { "" };
            format!("{} ({}{listed})", named(thread), number(difference))
        }
        Err(error) => problem(error),
    }
}

fn object(found: &Comparison) -> Value {
    let (old, new) = (&found.old.table, &found.new.table);
    let version = |version: &dyekin_core::change::TableVersion| json!({"table": version.table.as_str(), "hash": version.hash.to_string()});
    let mut object = Map::new();
    object.insert("old".into(), version(&found.old));
    object.insert("new".into(), version(&found.new));
    as_json::add_formula(&mut object, found.formula);
    object.insert("shared".into(), json!(found.shared));
    object.insert("gone".into(), threads(old, &found.gone));
    object.insert("added".into(), threads(new, &found.added));
    let recolored = found.recolored.iter().map(|found| {
        let mut object = both(old, new, &found.before, &found.after);
        add_outcome(&mut object, found.difference.as_ref());
        Value::Object(object)
    });
    object.insert("recolored".into(), recolored.collect());
    let renamed = found.renamed.iter().map(|found| {
        let (before, after) = (&found.before.name, &found.after.name);
        json!({"code": found.after.code.as_str(), "before": before, "after": after})
    });
    object.insert("renamed".into(), renamed.collect());
    let restated = found.restated.iter().map(|found| {
        let (before, after) = (found.before.status.as_str(), found.after.status.as_str());
        json!({"code": found.after.code.as_str(), "before": before, "after": after})
    });
    object.insert("status_changes".into(), restated.collect());
    let others = found.others.iter().map(|found| {
        let fields: Vec<&str> = found.fields.iter().copied().map(Field::as_str).collect();
        json!({"code": found.code.as_str(), "fields": fields})
    });
    object.insert("other_changes".into(), others.collect());
    let substitutions = found.substitutions.iter().map(|found_one| {
        let table = if found_one.gone { old } else { new };
        json!({
            "thread": as_json::thread(table, &found_one.thread),
            "gone": found_one.gone,
            "before": answered(old, &found_one.before),
            "after": answered(new, &found_one.after),
        })
    });
    object.insert("substitutions".into(), substitutions.collect());
    Value::Object(object)
}

fn threads(table: &TableId, threads: &[Thread]) -> Value {
    threads.iter().map(|thread| Value::Object(as_json::thread(table, thread))).collect()
}

fn both(old: &TableId, new: &TableId, before: &Thread, after: &Thread) -> Map<String, Value> {
    let mut object = Map::new();
    object.insert("before".into(), Value::Object(as_json::thread(old, before)));
    object.insert("after".into(), Value::Object(as_json::thread(new, after)));
    object
}

fn add_outcome(object: &mut Map<String, Value>, outcome: std::result::Result<&Difference, &Error>) {
    match outcome {
        Ok(difference) => as_json::add_difference(object, difference),
        Err(error) => {
            object.insert("error".into(), as_json::problem(error));
        }
    }
}

/// A stand-in; null for none, an object with an error when the colors cannot be compared.
fn answered(table: &TableId, answer: &Answer) -> Value {
    match answer {
        Ok(None) => Value::Null,
        Ok(Some(stand_in)) => {
            let mut object = as_json::thread(table, &stand_in.thread);
            as_json::add_difference(&mut object, &stand_in.difference);
            object.insert("preferred".into(), json!(stand_in.preferred));
            Value::Object(object)
        }
        Err(error) => json!({"error": as_json::problem(error)}),
    }
}
