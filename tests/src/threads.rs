//! Invented tables of threads of any size, the same in every run.
//! It does not know what a test asks of them.
#![expect(clippy::expect_used, reason = "a test without its data must not pass")]

use dyekin_core::table::{Code, Table, TableId, Thread};
use dyekin_core::{Color, Conditions, Lab, Origin, Srgb8};

/// A sequence of numbers that looks random (Numerical Recipes' constants for 32 bits).
#[derive(Clone, Copy, Debug)]
pub struct Sequence(u32);

impl Sequence {
    /// Begins at a seed.
    #[must_use]
    pub fn new(seed: u32) -> Self {
        Self(seed)
    }

    /// The next number, 0 to 255.
    pub fn byte(&mut self) -> u8 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        self.0.to_be_bytes()[0]
    }

    /// The next color.
    pub fn color(&mut self) -> Srgb8 {
        Srgb8::new(self.byte(), self.byte(), self.byte())
    }
}

/// A table of that many screen-colored threads, `t-0` and on, each of that name.
///
/// # Panics
///
/// When the id is not an id or no thread is asked for.
#[must_use]
pub fn table(id: &str, count: usize, name: &str) -> Table {
    let mut colors = Sequence::new(u32::try_from(count).unwrap_or(u32::MAX));
    let threads = (0..count)
        .map(|row| {
            let code = Code::parse(&format!("t-{row}")).expect("a code");
            Thread::plain(code, name, Color::screen(colors.color()))
        })
        .collect();
    Table::new(TableId::parse(id).expect("an id"), threads).expect("a table")
}

/// A table of two measured threads under these conditions.
///
/// # Panics
///
/// When the id is not an id.
#[must_use]
pub fn measured(id: &str, conditions: Conditions) -> Table {
    let thread = |code: &str, l: f64| {
        let lab = Lab::new(l, 10.0, 10.0).expect("a color");
        let color = Color::lab_under(lab, conditions, Origin::Meter);
        Thread::plain(Code::parse(code).expect("a code"), "", color)
    };
    let threads = vec![thread("m-1", 30.0), thread("m-2", 60.0)];
    Table::new(TableId::parse(id).expect("an id"), threads).expect("a table")
}
