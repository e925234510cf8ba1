//! The rows of one table nearest to a color, whatever light the table's colors were measured under.
//! It does not know several tables, and not how a search is pruned.
//!
//! The standard is carried over once to the conditions that the table was measured under, and the
//! table's measured colors are searched for the standard as it looks there; its pictures of colors
//! for the standard as it is. So the search stays exact, and no color of the table is changed.

use super::CatalogTable;
use crate::color::{AdaptationMethod, Color};
use crate::difference::{DeltaE, Difference, Measure, Pair};
use crate::error::{Error, ErrorKind, Result};
use crate::index::{Ask, Hit, More, Tally};
use crate::watch::Watch;

/// What is asked of one table.
#[derive(Clone, Copy)]
pub(crate) struct Around<'a> {
    /// Most rows to answer.
    pub(crate) count: usize,
    /// Rows to answer beyond the count.
    pub(crate) more: Option<More>,
    pub(crate) measure: Measure,
    /// Rows beyond it may be missing but for the nearest.
    pub(crate) limit: Option<DeltaE>,
    /// Which rows may answer; all of them without it.
    pub(crate) admit: Option<&'a dyn Fn(usize) -> bool>,
    pub(crate) watch: &'a dyn Watch,
}

impl Around<'_> {
    /// Most rows of an answer.
    pub(crate) fn most(&self) -> usize {
        self.count.saturating_add(self.more.map_or(0, |more| more.at_most))
    }
}

/// A row with its difference from the color asked for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Near {
    pub(crate) row: usize,
    pub(crate) difference: Difference,
}

/// The rows that a standard is compared with as it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Part {
    All,
    Measured,
    Pictures,
}

impl CatalogTable {
    /// Whether a color may be compared with every thread of the table.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::ConditionsDiffer`] when the color and any thread were measured under different
    /// conditions, whether that thread would have answered or not.
    pub fn accept(&self, standard: &Color) -> Result<()> {
        self.accept_adapting(standard, None)
    }

    /// The same when the color is adapted where lights differ.
    ///
    /// # Errors
    ///
    /// As [`CatalogTable::accept`] without a method; with one, [`ErrorKind::BadValue`] when a thread
    /// was measured for the other observer.
    pub fn accept_adapting(
        &self,
        standard: &Color,
        adaptation: Option<AdaptationMethod>,
    ) -> Result<()> {
        self.faces(standard, adaptation).map(drop)
    }

    /// The rows nearest to a color among those admitted, exact for the formula, ordered by
    /// difference, then by code.
    ///
    /// # Errors
    ///
    /// As [`CatalogTable::accept_adapting`], and [`ErrorKind::Stopped`].
    pub(crate) fn near(
        &self,
        standard: &Color,
        around: &Around<'_>,
        tally: &mut Tally,
    ) -> Result<Vec<Near>> {
        let mut found = Vec::new();
        self.show_near(standard, around, tally, &mut |near| found.push(near))?;
        Ok(found)
    }

    /// The same, shown one by one.
    pub(crate) fn show_near(
        &self,
        standard: &Color,
        around: &Around<'_>,
        tally: &mut Tally,
        show: &mut impl FnMut(Near),
    ) -> Result<()> {
        match self.faces(standard, around.measure.adaptation)? {
            [Some((face, part)), None] => self.search(&face, part, around, tally, show),
            faces => {
                let mut found = Vec::new();
                for (face, part) in faces.iter().flatten() {
                    self.search(face, *part, around, tally, &mut |near| found.push(near))?;
                }
                found.sort_by(|left: &Near, right: &Near| {
                    let by_difference = left.difference.delta_e.order(&right.difference.delta_e);
                    by_difference.then(left.row.cmp(&right.row))
                });
                found.into_iter().take(around.most()).for_each(show);
                Ok(())
            }
        }
    }

    fn search(
        &self,
        face: &Color,
        part: Part,
        around: &Around<'_>,
        tally: &mut Tally,
        show: &mut impl FnMut(Near),
    ) -> Result<()> {
        let admit =
            |row: usize| self.is_in(row, part) && around.admit.is_none_or(|admit| admit(row));
        let ask = Ask {
            standard: face.lab(),
            count: around.count,
            more: around.more,
            formula: around.measure.formula,
            limit: around.limit,
            admit: if part == Part::All { around.admit } else { Some(&admit) },
            watch: around.watch,
        };
        // All are fetched before the first is compared, so that one does not wait for another.
        let sample = |hit: Hit| Some((hit, self.thread_at(hit.row)?.color));
        let hits: Vec<(Hit, Color)> =
            self.index.nearest(&ask, tally)?.into_iter().filter_map(sample).collect();
        for (hit, sample) in hits {
            let trust = Color::trust(face, &sample)?;
            let pair = Pair { standard: face.lab(), sample: sample.lab() };
            let difference = Difference::scored(pair, around.measure.formula, hit.delta_e, trust);
            show(Near { row: hit.row, difference });
        }
        Ok(())
    }

    fn is_in(&self, row: usize, part: Part) -> bool {
        let color = self.thread_at(row).map(|thread| thread.color);
        color.is_some_and(|color| match part {
            Part::All => true,
            Part::Measured => color.origin().is_measured(),
            Part::Pictures => !color.origin().is_measured(),
        })
    }

    /// The standard as each part of the table is compared with it.
    ///
    /// # Errors
    ///
    /// As [`CatalogTable::accept_adapting`].
    pub(crate) fn faces(
        &self,
        standard: &Color,
        adaptation: Option<AdaptationMethod>,
    ) -> Result<[Option<(Color, Part)>; 2]> {
        let own = standard.conditions();
        let other = self.measured.filter(|held| standard.origin().is_measured() && *held != own);
        match (other, adaptation) {
            (None, _) => Ok([Some((*standard, Part::All)), None]),
            (Some(other), None) => Err(Error::new(ErrorKind::ConditionsDiffer {
                standard: own.to_string(),
                sample: other.to_string(),
            })),
            (Some(other), Some(method)) => {
                let adapted = standard.adapted_to(other, method)?;
                Ok([Some((adapted, Part::Measured)), Some((*standard, Part::Pictures))])
            }
        }
    }
}
