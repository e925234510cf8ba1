//! A planning command over several charts: each is planned by itself, and what is written is a
//! proposal. It does not know how the run over them goes.

use std::path::{Path, PathBuf};

use dyekin_core::ChangeList;
use serde_json::json;

use super::super::chart_work::{self, ChartWork};
use super::super::outputs::{self, Plan};
use super::super::several::{self, Several, Task, UNTOUCHED};
use super::super::shop::{Need, Shop};
use super::super::walk::{self, Walk};
use super::{Checked, Choose, Job, Planned};
use crate::change_file::digest;
use crate::exit::Exit;
use crate::failure::Result;
use crate::many::{Counted, Folders, Outcome, Told as Totals};
use crate::printer::Printer;
use crate::report::{changes, counted, thousands};

/// Wide enough for any line: the report wraps it.
const UNWRAPPED: usize = 100_000;

impl Job<'_> {
    /// Plans for each of several charts and writes what is proposed.
    pub(crate) fn many(&self, printer: &mut Printer, choose: &Choose<'_>) -> Result<Exit> {
        let checked = &self.checked()?;
        let (plan, out) = (self.plan, &self.plan.out);
        several::refuse(&[
            ("--answers", out.answers.is_some(), "give the one chart that the list was made for"),
            (
                "--undo",
                out.beside.undo.is_some(),
                "the charts stay as they are, and new ones are proposed beside them",
            ),
        ])?;
        let from = plan.chart.read.from.as_deref();
        let lists: Vec<&Path> = self.also_read.iter().copied().flatten().collect();
        let mut also_read: Vec<&Path> = from.into_iter().chain(lists.iter().copied()).collect();
        if plan.tables.reading.server.is_none() {
            also_read.extend(plan.tables.tables.iter().map(PathBuf::as_path));
        }
        let run = Several {
            walk: Walk {
                command: self.command,
                charts: &plan.chart.charts,
                walk: &plan.many.walk,
                show: plan.show,
            },
            many: &plan.many,
            folders: Folders {
                output: &out.output,
                changes: out.changes.as_deref(),
                key: out.beside.key.as_deref(),
                by_hand: out.beside.by_hand.as_deref(),
                format: plan.many.format,
            },
            force: out.beside.force,
            also_read: &also_read,
            lists: &lists,
            totals,
        };
        run.go(
            |printer| Shop::open(&plan.tables, from, Need::Tables, printer),
            &|shop, task, printer| self.each(shop, task, checked, printer, choose),
            printer,
        )
    }

    /// One of the charts.
    fn each(
        &self,
        shop: Shop,
        task: &Task<'_>,
        checked: &Checked,
        printer: &mut Printer,
        choose: &Choose<'_>,
    ) -> (Shop, Result<Outcome>) {
        let (chart, names) = (task.chart.path.as_path(), &task.names);
        walk::with_chart(shop, self.typed(chart), printer, |work, printer| {
            if let Some(concerns) = self.concerns
                && !concerns(work)?
            {
                return Ok(untouched(work));
            }
            let (read, tables) = (&self.plan.chart.read, &self.plan.tables);
            let inputs = chart_work::inputs(chart, read, tables, self.also_read);
            let wanted = outputs::Wanted {
                output: &names.output,
                changes: Some(&names.changes),
                key: names.key.as_deref(),
                by_hand: names.by_hand.as_deref(),
                undo: None,
            };
            let plan = Plan::check_with(wanted, &inputs, task.existing.clone())?;
            self.prepare(work, &plan, printer)?;
            let planned = self.planned(work, checked, &plan, printer, choose)?;
            Ok(outcome(work, &planned, task))
        })
    }
}

/// A chart that the command has nothing to do with.
fn untouched(work: &ChartWork) -> Outcome {
    Outcome {
        exit: Exit::Done,
        lines: vec!["uses none of the missing threads".to_owned()],
        facts: serde_json::Map::new(),
        counts: vec![Counted { name: UNTOUCHED, number: 1 }],
        cautions: Vec::new(),
        input: digest(&work.before.bytes),
        written: Vec::new(),
        notes: Vec::new(),
    }
}

fn outcome(work: &ChartWork, planned: &Planned<'_>, task: &Task<'_>) -> Outcome {
    let (list, limit) = (&planned.list, planned.limit);
    let told =
        changes::Told { list, summary: &work.summary, limit, details: false, width: UNWRAPPED };
    let lines = told.lines().into_iter().take(1).collect();
    let counts = counts(work, list);
    let mut facts: serde_json::Map<String, serde_json::Value> =
        counts.iter().map(|count| (count.name.to_owned(), json!(count.number))).collect();
    facts.insert("mean_difference".into(), json!(list.totals.mean_difference.value()));
    facts.insert("max_difference".into(), json!(list.totals.max_difference.value()));
    facts.insert("beyond_within".into(), json!(changes::beyond(list, limit)));
    Outcome {
        exit: planned.exit(),
        lines,
        facts,
        counts,
        cautions: planned.cautions(),
        input: digest(&work.before.bytes),
        written: task.written(&planned.carried),
        notes: planned.carried.notices.clone(),
    }
}

fn counts(work: &ChartWork, list: &ChangeList) -> Vec<Counted> {
    let colors = work.summary.palette().colors();
    let changed = list.changes.iter().filter_map(|change| colors.get(change.color));
    [
        ("stitches", work.summary.palette().stitches()),
        ("stitches_changed", changed.map(|color| color.stitches).sum()),
        ("colors_before", list.totals.colors_before as u64),
        ("threads_after", list.totals.threads_after as u64),
    ]
    .map(|(name, number)| Counted { name, number })
    .to_vec()
}

/// The totals of all charts in words.
fn totals(told: &Totals) -> String {
    let (before, after) = (told.total("colors_before"), told.total("threads_after"));
    let fewer = match before.saturating_sub(after) {
        0 => String::new(),
        saved => format!(", {} fewer", thousands(saved)),
    };
    let untouched = match told.total(UNTOUCHED) {
        0 => String::new(),
        charts => {
            format!(" {} none of the missing threads.", counted(charts, "chart uses", "charts use"))
        }
    };
    if told.total("stitches") == 0 {
        return untouched.trim_start().to_owned();
    }
    format!(
        "{} of {} get a new thread; all in all {} become {}{fewer}.{untouched}",
        thousands(told.total("stitches_changed")),
        counted(told.total("stitches"), "stitch", "stitches"),
        counted(before, "color", "colors"),
        counted(after, "thread", "threads"),
    )
}
