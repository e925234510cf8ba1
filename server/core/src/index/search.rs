//! One search: near blocks first, then all that a bound cannot rule out.
//! It does not know the tree or how colors are measured.

use std::cmp::Ordering;

use super::columns::BLOCK;
use super::kernel::Sift;
use super::ruler::Ruler;
use super::{Candidate, Hit, LabIndex, Tally};
use crate::color::Lab;
use crate::difference::{DeltaE, Formula, Pair};
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
    /// Which rows may answer; all of them without it.
    pub(crate) admit: Option<&'a dyn Fn(usize) -> bool>,
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

    /// Largest difference that can matter, from the nearest rows that are known: their differences in
    /// order, or what these are at most.
    fn reach(&self, known: impl Fn(usize) -> Option<f64>) -> f64 {
        let at = |place: usize| known(place).unwrap_or(f64::INFINITY);
        let last = at(self.count - 1);
        let with_more =
            self.more.map_or(last, |more| last.max(at(0) + more.within).min(at(self.most() - 1)));
        self.limit.map_or(with_more, |limit| with_more.min(limit.value().max(at(0))))
    }
}

/// Where a difference lies for certain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Range {
    pub(super) least: f64,
    /// May be infinite.
    pub(super) most: f64,
}

/// Blocks that are measured, and colors that are scored, between two looks at the watch.
const POLL: usize = 16;
const POLL_SCORES: usize = 256;

/// Blocks beyond those that the count fills which are measured before the reach is taken.
const SPARE: usize = 2;

/// A search begins again with this many times the near blocks when there is no reach by them, or one
/// that leaves more than this many times their number to measure.
const FARTHER: usize = 8;
const FAR: usize = 32;

/// Colors for which a search makes room from the start.
const OPEN: usize = 64;

/// A search under way.
pub(super) struct Search<'s, 'a> {
    index: &'s LabIndex,
    ask: &'s Ask<'a>,
    tally: &'s mut Tally,
    ruler: Ruler,
}

impl<'s, 'a> Search<'s, 'a> {
    pub(super) fn new(index: &'s LabIndex, ask: &'s Ask<'a>, tally: &'s mut Tally) -> Self {
        Self { index, ask, tally, ruler: Ruler::new(ask.standard, ask.formula, index.extent) }
    }

    pub(super) fn run(mut self) -> Result<Vec<Hit>> {
        let wanted = if self.ask.limit.is_some() { 1 } else { self.ask.count };
        let mut count = wanted.div_ceil(BLOCK / 2).saturating_add(SPARE);
        loop {
            let near = self.index.near(self.ask.standard, count);
            let all = near.len() == self.index.count_blocks();
            let mut sieve = Sieve::new(self.index, self.ask);
            self.measure(&near, &mut sieve)?;
            let mut rest = Vec::new();
            if !all && sieve.reach < f64::INFINITY {
                rest = self.ruler.within(&self.index.boxes, sieve.reach);
                rest.retain(|block| !near.contains(block));
            }
            let known = all || sieve.reach < f64::INFINITY;
            if known && rest.len() <= FAR * near.len() {
                self.measure(&rest, &mut sieve)?;
                return self.score(sieve);
            }
            // A filter rejected the near ones, or more would have told more.
            count = count.saturating_mul(FARTHER);
        }
    }

    fn measure(&mut self, blocks: &[u32], sieve: &mut Sieve<'s, 'a>) -> Result<()> {
        for blocks in blocks.chunks(POLL) {
            self.poll()?;
            self.tally.bound_calls += self.ruler.sift(self.index, blocks, sieve);
        }
        Ok(())
    }

    /// Scores the colors that may be within reach, least lower end first.
    fn score(&mut self, sieve: Sieve<'_, '_>) -> Result<Vec<Hit>> {
        let Sieve { mut open, reach, .. } = sieve;
        open.retain(|(least, _)| *least <= reach);
        open.sort_unstable_by(|left, right| left.0.total_cmp(&right.0));
        // All are fetched before the first is scored, so that one does not wait for the other.
        let candidates: Vec<Candidate<'_>> = open
            .into_iter()
            .filter_map(|(least, place)| self.index.candidate(least, place))
            .collect();
        let mut best = Vec::with_capacity(self.ask.most().min(candidates.len()));
        for (number, candidate) in candidates.into_iter().enumerate() {
            if candidate.least > reach_of(self.ask, &best) {
                break;
            }
            if number % POLL_SCORES == POLL_SCORES - 1 {
                self.poll()?;
            }
            self.offer(&candidate, &mut best);
        }
        self.drop_far(&mut best);
        Ok(best)
    }

    /// Drops rows beyond the count that are farther than asked for.
    fn drop_far(&self, best: &mut Vec<Hit>) {
        if let (Some(more), Some(first)) = (self.ask.more, best.first()) {
            let reach = first.delta_e.value() + more.within;
            let near = best.partition_point(|hit| hit.delta_e.value() <= reach);
            best.truncate(near.max(self.ask.count));
        }
    }

    /// Scores a color for its admitted rows.
    fn offer(&mut self, candidate: &Candidate<'_>, best: &mut Vec<Hit>) {
        self.tally.formula_calls += 1;
        let pair = Pair { standard: self.ask.standard, sample: candidate.lab };
        let delta_e = self.ask.formula.delta_e(pair);
        let rows = std::iter::once(candidate.first).chain(candidate.others.iter().copied());
        let rows = rows.map(|row| row as usize);
        for row in rows.filter(|row| self.ask.admit.is_none_or(|admit| admit(*row))) {
            if !keep(best, self.ask.most(), Hit { row, delta_e }, Hit::order) {
                break;
            }
        }
    }

    fn poll(&self) -> Result<()> {
        if self.ask.watch.stopped() { Err(Error::new(ErrorKind::Stopped)) } else { Ok(()) }
    }
}

fn reach_of(ask: &Ask<'_>, best: &[Hit]) -> f64 {
    ask.reach(|place| best.get(place).map(|hit| hit.delta_e.value()))
}

/// What is left of the colors that were measured.
pub(super) struct Sieve<'s, 'a> {
    index: &'s LabIndex,
    ask: &'s Ask<'a>,
    /// Upper ends of the nearest colors so far, in order, at most as many as the answer holds.
    most: Vec<f64>,
    /// Differences beyond it do not matter.
    reach: f64,
    /// Lower ends of what may be within reach.
    open: Vec<(f64, u32)>,
}

impl<'s, 'a> Sieve<'s, 'a> {
    fn new(index: &'s LabIndex, ask: &'s Ask<'a>) -> Self {
        let most = Vec::with_capacity(ask.most().min(OPEN));
        Self { index, ask, most, reach: f64::INFINITY, open: Vec::with_capacity(OPEN) }
    }

    /// Takes up a color unless it is out of reach.
    pub(super) fn keep(&mut self, place: u32, range: Range) {
        if range.least <= self.reach {
            self.tighten(place, range.most);
            self.open(place, range.least);
        }
    }

    fn may_answer(&self, place: u32) -> bool {
        match self.ask.admit {
            Some(admit) => self.index.rows_of(place).iter().any(|row| admit(*row as usize)),
            None => (place as usize) < self.index.colors.len(),
        }
    }
}

impl Sift for Sieve<'_, '_> {
    fn reach(&self) -> f64 {
        self.reach
    }

    fn tighten(&mut self, place: u32, most: f64) -> f64 {
        if most <= self.reach
            && self.may_answer(place)
            && keep(&mut self.most, self.ask.most(), most, f64::total_cmp)
        {
            self.reach = self.ask.reach(|place| self.most.get(place).copied());
        }
        self.reach
    }

    fn open(&mut self, place: u32, least: f64) {
        if self.may_answer(place) {
            self.open.push((least, place));
        }
    }
}

/// Puts a value in its place among the `count` best; false when it is too late for it.
fn keep<T>(best: &mut Vec<T>, count: usize, value: T, order: impl Fn(&T, &T) -> Ordering) -> bool {
    let place = best.partition_point(|held| order(held, &value).is_lt());
    if place >= count {
        return false;
    }
    best.truncate(count - 1);
    best.insert(place, value);
    true
}
