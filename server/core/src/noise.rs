//! What the data cannot tell: how far two differences from one color may lie apart by noise alone.
//! It does not rank, and does not know how a tie is shown.
//!
//! The rule, a house choice: of two samples of one standard, none can be called the nearer one as
//! long as their differences lie no farther apart than the root mean square of the three colors'
//! uncertainties. An error that is the same in all directions has a third of its variance along the
//! line on which a difference is taken, and the three errors are independent.
//!
//! Where a color states no uncertainty, that of its origin is taken, so that colors of a screen are
//! told apart from about one unit on.

use crate::color::{Color, Trust};
use crate::difference::{Difference, Formula, near_identical};
use crate::math;

/// Uncertainty of a color of a screen, a scan or of unknown origin, in CIEDE2000 units: one step of
/// the 8-bit values moves it by a third on average and by up to 1.8. House choice.
const PICTURE: f64 = 1.0;

/// Uncertainty of a measured color, in CIEDE2000 units: usual repeatability of an instrument. Value
/// from memory, no source.
const MEASURED: f64 = 0.2;

/// What adaptation adds to a color, in CIEDE2000 units: as much as a picture of it. House choice.
const ADAPTED: f64 = 1.0;

/// The uncertainty of a color: the stated one, or the usual one of its origin.
///
/// Units: CIEDE2000 units, one standard deviation.
pub(crate) fn of(color: &Color) -> f64 {
    let usual = if color.origin().is_measured() { MEASURED } else { PICTURE };
    let own = color.uncertainty().unwrap_or(usual);
    if color.adapted().is_some() { adapted(own) } else { own }
}

/// The uncertainty of a color once it is adapted.
pub(crate) fn adapted(uncertainty: f64) -> f64 {
    math::hypot(uncertainty, ADAPTED)
}

/// How far the differences of two samples from one standard may lie apart by noise alone.
///
/// Units: those of the formula, in proportion to what it calls near-identical.
pub(crate) fn between(uncertainties: [f64; 3], formula: Formula) -> f64 {
    let mean_square = uncertainties.iter().map(|each| each * each).sum::<f64>() / 3.0;
    mean_square.sqrt() * near_identical(formula) / near_identical(Formula::DEFAULT)
}

/// A sample and its difference from the standard.
pub(crate) type Judged<'d> = (&'d Color, &'d Difference);

/// True when the data cannot tell which of two samples is nearer to the standard.
pub(crate) fn hides(standard: &Color, one: Judged<'_>, other: Judged<'_>) -> bool {
    let is_adapted = |judged: &Judged<'_>| matches!(judged.1.trust, Trust::Adapted(_));
    let own = of(standard);
    let own = if is_adapted(&one) || is_adapted(&other) { adapted(own) } else { own };
    let gap = (one.1.delta_e.value() - other.1.delta_e.value()).abs();
    gap <= between([own, of(one.0), of(other.0)], one.1.formula)
}
