//! What no color of a box of CIELAB falls below under DIN99o, from the box's ranges of lightness,
//! chroma and direction. It does not know the reach, rows or where a box comes from.
//!
//! DIN99o is a length in coordinates of its own: `C99o` grows with the length G of (e, f), which are
//! linear in a* and b*, and angles are kept. So a box lies in a piece of a ring, and the nearest place
//! of such a piece is a matter of plane geometry: far outside the colors of a table that says more than
//! a quadratic form (`super::direct`), whose reach is long there.

use super::tight::length;
use crate::color::Lab;
use crate::difference::din99o;

/// Below this a length has no direction.
const NO_DIRECTION: f64 = 1e-9;

/// Least squared difference of a color of the box, but for rounding.
pub(super) fn least(standard: Lab, low: [f64; 3], high: [f64; 3]) -> f64 {
    let ([low_l, low_a, low_b], [high_l, high_a, high_b]) = (low, high);
    let l2 = standard.l().clamp(low_l, high_l.max(low_l));
    let light = din99o::light(l2) - din99o::light(standard.l());
    let own = din99o::turned([standard.a(), standard.b()]);
    let (low, high) = din99o::turned_box([low_a, low_b], [high_a, high_b]);
    let (near, far) = lengths(low, high);
    let cos = nearest_cosine(own, low, high);
    let c1 = din99o::chroma(length(own[0], own[1]));
    let (near, far) = (din99o::chroma(near), din99o::chroma(far));
    let c2 = (c1 * cos).clamp(near, far.max(near));
    light * light + (c1 - c2) * (c1 - c2) + 2.0 * c1 * c2 * (1.0 - cos)
}

/// Least and largest length of a place of the box.
fn lengths(low: [f64; 2], high: [f64; 2]) -> (f64, f64) {
    let ([low_e, low_f], [high_e, high_f]) = (low, high);
    let gap = |low: f64, high: f64| low.max(-high).max(0.0);
    let far = |low: f64, high: f64| low.abs().max(high.abs());
    (length(gap(low_e, high_e), gap(low_f, high_f)), length(far(low_e, high_e), far(low_f, high_f)))
}

/// The cosine of the least angle between a direction and those of the box, cut at 90 degrees.
///
/// A box away from 0 takes less than half a circle, whose ends are corners. Where all corners lie on
/// one side of the direction the nearest corner has the least angle, else the direction crosses the
/// box or leaves it behind.
fn nearest_cosine([e1, f1]: [f64; 2], low: [f64; 2], high: [f64; 2]) -> f64 {
    let own = length(e1, f1);
    if own < NO_DIRECTION || lengths(low, high).0 < NO_DIRECTION {
        return 1.0;
    }
    let ([low_e, low_f], [high_e, high_f]) = (low, high);
    let corners = [(low_e, low_f), (low_e, high_f), (high_e, low_f), (high_e, high_f)];
    let seen = corners.map(|(e, f)| {
        let whole = own * length(e, f);
        ((e1 * e + f1 * f) / whole, (e1 * f - f1 * e) / whole)
    });
    let nearest = seen.iter().fold(0.0, |most: f64, (cos, _)| most.max(*cos));
    let is_on = |side: f64| seen.iter().all(|(_, sin)| side * sin > 0.0);
    let crosses = !is_on(1.0) && !is_on(-1.0) && nearest > 0.0;
    if crosses { 1.0 } else { nearest }
}

#[cfg(test)]
mod tests {
    use super::super::tests::Seeded;
    use super::super::with_room;
    use super::*;
    use crate::difference::{Formula, Pair};

    #[test]
    fn no_color_of_a_box_is_nearer_than_its_bound() {
        let mut seeded = Seeded(6);
        let mut tight = 0;
        for round in 0..60_000 {
            let chroma = [0.5, 8.0, 40.0, 120.0, 200.0][round % 5];
            let standard = within(&mut seeded, chroma);
            // Opposite and near hues hurt most.
            let (a, b) = (standard.a(), standard.b());
            let middle = match round % 3 {
                0 => [50.0, -0.7 * a, -0.7 * b],
                1 => [standard.l(), 0.6 * a, 0.6 * b],
                _ => within(&mut seeded, 120.0).components(),
            };
            let size = [0.0, 0.01, 1.0, 6.0, 40.0][(round / 7) % 5];
            let mut low = middle.map(|at| at - size * seeded.part());
            let mut high = middle.map(|at| at + size * seeded.part());
            (low[0], high[0]) = (low[0].max(0.0), high[0].min(102.0));
            let bound = least(standard, low, high);
            let mut nearest = f64::INFINITY;
            for corner in 0..16 {
                let at: [f64; 3] = std::array::from_fn(|axis| match corner {
                    0..8 => [low[axis], high[axis]][(corner >> axis) & 1],
                    _ => low[axis] + (high[axis] - low[axis]) * seeded.part(),
                });
                let Ok(sample) = Lab::new(at[0], at[1], at[2]) else { continue };
                let score = Formula::Din99o.delta_e(Pair { standard, sample }).value();
                let squared = with_room(score * score);
                assert!(bound <= squared, "{standard:?} {low:?} {high:?} {sample:?}");
                nearest = nearest.min(squared);
            }
            tight += usize::from(size < 0.1 && bound > 0.9 * nearest);
        }
        // A bound of 0 would be no bound.
        assert!(tight > 10_000, "{tight}");
    }

    fn within(seeded: &mut Seeded, chroma: f64) -> Lab {
        let [l, a, b] = [(); 3].map(|()| seeded.part());
        Lab::new(102.0 * l, chroma * (2.0 * a - 1.0), chroma * (2.0 * b - 1.0)).unwrap()
    }
}
