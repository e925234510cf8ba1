//! What can be typed about a piece that is half-way done, and its help.
//! It does not know whether what was typed makes sense: the command checks that.

use clap::{Args, ValueHint};

use super::decimal;

#[derive(Debug, Args)]
#[command(next_help_heading = "Half-way through a piece")]
pub(crate) struct HalfWayArgs {
    /// What is stitched already: "rows 1-120", "cols 1-50", or both for the cells in both, counted
    /// from the top and the left; or a PNG with one pixel for each cell of the chart, black where it is
    /// stitched, white or see-through where it is not. Lines and knots count as not worked yet unless
    /// "lines rows 1-40", "knots" or "lines and knots FILE.png" says so. Give it several times for more.
    #[arg(long, value_name = "WHERE", value_hint = ValueHint::AnyPath)]
    pub(crate) done: Vec<String>,
    /// How much is left of a missing thread: "CODE 4.2 m", "CODE 3.8-4.2 m", "CODE 1/2 skein" or
    /// "CODE 0". Once for each. Areas, lines that hang together and knots of one area are then
    /// finished with it or given to the new thread, so that the two never meet inside one, or as
    /// little as can be; never more is used than is left.
    #[arg(long, value_name = "CODE AMOUNT")]
    pub(crate) left: Vec<String>,
    /// Stitches to the inch, for --left: the count of the cloth, or half of it for stitches over two.
    /// --meters-per-stitch, found on the piece itself, is more exact.
    #[arg(long, value_name = "N", conflicts_with = "meters_per_stitch", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) count: Option<f64>,
}
