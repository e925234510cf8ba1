//! Swatch exchange files (`ASEF`): big-endian blocks with a color or the border of a group each.
//! It does not know what a thread is; it hands on a code made from names or numbers, and a color.

use super::bytes::{SAVE_AS_CSV, size_fault};
use super::column::{COLUMNS, Column};
use super::naming::{Nameless, Naming};
use super::report::{Seen, rows as count_of};
use super::row::{Keyed, Row, Rows};
use super::spectral::Spectral;
use crate::color::Srgb8;
use crate::error::{ErrorKind, Place, shown};

const MARK: &[u8] = b"ASEF";

/// Bytes of mark, version and block count.
const HEAD_BYTES: usize = 12;

/// Kinds of blocks: a color, the begin and the end of a group.
const COLOR: u16 = 0x0001;
const GROUP: u16 = 0xC001;
const GROUP_END: u16 = 0xC002;

/// Farthest that a component of 8 bits lies from a whole step when written as a 32-bit float.
const STEP_SLACK: f64 = 1e-4;

/// Most groups that one notice names.
const NAMED_GROUPS: usize = 5;

const EXPORT_AGAIN: &str = "export the swatches again from the program that made them";

/// True for bytes that begin like a swatch exchange file.
pub(super) fn is_one(bytes: &[u8]) -> bool {
    bytes.starts_with(MARK)
}

/// Bytes read from the front, with the place of the next one in the file.
#[derive(Clone, Copy, Debug)]
struct Reader<'b> {
    bytes: &'b [u8],
    at: usize,
}

impl<'b> Reader<'b> {
    fn take(&mut self, count: usize) -> Option<&'b [u8]> {
        let (taken, rest) = self.bytes.split_at_checked(count)?;
        self.bytes = rest;
        self.at += count;
        Some(taken)
    }

    fn array<const N: usize>(&mut self) -> Option<[u8; N]> {
        self.take(N)?.try_into().ok()
    }

    fn u16(&mut self) -> Option<u16> {
        self.array().map(u16::from_be_bytes)
    }

    fn u32(&mut self) -> Option<u32> {
        self.array().map(u32::from_be_bytes)
    }

    fn f32(&mut self) -> Option<f32> {
        self.array().map(f32::from_be_bytes)
    }

    /// A text of UTF-16 with its length in front; the NUL behind it is not part of it.
    fn text(&mut self) -> Result<String, &'static str> {
        const CUT: &str = "the name is longer than its block";
        let count = self.u16().ok_or(CUT)?;
        let bytes = self.take(usize::from(count) * 2).ok_or(CUT)?;
        let mut units: Vec<u16> = bytes
            .chunks_exact(2)
            .filter_map(|pair| pair.try_into().ok().map(u16::from_be_bytes))
            .collect();
        if units.last() == Some(&0) {
            units.pop();
        }
        if units.contains(&0) {
            return Err("the name holds NUL");
        }
        String::from_utf16(&units).map_err(|_| "the name is not UTF-16")
    }
}

/// The three texts of a color in the columns that they go to.
#[derive(Debug)]
enum Paint {
    Rgb(String),
    Lab([String; 3]),
}

impl Paint {
    fn columns(&self) -> Vec<(Column, &str)> {
        match self {
            Self::Rgb(hex) => vec![(Column::Hex, hex)],
            Self::Lab(parts) => {
                Column::LAB.into_iter().zip(parts.iter().map(String::as_str)).collect()
            }
        }
    }
}

/// A color that could be read.
#[derive(Debug)]
struct Swatch {
    number: usize,
    at: usize,
    name: String,
    paint: Paint,
}

impl Swatch {
    /// The color as one text.
    fn color(&self) -> String {
        self.paint.columns().iter().map(|(_, text)| format!("{text} ")).collect()
    }
}

/// What the blocks together say.
#[derive(Debug, Default)]
struct Swatches {
    colors: usize,
    good: Vec<Swatch>,
    groups: Vec<String>,
    open_groups: usize,
    stray_ends: usize,
    blocks: u64,
    rounded: Seen,
    unknown: Seen,
    longer: Seen,
}

/// Reads all colors of a file.
pub(super) fn read(bytes: &[u8], rows: &mut Rows<'_>) {
    rows.report.count_as("swatch");
    if let Some(kind) = size_fault(bytes) {
        rows.report.problem(kind, Place::default());
        return;
    }
    let mut reader = Reader { bytes, at: 0 };
    let Some((major, stated)) = head(&mut reader) else {
        let reason =
            format!("the file ends after {} bytes, inside the head of {HEAD_BYTES}", bytes.len());
        rows.report.problem(cut(&reason), at_byte(bytes.len()));
        return;
    };
    if major != 1 {
        let kind = ErrorKind::BadFile {
            reason: format!("version {major} of the swatch exchange format is not known"),
            remedy: SAVE_AS_CSV.into(),
        };
        rows.report.problem(kind, at_byte(MARK.len()));
        return;
    }
    let mut swatches = Swatches::default();
    let mut is_whole = true;
    while is_whole && !reader.bytes.is_empty() {
        is_whole = swatches.read_block(&mut reader, rows);
    }
    if is_whole && u64::from(stated) > swatches.blocks {
        let reason = format!("the file says {stated} blocks and ends after {}", swatches.blocks);
        rows.report.problem(cut(&reason), at_byte(bytes.len()));
    }
    swatches.tell(stated, rows);
    swatches.ask_for_white(rows);
    swatches.give(rows);
}

/// The major version and the number of blocks that the file claims.
fn head(reader: &mut Reader<'_>) -> Option<(u16, u32)> {
    reader.take(MARK.len())?;
    let major = reader.u16()?;
    reader.u16()?;
    Some((major, reader.u32()?))
}

fn cut(reason: &str) -> ErrorKind {
    ErrorKind::BadFile {
        reason: reason.to_owned(),
        remedy: format!("the file is cut off or damaged: {EXPORT_AGAIN}"),
    }
}

fn at_byte(at: usize) -> Place {
    Place::field(format!("byte {at}"))
}

impl Swatches {
    /// Reads a block. False when nothing behind it can be found.
    fn read_block(&mut self, reader: &mut Reader<'_>, rows: &mut Rows<'_>) -> bool {
        let start = reader.at;
        let head = reader.u16().and_then(|kind| Some((kind, reader.u32()?)));
        let Some((kind, length)) = head else {
            rows.report.problem(cut("the file ends inside the head of a block"), at_byte(start));
            return false;
        };
        let length = usize::try_from(length).unwrap_or(usize::MAX);
        let left = reader.bytes.len();
        let at = reader.at;
        let Some(bytes) = reader.take(length) else {
            let reason = format!("a block of {length} bytes, of which {left} are there");
            rows.report.problem(cut(&reason), at_byte(start));
            return false;
        };
        self.blocks += 1;
        let mut block = Reader { bytes, at };
        match kind {
            COLOR => self.read_color(&mut block, start, rows),
            GROUP => self.read_group(&mut block, start, rows),
            GROUP_END if self.open_groups == 0 => self.stray_ends += 1,
            GROUP_END => self.open_groups -= 1,
            _ => self.unknown.note(self.blocks),
        }
        true
    }

    fn read_group(&mut self, block: &mut Reader<'_>, start: usize, rows: &mut Rows<'_>) {
        self.open_groups += 1;
        match block.text() {
            Ok(name) => self.groups.push(name),
            Err(reason) => rows.report.problem(cut(&format!("a group: {reason}")), at_byte(start)),
        }
    }

    fn read_color(&mut self, block: &mut Reader<'_>, start: usize, rows: &mut Rows<'_>) {
        self.colors += 1;
        let number = self.colors;
        let name = match block.text() {
            Ok(name) => name,
            Err(reason) => {
                rows.report.problem(cut(reason), place(number, start, ""));
                return;
            }
        };
        let place = place(number, start, &name);
        match self.paint(block) {
            Ok(paint) => {
                if block.bytes.len() != 2 {
                    self.longer.note(number as u64);
                }
                self.good.push(Swatch { number, at: start, name, paint });
            }
            Err(kind) => rows.report.problem(*kind, place),
        }
    }

    /// The color model of a block and its components.
    fn paint(&mut self, block: &mut Reader<'_>) -> Result<Paint, Box<ErrorKind>> {
        let short = || Box::new(cut("the block is too short for its color"));
        let model: [u8; 4] = block.array().ok_or_else(short)?;
        match &model {
            b"RGB " => {
                let [red, green, blue] = components(block).ok_or_else(short)?;
                self.rgb([("red", red), ("green", green), ("blue", blue)])
            }
            b"LAB " => {
                let [l, a, b] = components(block).ok_or_else(short)?;
                lab(l, a, b)
            }
            b"CMYK" => Err(no_profile("CMYK", components::<4>(block).ok_or_else(short)?)),
            b"Gray" | b"GRAY" => Err(no_profile("gray", components::<1>(block).ok_or_else(short)?)),
            _ => Err(Box::new(ErrorKind::BadColor {
                value: String::from_utf8_lossy(&model).into_owned(),
                reason: "a color model that is not known".into(),
                remedy: "change the swatch to RGB or Lab and export again".into(),
            })),
        }
    }

    fn rgb(&mut self, parts: [(&str, f32); 3]) -> Result<Paint, Box<ErrorKind>> {
        let mut bytes = [0; 3];
        let mut is_rounded = false;
        for ((name, part), byte) in parts.into_iter().zip(&mut bytes) {
            let scaled = f64::from(part) * 255.0;
            let whole = scaled.round();
            let found = super::paint::byte_of(whole + 0.0, true);
            *byte = found
                .filter(|_| part.is_finite())
                .ok_or_else(|| bad_number(part, &format!("{name} is outside 0 to 1")))?;
            is_rounded |= (scaled - whole).abs() > STEP_SLACK;
        }
        if is_rounded {
            self.rounded.note(self.colors as u64);
        }
        let [red, green, blue] = bytes;
        Ok(Paint::Rgb(Srgb8::new(red, green, blue).to_string()))
    }

    fn tell(&self, stated: u32, rows: &mut Rows<'_>) {
        let report = &mut rows.report;
        let there = self.blocks;
        if u64::from(stated) < there {
            report.notice(
                None,
                format!("the file says {stated} blocks, {there} are there: all read"),
            );
        }
        if !self.groups.is_empty() {
            let named: Vec<String> =
                self.groups.iter().take(NAMED_GROUPS).map(|name| shown(name)).collect();
            let more = if self.groups.len() > NAMED_GROUPS { ", …" } else { "" };
            let count = self.groups.len();
            let groups = if count == 1 { "group" } else { "groups" };
            let text =
                format!("the names of {count} {groups} are not kept: {}{more}", named.join(", "));
            report.notice(None, text);
        }
        if self.open_groups + self.stray_ends > 0 {
            report.notice(None, "groups begin and end unevenly: read as they stand");
        }
        if self.unknown.count > 0 {
            let text =
                format!("blocks of a kind that is not known: {}, not read", self.unknown.count);
            report.notice(None, text);
        }
        self.longer.tell(report, |count| {
            format!("{} in a block longer than its color: the rest is not read", count_of(count))
        });
        self.rounded.tell(report, |count| {
            format!("{} with red, green and blue between two 8-bit steps: rounded", count_of(count))
        });
    }

    /// Asks for the white of Lab: the format has no place for it.
    fn ask_for_white(&self, rows: &mut Rows<'_>) {
        let mut labs = self.good.iter().filter(|swatch| matches!(swatch.paint, Paint::Lab(_)));
        let Some(first) = labs.next().filter(|_| rows.options.conditions.is_none()) else { return };
        let others = match labs.count() {
            0 => String::new(),
            more => format!(", as in {}", count_more(more)),
        };
        let kind = ErrorKind::BadColor {
            value: first.color().trim().to_owned(),
            reason: format!(
                "Lab without a light and observer{others}: a swatch exchange file cannot state them"
            ),
            remedy: "say them with `--white`: drawing programs usually mean D50/2, so \
                     `--white D50/2`; a meter for textiles usually `--white D65/10`"
                .into(),
        };
        rows.report.problem(kind, place(first.number, first.at, &first.name));
    }

    /// Hands the colors on, with their codes.
    fn give(&self, rows: &mut Rows<'_>) {
        let colors: Vec<String> = self.good.iter().map(Swatch::color).collect();
        let named = self.good.iter().zip(&colors);
        let naming =
            Naming::decide(named.map(|(swatch, color)| Nameless { name: &swatch.name, color }));
        if !self.good.is_empty() {
            naming.tell("a swatch exchange file", &mut rows.report);
        }
        for swatch in &self.good {
            let code = naming.code(&swatch.name, swatch.number);
            let path = format!("{}, ", label(swatch.number, swatch.at, &swatch.name));
            let origin = Some(Keyed { path: &path, keys: [""; COLUMNS] });
            let mut cells = [""; COLUMNS];
            let texts = [(Column::Code, &*code), (Column::Name, &*swatch.name)];
            for (column, text) in texts.into_iter().chain(swatch.paint.columns()) {
                if let Some(cell) = cells.get_mut(column.index()) {
                    *cell = text;
                }
            }
            let line = swatch.number as u64;
            rows.push(&Row { line, origin, cells, spectrum: Spectral::Absent });
            if rows.is_full {
                return;
            }
        }
    }
}

fn count_more(more: usize) -> String {
    format!("{more} more {}", if more == 1 { "swatch" } else { "swatches" })
}

/// The place of a swatch: its number for the order, and what a person is shown.
fn place(number: usize, at: usize, name: &str) -> Place {
    let field = Some(label(number, at, name));
    Place { line: Some(number as u64), field, ..Place::default() }
}

fn label(number: usize, at: usize, name: &str) -> String {
    format!("swatch {number} `{}` at byte {at}", shown(name))
}

fn components<const N: usize>(block: &mut Reader<'_>) -> Option<[f32; N]> {
    let mut parts = [0.0; N];
    for part in &mut parts {
        *part = block.f32()?;
    }
    Some(parts)
}

/// L* is stored as a fraction of 100. The shortest decimal text of the stored number is taken, so
/// that 0.76 means 76 and not 75.99999.
fn lab(l: f32, a: f32, b: f32) -> Result<Paint, Box<ErrorKind>> {
    let times_hundred: f64 = format!("{l}e2").parse().unwrap_or(f64::NAN);
    if !(0.0..=102.0).contains(&times_hundred) {
        return Err(bad_number(l, "L* is stored from 0 to 1"));
    }
    Ok(Paint::Lab([times_hundred.to_string(), a.to_string(), b.to_string()]))
}

fn bad_number(value: f32, reason: &str) -> Box<ErrorKind> {
    Box::new(ErrorKind::BadColor {
        value: value.to_string(),
        reason: reason.to_owned(),
        remedy: format!("nothing is clipped: {EXPORT_AGAIN}"),
    })
}

/// Inks have no color without the profile of the press, and the file has none.
fn no_profile<const N: usize>(model: &str, parts: [f32; N]) -> Box<ErrorKind> {
    let parts: Vec<String> = parts.iter().map(ToString::to_string).collect();
    Box::new(ErrorKind::BadColor {
        value: parts.join(" "),
        reason: format!("{model} without a profile is not a color: any reading is approximate"),
        remedy: "change the swatch to Lab or RGB where its profile is known, and export again"
            .into(),
    })
}
