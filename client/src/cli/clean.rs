//! What can be typed behind `dyekin clean`. It does not know whether it makes sense.

use std::path::PathBuf;

use clap::{Args, ValueHint};

use super::{ChartsArgs, FilterArgs, ManyArgs, ShowArgs, TableArgs, decimal};

/// Gives stray blend stitches along hard edges to the side that they belong to.
///
/// A draft from artwork has stitches in mixes of the two sides of an edge. A chart without such
/// blends is not changed. Lone stitches and tiny groups are listed with what they cost. Works on a
/// picture, whose colors then get threads when --table is given, and on a chart in threads, which
/// needs their table.
#[derive(Debug, Args)]
pub(crate) struct CleanArgs {
    #[command(flatten)]
    pub(crate) chart: ChartsArgs,
    /// Let lone stitches and groups of up to three join the color around, as far as --within says;
    /// those that stand out never do.
    #[arg(long)]
    pub(crate) lone: bool,
    /// Largest difference of lone stitches that join.
    #[arg(long, value_name = "X", default_value = "5", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) within: f64,
    /// The new chart; its ending says the format: .png, .json or .csv. For several charts a folder,
    /// made if it is not there: NAME.png becomes NAME.proposed.png in it.
    #[arg(long, short = 'o', value_name = "OUT", value_hint = ValueHint::FilePath, help_heading = "Output")]
    pub(crate) output: PathBuf,
    /// Write the list of all stitches that moved or could move, to be reviewed and answered. For
    /// several charts a folder; their lists are always written.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, help_heading = "Output")]
    pub(crate) changes: Option<PathBuf>,
    /// Take the answers of an earlier list into account.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, help_heading = "Output")]
    pub(crate) answers: Option<PathBuf>,
    /// Write the key of the new chart: .csv or .json. For several charts a folder.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, help_heading = "Output")]
    pub(crate) key: Option<PathBuf>,
    /// Replace outputs that exist. The input is never replaced.
    #[arg(long, help_heading = "Output")]
    pub(crate) force: bool,
    #[command(flatten)]
    pub(crate) many: ManyArgs,
    #[command(flatten)]
    pub(crate) tables: TableArgs,
    #[command(flatten)]
    pub(crate) filter: FilterArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}
