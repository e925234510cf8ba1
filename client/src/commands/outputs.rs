//! The files that a command writes: checked before the work, made after it, written together.
//! It does not know which question was asked.

use std::path::Path;

use dyekin_core::error::harmless;

use super::chart_work::{Before, ChartWork};
use super::key_output;
use crate::apply::{FindThread, Unanswered, apply, by_hand};
use crate::change_file::{ChangeFile, MAX_UNDO_BYTES, Undo, digest};
use crate::chart::{
    Chart, ChartFormat, ChartHash, Content, Entry, KeyAlone, key_csv, key_json, write,
};
use crate::failure::{Failure, Result};
use crate::files::{self, Existing, Outputs};

/// The files that were asked for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wanted<'t> {
    pub(crate) output: &'t Path,
    pub(crate) changes: Option<&'t Path>,
    pub(crate) key: Option<&'t Path>,
    pub(crate) by_hand: Option<&'t Path>,
    pub(crate) undo: Option<&'t Path>,
}

/// Outputs that can be written.
#[derive(Debug)]
pub(crate) struct Plan<'t> {
    wanted: Wanted<'t>,
    format: ChartFormat,
    key_format: Option<KeyFormat>,
    outputs: Outputs,
}

/// A file format of keys.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum KeyFormat {
    Csv,
    Json,
}

/// What was written.
#[derive(Debug)]
pub(crate) struct Carried<'t> {
    /// What each file holds, and where it is.
    pub(crate) written: Vec<(&'static str, &'t Path)>,
    /// SHA-256 of each, in hexadecimal digits.
    pub(crate) digests: Vec<String>,
    /// What the files do not hold.
    pub(crate) notices: Vec<String>,
}

impl<'t> Plan<'t> {
    /// Checks names, endings and what exists already.
    pub(crate) fn check(wanted: Wanted<'t>, inputs: &[&Path], force: bool) -> Result<Self> {
        let existing = if force { Existing::Replaced } else { Existing::Refused };
        Self::check_with(wanted, inputs, existing)
    }

    /// The same, with what becomes of outputs that exist.
    pub(crate) fn check_with(
        wanted: Wanted<'t>,
        inputs: &[&Path],
        existing: Existing,
    ) -> Result<Self> {
        let format = ChartFormat::of_name(&wanted.output.to_string_lossy())
            .ok_or_else(|| bad_ending(wanted.output, ".png, .json or .csv"))?;
        let key_format = wanted.key.map(key_format).transpose()?;
        let mut outputs = Outputs::with(inputs, existing);
        let paths = [Some(wanted.output), wanted.changes, wanted.key, wanted.by_hand, wanted.undo];
        for path in paths.into_iter().flatten() {
            outputs.add(path)?;
        }
        Ok(Self { wanted, format, key_format, outputs })
    }

    /// Checks that the outputs suit what was read.
    pub(crate) fn suit(&self, work: &ChartWork) -> Result<()> {
        let bytes = work.before.bytes.len();
        if let (Some(path), true) = (self.wanted.undo, bytes > MAX_UNDO_BYTES) {
            return Err(Failure::said(
                format!(
                    "writing {}: the chart has {bytes} bytes, the limit is {MAX_UNDO_BYTES}",
                    files::shown(path)
                ),
                "leave --undo out, and keep the chart's file as it is",
            ));
        }
        match (&work.content, self.format) {
            (Content::Key(_), ChartFormat::Png) => Err(Failure::said(
                format!("writing {}: a key alone has no picture", files::shown(self.wanted.output)),
                "write the new key as .csv or .json",
            )),
            (Content::Key(_), ChartFormat::Csv | ChartFormat::Json) | (Content::Chart(_), _) => {
                Ok(())
            }
        }
    }

    /// Carries out a plan that the user asked for, and writes everything.
    pub(crate) fn carry_out(&self, work: &ChartWork, file: &ChangeFile) -> Result<Carried<'t>> {
        let find: &FindThread<'_> = &|thread| {
            Err(dyekin_core::Error::new(dyekin_core::ErrorKind::UnknownThread {
                table: thread.table.to_string(),
                code: thread.code.to_string(),
                near: Vec::new(),
            }))
        };
        match &work.content {
            Content::Chart(chart) => {
                self.chart((chart, &work.before), file, Unanswered::Carry, find)
            }
            Content::Key(key) => self.key((key, &work.before), file, Unanswered::Carry, find),
        }
    }

    /// Carries out a change list on a key alone, and writes everything.
    pub(crate) fn key(
        &self,
        (key, before): (&KeyAlone, &Before),
        file: &ChangeFile,
        unanswered: Unanswered,
        find: &FindThread<'_>,
    ) -> Result<Carried<'t>> {
        let format = match self.format {
            ChartFormat::Json => KeyFormat::Json,
            ChartFormat::Csv | ChartFormat::Png => KeyFormat::Csv,
        };
        let rows = key_output::changed(key, file, unanswered, find)?;
        let mut parts = vec![("key", self.wanted.output, key_output::bytes(&rows, format))];
        if let (Some(path), Some(format)) = (self.wanted.key, self.key_format) {
            parts.push(("key", path, key_output::bytes(&rows, format)));
        }
        self.add_lists(&mut parts, file, unanswered, &[]);
        self.add_undo(&mut parts, before, file, unanswered);
        self.write(parts, Vec::new())
    }

    /// Carries out a change list on a chart, and writes everything.
    pub(crate) fn chart(
        &self,
        (chart, before): (&Chart, &Before),
        file: &ChangeFile,
        unanswered: Unanswered,
        find: &FindThread<'_>,
    ) -> Result<Carried<'t>> {
        let applied = apply(chart, file, unanswered, find)?;
        let written = write(&applied.chart, self.format)?;
        let notices = written.notices.iter().map(|notice| harmless(&notice.text)).collect();
        let mut parts = vec![("chart", self.wanted.output, written.bytes)];
        self.add_key(&mut parts, &applied.chart);
        let mut after = file.clone();
        after.chart_after = Some(ChartHash::of(&applied.chart));
        self.add_lists(&mut parts, &after, unanswered, applied.chart.key());
        self.add_undo(&mut parts, before, &after, unanswered);
        self.write(parts, notices)
    }

    /// The way back from what the first part holds.
    fn add_undo(
        &self,
        parts: &mut Vec<(&'static str, &'t Path, Vec<u8>)>,
        before: &Before,
        file: &ChangeFile,
        unanswered: Unanswered,
    ) {
        let (Some(path), Some((_, _, output))) = (self.wanted.undo, parts.first()) else { return };
        let after = digest(output);
        let mut done = match unanswered {
            Unanswered::Carry => file.carried(),
            Unanswered::Leave => file.clone(),
        };
        done.undo = Some(Undo { kind: before.kind, after, file: before.bytes.clone() });
        parts.push(("undo", path, done.to_json()));
    }

    /// Writes a chart that was made already, and the list of what was done to it.
    pub(crate) fn chart_and_list(&self, chart: &Chart, list: &[u8]) -> Result<Carried<'t>> {
        let written = write(chart, self.format)?;
        let notices = written.notices.iter().map(|notice| harmless(&notice.text)).collect();
        let mut parts = vec![("chart", self.wanted.output, written.bytes)];
        self.add_key(&mut parts, chart);
        if let Some(path) = self.wanted.changes {
            parts.push(("changes", path, list.to_vec()));
        }
        self.write(parts, notices)
    }

    fn add_key(&self, parts: &mut Vec<(&'static str, &'t Path, Vec<u8>)>, chart: &Chart) {
        if let (Some(path), Some(format)) = (self.wanted.key, self.key_format) {
            let bytes = match format {
                KeyFormat::Csv => key_csv(chart),
                KeyFormat::Json => key_json(chart),
            };
            parts.push(("key", path, bytes));
        }
    }

    fn add_lists(
        &self,
        parts: &mut Vec<(&'static str, &'t Path, Vec<u8>)>,
        file: &ChangeFile,
        unanswered: Unanswered,
        key: &[Entry],
    ) {
        if let Some(path) = self.wanted.changes {
            parts.push(("changes", path, file.to_json()));
        }
        if let Some(path) = self.wanted.by_hand {
            parts.push(("by_hand", path, by_hand(file, unanswered, key)));
        }
    }

    fn write(
        &self,
        parts: Vec<(&'static str, &'t Path, Vec<u8>)>,
        notices: Vec<String>,
    ) -> Result<Carried<'t>> {
        let written = parts.iter().map(|(what, path, _)| (*what, *path)).collect();
        let digests = parts.iter().map(|(_, _, bytes)| digest(bytes)).collect();
        let files: Vec<(&Path, Vec<u8>)> =
            parts.into_iter().map(|(_, path, bytes)| (path, bytes)).collect();
        self.outputs.write(&files)?;
        Ok(Carried { written, digests, notices })
    }
}

fn key_format(path: &Path) -> Result<KeyFormat> {
    match ChartFormat::of_name(&path.to_string_lossy()) {
        Some(ChartFormat::Csv) => Ok(KeyFormat::Csv),
        Some(ChartFormat::Json) => Ok(KeyFormat::Json),
        Some(ChartFormat::Png) | None => Err(bad_ending(path, ".csv or .json")),
    }
}

fn bad_ending(path: &Path, endings: &str) -> Failure {
    Failure::said(
        format!("writing {}: its ending names no format", files::shown(path)),
        format!("end the name with {endings}"),
    )
}
