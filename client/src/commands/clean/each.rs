//! `dyekin clean` over several charts: each is cleaned by itself, and what is written is a proposal.
//! It does not know how the run over them goes.

use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use super::super::chart_work;
use super::super::outputs::{self, Plan};
use super::super::several::{self, Several, Task};
use super::super::shop::{Need, Shop};
use super::super::walk::{self, Walk};
use super::{Checked, Cleaned, clean, opened};
use crate::change_file::digest;
use crate::cli::CleanArgs;
use crate::exit::Exit;
use crate::failure::Result;
use crate::many::{Counted, Folders, Outcome, Told as Totals};
use crate::printer::Printer;
use crate::report::{Caution, counted, thousands};

/// Wide enough for any line: the report wraps it.
const UNWRAPPED: usize = 100_000;

pub(super) fn run(typed: &CleanArgs, checked: &Checked, printer: &mut Printer) -> Result<Exit> {
    several::refuse(&[(
        "--answers",
        typed.answers.is_some(),
        "give the one chart that the list was made for",
    )])?;
    let from = typed.chart.read.from.as_deref();
    let mut also_read: Vec<&Path> = from.into_iter().collect();
    if typed.tables.reading.server.is_none() {
        also_read.extend(typed.tables.tables.iter().map(PathBuf::as_path));
    }
    let run = Several {
        walk: Walk {
            command: "clean",
            charts: &typed.chart.charts,
            walk: &typed.many.walk,
            show: typed.show,
        },
        many: &typed.many,
        folders: Folders {
            output: &typed.output,
            changes: typed.changes.as_deref(),
            key: typed.key.as_deref(),
            by_hand: None,
            format: typed.many.format,
        },
        force: typed.force,
        also_read: &also_read,
        lists: &[],
        totals,
    };
    run.go(
        |printer| Shop::open(&typed.tables, from, Need::Nothing, printer),
        &|shop, task, printer| each(typed, checked, shop, task, printer),
        printer,
    )
}

/// One of the charts.
fn each(
    typed: &CleanArgs,
    checked: &Checked,
    shop: Shop,
    task: &Task<'_>,
    printer: &mut Printer,
) -> (Shop, Result<Outcome>) {
    let (chart, names) = (task.chart.path.as_path(), &task.names);
    walk::with_chart(shop, opened(typed, chart), printer, |work, printer| {
        let inputs = chart_work::inputs(chart, &typed.chart.read, &typed.tables, &[]);
        let wanted = outputs::Wanted {
            output: &names.output,
            changes: Some(&names.changes),
            key: names.key.as_deref(),
            by_hand: None,
            undo: None,
        };
        let plan = Plan::check_with(wanted, &inputs, task.existing.clone())?;
        let cleaned = clean(typed, checked, work, &plan, printer)?;
        Ok(outcome(&cleaned, &work.before.bytes, task))
    })
}

/// The totals of a cleaned chart, by their names in its JSON.
const COUNTS: [&str; 6] = ["stitches", "stray", "joined", "lone", "colors_before", "colors_after"];

fn outcome(cleaned: &Cleaned<'_>, input: &[u8], task: &Task<'_>) -> Outcome {
    let told = cleaned.told();
    let all = told.json(&cleaned.carried);
    let number = |name: &str| all.get(name).and_then(Value::as_u64).unwrap_or_default();
    let mut facts: serde_json::Map<String, Value> =
        COUNTS.iter().map(|name| ((*name).to_owned(), json!(number(name)))).collect();
    facts.insert("mapped".into(), json!(cleaned.mapped));
    Outcome {
        exit: Exit::Done,
        lines: told.lines(false, UNWRAPPED).into_iter().take(1).collect(),
        facts,
        counts: COUNTS.map(|name| Counted { name, number: number(name) }).to_vec(),
        cautions: told.is_mapped().then_some(Caution::Screen).into_iter().collect(),
        input: digest(input),
        written: task.written(&cleaned.carried),
        notes: cleaned.carried.notices.clone(),
    }
}

/// The totals of all charts in words.
fn totals(told: &Totals) -> String {
    let (before, after) = (told.total("colors_before"), told.total("colors_after"));
    let fewer = match before.saturating_sub(after) {
        0 => "as many as before".to_owned(),
        saved => format!("{} fewer", thousands(saved)),
    };
    let joined = match told.total("joined") {
        0 => String::new(),
        joined => format!(", {} joined the color around", counted(joined, "lone one", "lone ones")),
    };
    format!(
        "{} of {} moved{joined}; all in all {} become {}, {fewer}.",
        counted(told.total("stray"), "stray", "strays"),
        counted(told.total("stitches"), "stitch", "stitches"),
        counted(before, "color", "colors"),
        thousands(after),
    )
}
