//! The way back of a change, lists carried out on keys and on corrected charts, answers kept.
//! It does not judge the changes.

use serde_json::Value;

use super::*;

const KEY: &str = "data/cli/bridge-key.csv";

/// Yes to every change.
fn agree(folder: &Folder, name: &str) {
    let text = folder.text(name).replace("\"answer\": null", "\"answer\": \"yes\"");
    fs::write(folder.path(name), text).unwrap();
}

fn changes(folder: &Folder, name: &str) -> Value {
    serde_json::from_str(&folder.text(name)).unwrap()
}

/// A chart in each format, made from the grid.
fn charts(folder: &Folder) -> [(String, String); 4] {
    for name in ["chart.json", "chart.png"] {
        let out = folder.path(name);
        let args = ["reduce", BRIDGE, "--table", POND, "--threads", "8", "-o", &out];
        assert_eq!(dyekin(&args).exit, Exit::Done);
    }
    // Blanks and other line ends of the owner's file come back too.
    let grid = fs::read_to_string(BRIDGE).unwrap().replace('\n', "\r\n");
    fs::write(folder.path("chart.csv"), grid).unwrap();
    fs::copy(KEY, folder.path("key.csv")).unwrap();
    ["chart.json", "chart.png", "chart.csv", "key.csv"].map(|name| {
        let ending = name.rsplit('.').next().unwrap();
        (folder.path(name), ending.to_owned())
    })
}

#[test]
fn undo_gives_back_every_kind_of_chart_byte_for_byte() {
    let folder = Folder::new("undo");
    for (number, (chart, ending)) in charts(&folder).iter().enumerate() {
        let [new, record, back] =
            ["new", "record", "back"].map(|name| folder.path(&format!("{name}-{number}")));
        let (new, back) = (format!("{new}.{ending}"), format!("{back}.{ending}"));
        let args = ["reduce", chart, "--table", POND, "--threads", "2", "-o", &new];
        let said = dyekin(&[&args[..], &["--undo", &record]].concat());
        assert_eq!(said.exit, Exit::Done, "{}", said.err);
        assert!(said.err.contains("the way back"), "{}", said.err);
        assert_ne!(fs::read(&new).unwrap(), fs::read(chart).unwrap());
        let said = dyekin(&["undo", &record, &new, "-o", &back]);
        assert_eq!(said.exit, Exit::Done, "{chart}: {}", said.err);
        assert!(said.out.contains("as it was, byte for byte"), "{}", said.out);
        assert_eq!(fs::read(&back).unwrap(), fs::read(chart).unwrap(), "{chart}");
        // Undone already, or never done.
        let again = folder.path(&format!("again-{number}.{ending}"));
        let said = dyekin(&["undo", &record, chart, "-o", &again]);
        assert!(said.err.contains("undone already"), "{}", said.err);
        assert_eq!(said.exit, Exit::Input);
        let wrong = folder.path("wrong.gif");
        let said = dyekin(&["undo", &record, &new, "-o", &wrong]);
        assert!(said.err.contains(&format!("the chart was a .{ending}")), "{}", said.err);
    }
}

#[test]
fn undo_says_why_not() {
    let folder = Folder::new("undo-not");
    let [new, record, list, out] =
        ["new.json", "record.json", "list.json", "out.csv"].map(|name| folder.path(name));
    let args = ["reduce", BRIDGE, "--table", POND, "--threads", "3", "-o", &new];
    assert_eq!(
        dyekin(&[&args[..], &["--undo", &record, "--changes", &list]].concat()).exit,
        Exit::Done
    );
    let said = dyekin(&["undo", &list, &new, "-o", &out]);
    assert!(said.err.contains("the list holds no way back"), "{}", said.err);
    // The same chart written anew is the chart; with one stitch more it is not.
    let text = folder.text("new.json");
    fs::write(folder.path("spaced.json"), text.replace(": ", ":  ")).unwrap();
    let said = dyekin(&["undo", &record, &folder.path("spaced.json"), "-o", &out]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let mut chart: Value = serde_json::from_str(&text).unwrap();
    let rows = chart["rows"].as_array_mut().unwrap();
    rows.reverse();
    fs::write(folder.path("edited.json"), chart.to_string()).unwrap();
    let said = dyekin(&["undo", &record, &folder.path("edited.json"), "-o", &out, "--force"]);
    assert!(said.err.contains("not the chart as the changes left it"), "{}", said.err);
    assert!(said.err.contains("would be lost"), "{}", said.err);
    let mut held = changes(&folder, "record.json");
    let file = held["undo"]["file"].as_str().unwrap();
    let file = format!("AAAA{}", &file[4..]);
    held["undo"]["file"] = Value::from(file);
    fs::write(folder.path("damaged.json"), held.to_string()).unwrap();
    let said = dyekin(&["undo", &folder.path("damaged.json"), &new, "-o", &out, "--force"]);
    assert!(said.err.contains("the chart in the list is damaged"), "{}", said.err);
    let said = dyekin(&["undo", &record, &new, "-o", &record, "--force"]);
    assert_eq!(said.exit, Exit::Input);
}

#[test]
fn an_applied_list_can_be_undone_and_knows_what_was_done() {
    let folder = Folder::new("undo-apply");
    let [out, list, new, record, back] =
        ["out.json", "list.json", "new.csv", "record.json", "back.csv"].map(|n| folder.path(n));
    let args =
        ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &out, "--changes", &list];
    assert_eq!(dyekin(&args).exit, Exit::Done);
    let text = folder.text("list.json").replacen("\"answer\": null", "\"answer\": \"yes\"", 2);
    fs::write(&list, text).unwrap();
    let args = ["apply", &list, BRIDGE, "--table", POND, "-o", &new, "--undo", &record];
    assert_eq!(dyekin(&args).exit, Exit::Done, "{}", dyekin(&args).err);
    let done = changes(&folder, "record.json");
    let answers: Vec<&Value> =
        done["changes"].as_array().unwrap().iter().map(|change| &change["answer"]).collect();
    assert_eq!(answers.iter().filter(|answer| answer.is_string()).count(), 2);
    assert_eq!(done["undo"]["kind"], "grid");
    assert_eq!(dyekin(&["undo", &record, &new, "-o", &back]).exit, Exit::Done);
    assert_eq!(fs::read(&back).unwrap(), fs::read(BRIDGE).unwrap());
}

#[test]
fn apply_carries_a_list_out_on_the_key_alone_that_it_was_made_for() {
    let folder = Folder::new("apply-key");
    let [out, list, new] = ["out.csv", "list.json", "new.csv"].map(|name| folder.path(name));
    let args = ["substitute", KEY, "--table", POND, "--missing", "PN-3B,PN-4B", "-o", &out];
    assert_eq!(dyekin(&[&args[..], &["--changes", &list]].concat()).exit, Exit::Done);
    let text = folder.text("list.json");
    let another = "\"answer\": {\"another\": {\"table\": \"pond\", \"code\": \"PN-6B\"}}";
    let text = text.replacen("\"answer\": null", another, 1);
    fs::write(&list, text.replacen("\"answer\": null", "\"answer\": \"no\"", 1)).unwrap();
    let said = golden(
        "apply_on_a_key_alone",
        Some(&folder),
        WIDE,
        &["apply", &list, KEY, "--table", POND, "-o", &new],
    );
    assert_eq!(said.exit, Exit::Done);
    let key = folder.text("new.csv");
    assert!(key.contains("PN-6B,Night Bank") && key.contains("PN-3C"), "{key}");
    assert_eq!(key.contains("PN-3B"), !key.contains("PN-4B"), "{key}");
    // A list of a chart is none of its key.
    let chart_list = folder.path("chart-list.json");
    let args = ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &folder.path("c.json")];
    assert_eq!(dyekin(&[&args[..], &["--changes", &chart_list]].concat()).exit, Exit::Done);
    let args = ["apply", &chart_list, KEY, "--table", POND, "-o", &new, "--force"];
    assert!(dyekin(&args).err.contains("made for another chart"));
}

#[test]
fn a_corrected_chart_takes_the_list_for_the_colors_that_are_still_there() {
    let folder = Folder::new("corrected");
    let [out, list, new, chart] =
        ["out.json", "list.json", "new.csv", "chart.csv"].map(|name| folder.path(name));
    let args =
        ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &out, "--changes", &list];
    assert_eq!(dyekin(&args).exit, Exit::Done);
    agree(&folder, "list.json");
    // One color is gone, another is new, and everything has moved.
    let text = fs::read_to_string(BRIDGE).unwrap();
    let mut rows: Vec<&str> = text.lines().collect();
    rows.rotate_left(2);
    let text = rows.join("\n").replace("PN-5A", "PN-6B");
    fs::write(&chart, text).unwrap();
    let plain = ["apply", &list, &chart, "--table", POND, "-o", &new];
    let said = dyekin(&plain);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("add --corrected"), "{}", said.err);
    let args = [&plain[..], &["--corrected"]].concat();
    let said = golden("apply_on_a_corrected_chart", Some(&folder), WIDE, &args);
    assert_eq!(said.exit, Exit::Done);
    assert!(said.err.contains("note: the list was made for chart "), "{}", said.err);
    assert!(said.err.contains("1 change is of colors that it no longer has"), "{}", said.err);
    assert!(said.err.contains("1 new color stays as drawn: pond PN-6B"), "{}", said.err);
    let gone = changes(&folder, "list.json");
    let gone = gone["changes"].as_array().unwrap().iter().filter_map(|change| {
        let code = change["before"][0]["code"].as_str().unwrap();
        (code != "PN-5A").then(|| code.to_owned())
    });
    for code in gone {
        assert!(!folder.text("new.csv").contains(&code), "{code}");
    }
    assert!(folder.text("new.csv").contains("PN-6B"));
    // Another chart altogether is none that was corrected.
    fs::write(&chart, "PN-6B,PN-6B\n").unwrap();
    let said = dyekin(&[&args[..], &["--force"]].concat());
    assert!(said.err.contains("made for another chart"), "{}", said.err);
}

#[test]
fn answers_are_kept_when_the_plan_is_made_again() {
    let folder = Folder::new("answers-kept");
    let names = ["out.json", "list.json", "again.json", "next.json", "chart.csv"];
    let [out, list, again, next, chart] = names.map(|name| folder.path(name));
    let args =
        ["reduce", BRIDGE, "--table", POND, "--threads", "5", "-o", &out, "--changes", &list];
    assert_eq!(dyekin(&args).exit, Exit::Done);
    let first = changes(&folder, "list.json");
    let (agreed, other) = (&first["changes"][0], &first["changes"][1]);
    let text = folder.text("list.json").replacen("\"answer\": null", "\"answer\": \"yes\"", 1);
    let another = "\"answer\": {\"another\": {\"table\": \"pond\", \"code\": \"PN-6B\"}}";
    fs::write(&list, text.replacen("\"answer\": null", another, 1)).unwrap();
    let plan = ["reduce", BRIDGE, "--table", POND, "--threads", "6", "-o", &again];
    let args = [&plan[..], &["--answers", &list, "--changes", &next]].concat();
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let planned = changes(&folder, "next.json");
    let of = |id: &Value| {
        let all = planned["changes"].as_array().unwrap();
        all.iter().find(|change| change["id"] == *id).cloned().unwrap()
    };
    assert_eq!(of(&agreed["id"])["answer"], "yes");
    assert_eq!(of(&agreed["id"])["after"][0]["code"], agreed["after"][0]["code"]);
    assert_eq!(of(&other["id"])["answer"], "yes");
    assert_eq!(of(&other["id"])["after"][0]["code"], "PN-6B");
    // The same on a chart that was corrected since.
    let rows = fs::read_to_string(BRIDGE).unwrap();
    let mut rows: Vec<&str> = rows.lines().collect();
    rows.reverse();
    fs::write(&chart, rows.join("\n")).unwrap();
    let plan = ["reduce", &chart, "--table", POND, "--threads", "6", "-o", &again, "--force"];
    let args = [&plan[..], &["--answers", &list, "--changes", &next]].concat();
    assert_eq!(dyekin(&args).exit, Exit::Input);
    let said = dyekin(&[&args[..], &["--corrected"]].concat());
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let planned = changes(&folder, "next.json");
    let yes = planned["changes"].as_array().unwrap().iter().filter(|c| c["answer"] == "yes");
    assert_eq!(yes.count(), 2);
}
