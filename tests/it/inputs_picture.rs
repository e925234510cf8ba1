//! Pictures of kinds that hurt people, and real ones: exact stitches, exact words.
//! It does not test the other formats.

use dyekin_client::chart::{
    Cell, Chart, Content, EntryId, Loaded, PictureOptions, ReadOptions, Scale, SeeThrough, read,
};
use dyekin_client::summary::{Summary, SummaryOptions};
use dyekin_core::Srgb8;
use dyekin_core::table::Refused;

fn bytes_of(name: &str) -> Vec<u8> {
    let path = format!("{}/data/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn read_as(name: &str, picture: PictureOptions) -> Result<Loaded, Refused> {
    read(&bytes_of(name), &ReadOptions { source_name: name, table: None, picture })
}

fn read_scaled(name: &str, scale: Scale) -> Result<Loaded, Refused> {
    read_as(name, PictureOptions { scale: Some(scale), see_through: None })
}

fn picture(name: &str) -> (Chart, Vec<String>) {
    let loaded = read_as(name, PictureOptions::AS_FOUND);
    told(loaded.unwrap_or_else(|refused| panic!("{name}: {refused:?}")), name)
}

fn told(loaded: Loaded, name: &str) -> (Chart, Vec<String>) {
    let Content::Chart(chart) = loaded.content else { panic!("{name} is no chart") };
    (*chart, loaded.notices.into_iter().map(|notice| notice.text).collect())
}

fn refusal(name: &str) -> (String, String) {
    let refused = read_as(name, PictureOptions::AS_FOUND).expect_err(name);
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
        "inputs/giant-dimensions.png: 100000 x 100000 pixels, the limit is 16777216 in all and at \
         least one"
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

/// Expected colors by Little CMS, relative colorimetric, through Pillow 13.
#[test]
fn a_color_profile_is_converted_and_told_by_name() {
    let (chart, notices) = picture("inputs/iccp-swapped-primaries.png");
    assert_eq!(notices, ["color profile \"swapRG\": colors were converted to sRGB"]);
    let colors: Vec<[u8; 3]> = chart
        .key()
        .iter()
        .map(|entry| [entry.color.red, entry.color.green, entry.color.blue])
        .collect();
    for (color, expected) in colors.iter().zip(SWAPPED) {
        let off = color.iter().zip(expected).map(|(ours, theirs)| ours.abs_diff(theirs)).max();
        assert!(off <= Some(1), "{color:?} is not {expected:?}");
    }
    assert_eq!(colors.len(), SWAPPED.len());
}

const SWAPPED: [[u8; 3]; 4] = [[107, 73, 57], [196, 160, 208], [182, 218, 90], [87, 165, 61]];

#[test]
fn half_transparent_cells_are_asked_about_with_their_places() {
    let (text, hint) = refusal("inputs/alpha-fringe-hidden-rgb.png");
    assert!(text.contains("10 cells are half see-through, cloth or stitch? column "), "{text}");
    assert!(text.ends_with("; and more"), "{text}");
    assert_eq!(text.matches("column").count(), 5);
    assert!(hint.contains("--see-through cloth or --see-through stitch"));
}

#[test]
fn half_transparent_cells_are_what_the_user_says() {
    for (said, stitches) in [(SeeThrough::Cloth, 48 - 8 - 10), (SeeThrough::Stitch, 48 - 8)] {
        let options = PictureOptions { scale: None, see_through: Some(said) };
        let name = "inputs/alpha-fringe-hidden-rgb.png";
        let (chart, _) = told(read_as(name, options).unwrap(), name);
        assert_eq!(summary(&chart).palette().stitches(), stitches, "{said:?}");
        assert_eq!(chart.key().len(), 4, "{said:?}");
    }
}

/// The drawing that the enlarged ones show, at one pixel per stitch.
fn drawing() -> Chart {
    picture("inputs/gama-contradicts-srgb.png").0
}

#[test]
fn ten_pixels_per_cell_are_found_and_told_with_the_way_back() {
    let (chart, notices) = picture("inputs/ten-px-per-cell.png");
    assert_eq!(
        notices,
        ["looks like 10 px per cell: read as 8 x 6 stitches, 4 colors; add --cell-size 1 if each \
          pixel is a stitch"]
    );
    assert_eq!((chart.grid(), chart.key()), (drawing().grid(), drawing().key()));
}

#[test]
fn the_users_size_wins_over_the_content() {
    let name = "inputs/ten-px-per-cell.png";
    let (chart, notices) = told(read_scaled(name, Scale::Side(1)).unwrap(), name);
    assert_eq!(summary(&chart).palette().stitches(), 4_800);
    assert_eq!(notices, Vec::<String>::new());
    for scale in [Scale::Side(10), Scale::Cells(8, 6)] {
        let (chart, notices) = told(read_scaled(name, scale).unwrap(), name);
        assert_eq!((chart.grid(), chart.key()), (drawing().grid(), drawing().key()), "{scale:?}");
        assert_eq!(notices, Vec::<String>::new());
    }
}

#[test]
fn a_size_that_does_not_fit_is_refused_with_the_mixed_cells() {
    for scale in [Scale::Side(20), Scale::Cells(4, 3)] {
        let refused = read_scaled("inputs/ten-px-per-cell.png", scale).unwrap_err();
        let text = refused.problems[0].to_string();
        assert!(text.contains("cells have several colors: column"), "{text}");
    }
    for scale in [Scale::Side(0), Scale::Side(201), Scale::Cells(0, 6), Scale::Cells(8, 2_001)] {
        let refused = read_scaled("inputs/ten-px-per-cell.png", scale).unwrap_err();
        let hint = refused.problems[0].hint().unwrap();
        assert_eq!(hint, "--cell-size has 1 to 200, --cells 1 to 2000");
    }
    let refused = read_scaled("inputs/ten-px-per-cell.png", Scale::Cells(90, 6)).unwrap_err();
    let text = refused.problems[0].to_string();
    assert!(text.ends_with("80 x 60 pixels are fewer than 90 x 6 cells"), "{text}");
}

#[test]
fn grid_lines_are_noticed_and_left_out() {
    let (chart, notices) = picture("inputs/with-grid-lines.png");
    assert_eq!(
        notices,
        [
            "#000000 forms full rows and columns every 10 px: taken for grid lines and left out; looks \
          like 9 px per cell: read as 8 x 6 stitches, 4 colors; add --cell-size 1 if each pixel is a \
          stitch"
        ]
    );
    assert_eq!((chart.grid(), chart.key()), (drawing().grid(), drawing().key()));
}

#[test]
fn a_smoothed_enlargement_is_refused_with_the_reason() {
    let (text, hint) = refusal("inputs/blurred-upscale.png");
    assert!(
        text.contains("1292 colors in 4332 pixels, soft edges and no whole cell size"),
        "{text}"
    );
    assert!(hint.contains("--cells WxH"), "{hint}");
    // Said how many stitches it has, it is read: each has a color near that of the drawing.
    let name = "inputs/blurred-upscale.png";
    let (chart, _) = told(read_scaled(name, Scale::Cells(8, 6)).unwrap(), name);
    near(&chart, &drawing(), 16);
}

/// Every cell of two charts of one size within so many levels in each channel.
fn near(chart: &Chart, truth: &Chart, levels: u8) {
    assert_eq!(chart.size(), truth.size());
    for y in 0..truth.size().height() {
        for x in 0..truth.size().width() {
            let (found, wanted) = (color_at(chart, x, y).unwrap(), color_at(truth, x, y).unwrap());
            let parts =
                [(found.red, wanted.red), (found.green, wanted.green), (found.blue, wanted.blue)];
            let off = parts.map(|(ours, theirs)| ours.abs_diff(theirs));
            assert!(off.iter().all(|off| *off <= levels), "cell {x}, {y}: {found:?} {wanted:?}");
        }
    }
}

/// At a quality of 75 the middle of a block is at most 6 levels from the drawing (measured with
/// Pillow on this file).
#[test]
fn blocks_of_a_jpeg_have_their_middle_colors_and_a_warning() {
    let (chart, notices) = picture("inputs/ten-px-jpeg.jpg");
    near(&chart, &drawing(), 6);
    assert_eq!(notices.len(), 1);
    assert!(notices[0].starts_with("looks like 10 px per cell: read as 8 x 6"), "{notices:?}");
    assert!(notices[0].contains("JPEG changes colors"), "{notices:?}");
}

#[test]
fn a_picture_on_its_side_is_turned_upright() {
    let (chart, notices) = picture("inputs/exif-orientation-6.jpg");
    assert_eq!(notices[0], "turned upright as its Exif orientation 6 says");
    assert_eq!((chart.size().width(), chart.size().height()), (6, 8));
    // Stored rows become columns from the right.
    let stored = drawing();
    for (x, y) in [(0_u16, 0_u16), (5, 0), (2, 7)] {
        let (found, wanted) =
            (color_at(&chart, x, y).unwrap(), color_at(&stored, y, 5 - x).unwrap());
        assert!(found.red.abs_diff(wanted.red) < 8 && found.blue.abs_diff(wanted.blue) < 8);
    }
}

#[test]
fn printing_colors_are_refused() {
    let (text, hint) = refusal("inputs/cmyk-adobe.jpg");
    assert!(text.contains("printing colors (CMYK, without a profile)"), "{text}");
    assert!(hint.contains("convert the picture to RGB"), "{hint}");
}

#[test]
fn a_jpeg_that_ends_early_is_refused() {
    let bytes = bytes_of("inputs/ten-px-jpeg.jpg");
    for length in [3, 20, 200, bytes.len() / 2, bytes.len() - 40] {
        let picture = PictureOptions::AS_FOUND;
        let options = ReadOptions { source_name: "cut.jpg", table: None, picture };
        let refused = read(&bytes[..length], &options).expect_err("half a picture");
        assert!(refused.problems[0].to_string().contains("the JPEG cannot be read"), "{length}");
    }
}

#[test]
fn no_damage_to_a_picture_ends_the_program() {
    for name in ["inputs/exif-orientation-6.jpg", "inputs/iccp-swapped-primaries.png"] {
        let whole = bytes_of(name);
        let mut state = 7_u64;
        for _ in 0..600 {
            let mut bytes = whole.clone();
            for _ in 0..3 {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                let place = usize::try_from(state >> 33).unwrap() % bytes.len();
                bytes[place] = state.to_be_bytes()[1];
            }
            let picture = PictureOptions::AS_FOUND;
            let options = ReadOptions { source_name: name, table: None, picture };
            if let Err(refused) = read(&bytes, &options) {
                assert!(!refused.problems.is_empty());
            }
        }
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
    Summary::of_chart(chart, SummaryOptions { split: &[], apart: None, color_of: &|_| None })
        .unwrap()
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
    let options =
        ReadOptions { source_name: "made.png", table: None, picture: PictureOptions::AS_FOUND };
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
    let scale = Some(Scale::Side(1));
    let picture = PictureOptions { scale, see_through: None };
    let options = ReadOptions { source_name: "many.png", table: None, picture };
    let bytes = encoded((64, 64), rgb8.0, rgb8.1, &pixels(4_096));
    let (most, _) = told(read(&bytes, &options).unwrap(), "many.png");
    assert_eq!(most.key().len(), 4_096);
    assert_eq!(most.key()[4_095].color, Srgb8::new(0, 15, 255));
    assert_eq!(most.grid().cell(63, 63), Cell::Full(EntryId::new(4_095).unwrap()));
    let bytes = encoded((241, 17), rgb8.0, rgb8.1, &pixels(4_097));
    let refused = read(&bytes, &options).unwrap_err();
    assert_eq!(
        refused.problems[0].to_string(),
        "many.png: more than 4096 colors, found by cell 4097"
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
    let options =
        ReadOptions { source_name: "two.png", table: None, picture: PictureOptions::AS_FOUND };
    let refused = read(&bytes, &options).unwrap_err();
    assert_eq!(refused.problems[0].to_string(), "two.png: an animated PNG: a chart is one picture");
}
