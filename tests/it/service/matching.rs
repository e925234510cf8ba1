//! `MatchingService` over the wire.

use dyekin_core::{Catalog, Conditions};
use dyekin_proto::v1 as pb;
use dyekin_proto::v1::stream_matches_request::Payload as Asked;
use dyekin_proto::v1::stream_matches_response::Payload as Told;
use dyekin_tests::server::TestServer;
use dyekin_tests::threads::{measured, table};
use tokio_stream::StreamExt;
use tonic::Code;

use super::{hex, match_one, meter, query, refused, refused_field, thread_ref};

async fn shelf() -> TestServer {
    let catalog = Catalog::build([
        table("shelf", 200, "screen"),
        measured("lab", Conditions::TEXTILE),
        table("drawer", 50, "screen"),
    ]);
    TestServer::start(catalog).await
}

fn of(tables: &[&str], count: i32) -> Option<pb::MatchOptions> {
    let table_ids = tables.iter().map(|&id| id.into()).collect();
    Some(pb::MatchOptions { table_ids, count, ..Default::default() })
}

#[tokio::test]
async fn colors_get_their_nearest_threads_in_order() {
    let server = shelf().await;
    let mut request = match_one(hex("#4a6b3c"));
    request.queries.push(pb::ColorQuery { query_id: "second".into(), ..query(hex("#ffffff")) });
    request.options = of(&["shelf", "drawer"], 3);
    let answer = server.matching().match_colors(request).await.unwrap().into_inner();
    assert_eq!(answer.results.len(), 2);
    assert_eq!(answer.results[1].query_id, "second");
    let ids: Vec<_> = answer.tables.iter().map(|version| version.table_id.as_str()).collect();
    assert_eq!(ids, ["drawer", "shelf"]);
    assert!(answer.tables.iter().all(|version| version.content_hash.len() == 64));
    let formula = answer.formula.unwrap();
    assert_eq!(formula.kind(), pb::FormulaKind::Ciede2000);
    assert_eq!(formula.lightness_factor, Some(1.0));
    for result in &answer.results {
        assert_eq!(result.matches.len(), 3);
        let differences: Vec<f64> =
            result.matches.iter().map(|m| m.difference.as_ref().unwrap().delta_e).collect();
        assert!(differences.is_sorted(), "{differences:?}");
    }
    server.stop().await;
}

#[tokio::test]
async fn a_match_says_all_about_thread_and_difference() {
    let server = shelf().await;
    let mut request = match_one(meter(31.0, pb::Illuminant::D65));
    request.options = of(&["lab"], 1);
    let answer = server.matching().match_colors(request).await.unwrap().into_inner();
    let found = &answer.results[0].matches[0];
    assert_eq!(
        (found.table_id.as_str(), found.thread.as_ref().unwrap().code.as_str()),
        ("lab", "m-1")
    );
    let color = found.thread.as_ref().unwrap().color.as_ref().unwrap();
    assert_eq!(color.origin(), pb::Origin::Meter);
    assert_eq!(color.conditions.unwrap().observer(), pb::Observer::TenDegree);
    assert!(matches!(color.value, Some(pb::color::Value::Lab(_))));
    assert_eq!(color.screen_hex.len(), 7);
    let difference = found.difference.as_ref().unwrap();
    assert_eq!(difference.trust(), pb::Trust::Measured);
    assert!((difference.lightness + 1.0).abs() < 1e-12, "{difference:?}");
    assert_eq!(difference.description, "slightly darker");
    assert_eq!(difference.standard_conditions, difference.sample_conditions);
    server.stop().await;
}

#[tokio::test]
async fn none_within_the_limit_names_the_nearest_beyond() {
    let server = shelf().await;
    let mut request = match_one(hex("#4a6b3c"));
    request.options = of(&["shelf"], 1);
    request.options.as_mut().unwrap().max_delta_e = Some(0.0);
    let answer = server.matching().match_colors(request).await.unwrap().into_inner();
    let result = &answer.results[0];
    assert!(result.matches.is_empty());
    assert!(result.beyond_limit.as_ref().unwrap().difference.as_ref().unwrap().delta_e > 0.0);
    server.stop().await;
}

#[tokio::test]
async fn a_query_under_other_conditions_has_its_problem_in_its_own_result() {
    let server = shelf().await;
    let mut request = match_one(meter(31.0, pb::Illuminant::A));
    request.queries.push(query(hex("#4a6b3c")));
    request.options = of(&["lab"], 1);
    let answer = server.matching().match_colors(request).await.unwrap().into_inner();
    let problem = answer.results[0].problem.as_ref().unwrap();
    assert_eq!(problem.reason, "CONDITIONS_DIFFER");
    assert_eq!(problem.metadata["standard"], "A/10°");
    assert_eq!(problem.metadata["sample"], "D65/10°");
    assert!(answer.results[1].problem.is_none());
    assert_eq!(answer.results[1].matches.len(), 1);
    server.stop().await;
}

#[tokio::test]
async fn every_bad_field_of_a_request_is_named_at_once() {
    let server = shelf().await;
    let mut request = match_one(hex("#12345"));
    request.queries.push(query(pb::Color::default()));
    request.queries.push(pb::ColorQuery::default());
    request.options = Some(pb::MatchOptions { count: -1, ..Default::default() });
    let status = refused_field(
        server.matching().match_colors(request).await,
        Code::InvalidArgument,
        "COLOR_INVALID",
        "queries[0].color.hex",
    );
    let listed = dyekin_tests::server::problems(&status).problems;
    let fields: Vec<_> = listed.iter().map(|p| p.place.as_ref().unwrap().field.as_str()).collect();
    let expected =
        ["queries[0].color.hex", "queries[1].color", "queries[2].color", "options.count"];
    assert_eq!(fields, expected);
    assert_eq!(listed[0].value, "#12345");
    assert!(!listed[0].remedy.is_empty());
    server.stop().await;
}

#[tokio::test]
async fn a_lab_color_without_its_white_is_refused() {
    let server = shelf().await;
    let bare = pb::Color { conditions: None, ..meter(50.0, pb::Illuminant::D65) };
    refused_field(
        server.matching().match_colors(match_one(bare)).await,
        Code::InvalidArgument,
        "VALUE_INVALID",
        "queries[0].color.conditions",
    );
    server.stop().await;
}

#[tokio::test]
async fn numbers_that_are_not_finite_are_refused() {
    let server = shelf().await;
    for l in [f64::NAN, f64::INFINITY, -1.0, 102.5] {
        refused_field(
            server.matching().match_colors(match_one(meter(l, pb::Illuminant::D65))).await,
            Code::InvalidArgument,
            "COLOR_INVALID",
            "queries[0].color.lab",
        );
    }
    let mut request = match_one(hex("#4a6b3c"));
    request.options = of(&[], 1);
    request.options.as_mut().unwrap().max_delta_e = Some(f64::NAN);
    refused_field(
        server.matching().match_colors(request).await,
        Code::InvalidArgument,
        "VALUE_INVALID",
        "options.max_delta_e",
    );
    server.stop().await;
}

#[tokio::test]
async fn a_thread_is_never_its_own_stand_in() {
    let server = shelf().await;
    let request = pb::MatchThreadsRequest {
        queries: vec![
            pb::ThreadQuery { thread: Some(thread_ref("shelf", "T-7")), query_id: "a".into() },
            pb::ThreadQuery { thread: Some(thread_ref("shelf", "t-2000")), query_id: "b".into() },
        ],
        options: of(&["shelf"], 2),
        any_finish: false,
    };
    let answer = server.matching().match_threads(request).await.unwrap().into_inner();
    assert_eq!(answer.results[0].asked.as_ref().unwrap().code, "t-7");
    let found = answer.results[0].result.as_ref().unwrap();
    assert_eq!(found.matches.len(), 2);
    assert!(found.matches.iter().all(|m| m.thread.as_ref().unwrap().code != "t-7"));
    assert!(answer.results[1].asked.is_none());
    let problem = answer.results[1].result.as_ref().unwrap().problem.as_ref().unwrap();
    assert_eq!(problem.reason, "THREAD_NOT_FOUND");
    assert_eq!(problem.metadata["code"], "t-2000");
    assert!(problem.metadata.contains_key("near_1"), "{problem:?}");
    server.stop().await;
}

#[tokio::test]
async fn pairs_are_compared_one_by_one() {
    let server = shelf().await;
    let pair = |standard, sample| pb::ColorPair { standard: Some(standard), sample: Some(sample) };
    let request = pb::CompareColorsRequest {
        pairs: vec![
            pair(hex("#000000"), hex("#ffffff")),
            pair(meter(30.0, pb::Illuminant::D65), meter(30.0, pb::Illuminant::A)),
        ],
        formula: Some(pb::DifferenceFormula {
            kind: pb::FormulaKind::Cie76.into(),
            ..Default::default()
        }),
        adaptation: 0,
    };
    let answer = server.matching().compare_colors(request.clone()).await.unwrap().into_inner();
    let Some(pb::comparison::Outcome::Difference(difference)) = &answer.comparisons[0].outcome
    else {
        panic!("{answer:?}")
    };
    // L* of white less L* of black, by the definition of CIELAB.
    assert!((difference.delta_e - 100.0).abs() < 1e-3, "{difference:?}");
    assert_eq!(difference.trust(), pb::Trust::Rough);
    let Some(pb::comparison::Outcome::Problem(problem)) = &answer.comparisons[1].outcome else {
        panic!("{answer:?}")
    };
    assert_eq!(problem.reason, "CONDITIONS_DIFFER");

    let method = pb::AdaptationMethod::Bradford;
    let adapting = pb::CompareColorsRequest { adaptation: method.into(), ..request.clone() };
    let answer = server.matching().compare_colors(adapting).await.unwrap().into_inner();
    let Some(pb::comparison::Outcome::Difference(difference)) = &answer.comparisons[1].outcome
    else {
        panic!("{answer:?}")
    };
    assert_eq!((difference.trust(), difference.adaptation()), (pb::Trust::Adapted, method));
    assert_eq!(difference.standard_conditions, difference.sample_conditions);

    let unknown = pb::CompareColorsRequest { adaptation: 9, ..request };
    let refused = server.matching().compare_colors(unknown).await.unwrap_err();
    assert_eq!(refused.code(), Code::InvalidArgument, "{refused:?}");
    server.stop().await;
}

fn formula(kind: pb::FormulaKind, factors: [Option<f64>; 3]) -> pb::DifferenceFormula {
    let [lightness_factor, chroma_factor, hue_factor] = factors;
    pb::DifferenceFormula { kind: kind.into(), lightness_factor, chroma_factor, hue_factor }
}

async fn compared(
    server: &TestServer,
    asked: pb::DifferenceFormula,
) -> Result<pb::Difference, tonic::Status> {
    let pair = pb::ColorPair { standard: Some(hex("#101010")), sample: Some(hex("#c8c8c8")) };
    let formula = Some(asked);
    let request = pb::CompareColorsRequest { pairs: vec![pair], formula, adaptation: 0 };
    let answer = server.matching().compare_colors(request).await?.into_inner();
    match answer.comparisons.into_iter().next().and_then(|first| first.outcome) {
        Some(pb::comparison::Outcome::Difference(difference)) => Ok(difference),
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn every_formula_is_answered_with_its_name_and_factors() {
    use pb::FormulaKind as Kind;
    let server = shelf().await;
    for (kind, factors, stated) in [
        (Kind::Unspecified, [None; 3], formula(Kind::Ciede2000, [Some(1.0); 3])),
        (
            Kind::Ciede2000,
            [Some(2.0), None, None],
            formula(Kind::Ciede2000, [Some(2.0), Some(1.0), Some(1.0)]),
        ),
        (Kind::Cmc, [Some(2.0), Some(1.0), None], formula(Kind::Cmc, [Some(2.0), Some(1.0), None])),
        (Kind::Cie94GraphicArts, [None; 3], formula(Kind::Cie94GraphicArts, [None; 3])),
        (Kind::Cie94Textile, [None; 3], formula(Kind::Cie94Textile, [None; 3])),
        (Kind::Din99o, [None; 3], formula(Kind::Din99o, [None; 3])),
        (Kind::Hyab, [None; 3], formula(Kind::Hyab, [None; 3])),
        (Kind::Cie76, [None; 3], formula(Kind::Cie76, [None; 3])),
    ] {
        let difference = compared(&server, formula(kind, factors)).await.unwrap();
        assert_eq!(difference.formula, Some(stated), "{kind:?}");
        assert_eq!(difference.gray_scale_grade, "1", "{kind:?}");
        let standard = difference.standard_lab.unwrap();
        // By IEC 61966-2-1 and CIE 15: 16 of 255 is a luminance of 0.00518.
        assert!((standard.l - 4.68).abs() < 0.005 && standard.a.abs() < 1e-9, "{standard:?}");
    }
    server.stop().await;
}

#[tokio::test]
async fn the_standard_is_the_color_asked_for_in_asymmetric_formulas() {
    let server = shelf().await;
    let factors = [Some(2.0), Some(1.0), None];
    let from_dark = compared(&server, formula(pb::FormulaKind::Cmc, factors)).await.unwrap();
    // By ISO 105-J03, dark standards below L* 16 divide by 2 * 0.511.
    let expected = from_dark.lightness / (2.0 * 0.511);
    assert!((from_dark.delta_e - expected).abs() < 1e-9, "{from_dark:?}");
    server.stop().await;
}

#[tokio::test]
async fn factors_that_a_formula_does_not_take_are_refused() {
    use pb::FormulaKind as Kind;
    let server = shelf().await;
    for (kind, factors, word) in [
        (Kind::Cmc, [None; 3], "lightness and a chroma factor"),
        (Kind::Cmc, [Some(2.0), None, None], "lightness and a chroma factor"),
        (Kind::Cmc, [Some(2.0), Some(1.0), Some(1.0)], "no hue factor"),
        (Kind::Cmc, [Some(0.0), Some(1.0), None], "0.1 to 10"),
        (Kind::Hyab, [Some(1.0), None, None], "HyAB has no factors"),
        (Kind::Cie94Textile, [None, None, Some(1.0)], "CIE94 textile has no factors"),
        (Kind::Din99o, [None, Some(1.0), None], "DIN99o has no factors"),
        (Kind::Cie76, [Some(1.0), None, None], "CIE76 has no factors"),
    ] {
        let status = compared(&server, formula(kind, factors)).await.unwrap_err();
        assert_eq!(status.code(), Code::InvalidArgument, "{kind:?}");
        let said = format!("{} {:?}", status.message(), String::from_utf8_lossy(status.details()));
        assert!(said.contains(word), "{kind:?}: {said}");
    }
    server.stop().await;
}

fn ask(payload: Asked) -> pb::StreamMatchesRequest {
    pb::StreamMatchesRequest { payload: Some(payload) }
}

#[tokio::test]
async fn a_stream_answers_in_order_and_survives_a_bad_query() {
    let server = shelf().await;
    let asked: Vec<_> = std::iter::once(ask(Asked::Options(of(&["shelf"], 1).unwrap())))
        .chain(["#4a6b3c", "nonsense", "#ffffff"].iter().enumerate().map(|(place, text)| {
            let query = pb::ColorQuery { query_id: place.to_string(), ..query(hex(text)) };
            ask(Asked::Query(query))
        }))
        .collect();
    let answers = server.matching().stream_matches(tokio_stream::iter(asked)).await.unwrap();
    let told: Vec<_> =
        answers.into_inner().map(|item| item.unwrap().payload.unwrap()).collect().await;
    let Told::Basis(basis) = &told[0] else { panic!("{told:?}") };
    assert_eq!(basis.tables[0].table_id, "shelf");
    let results: Vec<_> = told[1..]
        .iter()
        .map(|told| match told {
            Told::Result(result) => result,
            Told::Basis(_) => panic!("the basis comes once"),
        })
        .collect();
    assert_eq!(results.iter().map(|r| r.query_id.as_str()).collect::<Vec<_>>(), ["0", "1", "2"]);
    assert_eq!(results[1].problem.as_ref().unwrap().reason, "COLOR_INVALID");
    assert_eq!(results[2].matches.len(), 1);
    server.stop().await;
}

#[tokio::test]
async fn a_stream_answers_each_query_before_the_next_is_asked() {
    let server = shelf().await;
    let (asked, receiver) = tokio::sync::mpsc::channel(1);
    asked.send(ask(Asked::Options(of(&["shelf"], 1).unwrap()))).await.unwrap();
    let requests = tokio_stream::wrappers::ReceiverStream::new(receiver);
    let mut answers = server.matching().stream_matches(requests).await.unwrap().into_inner();
    assert!(matches!(answers.message().await.unwrap().unwrap().payload, Some(Told::Basis(_))));
    for _ in 0..3 {
        asked.send(ask(Asked::Query(query(hex("#4a6b3c"))))).await.unwrap();
        let answer = answers.message().await.unwrap().unwrap();
        assert!(matches!(answer.payload, Some(Told::Result(_))));
    }
    drop(asked);
    assert!(answers.message().await.unwrap().is_none());
    server.stop().await;
}

#[tokio::test]
async fn a_stream_out_of_order_is_refused() {
    let server = shelf().await;
    let queries = vec![ask(Asked::Query(query(hex("#4a6b3c"))))];
    let answer = server.matching().stream_matches(tokio_stream::iter(queries)).await;
    refused(answer, Code::InvalidArgument, "MESSAGE_UNREADABLE");
    let options = of(&["shelf"], 1).unwrap();
    let twice = vec![ask(Asked::Options(options.clone())), ask(Asked::Options(options))];
    let mut answers =
        server.matching().stream_matches(tokio_stream::iter(twice)).await.unwrap().into_inner();
    assert!(answers.message().await.unwrap().is_some());
    refused(answers.message().await, Code::InvalidArgument, "MESSAGE_UNREADABLE");
    server.stop().await;
}
