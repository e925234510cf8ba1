//! Which files of a folder are charts, and which outputs are refused before anything is written.
//! It does not look into the outputs.

use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::symlink;

use super::*;

#[test]
fn names_that_would_meet_are_told_before_anything_is_written() {
    let charts = Charts::new("many-meet", &["a.csv", "b.csv"]);
    charts.write("more/b.csv", &codes(5));
    let said = charts.run("reduce @charts @more -o @out --table @pond.csv --threads 3");
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("charts/b.csv and more/b.csv would both become out/b.proposed.csv"));
    assert!(!charts.path("out").exists());
}

#[test]
fn the_folder_of_the_charts_is_not_written_into() {
    let charts = Charts::new("many-into", &["a.csv"]);
    let before = charts.files("charts");
    for out in ["@charts", "@charts/", "@charts/../charts"] {
        let said = charts.run(&REDUCE.replace("@out", out));
        assert_eq!(said.exit, Exit::Input, "{out}");
        assert!(said.err.contains("a folder of charts to read"), "{}", said.err);
    }
    let changes = charts.run(&format!("{REDUCE} --changes @charts"));
    assert_eq!(changes.exit, Exit::Input);
    assert_eq!(charts.files("charts"), before);
}

#[test]
fn a_folder_inside_takes_the_outputs_and_is_not_read_again() {
    let charts = Charts::new("many-inside", &["a.csv", "b.csv"]);
    let line = "reduce @charts -o @charts/new --recursive --table @pond.csv --threads 3";
    assert!(charts.run(line).out.contains("2 charts done."));
    let said = charts.run(&format!("{line} --resume"));
    assert!(said.out.contains("2 as an earlier run left them."), "{}", said.out);
}

#[test]
fn files_that_exist_are_refused_all_at_once_and_replaced_with_force() {
    let charts = Charts::new("many-exist", &["a.csv", "b.csv"]);
    charts.write("out/a.proposed.csv", "mine");
    charts.write("out/b.csv.changes.json", "mine");
    let said = charts.run(REDUCE);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("out/a.proposed.csv; out/b.csv.changes.json"), "{}", said.err);
    assert_eq!(charts.files("out").len(), 2);
    assert_eq!(charts.run(&format!("{REDUCE} --force")).exit, Exit::Done);
    assert_ne!(charts.files("out")["a.proposed.csv"], b"mine");
}

#[test]
fn an_input_is_never_an_output_under_any_name() {
    let charts = Charts::new("many-input", &["a.csv"]);
    fs::create_dir(charts.path("out")).unwrap();
    symlink(charts.path("charts/a.csv"), charts.path("out/a.proposed.csv")).unwrap();
    let before = fs::read(charts.path("charts/a.csv")).unwrap();
    for more in ["", "--force", "--resume"] {
        let said = charts.run(&format!("{REDUCE} {more}"));
        assert_eq!(said.exit, Exit::Input, "{more}");
        assert!(said.err.contains("never overwritten"), "{}", said.err);
    }
    assert_eq!(fs::read(charts.path("charts/a.csv")).unwrap(), before);
}

#[test]
fn what_is_no_chart_is_left_out_and_told() {
    let charts = Charts::new("many-left-out", &["a.csv", ".hidden.csv"]);
    charts.write("charts/notes.txt", "buy more cloth");
    charts.write("charts/threads.csv", "code,hex\nA1,#ffffff\n");
    charts.write("charts/list.json", "{\"format\": \"dyekin-changes\"}");
    charts.write("charts/inside/b.csv", &codes(3));
    symlink(charts.path("charts"), charts.path("charts/round")).unwrap();
    symlink("nowhere", charts.path("charts/dead.csv")).unwrap();
    symlink(charts.path("charts/a.csv"), charts.path("charts/z.csv")).unwrap();
    let said = charts.run(REDUCE);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.out.contains("1 chart done."), "{}", said.out);
    for told in [
        "as hidden: charts/.hidden.csv",
        "as no chart: charts/notes.txt",
        "as a thread table: charts/threads.csv",
        "as a change list: charts/list.json",
        "(--recursive takes its charts): charts/inside",
        "as a link to a folder: charts/round",
        "as a link that leads nowhere: charts/dead.csv",
        "as the same file again: charts/z.csv",
    ] {
        assert!(said.err.contains(told), "{told}: {}", said.err);
    }
}

#[test]
fn folders_inside_are_taken_when_asked_for_and_links_to_folders_never() {
    let charts = Charts::new("many-recursive", &["a.csv", "z.csv"]);
    charts.write("charts/m/b.csv", &codes(3));
    charts.write("charts/m/deep/a.csv", &codes(4));
    symlink(charts.path("charts"), charts.path("charts/m/round")).unwrap();
    let said = charts.run(&format!("{REDUCE} --recursive"));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let names: Vec<&str> = said.out.lines().filter_map(|line| line.split(": ").next()).collect();
    assert_eq!(
        names[..4],
        ["charts/a.csv", "charts/z.csv", "charts/m/b.csv", "charts/m/deep/a.csv"]
    );
    assert!(charts.path("out/m/deep/a.proposed.csv").is_file());
}

#[test]
fn hostile_names_stay_names() {
    let charts = Charts::new("many-hostile", &["a.csv"]);
    let long = "n".repeat(250);
    for name in ["\u{1b}[2J.csv", "two\nlines.csv", "-o.csv", "$(touch x).csv", "\u{202e}vsc.csv"] {
        fs::write(charts.path("charts").join(name), codes(2)).unwrap();
    }
    let raw = std::ffi::OsStr::from_bytes(b"\xff\xfe.csv");
    fs::write(charts.path("charts").join(raw), codes(3)).unwrap();
    fs::write(charts.path("charts").join(format!("{long}.csv")), codes(4)).unwrap();
    let said = charts.run(REDUCE);
    // Its name with what is added is too long for the disk.
    assert_eq!(said.exit, Exit::Input, "{}", said.err);
    assert!(said.out.contains("7 charts done, 1 failed."), "{}{}", said.out, said.err);
    let text = said.out + &said.err;
    assert!(!text.contains(['\u{1b}', '\u{202e}']));
    assert!(text.lines().all(|line| !line.starts_with("lines.csv")), "{text}");
    let said = charts.run(&format!("{REDUCE} --resume"));
    assert!(said.out.contains("7 as an earlier run left them, 1 failed."), "{}", said.out);
}

#[test]
fn a_folder_without_charts_says_what_charts_are() {
    let charts = Charts::new("many-none", &[]);
    let said = charts.run(REDUCE);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("no charts in charts"), "{}", said.err);
    assert!(said.err.contains("--recursive"), "{}", said.err);
}

#[test]
fn a_table_of_the_run_in_the_folder_is_no_chart() {
    let charts = Charts::new("many-table", &["a.csv"]);
    fs::copy(charts.path("pond.csv"), charts.path("charts/pond.json.csv")).unwrap();
    let said = charts.run(&REDUCE.replace("@pond.csv", "@charts/pond.json.csv"));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.err.contains("as a folder or table of this run"), "{}", said.err);
}
