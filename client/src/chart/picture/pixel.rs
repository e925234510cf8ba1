//! The pixels of a PNG in any of its color types and depths, with eight bits each.
//! It does not know what size a stitch has.

use std::collections::HashSet;
use std::io::Cursor;

use dyekin_core::error::Error;
use dyekin_core::table::Notice;
use png::{BitDepth, ColorType};

use super::super::problems::{Problems, bad_file};
use super::Odd;
use super::container::Container;
use super::raster::{CLEAR, Raster};

/// Bytes that decoding may take beside the pixels.
const DECODER_BYTES: usize = 64 << 20;

/// Different 16-bit colors that are counted before they are only called many.
const COUNTED_COLORS: usize = 1 << 16;

/// One pixel with 16-bit components; 8-bit ones are multiples of 257.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Pixel {
    /// Color and alpha.
    Rgba([u16; 4]),
    /// A number that the palette does not have.
    OutOfPalette(u8),
}

/// Decoded pixels.
pub(super) struct Pixels {
    width: usize,
    line_bytes: usize,
    bytes: Vec<u8>,
    layout: Layout,
    /// The color profile, decompressed; `None` also when it is damaged.
    profile: Option<Vec<u8>>,
}

/// How the bytes of a line are to be read.
struct Layout {
    color: ColorType,
    depth: BitDepth,
    /// Colors of an indexed picture, with alpha.
    palette: Vec<[u8; 4]>,
    /// The gray or RGB value that stands for transparent.
    hole: Option<[u16; 3]>,
}

impl Pixels {
    /// Decodes all pixels. Memory is bounded by the size that the container has already checked.
    pub(super) fn decode(container: &Container<'_>) -> Result<Self, Box<Error>> {
        let limits = png::Limits { bytes: DECODER_BYTES };
        let mut decoder =
            png::Decoder::new_with_limits(Cursor::new(container.pixels.as_slice()), limits);
        decoder.set_transformations(png::Transformations::IDENTITY);
        let mut reader = decoder.read_info().map_err(damaged)?;
        let (color, depth) = reader.output_color_type();
        let profile = reader.info().icc_profile.as_deref().map(<[u8]>::to_vec);
        let width = container.width as usize;
        let line_bytes = reader.output_line_size(container.width).unwrap_or(0);
        let size = line_bytes.saturating_mul(container.height as usize);
        if reader.output_buffer_size() != Some(size) {
            return Err(bad_file("the picture's size does not fit its header", BROKEN).into());
        }
        let mut bytes = vec![0; size];
        reader.next_frame(&mut bytes).map_err(damaged)?;
        let palette = palette(container.palette, container.transparency);
        let hole = container.transparency.and_then(|content| hole(color, content));
        let layout = Layout { color, depth, palette, hole };
        Ok(Self { width, line_bytes, bytes, layout, profile })
    }

    /// The color profile, when the file has one that can be unpacked.
    pub(super) fn profile(&self) -> Option<&[u8]> {
        self.profile.as_deref()
    }

    /// The pixels with eight bits each. Tells what is wrong with them and what was taken for granted.
    pub(super) fn raster(&self, problems: &mut Problems, notices: &mut Vec<Notice>) -> Raster {
        let is_deep = self.layout.depth == BitDepth::Sixteen;
        let mut outside = Odd::default();
        let mut deep: HashSet<[u16; 3]> = HashSet::new();
        let mut shallow: HashSet<[u8; 3]> = HashSet::new();
        let mut pixels = Vec::with_capacity(self.bytes.len() / self.line_bytes.max(1) * self.width);
        for pixel in self.iter() {
            match pixel {
                Pixel::Rgba([_, _, _, 0]) => pixels.push(CLEAR),
                Pixel::Rgba(parts) => {
                    let rounded = parts.map(to_eight_bits);
                    let [red, green, blue, _] = parts;
                    if is_deep && deep.len() < COUNTED_COLORS && deep.insert([red, green, blue]) {
                        let [red, green, blue, _] = rounded;
                        shallow.insert([red, green, blue]);
                    }
                    pixels.push(rounded);
                }
                Pixel::OutOfPalette(_) => {
                    outside.add(pixels.len());
                    pixels.push(CLEAR);
                }
            }
        }
        if let Some(told) = outside.told(self.width) {
            problems.push_file(
                format!(
                    "{} pixels have a color that the picture's palette does not have: {told}",
                    outside.count()
                ),
                BROKEN,
            );
        }
        if deep.len() > shallow.len() {
            let text = joined_text(deep.len() - shallow.len());
            notices.push(Notice { place: None, text });
        }
        Raster::new(self.width, pixels)
    }

    /// The pixels in reading order.
    fn iter(&self) -> impl Iterator<Item = Pixel> {
        let pixels = move |line| (0..self.width).map(move |x| self.layout.pixel(line, x));
        self.bytes.chunks_exact(self.line_bytes.max(1)).flat_map(pixels)
    }
}

const BROKEN: &str = "the file is damaged: save or download the picture again";

#[expect(clippy::needless_pass_by_value, reason = "the shape that map_err wants")]
fn damaged(error: png::DecodingError) -> Box<Error> {
    let text = error.to_string();
    let early = ["unexpected end", "eof", "no more image data", "not enough", "incomplete"];
    let lower = text.to_lowercase();
    let reason = if early.iter().any(|word| lower.contains(word)) {
        format!("the file ends early: the pixels are not complete ({text})")
    } else {
        format!("the pixels cannot be read: {text}")
    };
    bad_file(reason, BROKEN).into()
}

/// Colors with alpha; entries without a transparency are opaque.
fn palette(colors: Option<&[u8]>, alphas: Option<&[u8]>) -> Vec<[u8; 4]> {
    let alphas = alphas.unwrap_or_default().iter().copied().chain(std::iter::repeat(u8::MAX));
    let colors = colors.unwrap_or_default().chunks_exact(3);
    let color = |(rgb, alpha): (&[u8], u8)| match rgb {
        [red, green, blue] => Some([*red, *green, *blue, alpha]),
        _ => None,
    };
    colors.zip(alphas).filter_map(color).collect()
}

/// The value of a gray or RGB picture that is transparent.
fn hole(color: ColorType, content: &[u8]) -> Option<[u16; 3]> {
    let values: Vec<u16> = content
        .chunks_exact(2)
        .filter_map(|two| two.try_into().ok().map(u16::from_be_bytes))
        .collect();
    match (color, values.as_slice()) {
        (ColorType::Grayscale, [gray]) => Some([*gray; 3]),
        (ColorType::Rgb, [red, green, blue]) => Some([*red, *green, *blue]),
        _ => None,
    }
}

impl Layout {
    fn pixel(&self, line: &[u8], x: usize) -> Pixel {
        match self.color {
            ColorType::Indexed => self.indexed(self.sample(line, x)),
            ColorType::Grayscale => {
                let gray = self.sample(line, x);
                self.opaque([gray; 3])
            }
            ColorType::GrayscaleAlpha => {
                let gray = self.scaled(self.sample(line, x * 2));
                Pixel::Rgba([gray, gray, gray, self.scaled(self.sample(line, x * 2 + 1))])
            }
            ColorType::Rgb => {
                let sample = |offset| self.sample(line, x * 3 + offset);
                self.opaque([sample(0), sample(1), sample(2)])
            }
            ColorType::Rgba => {
                let sample = |offset| self.scaled(self.sample(line, x * 4 + offset));
                Pixel::Rgba([sample(0), sample(1), sample(2), sample(3)])
            }
        }
    }

    /// A color that is opaque unless it is the one that stands for transparent.
    fn opaque(&self, samples: [u16; 3]) -> Pixel {
        let alpha = if self.hole == Some(samples) { 0 } else { u16::MAX };
        let [red, green, blue] = samples.map(|sample| self.scaled(sample));
        Pixel::Rgba([red, green, blue, alpha])
    }

    fn indexed(&self, index: u16) -> Pixel {
        match self.palette.get(usize::from(index)) {
            Some(rgba) => Pixel::Rgba(rgba.map(|value| u16::from(value) * 257)),
            None => Pixel::OutOfPalette(u8::try_from(index).unwrap_or(u8::MAX)),
        }
    }

    /// The raw value at a place of a line.
    fn sample(&self, line: &[u8], place: usize) -> u16 {
        let byte = |place: usize| line.get(place).copied().map_or(0, u16::from);
        let packed = |per_byte: usize, bits: usize| {
            let shift = (per_byte - 1 - place % per_byte) * bits;
            (byte(place / per_byte) >> shift) & ((1 << bits) - 1)
        };
        match self.depth {
            BitDepth::One => packed(8, 1),
            BitDepth::Two => packed(4, 2),
            BitDepth::Four => packed(2, 4),
            BitDepth::Eight => byte(place),
            BitDepth::Sixteen => byte(place * 2) * 256 + byte(place * 2 + 1),
        }
    }

    /// A raw value stretched to 16 bits, exactly for every depth.
    fn scaled(&self, sample: u16) -> u16 {
        match self.depth {
            BitDepth::One => sample * 0xFFFF,
            BitDepth::Two => sample * 0x5555,
            BitDepth::Four => sample * 0x1111,
            BitDepth::Eight => sample * 0x0101,
            BitDepth::Sixteen => sample,
        }
    }
}

/// What rounding to 8 bits joined: so many colors fewer than the picture had.
fn joined_text(fewer: usize) -> String {
    if fewer == 1 {
        "2 different 16-bit colors became one when rounded to 8 bits".to_owned()
    } else {
        format!("16-bit colors were rounded to 8 bits: {fewer} fewer colors than before")
    }
}

/// The nearest 8-bit value: v / 257, rounded.
fn to_eight_bits(value: u16) -> u8 {
    let rounded = (u32::from(value) + 128) / 257;
    u8::try_from(rounded).unwrap_or(u8::MAX)
}
