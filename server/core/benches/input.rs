//! Seeded colors for the benches: 8-bit sRGB, each component uniform over 0 to 255.
//! It does not know what is measured.

use dyekin_core::{Lab, Srgb8};
use palette::white_point::D65;

/// The color type of the plain scan that every figure stands beside.
pub(crate) type Oracle = palette::Lab<D65, f64>;

/// As many colors as asked for, the same ones for one seed.
pub(crate) fn colors(seed: u64, count: usize) -> Vec<Srgb8> {
    let mut state = seed;
    (0..count)
        .map(|_| {
            let [red, green, blue] = bytes(&mut state);
            Srgb8::new(red, green, blue)
        })
        .collect()
}

/// The same color for `palette`.
pub(crate) fn oracle(lab: Lab) -> Oracle {
    Oracle::new(lab.l(), lab.a(), lab.b())
}

/// Splitmix64.
fn bytes(state: &mut u64) -> [u8; 3] {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut mixed = *state;
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    let [red, green, blue, ..] = (mixed ^ (mixed >> 31)).to_le_bytes();
    [red, green, blue]
}
