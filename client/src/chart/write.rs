//! A chart to the bytes of a file, and what that file cannot hold.
//! It does not write files: the caller does.

use dyekin_core::error::Error;
use dyekin_core::table::Notice;

use super::Chart;

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
    let _ = (chart, format);
    Err(super::problems::bad_file("not written", ""))
}
