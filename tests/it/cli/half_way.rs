//! `substitute` half-way through a piece: what is finished, what is given away, where both meet, and
//! that lists, answers and the way back carry it. It does not know how areas are chosen.

use serde_json::Value;

use super::*;

/// A grid in which `#` is the thread that runs out, `o` another one, and `.` bare cloth.
fn drawn(folder: &Folder, rows: &[&str]) -> String {
    let code = |letter: char| match letter {
        '#' => "PN-3B",
        'o' => "PN-4B",
        _ => "",
    };
    let row = |row: &&str| row.chars().map(code).collect::<Vec<_>>().join(",");
    let text = rows.iter().map(row).collect::<Vec<_>>().join("\n");
    let path = folder.path("chart.csv");
    fs::write(&path, text + "\n").unwrap();
    path
}

/// Three areas: one begun in the first two rows, one of 12 stitches, one of 4.
const THREE: [&str; 8] = [
    "###oooooooo",
    "###oo####oo",
    "#oooo####oo",
    "ooooo####oo",
    "ooooooooooo",
    "oo##ooooooo",
    "oo##ooooooo",
    "ooooooooooo",
];

/// What the new chart has in each cell, as letters: `+` is a third thread.
fn cells(folder: &Folder, name: &str) -> Vec<String> {
    let letter = |code: &str| match code {
        "" => '.',
        "PN-3B" => '#',
        "PN-4B" => 'o',
        _ => '+',
    };
    folder.text(name).lines().map(|row| row.split(',').map(letter).collect()).collect()
}

fn substitute<'a>(chart: &'a str, out: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    let args = ["substitute", chart, "--table", POND, "--missing", "PN-3B", "-o", out];
    [&args[..], more].concat()
}

#[test]
fn areas_are_finished_or_given_away_whole() {
    let folder = Folder::new("half-way-areas");
    let chart = drawn(&folder, &THREE);
    let out = folder.path("out.csv");
    let more = ["--done", "rows 1-2", "--left", "PN-3B 0.1 m", "--count", "14"];
    golden(
        "substitute_finishes_areas_with_what_is_left",
        Some(&folder),
        WIDE,
        &substitute(&chart, &out, &more),
    );
    let expected = [
        "###oooooooo",
        "###oo####oo",
        "#oooo####oo",
        "ooooo####oo",
        "ooooooooooo",
        "oo++ooooooo",
        "oo++ooooooo",
        "ooooooooooo",
    ];
    assert_eq!(cells(&folder, "out.csv"), expected);
}

#[test]
fn nothing_left_gives_everything_that_is_not_stitched_away() {
    let folder = Folder::new("half-way-nothing");
    let chart = drawn(&folder, &THREE);
    let out = folder.path("out.csv");
    let more = ["--done", "rows 1-2", "--left", "pond:PN-3B 0", "--count", "14"];
    let said = dyekin(&substitute(&chart, &out, &more));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.out.contains("nothing is left of it"), "{}", said.out);
    assert!(said.out.contains("2 joins of old and new"), "{}", said.out);
    assert_eq!(cells(&folder, "out.csv")[2], "+oooo++++oo");
}

#[test]
fn enough_for_everything_changes_nothing() {
    let folder = Folder::new("half-way-enough");
    let chart = drawn(&folder, &THREE);
    let out = folder.path("out.csv");
    let more = ["--left", "PN-3B 12 m", "--meters-per-stitch", "0.005", "--json"];
    let said = dyekin(&substitute(&chart, &out, &more));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let plan: Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(plan["changes"], Value::Array(Vec::new()));
    assert_eq!(plan["half_way"][0]["proved_best"], true);
    assert_eq!(cells(&folder, "out.csv"), THREE);
}

#[test]
fn a_list_of_cells_is_carried_out_answered_and_undone() {
    let folder = Folder::new("half-way-list");
    let chart = drawn(&folder, &THREE);
    let [out, list, hand, record] =
        ["out.csv", "list.json", "hand.txt", "record.json"].map(|name| folder.path(name));
    let half = ["--done", "rows 1-2", "--left", "PN-3B 0.03 m", "--count", "14"];
    let beside = ["--changes", &list, "--by-hand", &hand, "--undo", &record];
    let said = dyekin(&substitute(&chart, &out, &[&half[..], &beside].concat()));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let whole = folder.text("out.csv");
    assert!(folder.text("hand.txt").contains("row 3: 6-9"), "{}", folder.text("hand.txt"));
    // The list alone does the same once it is answered.
    let text = folder.text("list.json");
    fs::write(folder.path("yes.json"), text.replace("\"answer\": null", "\"answer\": \"yes\""))
        .unwrap();
    let (yes, again) = (folder.path("yes.json"), folder.path("again.csv"));
    let said = dyekin(&["apply", &yes, &chart, "--table", POND, "-o", &again]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert_eq!(folder.text("again.csv"), whole);
    // Another thread instead, by apply and by asking again.
    let other = "\"answer\": {\"another\": {\"table\": \"pond\", \"code\": \"PN-5B\"}}";
    fs::write(folder.path("other.json"), text.replace("\"answer\": null", other)).unwrap();
    let [other, two, three] = ["other.json", "2.csv", "3.csv"].map(|name| folder.path(name));
    let said = dyekin(&["apply", &other, &chart, "--table", POND, "-o", &two]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(folder.text("2.csv").contains("PN-5B"), "{}", folder.text("2.csv"));
    let answered = [&half[..], &["--answers", &other]].concat();
    let said = dyekin(&substitute(&chart, &three, &answered));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert_eq!(folder.text("3.csv"), folder.text("2.csv"));
    // And back.
    let back = folder.path("back.csv");
    let said = dyekin(&["undo", &record, &out, "-o", &back]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert_eq!(folder.text("back.csv"), folder.text("chart.csv"));
}

#[test]
fn a_list_of_cells_fits_its_schema_and_reads_as_it_was_written() {
    let folder = Folder::new("half-way-schema");
    let chart = drawn(&folder, &THREE);
    let [out, list] = ["out.csv", "list.json"].map(|name| folder.path(name));
    let more = ["--done", "rows 1-2", "--left", "PN-3B 0.03 m", "--count", "14"];
    let args = substitute(&chart, &out, &[&more[..], &["--changes", &list]].concat());
    let plan = answers::answer("plan", &args);
    assert_eq!(plan["half_way"][0]["areas"].as_array().unwrap().len(), 3);
    let root: Value =
        serde_json::from_str(include_str!("../../../client/changes.schema.json")).unwrap();
    let value: Value = serde_json::from_str(&folder.text("list.json")).unwrap();
    let cells = &value["changes"][0]["cells"];
    assert_eq!(answers::misfit(&root["$defs"]["cells"], &root, cells, "cells"), None);
    assert_eq!(value["changes"][0]["cells"][0], serde_json::json!([5, 2, 4]));
    let bytes = fs::read(folder.path("list.json")).unwrap();
    let file = dyekin_client::change_file::read(&bytes, "list.json").unwrap();
    assert_eq!(file.to_json(), bytes);
}

/// The three areas as a chart with lines and knots in the thread that runs out: a short line and a
/// long one that do not meet, and a knot.
fn outlined(folder: &Folder) -> String {
    let chart = drawn(folder, &THREE);
    let named = folder.path("named.json");
    let named_too = ["convert", &chart, "--table", POND, "--from", POND, "-o", &named];
    assert_eq!(dyekin(&named_too).exit, Exit::Done);
    let text = folder.text("named.json");
    let marks = "\"lines\": [\
         {\"from\": [0, 0], \"to\": [2, 0], \"entry\": 0},\
         {\"from\": [0, 4], \"to\": [0, 8], \"entry\": 0},\
         {\"from\": [0, 8], \"to\": [6, 8], \"entry\": 0}],\
         \"knots\": [{\"at\": [9.5, 7.5], \"entry\": 0}],";
    let at = text.find("\"key\":").unwrap();
    fs::write(&named, format!("{}{marks}\n  {}", &text[..at], &text[at..])).unwrap();
    named
}

/// The entries of a chart's lines and knots.
fn marked_with(folder: &Folder, name: &str) -> (Vec<u64>, Vec<u64>) {
    let chart: Value = serde_json::from_str(&folder.text(name)).unwrap();
    let entries = |key: &str| {
        let marks = chart[key].as_array().unwrap().iter();
        marks.map(|mark| mark["entry"].as_u64().unwrap()).collect()
    };
    (entries("lines"), entries("knots"))
}

#[test]
fn lines_that_hang_together_go_to_one_thread_and_lists_carry_it() {
    let folder = Folder::new("half-way-lines");
    let chart = outlined(&folder);
    let [out, list, hand, record] =
        ["out.json", "list.json", "hand.txt", "record.json"].map(|name| folder.path(name));
    // All stitches are done; the short line takes 12.6 mm at most, the long one and the knot more.
    let half = ["--done", "rows 1-8", "--left", "PN-3B 0.013-0.014 m", "--count", "14"];
    let beside = ["--changes", &list, "--by-hand", &hand, "--undo", &record];
    let args = substitute(&chart, &out, &[&half[..], &beside].concat());
    golden("substitute_works_lines_with_what_is_left", Some(&folder), WIDE, &args);
    let (lines, knots) = marked_with(&folder, "out.json");
    assert_eq!(lines[0], 0);
    assert!(lines[1] != 0 && lines[1] == lines[2] && knots == [lines[1]], "{lines:?} {knots:?}");
    let hand = folder.text("hand.txt");
    assert!(hand.contains("line from 0, 8 to 6, 8\n") && hand.contains("knot at 9.5, 7.5\n"));
    assert!(!hand.contains("line from 0, 0"), "{hand}");
    // The list alone does the same once it is answered, and back.
    let text = folder.text("list.json");
    let file = dyekin_client::change_file::read(text.as_bytes(), "list.json").unwrap();
    assert_eq!(file.to_json(), text.as_bytes());
    let root: Value =
        serde_json::from_str(include_str!("../../../client/changes.schema.json")).unwrap();
    let value: Value = serde_json::from_str(&text).unwrap();
    let marks = &value["changes"][0]["marks"];
    assert_eq!(answers::misfit(&root["$defs"]["marks"], &root, marks, "marks"), None);
    assert_eq!(*marks, serde_json::json!([[0, 8, 0, 16], [0, 16, 12, 16], [19, 15]]));
    fs::write(folder.path("yes.json"), text.replace("\"answer\": null", "\"answer\": \"yes\""))
        .unwrap();
    let (yes, again) = (folder.path("yes.json"), folder.path("again.json"));
    let said = dyekin(&["apply", &yes, &chart, "--table", POND, "-o", &again]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert_eq!(folder.text("again.json"), folder.text("out.json"));
    let back = folder.path("back.json");
    let said = dyekin(&["undo", &record, &out, "-o", &back]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert_eq!(marked_with(&folder, "back.json"), (vec![0; 3], vec![0]));
}

#[test]
fn lines_and_knots_that_are_worked_stay_as_they_are() {
    let folder = Folder::new("half-way-worked");
    let chart = outlined(&folder);
    let out = folder.path("out.json");
    let half = ["--done", "rows 1-8", "--left", "PN-3B 0", "--count", "14"];
    let worked: [(&[&str], Vec<bool>); 4] = [
        (&[], vec![true; 4]),
        (&["--done", "lines rows 1-3"], vec![false, true, true, true]),
        (&["--done", "lines"], vec![false, false, false, true]),
        (&["--done", "knots", "--done", "lines in cols 2-9"], vec![true, true, true, false]),
    ];
    for (more, given) in worked {
        let said = dyekin(&substitute(&chart, &out, &[&half[..], more, &["--force"]].concat()));
        assert_eq!(said.exit, Exit::Done, "{}", said.err);
        let (lines, knots) = marked_with(&folder, "out.json");
        let found: Vec<bool> = lines.into_iter().chain(knots).map(|entry| entry != 0).collect();
        // A line of which only some is worked is not.
        assert_eq!(found, given, "{more:?}: {}", said.out);
    }
    let everything = ["--done", "lines, knots and stitches rows 1-8", "--left", "PN-3B 0"];
    let args = substitute(&chart, &out, &[&everything[..], &["--count", "14", "--force"]].concat());
    let plan = answers::answer("plan", &args);
    assert_eq!(plan["changes"], Value::Array(Vec::new()));
    assert_eq!(plan["half_way"][0]["done_lines"], 3);
    assert_eq!(plan["half_way"][0]["done_knots"], 1);
}

#[test]
fn everything_wrong_about_a_piece_half_way_is_said_at_once() {
    let folder = Folder::new("half-way-wrong");
    let chart = drawn(&folder, &THREE);
    let out = folder.path("out.csv");
    let args = ["substitute", &chart, "--table", POND, "--missing", "PN-3B,PN-4B", "-o", &out];
    let more =
        ["--done", "rows 2-9", "--done", "cols 3-1", "--left", "PN-5B 2 m", "--left", "PN-3B 2 yd"];
    let args = [&args[..], &more].concat();
    golden("everything_wrong_half_way_is_said_at_once", Some(&folder), WIDE, &args);
    assert_eq!(folder.files(), 1);
}

#[test]
fn what_belongs_together_is_asked_for_together() {
    let folder = Folder::new("half-way-together");
    let chart = drawn(&folder, &THREE);
    let out = folder.path("out.csv");
    let wrong: [(&[&str], &str); 6] = [
        (&["--done", "rows 1-2", "--count", "14"], "nobody says how much of it is left"),
        (&["--left", "PN-3B 1 m"], "nobody says how much thread a stitch takes"),
        (&["--left", "PN-3B 1 m", "--count", "140"], "outside 4 to 60 stitches to the inch"),
        (&["--count", "14"], "nothing asks how far what is left reaches"),
        (&["--meters-per-stitch", "0.01"], "nothing asks how much there is"),
        (
            &["--left", "PN-3B 1 m", "--left", "PN-3B 2 m", "--count", "14"],
            "a second amount of pond PN-3B",
        ),
    ];
    for (more, reason) in wrong {
        let said = dyekin(&substitute(&chart, &out, more));
        assert_eq!(said.exit, Exit::Input);
        assert!(said.err.contains(reason), "{more:?}: {}", said.err);
    }
    let more = ["--left", "PN-3B 1 m", "--count", "14"];
    let said = dyekin(&substitute("data/cli/bridge-key.csv", &out, &more));
    assert!(said.err.contains("a key alone does not say"), "{}", said.err);
}

#[test]
fn a_kept_area_is_finished_first_or_refused() {
    let folder = Folder::new("half-way-kept");
    let chart = drawn(&folder, &THREE);
    let named = folder.path("named.json");
    assert_eq!(
        dyekin(&["convert", &chart, "--table", POND, "--from", POND, "-o", &named]).exit,
        Exit::Done
    );
    let text = folder.text("named.json");
    let areas = "\"areas\": [{\"name\": \"lid\", \"cells\": [[2, 5, 2], [2, 6, 2]]}],";
    fs::write(&named, text.replacen("\"key\":", &format!("{areas}\n  \"key\":"), 1)).unwrap();
    let out = folder.path("out.csv");
    let more = ["--done", "rows 1-2", "--keep", "area:lid", "--count", "14", "--left"];
    // Without the keep, the area that is begun would come first.
    let said = dyekin(&substitute(&named, &out, &[&more[..], &["PN-3B 0.07 m"]].concat()));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert_eq!(cells(&folder, "out.csv")[5], "oo##ooooooo");
    let two = folder.path("two.csv");
    let said = dyekin(&substitute(&named, &two, &[&more[..], &["PN-3B 0.01 m"]].concat()));
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("what you keep takes up to"), "{}", said.err);
}

/// A picture of as many pixels as the drawing has letters: `@` black, `r` red, `-` see-through.
fn painted(folder: &Folder, name: &str, rows: &[&str]) -> String {
    let pixel = |letter: char| match letter {
        '@' => [0, 0, 0, 255],
        'r' => [200, 30, 20, 255],
        'g' => [0, 0, 0, 100],
        '-' => [9, 9, 9, 0],
        _ => [255, 255, 255, 255],
    };
    let pixels: Vec<u8> = rows.iter().flat_map(|row| row.chars()).flat_map(pixel).collect();
    let path = folder.path(name);
    let (width, height) = (u32::try_from(rows[0].len()), u32::try_from(rows.len()));
    let file = fs::File::create(&path).unwrap();
    let mut encoder = png::Encoder::new(file, width.unwrap(), height.unwrap());
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.write_header().unwrap().write_image_data(&pixels).unwrap();
    path
}

#[test]
fn a_picture_marks_what_is_stitched() {
    let folder = Folder::new("half-way-picture");
    let chart = drawn(&folder, &THREE);
    let top = ["@@@@@@@@@@@", "@@@@@@@@@@@"];
    let marks = painted(&folder, "done.png", &[&top[..], &["-----      "; 6]].concat());
    let [one, two] = ["1.csv", "2.csv"].map(|name| folder.path(name));
    let left = ["--left", "PN-3B 0.1 m", "--count", "14", "--done"];
    let by_rows = dyekin(&substitute(&chart, &one, &[&left[..], &["rows 1-2"]].concat()));
    let by_marks = dyekin(&substitute(&chart, &two, &[&left[..], &[&marks]].concat()));
    assert_eq!(by_marks.exit, Exit::Done, "{}", by_marks.err);
    assert_eq!(by_rows.out, by_marks.out);
    assert_eq!(folder.text("1.csv"), folder.text("2.csv"));
    // It is an input, which is never replaced.
    let onto = folder.path("done.png");
    let args = substitute(&chart, &onto, &[&left[..], &[&marks, "--force"]].concat());
    assert_eq!(dyekin(&args).exit, Exit::Input);
}

#[test]
fn a_picture_that_is_no_mark_of_this_chart_is_refused_with_every_reason() {
    let folder = Folder::new("half-way-no-mark");
    let chart = drawn(&folder, &THREE);
    let out = folder.path("out.csv");
    let marks = painted(&folder, "marks.png", &["@@r@", "@@gr", "  r "]);
    let more = ["--done", &marks, "--done", "rows 12", "--left", "PN-3B 1 m", "--count", "14"];
    golden(
        "a_picture_that_marks_another_chart_is_refused",
        Some(&folder),
        WIDE,
        &substitute(&chart, &out, &more),
    );
    let more = ["--done", &chart, "--left", "PN-3B 1 m", "--count", "14"];
    let said = dyekin(&substitute(&chart, &out, &more));
    assert!(said.err.contains("not a PNG"), "{}", said.err);
    let more = ["--done", "the top half", "--left", "PN-3B 1 m", "--count", "14"];
    let said = dyekin(&substitute(&chart, &out, &more));
    assert!(said.err.contains("neither rows or columns nor a file"), "{}", said.err);
    let more = ["--done", "nowhere.png", "--left", "PN-3B 1 m", "--count", "14"];
    let said = dyekin(&substitute(&chart, &out, &more));
    assert!(said.err.contains("no such file"), "{}", said.err);
}
