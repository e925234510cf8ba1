//! Seeded questions about 20 missing threads: the charts, the tables and what is asked for.
//! It does not know how they are answered.

use dyekin_core::color::{Color, Conditions, Lab, Origin};
use dyekin_core::difference::DeltaE;
use dyekin_core::palette::{ChartColor, Neighbors, PaletteSummary, Side};
use dyekin_core::planner::SubstituteOptions;
use dyekin_core::table::{Code, Table, TableId, Thread, ThreadRef};
use dyekin_core::{Formula, math};

use crate::seeded::bits;

/// Threads of the table, threads of the chart, and those of them that are missing.
const THREADS: usize = 500;
const USED: usize = 60;
const MISSING: usize = 20;

/// Threads that are gone beside the missing ones where a group of shades was given up.
const GONE: usize = 30;

/// How the threads lie, and which of them are missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Anywhere in sRGB, missing ones too.
    Anywhere,
    /// The missing ones lie around one color, and 30 more of the table around it are gone.
    Group,
    /// Ramps of ten shades; two whole ramps of the chart are missing.
    Ramps,
    /// Ramps of 25 close shades; missing ones are every other shade of some of them.
    DenseRamps,
    /// All in a small part of the solid, as in a table of skin tones; missing ones anywhere.
    Narrow,
}

impl Kind {
    pub(crate) const ALL: [Self; 5] =
        [Self::Anywhere, Self::Group, Self::Ramps, Self::DenseRamps, Self::Narrow];
}

/// A chart whose first threads are missing, and the table that it is worked in.
pub(crate) struct Loss {
    pub(crate) table: Table,
    pub(crate) palette: PaletteSummary,
}

/// Random numbers from a seed.
struct Dice(u64);

impl Dice {
    /// From 0 to 1.
    fn next(&mut self) -> f64 {
        (bits(&mut self.0) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    /// A color of sRGB, each component uniform.
    fn anywhere(&mut self) -> [f64; 3] {
        let mut byte = || bits(&mut self.0).to_le_bytes()[7];
        let color = Color::screen(dyekin_core::Srgb8::new(byte(), byte(), byte())).lab();
        [color.l(), color.a(), color.b()]
    }

    fn shuffle(&mut self, colors: &mut [[f64; 3]]) {
        for place in (1..colors.len()).rev() {
            let other = (self.next() * (place + 1) as f64) as usize;
            colors.swap(place, other.min(place));
        }
    }

    /// Shades of one color from dark to light, chroma falling toward both ends, each a little off.
    fn ramp(&mut self, shades: usize) -> Vec<[f64; 3]> {
        let (low, high) = (self.between(12.0, 35.0), self.between(65.0, 93.0));
        let (hue, chroma) = (self.between(0.0, std::f64::consts::TAU), self.between(5.0, 60.0));
        let shade = |place: usize| {
            let at = place as f64 / (shades - 1) as f64;
            let vivid = chroma * (1.0 - (2.0 * at - 1.0).powi(2) * 0.6);
            let mut off = || self.between(-1.0, 1.0);
            [
                low + (high - low) * at + off(),
                vivid * math::cos(hue) + off(),
                vivid * math::sin(hue) + off(),
            ]
        };
        (0..shades).map(shade).collect()
    }

    /// Threads of which the first are missing and the first `USED` are in use.
    fn threads(&mut self, kind: Kind) -> Vec<[f64; 3]> {
        match kind {
            Kind::Anywhere => (0..THREADS).map(|_| self.anywhere()).collect(),
            Kind::Narrow => {
                let narrow = |dice: &mut Self| {
                    [dice.between(40.0, 90.0), dice.between(2.0, 28.0), dice.between(5.0, 35.0)]
                };
                (0..THREADS).map(|_| narrow(self)).collect()
            }
            Kind::Group => {
                let mut all: Vec<_> = (0..THREADS + GONE).map(|_| self.anywhere()).collect();
                let center = self.anywhere();
                let apart = |color: &[f64; 3]| {
                    color.iter().zip(center).map(|(one, other)| (one - other).powi(2)).sum::<f64>()
                };
                all.sort_by(|one, other| apart(one).total_cmp(&apart(other)));
                let mut near: Vec<_> = all.drain(..MISSING + GONE).collect();
                self.shuffle(&mut near);
                near.truncate(MISSING);
                self.shuffle(&mut all);
                near.extend(all);
                near
            }
            Kind::Ramps => {
                let mut all = self.ramp(MISSING / 2);
                (1..THREADS / (MISSING / 2)).for_each(|_| all.extend(self.ramp(MISSING / 2)));
                all
            }
            Kind::DenseRamps => {
                let ramps: Vec<_> = (0..THREADS / 25).map(|_| self.ramp(25)).collect();
                let (mut missing, mut rest) = (Vec::new(), Vec::new());
                for (place, color) in ramps.concat().into_iter().enumerate() {
                    let of_chart = place < 5 * 25 && place % 5 == 2 * (place / 25 % 2);
                    if of_chart && missing.len() < MISSING { &mut missing } else { &mut rest }
                        .push(color);
                }
                self.shuffle(&mut rest);
                missing.extend(rest);
                missing
            }
        }
    }
}

/// The chart and table of a seed.
pub(crate) fn loss(kind: Kind, seed: u64) -> Loss {
    let mut dice = Dice(seed.wrapping_mul(0x6c8e_944d) + kind as u64);
    let threads: Vec<Thread> = dice.threads(kind).into_iter().enumerate().map(thread).collect();
    let colors = threads.iter().take(USED).map(|thread| ChartColor {
        color: thread.color,
        stitches: 1 + (dice.next().powi(3) * 900.0) as u64,
        threads: vec![ThreadRef { table: table_id(), code: thread.code.clone() }],
        area: None,
    });
    let colors: Vec<ChartColor> = colors.collect();
    let mut neighbors = Vec::new();
    for first in 0..USED {
        for second in first + 1..USED {
            if dice.next() < 0.1 {
                neighbors.push(Neighbors { first, second: Side::Color(second), edges: 5 });
            }
        }
    }
    Loss {
        table: Table::new(table_id(), threads).expect("codes that differ"),
        palette: PaletteSummary::new(colors, Some(neighbors), None).expect("a palette"),
    }
}

fn table_id() -> TableId {
    TableId::parse("bench").expect("an id")
}

fn thread((row, [l, a, b]): (usize, [f64; 3])) -> Thread {
    let lab = Lab::new(l.clamp(0.0, 100.0), a, b).expect("a color");
    let color = Color::lab_under(lab, Conditions::SCREEN, Origin::Screen);
    Thread::plain(Code::parse(&format!("T-{row:03}")).expect("a code"), "", color)
}

/// The formulas in turn.
pub(crate) const FORMULAS: [Formula; 7] = [
    Formula::DEFAULT,
    Formula::Cie76,
    Formula::CMC_PERCEPTIBILITY,
    Formula::Din99o,
    Formula::CIEDE2000_TEXTILE,
    Formula::Hyab,
    Formula::CMC_ACCEPTABILITY,
];

/// All that can be asked of stand-ins: apart, steps of lightness kept, outlines kept.
pub(crate) const EVERYTHING: (f64, bool, bool) = (2.5, true, true);

/// The terms of a seed, one after another.
pub(crate) fn terms(seed: usize) -> (f64, bool, bool) {
    ([0.0, 2.5, 4.0][seed % 3], (seed / 3).is_multiple_of(2), (seed / 6).is_multiple_of(2))
}

/// The question under terms.
pub(crate) fn options((apart, lightness, outlines): (f64, bool, bool)) -> SubstituteOptions {
    let code = |row: usize| Code::parse(&format!("T-{row:03}")).expect("a code");
    let name = |row: usize| ThreadRef { table: table_id(), code: code(row) };
    SubstituteOptions {
        missing: (0..MISSING).map(name).collect(),
        allow_used: false,
        limit: None,
        min_apart: DeltaE::new(apart).expect("a difference"),
        keep_lightness: lightness,
        keep_outlines: outlines,
        lights: None,
        stock: None,
        staying: Vec::new(),
    }
}
