//! Exact blocks: every change of color lies on a lattice of whole pixels, perhaps shifted.
//! It does not know pictures whose pixels were smoothed or compressed.

use std::collections::HashSet;

use super::gcd;
use super::lattice::Lattice;
use crate::chart::picture::raster::Raster;

/// Fewer blocks than these say nothing: small charts may be made of such blocks by chance.
const TELLING_BLOCKS: usize = 12;

/// Places of change along one side, and along both, below which a shift may be chance.
const TELLING_CHANGES: (usize, usize) = (3, 10);

/// Narrowest cells of an enlargement that is not whole, in pixels, so that no drawing is meant.
const NARROWEST: usize = 3;

/// What was found.
pub(super) struct Blocks {
    /// One pixel per block.
    pub(super) cells: Raster,
    /// Pixels across a block.
    pub(super) side: usize,
    /// Pixels at the edges that are a plain border.
    pub(super) border: usize,
}

impl Blocks {
    /// In the user's words.
    pub(super) fn told(&self) -> String {
        let border = match self.border {
            0 => String::new(),
            border => format!("; a plain border of {border} px in all is left out"),
        };
        format!("{}{border}", read_as(&self.cells, self.side))
    }
}

/// What was taken for what, and how to undo it.
pub(super) fn read_as(cells: &Raster, side: usize) -> String {
    let colors: HashSet<_> = cells.pixels().iter().filter(|pixel| pixel[3] > 0).collect();
    format!(
        "looks like {side} px per cell: read as {} x {} stitches, {} colors; add --cell-size 1 if \
         each pixel is a stitch",
        cells.width(),
        cells.height(),
        colors.len()
    )
}

/// The largest exact blocks of two pixels or more that the whole picture is made of.
pub(super) fn blocks(raster: &Raster) -> Option<Blocks> {
    let (across, down) = changes(raster);
    let whole = across
        .iter()
        .chain(&down)
        .fold(gcd(raster.width(), raster.height()), |side, place| gcd(side, *place));
    let shifted = shifted(&across, &down).filter(|side| *side > whole);
    let side = shifted.unwrap_or(whole);
    if side < 2 {
        return None;
    }
    let first = |places: &[usize]| places.first().map_or(0, |place| place % side);
    let lattice = Lattice::of_pitch(raster, side, (first(&across), first(&down)));
    let (lattice, border) = lattice.without_border(raster, side);
    let cells = lattice.corners(raster);
    if cells.pixels().len() < TELLING_BLOCKS || cells.width() == 1 || cells.height() == 1 {
        return None;
    }
    // A plain area is made of blocks of any size.
    (!across.is_empty() || !down.is_empty()).then_some(Blocks { cells, side, border })
}

/// The pitch of a lattice that need not begin at the edge, when enough changes lie on it.
fn shifted(across: &[usize], down: &[usize]) -> Option<usize> {
    let (least, both) = TELLING_CHANGES;
    if across.len() < least || down.len() < least || across.len() + down.len() < both {
        return None;
    }
    let apart = |places: &[usize]| {
        places.windows(2).fold(0, |side, pair| match pair {
            [first, second] => gcd(side, second - first),
            _ => side,
        })
    };
    Some(gcd(apart(across), apart(down)))
}

/// The columns, and the rows, in which some pixel differs from the one before.
fn changes(raster: &Raster) -> (Vec<usize>, Vec<usize>) {
    let mut columns = vec![false; raster.width()];
    let mut rows = Vec::new();
    let mut above: &[_] = &[];
    for (y, row) in raster.rows().enumerate() {
        if above == row {
            continue;
        }
        if !above.is_empty() {
            rows.push(y);
        }
        for (mark, pair) in columns.iter_mut().skip(1).zip(row.windows(2)) {
            *mark |= matches!(pair, [left, right] if left != right);
        }
        above = row;
    }
    let marked = columns.iter().enumerate().filter(|(_, mark)| **mark);
    (marked.map(|(x, _)| x).collect(), rows)
}

/// Why a picture whose cells have hard edges but no whole size is refused, and what to do.
pub(super) fn uneven(raster: &Raster) -> Option<(String, &'static str)> {
    let (across, down) = changes(raster);
    let (least, both) = TELLING_CHANGES;
    if across.len() < least || down.len() < least || across.len() + down.len() < both {
        return None;
    }
    let narrowest = |places: &[usize]| {
        places.windows(2).filter_map(|pair| pair.last()?.checked_sub(*pair.first()?)).min()
    };
    let narrowest = narrowest(&across)?.min(narrowest(&down)?);
    (narrowest >= NARROWEST).then(|| {
        let reason = format!(
            "cells of {narrowest} px and more with no whole size: the picture was enlarged unevenly"
        );
        let remedy = "say how many stitches it has with --cells WxH, or save it with one pixel per \
                      stitch";
        (reason, remedy)
    })
}

#[cfg(test)]
mod tests {
    use super::{blocks, uneven};
    use crate::chart::picture::raster::{Raster, Rgba};

    /// A drawing of 9 x 7 cells in which every line changes.
    fn cell(x: usize, y: usize) -> Rgba {
        let red = u8::try_from((x * 7 + y * 13 + x * y) % 5 * 50).unwrap();
        [red, 40, 90, 255]
    }

    fn drawn(width: usize, height: usize, cell_of: impl Fn(usize, usize) -> Rgba) -> Raster {
        let pixels =
            (0..width * height).map(|place| cell_of(place % width, place / width)).collect();
        Raster::new(width, pixels)
    }

    #[test]
    fn a_drawing_of_one_pixel_per_stitch_has_no_blocks() {
        assert!(blocks(&drawn(9, 7, cell)).is_none());
        assert!(uneven(&drawn(9, 7, cell)).is_none());
    }

    #[test]
    fn blocks_of_every_size_are_found() {
        for side in 2..20 {
            let found =
                blocks(&drawn(9 * side, 7 * side, |x, y| cell(x / side, y / side))).unwrap();
            assert_eq!((found.side, found.border), (side, 0));
            assert_eq!(found.cells, drawn(9, 7, cell));
        }
    }

    #[test]
    fn a_plain_border_is_left_out_and_told() {
        let framed = drawn(9 * 6 + 5, 7 * 6 + 3, |x, y| {
            let inside = (4..4 + 54).contains(&x) && (2..2 + 42).contains(&y);
            if inside { cell((x - 4) / 6, (y - 2) / 6) } else { [255; 4] }
        });
        let found = blocks(&framed).unwrap();
        assert_eq!((found.side, found.border), (6, 4 + 1 + 2 + 1));
        assert_eq!(found.cells, drawn(9, 7, cell));
        assert!(found.told().contains("a plain border of 8 px in all is left out"));
    }

    #[test]
    fn cells_cut_by_the_edge_stay_stitches() {
        let cut = drawn(50, 38, |x, y| cell((x + 2) / 6, (y + 3) / 6));
        let found = blocks(&cut).unwrap();
        assert_eq!((found.side, found.border), (6, 0));
        assert_eq!(found.cells, drawn(9, 7, cell));
    }

    #[test]
    fn an_uneven_enlargement_is_told_with_its_narrowest_cell() {
        let uneven_one = drawn(85, 66, |x, y| cell(x * 2 / 19, y * 2 / 19));
        assert!(blocks(&uneven_one).is_none());
        assert!(uneven(&uneven_one).unwrap().0.starts_with("cells of 9 px"));
    }
}
