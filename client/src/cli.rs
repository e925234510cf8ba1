//! What can be typed: commands, options and their help. All defaults of the command stand here.
//! It does not know whether what was typed makes sense: `settings` checks that.

mod affected;
mod asked_for;
mod change;
mod chart;
mod check;
mod clean;
mod few;
mod half_way;
mod picture;
mod supply;

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueHint};
use dyekin_core::blend::Parts;
use dyekin_core::color::AdaptationMethod;
use dyekin_core::planner::KeepEdges;

pub(crate) use affected::AffectedArgs;
pub(crate) use asked_for::asked_for;
pub(crate) use change::{ApplyArgs, UndoArgs};
pub(crate) use chart::{
    ApplyOut, ChartArgs, ChartInput, ChartsArgs, ManyArgs, PlanArgs, ReadArgs, WalkArgs,
};
pub(crate) use check::CheckArgs;
pub(crate) use clean::CleanArgs;
pub(crate) use few::{AmountArgs, FewArgs};
pub(crate) use half_way::HalfWayArgs;
pub(crate) use picture::PictureArgs;
pub(crate) use supply::{ConvertArgs, SubstituteArgs, SupplyArgs};

const ROOT_HELP: &str = "\
Three ways in:
  a thread is missing
    dyekin substitute CHART --table FILE --missing CODE -o OUT
    dyekin affected CHARTS --table FILE --missing CODE
  too many colors
    dyekin reduce CHART --table FILE --threads N -o OUT
  before I sell: what to mend; what is near-identical; real threads and a key; clean edges
    dyekin check CHART --table FILE
    dyekin merge CHART --table FILE
    dyekin convert CHART --table FILE -o OUT --key FILE
    dyekin clean CHART --table FILE -o OUT

Exit codes:
    0  done
    1  done, but nothing matched (each command says what that means)
    2  wrong input
    3  the server cannot be reached or did not answer in time
   70  a fault of dyekin
  130  stopped by Ctrl-C";

/// Finds threads for colors, and combines, replaces and converts the threads of counted-thread
/// charts, by perceptual difference.
#[derive(Debug, Parser)]
#[command(name = "dyekin", version, max_term_width = 100, after_help = ROOT_HELP)]
pub(crate) struct Cli {
    /// What to do; without it, three ways in are shown.
    #[command(subcommand)]
    pub(crate) command: Option<Command>,
}

impl Cli {
    /// The same, with everything typed that has a say in what is written.
    pub(crate) fn with_asked(mut self, asked: String) -> Self {
        let many = match &mut self.command {
            Some(Command::Reduce(typed)) => &mut typed.plan.many,
            Some(Command::Substitute(typed)) => &mut typed.plan.many,
            Some(Command::Convert(typed)) => &mut typed.plan.many,
            Some(Command::Clean(typed)) => &mut typed.many,
            _ => return self,
        };
        many.asked = asked;
        self
    }
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Match(MatchArgs),
    Blend(BlendArgs),
    Compare(CompareArgs),
    Merge(MergeArgs),
    Reduce(ReduceArgs),
    Substitute(SubstituteArgs),
    Convert(ConvertArgs),
    Check(CheckArgs),
    Clean(CleanArgs),
    Affected(AffectedArgs),
    Apply(ApplyArgs),
    Undo(UndoArgs),
    #[command(subcommand)]
    Table(TableCommand),
}

/// Shows the threads nearest to colors.
///
/// A color is written #4a6b3c (also without #, as #fff or 0x4a6b3c), rgb(74, 107, 60),
/// lab(42.1 -18.3 22.7), or as a thread: TABLE:CODE, or a code of the tables given.
/// For a thread, its own entry is left out and its finish must agree unless --finish says more.
#[derive(Debug, Args)]
#[command(
    after_help = "Exit code 1: for at least one color, no thread passes the filters and --within."
)]
pub(crate) struct MatchArgs {
    /// Colors or threads to find threads for.
    #[arg(required = true, value_name = "COLOR")]
    pub(crate) colors: Vec<String>,
    /// Most threads to show for each color.
    #[arg(long, short = 'n', value_name = "N", default_value_t = 3, value_parser = whole)]
    pub(crate) count: usize,
    #[command(flatten)]
    pub(crate) tables: TableArgs,
    #[command(flatten)]
    pub(crate) measure: MeasureArgs,
    #[command(flatten)]
    pub(crate) lights: LightsArgs,
    #[command(flatten)]
    pub(crate) filter: FilterArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

/// Finds two threads that come near to a color together, in one needle.
///
/// Shows the best mixes of two plain threads of one table: one strand of each, and for three strands
/// two of one and one of the other. A mix is an estimate, for areas: not for single stitches or
/// lettering. Colors and threads are written as for `dyekin match`; a thread takes no part in its own
/// blends.
#[derive(Debug, Args)]
#[command(
    after_help = "Exit code 1: for at least one color, no blend passes the filters and --within."
)]
pub(crate) struct BlendArgs {
    /// Colors or threads to find blends for.
    #[arg(required = true, value_name = "COLOR")]
    pub(crate) colors: Vec<String>,
    /// Most blends to show for each color.
    #[arg(long, short = 'n', value_name = "N", default_value_t = 3, value_parser = whole)]
    pub(crate) count: usize,
    /// Strands in the needle: 2 or 3; both are tried when not given.
    #[arg(long, value_name = "N", value_parser = strands)]
    pub(crate) strands: Option<Parts>,
    #[command(flatten)]
    pub(crate) tables: TableArgs,
    #[command(flatten)]
    pub(crate) measure: MeasureArgs,
    #[command(flatten)]
    pub(crate) filter: FilterArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

/// Says how far colors look apart from the first one.
///
/// The first color is the standard; each other color is compared with it.
#[derive(Debug, Args)]
#[command(after_help = "Exit code 1: at least one color is farther than --within.")]
pub(crate) struct CompareArgs {
    /// The color or thread to compare with.
    #[arg(value_name = "STANDARD")]
    pub(crate) standard: String,
    /// The colors or threads that are judged.
    #[arg(required = true, value_name = "COLOR")]
    pub(crate) samples: Vec<String>,
    #[command(flatten)]
    pub(crate) tables: TableArgs,
    #[command(flatten)]
    pub(crate) measure: MeasureArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

/// Lists what to combine, from all colors of the chart down to one thread.
///
/// First comes the best palette of each number of threads, each found by itself: where the bars grow
/// steeply, another thread is worth its price. Then the list: the threads after a step are among
/// those before it, so that it can be followed as far as you like; "over best" is how much more
/// difference that leaves than the best palette of as many threads. Every step is measured against
/// the chart's own colors, never against an earlier step. Nothing is written: use `reduce` for that.
#[derive(Debug, Args)]
#[command(after_help = "Exit code 1: nothing can be combined, or nothing --within the limit.")]
pub(crate) struct MergeArgs {
    /// Lead the list through the best palette of N threads. Its threads are there from the beginning.
    #[arg(long, value_name = "N", value_parser = whole)]
    pub(crate) anchor: Option<usize>,
    #[command(flatten)]
    pub(crate) chart: ChartArgs,
    #[command(flatten)]
    pub(crate) tables: TableArgs,
    #[command(flatten)]
    pub(crate) measure: MeasureArgs,
    #[command(flatten)]
    pub(crate) filter: FilterArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

/// Works the chart in few threads of the tables: at most N, the fewest that keep every color near,
/// or as many as are worth it.
#[derive(Debug, Args)]
#[command(after_help = "Exit code 1: done, but some color has no thread --within the limit.")]
pub(crate) struct ReduceArgs {
    #[command(flatten)]
    pub(crate) few: FewArgs,
    #[command(flatten)]
    pub(crate) amounts: AmountArgs,
    /// How much touching colors stay apart beside being near to the chart's: off, low, normal or
    /// high. Normal keeps small lettering, eyes and outlines; it is the default, but off with
    /// --squared, --thread-worth, --money-worth and --stock.
    #[arg(long, value_name = "HOW", value_parser = keep_edges)]
    pub(crate) keep_edges: Option<KeepEdges>,
    /// Areas of the chart whose soft shading is kept as well, separated by commas: a face, a sky.
    #[arg(long, value_name = "AREA", value_delimiter = ',')]
    pub(crate) keep_shading: Vec<String>,
    #[command(flatten)]
    pub(crate) plan: PlanArgs,
}

/// Checks, converts, imports, audits, compares, lists or deletes thread tables.
#[derive(Debug, Subcommand)]
pub(crate) enum TableCommand {
    /// Reads tables and reports every problem, without keeping them.
    Check(TableFiles),
    /// Writes a table of any format as CSV or JSON, with nothing lost.
    Convert(TableConvert),
    /// Hands tables to a server; a table of the same name is replaced, a bad one changes nothing.
    Import(TableFiles),
    Audit(TableAudit),
    Compare(TableCompare),
    /// Lists the tables of a server, or the given files.
    List(TableList),
    /// Deletes tables from a server.
    Delete(TableDelete),
}

#[derive(Debug, Args)]
pub(crate) struct TableFiles {
    /// Table files: CSV, tab-separated, JSON, CGATS, CxF3, GIMP palette or swatch exchange.
    #[arg(required = true, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) files: Vec<PathBuf>,
    /// Name of the table; by default made from the file's name. For one file only.
    #[arg(long, value_name = "ID")]
    pub(crate) name: Option<String>,
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

/// Looks a table over: near-twins, rows that look swapped, colors with no thread near.
///
/// Near-twins are two threads of one finish and fiber. Rows look swapped when they break the order
/// in which the table is listed and would keep it if exchanged. Colors with no thread near are
/// sampled over everyday colors; only plain threads can serve them.
#[derive(Debug, Args)]
#[command(after_help = "Exit code 1: something was found.")]
pub(crate) struct TableAudit {
    /// The table file. With --server, the name of a table there.
    #[arg(value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) file: PathBuf,
    /// Threads that differ by this or less are near-twins.
    #[arg(long, value_name = "X", default_value = "1", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) twins: f64,
    /// A color whose nearest thread differs by more than this has no thread near.
    #[arg(long, value_name = "X", default_value = "10", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) gap: f64,
    /// Formula that measures, written as for `dyekin match`.
    #[arg(long, value_name = "FORMULA", default_value = "ciede2000")]
    pub(crate) formula: String,
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

/// Says what two versions of a table differ in: gone, new, recolored, renamed, status, and which
/// substitutions change because of it.
///
/// Threads are the same when their codes are; the order of the rows does not count. A stand-in is of
/// the same finish and fiber and can be bought as far as the table says; alternates that the table
/// lists come before the nearest.
#[derive(Debug, Args)]
#[command(after_help = "Exit code 1: the versions differ.")]
pub(crate) struct TableCompare {
    /// The old version. With --server, the name of a table there.
    #[arg(value_name = "OLD", value_hint = ValueHint::FilePath)]
    pub(crate) old: PathBuf,
    /// The new version.
    #[arg(value_name = "NEW", value_hint = ValueHint::FilePath)]
    pub(crate) new: PathBuf,
    /// Formula that measures, written as for `dyekin match`.
    #[arg(long, value_name = "FORMULA", default_value = "ciede2000")]
    pub(crate) formula: String,
    #[command(flatten)]
    pub(crate) adapt: AdaptArgs,
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

#[derive(Debug, Args)]
pub(crate) struct TableConvert {
    /// The table file, in any format that is read.
    #[arg(value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) file: PathBuf,
    /// The new table; its ending says the format: .csv or .json.
    #[arg(long, short = 'o', value_name = "OUT", value_hint = ValueHint::FilePath)]
    pub(crate) output: PathBuf,
    /// Write CSV whose texts a spreadsheet program neither runs nor rewrites.
    #[arg(long)]
    pub(crate) spreadsheet: bool,
    /// Replace an output that exists. The input is never replaced.
    #[arg(long)]
    pub(crate) force: bool,
    /// Name of the table; by default made from the file's name.
    #[arg(long, value_name = "ID")]
    pub(crate) name: Option<String>,
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

#[derive(Debug, Args)]
pub(crate) struct TableList {
    #[command(flatten)]
    pub(crate) tables: TableArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

#[derive(Debug, Args)]
pub(crate) struct TableDelete {
    /// Names of the tables.
    #[arg(required = true, value_name = "ID")]
    pub(crate) ids: Vec<String>,
    /// The server to delete from, such as `http://127.0.0.1:7493`.
    #[arg(long, value_name = "URL", value_hint = ValueHint::Url)]
    pub(crate) server: Option<String>,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Tables")]
pub(crate) struct TableArgs {
    /// A thread table to choose from; may be given several times. With --server, the name of a
    /// table there (all of them when none is named).
    #[arg(long = "table", value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) tables: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Tables")]
pub(crate) struct ReadingArgs {
    /// Ask a server, such as `http://127.0.0.1:7493`, instead of answering in process.
    #[arg(long, value_name = "URL", value_hint = ValueHint::Url)]
    pub(crate) server: Option<String>,
    /// Light and observer of Lab colors that do not state theirs, such as D65/10 or D50/2.
    #[arg(long, value_name = "LIGHT/OBSERVER")]
    pub(crate) white: Option<String>,
    /// Where colors come from that do not say it: screen, scan, meter, spectrum or unknown.
    #[arg(long, value_name = "ORIGIN")]
    pub(crate) origin: Option<String>,
    /// Eight hex digits have alpha first.
    #[arg(long)]
    pub(crate) alpha_first: bool,
    /// Which measurement of a CxF3 file is meant where a color has several: M0 (lit by a lamp), M1
    /// (by daylight), M2 (without ultraviolet), M3 (through polarizers), or a specification's Id.
    #[arg(long, value_name = "M1")]
    pub(crate) measurement: Option<String>,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Difference")]
pub(crate) struct MeasureArgs {
    /// Formula that measures, with its parameters behind a colon: ciede2000, ciede2000:2:1:1
    /// (textiles), cmc:2:1 (acceptability), cmc:1:1 (perceptibility), cie94:graphic-arts,
    /// cie94:textile, din99o, hyab (large differences) or cie76. In cmc and cie94 the color asked for
    /// is the standard.
    #[arg(long, value_name = "FORMULA", default_value = "ciede2000")]
    pub(crate) formula: String,
    /// Largest difference that counts as a match. Where a chart is changed it marks and counts what
    /// is farther, for the exit code; it does not choose.
    #[arg(long, value_name = "X", allow_negative_numbers = true, value_parser = decimal)]
    pub(crate) within: Option<f64>,
    #[command(flatten)]
    pub(crate) adapt: AdaptArgs,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Difference")]
pub(crate) struct AdaptArgs {
    /// Compare colors measured under different lights by adapting the first to the light of the
    /// second: bradford (when no name is given) or cat16. The answer is an estimate and says so;
    /// without this, such colors are refused. Colors of a screen or scan never need it.
    #[arg(
        long,
        value_name = "METHOD",
        num_args = 0..=1,
        default_missing_value = "bradford",
        value_parser = method
    )]
    pub(crate) adapt: Option<AdaptationMethod>,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Difference")]
pub(crate) struct LightsArgs {
    /// Choose threads that hold under all of these lights, by their spectra: the difference is the
    /// largest one under any of them. daylight, lamp, led, or D50, D65, A, FL2, FL11, LED-B3, with
    /// commas between. Threads without a spectrum are left out, and a color without one is refused.
    /// Without this, threads that look different under lamp or LED light say so.
    #[arg(long, value_name = "LIGHT,LIGHT")]
    pub(crate) lights: Option<String>,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Which threads")]
pub(crate) struct FilterArgs {
    /// Only threads that can be bought; unknown is not available.
    #[arg(long)]
    pub(crate) available: bool,
    /// Only these finishes: plain, metallic, variegated, fluorescent, or any. For a color that is
    /// no thread, plain when not given.
    #[arg(long, value_name = "FINISH", value_delimiter = ',')]
    pub(crate) finish: Vec<String>,
    /// Only these fibers, such as cotton.
    #[arg(long, value_name = "FIBER", value_delimiter = ',')]
    pub(crate) fiber: Vec<String>,
    /// Never these threads: CODE or TABLE:CODE, separated by commas.
    #[arg(long, value_name = "CODE,CODE", value_delimiter = ',')]
    pub(crate) exclude: Vec<String>,
    /// Only threads that cost at most this, such as 2.50 or "2.50 EUR".
    #[arg(long, value_name = "PRICE")]
    pub(crate) max_price: Option<String>,
}

#[derive(Clone, Copy, Debug, Args)]
#[command(next_help_heading = "Report")]
pub(crate) struct ShowArgs {
    /// Answer with one JSON object on standard output.
    #[arg(long)]
    pub(crate) json: bool,
    /// Add numbers: formula, conditions, signed parts, bounds.
    #[arg(long)]
    pub(crate) details: bool,
    /// Say nothing beside the answer and errors.
    #[arg(long, short = 'q')]
    pub(crate) quiet: bool,
}

fn whole(text: &str) -> Result<usize, &'static str> {
    text.parse().map_err(|_| "a whole number is expected, such as 24")
}

fn keep_edges(text: &str) -> Result<KeepEdges, &'static str> {
    KeepEdges::parse(text).ok_or("write off, low, normal or high")
}

fn strands(text: &str) -> Result<Parts, &'static str> {
    match text {
        "2" => Ok(Parts::OneAndOne),
        "3" => Ok(Parts::TwoAndOne),
        _ => Err(
            "write --strands 2 for one of each, --strands 3 for two of one and one of the other",
        ),
    }
}

fn method(text: &str) -> Result<AdaptationMethod, &'static str> {
    AdaptationMethod::parse(text).ok_or(
        "write --adapt bradford or --adapt cat16; without a name it stands last or before an option",
    )
}

pub(super) fn decimal(text: &str) -> Result<f64, &'static str> {
    text.parse().map_err(|_| "a number is expected, such as 2.5")
}
