//! What a PNG says about its color space beside a profile, against what is done: values are taken
//! as sRGB. It does not convert: another space is told, loudly.

use dyekin_core::table::Notice;

use super::container::Container;

/// The gamma of sRGB in the hundred-thousandths of the chunk (W3C PNG, section 11.3.2.5).
const SRGB_GAMMA: u32 = 45_455;

/// White and primaries of sRGB in the same unit: white, red, green, blue, each x and y.
const SRGB_PRIMARIES: [u32; 8] = [31_270, 32_900, 64_000, 33_000, 30_000, 60_000, 15_000, 6_000];

/// Deviation that is no other space but another rounding.
const ROUNDING: u32 = 100;

/// Coded description of sRGB (ITU-T H.273): primaries 1, transfer 13, matrix 0, full range.
const SRGB_CODED: [u8; 4] = [1, 13, 0, 1];

/// Adds a notice for each statement that is not followed. A sRGB chunk wins over all others.
pub(super) fn notices(container: &Container<'_>, notices: &mut Vec<Notice>) {
    let claims = &container.claims;
    let mut say = |text: String| notices.push(Notice { place: None, text });
    if claims.srgb {
        return;
    }
    if claims.coded.is_some_and(|coded| coded != SRGB_CODED) {
        say(ignored("coded color space (cICP)"));
    }
    // A profile replaces gamma and primaries.
    if claims.profile.is_some() {
        return;
    }
    if let Some(gamma) = claims.gamma.and_then(|content| numbers(content).next())
        && gamma.abs_diff(SRGB_GAMMA) > ROUNDING
    {
        say(ignored(&format!("gAMA {}", in_units(gamma))));
    }
    if let Some(primaries) = claims.primaries {
        let other = numbers(primaries)
            .zip(SRGB_PRIMARIES)
            .any(|(found, wanted)| found.abs_diff(wanted) > ROUNDING);
        if other {
            say(ignored("other primaries than those of sRGB (cHRM)"));
        }
    }
}

fn ignored(what: &str) -> String {
    format!(
        "{what} ignored: the values are taken as sRGB; if colors look wrong, convert the picture \
         to sRGB and save it again"
    )
}

/// The name in a profile chunk: Latin-1 up to a zero byte, 79 characters at most.
pub(super) fn profile_name(profile: &[u8]) -> String {
    profile.iter().take(79).take_while(|byte| **byte != 0).map(|byte| char::from(*byte)).collect()
}

fn numbers(content: &[u8]) -> impl Iterator<Item = u32> {
    content.chunks_exact(4).filter_map(|four| four.try_into().ok().map(u32::from_be_bytes))
}

/// Hundred-thousandths as a decimal with at least one digit behind the point.
fn in_units(number: u32) -> String {
    format!("{:?}", f64::from(number) / 100_000.0)
}
