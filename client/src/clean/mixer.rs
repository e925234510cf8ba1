//! What two or three colors can mix to, and in which shares a color is a mix of others.
//! It does not know where the colors stand in a chart.

use super::snap::Snap;
use super::{Cells, Range};
use crate::chart::to_light;

/// The values in which a drawing or resizing program mixes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Light {
    /// The encoded values of the file, as most programs do.
    Encoded,
    /// Linear light.
    Linear,
}

pub(super) type Point = [f64; 3];

/// How well a color is explained.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fit {
    /// Share of the second color; below 0 or above 1 for ringing.
    pub(super) share: f64,
    /// How far the mix misses the color, in units of what rounding and two layers can do.
    pub(super) miss: f64,
}

/// Shares below 0 and above 1 that ringing of sharpening filters reaches.
const OVERSHOOT: f64 = 0.3;

/// Shares below 0 and above 1 that rounding reaches.
const ROUNDING: f64 = 0.03;

/// The same where sharpening has left ringing of third colors.
const RINGING: f64 = 7.0;

/// Encoded units (0 to 255) that a blend may be off: two roundings in each of three channels.
const EXACT: f64 = 3.0;

/// Mixes colors of one chart.
#[derive(Debug)]
pub(super) struct Mixer {
    light: Light,
    /// Ringing is to be expected.
    rings: bool,
    /// What mixes look like when the chart was mapped to threads.
    snap: Option<Snap>,
    curve: Curve,
    /// The colors as encoded values, 0 to 255.
    shown: Vec<Point>,
    /// The colors in the values that are mixed, 0 to 255.
    mixed: Vec<Point>,
    /// The threads that the colors will become.
    goals: Vec<u16>,
}

impl Mixer {
    pub(super) fn new(cells: &Cells, range: &Range, light: Light) -> Self {
        let colors = &cells.colors;
        let shown: Vec<Point> = colors
            .iter()
            .map(|color| [color.red, color.green, color.blue].map(f64::from))
            .collect();
        let mixed = match light {
            Light::Encoded => shown.clone(),
            Light::Linear => colors
                .iter()
                .map(|color| {
                    [color.red, color.green, color.blue].map(|part| 255.0 * to_light(part))
                })
                .collect(),
        };
        let snap = match range {
            Range::Any => None,
            Range::Threads(threads) => Some(Snap::new(colors, threads)),
        };
        let goals = cells.goals.clone();
        Self { light, rings: false, snap, curve: Curve::new(), shown, mixed, goals }
    }

    /// Says whether sharpening has left ringing.
    pub(super) fn set_rings(&mut self, rings: bool) {
        self.rings = rings;
    }

    /// Encoded units that count as one.
    fn unit(&self) -> f64 {
        if self.rings { RINGING } else { EXACT }
    }

    /// What a thin color must explain before it counts, by how many cells have it within rounding.
    /// House choices, tuned on drawings.
    pub(super) fn worth(&self, own: usize) -> f64 {
        if self.snap.is_some() {
            return 14.0;
        }
        if own >= if self.rings { 3 } else { 5 } { 6.0 } else { 30.0 }
    }

    /// Whether a color becomes the thread of one rather than that of another; `None` when it becomes
    /// neither, or nobody knows.
    pub(super) fn becomes(&self, color: u16, one: u16, other: u16) -> Option<bool> {
        let goal = |color: u16| self.goals.get(usize::from(color));
        let own = goal(color)?;
        let (one, other) = (goal(one) == Some(own), goal(other) == Some(own));
        (one != other).then_some(one)
    }

    pub(super) fn rings(&self) -> bool {
        self.rings
    }

    /// How far shares may lie outside 0 to 1.
    pub(super) fn overshoot(&self) -> f64 {
        if self.rings { OVERSHOOT } else { ROUNDING }
    }

    pub(super) fn shown(&self, color: u16) -> Point {
        self.shown.get(usize::from(color)).copied().unwrap_or_default()
    }

    pub(super) fn point(&self, color: u16) -> Point {
        self.mixed.get(usize::from(color)).copied().unwrap_or_default()
    }

    /// How far two colors are apart, in units of what rounding can do.
    pub(super) fn apart(&self, one: u16, other: u16) -> f64 {
        match &self.snap {
            _ if one == other => 0.0,
            // Another thread is another color, however near it is.
            Some(snap) => (snap.apart(one, other) / 2.0).max(2.5),
            None => length(minus(self.shown(one), self.shown(other))) / self.unit(),
        }
    }

    /// True when the colors are as exact as the program that mixed them left them.
    pub(super) fn is_exact(&self) -> bool {
        !self.rings && self.snap.is_none()
    }

    /// True when the chart was mapped to threads.
    pub(super) fn is_mapped(&self) -> bool {
        self.snap.is_some()
    }

    /// True when the color lies on the way from one color to another, and not at its ends.
    pub(super) fn is_between(&self, color: u16, first: u16, second: u16) -> bool {
        let (c, a, b) = (self.point(color), self.point(first), self.point(second));
        let way = minus(b, a);
        let long = length(way);
        let share = along(minus(c, a), way, [1.0; 3]);
        let off = length(minus(plus(a, way, share), c));
        long > 4.0 * EXACT && (0.12..=0.88).contains(&share) && off <= 0.15 * long + EXACT
    }

    /// The color as a mix of two others.
    pub(super) fn pair(&self, color: u16, first: u16, second: u16) -> Fit {
        let (c, a, b) = (self.point(color), self.point(first), self.point(second));
        let way = minus(b, a);
        if let Some(snap) = &self.snap {
            return snap.fit(color, first, second, &|share| self.seen(plus(a, way, share)));
        }
        let all = [1.0; 3];
        let share = along(minus(c, a), way, all);
        let fit = self.at(color, a, way, share);
        if fit.miss <= 1.0 || !self.is_clipped(color) {
            return fit;
        }
        // Ringing beyond black or white is cut off: such a channel says nothing about the share.
        let open =
            self.shown(color).map(|part| if part <= 0.0 || part >= 255.0 { 0.0 } else { 1.0 });
        let other = self.at(color, a, way, along(minus(c, a), way, open));
        if other.miss < fit.miss { other } else { fit }
    }

    fn is_clipped(&self, color: u16) -> bool {
        self.shown(color).iter().any(|part| *part <= 0.0 || *part >= 255.0)
    }

    fn at(&self, color: u16, a: Point, way: Point, share: f64) -> Fit {
        let share = share.clamp(-self.overshoot(), 1.0 + self.overshoot());
        let mix = self.seen(plus(a, way, share));
        Fit { share, miss: length(minus(mix, self.shown(color))) / self.unit() }
    }

    /// What mixed values look like in the file.
    fn seen(&self, mix: Point) -> Point {
        let clipped = mix.map(|part| part.clamp(0.0, 255.0));
        match self.light {
            Light::Encoded => clipped,
            Light::Linear => clipped.map(|part| self.curve.encoded(part)),
        }
    }

    /// The color as a mix of three others: their shares, and how far it misses.
    pub(super) fn triple(&self, color: u16, of: [u16; 3]) -> Option<([f64; 3], f64)> {
        if self.snap.is_some() {
            return None;
        }
        let c = self.point(color);
        let [a, b, d] = of.map(|number| self.point(number));
        let (u, v, w) = (minus(b, a), minus(d, a), minus(c, a));
        let (uu, uv, vv) = (dot(u, u), dot(u, v), dot(v, v));
        let (uw, vw) = (dot(u, w), dot(v, w));
        let det = uu * vv - uv * uv;
        // Three colors on one line say no more than two of them.
        if det < 0.02 * uu * vv {
            return None;
        }
        let second = (uw * vv - vw * uv) / det;
        let third = (vw * uu - uw * uv) / det;
        let shares = [1.0 - second - third, second, third];
        let mix = self.seen(plus(plus(a, u, second), v, third));
        Some((shares, length(minus(mix, self.shown(color))) / self.unit()))
    }
}

pub(super) fn minus(a: Point, b: Point) -> Point {
    let ([a0, a1, a2], [b0, b1, b2]) = (a, b);
    [a0 - b0, a1 - b1, a2 - b2]
}

pub(super) fn plus(a: Point, way: Point, share: f64) -> Point {
    let ([a0, a1, a2], [b0, b1, b2]) = (a, way);
    [a0 + share * b0, a1 + share * b1, a2 + share * b2]
}

fn dot(a: Point, b: Point) -> f64 {
    let ([a0, a1, a2], [b0, b1, b2]) = (a, b);
    a0 * b0 + a1 * b1 + a2 * b2
}

pub(super) fn length(a: Point) -> f64 {
    dot(a, a).sqrt()
}

/// Where on the way the point lies, by the open channels.
pub(super) fn along(from_start: Point, way: Point, open: Point) -> f64 {
    let ([w0, w1, w2], [o0, o1, o2]) = (way, open);
    let way = [w0 * o0, w1 * o1, w2 * o2];
    let square = dot(way, way);
    if square > 0.0 { dot(from_start, way) / square } else { 0.0 }
}

/// Steps of linear light for each of 0 to 255 in which the curve of encoded values is entered.
const FINE: usize = 8;

/// The curve from linear light to encoded values.
#[derive(Debug)]
struct Curve {
    /// Linear light of every encoded value, 0 to 255 as well.
    lights: [f64; 256],
    /// For each step of light how many encoded values have less.
    starts: Vec<usize>,
}

impl Curve {
    fn new() -> Self {
        let mut lights = [0.0; 256];
        for (light, encoded) in lights.iter_mut().zip(0..=u8::MAX) {
            *light = 255.0 * to_light(encoded);
        }
        let mut starts = Vec::with_capacity(255 * FINE + 1);
        let mut light = 0.0;
        for _ in 0..=255 * FINE {
            starts.push(lights.partition_point(|held| *held < light));
            light += 1.0 / STEPS_OF_LIGHT;
        }
        Self { lights, starts }
    }

    /// The encoded value of linear light, both 0 to 255; between two values of the curve on a line.
    fn encoded(&self, light: f64) -> f64 {
        let mut above = self.starts.get(step(light)).copied().unwrap_or_default();
        let at = |place: usize| self.lights.get(place).copied().unwrap_or(255.0);
        while above < self.lights.len() && at(above) < light {
            above += 1;
        }
        let Some(below) = above.checked_sub(1) else { return 0.0 };
        let (low, high) = (at(below), at(above));
        let part = if high > low { (light - low) / (high - low) } else { 0.0 };
        u8::try_from(below).map_or(255.0, f64::from) + part
    }
}

/// [`FINE`] as a number.
const STEPS_OF_LIGHT: f64 = 8.0;

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "from 0 to 255 times the steps; what is beyond ends in the last step"
)]
fn step(light: f64) -> usize {
    (light * STEPS_OF_LIGHT) as usize
}
