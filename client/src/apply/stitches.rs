//! Single stitches moved to other entries of the key; entries that nothing uses any more leave it.
//! It does not know why a stitch moves.

use dyekin_core::error::Error;

use crate::chart::{Chart, Draft, EntryId, Knot, Line, used};

/// The chart with each stitch, by its cell in reading order, worked in another entry.
///
/// # Errors
///
/// All problems of the chart that this would make.
pub fn restitched(chart: &Chart, moves: &[(usize, EntryId)]) -> Result<Chart, Vec<Error>> {
    let before = used(chart);
    let mut draft = chart.clone().into_draft();
    for (place, entry) in moves {
        draft.grid.put_at(*place, Some(*entry));
    }
    let moved = Chart::new(draft)?;
    let mut names: Vec<Option<EntryId>> = Vec::new();
    let mut next = 0;
    for (was, is) in before.iter().zip(used(&moved)) {
        let stays = is || !was;
        names.push(if stays { EntryId::new(next) } else { None });
        next += usize::from(stays);
    }
    let name = |entry: EntryId| names.get(entry.index()).copied().flatten().unwrap_or(entry);
    let draft = moved.into_draft();
    let mut stay = names.iter().map(Option::is_some);
    let mut key = draft.key;
    key.retain(|_| stay.next().unwrap_or(true));
    let lines: Result<Vec<Line>, Error> = draft
        .lines
        .iter()
        .map(|line| Line::new(line.from(), line.to(), name(line.entry)))
        .collect();
    let knot = |knot: &Knot| Knot { at: knot.at, entry: name(knot.entry) };
    Chart::new(Draft {
        key,
        grid: draft.grid.renamed(&|entry, _| name(entry)),
        lines: lines.map_err(|problem| vec![problem])?,
        knots: draft.knots.iter().map(knot).collect(),
        about: draft.about,
        cloth: draft.cloth,
        areas: draft.areas,
    })
}

#[cfg(test)]
mod tests {
    use dyekin_core::Srgb8;

    use super::*;
    use crate::chart::{Cell, Entry, Grid, Size};

    fn entry(number: usize) -> EntryId {
        EntryId::new(number).unwrap()
    }

    /// One row of stitches in three colors, and a fourth that is not used.
    fn chart(row: &[usize]) -> Chart {
        let mut grid = Grid::bare(Size::new(row.len() as u64, 1).unwrap());
        for (place, number) in row.iter().enumerate() {
            grid.put_at(place, Some(entry(*number)));
        }
        let key = (0..4).map(|red| Entry::of_color(Srgb8::new(red * 10, 0, 0))).collect();
        Chart::new(Draft::of_grid(grid, key)).unwrap()
    }

    #[test]
    fn an_entry_leaves_the_key_when_its_last_stitch_moves() {
        let after = restitched(&chart(&[0, 1, 2, 2]), &[(1, entry(0))]).unwrap();
        let colors: Vec<u8> = after.key().iter().map(|entry| entry.color.red).collect();
        assert_eq!(colors, [0, 20, 30], "the entry that nothing used before stays");
        let cells: Vec<Cell<'_>> = after.grid().cells().collect();
        let expected = [0, 0, 1, 1].map(|number| Cell::Full(entry(number)));
        assert_eq!(cells, expected);
    }

    #[test]
    fn an_entry_that_is_still_used_stays() {
        let after = restitched(&chart(&[0, 1, 1, 2]), &[(1, entry(0))]).unwrap();
        assert_eq!(after.key().len(), 4);
    }
}
