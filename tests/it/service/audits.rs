//! `AuditTable` and `CompareTableVersions` over the wire.

use std::time::{Duration, Instant};

use dyekin_core::Catalog;
use dyekin_proto::v1 as pb;
use dyekin_tests::server::TestServer;
use dyekin_tests::threads::table;
use tonic::{Code, Request};

use super::{refused, refused_field};

async fn shelves() -> TestServer {
    TestServer::start(Catalog::build([table("old", 40, "Reed"), table("new", 30, "Rush")])).await
}

fn audit(table_id: &str) -> pb::AuditTableRequest {
    pb::AuditTableRequest { table_id: table_id.into(), ..Default::default() }
}

fn versions(old: &str, new: &str) -> pb::CompareTableVersionsRequest {
    pb::CompareTableVersionsRequest {
        old_table_id: old.into(),
        new_table_id: new.into(),
        ..Default::default()
    }
}

#[tokio::test]
async fn an_audit_names_table_formula_and_what_was_found() {
    let server = shelves().await;
    let request = pb::AuditTableRequest { twin_delta_e: Some(12.0), ..audit("old") };
    let found = server.tables().audit_table(request).await.unwrap().into_inner();
    let version = found.table.unwrap();
    assert_eq!((version.table_id.as_str(), version.content_hash.len()), ("old", 64));
    assert_eq!(found.formula.unwrap().kind(), pb::FormulaKind::Ciede2000);
    assert!(!found.twins.is_empty());
    let far = |difference: &Option<pb::Difference>| difference.as_ref().unwrap().delta_e;
    assert!(found.twins.iter().all(|twins| far(&twins.difference) <= 12.0));
    assert!(!found.gaps.is_empty() && !found.more_gaps);
    assert!(found.gaps.iter().all(|gap| far(&gap.difference) > 10.0));
    assert_eq!(found.plain_thread_count, 40);
    server.stop().await;
}

#[tokio::test]
async fn versions_are_compared_thread_by_thread() {
    let server = shelves().await;
    let found = server.tables().compare_table_versions(versions("old", "new")).await.unwrap();
    let found = found.into_inner();
    assert_eq!(found.old_table.unwrap().table_id, "old");
    assert_eq!(found.new_table.unwrap().table_id, "new");
    assert_eq!((found.shared_thread_count, found.gone_threads.len()), (30, 10));
    assert_eq!((found.recolored_threads.len(), found.renamed_threads.len()), (30, 30));
    assert!(found.added_threads.is_empty() && found.restated_threads.is_empty());
    assert_eq!(found.substitutions.len(), 10);
    assert!(found.substitutions.iter().all(|change| change.gone));
    let same = server.tables().compare_table_versions(versions("old", "old")).await.unwrap();
    let same = same.into_inner();
    assert_eq!((same.shared_thread_count, same.substitutions.len()), (40, 0));
    server.stop().await;
}

#[tokio::test]
async fn bad_numbers_and_unknown_tables_are_refused() {
    let server = shelves().await;
    for number in [-1.0, f64::NAN] {
        let request = pb::AuditTableRequest { gap_delta_e: Some(number), ..audit("old") };
        let answer = server.tables().audit_table(request).await;
        refused_field(answer, Code::InvalidArgument, "VALUE_INVALID", "gap_delta_e");
        let request = pb::AuditTableRequest { twin_delta_e: Some(number), ..audit("old") };
        let answer = server.tables().audit_table(request).await;
        refused_field(answer, Code::InvalidArgument, "VALUE_INVALID", "twin_delta_e");
    }
    let answer = server.tables().audit_table(audit("Not an id")).await;
    refused_field(answer, Code::InvalidArgument, "VALUE_INVALID", "table_id");
    let answer = server.tables().audit_table(audit("nowhere")).await;
    refused(answer, Code::NotFound, "THREAD_TABLE_NOT_FOUND");
    let answer = server.tables().compare_table_versions(versions("old", "")).await;
    refused_field(answer, Code::InvalidArgument, "VALUE_INVALID", "new_table_id");
    let answer = server.tables().compare_table_versions(versions("nowhere", "new")).await;
    refused(answer, Code::NotFound, "THREAD_TABLE_NOT_FOUND");
    server.stop().await;
}

#[tokio::test]
async fn a_deadline_stops_the_work() {
    let server = TestServer::start(Catalog::build([table("long", 60_000, "")])).await;
    let mut request =
        Request::new(pb::AuditTableRequest { twin_delta_e: Some(9.0), ..audit("long") });
    request.set_timeout(Duration::from_millis(50));
    let begun = Instant::now();
    let status = server.tables().audit_table(request).await.expect_err("a refusal");
    assert!([Code::DeadlineExceeded, Code::Cancelled].contains(&status.code()), "{status:?}");
    assert!(begun.elapsed() < Duration::from_secs(5), "{:?}", begun.elapsed());
    server.stop().await;
}

#[tokio::test]
async fn an_answer_that_is_too_large_is_refused() {
    let server =
        TestServer::start(Catalog::build([table("one", 60_000, "Reed"), table("two", 1, "")]))
            .await;
    let answer = server.tables().compare_table_versions(versions("two", "one")).await;
    refused(answer, Code::ResourceExhausted, "LIMIT_EXCEEDED");
    server.stop().await;
}
