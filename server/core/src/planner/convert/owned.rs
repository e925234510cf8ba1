//! The owner's own threads, and the fewest to buy so that every color comes within a limit: a set
//! cover with proof, then the nearest of its answers as a p-median. It does not know charts.

use std::collections::{BTreeMap, BTreeSet};

use super::super::case::{Candidate, Case, Scope, find};
use super::super::evidence::RUNNERS_UP;
use super::super::median::{self, Beyond, Cells, Outcome, Problem};
use super::super::meter::Meter;
use super::need::Need;
use super::{Chosen, EFFORT, MAX_OWNED, Quiet, over};
use crate::change::{OwnReport, Purchase};
use crate::difference::DeltaE;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::nearest::MAX_COUNT;
use crate::table::ThreadRef;

/// The field of a request that names own threads.
const FIELD: &str = "own.threads";

/// What the owner has.
pub(super) struct Stock<'c> {
    /// Own threads that may answer, by table and code.
    pub(super) usable: Vec<Candidate<'c>>,
    /// All own threads.
    owned: BTreeSet<Candidate<'c>>,
    pub(super) buy_within: Option<DeltaE>,
}

impl<'c> Stock<'c> {
    pub(super) fn of(
        case: &Case<'_, 'c>,
        threads: &[ThreadRef],
        buy_within: Option<DeltaE>,
    ) -> Result<Self> {
        if threads.len() > MAX_OWNED {
            return Err(over("own threads", threads.len(), MAX_OWNED, FIELD));
        }
        let mut owned = BTreeSet::new();
        for (place, name) in threads.iter().enumerate() {
            let thread = find(case.catalog, name);
            owned.insert(
                thread.map_err(|error| error.at(Place::field(format!("{FIELD}[{place}]"))))?,
            );
        }
        // What one has needs neither be on sale nor be cheap.
        let mut filter = case.ask.filter.clone();
        filter.available_only = false;
        filter.max_price = None;
        let usable: Vec<Candidate<'c>> =
            owned.iter().filter(|own| filter.admits(own.table, own.thread)).copied().collect();
        if usable.is_empty() && buy_within.is_none() {
            return Err(none_usable(owned.len()));
        }
        Ok(Self { usable, owned, buy_within })
    }

    pub(super) fn has(&self, thread: Candidate<'c>) -> bool {
        self.usable.binary_search(&thread).is_ok()
    }

    /// The thread that a need is worked in, when the owner has it.
    pub(super) fn own(&self, case: &Case<'_, 'c>, need: &Need<'c>) -> Option<Candidate<'c>> {
        need.before.filter(|own| self.has(*own) && !case.refuses(need.color, *own))
    }

    /// Usable own threads with their differences, nearest first.
    pub(super) fn ranked(
        &self,
        case: &Case<'_, 'c>,
        need: &Need<'c>,
        meter: &mut Meter<'_>,
    ) -> Result<Vec<(Candidate<'c>, f64)>> {
        let own = self.own(case, need);
        let mut ranked = Vec::with_capacity(self.usable.len());
        for thread in self.usable.iter().filter(|held| !case.refuses(need.color, **held)) {
            let (standard, sample) = (&need.standard, &thread.thread.color);
            let apart = meter.difference(standard, sample, case.ask.formula)?;
            ranked.push((*thread, apart));
        }
        let is_other = |thread: &Candidate<'c>| own != Some(*thread);
        ranked.sort_by(|(one, near), (two, far)| {
            near.total_cmp(far).then(is_other(one).cmp(&is_other(two))).then(one.cmp(two))
        });
        Ok(ranked)
    }

    /// The report with what there is to buy.
    pub(super) fn finished(
        &self,
        report: &OwnReport,
        case: &Case<'_, 'c>,
        after: &[Vec<Candidate<'c>>],
    ) -> OwnReport {
        let mut bought: BTreeMap<Candidate<'c>, (usize, u64)> = BTreeMap::new();
        let mut used = BTreeSet::new();
        for (color, after) in case.palette.colors().iter().zip(after) {
            for (strand, thread) in after.iter().enumerate() {
                // Both strands of a blend may have become one thread.
                if after.iter().take(strand).any(|before| before == thread) {
                    continue;
                }
                if self.owned.contains(thread) {
                    used.insert(*thread);
                    continue;
                }
                let held = bought.entry(*thread).or_default();
                *held = (held.0 + 1, held.1.saturating_add(color.stitches));
            }
        }
        let purchase = |(thread, (colors, stitches)): (Candidate<'c>, (usize, u64))| Purchase {
            thread: thread.name(),
            name: thread.thread.name.clone(),
            color: thread.thread.color,
            colors,
            stitches,
        };
        let mut purchases: Vec<Purchase> = bought.into_iter().map(purchase).collect();
        purchases.sort_by_key(|held| std::cmp::Reverse(held.stitches));
        OwnReport { used: used.len(), purchases, ..report.clone() }
    }

    pub(super) fn report(&self, beyond: usize, proved_fewest: bool) -> OwnReport {
        OwnReport {
            usable: self.usable.len(),
            unsuited: self.owned.len() - self.usable.len(),
            used: 0,
            within: self.buy_within,
            purchases: Vec::new(),
            beyond,
            proved_fewest,
        }
    }
}

fn none_usable(owned: usize) -> Error {
    Error::new(ErrorKind::Impossible {
        reason: format!("none of {owned} own threads may answer"),
        nearest: "list more threads, admit other finishes, or buy within a larger difference"
            .into(),
    })
}

/// Own threads each, and beside them the fewest that have to be bought.
pub(super) fn choose<'c>(
    case: &Case<'_, 'c>,
    needs: &[Need<'c>],
    stock: &Stock<'c>,
    meter: &mut Meter<'_>,
) -> Result<Chosen<'c>> {
    let mut ranked = Vec::with_capacity(needs.len());
    for need in needs {
        let mut near = stock.ranked(case, need, meter)?;
        near.truncate(RUNNERS_UP + 1);
        ranked.push(near);
    }
    let shop = match stock.buy_within {
        Some(limit) => Shop::open(case, needs, &ranked, limit, meter)?,
        None => Shop::closed(),
    };
    let bought = shop.buy(meter)?;
    let (mut threads, mut runners_up, mut beyond) = (Vec::new(), Vec::new(), BTreeSet::new());
    for (place, (need, own)) in needs.iter().zip(&ranked).enumerate() {
        let mut near = own.clone();
        for thread in bought.threads.iter().filter(|held| !case.refuses(need.color, **held)) {
            let (standard, sample) = (&need.standard, &thread.thread.color);
            near.push((*thread, meter.difference(standard, sample, case.ask.formula)?));
        }
        let is_bought = |thread: &Candidate<'_>| !stock.has(*thread);
        // Where two are as near, the one that is there already answers.
        near.sort_by(|(one, near), (two, far)| {
            near.total_cmp(far).then(is_bought(one).cmp(&is_bought(two)))
        });
        let Some((thread, _)) = near.first() else {
            return Err(none_usable(stock.owned.len()));
        };
        threads.push(*thread);
        runners_up.push(near.iter().skip(1).take(RUNNERS_UP).map(|(other, _)| *other).collect());
        if shop.beyond.contains(&place) {
            beyond.insert(place);
        }
    }
    let mut chosen = Chosen::new(threads, runners_up);
    let colors: BTreeSet<usize> =
        beyond.iter().filter_map(|place| needs.get(*place)).map(|need| need.color).collect();
    chosen.own = Some(stock.report(colors.len(), bought.proved));
    chosen.beyond = beyond;
    Ok(chosen)
}

/// What may be bought, seen from the needs that something brings within the limit.
struct Shop<'c> {
    /// The first column is what the owner has, the others are these threads.
    threads: Vec<Candidate<'c>>,
    rows: Vec<Vec<(f64, u32)>>,
    /// Needs that nothing brings within the limit.
    beyond: BTreeSet<usize>,
    /// Some lists of threads were cut.
    cut: bool,
}

struct Bought<'c> {
    threads: Vec<Candidate<'c>>,
    /// No fewer do.
    proved: bool,
}

/// The column of what the owner has.
const AT_HAND: u32 = 0;

impl<'c> Shop<'c> {
    fn closed() -> Self {
        Self { threads: Vec::new(), rows: Vec::new(), beyond: BTreeSet::new(), cut: false }
    }

    fn open(
        case: &Case<'_, 'c>,
        needs: &[Need<'c>],
        ranked: &[Vec<(Candidate<'c>, f64)>],
        limit: DeltaE,
        meter: &mut Meter<'_>,
    ) -> Result<Self> {
        let scope = Scope { tables: &case.ask.tables, count: MAX_COUNT, limit: Some(limit) };
        let mut lists = Vec::with_capacity(needs.len());
        let (mut beyond, mut cut) = (BTreeSet::new(), false);
        for (place, (need, own)) in needs.iter().zip(ranked).enumerate() {
            let at_hand = own.first().map(|(_, apart)| *apart);
            let at_hand = at_hand.filter(|apart| *apart <= limit.value());
            let near = case.nearest_in(&scope, need.color, &need.standard, meter)?;
            cut |= near.len() == MAX_COUNT;
            if at_hand.is_none() && near.is_empty() {
                beyond.insert(place);
            } else {
                lists.push((need.weight, at_hand, near));
            }
        }
        let all: BTreeSet<Candidate<'c>> =
            lists.iter().flat_map(|(_, _, near)| near.iter().map(|(thread, _)| *thread)).collect();
        let threads: Vec<Candidate<'c>> = all.into_iter().collect();
        let columns: BTreeMap<Candidate<'c>, u32> = threads.iter().copied().zip(1..).collect();
        let row = |(weight, at_hand, near): &(f64, Option<f64>, Vec<(Candidate<'c>, f64)>)| {
            let own = at_hand.map(|apart| (weight * apart, AT_HAND));
            let others = near.iter().filter_map(|(thread, apart)| {
                columns.get(thread).map(|column| (weight * apart, *column))
            });
            own.into_iter().chain(others).collect()
        };
        let rows = lists.iter().map(row).collect();
        Ok(Self { threads, rows, beyond, cut })
    }

    /// The fewest threads that bring all rows within the limit, and of those the nearest.
    fn buy(&self, meter: &mut Meter<'_>) -> Result<Bought<'c>> {
        let count = self.threads.len() + 1;
        let beyond = vec![Beyond::NOTHING; self.rows.len()];
        let mut locked = vec![false; count];
        locked.first_mut().into_iter().for_each(|at_hand| *at_hand = true);
        let mut problem = Problem {
            cells: Cells::new(count, self.rows.clone(), beyond),
            prices: vec![0.0; count],
            locked,
            most: count,
            grain: 0.0,
        };
        let is_served = |row: &Vec<(f64, u32)>| row.iter().any(|(_, column)| *column == AT_HAND);
        if self.rows.iter().all(is_served) {
            return Ok(Bought { threads: Vec::new(), proved: true });
        }
        let cover = median::fewest(&problem, EFFORT, &mut Quiet(meter))?;
        let Some(open) = cover.open else {
            return Ok(Bought { threads: Vec::new(), proved: false });
        };
        problem.most = open.len();
        let nearest = match median::solve(&problem, EFFORT, &mut Quiet(meter))? {
            Outcome::Found(solution) => solution.open,
            Outcome::Impossible { .. } => open,
        };
        let bought = nearest.iter().filter_map(|column| column.checked_sub(1));
        let threads: Vec<Candidate<'c>> =
            bought.filter_map(|place| self.threads.get(place)).copied().collect();
        let proved = !self.cut && cover.at_least > threads.len();
        Ok(Bought { threads, proved })
    }
}
