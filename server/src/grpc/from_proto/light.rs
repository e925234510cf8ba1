//! Lights to rank under and reflectance spectra: wire to domain.
//! It does not know what is asked about them.

use dyekin_core::Illuminant;
use dyekin_core::spectrum::{Lights, Reflectance};
use dyekin_proto::v1 as pb;

use super::{Path, Problems, each};

/// A light; `None` for a number that is none, or for none stated.
pub(super) fn illuminant(wire: i32) -> Option<Illuminant> {
    match pb::Illuminant::try_from(wire) {
        Ok(pb::Illuminant::A) => Some(Illuminant::A),
        Ok(pb::Illuminant::D50) => Some(Illuminant::D50),
        Ok(pb::Illuminant::D65) => Some(Illuminant::D65),
        Ok(pb::Illuminant::Fl2) => Some(Illuminant::Fl2),
        Ok(pb::Illuminant::Fl11) => Some(Illuminant::Fl11),
        Ok(pb::Illuminant::LedB3) => Some(Illuminant::LedB3),
        Ok(pb::Illuminant::Unspecified) | Err(_) => None,
    }
}

/// The lights that rank, `Some(None)` when there are none.
pub(super) fn lights(
    wire: &[i32],
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Option<Lights>> {
    if wire.is_empty() {
        return Some(None);
    }
    let most = Illuminant::ALL.len();
    problems.within(path, "lights in one request", wire.len(), most).then_some(())?;
    let known = each(wire, path, problems, |number, path, problems| {
        let found = illuminant(*number);
        if found.is_none() {
            problems.bad(path, number, "no known illuminant", "use a value of the contract");
        }
        found
    });
    problems.take(Lights::new(&known?), path).map(Some)
}

/// The spectrum of a query, `Some(None)` when it has none.
pub(super) fn spectrum(
    wire: Option<&pb::Spectrum>,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Option<Reflectance>> {
    let Some(wire) = wire else { return Some(None) };
    let mut nanometers = |number: i32, path: Path<'_>| {
        let found = u16::try_from(number).ok();
        if found.is_none() {
            problems.bad(path, number, "no wavelength in nm", "write for example 400 and 10");
        }
        found
    };
    let start = nanometers(wire.start_nm, path.field("start_nm"));
    let step = nanometers(wire.step_nm, path.field("step_nm"));
    problems.take(Reflectance::new(start?, step?, &wire.factors), path).map(Some)
}
