//! Queries, filters and what the queries of one request share: wire to domain.
//! It does not know the answers.

use dyekin_core::nearest::{MAX_COUNT, NearestOptions, ThreadFilter};
use dyekin_core::spectrum::{Reflectance, Seen};
use dyekin_core::table::{Currency, Finish, Price};
use dyekin_core::{Color, Conditions, ThreadRef};
use dyekin_proto::v1 as pb;

use super::{
    MAX_QUERIES, Path, Problems, adaptation, color, each, formula, label, lights, limit, one_to,
    required_ref, spectrum, table_ids, thread_refs,
};

/// Most matches in one response.
const MAX_MATCHES: usize = 5_000;

/// Most fibers in a filter.
const MAX_FIBERS: usize = 100;

/// Most threads that a filter excludes.
const MAX_EXCLUDED: usize = 10_000;

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

pub(super) fn price(wire: &pb::Price, path: Path<'_>, problems: &mut Problems) -> Option<Price> {
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

pub(super) fn filter(
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
pub(in crate::grpc) fn match_options(
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
    let adaptation = adaptation(wire.adaptation, path.field("adaptation"), problems);
    let lights = lights(&wire.lights, path.field("lights"), problems);
    let limit = limit(wire.max_delta_e, path.field("max_delta_e"), problems);
    let filter = filter(wire.filter.as_ref(), path.field("filter"), problems);
    few.then_some(())?;
    Some(NearestOptions {
        tables: tables?,
        count: count?,
        formula: formula?,
        adaptation: adaptation?,
        lights: lights?,
        limit: limit?,
        filter: filter?,
        count_as_near: true,
    })
}

/// A query with the id that comes back with its result.
pub(in crate::grpc) struct Query<T> {
    pub(in crate::grpc) id: String,
    pub(in crate::grpc) asked: T,
}

/// A color of a query with its spectrum, where it brings one.
pub(in crate::grpc) struct SeenColor {
    pub(in crate::grpc) color: Color,
    pub(in crate::grpc) spectrum: Option<Reflectance>,
}

impl SeenColor {
    pub(in crate::grpc) fn seen(&self) -> Seen<'_> {
        Seen { color: &self.color, spectrum: self.spectrum.as_ref() }
    }
}

pub(in crate::grpc) fn color_query(
    wire: &pb::ColorQuery,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Query<SeenColor>> {
    let at = path.field("spectrum");
    let spectrum = spectrum(wire.spectrum.as_ref(), at, problems);
    let asked = match (&wire.color, spectrum.as_ref()) {
        (None, Some(Some(spectrum))) => problems.take(spectrum.color(Conditions::TEXTILE), at),
        // What is wrong with the spectrum has been said.
        (None, None) => None,
        (color, _) => self::color(color.as_ref(), path.field("color"), problems),
    };
    let id = label(&wire.query_id, path.field("query_id"), problems);
    Some(Query { id: id?, asked: SeenColor { color: asked?, spectrum: spectrum? } })
}

pub(in crate::grpc) fn color_queries(
    wire: &[pb::ColorQuery],
    problems: &mut Problems,
) -> Option<Vec<Query<SeenColor>>> {
    let path = Path::Top("queries");
    one_to("queries in one request", path, wire.len(), MAX_QUERIES, problems)?;
    each(wire, path, problems, color_query)
}

pub(in crate::grpc) fn thread_queries(
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

pub(in crate::grpc) fn color_pairs(
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
