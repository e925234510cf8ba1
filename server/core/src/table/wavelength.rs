//! Columns named by wavelengths: their names, and the reflectance spectrum that a row of them holds.
//! It does not know which delimiter cut the row or what the spectrum looks like.

use std::sync::Arc;

use super::column;
use super::number;
use super::row::{Marked, Rows};
use super::spectral::Spectral;
use crate::error::{ErrorKind, Place, shown};
use crate::spectrum::{self, Reflectance};

/// Wavelengths that the name of a column may state, in nm.
const WAVELENGTHS: std::ops::RangeInclusive<u16> = 300..=1_100;

/// What may stand before the wavelength, blanks and underscores left out.
const STARTS: [&str; 14] = [
    "",
    "SPECTRALNM",
    "SPECTRALDEC",
    "SPECTRALPCT",
    "SPECTRAL",
    "SPECTRUM",
    "SPEC",
    "NM",
    "R",
    "REFL",
    "REFLECTANCE",
    "WL",
    "LAMBDA",
    "REMISSION",
];

/// Columns from which on names without `nm` are taken for wavelengths: 400 to 700 nm at 20 nm.
const SURELY: usize = 16;

/// A name without blanks, marks and case.
pub(super) fn bare(name: &str) -> String {
    name.to_uppercase().chars().filter(|c| !matches!(c, '_' | ' ' | '*' | '-')).collect()
}

/// The wavelength in nm in a bare name such as `SPECTRALNM400`, `400NM` or `R400.0`.
pub(super) fn parse(bare: &str) -> Option<u16> {
    let start = bare.find(|c: char| c.is_ascii_digit())?;
    let (before, rest) = bare.split_at_checked(start)?;
    let end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
    let (digits, after) = rest.split_at_checked(end)?;
    let after = after.strip_prefix('.').map_or(after, |zeros| zeros.trim_start_matches('0'));
    if !STARTS.contains(&before) || !matches!(after, "" | "NM") {
        return None;
    }
    digits.parse().ok().filter(|nm| WAVELENGTHS.contains(nm))
}

/// A column of reflectance at one wavelength.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Band {
    nm: u16,
    at: usize,
    /// The header's spelling.
    spelled: String,
    is_percent: bool,
}

/// The columns of reflectance of a file, upward.
#[derive(Clone, Debug, Default)]
pub(super) struct Bands(Vec<Band>);

impl Bands {
    /// The columns among these names that hold reflectance.
    pub(super) fn find<'n>(names: impl Iterator<Item = &'n str>) -> Self {
        let read = |(at, name): (usize, &str)| {
            let spelled = column::spelled(name);
            let bare = bare(spelled.trim_start_matches('\''));
            let factor = bare.strip_suffix('%').or_else(|| bare.strip_suffix("PCT"));
            let nm = parse(factor.unwrap_or(&bare))?;
            let is_percent = factor.is_some() || bare.contains("PCT");
            Some((bare.contains("NM"), Band { nm, at, spelled: spelled.to_owned(), is_percent }))
        };
        let found: Vec<(bool, Band)> = names.enumerate().filter_map(read).collect();
        let all = found.len() >= SURELY;
        let mut bands: Vec<Band> =
            found.into_iter().filter(|(is_plain, _)| *is_plain || all).map(|(_, it)| it).collect();
        bands.sort_by_key(|band| (band.nm, band.at));
        Self(bands)
    }

    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// True when a column of the file is one of them.
    pub(super) fn holds(&self, name: &str) -> bool {
        self.0.iter().any(|band| band.spelled == name)
    }

    /// What is wrong with the columns, with the name of the one to look at.
    pub(super) fn faults(&self) -> Vec<(ErrorKind, String)> {
        let bad = |band: &Band, reason: String, remedy: &str| {
            let value = band.spelled.clone();
            (ErrorKind::BadValue { value, reason, remedy: remedy.into() }, band.spelled.clone())
        };
        let mut faults = Vec::new();
        for pair in self.0.windows(2) {
            if let [before, band] = pair
                && before.nm == band.nm
            {
                let reason = format!("a second column of {} nm", band.nm);
                faults.push(bad(band, reason, "keep one of them"));
            }
        }
        let (Some(first), Some(last)) = (self.0.first(), self.0.last()) else { return faults };
        if let Some(other) = self.0.iter().find(|band| band.is_percent != first.is_percent) {
            let reason = format!(
                "percents in some columns of reflectance, factors in others such as `{}`",
                shown(if other.is_percent { &first.spelled } else { &other.spelled })
            );
            let named = if other.is_percent { other } else { first };
            faults.push(bad(named, reason, "write all as factors, nm400 …, where 1 is white"));
        }
        if !spectrum::covers(first.nm, last.nm) {
            let reason =
                format!("the columns of reflectance go from {} to {} nm", first.nm, last.nm);
            let remedy = "a spectrum needs 400 to 700 nm: add the missing columns, or take all of \
                          them out";
            faults.push(bad(if first.nm > 400 { first } else { last }, reason, remedy));
        }
        faults
    }

    /// The spectrum of a row: its filled cells, which must have equal steps. Every bad cell is told.
    pub(super) fn spectrum<'c>(
        &self,
        line: u64,
        cell: impl Fn(usize) -> &'c str,
        rows: &mut Rows<'_>,
    ) -> Spectral {
        let filled: Vec<(&Band, &str)> = self
            .0
            .iter()
            .map(|band| (band, cell(band.at)))
            .filter(|(_, text)| !text.trim().is_empty())
            .collect();
        if filled.is_empty() {
            return Spectral::Absent;
        }
        let numbers: Vec<Option<f64>> =
            filled.iter().map(|(band, text)| read(band, text, line, rows)).collect();
        let Some(values) = numbers.into_iter().collect::<Option<Vec<f64>>>() else {
            return Spectral::Refused;
        };
        let bands: Vec<&Band> = filled.iter().map(|(band, _)| *band).collect();
        match self.checked(&bands, &values) {
            Ok(spectrum) => Spectral::Held(Arc::new(spectrum)),
            Err((kind, column)) => {
                let place =
                    column.map_or_else(|| Place::line(line), |name| Place::cell(line, name));
                rows.report.problem(kind, place);
                Spectral::Refused
            }
        }
    }

    fn checked(
        &self,
        bands: &[&Band],
        values: &[f64],
    ) -> Result<Reflectance, (ErrorKind, Option<String>)> {
        let wavelengths: Vec<u16> = bands.iter().map(|band| band.nm).collect();
        let step = step_of(&wavelengths);
        if let Some((nm, is_there)) = uneven(&wavelengths, step) {
            let column = self.0.iter().find(|band| band.nm == nm);
            return Err((out_of_step(nm, step, is_there), column.map(|band| band.spelled.clone())));
        }
        let bad_ones =
            || values.iter().zip(bands).filter(|(value, _)| !spectrum::is_factor(**value));
        if let Some((value, band)) = bad_ones().next() {
            return Err((
                implausible(*value, band, bad_ones().count()),
                Some(band.spelled.clone()),
            ));
        }
        let start = wavelengths.first().copied().unwrap_or_default();
        Reflectance::new(start, step, values).map_err(|error| (error.kind().clone(), None))
    }
}

/// A number as a factor.
fn read(band: &Band, text: &str, line: u64, rows: &mut Rows<'_>) -> Option<f64> {
    let place = || Place::cell(line, band.spelled.clone());
    match number::parse(text) {
        Ok(number) => {
            if number.odd_minus {
                rows.facts.odd_minus.note(line);
            }
            let marked = Marked { mark: number.mark, may_be_thousands: false };
            rows.facts.marks.note(marked, text, place);
            Some(if band.is_percent { number.value / 100.0 } else { number.value })
        }
        Err(fault) => {
            let kind = ErrorKind::BadValue {
                value: text.to_owned(),
                reason: fault.reason.into(),
                remedy: fault.remedy.into(),
            };
            rows.report.problem(kind, place());
            None
        }
    }
}

/// The step that most neighbors have; the smaller one of two.
fn step_of(wavelengths: &[u16]) -> u16 {
    let mut steps: Vec<u16> = wavelengths
        .windows(2)
        .filter_map(|pair| match pair {
            [before, after] => Some(after - before),
            _ => None,
        })
        .collect();
    steps.sort_unstable();
    let runs = steps.chunk_by(|one, other| one == other);
    let most = runs.rev().max_by_key(|run| run.len());
    most.and_then(|run| run.first().copied()).unwrap_or_default()
}

/// The first wavelength that is out of step, and whether the row has it.
fn uneven(wavelengths: &[u16], step: u16) -> Option<(u16, bool)> {
    wavelengths.windows(2).find_map(|pair| match pair {
        [before, after] if after - before > step => Some((before + step, false)),
        [before, after] if after - before < step => Some((*after, true)),
        _ => None,
    })
}

fn out_of_step(nm: u16, step: u16, is_there: bool) -> ErrorKind {
    let what = if is_there { "a reflectance" } else { "no reflectance" };
    let remedy = if is_there {
        "leave it empty, or fill the columns between as well"
    } else {
        "write the value that is missing, or clear all columns of the spectrum in this row"
    };
    ErrorKind::BadValue {
        value: format!("{nm} nm"),
        reason: format!("{what}, where the row has one every {step} nm"),
        remedy: remedy.into(),
    }
}

fn implausible(value: f64, band: &Band, count: usize) -> ErrorKind {
    let more = match count {
        1 => String::new(),
        count => format!(", {} more in this row as well", count - 1),
    };
    let remedy = match (value > 0.0, band.is_percent) {
        (true, false) => {
            "write factors, where 1 is white; for percents name the columns nm400%, nm410% …"
        }
        (true, true) => "these are percents, where 100 is white: is the decimal mark right?",
        (false, _) => "nothing reflects less than 0: is this the spectrum of something else?",
    };
    ErrorKind::BadValue {
        value: if band.is_percent { format!("{} %", value * 100.0) } else { value.to_string() },
        reason: format!("no reflectance{more}"),
        remedy: remedy.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_wavelengths_are_read_in_many_spellings() {
        for (name, nm) in [
            ("nm400", Some(400)),
            ("NM 400", Some(400)),
            ("400 nm", Some(400)),
            ("nm400.0", Some(400)),
            ("nm1000", Some(1_000)),
            ("R700", Some(700)),
            ("400", Some(400)),
            ("nm299", None),
            ("nm1101", None),
            ("nm400.5", None),
            ("nm", None),
            ("K400", None),
            ("é400", None),
        ] {
            assert_eq!(parse(&bare(name)), nm, "{name}");
        }
    }

    #[test]
    fn a_few_bare_numbers_are_no_wavelengths() {
        let few = Bands::find(["400", "500", "code"].into_iter());
        assert!(few.is_empty());
        let many: Vec<String> = (400..=700).step_by(20).map(|nm| nm.to_string()).collect();
        let bands = Bands::find(many.iter().map(String::as_str));
        assert!(bands.holds("400") && bands.holds("700") && bands.faults().is_empty());
    }

    #[test]
    fn the_step_is_that_of_most_neighbors() {
        assert_eq!(step_of(&[400, 410, 430, 440]), 10);
        assert_eq!(step_of(&[400, 410, 430]), 10);
        assert_eq!(step_of(&[400]), 0);
        assert_eq!(uneven(&[400, 410, 430, 440], 10), Some((420, false)));
        assert_eq!(uneven(&[400, 405, 410, 420], 10), Some((405, true)));
        assert_eq!(uneven(&[400, 410, 420], 10), None);
    }
}
