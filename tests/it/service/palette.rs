//! `PaletteService` over the wire.

use dyekin_core::{Catalog, Conditions};
use dyekin_proto::v1 as pb;
use dyekin_proto::v1::reduce_palette_response::Payload;
use dyekin_tests::server::{TestServer, problems};
use dyekin_tests::threads::{measured, table};
use tonic::Code;

use super::{hex, large_palette, meter, palette, refused, refused_field, thread_ref};

const COLORS: [(&str, i64); 4] =
    [("#4a6b3c", 400), ("#4b6c3d", 10), ("#8f3a2e", 200), ("#f4f1e8", 30)];

async fn shelf() -> TestServer {
    TestServer::start(Catalog::build([table("shelf", 300, "screen")])).await
}

async fn reduce(
    server: &TestServer,
    request: pb::ReducePaletteRequest,
) -> (Vec<pb::ReduceProgress>, pb::ChangeList) {
    let mut answers = server.palette().reduce_palette(request).await.unwrap().into_inner();
    let mut progress = Vec::new();
    while let Some(answer) = answers.message().await.unwrap() {
        match answer.payload.unwrap() {
            Payload::Progress(told) => progress.push(told),
            Payload::ChangeList(list) => {
                assert!(answers.message().await.unwrap().is_none(), "the list is the last message");
                return (progress, list);
            }
        }
    }
    panic!("the stream ended without a list");
}

#[tokio::test]
async fn a_reduction_ends_with_its_change_list() {
    let server = shelf().await;
    let request = pb::ReducePaletteRequest {
        palette: Some(large_palette(60)),
        options: None,
        max_thread_count: 8,
        ..Default::default()
    };
    let (progress, list) = reduce(&server, request).await;
    assert_eq!(list.question(), pb::Question::Reduce);
    let totals = list.totals.unwrap();
    assert_eq!((totals.color_count, totals.thread_count), (60, 8));
    assert!(totals.mean_delta_e > 0.0 && totals.mean_delta_e <= totals.max_delta_e);
    assert!(totals.lower_bound_delta_e.is_none_or(|bound| bound <= totals.mean_delta_e + 1e-9));
    assert_eq!(list.tables[0].table_id, "shelf");
    assert!(list.edges.is_none(), "neighbors are not known");
    for change in &list.changes {
        assert_eq!(change.proposed_threads.len(), 1);
        let proposed = &change.proposed_threads[0];
        assert_eq!(proposed.difference.as_ref().unwrap().trust(), pb::Trust::Rough);
        assert!(change.standard.is_some() && change.answer.is_none());
    }
    assert!(progress.iter().all(|told| (0.0..=1.0).contains(&told.fraction)), "{progress:?}");
    server.stop().await;
}

#[tokio::test]
async fn neighbors_come_back_as_an_edge_report() {
    let server = shelf().await;
    let mut summary = palette(COLORS);
    let pair = |first_index, second, edge_count| pb::NeighborPair {
        first_index,
        second: Some(second),
        edge_count,
    };
    summary.neighbors = Some(pb::NeighborList {
        pairs: vec![
            pair(0, pb::neighbor_pair::Second::SecondIndex(2), 40),
            pair(0, pb::neighbor_pair::Second::SecondIndex(1), 7),
            pair(2, pb::neighbor_pair::Second::Cloth(true), 5),
        ],
    });
    summary.cloth = Some(hex("#ffffff"));
    let request = pb::ConvertPaletteRequest {
        palette: Some(summary),
        options: None,
        ..pb::ConvertPaletteRequest::default()
    };
    let answer = server.palette().convert_palette(request).await.unwrap().into_inner();
    let list = answer.change_list.unwrap();
    assert_eq!(list.question(), pb::Question::Convert);
    assert!(list.edges.unwrap().outline_edge_count >= 40);
    server.stop().await;
}

#[tokio::test]
async fn merges_lead_down_to_one_thread() {
    let server = shelf().await;
    let request = pb::SuggestMergesRequest { palette: Some(palette(COLORS)), ..Default::default() };
    let list = server.palette().suggest_merges(request).await.unwrap().into_inner();
    let list = list.merge_list.unwrap();
    assert_eq!(list.color_count, 4);
    assert_eq!(list.steps.last().unwrap().remaining_thread_count, 1);
    let left: Vec<i32> = list.steps.iter().map(|step| step.remaining_thread_count).collect();
    assert!(left.is_sorted_by(|before, after| before > after), "{left:?}");
    let listed: Vec<_> = list.threads.iter().filter_map(|listed| listed.thread.as_ref()).collect();
    assert!(list.threads.iter().all(|listed| !listed.name.is_empty() && listed.color.is_some()));
    for step in &list.steps {
        let named = step.moves.iter().map(|part| &part.target).chain([&step.leaving]);
        for thread in named.flatten() {
            let times = listed.iter().filter(|listed| **listed == thread).count();
            assert_eq!(times, 1, "{thread:?} in {listed:?}");
        }
        let moved: i64 = step.moves.iter().map(|part| part.stitch_count).sum();
        assert_eq!(moved, step.moved_stitch_count);
        assert!(step.moves.iter().all(|part| part.difference.as_ref().unwrap().formula.is_some()));
    }
    server.stop().await;
}

#[tokio::test]
async fn a_missing_thread_is_replaced_and_the_others_stay() {
    let server = shelf().await;
    let mut summary = palette(COLORS);
    for (color, code) in summary.colors.iter_mut().zip(["t-1", "t-2", "t-3", "t-4"]) {
        color.threads = vec![thread_ref("shelf", code)];
    }
    let request = pb::SubstituteThreadsRequest {
        palette: Some(summary),
        missing_threads: vec![thread_ref("shelf", "t-2")],
        ..Default::default()
    };
    let answer = server.palette().substitute_threads(request.clone()).await.unwrap().into_inner();
    let list = answer.change_list.unwrap();
    assert_eq!(list.question(), pb::Question::Substitute);
    assert_eq!(list.changes.len(), 1);
    assert_eq!(list.changes[0].previous_threads, [thread_ref("shelf", "t-2")]);
    let next = list.changes[0].proposed_threads[0].thread.clone().unwrap();
    assert!(!["t-1", "t-2", "t-3", "t-4"].contains(&next.code.as_str()), "{next:?}");
    let mut unchanged = list.unchanged_color_indexes.clone();
    unchanged.sort_unstable();
    assert_eq!(unchanged, [0, 2, 3]);
    let staying = |places: &[i32]| pb::SubstituteThreadsRequest {
        staying_color_indexes: places.to_vec(),
        ..request.clone()
    };
    let answer = server.palette().substitute_threads(staying(&[1])).await.unwrap().into_inner();
    assert!(answer.change_list.unwrap().changes.is_empty(), "all of it stays");
    for (places, field) in
        [(&[1, -1], "staying_color_indexes[1]"), (&[1, 4], "staying_color_indexes")]
    {
        let answer = server.palette().substitute_threads(staying(places)).await;
        refused_field(answer, Code::InvalidArgument, "VALUE_INVALID", field);
    }
    let unknown = pb::SubstituteThreadsRequest {
        missing_threads: vec![thread_ref("shelf", "t-999")],
        ..request
    };
    let answer = server.palette().substitute_threads(unknown).await;
    let status = refused(answer, Code::NotFound, "THREAD_NOT_FOUND");
    let listed = problems(&status);
    assert_eq!(listed.problems[0].metadata["table"], "shelf");
    server.stop().await;
}

#[tokio::test]
async fn an_answer_to_an_earlier_list_is_followed() {
    let server = shelf().await;
    let convert = |answers| pb::ConvertPaletteRequest {
        palette: Some(palette(COLORS)),
        options: Some(pb::PaletteOptions { answers, ..Default::default() }),
        ..pb::ConvertPaletteRequest::default()
    };
    let list = server.palette().convert_palette(convert(vec![])).await.unwrap().into_inner();
    let change =
        list.change_list.unwrap().changes.into_iter().find(|c| c.color_index == 2).unwrap();
    let other = change.runner_up_threads[0].thread.clone().unwrap();
    let proposed: Vec<_> =
        change.proposed_threads.iter().map(|next| next.thread.clone().unwrap()).collect();
    let answered = |decision: pb::Decision, another| pb::AnsweredChange {
        color_index: 2,
        proposed_threads: proposed.clone(),
        answer: Some(pb::Answer { decision: decision.into(), another }),
    };
    let request = convert(vec![answered(pb::Decision::Another, Some(other.clone()))]);
    let list = server.palette().convert_palette(request).await.unwrap().into_inner();
    let list = list.change_list.unwrap();
    let change = list.changes.iter().find(|change| change.color_index == 2).unwrap();
    assert_eq!(change.proposed_threads[0].thread.as_ref(), Some(&other));
    let request = convert(vec![answered(pb::Decision::Another, None)]);
    refused_field(
        server.palette().convert_palette(request).await,
        Code::InvalidArgument,
        "VALUE_INVALID",
        "options.answers[0].answer.another",
    );
    let mut wrong = answered(pb::Decision::Yes, None);
    wrong.color_index = 99;
    let answer = server.palette().convert_palette(convert(vec![wrong])).await;
    refused(answer, Code::InvalidArgument, "ANSWER_INVALID");
    server.stop().await;
}

#[tokio::test]
async fn what_no_thread_can_meet_is_said_in_the_stream() {
    let server = shelf().await;
    let filter = pb::ThreadFilter { available_only: true, ..Default::default() };
    let request = pb::ReducePaletteRequest {
        palette: Some(palette(COLORS)),
        options: Some(pb::PaletteOptions { filter: Some(filter), ..Default::default() }),
        max_thread_count: 2,
        ..Default::default()
    };
    let mut answers = server.palette().reduce_palette(request).await.unwrap().into_inner();
    let last = loop {
        match answers.message().await {
            Ok(Some(_)) => {}
            other => break other,
        }
    };
    refused(last, Code::FailedPrecondition, "NO_CHOICE_LEFT");
    server.stop().await;
}

#[tokio::test]
async fn a_measured_palette_under_another_light_is_refused() {
    let server = TestServer::start(Catalog::build([measured("lab", Conditions::TEXTILE)])).await;
    let mut summary = palette([("#4a6b3c", 5)]);
    summary.colors[0].color = Some(meter(40.0, pb::Illuminant::A));
    let request = pb::ConvertPaletteRequest {
        palette: Some(summary),
        options: None,
        ..pb::ConvertPaletteRequest::default()
    };
    let answer = server.palette().convert_palette(request).await;
    refused(answer, Code::FailedPrecondition, "CONDITIONS_DIFFER");
    server.stop().await;
}

#[tokio::test]
async fn every_bad_field_of_a_palette_is_named() {
    let server = shelf().await;
    let convert = |summary| pb::ConvertPaletteRequest {
        palette: Some(summary),
        options: None,
        ..pb::ConvertPaletteRequest::default()
    };
    let check = async |summary, reason, field| {
        let answer = server.palette().convert_palette(convert(summary)).await;
        refused_field(answer, Code::InvalidArgument, reason, field);
    };
    check(palette([]), "VALUE_INVALID", "palette.colors").await;
    check(palette([("#4a6b3c", 0)]), "VALUE_INVALID", "palette.colors[0].stitch_count").await;
    check(palette([("#4a6b3c", -1)]), "VALUE_INVALID", "palette.colors[0].stitch_count").await;
    check(palette([("red-ish", 1)]), "COLOR_INVALID", "palette.colors[0].color.hex").await;
    let mut summary = palette(COLORS);
    summary.colors[1].threads = vec![thread_ref("shelf", "")];
    check(summary, "CODE_INVALID", "palette.colors[1].threads[0].code").await;
    let mut summary = palette(COLORS);
    let pair = pb::NeighborPair { first_index: 0, second: None, edge_count: 1 };
    summary.neighbors = Some(pb::NeighborList { pairs: vec![pair] });
    check(summary, "VALUE_INVALID", "palette.neighbors.pairs[0]").await;
    let none = pb::ConvertPaletteRequest {
        palette: None,
        options: None,
        ..pb::ConvertPaletteRequest::default()
    };
    let answer = server.palette().convert_palette(none).await;
    refused_field(answer, Code::InvalidArgument, "VALUE_INVALID", "palette");
    let keep = pb::Keep { subject: None };
    let options = pb::PaletteOptions { keeps: vec![keep], ..Default::default() };
    let request = pb::ConvertPaletteRequest {
        palette: Some(palette(COLORS)),
        options: Some(options),
        ..pb::ConvertPaletteRequest::default()
    };
    let answer = server.palette().convert_palette(request).await;
    refused_field(answer, Code::InvalidArgument, "VALUE_INVALID", "options.keeps[0]");
    server.stop().await;
}

#[tokio::test]
async fn problems_of_the_palette_do_not_hide_those_of_the_rest() {
    let server = shelf().await;
    let summary = || Some(palette([("red-ish", 1)]));
    let options = || {
        let keep = pb::Keep { subject: None };
        Some(pb::PaletteOptions { keeps: vec![keep], ..Default::default() })
    };
    let fields = |status: tonic::Status| -> Vec<String> {
        let listed = problems(&status).problems.into_iter();
        listed.filter_map(|problem| problem.place).map(|place| place.field).collect()
    };
    let color = "palette.colors[0].color.hex".to_owned();
    let keep = "options.keeps[0]".to_owned();

    let request = pb::ConvertPaletteRequest {
        palette: summary(),
        options: options(),
        ..pb::ConvertPaletteRequest::default()
    };
    let told = server.palette().convert_palette(request).await.expect_err("two problems");
    assert_eq!(fields(told), [color.clone(), keep.clone()]);

    let request = pb::ReducePaletteRequest {
        palette: summary(),
        options: options(),
        max_thread_count: -1,
        ..Default::default()
    };
    let told = server.palette().reduce_palette(request).await.expect_err("three problems");
    assert_eq!(fields(told), [color, keep, "max_thread_count".to_owned()]);
    server.stop().await;
}
