//! Reflectance spectra and what they look like under a light: tristimulus values and CIELAB.
//! It does not know files, percents or how two spectra are compared.
//!
//! Method: ASTM E308 with weights at 10 nm, or at 5 nm for spectra that are so fine. The white is the sum of the very weights used, so that
//! the perfect diffuser is 100, 0, 0 exactly under every light.

mod fine;
mod lights;
mod metamerism;
mod weights;

pub use lights::{Lights, OverLights, Seen, Spectra, UnderLight, over_lights};
pub(crate) use lights::{no_spectrum, worst_below};
pub use metamerism::{Change, Metamerism, metamerism};

use crate::color::{Color, Conditions, Illuminant, Lab, Observer, Origin, Xyz};
use crate::error::{Error, ErrorKind, Result};

/// First wavelength of the weights, in nm.
const FIRST_NM: u16 = 360;

/// Last wavelength of the weights, in nm.
const LAST_NM: u16 = 780;

/// What every spectrum must cover, in nm.
const MUST_COVER: (u16, u16) = (400, 700);

/// Step of the usual weights, in nm.
const STEP_NM: u16 = 10;

/// Step of the fine weights, in nm.
const FINE_STEP_NM: u16 = 5;

/// Wavelengths that are taken at all, in nm: what reflectance instruments deliver.
const TAKEN: (u16, u16) = (300, 1_100);

/// Lowest value that is taken: instruments give small negative ones near black.
const NOISE: f64 = -0.01;

/// Highest value that is taken: brightened threads exceed 1 in the blue.
const HIGHEST: f64 = 2.0;

/// The part of the light that a surface sends back, by wavelength, as it was measured.
///
/// Units: factors, 1 is the perfect diffuser, at every 20, 10 or 5 nm. Range: 0 to 2, at least 400
/// to 700 nm, at most 300 to 1100 nm.
#[derive(Clone, Debug, PartialEq)]
pub struct Reflectance {
    start_nm: u16,
    /// 5, 10 or 20.
    step_nm: u16,
    values: Box<[f64]>,
}

impl Reflectance {
    /// A spectrum from values at equal steps. The values are kept as they are given.
    ///
    /// - Steps: 10 nm and 5 nm have weights of their own. At 20 nm the values between are
    ///   interpolated (Lagrange, four points, three at the ends), which moves CIELAB of steep spectra
    ///   by up to 0.2 under daylight and lamp and up to 0.4 under LED and lamps with lines.
    /// - Range: 400 to 700 nm must be there. Values outside 360 to 780 nm are not used. For bands
    ///   that are missing between, the end value stands, which is to say that their weights are added
    ///   to those of the end (ASTM E308).
    /// - Values from -0.01 to 0 are noise near black and count as 0.
    ///
    /// ```
    /// use dyekin_core::spectrum::Reflectance;
    /// use dyekin_core::Conditions;
    ///
    /// let gray = Reflectance::new(400, 10, &[0.18; 31])?;
    /// let lab = gray.lab(Conditions::TEXTILE)?;
    /// assert!((lab.l() - 49.496).abs() < 1e-3);
    /// assert!(lab.chroma() < 1e-9);
    /// assert!(Reflectance::new(420, 10, &[0.18; 29]).is_err());
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when the step, the range or a value is none of these; bad values are
    /// counted and the first one is named with its wavelength.
    pub fn new(start_nm: u16, step_nm: u16, values: &[f64]) -> Result<Self> {
        Samples::new(start_nm, step_nm, values)?.check_values()?;
        // Adding zero turns -0 into 0.
        let values = values.iter().map(|value| value + 0.0).collect();
        Ok(Self { start_nm, step_nm, values })
    }

    /// The first wavelength, in nm.
    #[must_use]
    pub fn start_nm(&self) -> u16 {
        self.start_nm
    }

    /// The step between wavelengths, in nm: 5, 10 or 20.
    #[must_use]
    pub fn step_nm(&self) -> u16 {
        self.step_nm
    }

    /// The last wavelength, in nm.
    #[must_use]
    pub fn end_nm(&self) -> u16 {
        self.samples().last().map_or(self.start_nm, |(at, _)| at)
    }

    /// The values as they were given, upward.
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// Wavelength in nm and reflectance, upward, as they were given.
    pub fn samples(&self) -> impl Iterator<Item = (u16, f64)> {
        (self.start_nm..).step_by(usize::from(self.step_nm)).zip(self.values.iter().copied())
    }

    /// The value at a wavelength in nm, when one was given there.
    #[must_use]
    pub fn at(&self, nm: u16) -> Option<f64> {
        let offset = nm.checked_sub(self.start_nm)?;
        let place = offset.is_multiple_of(self.step_nm).then_some(offset / self.step_nm)?;
        self.values.get(usize::from(place)).copied()
    }

    /// Wavelength in nm and reflectance, upward, at the steps of [`Reflectance::grid_nm`] within the
    /// range of the weights.
    fn used(&self) -> Vec<(u16, f64)> {
        let samples = Samples(self.samples().collect());
        let samples = if self.step_nm > STEP_NM { samples.doubled() } else { samples.0 };
        samples
            .into_iter()
            .filter(|(at, _)| (FIRST_NM..=LAST_NM).contains(at))
            .map(|(at, value)| (at, value.max(0.0)))
            .collect()
    }

    /// The step of the weights that are used.
    fn grid_nm(&self) -> u16 {
        self.step_nm.min(STEP_NM)
    }

    /// Tristimulus values under a light for an observer.
    #[must_use]
    pub fn xyz(&self, conditions: Conditions) -> Xyz {
        let bands = self.weights(conditions);
        let used = self.used();
        let (Some((start_nm, first)), Some((_, last))) = (used.first(), used.last()) else {
            return sum(bands, std::iter::empty());
        };
        let missing = usize::from((start_nm - FIRST_NM) / self.grid_nm());
        let before = std::iter::repeat_n(*first, missing);
        let after = std::iter::repeat(*last);
        sum(bands, before.chain(used.iter().map(|(_, value)| *value)).chain(after))
    }

    /// The perfect diffuser under the same weights.
    #[must_use]
    pub fn white(&self, conditions: Conditions) -> Xyz {
        sum(self.weights(conditions), std::iter::repeat(1.0))
    }

    fn weights(&self, conditions: Conditions) -> &'static [[f64; 3]] {
        if self.grid_nm() == FINE_STEP_NM { fine_table(conditions) } else { table(conditions) }
    }

    /// CIELAB under a light for an observer, relative to the white of the same weights.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadColor`] when the surface is too bright for a CIELAB value that is taken: a
    /// fluorescent one above L* 102.
    pub fn lab(&self, conditions: Conditions) -> Result<Lab> {
        self.xyz(conditions).to_lab(self.white(conditions))
    }

    /// The color under a light for an observer, with a spectrum as its origin.
    ///
    /// # Errors
    ///
    /// Those of [`Reflectance::lab`].
    pub fn color(&self, conditions: Conditions) -> Result<Color> {
        Ok(Color::lab_under(self.lab(conditions)?, conditions, Origin::Spectrum))
    }
}

/// True when wavelengths in nm from the first to the last are enough for a color.
pub(crate) fn covers(first_nm: u16, last_nm: u16) -> bool {
    first_nm <= MUST_COVER.0 && last_nm >= MUST_COVER.1
}

/// True for a value that a surface can send back, noise near black included.
pub(crate) fn is_factor(value: f64) -> bool {
    (NOISE..=HIGHEST).contains(&value)
}

/// The white of spectra at 10 nm: the perfect diffuser under these weights.
///
/// It lies within 0.15 of [`Conditions::white`], farthest for lamps with lines.
#[must_use]
pub fn white(conditions: Conditions) -> Xyz {
    sum(table(conditions), std::iter::repeat(1.0))
}

fn sum(bands: &[[f64; 3]], values: impl Iterator<Item = f64>) -> Xyz {
    let [x, y, z] = bands.iter().zip(values).fold([0.0; 3], |[x, y, z], ([wx, wy, wz], value)| {
        [x + wx * value, y + wy * value, z + wz * value]
    });
    Xyz { x, y, z }
}

fn table(conditions: Conditions) -> &'static [[f64; 3]] {
    match (conditions.illuminant, conditions.observer) {
        (Illuminant::A, Observer::TwoDegree) => &weights::A_2,
        (Illuminant::A, Observer::TenDegree) => &weights::A_10,
        (Illuminant::D50, Observer::TwoDegree) => &weights::D50_2,
        (Illuminant::D50, Observer::TenDegree) => &weights::D50_10,
        (Illuminant::D65, Observer::TwoDegree) => &weights::D65_2,
        (Illuminant::D65, Observer::TenDegree) => &weights::D65_10,
        (Illuminant::Fl2, Observer::TwoDegree) => &weights::FL2_2,
        (Illuminant::Fl2, Observer::TenDegree) => &weights::FL2_10,
        (Illuminant::Fl11, Observer::TwoDegree) => &weights::FL11_2,
        (Illuminant::Fl11, Observer::TenDegree) => &weights::FL11_10,
        (Illuminant::LedB3, Observer::TwoDegree) => &weights::LED_B3_2,
        (Illuminant::LedB3, Observer::TenDegree) => &weights::LED_B3_10,
    }
}

fn fine_table(conditions: Conditions) -> &'static [[f64; 3]] {
    match (conditions.illuminant, conditions.observer) {
        (Illuminant::A, Observer::TwoDegree) => &fine::A_2,
        (Illuminant::A, Observer::TenDegree) => &fine::A_10,
        (Illuminant::D50, Observer::TwoDegree) => &fine::D50_2,
        (Illuminant::D50, Observer::TenDegree) => &fine::D50_10,
        (Illuminant::D65, Observer::TwoDegree) => &fine::D65_2,
        (Illuminant::D65, Observer::TenDegree) => &fine::D65_10,
        (Illuminant::Fl2, Observer::TwoDegree) => &fine::FL2_2,
        (Illuminant::Fl2, Observer::TenDegree) => &fine::FL2_10,
        (Illuminant::Fl11, Observer::TwoDegree) => &fine::FL11_2,
        (Illuminant::Fl11, Observer::TenDegree) => &fine::FL11_10,
        (Illuminant::LedB3, Observer::TwoDegree) => &fine::LED_B3_2,
        (Illuminant::LedB3, Observer::TenDegree) => &fine::LED_B3_10,
    }
}

/// Values as given, with their wavelengths in nm.
struct Samples(Vec<(u16, f64)>);

impl Samples {
    fn new(start_nm: u16, step_nm: u16, values: &[f64]) -> Result<Self> {
        if ![FINE_STEP_NM, STEP_NM, 2 * STEP_NM].contains(&step_nm) {
            return Err(bad(
                format!("{step_nm} nm"),
                "a step between wavelengths of 5, 10 or 20 nm is needed",
                "resample the spectrum to 10 nm",
            ));
        }
        let grid = step_nm.min(STEP_NM);
        if start_nm < TAKEN.0 || !start_nm.is_multiple_of(grid) {
            return Err(bad(
                format!("{start_nm} nm"),
                "a spectrum starts at a multiple of its step that is 300 nm or more",
                "resample the spectrum to 400, 410 … 700 nm",
            ));
        }
        let wavelengths = (start_nm..=TAKEN.1).step_by(usize::from(step_nm));
        let samples: Vec<(u16, f64)> = wavelengths.zip(values.iter().copied()).collect();
        let end_nm = samples.last().map_or(0, |(at, _)| *at);
        if samples.len() < values.len() {
            return Err(bad(
                format!("{} values from {start_nm} nm", values.len()),
                "the values go beyond 1100 nm",
                "is the step right?",
            ));
        }
        if !covers(start_nm, end_nm) {
            return Err(bad(
                format!("{start_nm} to {end_nm} nm"),
                "a color needs reflectance from 400 to 700 nm",
                "measure the whole range, or give Lab with its light and observer",
            ));
        }
        Ok(Self(samples))
    }

    fn check_values(&self) -> Result<()> {
        let bad_ones = || self.0.iter().filter(|(_, value)| !is_factor(*value));
        let Some((at, value)) = bad_ones().next() else {
            return Ok(());
        };
        let more = match bad_ones().count() - 1 {
            0 => String::new(),
            more => format!(", {more} more as well"),
        };
        let remedy = if *value > HIGHEST {
            "write factors, where 1 is white; are these percents? divide by 100"
        } else {
            "write factors, where 0 is black and 1 is white"
        };
        Err(bad(value.to_string(), &format!("no reflectance at {at} nm{more}"), remedy))
    }

    /// The values with one interpolated between each two. The factors are those of Lagrange's
    /// polynomials at the middle; each set sums to 1, so that a constant stays one exactly.
    fn doubled(&self) -> Vec<(u16, f64)> {
        let Self(samples) = self;
        let values: Vec<f64> = samples.iter().map(|(_, value)| *value).collect();
        let last = values.len().saturating_sub(2);
        let mut doubled = Vec::with_capacity(2 * samples.len());
        for (place, (at, value)) in samples.iter().enumerate() {
            doubled.push((*at, *value));
            let middle = match values.get(place.saturating_sub(1)..) {
                Some([first, second, third, ..]) if place == 0 => {
                    0.375 * first + 0.75 * second - 0.125 * third
                }
                Some([first, second, third]) if place == last => {
                    -0.125 * first + 0.75 * second + 0.375 * third
                }
                Some([first, second, third, fourth, ..]) => {
                    0.5625 * (second + third) - 0.0625 * (first + fourth)
                }
                Some(_) | None => continue,
            };
            doubled.push((at + STEP_NM, middle));
        }
        doubled
    }
}

fn bad(value: String, reason: &str, remedy: &str) -> Error {
    Error::new(ErrorKind::BadValue { value, reason: reason.into(), remedy: remedy.into() })
}

#[cfg(test)]
mod tests;
