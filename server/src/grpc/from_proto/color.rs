//! Colors, their conditions, formulas and limits: wire to domain.
//! It does not know what is asked about them.

use dyekin_core::color::AdaptationMethod;
use dyekin_core::difference::{Application, DeltaE, Factors, Measure, Ratio};
use dyekin_core::{Color, Conditions, Formula, Lab, Observer, Origin, Srgb8};
use dyekin_proto::v1 as pb;

use super::{Path, Problems, illuminant};

pub(super) fn conditions(
    wire: pb::Conditions,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Conditions> {
    let illuminant = illuminant(wire.illuminant);
    if illuminant.is_none() {
        let path = path.field("illuminant");
        problems.bad(path, wire.illuminant, "no known illuminant", "name the light, often D65");
    }
    let observer = match wire.observer() {
        pb::Observer::TwoDegree => Some(Observer::TwoDegree),
        pb::Observer::TenDegree => Some(Observer::TenDegree),
        pb::Observer::Unspecified => {
            let path = path.field("observer");
            problems.bad(path, wire.observer, "no known observer", "name 2 or 10 degrees");
            None
        }
    };
    Some(Conditions { illuminant: illuminant?, observer: observer? })
}

/// The stated origin, `Some(None)` when there is none; `None` for a number that is no origin.
pub(super) fn origin(wire: i32, path: Path<'_>, problems: &mut Problems) -> Option<Option<Origin>> {
    match pb::Origin::try_from(wire) {
        Ok(pb::Origin::Unspecified) => Some(None),
        Ok(pb::Origin::Meter) => Some(Some(Origin::Meter)),
        Ok(pb::Origin::Scan) => Some(Some(Origin::Scan)),
        Ok(pb::Origin::Screen) => Some(Some(Origin::Screen)),
        Ok(pb::Origin::Spectrum) => Some(Some(Origin::Spectrum)),
        Ok(pb::Origin::Unknown) => Some(Some(Origin::Unknown)),
        Err(_) => {
            problems.bad(path, wire, "no known origin", "use a value of the contract");
            None
        }
    }
}

/// A color that must be there.
pub(in crate::grpc) fn color(
    wire: Option<&pb::Color>,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Color> {
    let Some(wire) = wire else {
        problems.bad(path, "", "a color is missing", "give a hex or a lab value");
        return None;
    };
    let stated = origin(wire.origin, path.field("origin"), problems);
    let under = match wire.conditions {
        Some(found) => conditions(found, path.field("conditions"), problems).map(Some),
        None => Some(None),
    };
    let color = match &wire.value {
        Some(pb::color::Value::Hex(hex)) => {
            let listed = problems.take(Srgb8::parse_hex(hex), path.field("hex"));
            if let Some(Some(other)) = under.filter(|under| *under != Some(Conditions::SCREEN)) {
                let path = path.field("conditions");
                problems.bad(path, other, "a hex color is sRGB, hence D65/2°", "leave it out");
            }
            Color::listed(listed?, stated?.unwrap_or(Origin::Screen))
        }
        Some(pb::color::Value::Lab(lab)) => {
            let lab = problems.take(Lab::new(lab.l, lab.a, lab.b), path.field("lab"));
            let under = under?;
            if under.is_none() {
                let remedy = "name light and observer, often D65 and 10 degrees";
                problems.bad(path.field("conditions"), "", "a Lab color needs its white", remedy);
            }
            Color::lab_under(lab?, under?, stated?.unwrap_or(Origin::Unknown))
        }
        None => {
            problems.bad(path, "", "a color without a value", "give a hex or a lab value");
            return None;
        }
    };
    match wire.uncertainty {
        Some(number) => problems.take(color.with_uncertainty(number), path.field("uncertainty")),
        None => Some(color),
    }
}

/// A formula; absent means CIEDE2000 under reference conditions.
pub(in crate::grpc) fn formula(
    wire: Option<&pb::DifferenceFormula>,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Formula> {
    let Some(wire) = wire else { return Some(Formula::DEFAULT) };
    let factors = [wire.lightness_factor, wire.chroma_factor, wire.hue_factor];
    let plain = match pb::FormulaKind::try_from(wire.kind) {
        Ok(pb::FormulaKind::Unspecified | pb::FormulaKind::Ciede2000) => {
            let [l, c, h] = factors.map(|factor| factor.unwrap_or(1.0));
            return problems.take(Factors::new(l, c, h), path).map(Formula::Ciede2000);
        }
        Ok(pb::FormulaKind::Cmc) => return cmc(factors, path, problems),
        Ok(pb::FormulaKind::Cie76) => Formula::Cie76,
        Ok(pb::FormulaKind::Cie94GraphicArts) => Formula::Cie94(Application::GraphicArts),
        Ok(pb::FormulaKind::Cie94Textile) => Formula::Cie94(Application::Textile),
        Ok(pb::FormulaKind::Din99o) => Formula::Din99o,
        Ok(pb::FormulaKind::Hyab) => Formula::Hyab,
        Err(_) => {
            problems.bad(path.field("kind"), wire.kind, "no known formula", "use CIEDE2000");
            return None;
        }
    };
    if factors.iter().any(Option::is_some) {
        problems.bad(path, "", &format!("{plain} has no factors"), "leave the factors out");
        return None;
    }
    Some(plain)
}

/// CMC has no ratio that goes without saying.
fn cmc([l, c, h]: [Option<f64>; 3], path: Path<'_>, problems: &mut Problems) -> Option<Formula> {
    let usual = "give 2 and 1 for acceptability, 1 and 1 for perceptibility";
    match (l, c, h) {
        (Some(l), Some(c), None) => problems.take(Ratio::new(l, c), path).map(Formula::Cmc),
        (_, _, Some(_)) => {
            problems.bad(path.field("hue_factor"), "", "CMC has no hue factor", "leave it out");
            None
        }
        (..) => {
            problems.bad(path, "", "CMC needs a lightness and a chroma factor", usual);
            None
        }
    }
}

/// The adaptation asked for, `Some(None)` when there is none.
pub(super) fn adaptation(
    wire: i32,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Option<AdaptationMethod>> {
    match pb::AdaptationMethod::try_from(wire) {
        Ok(pb::AdaptationMethod::Unspecified) => Some(None),
        Ok(pb::AdaptationMethod::Bradford) => Some(Some(AdaptationMethod::Bradford)),
        Ok(pb::AdaptationMethod::Cat16) => Some(Some(AdaptationMethod::Cat16)),
        Err(_) => {
            problems.bad(path, wire, "no known adaptation", "use a value of the contract");
            None
        }
    }
}

/// How a request about single pairs or whole tables measures.
pub(in crate::grpc) fn measure(
    (wire, adapted): (Option<&pb::DifferenceFormula>, i32),
    problems: &mut Problems,
) -> Option<Measure> {
    let formula = formula(wire, Path::Top("formula"), problems);
    let adaptation = adaptation(adapted, Path::Top("adaptation"), problems);
    Some(Measure { formula: formula?, adaptation: adaptation? })
}

pub(super) fn limit(
    wire: Option<f64>,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Option<DeltaE>> {
    match wire {
        Some(number) => problems.take(DeltaE::new(number), path).map(Some),
        None => Some(None),
    }
}
