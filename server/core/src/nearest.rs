//! The threads nearest to a color over one or several tables: filters, limit, ties.
//! It does not know how a search is pruned or how an answer is shown.

use std::cmp::Ordering;

use crate::catalog::{Catalog, CatalogTable};
use crate::color::Color;
use crate::difference::{DeltaE, Difference, Formula, Pair};
use crate::error::Result;
use crate::index::{Ask, Hit};
use crate::table::{Finish, Price, TableId, Thread, ThreadRef};
use crate::watch::{Patient, Watch};

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
/// ```
/// use dyekin_core::nearest::{NearestOptions, ThreadFilter, nearest};
/// use dyekin_core::table::{Code, Table, TableId, Thread};
/// use dyekin_core::{Catalog, Color, DeltaE, Formula, Srgb8};
///
/// # fn main() -> Result<(), dyekin_core::Error> {
/// let thread = |code: &str, hex: &str| -> Result<Thread, dyekin_core::Error> {
///     Ok(Thread::plain(Code::parse(code)?, "", Color::screen(Srgb8::parse_hex(hex)?)))
/// };
/// let threads = vec![thread("moss", "#4a6b3c")?, thread("brick", "#8f3a2e")?];
/// let table = Table::new(TableId::parse("shelf")?, threads).map_err(|mut all| all.remove(0))?;
/// let catalog = Catalog::build([table]);
///
/// let asked = Color::screen(Srgb8::parse_hex("#4c6d3a")?);
/// let options = NearestOptions {
///     tables: Vec::new(),
///     count: 1,
///     formula: Formula::DEFAULT,
///     limit: Some(DeltaE::new(5.0)?),
///     filter: ThreadFilter::default(),
/// };
/// let answer = nearest(&catalog, &asked, &options)?;
/// assert_eq!(answer.matches[0].thread.code.as_str(), "moss");
/// assert!(answer.beyond.is_none());
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`crate::ErrorKind::UnknownTable`], or [`crate::ErrorKind::ConditionsDiffer`] when the color and
/// a thread of a table were measured under different conditions.
pub fn nearest<'c>(
    catalog: &'c Catalog,
    standard: &Color,
    options: &NearestOptions,
) -> Result<Nearest<'c>> {
    Question::new(catalog, options, &Patient)?.ask(standard)
}

/// The threads nearest to each of many colors, in the order of the colors. Gives up as soon as the
/// one who waits no longer does.
///
/// # Errors
///
/// Those of [`nearest`], and [`crate::ErrorKind::Stopped`].
pub fn nearest_many<'c>(
    catalog: &'c Catalog,
    standards: &[Color],
    options: &NearestOptions,
    watch: &dyn Watch,
) -> Result<Vec<Nearest<'c>>> {
    let question = Question::new(catalog, options, watch)?;
    // All colors are accepted before the first one is searched: an error comes at once.
    standards.iter().try_for_each(|standard| question.accept(standard))?;
    standards.iter().map(|standard| question.ask(standard)).collect()
}

/// What is the same for every color of a request.
struct Question<'c, 'o> {
    tables: Vec<&'c CatalogTable>,
    options: &'o NearestOptions,
    watch: &'o dyn Watch,
}

impl<'c, 'o> Question<'c, 'o> {
    fn new(
        catalog: &'c Catalog,
        options: &'o NearestOptions,
        watch: &'o dyn Watch,
    ) -> Result<Self> {
        let tables = catalog.choose(&options.tables)?.into_iter().map(AsRef::as_ref).collect();
        Ok(Self { tables, options, watch })
    }

    fn accept(&self, standard: &Color) -> Result<()> {
        self.tables.iter().try_for_each(|held| held.accept(standard))
    }

    fn ask(&self, standard: &Color) -> Result<Nearest<'c>> {
        self.accept(standard)?;
        let mut tally = Tally::default();
        let mut found: Vec<Match<'c>> = Vec::new();
        for held in self.tables.iter().copied() {
            let hits = self.search(held, standard, &mut tally)?;
            for (thread, delta_e) in
                hits.iter().filter_map(|hit| Some((held.thread_at(hit.row)?, hit.delta_e)))
            {
                let pair = Pair { standard: standard.lab(), sample: thread.color.lab() };
                let trust = Color::trust(standard, &thread.color)?;
                let difference = Difference::scored(pair, self.options.formula, delta_e, trust);
                found.push(Match { table: held, thread, difference });
            }
        }
        Ok(self.answer(found, tally))
    }

    fn search(&self, held: &CatalogTable, standard: &Color, tally: &mut Tally) -> Result<Vec<Hit>> {
        let admit = |row: usize| {
            held.thread_at(row)
                .is_some_and(|thread| self.options.filter.admits(held.table().id(), thread))
        };
        let ask = Ask {
            standard: standard.lab(),
            count: self.options.count,
            formula: self.options.formula,
            limit: self.options.limit,
            admit: &admit,
            watch: self.watch,
        };
        held.index().nearest(&ask, tally)
    }

    /// Each table gave its best ones in full, ties included, so that the best of all are among them.
    fn answer(&self, mut found: Vec<Match<'c>>, tally: Tally) -> Nearest<'c> {
        found.sort_by(order);
        found.truncate(self.options.count);
        let within = self.options.limit.map_or(found.len(), |limit| {
            found.partition_point(|hit| hit.difference.delta_e.value() <= limit.value())
        });
        let beyond = if within == 0 { found.first().cloned() } else { None };
        found.truncate(within);
        Nearest { matches: found, beyond, tally }
    }
}

/// Difference, then table id, then code.
fn order(left: &Match<'_>, right: &Match<'_>) -> Ordering {
    left.difference
        .delta_e
        .order(&right.difference.delta_e)
        .then_with(|| left.table.table().id().cmp(right.table.table().id()))
        .then_with(|| left.thread.code.cmp(&right.thread.code))
}

#[cfg(test)]
mod tests;
