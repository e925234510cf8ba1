//! Each color to a thread of the supply: the nearest, or the best for all together where ranges have
//! a price, threads have to be bought, or no two colors may fall together. It does not know the
//! chart.

mod distinct;
mod need;
mod owned;
mod ranges;

use std::collections::BTreeSet;

use super::Ask;
use super::case::{Candidate, Case, Wish};
use super::evidence::{self, Outcome, RUNNERS_UP};
use super::median::{Effort, Pace};
use super::meter::Meter;
use super::model::nothing_admitted;
use crate::catalog::Catalog;
use crate::change::{ChangeList, JointReport, OwnReport, Question, RangeReport, Remark};
use crate::difference::DeltaE;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::palette::PaletteSummary;
use crate::table::{TableId, ThreadRef};
use need::{Need, needs};

/// Most own threads of one question.
pub const MAX_OWNED: usize = 10_000;

/// Most colors that one question keeps apart: seating them jointly takes their number squared times
/// the threads that may serve them.
pub const MAX_DISTINCT: usize = 512;

/// Most priced ranges of a question that keeps colors apart: every choice of ranges is a question of
/// its own.
pub const MAX_PRICED: usize = 12;

/// What one choice of ranges or of purchases is worth.
const EFFORT: Effort = Effort { cells: 200_000_000, nodes: 20_000 };

/// What to convert into.
#[derive(Clone, Debug, PartialEq)]
pub struct ConvertOptions {
    /// Which threads are to be had.
    pub supply: Supply,
    /// Colors that differ get threads that differ, at least by so much, the smaller one of both
    /// directions; 0 asks only for different threads. `None` lets colors fall together.
    pub distinct: Option<DeltaE>,
}

/// Which threads a conversion may take.
#[derive(Clone, Debug, PartialEq)]
pub enum Supply {
    /// All threads of the chosen tables.
    All,
    /// Threads of the owner and, where a limit is given, the fewest others that bring every color
    /// within it. Own threads need not be available, nor cost little.
    Owned {
        /// The owner's threads, at most [`MAX_OWNED`].
        threads: Vec<ThreadRef>,
        /// The limit; `None` when nothing is bought.
        buy_within: Option<DeltaE>,
    },
    /// All threads of the chosen tables, some of which have a price.
    Priced(Vec<RangePrice>),
}

/// What a range costs once any thread is taken from it.
#[derive(Clone, Debug, PartialEq)]
pub struct RangePrice {
    /// The range; tables without a price cost nothing.
    pub table: TableId,
    /// Mean difference per stitch of the whole chart that taking it must save.
    pub price: DeltaE,
}

/// What was chosen for the needs, in their order.
struct Chosen<'c> {
    threads: Vec<Candidate<'c>>,
    runners_up: Vec<Vec<Candidate<'c>>>,
    /// Needs that no thread brings within the limit.
    beyond: BTreeSet<usize>,
    /// Lower bound on what the needs add to the mean difference.
    bound: Option<f64>,
    proved: bool,
    joint: Option<JointReport>,
    ranges: Option<RangeReport>,
    own: Option<OwnReport>,
}

impl<'c> Chosen<'c> {
    fn new(threads: Vec<Candidate<'c>>, runners_up: Vec<Vec<Candidate<'c>>>) -> Self {
        Self {
            threads,
            runners_up,
            beyond: BTreeSet::new(),
            bound: None,
            proved: false,
            joint: None,
            ranges: None,
            own: None,
        }
    }
}

pub(super) fn run(
    catalog: &Catalog,
    palette: &PaletteSummary,
    ask: &Ask,
    options: &ConvertOptions,
    meter: &mut Meter<'_>,
) -> Result<ChangeList> {
    let case = Case::new(catalog, palette, ask, meter)?;
    let needs = needs(&case);
    let stock = match &options.supply {
        Supply::Owned { threads, buy_within } => {
            Some(owned::Stock::of(&case, threads, *buy_within)?)
        }
        Supply::All | Supply::Priced(_) => None,
    };
    let prices = match &options.supply {
        Supply::Priced(prices) => Some(ranges::Prices::of(&case, prices)?),
        Supply::All | Supply::Owned { .. } => None,
    };
    let chosen = match (options.distinct, &stock, &prices) {
        (Some(apart), Some(stock), _) => distinct::from_own(&case, &needs, apart, stock, meter)?,
        (Some(apart), None, Some(prices)) => {
            distinct::from_ranges(&case, &needs, apart, prices, meter)?
        }
        (Some(apart), None, None) => distinct::from_all(&case, &needs, apart, meter)?,
        (None, Some(stock), _) => owned::choose(&case, &needs, stock, meter)?,
        (None, None, Some(prices)) => ranges::choose(&case, &needs, prices, meter)?,
        (None, None, None) => nearest_each(&case, &needs, meter)?,
    };
    let outcome = outcome(&case, &needs, &chosen, meter)?;
    let mut list = evidence::list(&case, &outcome, meter)?;
    list.joint = chosen.joint;
    list.ranges = match (prices, chosen.ranges) {
        (Some(prices), Some(report)) => {
            Some(prices.finished(&report, &case, &outcome.after, &list.totals))
        }
        (_, report) => report,
    };
    list.own = match (stock, chosen.own) {
        (Some(stock), Some(report)) => Some(stock.finished(&report, &case, &outcome.after)),
        (_, report) => report,
    };
    Ok(list)
}

/// The threads of the needs, put together by color, and those that are settled.
fn outcome<'c>(
    case: &Case<'_, 'c>,
    needs: &[Need<'c>],
    chosen: &Chosen<'c>,
    meter: &mut Meter<'_>,
) -> Result<Outcome<'c>> {
    let count = case.palette.colors().len();
    let mut after: Vec<Vec<Candidate<'c>>> = vec![Vec::new(); count];
    let mut runners_up: Vec<Vec<Candidate<'c>>> = vec![Vec::new(); count];
    let mut remarks: Vec<Vec<Remark>> = vec![Vec::new(); count];
    for (place, (need, thread)) in needs.iter().zip(&chosen.threads).enumerate() {
        if let Some(after) = after.get_mut(need.color) {
            after.push(*thread);
        }
        // The runners-up of a blend are those of the first strand that changes.
        let stays = need.own.is_some_and(|own| own == *thread);
        if let (Some(held), Some(others)) =
            (runners_up.get_mut(need.color), chosen.runners_up.get(place))
            && held.is_empty()
            && !stays
        {
            held.clone_from(others);
        }
        if let Some(remarks) = remarks.get_mut(need.color)
            && chosen.beyond.contains(&place)
            && remarks.is_empty()
        {
            remarks.push(Remark::BeyondLimit);
        }
    }
    let settled = case.wishes.iter().enumerate();
    for ((place, wish), (after, others)) in settled.zip(after.iter_mut().zip(&mut runners_up)) {
        if let Wish::Fixed(threads) = wish {
            after.clone_from(threads);
            *others = near(case, place, threads, meter)?;
        }
    }
    let settled = settled_mean(case)?;
    let bound = chosen.bound.map(|bound| bound + settled);
    let proved = chosen.proved;
    Ok(Outcome {
        question: Question::Convert,
        after,
        runners_up,
        remarks,
        bound,
        proved,
        combined: None,
    })
}

/// Part of the mean difference that keeps and answers settle.
fn settled_mean(case: &Case<'_, '_>) -> Result<f64> {
    let mut sum = 0.0;
    let colors = case.palette.colors().iter().enumerate().zip(case.weights());
    for (((place, color), weight), wish) in colors.zip(&case.wishes) {
        if let Wish::Fixed(threads) = wish {
            sum += weight * evidence::mean(&evidence::differences(case, place, color, threads)?);
        }
    }
    Ok(sum)
}

/// Each need to its nearest thread.
fn nearest_each<'c>(
    case: &Case<'_, 'c>,
    needs: &[Need<'c>],
    meter: &mut Meter<'_>,
) -> Result<Chosen<'c>> {
    let (mut threads, mut runners_up) = (Vec::new(), Vec::new());
    for need in needs {
        if let Some(own) = need.own {
            threads.push(own);
            runners_up.push(Vec::new());
            continue;
        }
        let near = case.nearest_for(need.color, &need.standard, RUNNERS_UP + 1, meter)?;
        let mut near = near.into_iter().map(|(thread, _)| thread);
        threads.push(near.next().ok_or_else(|| nothing_admitted(case))?);
        runners_up.push(near.collect());
    }
    Ok(Chosen::new(threads, runners_up))
}

/// The nearest threads of a color but for those that it gets.
fn near<'c>(
    case: &Case<'_, 'c>,
    place: usize,
    chosen: &[Candidate<'c>],
    meter: &mut Meter<'_>,
) -> Result<Vec<Candidate<'c>>> {
    let near = case.nearest_to(place, RUNNERS_UP + chosen.len(), meter)?;
    let others = near.into_iter().map(|(thread, _)| thread);
    Ok(others.filter(|thread| !chosen.contains(thread)).take(RUNNERS_UP).collect())
}

/// Hears the solver without passing anything on: it is done in a blink.
struct Quiet<'m, 'w>(&'m mut Meter<'w>);

impl Pace for Quiet<'_, '_> {
    fn look(&mut self) -> Result<()> {
        self.0.look()
    }

    fn tell(&mut self, _: f64, _: f64, _: Option<f64>) {}
}

fn over(what: &str, found: usize, limit: usize, field: &str) -> Error {
    let (what, found, limit) = (what.to_owned(), found as u64, limit as u64);
    Error::new(ErrorKind::OverLimit { what, found, limit }).at(Place::field(field))
}
