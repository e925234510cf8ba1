//! The scales of X, Y, Z and of reflectance, decided once for a file by its largest value.
//! It does not read rows for threads.

use super::Section;
use super::cut::Sets;
use super::field::{Field, Layout, Source};
use crate::error::{ErrorKind, Place};
use crate::table::number;
use crate::table::row::Rows;
use crate::table::tristimulus::Space;

/// Above this, values are surely on the scale to 100: no surface sends back more of the light.
const SURELY_PERCENT: f64 = 1.6;

/// What full light is written as.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scales {
    /// Y of the white.
    pub(super) white_y: f64,
    /// Reflectance of the perfect white; `None` when it cannot be known.
    pub(super) reflectance: Option<f64>,
}

/// The scales of a file; `None` after a problem.
pub(super) fn scales(
    sections: &[Section<'_>],
    layouts: &[Option<Layout>],
    rows: &mut Rows<'_>,
) -> Option<Scales> {
    let (mut xyz, mut reflectance) = (0.0_f64, 0.0_f64);
    let (mut stated, mut is_needed) = (None, false);
    for (section, layout) in sections.iter().zip(layouts) {
        let Some(layout) = layout else { continue };
        let is_xyz = matches!(layout.source, Source::Numbers(Space::Xyz { .. }, _));
        let places = layout.numbers().filter(|_| is_xyz);
        if places.is_none() && layout.bands.is_empty() {
            continue;
        }
        let sets = Sets::quietly(&section.lines, layout.width);
        let most = |places: &[usize]| {
            let cell = |text: &str| number::parse(text).map_or(0.0, |number| number.value);
            let cells = sets.iter().map(|set| {
                let texts = places.iter().filter_map(|at| set.cells.get(*at));
                texts.map(|text| cell(text)).fold(0.0, f64::max)
            });
            cells.fold(0.0, f64::max)
        };
        let bands: Vec<usize> = layout.bands.iter().map(|(_, at)| *at).collect();
        xyz = xyz.max(places.map_or(0.0, |places| most(&places)));
        reflectance = reflectance.max(most(&bands));
        stated = stated.or_else(|| stated_scale(section));
        is_needed |= layout.source == Source::Spectrum;
    }
    let Some(white_y) = full_light(xyz) else {
        refuse("X, Y and Z", xyz, "write X, Y and Z with Y of the white 100, or export Lab", rows);
        return None;
    };
    let reflectance_scale = stated.or_else(|| full_light(reflectance));
    if is_needed && reflectance_scale.is_none() {
        let remedy = "name the columns SPECTRAL_PCT400 … for percent or SPECTRAL_DEC400 … for \
                      factors, or export Lab";
        refuse("the reflectances", reflectance, remedy, rows);
        return None;
    }
    Some(Scales { white_y, reflectance: reflectance_scale })
}

/// What the names of spectral columns say: percent or factors.
fn stated_scale(section: &Section<'_>) -> Option<f64> {
    section.fields.iter().find_map(|name| {
        let upper = name.to_uppercase();
        let is_spectral = matches!(Field::parse(name), Field::Spectral(_));
        match (is_spectral, upper.contains("PCT"), upper.contains("DEC")) {
            (true, true, false) => Some(100.0),
            (true, false, true) => Some(1.0),
            _ => None,
        }
    })
}

fn full_light(most: f64) -> Option<f64> {
    if most > SURELY_PERCENT || most <= 0.0 { Some(100.0) } else { (most <= 1.0).then_some(1.0) }
}

fn refuse(what: &str, most: f64, remedy: &str, rows: &mut Rows<'_>) {
    let reason = format!("the largest of {what} is {most}: full light may be 1 or 100");
    let kind = ErrorKind::BadFile { reason, remedy: remedy.into() };
    rows.report.problem(kind, Place::default());
}
