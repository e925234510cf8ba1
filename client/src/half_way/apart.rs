//! The plan as cells, lines and knots of colors that come apart, the way a summary and a change list
//! know them. It does not know thread.

use std::collections::BTreeSet;

use dyekin_core::ThreadRef;
use dyekin_core::error::Error;

use super::Plan;
use crate::chart::{Cell, Chart, Entry, EntryId, KeyThread, Label};
use crate::summary::{Apart, Mark, Marked, OfColor, Portion};

impl Plan {
    /// The plan as cells of colors that come apart, under a name that the chart does not have, and
    /// the colors of which something stays.
    pub(crate) fn apart(&self, chart: &Chart) -> Result<(Apart, Vec<OfColor>), Error> {
        let mut portions: Vec<(OfColor, Portion)> = Vec::new();
        let mut staying = Vec::new();
        for of in colors(chart) {
            let refs: Vec<ThreadRef> = of.threads.iter().map(|held| held.thread.clone()).collect();
            let Some(given) = self.given.iter().find(|given| given.needle == refs) else {
                continue;
            };
            let is_of = |entry: EntryId| {
                let entry = chart.entry(entry);
                entry.is_some_and(|entry| *entry_color(entry) == of)
            };
            let (mut own, mut rest) = (BTreeSet::new(), false);
            for (place, cell) in chart.grid().cells().enumerate() {
                let is_here = match cell {
                    Cell::Bare => false,
                    Cell::Full(entry) => is_of(entry),
                    Cell::Parts(parts) => parts.iter().any(|part| is_of(part.entry)),
                };
                if is_here && given.cells.contains(&place) {
                    own.insert(place);
                } else {
                    rest |= is_here;
                }
            }
            let marks = marks_of(chart, &is_of);
            let given: BTreeSet<Mark> = marks.intersection(&given.marks).copied().collect();
            if rest || given.len() < marks.len() {
                staying.push(of.clone());
                if !own.is_empty() || !given.is_empty() {
                    let marked = match given.len() {
                        0 => Marked::None,
                        count if count == marks.len() => Marked::All,
                        _ => Marked::These(given),
                    };
                    portions.push((of, Portion::of_places(&own, chart.size(), marked)));
                }
            }
        }
        Ok((Apart { name: name(chart)?, portions }, staying))
    }
}

/// The lines and knots of a color.
fn marks_of(chart: &Chart, is_of: &dyn Fn(EntryId) -> bool) -> BTreeSet<Mark> {
    let lines = chart.lines().iter().filter(|line| is_of(line.entry)).map(Mark::from);
    let knots = chart.knots().iter().filter(|knot| is_of(knot.entry)).map(Mark::from);
    lines.chain(knots).collect()
}

/// What is to change of a color, as reports call it.
const NAME: &str = "areas to change";

fn name(chart: &Chart) -> Result<Label, Error> {
    let taken = |name: &str| chart.areas().iter().any(|area| area.name().as_str() == name);
    let mut name = NAME.to_owned();
    let mut number = 1;
    while taken(&name) {
        number += 1;
        name = format!("{NAME} {number}");
    }
    Label::parse(&name)
}

fn entry_color(entry: &Entry) -> Box<OfColor> {
    let threads: Vec<KeyThread> = entry.work.threads().cloned().collect();
    Box::new(OfColor { color: entry.color, threads })
}

/// The colors of the key, each once.
fn colors(chart: &Chart) -> Vec<OfColor> {
    let mut colors: Vec<OfColor> = Vec::new();
    for entry in chart.key() {
        let of = entry_color(entry);
        if !colors.contains(&of) {
            colors.push(*of);
        }
    }
    colors
}
