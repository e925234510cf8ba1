//! Pictures of kinds that hurt people, and real ones: exact stitches, exact words.
//! It does not test the other formats.

use dyekin_client::chart::{Cell, Chart, Content, EntryId, Loaded, ReadOptions, read};
use dyekin_client::summary::{Summary, SummaryOptions};
use dyekin_core::Srgb8;
use dyekin_core::table::Refused;

fn read_named(name: &str, pixels_per_stitch: Option<u16>) -> Result<Loaded, Refused> {
    let path = format!("{}/data/{name}", env!("CARGO_MANIFEST_DIR"));
    let bytes = std::fs::read(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
    read(&bytes, &ReadOptions { source_name: name, table: None, pixels_per_stitch })
}

fn picture(name: &str) -> (Chart, Vec<String>) {
    let loaded = read_named(name, None).unwrap_or_else(|refused| panic!("{name}: {refused:?}"));
    let Content::Chart(chart) = loaded.content else { panic!("{name} is no chart") };
    (*chart, loaded.notices.into_iter().map(|notice| notice.text).collect())
}

fn refusal(name: &str) -> (String, String) {
    let refused = read_named(name, None).expect_err(name);
    assert_eq!((refused.problems.len(), refused.unlisted), (1, 0), "{name}");
    let problem = &refused.problems[0];
    (problem.to_string(), problem.hint().expect("a remedy"))
}

fn color_at(chart: &Chart, x: u16, y: u16) -> Option<Srgb8> {
    match chart.grid().cell(x, y) {
        Cell::Bare => None,
        Cell::Full(entry) => chart.entry(entry).map(|entry| entry.color),
        Cell::Parts(_) => panic!("pictures have no part stitches"),
    }
}

fn bare_cells(chart: &Chart) -> usize {
    chart.grid().cells().filter(|cell| *cell == Cell::Bare).count()
}

fn rgb(red: u8, green: u8, blue: u8) -> Option<Srgb8> {
    Some(Srgb8::new(red, green, blue))
}

#[test]
fn giant_dimensions_are_refused_from_the_header() {
    let (text, hint) = refusal("inputs/giant-dimensions.png");
    assert_eq!(
        text,
        "inputs/giant-dimensions.png: 100000 x 100000 cells, the limit is 2000 x 2000 and at \
         least 1 x 1"
    );
    assert!(hint.contains("one pixel per stitch"));
}

#[test]
fn a_bomb_of_pixel_data_yields_the_one_pixel_of_its_header() {
    // Its only pixel is transparent: a chart without a stitch.
    let (text, _) = refusal("inputs/idat-bomb.png");
    assert!(text.ends_with("every pixel is transparent: no stitch"), "{text}");
}

#[test]
fn a_bomb_in_a_text_chunk_is_never_opened() {
    let (chart, notices) = picture("inputs/itxt-bomb.png");
    assert_eq!((chart.size().width(), chart.size().height()), (1, 1));
    assert_eq!(color_at(&chart, 0, 0), rgb(74, 107, 60));
    assert_eq!(notices, Vec::<String>::new());
}

#[test]
fn sixteen_bits_are_rounded_and_joined_colors_are_told() {
    let (chart, notices) = picture("inputs/rgb16.png");
    assert_eq!((chart.size().width(), chart.size().height()), (3, 1));
    assert_eq!(color_at(&chart, 0, 0), rgb(74, 107, 60));
    assert_eq!(color_at(&chart, 1, 0), rgb(74, 107, 60));
    assert_eq!(chart.key().len(), 2);
    assert_eq!(notices, ["2 different 16-bit colors became one when rounded to 8 bits"]);
}

#[test]
fn a_short_transparency_chunk_bares_only_its_entries() {
    let (chart, _) = picture("inputs/indexed-short-trns.png");
    assert_eq!((chart.size().width(), chart.size().height()), (8, 6));
    assert_eq!(bare_cells(&chart), 22);
    assert_eq!(chart.key().len(), 3);
    let summary = summary(&chart);
    assert_eq!(summary.palette().stitches(), 26);
}

#[test]
fn an_interlaced_two_bit_picture_is_exact() {
    let (small, _) = picture("inputs/adam7-2bit-7x5.png");
    // The same drawing, two columns and rows larger, in true color.
    let (large, _) = picture("inputs/gama-contradicts-srgb.png");
    assert_eq!((small.size().width(), small.size().height()), (7, 5));
    for y in 0..5 {
        for x in 0..7 {
            assert_eq!(color_at(&small, x, y), color_at(&large, x, y), "cell {x}, {y}");
        }
    }
}

#[test]
fn an_srgb_chunk_wins_over_gamma() {
    let (chart, notices) = picture("inputs/gama-contradicts-srgb.png");
    assert_eq!(color_at(&chart, 0, 0), rgb(74, 107, 60));
    assert_eq!(notices, Vec::<String>::new());
}

#[test]
fn a_linear_gamma_is_told_and_not_applied() {
    let (chart, notices) = picture("inputs/gama-linear-only.png");
    assert_eq!(color_at(&chart, 0, 0), rgb(74, 107, 60));
    assert_eq!(notices.len(), 1);
    assert!(notices[0].starts_with("gAMA 1.0 ignored"), "{}", notices[0]);
}

#[test]
fn a_foreign_color_profile_is_told_by_name() {
    let (_, notices) = picture("inputs/iccp-swapped-primaries.png");
    assert_eq!(notices.len(), 1);
    assert!(notices[0].starts_with("color profile \"swapRG\" ignored"), "{}", notices[0]);
}

#[test]
fn half_transparent_cells_are_refused_by_their_places() {
    let (text, hint) = refusal("inputs/alpha-fringe-hidden-rgb.png");
    assert!(text.contains("10 cells are half transparent: column "), "{text}");
    assert!(text.ends_with("; and more"), "{text}");
    assert_eq!(text.matches("column").count(), 5);
    assert!(hint.contains("fully opaque"));
}

#[test]
fn ten_pixels_per_cell_are_refused_with_the_right_size() {
    let (text, hint) = refusal("inputs/ten-px-per-cell.png");
    assert!(text.ends_with("looks like 10 px per cell: 8 x 6, 4 colors"), "{text}");
    assert!(hint.starts_with("shrink the picture to 8 x 6 pixels without smoothing"));
}

#[test]
fn ten_pixels_per_cell_are_shrunk_when_asked_for() {
    let loaded = read_named("inputs/ten-px-per-cell.png", Some(10)).unwrap();
    let Content::Chart(chart) = loaded.content else { panic!() };
    let (plain, _) = picture("inputs/gama-contradicts-srgb.png");
    assert_eq!(chart.grid(), plain.grid());
    assert_eq!(chart.key(), plain.key());
}

#[test]
fn every_pixel_is_a_stitch_when_that_is_said() {
    let loaded = read_named("inputs/ten-px-per-cell.png", Some(1)).unwrap();
    let Content::Chart(chart) = loaded.content else { panic!() };
    assert_eq!(summary(&chart).palette().stitches(), 4_800);
}

#[test]
fn a_wrong_block_size_is_refused_with_the_mixed_cells() {
    let refused = read_named("inputs/ten-px-per-cell.png", Some(20)).unwrap_err();
    assert!(refused.problems[0].to_string().contains("cells have several colors: column"));
}

#[test]
fn a_smoothed_enlargement_is_told() {
    let (chart, notices) = picture("inputs/blurred-upscale.png");
    assert_eq!(chart.key().len(), 1_292);
    assert!(notices[0].starts_with("1292 colors in 4332 pixels"), "{notices:?}");
}

#[test]
fn other_picture_formats_are_refused_with_a_remedy() {
    for name in ["inputs/ten-px-jpeg.jpg", "inputs/cmyk-adobe.jpg"] {
        let (text, hint) = refusal(name);
        assert_eq!(text, format!("{name}: a JPEG picture, which is not read"));
        assert!(hint.contains("PNG, one pixel per stitch"));
    }
}

#[test]
fn a_file_that_ends_early_is_refused() {
    let (text, _) = refusal("inputs/truncated.png");
    assert!(text.contains("the file ends early"), "{text}");
}

#[test]
fn a_wrong_checksum_is_refused_by_the_name_of_its_chunk() {
    let (text, _) = refusal("inputs/bad-crc.png");
    assert!(text.contains("chunk IDAT is damaged"), "{text}");
}

#[test]
fn content_decides_and_a_wrong_name_is_told() {
    let (chart, notices) = picture("inputs/png-named-jpg.jpg");
    assert_eq!(color_at(&chart, 0, 0), rgb(74, 107, 60));
    let told =
        ["the name ends in .jpg, but the content is a PNG picture and read as such".to_owned()];
    assert_eq!(notices, told);
}

fn summary(chart: &Chart) -> Summary {
    Summary::of_chart(chart, SummaryOptions { split: &[], color_of: &|_| None }).unwrap()
}

#[test]
fn real_drawings_have_their_sizes_and_colors() {
    for (name, side, colors) in
        [("bus", 73, 235), ("drop-of-blood", 84, 40), ("goose", 71, 153), ("kite", 88, 295)]
    {
        let (chart, notices) = picture(&format!("pictures/{name}.aa.png"));
        assert_eq!((chart.size().width(), chart.size().height()), (side, side), "{name}");
        assert_eq!(chart.key().len(), colors, "{name}");
        assert_eq!(notices, Vec::<String>::new(), "{name}");
        let summary = summary(&chart);
        assert_eq!(summary.palette().colors().len(), colors, "{name}");
        assert_eq!(summary.palette().stitches(), u64::from(side) * u64::from(side), "{name}");
        assert!(summary.palette().neighbors().is_some_and(|pairs| pairs.len() > colors), "{name}");
    }
}

/// A PNG as an encoder that is not ours makes it.
fn encoded(size: (u32, u32), color: png::ColorType, depth: png::BitDepth, data: &[u8]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, size.0, size.1);
    encoder.set_color(color);
    encoder.set_depth(depth);
    let mut writer = encoder.write_header().unwrap();
    writer.write_image_data(data).unwrap();
    writer.finish().unwrap();
    bytes
}

fn read_bytes(bytes: &[u8]) -> Chart {
    let options = ReadOptions { source_name: "made.png", table: None, pixels_per_stitch: None };
    let loaded = read(bytes, &options).unwrap_or_else(|refused| panic!("{refused:?}"));
    let Content::Chart(chart) = loaded.content else { panic!() };
    *chart
}

#[test]
fn gray_of_every_depth_is_stretched_exactly() {
    use png::BitDepth::{Eight, Four, One, Sixteen, Two};
    let cases: [(png::BitDepth, &[u8], [u8; 3]); 5] = [
        (One, &[0b1010_0000], [255, 0, 255]),
        (Two, &[0b0001_1100], [0, 85, 255]),
        (Four, &[0x07, 0xF0], [0, 119, 255]),
        (Eight, &[3, 128, 250], [3, 128, 250]),
        (Sixteen, &[3, 3, 128, 128, 250, 250], [3, 128, 250]),
    ];
    for (depth, data, grays) in cases {
        let chart = read_bytes(&encoded((3, 1), png::ColorType::Grayscale, depth, data));
        for (x, gray) in (0_u16..).zip(grays) {
            assert_eq!(color_at(&chart, x, 0), rgb(gray, gray, gray), "{depth:?}");
        }
    }
}

#[test]
fn gray_with_alpha_and_hidden_colors_under_cloth() {
    let data = [9, 255, 77, 0, 12, 0, 200, 255];
    let bytes = encoded((4, 1), png::ColorType::GrayscaleAlpha, png::BitDepth::Eight, &data);
    let chart = read_bytes(&bytes);
    let cells = [rgb(9, 9, 9), None, None, rgb(200, 200, 200)];
    for (x, cell) in (0_u16..).zip(cells) {
        assert_eq!(color_at(&chart, x, 0), cell);
    }
    assert_eq!(chart.key().len(), 2);
}

#[test]
fn the_color_that_is_one_too_many_ends_the_reading() {
    let pixels = |count: u32| -> Vec<u8> {
        (0..count).flat_map(|n| n.to_be_bytes().into_iter().skip(1)).collect()
    };
    let rgb8 = (png::ColorType::Rgb, png::BitDepth::Eight);
    let most = read_bytes(&encoded((64, 64), rgb8.0, rgb8.1, &pixels(4_096)));
    assert_eq!(most.key().len(), 4_096);
    assert_eq!(most.key()[4_095].color, Srgb8::new(0, 15, 255));
    assert_eq!(most.grid().cell(63, 63), Cell::Full(EntryId::new(4_095).unwrap()));
    let bytes = encoded((241, 17), rgb8.0, rgb8.1, &pixels(4_097));
    let options = ReadOptions { source_name: "many.png", table: None, pixels_per_stitch: None };
    let refused = read(&bytes, &options).unwrap_err();
    assert_eq!(
        refused.problems[0].to_string(),
        "many.png: more than 4096 colors, found by pixel 4097"
    );
}

#[test]
fn an_animated_picture_is_refused() {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, 1, 1);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_animated(2, 0).unwrap();
    let mut writer = encoder.write_header().unwrap();
    writer.write_image_data(&[1]).unwrap();
    writer.write_image_data(&[2]).unwrap();
    writer.finish().unwrap();
    let options = ReadOptions { source_name: "two.png", table: None, pixels_per_stitch: None };
    let refused = read(&bytes, &options).unwrap_err();
    assert_eq!(refused.problems[0].to_string(), "two.png: an animated PNG: a chart is one picture");
}
