//! The change list of a planner, dressed as a file for its chart.
//! It does not know how the file is laid out.

use dyekin_core::ChangeList;
use dyekin_core::change::{Proposed, TableVersion};
use dyekin_core::error::{Error, ErrorKind};

use super::{ChangeFile, ColorRef, FileChange, FileThread};
use crate::chart::{EntryId, KeyThread};
use crate::summary::Summary;

/// Who made a list, and from which settings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Made {
    /// Version of the program.
    pub program: String,
    /// The settings of the question, by name.
    pub settings: Vec<(String, String)>,
}

impl ChangeFile {
    /// The list of a planner over a summary of the chart.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::UnknownTable`] when a thread of the list is of a table that the list does not
    /// name, [`ErrorKind::BadValue`] for a color that the summary does not have.
    pub fn new(list: &ChangeList, summary: &Summary, made: Made) -> Result<Self, Error> {
        let thread = |proposed: &Proposed| file_thread(proposed, &list.tables);
        let changes = list.changes.iter().map(|change| {
            Ok(FileChange {
                of: color_ref(change.color, summary)?,
                standard: change.standard,
                after: change.after.iter().map(thread).collect::<Result<_, Error>>()?,
                runners_up: change.runners_up.iter().map(thread).collect::<Result<_, Error>>()?,
                blends: Vec::new(),
                remarks: change.remarks.clone(),
                answer: change.answer.clone().map(Into::into),
            })
        });
        let unchanged = list.unchanged.iter().map(|place| color_ref(*place, summary));
        Ok(Self {
            program: made.program,
            chart: summary.chart(),
            chart_after: None,
            tables: list.tables.clone(),
            formula: list.formula,
            question: list.question,
            settings: made.settings,
            totals: list.totals,
            edges: list.edges,
            changes: changes.collect::<Result<_, Error>>()?,
            unchanged: unchanged.collect::<Result<_, Error>>()?,
            undo: None,
        })
    }
}

fn file_thread(proposed: &Proposed, tables: &[TableVersion]) -> Result<FileThread, Error> {
    let table =
        tables.iter().find(|held| held.table == proposed.thread.table).ok_or_else(|| {
            Error::new(ErrorKind::UnknownTable {
                table: proposed.thread.table.to_string(),
                known: tables.iter().map(|held| held.table.to_string()).collect(),
            })
        })?;
    let lights = proposed.over_lights.iter().filter(|told| told.ranked());
    let each = lights.flat_map(|told| told.each());
    Ok(FileThread {
        thread: KeyThread { thread: proposed.thread.clone(), table_hash: table.hash },
        name: proposed.name.clone(),
        hex: proposed.color.srgb(),
        difference: proposed.difference,
        lights: each.map(|light| (light.illuminant, light.delta_e)).collect(),
        as_near: proposed.as_near,
    })
}

pub(super) fn color_ref(color: usize, summary: &Summary) -> Result<ColorRef, Error> {
    let place = summary.places().get(color);
    let stitches = summary.palette().colors().get(color).map(|color| color.stitches);
    let (Some(place), Some(stitches)) = (place, stitches) else {
        return Err(crate::chart::problems::bad_value(
            &color.to_string(),
            format!("the palette has {} colors", summary.places().len()),
            "the list belongs to another palette",
        ));
    };
    Ok(ColorRef {
        color,
        hex: place.color(),
        area: place.area().map(|area| area.as_str().to_owned()),
        portion: place.portion().cloned(),
        entries: place.entries().iter().copied().map(EntryId::index).collect(),
        symbols: place.symbols().to_vec(),
        stitches,
        before: place.threads().to_vec(),
    })
}
