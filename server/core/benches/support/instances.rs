//! Seeded questions for the planner: 100 palettes drawn at random and 100 taken from pictures.
//! It does not know how they are answered.
//!
//! Drawn: colors around 4 to 24 seeded centers, so that there are near-identical ones as in a draft.
//! Pictures: those of the repository, shrunk by box averages to a seeded width, as an artwork becomes
//! a draft; components are rounded until at most 300 colors are left. `DYEKIN_EDGES` may name a
//! folder with more pictures; they join the others.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use dyekin_core::Srgb8;
use dyekin_core::color::Color;
use dyekin_core::palette::{ChartColor, PaletteSummary};
use dyekin_core::table::{Code, Table, TableId, Thread};

use crate::seeded::bits;

/// Most colors of one palette.
const MOST_COLORS: usize = 300;

/// Random numbers from a seed.
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    /// A number from `low` to `high`, both included.
    pub(crate) fn roll(&mut self, low: u64, high: u64) -> u64 {
        low + bits(&mut self.0) % (high - low + 1)
    }

    fn byte(&mut self) -> u8 {
        bits(&mut self.0).to_le_bytes()[7]
    }

    fn color(&mut self) -> Srgb8 {
        Srgb8::new(self.byte(), self.byte(), self.byte())
    }
}

/// One question.
#[derive(Clone)]
pub(crate) struct Instance {
    pub(crate) name: String,
    pub(crate) palette: PaletteSummary,
    /// Threads asked for, 8 to 60.
    pub(crate) most: usize,
}

/// The 200 questions: every other one from a picture.
pub(crate) fn all() -> Vec<Instance> {
    let pictures = pictures();
    let draw = |place: usize| match place % 2 {
        0 => drawn(place as u64, None),
        _ => {
            let (name, picture) = pictures.get(place / 2 % pictures.len()).expect("a picture");
            shrunk(place as u64, name, picture)
        }
    };
    (0..200).map(draw).collect()
}

/// A palette of so many colors, or of 60 to 300.
pub(crate) fn drawn(seed: u64, count: Option<usize>) -> Instance {
    let mut dice = Dice(seed.wrapping_mul(0x51ed) + 3);
    let centers: Vec<Srgb8> = (0..dice.roll(4, 24)).map(|_| dice.color()).collect();
    let count = count.unwrap_or_else(|| dice.roll(60, MOST_COLORS as u64) as usize);
    let mut colors: BTreeMap<[u8; 3], u64> = BTreeMap::new();
    while colors.len() < count {
        let center = centers[dice.roll(0, centers.len() as u64 - 1) as usize];
        let spread = dice.roll(4, 60) as i16;
        let mut near = |component: u8| {
            let moved = i16::from(component) + (dice.roll(0, 2 * spread as u64) as i16) - spread;
            moved.clamp(0, 255) as u8
        };
        let color = [near(center.red), near(center.green), near(center.blue)];
        let stitches = 1 + dice.roll(0, 60) * dice.roll(0, 60);
        colors.entry(color).or_insert(stitches);
    }
    instance(format!("drawn {seed}"), colors, dice.roll(8, 60) as usize)
}

fn instance(name: String, colors: BTreeMap<[u8; 3], u64>, most: usize) -> Instance {
    let colors = colors.into_iter().map(|([red, green, blue], stitches)| ChartColor {
        color: Color::screen(Srgb8::new(red, green, blue)),
        stitches,
        threads: Vec::new(),
        area: None,
    });
    let palette = PaletteSummary::new(colors.collect(), None, None).expect("a palette");
    Instance { name, palette, most }
}

/// A table of so many threads, 8-bit sRGB, each component uniform.
pub(crate) fn table(seed: u64, threads: usize) -> Table {
    let mut dice = Dice(seed);
    let thread = |row: usize| {
        let code = Code::parse(&format!("T-{row:05}")).expect("a code");
        Thread::plain(code, "", Color::screen(dice.color()))
    };
    let id = TableId::parse("bench").expect("an id");
    Table::new(id, (0..threads).map(thread).collect()).expect("codes that differ")
}

/// Opaque pixels of a picture, row by row; `None` is bare cloth.
struct Picture {
    width: usize,
    height: usize,
    pixels: Vec<Option<[u8; 3]>>,
}

fn pictures() -> Vec<(String, Picture)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let mut files = vec![root.join("demo/picture.png"), root.join("demo/input/last-ferry.png")];
    let more = std::env::var_os("DYEKIN_EDGES").map(PathBuf::from);
    for folder in [Some(root.join("tests/data/pictures")), more].into_iter().flatten() {
        let listed = std::fs::read_dir(&folder).expect("a folder of pictures");
        let mut found: Vec<PathBuf> = listed.map(|entry| entry.expect("an entry").path()).collect();
        // Blended edges make many colors: those pictures ask most of a planner.
        found.retain(|path| path.to_string_lossy().ends_with(".aa.png"));
        found.sort();
        files.extend(found);
    }
    let read = |path: PathBuf| {
        let name = path.file_stem().map(|name| name.to_string_lossy().into_owned());
        (name.unwrap_or_default(), picture(&path))
    };
    files.into_iter().map(read).collect()
}

fn picture(path: &Path) -> Picture {
    let file = std::io::BufReader::new(std::fs::File::open(path).expect("a picture"));
    let mut decoder = png::Decoder::new(file);
    decoder.set_transformations(png::Transformations::normalize_to_color8());
    let mut reader = decoder.read_info().expect("a PNG");
    let mut bytes = vec![0; reader.output_buffer_size().expect("a small picture")];
    let frame = reader.next_frame(&mut bytes).expect("one frame");
    let pixel = |bytes: &[u8]| match *bytes {
        [_, _, _, alpha] if alpha < 128 => None,
        [red, green, blue, ..] => Some([red, green, blue]),
        _ => None,
    };
    let pixels = bytes.chunks_exact(frame.color_type.samples()).map(pixel).collect();
    Picture { width: frame.width as usize, height: frame.height as usize, pixels }
}

/// A picture as a draft of a seeded width.
fn shrunk(seed: u64, name: &str, picture: &Picture) -> Instance {
    let mut dice = Dice(seed.wrapping_mul(0x9d1) + 5);
    let width = dice.roll(48, 140).min(picture.width as u64) as usize;
    let height = (picture.height * width).div_ceil(picture.width);
    let mut cells: Vec<[u64; 4]> = vec![[0; 4]; width * height];
    for (place, pixel) in picture.pixels.iter().enumerate() {
        let (row, column) = (place / picture.width, place % picture.width);
        let cell = row * height / picture.height * width + column * width / picture.width;
        if let (Some(pixel), Some(cell)) = (pixel, cells.get_mut(cell)) {
            for (sum, component) in cell.iter_mut().zip(pixel) {
                *sum += u64::from(*component);
            }
            cell[3] += 1;
        }
    }
    let colors: Vec<[u8; 3]> = cells
        .iter()
        .filter(|cell| cell[3] > 0)
        .map(|[red, green, blue, count]| [red / count, green / count, blue / count])
        .map(|color| color.map(|component| component as u8))
        .collect();
    let (mut step, mut counted) = (1, count(&colors, 1));
    while counted.len() > MOST_COLORS {
        step += 1;
        counted = count(&colors, step);
    }
    let most = dice.roll(8, 60) as usize;
    instance(format!("{name}, {width} wide"), counted, most)
}

/// Colors with each component rounded to a multiple of `step`, and how often they occur.
fn count(colors: &[[u8; 3]], step: u16) -> BTreeMap<[u8; 3], u64> {
    let round = |component: u8| ((u16::from(component) + step / 2) / step * step).min(255) as u8;
    let mut counted = BTreeMap::new();
    for color in colors {
        *counted.entry(color.map(round)).or_insert(0) += 1;
    }
    counted
}
