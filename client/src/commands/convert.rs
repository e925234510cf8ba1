//! `dyekin convert`: every color to a thread, from one range or several, or from what one has.
//! It does not measure: the backend does.

use std::path::Path;

use dyekin_core::planner::{ConvertOptions, RangePrice, Supply};
use dyekin_core::{DeltaE, Table};

use super::chart_work::{BareCodes, ChartWork};
use super::planned::{Chosen, Job};
use super::shop::{NOTICES_SHOWN, Shop, show_some};
use crate::cli::{ConvertArgs, SupplyArgs};
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files;
use crate::own_threads::{self, OwnList};
use crate::printer::Printer;
use crate::settings::difference;

pub(crate) fn run(typed: &ConvertArgs, printer: &mut Printer) -> Result<Exit> {
    let job = Job {
        command: "convert",
        plan: &typed.plan,
        // A conversion leads from one table into another: which one must be said.
        bare: BareCodes::Unknown,
        shading: &[],
        also_read: &[typed.supply.owned.as_deref()],
        concerns: None,
    };
    let asked = Asked::checked(&typed.supply)?;
    job.run(printer, |mut given, printer| {
        let shown = if typed.plan.show.details { usize::MAX } else { NOTICES_SHOWN };
        let own = match asked.owned {
            Some(path) => Some(own_list(&mut given.work.shop, path, shown, printer)?),
            None => None,
        };
        let options = asked.options(given.work, own.as_ref())?;
        let ask = given.ask(&typed.plan.chart.keep)?;
        let meter = printer.meter("convert");
        let work = given.work;
        let list = work.shop.backend.convert(work.summary.palette(), &ask, &options, &meter)?;
        Ok(Chosen { list, settings: asked.settings(), blends: Vec::new(), half_way: Vec::new() })
    })
}

/// What was typed about the supply, checked.
struct Asked<'t> {
    extra_range: Option<DeltaE>,
    owned: Option<&'t Path>,
    buy_within: Option<DeltaE>,
    distinct: Option<DeltaE>,
}

impl<'t> Asked<'t> {
    fn checked(typed: &'t SupplyArgs) -> Result<Self> {
        let checked = |option: &str, value: Option<f64>| {
            value.map(|value| difference(option, value)).transpose()
        };
        let apart = checked("--apart", typed.apart)?.unwrap_or_default();
        Ok(Self {
            extra_range: checked("--extra-range", typed.extra_range)?,
            owned: typed.owned.as_deref(),
            buy_within: checked("--buy-within", typed.buy_within)?,
            distinct: typed.distinct.then_some(apart),
        })
    }

    fn options(&self, work: &ChartWork, own: Option<&OwnList>) -> Result<ConvertOptions> {
        let supply = match (own, self.extra_range) {
            (Some(own), _) => Supply::Owned {
                threads: own.threads.iter().map(|held| held.thread.clone()).collect(),
                buy_within: self.buy_within,
            },
            (None, Some(price)) => Supply::Priced(prices(work, price)?),
            (None, None) => Supply::All,
        };
        Ok(ConvertOptions { supply, distinct: self.distinct })
    }

    fn settings(&self) -> Vec<(String, String)> {
        let owned = self.owned.map(|path| path.to_string_lossy().into_owned());
        let value = |value: Option<DeltaE>| value.map(|value| value.value().to_string());
        let all = [
            ("apart", value(self.distinct.filter(|apart| *apart > DeltaE::default()))),
            ("buy-within", value(self.buy_within)),
            ("distinct", self.distinct.map(|_| "true".to_owned())),
            ("extra-range", value(self.extra_range)),
            ("owned", owned),
        ];
        all.into_iter().filter_map(|(name, said)| Some((name.to_owned(), said?))).collect()
    }
}

/// Every table but the first one typed has the price.
fn prices(work: &ChartWork, price: DeltaE) -> Result<Vec<RangePrice>> {
    let Some((_, extra)) = work.shop.tables.split_first() else {
        return Err(Failure::said(
            "--extra-range: no table is named first",
            "name the main range with --table, and the others after it",
        ));
    };
    Ok(extra.iter().map(|table| RangePrice { table: table.clone(), price }).collect())
}

/// The threads of a person's own list.
pub(crate) fn own_list(
    shop: &mut Shop,
    path: &Path,
    shown: usize,
    printer: &mut Printer,
) -> Result<OwnList> {
    let bytes = files::read(path)?;
    let source = path.to_string_lossy();
    let tables = shop.searched()?;
    let tables: Vec<Table> =
        tables.iter().map(|id| shop.backend.table(id)).collect::<Result<_>>()?;
    let list = own_threads::read(&bytes, &source, &tables)?;
    show_some(&source, &list.notices, (shown, "--details"), printer);
    Ok(list)
}
