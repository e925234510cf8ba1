//! Mostly this range, gaps from that one: which priced ranges are worth their price. The ranges are
//! the sites of a p-median with prices, so that its proof is the answer's. It does not know charts.

use std::collections::{BTreeMap, BTreeSet};

use super::super::case::{Candidate, Case, Scope, Wish};
use super::super::evidence::RUNNERS_UP;
use super::super::median::{self, Beyond, Cells, Outcome, Problem};
use super::super::meter::Meter;
use super::super::model::nothing_admitted;
use super::need::Need;
use super::{Chosen, EFFORT, Quiet, RangePrice};
use crate::change::{RangeReport, RangeUse, Totals};
use crate::difference::DeltaE;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::table::TableId;

/// The ranges to choose from, by table id, each with its price.
pub(super) struct Prices<'c> {
    pub(super) ranges: Vec<(&'c TableId, f64)>,
    /// Ranges that keeps and answers take from whatever they cost.
    pub(super) taken: BTreeSet<&'c TableId>,
}

impl<'c> Prices<'c> {
    pub(super) fn of(case: &Case<'_, 'c>, prices: &[RangePrice]) -> Result<Self> {
        let mut ranges: BTreeMap<&'c TableId, f64> = BTreeMap::new();
        for held in case.catalog.choose(&case.ask.tables)? {
            ranges.insert(held.table().id(), 0.0);
        }
        for (place, priced) in prices.iter().enumerate() {
            match ranges.get_mut(&priced.table) {
                Some(price) => *price = priced.price.value(),
                None => return Err(not_chosen(place, &priced.table, &ranges)),
            }
        }
        let fixed = |wish: &Wish<'c>| match wish {
            Wish::Fixed(threads) => threads.iter().map(|thread| thread.table).collect(),
            Wish::Free(_) => Vec::new(),
        };
        let taken = case.wishes.iter().flat_map(fixed).collect();
        Ok(Self { ranges: ranges.into_iter().collect(), taken })
    }

    /// What is still to pay for a range.
    pub(super) fn due(&self, range: usize) -> f64 {
        let held = self.ranges.get(range);
        held.map_or(0.0, |(table, price)| if self.taken.contains(table) { 0.0 } else { *price })
    }

    /// The report with what every range serves.
    pub(super) fn finished(
        &self,
        report: &RangeReport,
        case: &Case<'_, '_>,
        after: &[Vec<Candidate<'_>>],
        totals: &Totals,
    ) -> RangeReport {
        let mut uses: BTreeMap<&TableId, RangeUse> = BTreeMap::new();
        for (table, price) in &self.ranges {
            uses.insert(table, unused(table, *price));
        }
        let mut threads = BTreeSet::new();
        for (color, after) in case.palette.colors().iter().zip(after) {
            let tables: BTreeSet<&TableId> = after.iter().map(|thread| thread.table).collect();
            for table in tables {
                let held = uses.entry(table).or_insert_with(|| unused(table, 0.0));
                held.stitches = held.stitches.saturating_add(color.stitches);
            }
            for thread in after.iter().filter(|thread| threads.insert(**thread)) {
                uses.entry(thread.table).and_modify(|held| held.threads += 1);
            }
        }
        let in_use = uses.values().filter(|held| held.threads > 0);
        let paid: f64 = in_use.map(|held| held.price.value()).sum();
        let cost = totals.mean_difference.value() + paid;
        // The bound of the search is on what is still to be decided; the rest is the same for all.
        let rest = cost - report.cost.value();
        let bound = report.lower_bound.map(|bound| (bound.value() + rest).min(cost).max(0.0));
        RangeReport {
            ranges: uses.into_values().collect(),
            cost: DeltaE::computed(cost),
            lower_bound: bound.map(DeltaE::computed),
            proved_best: report.proved_best,
        }
    }
}

fn unused(table: &TableId, price: f64) -> RangeUse {
    let price = DeltaE::computed(price);
    RangeUse { table: table.clone(), price, threads: 0, stitches: 0 }
}

fn not_chosen(place: usize, table: &TableId, known: &BTreeMap<&TableId, f64>) -> Error {
    let known: Vec<&str> = known.keys().map(|id| id.as_str()).take(10).collect();
    Error::new(ErrorKind::BadValue {
        value: table.to_string(),
        reason: "a price for a table that is not among those to choose from".into(),
        remedy: format!("the tables are {}", known.join(", ")),
    })
    .at(Place::field(format!("range_prices[{place}].table_id")))
}

/// A report of the search: what the needs cost, with the prices that are still to pay.
pub(super) fn searched(cost: f64, bound: Option<f64>, proved: bool) -> RangeReport {
    RangeReport {
        ranges: Vec::new(),
        cost: DeltaE::computed(cost),
        lower_bound: bound.map(|bound| DeltaE::computed(bound.min(cost).max(0.0))),
        proved_best: proved,
    }
}

/// What each need has of each range: the nearest thread and its cost; its own thread costs nothing.
pub(super) struct Offers<'c> {
    pub(super) best: Vec<Vec<Option<(f64, Candidate<'c>)>>>,
}

impl<'c> Offers<'c> {
    pub(super) fn of(
        case: &Case<'_, 'c>,
        needs: &[Need<'c>],
        prices: &Prices<'c>,
        meter: &mut Meter<'_>,
    ) -> Result<Self> {
        let mut best = Vec::with_capacity(needs.len());
        for need in needs {
            let mut row = Vec::with_capacity(prices.ranges.len());
            for (table, _) in &prices.ranges {
                let own = need.own.filter(|own| own.table == *table);
                row.push(match own {
                    Some(own) => Some((0.0, own)),
                    None => {
                        let tables = [(*table).clone()];
                        let scope = Scope { tables: &tables, count: 1, limit: None };
                        let near = case.nearest_in(&scope, need.color, &need.standard, meter)?;
                        near.first().map(|(thread, apart)| (need.weight * apart, *thread))
                    }
                });
            }
            best.push(row);
        }
        Ok(Self { best })
    }

    fn cells(&self, columns: usize) -> Cells {
        let row = |row: &Vec<Option<(f64, Candidate<'_>)>>| {
            let listed = (0_u32..).zip(row);
            listed.filter_map(|(column, cell)| cell.map(|(cost, _)| (cost, column))).collect()
        };
        let rows: Vec<Vec<(f64, u32)>> = self.best.iter().map(row).collect();
        let beyond = vec![Beyond::NOTHING; rows.len()];
        Cells::new(columns, rows, beyond)
    }
}

/// The threads that cost least together with the ranges that they open.
pub(super) fn choose<'c>(
    case: &Case<'_, 'c>,
    needs: &[Need<'c>],
    prices: &Prices<'c>,
    meter: &mut Meter<'_>,
) -> Result<Chosen<'c>> {
    let offers = Offers::of(case, needs, prices, meter)?;
    let columns = prices.ranges.len();
    let problem = Problem {
        cells: offers.cells(columns),
        prices: (0..columns).map(|range| prices.due(range)).collect(),
        locked: vec![false; columns],
        most: columns,
        grain: 0.0,
    };
    let solution = match median::solve(&problem, EFFORT, &mut Quiet(meter))? {
        Outcome::Found(solution) => solution,
        Outcome::Impossible { .. } => return Err(nothing_admitted(case)),
    };
    let open: Vec<TableId> = solution
        .open
        .iter()
        .filter_map(|range| prices.ranges.get(*range))
        .map(|(table, _)| (*table).clone())
        .collect();
    let (mut threads, mut runners_up) = (Vec::new(), Vec::new());
    for ((need, row), seat) in needs.iter().zip(&offers.best).zip(&solution.seats) {
        let (_, thread) =
            row.get(*seat).copied().flatten().ok_or_else(|| nothing_admitted(case))?;
        threads.push(thread);
        let scope = Scope { tables: &open, count: RUNNERS_UP + 1, limit: None };
        let near = case.nearest_in(&scope, need.color, &need.standard, meter)?;
        let others = near.into_iter().map(|(other, _)| other);
        runners_up.push(others.filter(|other| *other != thread).take(RUNNERS_UP).collect());
    }
    let mut chosen = Chosen::new(threads, runners_up);
    chosen.ranges = Some(searched(solution.total, Some(solution.bound), solution.proved));
    Ok(chosen)
}
