//! A change list for a chart that was corrected since: each color is found again by what it is.
//! It does not carry anything out.

use std::collections::BTreeMap;

use dyekin_core::change::Remark;
use dyekin_core::error::Error;

use super::build::color_ref;
use super::{ChangeFile, ColorRef, FileChange};
use crate::summary::{ColorPlace, Summary};

/// A list that fits a chart, and what does not.
#[derive(Clone, Debug)]
pub struct Fitted {
    /// The list over the colors of the chart as it is now.
    pub file: ChangeFile,
    /// Changes of the list whose colors the chart does not have any more.
    pub gone: Vec<ColorRef>,
    /// Colors of the chart that the list does not know, by their places.
    pub new: Vec<usize>,
}

impl ChangeFile {
    /// The same list for another chart of the same colors: a color is the same when it is worked in
    /// the same threads, or has the same value where it has none, in an area of the same name.
    ///
    /// # Errors
    ///
    /// What [`ChangeFile::new`] returns.
    pub fn fitted(&self, summary: &Summary) -> Result<Fitted, Error> {
        let places = summary.places();
        let mut moved: BTreeMap<usize, usize> = BTreeMap::new();
        for of in self.changes.iter().map(|change| &change.of).chain(&self.unchanged) {
            let is_free = |place: &usize| !moved.values().any(|taken| taken == place);
            let mut same = (0..places.len())
                .filter(is_free)
                .filter(|place| places.get(*place).is_some_and(|held| is_same(held, of)));
            let first = same.next();
            // Of several in one thread, the one of the same value is meant.
            let alike = first
                .into_iter()
                .chain(same)
                .find(|place| places.get(*place).is_some_and(|held| held.color() == of.hex));
            if let Some(place) = alike.or(first) {
                moved.insert(of.color, place);
            }
        }
        let mut gone = Vec::new();
        let mut changes = Vec::with_capacity(self.changes.len());
        for change in &self.changes {
            match moved.get(&change.of.color) {
                Some(place) => changes.push(FileChange {
                    of: color_ref(*place, summary)?,
                    remarks: change.remarks.iter().filter_map(|held| kept(held, &moved)).collect(),
                    ..change.clone()
                }),
                None => gone.push(change.of.clone()),
            }
        }
        let is_changed = |place: &usize| changes.iter().any(|change| change.of.color == *place);
        let rest: Vec<usize> = (0..places.len()).filter(|place| !is_changed(place)).collect();
        let is_new = |place: &&usize| !moved.values().any(|held| held == *place);
        let new = rest.iter().filter(is_new).copied().collect();
        let unchanged = rest.iter().map(|place| color_ref(*place, summary));
        let unchanged = unchanged.collect::<Result<_, Error>>()?;
        let file = Self {
            chart: summary.chart(),
            chart_after: None,
            changes,
            unchanged,
            undo: None,
            ..self.clone()
        };
        Ok(Fitted { file, gone, new })
    }
}

/// True when a color of the chart is the one that the list means. A key alone has no colors of its
/// own, only threads.
fn is_same(place: &ColorPlace, of: &ColorRef) -> bool {
    let same_work = place.threads() == of.before.as_slice();
    let same_area = place.area().map(|area| area.as_str()) == of.area.as_deref();
    let by_thread = !of.before.is_empty();
    same_work && same_area && (by_thread || place.color() == of.hex)
}

/// A remark about colors under their new places; none about a color that is gone.
fn kept(remark: &Remark, moved: &BTreeMap<usize, usize>) -> Option<Remark> {
    let to = |color: &usize| moved.get(color).copied();
    match remark {
        Remark::SharesThread(color) => to(color).map(Remark::SharesThread),
        Remark::LosesEdge(color) => to(color).map(Remark::LosesEdge),
        Remark::TurnsShading(color) => to(color).map(Remark::TurnsShading),
        Remark::AlreadyUsed
        | Remark::BeyondLimit
        | Remark::FadesIntoCloth
        | Remark::Kept
        | Remark::NotNearest => Some(remark.clone()),
    }
}
