//! The contrast of two screen colors, as WCAG 2.2 defines it. It does not know which is enough.

use super::Srgb8;

/// The part of white light that a color gives back, 0 to 1 (WCAG 2.2, relative luminance).
fn luminance(color: Srgb8) -> f64 {
    let [red, green, blue] = color.to_linear();
    0.2126 * red + 0.7152 * green + 0.0722 * blue
}

/// How far two colors contrast: 1 for equal ones, 21 for black on white; the same both ways.
///
/// Source: WCAG 2.2, contrast ratio.
///
/// ```
/// use dyekin_core::Srgb8;
/// use dyekin_core::color::contrast;
///
/// let (ink, paper) = (Srgb8::new(118, 118, 118), Srgb8::new(255, 255, 255));
/// assert_eq!(format!("{:.2}", contrast(ink, paper)), "4.54");
/// ```
#[must_use]
pub fn contrast(one: Srgb8, other: Srgb8) -> f64 {
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    const BLACK: Srgb8 = Srgb8 { red: 0, green: 0, blue: 0 };
    const WHITE: Srgb8 = Srgb8 { red: 255, green: 255, blue: 255 };

    /// Ratios to white and to black to two decimals, computed for this project from the formulas of
    /// WCAG 2.2.
    #[test]
    fn ratios_are_those_of_the_definition() {
        for (red, green, blue, on_white, on_black) in [
            (74, 107, 60, Some(6.07), Some(3.46)),
            (159, 195, 207, None, Some(11.18)),
            (217, 180, 90, None, Some(10.63)),
            (164, 88, 63, Some(5.19), None),
            (118, 118, 118, Some(4.54), Some(4.62)),
            (119, 119, 119, Some(4.48), None),
            (0, 0, 0, Some(21.0), Some(1.0)),
        ] {
            let color = Srgb8::new(red, green, blue);
            for (ratio, ground) in [(on_white, WHITE), (on_black, BLACK)] {
                let Some(ratio) = ratio else { continue };
                assert!((contrast(color, ground) - ratio).abs() < 0.005, "{color} {ratio}");
                assert!((contrast(ground, color) - contrast(color, ground)).abs() < 1e-12);
            }
        }
    }

    /// WCAG 2.2 at 1.4.3 needs 4.5 for text: black or white, the better of the two, always has it.
    #[test]
    fn black_or_white_is_always_legible() {
        for red in (0..=255).step_by(15) {
            for green in (0..=255).step_by(15) {
                for blue in (0..=255).step_by(15) {
                    let color = Srgb8::new(red, green, blue);
                    assert!(contrast(color, BLACK).max(contrast(color, WHITE)) > 4.58, "{color}");
                }
            }
        }
    }
}
