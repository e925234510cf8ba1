//! What can be typed behind `dyekin affected`. It does not know whether it makes sense.

use std::path::PathBuf;

use clap::{Args, ValueHint};

use super::{FilterArgs, MeasureArgs, ReadArgs, ShowArgs, TableArgs, WalkArgs, decimal};

/// Says which charts use threads that disappear, how much of each, and what could stand in.
///
/// Each chart is looked at by itself, all missing threads of it together, as `dyekin substitute` does;
/// nothing is written. Charts that use none of the threads are counted only.
#[derive(Debug, Args)]
#[command(
    after_help = "Exit code 1: no chart uses any of the threads, or for one of them nothing can stand in --within the limit."
)]
pub(crate) struct AffectedArgs {
    /// Codes that disappear: CODE or TABLE:CODE, separated by commas.
    #[arg(long, short = 'm', value_name = "CODES", required = true, value_delimiter = ',')]
    pub(crate) missing: Vec<String>,
    /// Charts, or folders of charts.
    #[arg(required = true, value_name = "CHART", value_hint = ValueHint::AnyPath)]
    pub(crate) charts: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) read: ReadArgs,
    /// Meters of thread as sold that a stitch takes: then lengths are told and, where the table says
    /// how long a skein is, skeins.
    #[arg(long, value_name = "M", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) meters_per_stitch: Option<f64>,
    /// Let a thread that the chart already uses stand in.
    #[arg(long)]
    pub(crate) allow_used: bool,
    #[command(flatten)]
    pub(crate) walk: WalkArgs,
    #[command(flatten)]
    pub(crate) tables: TableArgs,
    #[command(flatten)]
    pub(crate) measure: MeasureArgs,
    #[command(flatten)]
    pub(crate) filter: FilterArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}
