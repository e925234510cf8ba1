//! Which colors a summary has and which cell belongs to which of them.
//! It does not know what touches what.

use std::collections::HashMap;

use dyekin_core::{Color, Srgb8, ThreadRef};

use super::apart::{Apart, Portion, Spot, Taken};
use crate::chart::{Cell, Chart, Entry, EntryId, KeyRow, KeyThread, Label, Symbol, Usage};

/// One color of a summary, as it stands in the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct ColorPlace {
    entries: Vec<EntryId>,
    symbols: Vec<Symbol>,
    color: Srgb8,
    threads: Vec<KeyThread>,
    name: Option<Label>,
    area: Option<Label>,
    portion: Option<Portion>,
}

impl ColorPlace {
    /// The entries of the key that make up this color; empty for a key alone.
    #[must_use]
    pub fn entries(&self) -> &[EntryId] {
        &self.entries
    }

    /// The symbols of these entries, as far as they have one.
    #[must_use]
    pub fn symbols(&self) -> &[Symbol] {
        &self.symbols
    }

    /// The color as the chart shows it.
    #[must_use]
    pub fn color(&self) -> Srgb8 {
        self.color
    }

    /// The threads it is worked in: none, one or the two of a blend.
    #[must_use]
    pub fn threads(&self) -> &[KeyThread] {
        &self.threads
    }

    /// The name of the first of its entries that has one.
    #[must_use]
    pub fn name(&self) -> Option<&Label> {
        self.name.as_ref()
    }

    /// The area that it was split out of.
    #[must_use]
    pub fn area(&self) -> Option<&Label> {
        self.area.as_ref()
    }

    /// The cells that it was told apart by; the area is then no area of the chart.
    #[must_use]
    pub fn portion(&self) -> Option<&Portion> {
        self.portion.as_ref()
    }

    /// Table and code of each thread.
    #[must_use]
    pub fn thread_refs(&self) -> Vec<ThreadRef> {
        self.threads.iter().map(|held| held.thread.clone()).collect()
    }

    pub(super) fn of_row(row: &KeyRow) -> Self {
        Self {
            entries: Vec::new(),
            symbols: Vec::new(),
            color: row.color.srgb(),
            threads: vec![row.thread.clone()],
            name: row.name.clone(),
            area: None,
            portion: None,
        }
    }

    fn of_entry(entry: &Entry) -> Self {
        Self {
            entries: Vec::new(),
            symbols: Vec::new(),
            color: entry.color,
            threads: entry.work.threads().cloned().collect(),
            name: None,
            area: None,
            portion: None,
        }
    }

    fn add(&mut self, id: EntryId, entry: &Entry) {
        self.entries.push(id);
        self.symbols.extend(entry.symbol.clone());
        if self.name.is_none() {
            self.name.clone_from(&entry.name);
        }
    }

    /// The table's color of a single thread, or the color that the chart shows.
    pub(super) fn color_by(&self, color_of: &dyn Fn(&KeyThread) -> Option<Color>) -> Color {
        let of_table = match self.threads.as_slice() {
            [only] => color_of(only),
            _ => None,
        };
        of_table.unwrap_or_else(|| Color::screen(self.color))
    }
}

/// Bare cloth in a grid of colors.
pub(super) const CLOTH: u16 = u16::MAX;

/// A cell with part stitches in a grid of colors.
pub(super) const IN_PARTS: u16 = u16::MAX - 1;

/// The colors of a chart and where they are.
pub(super) struct Places {
    /// One color, [`CLOTH`] or [`IN_PARTS`] for each cell.
    pub(super) grid: Vec<u16>,
    pub(super) places: Vec<ColorPlace>,
    pub(super) usages: Vec<Usage>,
    pub(super) of_mark: OfMark,
}

/// The color of an entry outside and inside of areas.
pub(super) struct OfMark {
    group_of: Vec<usize>,
    groups: usize,
    /// For each area (0 is none) and group the color's number.
    color: Vec<u16>,
    /// For each cell the area that it is split into, from 1; empty without split areas.
    area_of: Vec<u16>,
    /// For each group what is told apart of it, as an area behind the split ones; empty when
    /// nothing is told apart.
    taken: Vec<Option<Taken>>,
    /// The number of the area that is told apart.
    apart: usize,
}

impl OfMark {
    fn local(&self, entry: EntryId, spot: Spot) -> usize {
        let group = self.group_of.get(entry.index()).copied().unwrap_or(0);
        self.area(entry, spot) * self.groups + group
    }

    /// The area of an entry in a cell, or as a line or knot; 0 is none.
    fn area(&self, entry: EntryId, spot: Spot) -> usize {
        let group = self.group_of.get(entry.index()).and_then(|group| self.taken.get(*group));
        if group.and_then(Option::as_ref).is_some_and(|taken| taken.holds(spot)) {
            return self.apart;
        }
        let cell = match spot {
            Spot::Cell(cell) => self.area_of.get(cell),
            // Lines and knots belong to no area.
            Spot::Mark(_) => None,
        };
        cell.copied().map_or(0, usize::from)
    }

    fn is_one_area(&self) -> bool {
        self.area_of.is_empty() && self.taken.is_empty()
    }

    /// The color of an entry in a cell, or as a line or knot.
    pub(super) fn color(&self, entry: EntryId, spot: Spot) -> u16 {
        self.color.get(self.local(entry, spot)).copied().unwrap_or(CLOTH)
    }
}

/// Finds the colors of a chart.
pub(super) fn places(chart: &Chart, split: &[Label], apart: Option<&Apart>) -> Places {
    let (group_of, groups) = groups(chart);
    let portions = portions(&groups, apart);
    let size = chart.size();
    let taken = portions.iter().map(|held| held.map(|held| Taken::of(held, size))).collect();
    let mut of_mark = OfMark {
        group_of,
        groups: groups.len(),
        color: Vec::new(),
        area_of: split_cells(chart, split),
        taken,
        apart: split.len() + 1,
    };
    let names: Vec<&Label> = split.iter().chain(apart.map(|apart| &apart.name)).collect();
    let counted = usages(chart, &of_mark, groups.len() * (names.len() + 1));
    let mut places = Vec::new();
    let mut used_usages = Vec::new();
    of_mark.color = vec![CLOTH; counted.len()];
    // In the order of the key; the same color in areas follows the one outside.
    for (group, found) in groups.iter().enumerate() {
        for area in 0..=names.len() {
            let local = area * groups.len() + group;
            let Some(usage) = counted.get(local).filter(|usage| !usage.is_nothing()) else {
                continue;
            };
            if let Some(color) = of_mark.color.get_mut(local) {
                *color = u16::try_from(places.len()).unwrap_or(CLOTH - 2).min(CLOTH - 2);
            }
            let is_apart = area == of_mark.apart;
            let portion = portions.get(group).copied().flatten().filter(|_| is_apart).cloned();
            let area = area.checked_sub(1).and_then(|area| names.get(area));
            let area = area.map(|name| (*name).clone());
            places.push(ColorPlace { area, portion, ..found.clone() });
            used_usages.push(*usage);
        }
    }
    let grid = color_grid(chart, &of_mark);
    Places { grid, places, usages: used_usages, of_mark }
}

/// What is told apart of each group; empty when nothing is.
fn portions<'a>(groups: &[ColorPlace], apart: Option<&'a Apart>) -> Vec<Option<&'a Portion>> {
    let Some(apart) = apart else { return Vec::new() };
    let of = |group: &ColorPlace| {
        let mut held = apart.portions.iter();
        let held = held.find(|(of, _)| of.color == group.color && of.threads == group.threads);
        held.map(|(_, portion)| portion)
    };
    groups.iter().map(of).collect()
}

/// The colors of a chart for those who change entries: which entry is which color in which area.
pub(crate) struct Areas {
    places: Places,
    entries: usize,
    areas: usize,
    usages: Vec<u64>,
}

impl Areas {
    /// The colors of a chart with these areas split out, and these portions told apart.
    pub(crate) fn of(chart: &Chart, split: &[Label], apart: Option<&Apart>) -> Self {
        let places = places(chart, split, apart);
        let areas = split.len() + 1 + usize::from(apart.is_some());
        let entries = chart.key().len();
        let usages = Self::stitches(chart, &places.of_mark, areas * entries);
        Self { places, entries, areas, usages }
    }

    /// Stitches of each entry in each area.
    fn stitches(chart: &Chart, of_mark: &OfMark, count: usize) -> Vec<u64> {
        let entries = chart.key().len();
        let mut usages = vec![0; count];
        let mut add = |entry: EntryId, spot: Spot| {
            let slot = of_mark.area(entry, spot) * entries + entry.index();
            usages.get_mut(slot).into_iter().for_each(|count| *count += 1);
        };
        for (place, cell) in chart.grid().cells().enumerate() {
            match cell {
                Cell::Bare => {}
                Cell::Full(entry) => add(entry, Spot::Cell(place)),
                Cell::Parts(parts) => {
                    parts.iter().for_each(|part| add(part.entry, Spot::Cell(place)));
                }
            }
        }
        chart.lines().iter().for_each(|line| add(line.entry, Spot::of(line)));
        chart.knots().iter().for_each(|knot| add(knot.entry, Spot::of(knot)));
        usages
    }

    /// The colors.
    pub(crate) fn places(&self) -> &[ColorPlace] {
        &self.places.places
    }

    /// Split areas, what is told apart, and one for all that is outside of them.
    pub(crate) fn count(&self) -> usize {
        self.areas
    }

    /// The area of an entry in a cell, or as a line or knot: 0 is outside.
    pub(crate) fn area(&self, entry: EntryId, spot: Spot) -> usize {
        self.places.of_mark.area(entry, spot)
    }

    /// Where an entry is used: area, color and stitches.
    pub(crate) fn uses(&self, entry: usize) -> impl Iterator<Item = (usize, usize, u64)> {
        (0..self.areas).filter_map(move |area| {
            let stitches = self.usages.get(area * self.entries + entry).copied()?;
            let group = self.places.of_mark.group_of.get(entry)?;
            let color = self.places.of_mark.color.get(area * self.places.of_mark.groups + group)?;
            (stitches > 0).then_some((area, usize::from(*color), stitches))
        })
    }
}

/// Entries of one color and the same threads, in the order of the key.
fn groups(chart: &Chart) -> (Vec<usize>, Vec<ColorPlace>) {
    let mut groups: Vec<ColorPlace> = Vec::new();
    let mut known = HashMap::new();
    let mut group_of = Vec::with_capacity(chart.key().len());
    let used = crate::chart::used(chart);
    for (number, entry) in chart.key().iter().enumerate() {
        let threads: Vec<&KeyThread> = entry.work.threads().collect();
        let group = *known.entry((entry.color, threads)).or_insert_with(|| {
            groups.push(ColorPlace::of_entry(entry));
            groups.len() - 1
        });
        group_of.push(group);
        let is_used = used.get(number).copied().unwrap_or(false);
        if let (true, Some(id), Some(held)) = (is_used, EntryId::new(number), groups.get_mut(group))
        {
            held.add(id, entry);
        }
    }
    (group_of, groups)
}

/// For each cell the first of the split areas that holds it, from 1.
fn split_cells(chart: &Chart, split: &[Label]) -> Vec<u16> {
    if split.is_empty() {
        return Vec::new();
    }
    let mut area_of = vec![0_u16; chart.size().cells()];
    for (number, name) in split.iter().enumerate().rev() {
        let number = u16::try_from(number + 1).unwrap_or(u16::MAX);
        for run in chart.areas().iter().filter(|area| area.name() == name).flat_map(|a| a.runs()) {
            let Some(first) = chart.size().place(run.x, run.y) else { continue };
            let cells = area_of.iter_mut().skip(first).take(run.count.into());
            cells.for_each(|cell| *cell = number);
        }
    }
    area_of
}

/// How much is worked in each group, outside and inside of areas.
fn usages(chart: &Chart, of_mark: &OfMark, count: usize) -> Vec<Usage> {
    let mut usages = vec![Usage::default(); count];
    if of_mark.is_one_area() {
        for (entry, usage) in Usage::of(chart).into_iter().enumerate() {
            let group = of_mark.group_of.get(entry).and_then(|group| usages.get_mut(*group));
            group.into_iter().for_each(|sum| *sum = sum.plus(&usage));
        }
        return usages;
    }
    let mut with = |local: usize, add: &dyn Fn(&mut Usage)| {
        usages.get_mut(local).into_iter().for_each(add);
    };
    for (place, cell) in chart.grid().cells().enumerate() {
        match cell {
            Cell::Bare => {}
            Cell::Full(entry) => {
                with(of_mark.local(entry, Spot::Cell(place)), &|usage| usage.full += 1)
            }
            Cell::Parts(parts) => {
                for part in parts {
                    let local = of_mark.local(part.entry, Spot::Cell(place));
                    with(local, &|usage| usage.add_part(part.shape));
                }
            }
        }
    }
    for line in chart.lines() {
        with(of_mark.local(line.entry, Spot::of(line)), &|usage| {
            usage.line_length += line.length()
        });
    }
    for knot in chart.knots() {
        with(of_mark.local(knot.entry, Spot::of(knot)), &|usage| usage.knots += 1);
    }
    usages
}

/// The color of each cell.
fn color_grid(chart: &Chart, of_mark: &OfMark) -> Vec<u16> {
    let cells = chart.grid().slots().iter().enumerate();
    let color = |(place, slot): (usize, &u16)| match crate::chart::slot_entry(*slot) {
        Some(entry) => of_mark.color(entry, Spot::Cell(place)),
        // The two slots that name no entry mean the same in both grids.
        None => *slot,
    };
    cells.map(color).collect()
}
