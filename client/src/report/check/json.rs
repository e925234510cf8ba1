//! The object of `check --json`: the same facts as the text, in full precision.
//! It does not write it.

use dyekin_core::ThreadRef;
use serde_json::{Map, Value, json};

use super::words::{item, way};
use super::{Names, Told};
use crate::check::{Degree, Finding, Note, Reason, Worked};
use crate::report::json::add_difference;

impl Told<'_> {
    /// The object; `fail_on` is the degree of `--fail-on`.
    pub(crate) fn json(&self, fail_on: Option<Degree>) -> Value {
        let checked = self.checked;
        let mut object = Map::new();
        object.insert("question".into(), json!("check"));
        object.insert("chart".into(), json!(self.names.chart));
        object.insert("size".into(), json!(checked.size.map(|size| [size.width(), size.height()])));
        object.insert("colors".into(), json!(checked.colors));
        object.insert("stitches".into(), json!(checked.stitches));
        object.insert("stitched_cells".into(), json!(checked.stitched_cells));
        object.insert("lone".into(), json!(checked.lone));
        let counts =
            Degree::ALL.map(|degree| (degree.as_str().to_owned(), json!(checked.count(degree))));
        object.insert("counts".into(), Value::Object(counts.into_iter().collect()));
        object
            .insert("failed".into(), json!(fail_on.is_some_and(|degree| checked.reaches(degree))));
        let notes = checked.notes.iter().map(|held| note(held, self.names));
        object.insert("notes".into(), notes.collect());
        let more =
            checked.more.iter().map(|(code, notes)| json!({"code": code.as_str(), "notes": notes}));
        object.insert("more".into(), more.collect());
        Value::Object(object)
    }
}

/// One note.
fn note(note: &Note, names: &Names) -> Value {
    let mut object = Map::new();
    object.insert("code".into(), json!(note.code().as_str()));
    object.insert("degree".into(), json!(note.degree.as_str()));
    object.insert("words".into(), json!(item(note, false)));
    let way = way(&note.finding);
    object.insert("way_out".into(), json!(way.words));
    object.insert("command".into(), json!(way.command.as_ref().map(|held| names.command(held))));
    object.insert("colors".into(), note.colors.iter().map(worked).collect());
    object.insert("cells".into(), json!(note.cells.first));
    object.insert("cell_count".into(), json!(note.cells.count));
    object.insert("numbers".into(), numbers(note));
    Value::Object(object)
}

pub(super) fn worked(color: &Worked) -> Value {
    json!({
        "hex": color.color.to_string(),
        "threads": color.threads.iter().map(thread).collect::<Vec<_>>(),
        "symbols": color.symbols.iter().map(crate::chart::Symbol::as_str).collect::<Vec<_>>(),
        "name": color.name.as_ref().map(crate::chart::Label::as_str),
        "stitches": color.stitches,
        "first": color.first,
    })
}

fn thread(thread: &ThreadRef) -> Value {
    json!({"table": thread.table.as_str(), "code": thread.code.as_str()})
}

/// What belongs to this code only.
pub(super) fn numbers(note: &Note) -> Value {
    let finding = &note.finding;
    let mut object = Map::new();
    if let Some(difference) = finding.difference() {
        add_difference(&mut object, difference);
        if let Some(ratio) = note.contrast() {
            object.insert("contrast".into(), json!(ratio));
        }
    }
    if let Some(edges) = finding.edges() {
        object.insert("edges".into(), json!(edges));
    }
    match finding {
        Finding::FewStitches
        | Finding::KeyColor { .. }
        | Finding::KeyTwice
        | Finding::KeyUnused
        | Finding::LikeSymbols { .. }
        | Finding::MayBleed { .. }
        | Finding::NearColors { .. }
        | Finding::NoSymbol
        | Finding::NoThread
        | Finding::StatusUntold => {}
        Finding::ColorVision { deficiency, simulated, .. } => {
            object.insert("deficiency".into(), json!(deficiency.as_str()));
            object.insert("simulated".into(), json!(simulated.value()));
        }
        Finding::KeyCount { written, in_key, in_chart } => {
            object.insert("written".into(), json!(written));
            object.insert("in_key".into(), json!(in_key));
            object.insert("in_chart".into(), json!(in_chart));
        }
        Finding::LostOutline { over, beside, percent, on_cloth, .. } => {
            object.insert("over".into(), json!(over));
            object.insert("beside".into(), json!(beside));
            object.insert("percent".into(), json!(percent));
            object.insert("on_cloth".into(), json!(on_cloth));
        }
        Finding::LikeCloth { cloth, .. } => {
            object.insert("cloth".into(), json!(cloth.to_string()));
        }
        Finding::LoneStitches { percent } => {
            object.insert("percent".into(), json!(percent));
        }
        Finding::NoSingleColor { thread: held, finish } => {
            object.insert("thread".into(), thread(held));
            object.insert("finish".into(), json!(finish.as_str()));
        }
        Finding::NotChecked { reason } => {
            let (word, table) = match reason {
                Reason::NoTable(table) => ("no table", Some(table.as_str())),
                Reason::NoCloth => ("no cloth", None),
                Reason::KeyAlone => ("key alone", None),
            };
            object.insert("reason".into(), json!(word));
            object.insert("table".into(), json!(table));
        }
        Finding::OtherVersion { table } => {
            object.insert("table".into(), json!(table.as_str()));
        }
        Finding::StrayEdges { colors } => {
            object.insert("colors_saved".into(), json!(colors));
        }
        Finding::ThreadGone { thread: held, status }
        | Finding::ThreadLow { thread: held, status } => {
            object.insert("thread".into(), thread(held));
            object.insert("status".into(), json!(status.as_str()));
        }
        Finding::ThreadUnknown { thread: held, near } => {
            object.insert("thread".into(), thread(held));
            object.insert("near".into(), json!(near));
        }
    }
    Value::Object(object)
}
