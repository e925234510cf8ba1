//! The reflectance spectrum of a thread in JSON: an object with the first wavelength, step, values.
//! It does not know what a spectrum is good for.

use super::{At, bad_file, refuse};
use crate::error::{ErrorKind, Place, shown};
use crate::spectrum::{self, Reflectance};
use crate::table::number;
use crate::table::row::Rows;
use crate::table::spectral::{Bands, Spectral};
use crate::table::walk::{Node, Value};

const SHAPE: &str =
    "write {\"start_nm\": 400, \"step_nm\": 10, \"values\": [0.18, …]} with factors";
const NANOMETERS: &str = "write whole nanometers, such as 400";
const FACTORS: &str = "write factors, where 1 is white; divide percents by 100";

/// Reads the value of the key `spectrum`. Every bad part is told.
pub(super) fn read(node: &Node<'_>, at: At<'_>, rows: &mut Rows<'_>) -> Spectral {
    let entries = match &node.value {
        Value::Null => return Spectral::Absent,
        Value::Object(entries) => entries,
        Value::Bool(_) | Value::Number(_) | Value::Text(_) | Value::List(_) => {
            refuse(node, at, "", SHAPE, rows);
            return Spectral::Refused;
        }
    };
    let mut whole = true;
    let (mut start, mut step, mut values) = (None, None, None);
    for (key, value) in entries {
        match key.as_ref() {
            "start_nm" => start = nanometers(value, at, ".start_nm", rows),
            "step_nm" => step = nanometers(value, at, ".step_nm", rows),
            "values" => values = factors(value, at, rows),
            other => {
                let kind =
                    bad_file(&format!("the key `{}` is not known here", shown(other)), SHAPE);
                rows.report.problem(kind, place(value, at, ""));
                whole = false;
            }
        }
    }
    for (key, is_there) in [
        ("start_nm", entries.iter().any(|(key, _)| key == "start_nm")),
        ("step_nm", entries.iter().any(|(key, _)| key == "step_nm")),
        ("values", entries.iter().any(|(key, _)| key == "values")),
    ] {
        if !is_there {
            rows.report.problem(bad_file(&format!("no key `{key}`"), SHAPE), place(node, at, ""));
        }
    }
    let (Some(start_nm), Some(step_nm), Some(factors), true) = (start, step, values, whole) else {
        return Spectral::Refused;
    };
    Bands { start_nm, step_nm, factors }.spectrum().unwrap_or_else(|error| {
        rows.report.problem(error.kind().clone(), place(node, at, ""));
        Spectral::Refused
    })
}

fn place(node: &Node<'_>, at: At<'_>, part: &str) -> Place {
    let field = Some(format!("{}.{}{part}", at.path, shown(at.key)));
    Place { line: Some(node.line), field, ..Place::default() }
}

fn nanometers(node: &Node<'_>, at: At<'_>, part: &str, rows: &mut Rows<'_>) -> Option<u16> {
    let number = match &node.value {
        Value::Number(text) => text.parse().ok(),
        Value::Null | Value::Bool(_) | Value::Text(_) | Value::List(_) | Value::Object(_) => {
            refuse(node, at, part, NANOMETERS, rows);
            return None;
        }
    };
    if number.is_none() {
        let kind = ErrorKind::BadValue {
            value: node.value.shown(),
            reason: "not a whole number of nanometers".into(),
            remedy: NANOMETERS.into(),
        };
        rows.report.problem(kind, place(node, at, part));
    }
    number
}

fn factors(node: &Node<'_>, at: At<'_>, rows: &mut Rows<'_>) -> Option<Vec<f64>> {
    let Value::List(parts) = &node.value else {
        refuse(node, at, ".values", FACTORS, rows);
        return None;
    };
    let mut factors = Vec::with_capacity(parts.len());
    for (index, part) in parts.iter().enumerate() {
        let field = format!(".values[{index}]");
        let Value::Number(text) = part.value else {
            refuse(part, at, &field, FACTORS, rows);
            continue;
        };
        match number::parse(text).ok().map(|number| number.value) {
            Some(value) if spectrum::is_factor(value) => factors.push(value),
            Some(_) | None => {
                let kind = ErrorKind::BadValue {
                    value: text.to_owned(),
                    reason: "no reflectance".into(),
                    remedy: FACTORS.into(),
                };
                rows.report.problem(kind, place(part, at, &field));
            }
        }
    }
    (factors.len() == parts.len()).then_some(factors)
}

/// A spectrum as the last member of a thread's object.
pub(super) fn written(held: &Reflectance) -> String {
    let values: Vec<String> = held.values().iter().map(f64::to_string).collect();
    format!(
        ",\"spectrum\":{{\"start_nm\":{},\"step_nm\":{},\"values\":[{}]}}",
        held.start_nm(),
        held.step_nm(),
        values.join(",")
    )
}
