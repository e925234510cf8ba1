//! The cheapest seats that agree with each other: each row a column of its own, no two seats that
//! clash, the order of the rows kept in the order of their columns. Branch and bound on what
//! disagrees, with the assignment bound, raised by cuts. It does not know what rows and columns stand
//! for.

mod branch;
mod cuts;
mod disagree;
mod narrow;
mod raise;

use super::assignment::{Domains, Grid, Seats};
use super::meter::Meter;
use crate::error::Result;
use cuts::Cut;
use disagree::Disagreement;

/// Cells looked at before the search gives up and says how far it is at most from the best: about
/// two seconds of one core, never measured by a clock.
pub(super) const BUDGET: u64 = 1_500_000_000;

/// Cells looked at by a search that only asks whether there is any answer.
pub(super) const TRIAL: u64 = BUDGET / 64;

/// What asking whether two seats clash costs, in cells.
const CLASH_CELLS: u64 = 16;

/// Cells looked at between two looks at the watch: well under a millisecond.
const BETWEEN_LOOKS: u64 = 1 << 18;

/// Bytes of waiting nodes before the search gives up.
const MAX_WAITING_BYTES: usize = 256 << 20;

/// Costs that differ by less are equal: sums of them were rounded on the way.
const EQUAL: f64 = 1e-9;

/// Most steps by which the first bound is raised, and those of the nodes below it.
const FIRST_STEPS: usize = 200;
const STEPS: usize = 20;

/// A row and the column it takes.
pub(super) type Seat = (usize, usize);

/// Says which seats of two rows cannot be taken together.
pub(super) trait Clash {
    /// True when the two seats cannot be taken together.
    fn clash(&mut self, one: Seat, other: Seat, meter: &mut Meter<'_>) -> Result<bool>;

    /// True when two columns cannot be taken together by any two rows that have a choice.
    fn always(&mut self, one: usize, other: usize, meter: &mut Meter<'_>) -> Result<bool>;
}

/// What is to be seated.
pub(super) struct Seating<'s> {
    pub(super) grid: &'s Grid,
    /// A number for each column, never falling from column to column.
    pub(super) levels: &'s [f64],
    /// Pairs of rows of which the first must get the higher level.
    pub(super) order: &'s [(usize, usize)],
    /// Whether any answer will do, whatever it costs.
    pub(super) any: bool,
    /// An answer that is known already.
    pub(super) known: Option<Vec<usize>>,
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
    /// What the first bound rests on; it holds for more columns too, see [`Prices::reach`].
    pub(super) prices: Prices,
}

/// Prices that bound what any answer costs.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Prices {
    bound: f64,
    rows: Vec<f64>,
}

impl Prices {
    /// What a column costs a row at least, that is not in the grid, for an answer with it to cost
    /// `cost` or more.
    pub(super) fn reach(&self, row: usize, cost: f64) -> f64 {
        self.rows.get(row).map_or(f64::INFINITY, |price| price.max(0.0) + cost - self.bound)
    }
}

/// A part of all answers.
#[derive(Clone)]
struct Node {
    domains: Domains,
    /// Costs with what the cuts charge.
    grid: Grid,
    seats: Seats,
    /// What each cut charges for a seat; nothing for those that are not listed yet.
    prices: Vec<f64>,
    bound: f64,
    /// What disagreed last while the bound was raised.
    broken: Vec<Disagreement>,
}

impl Node {
    fn start(grid: &Grid) -> Self {
        Self {
            domains: Domains::of(grid),
            grid: grid.clone(),
            seats: Seats::empty(grid),
            prices: Vec::new(),
            bound: 0.0,
            broken: Vec::new(),
        }
    }

    /// Seats all rows anew where they must move; false when one of them cannot sit.
    fn reseat(&mut self, meter: &mut Meter<'_>) -> Result<bool> {
        let seated = self.seats.seat_all(&self.grid, &self.domains, meter)?;
        self.bound = self.seats.bound() - self.prices.iter().sum::<f64>();
        Ok(seated)
    }

    /// The column of each row, once all are seated.
    fn columns(&self) -> Vec<usize> {
        self.seats.columns().iter().flatten().copied().collect()
    }

    fn bytes(&self) -> usize {
        self.domains.bytes() + self.grid.bytes()
    }
}

/// Finds the cheapest seats, or that there are none.
pub(super) fn seat(
    question: &Seating<'_>,
    clash: &mut dyn Clash,
    budget: u64,
    meter: &mut Meter<'_>,
) -> Result<Found> {
    let until = meter.worked().saturating_add(budget);
    if question.any {
        return Search::new(question, &question.grid.free_of_charge(), clash).run(until, meter);
    }
    let mut search = Search::new(question, question.grid, clash);
    if let Some(known) = &question.known {
        search.consider(known);
    }
    search.run(until, meter)
}

struct Search<'s, 'q> {
    question: &'s Seating<'q>,
    /// What seats cost: those of the question, or nothing.
    grid: &'s Grid,
    clash: &'s mut dyn Clash,
    best: Option<Vec<usize>>,
    cost: f64,
    /// No answer costs more.
    most: f64,
    /// What is open before anything is tried.
    open: Domains,
    cuts: Vec<Cut>,
}

impl<'s, 'q> Search<'s, 'q> {
    fn new(question: &'s Seating<'q>, grid: &'s Grid, clash: &'s mut dyn Clash) -> Self {
        let dearest = |row: usize| {
            let costs = grid.row(row).iter().copied();
            costs.filter(|cost| cost.is_finite()).fold(0.0, f64::max)
        };
        let most = (0..grid.rows()).map(dearest).sum::<f64>();
        Self {
            question,
            grid,
            clash,
            best: None,
            cost: f64::INFINITY,
            most: most * (1.0 + EQUAL) + 2.0 * EQUAL,
            open: Domains::of(grid),
            cuts: Vec::new(),
        }
    }

    fn run(&mut self, until: u64, meter: &mut Meter<'_>) -> Result<Found> {
        let mut waiting = Vec::new();
        let mut start = Node::start(self.grid);
        if self.tighten(&mut start, meter)? {
            self.open.clone_from(&start.domains);
            waiting.extend(self.settle(start, FIRST_STEPS, meter)?);
        }
        let prices = self.prices(waiting.first(), meter)?;
        if !waiting.is_empty() && self.best.is_none() && !self.question.any {
            match self.any(meter)? {
                Found { seats: Some(seats), .. } => self.consider(&seats),
                Found { proved: true, .. } => waiting.clear(),
                Found { .. } => {}
            }
        }
        self.descend(&mut waiting, until, meter)?;
        let bound = waiting.iter().map(|node| node.bound).fold(self.cost, f64::min);
        let (seats, proved) = (self.best.take(), waiting.is_empty());
        Ok(Found { seats, cost: self.cost, bound, proved, prices })
    }

    /// Splits nodes until none waits, or any answer is enough, or the budget is spent.
    fn descend(
        &mut self,
        waiting: &mut Vec<Node>,
        until: u64,
        meter: &mut Meter<'_>,
    ) -> Result<()> {
        let mut bytes: usize = waiting.iter().map(Node::bytes).sum();
        while let Some(node) = waiting.pop() {
            bytes -= node.bytes().min(bytes);
            if self.is_enough() || self.is_hopeless(node.bound) {
                continue;
            }
            if meter.worked() >= until || bytes > MAX_WAITING_BYTES {
                waiting.push(node);
                return Ok(());
            }
            for child in self.branch(&node, meter)? {
                bytes += child.bytes();
                waiting.push(child);
            }
        }
        Ok(())
    }

    /// Any answer, or that there is none: without costs a bound above nothing is a proof.
    fn any(&mut self, meter: &mut Meter<'_>) -> Result<Found> {
        let grid = self.grid.free_of_charge();
        let question = Seating { any: true, known: None, ..*self.question };
        let until = meter.worked().saturating_add(TRIAL);
        Search::new(&question, &grid, &mut *self.clash).run(until, meter)
    }

    /// The prices that the first bound rests on, without anything taken away.
    fn prices(&self, start: Option<&Node>, meter: &mut Meter<'_>) -> Result<Prices> {
        let mut whole = Node::start(self.grid);
        if let Some(start) = start {
            whole.prices.clone_from(&start.prices);
            for (cut, price) in self.cuts.iter().zip(&whole.prices) {
                cut.charge(&mut whole.grid, *price);
            }
        }
        if !whole.reseat(meter)? {
            return Ok(Prices::default());
        }
        let rows = (0..self.grid.rows()).map(|row| whole.seats.row_price(row)).collect();
        Ok(Prices { bound: whole.bound, rows })
    }

    /// True when any answer was asked for, and there is one.
    fn is_enough(&self) -> bool {
        self.question.any && self.best.is_some()
    }

    fn is_hopeless(&self, bound: f64) -> bool {
        bound >= self.cost.min(self.most) - EQUAL
    }

    /// Takes seats that agree as an answer when they are the best so far.
    fn consider(&mut self, columns: &[usize]) {
        let grid = self.grid;
        let cells = columns.iter().enumerate().map(|(row, column)| grid.cell(row, *column));
        let cost: f64 = cells.sum();
        if cost < self.cost {
            self.cost = cost;
            self.best = Some(columns.to_vec());
        }
    }

    /// Takes away what cannot be, seats all rows and raises the bound in so many steps; `None` when no
    /// answer below the best one is left.
    fn settle(
        &mut self,
        mut node: Node,
        steps: usize,
        meter: &mut Meter<'_>,
    ) -> Result<Option<Node>> {
        let is_left = self.tighten(&mut node, meter)?
            && self.raise(&mut node, steps, meter)?
            && self.tighten(&mut node, meter)?;
        Ok(is_left.then_some(node))
    }

    /// Takes away what cannot be and seats all rows, until nothing changes; false when no answer
    /// below the best one is left.
    fn tighten(&mut self, node: &mut Node, meter: &mut Meter<'_>) -> Result<bool> {
        loop {
            if !self.narrow(&mut node.domains, meter)? {
                return Ok(false);
            }
            for row in 0..self.grid.rows() {
                let seat = node.seats.columns().get(row).copied().flatten();
                if seat.is_some_and(|column| !node.domains.has(row, column)) {
                    node.seats.leave(row);
                }
            }
            if !node.reseat(meter)? || self.is_hopeless(node.bound) {
                return Ok(false);
            }
            if !self.drop_dear(node) {
                return Ok(true);
            }
        }
    }

    /// Takes away the seats that would cost more than the best answer; true when there were any.
    fn drop_dear(&self, node: &mut Node) -> bool {
        let most = self.cost.min(self.most) + EQUAL;
        let mut dear = Vec::new();
        for row in 0..node.grid.rows() {
            let extra = |column| node.seats.extra(&node.grid, row, column);
            let too_much = |column: &usize| node.bound + extra(*column) >= most;
            dear.extend(node.domains.columns(row).filter(too_much).map(|column| (row, column)));
        }
        for (row, column) in &dear {
            node.domains.take(*row, *column);
        }
        !dear.is_empty()
    }
}
