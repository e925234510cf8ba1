//! What can be typed about how few threads a chart is worked in, and how much of each there is.
//! It does not know whether it makes sense.

use std::path::PathBuf;

use clap::{Args, ValueHint};

use super::{decimal, whole};

#[derive(Debug, Args)]
#[command(next_help_heading = "How few threads")]
pub(crate) struct FewArgs {
    /// Most threads of the new chart. Without it, --tolerance, --thread-worth or --money-worth says
    /// how few.
    #[arg(long, short = 't', value_name = "N", value_parser = whole)]
    pub(crate) threads: Option<usize>,
    /// No color may differ from its thread by more than this; what is kept is not held to it.
    /// Without --threads, the fewest threads that do it are found.
    #[arg(long, value_name = "X", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) tolerance: Option<f64>,
    /// Sum squared differences: one large difference counts more than several small ones.
    #[arg(long)]
    pub(crate) squared: bool,
    /// What a thread is worth: it is used only where it lowers the mean difference over all stitches
    /// (with --squared, the mean square) by at least this.
    #[arg(long, value_name = "X", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) thread_worth: Option<f64>,
    /// A list of threads that you own, one a line in any spelling: these cost nothing with
    /// --thread-worth and --money-worth.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) owned: Option<PathBuf>,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Amounts of thread")]
pub(crate) struct AmountArgs {
    /// What a unit of money is worth: it is spent only where it lowers the mean difference over all
    /// stitches (with --squared, the mean square) by at least this. Skeins are bought whole, at the
    /// prices of the tables.
    #[arg(long, value_name = "X", requires = "meters_per_stitch", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) money_worth: Option<f64>,
    /// Price of a skein where the table does not say, such as 1.35 or "1.35 EUR".
    #[arg(long, value_name = "PRICE", requires = "money_worth")]
    pub(crate) skein_price: Option<String>,
    /// Length of a skein where the table does not say, in meters of thread as sold.
    #[arg(long, value_name = "M", requires = "money_worth", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) skein_meters: Option<f64>,
    /// What is there: a text file with one thread a line and how much of it, such as `CODE x2` (skeins)
    /// or `CODE 12 m`. Only these threads are used, and none for more stitches than it is enough for;
    /// a color takes all of its thread from one.
    #[arg(long, value_name = "FILE", requires = "meters_per_stitch", value_hint = ValueHint::FilePath)]
    pub(crate) stock: Option<PathBuf>,
    /// Meters of thread as sold that a stitch takes, for --stock and --money-worth. Say the most that
    /// you reckon with: crosses with 2 of 6 strands on cloth of 14 threads to the inch take about
    /// 0.0043 with a fifth for waste, and many single stitches several times as much.
    #[arg(long, value_name = "M", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) meters_per_stitch: Option<f64>,
}
