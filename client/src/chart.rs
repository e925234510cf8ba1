//! A counted-thread chart: a grid of stitches, lines and knots over it, and the key that they use.
//! It does not know files, thread tables or how colors are compared.
//!
//! ```text
//! bytes ─► read ─► Chart ─► summary ─► (questions) ─► apply ─► Chart ─► write ─► bytes
//! ```
//!
//! # Invariants
//!
//! - A chart is 1 to 2,000 cells wide and high; every stitch, line and knot names an entry of the
//!   key, lies on the chart and so do the areas.
//! - No two entries share a symbol, no two areas a name.

mod area;
mod codes;
mod grid;
mod hash;
mod json;
mod key;
mod key_alone;
mod key_lines;
mod key_list;
mod label;
mod line;
mod looks;
mod picture;
pub(crate) mod problems;
mod read;
mod record;
mod symbol;
mod text;
mod usage;
mod write;

pub use area::{Area, Run};
pub(crate) use grid::slot_entry;
pub use grid::{Cell, Corner, Grid, MAX_PARTS, MAX_SIDE, Part, Shape, Size, Slope};
pub use hash::ChartHash;
#[cfg(test)]
pub(crate) use json::read::FIELDS as JSON_FIELDS;
pub use key::{Blend, Entry, EntryId, KeyThread, MAX_ENTRIES, MAX_STRANDS, Strands, Symbol, Work};
pub(crate) use key::{mixed, to_light};
pub use key_alone::{KeyAlone, KeyRow};
pub use key_lines::{KeyLine, read_key_lines};
pub use key_list::{entry_words, key_csv, key_json};
pub use label::Label;
pub use line::{Knot, Line, Point};
pub(crate) use looks::{HEAD, Looks, looks};
pub(crate) use picture::write::shown_entry;
pub use picture::{PictureOptions, Scale, SeeThrough};
pub(crate) use picture::{is_picture, marks};
pub use read::{Content, FileKind, Loaded, MAX_FILE_BYTES, ReadOptions, read};
pub use symbol::SymbolSet;
#[cfg(test)]
pub(crate) use symbol::given_symbols;
pub(crate) use text::csv_cell;
pub(crate) use text::decode as decode_text;
pub use usage::Usage;
pub(crate) use usage::{used, whole_sides};
pub use write::{ChartFormat, Written, write};

use std::collections::HashMap;

use dyekin_core::Srgb8;
use dyekin_core::error::{Error, ErrorKind, Place};

/// Most lines, and most knots, of one chart.
pub const MAX_MARKS: usize = 200_000;

/// Largest length of all lines of a chart together, in cell sides.
pub const MAX_LINE_LENGTH: u64 = 10_000_000;

/// Most areas of one chart.
pub const MAX_AREAS: usize = 1_000;

/// The cloth that the chart is worked on.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cloth {
    /// Its color, when it is known.
    pub color: Option<Srgb8>,
    /// Its name, when it has one.
    pub name: Option<Label>,
}

/// What the chart says about itself. Foreign text: escape it before it is shown.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct About {
    /// The title.
    pub title: Option<Label>,
    /// Who drew it.
    pub designer: Option<Label>,
    /// Anything else, up to 10,000 characters.
    pub notes: Option<Label>,
}

/// What a chart is made of, before it is checked.
#[derive(Clone, Debug)]
pub struct Draft {
    /// Title, designer and notes.
    pub about: About,
    /// The cloth.
    pub cloth: Cloth,
    /// The key: what the stitches are worked in.
    pub key: Vec<Entry>,
    /// The stitches.
    pub grid: Grid,
    /// The back-stitch lines, in the order in which they are worked.
    pub lines: Vec<Line>,
    /// The knots.
    pub knots: Vec<Knot>,
    /// Named sets of cells.
    pub areas: Vec<Area>,
}

impl Draft {
    /// A draft of nothing but a grid and its key.
    #[must_use]
    pub fn of_grid(grid: Grid, key: Vec<Entry>) -> Self {
        Self {
            about: About::default(),
            cloth: Cloth::default(),
            key,
            grid,
            lines: Vec::new(),
            knots: Vec::new(),
            areas: Vec::new(),
        }
    }
}

/// A checked chart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chart {
    about: About,
    cloth: Cloth,
    key: Vec<Entry>,
    grid: Grid,
    lines: Vec<Line>,
    knots: Vec<Knot>,
    areas: Vec<Area>,
}

impl Chart {
    /// A checked chart.
    ///
    /// # Errors
    ///
    /// All problems at once: entries that the key does not have, marks and areas beyond the edge,
    /// symbols or area names that come twice, more than the limits allow.
    pub fn new(draft: Draft) -> Result<Self, Vec<Error>> {
        let mut problems = Vec::new();
        check_limits(&draft, &mut problems);
        check_references(&draft, &mut problems);
        check_twins(&draft, &mut problems);
        if !problems.is_empty() {
            return Err(problems);
        }
        let Draft { about, cloth, key, grid, lines, knots, areas } = draft;
        Ok(Self { about, cloth, key, grid, lines, knots, areas })
    }

    /// The parts of the chart, to make another one of them.
    #[must_use]
    pub fn into_draft(self) -> Draft {
        let Self { about, cloth, key, grid, lines, knots, areas } = self;
        Draft { about, cloth, key, grid, lines, knots, areas }
    }

    /// Cells across and down.
    #[must_use]
    pub fn size(&self) -> Size {
        self.grid.size()
    }

    /// Title, designer and notes.
    #[must_use]
    pub fn about(&self) -> &About {
        &self.about
    }

    /// The cloth.
    #[must_use]
    pub fn cloth(&self) -> &Cloth {
        &self.cloth
    }

    /// The key.
    #[must_use]
    pub fn key(&self) -> &[Entry] {
        &self.key
    }

    /// An entry of the key.
    #[must_use]
    pub fn entry(&self, id: EntryId) -> Option<&Entry> {
        self.key.get(id.index())
    }

    /// The stitches.
    #[must_use]
    pub fn grid(&self) -> &Grid {
        &self.grid
    }

    /// The back-stitch lines.
    #[must_use]
    pub fn lines(&self) -> &[Line] {
        &self.lines
    }

    /// The knots.
    #[must_use]
    pub fn knots(&self) -> &[Knot] {
        &self.knots
    }

    /// Named sets of cells.
    #[must_use]
    pub fn areas(&self) -> &[Area] {
        &self.areas
    }
}

fn check_limits(draft: &Draft, problems: &mut Vec<Error>) {
    let mut within = |what: &str, found: u64, limit: u64| {
        if found > limit {
            problems.push(over(what, found, limit));
        }
    };
    within("entries in one key", draft.key.len() as u64, MAX_ENTRIES as u64);
    within("lines on one chart", draft.lines.len() as u64, MAX_MARKS as u64);
    within("knots on one chart", draft.knots.len() as u64, MAX_MARKS as u64);
    within("areas of one chart", draft.areas.len() as u64, MAX_AREAS as u64);
    let length = draft.lines.iter().map(Line::cells_passed).sum();
    within("cell sides of all lines together", length, MAX_LINE_LENGTH);
}

fn check_references(draft: &Draft, problems: &mut Vec<Error>) {
    let size = draft.grid.size();
    let known = |entry: EntryId| entry.index() < draft.key.len();
    if let Some(entry) = draft.grid.largest_entry().filter(|entry| !known(*entry)) {
        problems.push(no_entry("grid", entry, draft.key.len()));
    }
    for (number, line) in draft.lines.iter().enumerate() {
        let field = format!("lines[{number}]");
        if !known(line.entry) {
            problems.push(no_entry(&field, line.entry, draft.key.len()));
        }
        if !line.from().lies_on(size) || !line.to().lies_on(size) {
            problems.push(beyond(&field, size));
        }
    }
    for (number, knot) in draft.knots.iter().enumerate() {
        let field = format!("knots[{number}]");
        if !known(knot.entry) {
            problems.push(no_entry(&field, knot.entry, draft.key.len()));
        }
        if !knot.at.lies_on(size) {
            problems.push(beyond(&field, size));
        }
    }
    for (number, area) in draft.areas.iter().enumerate() {
        if !area.lies_on(size) {
            problems.push(beyond(&format!("areas[{number}]"), size));
        }
    }
}

fn check_twins(draft: &Draft, problems: &mut Vec<Error>) {
    let mut symbols = HashMap::new();
    for (number, entry) in draft.key.iter().enumerate() {
        let Some(symbol) = &entry.symbol else { continue };
        if let Some(first) = symbols.insert(symbol.as_str(), number) {
            let reason = format!("entries {first} and {number} of the key share this symbol");
            problems.push(twin(&format!("key[{number}].symbol"), symbol.as_str(), reason));
        }
    }
    let mut names = HashMap::new();
    for (number, area) in draft.areas.iter().enumerate() {
        if let Some(first) = names.insert(area.name().as_str(), number) {
            let reason = format!("areas {first} and {number} share this name");
            problems.push(twin(&format!("areas[{number}].name"), area.name().as_str(), reason));
        }
    }
}

fn over(what: &str, found: u64, limit: u64) -> Error {
    Error::new(ErrorKind::OverLimit { what: what.to_owned(), found, limit })
}

fn no_entry(field: &str, entry: EntryId, entries: usize) -> Error {
    Error::new(ErrorKind::BadValue {
        value: entry.index().to_string(),
        reason: format!("the key has {entries} entries, numbered from 0"),
        remedy: "name an entry of the key".into(),
    })
    .at(Place::field(field))
}

fn beyond(field: &str, size: Size) -> Error {
    Error::new(ErrorKind::BadValue {
        value: field.to_owned(),
        reason: format!("it reaches beyond the chart of {size} cells"),
        remedy: "keep it on the chart".into(),
    })
    .at(Place::field(field))
}

fn twin(field: &str, value: &str, reason: String) -> Error {
    Error::new(ErrorKind::BadValue {
        value: value.to_owned(),
        reason,
        remedy: "give each its own".into(),
    })
    .at(Place::field(field))
}
