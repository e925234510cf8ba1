//! Joint substitution: apart, in order of lightness, proved; against all choices on small palettes.

use proptest::prelude::*;

use super::substitution::missing;
use super::*;
use crate::change::{JointReport, Loosened};
use crate::difference::DeltaE;
use crate::math;

fn apart_by(rows: &[usize], min_apart: f64) -> SubstituteOptions {
    SubstituteOptions {
        min_apart: DeltaE::new(min_apart).unwrap(),
        keep_lightness: true,
        keep_outlines: true,
        lights: None,
        ..missing(rows)
    }
}

/// A chart in the first `used` of the threads, of which the first `lost` are missing.
struct Chart {
    threads: Vec<Color>,
    colors: Vec<ChartColor>,
    neighbors: Vec<Neighbors>,
    lost: usize,
}

impl Chart {
    fn random(random: &mut Seeded, (all, used, lost): (usize, usize, usize)) -> Self {
        let threads = random.colors(all);
        Self::in_threads(random, threads, (used, lost))
    }

    /// The missing threads and as many more of the table gone lie around one color, as when a maker
    /// drops a group of shades.
    fn clustered(random: &mut Seeded, (all, used, lost): (usize, usize, usize)) -> Self {
        let mut threads = random.colors(all + 30);
        let center = random.color();
        threads.sort_by(|one, two| apart(center, *one).total_cmp(&apart(center, *two)));
        let mut near: Vec<Color> = threads.drain(..lost + 30).collect();
        near.sort_by_key(|color| color.lab().l().to_bits() % 977);
        near.truncate(lost);
        let mut rest = threads;
        rest.sort_by_key(|color| color.lab().a().to_bits() % 977);
        near.extend(rest);
        Self::in_threads(random, near, (used, lost))
    }

    fn in_threads(random: &mut Seeded, threads: Vec<Color>, (used, lost): (usize, usize)) -> Self {
        let stitches = |random: &mut Seeded| 1 + (random.next().powi(3) * 900.0) as u64;
        let colors = (0..used).map(|row| worked(threads[row], stitches(random), &[row])).collect();
        let mut neighbors = Vec::new();
        for first in 0..used {
            for second in first + 1..used {
                if random.next() < 0.1 {
                    neighbors.push(Neighbors { first, second: Side::Color(second), edges: 5 });
                }
            }
        }
        Self { threads, colors, neighbors, lost }
    }

    fn ask(&self, min_apart: f64) -> ChangeList {
        let rows: Vec<usize> = (0..self.lost).collect();
        let palette = self.palette();
        substitute(
            &catalog_of(&self.threads),
            &palette,
            &ask(),
            &apart_by(&rows, min_apart),
            &Patient,
        )
        .unwrap()
    }

    fn palette(&self) -> PaletteSummary {
        PaletteSummary::new(self.colors.clone(), Some(self.neighbors.clone()), None).unwrap()
    }

    fn touch(&self, one: usize, other: usize) -> bool {
        self.neighbors
            .iter()
            .any(|pair| pair.first == one.min(other) && pair.second == Side::Color(one.max(other)))
    }

    /// True when `row` may stand in for the missing color `place`, beside everything that stays.
    fn suits(&self, place: usize, row: usize, min_apart: f64) -> bool {
        let (old, new) = (self.threads[place], self.threads[row]);
        (self.lost..self.colors.len()).all(|stays| {
            let other = self.threads[stays];
            let rise = old.lab().l() - other.lab().l();
            let step = new.lab().l() - other.lab().l();
            let chroma = |color: Color| math::hypot(color.lab().a(), color.lab().b());
            let gain = chroma(old) - chroma(other);
            let plane =
                math::hypot(old.lab().a() - other.lab().a(), old.lab().b() - other.lab().b());
            let hue = (plane * plane - gain * gain).max(0.0).sqrt();
            let is_step = rise.abs() > 3.0
                && (self.touch(place, stays) || (hue <= 10.0 && gain.abs() <= 25.0));
            apart(new, other) >= min_apart
                && (!is_step || step * rise > 0.0)
                && !(self.touch(place, stays)
                    && apart(old, other) >= 6.0
                    && apart(new, other) < 3.0)
        })
    }

    fn agree(&self, (one, first): (usize, usize), (two, second): (usize, usize), min: f64) -> bool {
        let l = |row: usize| self.threads[row].lab().l();
        let rise = l(one) - l(two);
        let between = apart(self.threads[first], self.threads[second]);
        first != second
            && between >= min
            && (rise.abs() <= 3.0 || (l(first) - l(second)) * rise > 0.0)
            && !(self.touch(one, two)
                && apart(self.threads[one], self.threads[two]) >= 6.0
                && between < 3.0)
    }

    /// The least mean difference over all choices that keep everything; infinite when none does.
    fn best(&self, min_apart: f64, taken: &mut Vec<usize>) -> f64 {
        let place = taken.len();
        if place == self.lost {
            return 0.0;
        }
        let all: u64 = self.colors.iter().map(|color| color.stitches).sum();
        let weight = self.colors[place].stitches as f64 / all as f64;
        let mut best = f64::INFINITY;
        for row in self.colors.len()..self.threads.len() {
            let agrees = |(other, taken): (usize, &usize)| {
                self.agree((other, *taken), (place, row), min_apart)
            };
            if self.suits(place, row, min_apart) && taken.iter().enumerate().all(agrees) {
                taken.push(row);
                let cost = weight * apart(self.threads[place], self.threads[row]);
                best = best.min(cost + self.best(min_apart, taken));
                taken.pop();
            }
        }
        best
    }

    /// The rows that stand in, by missing color.
    fn rows(&self, list: &ChangeList) -> Vec<usize> {
        let row = |place: usize| {
            let name = after(list, place).unwrap();
            name.code.as_str()[2..].parse::<usize>().unwrap()
        };
        (0..self.lost).map(row).collect()
    }

    /// True when the answer keeps everything that was asked for.
    fn holds(&self, list: &ChangeList, min_apart: f64) -> bool {
        let rows = self.rows(list);
        let pairs = (0..self.lost).flat_map(|one| (one + 1..self.lost).map(move |two| (one, two)));
        rows.iter().enumerate().all(|(place, row)| self.suits(place, *row, min_apart))
            && pairs
                .into_iter()
                .all(|(one, two)| self.agree((one, rows[one]), (two, rows[two]), min_apart))
    }
}

fn report(list: &ChangeList) -> &JointReport {
    list.joint.as_ref().unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn equals_the_best_of_all_choices_that_keep_everything(
        seed in any::<u64>(),
        lost in 1_usize..5,
        stay in 0_usize..4,
        spare in 1_usize..9,
        min_apart in 0_u8..60,
    ) {
        let mut random = Seeded(seed);
        let used = lost + stay;
        let chart = Chart::random(&mut random, (used + lost + spare, used, lost));
        let min_apart = f64::from(min_apart) / 2.0;
        let best = chart.best(min_apart, &mut Vec::new());
        let list = chart.ask(min_apart);
        let mean = list.totals.mean_difference.value();
        prop_assert!(list.totals.proved_best);
        if best.is_finite() {
            prop_assert!((mean - best).abs() < 1e-9, "{} and not {}", mean, best);
            prop_assert!(chart.holds(&list, min_apart));
            prop_assert_eq!(&report(&list).loosened, &vec![]);
            prop_assert!(!report(&list).proved_impossible);
        } else {
            prop_assert!(report(&list).proved_impossible);
            prop_assert!(!report(&list).loosened.is_empty());
            let mut rows = chart.rows(&list);
            rows.sort_unstable();
            rows.dedup();
            prop_assert_eq!(rows.len(), lost);
        }
    }
}

#[test]
fn twenty_missing_of_500_keep_everything_and_are_proved_best() {
    let mut work = Vec::new();
    for seed in 0..80 {
        let mut random = Seeded(seed);
        let size = (500, 60, 20);
        let chart = if seed % 2 == 0 {
            Chart::clustered(&mut random, size)
        } else {
            Chart::random(&mut random, size)
        };
        let rows: Vec<usize> = (0..chart.lost).collect();
        let (palette, catalog) = (chart.palette(), catalog_of(&chart.threads));
        let mut meter = Meter::new(&Patient);
        let options = apart_by(&rows, 2.5);
        let list = substitute::run(&catalog, &palette, &ask(), &options, &mut meter).unwrap();
        assert!(list.totals.proved_best, "seed {seed}");
        assert!(chart.holds(&list, 2.5), "seed {seed}");
        assert_eq!(report(&list).loosened, vec![], "seed {seed}");
        assert!(report(&list).steps > 190 && report(&list).reversed_steps == 0, "seed {seed}");
        work.push(meter.worked());
    }
    work.sort_unstable();
    // Steps of the search, looks at clashes among them, never time: the whole budget is 1,500 million.
    assert!(work[78] < 8_000_000 && work[79] < 40_000_000, "{:?}", &work[70..]);
}

#[test]
fn terms_that_cannot_be_met_give_way_in_turn_and_are_said() {
    // Two shades, and only two threads left for them, 2 apart.
    let threads = grays(&[40.0, 50.0, 44.0, 46.0]);
    let colors = vec![worked(threads[0], 9, &[0]), worked(threads[1], 9, &[1])];
    let ask_for = |min_apart| {
        let options = apart_by(&[0, 1], min_apart);
        let palette = summary(colors.clone());
        substitute(&catalog_of(&threads), &palette, &ask(), &options, &Patient).unwrap()
    };
    let between = apart(threads[2], threads[3]);
    let list = ask_for(between * 1.5);
    assert_eq!(report(&list).loosened, vec![Loosened::Apart]);
    assert!(report(&list).proved_impossible && list.totals.proved_best);
    assert_eq!((after(&list, 0), after(&list, 1)), (Some(thread(2)), Some(thread(3))));
    let least = report(&list).least_apart.unwrap().value();
    assert!((least - between).abs() < 1e-12);
    // A thread that is lighter than both leaves only one way round.
    let threads = grays(&[60.0, 50.0, 44.0, 46.0]);
    let colors = vec![worked(threads[0], 1, &[0]), worked(threads[1], 900, &[1])];
    let palette = summary(colors);
    let options = apart_by(&[0, 1], 0.0);
    let list = substitute(&catalog_of(&threads), &palette, &ask(), &options, &Patient).unwrap();
    assert_eq!(report(&list).loosened, vec![]);
    assert_eq!((after(&list, 0), after(&list, 1)), (Some(thread(3)), Some(thread(2))));
}
