//! `SuggestBlends` over the wire.

use std::time::{Duration, Instant};

use dyekin_core::{Catalog, Conditions};
use dyekin_proto::v1 as pb;
use dyekin_proto::v1::blend_query::Subject;
use dyekin_tests::server::TestServer;
use dyekin_tests::threads::{measured, table};
use tonic::{Code, Request};

use super::{hex, meter, refused, refused_field, thread_ref};

async fn shelf() -> TestServer {
    let catalog = Catalog::build([
        table("shelf", 120, "screen"),
        measured("lab", Conditions::TEXTILE),
        table("single", 1, ""),
    ]);
    TestServer::start(catalog).await
}

fn asking(subjects: impl IntoIterator<Item = Subject>) -> pb::SuggestBlendsRequest {
    let query = |subject| pb::BlendQuery { subject: Some(subject), query_id: String::new() };
    let queries = subjects.into_iter().map(query).collect();
    pb::SuggestBlendsRequest { queries, options: of("shelf", 4), parts: Vec::new() }
}

fn of(table: &str, count: i32) -> Option<pb::MatchOptions> {
    Some(pb::MatchOptions { table_ids: vec![table.into()], count, ..Default::default() })
}

fn far(mixed: Option<&pb::MixedColor>) -> f64 {
    mixed.unwrap().difference.as_ref().unwrap().delta_e
}

#[tokio::test]
async fn colors_get_their_nearest_mixes_in_order_with_the_range() {
    let server = shelf().await;
    let mut request = asking([Subject::Color(hex("#4a6b3c")), Subject::Color(hex("#c8a020"))]);
    request.queries[1].query_id = "second".into();
    let answer = server.matching().suggest_blends(request).await.unwrap().into_inner();
    assert_eq!(answer.formula.unwrap().kind(), pb::FormulaKind::Ciede2000);
    assert_eq!(answer.tables[0].table_id, "shelf");
    assert_eq!(answer.results.len(), 2);
    assert_eq!(answer.results[1].query_id, "second");
    for result in &answer.results {
        assert_eq!(result.blends.len(), 4);
        assert!(result.problem.is_none() && result.beyond_limit.is_none());
        let estimates = result.blends.iter().map(|blend| far(blend.estimate.as_ref()));
        assert!(estimates.is_sorted());
        let alone = result.nearest_thread.as_ref().unwrap();
        assert_eq!(alone.table_id, "shelf");
        for blend in &result.blends {
            let [first, second] =
                [&blend.first_thread, &blend.second_thread].map(|thread| thread.as_ref().unwrap());
            assert_ne!(first.code, second.code);
            let light = |thread: &pb::Thread| {
                thread.color.as_ref().unwrap().computed_lab.as_ref().unwrap().l
            };
            assert_eq!(blend.speckle, (light(first) - light(second)).abs() > 10.0);
            let [n1, n2] = [&blend.estimate, &blend.full_spread].map(|mix| mix.as_ref().unwrap());
            assert!(n2.lab.as_ref().unwrap().l <= n1.lab.as_ref().unwrap().l + 1e-9);
            assert_eq!(n1.screen_hex.len(), 7);
            let difference = n1.difference.as_ref().unwrap();
            assert_eq!(difference.trust(), pb::Trust::Rough);
            assert!(!difference.band.is_empty());
        }
    }
    server.stop().await;
}

#[tokio::test]
async fn a_thread_takes_no_part_in_its_own_blends() {
    let server = shelf().await;
    let mut request = asking([
        Subject::Thread(thread_ref("shelf", "t-7")),
        Subject::Thread(thread_ref("shelf", "t-777")),
    ]);
    request.options = of("shelf", 900);
    let answer = server.matching().suggest_blends(request).await.unwrap().into_inner();
    let codes = answer.results[0].blends.iter().flat_map(|blend| {
        [&blend.first_thread, &blend.second_thread].map(|thread| &thread.as_ref().unwrap().code)
    });
    assert_eq!(answer.results[0].blends.len(), 900);
    assert!(codes.clone().all(|code| code != "t-7"));
    let alone = answer.results[0].nearest_thread.as_ref().unwrap();
    assert_ne!(alone.thread.as_ref().unwrap().code, "t-7");
    let problem = answer.results[1].problem.as_ref().unwrap();
    assert_eq!(problem.reason, "THREAD_NOT_FOUND");
    server.stop().await;
}

#[tokio::test]
async fn strands_and_limits_hold() {
    let server = shelf().await;
    let mut request = asking([Subject::Color(hex("#4a6b3c"))]);
    request.parts = vec![pb::BlendParts::TwoAndOne.into()];
    let answer = server.matching().suggest_blends(request.clone()).await.unwrap().into_inner();
    let parts = answer.results[0].blends.iter().map(pb::Blend::parts);
    assert!(parts.clone().all(|parts| parts == pb::BlendParts::TwoAndOne));
    request.options.as_mut().unwrap().max_delta_e = Some(0.0);
    let answer = server.matching().suggest_blends(request).await.unwrap().into_inner();
    assert!(answer.results[0].blends.is_empty());
    assert!(far(answer.results[0].beyond_limit.as_ref().unwrap().estimate.as_ref()) > 0.0);
    let alone = asking([Subject::Color(hex("#4a6b3c"))]);
    let alone = pb::SuggestBlendsRequest { options: of("single", 3), ..alone };
    let answer = server.matching().suggest_blends(alone).await.unwrap().into_inner();
    let result = &answer.results[0];
    assert!(result.blends.is_empty() && result.beyond_limit.is_none());
    assert!(result.nearest_thread.is_some() && result.problem.is_none());
    server.stop().await;
}

#[tokio::test]
async fn another_light_is_refused_in_the_result_or_adapted_on_request() {
    let server = shelf().await;
    let mut request = asking([
        Subject::Color(meter(40.0, pb::Illuminant::A)),
        Subject::Color(meter(40.0, pb::Illuminant::D65)),
    ]);
    request.options = of("lab", 1);
    let answer = server.matching().suggest_blends(request.clone()).await.unwrap().into_inner();
    assert_eq!(answer.results[0].problem.as_ref().unwrap().reason, "CONDITIONS_DIFFER");
    assert_eq!(answer.results[1].blends.len(), 1);
    request.options.as_mut().unwrap().adaptation = pb::AdaptationMethod::Cat16.into();
    let answer = server.matching().suggest_blends(request).await.unwrap().into_inner();
    let estimate = answer.results[0].blends[0].estimate.as_ref().unwrap();
    let difference = estimate.difference.as_ref().unwrap();
    assert_eq!(difference.trust(), pb::Trust::Adapted);
    assert_eq!(difference.adaptation(), pb::AdaptationMethod::Cat16);
    assert_eq!(difference.standard_conditions.unwrap().illuminant(), pb::Illuminant::D65);
    server.stop().await;
}

#[tokio::test]
async fn hostile_requests_are_refused_with_their_field() {
    let server = shelf().await;
    let color = || Subject::Color(hex("#4a6b3c"));
    let many = |count: usize| asking((0..count).map(|_| color()));
    let mut no_subject = many(1);
    no_subject.queries[0].subject = None;
    let parts = |parts: &[i32]| pb::SuggestBlendsRequest { parts: parts.to_vec(), ..many(1) };
    let counted = |queries: usize, count: i32| pb::SuggestBlendsRequest {
        options: of("shelf", count),
        ..many(queries)
    };
    let mut odd_limit = many(1);
    odd_limit.options.as_mut().unwrap().max_delta_e = Some(f64::NAN);
    let long = pb::BlendQuery { subject: Some(color()), query_id: "x".repeat(65) };
    let mut labelled = many(1);
    labelled.queries[0] = long;
    for (request, field, code, reason) in [
        (many(0), "queries", Code::InvalidArgument, "VALUE_INVALID"),
        (many(101), "queries", Code::ResourceExhausted, "LIMIT_EXCEEDED"),
        (no_subject, "queries[0]", Code::InvalidArgument, "VALUE_INVALID"),
        (parts(&[1, 1]), "parts[1]", Code::InvalidArgument, "VALUE_INVALID"),
        (parts(&[2, 0]), "parts[1]", Code::InvalidArgument, "VALUE_INVALID"),
        (parts(&[-7]), "parts[0]", Code::InvalidArgument, "VALUE_INVALID"),
        (counted(1, -1), "options.count", Code::InvalidArgument, "VALUE_INVALID"),
        (counted(3, 700), "options.count", Code::ResourceExhausted, "LIMIT_EXCEEDED"),
        (odd_limit, "options.max_delta_e", Code::InvalidArgument, "VALUE_INVALID"),
        (labelled, "queries[0].query_id", Code::ResourceExhausted, "LIMIT_EXCEEDED"),
        (
            asking([Subject::Color(hex("#12345"))]),
            "queries[0].color.hex",
            Code::InvalidArgument,
            "COLOR_INVALID",
        ),
        (
            asking([Subject::Thread(thread_ref("shelf", ""))]),
            "queries[0].thread.code",
            Code::InvalidArgument,
            "CODE_INVALID",
        ),
    ] {
        refused_field(server.matching().suggest_blends(request).await, code, reason, field);
    }
    let nowhere = pb::SuggestBlendsRequest { options: of("nowhere", 1), ..many(1) };
    let answer = server.matching().suggest_blends(nowhere).await;
    refused(answer, Code::NotFound, "THREAD_TABLE_NOT_FOUND");
    server.stop().await;
}

#[tokio::test]
async fn too_many_threads_are_refused_and_a_deadline_stops_the_work() {
    let catalog = Catalog::build([table("huge", 4_001, ""), table("large", 4_000, "")]);
    let server = TestServer::start(catalog).await;
    let color = || Subject::Color(hex("#4a6b3c"));
    let huge = pb::SuggestBlendsRequest { options: of("huge", 1), ..asking([color()]) };
    let answer = server.matching().suggest_blends(huge).await;
    refused(answer, Code::ResourceExhausted, "LIMIT_EXCEEDED");
    let long = asking((0..100).map(|_| color()));
    let mut request = Request::new(pb::SuggestBlendsRequest { options: of("large", 20), ..long });
    request.set_timeout(Duration::from_millis(60));
    let begun = Instant::now();
    let status = server.matching().suggest_blends(request).await.expect_err("a refusal");
    assert!([Code::DeadlineExceeded, Code::Cancelled].contains(&status.code()), "{status:?}");
    assert!(begun.elapsed() < Duration::from_secs(5), "{:?}", begun.elapsed());
    server.stop().await;
}
