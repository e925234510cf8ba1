//! Answers from a server: the only file of the client that names tonic, tokio or the contract.
//! It does not know what a question is good for; its parts turn domain types into messages and back.

mod answer;
mod ask;
mod line;
mod refusal;

use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use dyekin_core::audit::{Audit, AuditOptions};
use dyekin_core::blend::BlendOptions;
use dyekin_core::change::TableVersion;
use dyekin_core::compare::Comparison;
use dyekin_core::difference::Measure;
use dyekin_core::error::Error;
use dyekin_core::nearest::NearestOptions;
use dyekin_core::planner::{
    Ask, ConvertOptions, MergeList, MergeOptions, ReduceOptions, SubstituteOptions,
};
use dyekin_core::table::ReadOptions;
use dyekin_core::watch::{Patient, Watch};
use dyekin_core::{
    ChangeList, Color, Difference, PaletteSummary, Table, TableId, Thread, ThreadRef,
};
use tonic::transport::Channel;

use dyekin_proto::v1 as wire;
use wire::matching_service_client::MatchingServiceClient;
use wire::palette_service_client::PaletteServiceClient;
use wire::table_service_client::TableServiceClient;

use self::line::{Line, timed};
use super::{Answers, Backend, Blends, Found, Imported, Subject, TableHead};
use crate::failure::{Failure, Result};

/// How long a question may take; the server's own limit is the same.
const QUESTION_TIME: Duration = Duration::from_secs(10);

/// How long a reduction or an import may take; the server's own limit is the same.
const LONG_TIME: Duration = Duration::from_secs(60);

/// Largest answer, as the contract states it.
const MAX_ANSWER_BYTES: usize = 16 * 1024 * 1024;

/// Most colors or threads of one request, as the contract states it.
const MAX_QUERIES: usize = 1_000;

/// Most matches of one request, as the contract states it.
const MAX_MATCHES: usize = 5_000;

/// Most colors or threads of one request for blends: a question over a large table takes seconds.
const MAX_BLEND_QUERIES: usize = 10;

/// Most blends of one request, as the contract states it.
const MAX_BLENDS: usize = 2_000;

/// Bytes of a table in one message; a message holds at most 4 MiB.
const CHUNK_BYTES: usize = 256 * 1024;

/// Entries of one page.
const PAGE: i32 = 1_000;

/// Entries of one page through what was found in tables.
const FOUND_PAGE: i32 = 10_000;

/// A server that answers in our place.
#[derive(Debug)]
pub struct Remote {
    // The connections go before the runtime that drives them.
    tables: TableServiceClient<Channel>,
    matching: MatchingServiceClient<Channel>,
    palette: PaletteServiceClient<Channel>,
    line: Line,
}

impl Remote {
    /// Connects to a server such as `http://127.0.0.1:7493`; `http://` may be left out.
    ///
    /// # Errors
    ///
    /// [`Failure::Said`] for an address that cannot be one, [`Failure::Unreachable`] when nobody
    /// answers there.
    pub fn connect(server: &str) -> Result<Self> {
        let (line, channel) = Line::open(server)?;
        Ok(Self {
            tables: TableServiceClient::new(channel.clone())
                .max_decoding_message_size(MAX_ANSWER_BYTES),
            matching: MatchingServiceClient::new(channel.clone())
                .max_decoding_message_size(MAX_ANSWER_BYTES),
            palette: PaletteServiceClient::new(channel).max_decoding_message_size(MAX_ANSWER_BYTES),
            line,
        })
    }

    /// The same, giving up any question once the flag is set.
    #[must_use]
    pub fn heeding(mut self, stop: Arc<AtomicBool>) -> Self {
        self.line.heed(stop);
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
        measure: Measure,
    ) -> Result<Vec<std::result::Result<Difference, Error>>> {
        let mut outcomes = Vec::with_capacity(pairs.len());
        for part in pairs.chunks(MAX_QUERIES) {
            let request = wire::CompareColorsRequest {
                pairs: part.iter().map(ask::pair).collect(),
                formula: Some(ask::formula(measure.formula)),
                adaptation: ask::adaptation(measure.adaptation),
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

    fn suggest_blends(
        &mut self,
        subjects: &[Subject],
        options: &BlendOptions,
        watch: &dyn Watch,
    ) -> Result<Answers<Blends>> {
        let size = (MAX_BLENDS / options.count.max(1)).clamp(1, MAX_BLEND_QUERIES);
        let mut answers = Answers { results: Vec::new(), tables: Vec::new() };
        for part in subjects.chunks(size) {
            let request = ask::blends(part, options)?;
            let call = self.matching.suggest_blends(timed(request, QUESTION_TIME));
            let found = self.line.wait(QUESTION_TIME, watch, call)?;
            expect(found.results.len(), part.len())?;
            for result in found.results {
                answers.results.push(answer::blends(result)?);
            }
            answers.tables = versions(&found.tables)?;
        }
        Ok(answers)
    }

    fn suggest_merges(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: MergeOptions,
        watch: &dyn Watch,
    ) -> Result<MergeList> {
        let request = wire::SuggestMergesRequest {
            palette: Some(ask::palette(palette)?),
            options: Some(ask::palette_options(ask)?),
            anchor_thread_count: options.anchor.map(ask::number).transpose()?,
            with_curve: options.curve,
        };
        let call = self.palette.suggest_merges(timed(request, QUESTION_TIME));
        let found = self.line.wait(QUESTION_TIME, watch, call)?;
        answer::merge_list(found.merge_list.ok_or_else(|| answer::missing("merge list"))?)
    }

    fn reduce(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: &ReduceOptions,
        watch: &dyn Watch,
    ) -> Result<ChangeList> {
        let request = ask::reduction(palette, ask, options)?;
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
            min_apart_delta_e: Some(options.min_apart.value()),
            keep_lightness: options.keep_lightness,
            keep_outlines: options.keep_outlines,
            lights: ask::lights(options.lights.as_ref()),
            stock: options.stock.as_ref().map(ask::stock),
            staying_color_indexes: ask::places(&options.staying)?,
        };
        let call = self.palette.substitute_threads(timed(request, QUESTION_TIME));
        let found = self.line.wait(QUESTION_TIME, watch, call)?;
        answer::change_list(found.change_list.ok_or_else(|| answer::missing("change list"))?)
    }

    fn convert(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: &ConvertOptions,
        watch: &dyn Watch,
    ) -> Result<ChangeList> {
        let (own, range_prices) = ask::supply(&options.supply);
        let request = wire::ConvertPaletteRequest {
            palette: Some(ask::palette(palette)?),
            options: Some(ask::palette_options(ask)?),
            own,
            range_prices,
            min_apart_delta_e: options.distinct.map(dyekin_core::DeltaE::value),
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
        let mut request = wire::AuditTableRequest {
            table_id: id.to_string(),
            formula: Some(ask::formula(options.formula)),
            twin_delta_e: Some(options.twins.value()),
            gap_delta_e: Some(options.gap.value()),
            page_size: FOUND_PAGE,
            page_token: String::new(),
        };
        let mut whole: Option<wire::AuditTableResponse> = None;
        loop {
            let call = self.tables.audit_table(timed(request.clone(), QUESTION_TIME));
            let page = self.line.wait(QUESTION_TIME, &Patient, call)?;
            request.page_token.clone_from(&page.next_page_token);
            let found = answer::join_audits(whole, page);
            if request.page_token.is_empty() {
                return answer::audit(found);
            }
            whole = Some(found);
        }
    }

    fn compare_tables(
        &mut self,
        old: &TableId,
        new: &TableId,
        measure: Measure,
    ) -> Result<Comparison> {
        let mut request = wire::CompareTableVersionsRequest {
            old_table_id: old.to_string(),
            new_table_id: new.to_string(),
            formula: Some(ask::formula(measure.formula)),
            adaptation: ask::adaptation(measure.adaptation),
            page_size: FOUND_PAGE,
            page_token: String::new(),
        };
        let mut whole: Option<wire::CompareTableVersionsResponse> = None;
        loop {
            let call = self.tables.compare_table_versions(timed(request.clone(), QUESTION_TIME));
            let page = self.line.wait(QUESTION_TIME, &Patient, call)?;
            request.page_token.clone_from(&page.next_page_token);
            let found = answer::join_comparisons(whole, page);
            if request.page_token.is_empty() {
                return answer::compared(found);
            }
            whole = Some(found);
        }
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
