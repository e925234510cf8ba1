//! Bytes of a text file to text, refused where they are not UTF-8, and cells of CSV text both ways.
//! It does not know what the text says.

use dyekin_core::error::Error;

use super::problems::bad_file;

const AS_UTF8: &str = "save the file as UTF-8 text";

/// The text of a file without its byte order mark.
pub(crate) fn decode(bytes: &[u8]) -> Result<&str, Error> {
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        return Err(bad_file("the file is UTF-16", AS_UTF8));
    }
    let bytes = bytes.strip_prefix(&[0xEF, 0xBB, 0xBF]).unwrap_or(bytes);
    if let Some(at) = bytes.iter().position(|byte| *byte == 0) {
        return Err(bad_file(format!("a NUL byte at offset {at}: not a text file"), AS_UTF8));
    }
    std::str::from_utf8(bytes).map_err(|error| {
        let at = error.valid_up_to();
        let byte = bytes.get(at).copied().unwrap_or(0);
        let reason = format!("byte {byte:#04x} at offset {at} is not UTF-8; windows-1252?");
        bad_file(reason, AS_UTF8)
    })
}

/// First characters that make a spreadsheet run a cell as a formula.
const TRIGGERS: [char; 7] = ['=', '+', '-', '@', '\t', '\r', '＝'];

fn is_guarded_or_trigger(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(TRIGGERS)
}

/// A cell that no spreadsheet runs as a formula: a formula start gets an apostrophe before it.
pub(crate) fn guarded(text: &str) -> String {
    if is_guarded_or_trigger(text) { format!("'{text}") } else { text.to_owned() }
}

/// The cell as it was before [`guarded`].
pub(crate) fn unguarded(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if is_guarded_or_trigger(rest) => rest,
        _ => text,
    }
}

/// A cell of a CSV file (RFC 4180): guarded, harmless to show, quoted where it must be.
pub(crate) fn csv_cell(text: &str) -> String {
    let text = guarded(&dyekin_core::error::harmless(text));
    let plain = !text.contains([',', ';', '"', '\n', '\r', '\t']) && text.trim() == text;
    if plain { text } else { format!("\"{}\"", text.replace('"', "\"\"")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formula_starts_are_guarded_and_come_back() {
        for text in ["-5", "=1+1", "'=x", "''@", "＝SUM(A1)", "plain", "'plain", ""] {
            assert_eq!(unguarded(&guarded(text)), text);
            assert!(!guarded(text).starts_with(TRIGGERS), "{text}");
        }
    }

    #[test]
    fn other_encodings_are_refused_with_an_offset() {
        let told = |bytes: &[u8]| decode(bytes).unwrap_err().to_string();
        assert_eq!(told(b"\xFF\xFEa\0"), "the file is UTF-16");
        assert_eq!(told(b"ab\0"), "a NUL byte at offset 2: not a text file");
        assert_eq!(told(b"Bl\xE9"), "byte 0xe9 at offset 2 is not UTF-8; windows-1252?");
        assert_eq!(decode(b"\xEF\xBB\xBFab").unwrap(), "ab");
    }
}
