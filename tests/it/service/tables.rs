//! `TableService` over the wire.

use dyekin_core::Catalog;
use dyekin_proto::v1 as pb;
use dyekin_proto::v1::import_table_request::Payload;
use dyekin_tests::server::{TestServer, problems};
use dyekin_tests::threads::table;
use tonic::{Code, Response, Status};

use super::refused;

const SOUND: &str = "code,name,hex\nk-1,Moss path,#4a6b3c\nk-2,Clay pot,#8f3a2e\n";

fn header(table_id: &str) -> pb::ImportTableHeader {
    pb::ImportTableHeader { table_id: table_id.into(), ..Default::default() }
}

/// Imports a text in chunks of seven bytes, so that lines and characters are cut.
async fn import(
    server: &TestServer,
    header: pb::ImportTableHeader,
    text: &str,
) -> Result<pb::ImportTableResponse, Status> {
    let chunks = text.as_bytes().chunks(7).map(|chunk| Payload::Chunk(chunk.to_vec()));
    let messages: Vec<_> = std::iter::once(Payload::Header(header))
        .chain(chunks)
        .map(|payload| pb::ImportTableRequest { payload: Some(payload) })
        .collect();
    let answer = server.tables().import_table(tokio_stream::iter(messages)).await;
    answer.map(Response::into_inner)
}

async fn ids(server: &TestServer) -> Vec<String> {
    let all = server.tables().list_tables(pb::ListTablesRequest::default()).await.unwrap();
    all.into_inner().tables.into_iter().map(|table| table.table_id).collect()
}

async fn empty() -> TestServer {
    TestServer::start(Catalog::default()).await
}

#[tokio::test]
async fn an_import_can_be_read_back_listed_and_deleted() {
    let server = empty().await;
    let imported = import(&server, header("meadow"), SOUND).await.unwrap();
    assert!(!imported.durable);
    let table = imported.table.unwrap();
    assert_eq!((table.thread_count, table.source()), (2, pb::TableSource::Import));
    assert!(!table.durable);
    let request = pb::GetTableRequest { table_id: "meadow".into(), ..Default::default() };
    let held = server.tables().get_table(request).await.unwrap().into_inner();
    assert_eq!(held.table.as_ref(), Some(&table));
    assert_eq!(held.threads[0].name, "Moss path");
    assert_eq!(held.threads[1].status(), pb::ThreadStatus::Unknown);
    assert_eq!(ids(&server).await, ["meadow"]);
    let request = pb::DeleteTableRequest { table_id: "meadow".into(), ..Default::default() };
    let deleted = server.tables().delete_table(request).await.unwrap().into_inner();
    assert_eq!(deleted.table, Some(table));
    assert!(ids(&server).await.is_empty());
    server.stop().await;
}

#[tokio::test]
async fn a_refused_table_names_every_problem_and_leaves_the_old_one_live() {
    let server = empty().await;
    let before = import(&server, header("meadow"), SOUND).await.unwrap().table.unwrap();
    let bad = "code,name,hex\nk-1,Moss,#4a6b3c\nk-2,Clay,#8f3\nk-3,Ash,\nk-1,Moss,#4a6b3d\n,Elm,#123456\n";
    let named = pb::ImportTableHeader { source_name: "meadow.csv".into(), ..header("meadow") };
    let status = refused(import(&server, named, bad).await, Code::InvalidArgument, "TABLE_REFUSED");
    let listed = problems(&status);
    assert!(listed.problems.len() >= 3, "{listed:?}");
    for problem in &listed.problems {
        let place = problem.place.as_ref().unwrap();
        assert_eq!(place.source_name, "meadow.csv");
        assert!(place.line.is_some(), "{problem:?}");
        assert!(!problem.message.is_empty());
    }
    let lines: Vec<_> = listed.problems.iter().map(|p| p.place.as_ref().unwrap().line).collect();
    assert!(lines.contains(&Some(4)), "{lines:?}");
    let reasons: Vec<_> = listed.problems.iter().map(|p| p.reason.as_str()).collect();
    assert!(reasons.contains(&"CODE_DUPLICATE"), "{reasons:?}");
    let request = pb::GetTableRequest { table_id: "meadow".into(), ..Default::default() };
    let held = server.tables().get_table(request).await.unwrap().into_inner();
    assert_eq!(held.table, Some(before));
    server.stop().await;
}

#[tokio::test]
async fn bytes_that_are_no_table_are_refused() {
    let server = empty().await;
    let answer = import(&server, header("meadow"), "\u{89}PNG\r\n\u{1a}\n\0\0\0\rIHDR").await;
    let status = refused(answer, Code::InvalidArgument, "TABLE_REFUSED");
    let listed = problems(&status);
    assert_eq!(listed.problems[0].reason, "FILE_INVALID");
    assert!(!listed.problems[0].remedy.is_empty());
    server.stop().await;
}

#[tokio::test]
async fn validate_only_lists_all_problems_and_stores_nothing() {
    let server = empty().await;
    let check = pb::ImportTableHeader { validate_only: true, ..header("meadow") };
    let sound = import(&server, check.clone(), SOUND).await.unwrap();
    assert_eq!(sound.table.unwrap().thread_count, 2);
    assert!(ids(&server).await.is_empty());
    let bad: String = std::iter::once("code,name,hex\n".to_owned())
        .chain((0..60).map(|row| format!("k-{row},,#xyz\n")))
        .collect();
    let told = import(&server, check, &bad).await.unwrap();
    assert!(told.table.is_none());
    assert_eq!(told.problems.len(), 50);
    assert_eq!(told.unlisted_problem_count, 10);
    assert_eq!(told.problems[49].place.as_ref().unwrap().line, Some(51));
    server.stop().await;
}

#[tokio::test]
async fn a_status_with_many_problems_stays_within_the_trailers_of_common_clients() {
    let server = empty().await;
    let bad: String = std::iter::once("code,name,hex\n".to_owned())
        .chain((0..60).map(|row| format!("k-{row},,#{}\n", "xyz".repeat(200))))
        .collect();
    let status = refused(
        import(&server, header("meadow"), &bad).await,
        Code::InvalidArgument,
        "TABLE_REFUSED",
    );
    // Base64 makes four of three; with the message it must stay below 8 KiB.
    assert!(status.details().len() * 4 / 3 + status.message().len() < 7_900);
    let listed = problems(&status);
    assert!(!listed.problems.is_empty());
    assert_eq!(listed.problems.len() as i64 + listed.unlisted_count, 60);
    server.stop().await;
}

#[tokio::test]
async fn an_import_with_a_request_id_is_done_once() {
    let server = empty().await;
    let once = pb::ImportTableHeader { request_id: "write-1".into(), ..header("meadow") };
    let first = import(&server, once.clone(), SOUND).await.unwrap();
    let delete = pb::DeleteTableRequest { table_id: "meadow".into(), request_id: "d-1".into() };
    let gone = server.tables().delete_table(delete.clone()).await.unwrap().into_inner();
    let again = import(&server, once.clone(), SOUND).await.unwrap();
    assert_eq!(first, again);
    assert!(ids(&server).await.is_empty(), "the repeated import does not bring the table back");
    let repeated = server.tables().delete_table(delete).await.unwrap().into_inner();
    assert_eq!(gone, repeated);
    let other = format!("{SOUND}k-3,Ash,#777777\n");
    refused(import(&server, once, &other).await, Code::InvalidArgument, "REQUEST_ID_REUSED");
    server.stop().await;
}

#[tokio::test]
async fn an_import_stands_in_for_a_file_of_the_directory_and_survives_its_reload() {
    let server = TestServer::start(Catalog::build([table("meadow", 5, "file")])).await;
    let delete = pb::DeleteTableRequest { table_id: "meadow".into(), ..Default::default() };
    let answer = server.tables().delete_table(delete.clone()).await;
    refused(answer, Code::FailedPrecondition, "TABLE_NOT_IMPORTED");
    import(&server, header("meadow"), SOUND).await.unwrap();
    server.catalog().replace(Catalog::build([table("meadow", 9, "file"), table("new", 1, "")]));
    assert_eq!(ids(&server).await, ["meadow", "new"]);
    let request = pb::GetTableRequest { table_id: "meadow".into(), ..Default::default() };
    let held = server.tables().get_table(request.clone()).await.unwrap().into_inner();
    assert_eq!(held.table.unwrap().source(), pb::TableSource::Import);
    server.tables().delete_table(delete.clone()).await.unwrap();
    let held = server.tables().get_table(request).await.unwrap().into_inner().table.unwrap();
    assert_eq!((held.thread_count, held.source()), (9, pb::TableSource::Directory));
    let unknown = pb::DeleteTableRequest { table_id: "nothing".into(), ..Default::default() };
    let answer = server.tables().delete_table(unknown).await;
    let status = refused(answer, Code::NotFound, "THREAD_TABLE_NOT_FOUND");
    assert_eq!(problems(&status).problems[0].metadata["known_1"], "meadow");
    server.stop().await;
}

#[tokio::test]
async fn an_import_out_of_order_is_refused() {
    let server = empty().await;
    let head = || Payload::Header(header("meadow"));
    let chunk = || Payload::Chunk(b"code,hex\n".to_vec());
    for payloads in [vec![], vec![chunk()], vec![head(), chunk(), head()]] {
        let messages: Vec<_> = payloads
            .into_iter()
            .map(|payload| pb::ImportTableRequest { payload: Some(payload) })
            .collect();
        let answer = server.tables().import_table(tokio_stream::iter(messages)).await;
        refused(answer, Code::InvalidArgument, "MESSAGE_UNREADABLE");
    }
    assert!(ids(&server).await.is_empty());
    server.stop().await;
}

#[tokio::test]
async fn pages_cover_a_table_once_and_end() {
    let server = TestServer::start(Catalog::build([table("shelf", 25, "")])).await;
    let mut request =
        pb::GetTableRequest { table_id: "shelf".into(), page_size: 10, ..Default::default() };
    let mut codes = Vec::new();
    for expected in [10, 10, 5] {
        let page = server.tables().get_table(request.clone()).await.unwrap().into_inner();
        assert_eq!(page.threads.len(), expected);
        codes.extend(page.threads.into_iter().map(|thread| thread.code));
        request.page_token = page.next_page_token;
    }
    assert_eq!(request.page_token, "");
    let expected: Vec<String> = (0..25).map(|row| format!("t-{row}")).collect();
    assert_eq!(codes, expected);
    server.stop().await;
}

#[tokio::test]
async fn a_page_token_dies_with_its_table_and_fits_no_other_request() {
    let server =
        TestServer::start(Catalog::build([table("one", 3, ""), table("two", 3, "")])).await;
    let request =
        pb::GetTableRequest { table_id: "one".into(), page_size: 1, ..Default::default() };
    let page = server.tables().get_table(request.clone()).await.unwrap().into_inner();
    let token = page.next_page_token;
    for table_id in ["two", "one"] {
        if table_id == "one" {
            server.catalog().replace(Catalog::build([table("one", 4, "changed")]));
        }
        let request = pb::GetTableRequest {
            table_id: table_id.into(),
            page_token: token.clone(),
            ..Default::default()
        };
        let answer = server.tables().get_table(request).await;
        refused(answer, Code::InvalidArgument, "PAGE_TOKEN_INVALID");
    }
    let request = pb::ListTablesRequest { page_token: token, ..Default::default() };
    let answer = server.tables().list_tables(request).await;
    refused(answer, Code::InvalidArgument, "PAGE_TOKEN_INVALID");
    server.stop().await;
}

#[tokio::test]
async fn a_list_goes_on_behind_its_last_id_whatever_came_between() {
    let server = TestServer::start(Catalog::build([table("b", 1, ""), table("d", 1, "")])).await;
    let request = pb::ListTablesRequest { page_size: 1, ..Default::default() };
    let page = server.tables().list_tables(request).await.unwrap().into_inner();
    assert_eq!(page.tables[0].table_id, "b");
    server.catalog().replace(Catalog::build([table("a", 1, ""), table("c", 1, "")]));
    let request = pb::ListTablesRequest { page_size: 5, page_token: page.next_page_token };
    let page = server.tables().list_tables(request).await.unwrap().into_inner();
    assert_eq!(page.tables.len(), 1);
    assert_eq!(page.tables[0].table_id, "c");
    let request = pb::ListTablesRequest { page_size: -1, ..Default::default() };
    super::refused_field(
        server.tables().list_tables(request).await,
        Code::InvalidArgument,
        "VALUE_INVALID",
        "page_size",
    );
    server.stop().await;
}
