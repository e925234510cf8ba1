//! `dyekin check`: notes, degrees, exit codes. It does not judge how well strays are found.

use serde_json::Value;

use super::*;

/// A chart with something to mend for nearly every note, and the table of its threads.
pub(super) const MILL: &str = "data/cli/mill.json";
pub(super) const STALL: &str = "data/cli/stall.csv";

/// The object of a run.
fn json(args: &[&str]) -> Value {
    let said = dyekin(&[&["check"], args, &["--json", "--quiet"]].concat());
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    serde_json::from_str(&said.out).unwrap()
}

/// The notes of one code.
fn of<'v>(answer: &'v Value, code: &str) -> Vec<&'v Value> {
    answer["notes"].as_array().unwrap().iter().filter(|note| note["code"] == code).collect()
}

#[test]
fn a_check_tells_notes_in_three_degrees() {
    let args = ["check", MILL, "--table", STALL];
    let said = golden("a_check_tells_notes_in_three_degrees", None, WIDE, &args);
    assert_eq!(said.exit, Exit::Done);
    fits(&said.out, WIDE);
}

#[test]
fn a_check_reads_well_in_a_narrow_terminal() {
    let args = ["check", "data/cli/buoy.png", "--table", POND];
    let said = golden("a_check_reads_well_in_a_narrow_terminal", None, NARROW, &args);
    fits(&said.out, NARROW);
    fits(&said.err, NARROW);
}

#[test]
fn details_name_every_note_and_its_numbers() {
    let args = ["check", MILL, "--table", STALL, "--details", "--quiet"];
    let said = dyekin(&args);
    assert!(said.out.contains("CIEDE2000 1:1:1"), "{}", said.out);
    assert!(!said.out.contains("--details"), "{}", said.out);
}

#[test]
fn a_degree_gates_by_the_exit_code() {
    let run = |chart: &str, table: &str, degree: &str| {
        dyekin(&["check", chart, "--table", table, "--fail-on", degree, "--quiet"]).exit
    };
    assert_eq!(run(MILL, STALL, "fix"), Exit::NothingMatched);
    assert_eq!(run(BRIDGE, POND, "information"), Exit::NothingMatched);
    assert_eq!(run("data/cli/buoy.png", POND, "look"), Exit::NothingMatched);
    assert_eq!(run("data/cli/buoy.png", POND, "fix"), Exit::Done);
    let said = dyekin(&["check", MILL, "--fail-on", "red"]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("write fix, look or information"), "{}", said.err);
}

#[test]
fn threads_are_told_by_what_their_table_says() {
    let answer = json(&[MILL, "--table", STALL]);
    let gone = of(&answer, "thread-gone");
    assert_eq!(gone.len(), 1);
    assert_eq!(gone[0]["degree"], "fix");
    assert_eq!(gone[0]["numbers"]["status"], "discontinued");
    assert_eq!(gone[0]["numbers"]["thread"]["code"], "ST-5");
    let command = gone[0]["command"].as_str().unwrap();
    assert!(command.contains("substitute data/cli/mill.json --table data/cli/stall.csv"));
    assert_eq!(of(&answer, "thread-low").len(), 2);
    assert_eq!(of(&answer, "no-single-color")[0]["numbers"]["finish"], "metallic");
    assert_eq!(of(&answer, "thread-unknown")[0]["numbers"]["thread"]["code"], "ST-77");
}

#[test]
fn symbols_lines_and_the_key_are_looked_at() {
    let answer = json(&[MILL, "--table", STALL]);
    let lost = of(&answer, "color-vision");
    assert_eq!(lost[0]["numbers"]["deficiency"], "deutan");
    assert!(lost[0]["numbers"]["contrast"].as_f64().unwrap() < 1.2);
    let outline = of(&answer, "lost-outline");
    assert_eq!(outline[0]["numbers"]["over"], 5);
    assert_eq!(of(&answer, "key-twice")[0]["colors"].as_array().unwrap().len(), 2);
    assert_eq!(of(&answer, "no-symbol")[0]["degree"], "fix");
}

#[test]
fn a_key_that_is_sold_beside_the_chart_is_held_against_it() {
    let folder = Folder::new("check-key");
    let (chart, key) = (folder.path("bridge.json"), folder.path("key.csv"));
    dyekin(&["convert", BRIDGE, "--from", POND, "--table", POND, "-o", &chart, "--key", &key]);
    let answer = json(&[&chart, "--table", POND, "--key", &key]);
    assert!(of(&answer, "key-count").is_empty(), "{answer}");
    let text = folder.text("key.csv");
    let line = text.lines().nth(1).unwrap();
    fs::write(&key, text.replace(line, "Z,pond,PN-99,Old Thread,#123456,12,,12,0,0,0,0,0"))
        .unwrap();
    let answer = json(&[&chart, "--table", POND, "--key", &key]);
    let counts = of(&answer, "key-count");
    assert_eq!(counts.len(), 2);
    assert_eq!(counts[0]["numbers"]["in_key"], Value::Null);
    assert_eq!(counts[1]["numbers"]["written"], "PN-99");
    fs::write(&key, "code,stitches\nPN-4A,some\nPN-5B\n").unwrap();
    let said = dyekin(&["check", &chart, "--table", POND, "--key", &key]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("line 2, column stitches: `some`"), "{}", said.err);
    assert!(said.err.contains("line 3"), "{}", said.err);
}

#[test]
fn a_profile_sets_the_limits_of_a_shop() {
    let folder = Folder::new("check-profile");
    let path = folder.path("shop.toml");
    let text = "[few-stitches]\nbelow = 3\ndegree = \"fix\"\n[thread-gone]\ndegree = \"off\"\n";
    fs::write(&path, text).unwrap();
    let answer = json(&[MILL, "--table", STALL, "--profile", &path]);
    assert!(of(&answer, "thread-gone").is_empty());
    let few = of(&answer, "few-stitches");
    assert_eq!((few.len(), &few[0]["degree"]), (1, &Value::from("fix")));
    fs::write(&path, "[few-stitches]\nbelow = -1\n[few-stiches]\nbelow = 3\n").unwrap();
    let said = dyekin(&["check", MILL, "--table", STALL, "--profile", &path]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("shop.toml line 2, column 9: `-1`: a whole number"), "{}", said.err);
    assert!(
        said.err.contains("shop.toml line 3, column 2: `few-stiches`: no note"),
        "{}",
        said.err
    );
}

#[test]
fn a_log_names_each_note_with_its_rule_and_place() {
    let said = dyekin(&["check", MILL, "--table", STALL, "--sarif", "--fail-on", "fix", "-q"]);
    assert_eq!(said.exit, Exit::NothingMatched);
    let log: Value = serde_json::from_str(&said.out).unwrap();
    let run = &log["runs"][0];
    assert_eq!(
        (&log["version"], &run["tool"]["driver"]["name"]),
        (&"2.1.0".into(), &"dyekin".into())
    );
    let first = &run["results"][0];
    assert_eq!((&first["ruleId"], &first["level"]), (&"thread-gone".into(), &"error".into()));
    let place = &first["locations"][0];
    assert_eq!(place["physicalLocation"]["artifactLocation"]["uri"], MILL);
    assert_eq!(place["logicalLocations"][0]["name"], "column 5, row 14");
    let both = dyekin(&["check", MILL, "--sarif", "--json"]);
    assert_eq!(both.exit, Exit::Input);
}

#[test]
fn every_code_and_every_limit_is_in_the_readme() {
    let readme = fs::read_to_string("../README.md").unwrap();
    for code in dyekin_client::check::Code::ALL {
        assert!(readme.contains(&format!("| `{}` |", code.as_str())), "{}", code.as_str());
    }
}

#[test]
fn without_its_table_a_chart_says_what_could_not_be_looked_at() {
    let answer = json(&[MILL]);
    let missing = of(&answer, "not-checked");
    assert_eq!(missing[0]["numbers"]["table"], "stall");
    assert!(of(&answer, "thread-gone").is_empty());
    assert!(!of(&answer, "near-colors").is_empty(), "the chart's own colors still count");
}

#[test]
fn cloth_can_be_named_where_the_chart_does_not() {
    let answer = json(&[BRIDGE, "--table", POND]);
    assert_eq!(of(&answer, "not-checked")[0]["numbers"]["reason"], "no cloth");
    let answer = json(&[BRIDGE, "--table", POND, "--cloth", "rgb(244, 232, 200)"]);
    assert!(of(&answer, "not-checked").is_empty());
    let said = dyekin(&["check", BRIDGE, "--table", POND, "--cloth", "linen"]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("--cloth `linen`: not a color"), "{}", said.err);
}

#[test]
fn a_key_alone_is_checked_as_far_as_it_goes() {
    let answer = json(&["data/cli/bridge-key.csv", "--table", POND]);
    assert_eq!(answer["size"], Value::Null);
    assert_eq!(of(&answer, "not-checked")[0]["numbers"]["reason"], "key alone");
}

#[test]
fn what_was_typed_about_a_picture_is_in_the_commands_too() {
    let picture = "data/inputs/ten-px-per-cell.png";
    let answer = json(&[picture, "--cell-size", "10", "--origin", "scan"]);
    let bare = of(&answer, "no-thread");
    let command = bare[0]["command"].as_str().unwrap();
    assert!(command.contains("--cell-size 10 --origin scan --table FILE"), "{command}");
}

#[test]
fn names_cannot_harm_terminal_or_shell() {
    let folder = Folder::new("check-names");
    let text = fs::read_to_string(MILL).unwrap().replace("Wheel Tar", "Wheel\\u001b[2J\\u202e");
    let path = folder.path("it's; rm $HOME.json");
    fs::write(&path, text).unwrap();
    let said = dyekin(&["check", &path, "--table", STALL]);
    assert!(!said.out.contains('\u{1b}') && !said.out.contains('\u{202e}'), "{}", said.out);
    let flat = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains(r"it'\''s; rm $HOME.json'"), "{flat}");
}
