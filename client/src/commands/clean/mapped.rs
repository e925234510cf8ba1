//! A cleaned picture in threads: every color to its nearest one, as `convert` does it.
//! It does not know how the picture was cleaned.

use dyekin_core::planner::{ConvertOptions, Supply};
use dyekin_core::{Formula, ThreadRef};

use super::super::chart_work::ChartWork;
use super::super::planned::program;
use crate::apply::{FindThread, Unanswered, apply};
use crate::change_file::{ChangeFile, Made};
use crate::chart::Chart;
use crate::failure::Result;
use crate::printer::Printer;
use crate::settings::{Measure, Wanted};
use crate::summary::{ColorPlace, Summary, SummaryOptions};

/// The chart in threads.
#[derive(Debug)]
pub(crate) struct Mapped {
    chart: Chart,
    /// The thread of each color, by the color as the picture shows it.
    threads: Vec<(dyekin_core::Srgb8, ThreadRef)>,
}

impl Mapped {
    pub(crate) fn new(
        work: &mut ChartWork,
        cleaned: &Chart,
        wanted: &Wanted,
        printer: &mut Printer,
    ) -> Result<Self> {
        let options = SummaryOptions { split: &[], apart: None, color_of: &|_| None };
        let summary = Summary::of_chart(cleaned, options)?;
        let measure = Measure { formula: Formula::DEFAULT, adaptation: None, limit: None };
        let filter = work.filter(wanted)?;
        let ask = work.ask(measure, filter, &[], Vec::new())?;
        let options = ConvertOptions { supply: Supply::All, distinct: None };
        let meter = printer.meter("clean");
        let list = work.shop.backend.convert(summary.palette(), &ask, &options, &meter)?;
        let file =
            ChangeFile::new(&list, &summary, Made { program: program(), settings: Vec::new() })?;
        let find: &FindThread<'_> = &|thread| {
            Err(dyekin_core::Error::new(dyekin_core::ErrorKind::UnknownThread {
                table: thread.table.to_string(),
                code: thread.code.to_string(),
                near: Vec::new(),
            }))
        };
        let threads = file
            .changes
            .iter()
            .filter_map(|change| {
                let after = change.after.first()?;
                Some((change.of.hex, after.thread.thread.clone()))
            })
            .collect();
        let applied = apply(cleaned, &file, Unanswered::Carry, find)?;
        Ok(Self { chart: applied.chart, threads })
    }

    pub(crate) fn chart(&self) -> &Chart {
        &self.chart
    }

    /// The first color that gets the same thread.
    pub(crate) fn class(&self, colors: &[ColorPlace], color: u16) -> u16 {
        let thread = |number: usize| {
            let hex = colors.get(number)?.color();
            self.threads.iter().find(|held| held.0 == hex).map(|held| &held.1)
        };
        let Some(own) = thread(color.into()) else { return color };
        let first = (0..colors.len()).find(|number| thread(*number) == Some(own));
        first.and_then(|number| u16::try_from(number).ok()).unwrap_or(color)
    }
}
