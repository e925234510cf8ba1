//! The orientation that a camera or a program noted beside the pixels.
//! It reads nothing else of the note: places, times and owners are nobody's business here.

use exif::{In, Reader, Tag};

/// The orientation of a TIFF block, 1 to 8; `None` when there is none or the block is damaged.
pub(super) fn orientation(tiff: &[u8]) -> Option<u32> {
    // Some writers repeat the marker that JPEG puts before the block.
    let tiff = tiff.strip_prefix(b"Exif\0\0").unwrap_or(tiff);
    let read = Reader::new().read_raw(tiff.to_vec()).ok()?;
    let number = read.get_field(Tag::Orientation, In::PRIMARY)?.value.get_uint(0)?;
    (1..=8).contains(&number).then_some(number)
}
