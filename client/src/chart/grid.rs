//! The stitches of a chart, cell by cell. It does not know the key that the cells name.

use std::collections::BTreeMap;
use std::fmt;

use dyekin_core::error::{Error, ErrorKind};

use super::EntryId;

/// Most cells across, and most cells down.
pub const MAX_SIDE: u16 = 2_000;

/// Most part stitches in one cell.
pub const MAX_PARTS: usize = 4;

/// Slot of bare cloth.
const BARE: u16 = u16::MAX;

/// Slot of a cell with part stitches; they stand in their own map because they are rare.
const IN_PARTS: u16 = u16::MAX - 1;

/// Cells across and down, each 1 to 2,000.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Size {
    width: u16,
    height: u16,
}

impl Size {
    /// A checked size.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadFile`] with both numbers when one is 0 or above 2,000.
    pub fn new(width: u64, height: u64) -> Result<Self, Error> {
        let side =
            |cells: u64| u16::try_from(cells).ok().filter(|cells| (1..=MAX_SIDE).contains(cells));
        match (side(width), side(height)) {
            (Some(width), Some(height)) => Ok(Self { width, height }),
            _ => Err(Error::new(ErrorKind::BadFile {
                reason: format!(
                    "{width} x {height} cells, the limit is {MAX_SIDE} x {MAX_SIDE} and at least 1 x 1"
                ),
                remedy: "cut the chart into pieces, or save the picture with one pixel per stitch"
                    .into(),
            })),
        }
    }

    /// Cells across.
    #[must_use]
    pub fn width(self) -> u16 {
        self.width
    }

    /// Cells down.
    #[must_use]
    pub fn height(self) -> u16 {
        self.height
    }

    /// All cells.
    #[must_use]
    pub fn cells(self) -> usize {
        usize::from(self.width) * usize::from(self.height)
    }

    /// The place of a cell in reading order; `None` beyond the edge.
    #[must_use]
    pub fn place(self, x: u16, y: u16) -> Option<usize> {
        (x < self.width && y < self.height)
            .then(|| usize::from(y) * usize::from(self.width) + usize::from(x))
    }
}

impl fmt::Display for Size {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} x {}", self.width, self.height)
    }
}

/// A corner of a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Corner {
    /// Bottom left.
    BottomLeft,
    /// Bottom right.
    BottomRight,
    /// Top left.
    TopLeft,
    /// Top right.
    TopRight,
}

/// The way a half stitch leans.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Slope {
    /// From top left to bottom right.
    Falling,
    /// From bottom left to top right.
    Rising,
}

/// The shape of a part stitch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Shape {
    /// From the corner to the middle.
    Quarter(Corner),
    /// One leg of the cross.
    Half(Slope),
    /// The leg beside the corner and the quarter from the corner to the middle.
    ThreeQuarter(Corner),
}

impl Shape {
    /// How much of a full stitch it is, in quarters: 1, 2 or 3.
    #[must_use]
    pub fn quarters(self) -> u64 {
        match self {
            Self::Quarter(_) => 1,
            Self::Half(_) => 2,
            Self::ThreeQuarter(_) => 3,
        }
    }
}

/// A part stitch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Part {
    /// Its shape.
    pub shape: Shape,
    /// What it is worked in.
    pub entry: EntryId,
}

/// What stands in a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cell<'g> {
    /// Nothing: the cloth shows.
    Bare,
    /// One full stitch.
    Full(EntryId),
    /// 1 to 4 part stitches of different shapes, ordered by shape.
    Parts(&'g [Part]),
}

/// All cells of a chart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Grid {
    size: Size,
    slots: Vec<u16>,
    parts: BTreeMap<usize, Vec<Part>>,
}

impl Grid {
    /// A grid of bare cloth.
    #[must_use]
    pub fn bare(size: Size) -> Self {
        Self { size, slots: vec![BARE; size.cells()], parts: BTreeMap::new() }
    }

    /// Cells across and down.
    #[must_use]
    pub fn size(&self) -> Size {
        self.size
    }

    /// What stands in a cell; beyond the edge is bare cloth.
    #[must_use]
    pub fn cell(&self, x: u16, y: u16) -> Cell<'_> {
        self.size.place(x, y).map_or(Cell::Bare, |place| self.at(place))
    }

    /// What stands in the cell at a place in reading order.
    #[must_use]
    pub fn at(&self, place: usize) -> Cell<'_> {
        match self.slots.get(place).copied() {
            None | Some(BARE) => Cell::Bare,
            Some(IN_PARTS) => self.parts.get(&place).map_or(Cell::Bare, |parts| Cell::Parts(parts)),
            Some(number) => EntryId::new(number.into()).map_or(Cell::Bare, Cell::Full),
        }
    }

    /// All cells in reading order.
    pub fn cells(&self) -> impl Iterator<Item = Cell<'_>> {
        (0..self.slots.len()).map(|place| self.at(place))
    }

    /// Puts one full stitch into a cell, or bares it. Beyond the edge nothing happens.
    pub fn put(&mut self, x: u16, y: u16, entry: Option<EntryId>) {
        if let Some(place) = self.size.place(x, y) {
            self.put_at(place, entry);
        }
    }

    /// Puts one full stitch into the cell at a place in reading order, or bares it.
    pub fn put_at(&mut self, place: usize, entry: Option<EntryId>) {
        if let Some(slot) = self.slots.get_mut(place) {
            if *slot == IN_PARTS {
                self.parts.remove(&place);
            }
            *slot = entry.map_or(BARE, EntryId::number);
        }
    }

    /// Puts part stitches into a cell in place of what stood there.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] beyond the edge, without a part, with more than four, or with one
    /// shape twice.
    pub fn put_parts(&mut self, x: u16, y: u16, mut parts: Vec<Part>) -> Result<(), Error> {
        parts.sort_unstable();
        let twice = parts.windows(2).any(|pair| matches!(pair, [a, b] if a.shape == b.shape));
        let reason = match self.size.place(x, y) {
            None => format!("the cell lies beyond the chart of {} cells", self.size),
            Some(_) if parts.is_empty() => "no part stitch".to_owned(),
            Some(_) if parts.len() > MAX_PARTS => {
                format!("{} part stitches, a cell holds up to {MAX_PARTS}", parts.len())
            }
            Some(_) if twice => "the same part stitch twice".to_owned(),
            Some(place) => {
                if let Some(slot) = self.slots.get_mut(place) {
                    *slot = IN_PARTS;
                }
                self.parts.insert(place, parts);
                return Ok(());
            }
        };
        Err(Error::new(ErrorKind::BadValue {
            value: format!("cell {x}, {y}"),
            reason,
            remedy: "give each cell 1 to 4 different part stitches".into(),
        }))
    }

    /// All cells with part stitches, by their place in reading order.
    pub fn part_cells(&self) -> impl Iterator<Item = (usize, &[Part])> {
        self.parts.iter().map(|(place, parts)| (*place, parts.as_slice()))
    }

    /// The largest entry that is named.
    #[must_use]
    pub fn largest_entry(&self) -> Option<EntryId> {
        let full = self.slots.iter().filter(|slot| **slot < IN_PARTS).max();
        let parts = self.parts.values().flatten().map(|part| part.entry).max();
        full.and_then(|number| EntryId::new((*number).into())).max(parts)
    }

    /// The same grid with every entry replaced; the second argument is the cell's place.
    #[must_use]
    pub(crate) fn renamed(&self, name: &dyn Fn(EntryId, usize) -> EntryId) -> Self {
        let slot = |(place, slot): (usize, &u16)| {
            slot_entry(*slot).map_or(*slot, |entry| name(entry, place).number())
        };
        let parts = |(place, parts): (&usize, &Vec<Part>)| {
            let part = |part: &Part| Part { shape: part.shape, entry: name(part.entry, *place) };
            (*place, parts.iter().map(part).collect())
        };
        Self {
            size: self.size,
            slots: self.slots.iter().enumerate().map(slot).collect(),
            parts: self.parts.iter().map(parts).collect(),
        }
    }

    /// One slot a cell: an entry's number, or one of the two values that [`slot_entry`] refuses.
    pub(crate) fn slots(&self) -> &[u16] {
        &self.slots
    }
}

/// The entry of a full stitch's slot.
pub(crate) fn slot_entry(slot: u16) -> Option<EntryId> {
    EntryId::new(slot.into())
}
