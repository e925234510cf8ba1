//! `check` over several charts: a line for each, the notes of those that fail, the exit code.
//! It does not judge the notes: `cli/check.rs` does.

use super::*;

/// One chart with a thread that is low, one with a discontinued thread.
fn two(name: &str) -> Charts {
    let charts = Charts::new(name, &[]);
    charts.write("charts/a.csv", &"PN-2A,PN-2A,PN-2A,PN-4B,PN-4B,PN-4B\n".repeat(6));
    charts.write("charts/b.csv", &"PN-2A,PN-2A,PN-2A,PN-3C,PN-3C,PN-3C\n".repeat(6));
    charts
}

const CHECK: &str = "check @charts --table @pond.csv";

#[test]
fn each_chart_has_a_line_and_what_must_be_fixed_is_told() {
    let charts = two("checked-lines");
    let said = charts.run(CHECK);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let alone = charts.run("check @charts/b.csv --table @pond.csv");
    let first = alone.out.lines().next().unwrap();
    assert!(said.out.lines().any(|line| line == first), "{first}\n{}", said.out);
    assert!(said.out.contains("PN-3C"), "{}", said.out);
    assert!(!said.out.contains("PN-4B"), "{}", said.out);
    assert!(said.out.contains("2 charts done."), "{}", said.out);
    assert!(said.out.contains("to fix before selling in 1 chart"), "{}", said.out);
    let all = charts.run(&format!("{CHECK} --details"));
    assert!(all.out.contains("PN-4B"), "{}", all.out);
}

#[test]
fn one_chart_that_fails_makes_the_run_fail() {
    let charts = two("checked-fail");
    assert_eq!(charts.run(&format!("{CHECK} --fail-on fix")).exit, Exit::NothingMatched);
    fs::remove_file(charts.path("charts/b.csv")).unwrap();
    assert_eq!(charts.run(&format!("{CHECK} --fail-on fix")).exit, Exit::Done);
}

#[test]
fn the_object_of_each_chart_is_that_of_the_chart_alone() {
    let charts = two("checked-json");
    charts.write("charts/c.csv", "PN-2A,no such code\n");
    let said = charts.run(&format!("{CHECK} --json"));
    assert_eq!(said.exit, Exit::Input);
    let together = json(&said);
    for (place, name) in ["a", "b"].into_iter().enumerate() {
        let line = format!("check @charts/{name}.csv --table @pond.csv --json");
        let alone = charts.run(&line);
        let mut alone: Value = serde_json::from_str(&alone.out).unwrap();
        let mut found = together["charts"][place]["answer"].clone();
        // Ways out name the chart as it was typed.
        for object in [&mut alone, &mut found] {
            object["chart"] = Value::Null;
            object["notes"].as_array_mut().unwrap().iter_mut().for_each(|note| {
                note["command"] = Value::Null;
            });
        }
        assert_eq!(found, alone);
    }
    assert_eq!(together["failed"], 1);
    assert_eq!(together["totals"]["charts_fix"], 1);
}

#[test]
fn one_log_holds_the_notes_of_all_charts() {
    let charts = two("checked-log");
    let said = charts.run(&format!("{CHECK} --sarif"));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let log: Value = serde_json::from_str(&said.out).unwrap();
    let results = log["runs"][0]["results"].as_array().unwrap();
    let worst = |name: &str| -> Vec<&str> {
        let is_of = |result: &&Value| {
            let place = &result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"];
            place.as_str().is_some_and(|uri| uri.ends_with(name)) && result["level"] == "error"
        };
        results.iter().filter(is_of).filter_map(|result| result["ruleId"].as_str()).collect()
    };
    assert_eq!(worst("charts/a.csv"), Vec::<&str>::new());
    assert_eq!(worst("charts/b.csv"), ["thread-gone"]);
}

#[test]
fn any_number_of_workers_says_the_same() {
    let charts = two("checked-order");
    for number in 0..20 {
        charts.write(&format!("charts/n{number:02}.csv"), &codes(number));
    }
    let one = charts.run(&format!("{CHECK} --jobs 1"));
    let many = charts.run(&format!("{CHECK} --jobs 7"));
    assert_eq!((one.out, one.err), (many.out, many.err));
}
