//! Lines and knots of one needle that are not worked yet, by what must be of one thread: lines that
//! hang together, and the knots of one area. It does not know how much thread is left.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::need::{Ends, Need};
use super::region::EDGE;
use crate::chart::{Cell, Chart, Entry, EntryId, Line, Point, whole_sides};
use crate::summary::{Mark, cells_along};

/// How much lines and knots weigh, for joins and where there is not enough for everything: outlines
/// and eyes tell. House choice.
const WEIGHT: u64 = 2;

/// Quarters of a stitch that a knot counts, and a cell side of line, as elsewhere.
const KNOT: u64 = 2;

/// Lines or knots that go to one thread together.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Group {
    /// By their places in the chart's list.
    lines: Vec<usize>,
    knots: Vec<usize>,
    /// Points at which it meets what is worked; for knots 1 where some of their area are.
    pub(super) meets: u64,
}

/// Which lines and knots of a chart are worked, by their places in its lists.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Worked {
    lines: Vec<Share>,
    knots: Vec<bool>,
}

/// How much of a line is worked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Share {
    All,
    Nothing,
    Some,
}

impl Worked {
    /// What lies in marked cells: lines whose every piece touches one, and knots that touch one.
    pub(super) fn of(chart: &Chart, (lines, knots): (&[bool], &[bool])) -> Self {
        let marked = |cells: &[bool], place: &usize| cells.get(*place).copied().unwrap_or(false);
        let line = |line: &Line| {
            let mut pieces = (0_usize, 0_usize);
            for cells in cells_along(line, chart.size()) {
                pieces.0 += 1;
                pieces.1 += usize::from(cells.iter().any(|place| marked(lines, place)));
            }
            match pieces {
                (_, 0) => Share::Nothing,
                (all, worked) if all == worked => Share::All,
                _ => Share::Some,
            }
        };
        Self {
            lines: chart.lines().iter().map(line).collect(),
            knots: chart
                .knots()
                .iter()
                .map(|knot| touched(chart, knot.at).iter().any(|place| marked(knots, place)))
                .collect(),
        }
    }

    fn line(&self, place: usize) -> Share {
        self.lines.get(place).copied().unwrap_or(Share::Nothing)
    }

    fn knot(&self, place: usize) -> bool {
        self.knots.get(place).copied().unwrap_or(false)
    }
}

/// What is not worked of one needle, lines first, in the order of the chart's lists.
pub(super) fn groups(
    chart: &Chart,
    is_of: &dyn Fn(EntryId) -> bool,
    worked: &Worked,
) -> Vec<Group> {
    let mut groups = lines(chart, is_of, worked);
    groups.extend(knots(chart, is_of, worked));
    groups
}

/// How many lines and knots of one needle are worked; of lines only those that are worked wholly.
pub(super) fn worked_of(
    chart: &Chart,
    is_of: &dyn Fn(EntryId) -> bool,
    worked: &Worked,
) -> (u64, u64) {
    let lines = chart.lines().iter().enumerate();
    let lines =
        lines.filter(|(place, line)| is_of(line.entry) && worked.line(*place) == Share::All);
    let knots = chart.knots().iter().enumerate();
    let knots = knots.filter(|(place, knot)| is_of(knot.entry) && worked.knot(*place));
    (lines.count() as u64, knots.count() as u64)
}

fn lines(chart: &Chart, is_of: &dyn Fn(EntryId) -> bool, worked: &Worked) -> Vec<Group> {
    let own: Vec<(usize, &Line)> =
        chart.lines().iter().enumerate().filter(|(_, line)| is_of(line.entry)).collect();
    let mut done: BTreeSet<Point> = BTreeSet::new();
    for (_, line) in own.iter().filter(|(place, _)| worked.line(*place) == Share::All) {
        done.extend(points(line));
    }
    let open: Vec<(usize, &Line)> =
        own.into_iter().filter(|(place, _)| worked.line(*place) != Share::All).collect();
    let mut leader: Vec<usize> = (0..open.len()).collect();
    let mut at: HashMap<Point, usize> = HashMap::new();
    for (number, (_, line)) in open.iter().enumerate() {
        for point in points(line) {
            let other = *at.entry(point).or_insert(number);
            let (one, other) = (root(&mut leader, number), root(&mut leader, other));
            let (low, high) = (one.min(other), one.max(other));
            leader.get_mut(high).into_iter().for_each(|held| *held = low);
        }
    }
    let mut groups: BTreeMap<usize, Group> = BTreeMap::new();
    for (number, (place, _)) in open.iter().enumerate() {
        let group = groups.entry(root(&mut leader, number)).or_default();
        group.lines.push(*place);
        // It goes on from somewhere inside.
        group.meets += u64::from(worked.line(*place) == Share::Some);
    }
    for (point, number) in at {
        if done.contains(&point)
            && let Some(group) = groups.get_mut(&root(&mut leader, number))
        {
            group.meets += 1;
        }
    }
    groups.into_values().collect()
}

fn root(leader: &mut [usize], mut number: usize) -> usize {
    while let Some(up) = leader.get(number).copied().filter(|up| *up != number) {
        let above = leader.get(up).copied().unwrap_or(up);
        leader.get_mut(number).into_iter().for_each(|held| *held = above);
        number = up;
    }
    number
}

/// The points of the half-cell grid on a line, its ends included: lines that share one meet there.
fn points(line: &Line) -> impl Iterator<Item = Point> + use<> {
    let (from, to) = (line.from(), line.to());
    let (dx, dy) = (from.half_x.abs_diff(to.half_x), from.half_y.abs_diff(to.half_y));
    let steps = common(dx, dy).max(1);
    let along = move |from: u16, to: u16, step: u16| {
        let by = from.abs_diff(to) / steps * step;
        if to >= from { from + by } else { from - by }
    };
    (0..=steps).map(move |step| Point {
        half_x: along(from.half_x, to.half_x, step),
        half_y: along(from.half_y, to.half_y, step),
    })
}

fn common(one: u16, other: u16) -> u16 {
    if other == 0 { one } else { common(other, one % other) }
}

/// The knots by the area of the chart that they lie on, bare cloth included.
fn knots(chart: &Chart, is_of: &dyn Fn(EntryId) -> bool, worked: &Worked) -> Vec<Group> {
    let mut ground = Ground { chart, areas: HashMap::new() };
    let mut groups: BTreeMap<usize, Group> = BTreeMap::new();
    for (place, knot) in chart.knots().iter().enumerate().filter(|(_, knot)| is_of(knot.entry)) {
        let group = groups.entry(ground.area(knot.at)).or_default();
        if worked.knot(place) {
            group.meets = 1;
        } else {
            group.knots.push(place);
        }
    }
    groups.into_values().filter(|group| !group.knots.is_empty()).collect()
}

/// The areas below knots, each named by its first cell.
struct Ground<'c> {
    chart: &'c Chart,
    areas: HashMap<usize, usize>,
}

impl Ground<'_> {
    /// The area that most cells around a point belong to; of equal ones a stitched one, the first.
    fn area(&mut self, at: Point) -> usize {
        let cells = touched(self.chart, at);
        let same = |cell: &usize| {
            cells.iter().filter(|other| self.look(**other) == self.look(*cell)).count()
        };
        let best = cells.iter().min_by_key(|cell| {
            (std::cmp::Reverse(same(cell)), self.look(**cell).is_none(), **cell)
        });
        best.map_or(0, |cell| self.name(*cell))
    }

    /// What a cell is worked in; its first part where it has several.
    fn look(&self, cell: usize) -> Option<EntryId> {
        match self.chart.grid().at(cell) {
            Cell::Bare => None,
            Cell::Full(entry) => Some(entry),
            Cell::Parts(parts) => parts.first().map(|part| part.entry),
        }
    }

    fn name(&mut self, cell: usize) -> usize {
        if let Some(name) = self.areas.get(&cell) {
            return *name;
        }
        let look = self.look(cell);
        let mut waiting = vec![cell];
        while let Some(next) = waiting.pop() {
            if self.look(next) == look && self.areas.insert(next, cell).is_none() {
                waiting.extend(beside(self.chart, next));
            }
        }
        cell
    }
}

/// The cells around a cell, edge to edge or corner to corner.
fn beside(chart: &Chart, cell: usize) -> impl Iterator<Item = usize> {
    let width = usize::from(chart.size().width());
    let (x, y) = (cell % width, cell / width);
    let rows = y.saturating_sub(1)..=y + 1;
    rows.flat_map(move |row| {
        (x.saturating_sub(1)..=x + 1).filter_map(move |column| {
            let (column, row) = (u16::try_from(column).ok()?, u16::try_from(row).ok()?);
            chart.size().place(column, row)
        })
    })
}

/// The one, two or four cells that a point touches.
fn touched(chart: &Chart, at: Point) -> Vec<usize> {
    let around = |half: u16| (half.saturating_sub(1) / 2)..=(half / 2);
    let cells = around(at.half_y).flat_map(|row| around(at.half_x).map(move |x| (x, row)));
    cells.filter_map(|(x, y)| chart.size().place(x, y)).collect()
}

impl Group {
    pub(super) fn counts(&self) -> (u64, u64) {
        (self.lines.len() as u64, self.knots.len() as u64)
    }

    /// Where they are, for change lists.
    pub(super) fn places<'g>(&'g self, chart: &'g Chart) -> impl Iterator<Item = Mark> + 'g {
        let lines = self.lines.iter().filter_map(|place| chart.lines().get(*place));
        let knots = self.knots.iter().filter_map(|place| chart.knots().get(*place));
        lines.map(Mark::from).chain(knots.map(Mark::from))
    }

    /// First and last row and column of the cells that they touch, from 0.
    pub(super) fn bounds(&self, chart: &Chart) -> ((usize, usize), (usize, usize)) {
        let width = usize::from(chart.size().width());
        let mut ends = ((usize::MAX, 0), (usize::MAX, 0));
        let points = self.places(chart).flat_map(|mark| match mark {
            Mark::Line(from, to) => vec![from, to],
            Mark::Knot(at) => vec![at],
        });
        for cell in points.flat_map(|at| touched(chart, at)) {
            let (row, column) = (cell / width, cell % width);
            ends.0 = (ends.0.0.min(row), ends.0.1.max(row));
            ends.1 = (ends.1.0.min(column), ends.1.1.max(column));
        }
        if ends.0.0 == usize::MAX { ((0, 0), (0, 0)) } else { ends }
    }

    /// What giving it to another thread costs: the join with what is worked, and what is given.
    pub(super) fn cost(&self, chart: &Chart) -> (u64, u64) {
        let lines = self.lines.iter().filter_map(|place| chart.lines().get(*place));
        let sides: u64 = lines.map(|line| whole_sides(line.length())).sum();
        let given = sides + KNOT * self.knots.len() as u64;
        (self.meets * EDGE * WEIGHT, given * WEIGHT)
    }

    /// What it takes of one thread.
    pub(super) fn need(
        &self,
        chart: &Chart,
        need: &Need,
        strands: &dyn Fn(&Entry) -> (u8, u8),
    ) -> Ends {
        let of = |entry: EntryId| chart.entry(entry).map_or((1, 2), strands);
        let lines = self.lines.iter().filter_map(|place| chart.lines().get(*place));
        let lines: Vec<(f64, u8)> = lines.map(|line| (line.length(), of(line.entry).0)).collect();
        let knots = self.knots.iter().filter_map(|place| chart.knots().get(*place));
        let knots: Vec<u8> = knots.map(|knot| of(knot.entry).1).collect();
        let none = Ends::default();
        let lines = if lines.is_empty() { none } else { need.lines(&lines) };
        let knots = if knots.is_empty() { none } else { need.knots(&knots) };
        Ends { least: lines.least + knots.least, most: lines.most.saturating_add(knots.most) }
    }
}
