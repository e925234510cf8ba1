//! Wire to domain: every field checked, every problem of a request found at once with its path.
//! It does not know the answers.

mod palette;
mod tables;

use std::fmt;

use dyekin_core::difference::{Application, DeltaE, Factors, Ratio};
use dyekin_core::nearest::{MAX_COUNT, NearestOptions, ThreadFilter};
use dyekin_core::table::{Currency, Finish, Price};
use dyekin_core::{
    Code, Color, Conditions, Error, ErrorKind, Formula, Illuminant, Lab, Observer, Origin, Place,
    Srgb8, TableId, ThreadRef,
};
use dyekin_proto::v1 as pb;

use super::status::Failure;

pub(super) use palette::{ask, max_threads, palette, substitute_options};
pub(super) use tables::{audit, versions};

/// Most queries or pairs in one request.
pub(crate) const MAX_QUERIES: usize = 1_000;

/// Most matches in one response.
const MAX_MATCHES: usize = 5_000;

/// Most tables that one request names.
const MAX_TABLES: usize = 100;

/// Most fibers in a filter.
const MAX_FIBERS: usize = 100;

/// Most threads that a filter excludes.
const MAX_EXCLUDED: usize = 10_000;

/// Longest query id or area, in characters.
pub(super) const MAX_LABEL_CHARS: usize = 64;

/// Most problems that are listed; the others are counted.
const MAX_PROBLEMS: usize = 50;

/// Path of a field, written out only when something is wrong with it.
#[derive(Clone, Copy)]
pub(super) enum Path<'a> {
    Top(&'static str),
    Field(&'a Self, &'static str),
    Item(&'a Self, usize),
}

impl<'a> Path<'a> {
    fn field(&'a self, name: &'static str) -> Self {
        Path::Field(self, name)
    }

    fn item(&'a self, index: usize) -> Self {
        Path::Item(self, index)
    }
}

impl fmt::Display for Path<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Path::Top(name) => f.write_str(name),
            Path::Field(parent, name) => write!(f, "{parent}.{name}"),
            Path::Item(parent, index) => write!(f, "{parent}[{index}]"),
        }
    }
}

/// All that is wrong with a request.
#[derive(Default)]
pub(super) struct Problems {
    listed: Vec<Error>,
    unlisted: usize,
}

impl Problems {
    fn add(&mut self, error: Error, path: Path<'_>) {
        if self.listed.len() == MAX_PROBLEMS {
            self.unlisted += 1;
            return;
        }
        let placed = error.place().is_some();
        self.listed.push(if placed { error } else { error.at(Place::field(path.to_string())) });
    }

    fn bad(&mut self, path: Path<'_>, value: impl fmt::Display, reason: &str, remedy: &str) {
        let kind = ErrorKind::BadValue {
            value: value.to_string(),
            reason: reason.to_owned(),
            remedy: remedy.to_owned(),
        };
        self.add(Error::new(kind), path);
    }

    /// The value of a core constructor, or its error noted.
    fn take<T>(&mut self, result: Result<T, Error>, path: Path<'_>) -> Option<T> {
        result.map_err(|error| self.add(error, path)).ok()
    }

    fn within(&mut self, path: Path<'_>, what: &str, found: usize, limit: usize) -> bool {
        if found <= limit {
            return true;
        }
        let (found, limit) = (found as u64, limit as u64);
        self.add(Error::new(ErrorKind::OverLimit { what: what.to_owned(), found, limit }), path);
        false
    }

    /// The converted request, or everything that is wrong with it.
    pub(super) fn finish<T>(self, value: Option<T>) -> Result<T, Failure> {
        match value {
            Some(value) if self.listed.is_empty() => Ok(value),
            Some(_) | None => Err(Failure::Domain(self.listed, self.unlisted)),
        }
    }
}

/// Converts with a list of problems of its own.
pub(super) fn checked<T>(convert: impl FnOnce(&mut Problems) -> Option<T>) -> Result<T, Failure> {
    let mut problems = Problems::default();
    let value = convert(&mut problems);
    problems.finish(value)
}

pub(super) fn table_id(text: &str, path: Path<'_>, problems: &mut Problems) -> Option<TableId> {
    problems.take(TableId::parse(text), path)
}

fn table_ids(ids: &[String], path: Path<'_>, problems: &mut Problems) -> Option<Vec<TableId>> {
    problems.within(path, "tables in one request", ids.len(), MAX_TABLES).then_some(())?;
    each(ids, path, problems, |id, path, problems| table_id(id, path, problems))
}

/// Converts each item; `None` when any of them failed, with all failures noted.
fn each<W, T>(
    items: &[W],
    path: Path<'_>,
    problems: &mut Problems,
    convert: impl Fn(&W, Path<'_>, &mut Problems) -> Option<T>,
) -> Option<Vec<T>> {
    let mut all = Some(Vec::with_capacity(items.len()));
    for (index, item) in items.iter().enumerate() {
        match (convert(item, path.item(index), problems), &mut all) {
            (Some(value), Some(values)) => values.push(value),
            (Some(_), None) => {}
            (None, _) => all = None,
        }
    }
    all
}

fn conditions(wire: pb::Conditions, path: Path<'_>, problems: &mut Problems) -> Option<Conditions> {
    let illuminant = match wire.illuminant() {
        pb::Illuminant::A => Some(Illuminant::A),
        pb::Illuminant::D50 => Some(Illuminant::D50),
        pb::Illuminant::D65 => Some(Illuminant::D65),
        pb::Illuminant::Fl2 => Some(Illuminant::Fl2),
        pb::Illuminant::Fl11 => Some(Illuminant::Fl11),
        pb::Illuminant::LedB3 => Some(Illuminant::LedB3),
        pb::Illuminant::Unspecified => {
            let path = path.field("illuminant");
            problems.bad(path, wire.illuminant, "no known illuminant", "name the light, often D65");
            None
        }
    };
    let observer = match wire.observer() {
        pb::Observer::TwoDegree => Some(Observer::TwoDegree),
        pb::Observer::TenDegree => Some(Observer::TenDegree),
        pb::Observer::Unspecified => {
            let path = path.field("observer");
            problems.bad(path, wire.observer, "no known observer", "name 2 or 10 degrees");
            None
        }
    };
    Some(Conditions { illuminant: illuminant?, observer: observer? })
}

/// The stated origin, `Some(None)` when there is none; `None` for a number that is no origin.
fn origin(wire: i32, path: Path<'_>, problems: &mut Problems) -> Option<Option<Origin>> {
    match pb::Origin::try_from(wire) {
        Ok(pb::Origin::Unspecified) => Some(None),
        Ok(pb::Origin::Meter) => Some(Some(Origin::Meter)),
        Ok(pb::Origin::Scan) => Some(Some(Origin::Scan)),
        Ok(pb::Origin::Screen) => Some(Some(Origin::Screen)),
        Ok(pb::Origin::Spectrum) => Some(Some(Origin::Spectrum)),
        Ok(pb::Origin::Unknown) => Some(Some(Origin::Unknown)),
        Err(_) => {
            problems.bad(path, wire, "no known origin", "use a value of the contract");
            None
        }
    }
}

/// A color that must be there.
pub(super) fn color(
    wire: Option<&pb::Color>,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Color> {
    let Some(wire) = wire else {
        problems.bad(path, "", "a color is missing", "give a hex or a lab value");
        return None;
    };
    let stated = origin(wire.origin, path.field("origin"), problems);
    let under = match wire.conditions {
        Some(found) => conditions(found, path.field("conditions"), problems).map(Some),
        None => Some(None),
    };
    let color = match &wire.value {
        Some(pb::color::Value::Hex(hex)) => {
            let listed = problems.take(Srgb8::parse_hex(hex), path.field("hex"));
            if let Some(Some(other)) = under.filter(|under| *under != Some(Conditions::SCREEN)) {
                let path = path.field("conditions");
                problems.bad(path, other, "a hex color is sRGB, hence D65/2°", "leave it out");
            }
            Color::listed(listed?, stated?.unwrap_or(Origin::Screen))
        }
        Some(pb::color::Value::Lab(lab)) => {
            let lab = problems.take(Lab::new(lab.l, lab.a, lab.b), path.field("lab"));
            let under = under?;
            if under.is_none() {
                let remedy = "name light and observer, often D65 and 10 degrees";
                problems.bad(path.field("conditions"), "", "a Lab color needs its white", remedy);
            }
            Color::lab_under(lab?, under?, stated?.unwrap_or(Origin::Unknown))
        }
        None => {
            problems.bad(path, "", "a color without a value", "give a hex or a lab value");
            return None;
        }
    };
    match wire.uncertainty {
        Some(number) => problems.take(color.with_uncertainty(number), path.field("uncertainty")),
        None => Some(color),
    }
}

/// A formula; absent means CIEDE2000 under reference conditions.
pub(super) fn formula(
    wire: Option<&pb::DifferenceFormula>,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Formula> {
    let Some(wire) = wire else { return Some(Formula::DEFAULT) };
    let factors = [wire.lightness_factor, wire.chroma_factor, wire.hue_factor];
    let plain = match pb::FormulaKind::try_from(wire.kind) {
        Ok(pb::FormulaKind::Unspecified | pb::FormulaKind::Ciede2000) => {
            let [l, c, h] = factors.map(|factor| factor.unwrap_or(1.0));
            return problems.take(Factors::new(l, c, h), path).map(Formula::Ciede2000);
        }
        Ok(pb::FormulaKind::Cmc) => return cmc(factors, path, problems),
        Ok(pb::FormulaKind::Cie76) => Formula::Cie76,
        Ok(pb::FormulaKind::Cie94GraphicArts) => Formula::Cie94(Application::GraphicArts),
        Ok(pb::FormulaKind::Cie94Textile) => Formula::Cie94(Application::Textile),
        Ok(pb::FormulaKind::Din99o) => Formula::Din99o,
        Ok(pb::FormulaKind::Hyab) => Formula::Hyab,
        Err(_) => {
            problems.bad(path.field("kind"), wire.kind, "no known formula", "use CIEDE2000");
            return None;
        }
    };
    if factors.iter().any(Option::is_some) {
        problems.bad(path, "", &format!("{plain} has no factors"), "leave the factors out");
        return None;
    }
    Some(plain)
}

/// CMC has no ratio that goes without saying.
fn cmc([l, c, h]: [Option<f64>; 3], path: Path<'_>, problems: &mut Problems) -> Option<Formula> {
    let usual = "give 2 and 1 for acceptability, 1 and 1 for perceptibility";
    match (l, c, h) {
        (Some(l), Some(c), None) => problems.take(Ratio::new(l, c), path).map(Formula::Cmc),
        (_, _, Some(_)) => {
            problems.bad(path.field("hue_factor"), "", "CMC has no hue factor", "leave it out");
            None
        }
        (..) => {
            problems.bad(path, "", "CMC needs a lightness and a chroma factor", usual);
            None
        }
    }
}

fn limit(wire: Option<f64>, path: Path<'_>, problems: &mut Problems) -> Option<Option<DeltaE>> {
    match wire {
        Some(number) => problems.take(DeltaE::new(number), path).map(Some),
        None => Some(None),
    }
}

pub(super) fn thread_ref(
    wire: &pb::ThreadRef,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<ThreadRef> {
    let table = table_id(&wire.table_id, path.field("table_id"), problems);
    let code = problems.take(Code::parse(&wire.code), path.field("code"));
    Some(ThreadRef { table: table?, code: code? })
}

fn thread_refs(
    wire: &[pb::ThreadRef],
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Vec<ThreadRef>> {
    each(wire, path, problems, thread_ref)
}

fn finish(wire: &i32, path: Path<'_>, problems: &mut Problems) -> Option<Finish> {
    match pb::Finish::try_from(*wire) {
        Ok(pb::Finish::Fluorescent) => Some(Finish::Fluorescent),
        Ok(pb::Finish::Metallic) => Some(Finish::Metallic),
        Ok(pb::Finish::Plain) => Some(Finish::Plain),
        Ok(pb::Finish::Variegated) => Some(Finish::Variegated),
        Ok(pb::Finish::Unspecified) | Err(_) => {
            problems.bad(path, wire, "no known finish", "use a value of the contract");
            None
        }
    }
}

fn price(wire: &pb::Price, path: Path<'_>, problems: &mut Problems) -> Option<Price> {
    if wire.amount_micros < 0 {
        let path = path.field("amount_micros");
        problems.bad(
            path,
            wire.amount_micros,
            "a price is 0 or more",
            "write millionths of the unit",
        );
        return None;
    }
    let currency = match wire.currency_code.as_str() {
        "" => None,
        text => {
            let read = Currency::parse(text);
            if read.is_none() {
                let path = path.field("currency_code");
                problems.bad(path, text, "a currency has three letters", "write for example EUR");
            }
            Some(read?)
        }
    };
    Some(Price { micros: wire.amount_micros, currency })
}

fn filter(
    wire: Option<&pb::ThreadFilter>,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<ThreadFilter> {
    let Some(wire) = wire else { return Some(ThreadFilter::default()) };
    let fibers = path.field("fibers");
    let excluded = path.field("excluded_threads");
    let fits = problems.within(fibers, "fibers in a filter", wire.fibers.len(), MAX_FIBERS)
        & problems.within(
            excluded,
            "excluded threads in a filter",
            wire.excluded_threads.len(),
            MAX_EXCLUDED,
        );
    fits.then_some(())?;
    let finishes = each(&wire.finishes, path.field("finishes"), problems, finish);
    let excluded = thread_refs(&wire.excluded_threads, excluded, problems);
    let max_price = match &wire.max_price {
        Some(found) => price(found, path.field("max_price"), problems).map(Some),
        None => Some(None),
    };
    Some(ThreadFilter {
        available_only: wire.available_only,
        finishes: finishes?,
        fibers: wire.fibers.iter().map(|fiber| fiber.trim().to_lowercase()).collect(),
        excluded: excluded?,
        max_price: max_price?,
    })
}

/// What all queries of a request share, for so many queries at once.
pub(super) fn match_options(
    wire: Option<&pb::MatchOptions>,
    queries: usize,
    problems: &mut Problems,
) -> Option<NearestOptions> {
    let absent = pb::MatchOptions::default();
    let wire = wire.unwrap_or(&absent);
    let path = Path::Top("options");
    let count = match usize::try_from(wire.count) {
        Ok(0) => Some(1),
        Ok(count) if count <= MAX_COUNT => Some(count),
        Ok(_) | Err(_) => {
            problems.bad(path.field("count"), wire.count, "a count is 1 to 1000", "ask for fewer");
            None
        }
    };
    let asked = queries.saturating_mul(count.unwrap_or(1));
    let few = problems.within(path.field("count"), "matches in one response", asked, MAX_MATCHES);
    let tables = table_ids(&wire.table_ids, path.field("table_ids"), problems);
    let formula = formula(wire.formula.as_ref(), path.field("formula"), problems);
    let limit = limit(wire.max_delta_e, path.field("max_delta_e"), problems);
    let filter = filter(wire.filter.as_ref(), path.field("filter"), problems);
    few.then_some(())?;
    Some(NearestOptions {
        tables: tables?,
        count: count?,
        formula: formula?,
        limit: limit?,
        filter: filter?,
    })
}

fn one_to(
    what: &str,
    path: Path<'_>,
    found: usize,
    most: usize,
    problems: &mut Problems,
) -> Option<()> {
    if found == 0 {
        problems.bad(path, "", "at least one is needed", "give one or more");
        return None;
    }
    problems.within(path, what, found, most).then_some(())
}

fn label(text: &str, path: Path<'_>, problems: &mut Problems) -> Option<String> {
    problems
        .within(path, "characters in a label", text.chars().count(), MAX_LABEL_CHARS)
        .then(|| text.to_owned())
}

/// A query with the id that comes back with its result.
pub(super) struct Query<T> {
    pub(super) id: String,
    pub(super) asked: T,
}

pub(super) fn color_query(
    wire: &pb::ColorQuery,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Query<Color>> {
    let asked = color(wire.color.as_ref(), path.field("color"), problems);
    let id = label(&wire.query_id, path.field("query_id"), problems);
    Some(Query { id: id?, asked: asked? })
}

pub(super) fn color_queries(
    wire: &[pb::ColorQuery],
    problems: &mut Problems,
) -> Option<Vec<Query<Color>>> {
    let path = Path::Top("queries");
    one_to("queries in one request", path, wire.len(), MAX_QUERIES, problems)?;
    each(wire, path, problems, color_query)
}

pub(super) fn thread_queries(
    wire: &[pb::ThreadQuery],
    problems: &mut Problems,
) -> Option<Vec<Query<ThreadRef>>> {
    let path = Path::Top("queries");
    one_to("queries in one request", path, wire.len(), MAX_QUERIES, problems)?;
    each(wire, path, problems, |query, path, problems| {
        let found = required_ref(query.thread.as_ref(), path.field("thread"), problems);
        let id = label(&query.query_id, path.field("query_id"), problems);
        Some(Query { id: id?, asked: found? })
    })
}

fn required_ref(
    wire: Option<&pb::ThreadRef>,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<ThreadRef> {
    let Some(wire) = wire else {
        problems.bad(path, "", "a thread is missing", "give its table and code");
        return None;
    };
    thread_ref(wire, path, problems)
}

pub(super) fn color_pairs(
    wire: &[pb::ColorPair],
    problems: &mut Problems,
) -> Option<Vec<(Color, Color)>> {
    let path = Path::Top("pairs");
    one_to("pairs in one request", path, wire.len(), MAX_QUERIES, problems)?;
    each(wire, path, problems, |pair, path, problems| {
        let standard = color(pair.standard.as_ref(), path.field("standard"), problems);
        let sample = color(pair.sample.as_ref(), path.field("sample"), problems);
        Some((standard?, sample?))
    })
}

pub(super) fn import_header(
    wire: &pb::ImportTableHeader,
    problems: &mut Problems,
) -> Option<dyekin_core::table::ReadOptions> {
    let path = Path::Top("header");
    let id = table_id(&wire.table_id, path.field("table_id"), problems);
    let name = path.field("source_name");
    let named =
        problems.within(name, "characters in a name", wire.source_name.chars().count(), 255);
    let under = match wire.conditions {
        Some(found) => conditions(found, path.field("conditions"), problems).map(Some),
        None => Some(None),
    };
    let origin = origin(wire.origin, path.field("origin"), problems);
    request_id(&wire.request_id, path.field("request_id"), problems)?;
    let id = id?;
    named.then(|| {
        let source_name =
            if wire.source_name.is_empty() { id.to_string() } else { wire.source_name.clone() };
        Some(dyekin_core::table::ReadOptions {
            id,
            source_name,
            conditions: under?,
            origin: origin?,
            alpha_first: wire.alpha_first,
        })
    })?
}

/// A name of a write: up to 36 printable characters of ASCII.
pub(super) fn request_id(text: &str, path: Path<'_>, problems: &mut Problems) -> Option<()> {
    if text.len() <= 36 && text.bytes().all(|byte| byte.is_ascii_graphic()) {
        return Some(());
    }
    let reason = "a request id is at most 36 printable ASCII characters";
    problems.bad(path, text, reason, "use a UUID");
    None
}

/// A page size: 0 is the default, more than the most is the most.
pub(super) fn page_size(wire: i32, problems: &mut Problems) -> Option<usize> {
    match usize::try_from(wire) {
        Ok(0) => Some(100),
        Ok(size) => Some(size.min(1_000)),
        Err(_) => {
            problems.bad(
                Path::Top("page_size"),
                wire,
                "a page size is 0 or more",
                "leave it out for 100",
            );
            None
        }
    }
}
