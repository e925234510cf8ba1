//! What other lights say of a pair: domain to wire.
//! It does not know what the pair is.

use dyekin_core::spectrum::{Lights, OverLights, Reflectance, UnderLight};
use dyekin_core::{DeltaE, Illuminant, Observer};
use dyekin_proto::v1 as pb;

use super::count32;

pub(super) fn illuminant(light: Illuminant) -> pb::Illuminant {
    match light {
        Illuminant::A => pb::Illuminant::A,
        Illuminant::D50 => pb::Illuminant::D50,
        Illuminant::D65 => pb::Illuminant::D65,
        Illuminant::Fl2 => pb::Illuminant::Fl2,
        Illuminant::Fl11 => pb::Illuminant::Fl11,
        Illuminant::LedB3 => pb::Illuminant::LedB3,
    }
}

pub(super) fn observer(observer: Observer) -> pb::Observer {
    match observer {
        Observer::TwoDegree => pb::Observer::TwoDegree,
        Observer::TenDegree => pb::Observer::TenDegree,
    }
}

pub(super) fn lights(lights: Option<&Lights>) -> Vec<i32> {
    let named = lights.into_iter().flat_map(Lights::illuminants);
    named.map(|light| illuminant(light).into()).collect()
}

pub(super) fn over_lights(found: &OverLights) -> pb::OverLights {
    let under = |light: &UnderLight| pb::UnderLight {
        illuminant: illuminant(light.illuminant).into(),
        delta_e: light.delta_e.value(),
        metamerism_index: light.metamerism.map(DeltaE::value),
    };
    let worst = found.each().iter().position(|light| *light == found.worst());
    pb::OverLights {
        observer: observer(found.observer()).into(),
        lights: found.each().iter().map(under).collect(),
        worst_index: count32(worst.unwrap_or(0)),
        ranked: found.ranked(),
    }
}

pub(super) fn spectrum(held: &Reflectance) -> pb::Spectrum {
    pb::Spectrum {
        start_nm: held.start_nm().into(),
        step_nm: held.step_nm().into(),
        factors: held.values().to_vec(),
    }
}
