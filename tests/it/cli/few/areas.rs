//! Areas that keep their colors: the same color comes apart where it lies in one of them.
//! It does not know how threads are chosen.

use std::fs;

use serde_json::{Value, json};

use crate::cli::{Exit, Folder, POND, dyekin};

/// A brown in the eyes, first row, and the same brown in the fence, second row.
const CHART: &str = "PN-2C,PN-5B,PN-2C,PN-5B\nPN-2C,PN-2C,PN-2C,PN-4B\nPN-2B,PN-2B,PN-2B,PN-4B\n";

/// The chart as JSON with the two cells of the eyes as an area.
fn drawn(folder: &Folder) -> String {
    let (grid, chart) = (folder.path("grid.csv"), folder.path("chart.json"));
    fs::write(&grid, CHART).unwrap();
    let args = ["convert", &grid, "--from", POND, "--table", POND, "-o", &chart];
    assert_eq!(dyekin(&args).exit, Exit::Done);
    let mut read: Value = serde_json::from_str(&folder.text("chart.json")).unwrap();
    read["areas"] = json!([{"name": "eyes", "cells": [[0, 0, 1], [2, 0, 1]]}]);
    fs::write(&chart, read.to_string()).unwrap();
    chart
}

/// The codes of a chart, row by row.
fn codes(folder: &Folder, chart: &str) -> Vec<Vec<String>> {
    let grid = folder.path("codes.csv");
    let args = ["convert", chart, "--table", POND, "-o", &grid, "--force"];
    assert_eq!(dyekin(&args).exit, Exit::Done);
    let text = folder.text("codes.csv");
    text.lines().map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

#[test]
fn a_brown_stays_in_the_eyes_and_goes_elsewhere_in_the_fence() {
    let folder = Folder::new("areas");
    let chart = drawn(&folder);
    let (out, changes) = (folder.path("out.json"), folder.path("changes.json"));
    let stock = folder.path("stock.txt");
    // Enough of the brown for the two stitches of the eyes, not for the five of both.
    fs::write(&stock, "PN-2C 0.02 m\nPN-5B 8 m\nPN-4B 8 m\nPN-2B 8 m\n").unwrap();
    let args = [
        "reduce",
        &chart,
        "--table",
        POND,
        "--threads",
        "4",
        "--stock",
        &stock,
        "--keep",
        "area:eyes",
        "--meters-per-stitch",
        "0.005",
        "-o",
        &out,
        "--changes",
        &changes,
        "--json",
    ];
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let answer: Value = serde_json::from_str(&said.out).unwrap();
    let area = |list: &str| {
        let colors = answer[list].as_array().unwrap().iter();
        let brown = colors.filter(|color| color["before"][0]["code"] == "PN-2C");
        brown.map(|color| color["area"].clone()).collect::<Vec<_>>()
    };
    assert_eq!((area("unchanged"), area("changes")), (vec![json!("eyes")], vec![Value::Null]));
    let after = codes(&folder, &out);
    assert_eq!((after[0][0].as_str(), after[0][2].as_str()), ("PN-2C", "PN-2C"));
    assert!(after[1][..3].iter().all(|code| code != "PN-2C"), "{after:?}");
    // The list names the area, so that carrying it out again does the same.
    let again = folder.path("again.json");
    let yes = folder.text("changes.json").replace("\"answer\": null", "\"answer\": \"yes\"");
    fs::write(&changes, yes).unwrap();
    let args = ["apply", &changes, &chart, "--table", POND, "-o", &again];
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert_eq!(codes(&folder, &again), after);
}
