//! The threads nearest to a color over one or several tables: filters, limit, ties.
//! It does not know how a search is pruned or how an answer is shown.

use crate::catalog::{Catalog, CatalogTable};
use crate::color::Color;
use crate::difference::{DeltaE, Difference, Formula};
use crate::error::Result;
use crate::index::Hit;
use crate::table::{Finish, Price, TableId, Thread, ThreadRef};

pub use crate::index::Tally;

/// Most threads that one question may ask for.
pub const MAX_COUNT: usize = 1_000;

/// What is asked, with every field given by the caller: core has no defaults.
#[derive(Clone, Debug, PartialEq)]
pub struct NearestOptions {
    /// Tables to search; empty means all.
    pub tables: Vec<TableId>,
    /// Most threads to answer, 1 to [`MAX_COUNT`].
    pub count: usize,
    /// The formula that ranks.
    pub formula: Formula,
    /// Threads farther than this are not matches.
    pub limit: Option<DeltaE>,
    /// Which threads may answer.
    pub filter: ThreadFilter,
}

/// Which threads may answer. An empty filter admits all; every part acts only when given.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ThreadFilter {
    /// Only threads that can be bought today; an unknown status is not available.
    pub available_only: bool,
    /// Only these finishes; empty means any.
    pub finishes: Vec<Finish>,
    /// Only these fibers, in lower case; empty means any.
    pub fibers: Vec<String>,
    /// Never these threads.
    pub excluded: Vec<ThreadRef>,
    /// Only threads priced at most this, in the same currency; a thread without a price is out.
    pub max_price: Option<Price>,
}

impl ThreadFilter {
    /// True when the thread may answer.
    #[must_use]
    pub fn admits(&self, table: &TableId, thread: &Thread) -> bool {
        (!self.available_only || thread.status.is_available())
            && (self.finishes.is_empty() || self.finishes.contains(&thread.finish))
            && (self.fibers.is_empty()
                || thread.fiber.as_ref().is_some_and(|fiber| self.fibers.contains(fiber)))
            && self
                .max_price
                .is_none_or(|limit| thread.price.is_some_and(|price| costs_at_most(price, limit)))
            && !self.excluded.iter().any(|out| out.table == *table && out.code == thread.code)
    }
}

fn costs_at_most(price: Price, limit: Price) -> bool {
    let same = limit.currency.is_none() || price.currency == limit.currency;
    same && price.micros <= limit.micros
}

/// One thread that answers, with its difference from the color asked for.
#[derive(Clone, Debug)]
pub struct Match<'c> {
    /// The table it stands in.
    pub table: &'c CatalogTable,
    /// The thread.
    pub thread: &'c Thread,
    /// The difference; the standard is the color asked for.
    pub difference: Difference,
}

/// The answer to one color.
#[derive(Clone, Debug)]
pub struct Nearest<'c> {
    /// Threads within the limit: by difference, then table id, then code.
    pub matches: Vec<Match<'c>>,
    /// The nearest thread beyond the limit, when no thread is within it.
    pub beyond: Option<Match<'c>>,
    /// The work done.
    pub tally: Tally,
}

/// The threads nearest to a color, exact for the formula.
///
/// # Errors
///
/// [`crate::ErrorKind::UnknownTable`], or [`crate::ErrorKind::ConditionsDiffer`] when the color and
/// a table were measured under different conditions.
pub fn nearest<'c>(
    catalog: &'c Catalog,
    standard: &Color,
    options: &NearestOptions,
) -> Result<Nearest<'c>> {
    let mut tally = Tally::default();
    let mut found: Vec<Match<'c>> = Vec::new();
    for held in catalog.choose(&options.tables)? {
        let threads = held.table().threads();
        let admit = |row: usize| {
            threads.get(row).is_some_and(|thread| options.filter.admits(held.table().id(), thread))
        };
        let hits = held.index().nearest(
            standard.lab(),
            options.count,
            options.formula,
            &admit,
            &mut tally,
        );
        for Hit { row, .. } in hits {
            if let Some(thread) = threads.get(row) {
                let difference = Difference::between(standard, &thread.color, options.formula)?;
                found.push(Match { table: held, thread, difference });
            }
        }
    }
    found.sort_by(order);
    found.truncate(options.count);
    let within = options.limit.map_or(found.len(), |limit| {
        found.iter().take_while(|hit| hit.difference.delta_e.value() <= limit.value()).count()
    });
    let beyond = if within == 0 { found.first().cloned() } else { None };
    found.truncate(within);
    Ok(Nearest { matches: found, beyond, tally })
}

/// Difference, then table id, then code.
fn order(left: &Match<'_>, right: &Match<'_>) -> std::cmp::Ordering {
    left.difference
        .delta_e
        .order(&right.difference.delta_e)
        .then_with(|| left.table.table().id().cmp(right.table.table().id()))
        .then_with(|| left.thread.code.cmp(&right.thread.code))
}
