//! A JPEG picture to pixels, with what it says about its colors and its orientation.
//! It does not know what size a stitch has.

use dyekin_core::error::Error;
use zune_jpeg::JpegDecoder;
use zune_jpeg::errors::DecodeErrors;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use super::super::problems::bad_file;
use super::raster::Raster;

const BROKEN: &str = "the file is damaged: save or download the picture again";

/// What the file holds.
pub(super) struct Jpeg {
    pub(super) raster: Raster,
    /// The color profile.
    pub(super) profile: Option<Vec<u8>>,
    /// The Exif block, as a TIFF.
    pub(super) exif: Option<Vec<u8>>,
}

/// True when the bytes begin like a JPEG.
pub(super) fn is_jpeg(bytes: &[u8]) -> bool {
    bytes.starts_with(&[0xFF, 0xD8, 0xFF])
}

type Limit<'l> = dyn Fn(u64, u64) -> Result<(), Error> + 'l;

/// Decodes all pixels. The size is judged as soon as the header is read.
pub(super) fn decode(bytes: &[u8], limit: &Limit<'_>) -> Result<Jpeg, Box<Error>> {
    let options = DecoderOptions::default()
        .set_strict_mode(true)
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX))
        .jpeg_set_out_colorspace(ColorSpace::RGB);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    decoder.decode_headers().map_err(damaged)?;
    let (width, height) = decoder.dimensions().ok_or_else(|| bad_file("no size", BROKEN))?;
    limit(width as u64, height as u64)?;
    if matches!(decoder.input_colorspace(), Some(ColorSpace::CMYK | ColorSpace::YCCK)) {
        let profile = decoder.icc_profile();
        let name = profile.as_deref().and_then(super::profile::described);
        let with =
            name.map_or_else(|| "without a profile".to_owned(), |name| format!("\"{name}\""));
        return Err(bad_file(
            format!("printing colors (CMYK, {with}), which are not screen colors"),
            "convert the picture to RGB (sRGB) in the program that made it, and save it as PNG",
        )
        .into());
    }
    let pixels = decoder.decode().map_err(damaged)?;
    let opaque = |rgb: &[u8]| match rgb {
        [red, green, blue] => [*red, *green, *blue, u8::MAX],
        _ => super::raster::CLEAR,
    };
    if pixels.len() != width * height * 3 {
        return Err(bad_file("the picture's size does not fit its header", BROKEN).into());
    }
    let raster = Raster::new(width, pixels.chunks_exact(3).map(opaque).collect());
    Ok(Jpeg { raster, profile: decoder.icc_profile(), exif: decoder.exif().cloned() })
}

#[expect(clippy::needless_pass_by_value, reason = "the shape that map_err wants")]
fn damaged(error: DecodeErrors) -> Box<Error> {
    bad_file(format!("the JPEG cannot be read: {error}"), BROKEN).into()
}
