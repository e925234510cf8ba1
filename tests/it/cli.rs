//! Each command in process: golden output, exit code, standard error. `UPDATE_GOLDEN=1` writes.
//! It does not know the formats of charts: `charts.rs` does.

mod adapted;
mod back;
mod blends;
mod check;
mod clean;
mod edges;
mod few;
mod formula;
mod half_way;
mod lights;
mod merging;
mod supply;
mod tables;

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

use dyekin_client::{Exit, Printer, run};

mod answers;
mod mistakes;

/// Columns of a usual terminal.
const WIDE: usize = 100;

/// Columns of a narrow one.
const NARROW: usize = 40;

/// A folder of its own that disappears with the test.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("dyekin-cli-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn path(&self, name: &str) -> String {
        self.0.join(name).to_str().unwrap().to_owned()
    }

    fn text(&self, name: &str) -> String {
        fs::read_to_string(self.0.join(name)).unwrap()
    }

    fn files(&self) -> usize {
        fs::read_dir(&self.0).unwrap().count()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// What a run said and how it ended.
struct Said {
    out: String,
    err: String,
    exit: Exit,
}

fn dyekin_wide(width: usize, args: &[&str]) -> Said {
    let (mut printer, captured) = Printer::captured(width);
    let typed = std::iter::once("dyekin").chain(args.iter().copied()).map(OsString::from);
    let exit = run(typed, &mut printer);
    Said { out: captured.out(), err: captured.err(), exit }
}

fn dyekin(args: &[&str]) -> Said {
    dyekin_wide(WIDE, args)
}

/// Tests run in the folder of their package.
const POND: &str = "data/cli/pond.csv";
const WEIR: &str = "data/cli/weir.csv";
const BRIDGE: &str = "data/cli/bridge.csv";

/// Compares a run with its golden file; the folder of the outputs is called OUT there.
fn golden(name: &str, folder: Option<&Folder>, width: usize, args: &[&str]) -> Said {
    let said = dyekin_wide(width, args);
    let mut text = format!(
        "$ dyekin {}\n{}--- standard error\n{}--- exit {}\n",
        args.join(" "),
        said.out,
        said.err,
        said.exit.code()
    );
    if let Some(folder) = folder {
        text = text.replace(folder.0.to_str().unwrap(), "OUT");
    }
    let path = Path::new("data/golden").join(format!("{name}.txt"));
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        fs::write(&path, &text).unwrap();
    }
    let expected = fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(text, expected, "{name}: UPDATE_GOLDEN=1 writes it anew");
    said
}

/// Every line of data fits the width, unless it is one unbreakable word.
fn fits(text: &str, width: usize) {
    for line in text.lines() {
        assert!(line.chars().count() <= width || !line.trim().contains(' '), "{line}");
    }
}

#[test]
fn bare_command_offers_three_ways_in() {
    let said = golden("bare_command_offers_three_ways_in", None, WIDE, &[]);
    assert_eq!(said.exit, Exit::Done);
    for way in ["a thread is missing", "too many colors", "before I sell"] {
        assert!(said.out.contains(way), "{way}");
    }
}

#[test]
fn match_speaks_in_words() {
    golden("match_speaks_in_words", None, WIDE, &["match", "#4a6b3d", "PN-4A", "--table", POND]);
}

#[test]
fn match_reads_well_in_a_narrow_terminal() {
    let args = ["match", "#4a6b3d", "rgb(31, 128, 180)", "--table", POND];
    let said = golden("match_reads_well_in_a_narrow_terminal", None, NARROW, &args);
    fits(&said.out, NARROW);
    fits(&said.err, NARROW);
}

#[test]
fn match_details_name_formula_and_conditions() {
    let args = ["match", "pond:PN-3B", "--table", POND, "--details", "--count", "1"];
    let said = golden("match_details_name_formula_and_conditions", None, WIDE, &args);
    assert!(said.out.contains("CIEDE2000 1:1:1"));
    assert!(said.out.contains("D65/2°"));
}

#[test]
fn match_json_is_one_object() {
    let args = ["match", "#4a6b3d", "--table", POND, "--count", "2", "--json", "--quiet"];
    let said = golden("match_json_is_one_object", None, WIDE, &args);
    let value: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(value["answers"][0]["matches"][0]["code"], "PN-3B");
    assert_eq!(value["formula"], "ciede2000");
    assert_eq!(said.err, "");
}

#[test]
fn match_says_what_lies_beyond_the_limit() {
    let args = ["match", "#ff00ff", "--table", POND, "--within", "5"];
    let said = golden("match_says_what_lies_beyond_the_limit", None, WIDE, &args);
    assert_eq!(said.exit, Exit::NothingMatched);
    assert!(said.out.contains("none within 5.0; nearest is"));
}

#[test]
fn measured_differences_have_two_decimals() {
    let args = ["match", "lab(42 -20 22)", "--origin", "meter", "--table", WEIR, "--count", "2"];
    let said = golden("measured_differences_have_two_decimals", None, WIDE, &args);
    assert!(!said.out.contains('~'), "{}", said.out);
    assert!(!said.err.contains("Screen colors"));
}

#[test]
fn filters_act_only_when_asked() {
    let base = ["match", "#c4b070", "--table", WEIR, "--count", "1"];
    let code = |extra: &[&str]| {
        let said = dyekin(&[&base, extra].concat());
        said.out.lines().nth(1).unwrap_or_default().split_whitespace().nth(2).map(str::to_owned)
    };
    assert_eq!(code(&[]).as_deref(), Some("WR-13"));
    assert_eq!(code(&["--exclude", "weir:wr-13"]).as_deref(), Some("WR-12"));
    assert_eq!(code(&["--max-price", "1.10 EUR"]).as_deref(), Some("WR-12"));
    let both = code(&["--exclude", "WR-12", "--max-price", "1.10 EUR"]);
    assert!(both.is_some_and(|code| code != "WR-12" && code != "WR-13"));
    let dollars = dyekin(&[&base[..], &["--max-price", "1.10 USD"]].concat());
    assert_eq!(dollars.exit, Exit::NothingMatched);
    assert_eq!(code(&["--fiber", "Wool"]).as_deref(), Some("WR-32"));
    let metal = dyekin(&["match", "#b8c4cc", "--table", POND, "--count", "1"]);
    assert!(!metal.out.contains("PN-6A"), "only plain threads for a color");
    let metal = dyekin(&["match", "#b8c4cc", "--table", POND, "--finish", "any"]);
    assert!(metal.out.contains("same listed value"), "{}", metal.out);
    let none = dyekin(&["match", "#b8c4cc", "--table", POND, "--fiber", "silk"]);
    assert_eq!(none.exit, Exit::NothingMatched);
}

#[test]
fn all_unknown_codes_are_named_with_near_spellings() {
    let args = ["match", "PN-9A", "qq:1", "#12345", "--table", POND];
    let said = golden("all_unknown_codes_are_named_with_near_spellings", None, WIDE, &args);
    assert_eq!(said.exit, Exit::Input);
    assert_eq!(said.err.matches("error: ").count(), 3);
}

#[test]
fn a_code_of_two_tables_asks_which() {
    let folder = Folder::new("two-tables");
    fs::copy(POND, folder.path("other.csv")).unwrap();
    let said = dyekin(&["match", "PN-2A", "--table", POND, "--table", &folder.path("other.csv")]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("other:PN-2A"), "{}", said.err);
    assert!(said.err.contains("pond:PN-2A"), "{}", said.err);
}

#[test]
fn six_digits_that_are_also_a_code_ask_which() {
    let folder = Folder::new("six-digits");
    fs::write(folder.path("digits.csv"), "code,hex\n123456,#ffffff\n").unwrap();
    let said = dyekin(&["match", "123456", "--table", &folder.path("digits.csv")]);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("write #123456 or digits:123456"), "{}", said.err);
}

#[test]
fn compare_judges_each_color_against_the_first() {
    let args = ["compare", "#4a6b3c", "PN-3C", "#4a6b3c", "#ffffff", "--table", POND];
    golden("compare_judges_each_color_against_the_first", None, WIDE, &args);
    let far = dyekin(&["compare", "#000", "#fff", "--within", "10"]);
    assert_eq!(far.exit, Exit::NothingMatched);
    let json = dyekin(&["compare", "#000", "#fff", "--json"]);
    let value: serde_json::Value = serde_json::from_str(&json.out).unwrap();
    assert!(value["comparisons"][0]["difference"].as_f64().unwrap() > 99.0);
}

#[test]
fn reduce_writes_chart_key_changes_and_list() {
    let folder = Folder::new("reduce");
    let [out, changes, key, list] =
        ["out.csv", "changes.json", "key.csv", "list.txt"].map(|name| folder.path(name));
    let args = [
        "reduce",
        BRIDGE,
        "--table",
        POND,
        "--threads",
        "5",
        "-o",
        &out,
        "--changes",
        &changes,
        "--key",
        &key,
        "--by-hand",
        &list,
    ];
    let said = golden("reduce_writes_chart_key_changes_and_list", Some(&folder), WIDE, &args);
    assert_eq!(said.exit, Exit::Done);
    let codes: std::collections::BTreeSet<String> = folder
        .text("out.csv")
        .split([',', '\n'])
        .filter(|code| !code.is_empty())
        .map(str::to_owned)
        .collect();
    assert_eq!(codes.len(), 5);
    assert_eq!(folder.text("key.csv").lines().count(), 6);
    assert!(folder.text("changes.json").contains("dyekin-changes"));
    assert!(folder.text("list.txt").contains("PN-3B"));
}

#[test]
fn reduce_json_has_the_promised_members() {
    let folder = Folder::new("reduce-json");
    let out = folder.path("out.json");
    let args = ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &out, "--json"];
    let said = dyekin(&args);
    let value: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(value["colors_before"], 9);
    assert_eq!(value["colors_after"], 5);
    let mean = value["mean_difference"].as_f64().unwrap();
    assert!(mean > 0.0 && mean <= value["max_difference"].as_f64().unwrap());
    assert!(value["proved_best"].is_boolean());
    assert!(value.get("lower_bound").is_some() && value.get("gap_percent").is_some());
    assert_eq!(value["files"]["chart"].as_str(), Some(out.as_str()));
}

#[test]
fn reduce_reads_well_in_a_narrow_terminal() {
    let folder = Folder::new("narrow");
    let out = folder.path("out.csv");
    let args = ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &out, "--details"];
    let said = dyekin_wide(NARROW, &args);
    fits(&said.out, NARROW);
}

#[test]
fn a_kept_thread_stays() {
    let folder = Folder::new("keep");
    let out = folder.path("out.csv");
    let args = ["reduce", BRIDGE, "--table", POND, "--threads", "3", "-o", &out, "--keep", "PN-5A"];
    assert_eq!(dyekin(&args).exit, Exit::Done);
    assert!(folder.text("out.csv").contains("PN-5A"));
    let wrong = dyekin(&[
        "reduce",
        BRIDGE,
        "--table",
        POND,
        "--threads",
        "3",
        "-o",
        &folder.path("b.csv"),
        "--keep",
        "PN-9Z,#123123",
    ]);
    assert_eq!(wrong.exit, Exit::Input);
    assert_eq!(wrong.err.matches("error: ").count(), 2, "{}", wrong.err);
}

#[test]
fn substitute_replaces_only_the_missing() {
    let folder = Folder::new("substitute");
    let out = folder.path("out.csv");
    let args = ["substitute", BRIDGE, "--table", POND, "--missing", "PN-3B,pn-5a", "-o", &out];
    let said = golden("substitute_replaces_only_the_missing", Some(&folder), WIDE, &args);
    assert_eq!(said.exit, Exit::Done);
    let text = folder.text("out.csv");
    assert!(!text.contains("PN-3B") && !text.contains("PN-5A"));
    assert!(text.contains("PN-5B"));
    let unused = dyekin(&[
        "substitute",
        BRIDGE,
        "--table",
        POND,
        "--missing",
        "PN-6B",
        "-o",
        &folder.path("b.csv"),
    ]);
    assert_eq!(unused.exit, Exit::Input);
}

#[test]
fn a_key_alone_gives_a_key_and_says_what_is_unknown() {
    let folder = Folder::new("key-alone");
    let out = folder.path("key.csv");
    let key = "data/cli/bridge-key.csv";
    let args = ["substitute", key, "--table", POND, "--missing", "PN-3B", "-o", &out];
    let said = golden("a_key_alone_gives_a_key", Some(&folder), WIDE, &args);
    assert!(said.out.contains("Neighbors unknown"), "{}", said.out);
    assert!(folder.text("key.csv").contains(",340\n"));
    assert!(!folder.text("key.csv").contains("PN-3B"));
    let again = dyekin(&[
        "substitute",
        &out,
        "--table",
        POND,
        "--missing",
        "PN-4B",
        "-o",
        &folder.path("c.json"),
    ]);
    assert_eq!(again.exit, Exit::Done, "{}", again.err);
    let picture = folder.path("key.png");
    let args = ["substitute", key, "--table", POND, "--missing", "PN-3B", "-o", &picture];
    assert!(dyekin(&args).err.contains("a key alone has no picture"));
}

#[test]
fn apply_does_what_was_answered() {
    let folder = Folder::new("apply");
    let [out, changes, applied] =
        ["out.json", "changes.json", "applied.csv"].map(|name| folder.path(name));
    let args =
        ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &out, "--changes", &changes];
    assert_eq!(dyekin(&args).exit, Exit::Done);
    let unanswered = dyekin(&["apply", &changes, BRIDGE, "--table", POND, "-o", &applied]);
    assert_eq!(unanswered.exit, Exit::NothingMatched, "{}", unanswered.err);
    assert!(unanswered.out.contains("not answered and left out"), "{}", unanswered.out);
    let text = folder.text("changes.json").replacen("\"answer\": null", "\"answer\": \"yes\"", 1);
    fs::write(&changes, text).unwrap();
    let args = ["apply", &changes, BRIDGE, "--table", POND, "-o", &applied, "--force"];
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.out.contains("1 change carried out."), "{}", said.out);
    let other =
        dyekin(&["apply", &changes, &out, "--table", POND, "-o", &folder.path("never.csv")]);
    assert_eq!(other.exit, Exit::Input);
    assert!(!folder.0.join("never.csv").exists());
}

#[test]
fn answers_of_another_chart_are_refused() {
    let folder = Folder::new("answers");
    let [out, changes] = ["out.json", "changes.json"].map(|name| folder.path(name));
    let args =
        ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &out, "--changes", &changes];
    assert_eq!(dyekin(&args).exit, Exit::Done);
    let text = folder.text("changes.json").replacen("\"answer\": null", "\"answer\": \"no\"", 1);
    fs::write(&changes, text).unwrap();
    let again = folder.path("again.json");
    let args =
        ["reduce", BRIDGE, "--table", POND, "--threads", "6", "-o", &again, "--answers", &changes];
    assert_eq!(dyekin(&args).exit, Exit::Done, "{}", dyekin(&args).err);
    let args = [
        "reduce",
        &out,
        "--table",
        POND,
        "--threads",
        "4",
        "-o",
        &folder.path("b.json"),
        "--answers",
        &changes,
    ];
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("already carried out"), "{}", said.err);
}

#[test]
fn an_input_is_never_overwritten() {
    let folder = Folder::new("inputs");
    let chart = folder.path("chart.csv");
    fs::copy(BRIDGE, &chart).unwrap();
    let table = folder.path("pond.csv");
    fs::copy(POND, &table).unwrap();
    let twin = folder.path("twin.csv");
    std::os::unix::fs::symlink(&chart, &twin).unwrap();
    for target in [&chart, &twin, &table] {
        let args = ["reduce", &chart, "--table", &table, "--threads", "3", "-o", target, "--force"];
        let said = dyekin(&args);
        assert_eq!(said.exit, Exit::Input, "{target}");
        assert!(said.err.contains("never overwritten"), "{}", said.err);
    }
    assert_eq!(folder.text("chart.csv"), fs::read_to_string(BRIDGE).unwrap());
}

#[test]
fn an_existing_output_needs_force_and_a_failure_writes_nothing() {
    let folder = Folder::new("force");
    let out = folder.path("out.csv");
    fs::write(&out, "mine").unwrap();
    let args = ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &out];
    let said = dyekin(&args);
    assert!(said.err.contains("add --force"), "{}", said.err);
    assert_eq!(folder.text("out.csv"), "mine");
    let bad = [args.as_slice(), &["--force", "--exclude", "PN-9Z"]].concat();
    assert_eq!(dyekin(&bad).exit, Exit::Input);
    assert_eq!(folder.text("out.csv"), "mine");
    assert_eq!(folder.files(), 1);
    let good = [args.as_slice(), &["--force"]].concat();
    assert_eq!(dyekin(&good).exit, Exit::Done);
    assert_ne!(folder.text("out.csv"), "mine");
}

#[test]
fn an_ending_without_a_format_is_refused() {
    let args = ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", "x.gif"];
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("hint: end the name with .png, .json or .csv"), "{}", said.err);
}

#[test]
fn table_check_lists_all_problems_with_their_place() {
    let args = ["table", "check", POND, "data/inputs/nan-inf-empty.csv"];
    let said = golden("table_check_lists_all_problems_with_their_place", None, WIDE, &args);
    assert_eq!(said.exit, Exit::Input);
    let json = dyekin(&["table", "check", WEIR, "--json"]);
    let value: serde_json::Value = serde_json::from_str(&json.out).unwrap();
    assert_eq!(value["tables"][0]["threads"], 10);
}

#[test]
fn table_list_shows_what_is_given() {
    golden(
        "table_list_shows_what_is_given",
        None,
        WIDE,
        &["table", "list", "--table", POND, "--table", WEIR],
    );
}

#[test]
fn tables_are_kept_by_a_server_only() {
    for args in [vec!["table", "import", POND], vec!["table", "delete", "pond"]] {
        let said = dyekin(&args);
        assert_eq!(said.exit, Exit::Input);
        assert!(said.err.contains("add --server URL"), "{}", said.err);
    }
}

#[test]
fn a_path_with_a_server_is_refused_with_the_import_command() {
    let args = ["match", "#000", "--table", POND, "--server", "http://127.0.0.1:1"];
    let said = golden("a_path_with_a_server_is_refused", None, WIDE, &args);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("dyekin table import data/cli/pond.csv --server"));
}

#[test]
fn a_server_that_is_not_there_ends_with_three() {
    let said = dyekin(&["match", "#000", "--server", "http://127.0.0.1:1"]);
    assert_eq!(said.exit, Exit::Unreachable);
    assert!(said.err.contains("cannot be reached"), "{}", said.err);
    assert_eq!(dyekin(&["match", "#000", "--server", "https://x"]).exit, Exit::Input);
    assert_eq!(dyekin(&["match", "#000", "--server", "not an address"]).exit, Exit::Input);
}

#[test]
fn foreign_names_cannot_move_the_cursor() {
    let table = "data/inputs/ansi-names.csv";
    let checked = dyekin(&["table", "check", table]);
    let shown = dyekin(&["match", "#000", "--table", table, "--count", "20"]);
    let json = dyekin(&["match", "#000", "--table", table, "--count", "20", "--json"]);
    for text in [checked.out, checked.err, shown.out, shown.err, json.out, json.err] {
        let bad =
            |character: &char| *character != '\n' && dyekin_core::error::is_hostile(*character);
        assert_eq!(text.chars().find(bad), None, "{text}");
    }
}

#[test]
fn quiet_says_nothing_beside_the_answer() {
    let said = dyekin(&["match", "#4a6b3d", "--table", POND, "--quiet"]);
    assert_eq!(said.err, "");
    assert!(said.out.contains("PN-3B"));
}

#[test]
fn wrong_options_end_with_two_and_say_what_is_right() {
    for (args, word) in [
        (vec!["match", "#000", "--table", POND, "--formula", "cie95"], "cie94:textile"),
        (vec!["match", "#000", "--table", POND, "--formula", "cmc"], "cmc:2:1 (acceptability)"),
        (vec!["match", "#000", "--table", POND, "--within", "-1"], "0 or more"),
        (vec!["match", "#000", "--table", POND, "--count", "0"], "at least 1"),
        (vec!["match", "#000", "--table", POND, "--finish", "shiny"], "variegated"),
        (vec!["match", "#000", "--table", POND, "--max-price", "2,50"], "2.50 EUR"),
        (vec!["match", "#000", "--table", POND, "--white", "D55"], "D65/10"),
        (vec!["match", "#000", "--table", POND, "--origin", "photo"], "scan"),
        (vec!["match", "#000"], "--table FILE"),
        (vec!["match", "#000", "--table", "data/cli/none.csv"], "no such file"),
        (vec!["match", "#000", "--table", POND, "--table", POND], "rename one"),
        (vec!["macth"], "match"),
    ] {
        let said = dyekin(&args);
        assert_eq!(said.exit, Exit::Input, "{args:?}");
        assert!(said.err.contains(word), "{args:?}: {}", said.err);
        assert_eq!(said.out, "", "{args:?}");
    }
}

#[test]
fn an_enlarged_picture_is_read_and_names_the_way_back() {
    let folder = Folder::new("enlarged");
    let out = folder.path("out.json");
    let args = ["convert", "data/inputs/ten-px-per-cell.png", "--table", POND, "-o", &out];
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.err.contains("add --cell-size 1 if each pixel is a stitch"), "{}", said.err);
    assert!(said.out.starts_with("4 colors become"), "{}", said.out);
    for (more, word) in [
        (["--cells", "8x6"], "8x6"),
        (["--cells", "8"], "such as 120x90"),
        (["--cell-size", "20"], "cells have several colors"),
    ] {
        let said = dyekin(&[args.as_slice(), &["--force"], &more].concat());
        match word {
            "8x6" => assert_eq!(said.exit, Exit::Done, "{}", said.err),
            _ => assert!(said.exit == Exit::Input && said.err.contains(word), "{}", said.err),
        }
    }
}

#[test]
fn every_command_has_help_that_fits() {
    for command in [
        "match",
        "compare",
        "merge",
        "reduce",
        "substitute",
        "convert",
        "clean",
        "affected",
        "apply",
        "table",
    ] {
        let said = dyekin_wide(80, &[command, "--help"]);
        assert_eq!(said.exit, Exit::Done, "{command}");
        fits(&said.out, 80);
    }
}
