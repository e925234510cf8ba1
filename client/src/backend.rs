//! The questions of the command in domain types, whoever answers them.
//! It does not know whether the answer comes from this process or from a server.

mod embedded;
#[cfg(feature = "remote")]
mod remote;
#[cfg(test)]
pub(crate) mod scripted;

use dyekin_core::audit::{Audit, AuditOptions};
use dyekin_core::blend::{BlendOptions, Mix};
use dyekin_core::change::TableVersion;
use dyekin_core::compare::Comparison;
use dyekin_core::difference::Measure;
use dyekin_core::error::Error;
use dyekin_core::nearest::NearestOptions;
use dyekin_core::planner::{
    Ask, ConvertOptions, MergeList, MergeOptions, ReduceOptions, SubstituteOptions,
};
use dyekin_core::spectrum::OverLights;
use dyekin_core::table::{Notice, ReadOptions};
use dyekin_core::{
    ChangeList, Color, Conditions, Difference, PaletteSummary, Table, TableHash, TableId, Thread,
    ThreadRef, Watch,
};

pub use embedded::Embedded;
#[cfg(feature = "remote")]
pub use remote::Remote;

use crate::failure::Result;

/// One thread that answers.
#[derive(Clone, Debug, PartialEq)]
pub struct Hit {
    /// The table it stands in.
    pub table: TableId,
    /// The thread, without its spectrum.
    pub thread: Thread,
    /// The difference; the standard is the color asked for. Where lights rank, that under the worst
    /// of them.
    pub difference: Difference,
    /// True when the data cannot tell whether this thread or the first match is nearer.
    pub as_near: bool,
    /// How the two hold under the lights that rank, or under the usual ones, when both have spectra.
    pub over_lights: Option<Box<OverLights>>,
}

/// The answer to one color.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// Threads within the limit, nearest first.
    pub matches: Vec<Hit>,
    /// Threads within the limit that the count left out and that the data cannot tell from the first
    /// match; counted up to [`dyekin_core::nearest::MAX_MORE_AS_NEAR`].
    pub more_as_near: usize,
    /// The nearest thread beyond the limit when none is within it.
    pub beyond: Option<Hit>,
    /// Threads that pass the filter and that the lights left out, for want of a spectrum.
    pub left_out: usize,
}

/// What blends should look like.
#[derive(Clone, Debug, PartialEq)]
pub enum Subject {
    /// A color.
    Color(Color),
    /// A thread: its color is asked for, and it takes no part itself.
    Thread(ThreadRef),
}

/// Two threads of one table in one needle.
#[derive(Clone, Debug, PartialEq)]
pub struct Blend {
    /// The table of both.
    pub table: TableId,
    /// The thread with more strands; of equally many, the one whose code comes first.
    pub first: Thread,
    /// The other thread.
    pub second: Thread,
    /// What the two look like together.
    pub mix: Mix,
    /// From the color asked for to the estimate.
    pub difference: Difference,
    /// From the color asked for to the other end of the range.
    pub full_spread: Difference,
}

/// The blends of one color.
#[derive(Clone, Debug, PartialEq)]
pub struct Blends {
    /// Blends within the limit, nearest first.
    pub blends: Vec<Blend>,
    /// The nearest blend beyond the limit when none is within it.
    pub beyond: Option<Blend>,
    /// The nearest single thread of those that may take part, whatever the limit.
    pub alone: Option<Hit>,
}

/// The answers to several questions, one each, and the tables behind them.
#[derive(Clone, Debug, PartialEq)]
pub struct Answers<T> {
    /// In the order of the questions: the answer, or why there is none.
    pub results: Vec<std::result::Result<T, Error>>,
    /// The tables that were searched.
    pub tables: Vec<TableVersion>,
}

/// A table without its threads.
#[derive(Clone, Debug, PartialEq)]
pub struct TableHead {
    /// The id.
    pub id: TableId,
    /// Hash of the content.
    pub hash: TableHash,
    /// Threads in the table.
    pub threads: usize,
    /// Light and observer of its colors.
    pub conditions: Option<Conditions>,
}

impl TableHead {
    /// The head of a table.
    #[must_use]
    pub fn of(table: &Table) -> Self {
        Self {
            id: table.id().clone(),
            hash: table.hash(),
            threads: table.threads().len(),
            conditions: table.threads().first().map(|thread| thread.color.conditions()),
        }
    }
}

/// A table that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Imported {
    /// The table.
    pub table: TableHead,
    /// What the reader took for granted or left out.
    pub notices: Vec<Notice>,
    /// Whether the table is still there after the server restarts.
    pub durable: bool,
}

/// Answers questions about thread tables and palettes. Every method asks for all at once.
///
/// # Errors
///
/// Each method fails with [`crate::Failure::Domain`] for what the domain refuses, and a remote one
/// with [`crate::Failure::Unreachable`] or [`crate::Failure::TimedOut`].
#[expect(clippy::missing_errors_doc, reason = "stated once for all methods, above")]
pub trait Backend: std::fmt::Debug {
    /// The threads nearest to each color.
    fn match_colors(
        &mut self,
        colors: &[Color],
        options: &NearestOptions,
    ) -> Result<Answers<Found>>;

    /// What can stand in for each thread; never the thread itself. Without `any_finish` and without
    /// finishes in the filter, only threads of the same finish.
    fn match_threads(
        &mut self,
        threads: &[ThreadRef],
        options: &NearestOptions,
        any_finish: bool,
    ) -> Result<Answers<Found>>;

    /// The threads of these tables and codes.
    fn threads(&mut self, wanted: &[ThreadRef]) -> Result<Vec<std::result::Result<Thread, Error>>>;

    /// How far each second color looks apart from its first, which is the standard.
    fn compare(
        &mut self,
        pairs: &[(Color, Color)],
        measure: Measure,
    ) -> Result<Vec<std::result::Result<Difference, Error>>>;

    /// The blends of two threads that come nearest to each color or thread.
    fn suggest_blends(
        &mut self,
        subjects: &[Subject],
        options: &BlendOptions,
        watch: &dyn Watch,
    ) -> Result<Answers<Blends>>;

    /// The list of merges from all colors down to one thread.
    fn suggest_merges(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: MergeOptions,
        watch: &dyn Watch,
    ) -> Result<MergeList>;

    /// Few threads, and one of them for every color.
    fn reduce(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: &ReduceOptions,
        watch: &dyn Watch,
    ) -> Result<ChangeList>;

    /// Threads for those that are missing.
    fn substitute(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: &SubstituteOptions,
        watch: &dyn Watch,
    ) -> Result<ChangeList>;

    /// A thread for every color.
    fn convert(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: &ConvertOptions,
        watch: &dyn Watch,
    ) -> Result<ChangeList>;

    /// Reads a table without keeping it.
    fn check_table(&mut self, bytes: &[u8], options: &ReadOptions) -> Result<Imported>;

    /// Reads a table and keeps it; one of the same id is replaced.
    fn import_table(&mut self, bytes: &[u8], options: &ReadOptions) -> Result<Imported>;

    /// All tables, ordered by id.
    fn list_tables(&mut self) -> Result<Vec<TableHead>>;

    /// A table with its threads.
    fn table(&mut self, id: &TableId) -> Result<Table>;

    /// What the owner of a table should look at.
    fn audit_table(&mut self, id: &TableId, options: &AuditOptions) -> Result<Audit>;

    /// What two versions of a table differ in.
    fn compare_tables(
        &mut self,
        old: &TableId,
        new: &TableId,
        measure: Measure,
    ) -> Result<Comparison>;

    /// Deletes a table.
    fn delete_table(&mut self, id: &TableId) -> Result<TableHead>;
}
