//! `dyekin reduce`: the chart in at most N threads.
//! It does not choose them: the backend does.

use super::chart_work::{BareCodes, ChartWork, Typed};
use super::planned::Job;
use super::shop::Need;
use crate::cli::ReduceArgs;
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::printer::Printer;
use crate::settings::{Measure, Wanted};

pub(crate) fn run(typed: &ReduceArgs, printer: &mut Printer) -> Result<Exit> {
    let measure = Measure::checked(&typed.measure)?;
    let wanted = Wanted::checked(&typed.filter)?;
    if typed.threads == 0 {
        return Err(Failure::said("--threads 0: a chart needs a thread", "write 1 or more"));
    }
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
    let answers = job.answers(&mut work)?;
    let filter = work.filter(&wanted)?;
    let ask = work.ask(measure, filter, &typed.chart.keep, answers)?;
    let list = {
        let meter = printer.meter("reduce");
        work.shop.backend.reduce(work.summary.palette(), &ask, typed.threads, &meter)?
    };
    let settings = vec![("threads".to_owned(), typed.threads.to_string())];
    job.finish(&work, &list, settings, &outputs, printer)
}
