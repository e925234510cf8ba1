//! Lines and knots of one thread, counted so that their thread is never short.
//! It does not know cells: lines and knots are finished or given away all together.

use std::collections::HashMap;

use crate::chart::{Chart, EntryId, Line, Point, whole_sides};

/// Lines and knots.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Marks {
    pub(crate) lines: u64,
    pub(crate) knots: u64,
    /// All of it in quarters of a stitch with two strands: a cell side of line in one strand takes
    /// about as much as one, a knot in two strands no more than four. Source of the lengths: the
    /// path of the thread; the rounding is a house choice.
    pub(crate) quarters: u64,
    /// How often the thread is begun: once for lines that hang together, once for each knot.
    pub(crate) pieces: u64,
}

impl Marks {
    pub(crate) fn of(chart: &Chart, is_of: &dyn Fn(EntryId) -> bool) -> Self {
        let lines: Vec<&Line> = chart.lines().iter().filter(|line| is_of(line.entry)).collect();
        let knots = chart.knots().iter().filter(|knot| is_of(knot.entry));
        let strands = |entry: EntryId| chart.entry(entry).map(|entry| entry.strands);
        let mut marks = Self { pieces: pieces(&lines), ..Self::default() };
        for line in &lines {
            marks.lines += 1;
            let in_needle = strands(line.entry).and_then(|strands| strands.line()).unwrap_or(1);
            marks.quarters += whole_sides(line.length()) * u64::from(in_needle);
        }
        for knot in knots {
            marks.knots += 1;
            marks.pieces += 1;
            let in_needle = strands(knot.entry).and_then(|strands| strands.knot()).unwrap_or(2);
            marks.quarters += 4 * u64::from(in_needle).div_ceil(2);
        }
        marks
    }

    pub(crate) fn is_any(&self) -> bool {
        self.lines + self.knots > 0
    }
}

/// Into how many pieces lines fall that meet at their ends.
fn pieces(lines: &[&Line]) -> u64 {
    let mut leader: Vec<usize> = (0..lines.len()).collect();
    let mut at: HashMap<Point, usize> = HashMap::new();
    let mut count = lines.len() as u64;
    for (number, line) in lines.iter().enumerate() {
        for end in [line.from(), line.to()] {
            let other = *at.entry(end).or_insert(number);
            let (one, other) = (root(&mut leader, number), root(&mut leader, other));
            if one != other {
                leader.get_mut(one).into_iter().for_each(|held| *held = other);
                count -= 1;
            }
        }
    }
    count
}

fn root(leader: &mut [usize], mut number: usize) -> usize {
    while let Some(up) = leader.get(number).copied().filter(|up| *up != number) {
        let above = leader.get(up).copied().unwrap_or(up);
        leader.get_mut(number).into_iter().for_each(|held| *held = above);
        number = up;
    }
    number
}
