//! `dyekin reduce`: the chart in at most N threads.
//! It does not choose them: the backend does.

use super::chart_work::BareCodes;
use super::planned::{Chosen, Job};
use crate::cli::ReduceArgs;
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::printer::Printer;

pub(crate) fn run(typed: &ReduceArgs, printer: &mut Printer) -> Result<Exit> {
    if typed.threads == 0 {
        return Err(Failure::said("--threads 0: a chart needs a thread", "write 1 or more"));
    }
    let job = Job { plan: &typed.plan, bare: BareCodes::OfTheTable };
    job.run(printer, |mut given, printer| {
        let ask = given.ask(&typed.plan.chart.keep)?;
        let meter = printer.meter("reduce");
        let work = given.work;
        let list = work.shop.backend.reduce(work.summary.palette(), &ask, typed.threads, &meter)?;
        Ok(Chosen { list, settings: vec![("threads".to_owned(), typed.threads.to_string())] })
    })
}
