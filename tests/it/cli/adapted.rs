//! Colors under different lights: refused, or adapted on request and always said to be.
//! It does not know how a color is carried over.

use std::fs;

use serde_json::Value;

use super::{Exit, Folder, POND, WEIR, WIDE, dyekin, golden};

/// A green measured for print; the table was measured in daylight.
const PRINT: [&str; 5] = ["lab(42 -20 22)", "--origin", "meter", "--white", "D50/10"];

fn asked<'a>(command: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    [&[command], &PRINT[..], more].concat()
}

/// A report as one line.
fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn measured_under_another_light_is_refused() {
    let args = asked("match", &["--table", WEIR]);
    let said = golden("measured_under_another_light_is_refused", None, WIDE, &args);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("--adapt bradford"), "{}", said.err);
}

#[test]
fn adapted_differences_name_their_method() {
    let args = asked("match", &["--adapt", "--table", WEIR, "--count", "2"]);
    let said = golden("adapted_differences_name_their_method", None, WIDE, &args);
    assert_eq!(said.exit, Exit::Done);
    assert!(unwrapped(&said.out).contains("adapted by Bradford)"), "{}", said.out);
    let first = said.out.lines().nth(2).unwrap();
    assert!(!first.contains("identical"), "an adapted difference is not checked: {first}");
    let args = asked("match", &["--adapt", "cat16", "--table", WEIR]);
    assert!(unwrapped(&dyekin(&args).out).contains("adapted by CAT16)"));
}

#[test]
fn json_says_by_which_method() {
    for (typed, method) in [("--adapt=bradford", "bradford"), ("--adapt=cat16", "cat16")] {
        let said = dyekin(&asked("match", &[typed, "--table", WEIR, "--json"]));
        let answer: Value = serde_json::from_str(&said.out).unwrap();
        let first = &answer["answers"][0]["matches"][0];
        assert_eq!((&first["adapted"], &first["rough"]), (&Value::from(method), &true.into()));
    }
    let args = ["compare", "weir:WR-31", "weir:WR-32", "--table", WEIR, "--json", "--adapt"];
    let answer: Value = serde_json::from_str(&dyekin(&args).out).unwrap();
    let first = &answer["comparisons"][0];
    assert_eq!((&first["adapted"], &first["rough"]), (&Value::Null, &false.into()));
}

#[test]
fn another_observer_is_refused_with_or_without_adaptation() {
    let args = ["match", "lab(42 -20 22)", "--origin", "meter", "--white", "D65/2"];
    let refused = dyekin(&[&args, &["--table", WEIR][..]].concat());
    assert_eq!(refused.exit, Exit::Input);
    assert!(!refused.err.contains("--adapt"), "it would not help: {}", refused.err);
    let refused = dyekin(&[&args, &["--table", WEIR, "--adapt"][..]].concat());
    assert_eq!(refused.exit, Exit::Input);
    assert!(refused.err.contains("not the observer"), "{}", refused.err);
}

#[test]
fn an_unknown_method_is_refused_with_those_that_are_known() {
    let said = dyekin(&["match", "--adapt", "#4a6b3c", "--table", POND]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("write --adapt bradford or --adapt cat16"), "{}", said.err);
}

#[test]
fn screen_colors_need_no_adaptation_and_get_none() {
    let plain = dyekin(&["match", "#4a6b3c", "--table", WEIR]);
    let adapting = dyekin(&["match", "#4a6b3c", "--table", WEIR, "--adapt"]);
    assert_eq!((plain.out.as_str(), plain.exit), (adapting.out.as_str(), adapting.exit));
    assert!(plain.out.contains('~') && !plain.out.contains("adapted"), "{}", plain.out);
}

const SHELF: &str = "code,name,L,a,b,illuminant,observer,origin\n\
                     PR-1,Moss,42,-20,22,D50,10,meter\n\
                     PR-2,Tile,41,39,33,D50,10,meter\n";

#[test]
fn a_chart_goes_from_one_light_to_another_and_its_list_comes_back() {
    let folder = Folder::new("adapted");
    let (print, grid) = (folder.path("print.csv"), folder.path("grid.csv"));
    fs::write(&print, SHELF).unwrap();
    fs::write(&grid, "PR-1,PR-1,PR-2\nPR-1,PR-2,PR-2\n").unwrap();
    let (out, list) = (folder.path("out.json"), folder.path("changes.json"));
    let args = ["convert", &grid, "--from", &print, "--table", WEIR, "-o", &out];
    let refused = dyekin(&args);
    assert_eq!(refused.exit, Exit::Input);
    assert!(refused.err.contains("--adapt bradford"), "{}", refused.err);

    let said = dyekin(&[&args, &["--adapt", "cat16", "--changes", &list][..]].concat());
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.out.contains("adapted by CAT16"), "{}", said.out);
    assert!(said.out.contains("not checked"), "{}", said.out);
    let written: Value = serde_json::from_str(&folder.text("changes.json")).unwrap();
    let after = &written["changes"][0]["after"][0];
    assert_eq!(
        (&after["trust"], &after["adapted"]["method"]),
        (&"adapted".into(), &"cat16".into())
    );
    assert_eq!(written["settings"]["adapt"], "cat16");
    assert_eq!(written["changes"][0]["checked"], false);

    let again = folder.path("again.json");
    let args = ["convert", &grid, "--from", &print, "--table", WEIR, "-o", &out, "--force"];
    let more = ["--adapt", "cat16", "--answers", &list, "--changes", &again];
    assert_eq!(dyekin(&[&args, &more[..]].concat()).exit, Exit::Done);
    let broken = folder.text("changes.json").replace("\"method\": \"cat16\"", "\"method\": \"x\"");
    fs::write(&list, broken).unwrap();
    let refused = dyekin(&[&args, &["--answers", &list][..]].concat());
    assert!(refused.err.contains("not a method of adaptation"), "{}", refused.err);
}

#[test]
fn two_versions_of_a_table_under_two_lights_are_compared_when_asked() {
    let folder = Folder::new("adapted-versions");
    let (old, new) = (folder.path("old.csv"), folder.path("new.csv"));
    fs::write(&old, SHELF).unwrap();
    fs::write(&new, SHELF.replace("D50", "D65")).unwrap();
    let args = ["table", "compare", &old, &new];
    assert!(!dyekin(&args).out.contains("adapted"));
    let said = dyekin(&[&args[..], &["--adapt"]].concat());
    assert!(unwrapped(&said.out).contains("adapted by Bradford"), "{}", said.out);
}

#[test]
fn threads_that_the_data_cannot_tell_apart_are_one_group() {
    let folder = Folder::new("as-near");
    let table = folder.path("greens.csv");
    let rows = "code,hex\nG1,#4a6b3c\nG2,#4b6b3c\nG3,#4a6c3d\nG4,#8a2020\n";
    fs::write(&table, rows).unwrap();
    let count =
        |count: &str| dyekin(&["match", "#4a6b3b", "--table", &table, "--count", count]).out;
    assert!(count("2").contains("1, 2 and 1 more: cannot tell these apart; -n 3 shows them"));
    assert!(count("1").contains("1 and 2 more: cannot tell these apart; -n 3 shows them"));
    assert!(count("3").contains("1 to 3: cannot tell these apart, look at all of them"));
    assert!(count("4").contains("1 to 3: cannot tell these apart, look at all of them"));
    let args = ["match", "#4a6b3b", "--table", &table, "--count", "1", "--json"];
    let answer: Value = serde_json::from_str(&dyekin(&args).out).unwrap();
    assert_eq!(answer["answers"][0]["more_as_near"], 2);
}

#[test]
fn a_stand_in_names_the_threads_that_may_be_as_near() {
    let folder = Folder::new("stand-ins");
    let (table, grid) = (folder.path("greens.csv"), folder.path("grid.csv"));
    fs::write(&table, "code,hex\nG1,#4a6b3c\nG2,#4d6e40\nG3,#4d6e41\nG4,#8a2020\n").unwrap();
    fs::write(&grid, "G1,G4\nG4,G1\n").unwrap();
    let out = folder.path("out.json");
    let args = ["substitute", &grid, "--table", &table, "--missing", "G1", "-o", &out];
    let said = dyekin(&args);
    assert!(said.out.contains("-> greens G2"), "{}", said.out);
    assert!(
        said.out.contains("just as near, as far as the data can tell: greens G3; look at both"),
        "{}",
        said.out
    );
    let details = dyekin(&[&args[..], &["--details", "--force"]].concat());
    let said = unwrapped(&details.out);
    assert!(
        said.contains("just as near as the one proposed, as far as the data can tell"),
        "{said}"
    );
    let json = dyekin(&[&args[..], &["--json", "--force"]].concat());
    let answer: Value = serde_json::from_str(&json.out).unwrap();
    let change = &answer["changes"][0];
    assert_eq!(change["after"][0]["as_near"], false);
    assert_eq!(change["runners_up"][0]["as_near"], true);
}
