//! Seeded colors for the benches: 8-bit sRGB, each component uniform over 0 to 255.
//! It does not know what is measured.

#[path = "../src/seeded.rs"]
mod seeded;

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

fn bytes(state: &mut u64) -> [u8; 3] {
    let [red, green, blue, ..] = seeded::bits(state).to_le_bytes();
    [red, green, blue]
}
