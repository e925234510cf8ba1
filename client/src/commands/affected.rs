//! `dyekin affected`: which charts use threads that disappear, how much, and what could stand in.
//! It writes nothing: `substitute` does.

use std::path::{Path, PathBuf};

use dyekin_core::planner::SubstituteOptions;
use dyekin_core::{DeltaE, ThreadRef};
use serde_json::{Map, Value, json};

use super::chart_work::{BareCodes, ChartWork, Typed};
use super::shop::{Need, Shop};
use super::stocked::per_stitch;
use super::substitute;
use super::walk::{self, End, Form, Walk, Walked};
use crate::change_file::digest;
use crate::cli::AffectedArgs;
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::many::{ChartFile, Gathered, Outcome, Slot, State, summary};
use crate::printer::Printer;
use crate::report::affected::{Amount, Lost};
use crate::report::{affected, changes, json as as_json, text};
use crate::settings::{Measure, Wanted};

pub(crate) fn run(typed: &AffectedArgs, printer: &mut Printer) -> Result<Exit> {
    let asked = Asked {
        typed,
        measure: Measure::checked(&typed.measure)?,
        wanted: Wanted::checked(&typed.filter)?,
        width: printer.width(),
    };
    typed.meters_per_stitch.map(per_stitch).transpose()?;
    let walk =
        Walk { command: "affected", charts: &typed.charts, walk: &typed.walk, show: typed.show };
    let from = typed.read.from.as_deref();
    let mut own: Vec<&Path> = from.into_iter().collect();
    if typed.tables.reading.server.is_none() {
        own.extend(typed.tables.tables.iter().map(PathBuf::as_path));
    }
    let gathered = walk.gather(&own)?;
    let shop = Shop::open(&typed.tables, from, Need::Tables, printer)?;
    let (again, stop) = (shop.again(), printer.stop_flag());
    let mut lost = Lost::default();
    let around = [affected::document()];
    let form = match typed.show.json {
        true => Form::Document(&around, summary::items),
        false => Form::Lines,
    };
    let work = |slot: &mut Slot, chart: &ChartFile| {
        walk::one(slot, (&again, &stop), |shop, printer| asked.one(shop, &chart.path, printer))
    };
    let over = &mut |_: &ChartFile, state: &State| {
        if let State::Done(outcome) = state {
            lost.add(&outcome.facts);
        }
        Ok(())
    };
    let walked = walk.go(&gathered, form, (&work, over), printer);
    Ok(asked.tell(&walk, walked, (&lost, &gathered), printer))
}

/// What was asked for, checked.
struct Asked<'t> {
    typed: &'t AffectedArgs,
    measure: Measure,
    wanted: Wanted,
    width: usize,
}

impl Asked<'_> {
    fn one(&self, shop: Shop, chart: &Path, printer: &mut Printer) -> (Shop, Result<Outcome>) {
        let typed = Typed {
            chart,
            read: &self.typed.read,
            keep: &[],
            shading: &[],
            apart: None,
            tables: &self.typed.tables,
            need: Need::Tables,
            bare: BareCodes::OfTheTable,
        };
        walk::with_chart(shop, typed, printer, |work, printer| self.of_chart(work, printer))
    }

    fn of_chart(&self, work: &mut ChartWork, printer: &mut Printer) -> Result<Outcome> {
        let missing = substitute::used(work, &self.typed.missing)?;
        let mut outcome = Outcome {
            exit: Exit::Done,
            lines: Vec::new(),
            facts: Map::new(),
            counts: Vec::new(),
            cautions: Vec::new(),
            input: digest(&work.before.bytes),
            written: Vec::new(),
            notes: Vec::new(),
        };
        let amounts = self.amounts(work, &missing)?;
        let threads: Vec<Value> = amounts.iter().map(Amount::json).collect();
        outcome.facts.insert("threads".into(), threads.into());
        outcome.facts.insert("changes".into(), json!([]));
        outcome.facts.insert("problems".into(), json!([]));
        if !missing.is_empty() {
            let said: Vec<String> = amounts.iter().map(Amount::words).collect();
            outcome.lines.push(said.join("; "));
            self.stand_ins(work, missing, &mut outcome, printer)?;
        } else if work.summary.palette().colors().iter().all(|color| color.threads.is_empty()) {
            outcome.lines.push("no color has a thread yet, so it cannot be told".to_owned());
        }
        Ok(outcome)
    }

    /// How much of each missing thread the chart takes.
    fn amounts(&self, work: &mut ChartWork, missing: &[ThreadRef]) -> Result<Vec<Amount>> {
        let known = work.shop.backend.threads(missing)?;
        let colors = work.summary.palette().colors();
        let amount =
            |(thread, known): (&ThreadRef, std::result::Result<dyekin_core::Thread, _>)| {
                let places = work.summary.worked_in(thread).filter_map(|place| colors.get(place));
                let (mut stitches, mut share) = (0, 0.0);
                for color in places {
                    stitches += color.stitches;
                    share += affected::whole(color.stitches)
                        / affected::whole(color.threads.len() as u64);
                }
                let meters = self.typed.meters_per_stitch.map(|per_stitch| share * per_stitch);
                let skein = known.ok().and_then(|thread: dyekin_core::Thread| thread.skein_metres);
                let skeins = meters.zip(skein).map(|(meters, skein)| meters / skein);
                Amount { thread: thread.clone(), stitches, meters, skeins }
            };
        Ok(missing.iter().zip(known).map(amount).collect())
    }

    /// What could stand in for them together. That nothing can is an answer too.
    fn stand_ins(
        &self,
        work: &mut ChartWork,
        missing: Vec<ThreadRef>,
        outcome: &mut Outcome,
        printer: &mut Printer,
    ) -> Result<()> {
        let filter = work.shop.filter(&self.wanted)?;
        let ask = work.ask(self.measure, filter, &[], Vec::new())?;
        let options = SubstituteOptions {
            missing,
            allow_used: self.typed.allow_used,
            limit: self.measure.limit,
            min_apart: DeltaE::default(),
            keep_lightness: false,
            keep_outlines: false,
            lights: None,
            stock: None,
            staying: Vec::new(),
        };
        let found = {
            let meter = printer.meter("affected");
            work.shop.backend.substitute(work.summary.palette(), &ask, &options, &meter)
        };
        let list = match found {
            Ok(list) => list,
            Err(failure @ (Failure::Domain { .. } | Failure::Said { .. }))
                if failure.exit() != Exit::Stopped =>
            {
                outcome.exit = Exit::NothingMatched;
                let said = text::failure(&failure);
                outcome.lines.extend(said.iter().flat_map(|line| {
                    let line = line.trim_start_matches("error: ");
                    text::wrap_indented(&format!("nothing stands in: {line}"), self.width, 2)
                }));
                let path = work.path.to_string_lossy().into_owned();
                outcome.facts.insert("problems".into(), as_json::problems(&path, &failure).into());
                return Ok(());
            }
            Err(failure) => return Err(failure),
        };
        let limit = self.measure.limit;
        if changes::beyond(&list, limit) > 0 {
            outcome.exit = Exit::NothingMatched;
        }
        let told = changes::Told {
            list: &list,
            summary: &work.summary,
            limit,
            details: self.typed.show.details,
            width: self.width.saturating_sub(2),
        };
        outcome.lines.extend(told.changes().iter().map(|line| format!("  {line}")));
        let changes: Vec<Value> =
            list.changes.iter().map(|change| as_json::change(change, &work.summary)).collect();
        outcome.facts.insert("changes".into(), changes.into());
        outcome.cautions = changes::cautions(&list);
        Ok(())
    }

    fn tell(
        &self,
        walk: &Walk<'_>,
        Walked { told, document, .. }: Walked,
        (lost, gathered): (&Lost, &Gathered),
        printer: &mut Printer,
    ) -> Exit {
        let mut end = End::of(&told);
        if lost.charts == 0 {
            end.worst = end.worst.max(Exit::NothingMatched);
        }
        end.hint = Some("the same command looks at all charts again");
        if let Some(document) = document {
            document.close(&lost.json(&told, &gathered.left_out), printer);
        } else {
            for line in lost.lines((told.done, told.failed), printer.width()) {
                printer.data(&line);
            }
        }
        walk.end(&end, printer)
    }
}
