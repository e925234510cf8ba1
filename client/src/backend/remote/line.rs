//! The line to a server: connecting, waiting, giving up, and what a failed call means.
//! It does not know the questions.

use std::future::Future;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use dyekin_core::error::{Error, ErrorKind};
use dyekin_core::watch::Watch;
use tokio::runtime::{Builder, Runtime};
use tonic::transport::{Channel, Endpoint};
use tonic::{Code, Request, Status};
use tonic_types::pb as rpc;

use super::{refusal, wire};
use crate::failure::{Failure, Result};

/// How long the first connection may take.
const CONNECT_TIME: Duration = Duration::from_secs(5);

/// What a hanging server gets beyond its deadline before we give up ourselves.
const GRACE: Duration = Duration::from_secs(2);

/// How often we look whether the answer is still wanted.
const TICK: Duration = Duration::from_millis(25);

/// Reasons of a server that cannot answer now and may later.
const NOT_NOW: [&str; 3] = ["CATALOG_NOT_LOADED", "SERVER_BUSY", "SERVER_STOPPING"];

/// The runtime and the server's name: what every call needs.
#[derive(Debug)]
pub(super) struct Line {
    runtime: Runtime,
    server: String,
    stop: Arc<AtomicBool>,
}

impl Line {
    /// Connects to a server, with a runtime that drives the connection.
    pub(super) fn open(server: &str) -> Result<(Self, Channel)> {
        let endpoint = endpoint(server)?;
        let runtime = Builder::new_current_thread().enable_all().build().map_err(|error| {
            Failure::Bug { what: format!("no runtime for the network: {error}") }
        })?;
        let connected = runtime.block_on(endpoint.connect());
        let channel = connected.map_err(|error| Failure::Unreachable {
            server: server.to_owned(),
            reason: deepest(&error),
        })?;
        Ok((Self { runtime, server: server.to_owned(), stop: Arc::default() }, channel))
    }

    /// Gives up any question once the flag is set.
    pub(super) fn heed(&mut self, stop: Arc<AtomicBool>) {
        self.stop = stop;
    }

    /// Waits for an answer, and gives up when the watch or the clock says so. Dropping the call
    /// tells the server to stop.
    pub(super) fn wait<T>(
        &self,
        longest: Duration,
        watch: &dyn Watch,
        call: impl Future<Output = std::result::Result<tonic::Response<T>, Status>>,
    ) -> Result<T> {
        let answered = async { call.await.map(tonic::Response::into_inner) };
        self.watched(longest, watch, answered)
    }

    /// The same for a call that reads its answer itself.
    pub(super) fn watched<T>(
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

/// A message with its deadline.
pub(super) fn timed<T>(message: T, longest: Duration) -> Request<T> {
    let mut request = Request::new(message);
    request.set_timeout(longest);
    request
}
