//! One question made ready: the standard of each color, what is settled before any search, and the
//! threads that may answer. It does not search.

use std::collections::BTreeSet;

use super::meter::Meter;
use super::sight::Sight;
use super::{Ask, Keep};
use crate::catalog::Catalog;
use crate::change::{Answer, TableVersion};
use crate::color::Color;
use crate::difference::{DeltaE, Difference, Measure};
use crate::error::{Error, ErrorKind, Place, Result};
use crate::nearest::{MAX_COUNT, NearestOptions, ThreadFilter};
use crate::palette::{ChartColor, PaletteSummary};
use crate::table::{TableId, Thread, ThreadRef};

/// A thread that may answer or already does.
#[derive(Clone, Copy, Debug)]
pub(super) struct Candidate<'c> {
    pub(super) table: &'c TableId,
    pub(super) thread: &'c Thread,
}

impl Candidate<'_> {
    pub(super) fn name(&self) -> ThreadRef {
        ThreadRef { table: self.table.clone(), code: self.thread.code.clone() }
    }
}

impl PartialEq for Candidate<'_> {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Candidate<'_> {}

impl PartialOrd for Candidate<'_> {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Candidate<'_> {
    /// Table id, then code: the order in which equal differences answer.
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.table.cmp(other.table).then_with(|| self.thread.code.cmp(&other.thread.code))
    }
}

/// Where the nearest threads of a color are looked for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scope<'s> {
    /// Empty means all tables.
    pub(super) tables: &'s [TableId],
    pub(super) count: usize,
    pub(super) limit: Option<DeltaE>,
}

/// What is settled about a color before any search.
#[derive(Clone, Debug)]
pub(super) enum Wish<'c> {
    /// It gets these threads: one, or the two of a blend.
    Fixed(Vec<Candidate<'c>>),
    /// It gets any admitted thread but these.
    Free(Vec<ThreadRef>),
}

/// A question made ready.
pub(super) struct Case<'a, 'c> {
    pub(super) catalog: &'c Catalog,
    pub(super) palette: &'a PaletteSummary,
    pub(super) ask: &'a Ask,
    /// What differences are measured from, by color.
    pub(super) standards: Vec<Color>,
    /// What is settled, by color.
    pub(super) wishes: Vec<Wish<'c>>,
    /// True for the colors that the owner keeps.
    pub(super) kept: Vec<bool>,
    /// Threads that the owner keeps for their own sake.
    pub(super) kept_threads: BTreeSet<Candidate<'c>>,
    /// What other lights are asked to say of a thread and its stand-in.
    pub(super) sight: Sight,
}

impl<'a, 'c> Case<'a, 'c> {
    /// Checks keeps and answers and settles what they settle.
    pub(super) fn new(
        catalog: &'c Catalog,
        palette: &'a PaletteSummary,
        ask: &'a Ask,
        meter: &mut Meter<'_>,
    ) -> Result<Self> {
        let mut case = Self::unsettled(catalog, palette, ask)?;
        case.take_answers()?;
        case.keep_worked_colors()?;
        case.keep_picture_colors(meter)?;
        Ok(case)
    }

    /// The same without settling anything but the kept threads.
    pub(super) fn unsettled(
        catalog: &'c Catalog,
        palette: &'a PaletteSummary,
        ask: &'a Ask,
    ) -> Result<Self> {
        catalog.choose(&ask.tables)?;
        let count = palette.colors().len();
        let mut case = Self {
            catalog,
            palette,
            ask,
            standards: palette.colors().iter().map(|color| standard(catalog, color)).collect(),
            wishes: vec![Wish::Free(Vec::new()); count],
            kept: vec![false; count],
            kept_threads: BTreeSet::new(),
            sight: Sight::Unasked,
        };
        case.read_keeps()?;
        Ok(case)
    }

    fn read_keeps(&mut self) -> Result<()> {
        for (place, keep) in self.ask.keeps.iter().enumerate() {
            match keep {
                Keep::Color(color) => match self.kept.get_mut(*color) {
                    Some(kept) => *kept = true,
                    None => return Err(no_such_color(place, *color, self.kept.len())),
                },
                Keep::Thread(name) => {
                    let thread = find(self.catalog, name)?;
                    if self.ask.filter.excluded.contains(name) {
                        return Err(kept_and_excluded(name));
                    }
                    self.kept_threads.insert(thread);
                }
                Keep::Area(area) => self.keep_area(place, area)?,
            }
        }
        Ok(())
    }

    fn keep_area(&mut self, place: usize, area: &str) -> Result<()> {
        let mut any = false;
        for (color, kept) in self.palette.colors().iter().zip(&mut self.kept) {
            if color.area.as_deref() == Some(area) {
                *kept = true;
                any = true;
            }
        }
        if any {
            return Ok(());
        }
        let known: BTreeSet<&str> =
            self.palette.colors().iter().filter_map(|color| color.area.as_deref()).collect();
        let known: Vec<&str> = known.into_iter().take(10).collect();
        Err(Error::new(ErrorKind::BadValue {
            value: area.to_owned(),
            reason: "no color of the palette lies in this area".into(),
            remedy: if known.is_empty() {
                "the palette names no areas; keep colors or threads instead".into()
            } else {
                format!("areas of the palette: {}", known.join(", "))
            },
        })
        .at(Place::field(format!("options.keeps[{place}]"))))
    }

    fn take_answers(&mut self) -> Result<()> {
        for answered in &self.ask.answers {
            let Some(color) = self.palette.colors().get(answered.color) else {
                return Err(bad_answer(answered.color, "the palette has no such color"));
            };
            match &answered.answer {
                Answer::Yes if answered.proposed.is_empty() => {
                    return Err(bad_answer(answered.color, "the list proposed no thread for it"));
                }
                Answer::Yes => self.fix(answered.color, &answered.proposed)?,
                Answer::Another(thread) => {
                    self.fix(answered.color, std::slice::from_ref(thread))?;
                }
                Answer::No if self.stays(color, &answered.proposed) => {
                    self.fix(answered.color, &color.threads)?;
                }
                Answer::No => self.bar(answered.color, &answered.proposed)?,
            }
        }
        Ok(())
    }

    /// True when a color whose change is refused has threads of its own to stay with.
    fn stays(&self, color: &ChartColor, refused: &[ThreadRef]) -> bool {
        !color.threads.is_empty()
            && color.threads.iter().all(|name| self.catalog.thread(name).is_ok())
            && color.threads != refused
    }

    fn fix(&mut self, color: usize, names: &[ThreadRef]) -> Result<()> {
        let mut threads = Vec::with_capacity(names.len());
        for name in names {
            let thread =
                find(self.catalog, name).map_err(|error| bad_answer(color, &error.to_string()))?;
            if self.ask.filter.excluded.contains(name) {
                return Err(bad_answer(color, &format!("thread {name} is excluded")));
            }
            threads.push(thread);
        }
        if threads.len() > 2 {
            return Err(bad_answer(color, "a color is worked in one thread or in a blend of two"));
        }
        match self.wishes.get_mut(color) {
            Some(Wish::Fixed(before)) if *before != threads => {
                Err(bad_answer(color, "it is answered twice, with different threads"))
            }
            Some(Wish::Free(barred)) if names.iter().any(|name| barred.contains(name)) => {
                Err(bad_answer(color, "one answer refuses the thread that another one wants"))
            }
            Some(wish) => {
                *wish = Wish::Fixed(threads);
                Ok(())
            }
            None => Ok(()),
        }
    }

    fn bar(&mut self, color: usize, refused: &[ThreadRef]) -> Result<()> {
        match self.wishes.get_mut(color) {
            Some(Wish::Fixed(threads))
                if threads.iter().any(|thread| refused.contains(&thread.name())) =>
            {
                Err(bad_answer(color, "one answer refuses the thread that another one wants"))
            }
            Some(Wish::Free(barred)) => {
                barred.extend(refused.iter().cloned());
                Ok(())
            }
            Some(Wish::Fixed(_)) | None => Ok(()),
        }
    }

    /// Kept colors that are worked in threads stay in them.
    fn keep_worked_colors(&mut self) -> Result<()> {
        let colors = self.palette.colors();
        for ((place, color), (kept, wish)) in
            colors.iter().enumerate().zip(self.kept.iter().zip(&mut self.wishes))
        {
            if !kept || color.threads.is_empty() {
                continue;
            }
            let mut own = Vec::with_capacity(color.threads.len());
            for name in &color.threads {
                own.push(find(self.catalog, name)?);
                if self.ask.filter.excluded.contains(name) {
                    return Err(kept_and_excluded(name));
                }
            }
            if let Wish::Fixed(answered) = wish
                && *answered != own
            {
                return Err(bad_answer(place, "the color is kept as it is"));
            }
            *wish = Wish::Fixed(own);
        }
        Ok(())
    }

    /// Kept colors of a picture get the nearest thread that no other kept color has, larger ones
    /// first.
    fn keep_picture_colors(&mut self, meter: &mut Meter<'_>) -> Result<()> {
        let mut waiting = self.kept_free_colors();
        if waiting.is_empty() {
            return Ok(());
        }
        let largest_first = |color: &usize| {
            std::cmp::Reverse(self.palette.colors().get(*color).map_or(0, |color| color.stitches))
        };
        waiting.sort_by_key(largest_first);
        let mut taken: BTreeSet<Candidate<'c>> = self
            .kept
            .iter()
            .zip(&self.wishes)
            .filter_map(|(kept, wish)| if *kept { fixed_threads(wish) } else { None })
            .flatten()
            .copied()
            .collect();
        for color in waiting {
            let Some(thread) = self.nearest_untaken(color, &taken, meter)? else {
                return Err(no_thread_of_its_own(taken.len()));
            };
            taken.insert(thread);
            if let Some(wish) = self.wishes.get_mut(color) {
                *wish = Wish::Fixed(vec![thread]);
            }
        }
        Ok(())
    }

    fn kept_free_colors(&self) -> Vec<usize> {
        let free = |(kept, wish): (&bool, &Wish<'_>)| *kept && matches!(wish, Wish::Free(_));
        let pairs = self.kept.iter().zip(&self.wishes).map(free);
        pairs.enumerate().filter_map(|(color, wanted)| wanted.then_some(color)).collect()
    }

    fn nearest_untaken(
        &self,
        color: usize,
        taken: &BTreeSet<Candidate<'c>>,
        meter: &mut Meter<'_>,
    ) -> Result<Option<Candidate<'c>>> {
        let mut count = 4;
        loop {
            let near = self.nearest_to(color, count, meter)?;
            let exhausted = near.len() < count || count == MAX_COUNT;
            let free = near.into_iter().find(|(thread, _)| !taken.contains(thread));
            if free.is_some() || exhausted {
                return Ok(free.map(|(thread, _)| thread));
            }
            count = (count * 4).min(MAX_COUNT);
        }
    }

    /// The admitted threads nearest to a color with their differences, without those refused for it.
    pub(super) fn nearest_to(
        &self,
        color: usize,
        count: usize,
        meter: &mut Meter<'_>,
    ) -> Result<Vec<(Candidate<'c>, f64)>> {
        let Some(standard) = self.standards.get(color) else { return Ok(Vec::new()) };
        self.nearest_for(color, standard, count, meter)
    }

    /// The same from another standard: that of one strand of a blend.
    pub(super) fn nearest_for(
        &self,
        color: usize,
        standard: &Color,
        count: usize,
        meter: &mut Meter<'_>,
    ) -> Result<Vec<(Candidate<'c>, f64)>> {
        let scope = Scope { tables: &self.ask.tables, count, limit: None };
        self.nearest_in(&scope, color, standard, meter)
    }

    /// The same among some tables only, or within a limit.
    pub(super) fn nearest_in(
        &self,
        scope: &Scope<'_>,
        color: usize,
        standard: &Color,
        meter: &mut Meter<'_>,
    ) -> Result<Vec<(Candidate<'c>, f64)>> {
        let Some(wish) = self.wishes.get(color) else { return Ok(Vec::new()) };
        let options = NearestOptions {
            tables: scope.tables.to_vec(),
            count: scope.count,
            formula: self.ask.formula,
            adaptation: self.ask.adaptation,
            lights: None,
            limit: scope.limit,
            filter: self.filter_for(wish),
            count_as_near: false,
        };
        let found = meter.nearest(self.catalog, standard, &options)?;
        let pick = |hit: crate::nearest::Match<'c>| {
            let thread = Candidate { table: hit.table.table().id(), thread: hit.thread };
            (thread, hit.difference.delta_e.value())
        };
        Ok(found.matches.into_iter().map(pick).collect())
    }

    fn filter_for(&self, wish: &Wish<'_>) -> ThreadFilter {
        let mut filter = self.ask.filter.clone();
        if let Wish::Free(barred) = wish {
            filter.excluded.extend(barred.iter().cloned());
        }
        filter
    }

    /// The difference of two colors as the question measures it.
    pub(super) fn difference(&self, standard: &Color, sample: &Color) -> Result<Difference> {
        let measure = Measure { formula: self.ask.formula, adaptation: self.ask.adaptation };
        Difference::measured(standard, sample, measure)
    }

    /// True when the owner refused the thread for this color.
    pub(super) fn refuses(&self, color: usize, candidate: Candidate<'_>) -> bool {
        match self.wishes.get(color) {
            Some(Wish::Free(barred)) => barred.contains(&candidate.name()),
            Some(Wish::Fixed(_)) | None => false,
        }
    }

    /// True when the thread stands in a chosen table and passes the filter.
    pub(super) fn admits(&self, candidate: Candidate<'_>) -> bool {
        (self.ask.tables.is_empty() || self.ask.tables.contains(candidate.table))
            && self.ask.filter.admits(candidate.table, candidate.thread)
    }

    /// All threads that a color may join, by table and code.
    pub(super) fn candidates(&self) -> Result<Vec<Candidate<'c>>> {
        let mut all: BTreeSet<Candidate<'c>> = self.kept_threads.clone();
        for held in self.catalog.choose(&self.ask.tables)? {
            let table = held.table().id();
            let threads = held.table().threads().iter();
            all.extend(
                threads
                    .filter(|thread| self.ask.filter.admits(table, thread))
                    .map(|thread| Candidate { table, thread }),
            );
        }
        Ok(all.into_iter().collect())
    }

    /// Every thread that keeps and answers settle.
    pub(super) fn settled_threads(&self) -> BTreeSet<Candidate<'c>> {
        let fixed = self.wishes.iter().filter_map(fixed_threads).flatten();
        fixed.chain(&self.kept_threads).copied().collect()
    }

    /// The color's own threads when the catalog has them all.
    pub(super) fn own_threads(&self, color: &ChartColor) -> Option<Vec<Candidate<'c>>> {
        let own: Option<Vec<_>> =
            color.threads.iter().map(|name| find(self.catalog, name).ok()).collect();
        own.filter(|own| !own.is_empty())
    }

    /// Share of all stitches, by color.
    pub(super) fn weights(&self) -> Vec<f64> {
        let all = whole(self.palette.stitches().max(1));
        self.palette.colors().iter().map(|color| whole(color.stitches) / all).collect()
    }

    /// The versions of the chosen tables and of those that `used` threads come from.
    pub(super) fn versions(&self, used: &BTreeSet<&TableId>) -> Vec<TableVersion> {
        let chosen = |id: &TableId| self.ask.tables.is_empty() || self.ask.tables.contains(id);
        let tables = self.catalog.tables().iter().map(|held| held.table());
        tables
            .filter(|table| chosen(table.id()) || used.contains(table.id()))
            .map(|table| TableVersion { table: table.id().clone(), hash: table.hash() })
            .collect()
    }
}

/// Whole numbers of a palette as fractions need them; exact up to [`crate::palette::MAX_STITCHES`].
#[expect(clippy::cast_precision_loss, reason = "a palette holds at most 2^53 stitches")]
pub(super) fn whole(number: u64) -> f64 {
    number as f64
}

fn fixed_threads<'w, 'c>(wish: &'w Wish<'c>) -> Option<&'w Vec<Candidate<'c>>> {
    match wish {
        Wish::Fixed(threads) => Some(threads),
        Wish::Free(_) => None,
    }
}

/// The table's color where the catalog has the one thread, or else the chart's.
fn standard(catalog: &Catalog, color: &ChartColor) -> Color {
    match color.threads.as_slice() {
        [only] => catalog.thread(only).map_or(color.color, |thread| thread.color),
        _ => color.color,
    }
}

/// A thread of the catalog by its name.
pub(super) fn find<'c>(catalog: &'c Catalog, name: &ThreadRef) -> Result<Candidate<'c>> {
    let thread = catalog.thread(name)?;
    Ok(Candidate { table: catalog.table(&name.table)?.table().id(), thread })
}

pub(super) fn bad_answer(color: usize, reason: &str) -> Error {
    Error::new(ErrorKind::BadAnswer { change: color.to_string(), reason: reason.to_owned() })
}

fn no_such_color(place: usize, color: usize, count: usize) -> Error {
    Error::new(ErrorKind::BadValue {
        value: color.to_string(),
        reason: "the palette has no such color to keep".into(),
        remedy: format!("colors are numbered 0 to {}", count.saturating_sub(1)),
    })
    .at(Place::field(format!("options.keeps[{place}]")))
}

fn kept_and_excluded(name: &ThreadRef) -> Error {
    Error::new(ErrorKind::Impossible {
        reason: format!("thread {name} is both kept and excluded"),
        nearest: "keep it or exclude it".into(),
    })
}

fn no_thread_of_its_own(found: usize) -> Error {
    Error::new(ErrorKind::Impossible {
        reason: format!("only {found} of the kept colors can have a thread of their own"),
        nearest: "keep fewer colors, or admit more threads".into(),
    })
}
