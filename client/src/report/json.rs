//! The answers as JSON: the same facts as the text, in full precision.
//! It does not write them.

use dyekin_core::change::TableVersion;
use dyekin_core::color::Trust;
use dyekin_core::difference::describe;
use dyekin_core::error::is_hostile;
use dyekin_core::{Color, Difference, Error, Formula, TableId, Thread};
use serde_json::{Map, Value, json};

use super::text::money;
use crate::backend::Hit;

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

/// The members of a difference.
pub(crate) fn add_difference(object: &mut Map<String, Value>, difference: &Difference) {
    object.insert("difference".into(), json!(difference.delta_e.value()));
    object.insert("rough".into(), json!(difference.trust == Trust::Rough));
    object.insert("words".into(), json!(describe(difference)));
    object.insert("lightness".into(), json!(difference.lightness));
    object.insert("chroma".into(), json!(difference.chroma));
    object.insert("hue".into(), json!(difference.hue));
    object.insert("red_green".into(), json!(difference.a));
    object.insert("yellow_blue".into(), json!(difference.b));
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
    Value::Object(object)
}

/// A problem with its hint.
pub(crate) fn problem(error: &Error) -> Value {
    json!({"message": error.kind().to_string(), "hint": error.hint()})
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
