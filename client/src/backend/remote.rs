//! Answers from a server: the only file of the client that names tonic, tokio or the contract.
//! It does not know what a question is good for; its parts turn domain types into messages and back.

mod answer;
mod ask;
mod refusal;

use std::future::Future;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use dyekin_core::audit::{Audit, AuditOptions};
use dyekin_core::change::TableVersion;
use dyekin_core::compare::Comparison;
use dyekin_core::error::{Error, ErrorKind};
use dyekin_core::nearest::NearestOptions;
use dyekin_core::planner::{Ask, MergeList, SubstituteOptions};
use dyekin_core::table::ReadOptions;
use dyekin_core::watch::{Patient, Watch};
use dyekin_core::{
    ChangeList, Color, Difference, Formula, PaletteSummary, Table, TableId, Thread, ThreadRef,
};
use tokio::runtime::{Builder, Runtime};
use tonic::transport::{Channel, Endpoint};
use tonic::{Code, Request, Status};
use tonic_types::pb as rpc;

use dyekin_proto::v1 as wire;
use wire::matching_service_client::MatchingServiceClient;
use wire::palette_service_client::PaletteServiceClient;
use wire::table_service_client::TableServiceClient;

use super::{Answers, Backend, Found, Imported, TableHead};
use crate::failure::{Failure, Result};

/// How long the first connection may take.
const CONNECT_TIME: Duration = Duration::from_secs(5);

/// How long a question may take; the server's own limit is the same.
const QUESTION_TIME: Duration = Duration::from_secs(10);

/// How long a reduction or an import may take; the server's own limit is the same.
const LONG_TIME: Duration = Duration::from_secs(60);

/// What a hanging server gets beyond its deadline before we give up ourselves.
const GRACE: Duration = Duration::from_secs(2);

/// How often we look whether the answer is still wanted.
const TICK: Duration = Duration::from_millis(25);

/// Largest answer, as the contract states it.
const MAX_ANSWER_BYTES: usize = 16 * 1024 * 1024;

/// Most colors or threads of one request, as the contract states it.
const MAX_QUERIES: usize = 1_000;

/// Most matches of one request, as the contract states it.
const MAX_MATCHES: usize = 5_000;

/// Bytes of a table in one message; a message holds at most 4 MiB.
const CHUNK_BYTES: usize = 256 * 1024;

/// Reasons of a server that cannot answer now and may later.
const NOT_NOW: [&str; 3] = ["CATALOG_NOT_LOADED", "SERVER_BUSY", "SERVER_STOPPING"];

/// Entries of one page.
const PAGE: i32 = 1_000;

/// A server that answers in our place.
#[derive(Debug)]
pub struct Remote {
    // The connections go before the runtime that drives them.
    tables: TableServiceClient<Channel>,
    matching: MatchingServiceClient<Channel>,
    palette: PaletteServiceClient<Channel>,
    line: Line,
}

/// The runtime and the server's name: what every call needs.
#[derive(Debug)]
struct Line {
    runtime: Runtime,
    server: String,
    stop: Arc<AtomicBool>,
}

impl Remote {
    /// Connects to a server such as `http://127.0.0.1:7493`; `http://` may be left out.
    ///
    /// # Errors
    ///
    /// [`Failure::Said`] for an address that cannot be one, [`Failure::Unreachable`] when nobody
    /// answers there.
    pub fn connect(server: &str) -> Result<Self> {
        let endpoint = endpoint(server)?;
        let runtime = Builder::new_current_thread().enable_all().build().map_err(|error| {
            Failure::Bug { what: format!("no runtime for the network: {error}") }
        })?;
        let connected = runtime.block_on(endpoint.connect());
        let channel = connected.map_err(|error| Failure::Unreachable {
            server: server.to_owned(),
            reason: deepest(&error),
        })?;
        Ok(Self {
            tables: TableServiceClient::new(channel.clone())
                .max_decoding_message_size(MAX_ANSWER_BYTES),
            matching: MatchingServiceClient::new(channel.clone())
                .max_decoding_message_size(MAX_ANSWER_BYTES),
            palette: PaletteServiceClient::new(channel).max_decoding_message_size(MAX_ANSWER_BYTES),
            line: Line { runtime, server: server.to_owned(), stop: Arc::default() },
        })
    }

    /// The same, giving up any question once the flag is set.
    #[must_use]
    pub fn heeding(mut self, stop: Arc<AtomicBool>) -> Self {
        self.line.stop = stop;
        self
    }

    fn read_table(
        &mut self,
        bytes: &[u8],
        options: &ReadOptions,
        validate_only: bool,
    ) -> Result<wire::ImportTableResponse> {
        let mut messages = vec![ask::import_header(options, validate_only)];
        messages.extend(bytes.chunks(CHUNK_BYTES).map(ask::import_chunk));
        let stream = tokio_stream::iter(messages);
        let call = self.tables.import_table(timed(stream, LONG_TIME));
        self.line.wait(LONG_TIME, &Patient, call)
    }

    fn page(&mut self, id: &TableId, token: String) -> Result<wire::GetTableResponse> {
        let request =
            wire::GetTableRequest { table_id: id.to_string(), page_size: PAGE, page_token: token };
        let call = self.tables.get_table(timed(request, QUESTION_TIME));
        self.line.wait(QUESTION_TIME, &Patient, call)
    }
}

impl Line {
    /// Waits for an answer, and gives up when the watch or the clock says so. Dropping the call
    /// tells the server to stop.
    fn wait<T>(
        &self,
        longest: Duration,
        watch: &dyn Watch,
        call: impl Future<Output = std::result::Result<tonic::Response<T>, Status>>,
    ) -> Result<T> {
        let answered = async { call.await.map(tonic::Response::into_inner) };
        self.watched(longest, watch, answered)
    }

    fn watched<T>(
        &self,
        longest: Duration,
        watch: &dyn Watch,
        call: impl Future<Output = std::result::Result<T, Status>>,
    ) -> Result<T> {
        self.runtime.block_on(async {
            let mut call = std::pin::pin!(call);
            let mut late = std::pin::pin!(tokio::time::sleep(longest + GRACE));
            let mut tick = tokio::time::interval(TICK);
            loop {
                tokio::select! {
                    answer = &mut call => return answer.map_err(|status| self.failure(&status)),
                    () = &mut late => return Err(Failure::TimedOut { server: self.server.clone() }),
                    _ = tick.tick() => if watch.stopped() || self.stop.load(Ordering::Relaxed) {
                        return Err(Error::new(ErrorKind::Stopped).into());
                    },
                }
            }
        })
    }

    /// What a status means to a user: the domain's own words wherever the domain refused.
    fn failure(&self, status: &Status) -> Failure {
        let details = details(status);
        if let Some(failure) = details.list.filter(|list| !list.problems.is_empty()) {
            return refusal::failure(&failure);
        }
        let server = self.server.clone();
        // Only a connection that broke has a cause of its own.
        if std::error::Error::source(status).is_some() {
            return Failure::Unreachable { server, reason: deepest(status) };
        }
        let not_now = NOT_NOW.contains(&details.reason.as_str());
        match status.code() {
            code if code == Code::Unavailable || not_now => {
                let reason = dyekin_core::error::harmless(status.message());
                Failure::Unreachable { server, reason }
            }
            Code::DeadlineExceeded | Code::Cancelled => Failure::TimedOut { server },
            Code::Unimplemented => Failure::said(
                format!("{server} does not know this question"),
                "the server is older than this command: update it, or answer in process",
            ),
            Code::InvalidArgument
            | Code::NotFound
            | Code::AlreadyExists
            | Code::FailedPrecondition
            | Code::OutOfRange
            | Code::ResourceExhausted
            | Code::PermissionDenied
            | Code::Unauthenticated
            | Code::Aborted => {
                let message = dyekin_core::error::harmless(status.message());
                Failure::Said { message, hint: None }
            }
            Code::Ok | Code::Unavailable | Code::Unknown | Code::Internal | Code::DataLoss => {
                Failure::Bug {
                    what: format!(
                        "{server} failed: {}",
                        dyekin_core::error::harmless(status.message())
                    ),
                }
            }
        }
    }
}

/// The details of a status that we understand.
#[derive(Default)]
struct Details {
    reason: String,
    list: Option<wire::ProblemList>,
}

fn details(status: &Status) -> Details {
    use prost::Message as _;
    let Ok(full) = rpc::Status::decode(status.details()) else { return Details::default() };
    let mut details = Details::default();
    for any in &full.details {
        match any.type_url.rsplit('/').next() {
            Some("google.rpc.ErrorInfo") => {
                if let Ok(info) = rpc::ErrorInfo::decode(any.value.as_slice()) {
                    details.reason = info.reason;
                }
            }
            Some("dyekin.v1.ProblemList") => {
                details.list = wire::ProblemList::decode(any.value.as_slice()).ok();
            }
            _ => {}
        }
    }
    details
}

fn endpoint(server: &str) -> Result<Endpoint> {
    let url = if server.contains("://") { server.to_owned() } else { format!("http://{server}") };
    let bad = |why: &str| {
        Failure::said(
            format!("--server {}: {why}", dyekin_core::error::shown(server)),
            "write for example --server http://127.0.0.1:7493",
        )
    };
    if url.starts_with("https://") {
        return Err(bad("encrypted connections are not built in; use a proxy on this machine"));
    }
    let endpoint = Endpoint::from_shared(url).map_err(|_| bad("not an address"))?;
    if endpoint.uri().scheme_str() != Some("http") || endpoint.uri().host().is_none() {
        return Err(bad("not an address"));
    }
    Ok(endpoint.connect_timeout(CONNECT_TIME).tcp_nodelay(true))
}

/// The innermost reason, which is the one that people understand.
fn deepest(error: &dyn std::error::Error) -> String {
    let mut error = error;
    while let Some(source) = error.source() {
        error = source;
    }
    let text = dyekin_core::error::harmless(&error.to_string());
    match text.split_once(" (os error") {
        Some((words, _)) => words.to_lowercase(),
        None => text,
    }
}

fn timed<T>(message: T, longest: Duration) -> Request<T> {
    let mut request = Request::new(message);
    request.set_timeout(longest);
    request
}

impl Backend for Remote {
    fn match_colors(
        &mut self,
        colors: &[Color],
        options: &NearestOptions,
    ) -> Result<Answers<Found>> {
        let mut answers = Answers { results: Vec::new(), tables: Vec::new() };
        for part in colors.chunks(part_size(options)) {
            let request = wire::MatchColorsRequest {
                queries: part.iter().map(ask::color_query).collect(),
                options: Some(ask::match_options(options)?),
            };
            let call = self.matching.match_colors(timed(request, QUESTION_TIME));
            let found = self.line.wait(QUESTION_TIME, &Patient, call)?;
            expect(found.results.len(), part.len())?;
            for result in found.results {
                answers.results.push(answer::found(result)?);
            }
            answers.tables = versions(&found.tables)?;
        }
        Ok(answers)
    }

    fn match_threads(
        &mut self,
        threads: &[ThreadRef],
        options: &NearestOptions,
        any_finish: bool,
    ) -> Result<Answers<Found>> {
        let mut answers = Answers { results: Vec::new(), tables: Vec::new() };
        for part in threads.chunks(part_size(options)) {
            let request = wire::MatchThreadsRequest {
                queries: part.iter().map(ask::thread_query).collect(),
                options: Some(ask::match_options(options)?),
                any_finish,
            };
            let call = self.matching.match_threads(timed(request, QUESTION_TIME));
            let found = self.line.wait(QUESTION_TIME, &Patient, call)?;
            expect(found.results.len(), part.len())?;
            for result in found.results {
                answers.results.push(answer::found(result.result.unwrap_or_default())?);
            }
            answers.tables = versions(&found.tables)?;
        }
        Ok(answers)
    }

    fn threads(&mut self, wanted: &[ThreadRef]) -> Result<Vec<std::result::Result<Thread, Error>>> {
        let mut threads = Vec::with_capacity(wanted.len());
        for part in wanted.chunks(MAX_QUERIES) {
            let request = wire::MatchThreadsRequest {
                queries: part.iter().map(ask::thread_query).collect(),
                options: None,
                any_finish: true,
            };
            let call = self.matching.match_threads(timed(request, QUESTION_TIME));
            let found = self.line.wait(QUESTION_TIME, &Patient, call)?;
            expect(found.results.len(), part.len())?;
            for result in found.results {
                threads.push(answer::asked(result)?);
            }
        }
        Ok(threads)
    }

    fn compare(
        &mut self,
        pairs: &[(Color, Color)],
        formula: Formula,
    ) -> Result<Vec<std::result::Result<Difference, Error>>> {
        let mut outcomes = Vec::with_capacity(pairs.len());
        for part in pairs.chunks(MAX_QUERIES) {
            let request = wire::CompareColorsRequest {
                pairs: part.iter().map(ask::pair).collect(),
                formula: Some(ask::formula(formula)),
            };
            let call = self.matching.compare_colors(timed(request, QUESTION_TIME));
            let found = self.line.wait(QUESTION_TIME, &Patient, call)?;
            expect(found.comparisons.len(), part.len())?;
            for comparison in found.comparisons {
                outcomes.push(answer::comparison(comparison)?);
            }
        }
        Ok(outcomes)
    }

    fn suggest_merges(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        watch: &dyn Watch,
    ) -> Result<MergeList> {
        let request = wire::SuggestMergesRequest {
            palette: Some(ask::palette(palette)?),
            options: Some(ask::palette_options(ask)?),
        };
        let call = self.palette.suggest_merges(timed(request, QUESTION_TIME));
        let found = self.line.wait(QUESTION_TIME, watch, call)?;
        answer::merge_list(found.merge_list.ok_or_else(|| answer::missing("merge list"))?)
    }

    fn reduce(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        max_threads: usize,
        watch: &dyn Watch,
    ) -> Result<ChangeList> {
        let request = wire::ReducePaletteRequest {
            palette: Some(ask::palette(palette)?),
            options: Some(ask::palette_options(ask)?),
            max_thread_count: ask::number(max_threads)?,
        };
        let palette = &mut self.palette;
        let list = self.line.watched(LONG_TIME, watch, async move {
            use wire::reduce_palette_response::Payload;
            let mut stream = palette.reduce_palette(timed(request, LONG_TIME)).await?.into_inner();
            let mut list = None;
            while let Some(message) = stream.message().await? {
                match message.payload {
                    Some(Payload::Progress(progress)) => {
                        watch.progress(&answer::progress(&progress))
                    }
                    Some(Payload::ChangeList(found)) => list = Some(found),
                    None => {}
                }
            }
            Ok(list)
        })?;
        answer::change_list(list.ok_or_else(|| answer::missing("change list"))?)
    }

    fn substitute(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: &SubstituteOptions,
        watch: &dyn Watch,
    ) -> Result<ChangeList> {
        let request = wire::SubstituteThreadsRequest {
            palette: Some(ask::palette(palette)?),
            options: Some(ask::palette_options(ask)?),
            missing_threads: options.missing.iter().map(ask::thread_ref).collect(),
            allow_used: options.allow_used,
            max_delta_e: options.limit.map(dyekin_core::DeltaE::value),
        };
        let call = self.palette.substitute_threads(timed(request, QUESTION_TIME));
        let found = self.line.wait(QUESTION_TIME, watch, call)?;
        answer::change_list(found.change_list.ok_or_else(|| answer::missing("change list"))?)
    }

    fn convert(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        watch: &dyn Watch,
    ) -> Result<ChangeList> {
        let request = wire::ConvertPaletteRequest {
            palette: Some(ask::palette(palette)?),
            options: Some(ask::palette_options(ask)?),
        };
        let call = self.palette.convert_palette(timed(request, QUESTION_TIME));
        let found = self.line.wait(QUESTION_TIME, watch, call)?;
        answer::change_list(found.change_list.ok_or_else(|| answer::missing("change list"))?)
    }

    fn check_table(&mut self, bytes: &[u8], options: &ReadOptions) -> Result<Imported> {
        let response = self.read_table(bytes, options, true)?;
        if response.problems.is_empty() {
            return answer::imported(response);
        }
        Err(refusal::failure(&wire::ProblemList {
            problems: response.problems,
            unlisted_count: response.unlisted_problem_count,
        }))
    }

    fn import_table(&mut self, bytes: &[u8], options: &ReadOptions) -> Result<Imported> {
        // A refused import lists only as many problems as a status can carry; a check lists all.
        self.check_table(bytes, options)?;
        answer::imported(self.read_table(bytes, options, false)?)
    }

    fn list_tables(&mut self) -> Result<Vec<TableHead>> {
        let (mut heads, mut token) = (Vec::new(), String::new());
        loop {
            let request = wire::ListTablesRequest { page_size: PAGE, page_token: token };
            let call = self.tables.list_tables(timed(request, QUESTION_TIME));
            let page = self.line.wait(QUESTION_TIME, &Patient, call)?;
            for table in &page.tables {
                heads.push(answer::head(table)?);
            }
            token = page.next_page_token;
            if token.is_empty() {
                return Ok(heads);
            }
        }
    }

    fn table(&mut self, id: &TableId) -> Result<Table> {
        let (mut threads, mut token) = (Vec::new(), String::new());
        loop {
            let page = self.page(id, token)?;
            for thread in page.threads {
                threads.push(answer::thread(thread)?);
            }
            token = page.next_page_token;
            if token.is_empty() {
                return Ok(Table::new(id.clone(), threads)?);
            }
        }
    }

    fn audit_table(&mut self, id: &TableId, options: &AuditOptions) -> Result<Audit> {
        let request = wire::AuditTableRequest {
            table_id: id.to_string(),
            formula: Some(ask::formula(options.formula)),
            twin_delta_e: Some(options.twins.value()),
            gap_delta_e: Some(options.gap.value()),
        };
        let call = self.tables.audit_table(timed(request, QUESTION_TIME));
        answer::audit(self.line.wait(QUESTION_TIME, &Patient, call)?)
    }

    fn compare_tables(
        &mut self,
        old: &TableId,
        new: &TableId,
        formula: Formula,
    ) -> Result<Comparison> {
        let request = wire::CompareTableVersionsRequest {
            old_table_id: old.to_string(),
            new_table_id: new.to_string(),
            formula: Some(ask::formula(formula)),
        };
        let call = self.tables.compare_table_versions(timed(request, QUESTION_TIME));
        answer::compared(self.line.wait(QUESTION_TIME, &Patient, call)?)
    }

    fn delete_table(&mut self, id: &TableId) -> Result<TableHead> {
        let request =
            wire::DeleteTableRequest { table_id: id.to_string(), request_id: String::new() };
        let call = self.tables.delete_table(timed(request, QUESTION_TIME));
        let found = self.line.wait(QUESTION_TIME, &Patient, call)?;
        answer::head(found.table.as_ref().ok_or_else(|| answer::missing("table"))?)
    }
}

/// Questions of one request, so that neither they nor their answers are too many.
fn part_size(options: &NearestOptions) -> usize {
    (MAX_MATCHES / options.count.max(1)).clamp(1, MAX_QUERIES)
}

fn expect(found: usize, asked: usize) -> Result<()> {
    if found == asked {
        return Ok(());
    }
    Err(Failure::Bug { what: format!("the server gave {found} answers to {asked} questions") })
}

fn versions(tables: &[wire::TableVersion]) -> Result<Vec<TableVersion>> {
    tables.iter().map(answer::version).collect()
}
