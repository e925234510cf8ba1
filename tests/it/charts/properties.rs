//! What holds for any chart and any bytes: the same chart comes back, and nothing panics.
//! It does not test single cases.

use dyekin_client::change_file;
use dyekin_client::chart::{
    Area, Blend, Cell, Chart, ChartFormat, ChartHash, Content, Corner, Draft, Entry, Grid, Knot,
    Label, Line, Part, PictureOptions, ReadOptions, Run, Shape, Size, Slope, Strands, SymbolSet,
    Usage, Work, read, write,
};
use dyekin_client::summary::{Summary, SummaryOptions};
use dyekin_core::Srgb8;
use proptest::prelude::*;

use super::changes::four_colors;
use super::made::{id, key_thread, point, read_bytes, table};

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
                    let place = u16::try_from(place).unwrap();
                    let (x, y) = (place % width, place / width);
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
        let options = SummaryOptions { split: &[], apart: None, color_of: &|_| None };
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

    #[test]
    fn changed_pictures_with_right_checksums_never_panic(
        chart in any_chart(),
        of_tests in any::<prop::sample::Index>(),
        edits in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
    ) {
        let names = ["rgb16", "indexed-short-trns", "adam7-2bit-7x5", "alpha-fringe-hidden-rgb"];
        let name = names[of_tests.index(names.len())];
        let path = format!("{}/data/inputs/{name}.png", env!("CARGO_MANIFEST_DIR"));
        let files = [write(&chart, ChartFormat::Png).unwrap().bytes, std::fs::read(path).unwrap()];
        for mut bytes in files {
            for (place, byte) in &edits {
                let place = place.index(bytes.len());
                bytes[place] = *byte;
            }
            with_right_checksums(&mut bytes);
            let _ = read_anything(&bytes);
        }
    }
}

/// Repairs the checksum of each chunk, so that changes reach the decoder.
fn with_right_checksums(bytes: &mut [u8]) {
    let mut at = 8;
    while let Some(length) = bytes.get(at..at + 4) {
        let length = u32::from_be_bytes(length.try_into().unwrap()) as usize;
        let end = at.saturating_add(8).saturating_add(length);
        if end.saturating_add(4) > bytes.len() {
            return;
        }
        let sum = crc32fast::hash(&bytes[at + 4..end]);
        bytes[end..end + 4].copy_from_slice(&sum.to_be_bytes());
        at = end + 4;
    }
}

/// Reads without caring what it is; what is read must be writable again.
fn read_anything(bytes: &[u8]) -> Option<Vec<u8>> {
    let table = table();
    let options =
        ReadOptions { source_name: "x", table: Some(&table), picture: PictureOptions::AS_FOUND };
    match read(bytes, &options).ok()?.content {
        Content::Chart(chart) => Some(write(&chart, ChartFormat::Json).unwrap().bytes),
        Content::Key(_) => None,
    }
}
