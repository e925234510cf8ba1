//! What can be typed about charts: one or several, how they are read, and what is written of them.
//! It does not know whether what was typed makes sense: the commands check that.

use std::path::PathBuf;

use clap::{Args, ValueHint};

use super::{FilterArgs, MeasureArgs, PictureArgs, ShowArgs, TableArgs, whole};
use crate::chart::ChartFormat;

/// What the commands that change a chart share: what is read, what is written, how it is chosen.
#[derive(Debug, Args)]
pub(crate) struct PlanArgs {
    #[command(flatten)]
    pub(crate) chart: ChartsArgs,
    #[command(flatten)]
    pub(crate) out: OutArgs,
    #[command(flatten)]
    pub(crate) many: ManyArgs,
    #[command(flatten)]
    pub(crate) tables: TableArgs,
    #[command(flatten)]
    pub(crate) measure: MeasureArgs,
    #[command(flatten)]
    pub(crate) filter: FilterArgs,
    #[command(flatten)]
    pub(crate) show: ShowArgs,
}

/// How charts are read.
#[derive(Debug, Args)]
pub(crate) struct ReadArgs {
    /// The table that bare codes of the chart belong to: its file, or the name of one that --table
    /// gives. CSV grids and keys need it when several tables are given, and for convert.
    #[arg(long, value_name = "TABLE")]
    pub(crate) from: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) picture: PictureArgs,
}

#[derive(Debug, Args)]
pub(crate) struct ChartInput {
    /// The chart: PNG or JPEG picture, chart JSON, CSV grid of codes, or a key.
    #[arg(value_name = "CHART", value_hint = ValueHint::FilePath)]
    pub(crate) chart: PathBuf,
    #[command(flatten)]
    pub(crate) read: ReadArgs,
}

#[derive(Debug, Args)]
pub(crate) struct ChartArgs {
    #[command(flatten)]
    pub(crate) input: ChartInput,
    /// What must stay, separated by commas: CODE, TABLE:CODE, #hex, or area:NAME for all colors of an
    /// area of the chart. A thread that the chart does not use is put among the chosen ones.
    #[arg(long, value_name = "CODE|#hex", value_delimiter = ',')]
    pub(crate) keep: Vec<String>,
}

#[derive(Debug, Args)]
pub(crate) struct ChartsArgs {
    /// The chart: PNG or JPEG picture, chart JSON, CSV grid of codes, or a key. Several charts, or a
    /// folder of them, are worked on each by itself.
    #[arg(required = true, value_name = "CHART", value_hint = ValueHint::AnyPath)]
    pub(crate) charts: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) read: ReadArgs,
    /// What must stay, separated by commas: CODE, TABLE:CODE, #hex, or area:NAME for all colors of an
    /// area of the chart. A thread that the chart does not use is put among the chosen ones.
    #[arg(long, value_name = "CODE|#hex", value_delimiter = ',')]
    pub(crate) keep: Vec<String>,
}

/// How several charts are gone through.
#[derive(Debug, Args)]
#[command(next_help_heading = "Several charts")]
pub(crate) struct WalkArgs {
    /// Take charts of folders inside the folders given, too; links to folders are not followed.
    #[arg(long)]
    pub(crate) recursive: bool,
    /// Charts worked on at the same time; without it, one for each processor.
    #[arg(long, value_name = "N", value_parser = whole)]
    pub(crate) jobs: Option<usize>,
}

/// How several charts are gone through that lead to new ones.
#[derive(Debug, Args)]
#[command(next_help_heading = "Several charts")]
pub(crate) struct ManyArgs {
    #[command(flatten)]
    pub(crate) walk: WalkArgs,
    /// Go on with an earlier run into the same folder: charts whose outputs are complete, for the same
    /// chart, options and tables, are left as they are.
    #[arg(long)]
    pub(crate) resume: bool,
    /// Format of the new charts: png, json or csv; without it each keeps its own (JPEG becomes PNG).
    #[arg(long = "as", value_name = "FORMAT", value_parser = format)]
    pub(crate) format: Option<ChartFormat>,
    /// Everything typed that has a say in what is written, in one text.
    #[arg(skip)]
    pub(crate) asked: String,
}

impl WalkArgs {
    /// The first option that was typed and means nothing for one chart.
    pub(crate) fn typed(&self) -> Option<&'static str> {
        let typed = [("--recursive", self.recursive), ("--jobs", self.jobs.is_some())];
        typed.into_iter().find(|(_, typed)| *typed).map(|(option, _)| option)
    }
}

impl ManyArgs {
    /// The first option that was typed and means nothing for one chart.
    pub(crate) fn typed(&self) -> Option<&'static str> {
        let typed = [("--resume", self.resume), ("--as", self.format.is_some())];
        let own = typed.into_iter().find(|(_, typed)| *typed).map(|(option, _)| option);
        own.or_else(|| self.walk.typed())
    }
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Output")]
pub(crate) struct OutArgs {
    /// The new chart; its ending says the format: .png, .json or .csv. For several charts a folder,
    /// made if it is not there: NAME.png becomes NAME.proposed.png in it.
    #[arg(long, short = 'o', value_name = "OUT", value_hint = ValueHint::AnyPath)]
    pub(crate) output: PathBuf,
    /// Write the change list, to be reviewed and answered. For several charts a folder; their lists
    /// are always written, beside the new charts when this is not given.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::AnyPath)]
    pub(crate) changes: Option<PathBuf>,
    /// Take the answers of an earlier change list into account.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) answers: Option<PathBuf>,
    /// CHART was corrected since that list was made: take the answers for the colors that are still
    /// there, and say which are not.
    #[arg(long, requires = "answers")]
    pub(crate) corrected: bool,
    #[command(flatten)]
    pub(crate) beside: BesideArgs,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Output")]
pub(crate) struct ApplyOut {
    /// The new chart; its ending says the format: .png, .json or .csv.
    #[arg(long, short = 'o', value_name = "OUT", value_hint = ValueHint::FilePath)]
    pub(crate) output: PathBuf,
    #[command(flatten)]
    pub(crate) beside: BesideArgs,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Output")]
pub(crate) struct BesideArgs {
    /// Write the key of the new chart: .csv or .json. For several charts a folder.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) key: Option<PathBuf>,
    /// Write the changes as a list to carry out by hand in a drawing program. For several charts a
    /// folder.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) by_hand: Option<PathBuf>,
    /// Write the way back for `dyekin undo`: the changes, and the whole chart as it is now.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub(crate) undo: Option<PathBuf>,
    /// Replace outputs that exist. The input is never replaced.
    #[arg(long)]
    pub(crate) force: bool,
}

fn format(text: &str) -> Result<ChartFormat, &'static str> {
    ChartFormat::of_name(&format!("chart.{text}")).ok_or("write png, json or csv")
}
