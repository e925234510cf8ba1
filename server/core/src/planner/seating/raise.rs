//! The bound of a node raised: cuts charge for their seats until those of the cheapest assignment
//! agree (Lagrangian relaxation, subgradient steps after Held, Wolfe and Crowder 1974, from memory).
//! It does not branch.

use super::super::meter::Meter;
use super::cuts::Cut;
use super::{BETWEEN_LOOKS, Node, Search};
use crate::error::Result;

/// Steps without a better bound after which steps become half as long.
const PATIENCE: usize = 4;

/// Steps shorter than this, as a part of the way to the aim, are given up.
const SHORTEST: f64 = 0.02;

/// How far above the bound the best sum is thought to be while none is known, as a part of it.
const HOPE: f64 = 0.02;

/// A bound that grows by less did not grow.
const GROWN: f64 = 1e-7;

/// Least way to the aim, so that steps go on when the bound has reached it.
const LEAST_WAY: f64 = 1e-6;

/// How long steps are.
struct Stride {
    /// As a part of the way to the aim.
    length: f64,
    /// Steps since the bound grew.
    idle: usize,
}

impl Stride {
    /// After a step that did not raise the bound; false when steps have become too short.
    fn tire(&mut self) -> bool {
        self.idle += 1;
        if self.idle == PATIENCE {
            (self.length, self.idle) = (self.length / 2.0, 0);
        }
        self.length >= SHORTEST
    }
}

impl Search<'_, '_> {
    /// Raises the bound of a node in so many steps at most; false when no answer below the best one
    /// is left in it.
    pub(super) fn raise(
        &mut self,
        node: &mut Node,
        steps: usize,
        meter: &mut Meter<'_>,
    ) -> Result<bool> {
        node.broken.clear();
        let mut best = node.clone();
        let mut stride = Stride { length: 1.0, idle: 0 };
        for _ in 0..steps {
            self.look_at_seats(node, meter)?;
            let Some(slopes) = self.slopes(node).filter(|_| !self.is_enough()) else { break };
            self.step(node, &slopes, stride.length);
            meter.work(self.work_of_a_step(&slopes), BETWEEN_LOOKS)?;
            if !node.reseat(meter)? || self.is_hopeless(node.bound) {
                return Ok(false);
            }
            if node.bound > best.bound + GROWN {
                best.clone_from(node);
                stride.idle = 0;
            } else if !stride.tire() {
                break;
            }
        }
        // Without costs the last charges tell more than the first, which are as good: nothing.
        if !self.question.any {
            best.broken = std::mem::take(&mut node.broken);
            *node = best;
        }
        Ok(!self.is_hopeless(node.bound))
    }

    /// Cells that a step looks at: once to price the rows anew, and some for each cut that moves.
    fn work_of_a_step(&self, slopes: &[f64]) -> u64 {
        let moved = slopes.iter().filter(|slope| slope.abs() > 0.0).count();
        let in_words = self.grid.rows() * self.grid.columns().div_ceil(64);
        (self.grid.rows() * (self.grid.columns() + slopes.len()) + moved * in_words * 2) as u64
    }

    /// Takes the seats as an answer when they agree, and adds the cuts that they break otherwise.
    fn look_at_seats(&mut self, node: &mut Node, meter: &mut Meter<'_>) -> Result<()> {
        let columns = node.columns();
        let found = self.disagreements(&columns, meter)?;
        if found.is_empty() {
            self.consider(&columns);
            return Ok(());
        }
        for disagreement in &found {
            self.add_cut(*disagreement, meter)?;
        }
        node.broken = found;
        Ok(())
    }

    /// By how much more or less than one seat of each cut is taken; `None` when nothing pulls.
    fn slopes(&self, node: &mut Node) -> Option<Vec<f64>> {
        node.prices.resize(self.cuts.len(), 0.0);
        let slope = |(cut, price): (&Cut, &f64)| {
            let slope = f64::from(cut.taken(node.seats.columns())) - 1.0;
            if *price > 0.0 { slope } else { slope.max(0.0) }
        };
        let slopes: Vec<f64> = self.cuts.iter().zip(&node.prices).map(slope).collect();
        slopes.iter().any(|slope| slope.abs() > 0.0).then_some(slopes)
    }

    /// Moves what cuts charge along the slopes, so far that the bound would reach its aim if it grew
    /// as it does at first.
    fn step(&self, node: &mut Node, slopes: &[f64], length: f64) {
        let aim = if self.cost.is_finite() {
            self.cost
        } else if self.question.any {
            1.0
        } else {
            node.bound * (1.0 + HOPE)
        };
        let norm: f64 = slopes.iter().map(|slope| slope * slope).sum();
        let far = length * (aim - node.bound).max(LEAST_WAY) / norm;
        for ((cut, slope), price) in self.cuts.iter().zip(slopes).zip(&mut node.prices) {
            let more = (far * slope).max(-*price);
            if more.abs() > 0.0 {
                cut.charge(&mut node.grid, more);
                *price += more;
            }
        }
        node.seats.reprice_rows(&node.grid, &node.domains);
    }
}
