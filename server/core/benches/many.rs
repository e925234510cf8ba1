//! What one rough difference costs among many, beside `palette`'s f64 formula in the same rounds, for
//! each set of vector instructions that this processor has and one plain build holds.
//! It does not know how a search uses them.
//!
//! `cargo bench -p dyekin-core --bench many` prints medians of thread CPU time, see `rounds.rs`. 4,096
//! colors from each of 64 standards, 8-bit sRGB, each component uniform over 0 to 255, see `input.rs`.

#![expect(clippy::print_stdout, reason = "figures are what a bench is for")]

mod input;
mod rounds;

use std::hint::black_box;

use dyekin_core::Lab;
use dyekin_core::difference::Factors;
use dyekin_core::nearest::{InstructionSet, ManyColors};
use palette::color_difference::Ciede2000;
use rounds::{ROUNDS, Turn, medians};

const COLORS: usize = 4_096;
const STANDARDS: usize = 64;
const PAIRS: u32 = 262_144;

fn main() {
    let labs = |seed, count| -> Vec<Lab> {
        input::colors(seed, count).into_iter().map(|color| color.to_lab()).collect()
    };
    let (colors, standards) = (labs(1, COLORS), labs(2, STANDARDS));
    let sets = InstructionSet::all();
    let many = ManyColors::new(&colors);
    let mut turns = vec![plain(&colors, &standards)];
    turns.extend(sets.iter().map(|set| {
        let mut differences = Vec::new();
        let (many, standards) = (&many, &standards);
        Turn::new(PAIRS, move || {
            for standard in standards {
                many.rough(*set, black_box(*standard), Factors::REFERENCE, &mut differences);
                black_box(&differences);
            }
        })
    }));
    let times = medians(turns);
    println!("medians of {ROUNDS} rounds, nanoseconds of thread CPU time a color, CIEDE2000");
    let names =
        std::iter::once("palette, f64".to_owned()).chain(sets.iter().map(ToString::to_string));
    let plain = times.first().copied().unwrap_or(f64::NAN);
    for (name, time) in names.zip(&times) {
        println!("{name:<16} {time:>8.2} {:>6.1}x", plain / time);
    }
}

fn plain<'a>(colors: &[Lab], standards: &[Lab]) -> Turn<'a> {
    let oracles = |labs: &[Lab]| -> Vec<input::Oracle> {
        labs.iter().map(|lab| input::oracle(*lab)).collect()
    };
    let (colors, standards) = (oracles(colors), oracles(standards));
    Turn::new(PAIRS, move || {
        for standard in &standards {
            for color in &colors {
                black_box(black_box(*standard).difference(*color));
            }
        }
    })
}
