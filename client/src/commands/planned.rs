//! What reduce, convert and substitute share once the plan stands: carry it out, write, report.
//! It does not know how the plan was made.

mod each;
mod held;

use std::path::Path;

use dyekin_core::nearest::ThreadFilter;
use dyekin_core::planner::{Answered, Ask};
use dyekin_core::{ChangeList, DeltaE, Place, ThreadRef};
use serde_json::{Map, Value, json};

use super::blend;
use super::chart_work::{self, BareCodes, ChartWork, Typed};
use super::outputs::{self, Carried, Plan};
use super::several;
use super::shop::Need;
use super::substitute::Found;
use crate::change_file::{self, ChangeFile, FileAnswer, FileChange, Made};
use crate::cli::PlanArgs;
use crate::exit::Exit;
use crate::failure::Result;
use crate::files;
use crate::half_way::ThreadPlan;
use crate::printer::Printer;
use crate::report::changes::color_id;
use crate::report::{Caution, changes, half_way, json as as_json, text};
use crate::settings::{Measure, Wanted};
use held::Held;

/// What was typed about a chart and its outputs, the same for every planning command.
#[derive(Clone, Copy)]
pub(crate) struct Job<'t> {
    /// What the user typed behind `dyekin`.
    pub(crate) command: &'static str,
    pub(crate) plan: &'t PlanArgs,
    /// Whose codes the bare codes of the chart are.
    pub(crate) bare: BareCodes,
    /// Areas of the chart that are told apart for their shading.
    pub(crate) shading: &'t [String],
    /// Files of the command's own, which are read.
    pub(crate) also_read: &'t [Option<&'t Path>],
    /// Whether the command has anything to do with a chart; asked when there are several.
    pub(crate) concerns: Option<&'t Concerns<'t>>,
}

/// Whether a command has anything to do with a chart.
pub(crate) type Concerns<'c> = dyn Fn(&mut ChartWork) -> Result<bool> + Sync + 'c;

/// What a command chose, and the settings that are its own.
#[derive(Debug)]
pub(crate) struct Chosen {
    pub(crate) list: ChangeList,
    pub(crate) settings: Vec<(String, String)>,
    /// What comes near to missing threads as a blend, where that was asked for.
    pub(crate) blends: Vec<Found>,
    /// What becomes of a piece half-way through, thread by thread.
    pub(crate) half_way: Vec<ThreadPlan>,
}

/// A chart that was read, with what was typed and checked about it.
#[derive(Debug)]
pub(crate) struct Opened<'t> {
    pub(crate) work: ChartWork,
    checked: Checked,
    outputs: Plan<'t>,
}

/// What a command is given to choose from.
#[derive(Debug)]
pub(crate) struct Given<'w> {
    pub(crate) work: &'w mut ChartWork,
    pub(crate) measure: Measure,
    pub(crate) wanted: Wanted,
    pub(crate) answers: Vec<Answered>,
}

impl Given<'_> {
    /// The question with the filter that suits colors of a chart.
    pub(crate) fn ask(&mut self, keep: &[String]) -> Result<Ask> {
        let filter = self.work.filter(&self.wanted)?;
        self.ask_with(filter, keep)
    }

    /// The question with a filter of the command's own.
    pub(crate) fn ask_with(&mut self, filter: ThreadFilter, keep: &[String]) -> Result<Ask> {
        self.work.ask(self.measure, filter, keep, std::mem::take(&mut self.answers))
    }
}

impl std::fmt::Debug for Job<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Job").field("command", &self.command).finish_non_exhaustive()
    }
}

impl<'t> Job<'t> {
    /// Reads, lets the command choose, carries out, writes and reports: for one chart, or for each
    /// of several.
    pub(crate) fn run(
        &self,
        printer: &mut Printer,
        choose: impl Fn(Given<'_>, &mut Printer) -> Result<Chosen> + Sync,
    ) -> Result<Exit> {
        match self.lone()? {
            Some(chart) => {
                let opened = self.open(chart, printer)?;
                self.go(opened, printer, &choose)
            }
            None => self.many(printer, &choose),
        }
    }

    /// The only chart, as typed; `None` when there are several.
    pub(crate) fn lone(&self) -> Result<Option<&'t Path>> {
        several::lone(&self.plan.chart.charts, &self.plan.out.output, &self.plan.many)
    }

    /// Checks what was typed and reads the only chart.
    pub(crate) fn open(&self, chart: &'t Path, printer: &mut Printer) -> Result<Opened<'t>> {
        let checked = self.checked()?;
        let outputs = self.outputs(chart)?;
        let mut work = ChartWork::open(self.typed(chart), printer)?;
        self.prepare(&mut work, &outputs, printer)?;
        Ok(Opened { work, checked, outputs })
    }

    /// Lets the command choose for the only chart, carries out, writes and reports.
    pub(crate) fn go(
        &self,
        opened: Opened<'_>,
        printer: &mut Printer,
        choose: &Choose<'_>,
    ) -> Result<Exit> {
        let Opened { mut work, checked, outputs } = opened;
        let planned = self.planned(&mut work, &checked, &outputs, printer, choose)?;
        Ok(self.tell(&work, &planned, printer))
    }

    fn checked(&self) -> Result<Checked> {
        Ok(Checked {
            measure: Measure::checked(&self.plan.measure)?,
            wanted: Wanted::checked(&self.plan.filter)?,
        })
    }

    /// What is checked and told of a chart before anything is chosen for it.
    fn prepare(
        &self,
        work: &mut ChartWork,
        outputs: &Plan<'_>,
        printer: &mut Printer,
    ) -> Result<()> {
        outputs.suit(work)?;
        work.note_other_versions(printer)?;
        work.note_unknown_threads(printer)
    }

    fn typed<'c>(&'c self, chart: &'c Path) -> Typed<'c> {
        Typed {
            chart,
            read: &self.plan.chart.read,
            keep: &self.plan.chart.keep,
            shading: self.shading,
            apart: None,
            tables: &self.plan.tables,
            need: Need::Tables,
            bare: self.bare,
        }
    }

    /// Lets the command choose for a chart, carries that out and writes it.
    fn planned<'o>(
        &self,
        work: &mut ChartWork,
        checked: &Checked,
        outputs: &Plan<'o>,
        printer: &mut Printer,
        choose: &Choose<'_>,
    ) -> Result<Planned<'o>> {
        let Checked { measure, wanted } = checked.clone();
        let (answers, held) = self.answers(work, &measure, printer)?;
        let said = answers.clone();
        let Chosen { mut list, mut settings, blends, half_way } =
            choose(Given { work, measure, wanted, answers }, printer)?;
        held.count_in(&mut list, work.summary.palette().stitches())?;
        settings.extend(self.settings());
        settings.sort();
        let made = Made { program: program(), settings };
        let mut file = ChangeFile::new(&list, &work.summary, made)?;
        for (color, offered) in blends.iter().flat_map(|found| &found.offers) {
            let change = file.changes.iter_mut().find(|change| change.of.color == *color);
            change.into_iter().for_each(|change| change.blends.clone_from(offered));
        }
        file.keep_answers(&said);
        held.put_back(&mut file);
        let carried = outputs.carry_out(work, &file)?;
        Ok(Planned { list, blends, held, half_way, limit: measure.limit, carried })
    }

    /// Everything typed that has a say in the choice, by the names of the options.
    fn settings(&self) -> Vec<(String, String)> {
        let filter = &self.plan.filter;
        let within = self.plan.measure.within.map(|limit| limit.to_string());
        let adapt = self.plan.measure.adapt.adapt.map(|method| method.as_str().to_owned());
        let lists = [
            ("exclude", &filter.exclude),
            ("fiber", &filter.fiber),
            ("finish", &filter.finish),
            ("keep", &self.plan.chart.keep),
        ];
        let mut settings: Vec<(String, String)> = lists
            .into_iter()
            .filter(|(_, words)| !words.is_empty())
            .map(|(name, words)| (name.to_owned(), words.join(",")))
            .collect();
        settings.extend(filter.max_price.clone().map(|price| ("max-price".to_owned(), price)));
        settings.extend(adapt.map(|method| ("adapt".to_owned(), method)));
        settings.extend(within.map(|limit| ("within".to_owned(), limit)));
        if filter.available {
            settings.push(("available".to_owned(), "true".to_owned()));
        }
        settings
    }

    /// Checks every output before any work is done.
    fn outputs<'c>(&self, chart: &'c Path) -> Result<Plan<'c>>
    where
        't: 'c,
    {
        let beside = [&[self.plan.out.answers.as_deref()], self.also_read].concat();
        let (read, tables) = (&self.plan.chart.read, &self.plan.tables);
        let inputs = chart_work::inputs(chart, read, tables, &beside);
        let wanted = outputs::Wanted {
            output: &self.plan.out.output,
            changes: self.plan.out.changes.as_deref(),
            key: self.plan.out.beside.key.as_deref(),
            by_hand: self.plan.out.beside.by_hand.as_deref(),
            undo: self.plan.out.beside.undo.as_deref(),
        };
        Plan::check(wanted, &inputs, self.plan.out.beside.force)
    }

    /// The answers of an earlier list over the same chart; those with a blend are held.
    fn answers(
        &self,
        work: &mut ChartWork,
        measure: &Measure,
        printer: &mut Printer,
    ) -> Result<(Vec<Answered>, Held)> {
        let Some(path) = self.plan.out.answers.as_deref() else { return Ok(Default::default()) };
        let corrected = self.plan.out.corrected;
        let file = work.fitted(read_changes(path)?, (path, corrected), printer)?.file;
        let named = |change: &FileChange| match &change.answer {
            Some(FileAnswer::Another(thread)) => Some(thread.clone()),
            Some(FileAnswer::Blend(_) | FileAnswer::No | FileAnswer::Yes) | None => None,
        };
        let (changes, threads): (Vec<&FileChange>, Vec<ThreadRef>) = file
            .changes
            .iter()
            .filter_map(|change| named(change).map(|thread| (change, thread)))
            .unzip();
        let mut problems = Vec::new();
        for (change, thread) in changes.iter().zip(work.shop.backend.threads(&threads)?) {
            problems.extend(thread.err().map(|error| error.at(place_of(change, path))));
        }
        if !problems.is_empty() {
            return Err(problems.into());
        }
        let held = Held::take(work, (&file, path), (self.command, measure))?;
        Ok((file.answers(), held))
    }

    /// Reports what was written.
    fn tell(&self, work: &ChartWork, planned: &Planned<'_>, printer: &mut Printer) -> Exit {
        let Planned { list, blends, held, half_way, limit, carried } = planned;
        if self.plan.show.json {
            let mut object = as_json::change_list(list, &work.summary, *limit);
            object.insert("blends".into(), blends_json(blends));
            object.insert("held_blends".into(), json!(held.ids()));
            object.insert("half_way".into(), half_way::as_json(half_way));
            object.insert("files".into(), Value::Object(files_object(&carried.written)));
            object.insert("lost".into(), json!(carried.notices));
            printer.data(&as_json::to_text(&Value::Object(object)));
        } else {
            let told = changes::Told {
                list,
                summary: &work.summary,
                limit: *limit,
                details: self.plan.show.details,
                width: printer.width(),
            };
            let (details, width) = (self.plan.show.details, printer.width());
            let said = half_way::sentences(half_way, (list, &work.summary), details);
            let said = said.iter().flat_map(|said| text::wrap(said, width, 2));
            let blends = blends_lines(blends, details, width);
            let held = held.said();
            let held = held.iter().flat_map(|said| text::wrap(said, width, 2));
            for line in said.chain(told.lines()).chain(held).chain(blends) {
                printer.data(&line);
            }
        }
        say_written(&carried.written, &carried.notices, printer);
        for caution in planned.cautions() {
            printer.caution(caution.words());
        }
        planned.exit()
    }
}

/// What is checked before any chart is read.
#[derive(Clone, Debug)]
struct Checked {
    measure: Measure,
    wanted: Wanted,
}

/// How a command chooses for a chart.
pub(crate) type Choose<'c> = dyn Fn(Given<'_>, &mut Printer) -> Result<Chosen> + Sync + 'c;

/// A plan that was carried out and written.
#[derive(Debug)]
struct Planned<'o> {
    list: ChangeList,
    blends: Vec<Found>,
    held: Held,
    half_way: Vec<ThreadPlan>,
    limit: Option<DeltaE>,
    carried: Carried<'o>,
}

impl Planned<'_> {
    fn cautions(&self) -> Vec<Caution> {
        let any = !self.blends.is_empty() || !self.held.is_empty();
        let blend = any.then_some(Caution::Blend);
        blend.into_iter().chain(changes::cautions(&self.list)).collect()
    }

    fn exit(&self) -> Exit {
        let list = &self.list;
        let loosened = list.joint.as_ref().is_some_and(|joint| !joint.loosened.is_empty());
        let unserved = list.own.as_ref().is_some_and(|own| own.beyond > 0);
        let far = loosened || unserved || changes::beyond(list, self.limit) > 0;
        if far { Exit::NothingMatched } else { Exit::Done }
    }
}

/// The blends that come near to missing threads, for people: the best one, or all with details.
fn blends_lines(found: &[Found], details: bool, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    for Found { missing, blends, why_none, .. } in found {
        let head = format!("as a blend, {}:", text::thread_name(missing, ""));
        if let Some(why) = why_none {
            lines.extend(text::wrap(&format!("{head} none, {why}"), width, 2));
            continue;
        }
        let most = if details { blends.blends.len() } else { 1 };
        let each = blends.blends.iter().take(most);
        let said: Vec<String> =
            each.map(|held| format!("{}: {}", blend::name(held), blend::estimate(held))).collect();
        match said.split_first() {
            None => lines.extend(text::wrap(&format!("{head} none"), width, 2)),
            Some((first, others)) => {
                lines.extend(text::wrap(&format!("{head} {first}"), width, 2));
                for other in others {
                    lines.extend(text::wrap_indented(&format!("or {other}"), width, 3));
                }
            }
        }
    }
    lines
}

fn blends_json(found: &[Found]) -> Value {
    let each = |found: &Found| {
        let Found { missing, blends, offers, why_none } = found;
        let blends: Vec<Value> = blends.blends.iter().map(blend::blend).collect();
        let offered: Vec<String> = offers.iter().map(|(color, _)| color_id(*color)).collect();
        json!({
            "table": missing.table.as_str(),
            "code": missing.code.as_str(),
            "blends": blends,
            "offered_for": offered,
            "why_none": why_none,
        })
    };
    if found.is_empty() { Value::Null } else { found.iter().map(each).collect() }
}

/// The program as change lists name it.
pub(crate) fn program() -> String {
    format!("dyekin {}", env!("CARGO_PKG_VERSION"))
}

/// Where the answer to a change stands, for people.
pub(crate) fn place_of(change: &FileChange, path: &Path) -> Place {
    let name = format!("{} change {}", path.to_string_lossy(), change.of.id());
    Place { source_name: Some(name), ..Place::default() }
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
        "undo" => "the way back",
        other => other,
    }
}
