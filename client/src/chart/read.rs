//! Bytes of a chart file to a chart, whatever its format, or to all that is wrong with them.
//! It does not open files; the caller names the source for the messages.

use dyekin_core::Table;
use dyekin_core::table::{Notice, Refused};

use super::codes::{self, CsvKind};
use super::picture::PictureOptions;
use super::problems::Problems;
use super::{Chart, KeyAlone, json, picture, text};

/// Largest chart file, in bytes.
pub const MAX_FILE_BYTES: usize = 64 << 20;

/// What the caller knows about a file that the file does not say itself.
#[derive(Clone, Copy, Debug)]
pub struct ReadOptions<'t> {
    /// The file's name in messages.
    pub source_name: &'t str,
    /// The table that bare codes belong to, for a grid of codes or a key alone.
    pub table: Option<&'t Table>,
    /// What is known of a picture.
    pub picture: PictureOptions,
}

/// A file format that charts are read from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// CSV grid of thread codes.
    Grid,
    /// Chart JSON.
    Json,
    /// CSV of codes and counts.
    Key,
    /// PNG picture.
    Png,
    /// JPEG picture.
    Jpeg,
}

/// What a file holds.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// A chart.
    Chart(Box<Chart>),
    /// Codes and counts without a grid: neighbors are unknown.
    Key(KeyAlone),
}

/// A file that could be read.
#[derive(Clone, Debug)]
pub struct Loaded {
    /// What it holds.
    pub content: Content,
    /// Its format, as its content shows.
    pub kind: FileKind,
    /// What the reader took for granted or left out.
    pub notices: Vec<Notice>,
}

/// Reads a chart file; the format is told by the content, never by the name.
///
/// # Errors
///
/// All problems of the file at once.
pub fn read(bytes: &[u8], options: &ReadOptions<'_>) -> Result<Loaded, Refused> {
    let refuse = |reason: String, remedy: &str| {
        let mut problems = Problems::of(options.source_name);
        problems.push_file(reason, remedy);
        Err(problems.refused())
    };
    if bytes.len() > MAX_FILE_BYTES {
        let reason = format!("{} bytes, the limit is {MAX_FILE_BYTES}", bytes.len());
        return refuse(reason, "save the chart as PNG with one pixel per stitch");
    }
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return refuse("an empty file".into(), "give a PNG, a chart JSON or a CSV of codes");
    }
    let mut loaded = if let Some(kind) = picture::kind(bytes) {
        let (chart, notices) = picture::read(bytes, options.source_name, options.picture)?;
        Loaded { content: Content::Chart(Box::new(chart)), kind, notices }
    } else if let Some((what, remedy)) = foreign(bytes) {
        return refuse(format!("{what}, which is not read"), remedy);
    } else {
        match text::decode(bytes) {
            Ok(text) => read_text(text, options)?,
            Err(error) => {
                let mut problems = Problems::of(options.source_name);
                problems.push(error);
                return Err(problems.refused());
            }
        }
    };
    loaded.notices.extend(misnamed(options.source_name, loaded.kind));
    Ok(loaded)
}

fn read_text(text: &str, options: &ReadOptions<'_>) -> Result<Loaded, Refused> {
    let source_name = options.source_name;
    if text.trim_start().starts_with(['{', '[']) {
        let chart = json::read::read(text, source_name)?;
        let content = Content::Chart(Box::new(chart));
        return Ok(Loaded { content, kind: FileKind::Json, notices: Vec::new() });
    }
    let kind = codes::kind(text);
    let mut problems = Problems::of(source_name);
    if kind == CsvKind::ThreadTable {
        problems.push_file(
            "a thread table, not a chart",
            "give it with --table, and a chart in its place",
        );
        return Err(problems.refused());
    }
    let Some(table) = options.table else {
        let reason = "bare codes: they mean nothing without the table that they belong to";
        problems.push_file(
            reason,
            "add --from with the table's file, or with the name of one that --table gives",
        );
        return Err(problems.refused());
    };
    if kind == CsvKind::Key {
        let (key, notices) = codes::read_key(text, source_name, table)?;
        return Ok(Loaded { content: Content::Key(key), kind: FileKind::Key, notices });
    }
    let chart = codes::read_grid(text, source_name, table)?;
    let content = Content::Chart(Box::new(chart));
    Ok(Loaded { content, kind: FileKind::Grid, notices: Vec::new() })
}

const AS_PNG: &str = "save the chart as PNG, one pixel per stitch";
const AS_LOSSLESS: &str = "the format blurs colors: go back to the drawing and save it as PNG, one \
                           pixel per stitch";
const AS_CSV: &str = "save the sheet as CSV with one code per cell";

/// First bytes of files that people try, what they are, and what to do.
const FOREIGN: [(&[u8], &str, &str); 10] = [
    (b"GIF8", "a GIF picture", AS_PNG),
    (b"BM", "a BMP picture", AS_PNG),
    (b"II*\0", "a TIFF picture", AS_PNG),
    (b"MM\0*", "a TIFF picture", AS_PNG),
    (b"8BPS", "a layered picture", AS_PNG),
    (b"%PDF", "a PDF document", AS_PNG),
    (b"PK\x03\x04", "a spreadsheet workbook or other zip file", AS_CSV),
    (b"\xD0\xCF\x11\xE0", "an old spreadsheet workbook", AS_CSV),
    (b"<", "an XML, SVG or HTML file", AS_PNG),
    (b"\x1F\x8B", "a compressed file", "unpack it first"),
];

fn foreign(bytes: &[u8]) -> Option<(&'static str, &'static str)> {
    if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
        return Some(("a WebP picture", AS_LOSSLESS));
    }
    if bytes.get(4..8) == Some(b"ftyp") {
        return Some(("a HEIC or AVIF picture, or a film", AS_LOSSLESS));
    }
    // A text may begin with BM; the picture's header has zeros in it.
    let is_text = !bytes.iter().take(64).any(|byte| *byte < 9);
    FOREIGN
        .iter()
        .find(|(start, _, _)| bytes.starts_with(start) && !(is_text && *start == b"BM"))
        .map(|(_, what, remedy)| (*what, *remedy))
}

/// A notice when the name promises another format than the content has.
fn misnamed(source_name: &str, kind: FileKind) -> Option<Notice> {
    let (_, ending) = source_name.rsplit_once('.')?;
    let ending = ending.to_ascii_lowercase();
    let (what, endings): (&str, &[&str]) = match kind {
        FileKind::Grid | FileKind::Key => ("CSV text", &["csv", "tsv", "txt"]),
        FileKind::Json => ("chart JSON", &["json"]),
        FileKind::Png => ("a PNG picture", &["png"]),
        FileKind::Jpeg => ("a JPEG picture", &["jpg", "jpeg"]),
    };
    let others = ["csv", "tsv", "txt", "json", "png", "jpg", "jpeg", "gif", "bmp", "webp", "tif"];
    let wrong = others.contains(&ending.as_str()) && !endings.contains(&ending.as_str());
    wrong.then(|| Notice {
        place: None,
        text: format!("the name ends in .{ending}, but the content is {what} and read as such"),
    })
}
