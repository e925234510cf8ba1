//! A chart to the bytes of a file, and what that file cannot hold.
//! It does not write files: the caller does.

use std::collections::HashSet;

use dyekin_core::error::Error;
use dyekin_core::table::Notice;

use super::{Chart, Entry, Usage, Work, codes, json, picture};

/// A format that charts are written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChartFormat {
    /// CSV grid of thread codes.
    Csv,
    /// Chart JSON, which holds everything.
    Json,
    /// PNG picture, one pixel per stitch.
    Png,
}

impl ChartFormat {
    /// The format that a file name asks for by its ending.
    #[must_use]
    pub fn of_name(name: &str) -> Option<Self> {
        let (_, ending) = name.rsplit_once('.')?;
        match ending.to_ascii_lowercase().as_str() {
            "csv" => Some(Self::Csv),
            "json" => Some(Self::Json),
            "png" => Some(Self::Png),
            _ => None,
        }
    }
}

/// Bytes to be written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// The file.
    pub bytes: Vec<u8>,
    /// What the chart has and the file has not.
    pub notices: Vec<Notice>,
}

/// The chart as a file.
///
/// # Errors
///
/// When the format cannot hold the chart at all, such as colors without a thread in a grid of codes.
pub fn write(chart: &Chart, format: ChartFormat) -> Result<Written, Error> {
    Ok(match format {
        ChartFormat::Csv => {
            Written { bytes: codes::write_grid(chart)?, notices: lost_in_csv(chart) }
        }
        ChartFormat::Json => Written { bytes: json::write::write(chart), notices: Vec::new() },
        ChartFormat::Png => {
            Written { bytes: picture::write::write(chart)?, notices: lost_in_png(chart) }
        }
    })
}

/// Collects what a file lacks, for one sentence.
struct Losses {
    file: &'static str,
    lost: Vec<String>,
}

impl Losses {
    fn of(file: &'static str) -> Self {
        Self { file, lost: Vec::new() }
    }

    /// So many things of a kind, named for one of them and for several.
    fn add(&mut self, count: usize, one: &str, several: &str) {
        if count > 0 {
            let what = if count == 1 { one } else { several };
            self.lost.push(format!("{count} {what}"));
        }
    }

    fn notices(self) -> Vec<Notice> {
        if self.lost.is_empty() {
            return Vec::new();
        }
        let text = format!("{} does not hold {}", self.file, self.lost.join("; "));
        vec![Notice { place: None, text }]
    }
}

/// What neither a picture nor a grid of codes holds.
fn lost_in_both(chart: &Chart, losses: &mut Losses) {
    losses.add(chart.lines().len(), "line", "lines");
    losses.add(chart.knots().len(), "knot", "knots");
    let parts = chart.grid().part_cells().count();
    losses.add(
        parts,
        "cell of part stitches: it becomes a full stitch of what covers most",
        "cells of part stitches: they become full stitches of what covers most",
    );
    losses.add(chart.areas().len(), "area", "areas");
    let count = |lost: &dyn Fn(&Entry) -> bool| chart.key().iter().filter(|e| lost(e)).count();
    losses.add(count(&|entry| entry.symbol.is_some()), "symbol", "symbols");
    let strands = count(&|entry| entry.strands != super::Strands::default());
    losses.add(strands, "entry's strands", "entries' strands");
    let about = chart.about();
    let texts = [&about.title, &about.designer, &about.notes, &chart.cloth().name];
    let texts = texts.into_iter().flatten().count();
    losses.add(texts, "text about the chart", "texts about the chart");
    let cloth = "color of the cloth";
    losses.add(usize::from(chart.cloth().color.is_some()), cloth, cloth);
    let unused = Usage::of(chart).iter().filter(|usage| usage.is_nothing()).count();
    losses.add(unused, "unused entry of the key", "unused entries of the key");
}

fn lost_in_png(chart: &Chart) -> Vec<Notice> {
    let mut losses = Losses::of("PNG");
    let count = |lost: &dyn Fn(&Entry) -> bool| chart.key().iter().filter(|e| lost(e)).count();
    let threads = count(&|entry| entry.work != Work::Color);
    losses.add(threads, "entry's thread, only its color", "entries' threads, only their colors");
    losses.add(count(&|entry| entry.name.is_some()), "name", "names");
    let colors: HashSet<_> = chart.key().iter().map(|entry| entry.color).collect();
    let twins = chart.key().len() - colors.len();
    losses.add(
        twins,
        "entry apart from others of the same color",
        "entries apart from others of the same color",
    );
    lost_in_both(chart, &mut losses);
    losses.notices()
}

fn lost_in_csv(chart: &Chart) -> Vec<Notice> {
    let mut losses = Losses::of("CSV");
    let threads: Vec<_> = chart.key().iter().flat_map(|entry| entry.work.threads()).collect();
    let tables: HashSet<_> =
        threads.iter().map(|held| (&held.thread.table, held.table_hash)).collect();
    let mut names: Vec<&str> = tables.iter().map(|(table, _)| table.as_str()).collect();
    names.sort_unstable();
    let names = names.join(", ");
    losses.add(
        tables.len(),
        &format!("table of its codes: read it again with --from {names}"),
        &format!("tables of its codes ({names}): two of them may have the same code"),
    );
    let works: HashSet<_> = chart.key().iter().map(|entry| &entry.work).collect();
    losses.add(
        chart.key().len() - works.len(),
        "entry apart from others of the same thread",
        "entries apart from others of the same thread",
    );
    lost_in_both(chart, &mut losses);
    losses.notices()
}
