//! Queries that bring a spectrum, and lights that rank, over the wire.
//! It does not check what is computed from spectra: core's tests do.

use dyekin_core::table::{self, ReadOptions};
use dyekin_core::{Catalog, TableId};
use dyekin_proto::v1 as pb;
use dyekin_tests::server::TestServer;
use tonic::Code;

use super::{hex, match_one, query, refused_field, thread_ref};

async fn range() -> TestServer {
    let options = ReadOptions {
        id: TableId::parse("fallowmere").unwrap(),
        source_name: "fallowmere.csv".into(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    };
    let bytes = std::fs::read("../data/spectra/fallowmere.csv").unwrap();
    TestServer::start(Catalog::build([table::read(&bytes, &options).unwrap().table])).await
}

/// The spectrum of a thread, as the server tells it.
async fn spectrum_of(server: &TestServer, code: &str) -> pb::Spectrum {
    let queries = vec![pb::ThreadQuery {
        thread: Some(thread_ref("fallowmere", code)),
        ..Default::default()
    }];
    let request = pb::MatchThreadsRequest { queries, ..Default::default() };
    let answer = server.matching().match_threads(request).await.unwrap().into_inner();
    answer.results[0].asked.clone().unwrap().spectrum.unwrap()
}

fn by(lights: &[pb::Illuminant]) -> Option<pb::MatchOptions> {
    let lights = lights.iter().map(|light| (*light).into()).collect();
    Some(pb::MatchOptions { lights, count: 2, ..Default::default() })
}

#[tokio::test]
async fn a_query_may_bring_its_spectrum_instead_of_a_color() {
    let server = range().await;
    let spectrum = spectrum_of(&server, "FM-3J5").await;
    assert_eq!((spectrum.start_nm, spectrum.step_nm, spectrum.factors.len()), (400, 10, 31));
    let asked = pb::ColorQuery { spectrum: Some(spectrum), ..Default::default() };
    for (lights, first, ranked) in [
        (vec![], "FM-3J5 FM-4J3", false),
        (vec![pb::Illuminant::A, pb::Illuminant::LedB3], "FM-3J5 FM-5D7", true),
    ] {
        let request = pb::MatchColorsRequest { queries: vec![asked.clone()], options: by(&lights) };
        let answer = server.matching().match_colors(request).await.unwrap().into_inner();
        let result = &answer.results[0];
        assert_eq!((result.problem.as_ref(), result.left_out_thread_count), (None, 0));
        let codes: Vec<&str> =
            result.matches.iter().map(|hit| hit.thread.as_ref().unwrap().code.as_str()).collect();
        assert_eq!(codes.join(" "), first);
        let told = result.matches[1].over_lights.as_ref().unwrap();
        assert_eq!(told.ranked, ranked);
        let difference = result.matches[1].difference.as_ref().unwrap();
        if ranked {
            let worst = &told.lights[usize::try_from(told.worst_index).unwrap()];
            assert!((worst.delta_e - difference.delta_e).abs() < 1e-12);
            let under = difference.sample_conditions.unwrap();
            assert_eq!(
                (under.illuminant, difference.standard_conditions),
                (worst.illuminant, Some(under))
            );
        } else {
            assert_eq!(told.lights.len(), 3);
        }
    }
    server.stop().await;
}

#[tokio::test]
async fn a_query_without_a_spectrum_has_its_problem_in_its_own_result() {
    let server = range().await;
    let spectrum = Some(spectrum_of(&server, "FM-3B2").await);
    let queries = vec![query(hex("#4a6b3c")), pb::ColorQuery { spectrum, ..Default::default() }];
    let request = pb::MatchColorsRequest { queries, options: by(&[pb::Illuminant::Fl11]) };
    let answer = server.matching().match_colors(request).await.unwrap().into_inner();
    let problem = answer.results[0].problem.as_ref().unwrap();
    assert_eq!(problem.reason, "VALUE_INVALID");
    assert!(problem.message.contains("no reflectance spectrum"), "{problem:?}");
    assert_eq!(answer.results[1].matches.len(), 2);
    server.stop().await;
}

#[tokio::test]
async fn bad_lights_and_spectra_are_refused_with_their_field() {
    let server = range().await;
    for (lights, field) in [
        (vec![0], "options.lights[0]"),
        (vec![3, 99], "options.lights[1]"),
        (vec![1, 1], "options.lights"),
    ] {
        let options = Some(pb::MatchOptions { lights, ..Default::default() });
        let request = pb::MatchColorsRequest { options, ..match_one(hex("#4a6b3c")) };
        let answer = server.matching().match_colors(request).await;
        refused_field(answer, Code::InvalidArgument, "VALUE_INVALID", field);
    }
    let good = spectrum_of(&server, "FM-3B2").await;
    for (bad, field) in [
        (pb::Spectrum { step_nm: 7, ..good.clone() }, "queries[0].spectrum"),
        (pb::Spectrum { start_nm: -1, ..good.clone() }, "queries[0].spectrum.start_nm"),
        (pb::Spectrum { factors: vec![f64::NAN; 31], ..good.clone() }, "queries[0].spectrum"),
        (pb::Spectrum { factors: vec![], ..good }, "queries[0].spectrum"),
    ] {
        let queries = vec![pb::ColorQuery { spectrum: Some(bad), ..Default::default() }];
        let request = pb::MatchColorsRequest { queries, options: None };
        let answer = server.matching().match_colors(request).await;
        refused_field(answer, Code::InvalidArgument, "VALUE_INVALID", field);
    }
    server.stop().await;
}
