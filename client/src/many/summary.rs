//! What a run over several charts says at its end, as lines and as JSON.
//! It does not know what the totals of a command mean: the command says them.

use std::path::Path;

use serde_json::{Map, Value, json};

use super::gather::{self, ChartFile, LeftOut};
use super::{Outcome, State};
use crate::exit::Exit;
use crate::failure::Failure;
use crate::files;
use crate::report::growing::Around;
use crate::report::{Caution, counted, json as as_json};

/// A number of a chart that is summed up over all of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Counted {
    pub(crate) name: &'static str,
    pub(crate) number: u64,
}

/// What is said at the end.
#[derive(Debug, Default)]
pub(crate) struct Told {
    pub(crate) done: usize,
    pub(crate) skipped: usize,
    pub(crate) failed: usize,
    /// Charts that the run did not get to.
    pub(crate) left: usize,
    /// Notes about charts.
    pub(crate) notes: usize,
    pub(crate) totals: Vec<Counted>,
    pub(crate) cautions: Vec<Caution>,
    /// The worst end of any chart.
    pub(crate) worst: Option<Exit>,
}

impl Told {
    /// Takes note of what became of a chart.
    pub(crate) fn add(&mut self, state: &State) {
        let exit = match state {
            State::Done(outcome) => {
                self.done += 1;
                self.notes += outcome.notes.len();
                self.sum(&outcome.counts);
                for caution in &outcome.cautions {
                    if !self.cautions.contains(caution) {
                        self.cautions.push(*caution);
                    }
                }
                outcome.exit
            }
            State::Skipped(exit) => {
                self.skipped += 1;
                *exit
            }
            State::Failed(failure) if failure.exit() == Exit::Stopped => return,
            State::Failed(failure) => {
                self.failed += 1;
                failure.exit()
            }
        };
        self.worst = self.worst.max(Some(exit));
    }

    fn sum(&mut self, counts: &[Counted]) {
        for count in counts {
            match self.totals.iter_mut().find(|total| total.name == count.name) {
                Some(total) => total.number = total.number.saturating_add(count.number),
                None => self.totals.push(*count),
            }
        }
    }

    /// A total by its name.
    pub(crate) fn total(&self, name: &str) -> u64 {
        self.totals.iter().find(|total| total.name == name).map_or(0, |total| total.number)
    }

    /// How many charts came out how.
    pub(crate) fn counts(&self) -> String {
        let mut said = vec![counted(self.done as u64, "chart done", "charts done")];
        let more = [
            (self.skipped, "as an earlier run left it", "as an earlier run left them"),
            (self.failed, "failed", "failed"),
            (self.left, "not begun or not finished", "not begun or not finished"),
        ];
        let more = more.into_iter().filter(|(number, ..)| *number > 0);
        said.extend(more.map(|(number, one, many)| counted(number as u64, one, many)));
        format!("{}.", said.join(", "))
    }

    /// What `--json` says of all charts, behind the list of them.
    pub(crate) fn json(&self, left_out: &[LeftOut]) -> Map<String, Value> {
        let left_out = left_out
            .iter()
            .map(|held| json!({"path": held.path.to_string_lossy(), "why": held.why}))
            .collect();
        let totals: Map<String, Value> =
            self.totals.iter().map(|total| (total.name.to_owned(), json!(total.number))).collect();
        [
            ("left_out", left_out),
            ("done", json!(self.done)),
            ("skipped", json!(self.skipped)),
            ("failed", json!(self.failed)),
            ("left", json!(self.left)),
            ("totals", totals.into()),
        ]
        .into_iter()
        .map(|(name, value)| (name.to_owned(), value))
        .collect()
    }
}

/// The document of `--json`, up to its list of charts. `proposals` says whether what is written is to
/// be looked at and answered.
pub(crate) fn document(command: &str, proposals: bool) -> Around {
    let members =
        [("question", json!("many")), ("command", json!(command)), ("proposals", json!(proposals))];
    let members = members.into_iter().map(|(name, value)| (name.to_owned(), value));
    Around { members: members.collect(), array: CHARTS }
}

/// The list of charts in `--json`.
pub(crate) const CHARTS: &str = "charts";

/// What `--json` says of a chart, or of a folder inside that cannot be read.
pub(crate) fn items(path: &Path, state: &State) -> Vec<Value> {
    match state {
        State::Done(outcome) => vec![done(path, outcome)],
        State::Skipped(exit) => vec![object_of(path, "skipped", *exit, None)],
        State::Failed(failure) if failure.exit() == Exit::Stopped => Vec::new(),
        State::Failed(failure) => vec![object_of(path, "failed", failure.exit(), Some(failure))],
    }
}

fn done(path: &Path, outcome: &Outcome) -> Value {
    let mut object = object_of(path, "done", outcome.exit, None);
    if let Value::Object(members) = &mut object {
        let each = outcome.written.iter();
        let files: Map<String, Value> =
            each.map(|file| (file.what.to_owned(), json!(file.path.to_string_lossy()))).collect();
        members.insert("answer".into(), Value::Object(outcome.facts.clone()));
        members.insert("files".into(), Value::Object(files));
        members.insert("notes".into(), json!(outcome.notes));
    }
    object
}

fn object_of(path: &Path, state: &str, exit: Exit, failure: Option<&Failure>) -> Value {
    let path = path.to_string_lossy();
    let problems = failure.map(|failure| as_json::problems(&path, failure)).unwrap_or_default();
    json!({
        "chart": path,
        "state": state,
        "exit": exit.code(),
        "answer": null,
        "files": {},
        "notes": [],
        "problems": problems,
    })
}

/// The lines of a chart, for people; none where there is nothing to say of it.
pub(crate) fn lines(chart: &ChartFile, state: &State) -> Vec<String> {
    let said: &[String] = match state {
        State::Done(outcome) => &outcome.lines,
        State::Failed(failure) if failure.exit() == Exit::Stopped => &[],
        State::Failed(_) => &["not done".to_owned()],
        State::Skipped(_) => &["complete already".to_owned()],
    };
    let Some((first, more)) = said.split_first() else { return Vec::new() };
    let mut lines = vec![format!("{}: {first}", files::shown(&chart.path))];
    lines.extend(more.iter().cloned());
    lines
}

/// A failure of one chart as lines, the first of which names the chart.
pub(crate) fn failure(chart: &ChartFile, failure: &Failure) -> Vec<String> {
    let mut lines = crate::report::text::failure(failure);
    let name = files::shown(&chart.path);
    if let Some(first) = lines.first_mut()
        && !first.contains(&name)
        && let Some(rest) = first.strip_prefix("error: ")
    {
        *first = format!("error: {name}: {rest}");
    }
    lines
}

/// What was left out, in lines.
pub(crate) fn left_out(left_out: &[LeftOut]) -> Vec<String> {
    gather::told(left_out)
}
