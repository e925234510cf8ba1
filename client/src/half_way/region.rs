//! The areas of one thread on a chart: cells that hang together, what of them is stitched, what
//! touches what, and how much a join in one of them would be seen.
//! It does not know how much thread is left.

use std::collections::HashMap;

use dyekin_core::difference::Formula;
use dyekin_core::{Color, Difference, Srgb8};

use crate::chart::{Cell, Chart, EntryId, Size};

/// Two cells beside or above each other, in halves of a cell edge.
pub(crate) const EDGE: u64 = 2;

/// Two cells that meet at a corner and nowhere else of their area: half an edge. House choice.
pub(crate) const CORNER: u64 = 1;

/// Areas of at least so many stitches are large: a join in them weighs what it is long.
/// House choice, as are the next three.
const LARGE: u64 = 100;

/// Areas of fewer stitches are small: a join in them weighs three times as much.
const SMALL: u64 = 25;

/// An area stands out when it differs by at least so much from what is around it, on average over
/// its outline, in CIEDE2000 as screens show colors: four times the visible limit.
const STANDS_OUT: f64 = 12.0;

/// What has no number of its own.
const NONE: u32 = u32::MAX;

/// What is worked in one thread, or in the same two of a blend, cell by cell.
pub(crate) struct Board {
    size: Size,
    /// Quarters of a stitch in each cell; 0 where the thread is not.
    quarters: Vec<u8>,
    /// Cells that are stitched.
    done: Vec<bool>,
    /// Cells that must stay in the thread.
    held: Vec<bool>,
    /// The area of each cell, stitched or not.
    area: Vec<u32>,
    /// Stitches of each area, in quarters.
    sizes: Vec<u64>,
    /// How much a join in each area weighs.
    weights: Vec<u64>,
}

/// Cells of one area that are not stitched and hang together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Region {
    /// Places of its cells, in reading order.
    pub(crate) cells: Vec<usize>,
    /// How much a join in it weighs.
    pub(crate) weight: u64,
    /// Quarters of a stitch of the whole area, what is stitched included.
    pub(crate) area_quarters: u64,
}

/// How two cells of one area meet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Contact {
    /// The place of the other cell.
    pub(crate) other: usize,
    /// [`EDGE`] or [`CORNER`].
    pub(crate) length: u64,
}

impl Board {
    /// The areas of what `is_of` says is worked in the thread.
    pub(crate) fn new(
        chart: &Chart,
        is_of: &dyn Fn(EntryId) -> bool,
        (done, held): (&[bool], &[bool]),
    ) -> Self {
        let quarters: Vec<u8> = chart
            .grid()
            .cells()
            .map(|cell| match cell {
                Cell::Bare => 0,
                Cell::Full(entry) => 4 * u8::from(is_of(entry)),
                Cell::Parts(parts) => {
                    let own = parts.iter().filter(|part| is_of(part.entry));
                    let sum: u64 = own.map(|part| part.shape.quarters()).sum();
                    u8::try_from(sum).unwrap_or(u8::MAX)
                }
            })
            .collect();
        let here = |cells: &[bool]| -> Vec<bool> {
            let own = quarters.iter().zip(cells);
            own.map(|(quarters, cell)| *quarters > 0 && *cell).collect()
        };
        let (done, held) = (here(done), here(held));
        let mut board = Self {
            size: chart.size(),
            area: Vec::new(),
            sizes: Vec::new(),
            weights: Vec::new(),
            quarters,
            done,
            held,
        };
        let (area, cells) = board.hang_together(&|place| board.quarters_at(place) > 0);
        let sum = |cells: &Vec<usize>| cells.iter().map(|place| board.quarters_at(*place)).sum();
        board.sizes = cells.iter().map(sum).collect();
        board.area = area;
        board.weights = board.weigh(chart);
        board
    }

    /// Quarters of a stitch in a cell.
    pub(crate) fn quarters_at(&self, place: usize) -> u64 {
        self.quarters.get(place).copied().map_or(0, u64::from)
    }

    /// True for a cell of the thread that is stitched.
    pub(crate) fn is_done(&self, place: usize) -> bool {
        self.done.get(place).copied().unwrap_or(false)
    }

    /// True for a cell that must stay in the thread.
    pub(crate) fn is_held(&self, place: usize) -> bool {
        self.held.get(place).copied().unwrap_or(false)
    }

    /// Quarters of a stitch that are stitched.
    pub(crate) fn done_quarters(&self) -> u64 {
        let all = self.quarters.iter().zip(&self.done);
        all.map(|(quarters, done)| if *done { u64::from(*quarters) } else { 0 }).sum()
    }

    /// Everything that is not stitched, by areas, in reading order of their first cells.
    pub(crate) fn open_regions(&self) -> Vec<Region> {
        let is_open = |place: usize| self.quarters_at(place) > 0 && !self.is_done(place);
        let (_, cells) = self.hang_together(&is_open);
        let region = |cells: Vec<usize>| {
            let area = cells.first().and_then(|place| self.area.get(*place)).copied();
            let area = area.map_or(usize::MAX, |area| area as usize);
            Region {
                weight: self.weights.get(area).copied().unwrap_or(1),
                area_quarters: self.sizes.get(area).copied().unwrap_or(0),
                cells,
            }
        };
        cells.into_iter().map(region).collect()
    }

    /// The pieces that some cells fall into, as sums of their quarters.
    pub(crate) fn pieces(&self, cells: &[usize]) -> Vec<u64> {
        let mut left: HashMap<usize, bool> = cells.iter().map(|place| (*place, true)).collect();
        let mut pieces = Vec::new();
        for first in cells {
            let mut waiting = vec![*first];
            let mut sum = 0;
            while let Some(place) = waiting.pop() {
                match left.get_mut(&place) {
                    Some(open) if *open => *open = false,
                    _ => continue,
                }
                sum += self.quarters_at(place);
                waiting.extend(self.around(place));
            }
            if sum > 0 {
                pieces.push(sum);
            }
        }
        pieces
    }

    /// How a cell meets other cells of its area.
    pub(crate) fn contacts(&self, place: usize) -> impl Iterator<Item = Contact> {
        let width = usize::from(self.size.width());
        let (x, y) = (place % width, place / width);
        let has = move |x: Option<usize>, y: Option<usize>| {
            let other = self.at(x, y)?;
            (self.quarters_at(other) > 0).then_some(other)
        };
        STEPS.into_iter().filter_map(move |(dx, dy)| {
            let (beside, above) = (x.checked_add_signed(dx), y.checked_add_signed(dy));
            let other = has(beside, above)?;
            if dx == 0 || dy == 0 {
                return Some(Contact { other, length: EDGE });
            }
            let is_alone = has(beside, Some(y)).is_none() && has(Some(x), above).is_none();
            is_alone.then_some(Contact { other, length: CORNER })
        })
    }

    /// The column of a cell, from 0.
    pub(crate) fn column(&self, place: usize) -> usize {
        place % usize::from(self.size.width())
    }

    /// The row of a cell, from 0.
    pub(crate) fn row(&self, place: usize) -> usize {
        place / usize::from(self.size.width())
    }

    /// First and last row and column of some cells, from 0; all 0 where there are none.
    pub(crate) fn bounds(&self, cells: &[usize]) -> ((usize, usize), (usize, usize)) {
        let span = |number: &dyn Fn(usize) -> usize| {
            let all = || cells.iter().map(|place| number(*place));
            (all().min().unwrap_or(0), all().max().unwrap_or(0))
        };
        (span(&|place| self.row(place)), span(&|place| self.column(place)))
    }

    fn at(&self, x: Option<usize>, y: Option<usize>) -> Option<usize> {
        let (x, y) = (u16::try_from(x?).ok()?, u16::try_from(y?).ok()?);
        self.size.place(x, y)
    }

    /// The up to eight cells around a cell.
    fn around(&self, place: usize) -> impl Iterator<Item = usize> {
        let width = usize::from(self.size.width());
        let (x, y) = (place % width, place / width);
        STEPS
            .into_iter()
            .filter_map(move |(dx, dy)| self.at(x.checked_add_signed(dx), y.checked_add_signed(dy)))
    }

    /// Cells that hang together, edge to edge or corner to corner: the number of each cell's group
    /// and the cells of each, in reading order.
    fn hang_together(&self, is_in: &dyn Fn(usize) -> bool) -> (Vec<u32>, Vec<Vec<usize>>) {
        let mut group = vec![NONE; self.quarters.len()];
        let mut groups: Vec<Vec<usize>> = Vec::new();
        let mut waiting = Vec::new();
        for first in 0..group.len() {
            if !is_in(first) || group.get(first).copied() != Some(NONE) {
                continue;
            }
            let number = u32::try_from(groups.len()).unwrap_or(NONE - 1);
            let mut cells = Vec::new();
            waiting.push(first);
            while let Some(place) = waiting.pop() {
                match group.get_mut(place) {
                    Some(held) if *held == NONE && is_in(place) => *held = number,
                    _ => continue,
                }
                cells.push(place);
                waiting.extend(self.around(place));
            }
            cells.sort_unstable();
            groups.push(cells);
        }
        (group, groups)
    }

    /// How much a join in each area weighs: once in large areas, twice and three times in smaller
    /// ones, and once more where the area stands out from what is around it.
    fn weigh(&self, chart: &Chart) -> Vec<u64> {
        let mut outlines = vec![(0.0_f64, 0_u32); self.sizes.len()];
        let mut known = HashMap::new();
        let width = usize::from(self.size.width());
        for (place, area) in self.area.iter().enumerate().filter(|(_, area)| **area != NONE) {
            let (x, y) = (place % width, place / width);
            for (dx, dy) in SIDES {
                let beside = self.at(x.checked_add_signed(dx), y.checked_add_signed(dy));
                let outer = beside.filter(|other| self.quarters_at(*other) == 0);
                let colors =
                    outer.and_then(|other| Some((shown(chart, place)?, shown(chart, other)?)));
                let Some(pair) = colors else { continue };
                let difference = *known.entry(pair).or_insert_with(|| apart(pair));
                if let Some((sum, count)) = outlines.get_mut(*area as usize) {
                    *sum += difference;
                    *count += 1;
                }
            }
        }
        let weight = |(quarters, (sum, count)): (&u64, (f64, u32))| {
            let by_size = match quarters.div_ceil(4) {
                LARGE.. => 1,
                SMALL.. => 2,
                _ => 3,
            };
            let stands_out = count > 0 && sum / f64::from(count) >= STANDS_OUT;
            by_size + u64::from(stands_out)
        };
        self.sizes.iter().zip(outlines).map(weight).collect()
    }
}

/// The steps to the cells around a cell.
const STEPS: [(isize, isize); 8] =
    [(-1, -1), (0, -1), (1, -1), (-1, 0), (1, 0), (-1, 1), (0, 1), (1, 1)];

/// The steps across the sides of a cell.
const SIDES: [(isize, isize); 4] = [(0, -1), (-1, 0), (1, 0), (0, 1)];

/// The color of a cell as a screen shows it, of the cloth where it is bare and known.
fn shown(chart: &Chart, place: usize) -> Option<Srgb8> {
    let entry = match chart.grid().at(place) {
        Cell::Bare => return chart.cloth().color,
        Cell::Full(entry) => entry,
        Cell::Parts(parts) => parts.first()?.entry,
    };
    chart.entry(entry).map(|entry| entry.color)
}

/// The difference of two colors as screens show them.
fn apart((one, other): (Srgb8, Srgb8)) -> f64 {
    let (one, other) = (Color::screen(one), Color::screen(other));
    Difference::between(&one, &other, Formula::DEFAULT).map_or(0.0, |found| found.delta_e.value())
}
