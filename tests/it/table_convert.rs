//! `dyekin table convert` in process: every format becomes CSV and JSON with the same content.
//! It does not know how formats are read or written.

use std::ffi::OsString;

use dyekin_client::{Exit, Printer, run};
use dyekin_core::TableId;
use dyekin_core::table::{self, ReadOptions};
use dyekin_tests::TestDir;

struct Said {
    out: String,
    err: String,
    exit: Exit,
}

fn dyekin(args: &[&str]) -> Said {
    let (mut printer, captured) = Printer::captured(100);
    let typed = std::iter::once("dyekin").chain(args.iter().copied()).map(OsString::from);
    let exit = run(typed, &mut printer);
    Said { out: captured.out(), err: captured.err(), exit }
}

fn read(path: &str, id: &str) -> table::Loaded {
    let options = ReadOptions {
        id: TableId::parse(id).unwrap(),
        source_name: path.to_owned(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    };
    table::read(&std::fs::read(path).unwrap(), &options).unwrap()
}

const LAB: &str = "data/reference/example_cgats17_lab_only.txt";

#[test]
fn every_format_is_written_with_the_same_content() {
    let folder = TestDir::new("table-convert");
    for (number, file) in [
        LAB,
        "data/reference/example_cxf3.xml",
        "data/inputs/lab-d50.cgats",
        "data/inputs/gpl-unnamed.gpl",
        "data/inputs/formula-names.csv",
        "data/inputs/ansi-names.csv",
        "data/cli/pond.csv",
    ]
    .into_iter()
    .enumerate()
    {
        let hash = read(file, "any").table.hash();
        let csv: [&[&str]; 3] = [&["a.csv"], &["b.CSV", "--spreadsheet"], &["c.json"]];
        for typed in csv {
            let out = folder.path().join(format!("{number}{}", typed[0]));
            let out = out.to_str().unwrap();
            let args = [&["table", "convert", file, "-o", out], &typed[1..]].concat();
            let said = dyekin(&args);
            assert_eq!((said.exit, said.out.as_str()), (Exit::Done, ""), "{file}: {}", said.err);
            assert!(said.err.contains(&format!("wrote {out}: ")), "{}", said.err);
            assert_eq!(read(out, "again").table.hash(), hash, "{file} {out}");
        }
    }
}

#[test]
fn options_say_what_the_file_does_not() {
    let folder = TestDir::new("table-convert-options");
    let out = folder.path().join("out.json");
    let out = out.to_str().unwrap();
    let args =
        ["table", "convert", LAB, "-o", out, "--origin", "meter", "--name", "yarn", "--json"];
    let said = dyekin(&args);
    assert_eq!(said.err, "");
    let value: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(value["table"], "yarn");
    assert_eq!(value["threads"], 3);
    assert_eq!(value["written"], out);
    let text = std::fs::read_to_string(out).unwrap();
    assert!(text.contains("\"table\":\"yarn\"") && text.contains("\"origin\":\"meter\""), "{text}");
}

#[test]
fn nothing_is_written_where_something_is_wrong() {
    let folder = TestDir::new("table-convert-refused");
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let old = path("old.csv");
    std::fs::write(&old, "code,hex\nK-1,#4a6b3c\n").unwrap();
    let swatches = "data/inputs/swatches-rgb-lab-cmyk-gray.ase";
    for (args, words) in [
        (vec![swatches, "-o", &path("a.csv")], "swatch 3 `Ripe corn` at byte 126: `0.1"),
        (vec![LAB, "-o", &path("a.txt")], "hint: end the name with .csv or .json"),
        (vec![LAB, "-o", &path("a.json"), "--spreadsheet"], "--spreadsheet is a form of CSV"),
        (vec![LAB, "-o", &old], "the file exists"),
        (vec![&old, "-o", &old, "--force"], "an input, which is never overwritten"),
        (vec![LAB, "-o", &path("a.csv"), "--server", "http://127.0.0.1:1"], "leave --server out"),
        (vec![LAB, "-o", &path("a.csv"), "--name", "No Id"], "a table id is 1 to 63"),
        (vec!["data/none.csv", "-o", &path("a.csv")], "no such file"),
    ] {
        let said = dyekin(&[&["table", "convert"], &args[..]].concat());
        assert_eq!((said.exit, said.out.as_str()), (Exit::Input, ""), "{args:?}: {}", said.err);
        assert!(said.err.contains(words), "{args:?}: {}", said.err);
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    let said = dyekin(&["table", "convert", LAB, "-o", &old, "--force"]);
    assert_eq!(said.exit, Exit::Done);
    assert_eq!(read(&old, "again").table.threads().len(), 3);
}
