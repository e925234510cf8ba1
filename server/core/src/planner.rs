//! Questions about a whole palette: reduce, suggest merges, substitute, convert.
//! It does not know the chart's picture: it sees a palette summary and answers with proposals.

mod assignment;
mod case;
mod contrast;
mod convert;
mod curve;
mod edges;
mod evidence;
mod joint;
mod load;
mod median;
mod merge;
mod meter;
mod model;
mod reduce;
mod seating;
mod sight;
mod stock;
mod substitute;

pub use contrast::KeepEdges;
pub use convert::{ConvertOptions, MAX_DISTINCT, MAX_OWNED, MAX_PRICED, RangePrice, Supply};
use meter::Meter;

pub use reduce::{Money, ReduceOptions};

use crate::catalog::Catalog;
use crate::change::{Answer, ChangeList};
use crate::color::AdaptationMethod;
use crate::difference::{DeltaE, Difference, Formula};
use crate::error::Result;
use crate::nearest::ThreadFilter;
use crate::palette::PaletteSummary;
use crate::spectrum::Lights;
use crate::table::{TableId, ThreadRef};
use crate::watch::Watch;

/// Visible limit in CIEDE2000 units: touching colors that differ by less fade into each other.
/// House choice, from published thresholds for visible differences.
pub const VISIBLE: f64 = 3.0;

/// Most missing threads of one question: seating them jointly takes their number squared times the
/// threads that may stand in.
pub const MAX_MISSING: usize = 256;

/// What all palette questions share, with every field given by the caller.
#[derive(Clone, Debug, PartialEq)]
pub struct Ask {
    /// Tables to choose from; empty means all.
    pub tables: Vec<TableId>,
    /// The formula that measures.
    pub formula: Formula,
    /// How a measured color is carried over to a thread that was measured under another light;
    /// without it such a question is refused.
    pub adaptation: Option<AdaptationMethod>,
    /// Which threads may answer. It acts only when it says something: for picture colors the caller
    /// who wants plain threads only passes that finish.
    pub filter: ThreadFilter,
    /// What must not change or must be among the threads.
    pub keeps: Vec<Keep>,
    /// Answers to an earlier list over the same summary.
    pub answers: Vec<Answered>,
}

/// What the owner said to a change of an earlier list.
#[derive(Clone, Debug, PartialEq)]
pub struct Answered {
    /// The color's place in the summary.
    pub color: usize,
    /// The threads that the list proposed for it: one, or the two of a blend.
    pub proposed: Vec<ThreadRef>,
    /// What the owner said.
    pub answer: Answer,
}

/// Something that the owner of the chart does not give away.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Keep {
    /// The color at this place in the summary: a color worked in threads of the catalog stays as it
    /// is, a picture color gets the nearest thread that no other kept color has.
    Color(usize),
    /// This thread is among the chosen ones and counts toward the number.
    Thread(ThreadRef),
    /// All colors of this area.
    Area(String),
}

/// How a merge list is made, with every field given by the caller.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MergeOptions {
    /// The list leads through the best palette of this many threads, 1 to 4,096; the best by stitches
    /// alone. Without it the list starts from the nearest thread of every color, whatever lies below.
    pub anchor: Option<usize>,
    /// Whether the best palette of every number of threads is looked for as well.
    pub curve: bool,
}

/// A full merge list: from the colors of the chart down to one thread.
#[derive(Clone, Debug, PartialEq)]
pub struct MergeList {
    /// The formula behind every difference in it.
    pub formula: Formula,
    /// The tables with their hashes.
    pub tables: Vec<crate::change::TableVersion>,
    /// Colors before the first step, and kept threads and threads of the anchor that no color uses
    /// yet. A kept blend counts as its two threads.
    pub colors: usize,
    /// The number of threads whose best palette the list leads through.
    pub anchor: Option<usize>,
    /// The steps, each with one thread or color fewer.
    pub steps: Vec<MergeStep>,
    /// The best palettes, from `colors` threads down, when they were asked for. It ends where keeps,
    /// or threads refused for some color, allow no fewer.
    pub curve: Vec<CurvePoint>,
}

impl MergeList {
    /// The best palette of at most so many threads, when the curve knows it.
    #[must_use]
    pub fn best(&self, threads: usize) -> Option<&CurvePoint> {
        // Most threads first.
        let place = self.curve.partition_point(|point| point.threads > threads);
        self.curve.get(place)
    }

    /// How far a step can be from the best palette of as many threads, in percent of what the best
    /// has at least; `None` without the curve, or when the best one may have no difference at all.
    #[must_use]
    pub fn gap_percent(&self, step: &MergeStep) -> Option<f64> {
        let bound = self.best(step.threads_left)?.lower_bound.value();
        let mean = step.mean_difference.value();
        (bound > 0.0).then(|| ((mean / bound - 1.0) * 100.0).max(0.0))
    }
}

/// The best palette of at most so many threads, as far as is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvePoint {
    /// Most threads.
    pub threads: usize,
    /// Stitch-weighted mean difference of the best palette that was found.
    pub mean_difference: DeltaE,
    /// Largest difference of any color in it.
    pub max_difference: DeltaE,
    /// No palette of as many threads has a smaller mean difference.
    pub lower_bound: DeltaE,
    /// The bound is reached: no palette of as many threads does better.
    pub proved_best: bool,
}

/// One step of a merge list.
#[derive(Clone, Debug, PartialEq)]
pub struct MergeStep {
    /// Threads left after this step.
    pub threads_left: usize,
    /// The thread that leaves, or that a second color joins in the first steps.
    pub leaving: ThreadRef,
    /// Where the stitches go.
    pub moves: Vec<MergeMove>,
    /// Stitches that change thread in this step.
    pub stitches_moved: u64,
    /// Stitch-weighted mean difference of the whole palette after this step.
    pub mean_difference: DeltaE,
    /// Largest difference of any color after this step.
    pub max_difference: DeltaE,
}

/// One color that moves to another thread in a step. Measured against the original color.
#[derive(Clone, Debug, PartialEq)]
pub struct MergeMove {
    /// The color's place in the summary.
    pub color: usize,
    /// Its stitches.
    pub stitches: u64,
    /// The thread that takes it.
    pub to: ThreadRef,
    /// The difference from the original color, which is the standard.
    pub difference: Difference,
}

/// What to substitute.
#[derive(Clone, Debug, PartialEq)]
pub struct SubstituteOptions {
    /// The threads that cannot be had.
    pub missing: Vec<ThreadRef>,
    /// Whether a thread that the chart already uses may stand in.
    pub allow_used: bool,
    /// Replacements farther than this are marked.
    pub limit: Option<DeltaE>,
    /// Least difference of a stand-in from every thread in use and from every other stand-in, the
    /// smaller one of both directions; 0 asks only for different threads.
    pub min_apart: DeltaE,
    /// Whether steps of lightness keep their direction: every step of more than 3 in L* between two
    /// missing threads, and to a color that stays where the two touch or are shades of one color.
    pub keep_lightness: bool,
    /// Whether a color that stands out from one it touches (twice the visible limit) stays visible
    /// beside it (the visible limit), in CIEDE2000. Blends are left out of it.
    pub keep_outlines: bool,
    /// Ranks by the largest difference under these lights, from spectra; what is asked of threads
    /// among themselves stays with the listed colors. A missing thread must have a spectrum; threads
    /// without one do not stand in, and are counted.
    pub lights: Option<Lights>,
    /// What is there: then only threads stand in of which there is enough for the stitches of the
    /// missing thread together with those that they are used for already. Answers are not held to
    /// it.
    pub stock: Option<ThreadStock>,
    /// Colors, by their places, that stay in their threads although these are missing: what is
    /// stitched already, and what there is enough left for. Nothing stands in for them, and a
    /// missing thread in which all colors stay needs no stand-in.
    pub staying: Vec<usize>,
}

/// Most threads of one stock.
pub const MAX_STOCKED: usize = 10_000;

/// Lengths of thread that are there.
#[derive(Clone, Debug, PartialEq)]
pub struct ThreadStock {
    /// Meters of thread as sold, 0 or more; lengths of one thread are added, and of threads that are
    /// not listed there is none.
    pub meters: Vec<(ThreadRef, f64)>,
    /// Meters of thread as sold that a stitch takes, more than 0. A strand of a blend takes half.
    pub meters_per_stitch: f64,
}

/// Chooses few threads and gives every color one of them, so that what the options sum is as small
/// as the search finds: the stitch-weighted mean difference or its square, and what threads are
/// worth. The report says how much smaller it could be at most, and the totals whether it is proved
/// the smallest possible.
///
/// Where edges are to be kept, what is made small is the mean difference and the contrast together
/// that touching colors lose, and the totals say how much smaller both together could be at most.
///
/// Every admitted thread of the chosen tables is a candidate. A color that is worked in a thread of
/// the catalog is measured from that thread's table color. A blend becomes one thread unless it is
/// kept. Where colors times threads exceed 2^24, each color brings its nearest threads only, and
/// the bound allows for those left out. The work is budgeted in steps, never by a clock: one
/// question has one answer, in whatever order the colors come.
///
/// Answers of an earlier list hold: yes and another fix the color's threads, no keeps a color in
/// its own threads, or forbids the proposed thread to a color that has none.
///
/// # Errors
///
/// [`crate::ErrorKind::Impossible`] when keeps, filters, tolerance or number of threads leave no
/// choice, with the nearest that is possible;
/// [`crate::ErrorKind::BadValue`] for options that cannot be asked,
/// [`crate::ErrorKind::BadAnswer`] for an answer that cannot stand,
/// [`crate::ErrorKind::Stopped`] when the watch says so, and what [`crate::nearest`] returns.
pub fn reduce(
    catalog: &Catalog,
    palette: &PaletteSummary,
    ask: &Ask,
    options: &ReduceOptions,
    watch: &dyn Watch,
) -> Result<ChangeList> {
    reduce::run(catalog, palette, ask, options, &mut Meter::new(watch).adapting(ask.adaptation))
}

/// The whole list of merges, from all colors down to one thread, never chained.
///
/// First come the steps in which colors join that have the same nearest thread; they cost nothing
/// more. Then, again and again, the thread leaves whose colors lose least, and each of its colors
/// goes to the nearest thread that is left: the threads after a step are among those before it. Kept
/// threads never leave, so that the list may end before one.
///
/// With an anchor the threads of the best palette of that size are there from the beginning and stay
/// until no others are left. With the curve, every number of threads gets its best palette, found by
/// itself, and each step can be held against it.
///
/// # Errors
///
/// As [`reduce()`].
pub fn suggest_merges(
    catalog: &Catalog,
    palette: &PaletteSummary,
    ask: &Ask,
    options: MergeOptions,
    watch: &dyn Watch,
) -> Result<MergeList> {
    let question = merge::Question { catalog, palette, ask, options };
    merge::run(question, &mut Meter::new(watch).adapting(ask.adaptation))
}

/// Replaces missing threads jointly, with the least sum of differences over all stitches: no two
/// colors fall together, none onto a used thread unless that is allowed, none too near to another.
///
/// The answer is proved to be the best, or the list states a bound: work is budgeted in steps, never
/// by a clock. Where the options cannot all be met, the nearest to them that can be met is answered,
/// and the list says which gave way: first threads are less apart, down to half; then as many steps
/// of lightness are kept as possible, the largest first; then outlines are given up. Two stand-ins
/// are never the same thread.
///
/// A thread stands in for one of the same finish and, where both are known, the same fiber. Threads
/// that the table lists as preferred alternates come first whatever their kind. An answer `no`
/// refuses the stand-in; another one is proposed.
///
/// # Errors
///
/// As [`reduce()`]; [`crate::ErrorKind::UnknownThread`] for a missing thread that no table has,
/// [`crate::ErrorKind::BadValue`] for one that the chart does not use.
pub fn substitute(
    catalog: &Catalog,
    palette: &PaletteSummary,
    ask: &Ask,
    options: &SubstituteOptions,
    watch: &dyn Watch,
) -> Result<ChangeList> {
    substitute::run(catalog, palette, ask, options, &mut Meter::new(watch).adapting(ask.adaptation))
}

/// Gives every color a thread of the supply, the nearest where nothing else is asked for, and reports
/// which colors fall together. Colors that are worked in threads of the supply stay; the strands of
/// a blend are converted one by one.
///
/// With priced ranges, the sum of the mean difference per stitch and of the prices of all ranges that
/// threads are taken from is the least; with the owner's threads and a limit, the fewest threads are
/// bought that bring every color within it, and of these the nearest; kept apart, no two colors get
/// one thread. The reports of the list say how good the answer is proved to be.
///
/// # Errors
///
/// As [`reduce()`]; [`crate::ErrorKind::OverLimit`] for more than [`MAX_OWNED`] own threads,
/// [`MAX_DISTINCT`] colors to keep apart or, with these, [`MAX_PRICED`] priced ranges.
pub fn convert(
    catalog: &Catalog,
    palette: &PaletteSummary,
    ask: &Ask,
    options: &ConvertOptions,
    watch: &dyn Watch,
) -> Result<ChangeList> {
    convert::run(catalog, palette, ask, options, &mut Meter::new(watch).adapting(ask.adaptation))
}

#[cfg(test)]
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "tests cast small numbers"
)]
mod tests;
