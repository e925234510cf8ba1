//! 8-bit sRGB (IEC 61966-2-1) and its way to CIELAB and back.
//! It does not know other RGB spaces: pictures are converted or refused before they come here.

use std::fmt;
use std::sync::LazyLock;

use palette::convert::FromColorUnclamped;
use palette::white_point::D65;

use super::Lab;
use crate::error::{Error, ErrorKind, Result};

/// Linear light of each of the 256 values of a component.
static LINEAR: LazyLock<[f64; 256]> = LazyLock::new(|| {
    let mut value = 0_u8;
    std::array::from_fn(|_| {
        let encoded = palette::Srgb::new(value, value, value).into_format::<f64>();
        value = value.saturating_add(1);
        encoded.into_linear::<f64>().red
    })
});

/// An 8-bit sRGB color, opaque.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Srgb8 {
    /// Red, encoded, 0 to 255.
    pub red: u8,
    /// Green, encoded, 0 to 255.
    pub green: u8,
    /// Blue, encoded, 0 to 255.
    pub blue: u8,
}

impl Srgb8 {
    /// A color from its encoded components.
    #[must_use]
    pub fn new(red: u8, green: u8, blue: u8) -> Self {
        Self { red, green, blue }
    }

    /// Reads `#4a6b3c`, `4A6B3C`, `0x4A6B3C`, `#FFF` or `#4A6B3CFF` (CSS order, opaque only).
    ///
    /// Three digits without `#` are refused: they are rather a number that lost its zeros.
    ///
    /// ```
    /// use dyekin_core::Srgb8;
    ///
    /// let moss = Srgb8::parse_hex("#4a6b3c")?;
    /// assert_eq!(moss, Srgb8::new(0x4a, 0x6b, 0x3c));
    /// assert_eq!(moss.to_string(), "#4a6b3c");
    /// assert!(Srgb8::parse_hex("4a6b").is_err());
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadColor`] with a remedy.
    pub fn parse_hex(text: &str) -> Result<Self> {
        let trimmed = text.trim();
        let (digits, marked) = strip_mark(trimmed);
        let Some(nibbles) = digits.bytes().map(hex_digit).collect::<Option<Vec<u8>>>() else {
            return Err(bad_hex(text, "not only the digits 0-9 and A-F"));
        };
        match *nibbles.as_slice() {
            [r, g, b] if marked => Ok(Self::new(r * 17, g * 17, b * 17)),
            [r, g, b, alpha] if marked => opaque(text, alpha * 17, [r * 17, g * 17, b * 17]),
            [r1, r0, g1, g0, b1, b0] => Ok(Self::new(r1 * 16 + r0, g1 * 16 + g0, b1 * 16 + b0)),
            [r1, r0, g1, g0, b1, b0, a1, a0] => {
                let rgb = [r1 * 16 + r0, g1 * 16 + g0, b1 * 16 + b0];
                opaque(text, a1 * 16 + a0, rgb)
            }
            _ => Err(bad_hex(text, &format!("{} digits, 6 expected", nibbles.len()))),
        }
    }

    /// CIELAB under D65 and the 2° observer. Equal components give a* = b* = 0 exactly.
    #[must_use]
    pub fn to_lab(self) -> Lab {
        let [red, green, blue] = self.to_linear();
        let linear = palette::LinSrgb::new(red, green, blue);
        let lab = palette::Lab::<D65, f64>::from_color_unclamped(linear);
        // No screen color is lighter than the white; rounded matrix terms put it at 100.000004.
        let l = lab.l.min(100.0);
        if self.red == self.green && self.green == self.blue {
            return Lab::clamped(l, 0.0, 0.0);
        }
        Lab::clamped(l, lab.a, lab.b)
    }

    /// Linear light of red, green and blue, 0 to 1.
    pub(crate) fn to_linear(self) -> [f64; 3] {
        [self.red, self.green, self.blue]
            .map(|part| LINEAR.get(usize::from(part)).copied().unwrap_or_default())
    }

    /// The color of this linear light, clipped to 0 and 1.
    pub(crate) fn from_linear(linear: [f64; 3]) -> Self {
        let [red, green, blue] = linear.map(|part| part.clamp(0.0, 1.0));
        let encoded = palette::Srgb::<f64>::from_linear(palette::LinSrgb::new(red, green, blue));
        let rgb = encoded.into_format::<u8>();
        Self::new(rgb.red, rgb.green, rgb.blue)
    }

    /// The sRGB color nearest to a CIELAB value, clipped where a screen cannot show it.
    ///
    /// The Lab is taken relative to its own white, so that white stays white.
    #[must_use]
    pub fn nearest_to(lab: Lab) -> Self {
        let lab = palette::Lab::<D65, f64>::new(lab.l(), lab.a(), lab.b());
        let encoded = palette::Srgb::<f64>::from_color_unclamped(lab);
        let rgb = palette::Srgb::new(
            encoded.red.clamp(0.0, 1.0),
            encoded.green.clamp(0.0, 1.0),
            encoded.blue.clamp(0.0, 1.0),
        )
        .into_format::<u8>();
        Self::new(rgb.red, rgb.green, rgb.blue)
    }
}

impl fmt::Display for Srgb8 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.red, self.green, self.blue)
    }
}

fn strip_mark(text: &str) -> (&str, bool) {
    if let Some(rest) = text.strip_prefix('#') {
        return (rest, true);
    }
    match text.strip_prefix("0x").or_else(|| text.strip_prefix("0X")) {
        Some(rest) => (rest, false),
        None => (text, false),
    }
}

fn hex_digit(byte: u8) -> Option<u8> {
    match byte {
        b'0'..=b'9' => Some(byte - b'0'),
        b'a'..=b'f' => Some(byte - b'a' + 10),
        b'A'..=b'F' => Some(byte - b'A' + 10),
        _ => None,
    }
}

fn opaque(text: &str, alpha: u8, [red, green, blue]: [u8; 3]) -> Result<Srgb8> {
    if alpha == u8::MAX {
        return Ok(Srgb8::new(red, green, blue));
    }
    let reason = format!("alpha {alpha} of 255 is not opaque");
    let remedy = if red == u8::MAX && text.trim_start_matches('#').len() == 8 {
        "thread colors are opaque; is alpha written first? move the leading FF to the end"
    } else {
        "thread colors are opaque: leave the alpha out"
    };
    Err(Error::new(ErrorKind::BadColor { value: text.into(), reason, remedy: remedy.into() }))
}

fn bad_hex(text: &str, reason: &str) -> Error {
    let short = text.trim().len() < 6 && text.trim().bytes().all(|byte| byte.is_ascii_hexdigit());
    let remedy = if short {
        "write six digits such as #4a6b3c; were leading zeros lost?"
    } else {
        "write six digits such as #4a6b3c"
    };
    Error::new(ErrorKind::BadColor {
        value: text.into(),
        reason: reason.into(),
        remedy: remedy.into(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hex(text: &str) -> Srgb8 {
        Srgb8::parse_hex(text).unwrap()
    }

    fn refusal(text: &str) -> (String, String) {
        let refused = Srgb8::parse_hex(text).unwrap_err();
        let ErrorKind::BadColor { reason, remedy, .. } = refused.kind() else {
            panic!("{refused:?}");
        };
        (reason.clone(), remedy.clone())
    }

    #[test]
    fn six_digits_are_read_in_every_usual_form() {
        for text in ["#4a6b3c", "4A6B3C", "0x4A6B3C", "0X4a6b3c", " #4A6b3C ", "#4A6B3CFF"] {
            assert_eq!(hex(text), Srgb8::new(0x4a, 0x6b, 0x3c), "{text}");
        }
        assert_eq!(hex("#fA0"), Srgb8::new(0xff, 0xaa, 0));
        assert_eq!(hex("#fa0f"), Srgb8::new(0xff, 0xaa, 0));
    }

    #[test]
    fn every_color_reads_back_what_it_prints() {
        for step in 0..=u8::MAX {
            let color = Srgb8::new(step, step.wrapping_mul(3), 255 - step);
            assert_eq!(hex(&color.to_string()), color);
        }
    }

    #[test]
    fn what_is_not_a_color_is_refused_with_what_to_write() {
        for text in [
            "",
            "#",
            "#12",
            "#12345",
            "4a6b3",
            "#4a6b3c0",
            "#4a6b3cff0",
            "0x",
            "teal",
            "#4a6b3g",
            "４a6b3c",
            "4a 6b 3c",
        ] {
            let (_, remedy) = refusal(text);
            assert!(remedy.contains("#4a6b3c"), "{text}: {remedy}");
        }
        assert!(refusal("123").1.contains("leading zeros"));
    }

    #[test]
    fn transparency_is_refused_and_alpha_first_is_suspected() {
        assert!(refusal("#4a6b3c80").0.contains("alpha 128"));
        assert!(refusal("#FF4A6B3C").1.contains("move the leading FF"));
        assert!(refusal("#4a68").0.contains("alpha 136"));
    }

    #[test]
    fn grays_are_neutral_to_the_last_bit() {
        for level in 0..=u8::MAX {
            let lab = Srgb8::new(level, level, level).to_lab();
            assert_eq!([lab.a().to_bits(), lab.b().to_bits()], [0, 0]);
        }
        let white = Srgb8::new(255, 255, 255).to_lab().l();
        assert!((white - 100.0).abs() < 1e-12, "{white}");
    }

    #[test]
    fn a_color_that_no_screen_shows_is_clipped() {
        assert_eq!(Srgb8::nearest_to(Lab::new(102.0, 0.0, 0.0).unwrap()), hex("#ffffff"));
        let vivid = Srgb8::nearest_to(Lab::new(60.0, 120.0, 100.0).unwrap());
        assert_eq!((vivid.red, vivid.blue), (255, 0));
    }

    #[test]
    fn all_16_777_216_colors_survive_cielab_and_back() {
        for code in 0..=0x00ff_ffff_u32 {
            let [_, red, green, blue] = code.to_be_bytes();
            let color = Srgb8::new(red, green, blue);
            assert_eq!(Srgb8::nearest_to(color.to_lab()), color);
        }
    }
}
