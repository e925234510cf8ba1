//! Which colors a summary has and which cell belongs to which of them.
//! It does not know what touches what.

use std::collections::HashMap;

use dyekin_core::{Color, Srgb8, ThreadRef};

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
}

impl OfMark {
    fn local(&self, entry: EntryId, cell: Option<usize>) -> usize {
        let area = cell.and_then(|cell| self.area_of.get(cell)).copied().unwrap_or(0);
        let group = self.group_of.get(entry.index()).copied().unwrap_or(0);
        usize::from(area) * self.groups + group
    }

    /// The color of an entry in a cell, or of a line or knot where no cell is given.
    pub(super) fn color(&self, entry: EntryId, cell: Option<usize>) -> u16 {
        self.color.get(self.local(entry, cell)).copied().unwrap_or(CLOTH)
    }
}

/// Finds the colors of a chart.
pub(super) fn places(chart: &Chart, split: &[Label]) -> Places {
    let (group_of, groups) = groups(chart);
    let area_of = split_cells(chart, split);
    let color = Vec::new();
    let mut of_mark = OfMark { group_of, groups: groups.len(), color, area_of };
    let counted = usages(chart, &of_mark, groups.len() * (split.len() + 1));
    let mut places = Vec::new();
    let mut used_usages = Vec::new();
    of_mark.color = vec![CLOTH; counted.len()];
    // In the order of the key; the same color in areas follows the one outside.
    for (group, found) in groups.iter().enumerate() {
        for area in 0..=split.len() {
            let local = area * groups.len() + group;
            let Some(usage) = counted.get(local).filter(|usage| !usage.is_nothing()) else {
                continue;
            };
            if let Some(color) = of_mark.color.get_mut(local) {
                *color = u16::try_from(places.len()).unwrap_or(CLOTH - 2).min(CLOTH - 2);
            }
            let area = area.checked_sub(1).and_then(|area| split.get(area)).cloned();
            places.push(ColorPlace { area, ..found.clone() });
            used_usages.push(*usage);
        }
    }
    let grid = color_grid(chart, &of_mark);
    Places { grid, places, usages: used_usages, of_mark }
}

/// The colors of a chart for those who change entries: which entry is which color in which area.
pub(crate) struct Areas {
    places: Places,
    entries: usize,
    areas: usize,
    usages: Vec<u64>,
}

impl Areas {
    /// The colors of a chart with these areas split out.
    pub(crate) fn of(chart: &Chart, split: &[Label]) -> Self {
        let places = places(chart, split);
        let areas = split.len() + 1;
        let entries = chart.key().len();
        let mut areas = Self { places, entries, areas, usages: vec![0; areas * entries] };
        areas.count_stitches(chart);
        areas
    }

    /// Stitches of each entry in each area; marks count for the entry outside of areas.
    fn count_stitches(&mut self, chart: &Chart) {
        let entries = self.entries;
        let area_of = std::mem::take(&mut self.places.of_mark.area_of);
        let mut add = |entry: EntryId, cell: Option<usize>| {
            let area = cell.and_then(|cell| area_of.get(cell)).copied().map_or(0, usize::from);
            let slot = area * entries + entry.index();
            self.usages.get_mut(slot).into_iter().for_each(|count| *count += 1);
        };
        for (place, cell) in chart.grid().cells().enumerate() {
            match cell {
                Cell::Bare => {}
                Cell::Full(entry) => add(entry, Some(place)),
                Cell::Parts(parts) => parts.iter().for_each(|part| add(part.entry, Some(place))),
            }
        }
        chart.lines().iter().for_each(|line| add(line.entry, None));
        chart.knots().iter().for_each(|knot| add(knot.entry, None));
        self.places.of_mark.area_of = area_of;
    }

    /// The colors.
    pub(crate) fn places(&self) -> &[ColorPlace] {
        &self.places.places
    }

    /// Split areas, and one for all that is outside of them.
    pub(crate) fn count(&self) -> usize {
        self.areas
    }

    /// The area of a cell: 0 is outside, as are lines and knots.
    pub(crate) fn area(&self, cell: Option<usize>) -> usize {
        let area_of = &self.places.of_mark.area_of;
        cell.and_then(|cell| area_of.get(cell)).copied().map_or(0, usize::from)
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
    if of_mark.area_of.is_empty() {
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
            Cell::Full(entry) => with(of_mark.local(entry, Some(place)), &|usage| usage.full += 1),
            Cell::Parts(parts) => {
                for part in parts {
                    let local = of_mark.local(part.entry, Some(place));
                    with(local, &|usage| usage.add_part(part.shape));
                }
            }
        }
    }
    for line in chart.lines() {
        with(of_mark.local(line.entry, None), &|usage| usage.line_length += line.length());
    }
    for knot in chart.knots() {
        with(of_mark.local(knot.entry, None), &|usage| usage.knots += 1);
    }
    usages
}

/// The color of each cell.
fn color_grid(chart: &Chart, of_mark: &OfMark) -> Vec<u16> {
    let cells = chart.grid().slots().iter().enumerate();
    let color = |(place, slot): (usize, &u16)| match crate::chart::slot_entry(*slot) {
        Some(entry) => of_mark.color(entry, Some(place)),
        // The two slots that name no entry mean the same in both grids.
        None => *slot,
    };
    cells.map(color).collect()
}
