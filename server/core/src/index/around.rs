//! What a reach around a standard rules out, for colors that stand in no index.
//! It does not know rows, the tree or where the colors come from.

use super::bound::{Bound, Extent};
use super::direct::Direct;
use super::tight::Tight;
use crate::color::{AB_MAX, L_MAX, Lab};
use crate::difference::{Factors, Formula};

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
        let form = match formula {
            Formula::Cie76 => Form::Direct(Direct::cie76(standard)),
            Formula::Cie94(application) => Form::Direct(Direct::cie94(standard, application)),
            Formula::Ciede2000(factors) => Form::Bounded(Tight::new(standard, factors), factors),
            Formula::Cmc(ratio) => Form::Direct(Direct::cmc(standard, ratio)),
            Formula::Din99o => Form::Direct(Direct::din99o(standard)),
            Formula::Hyab => Form::Direct(Direct::hyab(standard)),
        };
        let corners = [[low.max(0.0), AB_MAX, AB_MAX], [high.min(L_MAX), AB_MAX, AB_MAX]];
        Self { standard, form, extent: Extent::of(&corners) }
    }

    /// Least squared difference of a color, but for rounding.
    pub(crate) fn least(&self, at: [f64; 3]) -> f64 {
        match &self.form {
            Form::Bounded(tight, _) => tight.least(at),
            Form::Direct(direct) => direct.squared(at),
        }
    }

    /// Half the sides, along L*, a* and b*, of a box around the standard that holds every color whose
    /// squared difference is at most the cut.
    pub(crate) fn half_widths(&self, cut: f64) -> [f64; 3] {
        if !cut.is_finite() {
            return [f64::INFINITY; 3];
        }
        match &self.form {
            Form::Bounded(_, factors) => {
                Bound::new(self.standard, *factors, &self.extent, cut.sqrt()).half_widths(cut)
            }
            Form::Direct(direct) => direct.half_widths(cut, &self.extent),
        }
    }
}
