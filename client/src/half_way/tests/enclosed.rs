//! What closed ways say about joins, against every set of cells of small areas.
//! It does not know thread.

use super::*;
use crate::half_way::enclose::{Aim, Enclosed};
use crate::half_way::lattice::Lattice;
use crate::half_way::plane::Plane;
use crate::half_way::region::Board;

/// A small chart in which what is stitched lies anywhere, islands and rings included.
fn scattered(dice: &mut Dice) -> Drawn {
    let (width, height) = (4 + dice.place(5), 4 + dice.place(4));
    let (full, done) = (5 + dice.place(6), 1 + dice.place(5));
    let letter = |dice: &mut Dice| match (dice.place(10) < full, dice.place(10) < done) {
        (false, _) => 'o',
        (true, true) => '@',
        (true, false) => '#',
    };
    let rows = (0..height).map(|_| (0..width).map(|_| letter(dice)).collect());
    Drawn { rows: rows.collect() }
}

#[test]
fn no_set_of_cells_has_a_shorter_join_than_ways_allow() {
    let mut dice = Dice(21);
    let (mut looked_at, mut close) = (0, 0);
    while looked_at < 120 {
        let drawn = scattered(&mut dice);
        let (chart, done) = (drawn.chart(), drawn.done());
        let is_of = |entry: EntryId| Some(entry) == EntryId::new(0);
        let held: Vec<bool> = done.iter().map(|_| dice.place(12) == 0).collect();
        let board = Board::new(&chart, &is_of, (&done, &held));
        let regions = board.open_regions();
        for region in regions.iter().filter(|region| (4..=13).contains(&region.cells.len())) {
            let Some(mut plane) = Plane::of(&board, region) else { continue };
            let lattice = Lattice::of(&board, &region.cells);
            let least = lattice.least();
            let open = region.cells.len();
            let aim =
                Aim { quarters: 4 * (1 + dice.place(open)) as u64, whole: lattice.join(&least) };
            let enclosed = Enclosed::of(&mut plane, aim, &mut 10_000_000);
            let mut shortest = u64::MAX;
            for bits in 0..1_u32 << open {
                let set: Vec<bool> = (0..open).map(|cell| bits >> cell & 1 == 1).collect();
                if set.iter().zip(&least).any(|(kept, held)| *held && !kept) {
                    continue;
                }
                let given = 4 * open as u64 - lattice.quarters(&set);
                let join = lattice.join(&set);
                assert!(enclosed.floor(given) <= join, "{:?}: {given} by {join}", drawn.rows);
                if given >= aim.quarters {
                    shortest = shortest.min(join);
                }
            }
            looked_at += 1;
            close += u32::from(shortest == u64::MAX || enclosed.floor(aim.quarters) == shortest);
        }
    }
    println!("{close} of {looked_at} bounds are joins");
    assert!(close > 80, "{close} of {looked_at}");
}
