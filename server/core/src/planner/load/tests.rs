//! The solver of limited columns against every assignment, on problems small enough to try them all.

use super::*;
use crate::planner::median::Beyond;
use crate::seeded::bits;

/// Waits to the end.
struct Unhurried;

impl Pace for Unhurried {
    fn look(&mut self) -> Result<()> {
        Ok(())
    }

    fn tell(&mut self, _: f64, _: f64, _: Option<f64>) {}
}

const EFFORT: Effort = Effort { cells: 200_000_000, nodes: 10_000 };

/// Whole numbers below a limit from a seed, the same everywhere (`SplitMix64`).
struct Seeded(u64);

impl Seeded {
    fn below(&mut self, limit: u64) -> u64 {
        bits(&mut self.0) % limit
    }

    fn part(&mut self, limit: u64) -> f64 {
        self.below(limit * 1_000) as f64 / 1_000.0
    }
}

/// A seeded problem of up to 6 rows and 5 columns, with its costs.
fn small(seed: u64) -> (Vec<Vec<f64>>, Problem) {
    let mut random = Seeded(seed);
    let (rows, columns) = (1 + random.below(6) as usize, 1 + random.below(5) as usize);
    let missing = random.below(3) * 15;
    let mut cell = |_| match random.below(100) < missing {
        true => f64::INFINITY,
        false => random.part(40),
    };
    let costs: Vec<Vec<f64>> = (0..rows).map(|_| (0..columns).map(&mut cell).collect()).collect();
    let weights: Vec<f64> = (0..rows).map(|_| 1.0 + random.part(30)).collect();
    let all: f64 = weights.iter().sum();
    let dear = [0, 8, 40][random.below(3) as usize];
    let tight = [0.4, 0.8, 1.6, 1e9][random.below(4) as usize];
    let column = |_| Column {
        open: if random.below(2) == 0 { 0.0 } else { random.part(dear + 1) },
        piece: if random.below(3) == 0 { 0.0 } else { random.part(dear + 1) },
        yields: 4.0 + random.part(40),
        there: if random.below(3) == 0 { random.part(20) } else { 0.0 },
        holds: tight * all * (0.5 + random.part(1)),
        taken: if random.below(4) == 0 { random.part(6) } else { 0.0 },
        locked: random.below(6) == 0,
    };
    let columns: Vec<Column> = (0..columns).map(column).map(settled).collect();
    let locked = columns.iter().filter(|column| column.locked).count();
    let most = (1 + random.below(columns.len() as u64) as usize).max(locked);
    let listed = |row: &Vec<f64>| {
        let cells = (0_u32..).zip(row).filter(|(_, cost)| cost.is_finite());
        cells.map(|(column, cost)| (*cost, column)).collect()
    };
    let rows: Vec<_> = costs.iter().map(listed).collect();
    let cells = Cells::new(columns.len(), rows, vec![Beyond::NOTHING; costs.len()]);
    (costs, Problem { cells, weights, columns, most, grain: 0.0 })
}

/// What is taken beside the rows is there, and its column is open.
fn settled(column: Column) -> Column {
    Column {
        locked: column.locked || column.taken > 0.0,
        holds: column.holds + column.taken,
        ..column
    }
}

/// The least total over all assignments; `None` when none fits.
fn least(costs: &[Vec<f64>], problem: &Problem) -> Option<f64> {
    let (rows, columns) = (costs.len(), problem.columns.len());
    let total = |mut number: usize| {
        let (mut sum, mut loads, mut used) = (0.0, vec![0.0; columns], vec![false; columns]);
        for (row, weight) in costs.iter().zip(&problem.weights) {
            let column = number % columns;
            number /= columns;
            sum += row[column];
            loads[column] += weight;
            used[column] = true;
        }
        let mut open = 0;
        for (place, column) in problem.columns.iter().enumerate() {
            if !used[place] && !column.locked {
                continue;
            }
            open += 1;
            if loads[place] > (column.holds - column.taken) * (1.0 + 1e-12) {
                return None;
            }
            let wanted = loads[place] + column.taken - column.there;
            let pieces = if wanted > 0.0 { (wanted / column.yields).ceil() } else { 0.0 };
            sum += column.open + column.piece * pieces;
        }
        Some(sum).filter(|sum| sum.is_finite() && open <= problem.most)
    };
    (0..columns.pow(rows as u32)).filter_map(total).min_by(f64::total_cmp)
}

#[test]
fn limits_and_steps_meet_the_best_of_all_assignments() {
    let (mut found, mut impossible) = (0, 0);
    for seed in 0..2_000 {
        let (costs, problem) = small(seed);
        match (solve(&problem, EFFORT, &mut Unhurried).unwrap(), least(&costs, &problem)) {
            (Outcome::Found(answer), Some(best)) => {
                found += 1;
                let close = 1e-8 * best + 1e-9;
                assert!(
                    (answer.total - best).abs() <= close,
                    "{seed}: {answer:?} {best} {problem:?}"
                );
                assert!(answer.proved && answer.bound <= best + close, "{seed}: {}", answer.bound);
                assert!(answer.open.len() <= problem.most, "{seed}");
            }
            (Outcome::Nothing { proved }, None) => {
                impossible += 1;
                assert!(proved, "{seed}");
            }
            (outcome, best) => panic!("{seed}: {outcome:?} but {best:?}"),
        }
    }
    assert!(found > 1_000 && impossible > 200, "{found} {impossible}");
}

#[test]
fn a_bound_without_the_effort_for_a_proof_never_passes_the_best() {
    for seed in 0..600 {
        let (costs, problem) = small(seed);
        let Some(best) = least(&costs, &problem) else { continue };
        let effort = Effort { cells: seed % 50, nodes: 1 };
        if let Outcome::Found(answer) = solve(&problem, effort, &mut Unhurried).unwrap() {
            assert!(answer.bound <= best * (1.0 + 1e-8) + 1e-9, "{seed}: {} {best}", answer.bound);
            assert!(answer.total >= best - 1e-9, "{seed}");
        }
    }
}

#[test]
fn many_rows_in_limited_columns_are_nearly_proved() {
    for (seed, room) in [(1, 1.25), (2, 1.6), (3, 3.0)] {
        let mut random = Seeded(seed);
        let spots = |random: &mut Seeded, count: usize| -> Vec<[f64; 3]> {
            (0..count).map(|_| [random.part(100), random.part(100), random.part(100)]).collect()
        };
        let (rows, columns) = (spots(&mut random, 80), spots(&mut random, 120));
        let weights: Vec<f64> = (0..80).map(|_| 1.0 + random.part(900)).collect();
        let all: f64 = weights.iter().sum();
        let apart = |one: &[f64; 3], two: &[f64; 3]| {
            one.iter().zip(two).map(|(a, b)| (a - b) * (a - b)).sum::<f64>().sqrt()
        };
        let listed = rows.iter().zip(&weights).map(|(row, weight)| {
            let cost = |column: &[f64; 3]| weight / all * apart(row, column);
            columns.iter().map(cost).zip(0_u32..).collect()
        });
        let cells = Cells::new(120, listed.collect(), vec![Beyond::NOTHING; 80]);
        let column = |_| Column {
            open: 0.0,
            piece: if seed == 3 { 0.4 } else { 0.0 },
            yields: 1_500.0,
            there: 0.0,
            holds: room * all / 20.0 * (0.7 + random.part(1) * 0.6),
            taken: 0.0,
            locked: false,
        };
        let columns = (0..120).map(column).collect();
        let problem = Problem { cells, weights, columns, most: 20, grain: 0.0 };
        let outcome = solve(&problem, EFFORT, &mut Unhurried).unwrap();
        let Outcome::Found(answer) = outcome else { panic!("{seed}: {outcome:?}") };
        assert!(answer.bound >= 0.97 * answer.total, "{seed}: {} {}", answer.bound, answer.total);
    }
}
