//! The log line of a call: what was asked, how large it was, how it ended. It does not know colors,
//! codes or names: none of them is logged.
//!
//! Answered calls are logged at `debug`, since a shop asks thousands of times a second; refused and
//! abandoned ones, and those that took a second or more, at `info`. Defects are errors.

use std::pin::Pin;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};
use std::task::{Context, Poll};
use std::time::{Duration, Instant};

use dyekin_core::Formula;
use http::HeaderMap;
use http_body::{Frame, SizeHint};
use tonic::body::Body;
use tonic::{Code, Status};

use super::message::plain;
use crate::telemetry::millis;

/// An answered call that took this long is worth a line at `info`.
const SLOW: Duration = Duration::from_secs(1);

/// What a method tells about its call.
#[derive(Debug, Default)]
pub(crate) struct Facts {
    request_bytes: AtomicU64,
    results: AtomicU64,
    formula: OnceLock<Formula>,
}

impl Facts {
    /// Notes the formula that was asked for.
    pub(super) fn measured_by(&self, formula: Formula) {
        // A call has one formula, and its method tells it once.
        let _ = self.formula.set(formula);
    }

    /// Adds results: matches of a query count as one, changes and steps of a list each.
    pub(super) fn answered(&self, results: usize) {
        self.results.fetch_add(results as u64, Ordering::Relaxed);
    }
}

/// What the log line of a call says.
#[derive(Debug)]
pub(super) struct Record {
    path: String,
    begun: Instant,
    code: Option<Code>,
    facts: Arc<Facts>,
    response_bytes: u64,
}

impl Record {
    pub(super) fn new(path: String) -> Self {
        let begun = Instant::now();
        Self { path, begun, code: None, facts: Arc::default(), response_bytes: 0 }
    }

    pub(super) fn path(&self) -> &str {
        &self.path
    }

    /// Where the method puts what it tells.
    pub(super) fn facts(&self) -> Arc<Facts> {
        Arc::clone(&self.facts)
    }

    /// Notes how the call ended, once that is known.
    pub(super) fn note(&mut self, headers: &HeaderMap) {
        self.code = code(headers).or(self.code);
    }

    /// The body of the request, whose bytes are counted.
    pub(super) fn of_request(&self, body: Body) -> Body {
        Body::new(Asked { body, facts: self.facts() })
    }

    /// The body of the response; the line is written when it ends or is dropped.
    pub(super) fn of_response(self, body: Body) -> Body {
        Body::new(Told { body, record: self })
    }
}

/// The code in headers or trailers.
pub(super) fn code(headers: &HeaderMap) -> Option<Code> {
    headers.get("grpc-status").map(|value| Code::from_bytes(value.as_bytes()))
}

impl Drop for Record {
    fn drop(&mut self) {
        let Self { path, response_bytes, facts, .. } = self;
        let took = self.begun.elapsed();
        let millis = millis(took);
        let request_bytes = facts.request_bytes.load(Ordering::Relaxed);
        let results = facts.results.load(Ordering::Relaxed);
        let formula = facts.formula.get().map(tracing::field::display);
        macro_rules! line {
            ($level:ident, $text:literal $(, $code:ident)?) => {
                tracing::$level!(
                    path, millis, request_bytes, response_bytes, results, formula,
                    $($code = ?$code,)? $text
                )
            };
        }
        match self.code {
            Some(Code::Ok) if took < SLOW => line!(debug, "answered"),
            Some(Code::Ok) => line!(info, "answered"),
            Some(code) => line!(info, "refused", code),
            None => line!(info, "the caller went away"),
        }
    }
}

/// A request's body on its way in.
#[derive(Debug)]
struct Asked {
    body: Body,
    facts: Arc<Facts>,
}

impl http_body::Body for Asked {
    type Data = <Body as http_body::Body>::Data;
    type Error = Status;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Self::Data>, Status>>> {
        let polled = Pin::new(&mut self.body).poll_frame(cx);
        let bytes = data_bytes(&polled);
        self.facts.request_bytes.fetch_add(bytes, Ordering::Relaxed);
        polled
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

/// A response's body on its way out, with the code in its trailers.
#[derive(Debug)]
struct Told {
    body: Body,
    record: Record,
}

impl http_body::Body for Told {
    type Data = <Body as http_body::Body>::Data;
    type Error = Status;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Self::Data>, Status>>> {
        let mut polled = Pin::new(&mut self.body).poll_frame(cx);
        self.record.response_bytes += data_bytes(&polled);
        if let Poll::Ready(Some(Ok(frame))) = &mut polled
            && let Some(trailers) = frame.trailers_mut()
        {
            plain(trailers);
            self.record.note(trailers);
        }
        polled
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

type Polled = Poll<Option<Result<Frame<<Body as http_body::Body>::Data>, Status>>>;

fn data_bytes(polled: &Polled) -> u64 {
    match polled {
        Poll::Ready(Some(Ok(frame))) => frame.data_ref().map_or(0, |data| data.len() as u64),
        Poll::Ready(_) | Poll::Pending => 0,
    }
}
