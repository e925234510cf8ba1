//! CIE94 (CIE 116:1995, Delta E*94). Asymmetric: the weights are the standard's; not a metric.
//! It does not know of other formulas or of the index.
//!
//! Superseded by CIEDE2000; kept because old tolerances are written in it. The report allows the
//! geometric mean of both chromas where neither color is a standard (from memory); here one always is.

use super::ellipsoid::{Divisors, Ellipsoid};
use super::{Application, DeltaE, Pair};
use crate::color::Lab;

/// kL, K1 and K2 of an application; kC = kH = 1. Source: CIE 116:1995.
fn constants(application: Application) -> (f64, f64, f64) {
    match application {
        Application::GraphicArts => (1.0, 0.045, 0.015),
        Application::Textile => (2.0, 0.048, 0.014),
    }
}

/// The weights of a standard: `S_L` = 1, `S_C` = 1 + K1 C*, `S_H` = 1 + K2 C*.
pub(crate) fn ellipsoid(standard: Lab, application: Application) -> Ellipsoid {
    let (k_l, k_1, k_2) = constants(application);
    let chroma = standard.chroma();
    let divisors = Divisors { l: k_l, c: 1.0 + k_1 * chroma, h: 1.0 + k_2 * chroma };
    Ellipsoid::new(standard, divisors)
}

/// The difference of the sample from the standard.
pub(super) fn delta_e(pair: Pair, application: Application) -> DeltaE {
    ellipsoid(pair.standard, application).delta_e(pair)
}
