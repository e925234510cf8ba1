//! Each object of `--json` against `client/answers.schema.json`: members, their types, nothing else.
//! It does not judge the answers.

use dyekin_core::Formula;
use serde_json::Value;

use super::*;

const SCHEMA: &str = include_str!("../../../client/answers.schema.json");

/// What does not fit, as a path and a reason; the part of JSON Schema that the file uses.
pub(super) fn misfit(schema: &Value, root: &Value, value: &Value, path: &str) -> Option<String> {
    if let Some(target) = schema["$ref"].as_str() {
        let pointed = root.pointer(target.trim_start_matches('#')).unwrap();
        return misfit(pointed, root, value, path);
    }
    if let Some(choices) = schema["oneOf"].as_array() {
        let fitting = choices.iter().filter(|one| misfit(one, root, value, path).is_none()).count();
        return (fitting != 1).then(|| format!("{path}: {fitting} choices fit {value}"));
    }
    if schema["enum"].as_array().is_some_and(|words| !words.contains(value)) {
        return Some(format!("{path}: {value} is none of the words"));
    }
    let is_right = match schema["type"].as_str() {
        None => true,
        Some("array") => value.is_array(),
        Some("boolean") => value.is_boolean(),
        Some("integer") => value.is_u64(),
        Some("null") => value.is_null(),
        Some("number") => value.is_number(),
        Some("object") => value.is_object(),
        Some("string") => value.is_string(),
        Some(other) => panic!("{other}"),
    };
    if !is_right {
        return Some(format!("{path}: {value} is no {}", schema["type"]));
    }
    inside(schema, root, value, path)
}

fn inside(schema: &Value, root: &Value, value: &Value, path: &str) -> Option<String> {
    let items = value.as_array().into_iter().flatten().enumerate();
    if let Some(found) = items
        .filter_map(|(at, item)| misfit(&schema["items"], root, item, &format!("{path}[{at}]")))
        .next()
    {
        return Some(found);
    }
    let members = value.as_object()?;
    let mut required = schema["required"].as_array().into_iter().flatten();
    if let Some(lost) = required.find(|name| !members.contains_key(name.as_str().unwrap())) {
        return Some(format!("{path}: {lost} is missing"));
    }
    members.iter().find_map(|(name, held)| match schema["properties"].get(name) {
        Some(known) => misfit(known, root, held, &format!("{path}.{name}")),
        None => Some(format!("{path}: {name} is not in the schema")),
    })
}

/// The answer of a command, which must be the object that the schema gives this name.
pub(super) fn answer(name: &str, args: &[&str]) -> Value {
    let root: Value = serde_json::from_str(SCHEMA).unwrap();
    let said = dyekin(&[args, &["--json"]].concat());
    let value: Value = serde_json::from_str(&said.out).unwrap_or_else(|_| panic!("{}", said.err));
    assert_eq!(misfit(&root["$defs"][name], &root, &value, name), None);
    assert_eq!(misfit(&root, &root, &value, name), None);
    value
}

#[test]
fn colors_and_threads_are_answered_as_the_schema_says() {
    let found = answer("match", &["match", "#4a6b3c", "PN-3B", "--table", POND]);
    assert_eq!(found["answers"].as_array().unwrap().len(), 2);
    let beyond = answer("match", &["match", "#ff00ff", "--table", POND, "--within", "1"]);
    assert!(beyond["answers"][0]["beyond_limit"].is_object());
    for formula in ["cie76", "cie94:textile", "cmc:2:1", "din99o", "hyab"] {
        answer("match", &["match", "#4a6b3c", "--table", POND, "--formula", formula]);
    }
    let mixed = answer("blends", &["blend", "#4a6b3c", "PN-3B", "--table", POND]);
    assert_eq!(mixed["answers"][0]["blends"].as_array().unwrap().len(), 3);
    assert_eq!(mixed["answers"][1]["thread"]["code"], "PN-3B");
    let beyond = answer("blends", &["blend", "#ff00ff", "--table", POND, "--within", "1"]);
    assert!(beyond["answers"][0]["beyond_limit"].is_object());
    answer("compare", &["compare", "PN-3B", "#4a6b3c", "#4a6b3d", "--table", POND]);
    let steps = answer("merge", &["merge", BRIDGE, "--table", POND]);
    assert!(!steps["steps"].as_array().unwrap().is_empty());
}

#[test]
fn several_charts_are_answered_as_the_schema_says() {
    let folder = Folder::new("json-many");
    let charts = folder.path("charts");
    fs::create_dir(&charts).unwrap();
    fs::copy(BRIDGE, folder.path("charts/a.csv")).unwrap();
    fs::write(folder.path("charts/b.csv"), "PN-2A,nothing\n").unwrap();
    fs::write(folder.path("charts/notes.txt"), "cloth").unwrap();
    let [one, two, three] = ["1", "2", "3"].map(|name| folder.path(name));
    let reduce = ["reduce", &charts, "--table", POND, "--threads", "5", "-o", &one];
    let found = answer("many", &reduce);
    assert_eq!([&found["done"], &found["failed"]], [1, 1]);
    assert_eq!(answer("many", &[&reduce[..], &["--resume"]].concat())["skipped"], 1);
    answer("many", &["substitute", &charts, "--table", POND, "--missing", "PN-3B", "-o", &two]);
    answer("many", &["clean", &charts, "--table", POND, "-o", &three]);
    let checked = answer("many", &["check", &charts, "--table", POND]);
    assert_eq!(checked["done"], 1);
    assert_eq!(checked["charts"][0]["answer"]["question"], "check");
    let affected = ["affected", &charts, "--table", POND, "--missing", "PN-3B"];
    assert_eq!(answer("affected", &affected)["affected"], 1);
    answer("affected", &[&affected[..], &["--meters-per-stitch", "0.01"]].concat());
    answer("affected", &[&affected[..], &["--max-price", "0.01"]].concat());
}

#[test]
fn plans_are_answered_as_the_schema_says() {
    let folder = Folder::new("json-plans");
    let [one, two, three, four] =
        ["1.json", "2.csv", "3.png", "4.json"].map(|name| folder.path(name));
    let changes = folder.path("changes.json");
    let reduce = ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &one];
    let plan = answer("plan", &[&reduce[..], &["--changes", &changes]].concat());
    assert!(!plan["changes"][0]["runners_up"].as_array().unwrap().is_empty());
    answer("plan", &["substitute", BRIDGE, "--table", POND, "--missing", "PN-3B", "-o", &two]);
    answer("plan", &["convert", BRIDGE, "--table", WEIR, "--from", POND, "-o", &three]);
    let args = ["substitute", BRIDGE, "--table", POND, "--missing", "PN-3B", "--blends", "-o"];
    let seven = folder.path("7.json");
    let plan = answer("plan", &[&args[..], &[&seven]].concat());
    assert!(!plan["blends"][0]["blends"].as_array().unwrap().is_empty());
    let ranges = ["--table", WEIR, "--table", POND, "--extra-range", "4", "--from", POND];
    let five = folder.path("5.json");
    let plan = answer("plan", &[&["convert", BRIDGE, "-o", &five], &ranges[..]].concat());
    assert!(plan["ranges"]["ranges"].is_array());
    let own = ["--owned", "data/cli/owned.txt", "--buy-within", "30", "--from", POND];
    let six = folder.path("6.json");
    let args = [&["convert", BRIDGE, "--table", WEIR, "-o", &six], &own[..]].concat();
    assert!(!answer("plan", &args)["own"]["buy"].as_array().unwrap().is_empty());
    let applied = answer("apply", &["apply", &changes, BRIDGE, "--table", POND, "-o", &four]);
    assert_eq!(applied["changes"], 0);
}

#[test]
fn the_way_back_is_answered_as_the_schema_says() {
    let folder = Folder::new("json-undo");
    let [new, record, back] = ["new.csv", "record", "back.csv"].map(|name| folder.path(name));
    let reduce = ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &new];
    answer("plan", &[&reduce[..], &["--undo", &record]].concat());
    let undone = answer("undo", &["undo", &record, &new, "-o", &back]);
    assert!(undone["files"]["chart"].is_string());
}

#[test]
fn keys_are_written_as_their_schema_says() {
    let folder = Folder::new("key-schema");
    let root: Value =
        serde_json::from_str(include_str!("../../../client/key.schema.json")).unwrap();
    let [out, key, alone] = ["out.json", "key.json", "alone.json"].map(|name| folder.path(name));
    let reduce = ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &out, "--key", &key];
    assert_eq!(dyekin(&reduce).exit, Exit::Done);
    let of_key = "data/cli/bridge-key.csv";
    let args = ["substitute", of_key, "--table", POND, "--missing", "PN-3B", "-o", &alone];
    assert_eq!(dyekin(&args).exit, Exit::Done);
    for name in ["key.json", "alone.json"] {
        let value: Value = serde_json::from_str(&folder.text(name)).unwrap();
        assert_eq!(misfit(&root, &root, &value, name), None);
        assert!(!value["key"].as_array().unwrap().is_empty());
    }
}

#[test]
fn cleaning_is_answered_as_the_schema_says() {
    let folder = Folder::new("json-clean");
    let [one, two, changes] = ["1.png", "2.png", "c.json"].map(|name| folder.path(name));
    let buoy = "data/cli/buoy.png";
    let cleaned = answer("clean", &["clean", buoy, "-o", &one, "--changes", &changes]);
    assert!(!cleaned["moves"].as_array().unwrap().is_empty());
    assert!(!cleaned["suggestions"].as_array().unwrap().is_empty());
    let root: Value =
        serde_json::from_str(include_str!("../../../client/stitches.schema.json")).unwrap();
    let list: Value = serde_json::from_str(&folder.text("c.json")).unwrap();
    assert_eq!(misfit(&root, &root, &list, "list"), None);
    let applied = answer("apply_stitches", &["apply", &changes, buoy, "-o", &two]);
    assert_eq!(applied["moved"], 0);
}

#[test]
fn tables_are_answered_as_the_schema_says() {
    let bad = "data/inputs/nan-inf-empty.csv";
    let checked = answer("read_tables", &["table", "check", POND, bad, "not-there.csv"]);
    assert_eq!(checked["tables"][0]["table"], "pond");
    let problems = checked["problems"].as_array().unwrap();
    assert_eq!(problems[0]["file"], bad);
    assert!(problems[0]["line"].is_u64() && problems[0]["column"].is_string());
    assert_eq!(problems.last().unwrap()["file"], "not-there.csv");
    answer("list", &["table", "list", "--table", POND]);
}

#[test]
fn notes_are_answered_as_the_schema_says() {
    let found = answer("check", &["check", check::MILL, "--table", check::STALL]);
    assert!(found["notes"].as_array().unwrap().len() > 10);
    assert!(found["notes"].as_array().unwrap().iter().all(|note| note["words"].is_string()));
    let strays = answer("check", &["check", "data/cli/buoy.png", "--cloth", "#ffffff"]);
    let is_stray = |note: &Value| note["code"] == "stray-edges";
    assert!(strays["notes"].as_array().unwrap().iter().any(is_stray));
    answer("check", &["check", "data/cli/bridge-key.csv", "--table", POND]);
    answer("check", &["check", BRIDGE, "--table", POND]);
}

#[test]
fn audits_and_comparisons_are_answered_as_the_schema_says() {
    let steps = "data/cli/steps.csv";
    let audit = answer("audit", &["table", "audit", steps, "--gap", "20"]);
    for list in ["near_twins", "swapped_rows", "gaps"] {
        assert!(!audit[list].as_array().unwrap().is_empty(), "{list}");
    }
    let compared = answer("compare_tables", &["table", "compare", POND, "data/cli/pond-2.csv"]);
    for list in ["gone", "added", "recolored", "renamed", "status_changes", "other_changes"] {
        assert!(!compared[list].as_array().unwrap().is_empty(), "{list}");
    }
    assert!(compared["substitutions"][0]["after"].is_object());
    let folder = Folder::new("another-light");
    let text = fs::read_to_string(WEIR).unwrap().replace(",D65,10,", ",D50,2,");
    fs::write(folder.path("weir.csv"), text.replace("WR-61", "WR-62")).unwrap();
    let refused = answer("compare_tables", &["table", "compare", WEIR, &folder.path("weir.csv")]);
    assert!(refused["recolored"][0]["error"].is_object());
    let unanswered = refused["substitutions"].as_array().unwrap();
    assert!(unanswered.iter().any(|change| change["after"]["error"].is_object()));
}

/// Both schemas list the formulas: one added to the program must be added to them.
#[test]
fn the_schemas_name_every_formula() {
    let answers: Value = serde_json::from_str(SCHEMA).unwrap();
    let changes: Value =
        serde_json::from_str(include_str!("../../../client/changes.schema.json")).unwrap();
    let mut known: Vec<&str> = Formula::PRESETS.iter().map(|formula| formula.name()).collect();
    known.sort_unstable();
    known.dedup();
    for named in [
        &answers["$defs"]["match"]["properties"]["formula"]["enum"],
        &changes["properties"]["formula"]["properties"]["name"]["enum"],
    ] {
        let named: Vec<&str> = named.as_array().unwrap().iter().flat_map(Value::as_str).collect();
        assert_eq!(named, known);
    }
}

#[test]
fn another_member_or_type_does_not_fit() {
    let root: Value = serde_json::from_str(SCHEMA).unwrap();
    let listed = dyekin(&["table", "list", "--table", POND, "--json"]).out;
    let good: Value = serde_json::from_str(&listed).unwrap();
    for (wrong, reason) in [
        (listed.replace("\"threads\"", "\"yarns\""), "list.tables[0]: \"threads\" is missing"),
        (listed.replacen("\"hash\"", "\"extra\": 1, \"hash\"", 1), "list.tables[0]: extra is not"),
        (listed.replace("\"table\": \"pond\"", "\"table\": 7"), "list.tables[0].table: 7 is no"),
    ] {
        let wrong: Value = serde_json::from_str(&wrong).unwrap();
        assert_ne!(wrong, good);
        let said = misfit(&root["$defs"]["list"], &root, &wrong, "list").unwrap();
        assert!(said.starts_with(reason), "{said}");
    }
}
