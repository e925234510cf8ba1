//! The special index of metamerism for a change of illuminant (CIE 15): how far a pair that matches
//! under one light drifts apart under another. It does not know how a match is found.
//!
//! Not to be confused with the color inconstancy of a single sample (ISO 105-J05).

use super::{Reflectance, white};
use crate::color::{Conditions, Illuminant, Xyz};
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
    let difference_of = |standard: Xyz, sample: Xyz, under: Conditions| -> Result<DeltaE> {
        let white = white(under);
        let pair = Pair { standard: standard.to_lab(white)?, sample: sample.to_lab(white)? };
        Ok(formula.delta_e(pair))
    };
    let [reference, test] = [change.reference, change.test()];
    let [standard_reference, sample_reference] = [standard, sample].map(|held| held.xyz(reference));
    let [standard_test, sample_test] = [standard, sample].map(|held| held.xyz(test));
    let corrected = corrected(sample_test, standard_reference, sample_reference)?;
    Ok(Metamerism {
        change,
        formula,
        residual: difference_of(standard_reference, sample_reference, reference)?,
        uncorrected: difference_of(standard_test, sample_test, test)?,
        index: difference_of(standard_test, corrected, test)?,
    })
}

fn corrected(test: Xyz, wanted: Xyz, found: Xyz) -> Result<Xyz> {
    if found.components().iter().any(|value| *value <= 0.0) {
        return Err(Error::new(ErrorKind::BadValue {
            value: format!("{} {} {}", found.x, found.y, found.z),
            reason: "the sample reflects nothing, so that no factor makes it match".into(),
            remedy: "compare the pair under each light instead".into(),
        }));
    }
    Ok(Xyz {
        x: test.x * wanted.x / found.x,
        y: test.y * wanted.y / found.y,
        z: test.z * wanted.z / found.z,
    })
}
