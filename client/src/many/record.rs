//! What earlier runs into a folder have done: for each new chart the question, its input and its
//! files, by their digests. Times of files say nothing, and this does not look at them.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::{Map, Value, json};

use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files::{self, Existing, Outputs};

/// What `format` says in a record.
const FORMAT: &str = "dyekin-record";

/// The version that is written and read.
const VERSION: u64 = 1;

/// One chart that was done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Entry {
    /// Digest of everything that was asked for: program, command, options, tables.
    pub(crate) asked: String,
    /// Digest of the chart's file.
    pub(crate) input: String,
    /// True when it ended with exit code 1.
    pub(crate) unmatched: bool,
    /// Digests of the files that were written, by what they hold.
    pub(crate) files: BTreeMap<String, String>,
}

impl Entry {
    /// How the run on this chart ended.
    pub(crate) fn exit(&self) -> Exit {
        if self.unmatched { Exit::NothingMatched } else { Exit::Done }
    }
}

/// The charts that were done, by the names of the new ones.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Record {
    entries: BTreeMap<String, Entry>,
}

impl Record {
    /// Reads a record; where none is, nothing was done.
    ///
    /// # Errors
    ///
    /// [`Failure::Said`] when the file cannot be read or is no record.
    pub(crate) fn read(path: &Path) -> Result<Self> {
        if !files::is_taken(path) {
            return Ok(Self::default());
        }
        let bytes = files::read(path)?;
        Self::parse(&bytes).ok_or_else(|| {
            Failure::said(
                format!("reading {}: not the record of a run", files::shown(path)),
                "remove it to do all charts again (with --force, where their files exist), or name \
                 another folder",
            )
        })
    }

    fn parse(bytes: &[u8]) -> Option<Self> {
        let tree: Value = serde_json::from_slice(bytes).ok()?;
        let is_ours =
            tree.get("format")?.as_str()? == FORMAT && tree.get("version")?.as_u64()? == VERSION;
        if !is_ours {
            return None;
        }
        let entry = |value: &Value| {
            let text = |name: &str| Some(value.get(name)?.as_str()?.to_owned());
            let files = value.get("files")?.as_object()?;
            let files = files
                .iter()
                .map(|(what, digest)| Some((what.clone(), digest.as_str()?.to_owned())));
            Some((
                text("chart")?,
                Entry {
                    asked: text("asked")?,
                    input: text("input")?,
                    unmatched: value.get("unmatched")?.as_bool()?,
                    files: files.collect::<Option<_>>()?,
                },
            ))
        };
        let charts = tree.get("charts")?.as_array()?;
        Some(Self { entries: charts.iter().map(entry).collect::<Option<_>>()? })
    }

    /// Writes the record whole, in place of the one before.
    ///
    /// # Errors
    ///
    /// [`Failure::Said`] when the disk refuses.
    pub(crate) fn write(&self, path: &Path) -> Result<()> {
        let mut outputs = Outputs::with(&[], Existing::Replaced);
        outputs.add(path)?;
        outputs.write(&[(path, self.to_json())])
    }

    fn to_json(&self) -> Vec<u8> {
        let charts: Vec<Value> = self
            .entries
            .iter()
            .map(|(chart, entry)| {
                let files: Map<String, Value> = entry
                    .files
                    .iter()
                    .map(|(what, digest)| (what.clone(), json!(digest)))
                    .collect();
                json!({
                    "chart": chart,
                    "asked": entry.asked,
                    "input": entry.input,
                    "unmatched": entry.unmatched,
                    "files": files,
                })
            })
            .collect();
        let tree = json!({"format": FORMAT, "version": VERSION, "charts": charts});
        let mut bytes = format!("{tree:#}").into_bytes();
        bytes.push(b'\n');
        bytes
    }

    /// What was done for a new chart.
    pub(crate) fn of(&self, name: &Path) -> Option<&Entry> {
        self.entries.get(&key(name))
    }

    /// Notes that a chart is done.
    pub(crate) fn add(&mut self, name: &Path, entry: Entry) {
        self.entries.insert(key(name), entry);
    }
}

/// A name as the record has it: names that are no text are told apart by their bytes.
fn key(name: &Path) -> String {
    match name.to_str() {
        Some(text) => text.to_owned(),
        None => name.as_os_str().as_encoded_bytes().escape_ascii().to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record() -> Record {
        let mut record = Record::default();
        let files =
            [("chart".to_owned(), "c0".to_owned()), ("changes".to_owned(), "c1".to_owned())];
        let entry = Entry {
            asked: "a0".into(),
            input: "b0".into(),
            unmatched: true,
            files: files.into_iter().collect(),
        };
        record.add(Path::new("sub/\u{1b}\"a\".proposed.png"), entry);
        record
    }

    #[test]
    fn a_record_reads_back_as_it_was_written() {
        assert_eq!(Record::parse(&record().to_json()), Some(record()));
        assert_eq!(Record::parse(&Record::default().to_json()), Some(Record::default()));
    }

    #[test]
    fn what_is_no_record_is_none() {
        let whole = String::from_utf8(record().to_json()).unwrap();
        for bad in [
            String::new(),
            "[]".into(),
            whole.replace("dyekin-record", "dyekin-chart"),
            whole.replace("\"version\": 1", "\"version\": 2"),
            whole.replace("\"unmatched\": true", "\"unmatched\": 1"),
            whole.replace("\"c1\"", "7"),
            whole[..whole.len() / 2].to_owned(),
        ] {
            assert_eq!(Record::parse(bad.as_bytes()), None, "{bad}");
        }
    }
}
