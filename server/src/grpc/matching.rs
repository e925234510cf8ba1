//! `MatchingService`: converts, calls, converts. It holds no rule of its own.

use std::sync::Arc;

use dyekin_core::blend::Blender;
use dyekin_core::difference::Measure;
use dyekin_core::nearest::{Nearest, NearestOptions, nearest_seen};
use dyekin_core::spectrum::Seen;
use dyekin_core::{
    Catalog, Color, Difference, Error, ErrorKind, Formula, TableId, ThreadRef, Watch,
};
use dyekin_proto::v1 as pb;
use dyekin_proto::v1::matching_service_server::MatchingService;
use tonic::{Request, Response, Status, Streaming};

use super::from_proto::{self, Path, Query, SeenColor, Subject, checked};
use super::guard::below;
use super::status::{Failure, Trouble};
use super::stream::{Items, Responses, driven};
use super::work::{Call, CallWatch, Deadline};
use super::{MAX_RESPONSE_BYTES, Shared, fits, to_proto};
use crate::state::Snapshot;

/// Work of this many formula calls, at worst, stays on the thread that serves the connection:
/// about 5 ms.
const SMALL_WORK: usize = 50_000;

/// Most queries of one stream.
const MAX_STREAMED: u64 = 1_000_000;

#[derive(Clone, Debug)]
pub(super) struct Matching {
    shared: Shared,
}

impl Matching {
    pub(super) fn new(shared: Shared) -> Self {
        Self { shared }
    }

    /// Here when it is small, or else on a worker.
    async fn run<T: Send + 'static>(
        &self,
        small: bool,
        deadline: Deadline,
        job: impl FnOnce(&CallWatch) -> Result<T, Failure> + Send + 'static,
    ) -> Result<T, Failure> {
        if small {
            return self.shared.workers.run_here(deadline, job);
        }
        self.shared.workers.run(deadline, job).await
    }

    /// Answers each query by itself, with what all answers rest on.
    async fn each<Q: Send + 'static, R: Send + 'static>(
        &self,
        call: &Call,
        (queries, options): (Vec<Q>, NearestOptions),
        answer: impl Fn(&Catalog, Q, &NearestOptions, &CallWatch) -> Result<R, Failure> + Send + 'static,
    ) -> Result<(Vec<R>, pb::MatchBasis), Failure> {
        let snapshot = self.shared.snapshot()?;
        let basis = basis(snapshot.catalog(), (&options.tables, options.formula))?;
        call.facts.measured_by(options.formula);
        let small = is_small(snapshot.catalog(), &options, queries.len())?;
        let job = move |watch: &CallWatch| {
            let answer = |query| answer(snapshot.catalog(), query, &options, watch);
            queries.into_iter().map(answer).collect::<Result<Vec<_>, _>>()
        };
        let results = self.run(small, call.deadline, job).await?;
        call.facts.answered(results.len());
        Ok((results, basis))
    }
}

#[tonic::async_trait]
impl MatchingService for Matching {
    async fn match_colors(
        &self,
        request: Request<pb::MatchColorsRequest>,
    ) -> Result<Response<pb::MatchColorsResponse>, Status> {
        let call = Call::of(&request);
        let wire = request.into_inner();
        let asked = checked(|problems| {
            let queries = from_proto::color_queries(&wire.queries, problems);
            let count = wire.queries.len();
            let options = from_proto::match_options(wire.options.as_ref(), count, problems);
            Some((queries?, options?))
        })?;
        let (results, basis) = self.each(&call, asked, result).await?;
        let pb::MatchBasis { formula, tables } = basis;
        let response = pb::MatchColorsResponse { results, formula, tables };
        Ok(Response::new(fits(response, MAX_RESPONSE_BYTES)?))
    }

    async fn match_threads(
        &self,
        request: Request<pb::MatchThreadsRequest>,
    ) -> Result<Response<pb::MatchThreadsResponse>, Status> {
        let call = Call::of(&request);
        let wire = request.into_inner();
        let asked = checked(|problems| {
            let queries = from_proto::thread_queries(&wire.queries, problems);
            let count = wire.queries.len();
            let options = from_proto::match_options(wire.options.as_ref(), count, problems);
            Some((queries?, options?))
        })?;
        let any_finish = wire.any_finish;
        let answer =
            move |catalog: &Catalog, query, options: &NearestOptions, watch: &CallWatch| {
                stand_in(catalog, query, options, any_finish, watch)
            };
        let (results, basis) = self.each(&call, asked, answer).await?;
        let pb::MatchBasis { formula, tables } = basis;
        let response = pb::MatchThreadsResponse { results, formula, tables };
        Ok(Response::new(fits(response, MAX_RESPONSE_BYTES)?))
    }

    type StreamMatchesStream = Responses<pb::StreamMatchesResponse>;

    async fn stream_matches(
        &self,
        request: Request<Streaming<pb::StreamMatchesRequest>>,
    ) -> Result<Response<Self::StreamMatchesStream>, Status> {
        let call = Call::of(&request);
        let mut requests = request.into_inner();
        let first = next(&mut requests).await?.and_then(|message| message.payload);
        let Some(pb::stream_matches_request::Payload::Options(wire)) = first else {
            return Err(out_of_order("the first message holds the options").into());
        };
        let options = checked(|problems| from_proto::match_options(Some(&wire), 1, problems))?;
        let snapshot = self.shared.snapshot()?;
        let basis = basis(snapshot.catalog(), (&options.tables, options.formula))?;
        call.facts.measured_by(options.formula);
        let deadline = call.deadline;
        let stream = Stream { service: self.clone(), snapshot, options, call };
        Ok(Response::new(driven(deadline, |items| stream.answer(basis, requests, items))))
    }

    async fn compare_colors(
        &self,
        request: Request<pb::CompareColorsRequest>,
    ) -> Result<Response<pb::CompareColorsResponse>, Status> {
        let call = Call::of(&request);
        let wire = request.into_inner();
        let (pairs, measure) = checked(|problems| {
            let pairs = from_proto::color_pairs(&wire.pairs, problems);
            let asked = (wire.formula.as_ref(), wire.adaptation);
            Some((pairs?, from_proto::measure(asked, problems)?))
        })?;
        self.shared.snapshot()?;
        call.facts.measured_by(measure.formula);
        call.facts.answered(pairs.len());
        let comparisons = pairs.iter().map(|pair| compare(pair, measure)).collect();
        Ok(Response::new(pb::CompareColorsResponse { comparisons }))
    }

    async fn suggest_blends(
        &self,
        request: Request<pb::SuggestBlendsRequest>,
    ) -> Result<Response<pb::SuggestBlendsResponse>, Status> {
        let call = Call::of(&request);
        let wire = request.into_inner();
        let (queries, options) = checked(|problems| {
            let queries = from_proto::blend_queries(&wire.queries, problems);
            let options = from_proto::blend_options(&wire, problems);
            Some((queries?, options?))
        })?;
        let snapshot = self.shared.snapshot()?;
        let basis = basis(snapshot.catalog(), (&options.tables, options.formula))?;
        call.facts.measured_by(options.formula);
        let job = move |watch: &CallWatch| {
            let catalog = snapshot.catalog();
            let blender = Blender::new(catalog, &options)?;
            let answer = |query| blends(catalog, &blender, query, watch);
            queries.into_iter().map(answer).collect::<Result<Vec<_>, Failure>>()
        };
        let results = self.shared.workers.run(call.deadline, job).await?;
        call.facts.answered(results.len());
        let pb::MatchBasis { formula, tables } = basis;
        let response = pb::SuggestBlendsResponse { results, formula, tables };
        Ok(Response::new(fits(response, MAX_RESPONSE_BYTES)?))
    }
}

fn compare((standard, sample): &(Color, Color), measure: Measure) -> pb::Comparison {
    let outcome = Difference::measured(standard, sample, measure);
    to_proto::comparison(standard, sample, &outcome)
}

/// Whether so many queries over the tables asked for are little work.
fn is_small(catalog: &Catalog, options: &NearestOptions, queries: usize) -> Result<bool, Failure> {
    let chosen = catalog.choose(&options.tables)?;
    let threads: usize = chosen.iter().map(|held| held.table().threads().len()).sum();
    // Lights are looked at one by one, and all threads with spectra under each.
    let lights = options.lights.as_ref().map_or(1, |lights| 2 * lights.illuminants().count());
    Ok(queries.saturating_mul(threads).saturating_mul(lights) <= SMALL_WORK)
}

/// What all results of a request rest on.
fn basis(
    catalog: &Catalog,
    (tables, formula): (&[TableId], Formula),
) -> Result<pb::MatchBasis, Failure> {
    let chosen = catalog.choose(tables)?;
    let tables = to_proto::versions(chosen.into_iter().map(Arc::as_ref));
    Ok(pb::MatchBasis { formula: Some(to_proto::formula(formula)), tables })
}

/// The nearest threads of one color. The outer error ends the whole request.
fn nearest_one<'c>(
    catalog: &'c Catalog,
    standard: Seen<'_>,
    options: &NearestOptions,
    watch: &dyn Watch,
) -> Result<Result<Nearest<'c>, Error>, Failure> {
    match nearest_seen(catalog, standard, options, watch) {
        Ok(found) => Ok(Ok(found)),
        Err(error) if *error.kind() == ErrorKind::Stopped => Err(error.into()),
        Err(error) => Ok(Err(error)),
    }
}

fn result(
    catalog: &Catalog,
    query: Query<SeenColor>,
    options: &NearestOptions,
    watch: &CallWatch,
) -> Result<pb::MatchResult, Failure> {
    watch.check()?;
    let answer = nearest_one(catalog, query.asked.seen(), options, watch)?;
    Ok(to_proto::match_result(query.id, query.asked.color.conditions(), answer))
}

/// What can stand in for one thread: never the thread itself.
fn stand_in(
    catalog: &Catalog,
    query: Query<ThreadRef>,
    options: &NearestOptions,
    any_finish: bool,
    watch: &CallWatch,
) -> Result<pb::ThreadMatchResult, Failure> {
    watch.check()?;
    let thread = match catalog.thread(&query.asked) {
        Ok(thread) => thread,
        Err(error) => {
            let result = Some(to_proto::unanswered(query.id, &error));
            return Ok(pb::ThreadMatchResult { asked: None, result });
        }
    };
    let mut options = options.clone();
    options.filter.excluded.push(query.asked);
    if !any_finish && options.filter.finishes.is_empty() {
        options.filter.finishes.push(thread.finish);
    }
    let seen = Seen { color: &thread.color, spectrum: thread.spectrum.as_deref() };
    let answer = nearest_one(catalog, seen, &options, watch)?;
    let result = to_proto::match_result(query.id, thread.color.conditions(), answer);
    Ok(pb::ThreadMatchResult { asked: Some(to_proto::whole_thread(thread)), result: Some(result) })
}

/// The blends of one color or thread. The outer error ends the whole request.
fn blends(
    catalog: &Catalog,
    blender: &Blender<'_, '_>,
    query: Query<Subject>,
    watch: &CallWatch,
) -> Result<pb::BlendResult, Failure> {
    watch.check()?;
    let (color, without) = match query.asked {
        Subject::Color(color) => (color, None),
        Subject::Thread(wanted) => match catalog.thread(&wanted) {
            Ok(thread) => (thread.color, Some(wanted)),
            Err(error) => return Ok(to_proto::no_blends(query.id, &error)),
        },
    };
    match blender.suggest_without(&color, without.as_ref(), watch) {
        Ok(found) => Ok(to_proto::blend_result(query.id, color.conditions(), &found)),
        Err(error) if *error.kind() == ErrorKind::Stopped => Err(error.into()),
        Err(error) => Ok(to_proto::no_blends(query.id, &error)),
    }
}

/// One stream of queries: all answered from the tables of its beginning.
struct Stream {
    service: Matching,
    snapshot: Arc<Snapshot>,
    options: NearestOptions,
    call: Call,
}

impl Stream {
    async fn answer(
        self,
        basis: pb::MatchBasis,
        mut requests: Streaming<pb::StreamMatchesRequest>,
        items: Items<pb::StreamMatchesResponse>,
    ) -> Result<(), Failure> {
        let mut payload = pb::stream_matches_response::Payload::Basis(basis);
        let mut answered = 0;
        while items.send(Ok(response(payload))).await.is_ok() {
            let Some(message) = next(&mut requests).await? else { return Ok(()) };
            let Some(pb::stream_matches_request::Payload::Query(query)) = message.payload else {
                return Err(out_of_order("the options come once, then queries"));
            };
            answered += 1;
            within_stream(answered)?;
            let result = self.one(&query).await?;
            self.call.facts.answered(1);
            payload = pb::stream_matches_response::Payload::Result(result);
        }
        Ok(())
    }

    async fn one(&self, query: &pb::ColorQuery) -> Result<pb::MatchResult, Failure> {
        let path = Path::Top("query");
        let query = match checked(|problems| from_proto::color_query(query, path, problems)) {
            Ok(query) => query,
            Err(failure) => return refused_query(&query.query_id, failure),
        };
        let (snapshot, options) = (Arc::clone(&self.snapshot), self.options.clone());
        let small = is_small(snapshot.catalog(), &options, 1)?;
        let job = move |watch: &CallWatch| result(snapshot.catalog(), query, &options, watch);
        let result = self.service.run(small, self.call.deadline, job).await?;
        fits(result, MAX_RESPONSE_BYTES)
    }
}

/// A malformed query of a stream has its problem in its result; the stream goes on.
fn refused_query(query_id: &str, failure: Failure) -> Result<pb::MatchResult, Failure> {
    match failure {
        Failure::Domain(errors, unlisted) => match errors.first() {
            Some(first) => {
                let id = query_id.chars().take(from_proto::MAX_LABEL_CHARS).collect();
                Ok(to_proto::unanswered(id, first))
            }
            None => Err(Failure::Domain(errors, unlisted)),
        },
        Failure::Table(_) | Failure::Trouble(_) => Err(failure),
    }
}

fn response(payload: pb::stream_matches_response::Payload) -> pb::StreamMatchesResponse {
    pb::StreamMatchesResponse { payload: Some(payload) }
}

fn within_stream(found: u64) -> Result<(), Failure> {
    if found <= MAX_STREAMED {
        return Ok(());
    }
    let what = "queries in one stream".to_owned();
    Err(Error::new(ErrorKind::OverLimit { what, found, limit: MAX_STREAMED }).into())
}

fn out_of_order(message: &str) -> Failure {
    Trouble::MessageUnreadable(message.to_owned()).into()
}

/// The next message of a stream; the library's own errors get our reasons.
pub(super) async fn next<T>(requests: &mut Streaming<T>) -> Result<Option<T>, Failure> {
    requests.message().await.map_err(|status| below(&status))
}

#[cfg(test)]
mod tests {
    use dyekin_core::nearest::ThreadFilter;
    use dyekin_core::{Code, Formula, Srgb8, Table, TableId, Thread};

    use super::*;

    #[test]
    fn only_the_tables_asked_for_make_a_question_large() {
        let id = |name: &str| TableId::parse(name).unwrap();
        let table = |name: &str, rows: usize| {
            let color = Color::screen(Srgb8::new(1, 2, 3));
            let code = |row| Code::parse(&format!("T-{row}")).unwrap();
            let threads = (0..rows).map(|row| Thread::plain(code(row), "", color));
            Table::new(id(name), threads.collect()).unwrap()
        };
        let catalog = Catalog::build([table("large", SMALL_WORK + 1), table("small", 10)]);
        let options = |tables: &[&str]| NearestOptions {
            tables: tables.iter().map(|name| id(name)).collect(),
            count: 1,
            formula: Formula::DEFAULT,
            adaptation: None,
            lights: None,
            limit: None,
            filter: ThreadFilter::default(),
            count_as_near: true,
        };
        assert!(is_small(&catalog, &options(&["small"]), 100).unwrap());
        assert!(!is_small(&catalog, &options(&["small"]), SMALL_WORK).unwrap());
        assert!(!is_small(&catalog, &options(&["large"]), 1).unwrap());
        assert!(!is_small(&catalog, &options(&[]), 1).unwrap());
    }
}
