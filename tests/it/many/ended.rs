//! `--resume`: what is complete stays, what is not is done again, and nothing of the user's is lost.
//! It stops no process: `killed.rs` does.

use super::*;

fn resumed(charts: &Charts) -> Said {
    charts.run(&format!("{REDUCE} --resume"))
}

#[test]
fn a_complete_run_has_nothing_left_to_do() {
    let charts = Charts::new("many-complete", &["a.csv", "b.csv"]);
    charts.run(REDUCE);
    let before = charts.files("out");
    let said = resumed(&charts);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.out.contains("0 charts done, 2 as an earlier run left them."), "{}", said.out);
    assert_eq!(charts.files("out"), before);
}

#[test]
fn a_changed_chart_is_done_again_whatever_its_time_says() {
    let charts = Charts::new("many-changed", &["a.csv", "b.csv"]);
    charts.run(REDUCE);
    let before = charts.files("out");
    let time = fs::metadata(charts.path("charts/a.csv")).unwrap().modified().unwrap();
    charts.write("charts/a.csv", &codes(9));
    let file = fs::File::options().append(true).open(charts.path("charts/a.csv")).unwrap();
    file.set_modified(time).unwrap();
    let said = resumed(&charts);
    assert!(said.out.contains("1 chart done, 1 as an earlier run left it."), "{}", said.out);
    let after = charts.files("out");
    assert_ne!(after["a.proposed.csv"], before["a.proposed.csv"]);
    assert_eq!(after["b.proposed.csv"], before["b.proposed.csv"]);
}

#[test]
fn other_options_or_another_table_do_all_again() {
    let charts = Charts::new("many-options-again", &["a.csv", "b.csv"]);
    charts.run(REDUCE);
    let said = charts.run(&format!("{} --resume", REDUCE.replace("--threads 3", "--threads 2")));
    assert!(said.out.contains("2 charts done."), "{}{}", said.out, said.err);
    let table = fs::read_to_string(charts.path("pond.csv")).unwrap();
    let mut lines: Vec<&str> = table.lines().collect();
    lines.pop();
    charts.write("pond.csv", &(lines.join("\n") + "\n"));
    let said = charts.run(&format!("{} --resume", REDUCE.replace("--threads 3", "--threads 2")));
    assert!(said.out.contains("2 charts done."), "{}{}", said.out, said.err);
}

#[test]
fn a_file_that_is_missing_is_made_again() {
    let charts = Charts::new("many-missing", &["a.csv", "b.csv"]);
    charts.run(REDUCE);
    let before = charts.files("out");
    fs::remove_file(charts.path("out/b.csv.changes.json")).unwrap();
    assert!(resumed(&charts).out.contains("1 chart done, 1 as an earlier run left it."));
    assert_eq!(charts.files("out"), before);
}

#[test]
fn a_file_that_its_owner_changed_stays() {
    let charts = Charts::new("many-owner", &["a.csv", "b.csv"]);
    charts.run(REDUCE);
    charts.write("out/a.csv.changes.json", "answered");
    let said = resumed(&charts);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("out/a.csv.changes.json: the file exists"), "{}", said.err);
    assert!(said.out.contains("1 as an earlier run left it, 1 failed."), "{}", said.out);
    assert_eq!(charts.files("out")["a.csv.changes.json"], b"answered");
    assert_eq!(charts.run(&format!("{REDUCE} --resume --force")).exit, Exit::Done);
    assert_ne!(charts.files("out")["a.csv.changes.json"], b"answered");
}

#[test]
fn files_that_were_written_but_not_recorded_are_taken_for_done() {
    let charts = Charts::new("many-unrecorded", &["a.csv", "b.csv"]);
    charts.run(REDUCE);
    let before = charts.files("out");
    fs::remove_file(charts.path("out/dyekin-record.json")).unwrap();
    let said = resumed(&charts);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert_eq!(charts.files("out"), before);
}

#[test]
fn a_broken_record_is_refused_with_what_to_do() {
    let charts = Charts::new("many-record", &["a.csv"]);
    charts.run(REDUCE);
    let record = fs::read(charts.path("out/dyekin-record.json")).unwrap();
    fs::write(charts.path("out/dyekin-record.json"), &record[..record.len() / 2]).unwrap();
    let said = resumed(&charts);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("not the record of a run"), "{}", said.err);
    assert!(said.err.contains("hint: remove it"), "{}", said.err);
}

#[test]
fn a_second_folder_adds_to_the_record_of_the_first() {
    let charts = Charts::new("many-second", &["a.csv"]);
    charts.write("more/b.csv", &codes(7));
    charts.run(REDUCE);
    assert_eq!(charts.run(&REDUCE.replace("@charts", "@more")).exit, Exit::Done);
    let said = charts.run(&format!("{} --resume", REDUCE.replace("@charts", "@charts @more")));
    assert!(said.out.contains("2 as an earlier run left them."), "{}", said.out);
}
