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
    let request =
        pb::CompareTableVersionsRequest { page_size: 1_000_000, ..versions("two", "one") };
    let page = server.tables().compare_table_versions(request).await.unwrap().into_inner();
    assert_eq!(page.added_threads.len(), 10_000);
    assert!(!page.next_page_token.is_empty());
    server.stop().await;
}

/// Sizes and texts of what the pages hold, list by list, and how many pages there were.
async fn paged(
    server: &TestServer,
    request: pb::CompareTableVersionsRequest,
) -> (pb::CompareTableVersionsResponse, usize) {
    let mut request = request;
    let mut whole = pb::CompareTableVersionsResponse::default();
    let mut pages = 0;
    loop {
        let page = server.tables().compare_table_versions(request.clone()).await.unwrap();
        let page = page.into_inner();
        let entries = page.gone_threads.len()
            + page.added_threads.len()
            + page.recolored_threads.len()
            + page.renamed_threads.len()
            + page.restated_threads.len()
            + page.other_changes.len()
            + page.substitutions.len();
        assert!(entries <= usize::try_from(request.page_size).unwrap());
        pages += 1;
        request.page_token.clone_from(&page.next_page_token);
        whole.old_table = page.old_table;
        whole.new_table = page.new_table;
        whole.formula = page.formula;
        whole.shared_thread_count = page.shared_thread_count;
        whole.gone_threads.extend(page.gone_threads);
        whole.added_threads.extend(page.added_threads);
        whole.recolored_threads.extend(page.recolored_threads);
        whole.renamed_threads.extend(page.renamed_threads);
        whole.restated_threads.extend(page.restated_threads);
        whole.other_changes.extend(page.other_changes);
        whole.substitutions.extend(page.substitutions);
        if request.page_token.is_empty() {
            return (whole, pages);
        }
    }
}

#[tokio::test]
async fn pages_of_a_comparison_hold_what_the_whole_answer_holds() {
    let server = shelves().await;
    let whole = server.tables().compare_table_versions(versions("old", "new")).await.unwrap();
    let whole = whole.into_inner();
    for (page_size, wanted) in [(1, 80), (7, 12), (79, 2), (80, 1), (10_000, 1)] {
        let request = pb::CompareTableVersionsRequest { page_size, ..versions("old", "new") };
        let (found, pages) = paged(&server, request).await;
        assert_eq!((found, pages), (whole.clone(), wanted), "{page_size}");
    }
    server.stop().await;
}

#[tokio::test]
async fn pages_of_an_audit_hold_what_the_whole_answer_holds() {
    let server = shelves().await;
    let asked = || pb::AuditTableRequest { twin_delta_e: Some(12.0), ..audit("old") };
    let whole = server.tables().audit_table(asked()).await.unwrap().into_inner();
    let mut found =
        pb::AuditTableResponse { twins: vec![], swaps: vec![], gaps: vec![], ..whole.clone() };
    let mut request = pb::AuditTableRequest { page_size: 9, ..asked() };
    let mut pages = 0;
    loop {
        let page = server.tables().audit_table(request.clone()).await.unwrap().into_inner();
        assert!(page.twins.len() + page.swaps.len() + page.gaps.len() <= 9);
        assert_eq!((page.more_twins, page.plain_thread_count), (false, 40));
        found.twins.extend(page.twins);
        found.swaps.extend(page.swaps);
        found.gaps.extend(page.gaps);
        pages += 1;
        request.page_token.clone_from(&page.next_page_token);
        if request.page_token.is_empty() {
            break;
        }
    }
    assert!(pages > 3, "{pages}");
    assert_eq!(found, whole);
    server.stop().await;
}

#[tokio::test]
async fn a_token_belongs_to_its_request_and_its_tables() {
    let server = shelves().await;
    let request = pb::CompareTableVersionsRequest { page_size: 2, ..versions("old", "new") };
    let page = server.tables().compare_table_versions(request.clone()).await.unwrap();
    let page_token = page.into_inner().next_page_token;
    let other = |old: &str, new: &str| pb::CompareTableVersionsRequest {
        page_size: 2,
        page_token: page_token.clone(),
        ..versions(old, new)
    };
    let cat16 = pb::AdaptationMethod::Cat16.into();
    for foreign in [
        other("new", "old"),
        pb::CompareTableVersionsRequest { adaptation: cat16, ..other("old", "new") },
        pb::CompareTableVersionsRequest { page_token: "7a".into(), ..other("old", "new") },
    ] {
        let answer = server.tables().compare_table_versions(foreign).await;
        refused(answer, Code::InvalidArgument, "PAGE_TOKEN_INVALID");
    }
    let foreign = pb::AuditTableRequest { page_token, page_size: 2, ..audit("old") };
    refused(
        server.tables().audit_table(foreign).await,
        Code::InvalidArgument,
        "PAGE_TOKEN_INVALID",
    );
    let negative = pb::AuditTableRequest { page_size: -1, ..audit("old") };
    let answer = server.tables().audit_table(negative).await;
    refused_field(answer, Code::InvalidArgument, "VALUE_INVALID", "page_size");
    let negative = pb::CompareTableVersionsRequest { page_size: -1, ..versions("old", "new") };
    let answer = server.tables().compare_table_versions(negative).await;
    refused_field(answer, Code::InvalidArgument, "VALUE_INVALID", "page_size");
    server.stop().await;
}
