//! `dyekin substitute`: stand-ins for threads that cannot be had.
//! It does not choose them: the backend does.

use dyekin_core::error::{Error, ErrorKind};
use dyekin_core::planner::SubstituteOptions;
use dyekin_core::{Code, TableId, ThreadRef};

use super::chart_work::{BareCodes, ChartWork, Typed};
use super::planned::Job;
use super::shop::Need;
use crate::asked::{self, Asked};
use crate::cli::SubstituteArgs;
use crate::exit::Exit;
use crate::failure::Result;
use crate::printer::Printer;
use crate::settings::{Measure, Wanted};

pub(crate) fn run(typed: &SubstituteArgs, printer: &mut Printer) -> Result<Exit> {
    let measure = Measure::checked(&typed.measure)?;
    let wanted = Wanted::checked(&typed.filter)?;
    let job = Job {
        chart: &typed.chart,
        tables: &typed.tables,
        out: &typed.out,
        show: typed.show,
        limit: measure.limit,
    };
    let outputs = job.outputs()?;
    let opened = Typed {
        chart: &typed.chart.input,
        keep: &typed.chart.keep,
        tables: &typed.tables,
        need: Need::Tables,
        bare: BareCodes::OfTheTable,
    };
    let mut work = ChartWork::open(opened, printer)?;
    outputs.suit(&work)?;
    work.note_other_versions(printer)?;
    let options = SubstituteOptions {
        missing: missing(&mut work, &typed.missing)?,
        allow_used: typed.allow_used,
        limit: measure.limit,
    };
    let answers = job.answers(&mut work)?;
    // The backend keeps to the finish and fiber of each missing thread.
    let filter = work.shop.filter(&wanted)?;
    let ask = work.ask(measure, filter, &typed.chart.keep, answers)?;
    let list = {
        let meter = printer.meter("substitute");
        work.shop.backend.substitute(work.summary.palette(), &ask, &options, &meter)?
    };
    let codes: Vec<String> =
        options.missing.iter().map(|thread| format!("{}:{}", thread.table, thread.code)).collect();
    let settings = vec![
        ("missing".to_owned(), codes.join(",")),
        ("allow-used".to_owned(), typed.allow_used.to_string()),
    ];
    job.finish(&work, &list, settings, &outputs, printer)
}

/// The missing threads: those of the chart that are meant, or what the tables know by the code.
fn missing(work: &mut ChartWork, texts: &[String]) -> Result<Vec<ThreadRef>> {
    let used = work.used_threads();
    let (mut found, mut problems) = (Vec::new(), Vec::new());
    for text in texts {
        match asked::thread(text.trim()) {
            Ok(Asked::Thread { table, code }) => match of_chart(&used, table.as_ref(), &code) {
                Ok(Some(thread)) => found.push(thread),
                Ok(None) => found.extend(work.shop.resolve_threads(std::slice::from_ref(text))?),
                Err(error) => problems.push(error),
            },
            Ok(Asked::Color(_) | Asked::Either(..)) => {}
            Err(error) => problems.push(error),
        }
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
