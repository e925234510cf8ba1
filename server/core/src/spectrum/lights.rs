//! Whether a match still holds under another light: differences of two spectra over chosen lights.
//! It does not know threads or which lights people ask for.

use super::Reflectance;
use crate::color::{Conditions, Illuminant, Observer};
use crate::difference::{Difference, Formula};
use crate::error::{Error, ErrorKind, Result};

/// Lights to compare under: at least one, each once, all for one observer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lights {
    observer: Observer,
    first: Illuminant,
    others: Vec<Illuminant>,
}

impl Lights {
    /// Checked lights, in the order in which ties are decided.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] for no light, or for one that stands twice.
    pub fn new(observer: Observer, lights: &[Illuminant]) -> Result<Self> {
        let Some((first, others)) = lights.split_first() else {
            return Err(bad_lights("", "no light to compare under"));
        };
        let twice = (1..)
            .zip(others)
            .find(|(before, light)| lights.iter().take(*before).any(|l| l == *light));
        if let Some((_, light)) = twice {
            return Err(bad_lights(light.as_str(), "the light stands twice"));
        }
        Ok(Self { observer, first: *first, others: others.to_vec() })
    }

    /// Reads names with commas between, such as `daylight,lamp,led` or `D65,FL11`.
    ///
    /// ```
    /// use dyekin_core::spectrum::Lights;
    /// use dyekin_core::{Illuminant, Observer};
    ///
    /// let lights = Lights::parse("daylight, lamp, led", Observer::TenDegree)?;
    /// let named: Vec<Illuminant> = lights.illuminants().collect();
    /// assert_eq!(named, [Illuminant::D65, Illuminant::A, Illuminant::LedB3]);
    /// assert!(Lights::parse("daylight,D65", Observer::TenDegree).is_err());
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] for an unknown name, and what [`Lights::new`] refuses.
    pub fn parse(text: &str, observer: Observer) -> Result<Self> {
        let read = |name: &str| {
            Illuminant::parse_light(name)
                .ok_or_else(|| bad_lights(name.trim(), "not a known light"))
        };
        let lights: Vec<Illuminant> = text.split(',').map(read).collect::<Result<_>>()?;
        Self::new(observer, &lights)
    }

    /// The lights in their order.
    pub fn illuminants(&self) -> impl Iterator<Item = Illuminant> {
        std::iter::once(self.first).chain(self.others.iter().copied())
    }

    /// The observer of all of them.
    #[must_use]
    pub fn observer(&self) -> Observer {
        self.observer
    }
}

fn bad_lights(value: &str, reason: &str) -> Error {
    Error::new(ErrorKind::BadValue {
        value: value.into(),
        reason: reason.into(),
        remedy: "write some of daylight, lamp, led, D50, FL2, FL11 with commas between".into(),
    })
}

/// The difference of two spectra under one light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnderLight {
    /// The light and observer.
    pub conditions: Conditions,
    /// The difference; each color is relative to the white of its light.
    pub difference: Difference,
}

/// Differences of two spectra under several lights.
#[derive(Clone, Debug, PartialEq)]
pub struct OverLights {
    /// One a light, in the order of the lights.
    pub each: Vec<UnderLight>,
    /// The largest; of equal ones the first.
    pub worst: UnderLight,
}

/// Compares two spectra under every light. To rank by "least worst", order by
/// [`OverLights::worst`].
///
/// ```
/// use dyekin_core::spectrum::{Lights, Reflectance, over_lights};
/// use dyekin_core::{Formula, Observer};
///
/// let standard = Reflectance::new(400, 10, &[0.25; 31])?;
/// let sample = Reflectance::new(400, 10, &[0.26; 31])?;
/// let lights = Lights::parse("daylight,lamp,led", Observer::TenDegree)?;
/// let found = over_lights(&standard, &sample, &lights, Formula::DEFAULT)?;
/// assert_eq!(found.each.len(), 3);
/// assert!(found.worst.difference.lightness > 0.0);
/// # Ok::<(), dyekin_core::Error>(())
/// ```
///
/// # Errors
///
/// [`ErrorKind::BadColor`] when a spectrum is too bright under one of the lights.
pub fn over_lights(
    standard: &Reflectance,
    sample: &Reflectance,
    lights: &Lights,
    formula: Formula,
) -> Result<OverLights> {
    let under = |illuminant: Illuminant| -> Result<UnderLight> {
        let conditions = Conditions { illuminant, observer: lights.observer };
        let (standard, sample) = (standard.color(conditions)?, sample.color(conditions)?);
        Ok(UnderLight { conditions, difference: Difference::between(&standard, &sample, formula)? })
    };
    let mut worst = under(lights.first)?;
    let mut each = vec![worst];
    for light in &lights.others {
        let found = under(*light)?;
        if found.difference.delta_e > worst.difference.delta_e {
            worst = found;
        }
        each.push(found);
    }
    Ok(OverLights { each, worst })
}
