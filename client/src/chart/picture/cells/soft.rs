//! Cells in pictures whose pixels are not exact: the pitch at which the edges of a picture lie, and
//! the signs of an enlargement that has none.
//! It does not read cells.

use std::collections::HashSet;

use super::MAX_SIDE;
use super::lattice::Lattice;
use crate::chart::picture::raster::{Raster, Rgba};

/// Part of all edges that must lie on the lattice beyond what chance puts there, for pictures of a
/// lossy format, and for others (house choice: drawings of one pixel per stitch stay below a fifth).
const ON_LATTICE: (f64, f64) = (0.4, 0.6);

/// A larger pitch is taken when nearly as many edges lie on it: every divisor of a pitch fits too.
const NEARLY: f64 = 0.9;

/// Fewest cells along a side, so that a pitch says something.
const TELLING_CELLS: usize = 6;

/// Lines of a lattice, each way, that must have edges on them, and edges of how much of the most: a
/// few large shapes lie on some lattice by chance.
const LINES_WITH_EDGES: usize = 4;
const WORTH_COUNTING: u64 = 8;

/// Widest line between cells, in pixels, whose two edges count as one.
const WIDEST_LINE: usize = 3;

/// Smallest pitch that is looked for.
const SMALLEST: usize = 3;

/// Colors at which a picture may be smoothed: drawings of fewer have hard edges.
const MANY_COLORS: usize = 200;

/// Bend against slope below which a picture is smooth everywhere. Drawings at one pixel per stitch,
/// anti-aliased and sharpened ones too, have 1.2 to 2; enlargements by interpolation 0.2 to 0.5.
const SMOOTH: f64 = 0.7;

/// A pitch and where it begins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pitch {
    pub(super) side: usize,
    shift: (usize, usize),
}

impl Pitch {
    /// The cells of this pitch.
    pub(super) fn lattice(self, raster: &Raster) -> Lattice {
        Lattice::of_pitch(raster, self.side, self.shift).without_slivers(self.side)
    }
}

/// The largest pitch of square cells on which the edges lie.
pub(super) fn pitch(raster: &Raster, lossy: bool) -> Option<Pitch> {
    let (across, down) = edges(raster);
    let all: u64 = across.iter().chain(&down).sum();
    let most = (raster.width().min(raster.height()) / TELLING_CELLS).min(usize::from(MAX_SIDE));
    let mut tried: Vec<(Pitch, f64)> = Vec::new();
    if !lossy && colors(raster) < MANY_COLORS {
        return None;
    }
    for line in 1..=WIDEST_LINE {
        let (wide_across, wide_down) = (wide(&across, line), wide(&down, line));
        for side in SMALLEST.max(2 * line + 1)..=most {
            let ((x, on_x), (y, on_y)) =
                (best_shift(&wide_across, side), best_shift(&wide_down, side));
            if !spread(&across, side, x) || !spread(&down, side, y) {
                continue;
            }
            let chance = ratio(line as u64, side as u64);
            let beyond = (ratio(on_x + on_y, all) - chance) / (1.0 - chance);
            tried.push((Pitch { side, shift: (x, y) }, beyond));
        }
    }
    let best = tried.iter().map(|(_, beyond)| *beyond).fold(0.0, f64::max);
    let least = if lossy { ON_LATTICE.0 } else { ON_LATTICE.1 };
    let enough = tried.into_iter().filter(|(_, beyond)| *beyond >= least.max(NEARLY * best));
    enough.map(|(pitch, _)| pitch).max_by_key(|pitch| pitch.side)
}

/// Edges with those of the next pixels, so that both edges of a line count where it begins.
fn wide(edges: &[u64], line: usize) -> Vec<u64> {
    (0..edges.len()).map(|from| edges.iter().skip(from).take(line).sum()).collect()
}

/// True when several lines of a lattice have edges on them.
fn spread(edges: &[u64], side: usize, shift: usize) -> bool {
    // Into the first pixel nothing changes.
    let from = if shift == 0 { side } else { shift };
    let lines = || edges.iter().skip(from).step_by(side).copied();
    let most = lines().max().unwrap_or(0);
    lines().filter(|line| *line > 0 && line * WORTH_COUNTING >= most).count() >= LINES_WITH_EDGES
}

/// Different colors.
fn colors(raster: &Raster) -> usize {
    raster.pixels().iter().collect::<HashSet<_>>().len()
}

/// How much brightness changes into each column and into each row, summed along it.
pub(super) fn edges(raster: &Raster) -> (Vec<u64>, Vec<u64>) {
    let mut across = vec![0; raster.width()];
    let mut down = vec![0; raster.height()];
    let mut above: Option<&[Rgba]> = None;
    for (row, sum) in raster.rows().zip(&mut down) {
        for (sum, pair) in across.iter_mut().skip(1).zip(row.windows(2)) {
            if let [left, right] = pair {
                *sum += u64::from(light(*left).abs_diff(light(*right)));
            }
        }
        if let Some(above) = above {
            let steps = row.iter().zip(above).map(|(low, high)| light(*low).abs_diff(light(*high)));
            *sum = steps.map(u64::from).sum();
        }
        above = Some(row);
    }
    (across, down)
}

/// Where cells of this size begin so that most edges lie between them, and how much lies there.
pub(super) fn best_shift(edges: &[u64], side: usize) -> (usize, u64) {
    let on = |shift: usize| edges.iter().skip(shift).step_by(side.max(1)).sum::<u64>();
    let shifts = (0..side.max(1)).map(|shift| (shift, on(shift)));
    // The first of equals: a picture without edges begins at its rim.
    shifts.fold((0, 0), |best, next| if next.1 > best.1 { next } else { best })
}

/// Why a picture that looks enlarged by interpolation is refused, and what to do.
pub(super) fn enlarged(raster: &Raster) -> Option<(String, &'static str)> {
    let (pixels, colors) = (raster.pixels().len(), colors(raster));
    if colors < MANY_COLORS || bend(raster) >= SMOOTH {
        return None;
    }
    let reason = format!(
        "{colors} colors in {pixels} pixels, soft edges and no whole cell size: this looks like a \
         smoothed enlargement or a photo, not like one pixel per stitch"
    );
    let remedy = "save the drawing itself with one pixel per stitch and no smoothing; or say how \
                  many stitches it has with --cells WxH, or --cell-size 1 for one per pixel";
    Some((reason, remedy))
}

/// Sum of the second differences of brightness against the sum of the first ones.
fn bend(raster: &Raster) -> f64 {
    let (mut first, mut second) = (0_u64, 0_u64);
    let mut take = |line: &mut dyn Iterator<Item = Rgba>| {
        let mut before: Option<i32> = None;
        let mut step_before: Option<i32> = None;
        for value in line.map(light) {
            if let Some(before) = before {
                let step = value - before;
                first += u64::from(step.unsigned_abs());
                if let Some(step_before) = step_before {
                    second += u64::from(step.abs_diff(step_before));
                }
                step_before = Some(step);
            }
            before = Some(value);
        }
    };
    for row in raster.rows() {
        take(&mut row.iter().copied());
    }
    for x in 0..raster.width() {
        take(&mut raster.column(x));
    }
    if first == 0 { f64::INFINITY } else { ratio(second, first) }
}

/// Brightness in the weights of Rec. 601, in thousandths; cloth is brighter than white.
fn light([red, green, blue, alpha]: Rgba) -> i32 {
    if alpha == 0 {
        return 300_000;
    }
    299 * i32::from(red) + 587 * i32::from(green) + 114 * i32::from(blue)
}

#[expect(clippy::cast_precision_loss, reason = "a share of sums needs no more than 52 bits")]
fn ratio(part: u64, whole: u64) -> f64 {
    if whole == 0 { 0.0 } else { part as f64 / whole as f64 }
}
