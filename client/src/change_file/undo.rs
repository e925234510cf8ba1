//! The way back: the chart's file as it was before the changes, inside the list that changed it.
//! It does not know what the changes were.

use sha2::{Digest, Sha256};

use crate::chart::FileKind;

/// Largest file that a list holds for the way back, in bytes: written as text, it stays below what
/// the reader of lists takes.
pub const MAX_UNDO_BYTES: usize = 32 << 20;

/// A file as it was, and what was written in its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Undo {
    /// What the file is.
    pub kind: FileKind,
    /// SHA-256 of the file that the changes led to, in hexadecimal digits.
    pub after: String,
    /// The file as it was.
    pub file: Vec<u8>,
}

/// SHA-256 of bytes, in hexadecimal digits.
#[must_use]
pub fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The word for a kind of file.
pub(super) fn kind_word(kind: FileKind) -> &'static str {
    match kind {
        FileKind::Grid => "grid",
        FileKind::Jpeg => "jpeg",
        FileKind::Json => "json",
        FileKind::Key => "key",
        FileKind::Png => "png",
    }
}

/// The kind of a word.
pub(super) fn kind_of(word: &str) -> Option<FileKind> {
    let all = [FileKind::Grid, FileKind::Jpeg, FileKind::Json, FileKind::Key, FileKind::Png];
    all.into_iter().find(|kind| kind_word(*kind) == word)
}

/// The alphabet of base 64 (RFC 4648, section 4).
const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

/// Bytes as text in base 64, with padding.
pub(super) fn to_text(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for part in bytes.chunks(3) {
        let byte = |place: usize| u32::from(part.get(place).copied().unwrap_or(0));
        let bits = byte(0) << 16 | byte(1) << 8 | byte(2);
        for place in 0..4 {
            let index = bits >> (18 - 6 * place) & 63;
            let letter = usize::try_from(index).ok().and_then(|index| ALPHABET.get(index));
            let is_there = usize::try_from(place).is_ok_and(|place| place <= part.len());
            text.push(letter.filter(|_| is_there).map_or('=', |letter| char::from(*letter)));
        }
    }
    text
}

/// Text in base 64 as bytes; `None` when it is not.
pub(super) fn from_text(text: &str) -> Option<Vec<u8>> {
    let letters = text.as_bytes();
    let padding = letters.iter().rev().take_while(|letter| **letter == b'=').count();
    if !letters.len().is_multiple_of(4) || padding > 2 {
        return None;
    }
    let value = |letter: &u8| ALPHABET.iter().position(|held| held == letter);
    let mut bytes = Vec::with_capacity(letters.len() / 4 * 3);
    let letters = letters.get(..letters.len() - padding)?;
    for part in letters.chunks(4) {
        let mut bits = 0_u32;
        for letter in part {
            bits = bits << 6 | u32::try_from(value(letter)?).ok()?;
        }
        let missing = 4 - part.len();
        bits <<= 6 * missing;
        let [_, first, second, third] = bits.to_be_bytes();
        let all = [first, second, third];
        let (kept, rest) = all.split_at_checked(3 - missing)?;
        if rest.iter().any(|byte| *byte != 0) {
            return None;
        }
        bytes.extend_from_slice(kept);
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648, section 10.
    const VECTORS: [(&str, &str); 7] = [
        ("", ""),
        ("f", "Zg=="),
        ("fo", "Zm8="),
        ("foo", "Zm9v"),
        ("foob", "Zm9vYg=="),
        ("fooba", "Zm9vYmE="),
        ("foobar", "Zm9vYmFy"),
    ];

    #[test]
    fn the_test_vectors_of_the_standard_hold_both_ways() {
        for (bytes, text) in VECTORS {
            assert_eq!(to_text(bytes.as_bytes()), text);
            assert_eq!(from_text(text).as_deref(), Some(bytes.as_bytes()), "{text}");
        }
    }

    #[test]
    fn every_byte_comes_back_and_other_texts_are_refused() {
        let all: Vec<u8> = (0..=255).chain((0..=255).rev()).collect();
        for end in 0..all.len() {
            assert_eq!(from_text(&to_text(&all[..end])).as_deref(), Some(&all[..end]));
        }
        for text in ["Zg", "Zg=", "Zh==", "Zm9=", "Z===", "====", "Zm 9", "Zm9v\n", "Zg==Zg=="] {
            assert_eq!(from_text(text), None, "{text}");
        }
    }

    #[test]
    fn the_digest_is_that_of_the_standard() {
        // FIPS 180-4 example: the one-block message "abc".
        let expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(digest(b"abc"), expected);
    }
}
