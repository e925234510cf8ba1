//! What people do instead of a search: four ways to come to few threads, each finished by giving
//! every color the nearest of the threads that were chosen. It does not know the planner.

use std::collections::BTreeMap;

use dyekin_core::difference::{Formula, Pair};
use dyekin_core::palette::PaletteSummary;
use dyekin_core::table::Table;
use dyekin_core::{Lab, Srgb8};

use crate::instances::Dice;

/// Random starts of k-means; the best one counts.
const STARTS: u64 = 10;

/// Most rounds of one start.
const ROUNDS: usize = 100;

/// A palette and a table with all differences between them.
pub(crate) struct Ground {
    labs: Vec<[f64; 3]>,
    shown: Vec<[f64; 3]>,
    weights: Vec<f64>,
    threads: Vec<Lab>,
    /// Differences of each color from each thread, one color after another.
    differences: Vec<f64>,
}

/// Difference of a sample from a standard.
fn apart(standard: [f64; 3], sample: Lab) -> f64 {
    let [l, a, b] = standard;
    let standard = Lab::new(l, a, b).expect("a color in range");
    Formula::DEFAULT.delta_e(Pair { standard, sample }).value()
}

impl Ground {
    pub(crate) fn new(palette: &PaletteSummary, table: &Table) -> Self {
        let all = palette.stitches() as f64;
        let labs: Vec<Lab> = palette.colors().iter().map(|color| color.color.lab()).collect();
        let threads: Vec<Lab> = table.threads().iter().map(|thread| thread.color.lab()).collect();
        let shown = |shown: Srgb8| [shown.red, shown.green, shown.blue].map(f64::from);
        let labs: Vec<[f64; 3]> = labs.iter().map(|lab| [lab.l(), lab.a(), lab.b()]).collect();
        let differences =
            labs.iter().flat_map(|lab| threads.iter().map(|to| apart(*lab, *to))).collect();
        Self {
            shown: palette.colors().iter().map(|color| shown(color.color.srgb())).collect(),
            weights: palette.colors().iter().map(|color| color.stitches as f64 / all).collect(),
            labs,
            threads,
            differences,
        }
    }

    fn row(&self, color: usize) -> &[f64] {
        let width = self.threads.len();
        &self.differences[color * width..(color + 1) * width]
    }

    fn nearest(&self, color: usize) -> usize {
        least(self.row(color).iter().copied().enumerate()).expect("a thread")
    }

    /// Mean difference when every color gets the nearest of these threads.
    fn mean(&self, threads: &[usize]) -> f64 {
        let cost = |color: usize| {
            let row = self.row(color);
            threads.iter().map(|thread| row[*thread]).fold(f64::INFINITY, f64::min)
        };
        (0..self.labs.len()).map(|color| self.weights[color] * cost(color)).sum()
    }

    /// The nearest thread of every color; of these the ones with most stitches stay.
    pub(crate) fn nearest_each(&self, most: usize) -> f64 {
        let mut used = self.used();
        used.sort_by(|one, two| two.1.total_cmp(&one.1));
        self.mean(&used.iter().take(most).map(|(thread, _)| *thread).collect::<Vec<_>>())
    }

    /// The nearest thread of every color; then the pair with the least difference times the stitches
    /// of the smaller one becomes one, again and again.
    pub(crate) fn pair_merging(&self, most: usize) -> f64 {
        let mut used = self.used();
        while used.len() > most {
            let (mut best, mut pair) = (f64::INFINITY, (0, 0));
            for (place, (one, first)) in used.iter().enumerate() {
                for (other, (two, second)) in used.iter().enumerate().skip(place + 1) {
                    let at = self.threads[*one];
                    let cost = apart([at.l(), at.a(), at.b()], self.threads[*two]);
                    let cost = cost * first.min(*second);
                    if cost < best {
                        (best, pair) = (cost, (place, other));
                    }
                }
            }
            let (one, other) = pair;
            let (gone, stays) = if used[one].1 < used[other].1 { pair } else { (other, one) };
            used[stays].1 += used[gone].1;
            used.remove(gone);
        }
        self.mean(&used.iter().map(|(thread, _)| *thread).collect::<Vec<_>>())
    }

    /// Threads that are nearest to some color, with the weight of their colors.
    fn used(&self) -> Vec<(usize, f64)> {
        let mut used: BTreeMap<usize, f64> = BTreeMap::new();
        for color in 0..self.labs.len() {
            *used.entry(self.nearest(color)).or_default() += self.weights[color];
        }
        used.into_iter().collect()
    }

    /// Weighted k-means in CIELAB from seeded k-means++ starts; each mean becomes its nearest thread.
    pub(crate) fn k_means(&self, most: usize) -> f64 {
        let one = |start: u64| {
            let mut means = self.spread(most, &mut Dice(start));
            for _ in 0..ROUNDS {
                let next = self.moved(&means);
                if next == means {
                    break;
                }
                means = next;
            }
            self.snapped(&means)
        };
        (0..STARTS).map(one).fold(f64::INFINITY, f64::min)
    }

    /// Starting means: each next one far from the others with a chance by squared distance.
    fn spread(&self, most: usize, dice: &mut Dice) -> Vec<[f64; 3]> {
        let mut far = vec![1.0; self.labs.len()];
        let mut means = Vec::new();
        while means.len() < most.min(self.labs.len()) {
            let sum: f64 = far.iter().zip(&self.weights).map(|(far, weight)| far * weight).sum();
            let mut drawn = dice.roll(0, u64::from(u32::MAX)) as f64 / f64::from(u32::MAX) * sum;
            let place = far.iter().zip(&self.weights).position(|(far, weight)| {
                drawn -= far * weight;
                drawn <= 0.0
            });
            let mean = self.labs[place.unwrap_or(0)];
            means.push(mean);
            for (far, lab) in far.iter_mut().zip(&self.labs) {
                let apart = squared(*lab, mean);
                *far = if means.len() == 1 { apart } else { far.min(apart) };
            }
        }
        means
    }

    fn moved(&self, means: &[[f64; 3]]) -> Vec<[f64; 3]> {
        let mut sums = vec![[0.0; 4]; means.len()];
        for (lab, weight) in self.labs.iter().zip(&self.weights) {
            let apart = means.iter().map(|mean| squared(*lab, *mean)).enumerate();
            let sum = &mut sums[least(apart).expect("a mean")];
            for (sum, value) in sum.iter_mut().zip(lab) {
                *sum += weight * value;
            }
            sum[3] += weight;
        }
        let mean = |([l, a, b, weight], old): (&[f64; 4], &[f64; 3])| match *weight > 0.0 {
            true => [l / weight, a / weight, b / weight],
            false => *old,
        };
        sums.iter().zip(means).map(mean).collect()
    }

    fn snapped(&self, means: &[[f64; 3]]) -> f64 {
        let nearest = |mean: &[f64; 3]| {
            least(self.threads.iter().map(|thread| apart(*mean, *thread)).enumerate())
        };
        self.mean(&means.iter().filter_map(nearest).collect::<Vec<_>>())
    }

    /// Median cut of sRGB by stitches: the box with most stitches times its longest edge is cut; the
    /// mean of each box becomes its nearest thread.
    pub(crate) fn median_cut(&self, most: usize) -> f64 {
        let mut boxes: Vec<Vec<usize>> = vec![(0..self.shown.len()).collect()];
        while boxes.len() < most {
            let worth = |colors: &Vec<usize>| self.longest(colors).1 * self.weight(colors);
            let widest = boxes.iter().enumerate().filter(|(_, colors)| colors.len() > 1);
            let Some(widest) = least(widest.map(|(place, colors)| (place, -worth(colors)))) else {
                break;
            };
            let mut colors = boxes.swap_remove(widest);
            let axis = self.longest(&colors).0;
            colors.sort_by(|one, two| self.shown[*one][axis].total_cmp(&self.shown[*two][axis]));
            let half = self.weight(&colors) / 2.0;
            let mut sum = 0.0;
            let cut = colors.iter().position(|color| {
                sum += self.weights[*color];
                sum >= half
            });
            let upper = colors.split_off((cut.unwrap_or(0) + 1).min(colors.len() - 1));
            boxes.extend([colors, upper]);
        }
        let mean = |colors: &Vec<usize>| {
            let weight = self.weight(colors);
            let of = |axis: usize| {
                let sum: f64 =
                    colors.iter().map(|at| self.weights[*at] * self.shown[*at][axis]).sum();
                (sum / weight).round() as u8
            };
            let lab = Srgb8::new(of(0), of(1), of(2)).to_lab();
            [lab.l(), lab.a(), lab.b()]
        };
        self.snapped(&boxes.iter().map(mean).collect::<Vec<_>>())
    }

    fn weight(&self, colors: &[usize]) -> f64 {
        colors.iter().map(|color| self.weights[*color]).sum()
    }

    /// The axis along which the colors lie farthest apart, and how far.
    fn longest(&self, colors: &[usize]) -> (usize, f64) {
        let edge = |axis: usize| {
            let along = colors.iter().map(|color| self.shown[*color][axis]);
            let (low, high) = along.fold((f64::INFINITY, 0.0_f64), |(low, high), value| {
                (low.min(value), high.max(value))
            });
            (axis, high - low)
        };
        (0..3).map(edge).max_by(|one, two| one.1.total_cmp(&two.1)).expect("three axes")
    }
}

fn squared(one: [f64; 3], two: [f64; 3]) -> f64 {
    one.iter().zip(&two).map(|(one, two)| (one - two) * (one - two)).sum()
}

fn least(values: impl Iterator<Item = (usize, f64)>) -> Option<usize> {
    values.min_by(|one, two| one.1.total_cmp(&two.1)).map(|(place, _)| place)
}
