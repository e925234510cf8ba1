//! Reasons that no method's own test provokes, each over the wire, and the list of them all.

use dyekin_core::Catalog;
use dyekin_proto::v1 as pb;
use dyekin_server::SharedCatalog;
use dyekin_tests::server::{TestServer, limits, problems};
use dyekin_tests::threads::table;
use http::uri::PathAndQuery;
use tonic::{Code, Request, Status};

use super::{hex, large_palette, match_one, refused, refused_field, thread_ref};

async fn shelf() -> TestServer {
    TestServer::start(Catalog::build([table("shelf", 20, "")])).await
}

/// Calls any path with any message.
async fn call<M>(server: &TestServer, path: &'static str, message: M) -> Result<(), Status>
where
    M: prost::Message + Default + Send + Sync + 'static,
{
    let mut client = tonic::client::Grpc::new(server.channel());
    client.ready().await.unwrap();
    let codec = tonic_prost::ProstCodec::<M, M>::default();
    let path = PathAndQuery::from_static(path);
    client.unary(Request::new(message), path, codec).await.map(|_| ())
}

#[tokio::test]
async fn nothing_is_answered_before_the_catalog_is_loaded() {
    let server = TestServer::start_with(limits(), SharedCatalog::unloaded()).await;
    let answer = server.matching().match_colors(match_one(hex("#4a6b3c"))).await;
    refused(answer, Code::Unavailable, "CATALOG_NOT_LOADED");
    let answer = server.tables().list_tables(pb::ListTablesRequest::default()).await;
    refused(answer, Code::Unavailable, "CATALOG_NOT_LOADED");
    server.catalog().replace(Catalog::build([table("shelf", 20, "")]));
    let answer = server.matching().match_colors(match_one(hex("#4a6b3c"))).await;
    assert!(answer.is_ok(), "{answer:?}");
    server.stop().await;
}

#[tokio::test]
async fn an_unknown_table_is_answered_with_the_known_ones() {
    let server = shelf().await;
    let mut request = match_one(hex("#4a6b3c"));
    request.options =
        Some(pb::MatchOptions { table_ids: vec!["shelve".into()], ..Default::default() });
    let answer = server.matching().match_colors(request).await;
    let status = refused(answer, Code::NotFound, "THREAD_TABLE_NOT_FOUND");
    let listed = problems(&status);
    assert_eq!(listed.problems[0].metadata["table"], "shelve");
    assert_eq!(listed.problems[0].metadata["known_1"], "shelf");
    assert!(listed.problems[0].remedy.contains("shelf"));
    server.stop().await;
}

#[tokio::test]
async fn bad_codes_and_ids_are_named() {
    let server = shelf().await;
    let ask = |table: &str, code: &str| pb::MatchThreadsRequest {
        queries: vec![pb::ThreadQuery {
            thread: Some(thread_ref(table, code)),
            ..Default::default()
        }],
        ..Default::default()
    };
    let answer = server.matching().match_threads(ask("shelf", "  ")).await;
    refused_field(answer, Code::InvalidArgument, "CODE_INVALID", "queries[0].thread.code");
    let answer = server.matching().match_threads(ask("My Shelf", "t-1")).await;
    refused_field(answer, Code::InvalidArgument, "VALUE_INVALID", "queries[0].thread.table_id");
    server.stop().await;
}

#[tokio::test]
async fn hostile_text_comes_back_harmless_and_short() {
    let server = shelf().await;
    let text = format!("\u{1b}[31m\u{202e}{}", "x".repeat(100_000));
    let answer = server.matching().match_colors(match_one(hex(&text))).await;
    let status = refused(answer, Code::InvalidArgument, "COLOR_INVALID");
    assert!(!status.message().contains('\u{1b}') && !status.message().contains('\u{202e}'));
    assert!(status.details().len() < 6_000, "{}", status.details().len());
    server.stop().await;
}

#[tokio::test]
async fn unknown_methods_and_unreadable_messages_have_details_too() {
    let server = shelf().await;
    let message = pb::ListTablesRequest::default();
    let answer = call(&server, "/dyekin.v1.TableService/MeltTable", message.clone()).await;
    refused(answer, Code::Unimplemented, "METHOD_UNKNOWN");
    let answer = call(&server, "/dyekin.v1.WoolService/ListTables", message).await;
    assert_eq!(answer.unwrap_err().code(), Code::Unimplemented);
    // Field 1 of a color match is a message; a text that is none cannot be read as one.
    let text = pb::GetTableRequest { table_id: "\u{7f}\u{7f}".into(), ..Default::default() };
    let answer = call(&server, "/dyekin.v1.MatchingService/MatchColors", text).await;
    refused(answer, Code::InvalidArgument, "MESSAGE_UNREADABLE");
    server.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn work_beyond_the_queue_is_refused_at_once() {
    let one = dyekin_server::Limits { workers: 1, ..limits() };
    let catalog = SharedCatalog::holding(Catalog::build([table("shelf", 4_000, "")]));
    let server = TestServer::start_with(one, catalog).await;
    let client = server.palette();
    let mut calls = tokio::task::JoinSet::new();
    for _ in 0..80 {
        let mut client = client.clone();
        let palette = Some(large_palette(1_500));
        let request = pb::SuggestMergesRequest { palette, ..Default::default() };
        calls.spawn(async move { client.suggest_merges(request).await });
    }
    // One runs and 64 wait; of the others the answer comes first.
    let first = calls.join_next().await.unwrap().unwrap();
    let status = refused(first, Code::ResourceExhausted, "SERVER_BUSY");
    let delay = tonic_types::StatusExt::get_details_retry_info(&status).unwrap().retry_delay;
    assert!(delay.is_some_and(|delay| !delay.is_zero()));
    server.stop().await;
}

/// Reasons of the contract that cannot be provoked from outside, with where they are tested.
const INSIDE: [(&str, &str); 2] = [
    ("INTERNAL", "server/src/grpc/guard.rs"),
    // Whoever went away hears nothing.
    ("WORK_STOPPED", "server/src/grpc/status.rs"),
];

#[test]
fn every_reason_of_the_contract_is_provoked_here_and_none_is_missing_there() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let contract = std::fs::read_to_string(root.join("proto/dyekin/v1/problem.proto")).unwrap();
    let stated: std::collections::BTreeSet<&str> = contract
        .lines()
        .filter_map(|line| line.strip_prefix("// `")?.split_once("`:").map(|(reason, _)| reason))
        .collect();
    assert!(stated.len() >= 20, "{stated:?}");
    let code = std::fs::read_to_string(root.join("server/src/grpc/status.rs")).unwrap();
    let known: std::collections::BTreeSet<&str> = code
        .split('"')
        .filter(|text| text.len() > 7 && text.bytes().all(|b| b.is_ascii_uppercase() || b == b'_'))
        .collect();
    assert_eq!(stated, known, "the contract's reasons and the server's");
    let mut tests = String::new();
    for entry in std::fs::read_dir(root.join("tests/it/service")).unwrap() {
        tests.push_str(&std::fs::read_to_string(entry.unwrap().path()).unwrap());
    }
    for reason in stated {
        let inside = INSIDE.iter().find(|(name, _)| *name == reason);
        let text = match inside {
            Some((_, file)) => std::fs::read_to_string(root.join(file)).unwrap(),
            None => tests.clone(),
        };
        let quoted = format!("\"{reason}\"");
        // Where the reason is made and tested in one file it stands there twice.
        let least = if inside.is_some_and(|(_, file)| file.ends_with("status.rs")) { 2 } else { 1 };
        assert!(text.matches(quoted.as_str()).count() >= least, "{reason} is not tested");
    }
}
