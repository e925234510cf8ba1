//! Answers with a blend, held while the rest of the chart is planned again.
//! It does not know which thread is missing, and chooses nothing.

use std::path::Path;

use dyekin_core::change::TableVersion;
use dyekin_core::{ChangeList, DeltaE, Error, ThreadRef};

use super::super::chart_work::ChartWork;
use super::place_of;
use crate::change_file::{ChangeFile, FileChange};
use crate::chart::Label;
use crate::failure::{Failure, Result};
use crate::report::counted;
use crate::settings::Measure;

/// Changes that stay as they were answered.
#[derive(Clone, Debug, Default)]
pub(super) struct Held {
    changes: Vec<FileChange>,
    /// The tables that they draw on.
    tables: Vec<TableVersion>,
}

impl Held {
    /// What an earlier list holds; the colors are put into their blends for whoever plans next.
    pub(super) fn take(
        work: &mut ChartWork,
        (file, path): (&ChangeFile, &Path),
        (command, measure): (&str, &Measure),
    ) -> Result<Self> {
        let changes: Vec<FileChange> = file.blended().map(|(change, _)| change.clone()).collect();
        let Some(first) = changes.first() else { return Ok(Self::default()) };
        let refused = |reason: &str, remedy: String| {
            let source = place_of(first, path).source_name.unwrap_or_default();
            Err(Failure::said(format!("{source}: {reason}"), remedy))
        };
        if command != "substitute" {
            let remedy = "give the list to substitute or apply, or answer with a thread".into();
            return refused(&format!("{command} cannot hold an answer with a blend"), remedy);
        }
        if file.formula != measure.formula {
            let (name, parameters) = (file.formula.name(), file.formula.parameters());
            let spelled = format!("{name}:{parameters}");
            let remedy = format!("add --formula {}", spelled.trim_end_matches(':'));
            return refused("the blend answered with was measured by another formula", remedy);
        }
        let is_there = |change: &FileChange| {
            let of = &change.of;
            work.summary.places().get(of.color).is_some_and(|place| {
                place.color() == of.hex
                    && place.area().map(Label::as_str) == of.area.as_deref()
                    && place.portion() == of.portion.as_ref()
            })
        };
        if !changes.iter().all(is_there) {
            let remedy =
                "give the same --keep as for the list, and no --done or --left, or make it again"
                    .to_owned();
            return refused("other areas are told apart than in the list", remedy);
        }
        let held = Self { changes, tables: file.tables.clone() };
        held.check_threads(work, path)?;
        let colors = held.changes.iter().filter_map(|change| {
            let blend = change.blend()?;
            let threads = blend.threads.each_ref().map(|side| side.thread.thread.clone());
            Some((change.of.color, blend.hex, threads.to_vec()))
        });
        work.summary = work.summary.worked(colors)?;
        Ok(held)
    }

    /// The tables at hand must have the threads.
    fn check_threads(&self, work: &mut ChartWork, path: &Path) -> Result<()> {
        let (mut changes, mut threads): (Vec<&FileChange>, Vec<ThreadRef>) = Default::default();
        for change in &self.changes {
            for side in change.blend().iter().flat_map(|blend| &blend.threads) {
                changes.push(change);
                threads.push(side.thread.thread.clone());
            }
        }
        let found = work.shop.backend.threads(&threads)?;
        let problems: Vec<Error> = changes
            .into_iter()
            .zip(found)
            .filter_map(|(change, found)| Some(found.err()?.at(place_of(change, path))))
            .collect();
        if problems.is_empty() { Ok(()) } else { Err(problems.into()) }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.changes.is_empty()
    }

    /// The ids of the colors.
    pub(super) fn ids(&self) -> Vec<String> {
        self.changes.iter().map(|change| change.of.id()).collect()
    }

    /// What stays as it was answered, for people.
    pub(super) fn said(&self) -> Option<String> {
        let ids = self.ids();
        let count =
            counted(ids.len() as u64, "color stays in the blend", "colors stay in the blends");
        (!ids.is_empty()).then(|| format!("{count} that you answered with: {}.", ids.join(", ")))
    }

    /// Counts the held colors as changed: a planner saw them in their blends already.
    pub(super) fn count_in(&self, list: &mut ChangeList, stitches: u64) -> Result<()> {
        list.unchanged.retain(|color| !self.changes.iter().any(|change| change.of.color == *color));
        let totals = &mut list.totals;
        for change in &self.changes {
            let Some(blend) = change.blend() else { continue };
            let delta_e = blend.difference.delta_e;
            let added = delta_e.value() * share(change.of.stitches, stitches);
            totals.mean_difference = DeltaE::new(totals.mean_difference.value() + added)?;
            totals.lower_bound =
                totals.lower_bound.map(|bound| DeltaE::new(bound.value() + added)).transpose()?;
            if delta_e > totals.max_difference {
                totals.max_difference = delta_e;
            }
        }
        Ok(())
    }

    /// Puts the changes back, with their answers.
    pub(super) fn put_back(&self, file: &mut ChangeFile) {
        for version in &self.tables {
            if !file.tables.iter().any(|held| held.table == version.table) {
                file.tables.push(version.clone());
            }
        }
        file.changes.extend(self.changes.iter().cloned());
    }
}

/// Part of all stitches, 0 to 1. A summary has so few that they stay whole in double precision.
#[expect(clippy::cast_precision_loss, reason = "a summary has at most 2^53 stitches")]
fn share(stitches: u64, all: u64) -> f64 {
    stitches as f64 / all.max(1) as f64
}
