//! The gRPC service around the domain: listens, limits, converts, answers.
//! It holds no rule about colors or threads; those are in `dyekin-core`.
//!
//! ```text
//! socket ─► accept (caps, first words, no delay) ─► limits of streams ─► guard (deadline, panic,
//! details, log) ─► method: convert ─► one snapshot of the catalog ─► core ─► convert ─► socket
//! ```
//!
//! Every request sees one whole catalog, from its first table to its last. Tables belong to a shop;
//! until callers have keys there is one default shop.

mod accept;
pub mod config;
pub mod daemon;
mod grpc;
mod load;
mod state;
pub mod telemetry;

use std::io;
use std::sync::Arc;

use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpListener;
use tokio::sync::watch;
use tokio_stream::Stream;
use tonic::service::Routes;
use tonic::transport::server::Connected;

pub use config::{Config, Limits};
pub use grpc::{
    MAX_LIST_BYTES, MAX_QUESTION_BYTES, MAX_REQUEST_BYTES, MAX_RESPONSE_BYTES, MAX_STREAMS,
    WorkMeter,
};
pub use load::{LoadProblem, LoadedCatalog, MAX_TABLE_BYTES, load_directory, write_address};
pub use state::{MAX_IMPORTED_TABLES, MAX_IMPORTED_THREADS, SharedCatalog, Snapshot};

/// A server that is not listening yet.
#[derive(Clone, Debug)]
pub struct Server {
    limits: Limits,
    catalog: Arc<SharedCatalog>,
    meter: Arc<WorkMeter>,
    more: Routes,
}

/// How a server ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// Every call was answered.
    Drained,
    /// Calls or silent connections were cut off when the time for draining was over.
    CutOff,
}

impl Server {
    /// A server over a catalog. Its health says SERVING once the catalog is loaded.
    #[must_use]
    pub fn new(limits: Limits, catalog: Arc<SharedCatalog>) -> Self {
        Self { limits, catalog, meter: Arc::default(), more: Routes::default() }
    }

    /// The same server with further services behind the same limits and layers.
    #[must_use]
    pub fn with_services(mut self, services: Routes) -> Self {
        self.more = services;
        self
    }

    /// The count of work done, for tests that assert work where time cannot be asserted.
    #[must_use]
    pub fn meter(&self) -> Arc<WorkMeter> {
        Arc::clone(&self.meter)
    }

    /// Serves a bound socket until `shutdown` resolves, then drains within a bound.
    ///
    /// # Errors
    ///
    /// What the transport says when it cannot start.
    pub async fn serve(
        self,
        listener: TcpListener,
        shutdown: impl Future<Output = ()> + Send,
    ) -> io::Result<Ended> {
        let incoming = accept::accept(listener, &self.limits);
        self.serve_with(incoming, shutdown).await
    }

    /// Serves connections of any kind, such as pipes in memory.
    ///
    /// # Errors
    ///
    /// What the transport says when it cannot start.
    pub async fn serve_with<C>(
        self,
        incoming: impl Stream<Item = io::Result<C>>,
        shutdown: impl Future<Output = ()> + Send,
    ) -> io::Result<Ended>
    where
        C: AsyncRead + AsyncWrite + Connected + Unpin + Send + 'static,
    {
        let workers = self.limits.workers;
        let shared = grpc::Shared::new(Arc::clone(&self.catalog), workers, self.meter);
        let (routes, health) = grpc::routes(&shared, self.more).await;
        let (stop, stopped) = watch::channel(false);
        let told = tokio::spawn(report(Arc::clone(&self.catalog), health, stopped.clone()));
        let serving = grpc::transport()
            .add_routes(routes)
            .serve_with_incoming_shutdown(incoming, told_to_stop(stopped));
        let bound = async {
            shutdown.await;
            stop.send_replace(true);
            tracing::info!(drain_seconds = self.limits.drain.as_secs(), "stopping");
            tokio::time::sleep(self.limits.drain).await;
        };
        // Draining can hang on connections that never spoke, so it has a bound.
        let ended = tokio::select! {
            served = serving => served.map(|()| Ended::Drained).map_err(io::Error::other),
            () = bound => Ok(Ended::CutOff),
        };
        told.abort();
        ended
    }
}

/// Tells the health: serving once the catalog is loaded, not serving once the server stops.
async fn report(catalog: Arc<SharedCatalog>, health: grpc::Health, stopped: watch::Receiver<bool>) {
    let loaded = tokio::select! {
        () = catalog.wait_until_loaded() => true,
        () = told_to_stop(stopped.clone()) => false,
    };
    health.tell(loaded).await;
    told_to_stop(stopped).await;
    health.tell(false).await;
}

/// Resolves once the value is true, or when nobody can set it any more.
async fn told_to_stop(mut stopped: watch::Receiver<bool>) {
    let _ = stopped.wait_for(|stopped| *stopped).await;
}
