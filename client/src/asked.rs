//! A color or a thread as a person writes it: hex, `rgb(...)`, `lab(...)`, `TABLE:CODE`, a code.
//! It does not look codes up: it only says what the text means.

use dyekin_core::error::{Error, ErrorKind, Result};
use dyekin_core::{Code, Color, Conditions, Lab, Origin, Srgb8, TableId};

use crate::settings::Reading;

/// What a text means.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Asked {
    /// A color of its own.
    Color(Color),
    /// A thread, of a named table or of any of those given.
    Thread {
        /// The table, when it is named.
        table: Option<TableId>,
        /// The code.
        code: Code,
    },
    /// Six hex digits without a mark: a color, unless a table has that code.
    Either(Color, Code),
}

/// Forms of CSS and of printers that people try.
const FOREIGN_FORMS: [&str; 10] =
    ["cmyk(", "color(", "hsl(", "hsla(", "hsv(", "hwb(", "lch(", "oklab(", "oklch(", "xyz("];

/// Reads a color or a thread.
///
/// # Errors
///
/// [`ErrorKind::BadColor`] or [`ErrorKind::BadCode`] with a remedy.
pub(crate) fn parse(text: &str, reading: &Reading) -> Result<Asked> {
    let trimmed = text.trim();
    let lower = trimmed.to_ascii_lowercase();
    if lower.starts_with('#') || lower.starts_with("0x") {
        return Ok(Asked::Color(hex(trimmed, reading)?));
    }
    if lower.starts_with("rgb(") || lower.starts_with("rgba(") {
        return Ok(Asked::Color(listed(rgb(trimmed)?, reading)));
    }
    if lower.starts_with("lab(") {
        return Ok(Asked::Color(lab(trimmed, reading)?));
    }
    if FOREIGN_FORMS.iter().any(|form| lower.starts_with(form)) {
        return Err(bad_color(
            trimmed,
            "this form of color is not read",
            "write #4a6b3c, rgb(74, 107, 60) or lab(42.1 -18.3 22.7)",
        ));
    }
    if trimmed.len() == 6 && trimmed.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return Ok(Asked::Either(hex(trimmed, reading)?, Code::parse(trimmed)?));
    }
    thread(trimmed)
}

/// Reads a thread only: `TABLE:CODE` or a code.
///
/// # Errors
///
/// [`ErrorKind::BadCode`].
pub(crate) fn thread(text: &str) -> Result<Asked> {
    let code = text.rsplit(':').next().unwrap_or(text);
    if code.trim().is_empty() {
        return Err(Error::new(ErrorKind::BadValue {
            value: text.to_owned(),
            reason: "a code is missing here".to_owned(),
            remedy: "write one code, or several with single commas between them".to_owned(),
        }));
    }
    if let Some((table, code)) = text.split_once(':')
        && let Ok(table) = TableId::parse(table.trim())
    {
        return Ok(Asked::Thread { table: Some(table), code: Code::parse(code)? });
    }
    Ok(Asked::Thread { table: None, code: Code::parse(text)? })
}

fn listed(rgb: Srgb8, reading: &Reading) -> Color {
    Color::listed(rgb, reading.origin.unwrap_or(Origin::Screen))
}

fn hex(text: &str, reading: &Reading) -> Result<Color> {
    Ok(listed(Srgb8::parse_hex(&alpha_last(text, reading.alpha_first))?, reading))
}

/// Eight digits with alpha first, turned into the order of CSS; anything else as it is.
fn alpha_last(text: &str, alpha_first: bool) -> String {
    let digits = text.trim_start_matches('#').trim_start_matches("0x").trim_start_matches("0X");
    match (alpha_first, digits.split_at_checked(2)) {
        (true, Some((alpha, rest))) if rest.len() == 6 => format!("#{rest}{alpha}"),
        _ => text.to_owned(),
    }
}

fn rgb(text: &str) -> Result<Srgb8> {
    let bad = |reason: &str| bad_color(text, reason, "write rgb(74, 107, 60), each 0 to 255");
    match arguments(text).as_slice() {
        [red, green, blue] => {
            let part =
                |text: &str| component(text).ok_or_else(|| bad("not whole numbers from 0 to 255"));
            Ok(Srgb8::new(part(red)?, part(green)?, part(blue)?))
        }
        [_, _, _, _] => Err(bad("thread colors are opaque: leave the alpha out")),
        _ => Err(bad("three components expected")),
    }
}

fn component(text: &str) -> Option<u8> {
    text.bytes().all(|byte| byte.is_ascii_digit()).then(|| text.parse().ok()).flatten()
}

fn lab(text: &str, reading: &Reading) -> Result<Color> {
    let remedy = "write lab(42.1 -18.3 22.7): L* from 0 to 102, a* and b* from -200 to 200";
    let bad = |reason: &str| bad_color(text, reason, remedy);
    let numbers: Vec<f64> = arguments(text)
        .iter()
        .map(|part| part.replace('\u{2212}', "-").parse().map_err(|_| bad("not three numbers")))
        .collect::<Result<_>>()?;
    let [l, a, b] = *numbers.as_slice() else {
        return Err(bad("not three numbers"));
    };
    let conditions = reading.conditions.unwrap_or(Conditions::TEXTILE);
    let origin = reading.origin.unwrap_or(Origin::Unknown);
    Ok(Color::lab_under(Lab::new(l, a, b)?, conditions, origin))
}

/// The parts between the parentheses, separated by blanks, commas or a slash.
fn arguments(text: &str) -> Vec<&str> {
    let inner = text.split_once('(').map_or("", |(_, rest)| rest);
    let inner = inner.strip_suffix(')').unwrap_or("");
    inner
        .split(|character: char| character.is_whitespace() || matches!(character, ',' | '/'))
        .filter(|part| !part.is_empty())
        .collect()
}

fn bad_color(text: &str, reason: &str, remedy: &str) -> Error {
    Error::new(ErrorKind::BadColor {
        value: text.to_owned(),
        reason: reason.to_owned(),
        remedy: remedy.to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn color(text: &str, reading: &Reading) -> Option<Color> {
        match parse(text, reading) {
            Ok(Asked::Color(color)) => Some(color),
            _ => None,
        }
    }

    #[test]
    fn all_written_forms_of_a_screen_color_are_the_same() {
        let moss = Color::screen(Srgb8::new(0x4a, 0x6b, 0x3c));
        for text in
            ["#4a6b3c", " #4A6B3C ", "0x4A6B3C", "#4a6b3cff", "rgb(74, 107, 60)", "RGB(74 107 60)"]
        {
            assert_eq!(color(text, &Reading::default()), Some(moss), "{text}");
        }
        let alpha_first = Reading { alpha_first: true, ..Reading::default() };
        assert_eq!(color("#FF4A6B3C", &alpha_first), Some(moss));
    }

    #[test]
    fn lab_takes_the_white_that_is_stated() {
        let d50 = Conditions::parse("D50/2").unwrap();
        let reading =
            Reading { conditions: Some(d50), origin: Some(Origin::Meter), ..Reading::default() };
        let found = color("lab(42.1 -18.3 22.7)", &reading).unwrap();
        assert_eq!(found.conditions(), d50);
        assert_eq!(found.origin(), Origin::Meter);
        let found = color("lab(42.1, \u{2212}18.3, 22.7)", &Reading::default()).unwrap();
        assert_eq!(found.lab(), Lab::new(42.1, -18.3, 22.7).unwrap());
        assert_eq!(found.conditions(), Conditions::TEXTILE);
    }

    #[test]
    fn wrong_colors_say_what_to_write() {
        for text in [
            "rgb(1,2)",
            "rgb(1,2,300)",
            "rgb(1,2,3,0.5)",
            "lab(1 2)",
            "lab(x 1 2)",
            "lab(300 0 0)",
            "#12345",
            "rgb(+1,2,3)",
            "rgb(1,2,3",
            "hsl(102, 28%, 33%)",
            "OKLCH(0.5 0.1 120)",
            "",
            "meadow: ",
        ] {
            let error = parse(text, &Reading::default()).unwrap_err();
            assert!(error.hint().is_some(), "{text}");
        }
    }

    #[test]
    fn codes_may_name_their_table() {
        let code = Code::parse("QV-101").unwrap();
        let table = TableId::parse("meadow").unwrap();
        let reading = Reading::default();
        assert_eq!(
            parse("QV-101", &reading),
            Ok(Asked::Thread { table: None, code: code.clone() })
        );
        assert_eq!(
            parse("meadow:QV-101", &reading),
            Ok(Asked::Thread { table: Some(table), code })
        );
    }

    #[test]
    fn six_digits_without_a_mark_may_be_a_code() {
        assert!(matches!(parse("123456", &Reading::default()), Ok(Asked::Either(..))));
    }
}
