//! The largest T and rotation of CIEDE2000 over a window of mean hues.
//! It does not know how a window comes about.

use std::sync::LazyLock;

use crate::difference::ciede2000;

/// Bins of one degree around the circle.
const BINS: usize = 360;

/// Windows of 1, 2, 4 ... 256 bins.
const LEVELS: usize = 9;

/// Between the ends of a bin T bends by at most max |T''| / 8 bins²: |T''| is below 7.3 per square
/// radian, a bin is 0.0175 radians.
const BEND: f64 = 3e-4;

/// Upper bounds over a window of hues.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Most {
    /// Of T (eq. 15).
    pub(super) t: f64,
    /// Of the sine in eq. 18, which is `|R_T| / R_C`.
    pub(super) rotation: f64,
}

impl Most {
    /// Over all hues. T peaks at hue 234.4.
    pub(super) const ANYWHERE: Self = Self { t: 1.5726, rotation: ciede2000::ROTATION_PEAK };
}

/// `TALLEST[level][bin]` is an upper bound of T over 2^level bins from this one on.
static TALLEST: LazyLock<[[f64; BINS]; LEVELS]> = LazyLock::new(|| {
    let mut levels = [[0.0; BINS]; LEVELS];
    let mut edge = 0.0;
    let first: [f64; BINS] = std::array::from_fn(|_| {
        let here = ciede2000::t(edge);
        edge += 1.0;
        here.max(ciede2000::t(edge)) + BEND
    });
    let mut tallest = first;
    for (level, slot) in levels.iter_mut().enumerate() {
        *slot = tallest;
        let reach = 1_usize << level;
        tallest = std::array::from_fn(|bin| at(slot, bin).max(at(slot, bin + reach)));
    }
    levels
});

/// `ROTATIONS[d]` is the rotation's sine d degrees away from hue 275, the largest of bin d.
static ROTATIONS: LazyLock<[f64; BINS / 2 + 1]> = LazyLock::new(|| {
    let mut away = -1.0;
    std::array::from_fn(|_| {
        away += 1.0;
        ciede2000::rotation(away)
    })
});

fn at(bins: &[f64; BINS], bin: usize) -> f64 {
    bins.get(bin % BINS).copied().unwrap_or(f64::INFINITY)
}

/// An angle in degrees that is no nearer to 0 than the arc sine.
pub(super) fn arc(sine: f64) -> f64 {
    // asin(s) - s over s³ grows up to pi/2 - 1 at s = 1.
    (sine + 0.5708 * sine * sine * sine).to_degrees()
}

/// Upper bounds over all mean hues within `asin(half_sine)` of a hue on the way that leads by a turn
/// of less than 180 degrees from a hue of 0 to 360. `half_sine` is below 0.9.
pub(super) fn most((hue, turn): (f64, f64), half_sine: f64) -> Most {
    let middle = hue + 0.5 * turn;
    let reach = arc(half_sine) + 0.5 * turn.abs() + 1e-6;
    Most { t: tallest(middle - reach, 2.0 * reach), rotation: rotation(middle, reach) }
}

fn tallest(from: f64, width: f64) -> f64 {
    let first = whole(wrapped(from)) % BINS;
    // One bin more at either end, since the window starts and ends inside bins.
    let bins = whole(width) + 2;
    let level = bins.ilog2() as usize;
    TALLEST
        .get(level)
        .map_or(Most::ANYWHERE.t, |row| at(row, first).max(at(row, first + bins - (1 << level))))
}

/// The standard's rotation does not wrap at hue 0; measured around the circle it is larger or the
/// same, which a bound may be.
fn rotation(middle: f64, reach: f64) -> f64 {
    let away = (wrapped(middle - 95.0) - 180.0).abs();
    ROTATIONS.get(whole((away - reach).max(0.0))).copied().unwrap_or(Most::ANYWHERE.rotation)
}

/// Degrees from -360 to 720 as those from 0 to 360.
fn wrapped(degrees: f64) -> f64 {
    if degrees < 0.0 {
        degrees + 360.0
    } else if degrees >= 360.0 {
        degrees - 360.0
    } else {
        degrees
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "degrees of a window: 0 to 720"
)]
fn whole(degrees: f64) -> usize {
    degrees as usize
}
