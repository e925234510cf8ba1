//! What reduce, convert and substitute share once the plan stands: carry it out, write, report.
//! It does not know how the plan was made.

use std::path::Path;

use dyekin_core::planner::Answered;
use dyekin_core::{ChangeList, DeltaE};
use serde_json::{Map, Value, json};

use super::chart_work::{self, ChartWork};
use super::outputs::{Carried, Plan, Wanted};
use crate::change_file::{self, ChangeFile, Made};
use crate::cli::{ChartArgs, OutArgs, ShowArgs, TableArgs};
use crate::exit::Exit;
use crate::failure::Result;
use crate::files;
use crate::printer::Printer;
use crate::report::{changes, json as as_json, text};

/// What was typed about a chart and its outputs, the same for every planning command.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Job<'t> {
    pub(crate) chart: &'t ChartArgs,
    pub(crate) tables: &'t TableArgs,
    pub(crate) out: &'t OutArgs,
    pub(crate) show: ShowArgs,
    pub(crate) limit: Option<DeltaE>,
}

impl<'t> Job<'t> {
    /// Checks every output before any work is done.
    pub(crate) fn outputs(&self) -> Result<Plan<'t>> {
        let inputs =
            chart_work::inputs(&self.chart.input, self.tables, &[self.out.answers.as_deref()]);
        let wanted = Wanted {
            output: &self.out.output,
            changes: self.out.changes.as_deref(),
            key: self.out.beside.key.as_deref(),
            by_hand: self.out.beside.by_hand.as_deref(),
        };
        Plan::check(wanted, &inputs, self.out.beside.force)
    }

    /// The answers of an earlier list over the same chart.
    pub(crate) fn answers(&self, work: &mut ChartWork) -> Result<Vec<Answered>> {
        let Some(path) = self.out.answers.as_deref() else { return Ok(Vec::new()) };
        let file = read_changes(path)?;
        work.check_list(&file, path)?;
        Ok(file.answers())
    }

    /// Carries the plan out, writes everything and reports.
    pub(crate) fn finish(
        &self,
        work: &ChartWork,
        list: &ChangeList,
        settings: Vec<(String, String)>,
        plan: &Plan<'_>,
        printer: &mut Printer,
    ) -> Result<Exit> {
        let made = Made { program: program(), settings };
        let file = ChangeFile::new(list, &work.summary, made)?;
        let Carried { written, notices, .. } = plan.carry_out(work, &file)?;
        if self.show.json {
            let mut object = as_json::change_list(list, &work.summary, self.limit);
            object.insert("files".into(), Value::Object(files_object(&written)));
            object.insert("lost".into(), json!(notices));
            printer.data(&as_json::to_text(&Value::Object(object)));
        } else {
            let told = changes::Told {
                list,
                summary: &work.summary,
                limit: self.limit,
                details: self.show.details,
                width: printer.width(),
            };
            for line in told.lines() {
                printer.data(&line);
            }
        }
        say_written(&written, &notices, printer);
        for caution in changes::cautions(list) {
            printer.caution(caution.words());
        }
        let far = changes::beyond(list, self.limit) > 0;
        Ok(if far { Exit::NothingMatched } else { Exit::Done })
    }
}

/// The program as change lists name it.
fn program() -> String {
    format!("dyekin {}", env!("CARGO_PKG_VERSION"))
}

/// Reads a change list.
pub(crate) fn read_changes(path: &Path) -> Result<ChangeFile> {
    Ok(change_file::read(&files::read(path)?, &path.to_string_lossy())?)
}

/// The files that were written, by what they hold.
pub(crate) fn files_object(written: &[(&'static str, &Path)]) -> Map<String, Value> {
    written.iter().map(|(what, path)| ((*what).to_owned(), json!(path.to_string_lossy()))).collect()
}

/// Says which files were written and what they do not hold.
pub(crate) fn say_written(
    written: &[(&'static str, &Path)],
    notices: &[String],
    printer: &mut Printer,
) {
    for notice in notices {
        for line in text::wrap(&format!("note: {notice}"), printer.width(), 2) {
            printer.note(&line);
        }
    }
    for (what, path) in written {
        printer.note(&format!("wrote {}: {}", files::shown(path), called(what)));
    }
}

/// What people call a file that JSON names by one word.
fn called(what: &str) -> &str {
    match what {
        "by_hand" => "the changes to carry out by hand",
        "changes" => "the change list",
        "chart" => "the new chart",
        "key" => "the new key",
        other => other,
    }
}
