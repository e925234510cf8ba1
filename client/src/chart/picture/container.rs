//! The chunks of a PNG file (W3C PNG, third edition, section 5): lengths, names, checksums.
//! It does not decompress anything, and texts are not even handed on.

use dyekin_core::error::Error;

use super::super::problems::bad_file;
use super::ONE_PIXEL_CHUNK;

/// The first eight bytes of every PNG file.
pub(super) const SIGNATURE: [u8; 8] = [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1A, b'\n'];

/// What a file says about itself, and the chunks that the pixels need.
pub(super) struct Container<'b> {
    pub(super) width: u32,
    pub(super) height: u32,
    /// Signature and the chunks that decoding needs, as they stand in the file.
    pub(super) pixels: Vec<u8>,
    /// Content of the palette chunk.
    pub(super) palette: Option<&'b [u8]>,
    /// Content of the transparency chunk.
    pub(super) transparency: Option<&'b [u8]>,
    pub(super) claims: Claims<'b>,
    /// Content of the Exif chunk.
    pub(super) exif: Option<&'b [u8]>,
    /// Every pixel is a stitch by the word of our own writer.
    pub(super) one_pixel: bool,
    /// Bytes after the end of the picture.
    pub(super) trailing: usize,
}

/// Contents of the chunks that speak of color spaces.
#[derive(Default)]
pub(super) struct Claims<'b> {
    pub(super) srgb: bool,
    pub(super) gamma: Option<&'b [u8]>,
    pub(super) primaries: Option<&'b [u8]>,
    pub(super) profile: Option<&'b [u8]>,
    pub(super) coded: Option<&'b [u8]>,
}

type Limit<'l> = dyn Fn(u64, u64) -> Result<(), Error> + 'l;

impl<'b> Container<'b> {
    /// Walks through the chunks. The size is judged as soon as the header is read.
    pub(super) fn read(bytes: &'b [u8], limit: &Limit<'_>) -> Result<Self, Box<Error>> {
        let mut walk =
            Walk { rest: bytes.get(SIGNATURE.len()..).unwrap_or_default(), before: None };
        let header = walk.next()?;
        if header.name != *b"IHDR" {
            return Err(bad_file("the PNG does not begin with its header", BROKEN).into());
        }
        let (width, height) = size(header.content)?;
        limit(width.into(), height.into())?;
        let mut container = Self {
            width,
            height,
            pixels: SIGNATURE.to_vec(),
            palette: None,
            transparency: None,
            claims: Claims::default(),
            exif: None,
            one_pixel: false,
            trailing: 0,
        };
        container.pixels.extend_from_slice(header.whole);
        loop {
            let chunk = walk.next()?;
            let end = chunk.name == *b"IEND";
            container.take(&chunk)?;
            if end {
                container.trailing = walk.rest.len();
                return Ok(container);
            }
        }
    }

    fn take(&mut self, chunk: &Chunk<'b>) -> Result<(), Box<Error>> {
        let content = chunk.content;
        match &chunk.name {
            b"IDAT" | b"IEND" => {}
            b"PLTE" => self.palette = Some(content),
            b"tRNS" => self.transparency = Some(content),
            b"sRGB" => self.claims.srgb = true,
            b"gAMA" => self.claims.gamma = Some(content),
            b"cHRM" => self.claims.primaries = Some(content),
            b"iCCP" => self.claims.profile = Some(content),
            b"cICP" => self.claims.coded = Some(content),
            b"eXIf" => self.exif = Some(content),
            b"acTL" => {
                let remedy = "save the one picture that is meant as a still PNG";
                return Err(bad_file("an animated PNG: a chart is one picture", remedy).into());
            }
            name if *name == ONE_PIXEL_CHUNK => self.one_pixel = content == [1],
            name => {
                let critical = name.first().is_some_and(u8::is_ascii_uppercase);
                if critical {
                    let reason = format!("unknown essential chunk {}", chunk.shown_name());
                    return Err(bad_file(reason, BROKEN).into());
                }
            }
        }
        if matches!(&chunk.name, b"IDAT" | b"IEND" | b"PLTE" | b"tRNS" | b"iCCP") {
            self.pixels.extend_from_slice(chunk.whole);
        }
        Ok(())
    }
}

const BROKEN: &str = "the file is damaged: save or download the picture again";

fn size(header: &[u8]) -> Result<(u32, u32), Box<Error>> {
    let number = |from: usize| {
        header.get(from..from + 4).and_then(|four| four.try_into().ok()).map(u32::from_be_bytes)
    };
    match (number(0), number(4), header.len()) {
        (Some(width), Some(height), 13) => Ok((width, height)),
        _ => Err(bad_file("the header chunk IHDR is not 13 bytes long", BROKEN).into()),
    }
}

struct Chunk<'b> {
    name: [u8; 4],
    content: &'b [u8],
    /// Length, name, content and checksum.
    whole: &'b [u8],
}

impl Chunk<'_> {
    fn shown_name(&self) -> String {
        shown_name(self.name)
    }
}

fn shown_name(name: [u8; 4]) -> String {
    name.iter().map(|byte| byte.escape_ascii().to_string()).collect()
}

struct Walk<'b> {
    rest: &'b [u8],
    /// The chunk before, for the message when the file ends.
    before: Option<[u8; 4]>,
}

impl<'b> Walk<'b> {
    fn next(&mut self) -> Result<Chunk<'b>, Box<Error>> {
        let (Some(length), Some(name)) = (self.four(0), self.four(4)) else {
            let after = self.before.map_or_else(String::new, shown_name);
            return Err(Self::ends_early(&format!("after chunk {after}")));
        };
        let length = u32::from_be_bytes(length) as usize;
        let whole = length.checked_add(12).and_then(|whole| self.rest.get(..whole));
        let content = self.rest.get(8..8 + length.min(self.rest.len()));
        let (Some(whole), Some(content)) = (whole, content) else {
            return Err(Self::ends_early(&format!("inside chunk {}", shown_name(name))));
        };
        let stored = self.four(8 + length).map(u32::from_be_bytes);
        let checked = whole.get(4..8 + length).map(crc32fast::hash);
        if stored != checked {
            let reason = format!("chunk {} is damaged: its checksum is wrong", shown_name(name));
            return Err(bad_file(reason, BROKEN).into());
        }
        self.rest = self.rest.get(whole.len()..).unwrap_or_default();
        self.before = Some(name);
        Ok(Chunk { name, content, whole })
    }

    fn four(&self, from: usize) -> Option<[u8; 4]> {
        self.rest.get(from..from.checked_add(4)?)?.try_into().ok()
    }

    fn ends_early(wher: &str) -> Box<Error> {
        bad_file(format!("the file ends early, {wher}"), BROKEN).into()
    }
}
