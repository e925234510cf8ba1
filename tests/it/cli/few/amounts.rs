//! Stock and money: lists of what there is, skeins and their prices.
//! It does not know how threads are chosen.

use std::fs;

use serde_json::Value;

use crate::cli::{Exit, Folder, WEIR, dyekin};

const CHART: &str = "../data/charts/lighthouse.png";

fn reduce<'a>(out: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    [&["reduce", CHART, "--table", WEIR, "-o", out, "--force"], more].concat()
}

fn json(args: &[&str]) -> Value {
    let said = dyekin(&[args, &["--json", "--quiet"]].concat());
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    serde_json::from_str(&said.out).unwrap()
}

#[test]
fn money_is_told_with_its_currency() {
    let folder = Folder::new("money");
    let out = folder.path("out.json");
    let args = reduce(
        &out,
        &[
            "--money-worth",
            "0.2",
            "--meters-per-stitch",
            "0.004",
            "--skein-meters",
            "8",
            "--threads",
            "6",
            "--keep-edges",
            "off",
        ],
    );
    let said = dyekin(&[&args[..], &["--details"]].concat());
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.out.contains(" EUR."), "{}", said.out);
    assert!(said.out.contains("No other choice is worth more."), "{}", said.out);
    let answer = json(&args);
    let report = &answer["reduction"];
    let needs = report["needs"].as_array().unwrap();
    assert_eq!(needs.len() as u64, answer["colors_after"].as_u64().unwrap());
    let skeins: u64 = needs.iter().map(|need| need["skeins"].as_u64().unwrap()).sum();
    assert_eq!(report["to_pay"]["skeins"], skeins);
    assert_eq!(report["to_pay"]["currency"], "EUR");
    let stitches = answer["stitches"].as_f64().unwrap();
    let meters: f64 = needs.iter().map(|need| need["meters"].as_f64().unwrap()).sum();
    assert!((meters - stitches * 0.004).abs() < 1e-9, "{meters} {stitches}");
    let listed = format!("{} skein", needs[0]["skeins"]);
    assert!(said.out.contains(&listed), "{}", said.out);
}

#[test]
fn stock_is_read_line_by_line_and_held() {
    let folder = Folder::new("stock");
    let (out, stock) = (folder.path("out.json"), folder.path("stock.txt"));
    let per_stitch = ["--meters-per-stitch", "0.004", "--threads", "8", "--stock", &stock];
    let text = "# the shelf\nWR-11 9 m\nweir:WR-12; 5m\nWR-21\t8 m\nWR-31 8 m\nWR-41 6 m\n\
                WR-51 8 m\nWR-61 8 m\nWR-42 8 m\n";
    fs::write(&stock, text).unwrap();
    let answer = json(&reduce(&out, &per_stitch));
    let needs = answer["reduction"]["needs"].as_array().unwrap();
    assert!(!needs.is_empty());
    for need in needs {
        let held = need["stock_meters"].as_f64().unwrap();
        assert!(need["meters"].as_f64().unwrap() <= held * (1.0 + 1e-9), "{need}");
    }
    fs::write(&stock, "WR-11 x2\nWR-99 3 m\nWR-21\n").unwrap();
    let said = dyekin(&reduce(&out, &per_stitch));
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("WR-99"), "{}", said.err);
    fs::write(&stock, "WR-11 x2\nWR-21\n").unwrap();
    let said = dyekin(&reduce(&out, &per_stitch));
    assert_eq!(said.exit, Exit::Input);
    for part in [
        "stock.txt line 1: `weir WR-11`: its table does not say how long a skein is",
        "stock.txt line 2: `weir WR-21`: the list does not say how much of it is there",
    ] {
        assert!(said.err.contains(part), "{part}: {}", said.err);
    }
}

#[test]
fn amounts_that_make_no_sense_are_refused() {
    let folder = Folder::new("amounts");
    let out = folder.path("out.json");
    let money = ["--meters-per-stitch", "0.004", "--money-worth"];
    for (more, said) in [
        (&["--threads", "3", "--skein-price", "1 EUR"][..], "--money-worth"),
        (&["--money-worth", "1"], "--meters-per-stitch"),
        (&["--threads", "3", "--stock", "x.txt"], "--meters-per-stitch"),
        (&[&money[..], &["-1"]].concat(), "--money-worth -1: a difference is a number"),
        (
            &[&money[..], &["1", "--skein-meters", "0"]].concat(),
            "--skein-meters 0: a skein is longer than 0",
        ),
        (
            &[&money[..], &["1", "--skein-price", "cheap"]].concat(),
            "--skein-price `cheap`: not understood",
        ),
        (
            &["--threads", "3", "--meters-per-stitch", "nan"],
            "--meters-per-stitch NaN: a stitch takes more than no thread",
        ),
        (&[&money[..], &["1"]].concat(), "threads have no length of a skein"),
        (&["--threads", "3", "--squared", "--keep-edges", "low"], "not kept beside squares"),
    ] {
        let run = dyekin(&reduce(&out, more));
        assert_ne!(run.exit, Exit::Done, "{more:?}");
        assert!(run.err.contains(said), "{more:?}: {}", run.err);
    }
    assert_eq!(folder.files(), 0);
}
