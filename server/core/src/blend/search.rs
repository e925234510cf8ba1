//! All pairs of one table's threads against one color: exact, and nearly all of them ruled out
//! without computing their color. It does not know what a blend is shown with.
//!
//! 1. A linear stand-in for the difference, cheap in ratios to the white, picks a few pairs; these and
//!    exchanges of one thread in the best of them are scored and give the reach.
//! 2. All colors within reach lie in a box of CIELAB (`index::Around`). Its corners in compressed
//!    ratios are `fy = (L* + 16) / 116`, `fx = fy + a* / 500`, `fz = fy - b* / 200`, and the way from
//!    there to ratios is monotone: the box of ratios holds every mix within reach.
//! 3. A mix `s t1 + (1 - s) t2` lies in that box exactly when t2 lies in another box, so that for each
//!    first thread the second ones are a range search over threads sorted by luminance.
//! 4. What is left gets a lower bound, then the formula, and the reach shrinks.

use std::cmp::Ordering;

use super::{BlendOptions, MAX_THREADS, Parts, average, lab};
use crate::catalog::CatalogTable;
use crate::color::Lab;
use crate::color::xyz::{compressed, expand, ratios};
use crate::difference::{DeltaE, Pair};
use crate::error::{Error, ErrorKind, Result};
use crate::index::{Around, Tally, with_room};
use crate::table::{Finish, Thread};
use crate::watch::Watch;

/// Pairs of the first step beyond those asked for.
const SPARE: usize = 8;

/// Rounds of exchanges; more find nothing on random tables.
const ROUNDS: usize = 4;

/// A squared reach below this share of the one that a box was made for is worth a new box.
const TIGHTER: f64 = 0.7;

/// Bounds taken between two looks at the watch.
const POLL: u64 = 256;

/// Room for rounding of ratios, absolute: they are at most a few units, with errors near 1e-15.
const ROUNDING: f64 = 1e-11;

/// A pair with its exact difference.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found<'c> {
    pub(super) delta_e: DeltaE,
    pub(super) first: &'c Thread,
    pub(super) second: &'c Thread,
    pub(super) parts: Parts,
    /// Places of both in the order of codes.
    rows: (usize, usize),
}

impl Found<'_> {
    /// Difference, first code, second code, parts.
    fn order(&self, other: &Self) -> Ordering {
        self.delta_e
            .order(&other.delta_e)
            .then_with(|| (self.rows, self.parts).cmp(&(other.rows, other.parts)))
    }
}

/// A thread that may take part.
#[derive(Clone, Copy, Debug)]
struct Strand<'c> {
    thread: &'c Thread,
    /// Place in the order of codes.
    row: usize,
    /// Ratios to the white.
    light: [f64; 3],
}

impl Strand<'_> {
    /// Y, by which strands are sorted.
    fn luminance(&self) -> f64 {
        let [_, y, _] = self.light;
        y
    }
}

/// The search of one table for one color.
pub(super) struct Search<'c, 'o> {
    strands: Vec<Strand<'c>>,
    standard: Lab,
    options: &'o BlendOptions,
    watch: &'o dyn Watch,
    around: Around,
    best: Vec<Found<'c>>,
    tally: Tally,
}

impl<'c, 'o> Search<'c, 'o> {
    pub(super) fn new(
        table: &'c CatalogTable,
        standard: Lab,
        options: &'o BlendOptions,
        watch: &'o dyn Watch,
    ) -> Result<Self> {
        let admits = |thread: &Thread| {
            thread.finish == Finish::Plain && options.filter.admits(table.table().id(), thread)
        };
        let strand = |row: usize| {
            let thread = table.thread_at(row).filter(|thread| admits(thread))?;
            Some(Strand { thread, row, light: ratios(thread.color.lab()) })
        };
        let mut strands: Vec<Strand<'c>> =
            (0..table.table().threads().len()).filter_map(strand).collect();
        if strands.len() > MAX_THREADS {
            return Err(Error::new(ErrorKind::OverLimit {
                what: format!("threads of table {} to blend", table.table().id()),
                found: strands.len() as u64,
                limit: MAX_THREADS as u64,
            }));
        }
        strands.sort_by(|left, right| left.luminance().total_cmp(&right.luminance()));
        let lightness = |strand: Option<&Strand<'_>>| {
            strand.map_or_else(|| standard.l(), |strand| strand.thread.color.lab().l())
        };
        let range = (lightness(strands.first()), lightness(strands.last()));
        let around = Around::new(standard, options.formula, range);
        let (best, tally) = (Vec::new(), Tally::default());
        Ok(Self { strands, standard, options, watch, around, best, tally })
    }

    /// The best pairs in order, at most as many as asked for; beyond the limit only the nearest one
    /// is certain to be among them.
    pub(super) fn run(mut self, tally: &mut Tally) -> Result<Vec<Found<'c>>> {
        if self.options.count > 0 {
            self.seed()?;
            self.exchange()?;
            self.sweep()?;
        }
        tally.formula_calls += self.tally.formula_calls;
        tally.bound_calls += self.tally.bound_calls;
        Ok(self.best)
    }

    /// Step 1: pairs that are near by the stand-in.
    fn seed(&mut self) -> Result<()> {
        let stand_in = StandIn::new(self.standard);
        let wanted = self.options.count.saturating_add(SPARE);
        let mut near: Vec<(f64, usize, usize, Parts)> = Vec::new();
        let mut cut = f64::INFINITY;
        for parts in self.options.parts.iter().copied() {
            let share = parts.share();
            for (place, first) in self.strands.iter().enumerate() {
                self.poll()?;
                let from = stand_in.from(first.light.map(|ratio| share * ratio));
                let start = second_from(parts, place);
                for (other, second) in self.strands.iter().enumerate().skip(start) {
                    let squared = from.squared(second.light, 1.0 - share);
                    if squared < cut && other != place {
                        let at = near.partition_point(|held| held.0 <= squared);
                        near.insert(at, (squared, place, other, parts));
                        near.truncate(wanted);
                        cut =
                            near.last().filter(|_| near.len() == wanted).map_or(cut, |last| last.0);
                    }
                }
            }
        }
        near.into_iter()
            .try_for_each(|(_, first, second, parts)| self.consider_places(first, second, parts))
    }

    /// Step 1: exchanges one thread of the best pair until that gains nothing.
    fn exchange(&mut self) -> Result<()> {
        for _ in 0..ROUNDS {
            let Some(best) = self.best.first().copied() else {
                return Ok(());
            };
            let place = |row: usize| self.strands.iter().position(|strand| strand.row == row);
            let (Some(first), Some(second)) = (place(best.rows.0), place(best.rows.1)) else {
                return Ok(());
            };
            for other in 0..self.strands.len() {
                self.consider_places(first, other, best.parts)?;
                self.consider_places(other, second, best.parts)?;
            }
            if self.best.first().is_some_and(|found| found.order(&best).is_eq()) {
                return Ok(());
            }
        }
        Ok(())
    }

    /// Steps 2 to 4.
    fn sweep(&mut self) -> Result<()> {
        let mut made_for = self.cut();
        let mut reach = self.reach_box(made_for);
        for parts in self.options.parts.iter().copied() {
            for place in 0..self.strands.len() {
                self.poll()?;
                if self.cut() < TIGHTER * made_for {
                    made_for = self.cut();
                    reach = self.reach_box(made_for);
                }
                self.sweep_from(place, parts, &reach)?;
            }
        }
        Ok(())
    }

    fn sweep_from(&mut self, place: usize, parts: Parts, reach: &LightBox) -> Result<()> {
        let Some(first) = self.strands.get(place).copied() else {
            return Ok(());
        };
        let wanted = reach.second(first.light, parts.share());
        let luminance = wanted.luminance();
        let start = self
            .strands
            .partition_point(|strand| strand.luminance() < luminance.0)
            .max(second_from(parts, place));
        let mut other = start;
        while let Some(second) = self.strands.get(other).copied() {
            if second.luminance() > luminance.1 {
                break;
            }
            if other != place && wanted.holds(second.light) {
                self.consider(first, second, parts)?;
            }
            other += 1;
        }
        Ok(())
    }

    fn consider_places(&mut self, first: usize, second: usize, parts: Parts) -> Result<()> {
        match (self.strands.get(first).copied(), self.strands.get(second).copied()) {
            (Some(one), Some(other)) if first != second => self.consider(one, other, parts),
            _ => Ok(()),
        }
    }

    /// Step 4: keeps the pair when it is among the best.
    fn consider(&mut self, first: Strand<'c>, second: Strand<'c>, parts: Parts) -> Result<()> {
        self.tally.bound_calls += 1;
        if self.tally.bound_calls.is_multiple_of(POLL) {
            self.poll()?;
        }
        let mixed = average(first.light, second.light, parts.share());
        if self.around.least(compressed(mixed)) > self.cut() {
            return Ok(());
        }
        // A mix that is no CIELAB value cannot be near one.
        let Ok(sample) = lab(mixed) else {
            return Ok(());
        };
        self.tally.formula_calls += 1;
        let delta_e = self.options.formula.delta_e(Pair { standard: self.standard, sample });
        let is_swapped = parts == Parts::OneAndOne && second.row < first.row;
        let (first, second) = if is_swapped { (second, first) } else { (first, second) };
        let rows = (first.row, second.row);
        let found = Found { delta_e, first: first.thread, second: second.thread, parts, rows };
        if let Err(at) = self.best.binary_search_by(|held| held.order(&found)) {
            self.best.insert(at, found);
            self.best.truncate(self.options.count);
        }
        Ok(())
    }

    /// The squared difference above which nothing matters.
    fn cut(&self) -> f64 {
        let full = self.best.len() >= self.options.count;
        let last = self.best.last().filter(|_| full).map(|found| found.delta_e.value());
        let limited = self.options.limit.and_then(|limit| {
            self.best.first().map(|found| limit.value().max(found.delta_e.value()))
        });
        let reach = match (last, limited) {
            (Some(last), Some(limited)) => Some(last.min(limited)),
            (one, other) => one.or(other),
        };
        reach.map_or(f64::INFINITY, |reach| with_room(reach * reach))
    }

    fn reach_box(&self, cut: f64) -> LightBox {
        LightBox::new(self.standard, self.around.half_widths(cut))
    }

    fn poll(&self) -> Result<()> {
        if self.watch.stopped() { Err(Error::new(ErrorKind::Stopped)) } else { Ok(()) }
    }
}

/// The first place that can be the second thread: equal parts need each pair once.
fn second_from(parts: Parts, place: usize) -> usize {
    match parts {
        Parts::OneAndOne => place + 1,
        Parts::TwoAndOne => 0,
    }
}

/// The squared length in CIELAB if compression were linear around the standard.
#[derive(Clone, Copy, Debug)]
struct StandIn {
    light: [f64; 3],
    slopes: [f64; 3],
}

impl StandIn {
    fn new(standard: Lab) -> Self {
        let light = ratios(standard);
        let slopes = light.map(|ratio| {
            // Slope of the cube root; near black that of the line, which it does not exceed.
            let ratio = ratio.max(0.008);
            ratio.cbrt() / (3.0 * ratio)
        });
        Self { light, slopes }
    }

    /// The stand-in with a part of the mix given.
    fn from(&self, part: [f64; 3]) -> Self {
        let [x, y, z] = self.light;
        let [px, py, pz] = part;
        Self { light: [x - px, y - py, z - pz], ..*self }
    }

    fn squared(&self, [x, y, z]: [f64; 3], share: f64) -> f64 {
        let [x0, y0, z0] = self.light;
        let [sx, sy, sz] = self.slopes;
        let fx = sx * (share * x - x0);
        let fy = sy * (share * y - y0);
        let fz = sz * (share * z - z0);
        let (l, a, b) = (116.0 * fy, 500.0 * (fx - fy), 200.0 * (fy - fz));
        l * l + a * a + b * b
    }
}

/// A box of ratios to the white.
#[derive(Clone, Copy, Debug)]
struct LightBox {
    low: [f64; 3],
    high: [f64; 3],
}

impl LightBox {
    /// Step 2.
    fn new(standard: Lab, [l, a, b]: [f64; 3]) -> Self {
        let corner = |sign: f64| {
            let y = (standard.l() + sign * l + 16.0) / 116.0;
            let x = y + (standard.a() + sign * a) / 500.0;
            let z = y - (standard.b() - sign * b) / 200.0;
            [x, y, z].map(|f| expand(f) + sign * ROUNDING)
        };
        Self { low: corner(-1.0), high: corner(1.0) }
    }

    /// Step 3: where the second thread must lie.
    fn second(&self, first: [f64; 3], share: f64) -> Self {
        let rest = |corner: [f64; 3], sign: f64| {
            let [x, y, z] = corner;
            let [x1, y1, z1] = first;
            [(x, x1), (y, y1), (z, z1)]
                .map(|(end, ratio)| (end - share * ratio) / (1.0 - share) + sign * ROUNDING)
        };
        Self { low: rest(self.low, -1.0), high: rest(self.high, 1.0) }
    }

    /// The range of Y.
    fn luminance(&self) -> (f64, f64) {
        let ([_, low, _], [_, high, _]) = (self.low, self.high);
        (low, high)
    }

    fn holds(&self, [x, _, z]: [f64; 3]) -> bool {
        let ([low_x, _, low_z], [high_x, _, high_z]) = (self.low, self.high);
        low_x <= x && x <= high_x && low_z <= z && z <= high_z
    }
}
