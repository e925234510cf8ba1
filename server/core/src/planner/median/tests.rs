//! The solver against every choice, on problems small enough to try them all.

use super::*;
use crate::seeded::bits;

mod orlib;

/// Waits to the end.
struct Unhurried;

impl Pace for Unhurried {
    fn look(&mut self) -> Result<()> {
        Ok(())
    }

    fn tell(&mut self, _: f64, _: f64, _: Option<f64>) {}
}

const EFFORT: Effort = Effort { cells: 100_000_000, nodes: 10_000 };

/// Whole numbers below a limit from a seed, the same everywhere (`SplitMix64`).
struct Seeded(u64);

impl Seeded {
    fn below(&mut self, limit: u64) -> u64 {
        bits(&mut self.0) % limit
    }
}

/// Rows of costs as a problem; infinite cells cannot be used.
fn problem(rows: &[Vec<f64>], prices: Vec<f64>, most: usize, grain: f64) -> Problem {
    let columns = prices.len();
    let listed = |row: &Vec<f64>| {
        let cells = (0_u32..).zip(row).filter(|(_, cost)| cost.is_finite());
        cells.map(|(column, cost)| (*cost, column)).collect()
    };
    Problem {
        cells: Cells::new(
            columns,
            rows.iter().map(listed).collect(),
            vec![Beyond::NOTHING; rows.len()],
        ),
        prices,
        locked: vec![false; columns],
        most,
        grain,
    }
}

/// A seeded problem of up to 9 rows and 10 columns, with its rows.
fn small(seed: u64) -> (Vec<Vec<f64>>, Problem) {
    let mut random = Seeded(seed);
    let (rows, columns) = (1 + random.below(9), 1 + random.below(10));
    let missing = random.below(3) * 20;
    let range = [8, 1_000_000][random.below(2) as usize];
    let mut cell = |_| match random.below(100) < missing {
        true => f64::INFINITY,
        false => random.below(range) as f64 / 7.0,
    };
    let costs: Vec<Vec<f64>> = (0..rows).map(|_| (0..columns).map(&mut cell).collect()).collect();
    let dear = [0, 3, 900_000][random.below(3) as usize];
    let prices = (0..columns).map(|_| random.below(dear + 1) as f64).collect();
    let most = 1 + random.below(columns) as usize;
    let mut problem = problem(&costs, prices, most, 0.0);
    if random.below(3) == 0 {
        problem.locked[random.below(columns) as usize] = true;
    }
    (costs, problem)
}

/// The least total over all choices; `None` when none serves every row.
fn least(costs: &[Vec<f64>], problem: &Problem, most: usize) -> Option<f64> {
    let columns = problem.prices.len();
    let is_open = |set: u32, column: usize| set >> column & 1 == 1;
    let sets = (1_u32..1 << columns).filter(|set| {
        set.count_ones() as usize <= most
            && (0..columns).all(|column| !problem.locked[column] || is_open(*set, column))
    });
    let total = |set: u32| {
        let open = (0..columns).filter(|column| is_open(set, *column));
        let prices: f64 = open.clone().map(|column| problem.prices[column]).sum();
        let nearest =
            |row: &Vec<f64>| open.clone().map(|open| row[open]).fold(f64::INFINITY, f64::min);
        prices + costs.iter().map(nearest).sum::<f64>()
    };
    sets.map(total).filter(|total| total.is_finite()).min_by(f64::total_cmp)
}

#[test]
fn prices_locks_and_missing_cells_meet_the_best_of_all_choices() {
    let (mut found, mut impossible) = (0, 0);
    for seed in 0..3_000 {
        let (costs, problem) = small(seed);
        let best = least(&costs, &problem, problem.most);
        match (solve(&problem, EFFORT, &mut Unhurried).unwrap(), best) {
            (Outcome::Found(solution), Some(best)) => {
                found += 1;
                let close = 1e-8 * best + 1e-12;
                assert!(
                    (solution.total - best).abs() <= close,
                    "{seed}: {} {best}",
                    solution.total
                );
                assert!(solution.proved, "{seed}");
                assert!(solution.open.len() <= problem.most, "{seed}");
                let seats = solution.seats.iter().zip(&costs).map(|(seat, row)| row[*seat]);
                let prices = solution.open.iter().map(|column| problem.prices[*column]);
                let total = seats.sum::<f64>() + prices.sum::<f64>();
                assert!((total - solution.total).abs() <= close, "{seed}");
            }
            (Outcome::Impossible { fewest, at_least }, None) => {
                impossible += 1;
                let counts = 1..=problem.prices.len();
                let needed =
                    counts.into_iter().find(|most| least(&costs, &problem, *most).is_some());
                assert_eq!(fewest, needed, "{seed}");
                assert!(at_least > problem.most, "{seed}");
            }
            (outcome, best) => panic!("{seed}: {outcome:?} but {best:?}"),
        }
    }
    assert!(found > 1_000 && impossible > 300, "{found} {impossible}");
}

#[test]
fn lists_that_leave_cells_out_still_bound_all_of_them() {
    let mut proved = 0;
    for seed in 0..2_000 {
        let (costs, whole) = small(seed);
        let listed = 1 + seed as usize % 4;
        let mut beyond = Vec::new();
        let rows = costs.iter().map(|row| {
            let mut cells: Vec<(f64, u32)> =
                row.iter().copied().zip(0_u32..).filter(|(cost, _)| cost.is_finite()).collect();
            cells.sort_by(|one, two| one.0.total_cmp(&two.0));
            let (least, most) = (cells.get(listed).copied(), cells.last().copied());
            beyond.push(match (least, most) {
                (Some((least, _)), Some((most, _))) => Beyond { least, most },
                _ => Beyond::NOTHING,
            });
            cells.truncate(listed);
            cells
        });
        let rows: Vec<_> = rows.collect();
        let cells = Cells::new(whole.prices.len(), rows, beyond);
        let problem = Problem { cells, ..whole };
        let Some(best) = least(&costs, &problem, problem.most) else { continue };
        let outcome = solve(&problem, EFFORT, &mut Unhurried).unwrap();
        if let Outcome::Found(solution) = outcome {
            assert!(solution.bound <= best * (1.0 + 1e-8), "{seed}: {} {best}", solution.bound);
            proved += u32::from(solution.proved);
        }
    }
    assert!(proved > 500, "{proved}");
}

#[test]
fn nothing_to_serve_opens_only_what_is_locked() {
    let mut problem = problem(&[], vec![2.0, 3.0], 2, 0.0);
    problem.locked[1] = true;
    let outcome = solve(&problem, EFFORT, &mut Unhurried).unwrap();
    let Outcome::Found(solution) = outcome else { panic!("{outcome:?}") };
    assert_eq!((solution.open, solution.total, solution.proved), (vec![1], 3.0, true));
}
