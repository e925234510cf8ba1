//! The best choices for fewer and fewer open columns, each search begun where the last one ended.
//! It does not know what rows and columns stand for.
//!
//! Neighbors on the way share nearly all of their columns, and the multipliers that prove one are
//! nearly right for the next: most steps are proved within a few passes over the cells.

use super::ascent::{Ascent, Slope};
use super::seats::Seats;
use super::{Effort, Outcome, Pace, Problem, Solution, branch, solve};
use crate::error::Result;

/// A walk from many open columns down to few.
pub(in crate::planner) struct Walk {
    problem: Problem,
    last: Option<Solution>,
    /// Cells visited.
    pub(in crate::planner) visited: u64,
}

impl Walk {
    /// Starts at as many columns as the problem allows.
    pub(in crate::planner) fn new(problem: Problem) -> Self {
        Self { problem, last: None, visited: 0 }
    }

    /// The most columns that the next choice may open; `None` at the end of the walk. Counts between
    /// the last choice and this one open no more columns than the last one: it is theirs as well.
    pub(in crate::planner) fn next_most(&self) -> Option<usize> {
        let Some(last) = &self.last else { return Some(self.problem.most) };
        let locked = self.problem.locked.iter().filter(|locked| **locked).count();
        let next = last.open.len().min(self.problem.most).checked_sub(1)?;
        (next >= locked.max(1)).then_some(next)
    }

    /// The best choice of [`Walk::next_most`] columns that the effort finds; `None` at the end, and
    /// where so few columns cannot serve every row.
    ///
    /// # Errors
    ///
    /// What [`Pace::look`] returns.
    pub(in crate::planner) fn next(
        &mut self,
        effort: Effort,
        pace: &mut dyn Pace,
    ) -> Result<Option<&Solution>> {
        let Some(most) = self.next_most() else { return Ok(None) };
        let last = self.last.take();
        let start = last.as_ref().and_then(|last| without_cheapest(&self.problem, &last.open));
        self.problem.most = most;
        self.last = match (start, last) {
            (Some(start), Some(last)) => self.from(&start, &last.multipliers, (effort, pace))?,
            _ => self.afresh(effort, pace)?,
        };
        Ok(self.last.as_ref())
    }

    fn afresh(&mut self, effort: Effort, pace: &mut dyn Pace) -> Result<Option<Solution>> {
        self.visited = self.visited.saturating_add(self.problem.cells.cells() as u64);
        match solve(&self.problem, effort, pace)? {
            Outcome::Found(solution) => Ok(Some(solution)),
            Outcome::Impossible { .. } => Ok(None),
        }
    }

    fn from(
        &mut self,
        start: &[usize],
        multipliers: &[f64],
        (effort, pace): (Effort, &mut dyn Pace),
    ) -> Result<Option<Solution>> {
        let mut best = Seats::of(&self.problem, start);
        best.improve(None, effort.cells / 4, pace)?;
        if !best.serves_all() {
            return self.afresh(effort, pace);
        }
        let searched = best.visited;
        let mut ascent = Ascent::new(&self.problem, &best);
        if multipliers.len() == self.problem.cells.rows() {
            ascent.start_from(multipliers);
        }
        let climbed = ascent.climb(Slope::Root, &mut best, effort, pace)?;
        let multipliers = ascent.best_multipliers.clone();
        let proved = climbed || branch::look_at_all(&mut ascent, &mut best, effort, pace)?;
        self.visited = self.visited.saturating_add(searched + ascent.visited);
        Ok(Some(best.into_solution(proved, ascent.bound, multipliers)))
    }
}

/// The same columns without the one whose rows lose least.
fn without_cheapest(problem: &Problem, open: &[usize]) -> Option<Vec<usize>> {
    let mut seats = Seats::of(problem, open);
    let cheapest = seats.cheapest()?;
    Some(open.iter().copied().filter(|column| *column != cheapest).collect())
}
