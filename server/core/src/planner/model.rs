//! Reduction as a weighted p-median: open at most so many threads, join each color to one.
//! It does not know how the threads are chosen.

use std::collections::BTreeSet;

use super::case::{Candidate, Case, Wish};
use super::median::{Beyond, Cells, Problem};
use super::meter::Meter;
use super::reduce::ReduceOptions;
use crate::change::Weighing;
use crate::color::Color;
use crate::error::{Error, ErrorKind, Result};
use crate::nearest::MAX_COUNT;
use crate::table::ThreadRef;

/// How much one question may hold and measure.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limits {
    /// Most costs held, at 24 bytes each. Where colors times threads are more, each color brings its
    /// nearest threads only, and the bound accounts for those left out.
    pub(super) cells: usize,
    /// Most differences measured one by one; where there are more, the index finds the nearest.
    pub(super) scan: usize,
}

impl Limits {
    /// About 100 MB, and a few seconds.
    pub(super) const USUAL: Self = Self { cells: 1 << 22, scan: 1 << 25 };
}

/// More than any formula says of two colors.
const FARTHEST: f64 = 1e4;

/// The problem with what its rows and columns stand for. Costs are parts of the mean difference per
/// stitch, or of its square.
pub(super) struct Reduction<'c> {
    pub(super) problem: Problem,
    /// False where a tolerance admits more threads than costs are held: nothing is known of those
    /// left out.
    pub(super) is_whole: bool,
    /// The color of each row.
    pub(super) colors: Vec<usize>,
    /// The thread of each column.
    pub(super) threads: Vec<Candidate<'c>>,
    /// Threads that are settled and that no other color may join.
    pub(super) beside: Vec<Candidate<'c>>,
}

impl<'c> Reduction<'c> {
    /// Builds the problem of a reduction.
    pub(super) fn new(
        case: &Case<'_, 'c>,
        options: &ReduceOptions,
        limits: Limits,
        meter: &mut Meter<'_>,
    ) -> Result<Self> {
        let max_threads = options.max_threads.unwrap_or(usize::MAX);
        let settled = case.settled_threads();
        if settled.len() > max_threads {
            return Err(too_many_settled(settled.len(), max_threads));
        }
        let colors = free_colors(case);
        let threads = if colors.is_empty() { Vec::new() } else { case.candidates()? };
        if threads.is_empty() && !colors.is_empty() {
            return Err(nothing_admitted(case));
        }
        let locked: Vec<bool> = threads.iter().map(|thread| settled.contains(thread)).collect();
        let held = locked.iter().filter(|locked| **locked).count();
        let most = (max_threads - settled.len()).saturating_add(held).min(threads.len());
        if most == 0 && !colors.is_empty() {
            return Err(no_room(settled.len(), max_threads));
        }
        let gather = Gather { case, threads: &threads, locked: &locked, options };
        let (cells, is_whole) = gather.cells(&colors, limits, meter)?;
        let prices = prices(options, &threads);
        let problem = Problem { cells, prices, locked, most, grain: 0.0 };
        let beside = settled.into_iter().filter(|thread| threads.binary_search(thread).is_err());
        Ok(Self { problem, is_whole, colors, beside: beside.collect(), threads })
    }

    /// Measures what a row pays for columns that its list leaves out, where the color may have them;
    /// known costs stay.
    pub(super) fn measure_unlisted<'m>(
        &self,
        case: &Case<'_, 'c>,
        row: usize,
        columns: impl Iterator<Item = (usize, &'m mut f64)>,
        meter: &mut Meter<'_>,
    ) -> Result<()> {
        let Some(color) = self.colors.get(row) else { return Ok(()) };
        let weight = case.weights().get(*color).copied().unwrap_or(0.0);
        let (Some(standard), Some(wish)) = (case.standards.get(*color), case.wishes.get(*color))
        else {
            return Ok(());
        };
        for (column, cost) in columns.filter(|(_, cost)| cost.is_infinite()) {
            let Some(candidate) = self.threads.get(column) else { continue };
            if !is_barred(wish, *candidate) {
                let shade = &candidate.thread.color;
                *cost = weight * meter.difference(standard, shade, case.ask.formula)?;
            }
        }
        Ok(())
    }
}

/// What each thread costs once it is among the chosen ones.
pub(super) fn prices(options: &ReduceOptions, threads: &[Candidate<'_>]) -> Vec<f64> {
    let owned: BTreeSet<&ThreadRef> = options.owned.iter().collect();
    let worth = options.thread_worth.value();
    let price = |thread: &Candidate<'_>| if owned.contains(&thread.name()) { 0.0 } else { worth };
    threads.iter().map(price).collect()
}

/// The colors to decide, in an order that does not depend on their order in the palette.
fn free_colors(case: &Case<'_, '_>) -> Vec<usize> {
    let colors = case.palette.colors();
    let key = |place: &usize| {
        let lab = case.standards.get(*place).map(Color::lab);
        let parts = lab.map(|lab| [lab.l(), lab.a(), lab.b()]).unwrap_or_default();
        (colors.get(*place).map_or(0, |color| color.stitches), parts)
    };
    let mut free: Vec<usize> = case
        .wishes
        .iter()
        .enumerate()
        .filter_map(|(place, wish)| matches!(wish, Wish::Free(_)).then_some(place))
        .collect();
    free.sort_by(|left, right| {
        let ((stitches, lab), (others, other)) = (key(left), key(right));
        let by_lab = lab.iter().zip(&other).map(|(one, two)| one.total_cmp(two));
        let by_lab = by_lab.fold(std::cmp::Ordering::Equal, std::cmp::Ordering::then);
        others.cmp(&stitches).then(by_lab)
    });
    free
}

/// Where costs come from.
struct Gather<'g, 'a, 'c> {
    case: &'g Case<'a, 'c>,
    threads: &'g [Candidate<'c>],
    locked: &'g [bool],
    options: &'g ReduceOptions,
}

impl Gather<'_, '_, '_> {
    /// What each color pays for each thread, and whether all of it is held or allowed for.
    fn cells(
        &self,
        colors: &[usize],
        limits: Limits,
        meter: &mut Meter<'_>,
    ) -> Result<(Cells, bool)> {
        let weights = self.case.weights();
        let mut is_whole = true;
        let each = (limits.cells / colors.len().max(1)).max(1);
        let scans = colors.len().saturating_mul(self.threads.len()) <= limits.scan;
        let mut rows = Vec::with_capacity(colors.len());
        let mut beyond = Vec::with_capacity(colors.len());
        for color in colors {
            let weight = weights.get(*color).copied().unwrap_or(0.0);
            let (row, left_out) = match scans {
                true => self.scan(*color, weight, each, meter)?,
                false => self.nearest(*color, weight, each.min(MAX_COUNT), meter)?,
            };
            rows.push(row);
            // Whether a thread that no list holds is within the tolerance, or holds enough, would be
            // a guess.
            let must_know = self.options.tolerance.is_some() || self.options.counts_amounts();
            let is_guess = must_know && left_out.least.is_finite();
            is_whole &= !is_guess;
            beyond.push(if is_guess { Beyond::NOTHING } else { left_out });
        }
        Ok((Cells::new(self.threads.len(), rows, beyond), is_whole))
    }

    /// What a color pays for a difference; `None` for one beyond the tolerance.
    fn cost(&self, weight: f64, difference: f64) -> Option<f64> {
        let within = self.options.tolerance.is_none_or(|most| difference <= most.value());
        within.then(|| weight * weighed(self.options.weighing, difference))
    }

    /// A row from all differences, cut to its `each` cheapest cells and the locked threads.
    fn scan(
        &self,
        color: usize,
        weight: f64,
        each: usize,
        meter: &mut Meter<'_>,
    ) -> Result<(Vec<(f64, u32)>, Beyond)> {
        let mut row = Vec::with_capacity(self.threads.len());
        let (Some(standard), Some(wish)) =
            (self.case.standards.get(color), self.case.wishes.get(color))
        else {
            return Ok((row, Beyond::NOTHING));
        };
        for (column, candidate) in (0_u32..).zip(self.threads) {
            if !is_barred(wish, *candidate) {
                let formula = self.case.ask.formula;
                let difference = meter.difference(standard, &candidate.thread.color, formula)?;
                row.extend(self.cost(weight, difference).map(|cost| (cost, column)));
            }
        }
        let most = row.iter().map(|(cost, _)| *cost).fold(0.0, f64::max);
        let by_cost = |(one, first): &(f64, u32), (two, second): &(f64, u32)| {
            one.total_cmp(two).then(first.cmp(second))
        };
        if each >= row.len() {
            return Ok((row, Beyond::NOTHING));
        }
        let (_, (least, _), _) = row.select_nth_unstable_by(each, by_cost);
        let beyond = Beyond { least: *least, most };
        let mut place = 0;
        row.retain(|(_, column)| {
            place += 1;
            place <= each || self.is_locked(*column)
        });
        Ok((row, beyond))
    }

    /// A row of the nearest threads, as the index finds them, and the locked ones.
    fn nearest(
        &self,
        color: usize,
        weight: f64,
        each: usize,
        meter: &mut Meter<'_>,
    ) -> Result<(Vec<(f64, u32)>, Beyond)> {
        let mut row = Vec::with_capacity(each);
        let (Some(standard), Some(wish)) =
            (self.case.standards.get(color), self.case.wishes.get(color))
        else {
            return Ok((row, Beyond::NOTHING));
        };
        let found = self.case.nearest_to(color, each, meter)?;
        let beyond = match found.last() {
            Some((_, last)) if found.len() == each => match self.cost(weight, *last) {
                Some(least) => {
                    let most = weight * weighed(self.options.weighing, FARTHEST);
                    Beyond { least, most }
                }
                None => Beyond::NOTHING,
            },
            Some(_) | None => Beyond::NOTHING,
        };
        for (thread, difference) in found {
            let column = self.threads.binary_search(&thread).ok();
            let cost = self.cost(weight, difference);
            row.extend(
                cost.zip(column)
                    .and_then(|(cost, column)| Some((cost, u32::try_from(column).ok()?))),
            );
        }
        let listed: BTreeSet<u32> = row.iter().map(|(_, column)| *column).collect();
        for (column, candidate) in (0_u32..).zip(self.threads) {
            let missing = self.is_locked(column) && !listed.contains(&column);
            if missing && !is_barred(wish, *candidate) {
                let formula = self.case.ask.formula;
                let difference = meter.difference(standard, &candidate.thread.color, formula)?;
                row.extend(self.cost(weight, difference).map(|cost| (cost, column)));
            }
        }
        Ok((row, beyond))
    }

    fn is_locked(&self, column: u32) -> bool {
        self.locked.get(column as usize).copied().unwrap_or(false)
    }
}

/// What is summed of a difference.
pub(super) fn weighed(weighing: Weighing, difference: f64) -> f64 {
    match weighing {
        Weighing::Plain => difference,
        Weighing::Squared => difference * difference,
    }
}

fn is_barred(wish: &Wish<'_>, candidate: Candidate<'_>) -> bool {
    match wish {
        Wish::Free(barred) => barred
            .iter()
            .any(|out| out.table == *candidate.table && out.code == candidate.thread.code),
        Wish::Fixed(_) => true,
    }
}

fn too_many_settled(settled: usize, max_threads: usize) -> Error {
    Error::new(ErrorKind::Impossible {
        reason: format!(
            "{settled} threads that are kept or answered do not fit into {max_threads}"
        ),
        nearest: format!("ask for {settled}, keep fewer, or take answers back"),
    })
}

fn no_room(settled: usize, max_threads: usize) -> Error {
    Error::new(ErrorKind::Impossible {
        reason: format!(
            "{settled} kept threads leave no thread of {max_threads} for the other colors"
        ),
        nearest: format!("ask for {}, or keep fewer", settled.saturating_add(1)),
    })
}

/// The error for filters that let no thread pass.
pub(super) fn nothing_admitted(case: &Case<'_, '_>) -> Error {
    let tables = case.catalog.choose(&case.ask.tables).unwrap_or_default();
    let threads: usize = tables.iter().map(|held| held.table().threads().len()).sum();
    Error::new(ErrorKind::Impossible {
        reason: "no thread of the tables passes the filters".into(),
        nearest: if threads == 0 {
            "load a thread table first".into()
        } else {
            format!("the tables hold {threads} threads; loosen the filters")
        },
    })
}
