//! Back-stitch lines and knots, on the grid of cell corners and the halves between them.
//! They do not know the stitches below them.

use std::fmt;

use dyekin_core::error::{Error, ErrorKind};
use dyekin_core::math;

use super::{EntryId, Size};

/// A point on the grid of cell corners and the halves between, counted in half cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Point {
    /// Half cells from the left edge.
    pub half_x: u16,
    /// Half cells from the top edge.
    pub half_y: u16,
}

impl Point {
    /// True when the point lies on a chart of this size, its outer edge included.
    #[must_use]
    pub fn lies_on(self, size: Size) -> bool {
        u32::from(self.half_x) <= u32::from(size.width()) * 2
            && u32::from(self.half_y) <= u32::from(size.height()) * 2
    }
}

impl fmt::Display for Point {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, {}", f64::from(self.half_x) / 2.0, f64::from(self.half_y) / 2.0)
    }
}

/// A back-stitch line between two different points.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Line {
    from: Point,
    to: Point,
    /// What it is worked in.
    pub entry: EntryId,
}

impl Line {
    /// A line.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when it begins where it ends.
    pub fn new(from: Point, to: Point, entry: EntryId) -> Result<Self, Error> {
        if from == to {
            return Err(Error::new(ErrorKind::BadValue {
                value: from.to_string(),
                reason: "a line that begins where it ends".into(),
                remedy: "give it two different points, or make it a knot".into(),
            }));
        }
        Ok(Self { from, to, entry })
    }

    /// Where it begins.
    #[must_use]
    pub fn from(&self) -> Point {
        self.from
    }

    /// Where it ends.
    #[must_use]
    pub fn to(&self) -> Point {
        self.to
    }

    /// Length in cell sides, more than 0.
    #[must_use]
    pub fn length(&self) -> f64 {
        let across = f64::from(self.from.half_x.abs_diff(self.to.half_x)) / 2.0;
        let down = f64::from(self.from.half_y.abs_diff(self.to.half_y)) / 2.0;
        math::hypot(across, down)
    }

    /// At most so many pieces lie between the grid lines that it crosses.
    #[must_use]
    pub fn cells_passed(&self) -> u64 {
        let across = u64::from(self.from.half_x.abs_diff(self.to.half_x));
        let down = u64::from(self.from.half_y.abs_diff(self.to.half_y));
        across.div_ceil(2) + down.div_ceil(2)
    }
}

/// A knot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Knot {
    /// Where it sits.
    pub at: Point,
    /// What it is worked in.
    pub entry: EntryId,
}
