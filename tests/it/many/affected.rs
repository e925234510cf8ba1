//! `affected`: which charts use threads that disappear, how much of each, and what could stand in.
//! It does not judge the stand-ins: they are those of `substitute`.

use super::*;

/// Charts with 3, 0 and 2 stitches of PN-3A, the last with one of PN-2C as well.
fn three(name: &str) -> Charts {
    let charts = Charts::new(name, &[]);
    charts.write("charts/a.csv", "PN-3A,PN-3A,PN-2A\nPN-3A,PN-2A,PN-2A\n");
    charts.write("charts/b.csv", "PN-2B,PN-2A\n");
    charts.write("charts/c.csv", "PN-3A,PN-3A,PN-2C\n");
    charts
}

const AFFECTED: &str = "affected @charts --table @pond.csv --missing PN-3A,PN-2C";

#[test]
fn the_charts_that_use_a_thread_are_listed_with_how_much_of_it() {
    let charts = three("affected-list");
    let said = charts.run(AFFECTED);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.out.contains("charts/a.csv: 3 stitches in pond PN-3A\n"), "{}", said.out);
    assert!(said.out.contains("charts/c.csv: 1 stitch in pond PN-2C; 2 stitches in pond PN-3A\n"));
    assert!(!said.out.contains("charts/b.csv"), "{}", said.out);
    assert!(said.out.contains("  pond PN-3A, 3 stitches  -> pond "), "{}", said.out);
    let end = "2 of 3 charts use them.\n  pond PN-2C: 1 chart, 1 stitch\n  pond PN-3A: 2 charts, 5 stitches\n";
    assert!(said.out.ends_with(end), "{}", said.out);
    let folder: Vec<_> = fs::read_dir(charts.folder.path()).unwrap().collect();
    assert_eq!(folder.len(), 2, "nothing is written");
}

#[test]
fn the_stand_ins_are_those_of_substitute() {
    let charts = three("affected-same");
    let answer = json(&charts.run(&format!("{AFFECTED} --json")));
    let line = "substitute @charts/c.csv --table @pond.csv --missing PN-3A,PN-2C -o @c.csv --json";
    let alone = json(&charts.run(line));
    assert_eq!(answer["charts"][2]["answer"]["changes"], alone["changes"]);
    assert_eq!(answer["charts"][2]["answer"]["changes"].as_array().unwrap().len(), 2);
}

#[test]
fn lengths_and_skeins_follow_from_what_a_stitch_takes() {
    let charts = three("affected-lengths");
    let table = fs::read_to_string(charts.path("pond.csv")).unwrap();
    let with_skeins: String = table
        .lines()
        .enumerate()
        .map(|(row, line)| format!("{line},{}\n", if row == 0 { "skein_m" } else { "8" }))
        .collect();
    charts.write("pond.csv", &with_skeins);
    let said = charts.run(&format!("{AFFECTED} --meters-per-stitch 0.5"));
    assert!(
        said.out.contains("3 stitches in pond PN-3A, about 1.5 m (0.19 skeins)"),
        "{}",
        said.out
    );
    assert!(said.out.ends_with("pond PN-3A: 2 charts, 5 stitches, about 2.5 m (0.31 skeins)\n"));
    let answer = json(&charts.run(&format!("{AFFECTED} --meters-per-stitch 0.5 --json")));
    assert_eq!(answer["threads"][1]["meters"], 2.5);
    assert_eq!(answer["threads"][1]["skeins"], 2.5 / 8.0);
    for bad in ["0", "-1", "nan"] {
        let said = charts.run(&format!("{AFFECTED} --meters-per-stitch {bad}"));
        assert_eq!(said.exit, Exit::Input, "{bad}");
    }
}

#[test]
fn a_needle_of_two_threads_takes_half_of_each() {
    let charts = three("affected-blend");
    charts.write("charts/a.csv", "PN-3A + PN-2A,PN-3A + PN-2A\n");
    let line =
        "affected @charts/a.csv --table @pond.csv --missing PN-3A --meters-per-stitch 1 --json";
    let answer = json(&charts.run(line));
    assert_eq!(answer["threads"][0]["stitches"], 2);
    assert_eq!(answer["threads"][0]["meters"], 1.0);
}

#[test]
fn a_thread_that_no_chart_uses_ends_with_one() {
    let charts = three("affected-none");
    for code in ["PN-4B", "PN-9X"] {
        let said = charts.run(&format!("affected @charts --table @pond.csv --missing {code}"));
        assert_eq!(said.exit, Exit::NothingMatched, "{}", said.err);
        assert_eq!(said.out, "None of 3 charts uses any of them.\n");
    }
}

#[test]
fn a_thread_that_the_table_has_no_more_is_found_by_the_old_table() {
    let charts = three("affected-gone");
    fs::create_dir(charts.path("old")).unwrap();
    fs::rename(charts.path("pond.csv"), charts.path("old/before.csv")).unwrap();
    let table = fs::read_to_string(charts.path("old/before.csv")).unwrap();
    let left: String = table
        .lines()
        .filter(|line| !line.starts_with("PN-3A"))
        .map(|line| format!("{line}\n"))
        .collect();
    charts.write("pond.csv", &left);
    let line = "affected @charts --table @pond.csv --from @old/before.csv --missing PN-3A";
    let said = charts.run(line);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.out.contains("before PN-3A, 3 stitches  -> pond PN-"), "{}", said.out);
}

#[test]
fn where_nothing_can_stand_in_that_is_the_answer() {
    let charts = three("affected-nothing");
    let said = charts.run(&format!("{AFFECTED} --max-price 0.01 --json"));
    assert_eq!(said.exit, Exit::NothingMatched, "{}", said.err);
    let answer = json(&said);
    assert_eq!(answer["affected"], 2);
    assert_eq!(answer["charts"][0]["answer"]["threads"][0]["stitches"], 3);
    assert_eq!(answer["charts"][0]["answer"]["changes"], Value::Array(Vec::new()));
    assert!(answer["charts"][0]["answer"]["problems"][0]["message"].is_string());
    let said = charts.run(&format!("{AFFECTED} --max-price 0.01"));
    assert!(said.out.contains("nothing stands in: "), "{}", said.out);
    // What stands in too far off is not near enough either.
    assert_eq!(charts.run(&format!("{AFFECTED} --within 0.01")).exit, Exit::NothingMatched);
}

#[test]
fn a_bad_chart_does_not_keep_the_others_from_being_looked_at() {
    let charts = three("affected-bad");
    charts.write("charts/d.csv", "PN-3A,no such code\n");
    let said = charts.run(AFFECTED);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.out.contains("2 of 3 charts use them. 1 failed."), "{}", said.out);
    assert!(said.err.contains("charts/d.csv line 1"), "{}", said.err);
}
