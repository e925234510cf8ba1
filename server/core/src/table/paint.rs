//! sRGB as tables write it: hex digits with alpha in either place, `rgb()` of CSS Color 4, r g b.
//! It does not know CIELAB or lines; it says what a text means or why it means nothing.

use super::number;
use crate::color::Srgb8;
use crate::error::{Error, ErrorKind, Result, shown};

/// Reads the text of a color column.
pub(super) fn parse(text: &str, alpha_first: bool) -> Result<Srgb8> {
    let trimmed = text.trim();
    let lower = trimmed.to_ascii_lowercase();
    if let Some(inside) = lower.strip_prefix("rgba(").or_else(|| lower.strip_prefix("rgb(")) {
        return css(trimmed, inside);
    }
    if super::injury::is_failed_formula(trimmed) {
        return Err(bad(
            trimmed,
            "a spreadsheet formula failed here",
            "put the color itself into the cell",
        ));
    }
    if super::injury::is_exponent(&trimmed.to_ascii_uppercase()) {
        let remedy = "a spreadsheet took the hex digits for a number: write six digits after #";
        return Err(bad(trimmed, "this is a number with an exponent", remedy));
    }
    if is_other_css(&lower) {
        return Err(bad(
            trimmed,
            "this form of color is not read",
            "write #4a6b3c or rgb(74, 107, 60)",
        ));
    }
    match eight_digits(trimmed) {
        Some((first, last)) if alpha_first => {
            Srgb8::parse_hex(&format!("#{last}{first}")).map_err(|error| not_opaque(trimmed, &error))
        }
        Some((first, last)) => Srgb8::parse_hex(trimmed).map_err(|error| {
            if first.eq_ignore_ascii_case("ff") && !last.to_ascii_lowercase().ends_with("ff") {
                let remedy = "thread colors are opaque; is alpha written first? then read with --alpha-first";
                return bad(trimmed, &reason_of(&error), remedy);
            }
            error
        }),
        None => Srgb8::parse_hex(text),
    }
}

/// The first two and the last six of eight hex digits.
fn eight_digits(trimmed: &str) -> Option<(&str, &str)> {
    let digits = trimmed
        .strip_prefix('#')
        .or_else(|| trimmed.strip_prefix("0x"))
        .or_else(|| trimmed.strip_prefix("0X"))
        .unwrap_or(trimmed);
    let good = digits.len() == 8 && digits.bytes().all(|byte| byte.is_ascii_hexdigit());
    if good { digits.split_at_checked(2) } else { None }
}

fn not_opaque(text: &str, error: &Error) -> Error {
    let remedy = "thread colors are opaque; --alpha-first was given: is alpha written last here?";
    bad(text, &reason_of(error), remedy)
}

fn reason_of(error: &Error) -> String {
    if let ErrorKind::BadColor { reason, .. } = error.kind() {
        return reason.clone();
    }
    error.kind().to_string()
}

fn is_other_css(lower: &str) -> bool {
    let function = lower.ends_with(')') && lower.contains('(');
    let word = lower.len() > 2
        && lower.bytes().all(|byte| byte.is_ascii_alphabetic())
        && !lower.bytes().all(|byte| byte.is_ascii_hexdigit());
    function || word
}

/// `rgb()` and `rgba()` with commas or blanks, numbers or percentages, opaque only.
fn css(text: &str, inside: &str) -> Result<Srgb8> {
    let form = || bad(text, "not a whole rgb()", "write rgb(74, 107, 60)");
    let inside = inside.strip_suffix(')').ok_or_else(form)?;
    let (color, alpha) = match inside.split_once('/') {
        Some((color, alpha)) => (color, Some(alpha)),
        None => (inside, None),
    };
    let parts: Vec<&str> = if color.contains(',') {
        color.split(',').map(str::trim).collect()
    } else {
        color.split_whitespace().collect()
    };
    let (&[red, green, blue], fourth) = (match parts.as_slice() {
        [color @ .., fourth] if color.len() == 3 => (color, Some(*fourth)),
        color => (color, None),
    }) else {
        return Err(form());
    };
    if alpha.is_some() && fourth.is_some() {
        return Err(form());
    }
    if let Some(alpha) = alpha.or(fourth)
        && !is_one(alpha.trim())
    {
        let remedy = "thread colors are opaque: leave the alpha out";
        return Err(bad(text, &format!("alpha {} is not opaque", shown(alpha.trim())), remedy));
    }
    let percents = [red, green, blue].iter().filter(|part| part.ends_with('%')).count();
    if !matches!(percents, 0 | 3) {
        return Err(bad(text, "percentages and numbers are mixed", "write rgb(74, 107, 60)"));
    }
    Ok(Srgb8::new(css_part(text, red)?, css_part(text, green)?, css_part(text, blue)?))
}

fn is_one(alpha: &str) -> bool {
    let (digits, one) = match alpha.strip_suffix('%') {
        Some(digits) => (digits, 100_000_000),
        None => (alpha, 1_000_000),
    };
    number::micros(digits) == Some(one)
}

fn css_part(text: &str, part: &str) -> Result<u8> {
    let (digits, percent) = match part.strip_suffix('%') {
        Some(digits) => (digits, true),
        None => (part, false),
    };
    let value = match number::parse(digits) {
        Ok(number) if number.mark != number::Mark::Comma => number.value,
        _ => {
            return Err(bad(
                text,
                &format!("`{}` is not a number", shown(part)),
                "write rgb(74, 107, 60)",
            ));
        }
    };
    if percent {
        return byte_of(value / 100.0 * 255.0, false).ok_or_else(|| {
            bad(
                text,
                &format!("{} is outside 0 % to 100 %", shown(part)),
                "nothing is clipped: write the color that is meant",
            )
        });
    }
    byte_of(value, true).ok_or_else(|| {
        let reason = format!("{} is not a whole number from 0 to 255", shown(part));
        bad(text, &reason, "nothing is clipped: write the color that is meant")
    })
}

/// A component as a byte: exact, or rounded to the nearest.
pub(super) fn byte_of(value: f64, exact: bool) -> Option<u8> {
    let rounded = value.round();
    if !(0.0..=255.0).contains(&value) || (exact && (value - rounded).abs() > 0.0) {
        return None;
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a whole number from 0 to 255 fits"
    )]
    Some(rounded as u8)
}

fn bad(value: &str, reason: &str, remedy: &str) -> Error {
    Error::new(ErrorKind::BadColor {
        value: value.to_owned(),
        reason: reason.to_owned(),
        remedy: remedy.to_owned(),
    })
}

/// The scale of r, g, b in a whole file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Scale {
    /// Whole numbers from 0 to 255.
    Byte,
    /// Fractions from 0 to 1.
    Unit,
}

/// Counts that decide the scale of a file.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct ScaleVotes {
    fractions: u64,
    ones: u64,
    large: u64,
}

impl ScaleVotes {
    pub(super) fn add(&mut self, value: f64) {
        if value > 1.0 {
            self.large += 1;
        } else if value > 0.0 && value < 1.0 {
            self.fractions += 1;
        } else if value > 0.0 {
            self.ones += 1;
        }
    }

    /// The scale; `None` when 1 may mean the darkest step or full light.
    pub(super) fn decide(self) -> Option<Scale> {
        if self.fractions > self.large {
            Some(Scale::Unit)
        } else if self.large > 0 || self.ones == 0 {
            Some(Scale::Byte)
        } else {
            None
        }
    }
}
