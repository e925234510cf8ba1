//! Charts drawn from a seed, with what a reduction by stitches alone spoils: small lettering, faces
//! with eyes, shaded balls, a banded sky. It does not know how threads are chosen.

#[path = "../../src/seeded.rs"]
mod seeded;

use std::collections::BTreeMap;

use dyekin_core::math;
use dyekin_core::palette::{ChartColor, Neighbors, Side};
use dyekin_core::{Color, Conditions, Lab, Origin, PaletteSummary};

/// Numbers from a seed, the same everywhere (`SplitMix64`).
#[derive(Debug)]
pub(crate) struct Seeded(pub(crate) u64);

impl Seeded {
    /// A number of 0 to 1.
    pub(crate) fn part(&mut self) -> f64 {
        (seeded::bits(&mut self.0) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A number between two.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.part()
    }

    /// A whole number from `low` on, below `high`.
    pub(crate) fn whole(&mut self, low: usize, high: usize) -> usize {
        low + (self.part() * (high - low) as f64) as usize
    }
}

/// L*, a* and b*.
type Parts = [f64; 3];

/// A chart while it is drawn: one color a cell.
#[derive(Debug)]
pub(crate) struct Drawing {
    width: usize,
    height: usize,
    cells: Vec<Option<usize>>,
    colors: Vec<Parts>,
    random: Seeded,
}

/// Letters of five by seven, drawn for these charts.
const LETTERS: [[&str; 7]; 12] = [
    [" ### ", "#   #", "#   #", "#####", "#   #", "#   #", "#   #"],
    ["#### ", "#   #", "#   #", "#### ", "#   #", "#   #", "#### "],
    [" ####", "#    ", "#    ", "#    ", "#    ", "#    ", " ####"],
    ["#####", "#    ", "#    ", "###  ", "#    ", "#    ", "#####"],
    ["#   #", "#   #", "#   #", "#####", "#   #", "#   #", "#   #"],
    ["#####", "  #  ", "  #  ", "  #  ", "  #  ", "  #  ", "#####"],
    ["#    ", "#    ", "#    ", "#    ", "#    ", "#    ", "#####"],
    ["#   #", "##  #", "##  #", "# # #", "#  ##", "#  ##", "#   #"],
    [" ### ", "#   #", "#   #", "#   #", "#   #", "#   #", " ### "],
    ["#### ", "#   #", "#   #", "#### ", "# #  ", "#  # ", "#   #"],
    [" ####", "#    ", "#    ", " ### ", "    #", "    #", "#### "],
    ["#####", "  #  ", "  #  ", "  #  ", "  #  ", "  #  ", "  #  "],
];

impl Drawing {
    /// A chart of 90 to 130 cells a side, or a large one of 200 to 240: every third on bare cloth, the
    /// others full.
    pub(crate) fn new(seed: u64, is_large: bool) -> Self {
        let mut random = Seeded(seed);
        let (sides, times) = if is_large { ((200, 240), 3) } else { ((90, 130), 1) };
        let (width, height) = (random.whole(sides.0, sides.1), random.whole(sides.0, sides.1));
        let cells = vec![None; width * height];
        let mut drawing = Self { width, height, cells, colors: Vec::new(), random };
        if !seed.is_multiple_of(3) {
            drawing.sky();
        }
        for _ in 0..drawing.random.whole(4, 7) * times {
            drawing.ball();
        }
        for _ in 0..drawing.random.whole(2, 4) * times {
            drawing.face();
        }
        for _ in 0..drawing.random.whole(3, 6) * times {
            drawing.lettering();
        }
        drawing
    }

    fn pick(&mut self, lightness: (f64, f64), chroma: (f64, f64)) -> Parts {
        let hue = self.random.between(0.0, std::f64::consts::TAU);
        let chroma = self.random.between(chroma.0, chroma.1);
        let lightness = self.random.between(lightness.0, lightness.1);
        [lightness, chroma * math::cos(hue), chroma * math::sin(hue)]
    }

    fn color(&mut self, parts: Parts) -> usize {
        self.colors.push(parts);
        self.colors.len() - 1
    }

    fn set(&mut self, x: isize, y: isize, color: usize) {
        let inside = |at: isize, size: usize| usize::try_from(at).ok().filter(|at| *at < size);
        if let (Some(x), Some(y)) = (inside(x, self.width), inside(y, self.height)) {
            self.cells[y * self.width + x] = Some(color);
        }
    }

    /// A disk in bands: `shade` says which color lies at a place, seen from the middle, -1 to 1.
    fn disk(&mut self, middle: (isize, isize), radius: isize, shade: impl Fn(f64, f64) -> usize) {
        for dy in -radius..=radius {
            for dx in -radius..=radius {
                if dx * dx + dy * dy <= radius * radius {
                    let (u, v) = (dx as f64 / radius as f64, dy as f64 / radius as f64);
                    self.set(middle.0 + dx, middle.1 + dy, shade(u, v));
                }
            }
        }
    }

    fn middle(&mut self) -> (isize, isize) {
        let (width, height) = (self.width, self.height);
        (self.random.whole(0, width) as isize, self.random.whole(0, height) as isize)
    }

    /// Bands from one color to another.
    fn sky(&mut self) {
        let (top, bottom) =
            (self.pick((20.0, 60.0), (5.0, 40.0)), self.pick((55.0, 90.0), (5.0, 40.0)));
        let bands = self.random.whole(7, 13);
        let colors: Vec<usize> = (0..bands)
            .map(|band| self.color(mix(top, bottom, band as f64 / (bands - 1) as f64)))
            .collect();
        for y in 0..self.height {
            for x in 0..self.width {
                let wave = (math::sin(x as f64 / 9.0) * 2.0) as isize;
                let band = (y as isize + wave).max(0) as usize * bands / (self.height + 3);
                self.cells[y * self.width + x] = Some(colors[band.min(bands - 1)]);
            }
        }
    }

    /// A large shaded ball with a small glint.
    fn ball(&mut self) {
        let base = self.pick((35.0, 65.0), (15.0, 55.0));
        let steps = self.random.whole(10, 13);
        let dark = [base[0] - 25.0, base[1] * 0.7, base[2] * 0.7];
        let light = [base[0] + 28.0, base[1] * 0.6, base[2] * 0.6];
        let colors: Vec<usize> = (0..steps)
            .map(|step| self.color(mix(dark, light, step as f64 / (steps - 1) as f64)))
            .collect();
        let (middle, radius) = (self.middle(), self.random.whole(12, 27) as isize);
        self.disk(middle, radius, |u, v| {
            let lit = (1.0 - ((u + 0.4).powi(2) + (v + 0.4).powi(2)).sqrt() / 1.6).clamp(0.0, 1.0);
            colors[((lit * steps as f64) as usize).min(steps - 1)]
        });
        let glint = self.color([97.0, 0.0, 2.0]);
        self.disk((middle.0 - radius / 3, middle.1 - radius / 3), 1, |_, _| glint);
    }

    /// A face of three skin shades with cheeks, eyes, glints in them, and a mouth.
    fn face(&mut self) {
        let lightness = self.random.between(45.0, 85.0);
        let skin = |step: f64| [lightness + step, 14.0 - step * 0.2, 20.0 - step * 0.3];
        let shades = [-4.5, 0.0, 4.5].map(|step| self.color(skin(step)));
        let (middle, radius) = (self.middle(), self.random.whole(9, 15) as isize);
        self.disk(middle, radius, |u, v| {
            let lit = (u + 0.3).powi(2) + (v + 0.3).powi(2);
            shades[if lit > 1.1 {
                0
            } else if lit > 0.35 {
                1
            } else {
                2
            }]
        });
        let cheek = self.color([lightness - 6.0, 27.0, 17.0]);
        let eye_parts = self.pick((12.0, 35.0), (5.0, 30.0));
        let (eye, glint) = (self.color(eye_parts), self.color([95.0, 0.0, 0.0]));
        let mouth = self.color([lightness - 22.0, 30.0, 14.0]);
        let apart = radius * 2 / 5;
        for side in [-apart, apart] {
            self.disk((middle.0 + side, middle.1 + radius / 3), 2, |_, _| cheek);
            self.disk((middle.0 + side, middle.1 - radius / 5), 1, |_, _| eye);
            self.set(middle.0 + side - 1, middle.1 - radius / 5 - 1, glint);
        }
        for x in -2..=2 {
            self.set(middle.0 + x, middle.1 + radius * 3 / 5, mouth);
        }
    }

    /// A word of letters 5 to 9 cells high, near in color to the ribbon that it stands on.
    fn lettering(&mut self) {
        let (letters, high) = (self.random.whole(4, 9), self.random.whole(5, 10));
        let ribbon_parts = self.pick((25.0, 85.0), (3.0, 40.0));
        let step = self.random.between(9.0, 28.0) * if ribbon_parts[0] > 55.0 { -1.0 } else { 1.0 };
        let turned = self.random.between(-6.0, 6.0);
        let letter_parts =
            [ribbon_parts[0] + step, ribbon_parts[1] + turned, ribbon_parts[2] - turned];
        let (ribbon, letter) = (self.color(ribbon_parts), self.color(letter_parts));
        let across = (letters * 6 + 3) as isize;
        let left = self.random.whole(0, self.width.saturating_sub(across as usize).max(1)) as isize;
        let top = self.random.whole(0, self.height - high - 4) as isize;
        for y in 0..high as isize + 4 {
            for x in 0..across {
                self.set(left + x, top + y, ribbon);
            }
        }
        for place in 0..letters {
            let drawn = LETTERS[self.random.whole(0, LETTERS.len())];
            for y in 0..high {
                let line = drawn[(y * 6 + (high - 1) / 2) / (high - 1)];
                for x in line.bytes().enumerate().filter(|(_, dot)| *dot == b'#').map(|(x, _)| x) {
                    self.set(left + 2 + (place * 6 + x) as isize, top + 2 + y as isize, letter);
                }
            }
        }
    }

    /// What a planner may see of it.
    pub(crate) fn summary(&self) -> PaletteSummary {
        let mut stitches = vec![0_u64; self.colors.len()];
        self.cells.iter().flatten().for_each(|color| stitches[*color] += 1);
        let used: Vec<usize> = (0..stitches.len()).filter(|color| stitches[*color] > 0).collect();
        let place = |color: usize| used.binary_search(&color).unwrap();
        let mut edges: BTreeMap<(usize, Side), u64> = BTreeMap::new();
        let mut touch = |one: Option<usize>, other: Option<usize>| {
            let key = match (one.map(place), other.map(place)) {
                (Some(one), Some(other)) if one != other => {
                    (one.min(other), Side::Color(one.max(other)))
                }
                (Some(color), None) | (None, Some(color)) => (color, Side::Cloth),
                _ => return,
            };
            *edges.entry(key).or_default() += 1;
        };
        for (at, color) in self.cells.iter().enumerate() {
            if (at + 1) % self.width > 0 {
                touch(*color, self.cells[at + 1]);
            }
            if let Some(below) = self.cells.get(at + self.width) {
                touch(*color, *below);
            }
        }
        let colors = used.iter().map(|color| ChartColor {
            color: shown(self.colors[*color]),
            stitches: stitches[*color],
            threads: Vec::new(),
            area: None,
        });
        let pairs =
            edges.into_iter().map(|((first, second), edges)| Neighbors { first, second, edges });
        let cloth = shown([93.0, 0.0, 6.0]);
        PaletteSummary::new(colors.collect(), Some(pairs.collect()), Some(cloth)).unwrap()
    }
}

fn mix(from: Parts, to: Parts, part: f64) -> Parts {
    std::array::from_fn(|axis| from[axis] + (to[axis] - from[axis]) * part)
}

/// The color as a screen shows it: whole red, green and blue.
fn shown(parts: Parts) -> Color {
    let [l, a, b] = parts;
    let lab = Lab::new(l.clamp(0.0, 100.0), a, b).unwrap();
    Color::screen(Color::lab_under(lab, Conditions::SCREEN, Origin::Screen).srgb())
}
