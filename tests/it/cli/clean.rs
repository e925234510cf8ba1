//! `dyekin clean` and its list of single stitches. It does not judge how well strays are found.

use super::*;

/// A small drawing whose edges are blends.
const BUOY: &str = "data/cli/buoy.png";

/// The list of a run, as JSON.
fn list(folder: &Folder, name: &str) -> serde_json::Value {
    serde_json::from_str(&folder.text(name)).unwrap()
}

/// True when two pictures have the same bytes.
fn same(folder: &Folder, one: &str, other: &str) -> bool {
    fs::read(folder.0.join(one)).unwrap() == fs::read(folder.0.join(other)).unwrap()
}

#[test]
fn clean_gives_stray_stitches_to_their_side() {
    let folder = Folder::new("clean");
    let (out, changes, key) =
        (folder.path("buoy.png"), folder.path("c.json"), folder.path("k.csv"));
    let args = ["clean", BUOY, "-o", &out, "--changes", &changes, "--key", &key];
    let said = golden("clean_gives_stray_stitches_to_their_side", Some(&folder), WIDE, &args);
    assert_eq!(said.exit, Exit::Done);
    fits(&said.out, WIDE);
    let list = list(&folder, "c.json");
    assert_eq!(list["question"], "clean");
    assert!(list["stitches"].as_array().unwrap().len() > 100);
    assert!(list["stitches"].as_array().unwrap().iter().all(|stitch| stitch["answer"].is_null()));
}

#[test]
fn clean_maps_a_picture_to_threads_when_a_table_is_given() {
    let folder = Folder::new("clean-mapped");
    let out = folder.path("buoy.json");
    let args = ["clean", BUOY, "--table", POND, "-o", &out];
    let said = golden("clean_maps_a_picture_to_threads", Some(&folder), NARROW, &args);
    fits(&said.out, NARROW);
    assert!(folder.text("buoy.json").contains("pond"));
}

#[test]
fn a_cleaned_chart_has_nothing_left_to_clean() {
    let folder = Folder::new("clean-twice");
    let (once, twice) = (folder.path("once.png"), folder.path("twice.png"));
    dyekin(&["clean", BUOY, "-o", &once]);
    let said = dyekin(&["clean", &once, "-o", &twice]);
    assert!(said.out.starts_with("No stray stitches along edges"), "{}", said.out);
    assert!(same(&folder, "once.png", "twice.png"));
}

#[test]
fn answered_stitches_are_carried_out_one_by_one() {
    let folder = Folder::new("clean-answers");
    let (out, changes) = (folder.path("all.png"), folder.path("c.json"));
    dyekin(&["clean", BUOY, "-o", &out, "--changes", &changes]);
    let made = list(&folder, "c.json");
    let moved = made["stitches"].as_array().unwrap().len();
    let count = moved + made["suggestions"][0]["cells"].as_array().unwrap().len();
    let none = folder.path("none.png");
    let said = dyekin(&["apply", &changes, BUOY, "-o", &none]);
    assert_eq!(said.exit, Exit::NothingMatched);
    assert!(said.out.contains(&format!("{count} stitches not answered")), "{}", said.out);
    // Two of them yes, one to another color, one no.
    let text = folder.text("c.json").replacen(
        "\"answer\": null, \"at\"",
        "\"answer\": \"yes\", \"at\"",
        2,
    );
    let text =
        text.replacen("\"answer\": null, \"at\"", "\"answer\": {\"another\": \"c1\"}, \"at\"", 1);
    let text = text.replacen("\"answer\": null, \"at\"", "\"answer\": \"no\", \"at\"", 1);
    fs::write(folder.0.join("some.json"), &text).unwrap();
    let some = folder.path("some.png");
    let said = dyekin(&["apply", &folder.path("some.json"), BUOY, "-o", &some, "--json"]);
    let value: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!((value["moved"].as_u64(), value["refused"].as_u64()), (Some(3), Some(1)));
    assert_eq!(value["unanswered"].as_u64(), Some(count as u64 - 4));
    // The rest answered at once: as clean wrote it, and the suggestion with it.
    let text = folder.text("c.json").replacen("\"rest\": null", "\"rest\": \"yes\"", 1);
    fs::write(folder.0.join("rest.json"), &text).unwrap();
    let rest = folder.path("rest.png");
    let quick = ["apply", &folder.path("rest.json"), BUOY, "-o", &rest];
    assert_eq!(dyekin(&quick).exit, Exit::Done);
    let lone = folder.path("lone.png");
    dyekin(&["clean", BUOY, "-o", &lone, "--lone", "--within", "9"]);
    assert!(same(&folder, "lone.png", "rest.png"));
    assert!(!same(&folder, "all.png", "rest.png"));
    // Cleaning again around the answers keeps the refused one.
    let again = folder.path("again.png");
    let around = folder.path("some.json");
    let said = dyekin(&["clean", BUOY, "-o", &again, "--answers", &around, "--json", "--quiet"]);
    let value: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(value["stray"].as_u64(), Some(moved as u64 - 1));
}

#[test]
fn lone_stitches_join_only_when_asked_and_near() {
    let folder = Folder::new("clean-lone");
    let (out, all) = (folder.path("a.png"), folder.path("b.png"));
    let run = |args: &[&str]| -> serde_json::Value {
        serde_json::from_str(&dyekin(&[args, &["--json", "--quiet"]].concat()).out).unwrap()
    };
    let left = run(&["clean", BUOY, "-o", &out]);
    assert_eq!(left["joined"].as_u64(), Some(0));
    assert_eq!(left["suggestions"][0]["cells"], serde_json::json!([[6, 29]]));
    assert_eq!(left["suggestions"][0]["thread_mm"].as_u64(), Some(50));
    assert_eq!(left["standing_out"].as_u64(), Some(1), "the star");
    let near = run(&["clean", BUOY, "-o", &all, "--lone", "--within", "2"]);
    assert_eq!(near["joined"].as_u64(), Some(0));
    let joined = run(&["clean", BUOY, "-o", &all, "--force", "--lone", "--within", "9"]);
    assert_eq!(joined["joined"].as_u64(), Some(1));
    let wide = run(&["clean", BUOY, "-o", &all, "--force", "--lone", "--within", "100"]);
    assert_eq!(wide["standing_out"].as_u64(), Some(1), "a star never joins");
}

#[test]
fn kept_colors_stay() {
    let folder = Folder::new("clean-keep");
    let out = folder.path("a.png");
    let all = dyekin(&["clean", BUOY, "-o", &out, "--json", "--quiet", "--force"]);
    let all: serde_json::Value = serde_json::from_str(&all.out).unwrap();
    let hex = all["moves"][0]["from"].as_str().unwrap();
    let kept = dyekin(&["clean", BUOY, "-o", &out, "--keep", hex, "--json", "--quiet", "--force"]);
    let kept: serde_json::Value = serde_json::from_str(&kept.out).unwrap();
    let left = |value: &serde_json::Value| value["stray"].as_u64().unwrap();
    assert_eq!(left(&kept), left(&all) - all["moves"][0]["stitches"].as_u64().unwrap());
}

#[test]
fn a_chart_in_threads_needs_their_table() {
    let folder = Folder::new("clean-threads");
    let (threads, out) = (folder.path("t.json"), folder.path("a.png"));
    dyekin(&["convert", BUOY, "--table", POND, "-o", &threads]);
    let said = dyekin(&["clean", &threads, "-o", &out]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("threads of table pond"), "{}", said.err);
    assert_eq!(dyekin(&["clean", &threads, "--table", POND, "-o", &out]).exit, Exit::Done);
}

#[test]
fn lists_of_stitches_and_of_colors_are_told_apart() {
    let folder = Folder::new("clean-lists");
    let (out, changes) = (folder.path("a.png"), folder.path("c.json"));
    dyekin(&["clean", BUOY, "-o", &out, "--changes", &changes]);
    let b = folder.path("b.png");
    let wrong = ["convert", BUOY, "--table", POND, "-o", &b, "--answers", &changes];
    let said = dyekin(&wrong);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("a list of single stitches"), "{}", said.err);
    let other = folder.path("other.png");
    dyekin(&["clean", BUOY, "-o", &other]);
    let said = dyekin(&["apply", &changes, &other, "-o", &b]);
    assert!(said.err.contains("already moved"), "{}", said.err);
    let broken = folder.text("c.json").replacen("\"from\": \"c", "\"from\": \"x", 2);
    fs::write(folder.0.join("broken.json"), broken).unwrap();
    let said = dyekin(&["apply", &folder.path("broken.json"), BUOY, "-o", &b]);
    assert_eq!(said.err.matches("a color's id is").count(), 2, "{}", said.err);
}

#[test]
fn a_key_alone_cannot_be_cleaned() {
    let folder = Folder::new("clean-key");
    let out = folder.path("a.json");
    let said = dyekin(&["clean", "data/cli/bridge-key.csv", "--table", POND, "-o", &out]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("a key alone has no stitches to clean"), "{}", said.err);
}
