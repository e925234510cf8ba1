//! What can be typed to carry out a change list and to take it back, and its help.
//! It does not know whether what was typed makes sense: `settings` checks that.

use std::path::PathBuf;

use clap::{Args, ValueHint};

use super::{ApplyOut, ChartInput, ShowArgs, TableArgs};

/// Carries out a change list that was written with --changes and answered by you.
///
/// A change is answered `yes`, `no` or another thread; a change without an answer is left out.
/// CHART may be the key alone that the list was made for.
#[derive(Debug, Args)]
#[command(after_help = "Exit code 1: no change was answered with yes or another thread.")]
pub(crate) struct ApplyArgs {
    /// The answered change list.
    #[arg(value_name = "CHANGES", value_hint = ValueHint::FilePath)]
    pub(crate) changes: PathBuf,
    /// CHART was corrected since the list was made: carry the list out on the colors that are still
    /// there, and say which are not.
    #[arg(long)]
    pub(crate) corrected: bool,
    #[command(flatten)]
    pub(crate) chart: ChartInput,
    #[command(flatten)]
    pub(crate) out: ApplyOut,
    #[command(flatten)]
    pub(crate) tables: TableArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

/// Gives back the chart as it was before its changes, byte for byte.
///
/// RECORD is the file that --undo wrote when the changes were carried out, CHART the chart that they
/// led to. A chart that was changed since is refused: the way back would lose that.
#[derive(Debug, Args)]
pub(crate) struct UndoArgs {
    /// The file that --undo wrote.
    #[arg(value_name = "RECORD", value_hint = ValueHint::FilePath)]
    pub(crate) record: PathBuf,
    /// The chart that the changes led to.
    #[arg(value_name = "CHART", value_hint = ValueHint::FilePath)]
    pub(crate) chart: PathBuf,
    /// The chart as it was, with the ending that it had.
    #[arg(long, short = 'o', value_name = "OUT", value_hint = ValueHint::FilePath)]
    pub(crate) output: PathBuf,
    /// Replace an output that exists. The input is never replaced.
    #[arg(long)]
    pub(crate) force: bool,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}
