//! Moves threads and colors until no move makes difference and lost contrast together smaller.
//! It starts from a palette that was chosen by stitches alone; it proves nothing.

use std::cmp::Ordering;

use super::super::case::{Case, whole};
use super::super::meter::Meter;
use super::super::model::Reduction;
use super::board::Board;
use super::bound;
use super::layout::Layout;
use super::split::Best;
use super::{Contrast, Step};
use crate::error::Result;

/// Smallest gain in mean difference that is worth a move; below it lies rounding.
pub(super) const WORTH_MOVING: f64 = 1e-10;

/// What a color pays while no other thread is open that it may have.
const UNSERVED: f64 = 1e9;

/// Cells that one search may visit. A count, not a clock: the answer is the same everywhere.
const BUDGET: u64 = 600_000_000;

/// Moves that are tried out before the search ends, most promising first.
const TRIES: usize = 64;

/// Pairs that are seated jointly before the search ends, the most troubled first.
const PAIRS: usize = 64;

/// Rows that are put on other seats before the search ends.
const PUSHES: usize = 1_024;

/// Times that a good layout is left by chance, and the cells that this may cost.
const SHAKES: u32 = 64;
const SHAKE_BUDGET: u64 = 20_000_000;

/// Cells that each choice of threads may cost that the bound comes across.
const OFFER_BUDGET: u64 = 2_000_000;

/// Hears the part that is done.
type Tell<'t> = dyn Fn(&Meter<'_>, f64) + 't;

/// What the search found.
#[derive(Debug)]
pub(in super::super) struct Kept {
    /// The model column of each row.
    pub(in super::super) columns: Vec<usize>,
    /// Difference of the rows and contrast lost in all cannot be smaller together.
    pub(in super::super) bound: f64,
}

/// A palette that was chosen by stitches alone.
#[derive(Clone, Copy, Debug)]
pub(in super::super) struct Start<'s> {
    /// Open columns.
    pub(in super::super) open: &'s [usize],
    /// The column of each row, an open one.
    pub(in super::super) columns: &'s [usize],
    /// What each row would pay at most: the multipliers of a good bound.
    pub(in super::super) multipliers: &'s [f64],
}

/// Searches from a palette that was chosen by stitches alone. `tell` hears the part that is
/// done.
pub(in super::super) fn keep(
    case: &Case<'_, '_>,
    reduction: &Reduction<'_>,
    (contrast, start): (&Contrast, Start<'_>),
    meter: &mut Meter<'_>,
    tell: &Tell<'_>,
) -> Result<Kept> {
    let board = Board::new(case, reduction, (contrast, start.open), meter)?;
    let mut search = Search::new(board, start, meter)?;
    search.improve(meter, tell)?;
    let bound = bound::bound(&reduction.problem, start.multipliers, &mut search, meter)?;
    Ok(Kept { columns: search.columns(), bound: bound + search.board.settled })
}

/// A move: a thread opens, the thread of a seat closes, or both.
#[derive(Clone, Copy, Debug)]
struct Move {
    change: f64,
    opens: Option<usize>,
    closes: Option<usize>,
}

impl Move {
    /// The most promising first.
    fn order(&self, other: &Self) -> Ordering {
        let by_number = (self.opens, self.closes).cmp(&(other.opens, other.closes));
        self.change.total_cmp(&other.change).then(by_number)
    }
}

struct Search<'b> {
    board: Board<'b>,
    layout: Layout,
    /// What each row would pay on each thread of the shortlist while the others stay.
    pays: Vec<f64>,
    total: f64,
    spent: u64,
}

impl<'b> Search<'b> {
    fn new(board: Board<'b>, start: Start<'_>, meter: &mut Meter<'_>) -> Result<Self> {
        let number = |column: &usize| board.columns.binary_search(column).ok();
        let open: Vec<usize> = start.open.iter().filter_map(number).collect();
        let seat = |column: &usize| {
            let number = number(column);
            open.iter().position(|open| Some(*open) == number).unwrap_or(0)
        };
        let seats: Vec<usize> = start.columns.iter().map(seat).collect();
        let layout = Layout::new(Vec::new(), Vec::new(), |_| &[]);
        let mut search = Self { board, layout, pays: Vec::new(), total: f64::MAX, spent: 0 };
        search.place(open, seats, meter)?;
        Ok(search)
    }

    /// Takes up other threads and seats.
    fn place(&mut self, open: Vec<usize>, seats: Vec<usize>, meter: &mut Meter<'_>) -> Result<()> {
        for thread in &open {
            self.board.measure(*thread, meter)?;
        }
        let board = &self.board;
        let (rows, width) = (board.rows, board.width());
        let mut pays: Vec<f64> = Vec::with_capacity(rows * width);
        for row in 0..rows {
            let from = pays.len();
            pays.extend_from_slice(board.costs(row));
            for link in board.links(row) {
                let other = seats.get(link.row).and_then(|seat| open.get(*seat));
                let step = link.step.reversed();
                let apart = other.map_or(&[] as &[f64], |other| board.apart(*other, step));
                let cells = pays.iter_mut().skip(from).zip(apart);
                cells.for_each(|(cell, apart)| *cell += link.loss(*apart));
            }
            meter.look()?;
        }
        self.layout = Layout::new(open, seats, |row| row_of(&pays, row, width));
        self.pays = pays;
        self.total = self.layout.total(&self.board);
        self.spent += (rows * width) as u64;
        Ok(())
    }

    /// Each row on the cheapest of these threads, as if none pulled at another; none where a row can
    /// have none of them, or where that alone is no better than what there is.
    fn cheapest(&self, open: &[usize]) -> Option<Vec<usize>> {
        let price = |thread: &usize| self.board.prices.get(*thread).copied().unwrap_or(0.0);
        let mut sum: f64 = open.iter().map(price).sum();
        let mut seats = Vec::with_capacity(self.board.rows);
        for row in 0..self.board.rows {
            let costs = self.board.costs(row);
            let cost = |thread: &usize| costs.get(*thread).copied().unwrap_or(f64::INFINITY);
            let open = open.iter().map(cost).enumerate();
            let (seat, least) = open.min_by(|one, two| one.1.total_cmp(&two.1))?;
            sum += least;
            seats.push(seat);
        }
        (sum < self.total - WORTH_MOVING).then_some(seats)
    }

    fn improve(&mut self, meter: &mut Meter<'_>, tell: &Tell<'_>) -> Result<()> {
        self.open_spare(meter)?;
        self.take_if_better(self.settled());
        self.descend(BUDGET, meter, tell)?;
        self.shake(meter, tell)
    }

    /// Takes moves that help until none does or the budget is spent.
    fn descend(&mut self, budget: u64, meter: &mut Meter<'_>, tell: &Tell<'_>) -> Result<()> {
        while self.spent <= budget {
            tell(meter, whole(self.spent) / whole(BUDGET));
            if !self.attempt_moves(meter)? && !self.seat_pairs(meter)? && !self.push(meter)? {
                break;
            }
        }
        Ok(())
    }

    /// Leaves a good layout again and again by chance moves, and stays where that ends better. The
    /// chance is the same everywhere.
    fn shake(&mut self, meter: &mut Meter<'_>, tell: &Tell<'_>) -> Result<()> {
        let budget = (self.spent + SHAKE_BUDGET).min(BUDGET);
        let mut chance = Chance(1);
        for _ in 0..SHAKES {
            if self.spent > budget || self.troubled_pairs().is_empty() {
                break;
            }
            let before = (self.layout.clone(), self.pays.clone(), self.total);
            self.kick(&mut chance, meter)?;
            self.descend(budget, meter, tell)?;
            if self.total >= before.2 - WORTH_MOVING {
                (self.layout, self.pays, self.total) = before;
            }
        }
        Ok(())
    }

    /// Seats the two sides of some troubled pair by chance, every other time beside another thread.
    fn kick(&mut self, chance: &mut Chance, meter: &mut Meter<'_>) -> Result<()> {
        let pairs = self.troubled_pairs();
        let Some((row, link)) = pairs.get(chance.below(pairs.len())).copied() else {
            return Ok(());
        };
        let seats = self.layout.open.len();
        let (seat, thread) = (chance.below(seats), chance.below(self.board.width()));
        let swaps = chance.below(2) == 0 && !self.is_locked(seat);
        let mut trial = if swaps && !self.layout.open.contains(&thread) {
            self.opened(Move { change: 0.0, opens: Some(thread), closes: Some(seat) }, meter)?
        } else {
            self.layout.clone()
        };
        for row in [row, self.linked_row(row, link)] {
            trial.seat(&self.board, row, chance.below(trial.open.len()));
        }
        trial.settle(&self.board);
        self.take(trial);
        Ok(())
    }

    /// Opens as many threads as may be open, as far as they are free: an idle one costs nothing, and
    /// two colors may want it together that neither wants alone.
    fn open_spare(&mut self, meter: &mut Meter<'_>) -> Result<()> {
        let spare = self.board.most.saturating_sub(self.layout.open.len());
        let mut open = self.layout.open.clone();
        let moves = self.moves();
        let free =
            |thread: &usize| self.board.prices.get(*thread).is_none_or(|price| *price <= 0.0);
        let added = moves.iter().filter(|tried| tried.closes.is_none());
        open.extend(added.filter_map(|tried| tried.opens).filter(free).take(spare));
        for thread in &open {
            self.board.measure(*thread, meter)?;
        }
        let width = self.board.width();
        let pays = |row: usize| row_of(&self.pays, row, width);
        self.layout = Layout::new(open, self.layout.seats.clone(), pays);
        Ok(())
    }

    /// Takes the first move that helps; true when one does.
    fn attempt_moves(&mut self, meter: &mut Meter<'_>) -> Result<bool> {
        for tried in self.moves() {
            meter.look()?;
            if self.attempt(tried, meter)? {
                return Ok(true);
            }
            if self.spent > BUDGET {
                break;
            }
        }
        Ok(false)
    }

    /// The present layout with every row on its best seat.
    fn settled(&self) -> Layout {
        let mut trial = self.layout.clone();
        trial.settle(&self.board);
        trial
    }

    /// Tries a move out with everything that follows from it.
    fn attempt(&mut self, tried: Move, meter: &mut Meter<'_>) -> Result<bool> {
        let mut trial = self.opened(tried, meter)?;
        trial.settle(&self.board);
        Ok(self.take_if_better(trial))
    }

    /// The present layout after a move, before anyone follows.
    fn opened(&mut self, tried: Move, meter: &mut Meter<'_>) -> Result<Layout> {
        let mut open = self.layout.open.clone();
        if let Some(opens) = tried.opens {
            self.board.measure(opens, meter)?;
            open.push(opens);
        }
        let width = self.board.width();
        let pays = |row: usize| row_of(&self.pays, row, width);
        let mut trial = Layout::new(open, self.layout.seats.clone(), pays);
        if let Some(seat) = tried.closes {
            trial.close(&self.board, seat);
        }
        Ok(trial)
    }

    fn take_if_better(&mut self, trial: Layout) -> bool {
        let better = trial.total(&self.board) < self.total - WORTH_MOVING;
        if better {
            self.take(trial);
        } else {
            self.spent += trial.visited;
        }
        better
    }

    /// Takes a layout and tells every row what it would now pay everywhere.
    fn take(&mut self, trial: Layout) {
        self.spent += trial.visited;
        self.total = trial.total(&self.board);
        let width = self.board.width();
        for row in 0..self.board.rows {
            let (Some(old), Some(new)) = (self.layout.thread(row), trial.thread(row)) else {
                continue;
            };
            if old == new {
                continue;
            }
            for link in self.board.links(row) {
                let apart = |thread: usize| self.board.apart(thread, link.step);
                let (old, new) = (apart(old), apart(new));
                let start = link.row * width;
                let Some(pays) = self.pays.get_mut(start..start + width) else { continue };
                for (cell, (old, new)) in pays.iter_mut().zip(old.iter().zip(new)) {
                    *cell += link.loss(*new) - link.loss(*old);
                }
            }
            self.spent += (self.board.links(row).len() * width) as u64;
        }
        self.layout = trial;
    }

    /// The most promising moves, judged as if no other color would follow.
    fn moves(&mut self) -> Vec<Move> {
        let (width, seats) = (self.board.width(), self.layout.open.len());
        let mut gains = vec![0.0; width];
        let mut losses = vec![0.0; seats];
        // What closing a seat costs more, or less, once a thread is open.
        let mut shifts = vec![0.0; seats * width];
        for row in 0..self.board.rows {
            let Some(seat) = self.layout.seats.get(row).copied() else { continue };
            let pays = self.layout.pays(row);
            let first = pays.get(seat).copied().unwrap_or(0.0);
            let others = pays.iter().enumerate().filter(|(other, _)| *other != seat);
            let second = others.map(|(_, paid)| *paid).fold(f64::INFINITY, f64::min).max(first);
            let second = second.min(UNSERVED);
            losses.get_mut(seat).into_iter().for_each(|loss| *loss += second - first);
            let Some(shifts) = shifts.get_mut(seat * width..(seat + 1) * width) else { continue };
            let cells = gains.iter_mut().zip(shifts).zip(row_of(&self.pays, row, width));
            for ((gain, shift), cost) in cells {
                let (to_first, to_second) = (cost.min(first), cost.min(second));
                *gain += to_first - first;
                *shift += to_second - second - (to_first - first);
            }
        }
        self.spent += (self.board.rows * width) as u64;
        let board = &self.board;
        let price = |thread: usize| board.prices.get(thread).copied().unwrap_or(0.0);
        let closing = |seat: usize| {
            let paid = self.layout.open.get(seat).map_or(0.0, |thread| price(*thread));
            losses.get(seat).copied().unwrap_or(f64::MAX) - paid
        };
        let seats_to_close: Vec<usize> = (0..seats).filter(|seat| !self.is_locked(*seat)).collect();
        let has_room = seats < board.most;
        let is_open = |thread: &usize| self.layout.open.contains(thread);
        let mut moves: Vec<Move> = Vec::with_capacity(width);
        for (thread, gain) in gains.iter().enumerate().filter(|(thread, _)| !is_open(thread)) {
            let (opens, opening) = (Some(thread), gain + price(thread));
            if has_room {
                moves.push(Move { change: opening, opens, closes: None });
            }
            if has_room && price(thread) <= 0.0 {
                continue;
            }
            moves.extend(seats_to_close.iter().map(|seat| {
                let shift = shifts.get(seat * width + thread).copied().unwrap_or(0.0);
                Move { change: opening + closing(*seat) + shift, opens, closes: Some(*seat) }
            }));
        }
        let drops = seats_to_close.iter().filter(|_| seats > 1);
        let drops =
            drops.map(|seat| Move { change: closing(*seat), opens: None, closes: Some(*seat) });
        moves.extend(drops.filter(|tried| tried.change < 0.0));
        if moves.len() > TRIES {
            moves.select_nth_unstable_by(TRIES, Move::order);
            moves.truncate(TRIES);
        }
        moves.sort_by(Move::order);
        moves
    }

    fn is_locked(&self, seat: usize) -> bool {
        let thread = self.layout.open.get(seat);
        thread.and_then(|thread| self.board.locked.get(*thread)).copied().unwrap_or(true)
    }

    /// Seats the two sides of troubled pairs jointly; true when one of them helped.
    fn seat_pairs(&mut self, meter: &mut Meter<'_>) -> Result<bool> {
        for (row, link) in self.troubled_pairs() {
            meter.look()?;
            let Some((seat, other)) = self.joint_seats(row, link) else { continue };
            let mut trial = self.layout.clone();
            trial.visited = (trial.open.len() * trial.open.len()) as u64;
            trial.seat(&self.board, row, seat);
            trial.seat(&self.board, self.linked_row(row, link), other);
            trial.settle(&self.board);
            if self.take_if_better(trial) {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Puts a troubled row on another seat, lets the others follow, and only then lets it
    /// choose again; true when that helped.
    fn push(&mut self, meter: &mut Meter<'_>) -> Result<bool> {
        let mut tries = 0;
        for (row, link) in self.troubled_pairs() {
            for row in [row, self.linked_row(row, link)] {
                for seat in 0..self.layout.open.len() {
                    if self.layout.seats.get(row) == Some(&seat) || tries >= PUSHES {
                        continue;
                    }
                    tries += 1;
                    meter.look()?;
                    let mut trial = self.layout.clone();
                    trial.visited = 0;
                    trial.seat(&self.board, row, seat);
                    trial.settle_around(&self.board, row);
                    trial.settle(&self.board);
                    if self.take_if_better(trial) {
                        return Ok(true);
                    }
                }
            }
        }
        Ok(false)
    }

    fn linked_row(&self, row: usize, link: usize) -> usize {
        self.board.links(row).get(link).map_or(row, |link| link.row)
    }

    /// What a row pays beyond its cheapest open thread because of the others.
    fn trouble(&self, row: usize) -> f64 {
        let paid = self.layout.seats.get(row).and_then(|seat| self.layout.pays(row).get(*seat));
        let costs = self.board.costs(row);
        let open = self.layout.open.iter().filter_map(|thread| costs.get(*thread));
        paid.copied().unwrap_or(0.0) - open.copied().fold(f64::INFINITY, f64::min)
    }

    /// Rows with the number of a link, both sides in trouble because of their neighbors, most first.
    fn troubled_pairs(&self) -> Vec<(usize, usize)> {
        let troubles: Vec<f64> = (0..self.board.rows).map(|row| self.trouble(row)).collect();
        let of = |row: usize| troubles.get(row).copied().unwrap_or(0.0);
        let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
        for row in 0..self.board.rows {
            for (number, link) in self.board.links(row).iter().enumerate() {
                let trouble = of(row) + of(link.row);
                if link.row > row && trouble > WORTH_MOVING {
                    pairs.push((trouble, row, number));
                }
            }
        }
        pairs.sort_by(|one, two| two.0.total_cmp(&one.0).then((one.1, one.2).cmp(&(two.1, two.2))));
        pairs.truncate(PAIRS);
        pairs.into_iter().map(|(_, row, link)| (row, link)).collect()
    }

    /// The best two seats for both sides of a link while all others stay.
    fn joint_seats(&self, row: usize, number: usize) -> Option<(usize, usize)> {
        let link = self.board.links(row).get(number)?;
        let open = &self.layout.open;
        let left = |one: usize, step: Step, two: usize| {
            self.board.apart(one, step).get(two).copied().unwrap_or(0.0)
        };
        let alone = |of: usize, beside: usize, step: Step| {
            let pays = self.layout.pays(of).iter().zip(open);
            let without = pays.map(|(paid, thread)| paid - link.loss(left(beside, step, *thread)));
            without.collect::<Vec<f64>>()
        };
        let here = alone(row, self.layout.thread(link.row)?, link.step.reversed());
        let there = alone(link.row, self.layout.thread(row)?, link.step);
        let mut best = (f64::INFINITY, None);
        for (seat, (paid, thread)) in here.iter().zip(open).enumerate() {
            for (other, (beside, across)) in there.iter().zip(open).enumerate() {
                let sum = paid + beside + link.loss(left(*thread, link.step, *across));
                if sum < best.0 {
                    best = (sum, Some((seat, other)));
                }
            }
        }
        best.1
    }

    /// The model column of each row.
    fn columns(&self) -> Vec<usize> {
        let column = |row: usize| {
            let thread = self.layout.thread(row).unwrap_or(0);
            self.board.columns.get(thread).copied().unwrap_or(0)
        };
        (0..self.board.rows).map(column).collect()
    }
}

impl Best for Search<'_> {
    fn board(&self) -> &Board<'_> {
        &self.board
    }

    fn total(&self) -> f64 {
        self.total
    }

    fn offer(&mut self, open: &[usize], meter: &mut Meter<'_>) -> Result<()> {
        let number = |column: &usize| self.board.columns.binary_search(column).ok();
        let Some(open) = open.iter().map(number).collect::<Option<Vec<usize>>>() else {
            return Ok(());
        };
        let Some(seats) = self.cheapest(&open) else { return Ok(()) };
        let before = (self.layout.clone(), self.pays.clone(), self.total);
        self.place(open, seats, meter)?;
        self.take(self.settled());
        self.descend(self.spent + OFFER_BUDGET, meter, &|_, _| {})?;
        if self.total >= before.2 - WORTH_MOVING {
            (self.layout, self.pays, self.total) = before;
        }
        Ok(())
    }
}

fn row_of(pays: &[f64], row: usize, width: usize) -> &[f64] {
    pays.get(row * width..(row + 1) * width).unwrap_or(&[])
}

/// Numbers from a seed, the same everywhere (`SplitMix64`).
struct Chance(u64);

impl Chance {
    /// A number below a limit; 0 when there is none.
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        let limit = limit.max(1) as u64;
        usize::try_from(z % limit).unwrap_or(0)
    }
}
