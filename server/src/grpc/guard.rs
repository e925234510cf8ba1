//! What holds for every call: a deadline, an answer even after a panic, details on every error, a
//! log line. It does not know any method's messages.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use http::{HeaderMap, Request, Response};
use tonic::body::Body;
use tonic::{Code, Status};
use tower_layer::Layer;
use tower_service::Service;

use super::message::plain;
use super::record::{Record, code};
use super::status::{Failure, Trouble};
use super::work::{Call, Deadline, USUAL_TIME, defect};

/// Prefix of the paths that are guarded in full; health and reflection have streams without end.
const OURS: &str = "/dyekin.v1.";

/// Longest time for a call of each kind.
fn longest(path: &str) -> Duration {
    match path.rsplit('/').next() {
        Some("ReducePalette" | "ImportTable") => Duration::from_secs(60),
        Some("StreamMatches") => Duration::from_secs(600),
        _ => USUAL_TIME,
    }
}

/// Wraps a service with a [`Guard`].
#[derive(Clone, Copy, Debug)]
pub(crate) struct GuardLayer;

impl<S> Layer<S> for GuardLayer {
    type Service = Guard<S>;

    fn layer(&self, inner: S) -> Guard<S> {
        Guard { inner }
    }
}

/// A service whose calls are guarded.
#[derive(Clone, Debug)]
pub(crate) struct Guard<S> {
    inner: S,
}

impl<S> Service<Request<Body>> for Guard<S>
where
    S: Service<Request<Body>, Response = Response<Body>>,
    S::Future: Send + 'static,
    S::Error: Send + 'static,
{
    type Response = Response<Body>;
    type Error = S::Error;
    type Future = Pin<Box<dyn Future<Output = Result<Response<Body>, S::Error>> + Send>>;

    fn poll_ready(&mut self, cx: &mut Context<'_>) -> Poll<Result<(), S::Error>> {
        self.inner.poll_ready(cx)
    }

    fn call(&mut self, mut request: Request<Body>) -> Self::Future {
        let path = request.uri().path().to_owned();
        if !path.starts_with(OURS) {
            return Box::pin(self.inner.call(request));
        }
        let deadline = deadline(&path, request.headers());
        let mut record = Record::new(path);
        request.extensions_mut().insert(Call { deadline, facts: record.facts() });
        let request = request.map(|body| record.of_request(body));
        // The future is made inside the catch, too: a handler may panic before its first await.
        let inner = catch_unwind(AssertUnwindSafe(|| self.inner.call(request)));
        Box::pin(async move {
            let answered = match inner {
                Ok(inner) => {
                    let caught = CatchPanic(Box::pin(inner));
                    tokio::time::timeout_at(deadline.at.into(), caught).await
                }
                Err(_) => Ok(Err(Panicked)),
            };
            let mut response = match answered {
                Ok(Ok(answered)) => with_details(answered?, record.path()),
                Ok(Err(Panicked)) => failed(defect("a call panicked")),
                Err(_) => failed(deadline.exceeded()),
            };
            plain(response.headers_mut());
            record.note(response.headers());
            Ok(response.map(|body| record.of_response(body)))
        })
    }
}

fn deadline(path: &str, headers: &HeaderMap) -> Deadline {
    let longest = longest(path);
    let asked = headers.get("grpc-timeout").and_then(|value| value.to_str().ok());
    Deadline::after(asked.and_then(timeout).map_or(longest, |asked| asked.min(longest)))
}

/// Reads a `grpc-timeout`: up to eight digits and a unit.
fn timeout(text: &str) -> Option<Duration> {
    let (digits, unit) = text.split_at_checked(text.len().checked_sub(1)?)?;
    if digits.is_empty() || digits.len() > 8 || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let count: u64 = digits.parse().ok()?;
    match unit {
        "H" => Some(Duration::from_secs(count * 3_600)),
        "M" => Some(Duration::from_secs(count * 60)),
        "S" => Some(Duration::from_secs(count)),
        "m" => Some(Duration::from_millis(count)),
        "u" => Some(Duration::from_micros(count)),
        "n" => Some(Duration::from_nanos(count)),
        _ => None,
    }
}

fn failed(failure: Failure) -> Response<Body> {
    Status::from(failure).into_http()
}

/// Errors of the library below the methods get our reasons and details.
fn with_details(response: Response<Body>, path: &str) -> Response<Body> {
    let headers = response.headers();
    let Some(code) = code(headers).filter(|code| *code != Code::Ok) else { return response };
    if headers.contains_key("grpc-status-details-bin") {
        return response;
    }
    let Some(status) = Status::from_header_map(headers) else { return response };
    if code == Code::Unimplemented && status.message().is_empty() {
        return failed(Trouble::MethodUnknown(path.to_owned()).into());
    }
    failed(below(&status))
}

/// A status of the library as a failure of ours.
pub(super) fn below(status: &Status) -> Failure {
    let message = status.message().to_owned();
    let code = status.code();
    if matches!(code, Code::OutOfRange | Code::ResourceExhausted) {
        return Trouble::MessageTooLarge(message).into();
    }
    if code == Code::Cancelled {
        return dyekin_core::Error::new(dyekin_core::ErrorKind::Stopped).into();
    }
    Trouble::MessageUnreadable(message).into()
}

struct Panicked;

/// A future whose panic is an answer.
struct CatchPanic<F>(Pin<Box<F>>);

impl<F: Future> Future for CatchPanic<F> {
    type Output = Result<F::Output, Panicked>;

    fn poll(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Self::Output> {
        match catch_unwind(AssertUnwindSafe(|| self.0.as_mut().poll(cx))) {
            Ok(Poll::Pending) => Poll::Pending,
            Ok(Poll::Ready(output)) => Poll::Ready(Ok(output)),
            Err(_) => Poll::Ready(Err(Panicked)),
        }
    }
}

#[cfg(test)]
mod tests {
    use tonic_types::StatusExt;

    use super::*;

    #[test]
    fn timeouts_are_read_in_every_unit() {
        for (text, expected) in [
            ("1H", Some(Duration::from_secs(3_600))),
            ("2M", Some(Duration::from_secs(120))),
            ("3S", Some(Duration::from_secs(3))),
            ("4m", Some(Duration::from_millis(4))),
            ("5u", Some(Duration::from_micros(5))),
            ("6n", Some(Duration::from_nanos(6))),
            ("", None),
            ("S", None),
            ("5", None),
            ("-5S", None),
            ("123456789S", None),
            ("5é", None),
        ] {
            assert_eq!(timeout(text), expected, "{text}");
        }
    }

    #[test]
    fn the_shorter_of_both_deadlines_holds() {
        let check = |path: &str, asked: &str, expected: u64| {
            let mut headers = HeaderMap::new();
            headers.insert("grpc-timeout", asked.parse().unwrap());
            assert_eq!(deadline(path, &headers).timeout, Duration::from_secs(expected), "{path}");
        };
        check("/dyekin.v1.MatchingService/MatchColors", "3S", 3);
        check("/dyekin.v1.MatchingService/MatchColors", "30S", 10);
        check("/dyekin.v1.PaletteService/ReducePalette", "30S", 30);
        check("/dyekin.v1.PaletteService/ReducePalette", "2M", 60);
    }

    /// When a service panics.
    #[derive(Clone, Copy)]
    enum Panics {
        AtOnce,
        Later,
    }

    impl Service<Request<Body>> for Panics {
        type Response = Response<Body>;
        type Error = std::convert::Infallible;
        type Future = Pin<Box<dyn Future<Output = Result<Response<Body>, Self::Error>> + Send>>;

        fn poll_ready(&mut self, _: &mut Context<'_>) -> Poll<Result<(), Self::Error>> {
            Poll::Ready(Ok(()))
        }

        fn call(&mut self, _: Request<Body>) -> Self::Future {
            match self {
                Self::AtOnce => panic!("before the first await"),
                Self::Later => Box::pin(async { panic!("in the middle") }),
            }
        }
    }

    #[tokio::test]
    async fn a_panic_is_answered_as_internal_with_an_id() {
        for panics in [Panics::AtOnce, Panics::Later] {
            let mut guard = GuardLayer.layer(panics);
            let request = Request::post("/dyekin.v1.TableService/GetTable").body(Body::empty());
            let answer = guard.call(request.unwrap()).await.unwrap();
            let status = Status::from_header_map(answer.headers()).unwrap();
            assert_eq!(status.code(), Code::Internal);
            let info = status.get_details_error_info().unwrap();
            assert_eq!(info.reason, "INTERNAL");
            assert!(status.message().contains(&info.metadata["error_id"]));
        }
    }
}
