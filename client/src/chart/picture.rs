//! A PNG picture to a chart: every pixel is a stitch, transparent ones are bare cloth.
//! It does not know other kinds of pictures, nor what the colors are for.

mod block;
mod color_space;
mod container;
mod pixel;
pub(crate) mod write;

use dyekin_core::error::Error;
use dyekin_core::table::{Notice, Refused};

use super::problems::{Problems, bad_file};
use super::{Chart, Draft, Entry, EntryId, Grid, MAX_ENTRIES, MAX_SIDE, Size};
use container::Container;
use pixel::Pixels;

/// Most pixels of a picture with several pixels across a stitch.
const MAX_PIXELS: u64 = 16 << 20;

/// Most pixels across one stitch.
const MAX_SCALE: u16 = 200;

/// A bare pixel among numbered colors.
const BARE: u16 = u16::MAX;

/// A private chunk of ours: every pixel is a stitch, as the writer of this program made it.
/// Ancillary, private, and not to be copied by programs that change the pixels.
const ONE_PIXEL_CHUNK: [u8; 4] = *b"dyEK";

/// A picture with numbered colors.
struct Numbered {
    width: usize,
    /// A color's number, or [`BARE`], for each pixel.
    pixels: Vec<u16>,
    colors: Vec<Entry>,
}

/// True when the bytes begin like a PNG.
pub(crate) fn is_png(bytes: &[u8]) -> bool {
    bytes.starts_with(&container::SIGNATURE)
}

/// Reads a picture.
pub(crate) fn read(
    bytes: &[u8],
    source_name: &str,
    pixels_per_stitch: Option<u16>,
) -> Result<(Chart, Vec<Notice>), Refused> {
    let mut problems = Problems::of(source_name);
    let mut notices = Vec::new();
    let read = chart(bytes, pixels_per_stitch, &mut problems, &mut notices);
    match read {
        Ok(Some(chart)) => problems.ok((chart, notices)),
        Ok(None) => Err(problems.refused()),
        Err(error) => {
            problems.push(*error);
            Err(problems.refused())
        }
    }
}

/// `Ok(None)` when everything that is wrong was reported.
fn chart(
    bytes: &[u8],
    scale: Option<u16>,
    problems: &mut Problems,
    notices: &mut Vec<Notice>,
) -> Result<Option<Chart>, Box<Error>> {
    let scale_given = scale.map(usize::from);
    if scale.is_some_and(|scale| !(1..=MAX_SCALE).contains(&scale)) {
        let reason = format!("{} pixels per stitch", scale.unwrap_or(0));
        return Err(bad_file(reason, &format!("1 to {MAX_SCALE} are possible")).into());
    }
    let limit = |width, height| check_size(width, height, scale.unwrap_or(1));
    let container = Container::read(bytes, &limit)?;
    color_space::notices(&container, notices);
    if container.trailing > 0 {
        let text =
            format!("{} bytes after the end of the picture are not read", container.trailing);
        notices.push(Notice { place: None, text });
    }
    let Some(picture) = numbered(&Pixels::decode(&container)?, problems, notices)? else {
        return Ok(None);
    };
    if picture.colors.is_empty() {
        problems.push_file("every pixel is transparent: no stitch", "give the stitches a color");
        return Ok(None);
    }
    let picture = match scale_given {
        Some(scale) => block::shrunk(&picture, scale, problems),
        None if container.one_pixel => Some(picture),
        None => block::single(picture, problems, notices),
    };
    let Some(picture) = picture else { return Ok(None) };
    look_like_photo(&picture, notices);
    to_chart(&picture).map(Some)
}

fn check_size(width: u64, height: u64, scale: u16) -> Result<(), Error> {
    let scale = u64::from(scale);
    if scale == 1 || width == 0 || height == 0 {
        return Size::new(width, height).map(|_| ());
    }
    let most = u64::from(MAX_SIDE) * scale;
    if width <= most && height <= most && width.saturating_mul(height) <= MAX_PIXELS {
        return Ok(());
    }
    Err(bad_file(
        format!("{width} x {height} pixels with {scale} across a stitch are too many"),
        "save the picture with one pixel per stitch",
    ))
}

/// Numbers the colors in the order of their first pixel.
fn numbered(
    pixels: &Pixels,
    problems: &mut Problems,
    notices: &mut Vec<Notice>,
) -> Result<Option<Numbered>, Box<Error>> {
    let mut counter = pixel::Counter::new(pixels.is_deep());
    let mut numbers = Vec::with_capacity(pixels.count());
    for pixel in pixels.iter() {
        numbers.push(counter.number(pixel)?);
    }
    let width = pixels.width();
    counter.report(width, problems, notices);
    if !problems.is_empty() {
        return Ok(None);
    }
    Ok(Some(Numbered { width, pixels: numbers, colors: counter.into_colors() }))
}

fn to_chart(picture: &Numbered) -> Result<Chart, Box<Error>> {
    let height = picture.pixels.len() / picture.width.max(1);
    let size = Size::new(picture.width as u64, height as u64)?;
    let mut grid = Grid::bare(size);
    for (place, number) in picture.pixels.iter().enumerate().filter(|(_, n)| **n != BARE) {
        grid.put_at(place, EntryId::new(usize::from(*number)));
    }
    Chart::new(Draft::of_grid(grid, picture.colors.clone()))
        .map_err(|mut found| found.pop().unwrap_or_else(|| bad_file("not a chart", "")).into())
}

/// Colors of one picture at which it is worth asking, and one color for so few stitches.
const PHOTO_COLORS: usize = 200;
const PHOTO_STITCHES: usize = 8;

fn look_like_photo(picture: &Numbered, notices: &mut Vec<Notice>) {
    let (colors, stitches) = (picture.colors.len(), picture.pixels.len());
    if colors >= PHOTO_COLORS && colors * PHOTO_STITCHES > stitches {
        let text = format!(
            "{colors} colors in {stitches} pixels: this looks like a photo or a smoothed, enlarged \
             picture and not like one pixel per stitch"
        );
        notices.push(Notice { place: None, text });
    }
}

/// The color that is one too many.
fn too_many_colors(place: usize) -> Error {
    bad_file(
        format!("more than {MAX_ENTRIES} colors, found by pixel {}", place + 1),
        "reduce the colors of the picture first; a chart of so many cannot be stitched",
    )
}

/// Column and row of a pixel, from 1, as people count them.
fn column_row(place: usize, width: usize) -> String {
    format!("column {} row {}", place % width.max(1) + 1, place / width.max(1) + 1)
}

/// The first few places for a message.
fn listed(places: &[usize], width: usize) -> String {
    places.iter().map(|place| column_row(*place, width)).collect::<Vec<_>>().join("; ")
}
