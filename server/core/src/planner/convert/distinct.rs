//! No two colors on one thread: jointly the nearest different threads, from all tables, from ranges
//! that are worth their price, or from what the owner has and the fewest to buy.
//! It does not know charts.

use std::collections::{BTreeMap, BTreeSet};

use super::super::case::{Candidate, Case, Scope, Wish};
use super::super::evidence::RUNNERS_UP;
use super::super::joint::{Bid, Field, Joint, Picks, Seeker, Terms};
use super::super::meter::Meter;
use super::super::substitute;
use super::need::Need;
use super::owned::Stock;
use super::ranges::{Offers, Prices, searched};
use super::{Chosen, MAX_DISTINCT, MAX_PRICED, over};
use crate::change::JointReport;
use crate::color::Color;
use crate::difference::DeltaE;
use crate::error::{Error, ErrorKind, Result};
use crate::nearest::MAX_COUNT;
use crate::table::{TableId, ThreadRef};

/// Weight of a thread that has to be bought: more than any mean difference.
const TIER: f64 = 1e3;

/// Choices of ranges that are seated before the best one so far is answered with a bound.
const MAX_SEATINGS: usize = 64;

/// Costs that differ by less are equal.
const EQUAL: f64 = 1e-9;

/// Colors that are one color: the same thread before, or the same color of a picture.
type Likeness = ([u64; 3], Vec<ThreadRef>);

/// One color that needs a thread of its own, wherever the chart uses it.
struct Source<'c> {
    standard: Color,
    weight: f64,
    /// Its needs, by their places.
    needs: Vec<usize>,
    /// One of its colors.
    color: usize,
    before: Option<Candidate<'c>>,
    own: Option<Candidate<'c>>,
    refused: Vec<ThreadRef>,
    /// Threads that keeps and answers give to this very color elsewhere in the chart.
    shared: Vec<Candidate<'c>>,
}

fn bits(color: &Color) -> [u64; 3] {
    let lab = color.lab();
    [lab.l().to_bits(), lab.a().to_bits(), lab.b().to_bits()]
}

fn likeness(case: &Case<'_, '_>, need: &Need<'_>) -> Likeness {
    let names = match need.before {
        Some(thread) => vec![thread.name()],
        None => {
            let color = case.palette.colors().get(need.color);
            color.map(|color| color.threads.clone()).unwrap_or_default()
        }
    };
    (bits(&need.standard), names)
}

fn sources<'c>(case: &Case<'_, 'c>, needs: &[Need<'c>]) -> Result<Vec<Source<'c>>> {
    let settled = settled(case);
    let mut places: BTreeMap<Likeness, usize> = BTreeMap::new();
    let mut sources: Vec<Source<'c>> = Vec::new();
    for (place, need) in needs.iter().enumerate() {
        let key = likeness(case, need);
        let shared = settled.get(&key).cloned().unwrap_or_default();
        let at = *places.entry(key).or_insert(sources.len());
        if at == sources.len() {
            sources.push(Source {
                standard: need.standard,
                weight: 0.0,
                needs: Vec::new(),
                color: need.color,
                before: need.before,
                own: need.own,
                refused: Vec::new(),
                shared,
            });
        }
        let Some(source) = sources.get_mut(at) else { continue };
        source.weight += need.weight;
        source.needs.push(place);
        source.own = source.own.and(need.own);
        if let Some(Wish::Free(barred)) = case.wishes.get(need.color) {
            source.refused.extend(barred.iter().cloned());
        }
    }
    if sources.len() > MAX_DISTINCT {
        return Err(over("colors to keep apart", sources.len(), MAX_DISTINCT, "palette.colors"));
    }
    Ok(sources)
}

/// The threads of colors that are settled, by what the colors are.
fn settled<'c>(case: &Case<'_, 'c>) -> BTreeMap<Likeness, Vec<Candidate<'c>>> {
    let mut settled: BTreeMap<Likeness, Vec<Candidate<'c>>> = BTreeMap::new();
    let colors = case.palette.colors().iter().zip(&case.standards).zip(&case.wishes);
    for ((color, standard), wish) in colors {
        if let Wish::Fixed(threads) = wish {
            let key = (bits(standard), color.threads.clone());
            settled.entry(key).or_default().extend(threads);
        }
    }
    settled
}

/// Where bids come from.
enum Market<'m, 'c> {
    /// These tables.
    Tables(&'m [TableId]),
    /// The owner's threads, and all tables where buying is asked for.
    Own(&'m Stock<'c>),
}

impl<'c> Market<'_, 'c> {
    /// The thread that a source stays in.
    fn stays(&self, case: &Case<'_, 'c>, source: &Source<'c>) -> Option<Candidate<'c>> {
        let refused = |thread: &Candidate<'c>| source.refused.contains(&thread.name());
        match self {
            Self::Tables(tables) => source.own.filter(|own| tables.contains(own.table)),
            Self::Own(stock) => {
                let may = |own: &Candidate<'c>| stock.has(*own) && !refused(own);
                source.before.filter(may).filter(|own| !case.refuses(source.color, *own))
            }
        }
    }

    /// Threads for a source with their costs, cheapest first; true when some were left out.
    fn bids(
        &self,
        case: &Case<'_, 'c>,
        source: &Source<'c>,
        (count, colors): (usize, usize),
        meter: &mut Meter<'_>,
    ) -> Result<(Vec<(Candidate<'c>, f64)>, bool)> {
        let tables = match self {
            Self::Tables(tables) => *tables,
            Self::Own(_) => case.ask.tables.as_slice(),
        };
        let scope = Scope { tables, count, limit: None };
        let near = match self {
            Self::Own(stock) if stock.buy_within.is_none() => Vec::new(),
            Self::Own(_) | Self::Tables(_) => {
                case.nearest_in(&scope, source.color, &source.standard, meter)?
            }
        };
        let cut = near.len() == count;
        let mut bids: BTreeMap<Candidate<'c>, f64> = BTreeMap::new();
        for (thread, apart) in near {
            bids.insert(thread, source.weight * apart + self.extra(thread, apart, colors));
        }
        if let Self::Own(stock) = self {
            for thread in &stock.usable {
                let (standard, sample) = (&source.standard, &thread.thread.color);
                let apart = meter.difference(standard, sample, case.ask.formula)?;
                bids.insert(*thread, source.weight * apart + self.extra(*thread, apart, colors));
            }
        }
        let mut bids: Vec<(Candidate<'c>, f64)> = bids
            .into_iter()
            .filter(|(thread, _)| !source.refused.contains(&thread.name()))
            .collect();
        bids.sort_by(|(one, near), (two, far)| near.total_cmp(far).then(one.cmp(two)));
        Ok((bids, cut))
    }

    /// What a thread costs beside its difference: beyond the limit more than buying for all colors.
    fn extra(&self, thread: Candidate<'c>, apart: f64, colors: usize) -> f64 {
        let Self::Own(stock) = self else { return 0.0 };
        let Some(limit) = stock.buy_within else { return 0.0 };
        let bought = if stock.has(thread) { 0.0 } else { TIER };
        let most = super::super::case::whole(colors as u64 + 1) * TIER;
        bought + if apart > limit.value() { most } else { 0.0 }
    }
}

/// Threads for all sources from one market.
struct Seated<'c> {
    /// The thread of each source with its runners-up.
    threads: Vec<Candidate<'c>>,
    runners_up: Vec<Vec<Candidate<'c>>>,
    report: JointReport,
    /// Sum of all costs, and what none can be below.
    cost: f64,
    bound: f64,
    proved: bool,
    /// How much less apart the threads are than asked.
    missed: f64,
}

struct Question<'q, 'a, 'c> {
    case: &'q Case<'a, 'c>,
    sources: &'q [Source<'c>],
    apart: DeltaE,
}

impl<'c> Question<'_, '_, 'c> {
    /// Seats all sources; `None` when there are not enough different threads.
    fn seat(&self, market: &Market<'_, 'c>, meter: &mut Meter<'_>) -> Result<Option<Seated<'c>>> {
        let stay: Vec<Option<Candidate<'c>>> =
            self.sources.iter().map(|source| market.stays(self.case, source)).collect();
        let mut in_use: BTreeSet<Candidate<'c>> = stay.iter().flatten().copied().collect();
        for wish in &self.case.wishes {
            if let Wish::Fixed(threads) = wish {
                in_use.extend(threads);
            }
        }
        let seeking: Vec<usize> = (0..self.sources.len())
            .filter(|place| stay.get(*place).copied().flatten().is_none())
            .collect();
        // One of the nearest threads, as many as there are seekers and threads in use, is always
        // free; only with room to keep may one farther off be needed.
        let refused: usize = self.sources.iter().map(|source| source.refused.len()).sum();
        let enough = seeking.len() + in_use.len() + refused + 1;
        let count = if self.apart.value() > 0.0 { MAX_COUNT } else { enough.min(MAX_COUNT) };
        let mut cut = false;
        let mut lists = Vec::with_capacity(seeking.len());
        for source in seeking.iter().filter_map(|place| self.sources.get(*place)) {
            let (mut bids, more) =
                market.bids(self.case, source, (count, self.sources.len()), meter)?;
            cut |= more && (self.apart.value() > 0.0 || count < enough);
            bids.retain(|(thread, _)| !in_use.contains(thread) || source.shared.contains(thread));
            if bids.is_empty() {
                return Ok(None);
            }
            lists.push(bids);
        }
        let field = self.field(&lists, &in_use);
        let terms = Terms { apart: self.apart.value(), steps: Vec::new(), outlines: false };
        let mut joint = Joint::new(&field);
        let Some(picks) = joint.solve(&terms, meter)? else { return Ok(None) };
        let mut report = substitute::report(&mut joint, &terms, &picks, meter)?;
        report.proved_impossible &= !cut;
        let mut seated = self.told(&stay, &field, (&mut joint, &picks, report), meter)?;
        seated.missed = (terms.apart - picks.terms.apart).max(0.0);
        let nearest: f64 = lists.iter().filter_map(|bids| bids.first()).map(|(_, cost)| cost).sum();
        let cost_of = |(bids, thread): (&Vec<(Candidate<'c>, f64)>, &usize)| {
            let thread = field.threads.get(*thread);
            let held = bids.iter().find(|(held, _)| Some(held) == thread);
            held.map_or(0.0, |(_, cost)| *cost)
        };
        seated.cost = lists.iter().zip(&picks.threads).map(cost_of).sum();
        seated.bound = if cut { nearest } else { picks.bound.min(seated.cost) };
        seated.proved = picks.proved && !cut;
        Ok(Some(seated))
    }

    fn field(
        &self,
        lists: &[Vec<(Candidate<'c>, f64)>],
        in_use: &BTreeSet<Candidate<'c>>,
    ) -> Field<'c> {
        let all: BTreeSet<Candidate<'c>> =
            lists.iter().flatten().map(|(thread, _)| *thread).collect();
        let mut threads: Vec<Candidate<'c>> = all.into_iter().collect();
        threads.sort_by(|one, two| {
            let level = |held: &Candidate<'_>| held.thread.color.lab().l();
            level(one).total_cmp(&level(two)).then(one.cmp(two))
        });
        let places: BTreeMap<Candidate<'c>, usize> =
            threads.iter().enumerate().map(|(place, thread)| (*thread, place)).collect();
        let bid = |(thread, cost): &(Candidate<'c>, f64)| {
            places.get(thread).map(|thread| Bid { thread: *thread, cost: *cost })
        };
        let seeker = |bids: &Vec<(Candidate<'c>, f64)>| Seeker {
            bids: bids.iter().filter_map(bid).collect(),
            fixed: false,
            outlines: Vec::new(),
            left: Vec::new(),
        };
        let reused = in_use.iter().filter_map(|thread| places.get(thread).copied()).collect();
        Field {
            seekers: lists.iter().map(seeker).collect(),
            formula: self.case.ask.formula,
            in_use: in_use.iter().map(|thread| thread.thread.color).collect(),
            reused,
            touching: BTreeSet::new(),
            threads,
        }
    }

    /// The threads of all sources, those that stay included.
    fn told(
        &self,
        stay: &[Option<Candidate<'c>>],
        field: &Field<'c>,
        (joint, picks, report): (&mut Joint<'_, 'c>, &Picks, JointReport),
        meter: &mut Meter<'_>,
    ) -> Result<Seated<'c>> {
        let (mut threads, mut runners_up) = (Vec::new(), Vec::new());
        let mut seekers = picks.threads.iter().enumerate();
        for stays in stay {
            if let Some(own) = stays {
                threads.push(*own);
                runners_up.push(Vec::new());
                continue;
            }
            let Some((place, thread)) = seekers.next() else { continue };
            threads.extend(field.threads.get(*thread));
            let others = joint.runners_up(place, picks, RUNNERS_UP, meter)?;
            let others = others.iter().filter_map(|thread| field.threads.get(*thread));
            runners_up.push(others.copied().collect());
        }
        Ok(Seated {
            threads,
            runners_up,
            report,
            cost: 0.0,
            bound: 0.0,
            proved: false,
            missed: 0.0,
        })
    }

    /// What was seated, need by need.
    fn chosen(&self, needs: usize, seated: &Seated<'c>) -> Chosen<'c> {
        let mut by_need: Vec<Option<(Candidate<'c>, &[Candidate<'c>])>> = vec![None; needs];
        let each = self.sources.iter().zip(&seated.threads).zip(&seated.runners_up);
        for ((source, thread), others) in each {
            for place in &source.needs {
                let held = by_need.get_mut(*place);
                held.into_iter().for_each(|held| *held = Some((*thread, others)));
            }
        }
        let threads = by_need.iter().flatten().map(|(thread, _)| *thread).collect();
        let runners_up = by_need.iter().flatten().map(|(_, others)| others.to_vec()).collect();
        let mut chosen = Chosen::new(threads, runners_up);
        chosen.joint = Some(seated.report.clone());
        chosen
    }

    fn too_few(&self) -> Error {
        let colors = self.sources.len();
        Error::new(ErrorKind::Impossible {
            reason: format!(
                "{colors} colors cannot all have a different thread of those that may answer"
            ),
            nearest: "admit more threads, or let colors fall together".into(),
        })
    }
}

/// From all chosen tables.
pub(super) fn from_all<'c>(
    case: &Case<'_, 'c>,
    needs: &[Need<'c>],
    apart: DeltaE,
    meter: &mut Meter<'_>,
) -> Result<Chosen<'c>> {
    let sources = sources(case, needs)?;
    let question = Question { case, sources: &sources, apart };
    let tables: Vec<TableId> = case
        .catalog
        .choose(&case.ask.tables)?
        .iter()
        .map(|held| held.table().id().clone())
        .collect();
    let seated = question.seat(&Market::Tables(&tables), meter)?;
    let seated = seated.ok_or_else(|| question.too_few())?;
    let mut chosen = question.chosen(needs.len(), &seated);
    chosen.bound = Some(seated.bound);
    chosen.proved = seated.proved;
    Ok(chosen)
}

/// From what the owner has, and the fewest to buy.
pub(super) fn from_own<'c>(
    case: &Case<'_, 'c>,
    needs: &[Need<'c>],
    apart: DeltaE,
    stock: &Stock<'c>,
    meter: &mut Meter<'_>,
) -> Result<Chosen<'c>> {
    let sources = sources(case, needs)?;
    let question = Question { case, sources: &sources, apart };
    let seated = question.seat(&Market::Own(stock), meter)?;
    let seated = seated.ok_or_else(|| question.too_few())?;
    let mut chosen = question.chosen(needs.len(), &seated);
    let threads = chosen.threads.clone();
    for (place, (need, thread)) in needs.iter().zip(threads).enumerate() {
        let (standard, sample) = (&need.standard, &thread.thread.color);
        let apart = meter.difference(standard, sample, case.ask.formula)?;
        if stock.buy_within.is_some_and(|limit| apart > limit.value()) {
            chosen.beyond.insert(place);
        }
    }
    let colors: BTreeSet<usize> =
        chosen.beyond.iter().filter_map(|place| needs.get(*place)).map(|need| need.color).collect();
    if stock.buy_within.is_none() {
        chosen.bound = Some(seated.bound);
        chosen.proved = seated.proved;
    }
    chosen.own = Some(stock.report(colors.len(), seated.proved));
    Ok(chosen)
}

/// A choice of ranges with what it costs at least.
struct Ranges {
    tables: Vec<TableId>,
    due: f64,
    least: f64,
}

/// From the ranges that are worth their price.
pub(super) fn from_ranges<'c>(
    case: &Case<'_, 'c>,
    needs: &[Need<'c>],
    apart: DeltaE,
    prices: &Prices<'c>,
    meter: &mut Meter<'_>,
) -> Result<Chosen<'c>> {
    let sources = sources(case, needs)?;
    let question = Question { case, sources: &sources, apart };
    let choices = choices(prices, &Offers::of(case, needs, prices, meter)?)?;
    let mut best: Option<(Seated<'c>, f64)> = None;
    let mut open = None;
    for (tried, choice) in choices.iter().enumerate() {
        let hopeless =
            |(held, cost): &(Seated<'c>, f64)| held.missed <= 0.0 && choice.least >= *cost - EQUAL;
        if best.as_ref().is_some_and(hopeless) {
            break;
        }
        if tried == MAX_SEATINGS && best.is_some() {
            open = Some(choice.least);
            break;
        }
        let Some(seated) = question.seat(&Market::Tables(&choice.tables), meter)? else { continue };
        let cost = seated.cost + choice.due;
        let key = (seated.missed, cost);
        if best.as_ref().is_none_or(|(held, cost)| key < (held.missed, cost - EQUAL)) {
            best = Some((seated, cost));
        }
    }
    let (seated, cost) = best.ok_or_else(|| question.too_few())?;
    let mut chosen = question.chosen(needs.len(), &seated);
    let least = choices.first().map_or(0.0, |choice| choice.least);
    let proved = seated.proved && open.is_none();
    let bound = if proved { cost } else { least.min(open.unwrap_or(cost)) };
    chosen.ranges = Some(searched(cost, Some(bound), proved));
    Ok(chosen)
}

/// Every choice of priced ranges, beside those that cost nothing, the one with the least bound
/// first. Without room to keep, each need costs at least its nearest thread.
fn choices(prices: &Prices<'_>, offers: &Offers<'_>) -> Result<Vec<Ranges>> {
    let priced: Vec<usize> =
        (0..prices.ranges.len()).filter(|range| prices.due(*range) > 0.0).collect();
    if priced.len() > MAX_PRICED {
        let what = "priced ranges with colors kept apart";
        return Err(over(what, priced.len(), MAX_PRICED, "range_prices"));
    }
    let mut all = Vec::new();
    for set in 0_u32..1 << priced.len() {
        let is_open = |range: usize| {
            let place = priced.iter().position(|priced| *priced == range);
            place.is_none_or(|place| set >> place & 1 == 1)
        };
        let ranges: Vec<usize> = (0..prices.ranges.len()).filter(|range| is_open(*range)).collect();
        let due: f64 = ranges.iter().map(|range| prices.due(*range)).sum();
        let nearest = |row: &Vec<Option<(f64, Candidate<'_>)>>| {
            let open = ranges.iter().filter_map(|range| row.get(*range).copied().flatten());
            open.map(|(cost, _)| cost).fold(f64::INFINITY, f64::min)
        };
        let least: f64 = offers.best.iter().map(nearest).sum::<f64>() + due;
        let named = ranges.iter().filter_map(|range| prices.ranges.get(*range));
        let tables: Vec<TableId> = named.map(|(table, _)| (*table).clone()).collect();
        if least.is_finite() && !tables.is_empty() {
            all.push(Ranges { tables, due, least });
        }
    }
    all.sort_by(|one, two| one.least.total_cmp(&two.least).then(one.tables.cmp(&two.tables)));
    Ok(all)
}
