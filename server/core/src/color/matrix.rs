//! 3 by 3 matrices for linear changes of color coordinates.
//! It does not know what the coordinates mean.

/// Three rows of three numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Matrix(pub(crate) [[f64; 3]; 3]);

impl Matrix {
    /// The diagonal matrix of three factors.
    pub(crate) fn diagonal([one, two, three]: [f64; 3]) -> Self {
        Self([[one, 0.0, 0.0], [0.0, two, 0.0], [0.0, 0.0, three]])
    }

    /// The matrix times a column.
    pub(crate) fn apply(&self, [x, y, z]: [f64; 3]) -> [f64; 3] {
        self.0.map(|[one, two, three]| one * x + two * y + three * z)
    }

    /// The matrix that first does `other`, then this one.
    pub(crate) fn after(&self, other: &Self) -> Self {
        Self(self.0.map(|row| other.transposed().apply(row)))
    }

    /// The matrix that undoes this one, whose determinant must not be 0.
    pub(crate) fn inverse(&self) -> Self {
        let [[a, b, c], [d, e, f], [g, h, i]] = self.0;
        let cofactors = [
            [e * i - f * h, c * h - b * i, b * f - c * e],
            [f * g - d * i, a * i - c * g, c * d - a * f],
            [d * h - e * g, b * g - a * h, a * e - b * d],
        ];
        let determinant = a * (e * i - f * h) + b * (f * g - d * i) + c * (d * h - e * g);
        Self(cofactors.map(|row| row.map(|cofactor| cofactor / determinant)))
    }

    fn transposed(&self) -> Self {
        let [[a, b, c], [d, e, f], [g, h, i]] = self.0;
        Self([[a, d, g], [b, e, h], [c, f, i]])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHEAR: Matrix = Matrix([[2.0, 1.0, 0.0], [0.0, 4.0, 3.0], [5.0, 0.0, 1.0]]);

    #[test]
    fn a_matrix_after_its_inverse_changes_nothing() {
        for product in [SHEAR.after(&SHEAR.inverse()), SHEAR.inverse().after(&SHEAR)] {
            let unit = Matrix::diagonal([1.0; 3]);
            for (found, wanted) in product.0.iter().flatten().zip(unit.0.iter().flatten()) {
                assert!((found - wanted).abs() < 1e-15, "{product:?}");
            }
        }
    }

    #[test]
    fn after_means_the_other_comes_first() {
        let twice = Matrix::diagonal([1.0, 10.0, 100.0]);
        let found = twice.after(&SHEAR).apply([1.0, 1.0, 1.0]);
        // Whole numbers: every product and sum is exact.
        assert_eq!(found.map(f64::to_bits), [3.0_f64, 70.0, 600.0].map(f64::to_bits));
    }
}
