//! The spectral columns of a row as reflectance factors.
//! It does not know which light is meant.

use super::Section;
use super::cut::Set;
use super::field::Layout;
use super::scale::Scales;
use crate::error::{ErrorKind, Place};
use crate::table::number;
use crate::table::row::Rows;
use crate::table::spectral::{Bands, Spectral};

/// The reflectance of a row, every bad value reported; `None` after a problem.
pub(super) fn bands(
    section: &Section<'_>,
    layout: &Layout,
    set: &Set<'_>,
    scales: Scales,
    rows: &mut Rows<'_>,
) -> Option<Bands> {
    let (start_nm, step_nm) = layout.grid()?;
    let mut factors = Vec::with_capacity(layout.bands.len());
    for (_, at) in &layout.bands {
        let text = set.cells.get(*at)?;
        match number::parse(text) {
            Ok(number) => factors.push(number.value / scales.reflectance?),
            Err(fault) => {
                let kind = ErrorKind::BadValue {
                    value: text.to_string(),
                    reason: fault.reason.into(),
                    remedy: fault.remedy.into(),
                };
                let name = section.fields.get(*at).map(ToString::to_string).unwrap_or_default();
                rows.report.problem(kind, Place::cell(set.line, name));
            }
        }
    }
    (factors.len() == layout.bands.len()).then_some(Bands { start_nm, step_nm, factors })
}

/// The spectrum beside a color: without a word, since a bad one is no reason to refuse the color.
pub(super) fn beside(layout: &Layout, set: &Set<'_>, scales: Scales) -> Spectral {
    if layout.bands.is_empty() {
        return Spectral::Absent;
    }
    quietly(layout, set, scales).and_then(|bands| bands.spectrum().ok()).unwrap_or(Spectral::Idle)
}

fn quietly(layout: &Layout, set: &Set<'_>, scales: Scales) -> Option<Bands> {
    let (start_nm, step_nm) = layout.grid()?;
    let scale = scales.reflectance?;
    let factor = |at: &usize| {
        let text = set.cells.get(*at)?;
        number::parse(text).ok().map(|number| number.value / scale)
    };
    let factors = layout.bands.iter().map(|(_, at)| factor(at)).collect::<Option<_>>()?;
    Some(Bands { start_nm, step_nm, factors })
}
