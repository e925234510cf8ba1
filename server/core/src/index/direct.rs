//! Formulas whose square costs little once the standard is known, and a quadratic form below each.
//! It does not know rows, boxes or CIEDE2000.
//!
//! # Derivation
//!
//! Let D be the reach and s = dL². Each formula gives two lengths, p and q, so that a color within D
//! of the standard has `s / p² + (da² + db²) / q² <= D²`:
//!
//! | formula | p | q | why |
//! |---|---|---|---|
//! | CIE76 | 1 | 1 | the formula itself |
//! | CIE94 | kL | max(`S_C`, `S_H`) | the weights are constants of the standard, and `dC² + dH² = da² + db²` |
//! | CMC | l `S_L` | max(c `S_C`, `S_H`) | the same |
//! | HyAB | 1 | 1 | `x + y <= D` has `x² + y² <= D²` for x, y >= 0 |
//! | DIN99o | `difference::din99o::widest` | | slopes of the way back from its own coordinates |

use super::around::Weights;
use super::bound::Extent;
use crate::color::Lab;
use crate::difference::ellipsoid::Ellipsoid;
use crate::difference::{Application, Ratio};
use crate::difference::{cie76, cie94, cmc, din99o, hyab};

/// A standard under one formula, ready for many colors.
#[derive(Clone, Copy, Debug)]
pub(super) struct Direct {
    standard: Lab,
    form: Form,
}

#[derive(Clone, Copy, Debug)]
enum Form {
    Ellipsoid(Ellipsoid),
    Length,
    /// The standard's own coordinates.
    Logarithmic([f64; 3]),
    Sum,
}

impl Direct {
    pub(super) fn cie76(standard: Lab) -> Self {
        Self { standard, form: Form::Length }
    }

    pub(super) fn cie94(standard: Lab, application: Application) -> Self {
        Self { standard, form: Form::Ellipsoid(cie94::ellipsoid(standard, application)) }
    }

    pub(super) fn cmc(standard: Lab, ratio: Ratio) -> Self {
        Self { standard, form: Form::Ellipsoid(cmc::ellipsoid(standard, ratio)) }
    }

    pub(super) fn din99o(standard: Lab) -> Self {
        Self { standard, form: Form::Logarithmic(din99o::place(standard.components())) }
    }

    pub(super) fn hyab(standard: Lab) -> Self {
        Self { standard, form: Form::Sum }
    }

    pub(super) fn is_din99o(&self) -> bool {
        matches!(self.form, Form::Logarithmic(_))
    }

    /// The squared difference of a color, but for rounding.
    pub(super) fn squared(&self, at: [f64; 3]) -> f64 {
        match &self.form {
            Form::Ellipsoid(ellipsoid) => ellipsoid.squared(at),
            Form::Length => cie76::squared(self.standard.components(), at),
            Form::Logarithmic(place) => din99o::squared(*place, din99o::place(at)),
            Form::Sum => hyab::sum(self.standard.components(), at).powi(2),
        }
    }

    /// A quadratic form that no color of the extent falls below whose squared difference is at most
    /// the cut: `s / p² + (da² + db²) / q²`, and what the part across the standard's direction has
    /// beyond that. For colors of chroma C2 and of hues h apart,
    /// `dH² = 4 C1 C2 sin²(h / 2) >= (C1 C2 sin h)² / (C1 C2)`, whose root above is
    /// `a1 db - b1 da`.
    pub(super) fn weights(&self, cut: f64, extent: &Extent) -> Weights {
        let reach = cut.sqrt();
        let (p, q) = self.widest(extent.light().1, reach);
        let plane = (q * q).recip();
        let across = match &self.form {
            Form::Ellipsoid(ellipsoid) => ellipsoid.across(reach),
            Form::Logarithmic(_) => din99o::across(self.standard, reach),
            Form::Length | Form::Sum => 0.0,
        };
        Weights { light: (p * p).recip(), a: plane, b: plane, across }
    }

    /// The lengths p and q.
    fn widest(&self, lightest: f64, reach: f64) -> (f64, f64) {
        match &self.form {
            Form::Ellipsoid(ellipsoid) => ellipsoid.widest(),
            Form::Length | Form::Sum => (1.0, 1.0),
            Form::Logarithmic(_) => {
                din99o::widest(self.standard, lightest.max(self.standard.l()), reach)
            }
        }
    }
}
