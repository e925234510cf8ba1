//! `dyekin apply` for a list of single stitches: what its owner answered, carried out on its chart.
//! It proposes nothing.

use dyekin_core::error::Error;
use serde_json::{Value, json};

use super::chart_work::{BareCodes, ChartWork, Typed};
use super::clean::numbers;
use super::outputs::Plan;
use super::planned::{files_object, say_written};
use super::shop::Need;
use crate::apply::restitched;
use crate::chart::problems::bad_value;
use crate::chart::{Cell, Chart, ChartHash, EntryId};
use crate::cli::ApplyArgs;
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files;
use crate::printer::Printer;
use crate::report::{counted, json as as_json, text};
use crate::stitch_list::{StitchAnswer, StitchList};
use crate::summary::ColorPlace;

pub(crate) fn run(
    typed: &ApplyArgs,
    list: &StitchList,
    plan: &Plan<'_>,
    printer: &mut Printer,
) -> Result<Exit> {
    check_options(typed)?;
    let opened = Typed {
        chart: &typed.chart.chart,
        read: &typed.chart.read,
        keep: &[],
        shading: &[],
        apart: None,
        tables: &typed.tables,
        need: Need::Nothing,
        bare: BareCodes::OfTheTable,
    };
    let work = ChartWork::open(opened, printer)?;
    let Some(chart) = work.chart() else {
        return Err(Failure::said(
            format!("{}: a key alone cannot take a change list", files::shown(&typed.chart.chart)),
            "give the chart that the list was made for",
        ));
    };
    check(list, chart, typed)?;
    let moves = moves(list, chart, work.summary.places())?;
    let after = restitched(chart, &moves)?;
    let carried = plan.chart_and_list(&after, &[])?;
    let counts = Counts::of(list);
    if typed.show.json {
        let value = json!({
            "moved": moves.len(),
            "refused": counts.refused,
            "unanswered": counts.unanswered,
            "files": Value::Object(files_object(&carried.written)),
            "lost": carried.notices,
        });
        printer.data(&as_json::to_text(&value));
    } else {
        for sentence in counts.sentences(moves.len()) {
            for line in text::wrap(&sentence, printer.width(), 2) {
                printer.data(&line);
            }
        }
    }
    say_written(&carried.written, &carried.notices, printer);
    Ok(if moves.is_empty() { Exit::NothingMatched } else { Exit::Done })
}

/// Refuses what a list of single stitches cannot do.
fn check_options(typed: &ApplyArgs) -> Result<()> {
    let beside = &typed.out.beside;
    let refused = [
        (beside.by_hand.is_some(), "--by-hand", "the list itself names column and row"),
        (beside.undo.is_some(), "--undo", "the chart that you give is the way back: keep it"),
        (typed.corrected, "--corrected", "clean the corrected chart anew"),
    ];
    match refused.into_iter().find(|(is_typed, _, _)| *is_typed) {
        Some((_, option, hint)) => {
            Err(Failure::said(format!("{option}: not for a list of single stitches"), hint))
        }
        None => Ok(()),
    }
}

fn check(list: &StitchList, chart: &Chart, typed: &ApplyArgs) -> Result<()> {
    let found = ChartHash::of(chart);
    let reading = format!("reading {}", files::shown(&typed.changes));
    if list.chart == found {
        return Ok(());
    }
    if list.chart_after == Some(found) {
        return Err(Failure::said(
            format!("{reading}: the stitches are already moved in this chart"),
            "give the chart as it was before",
        ));
    }
    Err(Failure::said(
        format!("{reading}: the list was made for another chart"),
        format!("give a list that was made for {}", files::shown(&typed.chart.chart)),
    ))
}

/// The answered moves by cell and entry.
fn moves(list: &StitchList, chart: &Chart, places: &[ColorPlace]) -> Result<Vec<(usize, EntryId)>> {
    let numbers = numbers(list, places)?;
    let color = |number: usize| numbers.get(&number).and_then(|place| places.get(*place));
    let mut moves = Vec::new();
    let mut problems = Vec::new();
    for (at, from, to) in list.answered() {
        let is_from = match chart.grid().cell(at.0, at.1) {
            Cell::Full(entry) => color(from).is_some_and(|color| color.entries().contains(&entry)),
            Cell::Bare | Cell::Parts(_) => false,
        };
        let place = chart.size().place(at.0, at.1).filter(|_| is_from);
        let entry = color(to).and_then(|color| color.entries().first()).copied();
        match (place, entry) {
            (Some(place), Some(entry)) => moves.push((place, entry)),
            _ => problems.push(not_there(at, &named(list, from))),
        }
    }
    if problems.is_empty() { Ok(moves) } else { Err(problems.into()) }
}

fn named(list: &StitchList, number: usize) -> String {
    let held = list.colors.iter().find(|held| held.number == number);
    held.map(|held| held.hex.to_string()).unwrap_or_default()
}

fn not_there((x, y): (u16, u16), hex: &str) -> Error {
    bad_value(
        &format!("[{x}, {y}]"),
        format!("the chart has no full stitch of {hex} in this cell"),
        "leave cells and colors of the list as they were made",
    )
}

/// How many entries of the list are not carried out.
struct Counts {
    refused: usize,
    unanswered: usize,
}

impl Counts {
    fn of(list: &StitchList) -> Self {
        let stitches = list.stitches.iter().map(|stitch| (stitch.answer.or(list.rest), 1));
        let suggestions =
            list.suggestions.iter().map(|held| (held.answer.or(list.rest), held.cells.len()));
        let mut counts = Self { refused: 0, unanswered: 0 };
        for (answer, cells) in stitches.chain(suggestions) {
            match answer {
                Some(StitchAnswer::No) => counts.refused += cells,
                None => counts.unanswered += cells,
                Some(StitchAnswer::Yes | StitchAnswer::Another(_)) => {}
            }
        }
        counts
    }

    fn sentences(&self, moved: usize) -> Vec<String> {
        let stitches = |count: usize| counted(count as u64, "stitch", "stitches");
        let mut said = vec![format!("{} moved.", stitches(moved))];
        if self.refused > 0 {
            said.push(format!("{} answered no and left as they are.", stitches(self.refused)));
        }
        if self.unanswered > 0 {
            said.push(format!("{} not answered and left as they are.", stitches(self.unanswered)));
        }
        said
    }
}
