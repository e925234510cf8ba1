//! From pixels to one pixel per stitch: what the user said, or what the content shows.
//! It does not number colors, and it never enlarges or blends.

mod exact;
mod lattice;
mod lines;
mod soft;

use dyekin_core::table::Notice;

use super::super::problems::Problems;
use super::raster::{CLEAR, Raster, Rgba};
use super::{Scale, listed};
use exact::Blocks;
use lattice::Lattice;

/// Most pixels across one stitch.
pub(super) const MAX_SIDE: u16 = 200;

/// Places that a message lists.
const LISTED: usize = 5;

/// One cell in so many may be mixed; more say that the cells are not where they were looked for.
const MIXED_CELLS: usize = 50;

/// What is known of a picture beside its pixels.
#[derive(Clone, Copy, Debug)]
pub(super) struct Known {
    /// What the user said.
    pub(super) scale: Option<Scale>,
    /// The format has changed colors.
    pub(super) lossy: bool,
    /// Our own writer says that each pixel is a stitch.
    pub(super) one_pixel: bool,
}

/// One pixel per stitch; `None` when `problems` says why not.
pub(super) fn cells(
    raster: Raster,
    known: Known,
    problems: &mut Problems,
    notices: &mut Vec<Notice>,
) -> Option<Raster> {
    match known.scale {
        Some(Scale::Side(1)) => Some(raster),
        None if known.one_pixel => Some(raster),
        Some(Scale::Side(side)) => {
            given(&raster, &Lattice::of_side(&raster, usize::from(side)), problems, notices)
        }
        Some(Scale::Cells(across, down)) => {
            let (across, down) = (usize::from(across), usize::from(down));
            if across > raster.width() || down > raster.height() {
                let (width, height) = (raster.width(), raster.height());
                problems.push_file(
                    format!("{width} x {height} pixels are fewer than {across} x {down} cells"),
                    "say the number of stitches across and down",
                );
                return None;
            }
            given(&raster, &Lattice::of_cells(&raster, across, down), problems, notices)
        }
        None => found(raster, known.lossy, problems, notices),
    }
}

/// The cells that the user described.
fn given(
    raster: &Raster,
    lattice: &Lattice,
    problems: &mut Problems,
    notices: &mut Vec<Notice>,
) -> Option<Raster> {
    if lattice.left_out() > 0 {
        let text = format!("{} px at the edges are no whole cell and left out", lattice.left_out());
        notices.push(Notice { place: None, text });
    }
    let sampled = lattice.sampled(raster);
    let (cells, mixed) = (sampled.raster.pixels().len(), sampled.mixed.len());
    if cells == 0 {
        problems.push_file("not one whole cell", "give a smaller cell size");
        return None;
    }
    if mixed > 0 {
        let first = sampled.mixed.get(..mixed.min(LISTED)).unwrap_or_default();
        let more = if mixed > LISTED { "; and more" } else { "" };
        let places = listed(first, sampled.raster.width());
        let text = format!("{mixed} cells have several colors: {places}{more}");
        if mixed * MIXED_CELLS > cells {
            problems.push_file(
                text,
                "the cells are not there: give another size, or crop the picture to whole cells",
            );
            return None;
        }
        notices.push(Notice { place: None, text: format!("{text}; the middle one is taken") });
    }
    Some(sampled.raster)
}

/// The cells that the content shows; the picture as it is when it shows none.
fn found(
    raster: Raster,
    lossy: bool,
    problems: &mut Problems,
    notices: &mut Vec<Notice>,
) -> Option<Raster> {
    let mut say = |text: String| notices.push(Notice { place: None, text });
    if let Some(blocks) = exact::blocks(&raster) {
        say(blocks.told());
        return Some(blocks.cells);
    }
    if let Some(lined) = lines::without(&raster) {
        let what =
            format!("{} forms full rows and columns every {} px", lined.color(), lined.every);
        match exact::blocks(&lined.rest) {
            Some(Blocks { cells, side, .. }) => {
                say(format!(
                    "{what}: taken for grid lines and left out; {}",
                    exact::read_as(&cells, side)
                ));
                return Some(cells);
            }
            None => say(format!(
                "{what}: grid lines? They are read as stitches; save the picture without them"
            )),
        }
    }
    if let Some(pitch) = soft::pitch(&raster, lossy) {
        let sampled = pitch.lattice(&raster).sampled(&raster);
        if sampled.mixed.len() * MIXED_CELLS <= sampled.raster.pixels().len() {
            let why = if lossy { "JPEG changes colors" } else { "its pixels are not exact" };
            say(format!(
                "{}; {why}, so each stitch has the middle color of its block: near-identical \
                 colors may be one, and a PNG of the drawing itself is exact",
                exact::read_as(&sampled.raster, pitch.side)
            ));
            return Some(sampled.raster);
        }
    }
    if let Some((reason, remedy)) = exact::uneven(&raster).or_else(|| soft::enlarged(&raster)) {
        problems.push_file(reason, remedy);
        return None;
    }
    if lossy {
        say(format!(
            "no cells found: read as {} x {} stitches, one per pixel; JPEG changes colors, most of \
             all along edges, so expect stray ones: a PNG of the drawing itself is exact",
            raster.width(),
            raster.height()
        ));
    }
    Some(raster)
}

/// A color as people write it.
fn named(color: Rgba) -> String {
    let [red, green, blue, alpha] = color;
    if color == CLEAR {
        "nothing (transparent)".to_owned()
    } else if alpha == u8::MAX {
        format!("#{red:02x}{green:02x}{blue:02x}")
    } else {
        format!("#{red:02x}{green:02x}{blue:02x}{alpha:02x}")
    }
}

/// Greatest common divisor; 0 with 0 is 0.
fn gcd(mut first: usize, mut second: usize) -> usize {
    while second > 0 {
        (first, second) = (second, first % second);
    }
    first
}
