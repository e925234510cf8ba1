//! The router: services, health, reflection, and the limits of messages and streams. It does not
//! know how a question is answered.

mod from_proto;
mod guard;
mod matching;
mod message;
mod paging;
mod palette;
mod record;
mod status;
mod stream;
mod tables;
mod to_proto;
mod work;

use std::sync::Arc;
use std::time::Duration;

use dyekin_proto::FILE_DESCRIPTOR_SET;
use dyekin_proto::v1::matching_service_server::{MatchingServiceServer, SERVICE_NAME as MATCHING};
use dyekin_proto::v1::palette_service_server::{PaletteServiceServer, SERVICE_NAME as PALETTE};
use dyekin_proto::v1::table_service_server::{SERVICE_NAME as TABLE, TableServiceServer};
use prost::Message;
use tonic::service::Routes;
use tonic::transport::Server as Transport;
use tonic_health::ServingStatus;
use tonic_health::server::HealthReporter;
use tower_layer::Stack;

pub use work::WorkMeter;

pub(crate) use guard::GuardLayer;
pub(crate) use status::{Failure, Trouble};

use crate::state::{SharedCatalog, Snapshot};
use work::Workers;

/// Largest request of questions about colors, in bytes.
pub const MAX_QUESTION_BYTES: usize = 1 << 20;

/// Largest request that holds a palette or a chunk of a table, in bytes.
pub const MAX_REQUEST_BYTES: usize = 4 << 20;

/// Largest response but for change and merge lists, in bytes.
pub const MAX_RESPONSE_BYTES: usize = 4 << 20;

/// Largest message of a response with a change or merge list, in bytes.
pub const MAX_LIST_BYTES: usize = 16 << 20;

/// Streams that one connection may have open at once.
pub const MAX_STREAMS: u32 = 200;

/// What every service has at hand.
#[derive(Clone, Debug)]
pub(crate) struct Shared {
    catalog: Arc<SharedCatalog>,
    workers: Workers,
}

impl Shared {
    pub(crate) fn new(catalog: Arc<SharedCatalog>, workers: usize, meter: Arc<WorkMeter>) -> Self {
        Self { catalog, workers: Workers::new(workers, meter) }
    }

    /// The tables of this moment, for the whole of one request.
    fn snapshot(&self) -> Result<Arc<Snapshot>, Failure> {
        self.catalog.snapshot().ok_or_else(|| Trouble::CatalogNotLoaded.into())
    }
}

/// Refuses a response that is larger than clients take.
fn fits<M: Message>(response: M, limit: usize) -> Result<M, Failure> {
    let found = response.encoded_len();
    if found <= limit {
        return Ok(response);
    }
    let kind = dyekin_core::ErrorKind::OverLimit {
        what: "bytes in one response; ask for less at once".into(),
        found: found as u64,
        limit: limit as u64,
    };
    Err(dyekin_core::Error::new(kind).into())
}

/// Health of every service and of the whole.
#[derive(Clone, Debug)]
pub(crate) struct Health(HealthReporter);

impl Health {
    /// Tells all who ask or watch.
    pub(crate) async fn tell(&self, serving: bool) {
        let status = if serving { ServingStatus::Serving } else { ServingStatus::NotServing };
        for name in ["", MATCHING, PALETTE, TABLE] {
            self.0.set_service_status(name, status).await;
        }
    }
}

/// All services and those of others, with the reporter of their health.
pub(crate) async fn routes(shared: &Shared, mut routes: Routes) -> (Routes, Health) {
    let (reporter, health) = tonic_health::server::health_reporter();
    let reporter = Health(reporter);
    reporter.tell(false).await;
    let tables = TableServiceServer::new(tables::Tables::new(shared.clone()))
        .max_decoding_message_size(MAX_REQUEST_BYTES)
        .max_encoding_message_size(MAX_RESPONSE_BYTES);
    let matching = MatchingServiceServer::new(matching::Matching::new(shared.clone()))
        .max_decoding_message_size(MAX_QUESTION_BYTES)
        .max_encoding_message_size(MAX_RESPONSE_BYTES);
    let palette = PaletteServiceServer::new(palette::Palettes::new(shared.clone()))
        .max_decoding_message_size(MAX_REQUEST_BYTES)
        .max_encoding_message_size(MAX_LIST_BYTES);
    routes = routes.add_service(health).add_service(tables);
    routes = routes.add_service(matching).add_service(palette);
    (with_reflection(routes), reporter)
}

/// Adds reflection in both versions: common clients still ask for the older one.
fn with_reflection(mut routes: Routes) -> Routes {
    let builder = || {
        tonic_reflection::server::Builder::configure()
            .register_encoded_file_descriptor_set(FILE_DESCRIPTOR_SET)
            .register_encoded_file_descriptor_set(tonic_health::pb::FILE_DESCRIPTOR_SET)
    };
    match (builder().build_v1(), builder().build_v1alpha()) {
        (Ok(v1), Ok(v1alpha)) => routes = routes.add_service(v1).add_service(v1alpha),
        (Err(error), _) | (_, Err(error)) => tracing::error!(%error, "no reflection"),
    }
    routes
}

/// The transport with every limit set: the library leaves two of them open.
pub(crate) fn transport() -> Transport<Stack<GuardLayer, tower_layer::Identity>> {
    Transport::builder()
        .max_concurrent_streams(MAX_STREAMS)
        .http2_max_local_error_reset_streams(Some(1_024))
        .http2_max_header_list_size(16 << 10)
        .http2_keepalive_interval(Some(Duration::from_secs(10)))
        .http2_keepalive_timeout(Some(Duration::from_secs(5)))
        .layer(GuardLayer)
}
