//! How sharpening spreads a color over its neighbors, learned from the chart itself, and what that
//! says about the colors and about where each cell belongs.
//! It does not know how the first guess was made.

use super::Cells;
use super::mixer::{Mixer, Point, length, minus, plus};
use super::raster::Raster;
use super::settled::{Settled, color_at};

/// Kinds of neighbors by their rows and columns away: itself, beside, corner, two away and so on.
const KINDS: usize = 6;

/// Rounds of learning; each forgives the cells that fit badly a little more.
const ROUNDS: usize = 6;

/// What was learned.
#[derive(Debug)]
pub(super) struct Model {
    /// Weight of each kind of neighbor.
    weights: [f64; KINDS],
    /// Settled colors, and where each lies.
    colors: Vec<(u16, Point)>,
}

/// The kind of a neighbor.
fn kind(columns: usize, rows: usize) -> usize {
    match (columns.max(rows), columns.min(rows)) {
        (0, _) => 0,
        (1, 0) => 1,
        (1, _) => 2,
        (_, 0) => 3,
        (_, 1) => 4,
        _ => 5,
    }
}

/// A cell with its surroundings.
struct Window {
    seen: Point,
    /// Number of the settled color at each neighbor, and the neighbor's kind.
    around: Vec<(usize, usize)>,
}

impl Model {
    /// Learns from cells whose surroundings all have a label; `None` when there are too few.
    pub(super) fn learn(
        cells: &Cells,
        raster: Raster,
        mixer: &Mixer,
        settled: &Settled,
        labels: &[Option<u16>],
    ) -> Option<Self> {
        let colors: Vec<(u16, Point)> =
            settled.colors.iter().map(|color| (*color, mixer.point(*color))).collect();
        let mut model = Self { weights: [1.0, 0.0, 0.0, 0.0, 0.0, 0.0], colors };
        let windows = model.windows(cells, raster, mixer, labels);
        if windows.len() < 50 {
            return None;
        }
        let mut trust = vec![1.0; windows.len()];
        for _ in 0..ROUNDS {
            model.learn_weights(&windows, &trust)?;
            model.learn_colors(&windows, &trust)?;
            for (held, window) in trust.iter_mut().zip(&windows) {
                *held = 1.0 / model.off(window).max(1.0);
            }
        }
        Some(model)
    }

    fn windows(
        &self,
        cells: &Cells,
        raster: Raster,
        mixer: &Mixer,
        labels: &[Option<u16>],
    ) -> Vec<Window> {
        let numbers: Vec<Option<usize>> = labels
            .iter()
            .map(|label| label.and_then(|label| self.colors.iter().position(|c| c.0 == label)))
            .collect();
        let mut windows = Vec::new();
        for place in 0..cells.cells.len() {
            let Some(color) = color_at(cells, place) else { continue };
            if let Some(around) = surroundings(raster, &numbers, place) {
                windows.push(Window { seen: mixer.point(color), around });
            }
        }
        windows
    }

    /// What a cell looks like by the model.
    fn expected(&self, around: &[(usize, usize)]) -> Point {
        let mut sum = [0.0; 3];
        for (number, kind) in around {
            let weight = self.weights.get(*kind).copied().unwrap_or_default();
            let point = self.colors.get(*number).map(|held| held.1).unwrap_or_default();
            for (total, part) in sum.iter_mut().zip(point) {
                *total += weight * part;
            }
        }
        sum
    }

    fn off(&self, window: &Window) -> f64 {
        away(self.expected(&window.around).map(|part| part.clamp(0.0, 255.0)), window.seen)
    }

    fn learn_weights(&mut self, windows: &[Window], trust: &[f64]) -> Option<()> {
        let mut system = System::of(KINDS);
        for (window, trust) in windows.iter().zip(trust) {
            let mut parts = [[0.0; 3]; KINDS];
            for (number, kind) in &window.around {
                let point = self.colors.get(*number).map(|held| held.1).unwrap_or_default();
                if let Some(sum) = parts.get_mut(*kind) {
                    for (total, part) in sum.iter_mut().zip(point) {
                        *total += part;
                    }
                }
            }
            for channel in 0..3 {
                let row: Vec<(usize, f64)> = parts
                    .iter()
                    .map(|sum| sum.get(channel).copied().unwrap_or_default())
                    .enumerate()
                    .collect();
                let seen = window.seen.get(channel).copied().unwrap_or_default();
                system.add(&row, [seen, 0.0, 0.0], *trust);
            }
        }
        let found = system.solve()?;
        let counts = [1.0, 4.0, 4.0, 4.0, 8.0, 4.0];
        let all: f64 = found.iter().zip(counts).map(|(row, count)| row[0] * count).sum();
        if !(0.5..2.0).contains(&all) {
            return None;
        }
        for (weight, row) in self.weights.iter_mut().zip(&found) {
            *weight = row[0] / all;
        }
        Some(())
    }

    fn learn_colors(&mut self, windows: &[Window], trust: &[f64]) -> Option<()> {
        let mut system = System::of(self.colors.len());
        let mut row: Vec<(usize, f64)> = Vec::new();
        for (window, trust) in windows.iter().zip(trust) {
            row.clear();
            for (number, kind) in &window.around {
                let weight = self.weights.get(*kind).copied().unwrap_or_default();
                match row.iter_mut().find(|held| held.0 == *number) {
                    Some(held) => held.1 += weight,
                    None => row.push((*number, weight)),
                }
            }
            let mut seen = window.seen;
            for (part, expected) in seen.iter_mut().zip(self.expected(&window.around)) {
                // What ringing drove beyond black or white was cut off.
                if (*part <= 0.0 && expected < 0.0) || (*part >= 255.0 && expected > 255.0) {
                    *part = expected;
                }
            }
            system.add(&row, seen, *trust);
        }
        // A color that hardly any cell speaks of stays where it is.
        for (number, (_, point)) in self.colors.iter().enumerate() {
            system.add(&[(number, 1.0)], *point, 0.05);
        }
        let found = system.solve()?;
        for ((_, point), row) in self.colors.iter_mut().zip(found) {
            *point = row.map(|part| part.clamp(0.0, 255.0));
        }
        Some(())
    }

    /// Where the settled color of this number lies by the model.
    pub(super) fn point(&self, color: u16) -> Option<Point> {
        self.colors.iter().find(|held| held.0 == color).map(|held| held.1)
    }
}

/// The colors around a cell; beyond the edge the nearest cell counts again. `None` when one beside it
/// has no color.
fn surroundings(
    raster: Raster,
    numbers: &[Option<usize>],
    place: usize,
) -> Option<Vec<(usize, usize)>> {
    let own = numbers.get(place).copied().flatten()?;
    let mut around = Vec::with_capacity(25);
    for down in -2..=2_isize {
        for right in -2..=2_isize {
            let kind = kind(right.unsigned_abs(), down.unsigned_abs());
            let near = raster.near(place, right, down);
            match numbers.get(near).copied().flatten() {
                Some(number) => around.push((number, kind)),
                None if kind <= 2 => return None,
                None => around.push((own, kind)),
            }
        }
    }
    Some(around)
}

fn away(a: Point, b: Point) -> f64 {
    length(minus(a, b))
}

/// Normal equations of a least-squares problem with three right sides.
struct System {
    size: usize,
    left: Vec<f64>,
    right: Vec<[f64; 3]>,
}

impl System {
    fn of(size: usize) -> Self {
        Self { size, left: vec![0.0; size * size], right: vec![[0.0; 3]; size] }
    }

    fn add(&mut self, row: &[(usize, f64)], seen: [f64; 3], trust: f64) {
        for (first, a) in row {
            for (second, b) in row {
                if let Some(held) = self.left.get_mut(first * self.size + second) {
                    *held += trust * a * b;
                }
            }
            if let Some(held) = self.right.get_mut(*first) {
                for (total, part) in held.iter_mut().zip(seen) {
                    *total += trust * a * part;
                }
            }
        }
    }

    /// Gaussian elimination; the matrix is symmetric and, with the ridge, positive.
    fn solve(mut self) -> Option<Vec<[f64; 3]>> {
        let size = self.size;
        let at = |left: &[f64], row: usize, column: usize| {
            left.get(row * size + column).copied().unwrap_or_default()
        };
        for pivot in 0..size {
            if let Some(held) = self.left.get_mut(pivot * size + pivot) {
                *held += 1e-9;
            }
            let divisor = at(&self.left, pivot, pivot);
            if !divisor.is_finite() || divisor.abs() < 1e-12 {
                return None;
            }
            for row in pivot + 1..size {
                let factor = at(&self.left, row, pivot) / divisor;
                if factor == 0.0 {
                    continue;
                }
                for column in pivot..size {
                    let taken = factor * at(&self.left, pivot, column);
                    if let Some(held) = self.left.get_mut(row * size + column) {
                        *held -= taken;
                    }
                }
                let taken = self.right.get(pivot).copied().unwrap_or_default();
                if let Some(held) = self.right.get_mut(row) {
                    *held = plus(*held, taken, -factor);
                }
            }
        }
        for row in (0..size).rev() {
            let mut sum = self.right.get(row).copied().unwrap_or_default();
            for column in row + 1..size {
                let known = self.right.get(column).copied().unwrap_or_default();
                sum = plus(sum, known, -at(&self.left, row, column));
            }
            let divisor = at(&self.left, row, row);
            if let Some(held) = self.right.get_mut(row) {
                *held = sum.map(|part| part / divisor);
            }
        }
        Some(self.right)
    }
}
