//! The change list: each change from a chart's color to a thread, with evidence and runners-up.
//! It does not know the chart, only its palette summary, and not the file that holds the list.

mod supply;

pub use supply::{OwnReport, Purchase, RangeReport, RangeUse};

use crate::color::Color;
use crate::difference::{DeltaE, Difference, Formula};
use crate::planner::KeepEdges;
use crate::spectrum::{Lights, OverLights};
use crate::table::{Price, TableHash, TableId, ThreadRef};

/// Which question the list answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Question {
    /// Each color to its nearest thread.
    Convert,
    /// At most so many threads.
    Reduce,
    /// Threads that are missing.
    Substitute,
}

/// What the owner of the chart says to a change.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// Not to this thread: the color stays as it is, or gets another thread when it has none.
    No,
    /// To this thread instead.
    Another(ThreadRef),
    /// As proposed.
    Yes,
}

/// A thread as it stood in its table when the list was made.
#[derive(Clone, Debug, PartialEq)]
pub struct Proposed {
    /// The thread.
    pub thread: ThreadRef,
    /// Its name; foreign text.
    pub name: String,
    /// Its color.
    pub color: Color,
    /// The difference from [`Change::standard`]; for one strand of a blend, from the thread that it
    /// takes the place of.
    pub difference: Difference,
    /// For a runner-up: true when the data cannot tell whether it or the thread proposed is nearer
    /// to the standard, by the rule of [`crate::nearest::Match::as_near`]. False for the thread
    /// proposed.
    pub as_near: bool,
    /// For a substitution: how it and the thread that it stands in for hold under the lights that
    /// rank, or under the usual ones; `None` unless both have spectra.
    pub over_lights: Option<Box<OverLights>>,
}

/// One change: a color of the chart and the thread that takes its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// The color's place in the palette summary.
    pub color: usize,
    /// What differences are measured from: the table's color of the thread it is worked in, where
    /// the catalog has it, or else the color as the chart shows it.
    pub standard: Color,
    /// Threads it was worked in before: none for a picture, two for a blend.
    pub before: Vec<ThreadRef>,
    /// Stitches that change.
    pub stitches: u64,
    /// The thread proposed; for a blend the two threads, each with its own evidence.
    pub after: Vec<Proposed>,
    /// The next best threads, best first.
    pub runners_up: Vec<Proposed>,
    /// Why this thread and not the nearest one, or why it needs a look.
    pub remarks: Vec<Remark>,
    /// What the owner said; `None` while it is not answered.
    pub answer: Option<Answer>,
}

/// Something to know about a change.
#[derive(Clone, Debug, PartialEq)]
pub enum Remark {
    /// Another color of the chart, by its place, gets the same thread. Of many, the largest are
    /// named.
    SharesThread(usize),
    /// The thread is kept because the owner asked for it.
    Kept,
    /// A nearer thread exists but is not among the chosen ones.
    NotNearest,
    /// The chart already uses this thread.
    AlreadyUsed,
    /// A touching color, by its place, cannot be told from this one any more.
    LosesEdge(usize),
    /// The cloth, which it touches, cannot be told from this color any more.
    FadesIntoCloth,
    /// No thread within the limit that was asked for.
    BeyondLimit,
    /// Of this color and a touching one, by its place, the lighter one becomes the darker one.
    TurnsShading(usize),
}

/// How well the edges between touching colors survive.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct EdgeReport {
    /// Touching cell edges between colors that were clearly different (twice the visible limit).
    pub outline: u64,
    /// Of these, edges between colors that get the same thread.
    pub vanished: u64,
    /// Of these, edges whose threads differ by less than the visible limit.
    pub faded: u64,
    /// Touching cell edges between colors that differ softly, by one to two times the visible limit:
    /// shading.
    pub soft: u64,
    /// Of these, edges between colors that get the same thread.
    pub soft_vanished: u64,
    /// Of these, edges whose threads differ by less than half of what the colors did.
    pub soft_faded: u64,
    /// Outline and soft edges along which light and dark change sides: the lighter color, by 2 or
    /// more in L*, gets the darker thread, by 1 or more.
    pub turned: u64,
}

/// Where the totals stand. All means are weighted by stitches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Totals {
    /// Different colors before.
    pub colors_before: usize,
    /// Different threads after.
    pub threads_after: usize,
    /// Mean difference per stitch.
    pub mean_difference: DeltaE,
    /// Largest difference of any color.
    pub max_difference: DeltaE,
    /// No choice of threads has a smaller mean difference, when a bound is known.
    pub lower_bound: Option<DeltaE>,
    /// True when the choice is proved to be the best possible under everything that was asked for:
    /// keeps, answers, alternates first, threads apart, tolerance, prices. The best has the least
    /// mean difference, or the least [`ReduceReport::total`].
    pub proved_best: bool,
    /// Difference and lost contrast together, where the contrast of touching colors counted.
    pub combined: Option<Combined>,
}

/// What was made small where the contrast of touching colors counts too.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Combined {
    /// How much contrast counted.
    pub keep_edges: KeepEdges,
    /// What lost contrast costs, in difference units per stitch; 0 when nothing is lost.
    pub lost_contrast: f64,
    /// What was made small, prices included, and lost contrast together.
    pub total: f64,
    /// No choice of threads makes that smaller.
    pub lower_bound: f64,
}

/// What had to give way because not everything that was asked for can be had together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Loosened {
    /// Threads are less apart than asked.
    Apart,
    /// Some steps of lightness are reversed.
    Lightness,
    /// Some outlines may fade.
    Outlines,
}

/// How well threads that were chosen jointly stay apart.
#[derive(Clone, Debug, PartialEq)]
pub struct JointReport {
    /// Least difference that was asked for between a new thread and any other; 0 for none.
    pub min_apart: DeltaE,
    /// The least that there is, the smaller one of both directions; `None` for a single thread.
    pub least_apart: Option<DeltaE>,
    /// Steps of lightness that were to be kept.
    pub steps: usize,
    /// Of these, those that are reversed or gone.
    pub reversed_steps: usize,
    /// What gave way; empty when all of it holds.
    pub loosened: Vec<Loosened>,
    /// True when it is proved that all of it cannot be had together.
    pub proved_impossible: bool,
    /// The lights that ranked; `None` when listed colors did.
    pub lights: Option<Lights>,
    /// Threads that could have stood in but for the lights: without a spectrum, or too bright for
    /// CIELAB under one of them.
    pub left_out: usize,
}

/// What a reduction sums over the stitches.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Weighing {
    /// Differences as they are.
    #[default]
    Plain,
    /// Their squares: one large difference counts more than several small ones.
    Squared,
}

/// What a reduction was asked for beside few threads, and how good it is in that.
#[derive(Clone, Debug, PartialEq)]
pub struct ReduceReport {
    /// Most threads that were asked for.
    pub max_threads: Option<usize>,
    /// Largest difference that was allowed.
    pub tolerance: Option<DeltaE>,
    /// Fewer threads than these are proved not to hold the tolerance; `None` when the fewest were
    /// not asked for.
    pub fewest: Option<usize>,
    /// What is summed over the stitches.
    pub weighing: Weighing,
    /// What a thread is worth.
    pub thread_worth: DeltaE,
    /// What a unit of money is worth; 0 when money has no say.
    pub money_worth: DeltaE,
    /// Threads of the list that are not owned.
    pub threads_to_get: usize,
    /// How much of each thread is needed, by table and code; empty when amounts were not asked for.
    pub needs: Vec<ThreadNeed>,
    /// What the search made small: the mean of what is summed and, where threads or money are worth
    /// something, their worth for each thread to get and each unit to pay.
    pub total: f64,
    /// No choice has a smaller total; `None` when no bound is known.
    pub bound: Option<f64>,
}

/// How much of a thread a palette takes, estimated from its stitches.
#[derive(Clone, Debug, PartialEq)]
pub struct ThreadNeed {
    /// The thread.
    pub thread: ThreadRef,
    /// Meters of thread as sold.
    pub meters: f64,
    /// Skeins, 1 or more; `None` where their length is not known.
    pub skeins: Option<u64>,
    /// What these skeins cost; `None` where that is not known, and for owned threads.
    pub price: Option<Price>,
    /// True for a thread that costs nothing.
    pub owned: bool,
    /// Meters that there are, where that is limited.
    pub stock_meters: Option<f64>,
}

/// What skeins cost together and how many they are; `None` where that is not known of one that is
/// not owned, or where they are of several currencies.
#[must_use]
pub fn to_pay(needs: &[ThreadNeed]) -> Option<(u64, Price)> {
    let mut sum: Option<(u64, Price)> = None;
    for need in needs.iter().filter(|need| !need.owned) {
        let (skeins, price) = (need.skeins?, need.price?);
        let (count, held) = sum.unwrap_or((0, Price { micros: 0, ..price }));
        if held.currency != price.currency {
            return None;
        }
        let micros = held.micros.saturating_add(price.micros);
        sum = Some((count.saturating_add(skeins), Price { micros, ..price }));
    }
    sum
}

/// A table as it stood when the list was made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TableVersion {
    /// The table.
    pub table: TableId,
    /// Hash of its content.
    pub hash: TableHash,
}

/// A reviewable list of changes over one palette summary.
#[derive(Clone, Debug, PartialEq)]
pub struct ChangeList {
    /// The question that it answers.
    pub question: Question,
    /// The tables that it draws on.
    pub tables: Vec<TableVersion>,
    /// The formula behind every difference in it.
    pub formula: Formula,
    /// One change a color, small but telling ones first, then the largest areas. Colors that
    /// already are worked in the thread that they get are not listed.
    pub changes: Vec<Change>,
    /// Colors that stay as they are, by their place in the summary.
    pub unchanged: Vec<usize>,
    /// The totals.
    pub totals: Totals,
    /// How the edges fare; `None` when neighbors are not known.
    pub edges: Option<EdgeReport>,
    /// How threads that were chosen jointly stay apart; `None` for other questions.
    pub joint: Option<JointReport>,
    /// What a reduction was asked for; `None` for other questions.
    pub reduction: Option<ReduceReport>,
    /// Which ranges threads come from; `None` where ranges have no price.
    pub ranges: Option<RangeReport>,
    /// How far the owner's own threads reach; `None` for other questions.
    pub own: Option<OwnReport>,
}
