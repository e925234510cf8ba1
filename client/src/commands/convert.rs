//! `dyekin convert`: every color to its nearest thread.
//! It does not measure: the backend does.

use super::chart_work::{BareCodes, ChartWork, Typed};
use super::planned::Job;
use super::shop::Need;
use crate::cli::ConvertArgs;
use crate::exit::Exit;
use crate::failure::Result;
use crate::printer::Printer;
use crate::settings::{Measure, Wanted};

pub(crate) fn run(typed: &ConvertArgs, printer: &mut Printer) -> Result<Exit> {
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
        // A conversion leads from one table into another: which one must be said.
        bare: BareCodes::Unknown,
    };
    let mut work = ChartWork::open(opened, printer)?;
    outputs.suit(&work)?;
    work.note_other_versions(printer)?;
    let answers = job.answers(&mut work)?;
    let filter = work.filter(&wanted)?;
    let ask = work.ask(measure, filter, &typed.chart.keep, answers)?;
    let list = {
        let meter = printer.meter("convert");
        work.shop.backend.convert(work.summary.palette(), &ask, &meter)?
    };
    job.finish(&work, &list, Vec::new(), &outputs, printer)
}
