//! `dyekin convert`: every color to its nearest thread.
//! It does not measure: the backend does.

use super::chart_work::BareCodes;
use super::planned::{Chosen, Job};
use crate::cli::ConvertArgs;
use crate::exit::Exit;
use crate::failure::Result;
use crate::printer::Printer;

pub(crate) fn run(typed: &ConvertArgs, printer: &mut Printer) -> Result<Exit> {
    let job = Job {
        plan: &typed.plan,
        // A conversion leads from one table into another: which one must be said.
        bare: BareCodes::Unknown,
        shading: &[],
    };
    job.run(printer, |mut given, printer| {
        let ask = given.ask(&typed.plan.chart.keep)?;
        let meter = printer.meter("convert");
        let work = given.work;
        let list = work.shop.backend.convert(work.summary.palette(), &ask, &meter)?;
        Ok(Chosen { list, settings: Vec::new() })
    })
}
