//! `dyekin reduce`: the chart in few threads.
//! It does not choose them: the backend does.

use dyekin_core::DeltaE;
use dyekin_core::change::Weighing;
use dyekin_core::planner::{KeepEdges, Money, ReduceOptions};

use super::chart_work::BareCodes;
use super::convert::own_list;
use super::planned::{Chosen, Job};
use super::shop::{NOTICES_SHOWN, Shop};
use super::stocked::{self, per_stitch};
use crate::cli::{AmountArgs, FewArgs, ReduceArgs};
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files;
use crate::printer::Printer;
use crate::settings::{difference, price};

pub(crate) fn run(typed: &ReduceArgs, printer: &mut Printer) -> Result<Exit> {
    let few = Few::checked(typed)?;
    let shading = &typed.keep_shading;
    let job = Job {
        command: "reduce",
        plan: &typed.plan,
        bare: BareCodes::OfTheTable,
        shading,
        also_read: &[typed.few.owned.as_deref(), typed.amounts.stock.as_deref()],
        concerns: None,
    };
    job.run(printer, |mut given, printer| {
        let shown = if typed.plan.show.details { usize::MAX } else { NOTICES_SHOWN };
        let options = few.options(&mut given.work.shop, shown, printer)?;
        let ask = given.ask(&typed.plan.chart.keep)?;
        let meter = printer.meter("reduce");
        let work = given.work;
        work.check_areas(shading)?;
        let list = work.shop.backend.reduce(work.summary.palette(), &ask, &options, &meter)?;
        Ok(Chosen { list, settings: few.settings(), blends: Vec::new(), half_way: Vec::new() })
    })
}

/// How few threads, as it was typed and checked.
struct Few<'t> {
    typed: &'t FewArgs,
    amounts: &'t AmountArgs,
    money: Option<Money>,
    keep_edges: KeepEdges,
    keep_shading: &'t [String],
    tolerance: Option<DeltaE>,
    thread_worth: Option<DeltaE>,
}

impl<'t> Few<'t> {
    fn checked(all: &'t ReduceArgs) -> Result<Self> {
        let (typed, amounts) = (&all.few, &all.amounts);
        let money = money(amounts)?;
        if typed.threads == Some(0) {
            return Err(Failure::said("--threads 0: a chart needs a thread", "write 1 or more"));
        }
        let checked =
            |option, typed: Option<f64>| typed.map(|value| difference(option, value)).transpose();
        let tolerance = checked("--tolerance", typed.tolerance)?;
        let thread_worth = checked("--thread-worth", typed.thread_worth)?;
        let keep_edges = keep_edges(all.keep_edges, typed.squared)?;
        let keep_shading = all.keep_shading.as_slice();
        if !keep_shading.is_empty() && keep_edges == KeepEdges::Off {
            return Err(Failure::said(
                "--keep-shading needs edges that are kept",
                "leave out --keep-edges off and --squared",
            ));
        }
        let few = Self { typed, amounts, money, keep_edges, keep_shading, tolerance, thread_worth };
        few.says_enough().map(|()| few)
    }

    fn says_enough(&self) -> Result<()> {
        let has_worth = |worth: DeltaE| worth > DeltaE::default();
        let is_priced = self.thread_worth.is_some_and(has_worth)
            || self.money.is_some_and(|money| has_worth(money.worth));
        if self.typed.threads.is_none() && self.tolerance.is_none() && !is_priced {
            return Err(Failure::said(
                "nothing says how few threads are wanted",
                "write --threads N, --tolerance X, --thread-worth X or --money-worth X",
            ));
        }
        if self.typed.owned.is_some() && !is_priced {
            return Err(Failure::said(
                "--owned: where a thread costs nothing, owned ones are as good as others",
                "write --thread-worth X or --money-worth X, or leave --owned out",
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
        let stock = match (self.amounts.stock.as_deref(), self.amounts.meters_per_stitch) {
            (Some(path), Some(meters)) => {
                Some(stocked::list(shop, (path, meters), shown, printer)?)
            }
            _ => None,
        };
        Ok(ReduceOptions {
            max_threads: self.typed.threads,
            tolerance: self.tolerance,
            weighing: if self.typed.squared { Weighing::Squared } else { Weighing::Plain },
            thread_worth: self.thread_worth.unwrap_or_default(),
            owned,
            money: self.money,
            stock,
            keep_edges: self.keep_edges,
            keep_shading: self.keep_shading.to_vec(),
        })
    }

    /// What has a say in the choice, by the names of the options.
    fn settings(&self) -> Vec<(String, String)> {
        let (typed, amounts) = (self.typed, self.amounts);
        let shading = self.keep_shading.join(",");
        let settings = [
            ("meters-per-stitch", amounts.meters_per_stitch.map(|meters| meters.to_string())),
            ("money-worth", self.money.map(|money| money.worth.value().to_string())),
            ("skein-meters", amounts.skein_meters.map(|meters| meters.to_string())),
            ("skein-price", amounts.skein_price.clone()),
            ("stock", amounts.stock.as_deref().map(files::shown)),
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

/// How much edges count: not beside squares, in which a lost edge has no weight that anyone stated.
fn keep_edges(typed: Option<KeepEdges>, squared: bool) -> Result<KeepEdges> {
    match typed {
        None if squared => Ok(KeepEdges::Off),
        None => Ok(KeepEdges::Normal),
        Some(setting) if !squared || setting == KeepEdges::Off => Ok(setting),
        Some(setting) => Err(Failure::said(
            format!("--keep-edges {}: edges are not kept beside squares", setting.as_str()),
            "leave it out, or leave out --squared",
        )),
    }
}

/// What money is worth and skeins cost, when money has a say.
fn money(typed: &AmountArgs) -> Result<Option<Money>> {
    typed.meters_per_stitch.map(per_stitch).transpose()?;
    if let Some(meters) = typed.skein_meters.filter(|meters| !meters.is_finite() || *meters <= 0.0)
    {
        return Err(Failure::said(
            format!("--skein-meters {meters}: a skein is longer than 0"),
            "write for example --skein-meters 8",
        ));
    }
    let skein_price =
        typed.skein_price.as_deref().map(|text| price("--skein-price", text)).transpose()?;
    let (Some(worth), Some(meters_per_stitch)) = (typed.money_worth, typed.meters_per_stitch)
    else {
        return Ok(None);
    };
    let worth = difference("--money-worth", worth)?;
    Ok(Some(Money { worth, skein_price, skein_meters: typed.skein_meters, meters_per_stitch }))
}
