//! Notes about single stitches: strays along edges, and those that stand alone.
//! It does not move them.

use dyekin_core::table::Finish;
use dyekin_core::{Srgb8, TableId};

use super::Findings;
use super::note::{Cells, Code, Finding};
use super::view::View;
use crate::chart::Cell;
use crate::clean::{Range, stray};

/// What was counted on the way.
#[derive(Clone, Copy, Debug)]
pub(super) struct Counted {
    pub(super) lone: u64,
    pub(super) stitched: u64,
}

/// Finds strays; the answer says of each color whether nothing but strays is worked in it.
pub(super) fn strays(view: &View<'_>, found: &mut Findings<'_>) -> Vec<bool> {
    let none = vec![false; view.colors().len()];
    let Some(chart) = view.chart().filter(|_| found.wants(Code::StrayEdges)) else { return none };
    // A table that is not at hand has a note of its own.
    let Some(range) = range(view) else { return none };
    let number = |cell: Cell<'_>| match cell {
        Cell::Full(entry) => view.number(entry),
        Cell::Bare | Cell::Parts(_) => None,
    };
    let width = usize::from(chart.size().width());
    let cells = crate::clean::Cells {
        width,
        cells: chart.grid().cells().map(number).collect(),
        colors: view.colors().iter().map(|color| color.color).collect(),
        goals: Vec::new(),
    };
    let moves = stray(&cells, &range).moves;
    if moves.is_empty() {
        return none;
    }
    let mut leaving = vec![0_u64; view.colors().len()];
    for held in &moves {
        leaving.get_mut(usize::from(held.from)).into_iter().for_each(|count| *count += 1);
    }
    let only: Vec<bool> =
        view.colors().iter().zip(&leaving).map(|(color, count)| color.stitches == *count).collect();
    let colors = only.iter().filter(|only| **only).count() as u64;
    let mut left: Vec<_> = view.colors().iter().zip(&leaving).filter(|(_, n)| **n > 0).collect();
    left.sort_by_key(|(_, count)| std::cmp::Reverse(**count));
    let left = left.into_iter().map(|(color, _)| color.clone()).collect();
    let cells = Cells::of(moves.iter().map(|held| held.place), width);
    found.add(Finding::StrayEdges { colors }, left, cells);
    only
}

/// The colors that the stitches could have had; `None` when a table of theirs is not at hand.
fn range(view: &View<'_>) -> Option<Range> {
    let mut tables: Vec<&TableId> = Vec::new();
    for thread in view.colors().iter().flat_map(|color| &color.threads) {
        if !tables.contains(&&thread.table) {
            tables.push(&thread.table);
        }
    }
    if tables.is_empty() {
        return Some(Range::Any);
    }
    let mut colors: Vec<Srgb8> = view.colors().iter().map(|color| color.color).collect();
    for id in tables {
        let plain = view.table(id)?.threads().iter().filter(|held| held.finish == Finish::Plain);
        colors.extend(plain.map(|held| held.color.srgb()));
    }
    colors.sort_unstable();
    colors.dedup();
    Some(Range::Threads(colors))
}

/// Counts lone stitches: full ones without a stitch of their color among the eight cells around. A
/// part stitch is a stitch of its color, but never a lone one. A key alone has none to count.
pub(super) fn lone(view: &View<'_>, found: &mut Findings<'_>) -> Option<Counted> {
    let chart = view.chart()?;
    let size = chart.size();
    let width = usize::from(size.width());
    let class = classes(view);
    let of = |number: u16| class.get(usize::from(number)).copied().unwrap_or(number);
    let full = |place: usize| match chart.grid().at(place) {
        Cell::Full(entry) => view.number(entry).map(of),
        Cell::Bare | Cell::Parts(_) => None,
    };
    let classes: Vec<Option<u16>> = (0..size.cells()).map(full).collect();
    let has_part = |place: usize, own: u16| match chart.grid().at(place) {
        Cell::Parts(parts) => parts.iter().any(|part| view.number(part.entry).map(of) == Some(own)),
        Cell::Bare | Cell::Full(_) => false,
    };
    let has_parts = chart.grid().part_cells().next().is_some();
    let mut places = Vec::new();
    let mut stitched = chart.grid().part_cells().count() as u64;
    for (place, own) in classes.iter().enumerate() {
        let Some(own) = own else { continue };
        stitched += 1;
        let near = |other: usize| {
            classes.get(other) == Some(&Some(*own)) || (has_parts && has_part(other, *own))
        };
        if !around(place, width, size.cells()).any(near) {
            places.push(place);
        }
    }
    let lone = places.len() as u64;
    #[expect(clippy::cast_precision_loss, reason = "at most four million cells")]
    let percent = if stitched == 0 { 0.0 } else { lone as f64 * 100.0 / stitched as f64 };
    if percent > found.limits.lone_above {
        let cells = Cells::of(places, width);
        found.add(Finding::LoneStitches { percent }, Vec::new(), cells);
    }
    Some(Counted { lone, stitched })
}

/// The first color of the same threads: to whoever stitches they are one.
fn classes(view: &View<'_>) -> Vec<u16> {
    let colors = view.colors();
    let mut first = std::collections::HashMap::new();
    let number = |place: usize| u16::try_from(place).unwrap_or(u16::MAX);
    let class = |(place, color): (usize, &super::Worked)| {
        if color.threads.is_empty() {
            return number(place);
        }
        *first.entry(color.threads.clone()).or_insert_with(|| number(place))
    };
    colors.iter().enumerate().map(class).collect()
}

/// The up to eight cells around one.
fn around(place: usize, width: usize, cells: usize) -> impl Iterator<Item = usize> {
    let (x, y) = (place % width.max(1), place / width.max(1));
    let rows = y.saturating_sub(1)..=y + 1;
    let columns = x.saturating_sub(1)..=(x + 1).min(width.saturating_sub(1));
    rows.flat_map(move |row| columns.clone().map(move |column| row * width + column))
        .filter(move |other| *other != place && *other < cells)
}
