//! `dyekin substitute`: stand-ins for threads that cannot be had.
//! It does not choose them: the backend does.

use std::path::Path;

use dyekin_core::error::{Error, ErrorKind};
use dyekin_core::planner::{SubstituteOptions, ThreadStock};
use dyekin_core::spectrum::Lights;
use dyekin_core::{Code, DeltaE, Illuminant, TableId, ThreadRef};

use super::chart_work::{BareCodes, ChartWork};
use super::planned::{Chosen, Given, Job};
use super::several;
use super::shop::NOTICES_SHOWN;
use super::stocked;
use crate::asked::{self, Asked};
use crate::cli::SubstituteArgs;
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::printer::Printer;
use crate::settings::{difference, lights};

mod blends;
mod half_way;

pub(crate) use blends::Found;
use half_way::HalfWay;

pub(crate) fn run(typed: &SubstituteArgs, printer: &mut Printer) -> Result<Exit> {
    let pictures = half_way::pictures(&typed.half_way);
    let pictures = pictures.iter().map(|path| Some(path.as_path()));
    let also_read: Vec<Option<&Path>> = pictures.chain([typed.stock.as_deref()]).collect();
    // A chart that uses none of them is none of many's business; alone, it is a mistake.
    let concerns = |work: &mut ChartWork| Ok(!used(work, &typed.missing)?.is_empty());
    let job = Job {
        command: "substitute",
        plan: &typed.plan,
        bare: BareCodes::OfTheTable,
        shading: &[],
        also_read: &also_read,
        concerns: Some(&concerns),
    };
    let apart = typed.apart.map(|value| difference("--apart", value)).transpose()?;
    let lights = lights(&typed.lights)?;
    check_lengths(typed)?;
    let asked = Checked { typed, apart: apart.unwrap_or_default(), lights };
    let Some(chart) = job.lone()? else {
        let hint = "say it of the one piece that is being stitched";
        several::refuse(&[
            ("--done", !typed.half_way.done.is_empty(), hint),
            ("--left", !typed.half_way.left.is_empty(), hint),
            ("--count", typed.half_way.count.is_some(), hint),
        ])?;
        return job.many(printer, &|given, printer| {
            let missing = used(given.work, &typed.missing)?;
            asked.choose(given, missing, &HalfWay::default(), printer)
        });
    };
    let mut opened = job.open(chart, printer)?;
    let missing = missing(&mut opened.work, &typed.missing)?;
    let half_way = half_way::prepare(typed, &mut opened.work, &missing)?;
    job.go(opened, printer, &|given, printer| {
        asked.choose(given, missing.clone(), &half_way, printer)
    })
}

/// What was typed, checked.
struct Checked<'t> {
    typed: &'t SubstituteArgs,
    apart: DeltaE,
    lights: Option<Lights>,
}

impl Checked<'_> {
    fn choose(
        &self,
        mut given: Given<'_>,
        missing: Vec<ThreadRef>,
        half_way: &HalfWay,
        printer: &mut Printer,
    ) -> Result<Chosen> {
        let typed = self.typed;
        let is_half_way = half_way::is_asked(&typed.half_way);
        let missing = blends::still_missing(given.work, missing, is_half_way)?;
        let options = SubstituteOptions {
            missing,
            allow_used: typed.allow_used,
            limit: given.measure.limit,
            min_apart: self.apart,
            keep_lightness: typed.keep_lightness,
            keep_outlines: typed.keep_outlines,
            lights: self.lights.clone(),
            stock: stock(given.work, typed, printer)?,
            staying: half_way.staying.clone(),
        };
        // The backend keeps to the finish and fiber of each missing thread.
        let filter = given.work.shop.filter(&given.wanted)?;
        let ask = given.ask_with(filter, &typed.plan.chart.keep)?;
        let meter = printer.meter("substitute");
        let work = given.work;
        let list = work.shop.backend.substitute(work.summary.palette(), &ask, &options, &meter)?;
        let mut settings = settings(&options);
        let stock = typed.stock.as_ref().map(|path| path.to_string_lossy().into_owned());
        settings.extend(stock.map(|path| ("stock".to_owned(), path)));
        settings.extend(half_way::settings(&typed.half_way));
        let blends = match typed.blends {
            true => blends::find(work, &ask, (&options.missing, &list), &meter)?,
            false => Vec::new(),
        };
        Ok(Chosen { list, settings, blends, half_way: half_way.threads.clone() })
    }
}

/// Checks how much a stitch takes, and that something asks for it.
fn check_lengths(typed: &SubstituteArgs) -> Result<()> {
    let is_asked = typed.stock.is_some() || half_way::is_asked(&typed.half_way);
    match typed.meters_per_stitch {
        Some(meters) if is_asked => stocked::per_stitch(meters),
        Some(meters) => Err(Failure::said(
            format!("--meters-per-stitch {meters}: nothing asks how much there is"),
            "give --stock with it, or --left",
        )),
        None => Ok(()),
    }
}

/// What a list says is there, in meters.
fn stock(
    work: &mut ChartWork,
    typed: &SubstituteArgs,
    printer: &mut Printer,
) -> Result<Option<ThreadStock>> {
    let (Some(path), Some(meters)) = (&typed.stock, typed.meters_per_stitch) else {
        return Ok(None);
    };
    let shown = if typed.plan.show.details { usize::MAX } else { NOTICES_SHOWN };
    stocked::list(&mut work.shop, (path, meters), shown, printer).map(Some)
}

fn settings(options: &SubstituteOptions) -> Vec<(String, String)> {
    let codes: Vec<String> =
        options.missing.iter().map(|thread| format!("{}:{}", thread.table, thread.code)).collect();
    let mut settings = vec![
        ("allow-used".to_owned(), options.allow_used.to_string()),
        ("missing".to_owned(), codes.join(",")),
    ];
    if options.min_apart > DeltaE::default() {
        settings.push(("apart".to_owned(), options.min_apart.value().to_string()));
    }
    if let Some(lights) = &options.lights {
        let names: Vec<&str> = lights.illuminants().map(Illuminant::as_str).collect();
        settings.push(("lights".to_owned(), names.join(",")));
    }
    for (name, wanted) in
        [("keep-lightness", options.keep_lightness), ("keep-outlines", options.keep_outlines)]
    {
        if wanted {
            settings.push((name.to_owned(), "true".to_owned()));
        }
    }
    settings
}

/// The missing threads that the chart uses; the tables need not have them any more.
pub(crate) fn used(work: &ChartWork, texts: &[String]) -> Result<Vec<ThreadRef>> {
    let used = work.used_threads();
    let (mut found, mut problems) = (Vec::new(), Vec::new());
    for text in texts {
        let meant = asked::thread(text.trim()).and_then(|asked| match asked {
            Asked::Thread { table, code } => of_chart(&used, table.as_ref(), &code),
            Asked::Color(_) | Asked::Either(..) => Ok(None),
        });
        match meant {
            Ok(thread) => found.extend(thread),
            Err(error) => problems.push(error),
        }
    }
    found.sort();
    found.dedup();
    if problems.is_empty() { Ok(found) } else { Err(problems.into()) }
}

/// The missing threads: those of the chart that are meant, or what the tables know by the code.
fn missing(work: &mut ChartWork, texts: &[String]) -> Result<Vec<ThreadRef>> {
    let used = work.used_threads();
    let (mut found, mut elsewhere, mut problems) = (Vec::new(), Vec::new(), Vec::new());
    for text in texts {
        match asked::thread(text.trim()) {
            Ok(Asked::Thread { table, code }) => match of_chart(&used, table.as_ref(), &code) {
                Ok(Some(thread)) => found.push(thread),
                Ok(None) => elsewhere.push(text.clone()),
                Err(error) => problems.push(error),
            },
            Ok(Asked::Color(_) | Asked::Either(..)) => {}
            Err(error) => problems.push(error),
        }
    }
    match work.shop.resolve_threads(&elsewhere) {
        Ok(known) => found.extend(known),
        Err(Failure::Domain { errors, .. }) => problems.extend(errors),
        Err(other) => return Err(other),
    }
    found.sort();
    found.dedup();
    if problems.is_empty() { Ok(found) } else { Err(problems.into()) }
}

/// The one thread of the chart that a code means.
fn of_chart(
    used: &[ThreadRef],
    table: Option<&TableId>,
    code: &Code,
) -> std::result::Result<Option<ThreadRef>, Error> {
    let means = |thread: &&ThreadRef| {
        thread.code == *code && table.is_none_or(|table| *table == thread.table)
    };
    let meant: Vec<&ThreadRef> = used.iter().filter(means).collect();
    match meant.as_slice() {
        [] => Ok(None),
        [only] => Ok(Some((*only).clone())),
        several => {
            let spelled: Vec<String> =
                several.iter().map(|thread| format!("{}:{}", thread.table, thread.code)).collect();
            Err(Error::new(ErrorKind::BadValue {
                value: code.to_string(),
                reason: "the chart uses threads of several tables with this code".into(),
                remedy: format!("write {}", spelled.join(" or ")),
            }))
        }
    }
}
