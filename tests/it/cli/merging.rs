//! `dyekin merge`: bars, list, anchor and JSON.
//! It does not know how merges are found.

use serde_json::Value;

use super::*;

const FERRY: &str = "../demo/input/last-ferry.png";
const QUILLMOOR: &str = "../data/quillmoor.csv";

fn json(args: &[&str]) -> Value {
    serde_json::from_str(&dyekin(&[args, &["--json", "--quiet"]].concat()).out).unwrap()
}

#[test]
fn merge_lists_every_step_down_to_one() {
    let args = ["merge", BRIDGE, "--table", POND];
    golden("merge_lists_every_step_down_to_one", None, WIDE, &args);
    let value = json(&args);
    let steps = value["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 8);
    assert_eq!(steps.last().unwrap()["threads_left"], 1);
    assert_eq!(value["curve"].as_array().unwrap().len(), 9);
    assert_eq!(value["anchor"], Value::Null);
}

#[test]
fn merge_reads_well_in_a_narrow_terminal() {
    let args = ["merge", BRIDGE, "--table", POND, "--anchor", "4"];
    let said = golden("merge_reads_well_in_a_narrow_terminal", None, NARROW, &args);
    fits(&said.out, NARROW);
    assert!(said.out.is_ascii());
}

#[test]
fn merge_details_name_every_move() {
    let args = ["merge", BRIDGE, "--table", POND, "--details", "--within", "10"];
    let said = golden("merge_details_name_every_move", None, WIDE, &args);
    assert!(said.out.contains("over best"));
}

#[test]
fn an_anchored_list_meets_the_best_palette_there_and_stays_near_it_elsewhere() {
    let args = ["merge", FERRY, "--table", QUILLMOOR, "--anchor", "24"];
    let value = json(&args);
    let (steps, curve) = (value["steps"].as_array().unwrap(), value["curve"].as_array().unwrap());
    assert!(curve.iter().all(|point| point["proved_best"] == true));
    let number = |value: &Value| value.as_f64().unwrap();
    let there = steps.iter().find(|step| step["threads_left"] == 24).unwrap();
    assert!(number(&there["gap_percent"]) < 1e-6);
    let chosen = curve.iter().find(|point| point["threads"] == 24).unwrap();
    assert!((number(&there["mean_difference"]) - number(&chosen["mean_difference"])).abs() < 1e-9);
    let many = steps.iter().filter(|step| step["threads_left"].as_u64().unwrap() >= 8);
    let gaps: Vec<f64> = many.map(|step| number(&step["gap_percent"])).collect();
    let count = f64::from(u32::try_from(gaps.len()).unwrap());
    assert!(gaps.iter().sum::<f64>() / count <= 1.0, "{gaps:?}");
    let said = dyekin(&args);
    assert!(said.out.contains("\n> 24  "), "{}", said.out);
    assert!(said.out.contains("\n24    "), "{}", said.out);
}

#[test]
fn an_anchor_that_cannot_be_is_refused() {
    let none = dyekin(&["merge", BRIDGE, "--table", POND, "--anchor", "0"]);
    assert_eq!(none.exit, Exit::Input);
    assert!(none.err.contains("a number of threads is 1 to 4096"), "{}", none.err);
    let kept = ["merge", BRIDGE, "--table", POND, "--anchor", "1", "--keep", "PN-3A,PN-3B"];
    let kept = dyekin(&kept);
    assert!(kept.err.contains("do not fit into 1"), "{}", kept.err);
}
