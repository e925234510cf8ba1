//! `table audit` and `table compare`: words, objects, exit codes, refusals.
//! It does not check what core finds: its own tests do.

use serde_json::Value;

use super::*;

const STEPS: &str = "data/cli/steps.csv";
const POND_2: &str = "data/cli/pond-2.csv";

fn object(args: &[&str]) -> (Value, Exit) {
    let said = dyekin(&[args, &["--json"]].concat());
    (serde_json::from_str(&said.out).unwrap(), said.exit)
}

#[test]
fn an_audit_names_twins_swapped_rows_and_colors_without_a_thread() {
    let name = "an_audit_names_twins_swapped_rows_and_colors_without_a_thread";
    let said = golden(name, None, WIDE, &["table", "audit", STEPS, "--gap", "45"]);
    assert_eq!(said.exit, Exit::NothingMatched);
    assert!(said.out.contains("ST-5 Fifth Step"), "{}", said.out);
    let narrow = dyekin_wide(NARROW, &["table", "audit", STEPS, "--gap", "45"]);
    fits(&narrow.out, NARROW);
}

#[test]
fn an_audit_is_one_object_with_every_difference() {
    let (found, exit) = object(&["table", "audit", STEPS, "--gap", "30", "--twins", "0.5"]);
    assert_eq!(exit, Exit::NothingMatched);
    assert_eq!(found["table"], "steps");
    assert_eq!((&found["twins_within"], &found["gap_beyond"]), (&0.5.into(), &30.0.into()));
    assert_eq!(found["near_twins"][0]["first"]["code"], "ST-8");
    assert_eq!(found["near_twins"][0]["second"]["code"], "ST-9");
    assert!(found["near_twins"][0]["difference"].as_f64().unwrap() <= 0.5);
    assert_eq!(found["swapped_rows"][0]["first"]["code"], "ST-5");
    assert_eq!(found["swapped_rows"][0]["clue"], "lightness");
    let gaps: Vec<f64> = found["gaps"]
        .as_array()
        .unwrap()
        .iter()
        .map(|gap| gap["difference"].as_f64().unwrap())
        .collect();
    assert!(gaps.len() > 1 && gaps.iter().all(|gap| *gap > 30.0), "{gaps:?}");
    assert!(gaps.is_sorted_by(|left, right| left >= right), "{gaps:?}");
    assert_eq!(found["plain_threads"], 9);
}

#[test]
fn an_audit_that_finds_nothing_ends_with_0() {
    let args = ["table", "audit", POND, "--twins", "0", "--gap", "200"];
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Done, "{}", said.out);
    assert_eq!(said.out.lines().filter(|line| line.starts_with("no ")).count(), 3, "{}", said.out);
}

#[test]
fn the_example_ranges_have_no_swapped_rows() {
    for name in ["larkpenny", "ottersby", "quillmoor"] {
        let (found, _) = object(&["table", "audit", &format!("../data/{name}.csv")]);
        assert_eq!(found["swapped_rows"], Value::Array(Vec::new()), "{name}");
    }
}

#[test]
fn a_comparison_tells_every_change_and_what_it_means() {
    let name = "a_comparison_tells_every_change_and_what_it_means";
    let said = golden(name, None, WIDE, &["table", "compare", POND, POND_2]);
    assert_eq!(said.exit, Exit::NothingMatched);
    let narrow = dyekin_wide(NARROW, &["table", "compare", POND, POND_2]);
    fits(&narrow.out, NARROW);
}

#[test]
fn a_comparison_is_one_object() {
    let (found, exit) = object(&["table", "compare", POND, POND_2]);
    assert_eq!(exit, Exit::NothingMatched);
    assert_eq!(
        (&found["old"]["table"], &found["new"]["table"]),
        (&"pond".into(), &"pond-2".into())
    );
    assert_eq!(found["gone"][0]["code"], "PN-3B");
    assert_eq!(found["added"][0]["code"], "PN-7A");
    assert_eq!(found["recolored"][0]["after"]["code"], "PN-3A");
    assert!(found["recolored"][0]["difference"].as_f64().unwrap() > 1.0);
    let renamed = &found["renamed"][0];
    assert_eq!(
        (&renamed["before"], &renamed["after"]),
        (&"Mill Water".into(), &"Mill Race".into())
    );
    assert_eq!(found["status_changes"][0]["after"], "discontinued");
    assert_eq!(found["other_changes"][0]["fields"][0], "fiber");
    let codes: Vec<&str> = found["substitutions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|change| change["thread"]["code"].as_str().unwrap())
        .collect();
    assert_eq!(codes, ["PN-2B", "PN-3B", "PN-3C"]);
    let dusk = &found["substitutions"][2];
    assert_eq!(dusk["before"]["code"], "PN-3B");
    assert_eq!(dusk["after"]["code"], "PN-7A");
}

#[test]
fn a_table_compared_with_itself_ends_with_0() {
    let folder = Folder::new("same-name");
    fs::copy(POND, folder.path("pond.csv")).unwrap();
    let said = dyekin(&["table", "compare", POND, &folder.path("pond.csv")]);
    assert_eq!(said.exit, Exit::Done, "{}", said.out);
    assert_eq!(said.out, "pond → pond-2: no change, 12 codes in both\n");
}

#[test]
fn bad_numbers_formulas_and_files_are_refused() {
    for (args, hint) in [
        (vec!["table", "audit", POND, "--twins", "-1"], "--twins 1"),
        (vec!["table", "audit", POND, "--gap", "-1"], "--gap"),
        (vec!["table", "audit", POND, "--formula", "eye"], "ciede2000"),
        (vec!["table", "compare", POND, WEIR, "--formula", "eye"], "ciede2000"),
        (vec!["table", "audit", "data/cli/nowhere.csv"], "nowhere.csv"),
        (vec!["table", "compare", POND, "data/inputs/nan-inf-empty.csv"], "line"),
        (vec!["table", "audit", POND, "--server", "http://127.0.0.1:1"], "table import"),
    ] {
        let said = dyekin(&args);
        assert_eq!(said.exit, Exit::Input, "{args:?}: {}", said.err);
        let hint = hint.trim_end_matches(" 1");
        assert!(said.err.contains(hint), "{args:?}: {}", said.err);
        assert!(said.out.is_empty(), "{}", said.out);
    }
}

#[test]
fn a_file_measured_several_times_is_asked_about_and_read_as_told() {
    let name = "a_file_measured_several_times_is_asked_about_and_read_as_told";
    let file = "data/cli/thrice.cxf";
    let said = golden(name, None, WIDE, &["table", "check", file]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("M1 by daylight"), "{}", said.err);
    let folder = Folder::new("thrice");
    let mut written = Vec::new();
    for wanted in ["M0", "m1", "cs-cut"] {
        let out = folder.path(&format!("{wanted}.csv"));
        let said = dyekin(&["table", "convert", file, "-o", &out, "--measurement", wanted]);
        assert_eq!(said.exit, Exit::Done, "{}", said.err);
        written.push(fs::read_to_string(&out).unwrap());
    }
    written.dedup();
    assert_eq!(written.len(), 3, "three measurements, three tables");
    let refused = dyekin(&["match", "#4a6b3c", "--table", file, "--measurement", " "]);
    assert!(refused.err.contains("--measurement ` `"), "{}", refused.err);
}
