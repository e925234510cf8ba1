//! Rates of calls beside an empty echo through the same socket, limits and layers, in one table.
//! Client and server share the machine. It does not judge: it prints.
//!
//! `cargo bench -p dyekin-server --bench rpc -- [SECONDS per line]`
#![expect(clippy::expect_used, reason = "a bench stops at the first thing that fails")]

use std::convert::Infallible;
use std::io::Write;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::{Duration, Instant};

use dyekin_core::table::{Code, Table, TableId, Thread};
use dyekin_core::{Catalog, Color, Srgb8};
use dyekin_proto::v1 as pb;
use dyekin_proto::v1::matching_service_client::MatchingServiceClient;
use dyekin_server::{Limits, Server, SharedCatalog};
use tonic::body::Body;
use tonic::server::{Grpc, NamedService, UnaryService};
use tonic::service::Routes;
use tonic::transport::{Channel, Endpoint};
use tonic::{Request, Response, Status};
use tonic_prost::ProstCodec;
use tower_service::Service;

/// Threads in the table.
const THREADS: usize = 10_000;

/// Calls in flight at once on one connection.
const IN_FLIGHT: usize = 16;

/// Answers every call with an empty message. Its name puts it behind the same guard.
#[derive(Clone, Debug)]
struct Echo;

impl NamedService for Echo {
    const NAME: &'static str = "dyekin.v1.EchoService";
}

impl UnaryService<()> for Echo {
    type Response = ();
    type Future = std::future::Ready<Result<Response<()>, Status>>;

    fn call(&mut self, _: Request<()>) -> Self::Future {
        std::future::ready(Ok(Response::new(())))
    }
}

impl Service<http::Request<Body>> for Echo {
    type Response = http::Response<Body>;
    type Error = Infallible;
    type Future = Pin<Box<dyn Future<Output = Result<http::Response<Body>, Infallible>> + Send>>;

    fn poll_ready(&mut self, _: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        Poll::Ready(Ok(()))
    }

    fn call(&mut self, request: http::Request<Body>) -> Self::Future {
        let service = self.clone();
        Box::pin(async move {
            Ok(Grpc::new(ProstCodec::<(), ()>::default()).unary(service, request).await)
        })
    }
}

/// What one call of a line does.
#[derive(Clone, Copy, Debug)]
enum Call {
    Echo,
    Match { queries: usize, count: i32 },
}

impl Call {
    async fn run(self, channel: Channel, place: usize) {
        match self {
            Self::Echo => {
                let mut client = tonic::client::Grpc::new(channel);
                client.ready().await.expect("a connection");
                let path = http::uri::PathAndQuery::from_static("/dyekin.v1.EchoService/Echo");
                let codec = ProstCodec::<(), ()>::default();
                client.unary(Request::new(()), path, codec).await.expect("an echo");
            }
            Self::Match { queries, count } => {
                let queries = (0..queries).map(|row| query(place + row)).collect();
                let options = Some(pb::MatchOptions { count, ..Default::default() });
                let request = pb::MatchColorsRequest { queries, options };
                let mut client = MatchingServiceClient::new(channel);
                let answer = client.match_colors(request).await.expect("an answer").into_inner();
                assert!(answer.results.iter().all(|result| !result.matches.is_empty()));
            }
        }
    }
}

/// A color that looks random but is the same in every run.
fn color(place: usize) -> Srgb8 {
    let mixed = u32::try_from(place % 1_000_003).unwrap_or(0).wrapping_mul(2_654_435_761);
    let [red, green, blue, _] = mixed.to_be_bytes();
    Srgb8::new(red, green, blue)
}

fn query(place: usize) -> pb::ColorQuery {
    let value = Some(pb::color::Value::Hex(color(place * 7 + 3).to_string()));
    let color = Some(pb::Color { value, ..Default::default() });
    pb::ColorQuery { color, ..Default::default() }
}

fn catalog() -> Catalog {
    let thread = |row: usize| {
        let code = Code::parse(&format!("B-{row}")).expect("a code");
        Thread::plain(code, "bench", Color::screen(color(row)))
    };
    let threads = (0..THREADS).map(thread).collect();
    let id = TableId::parse("bench").expect("an id");
    Catalog::build([Table::new(id, threads).expect("a table")])
}

/// Calls of one line: how many a second, and how long each took.
async fn line(call: Call, in_flight: usize, span: Duration, channel: &Channel) -> (f64, Vec<f64>) {
    let begun = Instant::now();
    let workers: Vec<_> = (0..in_flight)
        .map(|worker| {
            let channel = channel.clone();
            tokio::spawn(async move {
                let mut millis = Vec::new();
                while begun.elapsed() < span {
                    let start = Instant::now();
                    call.run(channel.clone(), worker * 1_000 + millis.len()).await;
                    millis.push(start.elapsed().as_secs_f64() * 1e3);
                }
                millis
            })
        })
        .collect();
    let mut all = Vec::new();
    for worker in workers {
        all.extend(worker.await.expect("a worker"));
    }
    let count = f64::from(u32::try_from(all.len()).unwrap_or(u32::MAX));
    let rate = count / begun.elapsed().as_secs_f64();
    all.sort_by(f64::total_cmp);
    (rate, all)
}

fn quantile(sorted: &[f64], part: usize, of: usize) -> f64 {
    sorted.get(sorted.len().saturating_sub(1) * part / of).copied().unwrap_or(f64::NAN)
}

#[tokio::main]
async fn main() -> std::io::Result<()> {
    // `cargo bench` adds `--bench`; the first number is ours.
    let seconds = std::env::args().find_map(|argument| argument.parse().ok()).unwrap_or(2.0);
    let span = Duration::try_from_secs_f64(seconds).expect("a number of seconds");
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await?;
    let url = format!("http://{}", listener.local_addr()?);
    let server = Server::new(Limits::default(), Arc::new(SharedCatalog::holding(catalog())))
        .with_services(Routes::new(Echo));
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let serving = tokio::spawn(server.serve(listener, async {
        let _ = stopped.await;
    }));
    let endpoint = Endpoint::from_shared(url).expect("a URL").tcp_nodelay(true);
    let channel = endpoint.connect_lazy();
    let mut out = std::io::stdout().lock();
    writeln!(out, "table of {THREADS} threads, {seconds} s a line, one connection")?;
    writeln!(
        out,
        "{:<38}{:>9}{:>11}{:>10}{:>10}",
        "call", "in flight", "calls/s", "p50 ms", "p99 ms"
    )?;
    let lines = [
        ("empty echo", Call::Echo),
        ("MatchColors, 1 color, 1 match", Call::Match { queries: 1, count: 1 }),
        ("MatchColors, 1 color, 5 matches", Call::Match { queries: 1, count: 5 }),
        ("MatchColors, 100 colors, 1 match", Call::Match { queries: 100, count: 1 }),
    ];
    for (name, call) in lines {
        for in_flight in [1, IN_FLIGHT] {
            let (rate, sorted) = line(call, in_flight, span, &channel).await;
            let (p50, p99) = (quantile(&sorted, 1, 2), quantile(&sorted, 99, 100));
            writeln!(out, "{name:<38}{in_flight:>9}{rate:>11.0}{p50:>10.3}{p99:>10.3}")?;
        }
    }
    drop((channel, stop));
    serving.await.expect("no panic")?;
    Ok(())
}
