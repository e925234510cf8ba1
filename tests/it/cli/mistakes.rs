//! Mistakes that people make with charts, codes and change lists, and what they are told.
//! It does not know how the answers come about.

use super::*;

/// A change list for the bridge, with all answers set to one text of JSON.
fn answered(folder: &Folder, answer: &str) -> String {
    let [out, changes] = ["planned.json", "changes.json"].map(|name| folder.path(name));
    let args =
        ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &out, "--changes", &changes];
    assert_eq!(dyekin(&args).exit, Exit::Done);
    let text = folder.text("changes.json");
    let answer = format!("\"answer\": {answer}");
    fs::write(&changes, text.replace("\"answer\": null", &answer)).unwrap();
    changes
}

#[test]
fn every_missing_code_that_is_unknown_is_told() {
    let folder = Folder::new("missing");
    let out = folder.path("out.csv");
    let args = ["substitute", BRIDGE, "--table", POND, "--missing", "PN-3X,PN-4X,", "-o", &out];
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Input);
    for told in ["`PN-3X`", "`PN-4X`", "a code is missing here"] {
        assert!(said.err.contains(told), "{told} in {}", said.err);
    }
}

#[test]
fn a_list_and_a_chart_in_each_others_place_are_told_apart() {
    let folder = Folder::new("swapped");
    let changes = answered(&folder, "\"yes\"");
    let out = folder.path("out.json");
    let grid = dyekin(&["apply", BRIDGE, &changes, "--table", POND, "-o", &out]);
    assert!(grid.err.contains("not a change list, which is JSON"), "{}", grid.err);
    assert!(grid.err.contains("in apply it comes first"), "{}", grid.err);
    let chart = folder.path("planned.json");
    let json = dyekin(&["apply", &chart, BRIDGE, "--table", POND, "-o", &out]);
    assert!(json.err.contains("`dyekin-chart`: not the format of a change list"), "{}", json.err);
    assert_eq!(json.err.matches("error:").count(), 1, "{}", json.err);
    let list = dyekin(&["merge", &changes, "--table", POND]);
    assert!(list.err.contains("`dyekin-changes`: not the format of a chart"), "{}", list.err);
    assert_eq!(list.err.matches("error:").count(), 1, "{}", list.err);
}

#[test]
fn answers_that_name_unknown_threads_are_told_with_their_change() {
    let folder = Folder::new("unknown-answers");
    let unknown = "{\"another\": {\"table\": \"pond\", \"code\": \"PN-9Z\"}}";
    let changes = answered(&folder, unknown);
    let many = folder.text("changes.json").matches("PN-9Z").count();
    assert!(many > 1);
    let out = folder.path("out.json");
    let apply = ["apply", &changes, BRIDGE, "--table", POND, "-o", &out];
    let again =
        ["reduce", BRIDGE, "--table", POND, "--threads", "6", "-o", &out, "--answers", &changes];
    for args in [apply.as_slice(), &again] {
        let said = dyekin(args);
        assert_eq!(said.exit, Exit::Input);
        assert_eq!(said.err.matches("table pond has no thread `PN-9Z`").count(), many);
        assert_eq!(said.err.matches("changes.json change c").count(), many, "{}", said.err);
    }
}

#[test]
fn an_area_that_the_chart_does_not_have_is_told() {
    let folder = Folder::new("area");
    let out = folder.path("out.json");
    let args =
        ["reduce", BRIDGE, "--table", POND, "--threads", "5", "--keep", "area:eye", "-o", &out];
    let said = dyekin(&args);
    assert!(said.err.contains("`eye`: the chart has no area of this name"), "{}", said.err);
}

#[test]
fn a_thread_of_the_chart_that_its_table_lacks_is_noted() {
    let folder = Folder::new("lacking");
    answered(&folder, "null");
    let chart = folder.path("lacking.json");
    fs::write(&chart, folder.text("planned.json").replace("\"PN-4A\"", "\"PN-9Z\"")).unwrap();
    let said = dyekin(&["merge", &chart, "--table", POND]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.err.contains("note: table pond has no thread `PN-9Z`"), "{}", said.err);
}

#[test]
fn a_word_that_is_neither_code_nor_color_gets_one_hint() {
    let said = dyekin(&["match", "green", "mauve", "--table", POND]);
    assert_eq!(said.err.matches("has no thread").count(), 2, "{}", said.err);
    assert_eq!(said.err.matches("a color as #4a6b3c").count(), 1, "{}", said.err);
}

#[test]
fn numbers_are_asked_for_in_words() {
    let said = dyekin(&["match", "#fff", "--table", POND, "--count", "three"]);
    assert!(said.err.contains("a whole number is expected"), "{}", said.err);
    let said = dyekin(&["match", "#fff", "--table", POND, "--within", "near"]);
    assert!(said.err.contains("a number is expected"), "{}", said.err);
}

#[test]
fn the_other_thread_of_a_blend_stays_with_it() {
    let folder = Folder::new("blend");
    let [grid, out] = ["grid.csv", "out.json"].map(|name| folder.path(name));
    fs::write(&grid, "PN-3B + PN-2A,PN-4A\nPN-4A,PN-4A\n").unwrap();
    let args = ["substitute", &grid, "--table", POND, "--missing", "PN-3B", "-o", &out];
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.out.contains("   with pond PN-2A Rush Light as before\n"), "{}", said.out);
}
