//! A server of the real kind on a loopback port of its own, ready when it is bound, and its
//! clients. It does not know what a test asks.
#![expect(clippy::expect_used, reason = "a test without its server must not pass")]

use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use dyekin_core::Catalog;
use dyekin_proto::v1 as pb;
use dyekin_proto::v1::matching_service_client::MatchingServiceClient;
use dyekin_proto::v1::palette_service_client::PaletteServiceClient;
use dyekin_proto::v1::table_service_client::TableServiceClient;
use dyekin_server::{Ended, Limits, MAX_LIST_BYTES, Server, SharedCatalog, WorkMeter};
use prost::Message;
use tokio::net::TcpListener;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;
use tonic::Status;
use tonic::transport::{Channel, Endpoint};
use tonic_types::StatusExt;

/// A running server.
#[derive(Debug)]
pub struct TestServer {
    address: SocketAddr,
    catalog: Arc<SharedCatalog>,
    meter: Arc<WorkMeter>,
    stop: Option<oneshot::Sender<()>>,
    serving: JoinHandle<io::Result<Ended>>,
}

/// Limits for tests: two workers, a short time to drain.
#[must_use]
pub fn limits() -> Limits {
    Limits { workers: 2, drain: Duration::from_secs(2), ..Limits::default() }
}

impl TestServer {
    /// A server over these tables.
    pub async fn start(catalog: Catalog) -> Self {
        Self::start_with(limits(), SharedCatalog::holding(catalog)).await
    }

    /// A server with these limits over a catalog that may be unloaded.
    ///
    /// # Panics
    ///
    /// When loopback cannot be bound.
    pub async fn start_with(limits: Limits, catalog: SharedCatalog) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port on loopback");
        let address = listener.local_addr().expect("an address");
        let catalog = Arc::new(catalog);
        let server = Server::new(limits, Arc::clone(&catalog));
        let meter = server.meter();
        let (stop, stopped) = oneshot::channel();
        let serving = tokio::spawn(server.serve(listener, async {
            // A dropped sender stops the server as well.
            let _ = stopped.await;
        }));
        Self { address, catalog, meter, stop: Some(stop), serving }
    }

    /// Where it listens.
    #[must_use]
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Its tables.
    #[must_use]
    pub fn catalog(&self) -> &SharedCatalog {
        &self.catalog
    }

    /// How often work asked whether it should stop.
    #[must_use]
    pub fn polls(&self) -> u64 {
        self.meter.polls()
    }

    /// A connection of its own, made at the first call.
    ///
    /// # Panics
    ///
    /// When the address is no URL.
    #[must_use]
    pub fn channel(&self) -> Channel {
        let url = format!("http://{}", self.address);
        Endpoint::from_shared(url).expect("a URL").tcp_nodelay(true).connect_lazy()
    }

    /// A client of the tables.
    #[must_use]
    pub fn tables(&self) -> TableServiceClient<Channel> {
        TableServiceClient::new(self.channel())
    }

    /// A client of the matching.
    #[must_use]
    pub fn matching(&self) -> MatchingServiceClient<Channel> {
        MatchingServiceClient::new(self.channel())
    }

    /// A client of the palettes.
    #[must_use]
    pub fn palette(&self) -> PaletteServiceClient<Channel> {
        PaletteServiceClient::new(self.channel()).max_decoding_message_size(MAX_LIST_BYTES)
    }

    /// Stops it and says how it ended.
    ///
    /// # Panics
    ///
    /// When the server failed.
    pub async fn stop(mut self) -> Ended {
        drop(self.stop.take());
        self.serving.await.expect("no panic").expect("a server that served")
    }
}

/// The reason of an error.
#[must_use]
pub fn reason(status: &Status) -> String {
    status.get_details_error_info().map(|info| info.reason).unwrap_or_default()
}

/// Our own list of problems of an error.
///
/// # Panics
///
/// When the details cannot be read.
#[must_use]
pub fn problems(status: &Status) -> pb::ProblemList {
    let all = tonic_types::pb::Status::decode(status.details()).expect("details");
    all.details
        .iter()
        .find(|detail| detail.type_url == "type.googleapis.com/dyekin.v1.ProblemList")
        .map(|detail| pb::ProblemList::decode(detail.value.as_slice()).expect("a problem list"))
        .unwrap_or_default()
}
