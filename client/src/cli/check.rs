//! What can be typed behind `dyekin check`. It does not know whether it makes sense.

use std::path::PathBuf;

use clap::{Args, ValueHint};

use super::{ReadArgs, ShowArgs, TableArgs, WalkArgs};
use crate::check::Degree;

/// Where the options of this command stand in its help.
const NOTES: &str = "Notes";

/// Says what to know of a chart before it is sold, in three degrees: fix before selling, look, for
/// information.
///
/// Looks for threads that are gone, colors that are near-identical or close to the cloth, stray
/// stitches along edges, lone stitches, and more. Each note has a stable code, numbers, its place and
/// a way out. Nothing is written.
#[derive(Debug, Args)]
#[command(after_help = "Exit code 1: there is a note of the degree of --fail-on, or a worse one.")]
pub(crate) struct CheckArgs {
    /// The chart: PNG or JPEG picture, chart JSON, CSV grid of codes, or a key. Several charts, or a
    /// folder of them, are checked each by itself, and all notes are told of those that fail.
    #[arg(required = true, value_name = "CHART", value_hint = ValueHint::AnyPath)]
    pub(crate) charts: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) read: ReadArgs,
    /// The color of the cloth, such as '#f4f0e6', where the chart does not state it.
    #[arg(long, value_name = "COLOR", help_heading = NOTES)]
    pub(crate) cloth: Option<String>,
    /// A key that is sold beside the chart: CSV with the columns code and stitches. What it counts is
    /// held against the chart.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, help_heading = NOTES)]
    pub(crate) key: Option<PathBuf>,
    /// Limits and degrees of your own, as TOML: a table for each code, such as [few-stitches] with
    /// below = 20 and degree = "fix".
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, help_heading = NOTES)]
    pub(crate) profile: Option<PathBuf>,
    /// End with exit code 1 when there is a note of this degree or a worse one: fix, look or
    /// information.
    #[arg(long, value_name = "DEGREE", value_parser = degree, help_heading = NOTES)]
    pub(crate) fail_on: Option<Degree>,
    /// Answer with a SARIF 2.1.0 log on standard output, for programs that gather findings.
    #[arg(long, conflicts_with_all = ["json", "details"], help_heading = "Report")]
    pub(crate) sarif: bool,
    #[command(flatten)]
    pub(crate) walk: WalkArgs,
    #[command(flatten)]
    pub(crate) tables: TableArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

fn degree(text: &str) -> Result<Degree, &'static str> {
    Degree::parse(text).ok_or("write fix, look or information")
}
