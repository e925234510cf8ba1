//! Several charts in one run: order, bad files, names, what is left out, going on after an end.
//! It does not judge what becomes of a single chart: `cli.rs` does.

mod affected;
mod checked;
mod ended;
mod folders;
mod killed;
mod served;

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

use dyekin_client::{Exit, Printer, run};
use dyekin_tests::{TestDir, project};
use serde_json::Value;

/// A folder with charts in it, and the table that they are worked from.
struct Charts {
    folder: TestDir,
}

/// What a run said and how it ended.
struct Said {
    out: String,
    err: String,
    exit: Exit,
}

impl Charts {
    /// `charts` with these files: a grid of codes of the table for each name.
    fn new(name: &str, grids: &[&str]) -> Self {
        let charts = Self { folder: TestDir::new(name) };
        fs::create_dir(charts.path("charts")).unwrap();
        fs::copy(project().join("tests/data/cli/pond.csv"), charts.path("pond.csv")).unwrap();
        for (number, grid) in grids.iter().enumerate() {
            charts.write(&format!("charts/{grid}"), &codes(number));
        }
        charts
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn write(&self, name: &str, text: &str) {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    fn typed(&self, name: &str) -> String {
        self.path(name).to_str().unwrap().to_owned()
    }

    /// Runs a command in process. `@` before a name stands for this folder.
    fn run(&self, line: &str) -> Said {
        let (mut printer, captured) = Printer::captured(200);
        let typed = line.split_whitespace().map(|word| match word.strip_prefix('@') {
            Some(name) => OsString::from(self.typed(name)),
            None => OsString::from(word),
        });
        let exit = run(std::iter::once("dyekin".into()).chain(typed), &mut printer);
        let home = format!("{}/", self.folder.path().display());
        let said = |text: String| text.replace(&home, "");
        Said { out: said(captured.out()), err: said(captured.err()), exit }
    }

    /// The files below a folder with what they hold.
    fn files(&self, folder: &str) -> BTreeMap<String, Vec<u8>> {
        let mut found = BTreeMap::new();
        let mut waiting = vec![self.path(folder)];
        while let Some(next) = waiting.pop() {
            for held in fs::read_dir(&next).into_iter().flatten() {
                let path = held.unwrap().path();
                if path.is_dir() {
                    waiting.push(path);
                } else {
                    let name = path.strip_prefix(self.path(folder)).unwrap();
                    // A draft may be gone by now.
                    let Ok(bytes) = fs::read(&path) else { continue };
                    found.insert(name.to_str().unwrap().to_owned(), bytes);
                }
            }
        }
        found
    }
}

/// A small grid that differs from number to number.
fn codes(number: usize) -> String {
    let all = ["PN-2A", "PN-2B", "PN-2C", "PN-3A", "PN-3B", "PN-3C", "PN-4A"];
    let code = |at: usize| all[(number + at * at) % all.len()];
    let row = |y: usize| (0..6).map(|x| code(x + 2 * y)).collect::<Vec<_>>().join(",");
    (0..6).map(row).collect::<Vec<_>>().join("\n") + "\n"
}

const REDUCE: &str = "reduce @charts -o @out --table @pond.csv --threads 3";

#[test]
fn every_chart_becomes_a_proposal_with_its_list() {
    let charts = Charts::new("many-each", &["b.csv", "a.csv", "c.csv"]);
    let said = charts.run(REDUCE);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let lines: Vec<&str> = said.out.lines().collect();
    for (line, name) in lines.iter().zip(["a", "b", "c"]) {
        assert!(line.starts_with(&format!("charts/{name}.csv: ")), "{line}");
        assert!(line.contains("become 3 threads; difference"), "{line}");
    }
    assert_eq!(lines[3], "3 charts done.");
    assert!(lines[4].contains("of 108 stitches get a new thread"), "{}", lines[4]);
    assert!(said.err.contains("they are proposals"), "{}", said.err);
    let files = charts.files("out");
    let names: Vec<&str> = files.keys().map(String::as_str).collect();
    let each = ["a.csv.changes.json", "a.proposed.csv", "b.csv.changes.json", "b.proposed.csv"];
    let more = ["c.csv.changes.json", "c.proposed.csv", "dyekin-record.json"];
    assert_eq!(names, [&each[..], &more[..]].concat());
    // Nobody has said yes to anything.
    let list: Value = serde_json::from_slice(&files["a.csv.changes.json"]).unwrap();
    assert!(list["changes"].as_array().unwrap().iter().all(|change| change["answer"].is_null()));
}

#[test]
fn each_chart_comes_out_as_it_does_alone() {
    let charts = Charts::new("many-alone", &["a.csv", "b.csv", "c.csv"]);
    assert_eq!(charts.run(REDUCE).exit, Exit::Done);
    let together = charts.files("out");
    for name in ["a", "b", "c"] {
        let line = format!(
            "reduce @charts/{name}.csv -o @{name}.csv --changes @{name}.json --table @pond.csv --threads 3"
        );
        assert_eq!(charts.run(&line).exit, Exit::Done);
        let alone = |name: String| fs::read(charts.path(&name)).unwrap();
        assert_eq!(together[&format!("{name}.proposed.csv")], alone(format!("{name}.csv")));
        assert_eq!(together[&format!("{name}.csv.changes.json")], alone(format!("{name}.json")));
    }
}

#[test]
fn the_same_charts_give_the_same_bytes_with_any_number_of_workers() {
    let names: Vec<String> = (0..30).map(|number| format!("{number:02}.csv")).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let charts = Charts::new("many-order", &names);
    charts.write("charts/07.csv", "PN-2A,no such code\n");
    let mut runs = Vec::new();
    for (out, jobs) in [("one", "--jobs 1"), ("two", "--jobs 2"), ("nine", "--jobs 9"), ("any", "")]
    {
        let said = charts.run(&format!("{REDUCE} {jobs}").replace("@out", &format!("@{out}")));
        assert_eq!(said.exit, Exit::Input);
        runs.push((said.out, said.err, charts.files(out)));
    }
    assert_eq!(runs[0].2.len(), 29 * 2 + 1);
    for other in &runs[1..] {
        assert!(*other == runs[0]);
    }
}

#[test]
fn a_bad_file_is_told_and_the_others_are_done() {
    let charts = Charts::new("many-bad", &["a.csv", "d.csv"]);
    charts.write("charts/b.csv", "PN-2A,no such code\n");
    charts.write("charts/c.png", "no picture");
    charts.write("charts/e.json", "{\"format\": \"dyekin-chart\", ");
    let said = charts.run(REDUCE);
    assert_eq!(said.exit, Exit::Input);
    for (name, word) in [("a", "become"), ("b", "not done"), ("d", "become")] {
        let line = format!("charts/{name}.csv: ");
        assert!(said.out.lines().any(|said| said.starts_with(&line) && said.contains(word)));
    }
    assert!(said.out.contains("2 charts done, 3 failed."), "{}", said.out);
    for told in ["charts/b.csv line 1", "charts/c.png", "charts/e.json line 1", "no such code"] {
        assert!(said.err.contains(told), "{told}: {}", said.err);
    }
    assert_eq!(charts.files("out").len(), 5);
}

#[test]
fn convert_substitute_and_clean_take_folders_too() {
    let charts = Charts::new("many-commands", &["a.csv", "b.csv", "c.csv"]);
    for (line, ends, files_each) in [
        ("convert @charts -o @one --table @pond.csv --from pond --as json", "proposed.json", 3),
        ("substitute @charts -o @two --table @pond.csv --missing PN-3B", "proposed.csv", 2),
        ("clean @charts -o @three --table @pond.csv", "proposed.csv", 3),
    ] {
        let said = charts.run(line);
        assert_eq!(said.exit, Exit::Done, "{line}: {}", said.err);
        assert!(said.out.contains("3 charts done."), "{}", said.out);
        let out = line.split('@').nth(2).unwrap().split(' ').next().unwrap();
        let files = charts.files(out);
        assert_eq!(files.keys().filter(|name| name.ends_with(ends)).count(), files_each, "{line}");
        let lists = files.keys().filter(|name| name.ends_with("changes.json")).count();
        assert_eq!(lists, files_each, "{line}");
        assert!(
            charts.run(&format!("{line} --resume")).out.contains("3 as an earlier run left them")
        );
    }
}

#[test]
fn a_chart_without_the_missing_threads_is_passed_and_none_with_them_ends_with_one() {
    let charts = Charts::new("many-untouched", &["a.csv", "b.csv", "c.csv"]);
    let line = "substitute @charts -o @out --table @pond.csv --missing PN-3B";
    let said = charts.run(line);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.out.contains("charts/b.csv: uses none of the missing threads"), "{}", said.out);
    assert!(said.out.contains("1 chart uses none of the missing threads."), "{}", said.out);
    let said = charts.run(&line.replace("PN-3B", "PN-5B").replace("@out", "@none"));
    assert_eq!(said.exit, Exit::NothingMatched, "{}", said.err);
    assert_eq!(charts.files("none").len(), 1);
}

#[test]
fn what_is_far_ends_with_one_and_still_does_when_nothing_is_left_to_do() {
    let charts = Charts::new("many-far", &["a.csv", "b.csv"]);
    let line = format!("{REDUCE} --within 0.001");
    assert_eq!(charts.run(&line).exit, Exit::NothingMatched);
    assert_eq!(charts.run(&format!("{line} --resume")).exit, Exit::NothingMatched);
}

#[test]
fn options_for_one_chart_are_refused_for_several_and_the_other_way_round() {
    let charts = Charts::new("many-options", &["a.csv", "b.csv"]);
    charts.write("list.json", "{}");
    for (line, told) in [
        (format!("{REDUCE} --answers @list.json"), "--answers is for one chart"),
        (format!("{REDUCE} --undo @undo"), "--undo is for one chart"),
        (format!("{REDUCE} --jobs 0"), "nobody would work"),
        ("clean @charts -o @out --answers @list.json".into(), "--answers is for one chart"),
        (
            "reduce @charts/a.csv -o @a.csv --table @pond.csv --threads 3 --resume".into(),
            "--resume is for several charts",
        ),
        (
            "reduce @charts/a.csv -o @a.csv --table @pond.csv --threads 3 --as json".into(),
            "--as is for several charts",
        ),
    ] {
        let said = charts.run(&line);
        assert_eq!(said.exit, Exit::Input, "{line}");
        assert!(said.err.contains(told), "{line}: {}", said.err);
    }
    assert!(!charts.path("out").exists());
}

#[test]
fn one_chart_into_a_folder_is_a_run_over_several() {
    let charts = Charts::new("many-one", &["a.csv"]);
    let line = "reduce @charts/a.csv -o @out/ --table @pond.csv --threads 3";
    assert_eq!(charts.run(line).exit, Exit::Done);
    assert!(charts.path("out/a.proposed.csv").is_file());
}

#[test]
fn keys_and_lists_by_hand_go_into_folders_of_their_own() {
    let charts = Charts::new("many-keys", &["a.csv", "b.csv"]);
    let line = format!("{REDUCE} --changes @lists --key @keys --by-hand @hand");
    assert_eq!(charts.run(&line).exit, Exit::Done);
    for name in ["a", "b"] {
        for file in [
            format!("out/{name}.proposed.csv"),
            format!("lists/{name}.csv.changes.json"),
            format!("keys/{name}.csv.key.csv"),
            format!("hand/{name}.csv.by-hand.txt"),
        ] {
            assert!(charts.path(&file).is_file(), "{file}");
        }
    }
    // Without the keys an earlier run is not complete.
    fs::remove_file(charts.path("keys/b.csv.key.csv")).unwrap();
    let said = charts.run(&format!("{line} --resume"));
    assert!(said.out.contains("1 chart done, 1 as an earlier run left it."), "{}", said.out);
}

/// Everything that the run says of the whole, for programs.
fn json(said: &Said) -> Value {
    serde_json::from_str(&said.out).unwrap_or_else(|_| panic!("{}", said.err))
}

#[test]
fn the_object_counts_charts_and_names_files_and_problems() {
    let charts = Charts::new("many-json", &["a.csv", "b.csv"]);
    charts.write("charts/c.csv", "PN-2A,no such code\n");
    charts.write("charts/notes.txt", "not a chart");
    let said = charts.run(&format!("{REDUCE} --json"));
    assert_eq!(said.exit, Exit::Input);
    let answer = json(&said);
    assert_eq!([&answer["done"], &answer["skipped"], &answer["failed"]], [2, 0, 1]);
    assert_eq!(answer["totals"]["stitches"], 72);
    assert_eq!(answer["charts"][0]["chart"], "charts/a.csv");
    assert_eq!(answer["charts"][0]["files"]["changes"], "out/a.csv.changes.json");
    assert_eq!(answer["charts"][2]["problems"][0]["line"], 1);
    assert_eq!(answer["left_out"][0]["path"], "charts/notes.txt");
}

fn is_same(one: &Path, other: &Path) -> bool {
    fs::read(one).unwrap() == fs::read(other).unwrap()
}
