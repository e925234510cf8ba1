//! The most that closed ways through an area cut off from what is stitched, for every length: no
//! join of that length gives more to the new thread. It does not know thread.

use super::plane::{FINE, Plane, Step};
use super::region::EDGE;

/// What cannot be reached.
const NEVER: i32 = i32::MIN;

/// Ways that are remembered, in corners times lengths: a bound on memory.
const MOST_REMEMBERED: usize = 10_000_000;

/// Sets of cells that are looked at of one area, and cells of all of them. House choice.
const MOST_FOUND: usize = 64;
const MOST_CELLS: usize = 4_000_000;

/// Changes of weights without a better bound before they become smaller. House choice.
const PATIENCE: u32 = 8;

/// How often weights are changed at most. House choice.
const ROUNDS: usize = 60;

/// Lengths that no join is below, by what it gives away, and the cells that short ways cut off.
#[derive(Default)]
pub(super) struct Enclosed {
    /// With each set of weights, by length, what is given away at most, in fine parts.
    most: Vec<Vec<i64>>,
    pub(super) found: Vec<Vec<usize>>,
}

/// What is asked of an area.
#[derive(Clone, Copy, Debug)]
pub(super) struct Aim {
    /// Quarters that are to be given away at least.
    pub(super) quarters: u64,
    /// The length of a join at which all is given away.
    pub(super) whole: u64,
}

impl Enclosed {
    /// Looks for ways as far as the budget of steps goes.
    ///
    /// Several ways may cut off the same cells, which no join does. So cells are made lighter that
    /// are cut off more than once, and what they lost is given once to everybody (Held and Karp
    /// 1970, for the same end): any weights give a bound, and good ones a close one.
    pub(super) fn of(plane: &mut Plane, aim: Aim, budget: &mut u64) -> Self {
        let mut enclosed = Self::default();
        let own = plane.weights.clone();
        let mut taken: Vec<i32> = vec![0; own.len()];
        let mut below = usize::try_from(aim.whole).unwrap_or(usize::MAX);
        let wanted = i64::try_from(aim.quarters * FINE).unwrap_or(i64::MAX);
        // Steps become shorter where they lead to nothing better.
        let (mut best, mut stride, mut idle) = (0, 1.0, 0);
        for round in 0..ROUNDS {
            // Cells are given once; what is stitched never.
            let base = taken.iter().take(plane.open()).copied().map(i64::from).sum();
            let run = Run::of(plane, base, below, budget);
            let length = run.floor(wanted);
            let times = run.times(plane, length);
            let excess = run.at(length).unwrap_or(wanted) - wanted;
            if round == 0 {
                // All lengths are told once, and what gives most for each is looked at.
                enclosed.found.extend(run.cut_off(plane));
            }
            if length > best {
                (best, idle) = (length, 0);
            } else {
                idle += 1;
                if idle % PATIENCE == 0 {
                    stride *= 0.5;
                }
            }
            let is_short = length >= below;
            if let Some(times) = &times {
                // What a join is known for need not be looked for.
                let (join, given) = plane.measured(times);
                if given >= wanted && join < below {
                    below = join;
                    enclosed.found.push(plane.cut_off(times));
                }
            }
            enclosed.most.push(run.most);
            let Some(times) = times.filter(|_| !is_short && length < below && *budget > 0) else {
                break;
            };
            if !changed(plane, (&mut taken, stride), &times, excess) {
                break;
            }
            let weights: Vec<i32> =
                own.iter().zip(&taken).map(|(own, taken)| own - taken).collect();
            plane.weigh(&weights);
        }
        enclosed
    }

    /// A length that no join which gives away so many quarters is below.
    pub(super) fn floor(&self, quarters: u64) -> u64 {
        let wanted = i64::try_from(quarters * FINE).unwrap_or(i64::MAX);
        let floors = self.most.iter().map(|most| most.partition_point(|most| *most < wanted));
        floors.max().unwrap_or(0) as u64
    }
}

/// Takes weight from cells that are cut off more than once and gives back to those that are not,
/// and makes it worth less to cut off what is stitched; false when there is nothing to change.
fn changed(plane: &Plane, (taken, stride): (&mut [i32], f64), times: &[i32], excess: i64) -> bool {
    let slope = |node: usize, times: i32, taken: i32| match node < plane.open() {
        true if times > 1 || taken > 0 => times - 1,
        false if plane.is_free.get(node) == Some(&true) => times,
        _ => 0,
    };
    let each = times.iter().copied().zip(taken.iter().copied()).enumerate();
    let slopes: Vec<i32> = each.map(|(node, (times, taken))| slope(node, times, taken)).collect();
    let square: i64 = slopes.iter().map(|slope| i64::from(*slope) * i64::from(*slope)).sum();
    if square == 0 {
        return false;
    }
    let by = |slope: i32| whole(f64::from(slope) * stride * share(excess + 1, square));
    for (node, (taken, slope)) in taken.iter_mut().zip(slopes).enumerate() {
        let new = taken.saturating_add(by(slope));
        let own = plane.weights.get(node).copied().unwrap_or(0);
        let most = plane.heaviest();
        *taken =
            if node < plane.open() { new.clamp(0, own) } else { new.clamp(own - most, own + most) };
    }
    true
}

/// One number over another; both are far below 2 to the power of 53.
fn share(number: i64, of: i64) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "exact below 2 to the power of 53")]
    let share = number as f64 / of as f64;
    share
}

/// The nearest whole number, away from 0, so that no step is lost.
fn whole(number: f64) -> i32 {
    let away = if number < 0.0 { number.floor() } else { number.ceil() };
    #[expect(clippy::cast_possible_truncation, reason = "clamped in the same line")]
    let whole = away.clamp(-1e9, 1e9) as i32;
    whole
}

/// The most that ways cut off with one set of weights.
struct Run {
    /// By length in halves of a cell edge, from 0, in fine parts.
    most: Vec<i64>,
    how: Vec<How>,
    /// The steps of single ways.
    ways: Vec<Vec<Step>>,
}

/// How the most of a length comes about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum How {
    /// As that of the length before.
    Before,
    /// By two sets of ways, of this length and the rest.
    Two(usize),
    /// By a way that was not followed.
    Unknown,
    /// By one way.
    Way(usize),
}

impl Run {
    /// Looks at all lengths below `below`, or fewer when the budget of steps is spent; `base` is
    /// given to every length.
    fn of(plane: &Plane, base: i64, below: usize, budget: &mut u64) -> Self {
        let room = MOST_REMEMBERED / plane.corners().max(1);
        let mut single = vec![(0_i64, How::Before); below.min(room)];
        let mut ways = Vec::new();
        let mut is_closed = vec![false; plane.gaps];
        for gap in 0..plane.gaps {
            let found = Ways::from(plane, (gap, &is_closed), single.len(), budget);
            // Lengths that were not looked at say nothing, here or from other gaps.
            single.truncate(found.most.len());
            let mut least = 0;
            for (length, (most, held)) in found.most.iter().zip(&mut single).enumerate() {
                let most = i64::from(*most);
                if most > held.0 {
                    // More than a shorter way gives, or it is not worth following.
                    *held = (most, if most > least { How::Way(ways.len()) } else { How::Unknown });
                    if most > least {
                        ways.push(found.traced(length));
                    }
                }
                least = least.max(most);
            }
            is_closed.get_mut(gap).into_iter().for_each(|held| *held = true);
        }
        let mut run = Self { most: Vec::new(), how: Vec::new(), ways };
        for (length, (most, how)) in single.into_iter().enumerate() {
            let inside = inside(length as u64, plane.largest);
            run.add(length, if inside > most { (inside, How::Unknown) } else { (most, how) });
        }
        run.most.iter_mut().for_each(|most| *most += base);
        run
    }

    /// Adds the most of one way of a length; several ways may be worth more.
    fn add(&mut self, length: usize, mut best: (i64, How)) {
        if let Some(before) = self.most.last().filter(|before| **before >= best.0) {
            best = (*before, How::Before);
        }
        for part in 1..=length / 2 {
            let (one, other) = (self.most.get(part), self.most.get(length - part));
            if let (Some(one), Some(other)) = (one, other)
                && one + other > best.0
            {
                best = (one + other, How::Two(part));
            }
        }
        self.most.push(best.0);
        self.how.push(best.1);
    }

    /// What is given away at most by a join of a length, in fine parts.
    fn at(&self, length: usize) -> Option<i64> {
        self.most.get(length).copied()
    }

    /// The first length that gives away so much.
    fn floor(&self, wanted: i64) -> usize {
        self.most.partition_point(|most| *most < wanted)
    }

    /// How often each cell is cut off by the ways that give most for a length.
    fn times(&self, plane: &Plane, length: usize) -> Option<Vec<i32>> {
        match *self.how.get(length)? {
            How::Way(way) => Some(plane.times(self.ways.get(way)?)),
            How::Unknown => None,
            How::Before => match length.checked_sub(1) {
                Some(before) => self.times(plane, before),
                None => Some(plane.times(&[])),
            },
            How::Two(part) => {
                let (mut one, other) =
                    (self.times(plane, part)?, self.times(plane, length - part)?);
                one.iter_mut().zip(other).for_each(|(one, other)| *one += other);
                Some(one)
            }
        }
    }

    /// What the ways cut off, of all lengths at which another set of them is best.
    fn cut_off(&self, plane: &Plane) -> Vec<Vec<usize>> {
        let lengths =
            (0..self.how.len()).filter(|length| self.how.get(*length) != Some(&How::Before));
        let lengths: Vec<usize> = lengths.collect();
        let sets = (MOST_CELLS / plane.open().max(1)).clamp(1, MOST_FOUND);
        let every = lengths.len().div_ceil(sets).max(1);
        let times =
            lengths.into_iter().step_by(every).filter_map(|length| self.times(plane, length));
        times.map(|times| plane.cut_off(&times)).collect()
    }
}

/// The most inside a closed way that touches no gap, in fine parts: of all shapes of cells with
/// one outline, squares hold most.
fn inside(length: u64, largest: u64) -> i64 {
    let sides = length / EDGE;
    i64::try_from(largest * FINE * (sides * sides / 16)).unwrap_or(i64::MAX)
}

/// The best ways from one gap back to it, by length.
struct Ways<'p> {
    plane: &'p Plane,
    gap: usize,
    /// For each length and corner the most on the left of a way there.
    levels: Vec<Vec<i32>>,
    /// For each length the most of a way back to the gap.
    most: Vec<i32>,
}

impl<'p> Ways<'p> {
    /// Ways that touch no closed gap, shorter than `below`.
    fn from(
        plane: &'p Plane,
        (gap, is_closed): (usize, &[bool]),
        below: usize,
        budget: &mut u64,
    ) -> Self {
        let mut ways = Self { plane, gap, levels: Vec::new(), most: Vec::new() };
        let back = ways.back(is_closed, below);
        let near = back.iter().enumerate().filter(|(_, back)| **back < below);
        // Their ways back are the shortest, so they may be there the latest.
        let mut near: Vec<(usize, usize)> = near.map(|(corner, back)| (*back, corner)).collect();
        near.sort_unstable();
        for length in 0..below {
            let mut level = vec![NEVER; plane.corners()];
            let mut most = NEVER;
            if length == 0 {
                level.get_mut(gap).into_iter().for_each(|held| *held = 0);
                most = 0;
            }
            let last = near.partition_point(|(back, _)| back + length < below);
            for (back, corner) in near.iter().take(last).copied() {
                if back > length {
                    break;
                }
                let steps = plane.steps(corner);
                let Some(left) = budget.checked_sub(steps.len() as u64) else { return ways };
                *budget = left;
                let best = ways.best(steps, length);
                if corner == gap {
                    most = most.max(best);
                } else {
                    level.get_mut(corner).into_iter().for_each(|held| *held = best);
                }
            }
            ways.levels.push(level);
            ways.most.push(most);
        }
        ways
    }

    /// The most of a way of a length that comes by one of the steps back from a corner: every step
    /// goes both ways.
    fn best(&self, steps: &[Step], length: usize) -> i32 {
        let mut best = NEVER;
        for step in steps {
            let before = length.checked_sub(step.length as usize);
            let level = before.and_then(|before| self.levels.get(before));
            let from = level.and_then(|level| level.get(step.to as usize)).copied();
            if let Some(from) = from.filter(|from| *from != NEVER) {
                best = best.max(from.saturating_sub(step.gain));
            }
        }
        best
    }

    /// The length of the shortest way from each corner back to the gap.
    fn back(&self, is_closed: &[bool], below: usize) -> Vec<usize> {
        let mut back = vec![usize::MAX; self.plane.corners()];
        let mut layers: Vec<Vec<usize>> = vec![vec![self.gap]];
        let mut length = 0;
        while length < below && length < layers.len() {
            for corner in layers.get_mut(length).map(std::mem::take).unwrap_or_default() {
                match back.get_mut(corner) {
                    Some(held) if *held == usize::MAX => *held = length,
                    _ => continue,
                }
                for step in self.plane.steps(corner) {
                    let (to, at) = (step.to as usize, length + step.length as usize);
                    if is_closed.get(to).copied().unwrap_or(false) {
                        continue;
                    }
                    if layers.len() <= at {
                        layers.resize(at + 1, Vec::new());
                    }
                    layers.get_mut(at).into_iter().for_each(|layer| layer.push(to));
                }
            }
            length += 1;
        }
        back
    }

    /// The steps of the best way of a length.
    fn traced(&self, length: usize) -> Vec<Step> {
        let mut taken = Vec::new();
        let (mut corner, mut length) = (self.gap, length);
        let mut sum = self.most.get(length).copied().unwrap_or(NEVER);
        while length > 0 {
            let found = self.plane.steps(corner).iter().find_map(|step| {
                let before = length.checked_sub(step.length as usize)?;
                let from = self.levels.get(before)?.get(step.to as usize).copied()?;
                let is_it = from != NEVER && from.saturating_sub(step.gain) == sum;
                is_it.then_some((*step, before, from))
            });
            let Some((step, before, from)) = found else { break };
            // It was taken the other way round.
            taken.push(step.turned());
            (corner, length, sum) = (step.to as usize, before, from);
        }
        taken
    }
}
