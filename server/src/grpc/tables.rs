//! `TableService`: converts, calls, converts. It holds no rule of its own.

use std::sync::Arc;

use dyekin_core::audit::audit;
use dyekin_core::compare::compare;
use dyekin_core::table::{Loaded, Notice, ReadOptions, Refused, read};
use dyekin_core::{CatalogTable, Error, ErrorKind};
use dyekin_proto::v1 as pb;
use dyekin_proto::v1::import_table_request::Payload;
use dyekin_proto::v1::table_service_server::TableService;
use tokio::sync::Semaphore;
use tonic::{Request, Response, Status, Streaming};

use super::from_proto::{self, Path, checked};
use super::matching::next;
use super::status::{Failure, Trouble, problem};
use super::work::{Call, CallWatch, defect};
use super::{MAX_RESPONSE_BYTES, Shared, fits, paging, to_proto};
use crate::load::MAX_TABLE_BYTES;
use crate::state::{Outcome, TableHead};

/// A table with what was noticed in its file, or all that is wrong with that.
type Indexed = Result<(Arc<CatalogTable>, Vec<Notice>), Refused>;

/// Imports at once: each holds a whole file in memory.
const IMPORTS_AT_ONCE: usize = 4;

#[derive(Clone, Debug)]
pub(super) struct Tables {
    shared: Shared,
    imports: Arc<Semaphore>,
}

impl Tables {
    pub(super) fn new(shared: Shared) -> Self {
        Self { shared, imports: Arc::new(Semaphore::new(IMPORTS_AT_ONCE)) }
    }

    /// What an import answers once the file was read: problems alone are no failure where they were
    /// asked for.
    fn answer(
        &self,
        header: &pb::ImportTableHeader,
        outcome: Indexed,
    ) -> Result<pb::ImportTableResponse, Failure> {
        match outcome {
            Ok((table, notices)) if header.validate_only => {
                Ok(imported(&Outcome { table: table.as_ref().into(), notices }))
            }
            Ok((table, notices)) => {
                Ok(imported(&self.shared.catalog.import(&table, notices, &header.request_id)?))
            }
            Err(refused) if header.validate_only => Ok(pb::ImportTableResponse {
                problems: refused.problems.iter().map(problem).collect(),
                unlisted_problem_count: i64::try_from(refused.unlisted).unwrap_or(i64::MAX),
                ..Default::default()
            }),
            Err(refused) => Err(refused.into()),
        }
    }
}

#[tonic::async_trait]
impl TableService for Tables {
    async fn import_table(
        &self,
        request: Request<Streaming<pb::ImportTableRequest>>,
    ) -> Result<Response<pb::ImportTableResponse>, Status> {
        let call = Call::of(&request);
        let mut requests = request.into_inner();
        let header = header(&mut requests).await?;
        let options = checked(|problems| from_proto::import_header(&header, problems))?;
        self.shared.snapshot()?;
        let _place = self.imports.acquire().await.map_err(|_| defect("imports are closed"))?;
        let bytes = chunks(&mut requests).await?;
        let job = move |_: &CallWatch| Ok(indexed(&bytes, &options));
        let outcome = self.shared.workers.run(call.deadline, job).await?;
        Ok(Response::new(self.answer(&header, outcome)?))
    }

    async fn get_table(
        &self,
        request: Request<pb::GetTableRequest>,
    ) -> Result<Response<pb::GetTableResponse>, Status> {
        let call = Call::of(&request);
        let wire = request.into_inner();
        let (id, size) = checked(|problems| {
            let id = from_proto::table_id(&wire.table_id, Path::Top("table_id"), problems);
            Some((id?, from_proto::page_size(wire.page_size, problems)?))
        })?;
        let snapshot = self.shared.snapshot()?;
        let held = snapshot.catalog().table(&id).map_err(Failure::from)?;
        let scope = format!("threads/{id}/{}", held.table().hash());
        let (threads, next_page_token) =
            paging::rows(held.table().threads(), &wire.page_token, size, &scope)?;
        call.facts.answered(threads.len());
        let response = pb::GetTableResponse {
            table: Some(to_proto::table(&held.as_ref().into(), snapshot.is_imported(&id))),
            threads: threads.iter().map(to_proto::whole_thread).collect(),
            next_page_token,
        };
        Ok(Response::new(fits(response, MAX_RESPONSE_BYTES)?))
    }

    async fn list_tables(
        &self,
        request: Request<pb::ListTablesRequest>,
    ) -> Result<Response<pb::ListTablesResponse>, Status> {
        let call = Call::of(&request);
        let wire = request.into_inner();
        let size = checked(|problems| from_proto::page_size(wire.page_size, problems))?;
        let snapshot = self.shared.snapshot()?;
        let (page, next_page_token) =
            paging::tables(snapshot.catalog().tables(), &wire.page_token, size)?;
        call.facts.answered(page.len());
        let head = |held: &Arc<CatalogTable>| {
            let head = TableHead::from(held.as_ref());
            to_proto::table(&head, snapshot.is_imported(&head.id))
        };
        let tables = page.iter().map(head).collect();
        Ok(Response::new(pb::ListTablesResponse { tables, next_page_token }))
    }

    async fn delete_table(
        &self,
        request: Request<pb::DeleteTableRequest>,
    ) -> Result<Response<pb::DeleteTableResponse>, Status> {
        let wire = request.into_inner();
        let id = checked(|problems| {
            let id = from_proto::table_id(&wire.table_id, Path::Top("table_id"), problems);
            from_proto::request_id(&wire.request_id, Path::Top("request_id"), problems)?;
            id
        })?;
        self.shared.snapshot()?;
        let Outcome { table, .. } = self.shared.catalog.delete(&id, &wire.request_id)?;
        Ok(Response::new(pb::DeleteTableResponse { table: Some(to_proto::table(&table, true)) }))
    }

    async fn audit_table(
        &self,
        request: Request<pb::AuditTableRequest>,
    ) -> Result<Response<pb::AuditTableResponse>, Status> {
        let call = Call::of(&request);
        let wire = request.into_inner();
        let ((id, options), size) = checked(|problems| {
            let asked = from_proto::audit(&wire, problems);
            let size = from_proto::entries(wire.page_size, problems);
            Some((asked?, size?))
        })?;
        let snapshot = self.shared.snapshot()?;
        let held = Arc::clone(snapshot.catalog().table(&id).map_err(Failure::from)?);
        call.facts.measured_by(options.formula);
        let scope = format!("audit/{id}/{}/{options:?}", held.table().hash());
        let mut cut = paging::Cut::new(&wire.page_token, size, &scope)?;
        let job = move |watch: &CallWatch| {
            let found = audit(&held, &options, watch)?;
            let mut response = to_proto::audit(&found, options.formula, &mut cut);
            cut.within()?;
            response.next_page_token = cut.next(&scope);
            Ok(response)
        };
        let response = self.shared.workers.run(call.deadline, job).await?;
        Ok(Response::new(fits(response, MAX_RESPONSE_BYTES)?))
    }

    async fn compare_table_versions(
        &self,
        request: Request<pb::CompareTableVersionsRequest>,
    ) -> Result<Response<pb::CompareTableVersionsResponse>, Status> {
        let call = Call::of(&request);
        let wire = request.into_inner();
        let ((old, new, measure), size) = checked(|problems| {
            let asked = from_proto::versions(&wire, problems);
            let size = from_proto::entries(wire.page_size, problems);
            Some((asked?, size?))
        })?;
        let snapshot = self.shared.snapshot()?;
        let table = |id| snapshot.catalog().table(id).map(Arc::clone).map_err(Failure::from);
        let (old, new) = (table(&old)?, table(&new)?);
        call.facts.measured_by(measure.formula);
        let name = |held: &CatalogTable| format!("{}/{}", held.table().id(), held.table().hash());
        let scope = format!("compare/{}/{}/{measure:?}", name(&old), name(&new));
        let mut cut = paging::Cut::new(&wire.page_token, size, &scope)?;
        let job = move |watch: &CallWatch| {
            let mut response = to_proto::compared(&compare(&old, &new, measure, watch)?, &mut cut);
            cut.within()?;
            response.next_page_token = cut.next(&scope);
            Ok(response)
        };
        let response = self.shared.workers.run(call.deadline, job).await?;
        Ok(Response::new(fits(response, MAX_RESPONSE_BYTES)?))
    }
}

/// The first message of an import.
async fn header(
    requests: &mut Streaming<pb::ImportTableRequest>,
) -> Result<pb::ImportTableHeader, Failure> {
    match next(requests).await?.and_then(|message| message.payload) {
        Some(Payload::Header(header)) => Ok(header),
        Some(Payload::Chunk(_)) | None => Err(out_of_order("the first message is the header")),
    }
}

/// The bytes of the file.
async fn chunks(requests: &mut Streaming<pb::ImportTableRequest>) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    while let Some(message) = next(requests).await? {
        let Some(Payload::Chunk(chunk)) = message.payload else {
            return Err(out_of_order("the header comes once, then chunks"));
        };
        let found = bytes.len() + chunk.len();
        if found > MAX_TABLE_BYTES {
            let (found, limit) = (found as u64, MAX_TABLE_BYTES as u64);
            let what = "bytes in one table file".to_owned();
            return Err(Error::new(ErrorKind::OverLimit { what, found, limit }).into());
        }
        bytes.extend_from_slice(&chunk);
    }
    Ok(bytes)
}

/// A table with its index, or everything that is wrong with its file.
fn indexed(bytes: &[u8], options: &ReadOptions) -> Indexed {
    let Loaded { table, notices } = read(bytes, options)?;
    Ok((Arc::new(CatalogTable::new(table)), notices))
}

fn imported(outcome: &Outcome) -> pb::ImportTableResponse {
    pb::ImportTableResponse {
        table: Some(to_proto::table(&outcome.table, true)),
        notices: outcome.notices.iter().map(to_proto::notice).collect(),
        durable: false,
        ..Default::default()
    }
}

fn out_of_order(message: &str) -> Failure {
    Trouble::MessageUnreadable(message.to_owned()).into()
}
