//! The list of single stitches that `clean` moves or could move: each with its cell, to be answered
//! one by one. It does not know how strays are found.

mod read;
mod write;

pub use read::read;
pub(crate) use read::{is_of_stitches, read_tree};

use dyekin_core::Srgb8;

use crate::chart::{ChartHash, KeyThread};

/// What `question` says in such a list; `format` and `version` are those of every change list.
const QUESTION: &str = "clean";

/// A reviewable, answerable list of stitches of one chart.
#[derive(Clone, Debug, PartialEq)]
pub struct StitchList {
    /// Version of the program that made the list.
    pub program: String,
    /// Hash of the chart.
    pub chart: ChartHash,
    /// Hash of the chart after the stitches were moved.
    pub chart_after: Option<ChartHash>,
    /// The settings of the question, by name.
    pub settings: Vec<(String, String)>,
    /// The colors that the stitches name.
    pub colors: Vec<StitchColor>,
    /// What the owner says to all stitches and suggestions without an answer of their own.
    pub rest: Option<StitchAnswer>,
    /// Stitches that the new chart has moved, in reading order.
    pub stitches: Vec<Stitch>,
    /// Lone stitches and tiny groups that could move.
    pub suggestions: Vec<Suggestion>,
}

/// A color of the chart as the list names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StitchColor {
    /// Its number in the list; the file's id is `c` and this number from 1.
    pub number: usize,
    /// The color as the chart shows it.
    pub hex: Srgb8,
    /// Stitches of it before.
    pub stitches: u64,
    /// The threads it is worked in: none, one, or two for a blend.
    pub threads: Vec<KeyThread>,
}

/// What the owner says to one stitch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StitchAnswer {
    /// To this color of the list instead.
    Another(usize),
    /// It stays as it is.
    No,
    /// As proposed.
    Yes,
}

/// Why a stitch moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// A blend of two sides of an edge.
    Blend,
    /// A lone stitch or tiny group that was asked to join its neighbors.
    Lone,
}

/// A stitch that moves from one color to another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stitch {
    /// Column and row, from 0.
    pub at: (u16, u16),
    /// The color that it has.
    pub from: usize,
    /// The color that it belongs to.
    pub to: usize,
    /// Why.
    pub why: Why,
    /// What the owner says; `None` while it is not answered.
    pub answer: Option<StitchAnswer>,
}

/// A lone stitch or a tiny group that could move.
#[derive(Clone, Debug, PartialEq)]
pub struct Suggestion {
    /// Columns and rows, from 0.
    pub cells: Vec<(u16, u16)>,
    /// The color that they have.
    pub from: usize,
    /// The color of most neighbors.
    pub to: usize,
    /// CIEDE2000 between the two, as screens show them.
    pub difference: f64,
    /// Times that a thread is started, and so changed, for them alone.
    pub starts: u64,
    /// What the owner says; `None` while it is not answered.
    pub answer: Option<StitchAnswer>,
}

/// Millimetres of thread at the beginning and the end of each length. Common practice, no source.
pub const TAILS_MM: u64 = 50;

impl Suggestion {
    /// Millimetres of thread that its beginnings and ends take.
    #[must_use]
    pub fn thread_mm(&self) -> u64 {
        self.starts * TAILS_MM
    }
}

impl StitchList {
    /// The bytes of the file.
    #[must_use]
    pub fn to_json(&self) -> Vec<u8> {
        write::write(self)
    }

    /// The answered stitches that move: cell, color before and color after.
    pub fn answered(&self) -> impl Iterator<Item = ((u16, u16), usize, usize)> {
        let stitches = self.stitches.iter().filter_map(|stitch| {
            goal(stitch.answer.or(self.rest), stitch.to).map(|to| (stitch.at, stitch.from, to))
        });
        let suggestions = self.suggestions.iter().flat_map(|held| {
            let to = goal(held.answer.or(self.rest), held.to);
            held.cells.iter().filter_map(move |at| to.map(|to| (*at, held.from, to)))
        });
        stitches.chain(suggestions)
    }
}

fn goal(answer: Option<StitchAnswer>, proposed: usize) -> Option<usize> {
    match answer? {
        StitchAnswer::Another(color) => Some(color),
        StitchAnswer::No => None,
        StitchAnswer::Yes => Some(proposed),
    }
}

/// The id of a color by its number.
pub(crate) fn color_id(number: usize) -> String {
    format!("c{}", number + 1)
}

/// The keys of the file, for the test that compares them with the schema.
#[cfg(test)]
pub(crate) use read::{COLOR_FIELDS, FILE_FIELDS, STITCH_FIELDS, SUGGESTION_FIELDS};
