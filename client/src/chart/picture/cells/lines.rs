//! Grid lines that were saved with a chart: one color that fills whole rows and columns, regularly.
//! It does not decide whether they are meant as stitches.

use std::collections::BTreeMap;

use super::named;
use crate::chart::picture::raster::{Raster, Rgba};

/// Kinds of lines that one picture may have: thin ones, thick ones, a frame.
const KINDS: usize = 3;

/// Bands of cells between lines, one way and both, below which regular lines may be chance.
const TELLING_BANDS: (usize, usize) = (2, 5);

/// Part of the bands that must be as wide as the narrowest: others are two or more of them, where a
/// line of another kind was left out.
const REGULAR_PART: (usize, usize) = (6, 10);

/// A picture without its lines.
pub(super) struct Lined {
    pub(super) rest: Raster,
    /// Pixels from one line to the next.
    pub(super) every: usize,
    color: Rgba,
}

impl Lined {
    /// The color of the lines as people write it.
    pub(super) fn color(&self) -> String {
        named(self.color)
    }
}

/// The picture without lines, when it has some.
pub(super) fn without(raster: &Raster) -> Option<Lined> {
    let mut found = once(raster)?;
    for _ in 1..KINDS {
        match once(&found.rest) {
            Some(more) => found = more,
            None => break,
        }
    }
    Some(found)
}

fn once(raster: &Raster) -> Option<Lined> {
    let rows = plain_lines(raster.rows().map(|row| row.iter().copied()));
    let columns = plain_lines((0..raster.width()).map(|x| raster.column(x)));
    rows.iter().find_map(|(color, rows)| {
        let columns = columns.get(color)?;
        let ((every, down), (other, across)) = (distance_of(rows)?, distance_of(columns)?);
        if every != other || down + across < TELLING_BANDS.1 {
            return None;
        }
        let rest = raster.without(columns, rows);
        Some(Lined { rest, every, color: *color })
    })
}

/// For each color, the lines that it fills; colors that fill all lines say nothing.
fn plain_lines<L: Iterator<Item = Rgba>>(
    lines: impl Iterator<Item = L>,
) -> BTreeMap<Rgba, Vec<bool>> {
    let colors: Vec<Option<Rgba>> = lines
        .map(|mut line| {
            let first = line.next()?;
            line.all(|pixel| pixel == first).then_some(first)
        })
        .collect();
    let mut found = BTreeMap::new();
    for (line, color) in colors.iter().enumerate() {
        if let Some(color) = color {
            let marks = found.entry(*color).or_insert_with(|| vec![false; colors.len()]);
            if let Some(mark) = marks.get_mut(line) {
                *mark = true;
            }
        }
    }
    found
}

/// Pixels from one line to the next and bands between lines, when the lines are regular and narrower
/// than what lies between.
fn distance_of(marks: &[bool]) -> Option<(usize, usize)> {
    let mut runs: Vec<(bool, usize)> = Vec::new();
    for mark in marks {
        match runs.last_mut() {
            Some((last, length)) if last == mark => *length += 1,
            _ => runs.push((*mark, 1)),
        }
    }
    let lengths = |line: bool| runs.iter().filter(move |run| run.0 == line).map(|run| run.1);
    let (band, widest_line) = (lengths(false).min()?, lengths(true).max()?);
    let bands = lengths(false).count();
    let even = lengths(false).filter(|length| *length == band).count();
    let regular = even * REGULAR_PART.1 >= bands * REGULAR_PART.0;
    (bands >= TELLING_BANDS.0 && regular && band >= 2 && widest_line * 2 <= band)
        .then(|| (band + lengths(true).min().unwrap_or(1), bands))
}

#[cfg(test)]
mod tests {
    use super::without;
    use crate::chart::picture::raster::{Raster, Rgba};

    const BLACK: Rgba = [0, 0, 0, 255];
    const GRAY: Rgba = [128, 128, 128, 255];

    fn cell(x: usize, y: usize) -> Rgba {
        let red = u8::try_from((x * 7 + y * 13 + x * y) % 5 * 50).unwrap();
        [red, 40, 90, 255]
    }

    #[test]
    fn thin_lines_between_all_cells_are_left_out() {
        let pixels = (0..45 * 36).map(|place| {
            let (x, y) = (place % 45, place / 45);
            if x % 5 == 0 || y % 5 == 0 { GRAY } else { cell(x / 5, y / 5) }
        });
        let found = without(&Raster::new(45, pixels.collect())).unwrap();
        assert_eq!((found.every, found.color().as_str()), (5, "#808080"));
        assert_eq!((found.rest.width(), found.rest.height()), (36, 28));
    }

    #[test]
    fn thick_lines_every_ten_over_thin_ones_are_left_out_too() {
        // Cells of 4 px, a gray line of 1 px between them, a black one of 2 px in its place every 10.
        let place = |at: usize| {
            let (tens, rest) = (at / 51, at % 51);
            if rest < 2 { None } else { Some((tens * 10 + (rest - 2) / 5, (rest - 2) % 5 == 4)) }
        };
        let (width, height) = (51 * 3, 51 * 2);
        let pixels = (0..width * height).map(|at| match (place(at % width), place(at / width)) {
            (Some((x, false)), Some((y, false))) => cell(x, y),
            (Some(_), Some(_)) => GRAY,
            _ => BLACK,
        });
        let found = without(&Raster::new(width, pixels.collect())).unwrap();
        assert_eq!((found.rest.width(), found.rest.height()), (120, 80));
    }

    #[test]
    fn a_drawing_without_lines_has_none() {
        let pixels = (0..63).map(|place| cell(place % 9, place / 9));
        assert!(without(&Raster::new(9, pixels.collect())).is_none());
    }
}
