//! What other lights say of a pair: words, details and JSON members.
//! It does not compare.

use dyekin_core::difference::band_of;
use dyekin_core::spectrum::{Lights, OverLights, UnderLight};
use dyekin_core::{DeltaE, Difference, Illuminant};
use serde_json::{Value, json};

use super::counted;

/// What follows the words for a difference: the light that it was taken under where lights rank, or
/// how the two look under the worst light where that is worth saying. Empty otherwise.
pub(crate) fn note(found: Option<&OverLights>, listed: &Difference) -> String {
    let Some(found) = found else { return String::new() };
    let worst = found.worst();
    let light = worst.illuminant.words();
    if found.ranked() {
        return match found.each() {
            [_] => format!(" under {light}"),
            _ => format!(", worst under {light}"),
        };
    }
    if !found.drifts_from(listed) {
        return String::new();
    }
    format!(
        "; under {light} {} ({:.2})",
        band_of(worst.delta_e, found.formula()),
        worst.delta_e.value()
    )
}

/// What `--details` adds: each light with its difference and its index of metamerism.
pub(crate) fn details(found: &OverLights) -> String {
    let under = |light: &UnderLight| {
        let index = light.metamerism.map(|index| format!(", metamerism {:.4}", index.value()));
        let index = index.unwrap_or_default();
        let (name, delta_e) = (light.illuminant.words(), light.delta_e.value());
        format!("{name} ({}) {delta_e:.4}{index}", light.illuminant.as_str())
    };
    let each: Vec<String> = found.each().iter().map(under).collect();
    let mut said = format!("from spectra, {}°: {}", found.observer().degrees(), each.join("; "));
    if let Some(first) = found.each().first().filter(|_| found.each().len() > 1) {
        let from = first.illuminant.words();
        said.push_str(&format!(" (special index of CIE 15, CIE76, for the change from {from})"));
    }
    said
}

/// How many threads the lights left out.
pub(crate) fn left_out(count: usize) -> String {
    let threads = counted(count as u64, "thread", "threads");
    format!("left out: {threads} without a reflectance spectrum that could be used")
}

/// Lights by the CIE's names, or null.
pub(crate) fn names(lights: Option<&Lights>) -> Value {
    let named = |lights: &Lights| lights.illuminants().map(Illuminant::as_str).collect::<Vec<_>>();
    json!(lights.map(named))
}

/// The members of an answer.
pub(crate) fn object(found: Option<&OverLights>) -> Value {
    let Some(found) = found else { return Value::Null };
    let under = |light: &UnderLight| {
        json!({
            "light": light.illuminant.as_str(),
            "difference": light.delta_e.value(),
            "band": band_of(light.delta_e, found.formula()),
            "metamerism": light.metamerism.map(DeltaE::value),
        })
    };
    json!({
        "observer": found.observer().degrees(),
        "worst": found.worst().illuminant.as_str(),
        "ranked": found.ranked(),
        "lights": found.each().iter().map(under).collect::<Vec<_>>(),
    })
}
