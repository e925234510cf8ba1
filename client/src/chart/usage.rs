//! How much of a chart is worked in each entry of its key.
//! It does not know thread lengths: that is an estimate with settings of its own.

use super::grid::slot_entry;
use super::{Chart, EntryId, Shape};

/// What is worked in one entry.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Usage {
    /// Full stitches.
    pub full: u64,
    /// Three-quarter stitches.
    pub three_quarter: u64,
    /// Half stitches.
    pub half: u64,
    /// Quarter stitches.
    pub quarter: u64,
    /// Length of all back-stitch lines, in cell sides.
    pub line_length: f64,
    /// Knots.
    pub knots: u64,
}

impl Usage {
    /// The usage of each entry of a chart, in the order of the key.
    #[must_use]
    pub fn of(chart: &Chart) -> Vec<Self> {
        let mut full = vec![0_u64; usize::from(u16::MAX) + 1];
        for slot in chart.grid().slots() {
            if let Some(count) = full.get_mut(usize::from(*slot)) {
                *count += 1;
            }
        }
        let mut usages: Vec<Self> = (0..chart.key().len())
            .map(|entry| Self { full: full.get(entry).copied().unwrap_or(0), ..Self::default() })
            .collect();
        let mut with = |entry: EntryId, add: &dyn Fn(&mut Self)| {
            usages.get_mut(entry.index()).into_iter().for_each(add);
        };
        for part in chart.grid().part_cells().flat_map(|(_, parts)| parts) {
            with(part.entry, &|usage| usage.add_part(part.shape));
        }
        for line in chart.lines() {
            with(line.entry, &|usage| usage.line_length += line.length());
        }
        for knot in chart.knots() {
            with(knot.entry, &|usage| usage.knots += 1);
        }
        usages
    }

    /// Both together.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self {
            full: self.full + other.full,
            three_quarter: self.three_quarter + other.three_quarter,
            half: self.half + other.half,
            quarter: self.quarter + other.quarter,
            line_length: self.line_length + other.line_length,
            knots: self.knots + other.knots,
        }
    }

    /// Adds a part stitch.
    pub(crate) fn add_part(&mut self, shape: Shape) {
        match shape {
            Shape::Quarter(_) => self.quarter += 1,
            Shape::Half(_) => self.half += 1,
            Shape::ThreeQuarter(_) => self.three_quarter += 1,
        }
    }

    /// True when nothing is worked in the entry.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.stitches() == 0
    }

    /// All of it counted in full stitches, rounded up: 0 only when there is nothing.
    ///
    /// A part counts by its name. A cell side of line counts a quarter: about 3 sides of one strand
    /// against 4.8 sides of two for a cross. A knot counts a half. Source of the lengths: the path
    /// of the thread along the cloth; the rounding to quarters is a house choice.
    #[must_use]
    pub fn stitches(&self) -> u64 {
        let quarters = self.full * 4
            + self.three_quarter * 3
            + self.half * 2
            + self.quarter
            + whole_sides(self.line_length)
            + self.knots * 2;
        quarters.div_ceil(4)
    }
}

/// A length in whole cell sides, rounded up.
pub(crate) fn whole_sides(length: f64) -> u64 {
    // A sum of square roots may land a hair above a whole number.
    let sides = (length - 1e-9).ceil().clamp(0.0, 1e15);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a whole number in 0 to 1e15, clamped on the line above"
    )]
    let sides = sides as u64;
    sides
}

/// The entries that are used, for those who need no counts.
pub(crate) fn used(chart: &Chart) -> Vec<bool> {
    let mut used = vec![false; chart.key().len()];
    let mut mark = |entry: EntryId| {
        used.get_mut(entry.index()).into_iter().for_each(|used| *used = true);
    };
    chart.grid().slots().iter().filter_map(|slot| slot_entry(*slot)).for_each(&mut mark);
    let parts = chart.grid().part_cells().flat_map(|(_, parts)| parts).map(|part| part.entry);
    let lines = chart.lines().iter().map(|line| line.entry);
    let knots = chart.knots().iter().map(|knot| knot.entry);
    parts.chain(lines).chain(knots).for_each(mark);
    used
}
