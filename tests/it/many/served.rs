//! A run over several charts by a server: the same files and words as in process.
//! It does not compare single answers: `parity.rs` does.

use dyekin_core::table::ReadOptions;
use dyekin_core::{Catalog, TableId, table};
use dyekin_tests::server::TestServer;
use tokio::runtime::Runtime;

use super::*;

#[test]
fn a_server_gives_the_same_files_and_words() {
    let charts = Charts::new("many-served", &["a.csv", "b.csv", "c.csv", "d.csv"]);
    charts.write("charts/e.csv", "PN-2A,no such code\n");
    let options = ReadOptions {
        id: TableId::parse("pond").unwrap(),
        source_name: "pond.csv".into(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    };
    let bytes = fs::read(charts.path("pond.csv")).unwrap();
    let catalog = Catalog::build([table::read(&bytes, &options).unwrap().table]);
    let runtime = Runtime::new().unwrap();
    let server = runtime.block_on(TestServer::start(catalog));
    let here = charts.run(REDUCE);
    let there = REDUCE.replace("@out", "@there").replace("@pond.csv", "pond");
    let there = format!("{there} --server http://{}", server.address());
    let said = charts.run(&there);
    assert_eq!(said.exit, here.exit);
    assert_eq!((said.out, said.err), (here.out, here.err));
    assert!(charts.files("there") == charts.files("out"));
    // The same table gives the same answers wherever it is: nothing is left to do.
    let said = charts.run(&format!("{REDUCE} --resume").replace("@out", "@there"));
    assert!(said.out.contains("4 as an earlier run left them, 1 failed."), "{}", said.out);
    runtime.block_on(server.stop());
}

#[test]
fn a_server_that_is_gone_ends_the_run() {
    let charts = Charts::new("many-gone", &["a.csv", "b.csv"]);
    let line = REDUCE.replace("@pond.csv", "pond --server http://127.0.0.1:1");
    assert_eq!(charts.run(&line).exit, Exit::Unreachable);
    assert!(!charts.path("out").exists());
}
