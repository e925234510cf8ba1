//! The life of a server: health, reflection, deadlines, cancellation, reload under load, shutdown.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use dyekin_core::Catalog;
use dyekin_proto::v1 as pb;
use dyekin_server::{Ended, Limits, SharedCatalog};
use dyekin_tests::server::{TestServer, limits};
use dyekin_tests::threads::table;
use prost::Message;
use tokio::io::AsyncWriteExt;
use tokio::net::TcpStream;
use tokio_stream::StreamExt;
use tonic::{Code, Request, Status};
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::health_client::HealthClient;

use super::{hex, large_palette, match_one, query, refused};

const SERVICES: [&str; 4] =
    ["", "dyekin.v1.MatchingService", "dyekin.v1.PaletteService", "dyekin.v1.TableService"];

#[tokio::test]
async fn health_says_serving_once_the_catalog_is_loaded_for_every_service() {
    let server = TestServer::start_with(limits(), SharedCatalog::unloaded()).await;
    let mut client = HealthClient::new(server.channel());
    let ask = |service: &str| HealthCheckRequest { service: service.into() };
    for service in SERVICES {
        let answer = client.check(ask(service)).await.unwrap().into_inner();
        assert_eq!(answer.status(), ServingStatus::NotServing, "{service}");
    }
    let mut watched = client.watch(ask("")).await.unwrap().into_inner();
    assert_eq!(watched.message().await.unwrap().unwrap().status(), ServingStatus::NotServing);
    server.catalog().replace(Catalog::default());
    assert_eq!(watched.message().await.unwrap().unwrap().status(), ServingStatus::Serving);
    for service in SERVICES {
        // The watched one is told first; the others follow in the same breath.
        let mut one = client.watch(ask(service)).await.unwrap().into_inner();
        while one.message().await.unwrap().unwrap().status() != ServingStatus::Serving {}
    }
    let unknown = client.check(ask("dyekin.v1.WoolService")).await.unwrap_err();
    assert_eq!(unknown.code(), Code::NotFound);
    drop((watched, client));
    server.stop().await;
}

#[tokio::test]
async fn reflection_lists_every_service_in_both_versions() {
    let server = TestServer::start(Catalog::default()).await;
    macro_rules! names {
        ($version:ident) => {{
            use reflection::server_reflection_request::MessageRequest;
            use reflection::server_reflection_response::MessageResponse;
            use tonic_reflection::pb::$version as reflection;
            let mut client =
                reflection::server_reflection_client::ServerReflectionClient::new(server.channel());
            let request = reflection::ServerReflectionRequest {
                host: String::new(),
                message_request: Some(MessageRequest::ListServices(String::new())),
            };
            let answers = client.server_reflection_info(tokio_stream::once(request)).await.unwrap();
            let answer = answers.into_inner().message().await.unwrap().unwrap();
            let Some(MessageResponse::ListServicesResponse(list)) = answer.message_response else {
                panic!("no list")
            };
            list.service.into_iter().map(|service| service.name).collect::<Vec<_>>()
        }};
    }
    for names in [names!(v1), names!(v1alpha)] {
        for service in SERVICES.iter().skip(1).chain(&["grpc.health.v1.Health"]) {
            assert!(names.iter().any(|name| name == service), "{service} in {names:?}");
        }
    }
    server.stop().await;
}

/// A reduction that takes a while.
fn long_reduction() -> pb::ReducePaletteRequest {
    pb::ReducePaletteRequest {
        palette: Some(large_palette(700)),
        options: None,
        max_thread_count: 60,
        ..Default::default()
    }
}

async fn large() -> TestServer {
    TestServer::start(Catalog::build([table("shelf", 2_000, "")])).await
}

/// The work of the whole reduction, in polls.
async fn whole_work(server: &TestServer) -> u64 {
    let before = server.polls();
    let mut answers = server.palette().reduce_palette(long_reduction()).await.unwrap().into_inner();
    let mut done = false;
    while let Some(answer) = answers.message().await.unwrap() {
        done = matches!(answer.payload, Some(pb::reduce_palette_response::Payload::ChangeList(_)));
    }
    assert!(done);
    server.polls() - before
}

/// Waits until no work is done any more.
async fn until_idle(server: &TestServer) -> u64 {
    let mut polls = server.polls();
    loop {
        tokio::time::sleep(Duration::from_millis(100)).await;
        if server.polls() == polls {
            return polls;
        }
        polls = server.polls();
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_cancel_stops_the_work() {
    let server = large().await;
    let whole = whole_work(&server).await;
    assert!(whole > 200, "the run is long enough to be stopped: {whole}");
    let idle = until_idle(&server).await;
    let answers = server.palette().reduce_palette(long_reduction()).await.unwrap();
    while server.polls() < idle + 10 {
        tokio::task::yield_now().await;
    }
    drop(answers);
    let at_cancel = server.polls();
    let burnt = until_idle(&server).await - at_cancel;
    assert!(burnt <= whole / 10, "{burnt} of {whole} after the cancel");
    server.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_cancelled_unary_call_stops_its_work_too() {
    let server = large().await;
    // Long enough that a tenth of it outlasts the way of a cancel on a busy machine.
    let request =
        || pb::SuggestMergesRequest { palette: Some(large_palette(2_500)), ..Default::default() };
    let before = server.polls();
    server.palette().suggest_merges(request()).await.unwrap();
    let whole = server.polls() - before;
    let idle = until_idle(&server).await;
    let mut client = server.palette();
    let call = tokio::spawn(async move { client.suggest_merges(request()).await });
    while server.polls() < idle + 10 {
        tokio::task::yield_now().await;
    }
    call.abort();
    let at_cancel = server.polls();
    let burnt = until_idle(&server).await - at_cancel;
    assert!(burnt <= whole / 10, "{burnt} of {whole} after the cancel");
    server.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_missed_deadline_is_called_so_and_stops_the_work() {
    let server = large().await;
    let whole = whole_work(&server).await;
    let idle = until_idle(&server).await;
    // The header alone: the client does not give up by itself, so the server has to say it.
    let mut request = Request::new(long_reduction());
    request.metadata_mut().insert("grpc-timeout", "50m".parse().unwrap());
    let answers = server.palette().reduce_palette(request).await;
    let last = match answers {
        Ok(answers) => {
            let mut answers = answers.into_inner();
            loop {
                match answers.message().await {
                    Ok(Some(_)) => {}
                    Ok(None) => panic!("done in 50 ms"),
                    Err(status) => break Err::<(), _>(status),
                }
            }
        }
        Err(status) => Err(status),
    };
    let at_end = server.polls();
    refused(last, Code::DeadlineExceeded, "DEADLINE_EXCEEDED");
    let burnt = until_idle(&server).await - at_end;
    assert!(burnt <= whole / 10, "{burnt} of {whole} after the deadline");
    assert!(at_end > idle, "the work had begun");
    server.stop().await;
}

/// Calls a method over bare HTTP/2: the client library would give up by itself before the server.
async fn raw_call(
    server: &TestServer,
    path: &str,
    timeout: &str,
    message: &impl Message,
) -> Status {
    let stream = TcpStream::connect(server.address()).await.unwrap();
    let (client, connection) = h2::client::handshake(stream).await.unwrap();
    tokio::spawn(connection);
    let request = http::Request::post(format!("http://{}{path}", server.address()))
        .header("content-type", "application/grpc")
        .header("te", "trailers")
        .header("grpc-timeout", timeout)
        .body(())
        .unwrap();
    let (answer, mut body) = client.ready().await.unwrap().send_request(request, false).unwrap();
    let bytes = message.encode_to_vec();
    let mut frame = vec![0];
    frame.extend(u32::try_from(bytes.len()).unwrap().to_be_bytes());
    frame.extend(bytes);
    body.send_data(frame.into(), true).unwrap();
    let answer = answer.await.unwrap();
    Status::from_header_map(answer.headers()).expect("a status without a message")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_missed_deadline_of_a_unary_call_is_no_cancellation() {
    let server = large().await;
    let palette = Some(large_palette(1_000));
    let request = pb::SuggestMergesRequest { palette, ..Default::default() };
    let path = "/dyekin.v1.PaletteService/SuggestMerges";
    let status = raw_call(&server, path, "30m", &request).await;
    let status = refused(Err::<(), _>(status), Code::DeadlineExceeded, "DEADLINE_EXCEEDED");
    let info = tonic_types::StatusExt::get_details_error_info(&status).unwrap();
    assert_eq!(info.metadata["timeout_millis"], "30");
    server.stop().await;
}

/// Two tables whose threads all carry the generation as their name.
fn generation(name: &str, count: usize) -> Catalog {
    Catalog::build([table("one", count, name), table("two", count + 1, name)])
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_reply_sees_one_whole_catalog_while_it_is_reloaded() {
    let server = Arc::new(TestServer::start(generation("old", 40)).await);
    let stop = Arc::new(AtomicBool::new(false));
    let swapping = {
        let (server, stop) = (Arc::clone(&server), Arc::clone(&stop));
        tokio::task::spawn_blocking(move || {
            let mut swaps = 0_u32;
            while !stop.load(Ordering::Relaxed) {
                let (name, count) = if swaps.is_multiple_of(2) { ("new", 60) } else { ("old", 40) };
                server.catalog().replace(generation(name, count));
                swaps += 1;
            }
            swaps
        })
    };
    let mut client = server.matching();
    let mut seen = std::collections::BTreeMap::<String, u32>::new();
    for _ in 0..500 {
        let mut request = match_one(hex("#4a6b3c"));
        request.queries.push(query(hex("#c0ffee")));
        request.options = Some(pb::MatchOptions { count: 30, ..Default::default() });
        let answer = client.match_colors(request).await.unwrap().into_inner();
        let matches = || answer.results.iter().flat_map(|result| &result.matches);
        let name = matches().next().unwrap().thread.as_ref().unwrap().name.clone();
        assert!(matches().all(|m| m.thread.as_ref().unwrap().name == name), "a mixed reply");
        let count = if name == "new" { 60 } else { 40 };
        let expected: Vec<String> = generation(&name, count)
            .tables()
            .iter()
            .map(|held| held.table().hash().to_string())
            .collect();
        let hashes: Vec<_> = answer.tables.iter().map(|v| v.content_hash.clone()).collect();
        assert_eq!(hashes, expected, "the versions are those of the matches");
        *seen.entry(name).or_default() += 1;
    }
    stop.store(true, Ordering::Relaxed);
    assert!(swapping.await.unwrap() > 10);
    assert_eq!(seen.len(), 2, "both generations answered: {seen:?}");
}

#[tokio::test]
async fn a_stream_keeps_the_tables_of_its_beginning() {
    use pb::stream_matches_request::Payload as Asked;
    use pb::stream_matches_response::Payload as Told;

    let server = TestServer::start(generation("old", 40)).await;
    let (asked, receiver) = tokio::sync::mpsc::channel(1);
    let send = async |payload| {
        asked.send(pb::StreamMatchesRequest { payload: Some(payload) }).await.unwrap();
    };
    send(Asked::Options(pb::MatchOptions::default())).await;
    let requests = tokio_stream::wrappers::ReceiverStream::new(receiver);
    let mut answers = server.matching().stream_matches(requests).await.unwrap().into_inner();
    answers.message().await.unwrap();
    server.catalog().replace(generation("new", 60));
    send(Asked::Query(query(hex("#4a6b3c")))).await;
    let answer = answers.message().await.unwrap().unwrap();
    let Some(Told::Result(result)) = answer.payload else { panic!("{answer:?}") };
    assert_eq!(result.matches[0].thread.as_ref().unwrap().name, "old");
    server.stop().await;
}

#[tokio::test]
async fn a_stop_drains_the_running_call() {
    let patient = Limits { drain: Duration::from_secs(30), ..limits() };
    let catalog = SharedCatalog::holding(Catalog::build([table("shelf", 2_000, "")]));
    let server = TestServer::start_with(patient, catalog).await;
    let mut client = server.palette();
    let before = server.polls();
    let call = tokio::spawn(async move {
        let answers = client.reduce_palette(long_reduction()).await.unwrap().into_inner();
        answers.collect::<Vec<_>>().await
    });
    while server.polls() == before {
        tokio::task::yield_now().await;
    }
    let (ended, messages) = tokio::join!(server.stop(), call);
    assert_eq!(ended, Ended::Drained);
    assert!(messages.unwrap().last().unwrap().is_ok());
}

#[tokio::test]
async fn a_stop_is_bounded_with_connections_that_never_spoke() {
    let quick = Limits { drain: Duration::from_millis(300), ..limits() };
    let catalog = SharedCatalog::holding(Catalog::default());
    let server = TestServer::start_with(quick, catalog).await;
    let mut mute = Vec::new();
    for place in 0..30 {
        let mut stream = TcpStream::connect(server.address()).await.unwrap();
        let words: &[u8] = match place % 3 {
            0 => b"",
            1 => b"PRI * HTTP/2.0\r\n\r\nS",
            // The whole preface and an empty SETTINGS frame, then silence.
            _ => b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\0\0\0\x04\0\0\0\0\0",
        };
        stream.write_all(words).await.unwrap();
        mute.push(stream);
    }
    let mut client = server.tables();
    client.list_tables(pb::ListTablesRequest::default()).await.unwrap();
    let begun = Instant::now();
    server.stop().await;
    assert!(begun.elapsed() < Duration::from_secs(2), "{:?}", begun.elapsed());
    drop(mute);
}

#[tokio::test]
async fn no_new_connection_is_taken_after_a_stop() {
    let server = TestServer::start(Catalog::default()).await;
    let address = server.address();
    server.stop().await;
    assert!(TcpStream::connect(address).await.is_err());
}
