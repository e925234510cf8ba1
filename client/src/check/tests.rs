//! Notes of small charts whose right answer is plain.

use dyekin_core::table::{Finish, Status, Thread};
use dyekin_core::{Code as ThreadCode, Color, Srgb8, Table, TableId, ThreadRef};

use super::*;
use crate::chart::{
    Chart, Cloth, Draft, Entry, EntryId, Grid, KeyThread, Line, Point, Symbol, Work,
};

fn hex(text: &str) -> Srgb8 {
    Srgb8::parse_hex(text).unwrap()
}

/// Digits are entries of the key, a dot is cloth.
fn draft(rows: &[&str], key: Vec<Entry>) -> Draft {
    let mut grid = Grid::bare(Size::new(rows[0].len() as u64, rows.len() as u64).unwrap());
    for (y, row) in (0..).zip(rows) {
        for (x, cell) in (0..).zip(row.chars()) {
            let entry = cell.to_digit(36).and_then(|digit| EntryId::new(digit as usize));
            grid.put(x, y, entry);
        }
    }
    Draft::of_grid(grid, key)
}

fn colors(hexes: &[&str]) -> Vec<Entry> {
    hexes.iter().map(|text| Entry::of_color(hex(text))).collect()
}

fn content(draft: Draft) -> Content {
    Content::Chart(Box::new(Chart::new(draft).unwrap()))
}

fn checked(draft: Draft, tables: &[Table], limits: &Limits) -> Checked {
    notes(Given { content: &content(draft), cloth: None, key: None }, tables, limits).unwrap()
}

fn codes(checked: &Checked) -> Vec<&'static str> {
    checked.notes.iter().map(|note| note.code().as_str()).collect()
}

/// Usual limits with only these codes on.
fn only(codes: &[Code]) -> Limits {
    let mut limits = Limits::usual();
    limits.rules.retain(|rule| codes.contains(&rule.code));
    limits
}

fn line(from: (u16, u16), to: (u16, u16), entry: usize) -> Line {
    let point = |(x, y): (u16, u16)| Point { half_x: x * 2, half_y: y * 2 };
    Line::new(point(from), point(to), EntryId::new(entry).unwrap()).unwrap()
}

/// A table of threads with one finish and status each.
fn table(threads: &[(&str, &str, Finish, Status)]) -> Table {
    let thread = |(code, color, finish, status): &(&str, &str, Finish, Status)| Thread {
        finish: *finish,
        status: *status,
        ..Thread::plain(ThreadCode::parse(code).unwrap(), "", Color::screen(hex(color)))
    };
    Table::new(TableId::parse("t").unwrap(), threads.iter().map(thread).collect()).unwrap()
}

fn entry(table: &Table, code: &str, color: &str, symbol: &str) -> Entry {
    let thread = ThreadRef { table: table.id().clone(), code: ThreadCode::parse(code).unwrap() };
    Entry {
        work: Work::Thread(KeyThread { thread, table_hash: table.hash() }),
        symbol: Symbol::parse(symbol).ok(),
        ..Entry::of_color(hex(color))
    }
}

#[test]
fn codes_are_found_by_their_words_and_come_in_order() {
    for code in Code::ALL {
        assert_eq!(Code::parse(code.as_str()), Some(code));
    }
    assert!(Code::ALL.is_sorted());
    assert!(Degree::ALL.is_sorted_by(|one, other| one > other));
    assert_eq!(Degree::parse(" Fix "), Some(Degree::Fix));
    assert_eq!(Degree::parse("fixed"), None);
}

#[test]
fn near_colors_are_pairs_within_the_limit_nearest_first() {
    let key = colors(&["#4a6b3c", "#4b6b3c", "#4a6d3e", "#804040"]);
    let mut limits = only(&[Code::NearColors]);
    let found = checked(draft(&["0011", "2233"], key.clone()), &[], &limits);
    let all: Vec<f64> =
        found.notes.iter().map(|n| n.finding.difference().unwrap().delta_e.value()).collect();
    assert!(all.is_sorted() && all.iter().all(|value| *value <= 1.0), "{all:?}");
    // By brute force over all pairs.
    let mut expected = 0;
    for (place, one) in key.iter().enumerate() {
        for other in key.iter().skip(place + 1) {
            let pair = [one, other].map(|entry| Color::screen(entry.color));
            let between =
                dyekin_core::Difference::between(&pair[0], &pair[1], dyekin_core::Formula::DEFAULT);
            expected += usize::from(between.unwrap().delta_e.value() <= 1.0);
        }
    }
    assert_eq!(all.len(), expected);
    assert_eq!(found.notes[0].finding.edges(), Some(1));
    limits.near_within = dyekin_core::DeltaE::new(0.0).unwrap();
    assert!(checked(draft(&["0011", "2233"], key), &[], &limits).notes.is_empty());
}

#[test]
fn the_sweep_over_lightness_finds_every_near_pair() {
    let mut limits = only(&[Code::NearColors]);
    limits.near_within = dyekin_core::DeltaE::new(9.0).unwrap();
    let mut state = 1_u32;
    let mut byte = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        u8::try_from(state >> 24).unwrap()
    };
    let key: Vec<Entry> =
        (0..36).map(|_| Entry::of_color(Srgb8::new(byte() / 4, byte() / 4, byte() / 4))).collect();
    let row: String = ('0'..='9').chain('a'..='z').collect();
    let found = checked(draft(&[&row], key.clone()), &[], &limits);
    let mut expected = 0;
    for (place, one) in key.iter().enumerate() {
        for other in key.iter().skip(place + 1) {
            let [one, other] = [one, other].map(|entry| Color::screen(entry.color));
            let formula = dyekin_core::Formula::DEFAULT;
            let between = dyekin_core::Difference::between(&one, &other, formula).unwrap();
            expected += usize::from(between.delta_e <= limits.near_within);
        }
    }
    assert!(expected > 20, "{expected}");
    assert_eq!(found.notes.len(), expected);
}

#[test]
fn lone_stitches_have_no_equal_among_eight_and_threads_decide() {
    let limits = Limits { lone_above: 0.0, ..only(&[Code::LoneStitches]) };
    let rows = ["00000", "01000", "00020", "00100"];
    let found = checked(draft(&rows, colors(&["#101010", "#808080", "#e0e0e0"])), &[], &limits);
    assert_eq!((found.lone, found.stitched_cells), (Some(3), Some(20)));
    assert_eq!(found.notes[0].cells.first, [(1, 1), (3, 2), (2, 3)]);
    assert_eq!(found.notes[0].finding, Finding::LoneStitches { percent: 15.0 });
    // Two entries of one thread are one to whoever stitches.
    let table = table(&[
        ("A", "#101010", Finish::Plain, Status::Available),
        ("B", "#808080", Finish::Plain, Status::Available),
    ]);
    let key = vec![
        entry(&table, "A", "#101010", "X"),
        entry(&table, "B", "#808080", "S"),
        entry(&table, "B", "#818181", "T"),
    ];
    let tables = [table];
    assert_eq!(checked(draft(&rows, key), &tables, &limits).lone, Some(1));
}

#[test]
fn a_color_vanishes_on_the_cloth_only_where_it_touches_it() {
    let limits = only(&[Code::LikeCloth, Code::NotChecked]);
    let key = || colors(&["#fdfdfd", "#203040"]);
    let with_cloth = |rows: &[&str]| {
        let cloth = Cloth { color: Some(hex("#ffffff")), name: None };
        checked(Draft { cloth, ..draft(rows, key()) }, &[], &limits)
    };
    assert_eq!(codes(&with_cloth(&["0.", "11"])), ["like-cloth"]);
    assert!(with_cloth(&["111", "101", "111"]).notes.is_empty(), "a highlight amid a dark shape");
    let unsaid = checked(draft(&["0.", "11"], key()), &[], &limits);
    assert_eq!(unsaid.notes[0].finding, Finding::NotChecked { reason: Reason::NoCloth });
    assert!(checked(draft(&["00", "11"], key()), &[], &limits).notes.is_empty());
}

#[test]
fn an_outline_vanishes_in_the_color_of_its_fill() {
    let limits = only(&[Code::LostOutline]);
    let rows = ["......", ".0000.", ".0000.", ".0000.", "......"];
    let with = |lines: Vec<Line>, fill: &str| {
        let key = colors(&[fill, "#202020"]);
        checked(Draft { lines, ..draft(&rows, key) }, &[], &limits)
    };
    let around = || {
        vec![
            line((1, 1), (5, 1), 1),
            line((5, 1), (5, 4), 1),
            line((5, 4), (1, 4), 1),
            line((1, 4), (1, 1), 1),
        ]
    };
    assert!(with(around(), "#d0a080").notes.is_empty(), "a dark outline around a light shape");
    let lost = with(around(), "#212121");
    let Finding::LostOutline { over, beside, percent, on_cloth, .. } = lost.notes[0].finding else {
        panic!("{:?}", lost.notes);
    };
    assert_eq!((over, beside, on_cloth), (0, 14, false));
    assert!((percent - 100.0).abs() < 1e-9);
    // Amid the shape four pieces are enough, whatever else is worked in that color.
    let mut lines = around();
    lines.push(line((1, 2), (5, 2), 0));
    let amid = with(lines, "#d0a080");
    assert!(matches!(amid.notes[0].finding, Finding::LostOutline { over: 4, .. }), "{amid:?}");
    assert_eq!(amid.notes[0].colors.len(), 1);
    // On the cloth it vanishes when the cloth is of its color, which only its color tells.
    let cloth = Cloth { color: Some(hex("#202020")), name: None };
    let lines = vec![line((0, 0), (6, 0), 1)];
    let key = colors(&["#d0a080", "#202020"]);
    let found = checked(Draft { lines, cloth, ..draft(&rows, key) }, &[], &limits);
    assert!(matches!(found.notes[0].finding, Finding::LostOutline { on_cloth: true, .. }));
}

#[test]
fn pairs_lost_to_some_eyes_count_only_when_their_symbols_look_alike() {
    let limits = only(&[Code::ColorVision, Code::LikeSymbols]);
    // 26.1 for usual sight and 0.6 without the cones for green, computed as in the tests of vision.
    let with = |symbols: [&str; 2], second: &str| {
        let mut key = colors(&["#e8a0b4", second]);
        for (entry, symbol) in key.iter_mut().zip(symbols) {
            entry.symbol = Symbol::parse(symbol).ok();
        }
        checked(draft(&["01"], key), &[], &limits)
    };
    assert!(with(["X", "A"], "#b8b8b0").notes.is_empty());
    let lost = with(["O", "0"], "#b8b8b0");
    let Finding::ColorVision { deficiency, simulated, .. } = lost.notes[0].finding else {
        panic!("{:?}", lost.notes);
    };
    assert_eq!(deficiency, dyekin_core::vision::Deficiency::Deutan);
    assert!(simulated.value() < 1.0);
    assert_eq!(codes(&with(["O", "0"], "#101010")), ["like-symbols"]);
    assert_eq!(codes(&with(["O", "0"], "#e8a0b5")), ["like-symbols"], "near for everyone");
}

#[test]
fn a_dark_thread_may_bleed_only_into_a_pale_one_that_it_touches() {
    let limits = only(&[Code::MayBleed]);
    let key = || colors(&["#101014", "#f4f0e6", "#808080", "#b3202c"]);
    let found = checked(draft(&["01", "31"], key()), &[], &limits);
    assert_eq!(found.notes[0].finding, Finding::MayBleed { edges: 2 });
    assert_eq!(found.notes[0].colors.len(), 2);
    assert!(checked(draft(&["021", "321"], key()), &[], &limits).notes.is_empty());
}

#[test]
fn states_and_finishes_of_threads_are_told_by_their_degree() {
    let table = table(&[
        ("A", "#101010", Finish::Plain, Status::Discontinued),
        ("B", "#808080", Finish::Metallic, Status::BackOrder),
        ("C", "#c0c0c0", Finish::Plain, Status::Unknown),
    ]);
    let key = vec![
        entry(&table, "A", "#101010", "X"),
        entry(&table, "B", "#808080", "S"),
        entry(&table, "C", "#c0c0c0", "T"),
        entry(&table, "Z", "#ffffff", "K"),
    ];
    let limits = only(&[
        Code::ThreadGone,
        Code::ThreadLow,
        Code::ThreadUnknown,
        Code::StatusUntold,
        Code::NoSingleColor,
        Code::NotChecked,
        Code::OtherVersion,
    ]);
    let rows = ["0123"];
    let found = checked(draft(&rows, key.clone()), std::slice::from_ref(&table), &limits);
    let told: Vec<_> = found.notes.iter().map(|n| (n.degree.as_str(), n.code().as_str())).collect();
    assert_eq!(
        told,
        [
            ("fix", "thread-gone"),
            ("fix", "thread-unknown"),
            ("look", "thread-low"),
            ("look", "no-single-color"),
            ("information", "status-untold"),
        ]
    );
    let absent = checked(draft(&rows, key.clone()), &[], &limits);
    assert_eq!(codes(&absent), ["not-checked"]);
    // The same table with other content.
    let newer = self::table(&[("A", "#111111", Finish::Plain, Status::Available)]);
    assert!(codes(&checked(draft(&rows, key), &[newer], &limits)).contains(&"other-version"));
}

#[test]
fn a_key_that_does_not_fit_is_told() {
    let table = table(&[
        ("A", "#101010", Finish::Plain, Status::Available),
        ("B", "#808080", Finish::Plain, Status::Available),
    ]);
    let mut key = vec![
        entry(&table, "A", "#101010", "X"),
        entry(&table, "B", "#a08080", "S"),
        entry(&table, "A", "#101010", "T"),
        entry(&table, "B", "#808080", "K"),
    ];
    key[1].symbol = None;
    let limits =
        only(&[Code::KeyUnused, Code::KeyTwice, Code::KeyColor, Code::NoSymbol, Code::KeyCount]);
    let content = content(draft(&["001", "122"], key));
    let lines = |text: &str| crate::chart::read_key_lines(text.as_bytes(), "key").unwrap();
    let with = |key: Option<&[KeyLine]>| {
        let given = Given { content: &content, cloth: None, key };
        notes(given, std::slice::from_ref(&table), &limits).unwrap()
    };
    assert_eq!(codes(&with(None)), ["key-unused", "no-symbol", "key-twice", "key-color"]);
    let right = lines("code,stitches\na,4\nB,2\n");
    assert!(!codes(&with(Some(&right))).contains(&"key-count"));
    let wrong = lines("code,stitches\nA,5\nQ,1\n");
    let found = with(Some(&wrong));
    let counts: Vec<&Finding> =
        found.notes.iter().map(|n| &n.finding).filter(|f| f.code() == Code::KeyCount).collect();
    let expected = [
        Finding::KeyCount { written: None, in_key: Some(5), in_chart: 4 },
        Finding::KeyCount { written: None, in_key: None, in_chart: 2 },
        Finding::KeyCount { written: Some("Q".into()), in_key: Some(1), in_chart: 0 },
    ];
    assert_eq!(counts, expected.iter().collect::<Vec<_>>());
}

#[test]
fn of_too_many_notes_the_weightiest_stay_and_the_rest_is_counted() {
    let key: Vec<Entry> =
        (0..26_u8).map(|step| Entry::of_color(Srgb8::new(128, 128, 100 + step))).collect();
    let row: String = ('0'..='9').chain('a'..='p').collect();
    let limits = Limits {
        near_within: dyekin_core::DeltaE::new(50.0).unwrap(),
        ..only(&[Code::NearColors])
    };
    let found = checked(draft(&[&row], key), &[], &limits);
    assert_eq!(found.notes.len(), MAX_NOTES);
    assert!(found.more[0].0 == Code::NearColors && found.more[0].1 > 50, "{:?}", found.more);
}

#[test]
fn notes_can_be_found_in_several_threads_at_once() {
    fn is_shared<T: Send + Sync>() {}
    is_shared::<Checked>();
    is_shared::<Limits>();
    is_shared::<Given<'_>>();
    is_shared::<Table>();
}
