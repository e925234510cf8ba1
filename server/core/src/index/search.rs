//! One search: near colors first, then all that a bound cannot rule out.
//! It does not know kiddo or where the bounds come from.

use super::bound::{Bound, with_room};
use super::direct::Direct;
use super::tight::Tight;
use super::{Hit, LabIndex, Tally};
use crate::color::Lab;
use crate::difference::{DeltaE, Factors, Formula, Pair};
use crate::error::{Error, ErrorKind, Result};
use crate::watch::Watch;

/// One question to an index.
pub(crate) struct Ask<'a> {
    /// The color asked for.
    pub(crate) standard: Lab,
    /// Most rows to answer.
    pub(crate) count: usize,
    /// Rows to answer beyond the count.
    pub(crate) more: Option<More>,
    /// The formula that ranks.
    pub(crate) formula: Formula,
    /// Rows beyond it are of no interest, but for the nearest one.
    pub(crate) limit: Option<DeltaE>,
    /// Which rows may answer.
    pub(crate) admit: &'a dyn Fn(usize) -> bool,
    /// Who waits.
    pub(crate) watch: &'a dyn Watch,
}

/// Rows beyond the count that are about as near as the nearest one.
#[derive(Clone, Copy, Debug)]
pub(crate) struct More {
    /// How much farther than the nearest row they are at most.
    pub(crate) within: f64,
    /// How many of them at most.
    pub(crate) at_most: usize,
}

impl Ask<'_> {
    /// Most rows of an answer.
    fn most(&self) -> usize {
        self.count.saturating_add(self.more.map_or(0, |more| more.at_most))
    }
}

/// Near colors that are looked at beyond those asked for before the reach is taken.
const SPARE: usize = 2;

/// A squared reach below this share of the one that a bound was made for is worth a new bound.
const TIGHTER: f64 = 0.7;

/// Open colors below which a new bound costs more than it saves.
const WORTH_A_BOUND: usize = 16;

/// Colors whose tight bounds are taken at once.
const BATCH: usize = 4;

/// Colors considered between two looks at the watch.
const POLL: u64 = 256;

/// A color that is not ruled out yet, with a lower bound of its squared difference.
type Open = (f64, u32);

/// A search under way.
pub(super) struct Search<'s, 'a> {
    index: &'s LabIndex,
    ask: &'s Ask<'a>,
    tally: &'s mut Tally,
    /// The standard, as the tree has it.
    standard: [f64; 3],
    /// The best rows so far, in order, at most as many as the answer holds.
    best: Vec<Hit>,
    /// Colors that are scored or ruled out already, ascending.
    done: Vec<u32>,
    /// Colors considered so far.
    considered: u64,
}

impl<'s, 'a> Search<'s, 'a> {
    pub(super) fn new(index: &'s LabIndex, ask: &'s Ask<'a>, tally: &'s mut Tally) -> Self {
        let standard = ask.standard.components();
        Self { index, ask, tally, standard, best: Vec::new(), done: Vec::new(), considered: 0 }
    }

    pub(super) fn run(mut self) -> Result<Vec<Hit>> {
        let standard = self.ask.standard;
        match self.ask.formula {
            Formula::Cie76 => self.run_direct(&Direct::cie76(standard)),
            Formula::Cie94(application) => self.run_direct(&Direct::cie94(standard, application)),
            Formula::Ciede2000(factors) => self.run_bounded(factors),
            Formula::Cmc(ratio) => self.run_direct(&Direct::cmc(standard, ratio)),
            Formula::Din99o => self.run_direct(&Direct::din99o(standard)),
            Formula::Hyab => self.run_direct(&Direct::hyab(standard)),
        }?;
        self.drop_far();
        Ok(self.best)
    }

    /// Formulas whose square costs little: no bound is needed beside the ball.
    fn run_direct(&mut self, direct: &Direct) -> Result<()> {
        if !self.seed(&|at| direct.squared(at))? {
            return Ok(());
        }
        let cut = self.cut();
        let radius_squared = direct.radius_squared(cut, &self.index.extent);
        let mut open = Vec::new();
        let mut looked = 0;
        self.index.within(self.standard, radius_squared, |place, at| {
            looked += 1;
            let squared = direct.squared(at);
            if squared <= cut {
                open.push((squared, place));
            }
        });
        self.tally.bound_calls += looked;
        sort(&mut open);
        while let Some((squared, place)) = open.pop().filter(|next| next.0 <= self.cut()) {
            if self.open_point(place).is_some() {
                self.consider((squared, place))?;
            }
        }
        Ok(())
    }

    fn run_bounded(&mut self, factors: Factors) -> Result<()> {
        let tight = Tight::new(self.ask.standard, factors);
        if !self.seed(&|at| tight.least(at))? {
            return Ok(());
        }
        let (mut bound, mut cut) = self.bound(factors);
        let mut open = self.inside(&bound, cut);
        sort(&mut open);
        while open.last().is_some_and(|(least, _)| *least <= self.cut()) {
            let rest = open.len().saturating_sub(BATCH);
            let batch = open.split_off(rest);
            self.score(&tight, &batch)?;
            if open.len() > WORTH_A_BOUND && self.cut() < TIGHTER * cut {
                (bound, cut) = self.bound(factors);
                open = self.still_open(&bound, cut, &open);
                sort(&mut open);
            }
        }
        Ok(())
    }

    /// Scores the colors of a batch that the tight bound lets through. Their bounds do not wait for
    /// each other, which is what a batch is for.
    fn score(&mut self, tight: &Tight, batch: &[Open]) -> Result<()> {
        let mut close: Vec<Open> = batch
            .iter()
            .filter_map(|(_, place)| Some((tight.least(self.open_point(*place)?), *place)))
            .collect();
        self.tally.bound_calls += close.len() as u64;
        sort(&mut close);
        while let Some(next) = close.pop() {
            self.consider(next)?;
        }
        Ok(())
    }

    /// The bound for the present reach, with its cut.
    fn bound(&self, factors: Factors) -> (Bound, f64) {
        let reach = self.reach().unwrap_or(f64::MAX);
        (Bound::new(self.ask.standard, factors, &self.index.extent, reach), self.cut())
    }

    /// All colors inside the ball that the bound does not rule out.
    fn inside(&mut self, bound: &Bound, cut: f64) -> Vec<Open> {
        let mut open = Vec::new();
        let mut looked = 0;
        self.index.within(self.standard, bound.radius_squared(), |place, at| {
            looked += 1;
            open.extend(bound.least(at, cut).map(|least| (least, place)));
        });
        self.tally.bound_calls += looked;
        open
    }

    fn still_open(&mut self, bound: &Bound, cut: f64, open: &[Open]) -> Vec<Open> {
        self.tally.bound_calls += open.len() as u64;
        let least = |place: u32| {
            let at = self.index.points.get(place as usize)?;
            bound.least(*at, cut)
        };
        open.iter().filter_map(|(_, place)| Some((least(*place)?, *place))).collect()
    }

    /// A color's place in CIELAB, unless it is done.
    fn open_point(&self, place: u32) -> Option<[f64; 3]> {
        let done = self.done.binary_search(&place).is_ok();
        self.index.points.get(place as usize).copied().filter(|_| !done)
    }

    /// Largest difference that can still matter, once enough rows are known.
    fn reach(&self) -> Option<f64> {
        let at = |place: usize| self.best.get(place).map(|hit| hit.delta_e.value());
        let limited = self.ask.limit.and_then(|limit| Some(limit.value().max(at(0)?)));
        match (self.unlimited_reach(at), limited) {
            (Some(last), Some(limited)) => Some(last.min(limited)),
            (one, other) => one.or(other),
        }
    }

    fn unlimited_reach(&self, at: impl Fn(usize) -> Option<f64>) -> Option<f64> {
        let last = at(self.ask.count - 1)?;
        let Some(more) = self.ask.more else { return Some(last) };
        let reach = last.max(at(0)? + more.within);
        Some(at(self.ask.most() - 1).map_or(reach, |last_of_all| last_of_all.min(reach)))
    }

    /// Drops rows beyond the count that are farther than asked for.
    fn drop_far(&mut self) {
        if let (Some(more), Some(first)) = (self.ask.more, self.best.first()) {
            let reach = first.delta_e.value() + more.within;
            let near = self.best.partition_point(|hit| hit.delta_e.value() <= reach);
            self.best.truncate(near.max(self.ask.count));
        }
    }

    /// The squared difference above which nothing matters.
    fn cut(&self) -> f64 {
        self.reach().map_or(f64::INFINITY, |reach| with_room(reach * reach))
    }

    /// Scores colors near in CIELAB until there is a reach; false when that took all colors.
    fn seed(&mut self, least: &dyn Fn([f64; 3]) -> f64) -> Result<bool> {
        let total = self.index.points.len();
        let wanted = if self.ask.limit.is_some() { 1 } else { self.ask.count };
        let mut count = wanted.saturating_add(SPARE).min(total);
        loop {
            let near = self.index.near(self.standard, count);
            let mut open: Vec<Open> = near
                .iter()
                .filter_map(|place| Some((least(self.open_point(*place)?), *place)))
                .collect();
            self.tally.bound_calls += open.len() as u64;
            sort(&mut open);
            while let Some(next) = open.pop() {
                self.consider(next)?;
            }
            // The farther look may leave out some of the nearer one where lengths are equal.
            self.done.extend(near);
            self.done.sort_unstable();
            self.done.dedup();
            if count == total {
                return Ok(false);
            }
            if self.reach().is_some() {
                return Ok(true);
            }
            // A filter rejected the near ones: look farther.
            count = count.saturating_mul(8).min(total);
        }
    }

    /// Scores a color unless its bound rules it out.
    fn consider(&mut self, (least, place): Open) -> Result<()> {
        self.poll()?;
        if least > self.cut() {
            return Ok(());
        }
        self.offer(place)
    }

    /// Scores a color for its admitted rows.
    fn offer(&mut self, place: u32) -> Result<()> {
        let index = self.index;
        let admit = self.ask.admit;
        let mut rows = index
            .rows_of(place)
            .iter()
            .map(|row| *row as usize)
            .filter(|row| admit(*row))
            .peekable();
        let Some(sample) = index.colors.get(place as usize).filter(|_| rows.peek().is_some())
        else {
            return Ok(());
        };
        self.tally.formula_calls += 1;
        let pair = Pair { standard: self.ask.standard, sample: *sample };
        let delta_e = self.ask.formula.delta_e(pair);
        for row in rows {
            if !self.keep(Hit { row, delta_e }) {
                break;
            }
        }
        Ok(())
    }

    fn poll(&mut self) -> Result<()> {
        let due = self.considered.is_multiple_of(POLL);
        self.considered += 1;
        if due && self.ask.watch.stopped() {
            return Err(Error::new(ErrorKind::Stopped));
        }
        Ok(())
    }

    /// Puts a hit in its place; false when it and all later rows of its color are too late.
    fn keep(&mut self, hit: Hit) -> bool {
        let place = self.best.partition_point(|held| held.order(&hit).is_lt());
        let most = self.ask.most();
        if place >= most {
            return false;
        }
        self.best.truncate(most - 1);
        self.best.insert(place, hit);
        true
    }
}

/// Largest bound first, so that the least is popped.
fn sort(open: &mut [Open]) {
    open.sort_unstable_by(|left, right| right.0.total_cmp(&left.0));
}
