//! Threads for several colors at once: each color one of its own, none too like another or one in
//! use, steps of lightness and outlines kept; or the nearest to it that is possible, said so. It does
//! not know why the colors need threads.

mod likeness;

use std::collections::BTreeSet;

use super::VISIBLE;
use super::assignment::Grid;
use super::case::Candidate;
use super::meter::Meter;
use super::seating::{self, Clash, Seat, Seating, TRIAL};
use crate::color::Color;
use crate::difference::Formula;
use crate::error::Result;
use likeness::Likeness;

/// Bids of each color that are looked at first; more only where these do not prove the answer.
const FIRST_BIDS: usize = 48;

/// The same where any answer will do: most tables have no more, and then one look is enough.
const TRIAL_BIDS: usize = 512;

/// Parts of a unit in which the least difference apart is loosened.
const TENTHS: f64 = 10.0;

/// Outlines are judged in CIEDE2000, white to white, whatever formula ranks the threads.
const OUTLINE_FORMULA: Formula = Formula::DEFAULT;

/// One thread that may serve one color.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bid {
    /// Its place in [`Field::threads`].
    pub(super) thread: usize,
    pub(super) cost: f64,
}

/// A color in search of a thread.
#[derive(Clone, Debug)]
pub(super) struct Seeker {
    /// Bids, cheapest first.
    pub(super) bids: Vec<Bid>,
    /// Its owner chose its only bid, which stands whatever it clashes with.
    pub(super) fixed: bool,
    /// Colors that stay as they are and from which it stands out as an outline does.
    pub(super) outlines: Vec<Color>,
    /// Colors that stay in use beside those of the field, to which other seekers may come near:
    /// what is left of the threads that these replace.
    pub(super) left: Vec<Color>,
}

/// A step of lightness that should not be reversed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Step {
    /// Size of the step, in units of L*.
    pub(super) size: f64,
    pub(super) sides: Sides,
}

/// Which side of a step is the lighter one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Sides {
    /// The seeker must be lighter than a color of this L*, which stays.
    Above(usize, f64),
    /// The seeker must be darker than a color of this L*, which stays.
    Below(usize, f64),
    /// The first seeker must be lighter than the second.
    Between(usize, usize),
}

/// What must hold beside a thread for each color.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Terms {
    /// Least difference between two threads, in units of the asked formula.
    pub(super) apart: f64,
    pub(super) steps: Vec<Step>,
    /// Whether outlines must stay visible.
    pub(super) outlines: bool,
}

impl Terms {
    /// The levels of L* between which a seeker's thread has to lie, for what stays beside it.
    fn levels(&self, place: usize) -> (f64, f64) {
        let (mut floor, mut ceiling) = (f64::NEG_INFINITY, f64::INFINITY);
        for step in &self.steps {
            match step.sides {
                Sides::Above(seeker, other) if seeker == place => floor = floor.max(other),
                Sides::Below(seeker, other) if seeker == place => ceiling = ceiling.min(other),
                Sides::Above(..) | Sides::Below(..) | Sides::Between(..) => {}
            }
        }
        (floor, ceiling)
    }
}

/// Colors, threads and what they are to each other.
pub(super) struct Field<'c> {
    /// All threads that bid, by lightness, then table and code.
    pub(super) threads: Vec<Candidate<'c>>,
    pub(super) seekers: Vec<Seeker>,
    pub(super) formula: Formula,
    /// Colors of the threads that stay in use.
    pub(super) in_use: Vec<Color>,
    /// Places of the threads that are in use themselves; they have no room to keep.
    pub(super) reused: BTreeSet<usize>,
    /// Pairs of seekers, lower first, that stand out from each other as an outline does.
    pub(super) touching: BTreeSet<(usize, usize)>,
}

/// Threads for all seekers, as good as they were found.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Picks {
    /// The thread of each seeker, by its place in [`Field::threads`].
    pub(super) threads: Vec<usize>,
    pub(super) bound: f64,
    pub(super) proved: bool,
    /// The terms that hold.
    pub(super) terms: Terms,
    /// Whether it is proved that the terms that were asked for cannot all be met.
    pub(super) impossible: bool,
}

/// What an attempt under given terms found.
struct Attempt {
    threads: Option<Vec<usize>>,
    bound: f64,
    proved: bool,
}

/// A field with what was measured on it.
pub(super) struct Joint<'f, 'c> {
    field: &'f Field<'c>,
    likeness: Likeness<'f, 'c>,
    /// Steps of work left.
    budget: u64,
}

impl<'f, 'c> Joint<'f, 'c> {
    pub(super) fn new(field: &'f Field<'c>) -> Self {
        Self { field, likeness: Likeness::new(field), budget: seating::BUDGET }
    }

    /// The best threads under the terms, or under the terms nearest to them that can be met; `None`
    /// when there are not enough different threads.
    pub(super) fn solve(&mut self, asked: &Terms, meter: &mut Meter<'_>) -> Result<Option<Picks>> {
        let first = self.attempt(asked, false, meter)?;
        let impossible = first.threads.is_none() && first.proved;
        if let Some(picks) = picked(first, asked.clone(), impossible) {
            return Ok(Some(picks));
        }
        let Some(terms) = self.loosened(asked, meter)? else { return Ok(None) };
        let found = self.attempt(&terms, false, meter)?;
        Ok(picked(found, terms, impossible))
    }

    /// Terms that can be met, as near to those asked for as possible: threads less apart, down to
    /// half; then the largest steps of lightness only; then outlines given up too.
    fn loosened(&mut self, asked: &Terms, meter: &mut Meter<'_>) -> Result<Option<Terms>> {
        if let Some(terms) = self.less_apart(asked, asked.apart / 2.0, meter)? {
            return Ok(Some(terms));
        }
        for outlines in [true, false] {
            if outlines && !asked.outlines {
                continue;
            }
            let flat = Terms { steps: Vec::new(), outlines, ..asked.clone() };
            let feasible = if self.is_possible(&flat, meter)? {
                Some(flat)
            } else {
                self.less_apart(&flat, 0.0, meter)?
            };
            if let Some(mut terms) = feasible {
                self.add_steps(&mut terms, &asked.steps, meter)?;
                return Ok(Some(terms));
            }
        }
        Ok(None)
    }

    /// The terms with the threads as far apart as possible, in tenths, but at least `least`.
    fn less_apart(
        &mut self,
        asked: &Terms,
        least: f64,
        meter: &mut Meter<'_>,
    ) -> Result<Option<Terms>> {
        let with = |tenths: u32| Terms { apart: f64::from(tenths) / TENTHS, ..asked.clone() };
        let tenths =
            |apart: f64| (0..10_000).take_while(|n| f64::from(*n) / TENTHS < apart).count();
        let mut low = u32::try_from(tenths(least)).unwrap_or(0);
        let mut high = u32::try_from(tenths(asked.apart)).unwrap_or(0);
        if low >= high || !self.is_possible(&with(low), meter)? {
            return Ok(None);
        }
        // `low` is possible, `high` is not.
        while high - low > 1 {
            let middle = u32::midpoint(low, high);
            if self.is_possible(&with(middle), meter)? {
                low = middle;
            } else {
                high = middle;
            }
        }
        Ok(Some(with(low)))
    }

    /// Adds as many steps as can be kept, the largest first.
    fn add_steps(
        &mut self,
        terms: &mut Terms,
        steps: &[Step],
        meter: &mut Meter<'_>,
    ) -> Result<()> {
        let mut sorted = steps.to_vec();
        sorted.sort_by(|one, two| two.size.total_cmp(&one.size));
        let mut waiting = vec![sorted];
        let mut threads: Option<Vec<usize>> = None;
        while let Some(some) = waiting.pop() {
            let mut more = terms.clone();
            more.steps.extend(&some);
            let keeps = |threads: &Vec<usize>| self.reversed(&some, threads) == 0;
            let found = match threads.clone().filter(keeps) {
                Some(threads) => Some(threads),
                None => self.attempt(&more, true, meter)?.threads,
            };
            if found.is_some() {
                (*terms, threads) = (more, found);
            } else if some.len() > 1 {
                let (larger, smaller) = some.split_at(some.len() / 2);
                waiting.extend([smaller.to_vec(), larger.to_vec()]);
            }
        }
        Ok(())
    }

    fn is_possible(&mut self, terms: &Terms, meter: &mut Meter<'_>) -> Result<bool> {
        Ok(self.attempt(terms, true, meter)?.threads.is_some())
    }

    /// The best threads under the terms, or any: with a few bids each, then with all that are not
    /// proved to be too dear.
    fn attempt(&mut self, terms: &Terms, any: bool, meter: &mut Meter<'_>) -> Result<Attempt> {
        let seekers = self.field.seekers.len();
        let mut most = if any { TRIAL_BIDS } else { FIRST_BIDS }.max(2 * seekers);
        let mut reach = vec![0.0; seekers];
        let mut known: Option<Vec<usize>> = None;
        loop {
            let lists = self.admitted(terms, (most, &reach), meter)?;
            let all = lists.iter().all(|list| list.next.is_none());
            if lists.iter().any(|list| list.bids.is_empty()) {
                return Ok(Attempt { threads: None, bound: f64::INFINITY, proved: true });
            }
            let board = Board::new(self.field, terms, &lists);
            let before = meter.worked();
            let mut rules = Rules { board: &board, terms, likeness: &mut self.likeness };
            let seating = Seating {
                grid: &board.grid,
                levels: &board.levels,
                order: &board.order,
                any,
                known: known.as_deref().map(|threads| board.columns_of(threads)),
            };
            let budget = if any { TRIAL } else { self.budget.max(TRIAL) };
            let found = seating::seat(&seating, &mut rules, budget, meter)?;
            if !any {
                self.budget = self.budget.saturating_sub(meter.worked() - before);
            }
            let seats = found.seats.map(|seats| board.threads_of(&seats));
            let reached: Vec<f64> =
                (0..seekers).map(|row| found.prices.reach(row, found.cost)).collect();
            let is_out =
                |(list, reach): (&Admitted, &f64)| list.next.is_none_or(|next| next >= *reach);
            // After a known answer, all that could be part of a better one was looked at.
            let told = all || !found.proved || known.is_some() || (any && seats.is_some());
            if told || (seats.is_some() && lists.iter().zip(&reached).all(is_out)) {
                return Ok(Attempt { threads: seats, bound: found.bound, proved: found.proved });
            }
            if seats.is_some() {
                (reach, known) = (reached, seats);
            } else {
                most = most.saturating_mul(4);
            }
        }
    }

    /// The cheapest bids of each seeker that the terms admit whatever the others get: so many, and
    /// all that cost less than its reach.
    fn admitted(
        &mut self,
        terms: &Terms,
        (most, reach): (usize, &[f64]),
        meter: &mut Meter<'_>,
    ) -> Result<Vec<Admitted>> {
        let field = self.field;
        let mut lists = Vec::with_capacity(field.seekers.len());
        for ((place, seeker), reach) in field.seekers.iter().enumerate().zip(reach) {
            let mut list = Admitted { bids: Vec::new(), next: None };
            let terms = (terms, terms.levels(place));
            for bid in &seeker.bids {
                if !seeker.fixed && !self.is_admitted((place, bid.thread), terms, meter)? {
                    continue;
                }
                if list.bids.len() >= most && bid.cost >= *reach {
                    list.next = Some(bid.cost);
                    break;
                }
                list.bids.push(*bid);
            }
            lists.push(list);
        }
        Ok(lists)
    }

    /// Whether a thread suits a seeker beside everything that stays; its lightness has to lie between
    /// two levels.
    fn is_admitted(
        &mut self,
        seat: Seat,
        (terms, levels): (&Terms, (f64, f64)),
        meter: &mut Meter<'_>,
    ) -> Result<bool> {
        let Some(candidate) = self.field.threads.get(seat.1) else { return Ok(false) };
        let level = candidate.thread.color.lab().l();
        if level <= levels.0 || level >= levels.1 {
            return Ok(false);
        }
        Ok(self.likeness.room(seat, meter)? >= terms.apart
            && (!terms.outlines || self.likeness.outlined(seat, meter)? >= VISIBLE))
    }

    /// How many of the steps are reversed by threads for all seekers.
    pub(super) fn reversed(&self, steps: &[Step], threads: &[usize]) -> usize {
        let level = |seeker: usize| {
            let thread = self.field.threads.get(*threads.get(seeker)?)?;
            Some(thread.thread.color.lab().l())
        };
        let is_kept = |step: &&Step| {
            let kept = match step.sides {
                Sides::Above(seeker, other) => level(seeker).map(|level| level > other),
                Sides::Below(seeker, other) => level(seeker).map(|level| level < other),
                Sides::Between(one, other) => {
                    level(one).zip(level(other)).map(|(one, other)| one > other)
                }
            };
            kept.unwrap_or(true)
        };
        steps.len() - steps.iter().filter(is_kept).count()
    }

    /// The least difference between a new thread and another one, new or in use.
    pub(super) fn least_apart(
        &mut self,
        threads: &[usize],
        meter: &mut Meter<'_>,
    ) -> Result<Option<f64>> {
        let mut least = f64::INFINITY;
        for (place, thread) in threads.iter().enumerate() {
            least = least.min(self.likeness.room((place, *thread), meter)?);
            for other in threads.iter().skip(place + 1) {
                least = least.min(self.likeness.between(*thread, *other, meter)?);
            }
        }
        Ok(least.is_finite().then_some(least))
    }

    /// The next best bids of a seeker that could take the place of its thread, the others staying.
    pub(super) fn runners_up(
        &mut self,
        place: usize,
        picks: &Picks,
        most: usize,
        meter: &mut Meter<'_>,
    ) -> Result<Vec<usize>> {
        let field = self.field;
        let mut found = Vec::new();
        let Some(seeker) = field.seekers.get(place) else { return Ok(found) };
        let terms = (&picks.terms, picks.terms.levels(place));
        for bid in &seeker.bids {
            if found.len() == most {
                break;
            }
            let mut others = picks.threads.clone();
            if others.contains(&bid.thread)
                || !self.is_admitted((place, bid.thread), terms, meter)?
            {
                continue;
            }
            others.get_mut(place).into_iter().for_each(|thread| *thread = bid.thread);
            if self.is_agreed(place, &others, &picks.terms, meter)? {
                found.push(bid.thread);
            }
        }
        Ok(found)
    }

    /// Whether a seeker's thread agrees with those of all others.
    fn is_agreed(
        &mut self,
        place: usize,
        threads: &[usize],
        terms: &Terms,
        meter: &mut Meter<'_>,
    ) -> Result<bool> {
        let own: Vec<Step> = terms
            .steps
            .iter()
            .filter(|step| match step.sides {
                Sides::Between(one, other) => one == place || other == place,
                Sides::Above(..) | Sides::Below(..) => false,
            })
            .copied()
            .collect();
        if self.reversed(&own, threads) > 0 {
            return Ok(false);
        }
        let Some(thread) = threads.get(place) else { return Ok(false) };
        for (other, beside) in threads.iter().enumerate().filter(|(other, _)| *other != place) {
            if self.likeness.clash((place, *thread), (other, *beside), terms, meter)? {
                return Ok(false);
            }
        }
        Ok(true)
    }
}

fn picked(found: Attempt, terms: Terms, impossible: bool) -> Option<Picks> {
    let Attempt { threads, bound, proved } = found;
    threads.map(|threads| Picks { threads, bound, proved, terms, impossible })
}

/// The bids of one seeker that are looked at.
struct Admitted {
    bids: Vec<Bid>,
    /// Cost of the cheapest admitted bid that was left out.
    next: Option<f64>,
}

/// Seekers and the threads that are looked at, as rows and columns.
struct Board {
    grid: Grid,
    /// The thread of each column.
    threads: Vec<usize>,
    levels: Vec<f64>,
    order: Vec<(usize, usize)>,
}

impl Board {
    fn new(field: &Field<'_>, terms: &Terms, lists: &[Admitted]) -> Self {
        let all: BTreeSet<usize> =
            lists.iter().flat_map(|list| list.bids.iter().map(|bid| bid.thread)).collect();
        let threads: Vec<usize> = all.into_iter().collect();
        let row = |list: &Admitted| {
            let mut row = vec![f64::INFINITY; threads.len()];
            for bid in &list.bids {
                let cell = threads.binary_search(&bid.thread).ok();
                let cell = cell.and_then(|column| row.get_mut(column));
                cell.into_iter().for_each(|cell| *cell = bid.cost);
            }
            row
        };
        let rows: Vec<Vec<f64>> = lists.iter().map(row).collect();
        let level = |thread: &usize| {
            field.threads.get(*thread).map_or(0.0, |held| held.thread.color.lab().l())
        };
        let both_free = |one: usize, other: usize| !is_fixed(field, one) || !is_fixed(field, other);
        let order = terms.steps.iter().filter_map(|step| match step.sides {
            Sides::Between(one, other) => both_free(one, other).then_some((one, other)),
            Sides::Above(..) | Sides::Below(..) => None,
        });
        Self {
            grid: Grid::new(threads.len(), &rows),
            levels: threads.iter().map(level).collect(),
            order: without_implied(&order.collect()),
            threads,
        }
    }

    fn columns_of(&self, threads: &[usize]) -> Vec<usize> {
        threads.iter().filter_map(|thread| self.threads.binary_search(thread).ok()).collect()
    }

    fn threads_of(&self, columns: &[usize]) -> Vec<usize> {
        columns.iter().filter_map(|column| self.threads.get(*column)).copied().collect()
    }
}

/// The pairs of an order that do not follow from two others.
fn without_implied(order: &BTreeSet<(usize, usize)>) -> Vec<(usize, usize)> {
    let follows = |(first, last): &(usize, usize)| {
        let after = order.range((*first, 0)..=(*first, usize::MAX));
        after.into_iter().any(|(_, between)| order.contains(&(*between, *last)))
    };
    order.iter().filter(|pair| !follows(pair)).copied().collect()
}

fn is_fixed(field: &Field<'_>, seeker: usize) -> bool {
    field.seekers.get(seeker).is_some_and(|seeker| seeker.fixed)
}

/// The clashes of seats on a board.
struct Rules<'r, 'f, 'c> {
    board: &'r Board,
    terms: &'r Terms,
    likeness: &'r mut Likeness<'f, 'c>,
}

impl Clash for Rules<'_, '_, '_> {
    fn clash(&mut self, one: Seat, other: Seat, meter: &mut Meter<'_>) -> Result<bool> {
        let thread = |column: usize| self.board.threads.get(column).copied().unwrap_or(usize::MAX);
        let (one, other) = ((one.0, thread(one.1)), (other.0, thread(other.1)));
        self.likeness.clash(one, other, self.terms, meter)
    }

    fn always(&mut self, one: usize, other: usize, meter: &mut Meter<'_>) -> Result<bool> {
        let thread = |column: usize| self.board.threads.get(column).copied().unwrap_or(usize::MAX);
        let apart = self.terms.apart;
        Ok(apart > 0.0 && self.likeness.between(thread(one), thread(other), meter)? < apart)
    }
}
