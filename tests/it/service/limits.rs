//! Every limit of the contract: the most that fits, and one more.

use dyekin_core::Catalog;
use dyekin_proto::v1 as pb;
use dyekin_server::{Limits, MAX_QUESTION_BYTES, MAX_STREAMS, MAX_TABLE_BYTES, SharedCatalog};
use dyekin_tests::server::{TestServer, limits, problems};
use dyekin_tests::threads::table;
use tonic::{Code, Status};

use super::{hex, large_palette, match_one, palette, query, refused, thread_ref};

async fn shelf() -> TestServer {
    TestServer::start(Catalog::build([table("shelf", 20, "")])).await
}

/// Asserts that a limit was met by this much at this field.
#[track_caller]
fn over<T: std::fmt::Debug>(answer: Result<T, Status>, limit: usize, field: &str) {
    let status = refused(answer, Code::ResourceExhausted, "LIMIT_EXCEEDED");
    let listed = problems(&status);
    let problem = &listed.problems[0];
    assert_eq!(problem.metadata["found"], (limit + 1).to_string());
    assert_eq!(problem.metadata["limit"], limit.to_string());
    assert_eq!(problem.place.as_ref().map(|place| place.field.as_str()), Some(field));
}

async fn match_with(
    server: &TestServer,
    queries: usize,
    options: pb::MatchOptions,
) -> Result<usize, Status> {
    let queries = vec![query(hex("#4a6b3c")); queries];
    let request = pb::MatchColorsRequest { queries, options: Some(options) };
    let answer = server.matching().match_colors(request).await?;
    Ok(answer.into_inner().results.len())
}

fn count(count: i32) -> pb::MatchOptions {
    pb::MatchOptions { count, ..Default::default() }
}

#[tokio::test]
async fn queries_and_matches_have_a_limit() {
    let server = shelf().await;
    assert_eq!(match_with(&server, 1_000, count(5)).await.unwrap(), 1_000);
    over(match_with(&server, 1_001, count(1)).await, 1_000, "queries");
    assert_eq!(match_with(&server, 5, count(1_000)).await.unwrap(), 5);
    refused(match_with(&server, 1, count(1_001)).await, Code::InvalidArgument, "VALUE_INVALID");
    let answer = match_with(&server, 1_000, count(6)).await;
    refused(answer, Code::ResourceExhausted, "LIMIT_EXCEEDED");
    refused(match_with(&server, 0, count(1)).await, Code::InvalidArgument, "VALUE_INVALID");
    server.stop().await;
}

#[tokio::test]
async fn names_in_a_request_have_a_limit() {
    let server = shelf().await;
    let table_ids =
        |count| pb::MatchOptions { table_ids: vec!["shelf".into(); count], ..Default::default() };
    assert!(match_with(&server, 1, table_ids(100)).await.is_ok());
    over(match_with(&server, 1, table_ids(101)).await, 100, "options.table_ids");
    let filter = |filter| pb::MatchOptions { filter: Some(filter), ..Default::default() };
    let fibers = |count| {
        filter(pb::ThreadFilter { fibers: vec!["silk".into(); count], ..Default::default() })
    };
    assert!(match_with(&server, 1, fibers(100)).await.is_ok());
    over(match_with(&server, 1, fibers(101)).await, 100, "options.filter.fibers");
    let excluded = |count| {
        filter(pb::ThreadFilter {
            excluded_threads: vec![thread_ref("shelf", "t-1"); count],
            ..Default::default()
        })
    };
    assert!(match_with(&server, 1, excluded(10_000)).await.is_ok());
    let answer = match_with(&server, 1, excluded(10_001)).await;
    over(answer, 10_000, "options.filter.excluded_threads");
    let mut request = match_one(hex("#4a6b3c"));
    request.queries[0].query_id = "é".repeat(64);
    assert!(server.matching().match_colors(request.clone()).await.is_ok());
    request.queries[0].query_id.push('é');
    over(server.matching().match_colors(request).await, 64, "queries[0].query_id");
    server.stop().await;
}

#[tokio::test]
async fn pairs_have_a_limit() {
    let server = shelf().await;
    let pair = pb::ColorPair { standard: Some(hex("#000000")), sample: Some(hex("#ffffff")) };
    let request =
        |count| pb::CompareColorsRequest { pairs: vec![pair.clone(); count], ..Default::default() };
    let answer = server.matching().compare_colors(request(1_000)).await.unwrap().into_inner();
    assert_eq!(answer.comparisons.len(), 1_000);
    over(server.matching().compare_colors(request(1_001)).await, 1_000, "pairs");
    server.stop().await;
}

#[tokio::test]
async fn palettes_have_a_limit() {
    let server = shelf().await;
    let convert = async |summary| {
        let request = pb::ConvertPaletteRequest {
            palette: Some(summary),
            options: None,
            ..pb::ConvertPaletteRequest::default()
        };
        server.palette().convert_palette(request).await
    };
    assert!(convert(large_palette(4_096)).await.is_ok());
    over(convert(large_palette(4_097)).await, 4_096, "palette.colors");
    let pair = |place: usize| pb::NeighborPair {
        first_index: 0,
        second: Some(pb::neighbor_pair::Second::SecondIndex(
            i32::try_from(1 + place % 3_000).unwrap(),
        )),
        edge_count: 1,
    };
    let mut summary = large_palette(3_001);
    summary.neighbors = Some(pb::NeighborList { pairs: (0..200_001).map(pair).collect() });
    over(convert(summary).await, 200_000, "palette.neighbors");
    let mut summary = palette([("#4a6b3c", 5)]);
    summary.colors[0].threads = vec![thread_ref("shelf", "t-1"); 3];
    over(convert(summary).await, 2, "palette.colors[0].threads");
    let mut summary = palette([("#4a6b3c", 5)]);
    summary.colors[0].area = "a".repeat(65);
    over(convert(summary).await, 64, "palette.colors[0].area");
    let keep = pb::Keep { subject: Some(pb::keep::Subject::ColorIndex(0)) };
    let options = pb::PaletteOptions { keeps: vec![keep; 4_097], ..Default::default() };
    let request = pb::ConvertPaletteRequest {
        palette: Some(palette([("#4a6b3c", 5)])),
        options: Some(options),
        ..pb::ConvertPaletteRequest::default()
    };
    over(server.palette().convert_palette(request).await, 4_096, "options.keeps");
    server.stop().await;
}

#[tokio::test]
async fn the_largest_palette_with_all_its_neighbors_fits_into_a_message() {
    let server = shelf().await;
    let mut summary = large_palette(4_096);
    let pair = |place: i32| pb::NeighborPair {
        first_index: 4_000 + place % 90,
        second: Some(pb::neighbor_pair::Second::SecondIndex(place % 4_000)),
        edge_count: 1 << 20,
    };
    summary.neighbors = Some(pb::NeighborList { pairs: (0..200_000).map(pair).collect() });
    let request = pb::ConvertPaletteRequest {
        palette: Some(summary),
        options: None,
        ..pb::ConvertPaletteRequest::default()
    };
    let list = server.palette().convert_palette(request).await.unwrap().into_inner();
    assert!(list.change_list.unwrap().edges.is_some());
    server.stop().await;
}

#[tokio::test]
async fn a_message_has_a_limit() {
    let server = shelf().await;
    let mut request = match_one(hex("#4a6b3c"));
    request.queries[0].query_id = "x".repeat(MAX_QUESTION_BYTES);
    let answer = server.matching().match_colors(request).await;
    refused(answer, Code::ResourceExhausted, "MESSAGE_TOO_LARGE");
    server.stop().await;
}

#[tokio::test]
async fn a_table_file_has_a_limit() {
    let server = shelf().await;
    let header = pb::ImportTableHeader { table_id: "large".into(), ..Default::default() };
    let first = pb::import_table_request::Payload::Header(header);
    let chunk = || pb::import_table_request::Payload::Chunk(vec![b'\n'; 1 << 20]);
    let last = pb::import_table_request::Payload::Chunk(vec![b'\n']);
    let payloads = std::iter::once(first)
        .chain(std::iter::repeat_with(chunk).take(MAX_TABLE_BYTES >> 20))
        .chain([last]);
    let messages: Vec<_> =
        payloads.map(|payload| pb::ImportTableRequest { payload: Some(payload) }).collect();
    let answer = server.tables().import_table(tokio_stream::iter(messages)).await;
    let status = refused(answer, Code::ResourceExhausted, "LIMIT_EXCEEDED");
    assert_eq!(problems(&status).problems[0].metadata["found"], (MAX_TABLE_BYTES + 1).to_string());
    server.stop().await;
}

#[tokio::test]
async fn a_connection_has_a_limit_of_open_streams() {
    let server = shelf().await;
    let mut client = server.matching();
    let mut open = Vec::new();
    let begin =
        async |client: &mut dyekin_proto::v1::matching_service_client::MatchingServiceClient<_>| {
            let (asked, receiver) = tokio::sync::mpsc::channel(1);
            let options = pb::stream_matches_request::Payload::Options(count(1));
            asked.send(pb::StreamMatchesRequest { payload: Some(options) }).await.unwrap();
            let requests = tokio_stream::wrappers::ReceiverStream::new(receiver);
            (asked, client.stream_matches(requests).await.unwrap().into_inner())
        };
    for _ in 0..MAX_STREAMS {
        open.push(begin(&mut client).await);
    }
    let mut waiting = tokio_test::task::spawn(async move { begin(&mut client).await });
    // Polled until the connection has surely heard of it: a call over another connection is done.
    for _ in 0..20 {
        assert!(waiting.poll().is_pending(), "one stream more than the limit");
        server.matching().match_colors(match_one(hex("#4a6b3c"))).await.unwrap();
    }
    open.pop();
    let (_asked, mut answers) = waiting.await;
    assert!(answers.message().await.unwrap().is_some());
    drop(open);
    server.stop().await;
}

#[tokio::test]
async fn connections_beyond_the_limit_wait_and_silent_ones_are_closed() {
    use tokio::io::AsyncReadExt;
    use tokio::net::TcpStream;

    let limits =
        Limits { connections: 2, first_bytes: std::time::Duration::from_millis(300), ..limits() };
    let catalog = SharedCatalog::holding(Catalog::build([table("shelf", 20, "")]));
    let server = TestServer::start_with(limits, catalog).await;
    let mut silent = TcpStream::connect(server.address()).await.unwrap();
    let mut half = TcpStream::connect(server.address()).await.unwrap();
    tokio::io::AsyncWriteExt::write_all(&mut half, b"PRI * HTTP/2.0\r\n").await.unwrap();
    // Both slots are taken by connections that never speak; the call waits until they are closed.
    let answer = server.matching().match_colors(match_one(hex("#4a6b3c"))).await;
    assert!(answer.is_ok(), "{answer:?}");
    let mut bytes = Vec::new();
    for stream in [&mut silent, &mut half] {
        // A reset and an end are both a close.
        let _ = stream.read_to_end(&mut bytes).await;
    }
    server.stop().await;
}
