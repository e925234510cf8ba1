//! A picture that marks cells of a chart: one pixel a cell, black where a cell is marked, white or
//! see-through where it is not. It does not know what a mark means.

use std::collections::BTreeMap;

use dyekin_core::Srgb8;
use dyekin_core::table::Refused;

use super::container::Container;
use super::pixel::Pixels;
use super::raster::{CLEAR, Raster, Rgba};
use super::{Odd, check_size, exif, kind};
use crate::chart::problems::{Problems, bad_value};
use crate::chart::{FileKind, Size};

const MARK: Rgba = [0, 0, 0, 255];
const WHITE: Rgba = [255, 255, 255, 255];

/// Other colors that are told. House choice.
const COLORS_TOLD: usize = 8;

const REMEDY: &str = "paint marked cells black (#000000), without soft edges, and leave all others white or see-through";

/// The cells that a PNG marks, in reading order.
///
/// # Errors
///
/// All at once: another kind of file, another size than the chart, pixels of other colors.
pub(crate) fn marks(bytes: &[u8], source_name: &str, size: Size) -> Result<Vec<bool>, Refused> {
    let mut problems = Problems::of(source_name);
    if kind(bytes) != Some(FileKind::Png) {
        problems
            .push_file("not a PNG", "save the picture as a PNG: other kinds blur or lose marks");
        return Err(problems.refused());
    }
    let read = Container::read(bytes, &check_size).and_then(|container| {
        let orientation = container.exif.and_then(exif::orientation);
        let raster = Pixels::decode(&container)?.raster(&mut problems, &mut Vec::new());
        Ok(match orientation {
            Some(orientation @ 2..) => raster.turned(orientation),
            _ => raster,
        })
    });
    let raster = match read {
        Ok(raster) => raster,
        Err(error) => {
            problems.push(*error);
            return Err(problems.refused());
        }
    };
    let found = (raster.width(), raster.height());
    if found != (size.width().into(), size.height().into()) {
        let reason = format!("{} x {} pixels for a chart of {size} cells", found.0, found.1);
        problems.push_file(reason, "give one pixel for each cell of the chart");
    }
    other_colors(&raster, &mut problems);
    problems.ok(raster.pixels().iter().map(|pixel| *pixel == MARK).collect())
}

/// Says which pixels are neither marked nor not.
fn other_colors(raster: &Raster, problems: &mut Problems) {
    let mut others: BTreeMap<Rgba, Odd> = BTreeMap::new();
    for (place, pixel) in raster.pixels().iter().enumerate() {
        if ![MARK, WHITE, CLEAR].contains(pixel) {
            others.entry(*pixel).or_default().add(place);
        }
    }
    let mut told: Vec<(&Rgba, &Odd)> = others.iter().collect();
    told.sort_by_key(|(color, odd)| (std::cmp::Reverse(odd.count()), **color));
    for (color, odd) in told.iter().take(COLORS_TOLD) {
        let [red, green, blue, alpha] = **color;
        let mut value = Srgb8::new(red, green, blue).to_string();
        if alpha < u8::MAX {
            value.push_str(&format!("{alpha:02x}"));
        }
        let pixels = if odd.count() == 1 { "pixel is" } else { "pixels are" };
        let places = odd.told(raster.width()).unwrap_or_default();
        let reason =
            format!("{} {pixels} neither black nor white nor see-through: {places}", odd.count());
        problems.push(bad_value(&value, reason, REMEDY));
    }
    if told.len() > COLORS_TOLD {
        let more = told.len() - COLORS_TOLD;
        problems.push_file(format!("{more} more colors that are no marks"), REMEDY);
    }
}
