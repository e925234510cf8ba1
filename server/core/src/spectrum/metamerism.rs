//! The special index of metamerism for a change of illuminant (CIE 15): how far a pair that matches
//! under one light drifts apart under another. It does not know how a match is found.
//!
//! Not to be confused with the color inconstancy of a single sample (ISO 105-J05).

use super::Reflectance;
use crate::color::xyz::compressed;
use crate::color::{Conditions, Illuminant, Lab};
use crate::difference::{DeltaE, Formula, Pair};
use crate::error::{Error, ErrorKind, Result};

/// The light that a pair matches under, and the one that it is tested under.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Change {
    /// Light and observer of the match.
    pub reference: Conditions,
    /// The other light, for the same observer.
    pub test: Illuminant,
}

impl Change {
    fn test(self) -> Conditions {
        Conditions { illuminant: self.test, observer: self.reference.observer }
    }
}

/// How far a pair drifts apart when the light changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Metamerism {
    /// The change of light.
    pub change: Change,
    /// The formula of all three numbers; the CIE's own index uses CIE76.
    pub formula: Formula,
    /// The difference under the reference light: 0 for a true metameric pair.
    pub residual: DeltaE,
    /// The difference under the test light, as it is.
    pub uncorrected: DeltaE,
    /// The index: the difference under the test light once the sample's tristimulus values are
    /// multiplied by what makes the pair equal under the reference light.
    pub index: DeltaE,
}

/// The special index of metamerism of a pair.
///
/// The correction for a pair that is no perfect match is multiplicative, the first of those that
/// CIE 15 allows: `XYZ2' = XYZ2,test * XYZ1,reference / XYZ2,reference`.
///
/// # Errors
///
/// [`ErrorKind::BadValue`] for a sample that reflects nothing in the band of one tristimulus value,
/// [`ErrorKind::BadColor`] when a color, corrected or not, is too bright.
pub fn metamerism(
    standard: &Reflectance,
    sample: &Reflectance,
    change: Change,
    formula: Formula,
) -> Result<Metamerism> {
    let difference_of = |standard: [f64; 3], sample: [f64; 3]| -> Result<DeltaE> {
        let pair = Pair { standard: lab(standard)?, sample: lab(sample)? };
        Ok(formula.delta_e(pair))
    };
    let [before, after] = [change.reference, change.test()];
    let [standard_before, sample_before] = [standard, sample].map(|held| ratios(held, before));
    let [standard_after, sample_after] = [standard, sample].map(|held| ratios(held, after));
    let corrected = corrected(sample_after, standard_before, sample_before)?;
    Ok(Metamerism {
        change,
        formula,
        residual: difference_of(standard_before, sample_before)?,
        uncorrected: difference_of(standard_after, sample_after)?,
        index: difference_of(standard_after, corrected)?,
    })
}

/// Tristimulus values over those of the white: the factors of the correction are the same.
fn ratios(spectrum: &Reflectance, conditions: Conditions) -> [f64; 3] {
    let (color, white) = (spectrum.xyz(conditions), spectrum.white(conditions));
    [color.x / white.x, color.y / white.y, color.z / white.z]
}

fn lab(ratios: [f64; 3]) -> Result<Lab> {
    let [l, a, b] = compressed(ratios);
    Lab::new(l, a, b)
}

fn corrected(after: [f64; 3], wanted: [f64; 3], found: [f64; 3]) -> Result<[f64; 3]> {
    if found.iter().any(|ratio| *ratio <= 0.0) {
        let [x, y, z] = found;
        return Err(Error::new(ErrorKind::BadValue {
            value: format!("{x} {y} {z}"),
            reason: "the sample reflects nothing, so that no factor makes it match".into(),
            remedy: "compare the pair under each light instead".into(),
        }));
    }
    let ([a1, a2, a3], [w1, w2, w3], [f1, f2, f3]) = (after, wanted, found);
    Ok([a1 * w1 / f1, a2 * w2 / f2, a3 * w3 / f3])
}
