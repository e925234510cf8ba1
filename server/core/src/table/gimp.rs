//! GIMP palettes: text with a color a line, red, green and blue first and perhaps a name behind.
//! It does not know what a thread is; it hands on a code made from names or numbers, and a color.

use super::bytes::numbered_lines;
use super::column::{COLUMNS, Column};
use super::naming::{Nameless, Naming};
use super::report::{Seen, rows as count_of};
use super::row::{Row, Rows};
use super::spectral::Spectral;
use crate::color::Srgb8;
use crate::error::{ErrorKind, Place, shown};

/// The first line of a palette.
const MARK: &str = "GIMP Palette";

/// What a color line looks like.
const SHAPE: &str = "write red, green and blue from 0 to 255 and a name, such as `74 107 60 Moss`";

/// True for a text that begins like a palette.
pub(super) fn is_one(text: &str) -> bool {
    text.trim_start().starts_with(MARK)
}

/// A color line that can be read.
#[derive(Debug)]
struct Entry<'t> {
    line: u64,
    /// Number among the color lines of the file, from 1.
    number: usize,
    rgb: String,
    name: &'t str,
}

/// What the lines above the first color and the color lines together say.
#[derive(Debug, Default)]
struct Palette<'t> {
    has_alpha: bool,
    color_lines: usize,
    entries: Vec<Entry<'t>>,
    clear: Seen,
}

/// Reads all colors of a text.
pub(super) fn read(text: &str, rows: &mut Rows<'_>) {
    let mut palette = Palette::default();
    let mut is_first = true;
    for (number, line) in numbered_lines(text) {
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        if std::mem::take(&mut is_first) {
            check_mark(line, number, rows);
        } else {
            palette.read_line(line, number, rows);
        }
    }
    palette.give(rows);
}

fn check_mark(line: &str, number: u64, rows: &mut Rows<'_>) {
    if line != MARK {
        let text = format!("the first line reads `{}`: read as a palette", shown(line));
        rows.report.notice(Some(Place::line(number)), text);
    }
}

impl<'t> Palette<'t> {
    fn read_line(&mut self, line: &'t str, number: u64, rows: &mut Rows<'_>) {
        let starts_number = line.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '+');
        match line.split_once(':') {
            Some((key, value)) if !starts_number && self.color_lines == 0 => {
                self.read_key(key.trim(), value.trim(), number, rows);
            }
            _ => self.read_color(line, number, rows),
        }
    }

    fn read_key(&mut self, key: &str, value: &str, number: u64, rows: &mut Rows<'_>) {
        let is = |wanted: &str| key.eq_ignore_ascii_case(wanted);
        if is("Channels") {
            self.has_alpha = value.eq_ignore_ascii_case("RGBA");
            if !self.has_alpha && !value.eq_ignore_ascii_case("RGB") {
                let kind = ErrorKind::BadValue {
                    value: value.to_owned(),
                    reason: "channels that are not known".into(),
                    remedy: "write `Channels: RGBA` where a fourth number is alpha, else leave the line out".into(),
                };
                rows.report.problem(kind, Place::cell(number, "Channels"));
            }
        } else if !is("Name") && !is("Columns") {
            let text = format!("line `{}` is not one of a palette: not read", shown(key));
            rows.report.notice(Some(Place::line(number)), text);
        }
    }

    fn read_color(&mut self, line: &'t str, number: u64, rows: &mut Rows<'_>) {
        self.color_lines += 1;
        let mut rest = line;
        let mut take = || {
            let end = rest.find(char::is_whitespace).unwrap_or(rest.len());
            let (word, after) = rest.split_at_checked(end).unwrap_or((rest, ""));
            rest = after.trim_start();
            word
        };
        let words = [take(), take(), take()];
        let alpha = self.has_alpha.then(&mut take);
        let mut refuse = |column: &str, value: &str| {
            rows.report.problem(bad_component(value), Place::cell(number, column));
        };
        if let Some(missing) = words.iter().chain(&alpha).position(|word| word.is_empty()) {
            let wanted = if self.has_alpha { "four, the last is alpha" } else { "three" };
            let kind = ErrorKind::BadColor {
                value: line.to_owned(),
                reason: format!("{missing} of the numbers are there, {wanted} are expected"),
                remedy: SHAPE.into(),
            };
            rows.report.problem(kind, Place::line(number));
            return;
        }
        let parts = words.map(byte);
        for ((part, word), column) in parts.iter().zip(words).zip(["red", "green", "blue"]) {
            if part.is_none() {
                refuse(column, word);
            }
        }
        match alpha.map(|word| (word, byte(word))) {
            Some((_, Some(0))) => {
                self.clear.note(number);
                return;
            }
            Some((word, Some(level))) if level < u8::MAX => {
                let kind = ErrorKind::BadColor {
                    value: word.to_owned(),
                    reason: format!("alpha {level} of 255 is not opaque"),
                    remedy: "thread colors are opaque: write alpha 255, or 0 for no color".into(),
                };
                rows.report.problem(kind, Place::cell(number, "alpha"));
            }
            Some((word, None)) => refuse("alpha", word),
            Some(_) | None => {}
        }
        if let [Some(red), Some(green), Some(blue)] = parts {
            let rgb = Srgb8::new(red, green, blue).to_string();
            self.entries.push(Entry { line: number, number: self.color_lines, rgb, name: rest });
        }
    }

    /// Hands the colors on, with their codes.
    fn give(self, rows: &mut Rows<'_>) {
        let named = self.entries.iter().map(|e| Nameless { name: e.name, color: &e.rgb });
        let naming = Naming::decide(named);
        if !self.entries.is_empty() {
            naming.tell("a palette", &mut rows.report);
        }
        self.suspect_alpha(rows);
        self.clear.tell(&mut rows.report, |count| {
            format!("{} with alpha 0, which is no color: not read", count_of(count))
        });
        for entry in &self.entries {
            let code = naming.code(entry.name, entry.number);
            let mut cells = [""; COLUMNS];
            for (column, cell) in
                [(Column::Code, &*code), (Column::Name, entry.name), (Column::Hex, &*entry.rgb)]
            {
                if let Some(place) = cells.get_mut(column.index()) {
                    *place = cell;
                }
            }
            rows.push(&Row { line: entry.line, origin: None, cells, spectrum: Spectral::Absent });
            if rows.is_full {
                return;
            }
        }
    }

    /// Names that all begin with a number may hide an alpha that the file does not announce.
    fn suspect_alpha(&self, rows: &mut Rows<'_>) {
        let begins = |entry: &Entry<'_>| {
            entry.name.split_whitespace().next().is_some_and(|word| byte(word).is_some())
        };
        if !self.has_alpha && self.entries.len() > 1 && self.entries.iter().all(begins) {
            let text = "each name begins with a number from 0 to 255: if that is alpha, \
                        the file needs the line `Channels: RGBA`";
            rows.report.notice(None, text);
        }
    }
}

/// A component of decimal digits.
fn byte(word: &str) -> Option<u8> {
    word.bytes().all(|byte| byte.is_ascii_digit()).then(|| word.parse().ok()).flatten()
}

fn bad_component(value: &str) -> ErrorKind {
    ErrorKind::BadColor {
        value: value.to_owned(),
        reason: "not a whole number from 0 to 255".into(),
        remedy: format!("nothing is clipped: {SHAPE}"),
    }
}
