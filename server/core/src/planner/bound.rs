//! Proves how good a set of threads is: a Lagrangian bound on the weighted p-median, by subgradient
//! steps, with columns fixed by their reduced costs, and a small branch and bound for what is left.
//! It does not know colors; sets that it comes across on its way are offered to the search.
//!
//! Each color must join one thread; the multiplier of that row is what the color would pay at most.
//! For any multipliers u, sum(u) + the lowest reduced costs of as many columns as may be open is a
//! lower bound (Held, Wolfe, Crowder, Math. Programming 6 (1974) 62-88, from memory).

use super::case::whole;
use super::meter::Meter;
use super::model::{BARRED, Model};
use super::search::{CELL_BUDGET, Selection, WORTH_MOVING};
use crate::error::Result;

/// Most steps of the multipliers.
const MAX_STEPS: u64 = 1_000;

/// Most nodes of the branch and bound; most steps of the multipliers in each, and their length.
const MAX_NODES: u32 = 300;
const NODE_STEPS: u32 = 40;
const NODE_LENGTH: f64 = 0.5;

/// Steps without a better bound before the step length is halved.
const PATIENCE: u32 = 25;

/// Step length below which nothing moves any more.
const SHORTEST: f64 = 1e-4;

/// Gap, relative to the best mean difference, that counts as closed: the size of rounding.
const CLOSED: f64 = 1e-9;

/// What is known about the best possible mean difference of the rows.
#[derive(Clone, Copy, Debug)]
pub(super) struct Proof {
    /// No choice has a smaller total.
    pub(super) bound: f64,
    /// The best set is proved to be the best possible.
    pub(super) proved: bool,
}

/// How a column stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// Undecided.
    Live,
    /// In every set that beats the best one.
    Must,
    /// In no set that beats the best one.
    Out,
}

/// Bounds the model from below and improves `best` on the way.
pub(super) fn prove<'m>(
    model: &'m Model,
    best: &mut Selection<'m>,
    meter: &mut Meter<'_>,
    tell: &dyn Fn(&Meter<'_>, f64, f64, f64),
) -> Result<Proof> {
    let mut ascent = Ascent::new(model, best);
    let mut closed = false;
    for step in 0..MAX_STEPS {
        closed = ascent.advance(best, meter)?;
        if closed || ascent.is_spent() {
            break;
        }
        if step % 64 == 32 || ascent.is_promising(best.total()) {
            ascent.polish(best, meter)?;
        }
        ascent.step(best.total());
        if step % 16 == 0 {
            tell(meter, ascent.fraction(step), best.total(), ascent.bound);
        }
    }
    if !closed && model.beyond.is_none() {
        closed = branch(&mut ascent, best, meter)?;
    }
    let total = best.total();
    Ok(Proof { bound: if closed { total } else { ascent.bound.min(total) }, proved: closed })
}

/// A part of the choices that is still to be looked at.
struct Node {
    states: Vec<State>,
    multipliers: Vec<f64>,
    bound: f64,
}

/// Branch and bound, deepest first: with a column, then without it. True when nothing is left that
/// could beat the best set; otherwise the lowest bound of what is left is the bound.
fn branch<'m>(
    ascent: &mut Ascent<'m>,
    best: &mut Selection<'m>,
    meter: &mut Meter<'_>,
) -> Result<bool> {
    let mut left = ascent.split();
    let mut nodes = 0;
    while let Some(node) = left.pop() {
        nodes += 1;
        if nodes > MAX_NODES || ascent.visited > CELL_BUDGET {
            left.push(node);
            let lowest = left.iter().map(|node| node.bound).fold(f64::INFINITY, f64::min);
            ascent.bound = lowest;
            return Ok(false);
        }
        ascent.enter(node);
        let mut closed = false;
        for _ in 0..NODE_STEPS {
            closed = ascent.advance(best, meter)?;
            if closed || ascent.length < SHORTEST {
                break;
            }
            if ascent.is_promising(best.total()) {
                ascent.polish(best, meter)?;
            }
            ascent.step(best.total());
        }
        if !closed {
            left.extend(ascent.split());
        }
    }
    Ok(true)
}

/// The multipliers on their way up.
struct Ascent<'m> {
    model: &'m Model,
    multipliers: Vec<f64>,
    best_multipliers: Vec<f64>,
    states: Vec<State>,
    /// Reduced cost of each column that is not out, never positive.
    reduced: Vec<f64>,
    /// Reduced cost of any thread without a column.
    beyond: Option<f64>,
    /// Columns of the relaxed optimum.
    chosen: Vec<usize>,
    order: Vec<usize>,
    /// The best bound known.
    bound: f64,
    /// The best bound that multipliers reached; may lie below the floor at first.
    level: f64,
    length: f64,
    idle: u32,
    /// Cost cells visited.
    visited: u64,
    /// The best set is proved by elimination.
    settled: bool,
}

impl<'m> Ascent<'m> {
    fn new(model: &'m Model, best: &Selection<'m>) -> Self {
        let multipliers: Vec<f64> = best
            .first_costs()
            .iter()
            .zip(best.second_costs())
            .map(
                |(first, second)| {
                    if *second < BARRED { f64::midpoint(*first, *second) } else { *first }
                },
            )
            .collect();
        let mut states = vec![State::Live; model.costs.columns()];
        for column in &model.locked {
            if let Some(state) = states.get_mut(*column) {
                *state = State::Must;
            }
        }
        let floor = floor(model);
        Self {
            model,
            best_multipliers: multipliers.clone(),
            multipliers,
            states,
            reduced: vec![0.0; model.costs.columns()],
            beyond: None,
            chosen: Vec::new(),
            order: Vec::new(),
            bound: floor,
            level: f64::NEG_INFINITY,
            length: 1.5,
            idle: 0,
            visited: 0,
            settled: false,
        }
    }

    /// Prices once; true when nothing below can beat the best set.
    fn advance(&mut self, best: &mut Selection<'m>, meter: &mut Meter<'_>) -> Result<bool> {
        meter.look()?;
        self.price();
        self.bound_and_fix(best.total());
        Ok(self.is_closed(best))
    }

    /// True when further steps would not move the bound, or may not be paid for.
    fn is_spent(&self) -> bool {
        self.length < SHORTEST || self.visited > CELL_BUDGET
    }

    /// Searches from the relaxed optimum.
    fn polish(&mut self, best: &mut Selection<'m>, meter: &mut Meter<'_>) -> Result<()> {
        let mut other = Selection::of(self.model, &self.chosen);
        other.improve(other.visited + CELL_BUDGET / MAX_STEPS, meter)?;
        self.visited += other.visited;
        if other.total() < best.total() - WORTH_MOVING {
            *best = other;
        }
        Ok(())
    }

    /// The two halves of the choices: without and with the column that the relaxed optimum wants
    /// most among those undecided.
    fn split(&self) -> Vec<Node> {
        let price = |column: usize| self.reduced.get(column).copied().unwrap_or(0.0);
        let live = self.columns(&[State::Live]).into_iter();
        let wanted = live.min_by(|one, two| price(*one).total_cmp(&price(*two)));
        let half = |state: State| {
            let mut states = self.states.clone();
            set(&mut states, wanted?, state);
            Some(Node { states, multipliers: self.best_multipliers.clone(), bound: self.bound })
        };
        [half(State::Out), half(State::Must)].into_iter().flatten().collect()
    }

    fn enter(&mut self, node: Node) {
        self.multipliers.clone_from(&node.multipliers);
        self.best_multipliers = node.multipliers;
        self.states = node.states;
        self.bound = node.bound;
        self.level = f64::NEG_INFINITY;
        self.length = NODE_LENGTH;
        self.idle = 0;
        self.settled = false;
    }

    /// Part of the budget that is spent, in steps or in cells.
    fn fraction(&self, step: u64) -> f64 {
        let steps = whole(step) / whole(MAX_STEPS);
        steps.max(whole(self.visited) / whole(CELL_BUDGET))
    }

    /// Reduced costs under the present multipliers.
    fn price(&mut self) {
        let live = self.states.iter().filter(|state| **state != State::Out).count();
        self.visited += (live * self.model.costs.rows()) as u64;
        let columns = self.reduced.iter_mut().zip(&self.states).enumerate();
        for (column, (reduced, state)) in columns {
            *reduced = match state {
                State::Out => 0.0,
                State::Live | State::Must => {
                    shortfall(self.model.costs.column(column), &self.multipliers)
                }
            };
        }
        self.beyond = self.beyond_price();
    }

    fn beyond_price(&self) -> Option<f64> {
        let beyond = self.model.beyond.as_ref()?;
        Some(shortfall(beyond, &self.multipliers))
    }

    /// The bound of the present multipliers; fixes the columns whose turn would pass the best set.
    fn bound_and_fix(&mut self, best: f64) {
        let reduced = &self.reduced;
        let price = |column: &usize| reduced.get(*column).copied().unwrap_or(0.0);
        let of_state = |wanted: State| {
            let states = self.states.iter().enumerate();
            states.filter(move |(_, state)| **state == wanted).map(|(column, _)| column)
        };
        let must: Vec<usize> = of_state(State::Must).collect();
        self.order.clear();
        self.order.extend(of_state(State::Live));
        self.order.sort_by(|one, two| price(one).total_cmp(&price(two)).then(one.cmp(two)));
        let free = self.model.open.saturating_sub(must.len());
        let taken = free.min(self.order.len());
        let (inside, outside) = self.order.split_at(taken);
        let last_in = inside.last().map_or(0.0, price);
        let first_out = outside.first().map_or(0.0, price);
        let total = self.multipliers.iter().sum::<f64>() + must.iter().map(price).sum::<f64>();
        let inner = total + inside.iter().map(price).sum::<f64>();
        let bound = inner + self.beyond_part(inside, free);
        // Rounding must not lift the bound above the truth.
        let safe = bound - CLOSED * bound.abs().max(best) / 16.0;
        let fixed = if free > 0 && self.model.beyond.is_none() {
            let margin = best + CLOSED * best - safe;
            let dear = |column: &&usize| price(column) - last_in > margin;
            let wanted = |column: &&usize| first_out - price(column) > margin;
            let out = outside.iter().filter(dear).map(|column| (*column, State::Out));
            let must = inside.iter().filter(wanted).map(|column| (*column, State::Must));
            out.chain(must).collect()
        } else {
            Vec::new()
        };
        for (column, state) in fixed {
            set(&mut self.states, column, state);
        }
        self.chosen.clear();
        self.chosen.extend(must);
        self.chosen.extend_from_slice(inside);
        self.record(safe);
        self.settled = self.is_decided();
    }

    /// Takes a bound into account; halves the step length when bounds no longer rise.
    fn record(&mut self, safe: f64) {
        self.bound = self.bound.max(safe);
        if safe > self.level {
            self.level = safe;
            self.best_multipliers.clone_from(&self.multipliers);
            self.idle = 0;
        } else {
            self.idle += 1;
        }
        if self.idle >= PATIENCE {
            self.idle = 0;
            self.length /= 2.0;
            self.multipliers.clone_from(&self.best_multipliers);
        }
    }

    /// What threads without a column could still take off the bound: each place held by a dearer
    /// column could go to one of them.
    fn beyond_part(&self, inside: &[usize], free: usize) -> f64 {
        let Some(beyond) = self.beyond else { return 0.0 };
        let held = inside.iter().filter_map(|column| self.reduced.get(*column));
        let spare = free.saturating_sub(inside.len());
        let empty = std::iter::repeat_n(&0.0, spare);
        held.chain(empty).map(|price| (beyond - price).min(0.0)).sum()
    }

    /// True when no undecided choice is left: every place is taken by a column that must be open,
    /// or every column that may be open has a place.
    fn is_decided(&self) -> bool {
        if self.model.beyond.is_some() {
            return false;
        }
        let count = |wanted: State| self.states.iter().filter(|state| **state == wanted).count();
        let (must, live) = (count(State::Must), count(State::Live));
        must >= self.model.open || must + live <= self.model.open
    }

    fn is_closed(&mut self, best: &mut Selection<'m>) -> bool {
        if self.settled {
            // Any better set lies among these columns, and opening all of them is allowed.
            let full = self.model.open;
            let must = self.columns(&[State::Must]);
            let last =
                if must.len() >= full { must } else { self.columns(&[State::Must, State::Live]) };
            // More columns that must be open than may be: nothing here beats the best set.
            let other =
                Selection::of(self.model, if last.len() <= full { &last } else { best.open() });
            if other.total() < best.total() {
                *best = other;
            }
            self.bound = best.total();
            return true;
        }
        best.total() - self.bound <= CLOSED * best.total()
    }

    fn columns(&self, wanted: &[State]) -> Vec<usize> {
        let states = self.states.iter().enumerate();
        states.filter(|(_, state)| wanted.contains(state)).map(|(column, _)| column).collect()
    }

    /// True when the relaxed optimum happens to beat the best set.
    fn is_promising(&self, best: f64) -> bool {
        let mut nearest = vec![BARRED; self.model.costs.rows()];
        for column in &self.chosen {
            for (held, cost) in nearest.iter_mut().zip(self.model.costs.column(*column)) {
                *held = held.min(*cost);
            }
        }
        nearest.iter().sum::<f64>() < best - WORTH_MOVING
    }

    /// Moves the multipliers along the subgradient: up where no chosen thread wants the color, down
    /// where several do.
    fn step(&mut self, best: f64) {
        let mut slope = vec![1.0_f64; self.multipliers.len()];
        for column in &self.chosen {
            let costs = self.model.costs.column(*column).iter().zip(&self.multipliers);
            for (slope, (cost, multiplier)) in slope.iter_mut().zip(costs) {
                if cost < multiplier {
                    *slope -= 1.0;
                }
            }
        }
        let norm: f64 = slope.iter().map(|slope| slope * slope).sum();
        if norm <= 0.0 {
            self.length = 0.0;
            return;
        }
        let gap = (best - self.level).max(CLOSED * best);
        let step = self.length * gap / norm;
        for (multiplier, slope) in self.multipliers.iter_mut().zip(&slope) {
            *multiplier += step * slope;
        }
    }
}

fn set(states: &mut [State], column: usize, state: State) {
    if let Some(held) = states.get_mut(column) {
        *held = state;
    }
}

/// Every color with its cheapest thread: no choice is cheaper.
fn floor(model: &Model) -> f64 {
    let mut lowest =
        model.beyond.clone().unwrap_or_else(|| vec![f64::INFINITY; model.costs.rows()]);
    for column in 0..model.costs.columns() {
        for (low, cost) in lowest.iter_mut().zip(model.costs.column(column)) {
            *low = low.min(*cost);
        }
    }
    lowest.iter().sum::<f64>() * (1.0 - CLOSED / 16.0)
}

/// Sum of what rows save against their multipliers: the reduced cost of a column, never positive.
/// Eight partial sums, so that the compiler may use wide registers.
fn shortfall(costs: &[f64], multipliers: &[f64]) -> f64 {
    let mut lanes = [0.0_f64; 8];
    let (cost_blocks, multiplier_blocks) = (costs.chunks_exact(8), multipliers.chunks_exact(8));
    let rest = cost_blocks.remainder().iter().zip(multiplier_blocks.remainder());
    let tail: f64 = rest.map(|(cost, multiplier)| below_zero(cost - multiplier)).sum();
    for (costs, multipliers) in cost_blocks.zip(multiplier_blocks) {
        for (lane, (cost, multiplier)) in lanes.iter_mut().zip(costs.iter().zip(multipliers)) {
            *lane += below_zero(cost - multiplier);
        }
    }
    lanes.iter().sum::<f64>() + tail
}

fn below_zero(value: f64) -> f64 {
    if value < 0.0 { value } else { 0.0 }
}
