//! The cheapest seats that agree with each other: each row a column of its own, no two seats that
//! clash, the order of the rows kept in the order of their columns. Branch and bound on what
//! disagrees, with the assignment bound. It does not know what rows and columns stand for.

use super::assignment::{Domains, Grid, Seats};
use super::meter::Meter;
use crate::error::Result;

/// Cells looked at before the search gives up and says how far it is at most from the best: about
/// two seconds of one core, never measured by a clock.
pub(super) const BUDGET: u64 = 1_500_000_000;

/// What asking whether two seats clash costs, in cells.
const CLASH_CELLS: u64 = 16;

/// Cells looked at between two looks at the watch: well under a millisecond.
const BETWEEN_LOOKS: u64 = 1 << 18;

/// Bytes of waiting nodes before the search gives up.
const MAX_WAITING_BYTES: usize = 256 << 20;

/// Costs that differ by less are equal: sums of them were rounded on the way.
const EQUAL: f64 = 1e-9;

/// A row and the column it takes.
pub(super) type Seat = (usize, usize);

/// Says which seats of two rows cannot be taken together.
pub(super) trait Clash {
    /// True when the two seats cannot be taken together.
    fn clash(&mut self, one: Seat, other: Seat, meter: &mut Meter<'_>) -> Result<bool>;
}

/// What is to be seated.
pub(super) struct Seating<'s> {
    pub(super) grid: &'s Grid,
    /// A number for each column, never falling from column to column.
    pub(super) levels: &'s [f64],
    /// Pairs of rows of which the first must get the higher level.
    pub(super) order: &'s [(usize, usize)],
    /// Whether any answer will do.
    pub(super) any: bool,
}

/// What a search found.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Found {
    /// The column of each row; `None` when no answer was found.
    pub(super) seats: Option<Vec<usize>>,
    /// What they cost together; infinite without an answer.
    pub(super) cost: f64,
    /// No answer costs less.
    pub(super) bound: f64,
    /// True when the search came to its end: the answer is the best, or there is none.
    pub(super) proved: bool,
}

#[derive(Clone)]
struct Node {
    domains: Domains,
    seats: Seats,
    bound: f64,
}

/// Finds the cheapest seats, or that there are none.
pub(super) fn seat(
    question: &Seating<'_>,
    clash: &mut dyn Clash,
    budget: u64,
    meter: &mut Meter<'_>,
) -> Result<Found> {
    let mut search = Search { question, clash, best: None, cost: f64::INFINITY };
    search.run(meter.worked().saturating_add(budget), meter)
}

struct Search<'s, 'q> {
    question: &'s Seating<'q>,
    clash: &'s mut dyn Clash,
    best: Option<Vec<usize>>,
    cost: f64,
}

impl Search<'_, '_> {
    fn run(&mut self, until: u64, meter: &mut Meter<'_>) -> Result<Found> {
        let grid = self.question.grid;
        let start = Node { domains: Domains::of(grid), seats: Seats::empty(grid), bound: 0.0 };
        let mut waiting: Vec<Node> = self.settle(start, meter)?.into_iter().collect();
        let mut bytes = 0;
        let mut proved = true;
        while let Some(node) = waiting.pop() {
            bytes -= node.domains.bytes().min(bytes);
            if self.is_hopeless(node.bound) {
                continue;
            }
            if meter.worked() >= until || bytes > MAX_WAITING_BYTES {
                waiting.push(node);
                proved = false;
                break;
            }
            let children = self.branch(&node, meter)?;
            if self.question.any && self.best.is_some() {
                proved = false;
                break;
            }
            for child in children {
                bytes += child.domains.bytes();
                waiting.push(child);
            }
        }
        let open = waiting.iter().map(|node| node.bound).fold(self.cost, f64::min);
        Ok(Found {
            seats: self.best.take(),
            cost: self.cost,
            bound: if proved { self.cost } else { open },
            proved,
        })
    }

    fn is_hopeless(&self, bound: f64) -> bool {
        bound >= self.cost - EQUAL
    }

    /// Takes away what cannot be, seats all rows, and again until nothing changes; `None` when no
    /// answer below the best one is left.
    fn settle(&mut self, mut node: Node, meter: &mut Meter<'_>) -> Result<Option<Node>> {
        loop {
            if !self.narrow(&mut node.domains, meter)? {
                return Ok(None);
            }
            let rows = self.question.grid.rows();
            for row in 0..rows {
                let seat = node.seats.columns().get(row).copied().flatten();
                if seat.is_some_and(|column| !node.domains.has(row, column)) {
                    node.seats.leave(row);
                }
            }
            if !node.seats.seat_all(self.question.grid, &node.domains, meter)? {
                return Ok(None);
            }
            node.bound = node.seats.bound();
            if self.is_hopeless(node.bound) {
                return Ok(None);
            }
            if !self.drop_dear(&mut node) {
                return Ok(Some(node));
            }
        }
    }

    /// Takes away the seats that would cost more than the best answer; true when there were any.
    fn drop_dear(&self, node: &mut Node) -> bool {
        if !self.cost.is_finite() {
            return false;
        }
        let grid = self.question.grid;
        let mut dear = Vec::new();
        for row in 0..grid.rows() {
            let too_much = |column: &usize| {
                node.bound + node.seats.extra(grid, row, *column) >= self.cost + EQUAL
            };
            dear.extend(node.domains.columns(row).filter(too_much).map(|column| (row, column)));
        }
        for (row, column) in &dear {
            node.domains.take(*row, *column);
        }
        !dear.is_empty()
    }

    /// Takes away the seats that agree with none of another row; false when a row has none left.
    fn narrow(&mut self, domains: &mut Domains, meter: &mut Meter<'_>) -> Result<bool> {
        let rows = self.question.grid.rows();
        let mut told = vec![false; rows];
        loop {
            if !self.keep_order(domains) {
                return Ok(false);
            }
            let single = (0..rows).find_map(|row| {
                let told = told.get(row).copied().unwrap_or(true);
                domains.only(row).filter(|_| !told).map(|column| (row, column))
            });
            let Some(seat) = single else {
                return Ok((0..rows).all(|row| domains.first(row).is_some()));
            };
            told.get_mut(seat.0).into_iter().for_each(|told| *told = true);
            self.clear_for(seat, domains, meter)?;
        }
    }

    /// Takes away from all other rows what clashes with a seat that is sure.
    fn clear_for(
        &mut self,
        seat: Seat,
        domains: &mut Domains,
        meter: &mut Meter<'_>,
    ) -> Result<()> {
        for row in (0..self.question.grid.rows()).filter(|row| *row != seat.0) {
            let mut out = vec![seat.1];
            let mut looked = 0;
            for column in domains.columns(row) {
                looked += 1;
                if column != seat.1 && self.clash.clash(seat, (row, column), meter)? {
                    out.push(column);
                }
            }
            meter.work(looked * CLASH_CELLS, BETWEEN_LOOKS)?;
            for column in out {
                domains.take(row, column);
            }
        }
        Ok(())
    }

    /// Lets no row sit below all seats of a row that must be lower; false when a row has none left.
    fn keep_order(&self, domains: &mut Domains) -> bool {
        loop {
            let mut changed = false;
            for (higher, lower) in self.question.order {
                let Some(floor) = domains.first(*lower) else { return false };
                let Some(ceiling) = domains.last(*higher) else { return false };
                let (floor, ceiling) = (self.level(floor), self.level(ceiling));
                while let Some(lowest) = domains.first(*higher)
                    && self.level(lowest) <= floor
                {
                    changed |= domains.take(*higher, lowest);
                }
                while let Some(highest) = domains.last(*lower)
                    && self.level(highest) >= ceiling
                {
                    changed |= domains.take(*lower, highest);
                }
            }
            if !changed {
                return true;
            }
        }
    }

    fn level(&self, column: usize) -> f64 {
        self.question.levels.get(column).copied().unwrap_or(0.0)
    }

    /// Splits a node in two of which neither has its worst disagreement, the better one last; or
    /// takes its seats as an answer.
    fn branch(&mut self, node: &Node, meter: &mut Meter<'_>) -> Result<Vec<Node>> {
        let seats: Vec<usize> = node.seats.columns().iter().flatten().copied().collect();
        let Some(parts) = self.split(node, &seats, meter)? else {
            self.cost = node.bound;
            self.best = Some(seats);
            return Ok(Vec::new());
        };
        let mut children = Vec::with_capacity(2);
        for domains in parts {
            let child = Node { domains, seats: node.seats.clone(), bound: node.bound };
            children.extend(self.settle(child, meter)?);
        }
        children.sort_by(|one, two| two.bound.total_cmp(&one.bound));
        Ok(children)
    }

    /// The two parts of a node, by the disagreement whose removal costs most; `None` when its seats
    /// agree.
    fn split(
        &mut self,
        node: &Node,
        seats: &[usize],
        meter: &mut Meter<'_>,
    ) -> Result<Option<[Domains; 2]>> {
        let mut found = Vec::new();
        for (higher, lower) in self.question.order {
            let (Some(at), Some(beside)) = (seats.get(*higher), seats.get(*lower)) else {
                continue;
            };
            let (under, over) = (self.level(*at), self.level(*beside));
            if under > over {
                continue;
            }
            for level in [under, f64::midpoint(under, over), over] {
                let rises = self.least_extra(node, *higher, |other| self.level(other) > level);
                let falls = self.least_extra(node, *lower, |other| self.level(other) < level);
                let pair = (*higher, *lower);
                found.push((growth(rises, falls), Disagreement::Order { pair, level }));
            }
        }
        for (row, column) in seats.iter().enumerate() {
            for (other, beside) in seats.iter().enumerate().skip(row + 1) {
                let (one, two) = ((row, *column), (other, *beside));
                meter.work(CLASH_CELLS, BETWEEN_LOOKS)?;
                if !self.clash.clash(one, two, meter)? {
                    continue;
                }
                let grown = growth(
                    self.least_extra(node, row, |next| next != one.1),
                    self.least_extra(node, other, |next| next != two.1),
                );
                found.push((grown, Disagreement::Clash(one)));
            }
        }
        let mut worst: Option<(f64, Disagreement)> = None;
        for (grown, disagreement) in found {
            if worst.as_ref().is_none_or(|(most, _)| grown > *most) {
                worst = Some((grown, disagreement));
            }
        }
        Ok(worst.map(|(_, worst)| self.parts(&node.domains, worst)))
    }

    /// What the sum grows by at least when a row may only have some of its columns.
    fn least_extra(&self, node: &Node, row: usize, may: impl Fn(usize) -> bool) -> f64 {
        let columns = node.domains.columns(row).filter(|column| may(*column));
        let extra = |column| node.seats.extra(self.question.grid, row, column);
        columns.map(extra).fold(f64::INFINITY, f64::min)
    }

    /// Two parts that have every answer between them, and neither the disagreement.
    fn parts(&self, domains: &Domains, found: Disagreement) -> [Domains; 2] {
        let (mut one, mut other) = (domains.clone(), domains.clone());
        match found {
            // Either the row that must be higher sits above the level, or both sit below.
            Disagreement::Order { pair: (higher, lower), level } => {
                for column in domains.columns(higher) {
                    let part = if self.level(column) > level { &mut other } else { &mut one };
                    part.take(higher, column);
                }
                for column in domains.columns(lower).filter(|column| self.level(*column) >= level) {
                    other.take(lower, column);
                }
            }
            // Either the row keeps the seat, or it does not.
            Disagreement::Clash((row, seat)) => {
                for column in domains.columns(row).filter(|column| *column != seat) {
                    one.take(row, column);
                }
                other.take(row, seat);
            }
        }
        [one, other]
    }
}

/// How much two parts grow, the lesser of them counting most: both must be searched.
fn growth(one: f64, other: f64) -> f64 {
    one.min(other).min(1e6) + one.max(other).min(1e6) * 0.1
}

/// Two seats that cannot be taken together.
#[derive(Clone, Copy)]
enum Disagreement {
    /// The first row should be higher than the second, and is not; the level lies between them.
    Order { pair: (usize, usize), level: f64 },
    /// This seat clashes with another.
    Clash(Seat),
}
