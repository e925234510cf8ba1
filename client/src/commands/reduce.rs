//! `dyekin reduce`: the chart in at most N threads.
//! It does not choose them: the backend does.

use dyekin_core::planner::{KeepEdges, ReduceOptions};

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
    let shading = &typed.keep_shading;
    if !shading.is_empty() && typed.keep_edges == KeepEdges::Off {
        return Err(Failure::said(
            "--keep-shading needs edges that are kept",
            "leave out --keep-edges off",
        ));
    }
    let job = Job { plan: &typed.plan, bare: BareCodes::OfTheTable, shading };
    job.run(printer, |mut given, printer| {
        let ask = given.ask(&typed.plan.chart.keep)?;
        let meter = printer.meter("reduce");
        let work = given.work;
        work.check_areas(shading)?;
        let options = ReduceOptions {
            max_threads: typed.threads,
            keep_edges: typed.keep_edges,
            keep_shading: shading.clone(),
        };
        let list = work.shop.backend.reduce(work.summary.palette(), &ask, &options, &meter)?;
        let mut settings = vec![
            ("keep-edges".to_owned(), typed.keep_edges.as_str().to_owned()),
            ("threads".to_owned(), typed.threads.to_string()),
        ];
        if !shading.is_empty() {
            settings.push(("keep-shading".to_owned(), shading.join(",")));
        }
        Ok(Chosen { list, settings })
    })
}
