//! How few threads: a tolerance, squares, what a thread is worth, lists of owned threads.
//! It does not know how they are chosen.

mod amounts;
mod areas;

use std::fs;

use serde_json::Value;

use super::{BRIDGE, Exit, Folder, POND, dyekin};

fn reduce<'a>(folder: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    [&["reduce", BRIDGE, "--table", POND, "-o", folder, "--force"], more].concat()
}

fn json(args: &[&str]) -> Value {
    let said = dyekin(&[args, &["--json", "--quiet"]].concat());
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    serde_json::from_str(&said.out).unwrap()
}

#[test]
fn the_fewest_threads_within_a_tolerance_are_proved_in_words() {
    let folder = Folder::new("fewest");
    let out = folder.path("out.csv");
    let changes = folder.path("changes.json");
    let args = reduce(&out, &["--tolerance", "12", "--changes", &changes]);
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let answer = json(&args);
    let report = &answer["reduction"];
    let fewest = report["fewest"].as_u64().unwrap();
    assert_eq!(answer["colors_after"], fewest);
    assert!(answer["max_difference"].as_f64().unwrap() <= 12.0);
    let fewer = format!("No {} threads keep every color within 12.", fewest - 1);
    assert!(said.out.contains(&fewer), "{}", said.out);
    assert!(
        said.out.contains(&format!("No {fewest} threads within 12 do better.")),
        "{}",
        said.out
    );
    let list: Value = serde_json::from_str(&folder.text("changes.json")).unwrap();
    assert_eq!(list["settings"]["tolerance"], "12");
    let threads = (fewest - 1).to_string();
    let said = dyekin(&reduce(&out, &["--tolerance", "12", "--threads", &threads]));
    assert_eq!(said.exit, Exit::Input);
    let refused = format!("error: no {threads} threads keep every color within 12\n");
    assert!(said.err.contains(&refused), "{}", said.err);
    let hint = format!("hint: ask for {fewest}, or allow a larger difference");
    assert!(said.err.contains(&hint), "{}", said.err);
}

#[test]
fn a_tolerance_that_no_thread_meets_names_the_color_and_what_would_do() {
    let folder = Folder::new("far");
    let table = folder.path("dark.csv");
    fs::write(&table, "code,hex\nD-1,#202020\n").unwrap();
    let out = folder.path("out.csv");
    let args =
        ["reduce", BRIDGE, "--from", POND, "--table", &table, "-o", &out, "--tolerance", "6"];
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("colors have no thread within 6; of color"), "{}", said.err);
    assert!(said.err.contains("hint: allow "), "{}", said.err);
}

#[test]
fn owned_threads_are_free_where_a_thread_is_worth_something() {
    let folder = Folder::new("owned");
    let out = folder.path("out.csv");
    let args = reduce(&out, &["--thread-worth", "2.5"]);
    let without = json(&args);
    assert_eq!(without["reduction"]["threads_to_get"], without["colors_after"]);
    let owned = folder.path("owned.txt");
    fs::write(&owned, "# my box\nPN-2C\n\npond:PN-5B \npn 3b\nPN-4A\nPN-4B\n").unwrap();
    let said = dyekin(&[&args[..], &["--owned", &owned]].concat());
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.err.contains("line 5: `pn 3b` is read as pond PN-3B"), "{}", said.err);
    assert!(said.out.contains("threads you own"), "{}", said.out);
    fs::write(folder.path("wrong.txt"), "PN-2C\nXX-9\n").unwrap();
    let wrong = dyekin(&[&args[..], &["--owned", &folder.path("wrong.txt")]].concat());
    assert!(wrong.err.contains("no thread of the tables is named here"), "{}", wrong.err);
    let with = json(&[&args[..], &["--owned", &owned]].concat());
    assert!(with["reduction"]["total"].as_f64() < without["reduction"]["total"].as_f64());
    assert!(with["colors_after"].as_u64() >= without["colors_after"].as_u64());
}

#[test]
fn squares_are_said_to_be_squares() {
    let folder = Folder::new("squares");
    let out = folder.path("out.csv");
    let args = reduce(&out, &["--threads", "3", "--keep-edges", "off", "--squared"]);
    let said = dyekin(&[&args[..], &["--details"]].concat());
    assert!(said.out.contains("No 3 threads do better by squared differences."), "{}", said.out);
    assert!(said.out.contains("Made small:"), "{}", said.out);
    let (squared, plain) = (json(&args), json(&args[..args.len() - 1]));
    assert_eq!(squared["reduction"]["weighing"], "squared");
    assert!(squared["lower_bound"].is_null() && plain["lower_bound"].is_number());
    assert!(squared["mean_difference"].as_f64() >= plain["mean_difference"].as_f64());
}

#[test]
fn what_says_too_little_is_refused() {
    let folder = Folder::new("little");
    let out = folder.path("out.csv");
    for (more, said) in [
        (&[][..], "error: nothing says how few threads are wanted"),
        (&["--threads", "0"], "error: --threads 0: a chart needs a thread"),
        (&["--threads", "3", "--owned", POND], "error: --owned: where a thread costs nothing"),
        (&["--tolerance", "-1"], "error: --tolerance -1: a difference is a number, 0 or more"),
        (&["--thread-worth", "nan"], "error: --thread-worth NaN: a difference is a number"),
    ] {
        let run = dyekin(&reduce(&out, more));
        assert_eq!(run.exit, Exit::Input, "{more:?}");
        assert!(run.err.contains(said), "{more:?}: {}", run.err);
    }
    assert_eq!(folder.files(), 0);
}
