//! `dyekin reduce`: the chart in few threads.
//! It does not choose them: the backend does.

use dyekin_core::DeltaE;
use dyekin_core::change::Weighing;
use dyekin_core::planner::{KeepEdges, ReduceOptions};

use super::chart_work::BareCodes;
use super::convert::own_list;
use super::planned::{Chosen, Job};
use super::shop::{NOTICES_SHOWN, Shop};
use crate::cli::{FewArgs, ReduceArgs};
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files;
use crate::printer::Printer;
use crate::settings::difference;

pub(crate) fn run(typed: &ReduceArgs, printer: &mut Printer) -> Result<Exit> {
    let few = Few::checked(typed)?;
    let shading = &typed.keep_shading;
    let job = Job {
        plan: &typed.plan,
        bare: BareCodes::OfTheTable,
        shading,
        also_read: typed.few.owned.as_deref(),
    };
    job.run(printer, |mut given, printer| {
        let shown = if typed.plan.show.details { usize::MAX } else { NOTICES_SHOWN };
        let options = few.options(&mut given.work.shop, shown, printer)?;
        let ask = given.ask(&typed.plan.chart.keep)?;
        let meter = printer.meter("reduce");
        let work = given.work;
        work.check_areas(shading)?;
        let list = work.shop.backend.reduce(work.summary.palette(), &ask, &options, &meter)?;
        Ok(Chosen { list, settings: few.settings(), blends: Vec::new() })
    })
}

/// How few threads, as it was typed and checked.
struct Few<'t> {
    typed: &'t FewArgs,
    keep_edges: KeepEdges,
    keep_shading: &'t [String],
    tolerance: Option<DeltaE>,
    thread_worth: Option<DeltaE>,
}

impl<'t> Few<'t> {
    fn checked(all: &'t ReduceArgs) -> Result<Self> {
        let typed = &all.few;
        if typed.threads == Some(0) {
            return Err(Failure::said("--threads 0: a chart needs a thread", "write 1 or more"));
        }
        let checked =
            |option, typed: Option<f64>| typed.map(|value| difference(option, value)).transpose();
        let tolerance = checked("--tolerance", typed.tolerance)?;
        let thread_worth = checked("--thread-worth", typed.thread_worth)?;
        let is_mean = !typed.squared && thread_worth.is_none_or(|worth| worth.value() <= 0.0);
        let keep_edges = keep_edges(all.keep_edges, is_mean)?;
        let keep_shading = all.keep_shading.as_slice();
        if !keep_shading.is_empty() && keep_edges == KeepEdges::Off {
            return Err(Failure::said(
                "--keep-shading needs edges that are kept",
                "leave out --keep-edges off, --squared and --thread-worth",
            ));
        }
        let few = Self { typed, keep_edges, keep_shading, tolerance, thread_worth };
        few.says_enough().map(|()| few)
    }

    fn says_enough(&self) -> Result<()> {
        let is_priced = self.thread_worth.is_some_and(|worth| worth > DeltaE::default());
        if self.typed.threads.is_none() && self.tolerance.is_none() && !is_priced {
            return Err(Failure::said(
                "nothing says how few threads are wanted",
                "write --threads N, --tolerance X or --thread-worth X",
            ));
        }
        if self.typed.owned.is_some() && !is_priced {
            return Err(Failure::said(
                "--owned: where a thread costs nothing, owned ones are as good as others",
                "write --thread-worth X, or leave --owned out",
            ));
        }
        Ok(())
    }

    fn options(
        &self,
        shop: &mut Shop,
        shown: usize,
        printer: &mut Printer,
    ) -> Result<ReduceOptions> {
        let owned = match self.typed.owned.as_deref() {
            Some(path) => {
                let list = own_list(shop, path, shown, printer)?;
                list.threads.into_iter().map(|own| own.thread).collect()
            }
            None => Vec::new(),
        };
        Ok(ReduceOptions {
            max_threads: self.typed.threads,
            tolerance: self.tolerance,
            weighing: if self.typed.squared { Weighing::Squared } else { Weighing::Plain },
            thread_worth: self.thread_worth.unwrap_or_default(),
            owned,
            keep_edges: self.keep_edges,
            keep_shading: self.keep_shading.to_vec(),
        })
    }

    /// What has a say in the choice, by the names of the options.
    fn settings(&self) -> Vec<(String, String)> {
        let typed = self.typed;
        let shading = self.keep_shading.join(",");
        let settings = [
            ("keep-edges", Some(self.keep_edges.as_str().to_owned())),
            ("keep-shading", Some(shading).filter(|areas| !areas.is_empty())),
            ("owned", typed.owned.as_deref().map(files::shown)),
            ("squared", typed.squared.then(|| "true".to_owned())),
            ("thread-worth", self.thread_worth.map(|worth| worth.value().to_string())),
            ("threads", typed.threads.map(|most| most.to_string())),
            ("tolerance", self.tolerance.map(|most| most.value().to_string())),
        ];
        let given = settings.into_iter().filter_map(|(name, value)| Some((name, value?)));
        given.map(|(name, value)| (name.to_owned(), value)).collect()
    }
}

/// How much edges count: the default depends on whether the mean difference is made small.
fn keep_edges(typed: Option<KeepEdges>, is_mean: bool) -> Result<KeepEdges> {
    match typed {
        None if is_mean => Ok(KeepEdges::Normal),
        None => Ok(KeepEdges::Off),
        Some(setting) if is_mean || setting == KeepEdges::Off => Ok(setting),
        Some(setting) => Err(Failure::said(
            format!(
                "--keep-edges {}: edges are kept beside the mean difference only",
                setting.as_str()
            ),
            "leave it out, or leave out --squared and --thread-worth",
        )),
    }
}
