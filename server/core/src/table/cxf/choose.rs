//! The one color of each object, chosen by its specification, never because it stands first.
//! It does not know XML.

use std::collections::{BTreeMap, BTreeSet};

use super::{Document, Form, Object, Specification, Value};
use crate::color::{Conditions, Illuminant, Observer, Origin, Srgb8};
use crate::error::{Error, ErrorKind, Place, Result, shown};
use crate::table::cgats::{parse_illuminant, parse_observer};
use crate::table::column::{COLUMNS, Column};
use crate::table::number;
use crate::table::paint::byte_of;
use crate::table::report::{Seen, rows as count_of};
use crate::table::row::{Keyed, Row, Rows};
use crate::table::spectral::{Bands, Spectral};
use crate::table::tristimulus::{Space, shown_white};

/// Most specifications that one message names.
const NAMED: usize = 6;

/// What a specification means for its colors.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Meaning {
    illuminant: Option<Illuminant>,
    observer: Option<Observer>,
    is_measured: bool,
    /// What the sample was lit with.
    lit: Option<Lit>,
    start_nm: Option<u16>,
    step_nm: Option<u16>,
}

impl Meaning {
    fn conditions(self) -> Option<Conditions> {
        Some(Conditions { illuminant: self.illuminant?, observer: self.observer? })
    }
}

/// What a sample is lit with by a measuring device: the conditions of ISO 13655.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Lit {
    /// Incandescent lamp.
    M0,
    /// Daylight, its ultraviolet included.
    M1,
    /// Ultraviolet left out.
    M2,
    /// Polarized.
    M3,
}

impl Lit {
    const ALL: [Self; 4] = [Self::M0, Self::M1, Self::M2, Self::M3];

    fn as_str(self) -> &'static str {
        match self {
            Self::M0 => "M0",
            Self::M1 => "M1",
            Self::M2 => "M2",
            Self::M3 => "M3",
        }
    }

    /// Reads `M1` or a document's `M1_Daylight`.
    fn parse(text: &str) -> Option<Self> {
        let (first, _) = text.split_once('_').unwrap_or((text, ""));
        Self::ALL.into_iter().find(|known| known.as_str().eq_ignore_ascii_case(first.trim()))
    }
}

/// What the objects together say.
#[derive(Debug, Default)]
struct Told {
    measured: Seen,
    /// Objects with a color and several spectra, of which none is meant.
    undecided: Seen,
    converted: BTreeMap<&'static str, Seen>,
    rounded: Seen,
    whites: BTreeSet<Conditions>,
}

/// Hands on the color of every object.
pub(super) fn give(document: &Document, rows: &mut Rows<'_>) {
    let used: BTreeSet<&str> = document
        .objects
        .iter()
        .flat_map(|object| &object.values)
        .filter(|value| !matches!(value.form, Form::Srgb | Form::Spectrum))
        .map(|value| value.specification.as_str())
        .collect();
    let meanings = meanings(&document.specifications, &used, rows);
    if !wanted_is_there(&meanings, rows) {
        return;
    }
    let mut told = Told::default();
    for object in &document.objects {
        if rows.is_full {
            break;
        }
        if let Some(value) = choose(object, &meanings, rows) {
            push(object, value, &meanings, &mut told, rows);
        }
    }
    told.tell(rows);
}

/// What the specifications in use mean; those that are not known here are problems.
fn meanings<'d>(
    specifications: &'d BTreeMap<String, Specification>,
    used: &BTreeSet<&str>,
    rows: &mut Rows<'_>,
) -> BTreeMap<&'d str, Meaning> {
    let mut meanings = BTreeMap::new();
    for (id, said) in specifications {
        let mut refuse = |what: &str, value: &str| {
            if !used.contains(id.as_str()) {
                return;
            }
            let kind = ErrorKind::BadValue {
                value: value.to_owned(),
                reason: format!("{what} that is not known here"),
                remedy: "A, D50, D65, F2 and F11 with 2_Degree or 10_Degree are known; \
                         export the colors under one of them"
                    .into(),
            };
            let field = Some(format!("specification {}", shown(id)));
            rows.report.problem(kind, Place { line: Some(said.line), field, ..Place::default() });
        };
        let illuminant = parse_illuminant(&said.illuminant);
        if illuminant.is_none() && !said.illuminant.is_empty() {
            refuse("an illuminant", &said.illuminant);
        }
        let observer = parse_observer(&said.observer);
        if observer.is_none() && !said.observer.is_empty() {
            refuse("an observer", &said.observer);
        }
        let is_measured = said.measurement.ends_with("_Reflectance");
        let lit = Lit::parse(&said.illumination);
        let [start_nm, step_nm] = [&said.start, &said.increment].map(|text| nanometers(text));
        let meaning = Meaning { illuminant, observer, is_measured, lit, start_nm, step_nm };
        meanings.insert(id.as_str(), meaning);
    }
    meanings
}

/// A whole number of nanometers.
fn nanometers(text: &str) -> Option<u16> {
    let whole = match text.split_once('.') {
        Some((whole, zeros)) if zeros.bytes().all(|byte| byte == b'0') => whole,
        Some(_) => return None,
        None => text,
    };
    whole.parse().ok()
}

fn meaning(value: &Value, meanings: &BTreeMap<&str, Meaning>) -> Meaning {
    meanings.get(value.specification.as_str()).copied().unwrap_or_default()
}

/// The value of an object that is meant, or `None` after a problem.
fn choose<'o>(
    object: &'o Object,
    meanings: &BTreeMap<&str, Meaning>,
    rows: &mut Rows<'_>,
) -> Option<&'o Value> {
    let Some(values) = wanted(object, meanings, rows) else {
        refuse_other(object, meanings, rows);
        return None;
    };
    let of_form = |form| values.iter().copied().filter(move |value| value.form == form);
    let Some(form) = Form::ALL.into_iter().find(|form| of_form(*form).next().is_some()) else {
        refuse_empty(object, rows);
        return None;
    };
    let mut candidates: Vec<&Value> = of_form(form).collect();
    if let Some(wanted) = rows.options.conditions
        && candidates.len() > 1
    {
        candidates.retain(|value| meaning(value, meanings).conditions() == Some(wanted));
        if candidates.is_empty() {
            candidates = of_form(form).collect();
        }
    }
    let first = candidates.first().copied()?;
    let same = |value: &&Value| {
        value.parts == first.parts && meaning(value, meanings) == meaning(first, meanings)
    };
    if candidates.iter().all(same) {
        return Some(first);
    }
    refuse_many(object, &candidates, meanings, rows);
    None
}

/// Whether the measurement that was asked for is one of the document's.
fn wanted_is_there(meanings: &BTreeMap<&str, Meaning>, rows: &mut Rows<'_>) -> bool {
    let Some(wanted) = rows.options.measurement.as_deref() else { return true };
    if meanings.iter().any(|(id, meaning)| is_meant(id, *meaning, wanted)) {
        return true;
    }
    let named: Vec<String> =
        meanings.iter().take(NAMED).map(|(id, meaning)| spelled(id, *meaning)).collect();
    let more = if meanings.len() > NAMED { ", …" } else { "" };
    let remedy = match named.as_slice() {
        [] => "the document has no specifications: leave `--measurement` out".to_owned(),
        _ => format!("its specifications are {}{more}", named.join(", ")),
    };
    let kind = ErrorKind::BadValue {
        value: wanted.to_owned(),
        reason: "no measurement of this document is that".into(),
        remedy,
    };
    rows.report.problem(kind, Place::default());
    false
}

fn is_meant(id: &str, meaning: Meaning, wanted: &str) -> bool {
    let by_light = || meaning.lit.is_some_and(|lit| lit.as_str().eq_ignore_ascii_case(wanted));
    id == wanted || by_light()
}

/// A specification for a message: its id, and what the sample was lit with.
fn spelled(id: &str, meaning: Meaning) -> String {
    let lit = meaning.lit.map(|lit| format!(" ({})", lit.as_str()));
    format!("{}{}", shown(id), lit.unwrap_or_default())
}

/// The values of an object that may be meant: of each form those of the measurement asked for, else
/// those that do not say what the sample was lit with. `None` when the object has only others.
fn wanted<'o>(
    object: &'o Object,
    meanings: &BTreeMap<&str, Meaning>,
    rows: &Rows<'_>,
) -> Option<Vec<&'o Value>> {
    let values = || object.values.iter();
    let Some(wanted) = rows.options.measurement.as_deref() else { return Some(values().collect()) };
    let is_meant = |value: &Value| is_meant(&value.specification, meaning(value, meanings), wanted);
    let is_unsaid = |value: &Value| meaning(value, meanings).lit.is_none();
    let none_meant = |form| !values().any(|value| value.form == form && is_meant(value));
    let may_be = |value: &&Value| is_meant(value) || (is_unsaid(value) && none_meant(value.form));
    let says_others = meanings.contains_key(wanted) || !values().all(is_unsaid);
    if says_others && !object.values.is_empty() && !values().any(is_meant) {
        return None;
    }
    Some(values().filter(may_be).collect())
}

fn refuse_other(object: &Object, meanings: &BTreeMap<&str, Meaning>, rows: &mut Rows<'_>) {
    let wanted = rows.options.measurement.clone().unwrap_or_default();
    let specifications: BTreeSet<&str> =
        object.values.iter().map(|value| value.specification.as_str()).collect();
    let meaning = |id: &str| meanings.get(id).copied().unwrap_or_default();
    let named: Vec<String> =
        specifications.iter().take(NAMED).map(|id| spelled(id, meaning(id))).collect();
    let reason = format!("has nothing of {}, only of {}", shown(&wanted), named.join(", "));
    refuse(object, reason, "say another `--measurement`, or take the object out", rows);
}

fn refuse_empty(object: &Object, rows: &mut Rows<'_>) {
    let (reason, remedy) = if object.others.is_empty() {
        ("holds no color".to_owned(), "give it a ColorCIELab, or take the object out")
    } else {
        let names: Vec<String> = object.others.iter().take(NAMED).map(|name| shown(name)).collect();
        (
            format!("holds only {}, which is not read", names.join(", ")),
            "export it as Lab (ColorCIELab)",
        )
    };
    refuse(object, reason, remedy, rows);
}

fn refuse_many(
    object: &Object,
    candidates: &[&Value],
    meanings: &BTreeMap<&str, Meaning>,
    rows: &mut Rows<'_>,
) {
    let lights: BTreeSet<Option<Conditions>> =
        candidates.iter().map(|value| meaning(value, meanings).conditions()).collect();
    let named: Vec<String> = candidates
        .iter()
        .take(NAMED)
        .map(|value| {
            let meaning = meaning(value, meanings);
            let light = meaning.conditions().map(|light| format!(" ({light})"));
            format!("{}{}", spelled(&value.specification, meaning), light.unwrap_or_default())
        })
        .collect();
    let spectra = candidates.iter().all(|value| value.form == Form::Spectrum);
    let what = if spectra { "spectra" } else { "colors" };
    let reason = format!("has {} {what}: {}", candidates.len(), named.join(", "));
    let remedy = which(candidates, &lights, meanings);
    refuse(object, reason, &remedy, rows);
}

/// What to say to have one of several values taken.
fn which(
    candidates: &[&Value],
    lights: &BTreeSet<Option<Conditions>>,
    meanings: &BTreeMap<&str, Meaning>,
) -> String {
    let lit: BTreeSet<Option<&str>> =
        candidates.iter().map(|value| meaning(value, meanings).lit.map(Lit::as_str)).collect();
    let ids: BTreeSet<&str> = candidates.iter().map(|value| value.specification.as_str()).collect();
    if lights.len() == candidates.len() {
        return "say which with `--white`, such as `--white D65/10`".into();
    }
    if lit.len() == candidates.len() && !lit.contains(&None) {
        let lit: Vec<&str> = lit.into_iter().flatten().collect();
        return format!(
            "say which with `--measurement`: {} (M0 was lit by a lamp, M1 by daylight, M2 without \
             ultraviolet, M3 through polarizers)",
            lit.join(", ")
        );
    }
    match candidates.first().filter(|_| ids.len() == candidates.len()) {
        Some(first) => format!(
            "say which with `--measurement`, such as `--measurement {}`",
            shown(&first.specification)
        ),
        None => "export the colors under one specification".into(),
    }
}

fn refuse(object: &Object, reason: String, remedy: &str, rows: &mut Rows<'_>) {
    let kind = ErrorKind::BadFile { reason, remedy: remedy.into() };
    let field = Some(label(object));
    rows.report.problem(kind, Place { line: Some(object.line), field, ..Place::default() });
}

/// An object for a message: its id, and its name where that says more.
fn label(object: &Object) -> String {
    if object.name.is_empty() || object.name == object.id {
        return format!("object {}", shown(&object.id));
    }
    format!("object {} `{}`", shown(&object.id), shown(&object.name))
}

fn push(
    object: &Object,
    value: &Value,
    meanings: &BTreeMap<&str, Meaning>,
    told: &mut Told,
    rows: &mut Rows<'_>,
) {
    let path = format!("{}, ", label(object));
    let keyed = Keyed { path: &path, keys: keys(value) };
    let meaning = meaning(value, meanings);
    let mut cells = [""; COLUMNS];
    let mut set = |column: Column, text| {
        if let Some(cell) = cells.get_mut(column.index()) {
            *cell = text;
        }
    };
    set(Column::Code, &object.id);
    set(Column::Name, &object.name);
    let hex;
    let conditions = rows.conditions_of(meaning.illuminant, meaning.observer);
    let mut parts = value.parts.each_ref().map(String::as_str);
    if value.form == Form::Srgb {
        let Some(rgb) = srgb(value, &path, told, rows) else { return };
        hex = rgb.to_string();
        set(Column::Hex, &hex);
        parts = [""; 3];
    } else if value.form == Form::Spectrum {
        parts = [""; 3];
    } else if meaning.is_measured && rows.options.origin.is_none() {
        set(Column::Origin, Origin::Meter.as_str());
        told.measured.note(value.line);
    }
    for (column, part) in Column::LAB.into_iter().zip(parts) {
        set(column, part);
    }
    let observer = conditions.observer.degrees().to_string();
    if value.form != Form::Srgb && meaning.illuminant.is_some() {
        set(Column::Illuminant, conditions.illuminant.as_str());
    }
    if value.form != Form::Srgb && meaning.observer.is_some() {
        set(Column::Observer, &observer);
    }
    rows.space = match value.form {
        Form::Lab | Form::Srgb | Form::Spectrum => Space::Lab,
        Form::Lch => Space::Lch,
        Form::Xyz => Space::Xyz { white_y: 100.0 },
    };
    told.note(value, conditions);
    let spectrum = spectrum(object, value, meanings, told, rows);
    rows.push(&Row { line: value.line, origin: Some(keyed), cells, spectrum });
}

/// The spectrum of an object: the value itself, or the one that belongs to it.
fn spectrum(
    object: &Object,
    value: &Value,
    meanings: &BTreeMap<&str, Meaning>,
    told: &mut Told,
    rows: &mut Rows<'_>,
) -> Spectral {
    let read = |value| bands(value, meaning(value, meanings)).and_then(|bands| bands.spectrum());
    if value.form == Form::Spectrum {
        let place =
            || Place { line: Some(value.line), field: Some(label(object)), ..Place::default() };
        return read(value).unwrap_or_else(|error| {
            rows.report.problem(error.kind().clone(), place());
            Spectral::Refused
        });
    }
    let spectra: Vec<&Value> =
        object.values.iter().filter(|it| it.form == Form::Spectrum).collect();
    let own = spectra.iter().find(|it| it.specification == value.specification);
    let meant = rows.options.measurement.as_deref();
    let lit = meaning(value, meanings).lit.map(Lit::as_str);
    let asked = meant.or(lit).and_then(|meant| {
        let is_meant = |it: &&&Value| is_meant(&it.specification, meaning(it, meanings), meant);
        let mut found = spectra.iter().filter(is_meant);
        found.next().filter(|_| found.next().is_none())
    });
    match (own.or(asked), spectra.as_slice()) {
        (_, []) => Spectral::Absent,
        (Some(only), _) => read(only).unwrap_or(Spectral::Idle),
        (None, [only]) if meant.is_none() => read(only).unwrap_or(Spectral::Idle),
        (None, _) => {
            told.undecided.note(object.line);
            Spectral::Absent
        }
    }
}

/// The reflectance factors of a spectrum.
fn bands(value: &Value, meaning: Meaning) -> Result<Bands> {
    let bad = |text: &str, reason: &str, remedy: &str| {
        Error::new(ErrorKind::BadValue {
            value: text.to_owned(),
            reason: reason.to_owned(),
            remedy: remedy.to_owned(),
        })
    };
    let start = if value.start.is_empty() { meaning.start_nm } else { nanometers(&value.start) };
    let (Some(start_nm), Some(step_nm)) = (start, meaning.step_nm) else {
        return Err(bad(
            &value.specification,
            "this specification states no first wavelength and step in whole nm",
            "add a WavelengthRange with StartWL and Increment, or export Lab (ColorCIELab)",
        ));
    };
    let mut factors = Vec::new();
    for text in value.parts.first().map(|text| text.split_whitespace()).into_iter().flatten() {
        match number::parse(text) {
            Ok(number) => factors.push(number.value),
            Err(fault) => return Err(bad(text, fault.reason, fault.remedy)),
        }
    }
    Ok(Bands { start_nm, step_nm, factors })
}

/// What messages call the columns.
fn keys(value: &Value) -> [&'static str; COLUMNS] {
    let mut keys = [""; COLUMNS];
    let texts = [(Column::Code, "Id"), (Column::Name, "Name")];
    let parts = Column::LAB.into_iter().zip(value.form.parts());
    for (column, name) in texts.into_iter().chain(parts) {
        if let Some(key) = keys.get_mut(column.index()) {
            *key = name;
        }
    }
    keys
}

/// An sRGB value from 0 to 255, or to the value's own largest component, then rounded.
fn srgb(value: &Value, path: &str, told: &mut Told, rows: &mut Rows<'_>) -> Option<Srgb8> {
    let max = match value.max_range.as_str() {
        "" => Some(255.0),
        text => number::parse(text).ok().map(|n| n.value).filter(|max| *max >= 1.0),
    };
    let Some(max) = max else {
        let kind = ErrorKind::BadValue {
            value: value.max_range.clone(),
            reason: "not a largest component of 1 or more".into(),
            remedy: "write 255, or leave MaxRange out".into(),
        };
        let field = Some(format!("{path}MaxRange"));
        rows.report.problem(kind, Place { line: Some(value.line), field, ..Place::default() });
        return None;
    };
    let is_bytes = (max - 255.0).abs() < f64::EPSILON;
    let mut bytes = [None; 3];
    for ((text, name), byte) in value.parts.iter().zip(value.form.parts()).zip(&mut bytes) {
        let part = number::parse(text).ok().map(|number| number.value);
        let scaled = |part: f64| if is_bytes { part } else { part / max * 255.0 };
        *byte = part.and_then(|part| byte_of(scaled(part), is_bytes));
        if byte.is_none() {
            let kind = ErrorKind::BadColor {
                value: text.clone(),
                reason: format!("not a whole number from 0 to {max}"),
                remedy: "nothing is clipped: write the color that is meant".into(),
            };
            let field = Some(format!("{path}{name}"));
            rows.report.problem(kind, Place { line: Some(value.line), field, ..Place::default() });
        }
    }
    let [red, green, blue] = bytes;
    if !is_bytes {
        told.rounded.note(value.line);
    }
    Some(Srgb8::new(red?, green?, blue?))
}

impl Told {
    fn note(&mut self, value: &Value, conditions: Conditions) {
        match value.form {
            Form::Lab | Form::Srgb | Form::Spectrum => {}
            Form::Lch => self.converted.entry("L*, C* and hue").or_default().note(value.line),
            Form::Xyz => {
                self.whites.insert(conditions);
                self.converted.entry("X, Y, Z").or_default().note(value.line);
            }
        }
    }

    fn tell(self, rows: &mut Rows<'_>) {
        let report = &mut rows.report;
        self.measured.tell(report, |count| {
            format!("{} whose specification says measured reflectance: origin meter; say otherwise with `--origin`", count_of(count))
        });
        self.undecided.tell(report, |count| {
            format!(
                "{} with a color and several spectra, none of the color's own specification: \
                 no spectrum is kept; say which with `--measurement M1`",
                count_of(count)
            )
        });
        for (what, seen) in self.converted {
            seen.tell(report, |count| {
                format!("{} with {what}: converted to CIELAB", count_of(count))
            });
        }
        for conditions in self.whites {
            let white = shown_white(conditions);
            let text = format!("X, Y, Z are converted with the white of {white}");
            report.notice(None, text);
        }
        self.rounded.tell(report, |count| {
            format!(
                "{} with sRGB on another scale than 0 to 255: rounded to 8 bits",
                count_of(count)
            )
        });
    }
}
