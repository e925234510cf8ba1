//! How missing threads and those that may stand in are compared: by their listed colors, or by their
//! spectra under the worst of several lights. It does not choose.

use std::collections::{BTreeMap, BTreeSet};

use super::super::case::{Candidate, Case};
use super::super::meter::{CALLS_BETWEEN_LOOKS, Meter};
use super::super::sight::labs;
use super::gap::Gap;
use crate::color::{Lab, Observer};
use crate::error::{Error, ErrorKind, Result};
use crate::spectrum::{Lights, worst_below};

/// What is seen of threads, and which of them could not be.
pub(super) struct Eyes<'l, 'c> {
    lights: Option<&'l Lights>,
    seen: BTreeMap<(Observer, Candidate<'c>), Option<Vec<Lab>>>,
    left_out: BTreeSet<Candidate<'c>>,
}

impl<'l, 'c> Eyes<'l, 'c> {
    /// # Errors
    ///
    /// [`ErrorKind::Impossible`] for missing threads, [`ErrorKind::BadAnswer`] for threads of an
    /// answer that cannot be seen under all lights.
    pub(super) fn new(gaps: &[Gap<'c>], lights: Option<&'l Lights>) -> Result<Self> {
        let mut eyes = Self { lights, seen: BTreeMap::new(), left_out: BTreeSet::new() };
        let Some(lights) = lights else { return Ok(eyes) };
        let mut unseen: Vec<String> = Vec::new();
        for gap in gaps {
            let observer = gap.thread.thread.color.conditions().observer;
            if eyes.look(gap.thread, lights, observer).is_none() {
                unseen.push(gap.thread.name().to_string());
            }
            if let Some(fixed) = gap.fixed.filter(|it| eyes.look(*it, lights, observer).is_none()) {
                let reason = "it has no reflectance spectrum to be seen under the lights by";
                let (change, reason) = (fixed.name().to_string(), reason.into());
                return Err(Error::new(ErrorKind::BadAnswer { change, reason }));
            }
        }
        if unseen.is_empty() { Ok(eyes) } else { Err(cannot_be_seen(&unseen)) }
    }

    fn look(
        &mut self,
        thread: Candidate<'c>,
        lights: &Lights,
        observer: Observer,
    ) -> Option<&[Lab]> {
        let look = || labs(thread.thread, lights, observer);
        self.seen.entry((observer, thread)).or_insert_with(look).as_deref()
    }

    /// The difference of a thread from the missing one; `None` when it cannot be seen.
    ///
    /// Units: those of the question's formula.
    pub(super) fn difference(
        &mut self,
        case: &Case<'_, 'c>,
        gap: &Gap<'c>,
        thread: Candidate<'c>,
        meter: &mut Meter<'_>,
    ) -> Result<Option<f64>> {
        let (own, formula) = (&gap.thread.thread.color, case.ask.formula);
        let Some(lights) = self.lights else {
            return meter.difference(own, &thread.thread.color, formula).map(Some);
        };
        meter.work(1, CALLS_BETWEEN_LOOKS)?;
        let observer = own.conditions().observer;
        let standard = self.look(gap.thread, lights, observer).map(<[Lab]>::to_vec);
        let sample = self.look(thread, lights, observer);
        let worst = standard.zip(sample).and_then(|(standard, sample)| {
            worst_below(&standard, sample.iter().copied().map(Some), formula, f64::INFINITY)
        });
        if worst.is_none() {
            self.left_out.insert(thread);
        }
        Ok(worst.map(|(_, delta_e)| delta_e.value()))
    }

    /// How many threads could have stood in but for the lights.
    pub(super) fn left_out(&self) -> usize {
        self.left_out.len()
    }
}

fn cannot_be_seen(names: &[String]) -> Error {
    Error::new(ErrorKind::Impossible {
        reason: format!(
            "no reflectance spectrum of {}: nobody knows how it looks under other lights",
            names.join(", ")
        ),
        nearest: "leave the lights out, or the threads without a spectrum".into(),
    })
}
