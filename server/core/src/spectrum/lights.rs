//! Whether a match still holds under another light: differences of two spectra over chosen lights.
//! It does not know threads or which lights people ask for.

use super::{Change, Reflectance, metamerism};
use crate::color::{Color, Conditions, Illuminant, Lab, Observer};
use crate::difference::{DeltaE, Difference, Formula, Pair, close_below};
use crate::error::{Error, ErrorKind, Result};

/// How much larger than the listed difference the one under the worst light must be to be worth a
/// word: half as large again. House choice.
const MORE: f64 = 1.5;

/// Lights to compare under: at least one, each once. The first is the one that a pair is taken to
/// match under.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lights {
    first: Illuminant,
    others: Vec<Illuminant>,
}

impl Lights {
    /// Checked lights, in the order in which ties are decided.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] for no light, or for one that stands twice.
    pub fn new(lights: &[Illuminant]) -> Result<Self> {
        let Some((first, others)) = lights.split_first() else {
            return Err(bad_lights("", "no light to compare under"));
        };
        let twice = (1..)
            .zip(others)
            .find(|(before, light)| lights.iter().take(*before).any(|l| l == *light));
        if let Some((_, light)) = twice {
            return Err(bad_lights(light.as_str(), "the light stands twice"));
        }
        Ok(Self { first: *first, others: others.to_vec() })
    }

    /// Daylight, lamp and LED: what a piece is seen under in most homes and shops.
    #[must_use]
    pub fn usual() -> Self {
        Self { first: Illuminant::D65, others: vec![Illuminant::A, Illuminant::LedB3] }
    }

    /// Reads names with commas between, such as `daylight,lamp,led` or `D65,FL11`.
    ///
    /// ```
    /// use dyekin_core::Illuminant;
    /// use dyekin_core::spectrum::Lights;
    ///
    /// let lights = Lights::parse("daylight, lamp, led")?;
    /// let named: Vec<Illuminant> = lights.illuminants().collect();
    /// assert_eq!(named, [Illuminant::D65, Illuminant::A, Illuminant::LedB3]);
    /// assert!(Lights::parse("daylight,D65").is_err());
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] for an unknown name, and what [`Lights::new`] refuses.
    pub fn parse(text: &str) -> Result<Self> {
        let read = |name: &str| {
            let shown = if name.trim().is_empty() { text } else { name.trim() };
            Illuminant::parse_light(name).ok_or_else(|| bad_lights(shown, "not a known light"))
        };
        let lights: Vec<Illuminant> = text.split(',').map(read).collect::<Result<_>>()?;
        Self::new(&lights)
    }

    /// The lights in their order.
    pub fn illuminants(&self) -> impl Iterator<Item = Illuminant> {
        std::iter::once(self.first).chain(self.others.iter().copied())
    }

    /// The lights with an observer, in their order.
    pub(crate) fn conditions(&self, observer: Observer) -> impl Iterator<Item = Conditions> {
        self.illuminants().map(move |illuminant| Conditions { illuminant, observer })
    }
}

fn bad_lights(value: &str, reason: &str) -> Error {
    Error::new(ErrorKind::BadValue {
        value: value.into(),
        reason: reason.into(),
        remedy: "write some of daylight, lamp, led, or of D50, D65, A, FL2, FL11, LED-B3, with \
                 commas between"
            .into(),
    })
}

/// The difference of two spectra under one light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnderLight {
    /// The light.
    pub illuminant: Illuminant,
    /// The difference there, in units of the formula that was asked for; each color is relative to
    /// the white of the light.
    pub delta_e: DeltaE,
    /// The CIE's special index of metamerism for the change from the first light to this one, in
    /// CIE76 units. `None` for the first light itself, and where the sample reflects nothing in a
    /// band so that no correction is possible.
    pub metamerism: Option<DeltaE>,
}

/// Differences of two spectra under several lights: at least one.
#[derive(Clone, Debug, PartialEq)]
pub struct OverLights {
    observer: Observer,
    formula: Formula,
    each: Vec<UnderLight>,
    worst: UnderLight,
    ranked: bool,
}

impl OverLights {
    /// Differences as they were found, in the order of the lights.
    ///
    /// `ranked` says whether the difference that stands beside them is that of the worst light.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] for no light.
    pub fn new(
        observer: Observer,
        formula: Formula,
        each: Vec<UnderLight>,
        ranked: bool,
    ) -> Result<Self> {
        let mut lights = each.iter().copied();
        let Some(mut worst) = lights.next() else {
            return Err(bad_lights("", "no light to compare under"));
        };
        for light in lights {
            if light.delta_e > worst.delta_e {
                worst = light;
            }
        }
        Ok(Self { observer, formula, each, worst, ranked })
    }

    /// The observer of all of them.
    #[must_use]
    pub fn observer(&self) -> Observer {
        self.observer
    }

    /// The formula of all differences.
    #[must_use]
    pub fn formula(&self) -> Formula {
        self.formula
    }

    /// One a light, in the order of the lights.
    #[must_use]
    pub fn each(&self) -> &[UnderLight] {
        &self.each
    }

    /// The largest difference; of equal ones the first.
    #[must_use]
    pub fn worst(&self) -> UnderLight {
        self.worst
    }

    /// True when the difference that stands beside them is that of the worst light.
    #[must_use]
    pub fn ranked(&self) -> bool {
        self.ranked
    }

    /// The light and observer of the worst difference.
    #[must_use]
    pub fn worst_conditions(&self) -> Conditions {
        Conditions { illuminant: self.worst.illuminant, observer: self.observer }
    }

    /// True when two threads that differ by `listed` look different under the worst light: the
    /// difference is visible there, and half as large again at least (house choice).
    #[must_use]
    pub fn drifts_from(&self, listed: &Difference) -> bool {
        let worst = self.worst.delta_e.value();
        worst >= close_below(self.formula) && worst >= MORE * listed.delta_e.value()
    }
}

/// Compares two spectra under every light, for one observer.
///
/// ```
/// use dyekin_core::spectrum::{Lights, Reflectance, Spectra, over_lights};
/// use dyekin_core::{Formula, Illuminant, Observer};
///
/// let standard = Reflectance::new(400, 10, &[0.25; 31])?;
/// let sample = Reflectance::new(400, 10, &[0.26; 31])?;
/// let lights = Lights::parse("daylight,lamp,led")?;
/// let pair = Spectra { standard: &standard, sample: &sample };
/// let found = over_lights(pair, &lights, Observer::TenDegree, Formula::DEFAULT)?;
/// assert_eq!(found.each().len(), 3);
/// assert!(found.worst().delta_e.value() > 0.5);
/// # Ok::<(), dyekin_core::Error>(())
/// ```
///
/// # Errors
///
/// [`ErrorKind::BadColor`] when a spectrum is too bright under one of the lights.
pub fn over_lights(
    pair: Spectra<'_>,
    lights: &Lights,
    observer: Observer,
    formula: Formula,
) -> Result<OverLights> {
    let reference = Conditions { illuminant: lights.first, observer };
    let under = |conditions: Conditions| -> Result<UnderLight> {
        let delta_e = formula.delta_e(pair.under(conditions)?);
        let test = conditions.illuminant;
        let index = || {
            let change = Change { reference, test };
            metamerism(pair.standard, pair.sample, change, Formula::Cie76).ok()
        };
        let metamerism = if test == lights.first { None } else { index().map(|found| found.index) };
        Ok(UnderLight { illuminant: test, delta_e, metamerism })
    };
    let each = lights.conditions(observer).map(under).collect::<Result<_>>()?;
    OverLights::new(observer, formula, each, false)
}

impl OverLights {
    /// The same, beside a difference that is that of the worst light.
    #[must_use]
    pub fn as_ranked(self) -> Self {
        Self { ranked: true, ..self }
    }
}

/// Two spectra with their roles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spectra<'a> {
    /// That of the color asked for.
    pub standard: &'a Reflectance,
    /// That of the color that is judged.
    pub sample: &'a Reflectance,
}

impl Spectra<'_> {
    /// Both as CIELAB under a light for an observer.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadColor`] when one is too bright there.
    pub fn under(self, conditions: Conditions) -> Result<Pair> {
        let [standard, sample] = [self.standard.lab(conditions)?, self.sample.lab(conditions)?];
        Ok(Pair { standard, sample })
    }

    /// The difference under one light, with its signed parts.
    ///
    /// # Errors
    ///
    /// As [`Spectra::under`].
    pub fn difference(self, conditions: Conditions, formula: Formula) -> Result<Difference> {
        let [standard, sample] = [self.standard.color(conditions)?, self.sample.color(conditions)?];
        Difference::between(&standard, &sample, formula)
    }
}

/// A color asked for, with its spectrum where it has one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen<'a> {
    /// The color as it is listed.
    pub color: &'a Color,
    /// How much light it sends back by wavelength.
    pub spectrum: Option<&'a Reflectance>,
}

/// The refusal of a color that has to be seen under several lights and has no spectrum.
pub(crate) fn no_spectrum(what: &str, lights: &Lights) -> Error {
    let names: Vec<&str> = lights.illuminants().map(Illuminant::words).collect();
    Error::new(ErrorKind::BadValue {
        value: names.join(", "),
        reason: format!("{what} no reflectance spectrum: nobody knows how it looks there"),
        remedy: "ask for threads whose table holds spectra, or leave the lights out".into(),
    })
}

/// The place and size of the largest difference, while it is smaller than `least`; `None` as soon as
/// it is not, or when one side is not known under a light.
pub(crate) fn worst_below(
    standard: &[Lab],
    sample: impl Iterator<Item = Option<Lab>>,
    formula: Formula,
    least: f64,
) -> Option<(usize, DeltaE)> {
    let mut worst: Option<(usize, DeltaE)> = None;
    for (place, (standard, sample)) in standard.iter().zip(sample).enumerate() {
        let delta_e = formula.delta_e(Pair { standard: *standard, sample: sample? });
        if delta_e.value() > least {
            return None;
        }
        if worst.is_none_or(|(_, before)| delta_e > before) {
            worst = Some((place, delta_e));
        }
    }
    worst
}
