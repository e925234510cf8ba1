//! What a reach around a standard rules out, for colors that stand in no index.
//! It does not know rows, the tree or where the colors come from.

use super::bound::{self, Extent};
use super::columns::InstructionSet;
use super::direct::Direct;
use super::mixes::Mixer;
use super::ring;
use super::tight::Tight;
use crate::color::{AB_MAX, L_MAX, Lab};
use crate::difference::{Factors, Formula, ciede2000};

/// Weights of a quadratic form around a standard: of dL², da², db² and `(a1 db - b1 da)²`. None of
/// them is below 0.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Weights {
    pub(super) light: f64,
    pub(super) a: f64,
    pub(super) b: f64,
    pub(super) across: f64,
}

/// A lower bound of squared differences for points and for boxes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Quadratic {
    standard: [f64; 3],
    weights: Weights,
    /// kL, when the lightness term of the formula itself is known as well.
    k_l: Option<f64>,
}

impl Quadratic {
    /// Its standard and weights. Where it answers a slope, dL² is to be divided by the square of
    /// `1 + slope (L̄ - 50)² / sqrt(20 + (L̄ - 50)²)` before the weight of dL² is taken, else by 1.
    pub(super) fn parts(&self) -> ([f64; 3], Weights, f64) {
        self.k_l.map_or((self.standard, self.weights, 0.0), |k_l| {
            let exact = Weights { light: (k_l * k_l).recip(), ..self.weights };
            (self.standard, exact, ciede2000::S_L_SLOPE)
        })
    }

    /// The form at a color.
    pub(crate) fn at(&self, at: [f64; 3]) -> f64 {
        self.least(at, at)
    }

    /// A value that the form does not fall below in a box of CIELAB: the least of each term.
    pub(crate) fn least(&self, low: [f64; 3], high: [f64; 3]) -> f64 {
        let ([l1, a1, b1], [low_l, low_a, low_b]) = (self.standard, low);
        let [high_l, high_a, high_b] = high;
        let gap = |low: f64, high: f64| low.max(-high).max(0.0);
        let (l, a, b) = (
            gap(low_l - l1, high_l - l1),
            gap(low_a - a1, high_a - a1),
            gap(low_b - b1, high_b - b1),
        );
        let middle = a1 * f64::midpoint(low_b, high_b) - b1 * f64::midpoint(low_a, high_a);
        let reach = 0.5 * (a1.abs() * (high_b - low_b) + b1.abs() * (high_a - low_a));
        let across = (middle.abs() - reach).max(0.0);
        let Weights { light, a: of_a, b: of_b, across: of_across } = self.weights;
        light * l * l + of_a * a * a + of_b * b * b + of_across * across * across
    }
}

/// A standard under one formula.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Around {
    standard: Lab,
    form: Form,
    extent: Extent,
}

#[derive(Clone, Copy, Debug)]
enum Form {
    Bounded(Tight, Factors),
    Direct(Direct),
}

impl Around {
    /// For CIELAB values of any chroma, with L* in a range that rounding may exceed.
    pub(crate) fn new(standard: Lab, formula: Formula, (low, high): (f64, f64)) -> Self {
        let corners = [[low.max(0.0), AB_MAX, AB_MAX], [high.min(L_MAX), AB_MAX, AB_MAX]];
        Self::among(standard, formula, Extent::of(corners.into_iter()))
    }

    /// For colors of an extent.
    pub(super) fn among(standard: Lab, formula: Formula, extent: Extent) -> Self {
        let form = match formula {
            Formula::Cie76 => Form::Direct(Direct::cie76(standard)),
            Formula::Cie94(application) => Form::Direct(Direct::cie94(standard, application)),
            Formula::Ciede2000(factors) => Form::Bounded(Tight::new(standard, factors), factors),
            Formula::Cmc(ratio) => Form::Direct(Direct::cmc(standard, ratio)),
            Formula::Din99o => Form::Direct(Direct::din99o(standard)),
            Formula::Hyab => Form::Direct(Direct::hyab(standard)),
        };
        Self { standard, form, extent }
    }

    /// Least squared difference of a color, but for rounding.
    pub(crate) fn least(&self, at: [f64; 3]) -> f64 {
        match &self.form {
            Form::Bounded(tight, _) => tight.least(at),
            Form::Direct(direct) => direct.squared(at),
        }
    }

    /// A value that no squared difference of a color in a box falls below, but for rounding: 0 where the
    /// form of [`Around::quadratic`] says enough.
    pub(crate) fn within(&self, low: [f64; 3], high: [f64; 3]) -> f64 {
        match &self.form {
            Form::Direct(direct) if direct.is_din99o() => ring::least(self.standard, low, high),
            Form::Bounded(..) | Form::Direct(_) => 0.0,
        }
    }

    /// What measures many mixes at once, where the formula has it.
    pub(crate) fn mixer(&self) -> Option<Mixer> {
        match &self.form {
            Form::Bounded(_, factors) => {
                Some(Mixer::new(InstructionSet::best(), self.standard, *factors))
            }
            Form::Direct(_) => None,
        }
    }

    /// A quadratic form that no color falls below whose squared difference is at most the cut.
    pub(crate) fn quadratic(&self, cut: f64) -> Quadratic {
        let (weights, k_l) = match &self.form {
            _ if !cut.is_finite() => (Weights::default(), None),
            Form::Bounded(_, factors) => {
                let weights = bound::weights(self.standard, *factors, &self.extent, cut.sqrt());
                (weights, Some(factors.l()))
            }
            Form::Direct(direct) => (direct.weights(cut, &self.extent), None),
        };
        Quadratic { standard: self.standard.components(), weights, k_l }
    }
}
