//! Edges that are kept, on the command line: settings, areas of shading, what is refused.
//! It does not know how threads are chosen.

use serde_json::{Value, json};

use super::{BRIDGE, Exit, Folder, POND, dyekin};

/// The bridge as chart JSON with two areas that overlap: everything, and the first two rows.
fn with_areas(folder: &Folder) -> String {
    let path = folder.path("bridge.json");
    let said = dyekin(&["reduce", BRIDGE, "--table", POND, "--threads", "9", "-o", &path]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let mut chart: Value = serde_json::from_str(&folder.text("bridge.json")).unwrap();
    let (width, height) = (chart["width"].as_u64().unwrap(), chart["height"].as_u64().unwrap());
    let rows = |count: u64| -> Value { (0..count).map(|y| json!([0, y, width])).collect() };
    chart["areas"] =
        json!([{"name": "bank", "cells": rows(height)}, {"name": "rail", "cells": rows(2)}]);
    std::fs::write(&path, chart.to_string()).unwrap();
    path
}

#[test]
fn areas_of_shading_are_told_apart_and_a_list_about_them_can_be_carried_out() {
    let folder = Folder::new("shading");
    let chart = with_areas(&folder);
    let (out, changes) = (folder.path("out.json"), folder.path("changes.json"));
    let said = dyekin(&[
        "reduce",
        &chart,
        "--table",
        POND,
        "--threads",
        "5",
        "--keep",
        "area:rail",
        "--keep-shading",
        "bank",
        "-o",
        &out,
        "--changes",
        &changes,
    ]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let mut list: Value = serde_json::from_str(&folder.text("changes.json")).unwrap();
    assert_eq!(list["settings"]["keep-edges"], "normal");
    assert_eq!(list["settings"]["keep-shading"], "bank");
    assert_eq!(list["totals"]["combined"]["keep_edges"], "normal");
    for change in list["changes"].as_array_mut().unwrap() {
        assert_eq!(change["area"], "bank");
        change["answer"] = json!("yes");
    }
    std::fs::write(&changes, list.to_string()).unwrap();
    let again = folder.path("again.json");
    let said = dyekin(&["apply", &changes, &chart, "--table", POND, "-o", &again]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert_eq!(folder.text("again.json"), folder.text("out.json"));
}

#[test]
fn settings_that_mean_nothing_are_refused_with_what_to_write() {
    let folder = Folder::new("edges");
    let chart = with_areas(&folder);
    let out = folder.path("out.json");
    let base = ["reduce", &chart, "--table", POND, "--threads", "5", "-o", &out];
    let ask = |more: &[&str]| dyekin(&[&base, more].concat());
    let said = ask(&["--keep-shading", "moon"]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("its areas are: bank, rail"), "{}", said.err);
    let said = ask(&["--keep-edges", "off", "--keep-shading", "bank"]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("leave out --keep-edges off"), "{}", said.err);
    let said = ask(&["--keep-edges", "much"]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("off, low, normal or high"), "{}", said.err);
}

#[test]
fn a_higher_setting_loses_no_more_contrast() {
    let folder = Folder::new("settings");
    let out = folder.path("out.csv");
    let lost = |setting: &str| {
        let said = dyekin(&[
            "reduce",
            BRIDGE,
            "--table",
            POND,
            "--threads",
            "5",
            "--keep-edges",
            setting,
            "-o",
            &out,
            "--force",
            "--json",
            "--quiet",
        ]);
        let answer: Value = serde_json::from_str(&said.out).unwrap();
        let edges = &answer["edges"];
        edges["vanished"].as_u64().unwrap() + edges["faded"].as_u64().unwrap()
    };
    assert!(lost("off") > lost("normal"));
    assert!(lost("normal") >= lost("high"));
}
