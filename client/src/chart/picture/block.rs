//! Pictures in which a stitch is a block of pixels: found out, refused, or shrunk when asked for.
//! It does not guess: only exact blocks of one color count.

use dyekin_core::table::Notice;

use super::super::problems::Problems;
use super::{Numbered, listed};

/// Fewer blocks than these say nothing: small charts may be made of such blocks by chance.
const TELLING_BLOCKS: usize = 12;

/// Places that a message lists.
const LISTED: usize = 5;

/// The picture, unless all of it is made of exact blocks: then it is refused with the right size.
pub(super) fn single(
    picture: Numbered,
    problems: &mut Problems,
    notices: &mut Vec<Notice>,
) -> Option<Numbered> {
    let side = block_side(&picture);
    let (across, down) = (picture.width / side.max(1), rows(&picture) / side.max(1));
    if side < 2 || across * down < TELLING_BLOCKS {
        return Some(picture);
    }
    let what = format!(
        "looks like {side} px per cell: {across} x {down}, {} colors",
        picture.colors.len()
    );
    if picture.colors.len() == 1 && !picture.pixels.contains(&super::BARE) {
        // A plain area is made of blocks of any size.
        return Some(picture);
    }
    if across == 1 || down == 1 {
        notices.push(Notice { place: None, text: format!("{what}; read as one px per cell") });
        return Some(picture);
    }
    let remedy = format!(
        "shrink the picture to {across} x {down} pixels without smoothing, or add \
         --pixels-per-stitch {side}"
    );
    problems.push_file(what, &remedy);
    None
}

/// The picture with blocks of `side` pixels made one; refused when a block has two colors.
pub(super) fn shrunk(picture: &Numbered, side: usize, problems: &mut Problems) -> Option<Numbered> {
    let height = rows(picture);
    if side == 0 || !picture.width.is_multiple_of(side) || !height.is_multiple_of(side) {
        let reason = format!("{} x {height} pixels are not whole blocks of {side}", picture.width);
        problems.push_file(reason, "crop the picture to whole cells, or give another number");
        return None;
    }
    let width = picture.width / side;
    let mut pixels = Vec::with_capacity(width * (height / side));
    let mut mixed = Vec::new();
    let mut count = 0_usize;
    for y in 0..height / side {
        for x in 0..width {
            let first = y * side * picture.width + x * side;
            let number = picture.pixels.get(first).copied().unwrap_or(super::BARE);
            if !is_plain(picture, first, side, number) {
                count += 1;
                if mixed.len() < LISTED {
                    mixed.push(y * width + x);
                }
            }
            pixels.push(number);
        }
    }
    if count > 0 {
        let reason = format!("{count} cells have several colors: {}", listed(&mixed, width));
        problems.push_file(reason, "the blocks are not exact: save the chart without smoothing");
        return None;
    }
    Some(Numbered { width, pixels, colors: picture.colors.clone() })
}

fn is_plain(picture: &Numbered, first: usize, side: usize, number: u16) -> bool {
    (0..side).all(|row| {
        let from = first + row * picture.width;
        picture.pixels.get(from..from + side).is_some_and(|run| run.iter().all(|p| *p == number))
    })
}

fn rows(picture: &Numbered) -> usize {
    picture.pixels.len() / picture.width.max(1)
}

/// The side of the largest exact block that the whole picture is made of: the greatest common
/// divisor of its size and of every place where a color changes. 1 when there is none.
fn block_side(picture: &Numbered) -> usize {
    let mut side = gcd(picture.width, rows(picture));
    let mut above: &[u16] = &[];
    for (y, row) in picture.pixels.chunks(picture.width.max(1)).enumerate() {
        if side == 1 {
            break;
        }
        if !above.is_empty() && above != row {
            side = gcd(side, y);
        }
        if above != row {
            for (x, pair) in row.windows(2).enumerate() {
                if matches!(pair, [left, right] if left != right) {
                    side = gcd(side, x + 1);
                }
            }
        }
        above = row;
    }
    side
}

fn gcd(mut first: usize, mut second: usize) -> usize {
    while second > 0 {
        (first, second) = (second, first % second);
    }
    first
}
