//! What can be typed to replace and convert threads, and its help.
//! It does not know whether what was typed makes sense: `settings` checks that.

use std::path::PathBuf;

use clap::{Args, ValueHint};

use super::{HalfWayArgs, LightsArgs, PlanArgs, decimal};

/// Replaces threads that cannot be had, without two colors falling together.
///
/// CHART may be a key alone (a CSV of codes and stitch counts): then the neighbors of a color are
/// unknown, and a key is written.
#[derive(Debug, Args)]
#[command(
    after_help = "Exit code 1: done, but a stand-in is farther than --within, or not everything asked for can be had together."
)]
pub(crate) struct SubstituteArgs {
    /// Codes that cannot be had: CODE or TABLE:CODE, separated by commas.
    #[arg(long, short = 'm', value_name = "CODES", required = true, value_delimiter = ',')]
    pub(crate) missing: Vec<String>,
    /// Let a thread that the chart already uses stand in.
    #[arg(long)]
    pub(crate) allow_used: bool,
    /// Least difference of a stand-in from every other thread of the new chart.
    #[arg(long, value_name = "X", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) apart: Option<f64>,
    /// Keep what is lighter lighter: between all missing threads, and beside colors that they touch
    /// or are shades of.
    #[arg(long)]
    pub(crate) keep_lightness: bool,
    /// Keep colors visible beside those that they touch and stand out from.
    #[arg(long)]
    pub(crate) keep_outlines: bool,
    /// Show also which two threads in one needle come near to each missing one: estimates, for areas
    /// and not for lone stitches, thin lines, back-stitch or knots. None is chosen by itself; in the
    /// change list, answer {"blend": 1} for the first one.
    #[arg(long)]
    pub(crate) blends: bool,
    /// What is there: a text file with one thread a line and how much of it, such as `CODE x2` (skeins)
    /// or `CODE 12 m`. Only threads stand in of which there is enough, present use included.
    #[arg(long, value_name = "FILE", requires = "meters_per_stitch", value_hint = ValueHint::FilePath)]
    pub(crate) stock: Option<PathBuf>,
    /// Meters of thread that a stitch takes, for --stock and --left.
    #[arg(long, value_name = "M", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) meters_per_stitch: Option<f64>,
    #[command(flatten)]
    pub(crate) half_way: HalfWayArgs,
    #[command(flatten)]
    pub(crate) lights: LightsArgs,
    #[command(flatten)]
    pub(crate) plan: PlanArgs,
}

/// Gives every color of the chart its nearest thread, and says which colors fall together.
///
/// Or, as asked: threads mostly of one range, the fewest to buy beside those that you own, or a
/// thread of its own for every color.
#[derive(Debug, Args)]
#[command(
    after_help = "Exit code 1: done, but some color has no thread --within or --buy-within the limit, or threads cannot be so far --apart."
)]
pub(crate) struct ConvertArgs {
    #[command(flatten)]
    pub(crate) supply: SupplyArgs,
    #[command(flatten)]
    pub(crate) plan: PlanArgs,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Where threads come from")]
pub(crate) struct SupplyArgs {
    /// Take threads mostly of the first --table: each other one is taken from only where that lowers
    /// the mean difference over all stitches by at least this.
    #[arg(long, value_name = "X", conflicts_with = "owned", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) extra_range: Option<f64>,
    /// Only threads that you own: a text file with one a line, in any spelling, with counts and notes
    /// if you like. Lines that name no thread are told, all at once.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) owned: Option<PathBuf>,
    /// Beside those that you own, buy the fewest threads that bring every color within this
    /// difference.
    #[arg(long, value_name = "X", requires = "owned", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) buy_within: Option<f64>,
    /// Give colors that differ threads that differ.
    #[arg(long)]
    pub(crate) distinct: bool,
    /// With --distinct: least difference between two threads.
    #[arg(long, value_name = "X", requires = "distinct", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) apart: Option<f64>,
}
