//! What a designer should know of a chart before it is sold, as notes in three degrees.
//! It knows no files, no words for people and no program that carries out what it advises.
//!
//! ```text
//! chart + tables + limits ─► view (colors, threads, places) ─► finders ─► notes, worst first
//! ```

mod colors;
mod key;
mod limits;
mod lines;
mod note;
mod stitches;
mod symbols;
mod threads;
mod view;

pub use limits::{Limits, Rule};
pub use note::{Cells, Code, Degree, Finding, Note, Reason, Worked};
pub use symbols::look_alike;

use std::collections::BTreeMap;

use dyekin_core::error::Error;
use dyekin_core::table::Notice;
use dyekin_core::{Srgb8, Table};

use crate::chart::{Content, KeyLine, Size};
use view::View;

/// Most notes of one code. House choice: nobody reads more, and a noisy picture has millions of near
/// pairs.
pub const MAX_NOTES: usize = 200;

/// What is checked.
#[derive(Clone, Copy, Debug)]
pub struct Given<'c> {
    /// A chart, or a key alone.
    pub content: &'c Content,
    /// The color of the cloth; `None` takes the chart's own, when it states one.
    pub cloth: Option<Srgb8>,
    /// A key that is sold beside the chart, to be held against it.
    pub key: Option<&'c [KeyLine]>,
}

/// What was found in one chart.
#[derive(Clone, Debug, PartialEq)]
pub struct Checked {
    /// The worst degree first, then by code, then the weightiest first.
    pub notes: Vec<Note>,
    /// Codes of which there are more notes than [`MAX_NOTES`], with how many are left out.
    pub more: Vec<(Code, u64)>,
    /// Cells across and down; `None` for a key alone.
    pub size: Option<Size>,
    /// Colors of the chart: entries of one color and thread are one.
    pub colors: usize,
    /// All stitches, counted as [`crate::chart::Usage::stitches`] does.
    pub stitches: u64,
    /// Cells with stitches; `None` for a key alone.
    pub stitched_cells: Option<u64>,
    /// What the summary of the chart leaves out.
    pub notices: Vec<Notice>,
    /// Full stitches without a stitch of their thread among the eight cells around; `None` for a key
    /// alone.
    pub lone: Option<u64>,
}

impl Checked {
    /// Notes of a degree that are listed.
    #[must_use]
    pub fn count(&self, degree: Degree) -> usize {
        self.notes.iter().filter(|note| note.degree == degree).count()
    }

    /// True when a note is of this degree or a worse one.
    #[must_use]
    pub fn reaches(&self, degree: Degree) -> bool {
        self.notes.iter().any(|note| note.degree >= degree)
    }
}

/// All notes of one chart.
///
/// `tables` are those that the chart's threads come from, as far as they are at hand; what needs
/// others is named in a note of its own. The same input always gives the same notes.
///
/// # Errors
///
/// When the chart has no stitch, or more colors than a palette may hold.
pub fn notes(given: Given<'_>, tables: &[Table], limits: &Limits) -> Result<Checked, Error> {
    let view = View::of(given, tables)?;
    let mut found = Findings::new(limits);
    threads::find(&view, &mut found);
    key::find(given, &view, &mut found);
    symbols::find(&view, &mut found);
    lines::find(&view, &mut found);
    let strays = stitches::strays(&view, &mut found);
    colors::find(&view, &strays, &mut found);
    let lone = stitches::lone(&view, &mut found);
    let (notes, more) = found.sorted();
    Ok(Checked {
        notes,
        more,
        size: view.chart().map(crate::chart::Chart::size),
        colors: view.colors().len(),
        stitches: view.summary().palette().stitches(),
        stitched_cells: lone.map(|lone| lone.stitched),
        lone: lone.map(|lone| lone.lone),
        notices: view.summary().notices().to_vec(),
    })
}

/// Notes as they are found, without those that the limits turn off.
struct Findings<'l> {
    limits: &'l Limits,
    notes: Vec<Note>,
    /// Notes that a finder did not make, because they come after [`MAX_NOTES`] others.
    unmade: BTreeMap<Code, u64>,
}

impl<'l> Findings<'l> {
    fn new(limits: &'l Limits) -> Self {
        Self { limits, notes: Vec::new(), unmade: BTreeMap::new() }
    }

    /// True when notes of this code are wanted; finders skip their work otherwise.
    fn wants(&self, code: Code) -> bool {
        self.limits.degree(code).is_some()
    }

    fn add(&mut self, finding: Finding, colors: Vec<Worked>, cells: Cells) {
        if let Some(degree) = self.limits.degree(finding.code()) {
            self.notes.push(Note { degree, finding, colors, cells });
        }
    }

    /// Counts notes that are not made, because nobody would see them.
    fn leave_out(&mut self, code: Code, notes: usize) {
        if notes > 0 && self.wants(code) {
            *self.unmade.entry(code).or_default() += notes as u64;
        }
    }

    fn sorted(mut self) -> (Vec<Note>, Vec<(Code, u64)>) {
        self.notes.sort_by(|one, other| {
            let order = other.degree.cmp(&one.degree).then(one.code().cmp(&other.code()));
            order.then_with(|| other.weight().total_cmp(&one.weight()))
        });
        let mut more = std::mem::take(&mut self.unmade);
        let mut run = (None, 0_usize);
        self.notes.retain(|note| {
            let code = note.code();
            run = if run.0 == Some(code) { (run.0, run.1 + 1) } else { (Some(code), 1) };
            if run.1 > MAX_NOTES {
                *more.entry(code).or_default() += 1;
            }
            run.1 <= MAX_NOTES
        });
        let more = more.into_iter().collect();
        (self.notes, more)
    }
}

#[cfg(test)]
mod tests;
