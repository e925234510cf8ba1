//! A picture to a chart: a stitch is a pixel or a block of pixels, transparent ones are bare cloth.
//! It does not know what the colors are for.

mod cells;
mod color_space;
mod container;
mod exif;
mod jpeg;
mod marks;
mod number;
mod pixel;
mod profile;
mod raster;
pub(crate) mod write;

pub(crate) use marks::marks;

use dyekin_core::error::{Error, shown};
use dyekin_core::table::{Notice, Refused};

use super::problems::{Problems, bad_file};
use super::{Chart, FileKind, MAX_SIDE};
use cells::Known;
use container::Container;
use pixel::Pixels;
use profile::ToSrgb;
use raster::Raster;

/// Most pixels of a picture.
const MAX_PIXELS: u64 = 16 << 20;

/// Places that a message lists.
const LISTED: usize = 5;

/// A private chunk of ours: every pixel is a stitch, as the writer of this program made it.
/// Ancillary, private, and not to be copied by programs that change the pixels.
const ONE_PIXEL_CHUNK: [u8; 4] = *b"dyEK";

/// What the user knows about a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PictureOptions {
    /// How large a stitch is; `None` looks for it in the content.
    pub scale: Option<Scale>,
    /// What half transparent cells are; `None` refuses them with their places.
    pub see_through: Option<SeeThrough>,
}

impl PictureOptions {
    /// Whatever the content shows.
    pub const AS_FOUND: Self = Self { scale: None, see_through: None };
}

/// How many pixels a stitch has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// So many pixels across and down, 1 to 200.
    Side(u16),
    /// So many stitches across and down, 1 to 2,000 each; the picture is divided evenly.
    Cells(u16, u16),
}

/// What half transparent cells are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SeeThrough {
    /// Bare cloth.
    Cloth,
    /// Stitches of the color that shines through.
    Stitch,
}

/// The kind of picture that the bytes begin like.
pub(crate) fn kind(bytes: &[u8]) -> Option<FileKind> {
    if bytes.starts_with(&container::SIGNATURE) {
        Some(FileKind::Png)
    } else if jpeg::is_jpeg(bytes) {
        Some(FileKind::Jpeg)
    } else {
        None
    }
}

/// True when the bytes begin like a picture that is read.
pub(crate) fn is_picture(bytes: &[u8]) -> bool {
    kind(bytes).is_some()
}

/// Reads a picture.
pub(crate) fn read(
    bytes: &[u8],
    source_name: &str,
    options: PictureOptions,
) -> Result<(Chart, Vec<Notice>), Refused> {
    let mut problems = Problems::of(source_name);
    let mut notices = Vec::new();
    let read = chart(bytes, options, &mut problems, &mut notices);
    match read {
        Ok(Some(chart)) => problems.ok((chart, notices)),
        Ok(None) => Err(problems.refused()),
        Err(error) => {
            problems.push(*error);
            Err(problems.refused())
        }
    }
}

/// A decoded file.
struct Picture {
    raster: Raster,
    /// The color profile, unpacked, and its name.
    profile: Option<(Vec<u8>, String)>,
    orientation: Option<u32>,
    lossy: bool,
    one_pixel: bool,
}

/// `Ok(None)` when everything that is wrong was reported.
fn chart(
    bytes: &[u8],
    options: PictureOptions,
    problems: &mut Problems,
    notices: &mut Vec<Notice>,
) -> Result<Option<Chart>, Box<Error>> {
    if let Some(reason) = options.scale.and_then(impossible) {
        let remedy = format!("--cell-size has 1 to {}, --cells 1 to {MAX_SIDE}", cells::MAX_SIDE);
        return Err(bad_file(reason, &remedy).into());
    }
    let picture = if jpeg::is_jpeg(bytes) {
        from_jpeg(bytes)?
    } else {
        from_png(&Container::read(bytes, &check_size)?, problems, notices)?
    };
    if !problems.is_empty() {
        return Ok(None);
    }
    let to_srgb = conversion(picture.profile, notices)?;
    let raster = match picture.orientation {
        Some(orientation @ 2..) => {
            let text = format!("turned upright as its Exif orientation {orientation} says");
            notices.push(Notice { place: None, text });
            picture.raster.turned(orientation)
        }
        _ => picture.raster,
    };
    let known = Known { scale: options.scale, lossy: picture.lossy, one_pixel: picture.one_pixel };
    let Some(cells) = cells::cells(raster, known, problems, notices) else { return Ok(None) };
    let convert = |color| to_srgb.as_ref().map_or(Ok(color), |to_srgb| to_srgb.convert(color));
    number::chart(&cells, options.see_through, &convert, problems)
}

/// Why a size of stitches cannot be.
fn impossible(scale: Scale) -> Option<String> {
    match scale {
        Scale::Side(side) => (!(1..=cells::MAX_SIDE).contains(&side))
            .then(|| format!("{side} pixels across a stitch")),
        Scale::Cells(across, down) => [across, down]
            .iter()
            .any(|cells| !(1..=MAX_SIDE).contains(cells))
            .then(|| format!("{across} x {down} stitches")),
    }
}

fn from_png(
    container: &Container<'_>,
    problems: &mut Problems,
    notices: &mut Vec<Notice>,
) -> Result<Picture, Box<Error>> {
    color_space::notices(container, notices);
    if container.trailing > 0 {
        let text =
            format!("{} bytes after the end of the picture are not read", container.trailing);
        notices.push(Notice { place: None, text });
    }
    let pixels = Pixels::decode(container)?;
    let claims = &container.claims;
    let profile = claims.profile.filter(|_| !claims.srgb && claims.coded.is_none());
    // A profile that cannot be unpacked is refused with its name like any that cannot be read.
    let profile = profile.map(|chunk| {
        (pixels.profile().unwrap_or_default().to_vec(), color_space::profile_name(chunk))
    });
    Ok(Picture {
        raster: pixels.raster(problems, notices),
        profile,
        orientation: container.exif.and_then(exif::orientation),
        lossy: false,
        one_pixel: container.one_pixel,
    })
}

fn from_jpeg(bytes: &[u8]) -> Result<Picture, Box<Error>> {
    let jpeg = jpeg::decode(bytes, &check_size)?;
    let named = |profile: Vec<u8>| {
        let name = profile::described(&profile).unwrap_or_else(|| "without a name".to_owned());
        (profile, name)
    };
    Ok(Picture {
        raster: jpeg.raster,
        profile: jpeg.profile.map(named),
        orientation: jpeg.exif.as_deref().and_then(exif::orientation),
        lossy: true,
        one_pixel: false,
    })
}

/// How the colors of a profile become sRGB; `None` when they are sRGB.
fn conversion(
    profile: Option<(Vec<u8>, String)>,
    notices: &mut Vec<Notice>,
) -> Result<Option<ToSrgb>, Box<Error>> {
    let Some((profile, name)) = profile else { return Ok(None) };
    let to_srgb = ToSrgb::of(&profile, &name)?;
    if to_srgb.is_srgb() {
        return Ok(None);
    }
    let text = format!("color profile \"{}\": colors were converted to sRGB", shown(&name));
    notices.push(Notice { place: None, text });
    Ok(Some(to_srgb))
}

fn check_size(width: u64, height: u64) -> Result<(), Error> {
    if width > 0 && height > 0 && width.saturating_mul(height) <= MAX_PIXELS {
        return Ok(());
    }
    Err(bad_file(
        format!("{width} x {height} pixels, the limit is {MAX_PIXELS} in all and at least one"),
        "save the picture with one pixel per stitch",
    ))
}

/// Cells or pixels with one thing wrong: how many, and where the first ones are.
#[derive(Default)]
struct Odd {
    count: usize,
    first: Vec<usize>,
}

impl Odd {
    fn add(&mut self, place: usize) {
        self.count += 1;
        if self.first.len() < LISTED {
            self.first.push(place);
        }
    }

    fn count(&self) -> usize {
        self.count
    }

    /// The first places; `None` without any.
    fn told(&self, width: usize) -> Option<String> {
        let more = if self.count > self.first.len() { "; and more" } else { "" };
        (self.count > 0).then(|| format!("{}{more}", listed(&self.first, width)))
    }
}

/// Column and row of a pixel or cell, from 1, as people count them.
fn column_row(place: usize, width: usize) -> String {
    format!("column {} row {}", place % width.max(1) + 1, place / width.max(1) + 1)
}

/// The first few places for a message.
fn listed(places: &[usize], width: usize) -> String {
    places.iter().map(|place| column_row(*place, width)).collect::<Vec<_>>().join("; ")
}
