//! How sharpening spreads a color over its neighbors, learned from the chart itself, and what that
//! says about the colors. It does not know how the cells were given to colors before.

use super::Cells;
use super::least::Least;
use super::mixer::{Mixer, Point, along, length, minus, plus};
use super::raster::Raster;
use super::settled::{Settled, color_at};

/// Kinds of neighbors by their rows and columns away: itself, beside, corner, two away and so on.
const KINDS: usize = 6;

/// Neighbors of each kind.
const COUNTS: [f64; KINDS] = [1.0, 4.0, 4.0, 4.0, 8.0, 4.0];

/// How strongly a neighbor of each kind disturbs a cell, as far as the shares are not known exactly.
const DISTURBS: [f64; KINDS] = [0.0, 0.12, 0.12, 0.036, 0.036, 0.036];

/// Rounds of learning. The first takes every cell for one of a single color; those after it know better
/// what the cells are made of.
const ROUNDS: usize = 3;

/// Rounds within such a round; each forgives the cells that fit badly a little more.
const FORGIVING: usize = 3;

/// Part of the contrast around a cell that the model may be off, in learning and in comparing two
/// explanations. House choices, tuned on drawings.
const NOISE: (f64, f64) = (0.5, 0.3);

/// Units within which a color may be a shade of another one. House choice.
const SHADE: f64 = 45.0;

/// What a color must explain to be kept apart from its shade, in all and for each of its cells, in
/// squares of the noise. House choices, tuned on drawings.
const SPARE: (f64, f64) = (5.0, 0.05);

/// Misses of so many times the noise and more count on a line instead of a square.
const OUTLIER: f64 = 2.0;

/// Share of another color up to which a cell counts as one of its own color alone.
const PURE: f64 = 0.1;

/// Of cells that have their own color all around, each so-manieth counts, and for so many.
const FLAT: usize = 8;

/// [`FLAT`] as a weight.
const FLAT_WEIGHT: f64 = 8.0;

/// Windows that are needed to learn anything.
const LEAST: usize = 50;

/// What a cell is made of, as far as two colors can say: the color that it was given to, another one
/// beside it, and the share of that.
#[derive(Clone, Copy, Debug)]
struct Made {
    own: usize,
    other: usize,
    share: f64,
}

impl Made {
    /// Of one color alone.
    fn whole(own: usize) -> Self {
        Self { own, other: own, share: 0.0 }
    }
}

/// The settled colors around a cell by their numbers, and how much of each kind of neighbor they are.
type Around = Vec<(usize, [f64; KINDS])>;

/// A cell of one color with its surroundings.
#[derive(Debug)]
struct Window {
    seen: Point,
    own: usize,
    around: Around,
    weight: f64,
}

/// What was learned.
#[derive(Debug)]
pub(super) struct Model {
    /// Weight of each kind of neighbor.
    weights: [f64; KINDS],
    /// Settled colors, and where each lies.
    colors: Vec<(u16, Point)>,
    windows: Vec<Window>,
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
        let numbers: Vec<Option<usize>> = labels
            .iter()
            .map(|label| label.and_then(|label| colors.iter().position(|held| held.0 == label)))
            .collect();
        let seen = |place: usize| color_at(cells, place).map(|color| mixer.point(color));
        let mut model =
            Self { weights: [1.0, 0.0, 0.0, 0.0, 0.0, 0.0], colors, windows: Vec::new() };
        for round in 0..ROUNDS {
            let made: Vec<Option<Made>> = (0..labels.len())
                .map(|place| {
                    if round == 0 {
                        return Some(Made::whole(numbers.get(place).copied().flatten()?));
                    }
                    model.made(raster, &numbers, place, seen(place)?)
                })
                .collect();
            let windows =
                (0..labels.len()).filter_map(|place| window(raster, &made, place, seen(place)?));
            model.windows = windows.collect();
            if model.windows.len() < LEAST {
                return None;
            }
            for _ in 0..FORGIVING {
                let trust: Vec<f64> =
                    model.windows.iter().map(|window| model.trust(window)).collect();
                model.learn_weights(&trust)?;
                model.learn_colors(&trust)?;
            }
        }
        Some(model)
    }

    /// What a cell is made of.
    fn made(
        &self,
        raster: Raster,
        numbers: &[Option<usize>],
        place: usize,
        seen: Point,
    ) -> Option<Made> {
        let own = numbers.get(place).copied().flatten()?;
        let mut made = Made::whole(own);
        let mut best = f64::INFINITY;
        for near in raster.around(place, 1) {
            let Some(other) = numbers.get(near).copied().flatten() else { continue };
            if other == own || other == made.other {
                continue;
            }
            let way = minus(self.at(other), self.at(own));
            let from = minus(seen, self.at(own));
            let share = along(from, way, [1.0; 3]).clamp(0.0, 1.0);
            let off = length(plus(from, way, -share));
            if off < best {
                best = off;
                made = Made { own, other, share };
            }
        }
        Some(made)
    }

    /// What a cell looks like by the model.
    fn expected(&self, around: &Around) -> Point {
        let mut sum = [0.0; 3];
        for (number, counts) in around {
            sum = plus(sum, self.at(*number), self.weight(counts));
        }
        sum
    }

    /// Where the settled color of this number lies.
    fn at(&self, number: usize) -> Point {
        self.colors.get(number).map(|held| held.1).unwrap_or_default()
    }

    /// What neighbors of these kinds weigh together.
    fn weight(&self, counts: &[f64; KINDS]) -> f64 {
        self.weights.iter().zip(counts).map(|(weight, count)| weight * count).sum()
    }

    /// How different the colors around a cell are from its own, as far as they disturb it.
    fn contrast(&self, window: &Window) -> f64 {
        let own = self.at(window.own);
        let part = |(number, counts): &(usize, [f64; KINDS])| {
            disturbs(counts) * length(minus(self.at(*number), own))
        };
        window.around.iter().map(part).sum()
    }

    fn off(&self, window: &Window) -> f64 {
        let expected = self.expected(&window.around).map(|part| part.clamp(0.0, 255.0));
        length(minus(expected, window.seen))
    }

    fn trust(&self, window: &Window) -> f64 {
        let noise = 1.0 + NOISE.0 * self.contrast(window);
        window.weight / (noise * noise) / (self.off(window) / (OUTLIER * noise)).max(1.0)
    }

    fn learn_weights(&mut self, trust: &[f64]) -> Option<()> {
        let mut system = Least::of(KINDS);
        for (window, trust) in self.windows.iter().zip(trust) {
            let mut parts = [[0.0; 3]; KINDS];
            for (number, counts) in &window.around {
                let point = self.at(*number);
                for (sum, count) in parts.iter_mut().zip(counts) {
                    *sum = plus(*sum, point, *count);
                }
            }
            for (channel, seen) in window.seen.into_iter().enumerate() {
                if seen <= 0.0 || seen >= 255.0 {
                    continue;
                }
                let mut row = [(0, 0.0); KINDS];
                for (kind, (held, sum)) in row.iter_mut().zip(&parts).enumerate() {
                    *held = (kind, sum.get(channel).copied().unwrap_or_default());
                }
                system.add(&row, [seen, 0.0, 0.0], *trust);
            }
        }
        let found = system.solve()?;
        let all: f64 = found.iter().zip(COUNTS).map(|(row, count)| row[0] * count).sum();
        if !(0.5..2.0).contains(&all) {
            return None;
        }
        for (weight, row) in self.weights.iter_mut().zip(&found) {
            *weight = row[0] / all;
        }
        Some(())
    }

    fn learn_colors(&mut self, trust: &[f64]) -> Option<()> {
        let mut system = Least::of(self.colors.len());
        let mut row: Vec<(usize, f64)> = Vec::new();
        for (window, trust) in self.windows.iter().zip(trust) {
            row.clear();
            row.extend(window.around.iter().map(|(number, counts)| (*number, self.weight(counts))));
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

    /// Colors that are only shades of others, each with the color that it is a shade of; none of those
    /// is in turn a shade. Never one that lies `flat` somewhere.
    pub(super) fn shades(&self, flat: &[bool]) -> Vec<(u16, u16)> {
        let sight = Sight::of(self);
        let mut found: Vec<(f64, usize, usize)> = Vec::new();
        for (gone, (color, _)) in self.colors.iter().enumerate() {
            if flat.get(usize::from(*color)).copied().unwrap_or_default() {
                continue;
            }
            let into = (0..self.colors.len()).filter(|into| sight.may_join(gone, *into));
            let best = into
                .filter(|into| length(minus(self.at(gone), self.at(*into))) <= SHADE)
                .map(|into| (self.price(&sight, gone, into), into))
                .min_by(|one, other| one.0.total_cmp(&other.0));
            found.extend(best.filter(|best| best.0 < 1.0).map(|(price, into)| (price, gone, into)));
        }
        found.sort_by(|one, other| one.0.total_cmp(&other.0));
        let mut taken = vec![false; self.colors.len()];
        let mut shades = Vec::new();
        for (_, gone, into) in found {
            let is_taken = |number: usize| taken.get(number).copied().unwrap_or(true);
            if is_taken(gone) || is_taken(into) {
                continue;
            }
            for number in [gone, into] {
                if let Some(held) = taken.get_mut(number) {
                    *held = true;
                }
            }
            if let (Some(gone), Some(into)) = (self.colors.get(gone), self.colors.get(into)) {
                shades.push((gone.0, into.0));
            }
        }
        shades
    }

    /// How much worse the chart is explained with one color in place of another, as a part of what a
    /// color of its own must be worth.
    fn price(&self, sight: &Sight<'_>, gone: usize, into: usize) -> f64 {
        let worth = SPARE.0.max(SPARE.1 * sight.own(gone));
        let shift = minus(self.at(into), self.at(gone));
        let mut price = 0.0;
        for window in sight.windows(gone) {
            let noise = 1.0 + NOISE.1 * self.joined(window, gone, into);
            let share = window.around.iter().find(|held| held.0 == gone);
            let share = share.map_or(0.0, |held| self.weight(&held.1));
            let apart = self.expected(&window.around);
            let miss = |expected: Point| {
                let shown = expected.map(|part| part.clamp(0.0, 255.0));
                let miss = length(minus(shown, window.seen)) / noise;
                if miss < OUTLIER { miss * miss } else { OUTLIER * (2.0 * miss - OUTLIER) }
            };
            price += window.weight * (miss(plus(apart, shift, share)) - miss(apart));
            if price > 40.0 * worth {
                break;
            }
        }
        price / worth
    }

    /// The contrast of a window with one color in place of another.
    fn joined(&self, window: &Window, gone: usize, into: usize) -> f64 {
        let as_joined = |number: usize| if number == gone { into } else { number };
        let own = self.at(as_joined(window.own));
        let part = |(number, counts): &(usize, [f64; KINDS])| {
            disturbs(counts) * length(minus(self.at(as_joined(*number)), own))
        };
        window.around.iter().map(part).sum()
    }
}

/// Which windows show which colors.
struct Sight<'m> {
    by_color: Vec<Vec<&'m Window>>,
    own: Vec<f64>,
}

impl<'m> Sight<'m> {
    fn of(model: &'m Model) -> Self {
        let count = model.colors.len();
        let mut sight = Self { by_color: vec![Vec::new(); count], own: vec![0.0; count] };
        for window in &model.windows {
            if let Some(own) = sight.own.get_mut(window.own) {
                *own += window.weight;
            }
            for (number, _) in &window.around {
                if let Some(held) = sight.by_color.get_mut(*number) {
                    held.push(window);
                }
            }
        }
        sight
    }

    /// Cells of a color.
    fn own(&self, number: usize) -> f64 {
        self.own.get(number).copied().unwrap_or_default()
    }

    fn windows(&self, number: usize) -> &[&'m Window] {
        self.by_color.get(number).map_or(&[], Vec::as_slice)
    }

    /// A color is a shade of one that has at least as many cells.
    fn may_join(&self, gone: usize, into: usize) -> bool {
        gone != into && self.own(gone) <= self.own(into)
    }
}

/// How strongly neighbors of these kinds disturb a cell.
fn disturbs(counts: &[f64; KINDS]) -> f64 {
    counts.iter().zip(DISTURBS).map(|(count, part)| count * part).sum()
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

/// A cell of one color with what the cells around are made of; beyond the edge the nearest cell counts
/// again. `None` for other cells, and when one beside it has no color.
fn window(raster: Raster, made: &[Option<Made>], place: usize, seen: Point) -> Option<Window> {
    let at = |place: usize| made.get(place).copied().flatten();
    let center = at(place).filter(|made| made.share <= PURE)?;
    let own = center.own;
    let is_own = |place: usize| at(place).is_some_and(|made| made.own == own && made.other == own);
    let is_flat = is_own(place) && raster.around(place, 2).all(is_own);
    if is_flat && !place.is_multiple_of(FLAT) {
        return None;
    }
    let mut around: Around = Vec::with_capacity(4);
    for down in -2..=2_isize {
        for right in -2..=2_isize {
            let kind = kind(right.unsigned_abs(), down.unsigned_abs());
            let part = match at(raster.near(place, right, down)) {
                Some(made) => made,
                None if kind <= 2 => return None,
                None => Made::whole(own),
            };
            add(&mut around, part.own, kind, 1.0 - part.share);
            if part.share > 0.0 {
                add(&mut around, part.other, kind, part.share);
            }
        }
    }
    let weight = if is_flat { FLAT_WEIGHT } else { 1.0 };
    Some(Window { seen, own, around, weight })
}

/// Adds a part of a neighbor.
fn add(around: &mut Around, number: usize, kind: usize, share: f64) {
    let held = match around.iter().position(|held| held.0 == number) {
        Some(known) => around.get_mut(known),
        None => {
            around.push((number, [0.0; KINDS]));
            around.last_mut()
        }
    };
    if let Some(count) = held.and_then(|held| held.1.get_mut(kind)) {
        *count += share;
    }
}
