//! What a mix of two colors looks like once it was mapped to the nearest thread of a table.
//! It does not know charts.

use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::Arc;

use dyekin_core::difference::Pair;
use dyekin_core::{Formula, Lab, Srgb8};

use super::mixer::{Fit, Point};

/// Steps on the way from one color to the other.
const STEPS: u8 = 24;

/// Threads whose difference is measured, of those that lie nearest in CIELAB.
const MEASURED: usize = 5;

/// Units of CIELAB from every mix of two colors beyond which a color is none of them.
const HOPELESS: f64 = 60.0;

/// Difference above which two colors make a hard edge. House choice.
const HARD: f64 = 12.0;

/// How much farther than the best thread a color may be from a mix. House choice, tuned on drawings:
/// it asks whether mapping would have given this thread, whatever the table has.
const EXCESS: f64 = 3.0;

/// Weight of the distance itself, so that of two places on the way the nearer one is taken.
const NEARNESS: f64 = 0.15;

/// How much worse than the best place on the way others may be and still have a say in the share, the
/// less the worse. House choice, tuned on drawings.
const SPREAD: f64 = 0.7;

/// One place on the way between two colors.
#[derive(Clone, Copy, Debug)]
struct Stop {
    share: f64,
    color: Lab,
    at: Point,
    /// Difference of the best thread.
    best: f64,
}

/// The places between two colors.
type Way = Arc<Vec<Stop>>;

/// Ways between colors, each looked up once.
#[derive(Debug)]
pub(super) struct Snap {
    threads: Vec<(Point, Lab)>,
    colors: Vec<Lab>,
    ways: RefCell<HashMap<(u16, u16), Way>>,
    fits: RefCell<HashMap<(u16, u16, u16), Fit>>,
}

impl Snap {
    pub(super) fn new(colors: &[Srgb8], threads: &[Srgb8]) -> Self {
        let mut threads: Vec<(Point, Lab)> =
            threads.iter().map(|color| (color.to_lab().components(), color.to_lab())).collect();
        threads.sort_by(|(one, _), (other, _)| one[0].total_cmp(&other[0]));
        Self {
            threads,
            colors: colors.iter().map(|color| color.to_lab()).collect(),
            ways: RefCell::default(),
            fits: RefCell::default(),
        }
    }

    pub(super) fn apart(&self, one: u16, other: u16) -> f64 {
        match (self.colors.get(usize::from(one)), self.colors.get(usize::from(other))) {
            (Some(one), Some(other)) => difference(*one, *other),
            _ => f64::INFINITY,
        }
    }

    /// How well the color is a mix of two others, with `mix` for what they look like between.
    pub(super) fn fit(
        &self,
        color: u16,
        first: u16,
        second: u16,
        mix: &dyn Fn(f64) -> Point,
    ) -> Fit {
        if let Some(fit) = self.fits.borrow().get(&(color, first, second)) {
            return *fit;
        }
        let fit = self.measured(color, first, second, mix);
        self.fits.borrow_mut().insert((color, first, second), fit);
        fit
    }

    fn measured(&self, color: u16, first: u16, second: u16, mix: &dyn Fn(f64) -> Point) -> Fit {
        let nothing = Fit { share: 0.5, miss: f64::INFINITY };
        if self.apart(first, second) < HARD {
            return nothing;
        }
        let Some(own) = self.colors.get(usize::from(color)) else { return nothing };
        let way = self.way(first, second, mix);
        let far = |stop: &Stop| square(own.components(), stop.at);
        let least = way.iter().map(far).fold(f64::INFINITY, f64::min);
        if least > HOPELESS * HOPELESS {
            return nothing;
        }
        let reach = (1.5 * least.sqrt() + 2.0).powi(2);
        let fits: Vec<Fit> = way
            .iter()
            .filter(|stop| far(stop) <= reach)
            .map(|stop| {
                let off = difference(*own, stop.color);
                Fit { share: stop.share, miss: (off - stop.best + NEARNESS * off) / EXCESS }
            })
            .collect();
        let miss = fits.iter().map(|fit| fit.miss).fold(f64::INFINITY, f64::min);
        // Several places on the way may have got this thread: the share is what they say together.
        let (mut weights, mut share) = (0.0, 0.0);
        for fit in &fits {
            let weight = (1.0 - (fit.miss - miss) / SPREAD).max(0.0);
            weights += weight;
            share += weight * fit.share;
        }
        if weights > 0.0 { Fit { share: share / weights, miss } } else { nothing }
    }

    fn way(&self, first: u16, second: u16, mix: &dyn Fn(f64) -> Point) -> Way {
        if let Some(way) = self.ways.borrow().get(&(first, second)) {
            return Arc::clone(way);
        }
        let stops = (1..STEPS).map(|step| {
            let share = f64::from(step) / f64::from(STEPS);
            let color = rounded(mix(share)).to_lab();
            let at = color.components();
            Stop { share, color, at, best: self.best(color, at) }
        });
        let way = Arc::new(stops.collect());
        self.ways.borrow_mut().insert((first, second), Arc::clone(&way));
        way
    }

    /// Difference of the thread that is nearest to a color.
    fn best(&self, color: Lab, at: Point) -> f64 {
        let mut near = Nearest { at, held: Vec::with_capacity(MEASURED + 1) };
        let start = self.threads.partition_point(|(other, _)| other[0] < at[0]);
        let (darker, lighter) = self.threads.split_at_checked(start).unwrap_or_default();
        // Lightness alone rules out the rest, once it is farther off than the nearest threads.
        for (other, thread) in darker.iter().rev() {
            if !near.offer(*other, *thread) {
                break;
            }
        }
        for (other, thread) in lighter {
            if !near.offer(*other, *thread) {
                break;
            }
        }
        let near = near.held;
        near.iter().map(|(_, thread)| difference(color, *thread)).fold(f64::INFINITY, f64::min)
    }
}

/// The colors that lie nearest to a point of CIELAB so far, the farthest of them first.
struct Nearest {
    at: Point,
    held: Vec<(f64, Lab)>,
}

impl Nearest {
    /// Offers the next color in the order of lightness; false when none can follow.
    fn offer(&mut self, at: Point, color: Lab) -> bool {
        let reach = match self.held.first() {
            Some(held) if self.held.len() == MEASURED => held.0,
            _ => f64::INFINITY,
        };
        if (at[0] - self.at[0]).powi(2) > reach {
            return false;
        }
        let far = square(self.at, at);
        if far < reach {
            let place = self.held.partition_point(|held| held.0 > far);
            self.held.insert(place, (far, color));
            if self.held.len() > MEASURED {
                self.held.remove(0);
            }
        }
        true
    }
}

/// The square of how far two points of CIELAB lie apart.
fn square([l, a, b]: Point, [m, c, d]: Point) -> f64 {
    (l - m).powi(2) + (a - c).powi(2) + (b - d).powi(2)
}

fn difference(standard: Lab, sample: Lab) -> f64 {
    Formula::DEFAULT.delta_e(Pair { standard, sample }).value()
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "rounded and clamped to 0 to 255"
)]
fn rounded(point: Point) -> Srgb8 {
    let [red, green, blue] = point.map(|part| part.round().clamp(0.0, 255.0) as u8);
    Srgb8::new(red, green, blue)
}
