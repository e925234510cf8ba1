//! How much of threads that disappear charts take, as lines and as JSON.
//! It does not find the charts or what could stand in.

use std::collections::BTreeMap;

use dyekin_core::ThreadRef;
use dyekin_core::error::harmless;
use serde_json::{Map, Value, json};

use super::growing::Around;
use super::{counted, text};
use crate::many::{LeftOut, Told, summary};

/// How much of a thread a chart takes.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Amount {
    pub(crate) thread: ThreadRef,
    pub(crate) stitches: u64,
    /// Meters of thread as sold, by what a stitch takes.
    pub(crate) meters: Option<f64>,
    /// The same in skeins, where the table says their length.
    pub(crate) skeins: Option<f64>,
}

impl Amount {
    pub(crate) fn words(&self) -> String {
        let thread = harmless(&self.thread.to_string());
        format!(
            "{} in {thread}{}",
            counted(self.stitches, "stitch", "stitches"),
            lengths(self.meters, self.skeins)
        )
    }

    pub(crate) fn json(&self) -> Value {
        json!({
            "table": self.thread.table.as_str(),
            "code": self.thread.code.as_str(),
            "stitches": self.stitches,
            "meters": self.meters,
            "skeins": self.skeins,
        })
    }
}

/// A length as far as it is known, such as `, about 2.1 m (0.26 skeins)`.
fn lengths(meters: Option<f64>, skeins: Option<f64>) -> String {
    let skeins = skeins.map(|skeins| format!(" ({skeins:.2} skeins)")).unwrap_or_default();
    meters.map(|meters| format!(", about {meters:.1} m{skeins}")).unwrap_or_default()
}

/// A number of stitches or threads as a factor.
#[expect(clippy::cast_precision_loss, reason = "charts have far fewer stitches than 2^53")]
pub(crate) fn whole(number: u64) -> f64 {
    number as f64
}

/// What all charts take of one thread.
#[derive(Clone, Debug, Default)]
struct Sum {
    charts: u64,
    stitches: u64,
    meters: Option<f64>,
    skeins: Option<f64>,
}

/// What all charts take of the threads that disappear.
#[derive(Clone, Debug, Default)]
pub(crate) struct Lost {
    /// Charts that use at least one of them.
    pub(crate) charts: u64,
    threads: BTreeMap<(String, String), Sum>,
}

impl Lost {
    /// Adds what one chart takes, as its JSON has it.
    pub(crate) fn add(&mut self, facts: &Map<String, Value>) {
        let threads = facts.get("threads").and_then(Value::as_array);
        let threads = threads.map(Vec::as_slice).unwrap_or_default();
        self.charts += u64::from(!threads.is_empty());
        for thread in threads {
            let text = |name: &str| thread.get(name).and_then(Value::as_str).unwrap_or_default();
            let length = |name: &str| thread.get(name).and_then(Value::as_f64);
            let sum = self.threads.entry((text("table").to_owned(), text("code").to_owned()));
            let sum = sum.or_default();
            sum.charts += 1;
            sum.stitches += thread.get("stitches").and_then(Value::as_u64).unwrap_or_default();
            for (total, name) in [(&mut sum.meters, "meters"), (&mut sum.skeins, "skeins")] {
                *total = length(name).map_or(*total, |length| Some(total.unwrap_or(0.0) + length));
            }
        }
    }

    /// The end of the report, after so many charts that were looked at and that failed.
    pub(crate) fn lines(&self, (done, failed): (usize, usize), width: usize) -> Vec<String> {
        let looked = counted(done as u64, "chart", "charts");
        let mut said = match self.charts {
            0 => format!("None of {looked} uses any of them."),
            1 => format!("1 of {looked} uses them."),
            many => format!("{many} of {looked} use them."),
        };
        if failed > 0 {
            said.push_str(&format!(" {failed} failed."));
        }
        let mut lines = text::wrap(&said, width, 2);
        for ((table, code), sum) in &self.threads {
            let thread = harmless(&format!("{table} {code}"));
            let charts = counted(sum.charts, "chart", "charts");
            let stitches = counted(sum.stitches, "stitch", "stitches");
            let lengths = lengths(sum.meters, sum.skeins);
            let line = format!("{thread}: {charts}, {stitches}{lengths}");
            lines.extend(text::wrap_indented(&line, width, 2));
        }
        lines
    }

    /// What `--json` says of all charts, behind the list of them.
    pub(crate) fn json(&self, told: &Told, left_out: &[LeftOut]) -> Map<String, Value> {
        let threads: Vec<Value> = self
            .threads
            .iter()
            .map(|((table, code), sum)| {
                json!({
                    "table": table,
                    "code": code,
                    "charts": sum.charts,
                    "stitches": sum.stitches,
                    "meters": sum.meters,
                    "skeins": sum.skeins,
                })
            })
            .collect();
        let mut members = told.json(left_out);
        for name in ["skipped", "totals"] {
            members.shift_remove(name);
        }
        members.insert("affected".into(), json!(self.charts));
        members.insert("threads".into(), threads.into());
        members
    }
}

/// The document of `--json`, up to its list of charts.
pub(crate) fn document() -> Around {
    let question = ("question".to_owned(), json!("affected"));
    Around { members: Map::from_iter([question]), array: summary::CHARTS }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn facts(stitches: u64, meters: Option<f64>) -> Map<String, Value> {
        let thread = json!({"table": "t", "code": "a", "stitches": stitches, "meters": meters, "skeins": null});
        [("threads".to_owned(), json!([thread]))].into_iter().collect()
    }

    #[test]
    fn amounts_of_all_charts_are_summed_up() {
        let mut lost = Lost::default();
        lost.add(&facts(100, Some(1.5)));
        lost.add(&facts(50, Some(0.25)));
        lost.add(&[("threads".to_owned(), json!([]))].into_iter().collect());
        assert_eq!(
            lost.lines((3, 0), 80),
            ["2 of 3 charts use them.", "  t a: 2 charts, 150 stitches, about 1.8 m"]
        );
    }
}
