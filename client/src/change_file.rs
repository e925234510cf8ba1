//! A change list as a file: what was asked of which chart, each change with its evidence, and what
//! the chart's owner answered. It does not know how a change is carried out.

use dyekin_core::change::{EdgeReport, Question, TableVersion, Totals};
use dyekin_core::{Difference, Formula, Srgb8, ThreadRef};

use crate::chart::{ChartHash, KeyThread, Symbol};

/// A reviewable, answerable list of changes to one chart or key.
#[derive(Clone, Debug, PartialEq)]
pub struct ChangeFile {
    /// Version of the program that made the list.
    pub program: String,
    /// Hash of the chart; `None` when the list was made for a key alone.
    pub chart: Option<ChartHash>,
    /// Hash of the chart after the changes were carried out.
    pub chart_after: Option<ChartHash>,
    /// The tables that the list draws on.
    pub tables: Vec<TableVersion>,
    /// The formula behind every difference in it.
    pub formula: Formula,
    /// The question that it answers.
    pub question: Question,
    /// The settings of the question, by name, such as `threads` and `24`.
    pub settings: Vec<(String, String)>,
    /// The totals.
    pub totals: Totals,
    /// How the edges fare; `None` when neighbors are not known.
    pub edges: Option<EdgeReport>,
    /// The changes, in the order of review.
    pub changes: Vec<FileChange>,
    /// Colors that stay as they are.
    pub unchanged: Vec<ColorRef>,
}

/// A color of the chart as a change list names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColorRef {
    /// Its id in this list: `c` and its place in the palette summary, from 1.
    pub id: String,
    /// The color as the chart shows it.
    pub color: Srgb8,
    /// The area that it was split out of.
    pub area: Option<String>,
    /// The entries of the key that make it up.
    pub entries: Vec<usize>,
    /// The symbols of these entries.
    pub symbols: Vec<Symbol>,
    /// Stitches.
    pub stitches: u64,
    /// Threads it is worked in before: none, one, or two for a blend.
    pub before: Vec<KeyThread>,
}

/// One change.
#[derive(Clone, Debug, PartialEq)]
pub struct FileChange {
    /// The color that changes.
    pub of: ColorRef,
    /// The thread proposed; two for a blend.
    pub after: Vec<FileThread>,
    /// The next best threads, best first.
    pub runners_up: Vec<FileThread>,
    /// What to know about the change.
    pub remarks: Vec<FileRemark>,
    /// What the owner says; `None` while it is not answered.
    pub answer: Option<FileAnswer>,
    /// True when every difference of `after` was measured and not only looked at on a screen.
    pub checked: bool,
}

/// A thread with its evidence.
#[derive(Clone, Debug, PartialEq)]
pub struct FileThread {
    /// Table, table hash and code.
    pub thread: KeyThread,
    /// Its name; foreign text.
    pub name: String,
    /// Its color as a screen shows it.
    pub hex: Srgb8,
    /// The difference from the chart's color.
    pub difference: Difference,
}

/// Something to know about a change; colors are named by their ids.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FileRemark {
    /// The chart already uses this thread.
    AlreadyUsed,
    /// No thread within the limit that was asked for.
    BeyondLimit,
    /// The thread is kept because the owner asked for it.
    Kept,
    /// A touching color cannot be told from this one any more.
    LosesEdge(String),
    /// A nearer thread exists but is not among the chosen ones.
    NotNearest,
    /// Another color gets the same thread.
    SharesThread(String),
}

/// What the owner says to a change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FileAnswer {
    /// To this thread instead.
    Another(ThreadRef),
    /// The color stays as it is.
    No,
    /// As proposed.
    Yes,
}
