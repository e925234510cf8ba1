//! What can be typed behind `dyekin check`. It does not know whether it makes sense.

use clap::Args;

use super::{ChartInput, ShowArgs, TableArgs};
use crate::check::Degree;

/// Says what to know of a chart before it is sold, in three degrees: fix before selling, look, for
/// information.
///
/// Looks for threads that are gone, colors that are near-identical or close to the cloth, stray
/// stitches along edges, lone stitches, and more. Each note has a stable code, numbers, its place and
/// a way out. Nothing is written.
#[derive(Debug, Args)]
#[command(after_help = "Exit code 1: there is a note of the degree of --fail-on, or a worse one.")]
pub(crate) struct CheckArgs {
    #[command(flatten)]
    pub(crate) input: ChartInput,
    /// The color of the cloth, such as '#f4f0e6', where the chart does not state it.
    #[arg(long, value_name = "COLOR")]
    pub(crate) cloth: Option<String>,
    /// End with exit code 1 when there is a note of this degree or a worse one: fix, look or
    /// information.
    #[arg(long, value_name = "DEGREE", value_parser = degree)]
    pub(crate) fail_on: Option<Degree>,
    #[command(flatten)]
    pub(crate) tables: TableArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

fn degree(text: &str) -> Result<Degree, &'static str> {
    Degree::parse(text).ok_or("write fix, look or information")
}
