//! `dyekin merge`: what to combine, step by step, from all colors down to one thread.
//! It writes no chart: `reduce` does.

use std::collections::BTreeSet;

use dyekin_core::color::Trust;
use dyekin_core::error::harmless;
use dyekin_core::planner::{CurvePoint, MergeList, MergeMove, MergeOptions, MergeStep};
use dyekin_core::{DeltaE, ThreadRef};
use serde_json::{Map, Value, json};

use super::chart_work::{BareCodes, ChartWork, Typed};
use super::shop::Need;
use crate::cli::{MergeArgs, ShowArgs};
use crate::exit::Exit;
use crate::failure::Result;
use crate::printer::Printer;
use crate::report::{
    Caution, changes, counted, curve, json as as_json, rounded, size, text, thousands, verdict,
};
use crate::settings::{Measure, Wanted};
use crate::summary::Summary;

/// Threads named as targets of one step without `--details`.
const TARGETS_SHOWN: usize = 3;

pub(crate) fn run(typed: &MergeArgs, printer: &mut Printer) -> Result<Exit> {
    let measure = Measure::checked(&typed.measure)?;
    let wanted = Wanted::checked(&typed.filter)?;
    let opened = Typed {
        chart: &typed.chart.input.chart,
        read: &typed.chart.input.read,
        keep: &typed.chart.keep,
        shading: &[],
        apart: None,
        tables: &typed.tables,
        need: Need::Tables,
        bare: BareCodes::OfTheTable,
    };
    let mut work = ChartWork::open(opened, printer)?;
    work.note_other_versions(printer)?;
    work.note_unknown_threads(printer)?;
    let filter = work.filter(&wanted)?;
    let ask = work.ask(measure, filter, &typed.chart.keep, Vec::new())?;
    let options = MergeOptions { anchor: typed.anchor, curve: true };
    let list = {
        let meter = printer.meter("merge");
        work.shop.backend.suggest_merges(work.summary.palette(), &ask, options, &meter)?
    };
    let steps = within(&list, measure.limit);
    if typed.show.json {
        printer.data(&as_json::to_text(&object(&list, steps, &work.summary, measure.limit)));
    } else {
        tell(&list, steps, &work.summary, typed.show, printer);
    }
    if trust(&list) == Trust::Rough {
        printer.caution(Caution::Screen.words());
    }
    Ok(if steps.is_empty() { Exit::NothingMatched } else { Exit::Done })
}

/// The steps up to the first one with a difference beyond the limit.
fn within(list: &MergeList, limit: Option<DeltaE>) -> &[MergeStep] {
    let end = limit.map_or(list.steps.len(), |limit| {
        let good = |step: &&MergeStep| step.max_difference.value() <= limit.value();
        list.steps.iter().take_while(good).count()
    });
    list.steps.get(..end).unwrap_or_default()
}

/// Rough as soon as one move is.
fn trust(list: &MergeList) -> Trust {
    let moves = list.steps.iter().flat_map(|step| &step.moves);
    moves.map(|moved| moved.difference.trust).max().unwrap_or(Trust::Measured)
}

fn tell(
    list: &MergeList,
    steps: &[MergeStep],
    summary: &Summary,
    show: ShowArgs,
    printer: &mut Printer,
) {
    let width = printer.width();
    let trust = trust(list);
    let colors = starting(summary.palette().colors().len(), list.colors);
    let mut lines = text::wrap(&headline(&colors, list, steps), width, 2);
    lines.extend(curve::lines(list, trust, width));
    if !steps.is_empty() {
        let said =
            "Step by step; over best: more difference than the best palette of as many threads";
        lines.extend(text::wrap(said, width, 2));
    }
    if show.details {
        for step in steps {
            lines.extend(text::wrap(&step_head(step, list, trust), width, 3));
            for moved in &step.moves {
                lines.extend(move_lines(moved, summary, width));
            }
        }
    } else if !steps.is_empty() {
        let head = ["left", "average", "over best", "stitches", "step"].map(str::to_owned).to_vec();
        let rows: Vec<Vec<String>> = std::iter::once(head)
            .chain(steps.iter().map(|step| step_row(step, list, summary, trust)))
            .collect();
        lines.extend(text::table(&rows, width));
    }
    for line in lines {
        printer.data(&line);
    }
}

/// What the list starts from: the colors of the chart, and threads that count without one.
fn starting(colors: usize, counted_first: usize) -> String {
    let said = counted(colors as u64, "color", "colors");
    if counted_first > colors {
        format!("{said} ({counted_first} with kept and anchored threads)")
    } else {
        said
    }
}

fn headline(colors: &str, list: &MergeList, steps: &[MergeStep]) -> String {
    match steps.last() {
        Some(last) => {
            let left = counted(last.threads_left as u64, "thread", "threads");
            format!("{colors}, down to {left} in {}.", counted(steps.len() as u64, "step", "steps"))
        }
        None if list.steps.is_empty() => format!("{colors}: nothing to combine."),
        None => format!("{colors}: nothing can be combined within the limit."),
    }
}

/// A step in one row: threads left, average so far, how much worse than the best palette of as many
/// threads, stitches that move, what happens.
fn step_row(step: &MergeStep, list: &MergeList, summary: &Summary, trust: Trust) -> Vec<String> {
    let farthest = step
        .moves
        .iter()
        .max_by(|one, other| one.difference.delta_e.order(&other.difference.delta_e));
    let cost = farthest.map(|moved| format!(": {}", size(&moved.difference))).unwrap_or_default();
    vec![
        step.threads_left.to_string(),
        rounded(step.mean_difference.value(), trust),
        curve::over_best(list, step),
        thousands(step.stitches_moved),
        format!("{}{cost}", what_happens(step, list, summary)),
    ]
}

fn what_happens(step: &MergeStep, list: &MergeList, summary: &Summary) -> String {
    // One table goes without saying.
    let name = |thread: &ThreadRef| match list.tables.as_slice() {
        [_] => harmless(thread.code.as_str()),
        _ => text::thread_name(thread, ""),
    };
    let leaving = name(&step.leaving);
    if is_join(step) {
        let colors: Vec<String> =
            step.moves.iter().map(|moved| changes::color_name(summary, moved.color)).collect();
        return format!("{} joins {leaving}", colors.join(", "));
    }
    let targets: BTreeSet<String> = step.moves.iter().map(|moved| name(&moved.to)).collect();
    let mut names: Vec<String> = targets.into_iter().collect();
    let more = names.len().saturating_sub(TARGETS_SHOWN);
    names.truncate(TARGETS_SHOWN);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{leaving} leaves for {}{more}", names.join(", "))
}

/// The first steps only say that a second color has the same nearest thread.
fn is_join(step: &MergeStep) -> bool {
    step.moves.iter().all(|moved| moved.to == step.leaving)
}

fn step_head(step: &MergeStep, list: &MergeList, trust: Trust) -> String {
    let name = text::thread_name(&step.leaving, "");
    let what = if is_join(step) {
        format!("a second color joins {name}")
    } else {
        format!("{name} leaves")
    };
    format!(
        "{} left: {what}; difference {} on average, {} at most; over best: {}",
        step.threads_left,
        rounded(step.mean_difference.value(), trust),
        rounded(step.max_difference.value(), trust),
        curve::over_best(list, step)
    )
}

fn move_lines(moved: &MergeMove, summary: &Summary, width: usize) -> Vec<String> {
    let said = format!(
        "{}, {}, to {}: {}",
        changes::color_name(summary, moved.color),
        counted(moved.stitches, "stitch", "stitches"),
        text::thread_name(&moved.to, ""),
        verdict(&moved.difference, false, "the new one")
    );
    let mut lines = text::wrap_indented(&said, width, 3);
    lines.extend(text::wrap_indented(&text::difference_details(&moved.difference), width, 5));
    lines
}

fn object(
    list: &MergeList,
    steps: &[MergeStep],
    summary: &Summary,
    limit: Option<DeltaE>,
) -> Value {
    let mut object = Map::new();
    object.insert("colors".into(), json!(list.colors));
    object.insert("stitches".into(), json!(summary.palette().stitches()));
    object.insert("anchor".into(), json!(list.anchor));
    let steps = steps.iter().map(|step| step_object(step, list, summary));
    object.insert("steps".into(), steps.collect());
    object.insert("curve".into(), list.curve.iter().map(point_object).collect());
    as_json::add_formula(&mut object, list.formula);
    object.insert("within".into(), json!(limit.map(DeltaE::value)));
    object.insert("tables".into(), as_json::tables(&list.tables));
    Value::Object(object)
}

fn point_object(point: &CurvePoint) -> Value {
    json!({
        "threads": point.threads,
        "mean_difference": point.mean_difference.value(),
        "max_difference": point.max_difference.value(),
        "lower_bound": point.lower_bound.value(),
        "gap_percent": curve::gap_percent(point),
        "proved_best": point.proved_best,
    })
}

fn step_object(step: &MergeStep, list: &MergeList, summary: &Summary) -> Value {
    let moves: Vec<Value> = step.moves.iter().map(|moved| move_object(moved, summary)).collect();
    json!({
        "threads_left": step.threads_left,
        "leaving": thread(&step.leaving),
        "moves": moves,
        "stitches_moved": step.stitches_moved,
        "mean_difference": step.mean_difference.value(),
        "max_difference": step.max_difference.value(),
        "gap_percent": list.gap_percent(step),
    })
}

fn move_object(moved: &MergeMove, summary: &Summary) -> Value {
    let mut object = as_json::chart_color(summary, moved.color);
    object.insert("to".into(), thread(&moved.to));
    as_json::add_difference(&mut object, &moved.difference);
    Value::Object(object)
}

fn thread(thread: &ThreadRef) -> Value {
    json!({"table": thread.table.as_str(), "code": thread.code.as_str()})
}
