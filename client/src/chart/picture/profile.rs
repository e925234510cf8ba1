//! Colors of a picture's own profile (ICC.1) to sRGB.
//! It does not know files; names come along for the messages.

use std::sync::Arc;

use dyekin_core::error::{Error, shown};
use moxcms::{
    ColorProfile, DataColorSpace, Layout, ProfileText, RenderingIntent, TransformExecutor,
    TransformOptions,
};

use super::super::problems::bad_file;

/// Longest name that a message shows, in characters.
const NAME: usize = 79;

/// Levels by which profiles of one space differ through rounding.
const ROUNDING: u8 = 1;

const AS_SRGB: &str = "convert the picture to sRGB in the program that made it";

/// A way from a profile's colors to sRGB.
pub(super) struct ToSrgb {
    /// Of three values, or of one gray.
    transform: Arc<dyn TransformExecutor<u8> + Send + Sync>,
    gray: bool,
}

impl ToSrgb {
    /// Reads a profile.
    pub(super) fn of(profile: &[u8], name: &str) -> Result<Self, Box<Error>> {
        let refuse = |why: String| -> Box<Error> {
            let reason = format!("color profile \"{}\" {why}", shown(name));
            bad_file(reason, AS_SRGB).into()
        };
        let source = ColorProfile::new_from_slice(profile)
            .map_err(|error| refuse(format!("cannot be read: {error}")))?;
        let gray = source.color_space == DataColorSpace::Gray;
        if !gray && source.color_space != DataColorSpace::Rgb {
            return Err(refuse(format!("is for {:?} colors, not for RGB", source.color_space)));
        }
        let layout = if gray { Layout::Gray } else { Layout::Rgb };
        let options = TransformOptions {
            rendering_intent: RenderingIntent::RelativeColorimetric,
            ..TransformOptions::default()
        };
        let transform = source
            .create_transform_8bit(layout, &ColorProfile::new_srgb(), Layout::Rgb, options)
            .map_err(|error| refuse(format!("cannot be applied: {error}")))?;
        Ok(Self { transform, gray })
    }

    /// A color in sRGB; of a gray profile the first value counts.
    ///
    /// # Errors
    ///
    /// When the profile cannot say what the color is.
    pub(super) fn convert(&self, color: [u8; 3]) -> Result<[u8; 3], Box<Error>> {
        let mut converted = [0; 3];
        let source = if self.gray { color.get(..1) } else { color.get(..) };
        self.transform.transform(source.unwrap_or_default(), &mut converted).map_err(|error| {
            let reason = format!("the color profile cannot convert {color:?}: {error}");
            Box::new(bad_file(reason, AS_SRGB))
        })?;
        Ok(converted)
    }

    /// True when nothing is to be done: the profile is sRGB up to rounding.
    pub(super) fn is_srgb(&self) -> bool {
        const STEPS: [u8; 6] = [0, 51, 102, 153, 204, 255];
        let near = |color: [u8; 3]| {
            let converted = self.convert(color);
            converted.is_ok_and(|converted| {
                converted
                    .iter()
                    .zip(color)
                    .all(|(after, before)| after.abs_diff(before) <= ROUNDING)
            })
        };
        STEPS.iter().all(|red| {
            STEPS.iter().all(|green| {
                STEPS.iter().all(|blue| match self.gray {
                    true => near([*red; 3]),
                    false => near([*red, *green, *blue]),
                })
            })
        })
    }
}

/// The name that a profile gives itself, when it has one.
pub(super) fn described(profile: &[u8]) -> Option<String> {
    let text = match ColorProfile::new_from_slice(profile).ok()?.description? {
        ProfileText::PlainString(text) => text,
        ProfileText::Localizable(texts) => texts.into_iter().next()?.value,
        ProfileText::Description(text) => text.ascii_string,
    };
    let name: String = text.trim_matches(['\0', ' ']).chars().take(NAME).collect();
    (!name.is_empty()).then_some(name)
}
