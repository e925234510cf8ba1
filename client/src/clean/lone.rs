//! Lone stitches and tiny groups: what could join a neighbor, and what that would save.
//! It does not decide whether they should.

use super::raster::Raster;

/// Most stitches of a group that is called tiny. House choice: up to three take as many starts of
/// the thread as a single one.
const TINY: usize = 3;

/// Cells that a thread is carried behind the work. Common practice, no source: up to a few cells,
/// 1 to 2 cm.
const CARRY: usize = 4;

/// A lone stitch or a tiny group.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tiny {
    /// Its cells in reading order.
    pub cells: Vec<usize>,
    /// The color that it has.
    pub from: u16,
    /// The color of most of its neighbors.
    pub to: u16,
    /// True when the thread has to be started for it alone: nothing of its color is near enough to
    /// carry the thread to it.
    pub starts: bool,
}

/// All of them in reading order of their first cells.
///
/// Two cells are equal when their classes are: colors that get the same thread are one class.
#[must_use]
pub fn tiny(width: usize, cells: &[Option<u16>], class: &dyn Fn(u16) -> u16) -> Vec<Tiny> {
    let raster = Raster::of(width, cells.len());
    let classes: Vec<Option<u16>> = cells.iter().map(|cell| cell.map(class)).collect();
    let at = |place: usize| classes.get(place).copied().flatten();
    let mut seen = vec![false; cells.len()];
    let mut found = Vec::new();
    for place in 0..cells.len() {
        let Some(own) = at(place) else { continue };
        if seen.get(place).copied().unwrap_or(true) {
            continue;
        }
        let group = group(raster, place, &|other| at(other) == Some(own), &mut seen);
        if group.len() > TINY {
            continue;
        }
        let near: Vec<usize> = group
            .iter()
            .flat_map(|cell| raster.around(*cell, 1))
            .filter(|other| at(*other).is_some_and(|other| other != own))
            .collect();
        let from = cells.get(place).copied().flatten();
        let to = most(near.iter().filter_map(|other| cells.get(*other).copied().flatten()), class);
        let (Some(from), Some(to)) = (from, to) else { continue };
        let starts = !group.iter().any(|cell| {
            raster
                .around(*cell, CARRY)
                .any(|other| at(other) == Some(own) && !group.contains(&other))
        });
        found.push(Tiny { cells: group, from, to, starts });
    }
    found
}

/// The cells that hang together, sides and corners, in reading order.
fn group(
    raster: Raster,
    start: usize,
    is_equal: &dyn Fn(usize) -> bool,
    seen: &mut [bool],
) -> Vec<usize> {
    let mut open = vec![start];
    let mut group = Vec::new();
    if let Some(held) = seen.get_mut(start) {
        *held = true;
    }
    while let Some(place) = open.pop() {
        group.push(place);
        for other in raster.around(place, 1) {
            if let Some(held) = seen.get_mut(other)
                && !*held
                && is_equal(other)
            {
                *held = true;
                open.push(other);
            }
        }
    }
    group.sort_unstable();
    group
}

/// A color of the class that comes most often; of equals the one that comes first.
fn most(colors: impl Iterator<Item = u16>, class: &dyn Fn(u16) -> u16) -> Option<u16> {
    let mut counts: Vec<(u16, u16, usize)> = Vec::new();
    for color in colors {
        let class = class(color);
        match counts.iter_mut().find(|held| held.0 == class) {
            Some(held) => held.2 += 1,
            None => counts.push((class, color, 1)),
        }
    }
    let most = counts.iter().map(|held| held.2).max()?;
    counts.iter().find(|held| held.2 == most).map(|held| held.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Digits are colors, a dot is cloth.
    fn found(rows: &[&str]) -> Vec<Tiny> {
        let width = rows[0].len();
        let cells: Vec<Option<u16>> = rows
            .concat()
            .chars()
            .map(|cell| cell.to_digit(10).map(|digit| u16::try_from(digit).unwrap()))
            .collect();
        tiny(width, &cells, &|color| color)
    }

    #[test]
    fn a_stitch_without_an_equal_among_eight_is_lone() {
        let found = found(&["00000", "00100", "00000"]);
        assert_eq!(found, [Tiny { cells: vec![7], from: 1, to: 0, starts: true }]);
    }

    #[test]
    fn a_diagonal_hangs_together() {
        assert_eq!(found(&["10000", "01000", "00100", "00010"]), []);
    }

    #[test]
    fn a_thread_that_is_near_need_not_be_started() {
        let found = found(&["11000000100", "11000000000", "11000010000"]);
        let starts: Vec<bool> = found.iter().map(|tiny| tiny.starts).collect();
        assert_eq!(starts, [false, false]);
    }

    #[test]
    fn a_stitch_alone_on_the_cloth_has_nothing_to_join() {
        assert_eq!(found(&["...", ".1.", "..."]), []);
    }

    #[test]
    fn colors_of_one_thread_are_equal() {
        let cells: Vec<Option<u16>> = [0, 0, 0, 0, 1, 2, 0, 0, 0].map(Some).to_vec();
        assert_eq!(tiny(3, &cells, &|color| color).len(), 2);
        let groups = tiny(3, &cells, &|color| color.min(1));
        assert_eq!(groups.len(), 1);
        assert_eq!(groups[0].cells, [4, 5]);
    }
}
