//! What a file looks like from its first bytes and its name, before it is read.
//! It does not say whether the file can be read: that takes all of it.

use super::codes::{self, CsvKind};
use super::{picture, text};

/// First bytes that are looked at.
pub(crate) const HEAD: u64 = 16 * 1024;

/// What a file looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Looks {
    /// A grid of codes or a key.
    Codes,
    /// Chart JSON.
    Json,
    /// No chart, and what else it is called.
    Other(&'static str),
    /// A picture.
    Picture,
}

/// Pictures by the ending of their names. Those that are not read are refused with what to do.
const PICTURES: [&str; 8] = ["png", "jpg", "jpeg", "gif", "bmp", "webp", "tif", "tiff"];

/// Formats of this program that are no charts.
const OTHERS: [(&str, &str); 4] = [
    ("dyekin-changes", "a change list"),
    ("dyekin-key", "a key"),
    ("dyekin-record", "the record of a run"),
    ("dyekin-table", "a thread table"),
];

/// Tells what a file looks like; what has the name of a chart is taken for one, so that its problems
/// are told.
pub(crate) fn looks(head: &[u8], name: &str) -> Looks {
    let ending = name.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase());
    let ending = ending.as_deref().unwrap_or_default();
    if picture::is_picture(head) {
        return Looks::Picture;
    }
    let lossy = String::from_utf8_lossy(head);
    if lossy.trim_start_matches('\u{feff}').trim_start().starts_with(['{', '[']) {
        let says = |word: &str| lossy.contains(&format!("\"{word}\""));
        return match OTHERS.iter().find(|(word, _)| says(word)) {
            _ if says("dyekin-chart") => Looks::Json,
            Some((_, called)) => Looks::Other(called),
            None if ending == "json" => Looks::Json,
            None => Looks::Other("no chart"),
        };
    }
    match ending {
        "csv" | "tsv" => match text::decode(head).map(codes::kind) {
            Ok(CsvKind::ThreadTable) => Looks::Other("a thread table"),
            Ok(CsvKind::Grid | CsvKind::Key) | Err(_) => Looks::Codes,
        },
        "json" => Looks::Json,
        ending if PICTURES.contains(&ending) => Looks::Picture,
        _ => Looks::Other("no chart"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_content_goes_before_the_name() {
        let png = b"\x89PNG\r\n\x1a\n and so on";
        for (head, name, expected) in [
            (&png[..], "drawing.txt", Looks::Picture),
            (png, "drawing", Looks::Picture),
            (b"{\"format\": \"dyekin-chart\"", "ferry.txt", Looks::Json),
            (
                b"\xef\xbb\xbf{\"format\":\"dyekin-changes\"",
                "a.json",
                Looks::Other("a change list"),
            ),
            (b"{\"format\":\"dyekin-table\"", "a.json", Looks::Other("a thread table")),
            (b"code,hex\nA1,#fff\n", "a.csv", Looks::Other("a thread table")),
            (b"code,stitches\nA1,5\n", "a.csv", Looks::Codes),
        ] {
            assert_eq!(looks(head, name), expected, "{name}");
        }
    }

    #[test]
    fn what_has_the_name_of_a_chart_is_taken_for_one() {
        for (name, expected) in [
            ("a.PNG", Looks::Picture),
            ("a.gif", Looks::Picture),
            ("a.json", Looks::Json),
            ("a.csv", Looks::Codes),
            ("notes.txt", Looks::Other("no chart")),
            ("Makefile", Looks::Other("no chart")),
        ] {
            assert_eq!(looks(b"\xff broken", name), expected, "{name}");
        }
        assert_eq!(looks(b"{\"name\": \"other\"}", "package.txt"), Looks::Other("no chart"));
    }
}
