//! The hash that ties a change list to the chart it was made for.
//! It does not know the file that the chart came from.

use std::fmt;

use sha2::{Digest, Sha256};

use super::grid::slot_entry;
use super::{Chart, Entry, EntryId, KeyThread, Part, Point, Shape, Slope, Work};

/// SHA-256 over what a change list refers to, the same for the same chart in any file format.
///
/// What enters: the size; every stitch, part stitch, line and knot; the areas; and of each used
/// entry its color, threads (table, table hash, code, strands) and strands. Entries are numbered in
/// the order of their first use, so that the order of the key does not matter. What does not enter:
/// symbols, names, title, designer, notes, cloth, and entries that are not used.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ChartHash([u8; 32]);

impl ChartHash {
    /// The hash of a chart.
    #[must_use]
    pub fn of(chart: &Chart) -> Self {
        let mut bytes = Canon { hasher: Sha256::new(), order: first_uses(chart) };
        bytes.text("dyekin chart 1");
        bytes.number(chart.size().width());
        bytes.number(chart.size().height());
        bytes.key(chart);
        bytes.cells(chart);
        bytes.marks(chart);
        bytes.areas(chart);
        Self(bytes.hasher.finalize().into())
    }

    /// Reads 64 hexadecimal digits.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let mut bytes = [0_u8; 32];
        if text.len() != 64 || !text.is_ascii() {
            return None;
        }
        let mut digits = text.chars().map(|digit| digit.to_digit(16));
        for byte in &mut bytes {
            let (high, low) = (digits.next()??, digits.next()??);
            *byte = u8::try_from(high * 16 + low).ok()?;
        }
        Some(Self(bytes))
    }
}

impl fmt::Display for ChartHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for ChartHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "ChartHash({self})")
    }
}

/// The used entries in the order of their first use, and each entry's place in that order.
struct Order {
    used: Vec<EntryId>,
    place: Vec<Option<u16>>,
}

impl Order {
    fn note(&mut self, entry: EntryId) {
        if let Some(place @ None) = self.place.get_mut(entry.index()) {
            *place = u16::try_from(self.used.len()).ok();
            self.used.push(entry);
        }
    }

    fn of(&self, entry: EntryId) -> u16 {
        self.place.get(entry.index()).copied().flatten().unwrap_or(u16::MAX)
    }
}

fn first_uses(chart: &Chart) -> Order {
    let mut order = Order { used: Vec::new(), place: vec![None; chart.key().len()] };
    let mut before = None;
    for slot in chart.grid().slots() {
        if before != Some(slot) {
            before = Some(slot);
            if let Some(entry) = slot_entry(*slot) {
                order.note(entry);
            }
        }
    }
    let parts = chart.grid().part_cells().flat_map(|(_, parts)| parts).map(|part| part.entry);
    let lines = chart.lines().iter().map(|line| line.entry);
    let knots = chart.knots().iter().map(|knot| knot.entry);
    parts.chain(lines).chain(knots).for_each(|entry| order.note(entry));
    order
}

struct Canon {
    hasher: Sha256,
    order: Order,
}

impl Canon {
    fn number(&mut self, number: u16) {
        self.hasher.update(number.to_le_bytes());
    }

    fn count(&mut self, count: usize) {
        self.hasher.update((count as u64).to_le_bytes());
    }

    fn text(&mut self, text: &str) {
        self.count(text.len());
        self.hasher.update(text.as_bytes());
    }

    fn key(&mut self, chart: &Chart) {
        let used = std::mem::take(&mut self.order.used);
        self.count(used.len());
        for entry in used.iter().filter_map(|id| chart.entry(*id)) {
            self.entry(entry);
        }
    }

    fn entry(&mut self, entry: &Entry) {
        self.hasher.update([entry.color.red, entry.color.green, entry.color.blue]);
        match &entry.work {
            Work::Color => self.number(0),
            Work::Thread(thread) => {
                self.number(1);
                self.thread(thread);
            }
            Work::Blend(blend) => {
                self.number(2);
                for (thread, strands) in blend.threads() {
                    self.thread(thread);
                    self.number((*strands).into());
                }
            }
        }
        for count in [entry.strands.cross(), entry.strands.line(), entry.strands.knot()] {
            self.number(count.unwrap_or(0).into());
        }
    }

    fn thread(&mut self, thread: &KeyThread) {
        self.text(thread.thread.table.as_str());
        self.hasher.update(thread.table_hash.as_bytes());
        self.text(thread.thread.code.key());
    }

    fn cells(&mut self, chart: &Chart) {
        let width = usize::from(chart.size().width());
        let mut row_bytes = Vec::with_capacity(width * 2);
        for row in chart.grid().slots().chunks(width) {
            row_bytes.clear();
            for slot in row {
                let number = slot_entry(*slot).map_or(*slot, |entry| self.order.of(entry));
                row_bytes.extend_from_slice(&number.to_le_bytes());
            }
            self.hasher.update(&row_bytes);
        }
        for (place, parts) in chart.grid().part_cells() {
            self.count(place);
            self.count(parts.len());
            for Part { shape, entry } in parts {
                self.number(shape_number(*shape));
                self.number(self.order.of(*entry));
            }
        }
    }

    fn marks(&mut self, chart: &Chart) {
        self.count(chart.lines().len());
        for line in chart.lines() {
            self.point(line.from());
            self.point(line.to());
            self.number(self.order.of(line.entry));
        }
        self.count(chart.knots().len());
        for knot in chart.knots() {
            self.point(knot.at);
            self.number(self.order.of(knot.entry));
        }
    }

    fn point(&mut self, point: Point) {
        self.number(point.half_x);
        self.number(point.half_y);
    }

    fn areas(&mut self, chart: &Chart) {
        self.count(chart.areas().len());
        for area in chart.areas() {
            self.text(area.name().as_str());
            self.count(area.runs().len());
            for run in area.runs() {
                self.number(run.y);
                self.number(run.x);
                self.number(run.count);
            }
        }
    }
}

/// A number for each shape that never changes, whatever the order of the types.
fn shape_number(shape: Shape) -> u16 {
    use super::Corner::{BottomLeft, BottomRight, TopLeft, TopRight};
    match shape {
        Shape::Quarter(TopLeft) => 1,
        Shape::Quarter(TopRight) => 2,
        Shape::Quarter(BottomLeft) => 3,
        Shape::Quarter(BottomRight) => 4,
        Shape::Half(Slope::Rising) => 5,
        Shape::Half(Slope::Falling) => 6,
        Shape::ThreeQuarter(TopLeft) => 7,
        Shape::ThreeQuarter(TopRight) => 8,
        Shape::ThreeQuarter(BottomLeft) => 9,
        Shape::ThreeQuarter(BottomRight) => 10,
    }
}
