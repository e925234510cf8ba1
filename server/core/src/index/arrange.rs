//! An order of colors in which every sixteen lie near each other.
//! It does not know rows or what the order is for.

use super::columns::BLOCK;

/// Puts things in such an order by where they lie in CIELAB.
///
/// Each part is split across its longest side into two, the first of which has the most whole blocks
/// that are a power of two: blocks, sixteen blocks and so on then begin where a part begins.
pub(crate) fn arrange<T>(things: &mut [T], at: impl Fn(&T) -> [f64; 3] + Copy) {
    let blocks = things.len().div_ceil(BLOCK);
    if blocks < 2 {
        return;
    }
    let axis = longest(things, at);
    let along = |thing: &T| at(thing).get(axis).copied().unwrap_or(0.0);
    let first = (blocks.next_power_of_two() / 2) * BLOCK;
    things.select_nth_unstable_by(first, |one, other| along(one).total_cmp(&along(other)));
    let (one, other) = things.split_at_mut(first);
    arrange(one, at);
    arrange(other, at);
}

/// The axis along which things spread farthest.
fn longest<T>(things: &[T], at: impl Fn(&T) -> [f64; 3]) -> usize {
    let mut ends = [(f64::INFINITY, f64::NEG_INFINITY); 3];
    for thing in things {
        for ((low, high), value) in ends.iter_mut().zip(at(thing)) {
            (*low, *high) = (low.min(value), high.max(value));
        }
    }
    let mut axes: Vec<(f64, usize)> =
        ends.into_iter().zip(0..).map(|((low, high), axis)| (high - low, axis)).collect();
    axes.sort_by(|one, other| other.0.total_cmp(&one.0));
    axes.first().map_or(0, |(_, axis)| *axis)
}
