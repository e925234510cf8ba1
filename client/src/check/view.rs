//! A chart as the finders see it: its colors with their threads, places and neighbors.
//! It does not know what is worth a note.

use std::collections::HashMap;

use dyekin_core::error::Error;
use dyekin_core::palette::Side;
use dyekin_core::{Color, Difference, Formula, Table, TableId, Thread, ThreadRef};

use super::{Given, Worked};
use crate::chart::{Cell, Chart, Content, EntryId, KeyThread, Point};
use crate::summary::{ColorPlace, Summary, SummaryOptions};

/// A chart, or a key alone, with all that the finders ask of it.
pub(super) struct View<'c> {
    content: &'c Content,
    tables: &'c [Table],
    summary: Summary,
    cloth: Option<Color>,
    worked: Vec<Worked>,
    number_of: Vec<Option<u16>>,
    touching: HashMap<(usize, usize), u64>,
    on_cloth: Vec<u64>,
}

impl<'c> View<'c> {
    pub(super) fn of(given: Given<'c>, tables: &'c [Table]) -> Result<Self, Error> {
        let content = given.content;
        let color_of = |held: &KeyThread| thread(tables, &held.thread).map(|found| found.color);
        let summary = match content {
            Content::Chart(chart) => Summary::of_chart(
                chart,
                SummaryOptions { split: &[], apart: None, color_of: &color_of },
            )?,
            Content::Key(key) => Summary::of_key(key)?,
        };
        let number_of = match content {
            Content::Chart(chart) => numbers(chart, &summary),
            Content::Key(_) => Vec::new(),
        };
        let first = match content {
            Content::Chart(chart) => first_cells(chart, &number_of, summary.places().len()),
            Content::Key(_) => vec![None; summary.places().len()],
        };
        let stitches = summary.palette().colors().iter().map(|color| color.stitches);
        let worked = summary.places().iter().zip(stitches).zip(first);
        let worked =
            worked.map(|((place, stitches), first)| named(place, stitches, first)).collect();
        let (touching, on_cloth) = contacts(&summary);
        let cloth = given.cloth.map(Color::screen).or_else(|| summary.palette().cloth().copied());
        Ok(Self { content, tables, summary, cloth, worked, number_of, touching, on_cloth })
    }

    pub(super) fn chart(&self) -> Option<&'c Chart> {
        match self.content {
            Content::Chart(chart) => Some(chart),
            Content::Key(_) => None,
        }
    }

    pub(super) fn summary(&self) -> &Summary {
        &self.summary
    }

    pub(super) fn cloth(&self) -> Option<&Color> {
        self.cloth.as_ref()
    }

    /// The colors as notes name them.
    pub(super) fn colors(&self) -> &[Worked] {
        &self.worked
    }

    /// The color of a place in the palette: the table's where one thread is known, else the chart's.
    pub(super) fn color(&self, number: usize) -> Option<&Color> {
        self.summary.palette().colors().get(number).map(|held| &held.color)
    }

    /// How far the second color looks from the first: as the tables have them; where those were
    /// measured under different conditions, as the chart shows them.
    pub(super) fn difference(&self, first: usize, second: usize) -> Option<Difference> {
        let known = Difference::between(self.color(first)?, self.color(second)?, Formula::DEFAULT);
        known.ok().or_else(|| {
            let shown =
                |number: usize| self.worked.get(number).map(|held| Color::screen(held.color));
            Difference::between(&shown(first)?, &shown(second)?, Formula::DEFAULT).ok()
        })
    }

    /// How far a color looks from the cloth; `None` when nobody says what color that has.
    pub(super) fn against_cloth(&self, number: usize) -> Option<Difference> {
        // A cloth is never measured: the pair always has conditions to be compared under.
        Difference::between(self.cloth()?, self.color(number)?, Formula::DEFAULT).ok()
    }

    /// Stitch sides along which two colors touch; `None` when nobody knows.
    pub(super) fn edges(&self, first: usize, second: usize) -> Option<u64> {
        self.summary.palette().neighbors()?;
        let pair = (first.min(second), first.max(second));
        Some(self.touching.get(&pair).copied().unwrap_or(0))
    }

    /// All pairs of colors that touch, with their stitch sides.
    pub(super) fn pairs(&self) -> impl Iterator<Item = ((usize, usize), u64)> + '_ {
        self.touching.iter().map(|(pair, edges)| (*pair, *edges))
    }

    /// Stitch sides along which a color touches bare cloth.
    pub(super) fn cloth_edges(&self, number: usize) -> u64 {
        self.on_cloth.get(number).copied().unwrap_or(0)
    }

    /// A thread of the tables that are at hand.
    pub(super) fn thread(&self, wanted: &ThreadRef) -> Option<&'c Thread> {
        thread(self.tables, wanted)
    }

    /// A table that is at hand.
    pub(super) fn table(&self, id: &TableId) -> Option<&'c Table> {
        self.tables.iter().find(|table| table.id() == id)
    }

    /// Tables at hand of which the chart's threads name another version.
    pub(super) fn other_versions(&self) -> Vec<&'c TableId> {
        let held = self.summary.places().iter().flat_map(ColorPlace::threads);
        let differing: std::collections::HashSet<&TableId> = held
            .filter(|held| {
                let table = self.table(&held.thread.table);
                table.is_some_and(|table| table.hash() != held.table_hash)
            })
            .map(|held| &held.thread.table)
            .collect();
        self.tables.iter().map(Table::id).filter(|id| differing.contains(id)).collect()
    }

    /// The color of an entry by its place in the palette; `None` for one that nothing is worked in.
    pub(super) fn number(&self, entry: EntryId) -> Option<u16> {
        self.number_of.get(entry.index()).copied().flatten()
    }
}

fn thread<'t>(tables: &'t [Table], wanted: &ThreadRef) -> Option<&'t Thread> {
    tables.iter().find(|table| *table.id() == wanted.table)?.thread(&wanted.code)
}

/// The color of each entry by its place in the palette.
fn numbers(chart: &Chart, summary: &Summary) -> Vec<Option<u16>> {
    let mut number_of = vec![None; chart.key().len()];
    for (number, place) in summary.places().iter().enumerate() {
        for entry in place.entries() {
            if let Some(held) = number_of.get_mut(entry.index()) {
                *held = u16::try_from(number).ok();
            }
        }
    }
    number_of
}

/// The first cell of each color: of its stitches, else of its lines, else of its knots.
fn first_cells(chart: &Chart, number_of: &[Option<u16>], colors: usize) -> Vec<Option<(u16, u16)>> {
    let mut first: Vec<Option<(u16, u16)>> = vec![None; colors];
    let mut seen = |entry: EntryId, at: (u16, u16)| {
        let number = number_of.get(entry.index()).copied().flatten().map(usize::from);
        if let Some(held) = number.and_then(|number| first.get_mut(number)) {
            held.get_or_insert(at);
        }
    };
    let size = chart.size();
    let mut cells = chart.grid().cells();
    for y in 0..size.height() {
        for x in 0..size.width() {
            match cells.next() {
                Some(Cell::Full(entry)) => seen(entry, (x, y)),
                Some(Cell::Parts(parts)) => parts.iter().for_each(|part| seen(part.entry, (x, y))),
                Some(Cell::Bare) | None => {}
            }
        }
    }
    let cell = |point: Point| {
        ((point.half_x / 2).min(size.width() - 1), (point.half_y / 2).min(size.height() - 1))
    };
    chart.lines().iter().for_each(|line| seen(line.entry, cell(line.from())));
    chart.knots().iter().for_each(|knot| seen(knot.entry, cell(knot.at)));
    first
}

fn named(place: &ColorPlace, stitches: u64, first: Option<(u16, u16)>) -> Worked {
    Worked {
        color: place.color(),
        threads: place.thread_refs(),
        symbols: place.symbols().to_vec(),
        name: place.name().cloned(),
        stitches,
        first,
    }
}

/// Contacts between colors, the smaller number first, and with the cloth.
fn contacts(summary: &Summary) -> (HashMap<(usize, usize), u64>, Vec<u64>) {
    let mut touching = HashMap::new();
    let mut on_cloth = vec![0; summary.places().len()];
    for pair in summary.palette().neighbors().into_iter().flatten() {
        match pair.second {
            Side::Cloth => {
                on_cloth.get_mut(pair.first).into_iter().for_each(|held| *held += pair.edges);
            }
            Side::Color(second) => {
                let key = (pair.first.min(second), pair.first.max(second));
                *touching.entry(key).or_default() += pair.edges;
            }
        }
    }
    (touching, on_cloth)
}
