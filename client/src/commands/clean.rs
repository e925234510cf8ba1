//! `dyekin clean`: stray blend stitches to the side of the edge that they belong to.
//! It does not find them: `crate::clean` does, in this process, wherever the tables are.

mod drawing;
mod each;
mod mapped;

use std::path::Path;

use dyekin_core::Srgb8;
use dyekin_core::planner::Keep;

use super::chart_work::{self, BareCodes, ChartWork, Typed};
use super::outputs::{self, Carried, Plan};
use super::planned::{program, say_written};
use super::several;
use super::shop::Need;
use crate::apply::restitched;
use crate::chart::{Chart, ChartHash};
use crate::clean::{Range, stray};
use crate::cli::CleanArgs;
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files;
use crate::printer::Printer;
use crate::report::clean::Told;
use crate::report::{Caution, json as as_json};
use crate::settings::{Wanted, difference};
use crate::stitch_list::{self, StitchList};
use drawing::Drawing;
pub(crate) use drawing::{Lone, numbers};
use mapped::{Mapped, goals};

pub(crate) fn run(typed: &CleanArgs, printer: &mut Printer) -> Result<Exit> {
    let checked = Checked {
        wanted: Wanted::checked(&typed.filter)?,
        within: difference("--within", typed.within)?.value(),
    };
    let Some(path) = several::lone(&typed.chart.charts, &typed.output, &typed.many)? else {
        return each::run(typed, &checked, printer);
    };
    let plan = outputs(typed, path)?;
    let mut work = ChartWork::open(opened(typed, path), printer)?;
    let cleaned = clean(typed, &checked, &mut work, &plan, printer)?;
    tell(typed, &cleaned, printer);
    Ok(Exit::Done)
}

/// What is checked before any chart is read.
#[derive(Clone, Debug)]
struct Checked {
    wanted: Wanted,
    within: f64,
}

/// A chart that was cleaned and written.
#[derive(Debug)]
struct Cleaned<'o> {
    before: Chart,
    after: Chart,
    list: StitchList,
    lone: Lone,
    mapped: bool,
    carried: Carried<'o>,
}

impl Cleaned<'_> {
    fn told(&self) -> Told<'_> {
        Told::new(&self.list, &self.lone, &self.before, &self.after, self.mapped)
    }
}

fn opened<'c>(typed: &'c CleanArgs, chart: &'c Path) -> Typed<'c> {
    Typed {
        chart,
        read: &typed.chart.read,
        keep: &[],
        shading: &[],
        apart: None,
        tables: &typed.tables,
        need: Need::Nothing,
        bare: BareCodes::OfTheTable,
    }
}

fn clean<'o>(
    typed: &CleanArgs,
    checked: &Checked,
    work: &mut ChartWork,
    plan: &Plan<'o>,
    printer: &mut Printer,
) -> Result<Cleaned<'o>> {
    let Some(chart) = work.chart().cloned() else {
        return Err(Failure::said(
            format!("{}: a key alone has no stitches to clean", files::shown(&work.path)),
            "give the chart itself",
        ));
    };
    let wanted = &checked.wanted;
    let keeps = work.keeps(&typed.chart.keep)?;
    let answers = typed.answers.as_deref().map(|path| answers(path, &chart)).transpose()?;
    let range = range(work)?;
    let summary = work.summary.clone();
    let maps = range == Range::Any && !work.shop.tables.is_empty();
    let goals = if maps { goals(work, &chart, wanted, printer)? } else { Vec::new() };
    let class = |color: u16| goals.get(usize::from(color)).copied().unwrap_or(color);
    let mut drawing = Drawing::new(&chart, &summary, &keeps, goals.clone());
    if let Some(answers) = &answers {
        drawing.answer(answers)?;
    }
    drawing.clean(&stray(drawing.cells(), &range));
    let lone = Lone::find(&drawing, &class);
    drawing.join(&lone, typed.lone.then_some(checked.within));
    let cleaned = restitched(&chart, &drawing.moves())?;
    let mapped = maps.then(|| Mapped::new(work, &cleaned, wanted, printer)).transpose()?;
    let after = mapped.as_ref().map_or(&cleaned, Mapped::chart);
    let mut list = drawing.list(&lone, program(), settings(typed), ChartHash::of(&chart));
    // The list speaks of stitches only: what `apply` makes of it has the chart's own colors.
    list.chart_after = Some(ChartHash::of(&cleaned));
    let carried = plan.chart_and_list(after, &list.to_json())?;
    let (after, mapped) = (after.clone(), mapped.is_some());
    Ok(Cleaned { before: chart, after, list, lone, mapped, carried })
}

fn outputs<'c>(typed: &'c CleanArgs, chart: &'c Path) -> Result<Plan<'c>> {
    let answers = typed.answers.as_deref();
    let inputs = chart_work::inputs(chart, &typed.chart.read, &typed.tables, &[answers]);
    let wanted = outputs::Wanted {
        output: &typed.output,
        changes: typed.changes.as_deref(),
        key: typed.key.as_deref(),
        by_hand: None,
        undo: None,
    };
    Plan::check(wanted, &inputs, typed.force)
}

/// The answers of an earlier list over the same chart.
fn answers(path: &Path, chart: &Chart) -> Result<StitchList> {
    let list = stitch_list::read(&files::read(path)?, &path.to_string_lossy())?;
    if list.chart == ChartHash::of(chart) {
        return Ok(list);
    }
    Err(Failure::said(
        format!("reading {}: the list was made for another chart", files::shown(path)),
        "give a list that was made for this chart",
    ))
}

/// The colors that the stitches could have had: any in a picture, else those of the chart's tables.
fn range(work: &mut ChartWork) -> Result<Range> {
    let used = work.used_threads();
    if used.is_empty() {
        return Ok(Range::Any);
    }
    let mut colors: Vec<Srgb8> = work.summary.places().iter().map(|place| place.color()).collect();
    let mut missing = Vec::new();
    let mut seen = Vec::new();
    let heads = work.shop.backend.list_tables()?;
    for thread in &used {
        if seen.contains(&thread.table) {
            continue;
        }
        seen.push(thread.table.clone());
        if heads.iter().any(|head| head.id == thread.table) {
            let table = work.shop.backend.table(&thread.table)?;
            let plain =
                |thread: &&dyekin_core::Thread| thread.finish == dyekin_core::table::Finish::Plain;
            colors.extend(table.threads().iter().filter(plain).map(|thread| thread.color.srgb()));
        } else {
            missing.push(thread.table.to_string());
        }
    }
    if !missing.is_empty() {
        return Err(Failure::said(
            format!("the chart is worked in threads of table {}", missing.join(", ")),
            "add --table with its file: a blend looks like the nearest thread that the table has",
        ));
    }
    colors.sort_unstable();
    colors.dedup();
    Ok(Range::Threads(colors))
}

/// Everything typed that has a say in the list, by the names of the options.
fn settings(typed: &CleanArgs) -> Vec<(String, String)> {
    let mut settings = Vec::new();
    if !typed.chart.keep.is_empty() {
        settings.push(("keep".to_owned(), typed.chart.keep.join(",")));
    }
    if typed.lone {
        settings.push(("lone".to_owned(), "true".to_owned()));
        settings.push(("within".to_owned(), typed.within.to_string()));
    }
    settings
}

fn tell(typed: &CleanArgs, cleaned: &Cleaned<'_>, printer: &mut Printer) {
    let (told, carried) = (cleaned.told(), &cleaned.carried);
    if typed.show.json {
        printer.data(&as_json::to_text(&told.json(carried)));
    } else {
        for line in told.lines(typed.show.details, printer.width()) {
            printer.data(&line);
        }
    }
    say_written(&carried.written, &carried.notices, printer);
    if told.is_mapped() {
        printer.caution(Caution::Screen.words());
    }
}

/// Keeps that name a color or an area of the chart.
fn kept(keeps: &[Keep]) -> (Vec<usize>, Vec<&str>) {
    let (mut colors, mut areas) = (Vec::new(), Vec::new());
    for keep in keeps {
        match keep {
            Keep::Color(number) => colors.push(*number),
            Keep::Area(name) => areas.push(name.as_str()),
            // A thread that the chart does not use has no stitches in it.
            Keep::Thread(_) => {}
        }
    }
    (colors, areas)
}
