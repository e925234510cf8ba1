//! What a reduction is asked for, and whether it can be asked.
//! It does not know how threads are chosen.

use crate::change::Weighing;
use crate::difference::DeltaE;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::planner::contrast::KeepEdges;
use crate::table::ThreadRef;

/// What a reduction makes small and what it must hold. At least one of a number of threads, a
/// tolerance and a worth is needed: without them every color would have a thread of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct ReduceOptions {
    /// Most threads, 1 or more; `None` for as many as the rest allows.
    pub max_threads: Option<usize>,
    /// No color may differ from its thread by more than this; colors that keeps or answers settle
    /// are not held to it. Without a number of threads and a worth, the fewest threads that hold it
    /// are found first, and then the best of them.
    pub tolerance: Option<DeltaE>,
    /// What is summed over the stitches.
    pub weighing: Weighing,
    /// How much a thread is worth: one is added only where it lowers what is summed, as a mean over
    /// all stitches, by at least this. In units of the formula, squared ones for squares.
    pub thread_worth: DeltaE,
    /// Threads that cost nothing.
    pub owned: Vec<ThreadRef>,
    /// How much the contrast of touching colors counts beside closeness to the chart's colors. It
    /// acts where neighbors are known, and only where the mean difference is what is made small.
    pub keep_edges: KeepEdges,
    /// Areas in which contrast counts that is soft to begin with, one to two times the visible
    /// limit, such as shading in a face. Their colors stand apart in the summary.
    pub keep_shading: Vec<String>,
}

impl ReduceOptions {
    /// At most so many threads with the least mean difference, by stitches alone.
    #[must_use]
    pub fn at_most(max_threads: usize) -> Self {
        Self {
            max_threads: Some(max_threads),
            tolerance: None,
            weighing: Weighing::Plain,
            thread_worth: DeltaE::default(),
            owned: Vec::new(),
            keep_edges: KeepEdges::Off,
            keep_shading: Vec::new(),
        }
    }

    /// True when the fewest threads are wanted that hold the tolerance.
    pub(in crate::planner) fn wants_fewest(&self) -> bool {
        self.max_threads.is_none() && !self.has_prices()
    }

    /// True when what is made small is the mean difference.
    pub(super) fn is_mean(&self) -> bool {
        self.weighing == Weighing::Plain && !self.has_prices()
    }

    /// True when threads have a price.
    pub(in crate::planner) fn has_prices(&self) -> bool {
        self.thread_worth.value() > 0.0
    }

    /// Refuses what cannot be asked.
    pub(super) fn check(&self) -> Result<()> {
        if self.max_threads == Some(0) {
            return Err(bad(
                ("max_thread_count", "0"),
                "a palette needs at least one thread",
                "ask for 1 or more",
            ));
        }
        if self.max_threads.is_none() && self.tolerance.is_none() && !self.has_prices() {
            return Err(bad(
                ("max_thread_count", ""),
                "nothing says how few threads are wanted",
                "give a number of threads, a tolerance, or what a thread is worth",
            ));
        }
        if !self.owned.is_empty() && !self.has_prices() {
            return Err(bad(
                ("owned_threads", ""),
                "owned threads are as good as others where a thread costs nothing",
                "say what a thread is worth, or leave out what is owned",
            ));
        }
        if self.keep_edges != KeepEdges::Off && !self.is_mean() {
            return Err(bad(
                ("keep_edges", self.keep_edges.as_str()),
                "edges are kept beside the mean difference only, not beside squares or worths",
                "say off, or leave out squares and worths",
            ));
        }
        Ok(())
    }
}

fn bad((field, value): (&str, &str), reason: &str, remedy: &str) -> Error {
    Error::new(ErrorKind::BadValue {
        value: value.to_owned(),
        reason: reason.to_owned(),
        remedy: remedy.to_owned(),
    })
    .at(Place::field(field))
}
