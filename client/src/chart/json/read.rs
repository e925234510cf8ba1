//! Chart JSON to a chart, or to all that is wrong with it by line and column.
//! It does not know other chart formats.

use dyekin_core::error::Error;
use dyekin_core::table::Refused;
use dyekin_core::{Code, Srgb8, TableHash, TableId, ThreadRef};

use super::super::problems::{Problems, bad_value};
use super::super::{
    About, Area, Blend, Chart, Cloth, Draft, Entry, EntryId, Grid, KeyThread, Knot, Label, Line,
    MAX_AREAS, MAX_ENTRIES, MAX_MARKS, MAX_SIDE, Part, Point, Run, Size, Strands, Symbol, Work,
};
use super::{FORMAT, VERSION, shape_of};
use crate::json::{Checker, Node, Object, Value, whole};

/// Keys of the file.
pub(crate) const FIELDS: [&str; 14] = [
    "format", "version", "title", "designer", "notes", "width", "height", "cloth", "key", "rows",
    "parts", "lines", "knots", "areas",
];

/// Reads a chart file.
pub(crate) fn read(text: &str, source_name: &str) -> Result<Chart, Refused> {
    let (checker, tree) = Checker::read(text, Problems::of(source_name));
    let mut reader = Reader { check: checker, entries: 0 };
    let draft = tree.as_ref().and_then(|tree| reader.chart(tree));
    let clean = reader.check.is_clean();
    let mut problems = reader.check.into_problems();
    let Some(draft) = draft.filter(|_| clean) else {
        if problems.is_empty() {
            problems.push_file("the chart could not be read", "compare it with the chart schema");
        }
        return Err(problems.refused());
    };
    Chart::new(draft).map_err(|found| {
        found.into_iter().for_each(|problem| problems.push(problem));
        problems.refused()
    })
}

struct Reader<'t> {
    check: Checker<'t>,
    /// Entries of the key, known before anything that names one.
    entries: usize,
}

impl Reader<'_> {
    fn chart(&mut self, tree: &Node) -> Option<Draft> {
        if self.check.is_other(tree, FORMAT, "chart") {
            return None;
        }
        let root = self.check.object(tree, "chart", &FIELDS)?;
        if !self.check.is_format(root, FORMAT, VERSION, "chart") {
            return None;
        }
        let size = self.size(root);
        let key = self.key(root)?;
        self.entries = key.len();
        let mut grid = Grid::bare(size?);
        self.rows(root, &mut grid);
        self.parts(root, &mut grid);
        Some(Draft {
            about: self.about(root),
            cloth: self.cloth(root),
            lines: self.lines(root, grid.size()),
            knots: self.knots(root, grid.size()),
            areas: self.areas(root, grid.size()),
            key,
            grid,
        })
    }

    fn size(&mut self, root: Object<'_>) -> Option<Size> {
        let width = self.check.need(root, "width", "chart");
        let height = self.check.need(root, "height", "chart");
        let (width, height) = (width?, height?);
        let across = self.check.whole(width, "width", 1 << 32);
        let down = self.check.whole(height, "height", 1 << 32);
        self.check.take(width, "width", Size::new(across?, down?))
    }

    fn about(&mut self, root: Object<'_>) -> About {
        About {
            title: self.check.optional(root, "title", Label::parse),
            designer: self.check.optional(root, "designer", Label::parse),
            notes: self.check.optional(root, "notes", Label::parse_note),
        }
    }

    fn cloth(&mut self, root: Object<'_>) -> Cloth {
        let cloth = root.get("cloth");
        let cloth = cloth.and_then(|node| self.check.object(node, "cloth", &["color", "name"]));
        let Some(cloth) = cloth else { return Cloth::default() };
        Cloth {
            color: self.check.optional(cloth, "color", Srgb8::parse_hex),
            name: self.check.optional(cloth, "name", Label::parse),
        }
    }

    fn key(&mut self, root: Object<'_>) -> Option<Vec<Entry>> {
        let node = self.check.need(root, "key", "chart")?;
        let items = self.check.list(node, "key")?;
        if items.len() > MAX_ENTRIES {
            let reason = format!("{} entries, the limit is {MAX_ENTRIES}", items.len());
            self.check.bad(node, "key", &reason, "join entries of the same thread");
            return None;
        }
        let mut key: Vec<Entry> = Vec::with_capacity(items.len());
        for (number, item) in items.iter().enumerate() {
            // A stand-in keeps the numbers of the entries right while problems are collected.
            let stand_in = || Entry::of_color(Srgb8::new(0, 0, 0));
            key.push(self.entry(item, &format!("key[{number}]")).unwrap_or_else(stand_in));
        }
        self.symbols(items, &key);
        Some(key)
    }

    fn symbols(&mut self, items: &[Node], key: &[Entry]) {
        let mut known = std::collections::HashMap::new();
        for (number, (item, entry)) in items.iter().zip(key).enumerate() {
            let Some(symbol) = &entry.symbol else { continue };
            if let Some(first) = known.insert(symbol, number) {
                let reason = format!("the symbol `{symbol}` also stands for entry {first}");
                let path = format!("key[{number}].symbol");
                self.check.bad(item, &path, &reason, "give each entry its own symbol");
            }
        }
    }

    fn entry(&mut self, node: &Node, path: &str) -> Option<Entry> {
        let known = ["symbol", "color", "name", "thread", "blend", "strands"];
        let object = self.check.object(node, path, &known)?;
        let symbol = self.check.optional(object, "symbol", Symbol::parse);
        let name = self.check.optional(object, "name", Label::parse);
        let strands = self.strands(object, path);
        let work = self.work(object, path);
        let color = self.check.need(object, "color", path)?;
        let color = self.check.parsed(color, &format!("{path}.color"), Srgb8::parse_hex)?;
        Some(Entry { symbol, color, work: work?, strands, name })
    }

    fn strands(&mut self, entry: Object<'_>, path: &str) -> Strands {
        let Some(node) = entry.get("strands") else { return Strands::default() };
        let path = format!("{path}.strands");
        let Some(object) = self.check.object(node, &path, &["cross", "line", "knot"]) else {
            return Strands::default();
        };
        let mut count = |key: &str| {
            let node = object.get(key)?;
            self.check.whole(node, &path, 255).and_then(|count| u8::try_from(count).ok())
        };
        let (cross, line, knot) = (count("cross"), count("line"), count("knot"));
        self.check.take(node, &path, Strands::new(cross, line, knot)).unwrap_or_default()
    }

    fn work(&mut self, entry: Object<'_>, path: &str) -> Option<Work> {
        match (entry.get("thread"), entry.get("blend")) {
            (None, None) => Some(Work::Color),
            (Some(node), None) => {
                let path = format!("{path}.thread");
                let object = self.check.object(node, &path, &["table", "hash", "code"])?;
                self.thread(object, &path).map(Work::Thread)
            }
            (None, Some(node)) => self.blend(node, &format!("{path}.blend")).map(Work::Blend),
            (Some(node), Some(_)) => {
                self.check.bad(node, path, "both a thread and a blend", "keep one of the two");
                None
            }
        }
    }

    fn blend(&mut self, node: &Node, path: &str) -> Option<Blend> {
        let items = self.check.list(node, path)?;
        let [first, second] = items else {
            self.check.bad(node, path, "a blend has two threads", "list two threads");
            return None;
        };
        let first = self.strand(first, path);
        let second = self.strand(second, path);
        self.check.take(node, path, Blend::new(first?, second?))
    }

    fn strand(&mut self, node: &Node, path: &str) -> Option<(KeyThread, u8)> {
        let object = self.check.object(node, path, &["table", "hash", "code", "strands"])?;
        let thread = self.thread(object, path);
        let count = self.check.need(object, "strands", path)?;
        let count = self.check.whole(count, path, 255).and_then(|count| u8::try_from(count).ok());
        Some((thread?, count?))
    }

    fn thread(&mut self, object: Object<'_>, path: &str) -> Option<KeyThread> {
        let table = self.check.need(object, "table", path);
        let table = table.and_then(|node| self.check.parsed(node, path, TableId::parse));
        let code = self.check.need(object, "code", path);
        let code = code.and_then(|node| self.check.parsed(node, path, Code::parse));
        let hash = self.check.need(object, "hash", path);
        let hash = hash.and_then(|node| self.check.parsed(node, path, table_hash));
        Some(KeyThread { thread: ThreadRef { table: table?, code: code? }, table_hash: hash? })
    }

    fn rows(&mut self, root: Object<'_>, grid: &mut Grid) {
        let Some(node) = self.check.need(root, "rows", "chart") else { return };
        let Some(rows) = self.check.list(node, "rows") else { return };
        if rows.len() != usize::from(grid.size().height()) {
            let reason = format!("{} rows, the height says {}", rows.len(), grid.size().height());
            self.check.bad(node, "rows", &reason, "give each row of cells its list");
        }
        for (y, row) in rows.iter().enumerate() {
            self.row(row, y, grid);
        }
    }

    fn row(&mut self, node: &Node, y: usize, grid: &mut Grid) {
        let path = format!("rows[{y}]");
        let Some(items) = self.check.list(node, &path) else { return };
        let width = usize::from(grid.size().width());
        let mut x = 0_usize;
        for item in items {
            let Some((count, entry)) = self.run(item, &path) else { return };
            if entry.is_some() && x + count <= width {
                for place in (y * width + x)..(y * width + x + count) {
                    grid.put_at(place, entry);
                }
            }
            x = x.saturating_add(count);
        }
        if x != width {
            let reason = format!("{x} cells in this row, the width says {width}");
            self.check.bad(node, &path, &reason, "let the counts of each row add up to the width");
        }
    }

    /// An item of a row: an entry or null for one cell, or `[count, entry]`.
    fn run(&mut self, node: &Node, path: &str) -> Option<(usize, Option<EntryId>)> {
        let Value::List(pair) = &node.value else {
            return Some((1, self.cell(node, path)?));
        };
        let [count, entry] = &**pair else {
            self.check.bad(node, path, "a run has a count and an entry", "write [count, entry]");
            return None;
        };
        let cells = self.check.whole(count, path, MAX_SIDE.into())?;
        if cells == 0 {
            self.check.bad(count, path, "a run of no cell", "leave the run out");
            return None;
        }
        let entry = self.cell(entry, path)?;
        Some((usize::try_from(cells).ok()?, entry))
    }

    /// An entry, or `None` inside for bare cloth; `None` outside when neither.
    fn cell(&mut self, node: &Node, path: &str) -> Option<Option<EntryId>> {
        if matches!(node.value, Value::Null) {
            return Some(None);
        }
        self.entry_id(node, path).map(Some)
    }

    fn entry_id(&mut self, node: &Node, path: &str) -> Option<EntryId> {
        let number = self.check.number(node, path)?;
        let id = whole(number).and_then(|number| usize::try_from(number).ok());
        let id = id.filter(|number| *number < self.entries).and_then(EntryId::new);
        if id.is_none() {
            let reason = format!("the key has {} entries, numbered from 0", self.entries);
            self.check.bad(node, path, &reason, "name an entry of the key");
        }
        id
    }

    fn parts(&mut self, root: Object<'_>, grid: &mut Grid) {
        let cells = self.check.list_of(root, "parts");
        let mut known = std::collections::HashSet::new();
        for (number, node) in cells.iter().enumerate() {
            let path = format!("parts[{number}]");
            if let Some((x, y, parts)) = self.part_cell(node, &path) {
                let bare = matches!(grid.cell(x, y), super::super::Cell::Bare);
                if !known.insert((x, y)) || !bare {
                    let reason = "the cell already holds a stitch";
                    self.check.bad(node, &path, reason, "list each cell once, in rows or in parts");
                    continue;
                }
                let put = grid.put_parts(x, y, parts);
                self.check.take(node, &path, put);
            }
        }
    }

    fn part_cell(&mut self, node: &Node, path: &str) -> Option<(u16, u16, Vec<Part>)> {
        let object = self.check.object(node, path, &["cell", "stitches"])?;
        let cell = self.check.need(object, "cell", path);
        let cell = cell.and_then(|node| self.corner_of_cell(node, path));
        let stitches = self.check.need(object, "stitches", path)?;
        let stitches = self.check.list(stitches, path)?;
        let parts: Vec<Option<Part>> =
            stitches.iter().map(|stitch| self.part(stitch, path)).collect();
        let parts: Vec<Part> = parts.into_iter().collect::<Option<_>>()?;
        let (x, y) = cell?;
        Some((x, y, parts))
    }

    fn corner_of_cell(&mut self, node: &Node, path: &str) -> Option<(u16, u16)> {
        let items = self.check.list(node, path)?;
        let [x, y] = items else {
            self.check.bad(node, path, "a cell has a column and a row", "write [column, row]");
            return None;
        };
        let x = self.side(x, path);
        let y = self.side(y, path);
        Some((x?, y?))
    }

    fn side(&mut self, node: &Node, path: &str) -> Option<u16> {
        let value = self.check.whole(node, path, MAX_SIDE.into())?;
        u16::try_from(value).ok()
    }

    fn part(&mut self, node: &Node, path: &str) -> Option<Part> {
        let keys = ["quarter", "half", "three_quarter"];
        let object =
            self.check.object(node, path, &["quarter", "half", "three_quarter", "entry"])?;
        let entry = self.check.need(object, "entry", path);
        let entry = entry.and_then(|node| self.entry_id(node, path));
        let named: Vec<(&str, &Node)> =
            keys.iter().filter_map(|key| object.get(key).map(|node| (*key, node))).collect();
        let [(key, word_node)] = named.as_slice() else {
            let reason = "a part stitch is a quarter, a half or a three_quarter";
            self.check.bad(node, path, reason, "write for example {\"quarter\": \"top left\"}");
            return None;
        };
        let word = self.check.text(word_node, path)?;
        let shape = shape_of(key, word);
        if shape.is_none() {
            let remedy = if *key == "half" {
                "write rising or falling"
            } else {
                "write top left, top right, bottom left or bottom right"
            };
            self.check.bad(word_node, path, "not a place in the cell", remedy);
        }
        Some(Part { shape: shape?, entry: entry? })
    }

    fn lines(&mut self, root: Object<'_>, size: Size) -> Vec<Line> {
        let items = self.marks(root, "lines");
        let mut lines = Vec::with_capacity(items.len());
        for (number, node) in items.iter().enumerate() {
            lines.extend(self.line(node, &format!("lines[{number}]"), size));
        }
        lines
    }

    /// The list of lines or knots, refused when it is too long.
    fn marks<'n>(&mut self, root: Object<'n>, key: &str) -> &'n [Node] {
        let items = self.check.list_of(root, key);
        if items.len() > MAX_MARKS
            && let Some(node) = root.get(key)
        {
            let reason = format!("{} {key}, the limit is {MAX_MARKS}", items.len());
            self.check.bad(node, key, &reason, "join lines that follow each other");
            return &[];
        }
        items
    }

    fn line(&mut self, node: &Node, path: &str, size: Size) -> Option<Line> {
        let object = self.check.object(node, path, &["from", "to", "entry"])?;
        let from = self.point(object, "from", path, size);
        let to = self.point(object, "to", path, size);
        let entry = self.check.need(object, "entry", path)?;
        let entry = self.entry_id(entry, path);
        self.check.take(node, path, Line::new(from?, to?, entry?))
    }

    fn knots(&mut self, root: Object<'_>, size: Size) -> Vec<Knot> {
        let items = self.marks(root, "knots");
        let mut knots = Vec::with_capacity(items.len());
        for (number, node) in items.iter().enumerate() {
            knots.extend(self.knot(node, &format!("knots[{number}]"), size));
        }
        knots
    }

    fn knot(&mut self, node: &Node, path: &str, size: Size) -> Option<Knot> {
        let object = self.check.object(node, path, &["at", "entry"])?;
        let at = self.point(object, "at", path, size);
        let entry = self.check.need(object, "entry", path)?;
        let entry = self.entry_id(entry, path);
        Some(Knot { at: at?, entry: entry? })
    }

    fn point(&mut self, object: Object<'_>, key: &str, path: &str, size: Size) -> Option<Point> {
        let node = self.check.need(object, key, path)?;
        let items = self.check.list(node, path)?;
        let halves = match items {
            [x, y] => (self.halves(x), self.halves(y)),
            _ => (None, None),
        };
        let point = match halves {
            (Some(half_x), Some(half_y)) => {
                Some(Point { half_x, half_y }).filter(|point| point.lies_on(size))
            }
            _ => None,
        };
        if point.is_none() {
            let reason = format!("not a corner or half on the chart of {size} cells");
            self.check.bad(node, path, &reason, "write [across, down] in cells, such as [3, 2.5]");
        }
        point
    }

    fn halves(&mut self, node: &Node) -> Option<u16> {
        match node.value {
            Value::Number(number) => whole(number * 2.0).and_then(|half| u16::try_from(half).ok()),
            Value::Null | Value::Flag(_) | Value::Text(_) | Value::List(_) | Value::Object(_) => {
                None
            }
        }
    }

    fn areas(&mut self, root: Object<'_>, size: Size) -> Vec<Area> {
        let items = self.check.list_of(root, "areas");
        if items.len() > MAX_AREAS
            && let Some(node) = root.get("areas")
        {
            let reason = format!("{} areas, the limit is {MAX_AREAS}", items.len());
            self.check.bad(node, "areas", &reason, "join areas");
            return Vec::new();
        }
        let mut areas: Vec<Area> = Vec::with_capacity(items.len());
        for (number, node) in items.iter().enumerate() {
            let path = format!("areas[{number}]");
            if let Some(area) = self.area(node, &path, size) {
                if areas.iter().any(|held| held.name() == area.name()) {
                    let reason = format!("a second area named `{}`", area.name());
                    self.check.bad(node, &path, &reason, "give each area its own name");
                }
                areas.push(area);
            }
        }
        areas
    }

    fn area(&mut self, node: &Node, path: &str, size: Size) -> Option<Area> {
        let object = self.check.object(node, path, &["name", "cells"])?;
        let name = self.check.need(object, "name", path);
        let name = name.and_then(|node| self.check.parsed(node, path, Label::parse));
        let cells = self.check.need(object, "cells", path)?;
        let items = self.check.list(cells, path)?;
        let mut runs = Vec::with_capacity(items.len());
        for item in items {
            runs.push(self.area_run(item, path)?);
        }
        let area = self.check.take(node, path, Area::new(name?, runs))?;
        if !area.lies_on(size) {
            let reason = format!("cells beyond the chart of {size} cells");
            self.check.bad(
                cells,
                path,
                &reason,
                "write [column, row, count] of cells on the chart",
            );
            return None;
        }
        Some(area)
    }

    fn area_run(&mut self, node: &Node, path: &str) -> Option<Run> {
        let items = self.check.list(node, path)?;
        let [x, y, count] = items else {
            self.check.bad(node, path, "not a run of cells", "write [column, row, count]");
            return None;
        };
        Some(Run { x: self.side(x, path)?, y: self.side(y, path)?, count: self.side(count, path)? })
    }
}

/// Reads the hash of a table.
pub(crate) fn table_hash(text: &str) -> Result<TableHash, Error> {
    TableHash::parse(text).ok_or_else(|| {
        let reason = "a table's hash has 64 hexadecimal digits";
        bad_value(text, reason, "copy it from `table list`, or write the chart again")
    })
}
