//! Whether a sharpening filter has gone over a picture. It does not know which colors are settled.
//!
//! Sharpening drives the cells along an edge away from each other, so it leaves what even mixing does
//! not: many neighbors that are almost equal, and rows that go the other way just before an edge.

use super::Cells;
use super::mixer::{Point, length, minus};
use super::raster::Raster;
use super::settled::color_at;

/// Encoded units, in each channel, up to which two neighbors are almost equal.
const ALMOST: f64 = 6.0;

/// Part of unequal neighbors that are almost equal above which ringing is likely. Even mixing leaves
/// up to 0.16 in drawings, sharpening 0.3 and more.
const MANY: f64 = 0.23;

/// Steps the other way for each step that goes on, above which ringing is likely. Even mixing leaves
/// about 0.2 in drawings, gradients 0, sharpening 0.5 and more.
const BACK: f64 = 0.5;

/// Units of a step that counts, at least, and of the edge that follows it.
const STEP: (f64, f64) = (2.0, 20.0);

/// The step before an edge is smaller than this part of it.
const SMALL: f64 = 0.25;

/// Cosine of the angle between a step and the edge, at least.
const STRAIGHT: f64 = 0.7;

/// True when sharpening has left ringing.
pub(super) fn is_sharpened(cells: &Cells, raster: Raster) -> bool {
    let points: Vec<Point> = cells
        .colors
        .iter()
        .map(|color| [color.red, color.green, color.blue].map(f64::from))
        .collect();
    let at = |place: usize| points.get(usize::from(color_at(cells, place)?)).copied();
    let mut found = Found::default();
    for place in 0..cells.cells.len() {
        let Some(own) = at(place) else { continue };
        for (right, down) in [(1, 0), (0, 1)] {
            let next = raster.step(place, right, down).and_then(at);
            let before = raster.step(place, -right, -down).and_then(at);
            if let Some(next) = next {
                found.pair(own, next);
                if let Some(before) = before {
                    found.row(before, own, next);
                    found.row(next, own, before);
                }
            }
        }
    }
    found.almost > MANY * found.unequal && found.back > BACK * (found.on + 1.0)
}

#[derive(Debug, Default)]
struct Found {
    unequal: f64,
    almost: f64,
    back: f64,
    on: f64,
}

impl Found {
    fn pair(&mut self, one: Point, other: Point) {
        let most = minus(one, other).into_iter().map(f64::abs).fold(0.0, f64::max);
        if most > 0.0 {
            self.unequal += 1.0;
            self.almost += if most <= ALMOST { 1.0 } else { 0.0 };
        }
    }

    /// A cell between an almost equal one and the other side of an edge.
    fn row(&mut self, outer: Point, own: Point, inner: Point) {
        let (step, edge) = (minus(own, outer), minus(inner, own));
        let (small, large) = (length(step), length(edge));
        if small < STEP.0 || large <= STEP.1 || small >= SMALL * large {
            return;
        }
        let turn: f64 = step.iter().zip(edge).map(|(one, other)| one * other).sum();
        if turn < -STRAIGHT * small * large {
            self.back += 1.0;
        } else if turn > STRAIGHT * small * large {
            self.on += 1.0;
        }
    }
}
