//! Bytes of a table file to text: other formats told by content, encodings, NUL, size.
//! It does not know what a table looks like; it only hands on clean text.

use std::borrow::Cow;

use super::report::Report;
use crate::error::{ErrorKind, Place};

/// Largest table file, in bytes (64 MiB).
pub const MAX_FILE_BYTES: usize = 64 * 1024 * 1024;

/// What every refusal of another format advises.
pub(super) const SAVE_AS_CSV: &str =
    "not read; save it as CSV with the columns code, name and hex, or code, name, L, a and b";

/// Formats told by their first bytes: start, name, remedy.
const SIGNATURES: [(&[u8], &str, &str); 9] = [
    (b"PK\x03\x04", "a spreadsheet workbook or another zip archive", WORKBOOK),
    (b"PK\x05\x06", "an empty zip archive", WORKBOOK),
    (b"\xD0\xCF\x11\xE0", "a spreadsheet workbook of the older kind", WORKBOOK),
    (b"\x89PNG", "a PNG picture", SAVE_AS_CSV),
    (b"\xFF\xD8\xFF", "a JPEG picture", SAVE_AS_CSV),
    (b"GIF8", "a GIF picture", SAVE_AS_CSV),
    (b"RIFF", "a RIFF file", SAVE_AS_CSV),
    (b"%PDF", "a PDF document", SAVE_AS_CSV),
    (b"\x1F\x8B", "a gzip archive", "unpack it and give the table inside"),
];

const WORKBOOK: &str = "open it in the spreadsheet program and save the sheet as CSV (UTF-8)";

/// The text of a table file, or what is wrong with its bytes.
///
/// # Errors
///
/// `None` after the one problem has been reported.
pub(super) fn text<'b>(bytes: &'b [u8], report: &mut Report) -> Option<Cow<'b, str>> {
    match checked(bytes, report.is_named(".ase")) {
        Ok((text, notice)) => {
            if let Some(notice) = notice {
                report.notice(None, notice);
            }
            Some(text)
        }
        Err((kind, line)) => {
            report.problem(kind, line.map(Place::line).unwrap_or_default());
            None
        }
    }
}

type Fault = (ErrorKind, Option<u64>);

fn checked(bytes: &[u8], is_named_swatches: bool) -> Result<(Cow<'_, str>, Option<String>), Fault> {
    if let Some(kind) = size_fault(bytes) {
        return Err((kind, None));
    }
    let bare = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    if bare.trim_ascii().is_empty() {
        return Err(refuse("the file is empty", "a table needs a header line and a row a thread"));
    }
    if bytes.starts_with(b"\xFF\xFE\0\0") || bytes.starts_with(b"\0\0\xFE\xFF") {
        return Err(refuse("the file is UTF-32", "save it as UTF-8"));
    }
    if let Some(units) = bytes.strip_prefix(b"\xFF\xFE") {
        return utf16(units, u16::from_le_bytes);
    }
    if let Some(units) = bytes.strip_prefix(b"\xFE\xFF") {
        return utf16(units, u16::from_be_bytes);
    }
    other_format(bare)?;
    if is_named_swatches && (bytes.contains(&0) || std::str::from_utf8(bare).is_err()) {
        let remedy = "export the swatches again for exchange between programs, or save them as CSV";
        return Err(refuse("not a swatch exchange file (no ASEF)", remedy));
    }
    no_nul(bytes)?;
    let text = std::str::from_utf8(bare).map_err(|fault| {
        let start = bytes.len() - bare.len();
        not_utf8(bytes, start + fault.valid_up_to(), fault.error_len())
    })?;
    Ok((Cow::Borrowed(text), None))
}

/// Why a file is too large, when it is.
pub(super) fn size_fault(bytes: &[u8]) -> Option<ErrorKind> {
    (bytes.len() > MAX_FILE_BYTES).then(|| ErrorKind::OverLimit {
        what: "bytes in one table file".into(),
        found: bytes.len() as u64,
        limit: MAX_FILE_BYTES as u64,
    })
}

fn refuse(reason: impl Into<String>, remedy: impl Into<String>) -> Fault {
    (ErrorKind::BadFile { reason: reason.into(), remedy: remedy.into() }, None)
}

fn other_format(bytes: &[u8]) -> Result<(), Fault> {
    let start = bytes.trim_ascii_start();
    for (signature, name, remedy) in SIGNATURES {
        if start.starts_with(signature) {
            return Err(refuse(format!("this is {name}, not a thread table"), remedy));
        }
    }
    Ok(())
}

fn no_nul(bytes: &[u8]) -> Result<(), Fault> {
    let Some(offset) = bytes.iter().position(|byte| *byte == 0) else {
        return Ok(());
    };
    let count = bytes.iter().filter(|byte| **byte == 0).count();
    if looks_like_utf16(bytes) {
        return Err(refuse(
            "the file looks like UTF-16 without a byte order mark",
            "save it as UTF-8",
        ));
    }
    let (kind, _) = refuse(
        format!("NUL at byte {offset}, {count} in all: the file is damaged or not text"),
        "save the table again as CSV (UTF-8)",
    );
    Err((kind, Some(line_at(bytes, offset))))
}

/// Text of the Latin script in UTF-16: nearly every second byte is NUL, the others are not.
fn looks_like_utf16(bytes: &[u8]) -> bool {
    let nul_at = |parity: usize| bytes.iter().skip(parity).step_by(2).filter(|b| **b == 0).count();
    let (even, odd) = (nul_at(0), nul_at(1));
    let half = bytes.len() / 2;
    even.max(odd) * 10 >= half * 9 && even.min(odd) * 10 <= half
}

fn not_utf8(bytes: &[u8], offset: usize, length: Option<usize>) -> Fault {
    let byte = bytes.get(offset).copied().unwrap_or(0);
    let (reason, remedy) = if length.is_none() {
        ("the file ends inside a character", "the file is cut off: get or save it again")
    } else if bytes.iter().all(|byte| !matches!(byte, 0x81 | 0x8D | 0x8F | 0x90 | 0x9D)) {
        ("not UTF-8, looks like windows-1252", "re-save as UTF-8")
    } else {
        ("not UTF-8", "re-save as UTF-8")
    };
    let (kind, _) = refuse(format!("byte {offset} (0x{byte:02X}): {reason}"), remedy);
    (kind, Some(line_at(bytes, offset)))
}

fn utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Result<(Cow<'_, str>, Option<String>), Fault> {
    let pairs = bytes.chunks_exact(2);
    if !pairs.remainder().is_empty() {
        return Err(refuse("the file is UTF-16 and ends inside a character", "save it as UTF-8"));
    }
    let units = pairs.map(|pair| match pair {
        [first, second] => unit([*first, *second]),
        _ => 0,
    });
    let mut text = String::with_capacity(bytes.len() / 2);
    for (index, decoded) in char::decode_utf16(units).enumerate() {
        match decoded {
            Ok('\0') => {
                let reason = format!("the file is UTF-16 with a NUL as character {}", index + 1);
                return Err(refuse(reason, "save it as UTF-8"));
            }
            Ok(character) => text.push(character),
            Err(_) => {
                let reason = format!("the file is UTF-16 and character {} is broken", index + 1);
                return Err(refuse(reason, "save it as UTF-8"));
            }
        }
    }
    if text.trim().is_empty() {
        return Err(refuse("the file is empty", "a table needs a header line and a row a thread"));
    }
    other_format(text.as_bytes())?;
    Ok((Cow::Owned(text), Some("the file is UTF-16 and was read as such".into())))
}

/// Counts the lines of a file on the way through it. CR, LF and CR LF each end a line.
#[derive(Debug)]
pub(super) struct Lines<'b> {
    bytes: &'b [u8],
    at: usize,
    line: u64,
}

impl<'b> Lines<'b> {
    pub(super) fn new(bytes: &'b [u8]) -> Self {
        Self { bytes, at: 0, line: 1 }
    }

    /// The line of a byte. Offsets must not go back.
    pub(super) fn line_of(&mut self, offset: usize) -> u64 {
        let mut before = self.at.checked_sub(1).and_then(|at| self.bytes.get(at)).copied();
        for byte in self.bytes.get(self.at..offset).unwrap_or_default() {
            let pair = *byte == b'\n' && before == Some(b'\r');
            if matches!(byte, b'\n' | b'\r') && !pair {
                self.line += 1;
            }
            before = Some(*byte);
        }
        self.at = self.at.max(offset);
        self.line
    }
}

/// The lines of a text without their ends, each with its number from 1. CR LF gives an empty line
/// of the same number more.
pub(super) fn numbered_lines(text: &str) -> impl Iterator<Item = (u64, &str)> {
    let mut lines = Lines::new(text.as_bytes());
    let mut at = 0;
    text.split(['\n', '\r']).map(move |line| {
        let number = lines.line_of(at);
        at += line.len() + 1;
        (number, line)
    })
}

/// The line of a byte of a file, from 1.
pub(super) fn line_at(bytes: &[u8], offset: usize) -> u64 {
    Lines::new(bytes).line_of(offset)
}
