//! How much thread a palette takes: meters, skeins and money, and what stock allows. It builds the
//! problem of limited threads from the one of boundless ones; it does not search.

use std::collections::{BTreeMap, BTreeSet};

use super::ReduceOptions;
use crate::catalog::Catalog;
use crate::change::ThreadNeed;
use crate::error::{Error, ErrorKind, Result};
use crate::planner::case::{Candidate, Case, Wish, whole};
use crate::planner::load::{Column, Problem};
use crate::planner::model::Reduction;
use crate::planner::stock::lengths;
use crate::table::{Price, ThreadRef};

/// Part of a length that rounding may add.
const ROUNDING: f64 = 1e-9;

/// Millionths of a unit of money.
const MICROS: f64 = 1e6;

/// Stitches of each thread: those of a blend share them.
pub(super) type Stitches<'c> = BTreeMap<Candidate<'c>, f64>;

/// What a reduction knows of amounts: prices, and what is there.
pub(super) struct Amounts<'o> {
    options: &'o ReduceOptions,
    per_stitch: f64,
    owned: BTreeSet<&'o ThreadRef>,
    /// Meters that there are; of threads that are not listed there is none.
    stock: Option<BTreeMap<ThreadRef, f64>>,
}

impl<'o> Amounts<'o> {
    /// `None` when nobody asks for amounts.
    pub(super) fn of(catalog: &Catalog, options: &'o ReduceOptions) -> Result<Option<Self>> {
        let of_money = options.money.map(|money| money.meters_per_stitch);
        let of_stock = options.stock.as_ref().map(|stock| stock.meters_per_stitch);
        let Some(per_stitch) = of_money.or(of_stock) else { return Ok(None) };
        let stock = options.stock.as_ref().map(|stock| lengths(catalog, stock)).transpose()?;
        Ok(Some(Self { options, per_stitch, owned: options.owned.iter().collect(), stock }))
    }

    fn is_owned(&self, thread: Candidate<'_>) -> bool {
        self.owned.contains(&thread.name())
    }

    /// Meters of a skein, where they are known.
    fn skein_meters(&self, thread: Candidate<'_>) -> Option<f64> {
        let stated = self.options.money.as_ref().and_then(|money| money.skein_meters);
        thread.thread.skein_metres.or(stated)
    }

    /// Meters that there are, where that is limited.
    fn there(&self, thread: Candidate<'_>) -> Option<f64> {
        let stock = self.stock.as_ref()?;
        Some(stock.get(&thread.name()).copied().unwrap_or(0.0))
    }

    /// The price of a skein, where it is known.
    fn skein_price(&self, thread: Candidate<'_>) -> Option<Price> {
        let stated = self.options.money.as_ref().and_then(|money| money.skein_price);
        thread.thread.price.or(stated)
    }

    /// What a thread costs and holds, in stitches, with those that settled colors take.
    fn column(&self, thread: Candidate<'_>, taken: f64, locked: bool) -> Column {
        let is_owned = self.is_owned(thread);
        let money = self.options.money.as_ref().filter(|_| !is_owned).map(|money| {
            let price = self.skein_price(thread).map_or(0, |price| price.micros.unsigned_abs());
            money.worth.value() * whole(price) / MICROS
        });
        let stitches = |meters: f64| meters / self.per_stitch;
        Column {
            open: if is_owned { 0.0 } else { self.options.thread_worth.value() },
            piece: money.unwrap_or(0.0),
            yields: self.skein_meters(thread).map_or(f64::INFINITY, stitches),
            there: 0.0,
            holds: self.there(thread).map_or(f64::INFINITY, stitches),
            taken,
            locked,
        }
    }

    /// The problem with what threads cost and hold, and what threads beside it cost.
    pub(super) fn problem(
        &self,
        case: &Case<'_, '_>,
        reduction: &Reduction<'_>,
    ) -> Result<(Problem, f64)> {
        self.check_prices(reduction)?;
        let settled = settled(case);
        let taken = |thread: &Candidate<'_>| settled.get(thread).copied().unwrap_or(0.0);
        let threads = reduction.threads.iter().zip(&reduction.problem.locked);
        let columns: Vec<Column> =
            threads.map(|(thread, locked)| self.column(*thread, taken(thread), *locked)).collect();
        let beside = reduction.beside.iter();
        let beside: Vec<Column> =
            beside.map(|thread| self.column(*thread, taken(thread), true)).collect();
        let of_columns = reduction.threads.iter().zip(&columns);
        let of_beside = reduction.beside.iter().zip(&beside);
        for (thread, column) in of_columns.chain(of_beside) {
            if column.taken > column.holds * (1.0 + ROUNDING) {
                return Err(self.settled_too_much(*thread, column));
            }
        }
        let colors = case.palette.colors();
        let stitches =
            |place: &usize| colors.get(*place).map_or(1.0, |color| whole(color.stitches));
        let problem = Problem {
            cells: reduction.problem.cells.clone(),
            weights: reduction.colors.iter().map(stitches).collect(),
            columns,
            most: reduction.problem.most,
            grain: 0.0,
        };
        Ok((problem, beside.iter().map(|column| column.price(0.0)).sum()))
    }

    /// Refuses prices that cannot be added up, and threads without one.
    fn check_prices(&self, reduction: &Reduction<'_>) -> Result<()> {
        if self.options.money.is_none() {
            return Ok(());
        }
        let all = reduction.threads.iter().chain(&reduction.beside);
        let bought: Vec<&Candidate<'_>> = all.filter(|thread| !self.is_owned(**thread)).collect();
        let unpriced: Vec<_> =
            bought.iter().filter(|thread| self.skein_price(***thread).is_none()).collect();
        if let Some(first) = unpriced.first() {
            return Err(not_stated("price", unpriced.len(), &first.name()));
        }
        let unmeasured: Vec<_> =
            bought.iter().filter(|thread| self.skein_meters(***thread).is_none()).collect();
        if let Some(first) = unmeasured.first() {
            return Err(not_stated("length", unmeasured.len(), &first.name()));
        }
        let prices = bought.iter().filter_map(|thread| self.skein_price(**thread));
        let currencies: BTreeSet<String> = prices.map(currency).collect();
        if currencies.len() > 1 {
            let listed: Vec<String> = currencies.into_iter().collect();
            return Err(Error::new(ErrorKind::Impossible {
                reason: format!("prices in {} cannot be added up", listed.join(" and ")),
                nearest: "choose tables whose prices are of one currency".into(),
            }));
        }
        Ok(())
    }

    fn settled_too_much(&self, thread: Candidate<'_>, column: &Column) -> Error {
        let (taken, holds) = (column.taken * self.per_stitch, column.holds * self.per_stitch);
        Error::new(ErrorKind::Impossible {
            reason: format!(
                "what is kept or answered takes {taken:.1} m of {}, of which {holds:.1} m are there",
                thread.name()
            ),
            nearest: "keep fewer colors, take answers back, or find more of it".into(),
        })
    }

    /// What a color needs of one thread that none has, in words; `None` when each fits somewhere.
    pub(super) fn too_large(&self, problem: &Problem) -> Option<(usize, String)> {
        problem.weights.iter().enumerate().find_map(|(row, weight)| {
            let room = |column: usize| {
                problem.columns.get(column).map_or(0.0, |column| column.holds - column.taken)
            };
            let most = problem.cells.row(row).map(|(_, column)| room(column)).fold(0.0, f64::max);
            (most < *weight).then(|| {
                let (needed, most) = (weight * self.per_stitch, most.max(0.0) * self.per_stitch);
                (
                    row,
                    format!(
                        "needs {needed:.1} m of one thread; the most there is of one is {most:.1} m"
                    ),
                )
            })
        })
    }

    /// How much each thread of the list is needed, by table and code.
    pub(super) fn needs(
        &self,
        case: &Case<'_, '_>,
        after: &[Vec<Candidate<'_>>],
    ) -> Vec<ThreadNeed> {
        let mut stitches = Stitches::new();
        let colors = case.palette.colors().iter().zip(after);
        colors.for_each(|(color, threads)| add(&mut stitches, threads, color.stitches));
        let need = |(thread, stitches): (Candidate<'_>, f64)| {
            let meters = stitches * self.per_stitch;
            let skeins = self.skein_meters(thread).map(|held| skeins(meters / held));
            let price = self.skein_price(thread).filter(|_| !self.is_owned(thread));
            let price = price.zip(skeins).map(|(price, count)| Price {
                micros: price.micros.saturating_mul(i64::try_from(count).unwrap_or(i64::MAX)),
                ..price
            });
            ThreadNeed {
                thread: thread.name(),
                meters,
                skeins,
                price,
                owned: self.is_owned(thread),
                stock_meters: self.there(thread),
            }
        };
        stitches.into_iter().map(need).collect()
    }
}

/// Skeins for a need in skeins; a thread that is used takes one at least.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a need is positive, and a cast beyond the largest number stays there"
)]
fn skeins(need: f64) -> u64 {
    (need - 1e-9).ceil().max(1.0) as u64
}

fn currency(price: Price) -> String {
    price.currency.map_or_else(|| "no currency".to_owned(), |currency| currency.to_string())
}

/// Stitches that settled colors take of each thread.
fn settled<'c>(case: &Case<'_, 'c>) -> Stitches<'c> {
    let mut stitches = Stitches::new();
    for (color, wish) in case.palette.colors().iter().zip(&case.wishes) {
        if let Wish::Fixed(threads) = wish {
            add(&mut stitches, threads, color.stitches);
        }
    }
    stitches
}

fn add<'c>(stitches: &mut Stitches<'c>, threads: &[Candidate<'c>], count: u64) {
    let each = whole(count) / whole(threads.len().max(1) as u64);
    for thread in threads {
        *stitches.entry(*thread).or_insert(0.0) += each;
    }
}

fn not_stated(what: &str, count: usize, first: &ThreadRef) -> Error {
    let reason = match count {
        1 => format!("thread {first} has no {what} of a skein"),
        _ => format!("{count} threads have no {what} of a skein, {first} among them"),
    };
    Error::new(ErrorKind::Impossible {
        reason,
        nearest: format!("state the {what} of a skein for threads without one, or exclude them"),
    })
}
