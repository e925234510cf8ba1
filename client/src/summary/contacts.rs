//! Which colors of a chart touch, and along how many cell edges.
//! It does not know colors, only their numbers.

use dyekin_core::palette::{MAX_NEIGHBORS, Neighbors, Side};

use super::apart::Spot;
use super::place::{CLOTH, IN_PARTS, OfMark};
use crate::chart::{Chart, Corner, Knot, Line, Part, Shape, Size};

/// Counts contacts in a square table; the last row and column are the cloth.
struct Counter {
    colors: usize,
    edges: Vec<u32>,
}

impl Counter {
    fn new(colors: usize) -> Self {
        Self { colors, edges: vec![0; (colors + 1) * (colors + 1)] }
    }

    fn add(&mut self, first: u16, second: u16) {
        if first == second {
            return;
        }
        // The cloth is the largest number and becomes the last column.
        let (low, high) = (first.min(second), first.max(second));
        let high = usize::from(high).min(self.colors);
        if let Some(edges) = self.edges.get_mut(usize::from(low) * (self.colors + 1) + high) {
            *edges = edges.saturating_add(1);
        }
    }

    /// The pairs that touch, and how many they are; beyond `limit` the longest contacts, and of
    /// equal ones the first.
    fn neighbors(&self, limit: usize) -> (Vec<Neighbors>, usize) {
        let found = self.edges.iter().filter(|edges| **edges > 0).count();
        let least = if found > limit { self.least_edges(limit) } else { 0 };
        let longer = self.edges.iter().filter(|edges| **edges > least).count();
        let mut room = limit.saturating_sub(longer);
        let mut neighbors = Vec::with_capacity(found.min(limit));
        for (first, row) in self.edges.chunks(self.colors + 1).take(self.colors).enumerate() {
            for (second, edges) in row.iter().enumerate().filter(|(_, edges)| **edges > 0) {
                if *edges < least || (*edges == least && room == 0) {
                    continue;
                }
                room -= usize::from(*edges == least);
                let second = if second == self.colors { Side::Cloth } else { Side::Color(second) };
                neighbors.push(Neighbors { first, second, edges: u64::from(*edges) });
            }
        }
        (neighbors, found)
    }

    /// The smallest length such that at most `limit` contacts are longer. Counted, not sorted: a
    /// noisy picture has millions of pairs.
    fn least_edges(&self, limit: usize) -> u32 {
        let mut of_length = vec![0_usize; MAX_LENGTH_COUNTED];
        for edges in self.edges.iter().filter(|edges| **edges > 0) {
            let length = (*edges as usize).min(MAX_LENGTH_COUNTED - 1);
            of_length.get_mut(length).into_iter().for_each(|count| *count += 1);
        }
        let mut longer = 0;
        for (length, count) in of_length.iter().enumerate().rev() {
            longer += count;
            if longer > limit {
                return u32::try_from(length).unwrap_or(u32::MAX);
            }
        }
        0
    }
}

/// Contacts from this length on are told apart from shorter ones only: more than 200,000 pairs of
/// such length do not fit on the largest chart.
const MAX_LENGTH_COUNTED: usize = 1_024;

/// The contacts of a chart whose cells have the colors of `grid`, and how many pairs touch.
pub(super) fn contacts(
    chart: &Chart,
    grid: &[u16],
    of_mark: &OfMark,
    colors: usize,
) -> (Vec<Neighbors>, usize) {
    let mut walk = Walk { chart, grid, of_mark, counter: Counter::new(colors) };
    walk.cells();
    walk.parts();
    chart.lines().iter().for_each(|line| walk.line(line));
    chart.knots().iter().for_each(|knot| walk.knot(*knot));
    walk.counter.neighbors(MAX_NEIGHBORS)
}

struct Walk<'c> {
    chart: &'c Chart,
    grid: &'c [u16],
    of_mark: &'c OfMark,
    counter: Counter,
}

impl Walk<'_> {
    /// Cells without part stitches, side by side and one above the other.
    fn cells(&mut self) {
        let width = usize::from(self.chart.size().width());
        let mut above: &[u16] = &[];
        for row in self.grid.chunks(width) {
            for (left, right) in row.iter().zip(row.iter().skip(1)) {
                self.whole(*left, *right);
            }
            for (upper, lower) in above.iter().zip(row) {
                self.whole(*upper, *lower);
            }
            above = row;
        }
    }

    fn whole(&mut self, first: u16, second: u16) {
        if first != second && first != IN_PARTS && second != IN_PARTS {
            self.counter.add(first, second);
        }
    }

    /// Part stitches among each other, with the cloth in their cell, and through its sides.
    fn parts(&mut self) {
        let width = usize::from(self.chart.size().width());
        let chart = self.chart;
        for (place, parts) in chart.grid().part_cells() {
            self.inside(place, parts);
            let (x, y) = (place % width, place / width);
            self.side(place, Toward::Right, (x + 1 < width).then_some(place + 1), true);
            self.side(place, Toward::Left, x.checked_sub(1).map(|_| place - 1), false);
            self.side(place, Toward::Down, Some(place + width), true);
            self.side(place, Toward::Up, y.checked_sub(1).map(|_| place - width), false);
        }
    }

    fn inside(&mut self, place: usize, parts: &[Part]) {
        let mut colors: Vec<u16> =
            parts.iter().map(|part| self.of_mark.color(part.entry, Spot::Cell(place))).collect();
        colors.sort_unstable();
        colors.dedup();
        if parts.iter().map(|part| part.shape.quarters()).sum::<u64>() < 4 {
            colors.push(CLOTH);
        }
        for (number, first) in colors.iter().enumerate() {
            for second in colors.iter().skip(number + 1) {
                self.counter.add(*first, *second);
            }
        }
    }

    /// One side of a cell with parts. Between two such cells only the first one counts.
    fn side(&mut self, place: usize, toward: Toward, beside: Option<usize>, first: bool) {
        let Some((beside, color)) =
            beside.and_then(|beside| self.grid.get(beside).map(|color| (beside, *color)))
        else {
            return;
        };
        if color == IN_PARTS && !first {
            return;
        }
        let here = self.reaching(place, toward);
        let there = match color {
            IN_PARTS => self.reaching(beside, toward.back()),
            color => vec![color],
        };
        for one in &here {
            for other in &there {
                self.counter.add(*one, *other);
            }
        }
    }

    /// The colors of a cell's parts that reach one side, or the cloth.
    fn reaching(&self, place: usize, toward: Toward) -> Vec<u16> {
        let crate::chart::Cell::Parts(parts) = self.chart.grid().at(place) else {
            return vec![CLOTH];
        };
        let mut colors: Vec<u16> = parts
            .iter()
            .filter(|part| reaches(part.shape, toward))
            .map(|part| self.of_mark.color(part.entry, Spot::Cell(place)))
            .collect();
        colors.sort_unstable();
        colors.dedup();
        if colors.is_empty() { vec![CLOTH] } else { colors }
    }

    /// A line, piece by piece between the grid lines that it crosses.
    fn line(&mut self, line: &Line) {
        let color = self.of_mark.color(line.entry, Spot::of(line));
        for (half_x, half_y) in middles(line) {
            self.mark(color, half_x, half_y);
        }
    }

    fn knot(&mut self, knot: Knot) {
        let color = self.of_mark.color(knot.entry, Spot::of(&knot));
        self.mark(color, knot.at.half_x.into(), knot.at.half_y.into());
    }

    /// A mark at a point, in half cells: it touches one cell, or those around an edge or corner.
    fn mark(&mut self, color: u16, half_x: f64, half_y: f64) {
        let width = usize::from(self.chart.size().width());
        for y in around(half_y) {
            for x in around(half_x).filter(|x| *x < width) {
                let place = y * width + x;
                match self.grid.get(place).copied() {
                    None => {}
                    Some(IN_PARTS) => self.mark_parts(color, place),
                    Some(below) => self.counter.add(color, below),
                }
            }
        }
    }

    fn mark_parts(&mut self, color: u16, place: usize) {
        if let crate::chart::Cell::Parts(parts) = self.chart.grid().at(place) {
            let mut colors: Vec<u16> = parts
                .iter()
                .map(|part| self.of_mark.color(part.entry, Spot::Cell(place)))
                .collect();
            colors.sort_unstable();
            colors.dedup();
            colors.into_iter().for_each(|below| self.counter.add(color, below));
        }
    }
}

/// The cells that each piece of a line between the grid lines lies over, or along: one, or the two
/// beside it, by their places in reading order.
pub(crate) fn cells_along(line: &Line, size: Size) -> impl Iterator<Item = Vec<usize>> {
    let (width, height) = (usize::from(size.width()), usize::from(size.height()));
    middles(line).into_iter().map(move |(half_x, half_y)| {
        let rows = around(half_y).filter(|row| *row < height);
        let cells = rows.flat_map(|row| {
            let columns = around(half_x).filter(|column| *column < width);
            columns.map(move |column| row * width + column)
        });
        cells.collect()
    })
}

/// The columns (or rows) on both sides of a coordinate in half cells: one, or two on a grid line.
fn around(half: f64) -> impl Iterator<Item = usize> {
    let cell = half / 2.0;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a coordinate of a chart: 0 to 2,000"
    )]
    let after = cell.floor() as usize;
    #[expect(clippy::float_cmp, reason = "halves of small whole numbers are exact")]
    let before = if cell.floor() == cell { after.checked_sub(1) } else { None };
    before.into_iter().chain(std::iter::once(after))
}

/// The middle of each piece of a line between the grid lines that it crosses, in half cells.
fn middles(line: &Line) -> Vec<(f64, f64)> {
    let (from, to) = (line.from(), line.to());
    let (x0, y0) = (f64::from(from.half_x), f64::from(from.half_y));
    let (dx, dy) = (f64::from(to.half_x) - x0, f64::from(to.half_y) - y0);
    let mut cuts = vec![0.0, 1.0];
    cuts.extend(crossings(from.half_x, to.half_x));
    cuts.extend(crossings(from.half_y, to.half_y));
    cuts.sort_by(f64::total_cmp);
    // Two grid lines crossed in one corner are cut at almost the same share.
    cuts.dedup_by(|next, held| (*next - *held).abs() < 1e-9);
    let middle = |pair: &[f64]| match pair {
        [start, end] => {
            let share = f64::midpoint(*start, *end);
            // Along an axis the other coordinate must stay exact.
            Some((x0 + share * dx, y0 + share * dy))
        }
        _ => None,
    };
    cuts.windows(2).filter_map(middle).collect()
}

/// The shares of the way at which a coordinate crosses whole cells.
fn crossings(from: u16, to: u16) -> impl Iterator<Item = f64> {
    let (low, high) = (from.min(to), from.max(to));
    let span = f64::from(to) - f64::from(from);
    (low..=high)
        .filter(move |half| half % 2 == 0 && *half != low && *half != high)
        .map(move |half| (f64::from(half) - f64::from(from)) / span)
}

/// A side of a cell.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Toward {
    Down,
    Left,
    Right,
    Up,
}

impl Toward {
    fn back(self) -> Self {
        match self {
            Self::Down => Self::Up,
            Self::Left => Self::Right,
            Self::Right => Self::Left,
            Self::Up => Self::Down,
        }
    }
}

/// True when a part stitch reaches a side: a leg reaches all four, a corner its two.
fn reaches(shape: Shape, toward: Toward) -> bool {
    use Corner::{BottomLeft, BottomRight, TopLeft, TopRight};
    let corner = match shape {
        Shape::Half(_) => return true,
        Shape::Quarter(corner) | Shape::ThreeQuarter(corner) => corner,
    };
    match toward {
        Toward::Down => matches!(corner, BottomLeft | BottomRight),
        Toward::Left => matches!(corner, TopLeft | BottomLeft),
        Toward::Right => matches!(corner, TopRight | BottomRight),
        Toward::Up => matches!(corner, TopLeft | TopRight),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beyond_the_limit_the_longest_contacts_stay() {
        let mut counter = Counter::new(4);
        for (first, second, edges) in [(0, 1, 2), (0, 2, 5), (1, 2, 2), (1, 3, 3), (2, CLOTH, 2)] {
            (0..edges).for_each(|_| counter.add(second, first));
        }
        let told = |limit: usize| {
            let (neighbors, found) = counter.neighbors(limit);
            let flat: Vec<_> = neighbors.iter().map(|n| (n.first, n.second, n.edges)).collect();
            (flat, found)
        };
        assert_eq!(told(9).0.len(), 5);
        let longest = (0, Side::Color(2), 5);
        assert_eq!(told(1), (vec![longest], 5));
        let first = (0, Side::Color(1), 2);
        assert_eq!(told(3), (vec![first, longest, (1, Side::Color(3), 3)], 5));
    }
}
