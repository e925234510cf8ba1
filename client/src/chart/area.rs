//! A named set of cells. It does not know what is kept or changed in it.

use dyekin_core::error::{Error, ErrorKind};

use super::{Label, Size};

/// Most runs of one area.
const MAX_RUNS: usize = 1_000_000;

/// Cells beside each other in one row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Run {
    /// The row, from 0.
    pub y: u16,
    /// The first cell's column, from 0.
    pub x: u16,
    /// How many cells, 1 or more.
    pub count: u16,
}

/// A named set of cells, as runs in reading order that neither overlap nor touch.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Area {
    name: Label,
    runs: Vec<Run>,
}

impl Area {
    /// An area of at least one cell. Runs may come in any order and overlap.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] without a cell, [`ErrorKind::OverLimit`] with too many runs.
    pub fn new(name: Label, mut runs: Vec<Run>) -> Result<Self, Error> {
        runs.retain(|run| run.count > 0);
        if runs.is_empty() {
            return Err(Error::new(ErrorKind::BadValue {
                value: name.as_str().to_owned(),
                reason: "the area has no cell".into(),
                remedy: "list its cells, or leave the area out".into(),
            }));
        }
        if runs.len() > MAX_RUNS {
            return Err(super::over(
                "runs of cells in one area",
                runs.len() as u64,
                MAX_RUNS as u64,
            ));
        }
        runs.sort_unstable();
        Ok(Self { name, runs: joined(&runs) })
    }

    /// The name.
    #[must_use]
    pub fn name(&self) -> &Label {
        &self.name
    }

    /// The cells.
    #[must_use]
    pub fn runs(&self) -> &[Run] {
        &self.runs
    }

    /// True when all cells lie on a chart of this size.
    #[must_use]
    pub fn lies_on(&self, size: Size) -> bool {
        self.runs.iter().all(|run| {
            run.y < size.height() && u32::from(run.x) + u32::from(run.count) <= size.width().into()
        })
    }

    /// True when the cell belongs to the area.
    #[must_use]
    pub fn holds(&self, x: u16, y: u16) -> bool {
        let after = self.runs.partition_point(|run| (run.y, run.x) <= (y, x));
        let Some(run) = after.checked_sub(1).and_then(|place| self.runs.get(place)) else {
            return false;
        };
        run.y == y && u32::from(x) < u32::from(run.x) + u32::from(run.count)
    }
}

/// Sorted runs with touching and overlapping ones made one.
fn joined(sorted: &[Run]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::with_capacity(sorted.len());
    for run in sorted {
        if let Some(last) = runs.last_mut() {
            let end = last.x.saturating_add(last.count);
            if last.y == run.y && run.x <= end {
                last.count = end.max(run.x.saturating_add(run.count)) - last.x;
                continue;
            }
        }
        runs.push(*run);
    }
    runs
}
