//! The published instances of the OR-Library, when `DYEKIN_ORLIB` names the folder that holds them.
//! It does not carry them.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Instant;

use super::*;
use crate::planner::assignment::{Domains, Grid, Seats};
use crate::planner::meter::Meter;
use crate::watch::Patient;

const EFFORT: Effort = Effort { cells: 20_000_000_000, nodes: 100_000 };

fn folder() -> Option<PathBuf> {
    let folder = std::env::var_os("DYEKIN_ORLIB").map(PathBuf::from);
    if folder.is_none() {
        println!("DYEKIN_ORLIB names no folder: nothing was checked");
    }
    folder
}

fn numbers(path: &Path) -> Vec<f64> {
    let text = std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{path:?}: {error}"));
    text.split_whitespace().map(|word| word.parse().unwrap()).collect()
}

/// Edges `i j cost`, of a repeated one the last counts; shortest paths are the costs.
fn median_of(path: &Path) -> Problem {
    let numbers = numbers(path);
    let [n, _, most] = numbers[..3] else { panic!("a head of three numbers") };
    let (n, most) = (n as usize, most as usize);
    let mut costs = vec![vec![f64::INFINITY; n]; n];
    for edge in numbers[3..].chunks_exact(3) {
        let (i, j) = (edge[0] as usize - 1, edge[1] as usize - 1);
        costs[i][j] = edge[2];
        costs[j][i] = edge[2];
    }
    for middle in 0..n {
        costs[middle][middle] = 0.0;
        let through = costs[middle].clone();
        for row in &mut costs {
            let first = row[middle];
            if first.is_finite() {
                for (cost, second) in row.iter_mut().zip(&through) {
                    *cost = cost.min(first + second);
                }
            }
        }
    }
    problem(&costs, vec![0.0; n], most, 1.0)
}

fn solved(problem: &Problem) -> Solution {
    match solve(problem, EFFORT, &mut Unhurried).unwrap() {
        Outcome::Found(solution) => solution,
        Outcome::Impossible { .. } => panic!("every column serves every row"),
    }
}

/// Optima: Beasley, EJOR 21 (1985) 270-273, Table 2, from the library's own list.
#[test]
fn orlib_medians_are_proved_at_the_published_optimum() {
    let Some(folder) = folder() else { return };
    let list = std::fs::read_to_string(folder.join("pmedopt.txt")).unwrap();
    let optima: BTreeMap<String, f64> = list
        .lines()
        .filter_map(|line| line.trim().split_once(char::is_whitespace))
        .filter_map(|(name, value)| Some((name.to_owned(), value.trim().parse().ok()?)))
        .collect();
    let mut wrong = Vec::new();
    for number in 1..=40 {
        let name = format!("pmed{number}");
        let problem = median_of(&folder.join(format!("{name}.txt")));
        let start = Instant::now();
        let solution = solved(&problem);
        println!(
            "{name}: {} of {}, bound {:.3}, {}, {:.3} s",
            solution.total,
            optima[&name],
            solution.bound,
            if solution.proved { "proved" } else { "not proved" },
            start.elapsed().as_secs_f64()
        );
        if !solution.proved || solution.total != optima[&name] {
            wrong.push(name);
        }
    }
    assert!(wrong.is_empty(), "not at the published optimum, or not proved: {wrong:?}");
}

/// Optimum 932,615.750 (Beasley, OR-Library, capacities not counted): m n, then a capacity and a
/// price for each site, then for each client its demand and the cost of serving it whole from each.
#[test]
fn orlib_sites_with_prices_are_proved_at_the_published_optimum() {
    let Some(folder) = folder() else { return };
    let numbers = numbers(&folder.join("cap71.txt"));
    let (sites, clients) = (numbers[0] as usize, numbers[1] as usize);
    let heads = &numbers[2..2 + 2 * sites];
    let prices = heads.chunks_exact(2).map(|head| head[1]).collect();
    let rows: Vec<Vec<f64>> =
        numbers[2 + 2 * sites..].chunks_exact(1 + sites).map(|row| row[1..].to_vec()).collect();
    assert_eq!(rows.len(), clients);
    let solution = solved(&problem(&rows, prices, sites, 0.0));
    println!("cap71: {} of 932615.750, bound {:.3}", solution.total, solution.bound);
    assert!(solution.proved && (solution.total - 932_615.750).abs() < 1e-3);
}

/// Optimum 305 (Beasley, OR-Library): n, then n rows of n costs.
#[test]
fn orlib_assignment_is_solved_at_the_published_optimum() {
    let Some(folder) = folder() else { return };
    let numbers = numbers(&folder.join("assign100.txt"));
    let columns = numbers[0] as usize;
    let rows: Vec<Vec<f64>> = numbers[1..].chunks_exact(columns).map(<[f64]>::to_vec).collect();
    let grid = Grid::new(columns, &rows);
    let (domains, mut seats) = (Domains::of(&grid), Seats::empty(&grid));
    assert!(seats.seat_all(&grid, &domains, &mut Meter::new(&Patient)).unwrap());
    let total: f64 = rows.iter().zip(seats.columns()).map(|(row, seat)| row[seat.unwrap()]).sum();
    assert_eq!(seats.bound(), total);
    println!("assign100: {total} of 305");
    assert_eq!(total, 305.0);
}
