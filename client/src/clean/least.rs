//! Least squares with few unknowns and three right sides. It does not know what they stand for.

use super::mixer::{Point, plus};

/// Normal equations.
#[derive(Debug)]
pub(super) struct Least {
    size: usize,
    left: Vec<f64>,
    right: Vec<Point>,
}

impl Least {
    pub(super) fn of(size: usize) -> Self {
        Self { size, left: vec![0.0; size * size], right: vec![[0.0; 3]; size] }
    }

    /// Adds an equation: its unknowns with their factors, what they should sum to, and its weight.
    pub(super) fn add(&mut self, row: &[(usize, f64)], seen: Point, weight: f64) {
        for (first, a) in row {
            for (second, b) in row {
                if let Some(held) = self.left.get_mut(first * self.size + second) {
                    *held += weight * a * b;
                }
            }
            if let Some(held) = self.right.get_mut(*first) {
                *held = plus(*held, seen, weight * a);
            }
        }
    }

    fn at(&self, row: usize, column: usize) -> f64 {
        self.left.get(row * self.size + column).copied().unwrap_or_default()
    }

    /// Takes a pivot's row out of all rows below; false when the pivot is 0.
    fn eliminate(&mut self, pivot: usize) -> bool {
        let divisor = self.at(pivot, pivot);
        if !divisor.is_finite() || divisor.abs() < 1e-12 {
            return false;
        }
        for row in pivot + 1..self.size {
            let factor = self.at(row, pivot) / divisor;
            if factor == 0.0 {
                continue;
            }
            for column in pivot..self.size {
                let taken = factor * self.at(pivot, column);
                if let Some(held) = self.left.get_mut(row * self.size + column) {
                    *held -= taken;
                }
            }
            let taken = self.right.get(pivot).copied().unwrap_or_default();
            if let Some(held) = self.right.get_mut(row) {
                *held = plus(*held, taken, -factor);
            }
        }
        true
    }

    /// Gaussian elimination; the matrix is symmetric and, with the ridge, positive.
    pub(super) fn solve(mut self) -> Option<Vec<Point>> {
        for pivot in 0..self.size {
            if let Some(held) = self.left.get_mut(pivot * self.size + pivot) {
                *held += 1e-9;
            }
            if !self.eliminate(pivot) {
                return None;
            }
        }
        for row in (0..self.size).rev() {
            let mut sum = self.right.get(row).copied().unwrap_or_default();
            for column in row + 1..self.size {
                let known = self.right.get(column).copied().unwrap_or_default();
                sum = plus(sum, known, -self.at(row, column));
            }
            let divisor = self.at(row, row);
            if let Some(held) = self.right.get_mut(row) {
                *held = sum.map(|part| part / divisor);
            }
        }
        Some(self.right)
    }
}
