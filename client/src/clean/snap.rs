//! What a mix of two colors looks like once it was mapped to the nearest thread of a table.
//! It does not know charts.

use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use dyekin_core::{Color, Difference, Formula, Lab, Srgb8};

use super::mixer::{Fit, Point};

/// Steps on the way from one color to the other.
const STEPS: u8 = 24;

/// Threads whose difference is measured, of those that lie nearest in CIELAB.
const MEASURED: usize = 5;

/// Difference above which two colors make a hard edge. House choice.
const HARD: f64 = 12.0;

/// How much farther than the best thread a color may be from a mix. House choice, tuned on drawings:
/// it asks whether mapping would have given this thread, whatever the table has.
const EXCESS: f64 = 3.0;

/// Weight of the distance itself, so that of two places on the way the nearer one is taken.
const NEARNESS: f64 = 0.15;

/// One place on the way between two colors.
#[derive(Clone, Copy, Debug)]
struct Stop {
    share: f64,
    color: Color,
    /// Difference of the best thread.
    best: f64,
}

/// The places between two colors.
type Way = Rc<Vec<Stop>>;

/// Ways between colors, each looked up once.
#[derive(Debug)]
pub(super) struct Snap {
    threads: Vec<(Lab, Color)>,
    colors: Vec<Color>,
    ways: RefCell<HashMap<(u16, u16), Way>>,
    fits: RefCell<HashMap<(u16, u16, u16), Fit>>,
}

impl Snap {
    pub(super) fn new(colors: &[Srgb8], threads: &[Srgb8]) -> Self {
        let threads = threads.iter().map(|color| (color.to_lab(), Color::screen(*color)));
        Self {
            threads: threads.collect(),
            colors: colors.iter().map(|color| Color::screen(*color)).collect(),
            ways: RefCell::default(),
            fits: RefCell::default(),
        }
    }

    pub(super) fn apart(&self, one: u16, other: u16) -> f64 {
        match (self.colors.get(usize::from(one)), self.colors.get(usize::from(other))) {
            (Some(one), Some(other)) => difference(one, other),
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
        way.iter()
            .map(|stop| {
                let off = difference(own, &stop.color);
                Fit { share: stop.share, miss: (off - stop.best + NEARNESS * off) / EXCESS }
            })
            .min_by(|one, other| one.miss.total_cmp(&other.miss))
            .unwrap_or(nothing)
    }

    fn way(&self, first: u16, second: u16, mix: &dyn Fn(f64) -> Point) -> Way {
        if let Some(way) = self.ways.borrow().get(&(first, second)) {
            return Rc::clone(way);
        }
        let stops = (1..STEPS).map(|step| {
            let share = f64::from(step) / f64::from(STEPS);
            let color = Color::screen(rounded(mix(share)));
            Stop { share, color, best: self.best(&color) }
        });
        let way = Rc::new(stops.collect());
        self.ways.borrow_mut().insert((first, second), Rc::clone(&way));
        way
    }

    /// Difference of the thread that is nearest to a color.
    fn best(&self, color: &Color) -> f64 {
        let lab = color.lab();
        let far = |other: Lab| {
            let (l, a, b) = (lab.l() - other.l(), lab.a() - other.a(), lab.b() - other.b());
            l * l + a * a + b * b
        };
        let mut near: Vec<(f64, &Color)> =
            self.threads.iter().map(|(lab, thread)| (far(*lab), thread)).collect();
        let measured = MEASURED.min(near.len());
        if measured < near.len() {
            near.select_nth_unstable_by(measured, |one, other| one.0.total_cmp(&other.0));
        }
        let near = near.iter().take(measured);
        near.map(|(_, thread)| difference(color, thread)).fold(f64::INFINITY, f64::min)
    }
}

fn difference(one: &Color, other: &Color) -> f64 {
    let found = Difference::between(one, other, Formula::DEFAULT);
    found.map_or(f64::INFINITY, |found| found.delta_e.value())
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
