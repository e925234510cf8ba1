//! What a reduction is asked for, and whether it can be asked.
//! It does not know how threads are chosen.

use crate::change::Weighing;
use crate::difference::DeltaE;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::planner::ThreadStock;
use crate::planner::contrast::KeepEdges;
use crate::planner::stock::check_per_stitch;
use crate::table::{Price, ThreadRef};

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
    /// What money is worth; `None` where it has no say.
    pub money: Option<Money>,
    /// What is there: then only these threads are used, none for more stitches than it is enough
    /// for, and a color takes all of its thread from one. Threads of settled colors are held to it
    /// too.
    pub stock: Option<ThreadStock>,
    /// How much the contrast of touching colors counts beside closeness to the chart's colors. It
    /// acts where neighbors are known, and not beside squares.
    pub keep_edges: KeepEdges,
    /// Areas in which contrast counts that is soft to begin with, one to two times the visible
    /// limit, such as shading in a face. Their colors stand apart in the summary.
    pub keep_shading: Vec<String>,
}

/// What money is worth, and what skeins cost. Skeins are bought whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Money {
    /// How much a unit of money is worth: it is spent only where it lowers what is summed, as a mean
    /// over all stitches, by at least this.
    pub worth: DeltaE,
    /// Price of a skein where the table does not say.
    pub skein_price: Option<Price>,
    /// Meters of thread as sold in a skein where the table does not say, more than 0.
    pub skein_meters: Option<f64>,
    /// Meters of thread as sold that a stitch takes, more than 0, the same as that of the stock. A
    /// strand of a blend takes half.
    pub meters_per_stitch: f64,
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
            money: None,
            stock: None,
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
        self.thread_worth.value() > 0.0 || self.money_worth().value() > 0.0
    }

    /// True when it matters how much each thread serves.
    pub(in crate::planner) fn counts_amounts(&self) -> bool {
        self.stock.is_some() || self.money_worth().value() > 0.0
    }

    /// What a unit of money is worth.
    pub(super) fn money_worth(&self) -> DeltaE {
        self.money.map(|money| money.worth).unwrap_or_default()
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
                "say what a thread or money is worth, or leave out what is owned",
            ));
        }
        if self.keep_edges != KeepEdges::Off && self.weighing != Weighing::Plain {
            return Err(bad(
                ("keep_edges", self.keep_edges.as_str()),
                "edges are kept beside differences as they are, not beside their squares",
                "say off, or leave out squares",
            ));
        }
        self.check_amounts()
    }

    fn check_amounts(&self) -> Result<()> {
        let Some(money) = &self.money else { return Ok(()) };
        check_per_stitch(money.meters_per_stitch, "money.meters_per_stitch")?;
        let per_stitch = self.stock.as_ref().map(|stock| stock.meters_per_stitch.to_bits());
        if per_stitch.is_some_and(|bits| bits != money.meters_per_stitch.to_bits()) {
            return Err(bad(
                ("money.meters_per_stitch", &money.meters_per_stitch.to_string()),
                "a stitch takes another length by the stock",
                "say the same length twice",
            ));
        }
        let is_length = |meters: f64| meters.is_finite() && meters > 0.0;
        if let Some(meters) = money.skein_meters.filter(|meters| !is_length(*meters)) {
            return Err(bad(
                ("money.skein_meters", &meters.to_string()),
                "a skein is longer than 0",
                "write for example 8",
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
