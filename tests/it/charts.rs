//! Charts through every format and back, their summaries, changes carried out, and hostile bytes.
//! It does not test pictures of foreign origin.

use dyekin_client::apply::{NewThread, Unanswered, apply, by_hand};
use dyekin_client::change_file::{self, ChangeFile, Made};
use dyekin_client::chart::{
    Area, Blend, Cell, Chart, ChartFormat, ChartHash, Cloth, Content, Corner, Draft, Entry,
    EntryId, Grid, KeyThread, Knot, Label, Line, Part, Point, ReadOptions, Run, Shape, Size, Slope,
    Strands, Symbol, SymbolSet, Usage, Work, key_csv, key_json, read, write,
};
use dyekin_client::summary::{Summary, SummaryOptions};
use dyekin_core::change::{
    Answer, Change, ChangeList, Proposed, Question, Remark, TableVersion, Totals,
};
use dyekin_core::difference::{DeltaE, Difference};
use dyekin_core::palette::{Neighbors, Side};
use dyekin_core::table::Refused;
use dyekin_core::{Code, Color, Formula, Srgb8, Table, TableHash, TableId, Thread, ThreadRef};
use proptest::prelude::*;

fn table() -> Table {
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

fn key_thread(code: &str) -> KeyThread {
    let table = table();
    let thread = ThreadRef { table: table.id().clone(), code: Code::parse(code).unwrap() };
    KeyThread { thread, table_hash: table.hash() }
}

fn worked(code: &str) -> Entry {
    let thread = table().thread(&Code::parse(code).unwrap()).unwrap().clone();
    Entry {
        symbol: None,
        color: thread.color.srgb(),
        work: Work::Thread(key_thread(code)),
        strands: Strands::default(),
        name: Label::cut(&thread.name),
    }
}

fn id(number: usize) -> EntryId {
    EntryId::new(number).unwrap()
}

/// A chart drawn with letters: `a` is the first entry of the key, a dot is bare cloth.
fn drawn(rows: &[&str], key: Vec<Entry>) -> Draft {
    let size = Size::new(rows[0].len() as u64, rows.len() as u64).unwrap();
    let mut grid = Grid::bare(size);
    for (y, row) in (0..).zip(rows) {
        for (x, letter) in (0..).zip(row.bytes()) {
            grid.put(x, y, (letter != b'.').then(|| id(usize::from(letter - b'a'))));
        }
    }
    Draft::of_grid(grid, key)
}

fn colors(hexes: &[&str]) -> Vec<Entry> {
    hexes.iter().map(|hex| Entry::of_color(Srgb8::parse_hex(hex).unwrap())).collect()
}

fn point(half_x: u16, half_y: u16) -> Point {
    Point { half_x, half_y }
}

fn read_text(text: &str) -> Result<Chart, Refused> {
    read_bytes(text.as_bytes())
}

fn read_bytes(bytes: &[u8]) -> Result<Chart, Refused> {
    let table = table();
    let options =
        ReadOptions { source_name: "chart", table: Some(&table), pixels_per_stitch: None };
    read(bytes, &options).map(|loaded| match loaded.content {
        Content::Chart(chart) => *chart,
        Content::Key(_) => panic!("a key and no chart"),
    })
}

fn summary(chart: &Chart) -> Summary {
    Summary::of_chart(chart, SummaryOptions { split: &[], color_of: &|_| None }).unwrap()
}

fn told(refused: &Refused) -> Vec<String> {
    refused.problems.iter().map(ToString::to_string).collect()
}

/// A chart with one of everything.
fn full_chart() -> Chart {
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

#[test]
fn chart_json_holds_everything() {
    let chart = full_chart();
    let written = write(&chart, ChartFormat::Json).unwrap();
    assert_eq!(written.notices, []);
    let again = read_bytes(&written.bytes).unwrap_or_else(|refused| panic!("{refused:?}"));
    assert_eq!(again, chart);
    assert_eq!(ChartHash::of(&again), ChartHash::of(&chart));
    // Harmless to show: no control or bidi character but the line breaks of the layout.
    let text = String::from_utf8(written.bytes).unwrap();
    assert!(!text.chars().any(|c| c != '\n' && dyekin_core::error::is_hostile(c)));
    assert!(text.contains("[[2, 0], 1, null]") || text.contains("[[2, 0], 1"), "{text}");
}

#[test]
fn one_chart_has_one_hash_whatever_its_format() {
    let chart = Chart::new(drawn(&["ab.", "bba"], colors(&["#102030", "#fff"]))).unwrap();
    let hash = ChartHash::of(&chart);
    for format in [ChartFormat::Json, ChartFormat::Png] {
        let again = read_bytes(&write(&chart, format).unwrap().bytes).unwrap();
        assert_eq!(ChartHash::of(&again), hash, "{format:?}");
    }
    // The order of the key, unused entries, symbols and texts do not count.
    let mut draft = drawn(&["ca.", "aac"], colors(&["#fff", "#777", "#102030"]));
    draft.about.title = Label::parse("other").ok();
    let other = Chart::new(draft).unwrap().with_symbols(SymbolSet::Ascii);
    assert_eq!(ChartHash::of(&other), hash);
    let moved = Chart::new(drawn(&["a.b", "bba"], colors(&["#102030", "#fff"]))).unwrap();
    assert_ne!(ChartHash::of(&moved), hash);
    assert_eq!(ChartHash::parse(&hash.to_string()), Some(hash));
}

#[test]
fn a_picture_says_what_it_loses() {
    let written = write(&full_chart(), ChartFormat::Png).unwrap();
    let texts: Vec<&str> = written.notices.iter().map(|notice| notice.text.as_str()).collect();
    for lost in ["2 lines", "1 knots", "1 areas", "3 entries' threads", "cells of part stitches"] {
        assert!(texts.iter().any(|text| text.contains(lost)), "{lost} in {texts:?}");
    }
}

#[test]
fn a_small_picture_of_blocks_that_we_wrote_is_read_again() {
    let rows = ["aabbaabb", "aabbaabb", "bbaabbaa", "bbaabbaa", "aabbaabb", "aabbaabb"];
    let chart = Chart::new(drawn(&rows, colors(&["#102030", "#fff"]))).unwrap();
    let bytes = write(&chart, ChartFormat::Png).unwrap().bytes;
    assert_eq!(read_bytes(&bytes).unwrap(), chart);
}

#[test]
fn a_grid_of_codes_comes_back() {
    let key = vec![worked("QV01"), worked("-5"), worked("QV03")];
    let chart = Chart::new(drawn(&["ab.", ".ca"], key)).unwrap();
    let written = write(&chart, ChartFormat::Csv).unwrap();
    assert_eq!(String::from_utf8(written.bytes.clone()).unwrap(), "QV01,'-5,\n,QV03,QV01\n");
    assert_eq!(written.notices.len(), 1);
    assert!(written.notices[0].text.contains("(meadow)"));
    assert_eq!(read_bytes(&written.bytes).unwrap(), chart);
}

#[test]
fn a_blend_stands_in_a_grid_of_codes() {
    let chart = read_text("QV01;QV01 + QV02\n;qv02\n").unwrap();
    assert_eq!(chart.key().len(), 3);
    assert_eq!(chart.key()[1].work.threads().count(), 2);
    let bytes = write(&chart, ChartFormat::Csv).unwrap().bytes;
    assert_eq!(String::from_utf8(bytes).unwrap(), "QV01,QV01 + QV02\n,QV02\n");
}

#[test]
fn all_wrong_codes_are_told_with_line_column_and_spellings() {
    let refused = read_text("QV01,QV2\nQV01\nQV2,nix\n\"open,QV01\n").unwrap_err();
    assert_eq!(
        told(&refused),
        [
            "chart, line 1, column 2: table meadow has no thread `QV2`",
            "chart, line 2: `QV01`: 1 field, 2 expected",
            "chart, line 3, column 2: table meadow has no thread `nix`",
            "chart, line 4, column 1: `\"`: a quote that never closes",
        ]
    );
    assert_eq!(refused.problems[0].hint().unwrap(), "close in spelling: QV02, QV01, QV03");
}

#[test]
fn bare_codes_need_their_table() {
    let options = ReadOptions { source_name: "c.csv", table: None, pixels_per_stitch: None };
    let refused = read(b"QV01,QV02\n", &options).unwrap_err();
    assert!(refused.problems[0].hint().unwrap().contains("--from TABLE"));
}

#[test]
fn a_key_alone_has_no_neighbors() {
    let table = table();
    let options =
        ReadOptions { source_name: "k.csv", table: Some(&table), pixels_per_stitch: None };
    let text = b"name,code,count,shelf\nMoss,QV01,120,4\n,'-5,7,\n,QV01,30,\n";
    let loaded = read(text, &options).unwrap();
    let Content::Key(key) = loaded.content else { panic!() };
    let summary = Summary::of_key(&key).unwrap();
    assert_eq!(summary.palette().neighbors(), None);
    let counts: Vec<u64> = summary.palette().colors().iter().map(|c| c.stitches).collect();
    assert_eq!(counts, [150, 7]);
    let notices: Vec<&str> = loaded.notices.iter().map(|n| n.text.as_str()).collect();
    assert_eq!(
        notices,
        ["columns not read: shelf", "code QV01 stands on lines 2 and 4: the counts are added"]
    );
    let bad = read(b"code,count\nQV01,1.5\nTotal,-3\nQV02,1,2\n", &options).unwrap_err();
    assert_eq!(
        told(&bad),
        [
            "k.csv, line 2, column count: `1.5`: stitches are a whole number from 0 to 1000000000000",
            "k.csv, line 3, column count: `-3`: stitches are a whole number from 0 to 1000000000000",
            "k.csv, line 3, column code: table meadow has no thread `Total`",
            "k.csv, line 4: `QV02,1,2`: 3 fields, 2 expected",
        ]
    );
}

#[test]
fn the_key_as_a_list_is_safe_in_spreadsheets() {
    let chart = Chart::new(drawn(&["ab.", "bba"], vec![worked("QV01"), worked("-5")])).unwrap();
    let chart = chart.with_symbols(SymbolSet::Ascii);
    let csv = String::from_utf8(key_csv(&chart)).unwrap();
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(lines[1], "X,meadow,QV01,Moss path,#4a6b3c,2,,2,0,0,0,0,0");
    assert_eq!(lines[2], "A,meadow,'-5,\"'=HYPERLINK(\"\"x\"\")\",#202020,3,,3,0,0,0,0,0");
    let json: String = String::from_utf8(key_json(&chart)).unwrap();
    assert!(json.contains("\"name\": \"=HYPERLINK(\\\"x\\\")\""), "{json}");
    // The list can be read again as a key alone.
    let table = table();
    let options =
        ReadOptions { source_name: "k.csv", table: Some(&table), pixels_per_stitch: None };
    let Content::Key(key) = read(csv.as_bytes(), &options).unwrap().content else { panic!() };
    assert_eq!(key.rows().iter().map(|row| row.stitches).sum::<u64>(), 5);
}

#[test]
fn json_problems_are_all_told_with_line_and_column() {
    let text = "{\"format\": \"dyekin-chart\", \"version\": 1,\n\"width\": 3, \"height\": 2,\n\
                \"key\": [{\"color\": \"#12345\"}, {\"color\": \"#fff\", \"colour\": 1}],\n\
                \"rows\": [[[2, 0], 5], [[4, 1]]],\n\"lines\": [{\"from\": [0, 0], \"to\": [0.3, 1], \
                \"entry\": 0}]}";
    let refused = read_text(text).unwrap_err();
    assert_eq!(
        told(&refused),
        [
            "chart, line 3, column 19, key[0].color: `#12345` is not a usable color: 5 digits, 6 \
             expected",
            "chart, line 3, column 48, key[1]: `colour`: this version does not know the key, and \
             nothing is dropped unseen",
            "chart, line 4, column 19, rows[0]: `5`: the key has 2 entries, numbered from 0",
            "chart, line 4, column 23, rows[1]: `[…]`: 4 cells in this row, the width says 3",
            "chart, line 5, column 34, lines[0]: `[…]`: not a corner or half on the chart of 3 x 2 \
             cells",
        ]
    );
}

#[test]
fn json_is_refused_where_it_breaks() {
    for (text, wanted) in [
        (
            "{\"a\": 1, \"a\": 2}",
            "chart, line 1, column 10: `a`: the key comes twice, first on line 1",
        ),
        ("{\"a\":\n 1e999}", "chart, line 2, column 2: a number that is not finite"),
        ("{\"a\": NaN}", "chart, line 1, column 7: a number that is not finite"),
        ("{\"a\": 01}", "chart, line 1, column 7: `01` is not a JSON number"),
        ("{\"a\": \"é\u{1}\"}", "chart, line 1, column 9: a control character in a text"),
        ("{\"a\": \"x", "chart, line 1, column 7: a text that never ends"),
        ("{} x", "chart, line 1, column 4: something follows the end of the JSON value"),
        (
            "{\"format\": \"other\"}",
            "chart, line 1, column 12, format: `other`: not the format of a chart",
        ),
        (
            "{\"format\": \"dyekin-chart\", \"version\": 2}",
            "chart, line 1, column 39, version: `2`: this program reads version 1",
        ),
    ] {
        assert_eq!(told(&read_text(text).unwrap_err()), [wanted], "{text}");
    }
    let deep = "[".repeat(100_000);
    assert!(told(&read_text(&deep).unwrap_err())[0].contains("nested deeper than 32 levels"));
    let huge = "{\"format\": \"dyekin-chart\", \"version\": 1, \"width\": 100000, \"height\": 9, \
                \"key\": [], \"rows\": []}";
    assert!(told(&read_text(huge).unwrap_err())[0].contains("100000 x 9 cells, the limit is 2000"));
}

#[test]
fn foreign_files_are_refused_by_name_with_a_remedy() {
    for (bytes, what) in [
        (&b"GIF89a\x01\x00"[..], "a GIF picture"),
        (b"PK\x03\x04rest", "a spreadsheet workbook or other zip file"),
        (b"<svg></svg>", "an XML, SVG or HTML file"),
        (b"RIFF\x10\x00\x00\x00WEBPVP8 ", "a WebP picture"),
        (b"BM\x46\x00\x00\x00\x00\x00", "a BMP picture"),
        (b"%PDF-1.7", "a PDF document"),
    ] {
        let refused = read_bytes(bytes).unwrap_err();
        assert_eq!(told(&refused), [format!("chart: {what}, which is not read")]);
        assert!(refused.problems[0].hint().is_some());
    }
    assert_eq!(told(&read_bytes(b" \n").unwrap_err()), ["chart: an empty file"]);
    assert_eq!(
        told(&read_bytes(b"code,name,hex\nQV01,x,#fff\n").unwrap_err()),
        ["chart: a thread table, not a chart"]
    );
}

fn contacts(chart: &Chart) -> Vec<(usize, Option<usize>, u64)> {
    let flat = |pair: &Neighbors| match pair.second {
        Side::Cloth => (pair.first, None, pair.edges),
        Side::Color(second) => (pair.first, Some(second), pair.edges),
    };
    summary(chart).palette().neighbors().unwrap().iter().map(flat).collect()
}

#[test]
fn neighbors_are_counted_by_cell_edges() {
    let chart = Chart::new(drawn(&["aab", "a.b"], colors(&["#111", "#eee"]))).unwrap();
    // a-b once; a beside the bare cell: left and above; b beside it: right.
    assert_eq!(contacts(&chart), [(0, Some(1), 1), (0, None, 2), (1, None, 1)]);
}

#[test]
fn lines_and_knots_touch_what_lies_below_them() {
    let mut draft = drawn(&["aab", "a.b"], colors(&["#111", "#eee", "#f00", "#00f"]));
    // Along the lower edge of the first row, two cells long: above a, a; below a and cloth.
    draft.lines.push(Line::new(point(0, 2), point(4, 2), id(2)).unwrap());
    // Across the last column from top to bottom: two cells of b, in two pieces.
    draft.lines.push(Line::new(point(5, 0), point(5, 4), id(2)).unwrap());
    // In the middle of the first cell, and on the corner of four cells.
    draft.knots.push(Knot { at: point(1, 1), entry: id(3) });
    draft.knots.push(Knot { at: point(4, 2), entry: id(3) });
    let chart = Chart::new(draft).unwrap();
    assert_eq!(
        contacts(&chart),
        [
            (0, Some(1), 1),
            (0, Some(2), 3),
            (0, Some(3), 2),
            (0, None, 2),
            (1, Some(2), 2),
            (1, Some(3), 2),
            (1, None, 1),
            (2, None, 1),
            (3, None, 1),
        ]
    );
    let stitches: Vec<u64> =
        summary(&chart).palette().colors().iter().map(|c| c.stitches).collect();
    // Four cell sides of line make one stitch, two knots one.
    assert_eq!(stitches, [3, 2, 1, 1]);
}

#[test]
fn part_stitches_touch_inside_their_cell_and_through_their_sides() {
    let mut draft = drawn(&["a.b"], colors(&["#111", "#eee", "#f00"]));
    let left = Part { shape: Shape::ThreeQuarter(Corner::TopLeft), entry: id(2) };
    let right = Part { shape: Shape::Quarter(Corner::BottomRight), entry: id(1) };
    draft.grid.put_parts(1, 0, vec![left, right]).unwrap();
    let chart = Chart::new(draft).unwrap();
    // 0-2 through the left side, 1-2 inside; the right side is 1 on both.
    assert_eq!(contacts(&chart), [(0, Some(2), 1), (1, Some(2), 1)]);
    let usage = Usage::of(&chart);
    assert_eq!((usage[1].full, usage[1].quarter, usage[1].stitches()), (1, 1, 2));
    assert_eq!((usage[2].three_quarter, usage[2].stitches()), (1, 1));
}

#[test]
fn split_areas_come_apart() {
    let mut draft = drawn(&["aaab"], colors(&["#111", "#eee"]));
    let face = Label::parse("face").unwrap();
    draft.areas.push(Area::new(face.clone(), vec![Run { y: 0, x: 0, count: 2 }]).unwrap());
    let chart = Chart::new(draft).unwrap();
    let split = [face];
    let options = SummaryOptions { split: &split, color_of: &|_| None };
    let summary = Summary::of_chart(&chart, options).unwrap();
    let colors: Vec<_> =
        summary.palette().colors().iter().map(|c| (c.stitches, c.area.as_deref())).collect();
    assert_eq!(colors, [(1, None), (2, Some("face")), (1, None)]);
}

/// A list that gives the colors of a chart these threads of the table, in the palette's order.
fn change_list(summary: &Summary, goals: &[Option<&str>]) -> ChangeList {
    let table = table();
    let proposed = |standard: &Color, code: &str| {
        let thread = table.thread(&Code::parse(code).unwrap()).unwrap();
        Proposed {
            thread: ThreadRef { table: table.id().clone(), code: thread.code.clone() },
            name: thread.name.clone(),
            color: thread.color,
            difference: Difference::between(standard, &thread.color, Formula::DEFAULT).unwrap(),
        }
    };
    let mut changes = Vec::new();
    let mut unchanged = Vec::new();
    for (color, goal) in goals.iter().enumerate() {
        let held = &summary.palette().colors()[color];
        match goal {
            None => unchanged.push(color),
            Some(code) => changes.push(Change {
                color,
                standard: held.color,
                before: held.threads.clone(),
                stitches: held.stitches,
                after: vec![proposed(&held.color, code)],
                runners_up: vec![proposed(&held.color, "QV02")],
                remarks: vec![Remark::NotNearest, Remark::SharesThread(0), Remark::FadesIntoCloth],
                answer: None,
            }),
        }
    }
    ChangeList {
        question: Question::Reduce,
        tables: vec![TableVersion { table: table.id().clone(), hash: table.hash() }],
        formula: Formula::DEFAULT,
        changes,
        unchanged,
        totals: Totals {
            colors_before: goals.len(),
            threads_after: 2,
            mean_difference: DeltaE::new(1.25).unwrap(),
            max_difference: DeltaE::new(3.5).unwrap(),
            lower_bound: Some(DeltaE::new(1.0).unwrap()),
            proved_best: false,
        },
        edges: None,
    }
}

fn made() -> Made {
    Made { program: "0.1.0".into(), settings: vec![("threads".into(), "2".into())] }
}

fn find(thread: &ThreadRef) -> Result<NewThread, dyekin_core::Error> {
    let table = table();
    let found = dyekin_core::table::find(&table, thread.code.as_str())?;
    Ok(NewThread {
        thread: key_thread(found.code.as_str()),
        name: Label::cut(&found.name),
        color: found.color.srgb(),
    })
}

fn four_colors() -> (Chart, ChangeFile) {
    let rows = ["aabbb", "ccccd"];
    let chart = Chart::new(drawn(&rows, colors(&["#486a3c", "#4b6c3d", "#9fc3ce", "#d0b050"])));
    let chart = chart.unwrap().with_symbols(SymbolSet::Ascii);
    let summary = summary(&chart);
    let goals = [Some("QV01"), Some("QV01"), Some("QV02"), None];
    let file = ChangeFile::new(&change_list(&summary, &goals), &summary, made()).unwrap();
    (chart, file)
}

#[test]
fn a_change_list_comes_back_from_its_file() {
    let (_, mut file) = four_colors();
    file.changes[0].answer = Some(Answer::Yes);
    file.changes[1].answer = Some(Answer::No);
    file.changes[2].answer = Some(Answer::Another(key_thread("QV03").thread));
    file.chart_after = file.chart;
    let bytes = file.to_json();
    let again = change_file::read(&bytes, "changes.json");
    assert_eq!(again.unwrap_or_else(|refused| panic!("{refused:?}")), file);
    let text = String::from_utf8(bytes).unwrap();
    assert!(text.contains("\"words\": \"looks close, not checked"), "{text}");
    assert!(text.contains("\"checked\": false"));
    assert_eq!(file.answers().len(), 3);
}

#[test]
fn an_edited_change_list_is_refused_with_all_problems() {
    let (_, file) = four_colors();
    let text = String::from_utf8(file.to_json()).unwrap();
    let text = text
        .replacen("\"answer\": null", "\"answer\": \"maybe\"", 1)
        .replacen("\"origin\": \"screen\"", "\"origin\": \"moon\"", 1)
        .replacen("\"colors_before\": 4", "\"colors_before\": -4", 1);
    let refused = change_file::read(text.as_bytes(), "c.json").unwrap_err();
    let texts = told(&refused);
    assert_eq!(texts.len(), 3, "{texts:?}");
    assert!(
        texts[0].ends_with(
            "totals.colors_before: `-4`: a whole number from 0 to \
                                9007199254740992 is expected"
        ),
        "{texts:?}"
    );
    assert!(texts[1].ends_with("changes[0].answer: `maybe`: not an answer"), "{texts:?}");
    assert!(texts[2].ends_with("changes[0].standard.origin: `moon`: not an origin"), "{texts:?}");
    assert!(texts.iter().all(|text| text.starts_with("c.json, line ")));
}

#[test]
fn entries_that_become_one_thread_are_joined() {
    let (chart, file) = four_colors();
    let applied = apply(&chart, &file, Unanswered::Carry, &find).unwrap();
    let new = &applied.chart;
    assert_eq!(new.key().len(), 3);
    // The larger of the two keeps its symbol; the untouched color is untouched.
    let symbols: Vec<_> = new.key().iter().map(|e| e.symbol.clone().unwrap().to_string()).collect();
    assert_eq!(symbols, ["A", "S", "4"]);
    assert_eq!(new.key()[0].work, Work::Thread(key_thread("QV01")));
    assert_eq!(new.key()[0].color, Srgb8::parse_hex("#4a6b3c").unwrap());
    assert_eq!(new.key()[2], chart.key()[3]);
    let counts: Vec<u64> = Usage::of(new).iter().map(Usage::stitches).collect();
    assert_eq!(counts, [5, 4, 1]);
    assert_eq!(new.grid().cell(0, 0), new.grid().cell(4, 0));
    assert_eq!(applied.joined(), [(id(0), vec![id(0), id(1)])]);
    let list = String::from_utf8(by_hand(&file, Unanswered::Carry)).unwrap();
    assert!(list.contains("\nX       #486a3c  meadow QV01 Moss path  2\n"), "{list}");
    assert!(list.contains("\nmeadow QV01: X (#486a3c), A (#4b6c3d)\n"), "{list}");
}

#[test]
fn answers_decide() {
    let (chart, mut file) = four_colors();
    file.changes[0].answer = Some(Answer::No);
    file.changes[1].answer = Some(Answer::Another(key_thread("-5").thread));
    let applied = apply(&chart, &file, Unanswered::Leave, &find).unwrap();
    assert_eq!(applied.refused, ["c1"]);
    assert_eq!(applied.unanswered, ["c3"]);
    assert_eq!(applied.chart.key()[0], chart.key()[0]);
    assert_eq!(applied.chart.key()[1].work, Work::Thread(key_thread("-5")));
    assert_eq!(applied.chart.key()[2], chart.key()[2]);
}

#[test]
fn a_list_for_another_chart_is_refused() {
    let (chart, mut file) = four_colors();
    let other = Chart::new(drawn(&["ab"], colors(&["#486a3c", "#4b6c3d"]))).unwrap();
    let problems = apply(&other, &file, Unanswered::Carry, &find).unwrap_err();
    assert!(problems[0].to_string().starts_with("the change list was made for another chart"));
    let applied = apply(&chart, &file, Unanswered::Carry, &find).unwrap();
    file.chart_after = Some(ChartHash::of(&applied.chart));
    let problems = apply(&applied.chart, &file, Unanswered::Carry, &find).unwrap_err();
    assert_eq!(problems[0].to_string(), "the changes are already carried out in this chart");
    file.changes[0].of.hex = Srgb8::new(1, 1, 1);
    let problems = apply(&chart, &file, Unanswered::Carry, &find).unwrap_err();
    assert!(problems[0].to_string().contains("no color c1 worked as the list says"));
}

#[test]
fn a_table_that_changed_is_refused() {
    let (chart, mut file) = four_colors();
    file.changes[0].answer = Some(Answer::Another(key_thread("QV03").thread));
    let other = |thread: &ThreadRef| {
        let mut new = find(thread)?;
        new.thread.table_hash = TableHash::parse(&"0".repeat(64)).unwrap();
        Ok(new)
    };
    let problems = apply(&chart, &file, Unanswered::Carry, &other).unwrap_err();
    assert_eq!(
        problems[0].to_string(),
        "changes[0].answer: `meadow QV03`: table meadow has changed since the list was made"
    );
}

#[test]
fn every_place_of_an_entry_changes_and_a_used_thread_takes_it_in() {
    let chart = full_chart();
    let summary = summary(&chart);
    // The first entry becomes the thread of the second one; strands agree where both say them.
    let file =
        ChangeFile::new(&change_list(&summary, &[Some("QV02"), None, None]), &summary, made());
    let applied = apply(&chart, &file.unwrap(), Unanswered::Carry, &find).unwrap();
    let new = &applied.chart;
    assert_eq!(new.key().len(), 2);
    assert_eq!(new.lines()[0].entry, id(0));
    assert_eq!(new.knots()[0].entry, id(0));
    assert_eq!(new.key()[0].strands, chart.key()[0].strands);
    let Cell::Parts(parts) = new.grid().cell(1, 1) else { panic!() };
    assert_eq!(parts.iter().map(|part| part.entry).collect::<Vec<_>>(), [id(0), id(1)]);
    let all = |chart: &Chart| -> u64 {
        Usage::of(chart)
            .iter()
            .map(|u| u.full * 4 + u.half * 2 + u.quarter + u.three_quarter * 3)
            .sum()
    };
    assert_eq!(all(new), all(&chart));
    assert_eq!(new.areas(), chart.areas());
}

#[test]
fn a_color_changes_in_one_area_only() {
    let mut draft = drawn(&["aaab"], colors(&["#111", "#eee"]));
    let face = Label::parse("face").unwrap();
    draft.areas.push(Area::new(face.clone(), vec![Run { y: 0, x: 0, count: 2 }]).unwrap());
    let chart = Chart::new(draft).unwrap();
    let split = [face];
    let summary =
        Summary::of_chart(&chart, SummaryOptions { split: &split, color_of: &|_| None }).unwrap();
    let list = change_list(&summary, &[Some("QV01"), None, None]);
    let file = ChangeFile::new(&list, &summary, made()).unwrap();
    let applied = apply(&chart, &file, Unanswered::Carry, &find).unwrap();
    let work = |x: u16| match applied.chart.grid().cell(x, 0) {
        Cell::Full(entry) => applied.chart.entry(entry).unwrap().work.clone(),
        Cell::Bare | Cell::Parts(_) => panic!(),
    };
    assert_eq!(work(0), Work::Color);
    assert_eq!(work(2), Work::Thread(key_thread("QV01")));
}

fn any_label() -> impl Strategy<Value = Option<Label>> {
    prop::option::of("\\PC{0,12}|.{0,6}").prop_map(|text| text.and_then(|text| Label::cut(&text)))
}

fn any_entry() -> impl Strategy<Value = Entry> {
    let strands = prop::option::of(1_u8..=24);
    let work = prop_oneof![
        Just(Work::Color),
        prop::sample::select(vec!["QV01", "QV02", "-5"]).prop_map(|c| Work::Thread(key_thread(c))),
        (1_u8..4, 1_u8..4).prop_map(|(a, b)| Work::Blend(
            Blend::new((key_thread("QV01"), a), (key_thread("QV03"), b)).unwrap()
        )),
    ];
    let parts = (any::<[u8; 3]>(), work, any_label(), strands.clone(), strands.clone(), strands);
    parts.prop_map(|([r, g, b], work, name, cross, line, knot)| Entry {
        symbol: None,
        color: Srgb8::new(r, g, b),
        work,
        strands: Strands::new(cross, line, knot).unwrap(),
        name,
    })
}

prop_compose! {
    fn any_chart()(
        key in prop::collection::vec(any_entry(), 1..6),
        (width, height) in (1_u16..12, 1_u16..9),
    )(
        cells in prop::collection::vec(0..=key.len() + 1, usize::from(width) * usize::from(height)),
        marks in prop::collection::vec((0..=width * 2, 0..=height * 2, 0..=width * 2, 0..=height * 2, 0..key.len()), 0..5),
        runs in prop::collection::vec((0..height, 0..width), 0..4),
        title in any_label(),
        symbols in any::<bool>(),
        key in Just(key),
        (width, height) in Just((width, height)),
    ) -> Chart {
        let mut grid = Grid::bare(Size::new(width.into(), height.into()).unwrap());
        for (place, cell) in cells.into_iter().enumerate() {
            match cell.checked_sub(1) {
                None => {}
                Some(entry) if entry < key.len() => grid.put_at(place, Some(id(entry))),
                Some(entry) => {
                    let parts = vec![
                        Part { shape: Shape::Quarter(Corner::BottomLeft), entry: id(entry - 1) },
                        Part { shape: Shape::Half(Slope::Falling), entry: id(0) },
                    ];
                    let (x, y) = (place as u16 % width, place as u16 / width);
                    grid.put_parts(x, y, parts).unwrap();
                }
            }
        }
        let mut draft = Draft::of_grid(grid, key);
        draft.about.title = title;
        for (x0, y0, x1, y1, entry) in marks {
            draft.knots.push(Knot { at: point(x0, y0), entry: id(entry) });
            draft.lines.extend(Line::new(point(x0, y0), point(x1, y1), id(entry)));
        }
        let runs: Vec<Run> =
            runs.into_iter().map(|(y, x)| Run { y, x, count: (width - x).min(3) }).collect();
        draft.areas.extend(Area::new(Label::parse("face").unwrap(), runs));
        let chart = Chart::new(draft).unwrap();
        if symbols { chart.with_symbols(SymbolSet::All) } else { chart }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn chart_json_written_and_read_is_the_same_chart(chart in any_chart()) {
        let bytes = write(&chart, ChartFormat::Json).unwrap().bytes;
        let again = read_bytes(&bytes).map_err(|r| TestCaseError::fail(format!("{r:?}")))?;
        prop_assert_eq!(&again, &chart);
        prop_assert_eq!(ChartHash::of(&again), ChartHash::of(&chart));
    }

    #[test]
    fn a_picture_written_and_read_has_the_same_colors(chart in any_chart()) {
        let bytes = write(&chart, ChartFormat::Png).unwrap().bytes;
        if let Ok(again) = read_bytes(&bytes) {
            let color = |chart: &Chart, place: usize| match chart.grid().at(place) {
                Cell::Full(entry) => chart.entry(entry).map(|entry| entry.color),
                Cell::Bare | Cell::Parts(_) => None,
            };
            for place in 0..chart.size().cells() {
                if !matches!(chart.grid().at(place), Cell::Parts(_)) {
                    prop_assert_eq!(color(&again, place), color(&chart, place));
                }
            }
        } else {
            prop_assert!(chart.grid().cells().all(|cell| cell == Cell::Bare));
        }
    }

    #[test]
    fn a_summary_counts_every_stitch_once(chart in any_chart()) {
        let options = SummaryOptions { split: &[], color_of: &|_| None };
        if let Ok(summary) = Summary::of_chart(&chart, options) {
            let usages = Usage::of(&chart);
            for (place, color) in summary.places().iter().zip(summary.palette().colors()) {
                let quarters = |u: &Usage| u.full * 4 + u.three_quarter * 3 + u.half * 2 + u.quarter;
                let whole: u64 =
                    place.entries().iter().map(|e| quarters(&usages[e.index()])).sum();
                prop_assert!(color.stitches >= whole.div_ceil(4));
            }
        }
    }

    #[test]
    fn arbitrary_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = read_bytes(&bytes);
        let _ = change_file::read(&bytes, "x");
        let png = [b"\x89PNG\r\n\x1a\n".as_slice(), &bytes].concat();
        let _ = read_bytes(&png);
    }

    #[test]
    fn changed_files_never_panic(
        chart in any_chart(),
        edits in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
        cut in any::<prop::sample::Index>(),
    ) {
        let (_, list) = four_colors();
        let mut files = vec![list.to_json()];
        for format in [ChartFormat::Json, ChartFormat::Png, ChartFormat::Csv] {
            files.extend(write(&chart, format).map(|written| written.bytes));
        }
        for mut bytes in files {
            for (place, byte) in &edits {
                let place = place.index(bytes.len());
                bytes[place] = *byte;
            }
            let _ = read_anything(&bytes);
            let _ = change_file::read(&bytes, "x");
            bytes.truncate(cut.index(bytes.len()));
            let _ = read_anything(&bytes);
            let _ = change_file::read(&bytes, "x");
        }
    }
}

/// Reads without caring what it is; what is read must be writable again.
fn read_anything(bytes: &[u8]) -> Option<Vec<u8>> {
    let table = table();
    let options = ReadOptions { source_name: "x", table: Some(&table), pixels_per_stitch: None };
    match read(bytes, &options).ok()?.content {
        Content::Chart(chart) => Some(write(&chart, ChartFormat::Json).unwrap().bytes),
        Content::Key(_) => None,
    }
}
