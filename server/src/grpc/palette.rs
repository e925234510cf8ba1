//! `PaletteService`: converts, calls, converts. It holds no rule of its own.

use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use dyekin_core::planner;
use dyekin_core::watch::Progress;
use dyekin_proto::v1 as pb;
use dyekin_proto::v1::palette_service_server::PaletteService;
use tonic::{Request, Response, Status};

use super::from_proto::{self, checked};
use super::status::Failure;
use super::stream::{Items, Responses, driven};
use super::work::{Call, CallWatch};
use super::{MAX_LIST_BYTES, Shared, fits, to_proto};

/// Time between two messages of progress.
const PROGRESS_PAUSE: Duration = Duration::from_millis(100);

#[derive(Clone, Debug)]
pub(super) struct Palettes {
    shared: Shared,
}

impl Palettes {
    pub(super) fn new(shared: Shared) -> Self {
        Self { shared }
    }
}

#[tonic::async_trait]
impl PaletteService for Palettes {
    async fn suggest_merges(
        &self,
        request: Request<pb::SuggestMergesRequest>,
    ) -> Result<Response<pb::SuggestMergesResponse>, Status> {
        let call = Call::of(&request);
        let wire = request.into_inner();
        let (palette, ask, options) = checked(|problems| {
            let palette = from_proto::palette(wire.palette.as_ref(), problems);
            let ask = from_proto::ask(wire.options.as_ref(), problems);
            let options = from_proto::merge_options(&wire, problems);
            Some((palette?, ask?, options?))
        })?;
        let snapshot = self.shared.snapshot()?;
        call.facts.measured_by(ask.formula);
        let job = move |watch: &CallWatch| {
            let catalog = snapshot.catalog();
            let list = planner::suggest_merges(catalog, &palette, &ask, options, watch)?;
            Ok(to_proto::merge_list(&list, &palette, catalog))
        };
        let list = self.shared.workers.run(call.deadline, job).await?;
        call.facts.answered(list.steps.len());
        let response = pb::SuggestMergesResponse { merge_list: Some(list) };
        Ok(Response::new(fits(response, MAX_LIST_BYTES)?))
    }

    type ReducePaletteStream = Responses<pb::ReducePaletteResponse>;

    async fn reduce_palette(
        &self,
        request: Request<pb::ReducePaletteRequest>,
    ) -> Result<Response<Self::ReducePaletteStream>, Status> {
        let call = Call::of(&request);
        let wire = request.into_inner();
        let (palette, ask, options) = checked(|problems| {
            let palette = from_proto::palette(wire.palette.as_ref(), problems);
            let ask = from_proto::ask(wire.options.as_ref(), problems);
            let options = from_proto::reduce_options(&wire, problems);
            Some((palette?, ask?, options?))
        })?;
        let snapshot = self.shared.snapshot()?;
        call.facts.measured_by(ask.formula);
        let job = move |watch: &CallWatch| {
            let list = planner::reduce(snapshot.catalog(), &palette, &ask, &options, watch)?;
            Ok(to_proto::change_list(&list))
        };
        let shared = self.shared.clone();
        let stream = driven(call.deadline, |items| reduce(shared, call, job, items));
        Ok(Response::new(stream))
    }

    async fn substitute_threads(
        &self,
        request: Request<pb::SubstituteThreadsRequest>,
    ) -> Result<Response<pb::SubstituteThreadsResponse>, Status> {
        let call = Call::of(&request);
        let wire = request.into_inner();
        let (palette, ask, options) = checked(|problems| {
            let palette = from_proto::palette(wire.palette.as_ref(), problems);
            let ask = from_proto::ask(wire.options.as_ref(), problems);
            let options = from_proto::substitute_options(&wire, problems);
            Some((palette?, ask?, options?))
        })?;
        let snapshot = self.shared.snapshot()?;
        call.facts.measured_by(ask.formula);
        let job = move |watch: &CallWatch| {
            let list = planner::substitute(snapshot.catalog(), &palette, &ask, &options, watch)?;
            Ok(to_proto::change_list(&list))
        };
        let list = self.shared.workers.run(call.deadline, job).await?;
        call.facts.answered(list.changes.len());
        let response = pb::SubstituteThreadsResponse { change_list: Some(list) };
        Ok(Response::new(fits(response, MAX_LIST_BYTES)?))
    }

    async fn convert_palette(
        &self,
        request: Request<pb::ConvertPaletteRequest>,
    ) -> Result<Response<pb::ConvertPaletteResponse>, Status> {
        let call = Call::of(&request);
        let wire = request.into_inner();
        let (palette, ask, options) = checked(|problems| {
            let palette = from_proto::palette(wire.palette.as_ref(), problems);
            let ask = from_proto::ask(wire.options.as_ref(), problems);
            let options = from_proto::convert_options(&wire, problems);
            Some((palette?, ask?, options?))
        })?;
        let snapshot = self.shared.snapshot()?;
        call.facts.measured_by(ask.formula);
        let job = move |watch: &CallWatch| {
            let list = planner::convert(snapshot.catalog(), &palette, &ask, &options, watch)?;
            Ok(to_proto::change_list(&list))
        };
        let list = self.shared.workers.run(call.deadline, job).await?;
        call.facts.answered(list.changes.len());
        let response = pb::ConvertPaletteResponse { change_list: Some(list) };
        Ok(Response::new(fits(response, MAX_LIST_BYTES)?))
    }
}

/// Runs a reduction and puts its progress, then its list, into the stream.
async fn reduce(
    shared: Shared,
    call: Call,
    job: impl FnOnce(&CallWatch) -> Result<pb::ChangeList, Failure> + Send + 'static,
    items: Items<pb::ReducePaletteResponse>,
) -> Result<(), Failure> {
    let told = items.clone();
    let work = move |watch: &CallWatch| job(&watch.telling(throttled(told)));
    let list = shared.workers.run(call.deadline, work).await?;
    call.facts.answered(list.changes.len());
    let payload = pb::reduce_palette_response::Payload::ChangeList(list);
    let response = fits(pb::ReducePaletteResponse { payload: Some(payload) }, MAX_LIST_BYTES)?;
    // Nobody to tell when the client is gone.
    let _ = items.send(Ok(response)).await;
    Ok(())
}

/// Passes progress on, ten times a second at most; a client that is slower misses some.
fn throttled(items: Items<pb::ReducePaletteResponse>) -> impl Fn(&Progress) + Send {
    let last = Mutex::new(None::<Instant>);
    move |progress| {
        let mut last = last.lock().unwrap_or_else(PoisonError::into_inner);
        if last.is_none_or(|last| last.elapsed() >= PROGRESS_PAUSE) {
            *last = Some(Instant::now());
            let payload =
                pb::reduce_palette_response::Payload::Progress(to_proto::progress(progress));
            let _ = items.try_send(Ok(pb::ReducePaletteResponse { payload: Some(payload) }));
        }
    }
}
