//! The corners between the cells of one open area, and the ways from corner to corner that cut it:
//! what a way costs, and what weighs on its left, as a sum over its steps.
//! It does not look for ways.

use std::collections::{HashMap, HashSet, VecDeque};
use std::ops::Range;

use super::region::{Board, CORNER, EDGE, Region};

/// What is no node.
const NONE: u32 = u32::MAX;

/// Parts of a quarter of a stitch in which cells are weighed. House choice.
pub(super) const FINE: u64 = 16;

/// What all cells of a plane, or all its pieces, may weigh together, in fine parts: sums along ways
/// that pass many times stay in range.
const HEAVIEST: i32 = i32::MAX / 64;

/// A step of a way: between two cells that meet.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    pub(super) to: u32,
    /// Length of the join that it makes, in halves of a cell edge.
    pub(super) length: u32,
    /// What it adds to the weight on the left of a closed way.
    pub(super) gain: i32,
    /// Which two nodes it parts, as a place in the plane's sides, and whether the first of them is
    /// on the left.
    side: u32,
    is_along: bool,
}

impl Step {
    /// The same step the other way round; where it leads then is not known.
    pub(super) fn turned(self) -> Self {
        Self { gain: -self.gain, is_along: !self.is_along, to: NONE, ..self }
    }
}

/// Two nodes that meet, and the corners or gaps at the ends of that.
#[derive(Clone, Copy, Debug)]
struct Side {
    left: u32,
    right: u32,
    length: u32,
}

/// The cells of an open area and the corners between them.
///
/// Nodes are the open cells, and behind them the pieces of what is stitched or must stay that these
/// touch. Where one of the four cells around a corner is of neither, the corner belongs to a gap: a
/// part of what surrounds the area, or a hole in it. Ways go along a gap for nothing.
pub(super) struct Plane {
    /// Steps from each gap, and then from each corner.
    steps: Vec<Vec<Step>>,
    pub(super) gaps: usize,
    /// Places on the chart of the open cells.
    places: Vec<usize>,
    /// Nodes.
    nodes: usize,
    sides: Vec<Side>,
    /// The way of every node to one piece, nearest first: node, next node, side between them.
    home: Vec<(u32, u32, u32)>,
    /// What each node weighs to begin with, in fine parts: cells their quarters of a stitch, and
    /// pieces as much less than nothing as lies nearest to them.
    pub(super) weights: Vec<i32>,
    /// Pieces whose weight may be changed.
    pub(super) is_free: Vec<bool>,
    /// Quarters of a stitch of the largest cell.
    pub(super) largest: u64,
}

/// The part of a chart around an area, one cell wider on each side.
struct Window {
    width: usize,
    /// The node of each cell, [`NONE`] where it is none.
    nodes: Vec<u32>,
    /// The gap of each cell that is no node; what surrounds all is 0.
    gap: Vec<u32>,
    gaps: usize,
}

impl Window {
    /// `places` are cells with their nodes.
    fn of(board: &Board, places: &[(usize, u32)]) -> Self {
        let cells: Vec<usize> = places.iter().map(|(place, _)| *place).collect();
        let (rows, columns) = board.bounds(&cells);
        let (width, height) = (columns.1 - columns.0 + 3, rows.1 - rows.0 + 3);
        let size = width * height;
        let mut window = Self { width, nodes: vec![NONE; size], gap: vec![NONE; size], gaps: 0 };
        for (place, node) in places {
            let (row, column) = (board.row(*place) - rows.0, board.column(*place) - columns.0);
            let held = window.nodes.get_mut((row + 1) * width + column + 1);
            held.into_iter().for_each(|held| *held = *node);
        }
        window.find_gaps();
        window
    }

    /// Cells that are no nodes and hang together by their edges.
    fn find_gaps(&mut self) {
        let mut waiting = Vec::new();
        for first in 0..self.nodes.len() {
            if self.node(first) != NONE || self.gap(first) != NONE {
                continue;
            }
            let number = number32(self.gaps);
            self.gaps += 1;
            waiting.push(first);
            while let Some(at) = waiting.pop() {
                if self.node(at) != NONE {
                    continue;
                }
                match self.gap.get_mut(at) {
                    Some(held) if *held == NONE => *held = number,
                    _ => continue,
                }
                let x = at % self.width;
                waiting.extend((x > 0).then(|| at - 1));
                waiting.extend((x + 1 < self.width).then_some(at + 1));
                waiting.extend(at.checked_sub(self.width));
                waiting.extend(Some(at + self.width).filter(|at| *at < self.nodes.len()));
            }
        }
    }

    fn node(&self, at: usize) -> u32 {
        self.nodes.get(at).copied().unwrap_or(NONE)
    }

    fn gap(&self, at: usize) -> u32 {
        self.gap.get(at).copied().unwrap_or(NONE)
    }

    /// The corner between four cells, the last of which is at `at`: a gap where there is one, or a
    /// number behind the gaps.
    fn corner(&self, at: usize) -> u32 {
        let around = [at, at - 1, at - self.width, at - self.width - 1];
        let gap = around.into_iter().map(|at| self.gap(at)).find(|gap| *gap != NONE);
        gap.unwrap_or_else(|| number32(self.gaps + at))
    }

    /// Every place where two nodes meet, with the corners at its ends, so that the first node is on
    /// the left of who goes from the first corner to the second.
    fn meetings(&self) -> Vec<((u32, u32), Side)> {
        let (edge, corner) = (short(EDGE), short(CORNER));
        let mut found = Vec::new();
        let mut add = |ends: (u32, u32), (left, right): (u32, u32), length: u32| {
            if left != NONE && right != NONE && left != right {
                found.push((ends, Side { left, right, length }));
            }
        };
        let width = self.width;
        for at in (width + 1..self.nodes.len()).filter(|at| at % width > 0) {
            let (here, beside) = (self.node(at), self.node(at - 1));
            let (above, across) = (self.node(at - width), self.node(at - width - 1));
            // Upward between the cell on the left and this one.
            if here != NONE && beside != NONE {
                add((self.corner(at + width), self.corner(at)), (beside, here), edge);
            }
            // To the right between the cell above and this one.
            if here != NONE && above != NONE {
                add((self.corner(at), self.corner(at + 1)), (above, here), edge);
            }
            // Through a corner at which two cells meet and nowhere else.
            if beside == NONE && above == NONE {
                add((self.gap(at - 1), self.gap(at - width)), (across, here), corner);
            }
            if here == NONE && across == NONE {
                add((self.gap(at - width - 1), self.gap(at)), (above, beside), corner);
            }
        }
        found
    }
}

impl Plane {
    /// The plane of a region whose area is begun; `None` where nothing that is stitched or must
    /// stay lies at the outer edge, and for more cells than can be weighed.
    pub(super) fn of(board: &Board, region: &Region) -> Option<Self> {
        let open = region.cells.iter().copied().filter(|place| !board.is_held(*place));
        let places: Vec<usize> = open.collect();
        let all: u64 = places.iter().map(|place| board.quarters_at(*place) * FINE).sum();
        if i32::try_from(all).is_ok_and(|all| all <= HEAVIEST) {
            return Self::within(board, places, region);
        }
        None
    }

    fn within(board: &Board, places: Vec<usize>, region: &Region) -> Option<Self> {
        let mut cells: Vec<(usize, u32)> =
            places.iter().enumerate().map(|(node, place)| (*place, number32(node))).collect();
        let pieces = pieces(board, region);
        for (number, piece) in pieces.iter().enumerate() {
            let node = number32(places.len() + number);
            cells.extend(piece.iter().map(|place| (*place, node)));
        }
        let window = Window::of(board, &cells);
        let nodes = places.len() + pieces.len();
        let is_free = window.at_edge(places.len()..nodes);
        let root = (places.len()..nodes).filter(|node| is_free.get(*node) == Some(&true));
        let size = |node: &usize| node.checked_sub(places.len()).and_then(|at| pieces.get(at));
        let root = root.max_by_key(|node| size(node).map_or(0, Vec::len))?;
        let largest = places.iter().map(|place| board.quarters_at(*place)).max().unwrap_or(0);
        let mut plane = Self {
            steps: Vec::new(),
            gaps: window.gaps,
            places,
            nodes,
            sides: Vec::new(),
            home: Vec::new(),
            weights: Vec::new(),
            is_free,
            largest,
        };
        plane.link(&window);
        let beside = plane.beside();
        plane.home = plane.ways_home(&beside, [root]);
        plane.begin_with(board, &beside);
        // The root takes what all others send.
        plane.is_free.get_mut(root).into_iter().for_each(|held| *held = false);
        let weights = plane.weights.clone();
        plane.weigh(&weights);
        Some(plane)
    }

    /// Corners that a way can pass, numbered behind the gaps, and the steps between them.
    fn link(&mut self, window: &Window) {
        let mut numbers: HashMap<u32, u32> = HashMap::new();
        self.steps = vec![Vec::new(); self.gaps];
        for ((from, to), side) in window.meetings() {
            let number = number32(self.sides.len());
            self.sides.push(side);
            let mut ends = [from, to];
            for end in ends.iter_mut().filter(|end| **end as usize >= self.gaps) {
                *end = *numbers.entry(*end).or_insert_with(|| {
                    self.steps.push(Vec::new());
                    number32(self.steps.len() - 1)
                });
            }
            let [from, to] = ends;
            for (from, to, is_along) in [(from, to, true), (to, from, false)] {
                let step = Step { to, length: side.length, gain: 0, side: number, is_along };
                self.steps.get_mut(from as usize).into_iter().for_each(|held| held.push(step));
            }
        }
    }

    /// For each node those that it meets, with the sides between them.
    fn beside(&self) -> Vec<Vec<(u32, u32)>> {
        let mut beside = vec![Vec::new(); self.nodes];
        for (number, side) in self.sides.iter().enumerate() {
            for (one, other) in [(side.left, side.right), (side.right, side.left)] {
                let held: Option<&mut Vec<(u32, u32)>> = beside.get_mut(one as usize);
                held.into_iter().for_each(|held| held.push((other, number32(number))));
            }
        }
        beside
    }

    /// The way of every node to the nearest of some: node, next node, side between them.
    fn ways_home(
        &self,
        beside: &[Vec<(u32, u32)>],
        homes: impl IntoIterator<Item = usize>,
    ) -> Vec<(u32, u32, u32)> {
        let mut is_known = vec![false; self.nodes];
        let mut waiting: VecDeque<usize> = homes.into_iter().collect();
        for home in &waiting {
            is_known.get_mut(*home).into_iter().for_each(|held| *held = true);
        }
        let mut ways = Vec::with_capacity(self.nodes);
        while let Some(node) = waiting.pop_front() {
            for (next, side) in beside.get(node).into_iter().flatten() {
                if let Some(held) = is_known.get_mut(*next as usize)
                    && !*held
                {
                    *held = true;
                    ways.push((*next, number32(node), *side));
                    waiting.push_back(*next as usize);
                }
            }
        }
        ways
    }

    /// Weights to begin with: what lies nearest to a piece is as if it came out of it.
    fn begin_with(&mut self, board: &Board, beside: &[Vec<(u32, u32)>]) {
        let quarters = self.places.iter().map(|place| board.quarters_at(*place) * FINE);
        self.weights = quarters.map(|fine| i32::try_from(fine).unwrap_or(i32::MAX)).collect();
        self.weights.resize(self.nodes, 0);
        let free = self.is_free.iter().enumerate().filter(|(_, is_free)| **is_free);
        let ways = self.ways_home(beside, free.map(|(node, _)| node));
        let mut sums = self.weights.clone();
        for (node, to, _) in ways.iter().rev() {
            let sum = sums.get(*node as usize).copied().unwrap_or(0);
            sums.get_mut(*to as usize)
                .into_iter()
                .for_each(|held| *held = held.saturating_add(sum));
        }
        for ((weight, sum), is_free) in self.weights.iter_mut().zip(sums).zip(&self.is_free) {
            if *is_free {
                *weight = -sum;
            }
        }
    }

    /// Gives every node a weight. Each sends its weight home; what a closed way has on its left is
    /// then what is sent across it.
    pub(super) fn weigh(&mut self, weights: &[i32]) {
        let mut sent = weights.to_vec();
        let mut across = vec![0_i32; self.sides.len()];
        for (node, to, side) in self.home.iter().rev() {
            let sum = sent.get(*node as usize).copied().unwrap_or(0);
            sent.get_mut(*to as usize)
                .into_iter()
                .for_each(|held| *held = held.saturating_add(sum));
            let is_left = self.sides.get(*side as usize).is_some_and(|side| side.left == *node);
            let held = across.get_mut(*side as usize);
            held.into_iter().for_each(|held| *held = if is_left { sum } else { -sum });
        }
        for step in self.steps.iter_mut().flatten() {
            let gain = across.get(step.side as usize).copied().unwrap_or(0);
            step.gain = if step.is_along { gain } else { -gain };
        }
    }

    /// What a piece may weigh, more or less than nothing: sums of many stay in range.
    pub(super) fn heaviest(&self) -> i32 {
        HEAVIEST / i32::try_from(self.nodes - self.open()).unwrap_or(i32::MAX).max(1)
    }

    /// Open cells; nodes from there on are pieces.
    pub(super) fn open(&self) -> usize {
        self.places.len()
    }

    /// Gaps and corners.
    pub(super) fn corners(&self) -> usize {
        self.steps.len()
    }

    pub(super) fn steps(&self, from: usize) -> &[Step] {
        self.steps.get(from).map_or(&[], Vec::as_slice)
    }

    /// How often each node lies on the left of closed ways that take these steps.
    pub(super) fn times(&self, steps: &[Step]) -> Vec<i32> {
        let mut crossed = vec![0_i32; self.sides.len()];
        for step in steps {
            let by = if step.is_along { 1 } else { -1 };
            crossed.get_mut(step.side as usize).into_iter().for_each(|held| *held += by);
        }
        let mut times = vec![0_i32; self.nodes];
        for (node, to, side) in &self.home {
            let behind = times.get(*to as usize).copied().unwrap_or(0);
            let by = crossed.get(*side as usize).copied().unwrap_or(0);
            let is_left = self.sides.get(*side as usize).is_some_and(|side| side.left == *node);
            let own = if is_left { behind + by } else { behind - by };
            times.get_mut(*node as usize).into_iter().for_each(|held| *held = own);
        }
        times
    }

    /// The join between the open cells that lie on the left and all else, and their weight.
    pub(super) fn measured(&self, times: &[i32]) -> (usize, i64) {
        let cells = times.get(..self.open()).unwrap_or_default();
        let is_left = |node: u32| cells.get(node as usize).is_some_and(|times| *times > 0);
        let parted = self.sides.iter().filter(|side| is_left(side.left) != is_left(side.right));
        let left = cells.iter().zip(&self.weights).filter(|(times, _)| **times > 0);
        let join: u32 = parted.map(|side| side.length).sum();
        (join as usize, left.map(|(_, weight)| i64::from(*weight)).sum())
    }

    /// Places of the open cells that lie on the left.
    pub(super) fn cut_off(&self, times: &[i32]) -> Vec<usize> {
        let cells = self.places.iter().zip(times).filter(|(_, times)| **times > 0);
        cells.map(|(place, _)| *place).collect()
    }
}

impl Window {
    /// For each node whether it is one of these and lies at what surrounds all.
    fn at_edge(&self, of: Range<usize>) -> Vec<bool> {
        let mut at_edge = vec![false; of.end];
        for (at, _) in self.gap.iter().enumerate().filter(|(_, gap)| **gap == 0) {
            let around = [
                Some(at + 1),
                at.checked_sub(1),
                Some(at + self.width),
                at.checked_sub(self.width),
            ];
            let nodes = around.into_iter().flatten().map(|at| self.node(at));
            for node in nodes.filter(|node| of.contains(&(*node as usize))) {
                at_edge.get_mut(node as usize).into_iter().for_each(|held| *held = true);
            }
        }
        at_edge
    }
}

/// What is stitched or must stay and touches a region, by what hangs together of it.
fn pieces(board: &Board, region: &Region) -> Vec<Vec<usize>> {
    let is_old = |place: usize| board.is_done(place) || board.is_held(place);
    let around = |place: usize| board.contacts(place).map(|contact| contact.other);
    let mut known = HashSet::new();
    let mut pieces = Vec::new();
    let touched = region.cells.iter().flat_map(|place| around(*place).chain([*place]));
    for first in touched.filter(|place| is_old(*place)) {
        let (mut piece, mut waiting) = (Vec::new(), vec![first]);
        while let Some(place) = waiting.pop() {
            if known.insert(place) {
                piece.push(place);
                waiting.extend(around(place).filter(|place| is_old(*place)));
            }
        }
        pieces.extend((!piece.is_empty()).then_some(piece));
    }
    pieces
}

fn short(length: u64) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}

fn number32(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(NONE)
}
