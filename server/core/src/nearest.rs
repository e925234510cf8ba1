//! The threads nearest to a color over one or several tables: filters, limit, ties.
//! It does not know how a search is pruned or how an answer is shown.

mod over_lights;

use std::cmp::Ordering;

use crate::catalog::near::{Around, Near};
use crate::catalog::{Catalog, CatalogTable};
use crate::color::{AdaptationMethod, Color};
use crate::difference::{DeltaE, Difference, Formula, Measure};
use crate::error::Result;
use crate::index::{More, arrange};
use crate::noise;
use crate::spectrum::{Lights, OverLights, Seen};
use crate::table::{Finish, Price, TableId, Thread, ThreadRef};
use crate::watch::{Patient, Watch};

pub use crate::index::{InstructionSet, ManyColors, Tally};

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
    /// How a measured color is carried over to tables that were measured under another light;
    /// without it such a question is refused.
    pub adaptation: Option<AdaptationMethod>,
    /// Ranks by the largest difference under these lights, from spectra, whatever light the colors
    /// were measured under. Threads without a spectrum are left out and counted, a color without
    /// one is refused.
    pub lights: Option<Lights>,
    /// Threads farther than this are not matches.
    pub limit: Option<DeltaE>,
    /// Which threads may answer.
    pub filter: ThreadFilter,
    /// Whether threads beyond the count are looked for that are as near as the best one, as far as
    /// the data can tell.
    pub count_as_near: bool,
}

/// Most threads that [`Nearest::more_as_near`] counts.
pub const MAX_MORE_AS_NEAR: usize = 100;

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
    /// True when any thread may answer.
    fn admits_all(&self) -> bool {
        let Self { available_only, finishes, fibers, excluded, max_price } = self;
        !available_only
            && finishes.is_empty()
            && fibers.is_empty()
            && excluded.is_empty()
            && max_price.is_none()
    }

    /// True when the thread may answer.
    #[must_use]
    pub fn admits(&self, table: &TableId, thread: &Thread) -> bool {
        (!self.available_only || thread.status.is_available())
            && (self.finishes.is_empty() || self.finishes.contains(&thread.finish))
            && (self.fibers.is_empty()
                || thread
                    .fiber
                    .as_deref()
                    .is_some_and(|own| self.fibers.iter().any(|fiber| fiber == own)))
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

/// Threads for which an answer makes room from the start.
const ROOM: usize = 8;

/// One thread that answers, with its difference from the color asked for.
#[derive(Clone, Debug)]
pub struct Match<'c> {
    /// The table it stands in.
    pub table: &'c CatalogTable,
    /// The thread.
    pub thread: &'c Thread,
    /// The difference; the standard is the color asked for. Where lights rank, that under the worst
    /// of them.
    pub difference: Difference,
    /// How the two hold under the lights that rank, or under the usual ones; `None` unless both have
    /// spectra.
    pub over_lights: Option<Box<OverLights>>,
    /// True when the data cannot tell whether this thread or the first match is nearer; false for
    /// the first match itself.
    ///
    /// The two differences lie no farther apart than the root mean square of the uncertainties of
    /// the three colors, so about one unit for colors of a screen (house choice).
    pub as_near: bool,
}

/// The answer to one color.
#[derive(Clone, Debug)]
pub struct Nearest<'c> {
    /// Threads within the limit: by difference, then table id, then code.
    pub matches: Vec<Match<'c>>,
    /// Threads within the limit that the count left out and that are as near as the first match, as
    /// far as the data can tell; at most [`MAX_MORE_AS_NEAR`] are counted. 0 when nobody asked.
    pub more_as_near: usize,
    /// The nearest thread beyond the limit, when no thread is within it.
    pub beyond: Option<Match<'c>>,
    /// Threads that pass the filter and were left out where lights rank: without a spectrum, or too
    /// bright for CIELAB under one of the lights.
    pub left_out: usize,
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
///     adaptation: None,
///     lights: None,
///     limit: Some(DeltaE::new(5.0)?),
///     filter: ThreadFilter::default(),
///     count_as_near: true,
/// };
/// let answer = nearest(&catalog, &asked, &options)?;
/// assert_eq!(answer.matches[0].thread.code.as_str(), "moss");
/// assert!(answer.beyond.is_none());
/// assert_eq!(answer.more_as_near, 0);
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`crate::ErrorKind::UnknownTable`], or [`crate::ErrorKind::ConditionsDiffer`] when the color and
/// a thread of a table were measured under different conditions and no adaptation is asked for;
/// [`crate::ErrorKind::BadValue`] when it is and the observers differ.
pub fn nearest<'c>(
    catalog: &'c Catalog,
    standard: &Color,
    options: &NearestOptions,
) -> Result<Nearest<'c>> {
    nearest_seen(catalog, Seen { color: standard, spectrum: None }, options, &Patient)
}

/// The threads nearest to a color that may have a spectrum: with one, every match says how it holds
/// under other lights, and lights can rank.
///
/// # Errors
///
/// Those of [`nearest`]; [`crate::ErrorKind::Stopped`]; where lights rank,
/// [`crate::ErrorKind::BadValue`] for a color without a spectrum and [`crate::ErrorKind::BadColor`]
/// for one that is too bright under one of them.
pub fn nearest_seen<'c>(
    catalog: &'c Catalog,
    standard: Seen<'_>,
    options: &NearestOptions,
    watch: &dyn Watch,
) -> Result<Nearest<'c>> {
    Question::new(catalog, options, watch)?.ask(standard)
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
    // Colors near each other are asked for one after the other: they need the same blocks.
    let mut order: Vec<usize> = (0..standards.len()).collect();
    arrange(&mut order, |place| {
        standards.get(*place).map_or([0.0; 3], |color| color.lab().components())
    });
    let mut answers: Vec<(usize, Nearest<'c>)> = Vec::with_capacity(standards.len());
    for place in order {
        if let Some(color) = standards.get(place) {
            answers.push((place, question.ask(Seen { color, spectrum: None })?));
        }
    }
    answers.sort_unstable_by_key(|(place, _)| *place);
    Ok(answers.into_iter().map(|(_, answer)| answer).collect())
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
        if self.options.lights.is_some() {
            return Ok(());
        }
        let adaptation = self.options.adaptation;
        self.tables.iter().try_for_each(|held| held.accept_adapting(standard, adaptation))
    }

    fn ask(&self, seen: Seen<'_>) -> Result<Nearest<'c>> {
        let standard = seen.color;
        self.accept(standard)?;
        let mut tally = Tally::default();
        let lights = self.options.lights.as_ref();
        let (mut found, left_out) = match lights {
            Some(lights) => {
                let ranked = over_lights::rank(self, seen, lights)?;
                (ranked.found, ranked.left_out)
            }
            None => (self.search(standard, &mut tally)?, 0),
        };
        let within = self.within(&found);
        let mut beyond = if within == 0 { found.first().cloned() } else { None };
        found.truncate(within);
        mark_as_near(standard, &mut found);
        let beyond_count = found.iter().skip(self.options.count);
        let more_as_near = beyond_count.filter(|hit| hit.as_near).count();
        found.truncate(self.options.count);
        if found.capacity() > 2 * found.len() {
            found.shrink_to_fit();
        }
        for matches in [found.as_mut_slice(), beyond.as_mut_slice()] {
            over_lights::tell(seen, lights, matches, self.options.formula);
        }
        Ok(Nearest { matches: found, more_as_near, beyond, left_out, tally })
    }

    /// The best of all tables in order. Each table gives its best ones in full, ties included, so
    /// that the best of all are among them.
    fn search(&self, standard: &Color, tally: &mut Tally) -> Result<Vec<Match<'c>>> {
        let NearestOptions { count, formula, adaptation, limit, filter, .. } = self.options;
        let measure = Measure { formula: *formula, adaptation: *adaptation };
        let more = self.more(standard);
        let mut found: Vec<Match<'c>> = Vec::new();
        for held in self.tables.iter().copied() {
            let admit = |row: usize| {
                held.thread_at(row).is_some_and(|thread| filter.admits(held.table().id(), thread))
            };
            let (limit, watch) = (*limit, self.watch);
            let admit: Option<&dyn Fn(usize) -> bool> =
                if filter.admits_all() { None } else { Some(&admit) };
            let around = Around { count: *count, more, measure, limit, admit, watch };
            found.reserve(around.most().min(ROOM));
            held.show_near(standard, &around, tally, &mut |Near { row, difference }| {
                let Some(thread) = held.thread_at(row) else { return };
                let over_lights = None;
                found.push(Match { table: held, thread, difference, over_lights, as_near: false });
            })?;
        }
        found.sort_by(order);
        found.truncate(count + more.map_or(0, |more| more.at_most));
        Ok(found)
    }

    /// The threads beyond the count that may be as near as the first one, as far as the data can
    /// tell: none of them is farther from it than the least certain colors allow.
    fn more(&self, standard: &Color) -> Option<More> {
        if !self.options.count_as_near {
            return None;
        }
        let least_certain = self.tables.iter().map(|held| held.least_certain()).fold(0.0, f64::max);
        let own = noise::of(standard);
        let own = if self.options.adaptation.is_some() { noise::adapted(own) } else { own };
        let within = noise::between([own, least_certain, least_certain], self.options.formula);
        Some(More { within, at_most: MAX_MORE_AS_NEAR })
    }

    /// How many of the threads found are within the limit.
    fn within(&self, found: &[Match<'_>]) -> usize {
        self.options.limit.map_or(found.len(), |limit| {
            found.partition_point(|hit| hit.difference.delta_e.value() <= limit.value())
        })
    }
}

/// Marks the threads that the data cannot tell from the first one.
fn mark_as_near(standard: &Color, found: &mut [Match<'_>]) {
    let Some((first, others)) = found.split_first_mut() else { return };
    for other in others {
        let best = (&first.thread.color, &first.difference);
        other.as_near = noise::hides(standard, best, (&other.thread.color, &other.difference));
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
