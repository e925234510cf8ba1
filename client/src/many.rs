//! Several charts in one run: which ones, in what order, what became of each, how to go on later.
//! It does not know what is done to a chart: a command hands it the work on one.

mod bar;
mod gather;
mod names;
mod record;
mod run;
pub(crate) mod summary;

use std::path::PathBuf;

use serde_json::{Map, Value};

use crate::exit::Exit;
use crate::failure::Failure;
use crate::report::Caution;

pub(crate) use bar::Bar;
pub(crate) use gather::{ChartFile, Gathered, LeftOut, gather};
pub(crate) use names::{Folders, Names};
pub(crate) use record::{Entry, Record};
pub(crate) use run::{Heard, Run, Slot};
pub(crate) use summary::{Counted, Told};

/// What became of a chart.
#[derive(Debug)]
pub(crate) enum State {
    Done(Box<Outcome>),
    Failed(Failure),
    /// An earlier run did it for the same chart, options and tables; how that ended.
    Skipped(Exit),
}

/// A chart that was worked on.
#[derive(Clone, Debug)]
pub(crate) struct Outcome {
    /// [`Exit::Done`] or [`Exit::NothingMatched`].
    pub(crate) exit: Exit,
    /// What became of it, for people; the first line goes behind its name. None says nothing of it.
    pub(crate) lines: Vec<String>,
    /// The same for programs.
    pub(crate) facts: Map<String, Value>,
    /// What the totals are made of, by name.
    pub(crate) counts: Vec<Counted>,
    /// What to know before acting on it.
    pub(crate) cautions: Vec<Caution>,
    /// Digest of the chart's file.
    pub(crate) input: String,
    pub(crate) written: Vec<WrittenFile>,
    /// What the reader took for granted, and what the files do not hold.
    pub(crate) notes: Vec<String>,
}

/// A file that was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct WrittenFile {
    /// What it holds, by one word.
    pub(crate) what: &'static str,
    pub(crate) path: PathBuf,
    pub(crate) digest: String,
}
