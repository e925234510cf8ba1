//! A chart to a PNG with one pixel per stitch, bare cloth transparent.
//! It does not know previews: this is a chart file that can be read again.

use std::collections::HashMap;

use dyekin_core::Srgb8;
use dyekin_core::error::Error;
use png::chunk::ChunkType;

use super::super::problems::bad_file;
use super::super::{Cell, Chart, EntryId, Part};
use super::ONE_PIXEL_CHUNK;

/// The bytes of a picture.
pub(crate) fn write(chart: &Chart) -> Result<Vec<u8>, Error> {
    let painted: Vec<Option<Srgb8>> = chart
        .grid()
        .cells()
        .map(|cell| shown_entry(cell).and_then(|id| color(chart, id)))
        .collect();
    let mut numbers: HashMap<Option<Srgb8>, u8> = HashMap::new();
    let mut palette: Vec<Option<Srgb8>> = Vec::new();
    // Bare cloth comes first, so that the transparency needs one byte only.
    let bare = painted.iter().find(|pixel| pixel.is_none());
    for pixel in bare.into_iter().chain(&painted) {
        if let std::collections::hash_map::Entry::Vacant(free) = numbers.entry(*pixel) {
            let Ok(number) = u8::try_from(palette.len()) else {
                return encode(chart, &Layout::Rgba, &rgba(&painted));
            };
            free.insert(number);
            palette.push(*pixel);
        }
    }
    let indexes: Vec<u8> =
        painted.iter().map(|pixel| numbers.get(pixel).copied().unwrap_or(0)).collect();
    encode(chart, &Layout::Indexed(palette), &indexes)
}

/// The entry whose color a cell shows: of part stitches the one that covers most.
pub(crate) fn shown_entry(cell: Cell<'_>) -> Option<EntryId> {
    match cell {
        Cell::Bare => None,
        Cell::Full(entry) => Some(entry),
        Cell::Parts(parts) => {
            let covered = |entry: EntryId| {
                let of_entry = |part: &&Part| part.entry == entry;
                parts.iter().filter(of_entry).map(|part| part.shape.quarters()).sum::<u64>()
            };
            let best = parts
                .iter()
                .max_by_key(|part| (covered(part.entry), std::cmp::Reverse(part.entry)));
            best.map(|part| part.entry)
        }
    }
}

fn color(chart: &Chart, entry: EntryId) -> Option<Srgb8> {
    chart.entry(entry).map(|entry| entry.color)
}

enum Layout {
    Indexed(Vec<Option<Srgb8>>),
    Rgba,
}

fn rgba(painted: &[Option<Srgb8>]) -> Vec<u8> {
    let pixel = |pixel: &Option<Srgb8>| match pixel {
        Some(color) => [color.red, color.green, color.blue, u8::MAX],
        None => [0; 4],
    };
    painted.iter().flat_map(pixel).collect()
}

fn encode(chart: &Chart, layout: &Layout, pixels: &[u8]) -> Result<Vec<u8>, Error> {
    let mut bytes = Vec::new();
    let size = chart.size();
    let mut encoder = png::Encoder::new(&mut bytes, size.width().into(), size.height().into());
    encoder.set_depth(png::BitDepth::Eight);
    match layout {
        Layout::Rgba => encoder.set_color(png::ColorType::Rgba),
        Layout::Indexed(palette) => {
            encoder.set_color(png::ColorType::Indexed);
            let rgb = |color: &Option<Srgb8>| color.map_or([0; 3], |c| [c.red, c.green, c.blue]);
            encoder.set_palette(palette.iter().flat_map(rgb).collect::<Vec<u8>>());
            if palette.first().is_some_and(Option::is_none) {
                encoder.set_trns(vec![0]);
            }
        }
    }
    encoder.set_source_srgb(png::SrgbRenderingIntent::RelativeColorimetric);
    let write = |error: png::EncodingError| bad_file(format!("no picture: {error}"), "");
    let mut writer = encoder.write_header().map_err(write)?;
    writer.write_chunk(ChunkType(ONE_PIXEL_CHUNK), &[1]).map_err(write)?;
    writer.write_image_data(pixels).map_err(write)?;
    writer.finish().map_err(write)?;
    Ok(bytes)
}
