//! What other lights say of a pair, and spectra: messages as domain types.
//! It does not know what the pair is.

use dyekin_core::spectrum::{Lights, OverLights, Reflectance, UnderLight};
use dyekin_core::{Formula, Illuminant, Observer};

use super::{delta_e, faulty, impossible, missing, number, wire};
use crate::failure::Result;

pub(super) fn illuminant(found: wire::Illuminant) -> Result<Illuminant> {
    match found {
        wire::Illuminant::Unspecified => Err(missing("illuminant")),
        wire::Illuminant::A => Ok(Illuminant::A),
        wire::Illuminant::D50 => Ok(Illuminant::D50),
        wire::Illuminant::D65 => Ok(Illuminant::D65),
        wire::Illuminant::Fl2 => Ok(Illuminant::Fl2),
        wire::Illuminant::Fl11 => Ok(Illuminant::Fl11),
        wire::Illuminant::LedB3 => Ok(Illuminant::LedB3),
    }
}

pub(super) fn observer(found: wire::Observer) -> Result<Observer> {
    match found {
        wire::Observer::Unspecified => Err(missing("observer")),
        wire::Observer::TwoDegree => Ok(Observer::TwoDegree),
        wire::Observer::TenDegree => Ok(Observer::TenDegree),
    }
}

/// The lights that ranked.
pub(super) fn lights(found: &[i32]) -> Result<Option<Lights>> {
    if found.is_empty() {
        return Ok(None);
    }
    let known: Vec<Illuminant> = found.iter().map(|it| light(*it)).collect::<Result<_>>()?;
    faulty(Lights::new(&known), "list of lights").map(Some)
}

fn light(found: i32) -> Result<Illuminant> {
    illuminant(faulty(wire::Illuminant::try_from(found), "illuminant")?)
}

/// What other lights say, in units of the formula of the difference beside it.
pub(super) fn over_lights(found: &wire::OverLights, formula: Formula) -> Result<Box<OverLights>> {
    let under = |found: &wire::UnderLight| {
        Ok(UnderLight {
            illuminant: illuminant(found.illuminant())?,
            delta_e: delta_e(found.delta_e)?,
            metamerism: found.metamerism_index.map(delta_e).transpose()?,
        })
    };
    let each: Vec<UnderLight> = found.lights.iter().map(under).collect::<Result<_>>()?;
    let worst: usize = number(found.worst_index, "place of a light")?;
    let told = each.get(worst).copied();
    let held = OverLights::new(observer(found.observer())?, formula, each, found.ranked);
    let held = faulty(held, "list of lights")?;
    if told == Some(held.worst()) { Ok(Box::new(held)) } else { Err(impossible("worst light")) }
}

pub(super) fn spectrum(found: &wire::Spectrum) -> Result<Reflectance> {
    let start: u16 = number(found.start_nm, "wavelength")?;
    let step: u16 = number(found.step_nm, "step of wavelengths")?;
    faulty(Reflectance::new(start, step, &found.factors), "spectrum")
}
