//! Notes as a SARIF 2.1.0 log (OASIS), for programs that gate and show findings of many tools.
//! It does not find notes; what SARIF has no place for goes into its property bags.

use std::path::Path;

use serde_json::{Map, Value, json};

use super::about::About;
use super::json::numbers;
use super::words::{item, way};
use super::{Names, words};
use crate::check::{Checked, Code, Degree, Limits, Note, Worked};
use crate::report::growing::Around;

/// Where OASIS publishes the schema of the format.
const SCHEMA: &str =
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json";

/// One chart of a log.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Entry<'t> {
    pub(crate) path: &'t Path,
    pub(crate) names: &'t Names,
    pub(crate) checked: &'t Checked,
}

/// The log of charts that are checked by the same limits, up to its list of results.
pub(crate) fn log(limits: &Limits) -> [Around; 2] {
    let rules: Vec<Value> = Code::ALL.iter().map(|code| rule(*code, limits)).collect();
    let driver = json!({
        "name": "dyekin",
        "semanticVersion": env!("CARGO_PKG_VERSION"),
        "rules": rules,
    });
    let members = |members: [(&str, Value); 2]| {
        members.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()
    };
    [
        Around {
            members: members([("$schema", json!(SCHEMA)), ("version", json!("2.1.0"))]),
            array: "runs",
        },
        Around {
            members: members([
                ("tool", json!({"driver": driver})),
                ("columnKind", json!("unicodeCodePoints")),
            ]),
            array: "results",
        },
    ]
}

/// The results of one chart.
pub(crate) fn results(entry: &Entry<'_>) -> Vec<Value> {
    let notes = entry.checked.notes.iter().filter_map(|note| result(note, entry));
    notes.chain(entry.checked.more.iter().map(|more| left_out(*more, entry))).collect()
}

/// What the run says behind its results: the charts that were checked.
pub(crate) fn artifacts<'p>(paths: impl Iterator<Item = &'p Path>) -> Map<String, Value> {
    let artifacts = paths.map(|path| json!({"location": {"uri": uri(path)}})).collect();
    Map::from_iter([("artifacts".to_owned(), artifacts)])
}

fn level(degree: Degree) -> &'static str {
    match degree {
        Degree::Fix => "error",
        Degree::Look => "warning",
        Degree::Information => "note",
    }
}

fn rule(code: Code, limits: &Limits) -> Value {
    let about = About::of(code);
    let degree = limits.degree(code);
    json!({
        "id": code.as_str(),
        "shortDescription": {"text": about.sentence},
        "help": {"text": format!("Way out: {}.", about.way)},
        "defaultConfiguration": {
            "enabled": degree.is_some(),
            "level": degree.map_or("none", level),
        },
    })
}

fn index(code: Code) -> Option<usize> {
    Code::ALL.iter().position(|held| *held == code)
}

fn result(note: &Note, entry: &Entry<'_>) -> Option<Value> {
    let about = About::of(note.code());
    let way = way(&note.finding);
    let mut text = format!("{} {}.", about.sentence, item(note, false)?);
    text.push_str(&format!(" Way out: {}", way.words));
    let command = way.command.as_ref().map(|command| entry.names.command(command));
    text.extend(command.iter().map(|command| format!(": {command}")));
    let colors: Vec<Value> = note.colors.iter().map(super::json::worked).collect();
    Some(json!({
        "ruleId": note.code().as_str(),
        "ruleIndex": index(note.code()),
        "level": level(note.degree),
        "message": {"text": plain(&text)},
        "locations": locations(note, entry.path),
        "properties": {
            "degree": note.degree.as_str(),
            "cellCount": note.cells.count,
            "colors": colors,
            "command": command,
            "numbers": numbers(note),
        },
    }))
}

/// Text without the placeholders and links that a message may hold (SARIF 2.1.0, 3.11.5 and 3.11.6):
/// names of threads are foreign.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '{' | '}' => out.extend([character, character]),
            '[' | ']' => out.extend(['\\', character]),
            other => out.push(other),
        }
    }
    out
}

/// What a log leaves out, so that nobody takes it for all.
fn left_out((code, notes): (Code, u64), entry: &Entry<'_>) -> Value {
    json!({
        "ruleId": code.as_str(),
        "ruleIndex": index(code),
        "level": "note",
        "message": {"text": format!("{notes} more notes of this code are not listed.")},
        "locations": [{"physicalLocation": file(entry.path)}],
    })
}

/// The stitches of a note, or the first stitches of its colors, each in the chart's file. A stitch is
/// no region of the file: it is named by its column and row.
fn locations(note: &Note, path: &Path) -> Vec<Value> {
    let of_colors = note.colors.iter().filter_map(|color: &Worked| color.first);
    let mut cells: Vec<(u16, u16)> = note.cells.first.clone();
    if cells.is_empty() {
        cells.extend(of_colors.take(crate::check::Cells::MOST));
    }
    if cells.is_empty() {
        return vec![json!({"physicalLocation": file(path)})];
    }
    let located = |at: &(u16, u16)| {
        json!({
            "physicalLocation": file(path),
            "logicalLocations": [{"name": words::place(*at), "kind": "element"}],
        })
    };
    cells.iter().map(located).collect()
}

fn file(path: &Path) -> Value {
    json!({"artifactLocation": {"uri": uri(path)}})
}

/// A path as a URI reference (RFC 3986): whatever is not unreserved is percent-encoded, byte by byte.
fn uri(path: &Path) -> String {
    let mut out = String::new();
    for byte in path.as_os_str().as_encoded_bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(byte) {
            out.push(char::from(*byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    if path.is_absolute() { format!("file://{out}") } else { out }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn foreign_names_make_no_links_and_no_placeholders() {
        assert_eq!(plain("[look](1) {0}"), "\\[look\\](1) {{0}}");
    }

    #[test]
    fn paths_become_uris_that_hold_nothing_harmful() {
        for (path, expected) in [
            ("charts/mill.json", "charts/mill.json"),
            ("a b#c?d%.png", "a%20b%23c%3Fd%25.png"),
            ("c:evil.json", "c%3Aevil.json"),
            ("/tmp/\u{1b}[2J.csv", "file:///tmp/%1B%5B2J.csv"),
            ("m\u{fc}hle.json", "m%C3%BChle.json"),
        ] {
            assert_eq!(uri(Path::new(path)), expected);
        }
    }
}
