//! How a thread and what stands in for it hold under other lights, where both have spectra.
//! It does not choose threads.

use super::case::Case;
use crate::color::{Conditions, Lab, Observer};
use crate::difference::Difference;
use crate::error::Result;
use crate::spectrum::{Lights, OverLights, Seen, Spectra, over_lights};
use crate::table::Thread;

/// What a question wants to know of other lights.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Sight {
    /// Nothing.
    Unasked,
    /// How each stand-in holds under the usual ones.
    Told,
    /// Differences are those of the worst of these.
    Ranked(Lights),
}

/// A difference with what other lights say.
pub(super) struct Judged {
    pub(super) difference: Difference,
    pub(super) over_lights: Option<Box<OverLights>>,
}

impl Case<'_, '_> {
    /// The difference of a thread from what it stands in for: under the worst of the lights that
    /// rank where both have spectra, else of the listed colors.
    pub(super) fn judge(&self, standard: Seen<'_>, sample: &Thread) -> Result<Judged> {
        let spectra = standard.spectrum.zip(sample.spectrum.as_deref());
        let pair = spectra.map(|(standard, sample)| Spectra { standard, sample });
        let (observer, formula) = (standard.color.conditions().observer, self.ask.formula);
        if let (Sight::Ranked(lights), Some(pair)) = (&self.sight, pair) {
            let found = over_lights(pair, lights, observer, formula)?.as_ranked();
            let difference = pair.difference(found.worst_conditions(), formula)?;
            return Ok(Judged { difference, over_lights: Some(Box::new(found)) });
        }
        let difference = self.difference(standard.color, &sample.color)?;
        let asked = pair.filter(|_| self.sight == Sight::Told);
        let told =
            asked.and_then(|pair| over_lights(pair, &Lights::usual(), observer, formula).ok());
        Ok(Judged { difference, over_lights: told.map(Box::new) })
    }
}

/// A thread's spectrum as CIELAB under each of the lights; `None` when it has none, or one that is
/// too bright under one of them.
pub(super) fn labs(thread: &Thread, lights: &Lights, observer: Observer) -> Option<Vec<Lab>> {
    let spectrum = thread.spectrum.as_ref()?;
    lights.conditions(observer).map(|light: Conditions| spectrum.lab(light).ok()).collect()
}
