//! A quadratic form in CIELAB that no CIEDE2000 difference within reach falls below.
//! It does not know rows or the tree.
//!
//! # Derivation
//!
//! Let D be the reach: only colors whose difference from the standard is at most D are wanted. Names
//! are those of the paper, index 1 is the standard, 2 any color of the table that is within D, and
//! `x`, `y`, `z` are the three terms `dL'/(kL S_L)`, `dC'/(kC S_C)`, `dH'/(kH S_H)`.
//!
//! 1. With r = |`R_T`| / 2 < 1, and `R_T` never positive, `y² + z² + R_T y z >= m (y² + z²)` where
//!    m = 1 - r. So `D² >= x² + m (y² + z²)`. Since |`R_T`| never exceeds 2 sin 60° sat(C̄'), m is at
//!    least 0.134 whatever the color.
//! 2. x is a function of the two lightnesses alone, and |x| grows with |dL'| for a fixed L1: its
//!    derivative has the sign of `S_L - |dL| S_L' / 2`, and |`S_L'`| <= 0.0164, |dL| <= 102,
//!    `S_L` >= 1. The table's lightness range therefore gives the least |x|, and what is left for the
//!    chroma plane is `E² = D² - x_min²`. From here on t = E / sqrt(m) bounds |y| and |z|.
//! 3. |y| <= t says `|C2' - C1'| <= kC t (1 + 0.0225 (C1' + C2'))`. Solved for C2', with
//!    u = 0.0225 kC t: `C2' <= (C1' (1 + u) + kC t) / (1 - u)` when u < 1, and
//!    `C2' >= (C1' (1 - u) - kC t) / (1 + u)`. The table's largest C2' holds in any case.
//! 4. G falls with the mean chroma, C2 <= C2' <= (1 + G) C2, hence a range of G; C1' and the hue h1'
//!    move monotonically with G, hence their ranges. `S_C` and sat grow with C̄'.
//! 5. |z| <= t with `dH' = 2 sqrt(C1' C2') sin(dh' / 2)` bounds |dh' / 2|, and the mean hue lies that
//!    far from h1' at most. T and `R_T` have maxima over that window (`super::hue`), hence `S_H`, hence a
//!    better m. Steps 3 to 5 are repeated; each round starts from bounds that are proven already.
//!    When the sine is above 0.9, or a chroma may be 0, the window is the full circle: this covers
//!    neutrals, whose mean hue is the sum, and opposite hues, whose mean may lie on either side.
//! 6. The same G serves both colors, so `dC'² + dH'² = (1 + G)² da² + db²`. And
//!    `sqrt(C1' C2') |dH'| >= C1' C2' |sin dh'| = (1 + G) |a1 b2 - a2 b1|`, where the last factor is
//!    `|a1 db - b1 da|`. With P = m / (kC `S_C`)² and Q = m / (kH `S_H`)², for P <= Q:
//!    `m (y² + z²) >= P (dC'² + dH'²) + (Q - P) dH'²`, and for Q < P the second term is dropped and
//!    Q takes P's place. All four coefficients are constants of the search.
//!
//! The result is `(dL/(kL S_L))² + A da² + B db² + X (a1 db - b1 da)²`, whose first term either is
//! taken as it stands or, with the largest `S_L` of all lightnesses within reach, as a constant times
//! dL².

use super::around::Weights;
use super::hue;
use super::tight::length;
use crate::color::{Lab, hue_degrees};
use crate::difference::{Factors, ciede2000};

/// Rounds of steps 3 to 5; a third gains less than it costs.
const ROUNDS: usize = 2;

/// Largest sine of half a hue difference that still gives a window.
const WINDOW_SINE: f64 = 0.9;

/// Relative and absolute room for rounding, in squared difference: the terms carry errors below
/// 1e-13 of their size, the form is used with thousands of times that.
const ROUNDING: (f64, f64) = (1e-9, 1e-12);

/// A squared difference with room for rounding: what lies above it is farther for certain.
pub(crate) fn with_room(squared: f64) -> f64 {
    squared * (1.0 + ROUNDING.0) + ROUNDING.1
}

/// Where a table's colors lie.
#[derive(Clone, Copy, Debug)]
pub(super) struct Extent {
    light: (f64, f64),
    /// Largest C*ab.
    chroma: f64,
    /// Largest C' that any G can give.
    chroma_prime: f64,
}

impl Extent {
    /// The extent of these colors.
    pub(super) fn of(colors: impl Iterator<Item = [f64; 3]>) -> Self {
        let none =
            Self { light: (f64::INFINITY, f64::NEG_INFINITY), chroma: 0.0, chroma_prime: 0.0 };
        colors.fold(none, |so_far, [l, a, b]| Self {
            light: (so_far.light.0.min(l), so_far.light.1.max(l)),
            chroma: so_far.chroma.max(length(a, b)),
            chroma_prime: so_far.chroma_prime.max(length(1.5 * a, b)),
        })
    }

    /// Least and largest L*.
    pub(super) fn light(&self) -> (f64, f64) {
        self.light
    }
}

/// Weights of the form for all colors of the extent whose CIEDE2000 difference is at most the reach.
pub(super) fn weights(standard: Lab, factors: Factors, extent: &Extent, reach: f64) -> Weights {
    let squared = with_room(reach * reach);
    let light = Lightness::new(standard.l(), factors.l(), extent, squared);
    let plane_squared = (squared - light.least).max(0.0);
    let (range, window) = Range::within(standard, factors, extent, plane_squared);
    range.weights(factors, window, light.weight)
}

/// What lightness alone says (step 2).
#[derive(Clone, Copy, Debug)]
struct Lightness {
    /// Least x² of any color of the table.
    least: f64,
    /// Weight of dL² with the largest `S_L` within reach.
    weight: f64,
}

impl Lightness {
    fn new(l: f64, k_l: f64, extent: &Extent, reach_squared: f64) -> Self {
        let (low, high) = extent.light;
        let near = l.clamp(low, high.max(low));
        let x = (near - l) / (k_l * ciede2000::s_l(f64::midpoint(l, near)));
        // S_L is largest at an end of the mean lightnesses, since it grows away from L* 50.
        let largest = |low: f64, high: f64| {
            ciede2000::s_l(f64::midpoint(l, low)).max(ciede2000::s_l(f64::midpoint(l, high)))
        };
        let far = reach_squared.sqrt() * k_l * largest(low, high);
        let within = largest((l - far).clamp(low, near), (l + far).clamp(near, high.max(near)));
        Self { least: x * x, weight: (k_l * within).powi(2).recip() }
    }
}

/// What is known of the colors within reach.
#[derive(Clone, Copy, Debug)]
struct Range {
    chroma: f64,
    g: (f64, f64),
    /// C' of the standard.
    first: (f64, f64),
    /// C' of the other color.
    second: (f64, f64),
}

impl Range {
    /// Steps 3 to 5.
    fn within(standard: Lab, factors: Factors, extent: &Extent, squared: f64) -> (Self, hue::Most) {
        let mut range = Self::start(standard, extent);
        let mut window = hue::Most::ANYWHERE;
        let mut hues = None;
        for _ in 0..ROUNDS {
            let t = (squared / range.m(window)).sqrt();
            range.narrow(standard, factors.c() * t, extent);
            let hues = *hues.get_or_insert_with(|| range.hues(standard));
            let half_sine = factors.h() * range.s_h(window) * t / (2.0 * range.low_root());
            if half_sine < WINDOW_SINE {
                window = hue::most(hues, half_sine);
            }
        }
        (range, window)
    }

    fn start(standard: Lab, extent: &Extent) -> Self {
        let chroma = standard.chroma();
        let g = (
            ciede2000::g(f64::midpoint(chroma, extent.chroma)),
            ciede2000::g(f64::midpoint(chroma, 0.0)),
        );
        let mut range = Self { chroma, g, first: (0.0, 0.0), second: (0.0, extent.chroma_prime) };
        range.first = range.primes(standard);
        range
    }

    /// Steps 3 and 4, `reach` is kC t.
    fn narrow(&mut self, standard: Lab, reach: f64, extent: &Extent) {
        let u = 0.5 * ciede2000::S_C_SLOPE * reach;
        let low = (self.first.0 * (1.0 - u) - reach) / (1.0 + u);
        let high = (self.first.1 * (1.0 + u) + reach) / (1.0 - u);
        let high = if u < 1.0 { high.min(self.second.1) } else { self.second.1 };
        self.second = (low.max(self.second.0), high);
        let least_chroma = self.second.0 / (1.0 + self.g.1);
        self.g = (
            ciede2000::g(f64::midpoint(self.chroma, high.min(extent.chroma))),
            ciede2000::g(f64::midpoint(self.chroma, least_chroma)),
        );
        self.first = self.primes(standard);
    }

    fn primes(&self, standard: Lab) -> (f64, f64) {
        let prime = |g: f64| length((1.0 + g) * standard.a(), standard.b());
        (prime(self.g.0), prime(self.g.1))
    }

    /// The hue h1' at one end of G and at least the way to that at the other, in degrees.
    fn hues(&self, standard: Lab) -> (f64, f64) {
        let (a, b) = (standard.a(), standard.b());
        let cross = (self.g.0 - self.g.1) * a * b;
        let lengths = self.first.0 * self.first.1;
        let sine = if lengths > 0.0 { cross / lengths } else { 0.0 };
        (hue_degrees((1.0 + self.g.0) * a, b), hue::arc(sine))
    }

    fn mean_high(&self) -> f64 {
        f64::midpoint(self.first.1, self.second.1)
    }

    /// Least sqrt(C1' C2').
    fn low_root(&self) -> f64 {
        (self.first.0 * self.second.0).sqrt()
    }

    fn s_h(&self, most: hue::Most) -> f64 {
        ciede2000::s_h(self.mean_high(), most.t)
    }

    fn m(&self, most: hue::Most) -> f64 {
        1.0 - ciede2000::saturation(self.mean_high()) * most.rotation
    }

    /// Step 6.
    fn weights(&self, factors: Factors, most: hue::Most, light: f64) -> Weights {
        let m = self.m(most);
        let p = m / (factors.c() * ciede2000::s_c(self.mean_high())).powi(2);
        let q = m / (factors.h() * self.s_h(most)).powi(2);
        let stretch = (1.0 + self.g.0).powi(2);
        let product = self.first.1 * self.second.1;
        let across = if q > p && product > 0.0 { (q - p) * stretch / product } else { 0.0 };
        let weakest = p.min(q);
        Weights { light, a: weakest * stretch, b: weakest, across }
    }
}
