//! Small charts and threads that the tests of charts are made of.
//! It does not test anything.

use dyekin_client::chart::{
    Area, Blend, Chart, Cloth, Content, Corner, Draft, Entry, EntryId, Grid, KeyThread, Knot,
    Label, Line, Part, PictureOptions, Point, ReadOptions, Run, Shape, Size, Slope, Strands,
    Symbol, Work, read,
};
use dyekin_client::summary::{Summary, SummaryOptions};
use dyekin_core::table::Refused;
use dyekin_core::{Code, Color, Srgb8, Table, TableId, Thread, ThreadRef};

pub(crate) fn table() -> Table {
    let thread = |code: &str, name: &str, hex: &str| {
        let color = Color::screen(Srgb8::parse_hex(hex).unwrap());
        Thread::plain(Code::parse(code).unwrap(), name, color)
    };
    let threads = vec![
        thread("QV01", "Moss path", "#4a6b3c"),
        thread("QV02", "Ice pond", "#9fc3cf"),
        thread("QV03", "Ripe corn", "#d9b45a"),
        thread("-5", "=HYPERLINK(\"x\")", "#202020"),
    ];
    Table::new(TableId::parse("meadow").unwrap(), threads).unwrap()
}

pub(crate) fn key_thread(code: &str) -> KeyThread {
    let table = table();
    let thread = ThreadRef { table: table.id().clone(), code: Code::parse(code).unwrap() };
    KeyThread { thread, table_hash: table.hash() }
}

pub(crate) fn worked(code: &str) -> Entry {
    let thread = table().thread(&Code::parse(code).unwrap()).unwrap().clone();
    Entry {
        symbol: None,
        color: thread.color.srgb(),
        work: Work::Thread(key_thread(code)),
        strands: Strands::default(),
        name: Label::cut(&thread.name),
    }
}

pub(crate) fn id(number: usize) -> EntryId {
    EntryId::new(number).unwrap()
}

/// A chart drawn with letters: `a` is the first entry of the key, a dot is bare cloth.
pub(crate) fn drawn(rows: &[&str], key: Vec<Entry>) -> Draft {
    let size = Size::new(rows[0].len() as u64, rows.len() as u64).unwrap();
    let mut grid = Grid::bare(size);
    for (y, row) in (0..).zip(rows) {
        for (x, letter) in (0..).zip(row.bytes()) {
            grid.put(x, y, (letter != b'.').then(|| id(usize::from(letter - b'a'))));
        }
    }
    Draft::of_grid(grid, key)
}

pub(crate) fn colors(hexes: &[&str]) -> Vec<Entry> {
    hexes.iter().map(|hex| Entry::of_color(Srgb8::parse_hex(hex).unwrap())).collect()
}

pub(crate) fn point(half_x: u16, half_y: u16) -> Point {
    Point { half_x, half_y }
}

pub(crate) fn read_text(text: &str) -> Result<Chart, Refused> {
    read_bytes(text.as_bytes())
}

pub(crate) fn read_bytes(bytes: &[u8]) -> Result<Chart, Refused> {
    let table = table();
    let options = ReadOptions {
        source_name: "chart",
        table: Some(&table),
        picture: PictureOptions::AS_FOUND,
    };
    read(bytes, &options).map(|loaded| match loaded.content {
        Content::Chart(chart) => *chart,
        Content::Key(_) => panic!("a key and no chart"),
    })
}

pub(crate) fn summary(chart: &Chart) -> Summary {
    Summary::of_chart(chart, SummaryOptions { split: &[], apart: None, color_of: &|_| None })
        .unwrap()
}

pub(crate) fn told(refused: &Refused) -> Vec<String> {
    refused.problems.iter().map(ToString::to_string).collect()
}

/// A chart with one of everything.
pub(crate) fn full_chart() -> Chart {
    let mut key = vec![worked("QV01"), worked("QV02")];
    key[0].symbol = Some(Symbol::parse("X").unwrap());
    key[0].strands = Strands::new(Some(2), Some(1), None).unwrap();
    key.push(Entry {
        work: Work::Blend(Blend::new((key_thread("QV02"), 1), (key_thread("-5"), 2)).unwrap()),
        ..Entry::of_color(Srgb8::new(9, 9, 9))
    });
    let mut draft = drawn(&["aab.", "a..b", "ccbb"], key);
    let quarter = Part { shape: Shape::Quarter(Corner::TopLeft), entry: id(0) };
    let half = Part { shape: Shape::Half(Slope::Rising), entry: id(1) };
    let rest = Part { shape: Shape::ThreeQuarter(Corner::BottomRight), entry: id(2) };
    draft.grid.put_parts(1, 1, vec![rest, quarter]).unwrap();
    draft.grid.put_parts(3, 0, vec![half]).unwrap();
    draft.lines.push(Line::new(point(0, 0), point(3, 5), id(0)).unwrap());
    draft.lines.push(Line::new(point(8, 6), point(8, 0), id(2)).unwrap());
    draft.knots.push(Knot { at: point(1, 6), entry: id(1) });
    draft.about.title = Label::parse("Ferry \"home\"\u{202e}\n").ok();
    draft.about.notes = Label::parse_note("two\nlines").ok();
    draft.cloth =
        Cloth { color: Some(Srgb8::new(250, 245, 235)), name: Label::parse("linen").ok() };
    let runs = vec![Run { y: 2, x: 0, count: 2 }, Run { y: 0, x: 1, count: 1 }];
    draft.areas.push(Area::new(Label::parse("face").unwrap(), runs).unwrap());
    Chart::new(draft).unwrap()
}
