//! Which threads are open and which color sits on which of them, with what every color would pay on
//! every open thread. It moves colors; it does not decide which threads to open.

use super::board::Board;
use super::search::WORTH_MOVING;

/// Most rounds in which colors look for a better seat: they end long before.
const MAX_ROUNDS: usize = 50;

/// Open threads and seats.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    /// Open threads by their number in the shortlist; a seat is a place in this list.
    pub(super) open: Vec<usize>,
    /// The seat of each row.
    pub(super) seats: Vec<usize>,
    /// What each row pays on each seat while the others stay, one row after another.
    field: Vec<f64>,
    /// Cells visited.
    pub(super) visited: u64,
}

impl Layout {
    /// Rows on open threads; `pays` is what a row pays on each thread of the shortlist.
    pub(super) fn new<'p>(
        open: Vec<usize>,
        seats: Vec<usize>,
        pays: impl Fn(usize) -> &'p [f64],
    ) -> Self {
        let cell = |row: usize, thread: &usize| pays(row).get(*thread).copied().unwrap_or(f64::MAX);
        let field: Vec<f64> = (0..seats.len())
            .flat_map(|row| open.iter().map(move |t| (row, *t)))
            .map(|(row, t)| cell(row, &t))
            .collect();
        let visited = field.len() as u64;
        Self { open, seats, field, visited }
    }

    /// What a row pays on each seat.
    pub(super) fn pays(&self, row: usize) -> &[f64] {
        let start = row * self.open.len();
        self.field.get(start..start + self.open.len()).unwrap_or(&[])
    }

    /// The thread that a row sits on.
    pub(super) fn thread(&self, row: usize) -> Option<usize> {
        self.seats.get(row).and_then(|seat| self.open.get(*seat)).copied()
    }

    /// Difference, lost contrast and prices in all; each pair is seen from both sides.
    pub(super) fn total(&self, board: &Board<'_>) -> f64 {
        let seats = self.seats.iter().enumerate();
        let sum = seats.map(|(row, seat)| {
            let own = self.open.get(*seat).and_then(|thread| board.costs(row).get(*thread));
            let paid = self.pays(row).get(*seat);
            own.zip(paid).map_or(f64::MAX, |(own, paid)| f64::midpoint(*own, *paid))
        });
        let prices = self.open.iter().filter_map(|thread| board.prices.get(*thread));
        sum.sum::<f64>() + prices.sum::<f64>()
    }

    /// Seats every row better while that helps.
    pub(super) fn settle(&mut self, board: &Board<'_>) {
        self.settle_others(board, None);
    }

    /// The same with one row that stays where it is.
    pub(super) fn settle_around(&mut self, board: &Board<'_>, row: usize) {
        self.settle_others(board, Some(row));
    }

    fn settle_others(&mut self, board: &Board<'_>, held: Option<usize>) {
        for _ in 0..MAX_ROUNDS {
            let mut moved = false;
            for row in (0..self.seats.len()).filter(|row| Some(*row) != held) {
                moved |= self.reseat(board, row, None);
            }
            if !moved {
                return;
            }
        }
    }

    /// Moves everyone off a seat, then closes it.
    pub(super) fn close(&mut self, board: &Board<'_>, seat: usize) {
        for row in 0..self.seats.len() {
            if self.seats.get(row) == Some(&seat) {
                self.reseat(board, row, Some(seat));
            }
        }
        let width = self.open.len();
        self.open.remove(seat);
        let mut place = 0;
        self.field.retain(|_| {
            let column = place % width;
            place += 1;
            column != seat
        });
        for held in &mut self.seats {
            *held -= usize::from(*held > seat);
        }
    }

    /// Gives a row the seat on which it pays least, but not the barred one; true when it moves.
    fn reseat(&mut self, board: &Board<'_>, row: usize, barred: Option<usize>) -> bool {
        let Some(held) = self.seats.get(row).copied() else { return false };
        let pays = self.pays(row);
        let open = pays.iter().enumerate().filter(|(seat, _)| Some(*seat) != barred);
        let best = open.min_by(|(first, one), (second, two)| {
            one.total_cmp(two).then_with(|| self.open.get(*first).cmp(&self.open.get(*second)))
        });
        let Some((best, least)) = best.map(|(seat, least)| (seat, *least)) else { return false };
        let paid = pays.get(held).copied().unwrap_or(f64::MAX);
        self.visited += self.open.len() as u64;
        if best == held || (barred.is_none() && least >= paid - WORTH_MOVING) {
            return false;
        }
        self.seat(board, row, best);
        true
    }

    /// Moves a row and tells those that it pulls at.
    pub(super) fn seat(&mut self, board: &Board<'_>, row: usize, seat: usize) {
        let Some(held) = self.seats.get_mut(row) else { return };
        let before = std::mem::replace(held, seat);
        let thread = |seat: usize| self.open.get(seat).copied().unwrap_or(usize::MAX);
        let (old, new) = (thread(before), thread(seat));
        let width = self.open.len();
        for link in board.links(row) {
            let (old, new) = (board.apart(old, link.step), board.apart(new, link.step));
            let start = link.row * width;
            let Some(field) = self.field.get_mut(start..start + width) else { continue };
            for (cell, thread) in field.iter_mut().zip(&self.open) {
                if let (Some(old), Some(new)) = (old.get(*thread), new.get(*thread)) {
                    *cell += link.loss(*new) - link.loss(*old);
                }
            }
        }
        self.visited += (board.links(row).len() * width) as u64;
    }
}
