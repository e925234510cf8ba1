//! Cells to numbered colors: bare cloth, stitches, and cells that are neither.
//! It does not know where the cells came from.

use std::collections::HashMap;

use dyekin_core::Srgb8;
use dyekin_core::error::Error;

use super::super::problems::{Problems, bad_file};
use super::super::{Chart, Draft, Entry, EntryId, Grid, MAX_ENTRIES, Size};
use super::raster::Raster;
use super::{Odd, SeeThrough};

/// From a color as the picture has it to sRGB.
pub(super) type Convert<'c> = dyn Fn([u8; 3]) -> Result<[u8; 3], Box<Error>> + 'c;

/// Numbers the colors in the order of their first cell. `Ok(None)` when `problems` says why not.
pub(super) fn chart(
    cells: &Raster,
    see_through: Option<SeeThrough>,
    convert: &Convert<'_>,
    problems: &mut Problems,
) -> Result<Option<Chart>, Box<Error>> {
    let size = Size::new(cells.width() as u64, cells.height() as u64)?;
    let mut grid = Grid::bare(size);
    let mut numbers = Numbers::default();
    let mut partial = Odd::default();
    for (place, [red, green, blue, alpha]) in cells.pixels().iter().copied().enumerate() {
        match (alpha, see_through) {
            (0, _) | (1..u8::MAX, Some(SeeThrough::Cloth)) => {}
            (u8::MAX, _) | (_, Some(SeeThrough::Stitch)) => {
                let entry = numbers.of([red, green, blue], place, convert)?;
                grid.put_at(place, Some(entry));
            }
            (_, None) => partial.add(place),
        }
    }
    if let Some(told) = partial.told(cells.width()) {
        let (what, verb) = if partial.count() == 1 { ("cell", "is") } else { ("cells", "are") };
        problems.push_file(
            format!(
                "{} {what} {verb} half see-through, cloth or stitch? {told}",
                partial.count()
            ),
            "say it with --see-through cloth or --see-through stitch, or make each cell fully opaque \
             (a stitch) or fully transparent (bare cloth)",
        );
        return Ok(None);
    }
    if numbers.colors.is_empty() {
        problems.push_file("every pixel is transparent: no stitch", "give the stitches a color");
        return Ok(None);
    }
    let chart = Chart::new(Draft::of_grid(grid, numbers.colors));
    let first = |mut found: Vec<Error>| found.pop().unwrap_or_else(|| bad_file("not a chart", ""));
    chart.map(Some).map_err(|found| first(found).into())
}

/// Colors and their entries.
#[derive(Default)]
struct Numbers {
    /// By the color of the picture.
    seen: HashMap<[u8; 3], EntryId>,
    /// By the color that it is in sRGB.
    known: HashMap<[u8; 3], EntryId>,
    colors: Vec<Entry>,
    last: Option<([u8; 3], EntryId)>,
}

impl Numbers {
    /// The entry of a color; the 4,097th color ends the reading.
    fn of(
        &mut self,
        color: [u8; 3],
        place: usize,
        convert: &Convert<'_>,
    ) -> Result<EntryId, Box<Error>> {
        if let Some((last, entry)) = self.last
            && last == color
        {
            return Ok(entry);
        }
        let entry = match self.seen.get(&color) {
            Some(entry) => *entry,
            None => self.add(color, place, convert)?,
        };
        self.last = Some((color, entry));
        Ok(entry)
    }

    fn add(
        &mut self,
        color: [u8; 3],
        place: usize,
        convert: &Convert<'_>,
    ) -> Result<EntryId, Box<Error>> {
        let shown = convert(color)?;
        let entry = match self.known.get(&shown) {
            Some(entry) => *entry,
            None => {
                let entry =
                    EntryId::new(self.colors.len()).ok_or_else(|| too_many_colors(place))?;
                let [red, green, blue] = shown;
                self.colors.push(Entry::of_color(Srgb8::new(red, green, blue)));
                self.known.insert(shown, entry);
                entry
            }
        };
        self.seen.insert(color, entry);
        Ok(entry)
    }
}

/// The color that is one too many.
fn too_many_colors(place: usize) -> Error {
    bad_file(
        format!("more than {MAX_ENTRIES} colors, found by cell {}", place + 1),
        "reduce the colors of the picture first; a chart of so many cannot be stitched",
    )
}
