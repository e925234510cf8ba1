//! A cleaned picture in threads: every color to its nearest one, as `convert` does it.
//! It does not know how the picture was cleaned.

use std::collections::HashMap;

use dyekin_core::planner::{ConvertOptions, Supply};
use dyekin_core::{Formula, Srgb8, ThreadRef};

use super::super::chart_work::ChartWork;
use super::super::planned::program;
use crate::apply::{FindThread, Unanswered, apply};
use crate::change_file::{ChangeFile, Made};
use crate::chart::Chart;
use crate::failure::Result;
use crate::printer::Printer;
use crate::settings::{Measure, Wanted};
use crate::summary::{Summary, SummaryOptions};

/// The chart in threads.
#[derive(Debug)]
pub(crate) struct Mapped {
    chart: Chart,
}

impl Mapped {
    pub(crate) fn new(
        work: &mut ChartWork,
        cleaned: &Chart,
        wanted: &Wanted,
        printer: &mut Printer,
    ) -> Result<Self> {
        let file = changes(work, cleaned, wanted, printer)?;
        let find: &FindThread<'_> = &|thread| {
            Err(dyekin_core::Error::new(dyekin_core::ErrorKind::UnknownThread {
                table: thread.table.to_string(),
                code: thread.code.to_string(),
                near: Vec::new(),
            }))
        };
        let applied = apply(cleaned, &file, Unanswered::Carry, find)?;
        Ok(Self { chart: applied.chart })
    }

    pub(crate) fn chart(&self) -> &Chart {
        &self.chart
    }
}

/// For each color of a picture the first color that becomes the same thread; a color for which there is
/// none becomes itself.
pub(crate) fn goals(
    work: &mut ChartWork,
    chart: &Chart,
    wanted: &Wanted,
    printer: &mut Printer,
) -> Result<Vec<u16>> {
    let file = changes(work, chart, wanted, printer)?;
    let threads: HashMap<Srgb8, &ThreadRef> = file
        .changes
        .iter()
        .filter_map(|change| Some((change.of.hex, &change.after.first()?.thread.thread)))
        .collect();
    let mut first: HashMap<&ThreadRef, u16> = HashMap::new();
    let goals = work.summary.places().iter().zip(0_u16..).map(|(place, number)| {
        let thread = threads.get(&place.color());
        thread.map_or(number, |thread| *first.entry(*thread).or_insert(number))
    });
    Ok(goals.collect())
}

/// Every color to its nearest thread.
fn changes(
    work: &mut ChartWork,
    chart: &Chart,
    wanted: &Wanted,
    printer: &mut Printer,
) -> Result<ChangeFile> {
    let options = SummaryOptions { split: &[], apart: None, color_of: &|_| None };
    let summary = Summary::of_chart(chart, options)?;
    let measure = Measure { formula: Formula::DEFAULT, adaptation: None, limit: None };
    let filter = work.filter(wanted)?;
    let ask = work.ask(measure, filter, &[], Vec::new())?;
    let options = ConvertOptions { supply: Supply::All, distinct: None };
    let meter = printer.meter("clean");
    let list = work.shop.backend.convert(summary.palette(), &ask, &options, &meter)?;
    Ok(ChangeFile::new(&list, &summary, Made { program: program(), settings: Vec::new() })?)
}
