//! Blends: estimates, their range, speckle, what a blend must beat, what it is not for, and an answer
//! with one carried out.
//! It does not check mixes: core does.

use serde_json::Value;

use super::{Exit, Folder, NARROW, POND, WEIR, WIDE, answers, dyekin, fits, golden};

/// A report as one line.
fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn blends_are_told_as_estimates_with_their_range() {
    let args = ["blend", "#7c6f5e", "--table", POND];
    let said = golden("blends_are_told_as_estimates_with_their_range", None, WIDE, &args);
    assert_eq!(said.exit, Exit::Done);
    let words = unwrapped(&said.out);
    assert_eq!(words.matches("estimate: ").count(), 3, "{words}");
    assert_eq!(words.matches("if light spreads between the strands").count(), 3, "{words}");
    assert!(words.contains("visible speckle") && words.contains("alone: "), "{words}");
    let cautions = unwrapped(&said.err);
    assert!(cautions.contains("not for single stitches or lettering"), "{cautions}");
    fits(&dyekin_in(NARROW), NARROW);
}

fn dyekin_in(width: usize) -> String {
    super::dyekin_wide(width, &["blend", "#7c6f5e", "PN-3B", "--details", "--table", POND]).out
}

#[test]
fn details_of_a_blend_name_both_ends_of_the_range() {
    let args = ["blend", "PN-3B", "--details", "--count", "1", "--table", POND];
    let said = golden("details_of_a_blend_name_both_ends_of_the_range", None, WIDE, &args);
    let words = unwrapped(&said.out);
    for part in ["light averaged by area: ", "Yule-Nielsen with n = 2: ", "CIEDE2000 1:1:1"] {
        assert!(words.contains(part), "{words}");
    }
}

#[test]
fn strands_in_the_needle_say_which_mixes_are_tried() {
    for (strands, wanted) in [("2", [1, 1]), ("3", [2, 1])] {
        let args = ["blend", "#7c6f5e", "--strands", strands, "--json", "--table", POND];
        let answer: Value = serde_json::from_str(&dyekin(&args).out).unwrap();
        let blends = answer["answers"][0]["blends"].as_array().unwrap();
        assert_eq!(blends.len(), 3);
        assert!(blends.iter().all(|blend| blend["strands"] == serde_json::json!(wanted)));
    }
    for bad in ["1", "4", "two", ""] {
        let said = dyekin(&["blend", "#7c6f5e", "--strands", bad, "--table", POND]);
        assert_eq!(said.exit, Exit::Input, "{bad}");
        assert!(said.err.contains("--strands 3 for two of one"), "{}", said.err);
    }
}

#[test]
fn a_thread_is_not_blended_with_itself() {
    let args = ["blend", "PN-3B", "--count", "1000", "--json", "--table", POND];
    let answer: Value = serde_json::from_str(&dyekin(&args).out).unwrap();
    let blends = answer["answers"][0]["blends"].as_array().unwrap();
    let codes = blends.iter().flat_map(|blend| [&blend["first"]["code"], &blend["second"]["code"]]);
    assert!(codes.clone().count() > 10 && codes.clone().all(|code| code != "PN-3B"));
}

#[test]
fn none_within_the_limit_names_the_nearest_blend_beyond() {
    let args = ["blend", "#ff00ff", "--within", "1", "--table", POND];
    let said = golden("none_within_the_limit_names_the_nearest_blend_beyond", None, WIDE, &args);
    assert_eq!(said.exit, Exit::NothingMatched);
    let said = dyekin(&["blend", "#ff00ff", "--fiber", "nettle", "--table", POND]);
    assert_eq!(said.exit, Exit::NothingMatched);
    assert!(said.out.contains("no two plain threads"), "{}", said.out);
}

#[test]
fn another_finish_another_light_and_unknown_codes_are_refused() {
    for finish in ["metallic", "any", "plain,metallic"] {
        let said = dyekin(&["blend", "#7c6f5e", "--finish", finish, "--table", POND]);
        assert_eq!(said.exit, Exit::Input, "{finish}");
        assert!(said.err.contains("only plain threads are blended"), "{}", said.err);
    }
    let plain = dyekin(&["blend", "#7c6f5e", "--finish", "plain", "--table", POND]);
    assert_eq!(plain.exit, Exit::Done);
    let lab = ["blend", "lab(42 -20 22)", "--origin", "meter", "--white", "D50/10"];
    let refused = dyekin(&[&lab, &["--table", WEIR][..]].concat());
    assert_eq!(refused.exit, Exit::Input);
    assert!(refused.err.contains("--adapt"), "{}", refused.err);
    let adapted = dyekin(&[&lab, &["--table", WEIR, "--adapt"][..]].concat());
    assert!(unwrapped(&adapted.out).contains("adapted by Bradford)"), "{}", adapted.out);
    assert!(!adapted.err.contains("Screen colors"), "all was measured: {}", adapted.err);
    let unknown = dyekin(&["blend", "PN-99", "--table", POND]);
    assert_eq!((unknown.exit, unknown.out.as_str()), (Exit::Input, ""));
}

/// A roof, which is an area, and four lone nails in it.
const SHED: [&str; 6] = ["rrrrrrrr", "rnrrrnrr", "rrrrrrrr", "rrnrrrnr", "wwwwwwww", "wwwwwwww"];

/// The chart; `.csv` says nothing of strands.
fn shed(folder: &Folder) -> String {
    let code = |letter: char| match letter {
        'r' => "PN-3B",
        'n' => "PN-5B",
        _ => "PN-2C",
    };
    let row = |row: &&str| row.chars().map(code).collect::<Vec<_>>().join(",") + "\n";
    let path = folder.path("shed.csv");
    std::fs::write(&path, SHED.iter().map(row).collect::<String>()).unwrap();
    path
}

/// Roof and nails are missing.
fn without_two<'a>(chart: &'a str, out: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    let args = ["substitute", chart, "--table", POND, "--missing", "PN-3B,PN-5B", "-o", out];
    [&args[..], more].concat()
}

/// Writes a list with the answer to the roof's change.
fn answered(folder: &Folder, list: &str, name: &str, answer: &Value) -> String {
    let mut list: Value = serde_json::from_str(&folder.text(list)).unwrap();
    let changes = list["changes"].as_array_mut().unwrap();
    let roof = changes.iter_mut().find(|change| change["before"][0]["code"] == "PN-3B").unwrap();
    roof["answer"] = answer.clone();
    let path = folder.path(name);
    std::fs::write(&path, serde_json::to_vec_pretty(&list).unwrap()).unwrap();
    path
}

/// Change of the roof in a list.
fn roof(folder: &Folder, name: &str) -> Value {
    let list: Value = serde_json::from_str(&folder.text(name)).unwrap();
    let changes = list["changes"].as_array().unwrap();
    changes.iter().find(|change| change["before"][0]["code"] == "PN-3B").unwrap().clone()
}

/// Entries of the key that are worked in a blend, each as strands and codes.
fn blended(folder: &Folder, name: &str) -> Vec<Vec<(u64, String)>> {
    let chart: Value = serde_json::from_str(&folder.text(name)).unwrap();
    let side = |side: &Value| {
        let code = side["code"].as_str().unwrap().to_owned();
        (side["strands"].as_u64().unwrap(), code)
    };
    let blends =
        chart["key"].as_array().unwrap().iter().filter_map(|entry| entry["blend"].as_array());
    blends.map(|sides| sides.iter().map(side).collect()).collect()
}

#[test]
fn blends_are_offered_for_areas_and_never_chosen() {
    let folder = Folder::new("blends-offered");
    let shed = shed(&folder);
    let [out, plain, list] = ["out.json", "plain.json", "list.json"].map(|name| folder.path(name));
    let said = dyekin(&without_two(&shed, &out, &["--blends", "--changes", &list]));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let words = unwrapped(&said.out);
    assert!(words.contains("as a blend, pond PN-3B: pond "), "{words}");
    let why = "as a blend, pond PN-5B: none, its stitches are lone ones or thin lines";
    assert!(words.contains(why), "{words}");
    assert_eq!(dyekin(&without_two(&shed, &plain, &[])).exit, Exit::Done);
    assert_eq!(folder.text("out.json"), folder.text("plain.json"));
    let schema = include_str!("../../../client/changes.schema.json");
    let schema: Value = serde_json::from_str(schema).unwrap();
    let whole: Value = serde_json::from_str(&folder.text("list.json")).unwrap();
    let blends = &roof(&folder, "list.json")["blends"];
    let of_blends = &schema["$defs"]["change"]["properties"]["blends"];
    assert_eq!(answers::misfit(of_blends, &schema, blends, "blends"), None);
    for answer in [serde_json::json!({"blend": 1}), serde_json::json!("yes")] {
        assert_eq!(answers::misfit(&schema["$defs"]["answer"], &schema, &answer, "answer"), None);
    }
    let offered = |change: &&Value| change.get("blends").is_some();
    let changes = whole["changes"].as_array().unwrap();
    assert_eq!(changes.iter().filter(offered).count(), 1);
    assert_eq!(blends.as_array().unwrap().len(), 3);
    let file = dyekin_client::change_file::read(folder.text("list.json").as_bytes(), "list.json");
    assert_eq!(String::from_utf8(file.unwrap().to_json()).unwrap(), folder.text("list.json"));
}

#[test]
fn a_chart_is_worked_in_the_blend_that_was_answered_and_comes_back() {
    let folder = Folder::new("blends-applied");
    let shed = shed(&folder);
    let [out, list, new, record, back, hand] =
        ["out.json", "list.json", "new.json", "record", "back.csv", "hand.txt"]
            .map(|name| folder.path(name));
    dyekin(&without_two(&shed, &out, &["--blends", "--changes", &list]));
    for number in 1..=3_usize {
        let answer = serde_json::json!({ "blend": number });
        let with = answered(&folder, "list.json", "with.json", &answer);
        let args = [
            "apply",
            &with,
            &shed,
            "--table",
            POND,
            "-o",
            &new,
            "--undo",
            &record,
            "--by-hand",
            &hand,
        ];
        let said = dyekin(&[&args[..], &["--force"]].concat());
        assert_eq!(said.exit, Exit::Done, "{}", said.err);
        assert!(said.err.contains("A blend is an estimate"), "{}", said.err);
        let offered = &roof(&folder, "list.json")["blends"][number - 1]["threads"];
        let sides = offered.as_array().unwrap().iter().map(|side| {
            (side["strands"].as_u64().unwrap(), side["code"].as_str().unwrap().to_owned())
        });
        let sides: Vec<_> = sides.collect();
        assert_eq!(blended(&folder, "new.json"), std::slice::from_ref(&sides));
        for (strands, code) in sides {
            let unit = if strands == 1 { "strand" } else { "strands" };
            let by_hand = folder.text("hand.txt");
            assert!(by_hand.contains(&format!("{strands} {unit} pond {code} ")), "{by_hand}");
        }
        let args = ["undo", &record, &new, "-o", &back, "--force"];
        assert_eq!(dyekin(&args).exit, Exit::Done);
        assert_eq!(folder.text("back.csv"), folder.text("shed.csv"));
    }
}

#[test]
fn an_answered_blend_is_held_while_the_rest_is_planned_again() {
    let folder = Folder::new("blends-held");
    let shed = shed(&folder);
    let [out, list, two, again, three, of_two] =
        ["out.json", "list.json", "2.json", "again.json", "3.json", "of-2.json"]
            .map(|name| folder.path(name));
    dyekin(&without_two(&shed, &out, &["--blends", "--changes", &list]));
    let with = answered(&folder, "list.json", "with.json", &serde_json::json!({"blend": 2}));
    let said = dyekin(&without_two(&shed, &two, &["--answers", &with, "--changes", &again]));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let words = unwrapped(&said.out);
    assert!(words.contains("1 color stays in the blend that you answered with: c"), "{words}");
    // The change is back as it was answered, and both threads count as in use.
    assert_eq!(roof(&folder, "again.json"), roof(&folder, "with.json"));
    let held = blended(&folder, "2.json");
    assert_eq!(held.len(), 1);
    let list_again: Value = serde_json::from_str(&folder.text("again.json")).unwrap();
    for change in list_again["changes"].as_array().unwrap() {
        let code = change["after"][0]["code"].as_str().unwrap();
        let is_roof = change["before"][0]["code"] == "PN-3B";
        assert!(is_roof || held[0].iter().all(|(_, held)| held != code), "{change}");
    }
    let totals = |name: &str| {
        let list: Value = serde_json::from_str(&folder.text(name)).unwrap();
        list["totals"]["max_difference"].as_f64().unwrap()
    };
    let difference = roof(&folder, "with.json")["blends"][1]["difference"].as_f64().unwrap();
    assert!(totals("again.json") >= difference);
    // The new list does the same once more, and so does apply.
    let said = dyekin(&without_two(&shed, &three, &["--answers", &again]));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert_eq!(folder.text("3.json"), folder.text("2.json"));
    let said = dyekin(&["apply", &again, &shed, "--table", POND, "-o", &of_two]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert_eq!(blended(&folder, "of-2.json"), held);
    let answer: Value = serde_json::from_str(
        &dyekin(&without_two(&shed, &three, &["--answers", &again, "--force", "--json"])).out,
    )
    .unwrap();
    assert_eq!(answer["held_blends"].as_array().unwrap().len(), 1);
}

#[test]
fn blends_that_cannot_be_held_are_refused_with_what_helps() {
    let folder = Folder::new("blends-refused");
    let shed = shed(&folder);
    let [out, list] = ["out.json", "list.json"].map(|name| folder.path(name));
    dyekin(&without_two(&shed, &out, &["--blends", "--changes", &list]));
    let with = answered(&folder, "list.json", "with.json", &serde_json::json!({"blend": 1}));
    let blend = roof(&folder, "list.json")["blends"][0]["threads"][1]["code"].clone();
    let missing = format!("PN-3B,{}", blend.as_str().unwrap());
    let new = folder.path("new.json");
    let substitute = ["substitute", &shed, "--table", POND, "-o", &new, "--answers", &with];
    let cases: [(Vec<&str>, &str); 4] = [
        (
            [&substitute[..], &["--missing", "PN-3B"]].concat(),
            "carry the list out with dyekin apply",
        ),
        ([&substitute[..], &["--missing", &missing]].concat(), "in the blend answered for"),
        (
            [&substitute[..], &["--missing", "PN-3B,PN-5B", "--formula", "cie76"]].concat(),
            "add --formula ciede2000:1:1:1",
        ),
        (
            ["reduce", &shed, "--table", POND, "--threads", "5", "-o", &new, "--answers", &with]
                .to_vec(),
            "reduce cannot hold an answer with a blend",
        ),
    ];
    for (args, wanted) in cases {
        let said = dyekin(&args);
        assert_eq!(said.exit, Exit::Input, "{wanted}: {}", said.err);
        assert!(unwrapped(&said.err).contains(wanted), "{wanted}: {}", said.err);
        assert!(!std::path::Path::new(&new).exists());
    }
}

#[test]
fn an_answer_with_a_blend_that_is_not_there_says_where_and_what_helps() {
    let folder = Folder::new("blends-no-such");
    let shed = shed(&folder);
    let [out, list, new] = ["out.json", "list.json", "new.json"].map(|name| folder.path(name));
    dyekin(&without_two(&shed, &out, &["--blends", "--changes", &list]));
    for number in [serde_json::json!(0), serde_json::json!(4)] {
        let answer = serde_json::json!({ "blend": number });
        let with = answered(&folder, "list.json", "with.json", &answer);
        let said = dyekin(&["apply", &with, &shed, "--table", POND, "-o", &new]);
        assert_eq!(said.exit, Exit::Input);
        let words = unwrapped(&said.err);
        assert!(words.contains("with.json line "), "{words}");
        assert!(words.contains(".answer.blend: "), "{words}");
        assert!(words.contains("the change has 3 blends, counted from 1"), "{words}");
        assert!(words.contains("write a number from 1 to 3"), "{words}");
    }
    let mut plain: Value = serde_json::from_str(&folder.text("list.json")).unwrap();
    for change in plain["changes"].as_array_mut().unwrap() {
        change.as_object_mut().unwrap().remove("blends");
        change["answer"] = serde_json::json!({"blend": 1});
    }
    let bare = folder.path("bare.json");
    std::fs::write(&bare, serde_json::to_vec(&plain).unwrap()).unwrap();
    let said = dyekin(&["apply", &bare, &shed, "--table", POND, "-o", &new]);
    let words = unwrapped(&said.err);
    assert!(words.contains("the change has no blends: they are for areas only"), "{words}");
    assert!(words.contains("answer yes, no or another thread"), "{words}");
}

#[test]
fn strands_of_the_chart_decide_which_blends_are_offered_and_lines_take_none() {
    let folder = Folder::new("blends-strands");
    let shed = shed(&folder);
    let [first, list, out] = ["first.json", "list.json", "out.json"].map(|name| folder.path(name));
    let args = ["substitute", &shed, "--table", POND, "--missing", "PN-5B", "-o", &first];
    assert_eq!(dyekin(&args).exit, Exit::Done);
    let drawn: Value = serde_json::from_str(&folder.text("first.json")).unwrap();
    let key = drawn["key"].as_array().unwrap();
    let roof = key.iter().position(|entry| entry["thread"]["code"] == "PN-3B").unwrap();
    let chart = folder.path("chart.json");
    let try_one = |edit: &dyn Fn(&mut Value), wanted: Option<&[[u64; 2]]>| {
        let mut edited = drawn.clone();
        edit(&mut edited);
        std::fs::write(&chart, serde_json::to_vec(&edited).unwrap()).unwrap();
        let args = ["substitute", &chart, "--table", POND, "--missing", "PN-3B", "--blends"];
        let said = dyekin(&[&args[..], &["--changes", &list, "-o", &out, "--force"]].concat());
        assert_eq!(said.exit, Exit::Done, "{}", said.err);
        let changes: Value = serde_json::from_str(&folder.text("list.json")).unwrap();
        let blends = changes["changes"][0].get("blends").and_then(Value::as_array);
        assert_eq!(blends.is_some(), wanted.is_some(), "{}", said.out);
        for blend in blends.into_iter().flatten() {
            let of = |side: usize| blend["threads"][side]["strands"].as_u64().unwrap();
            assert!(wanted.unwrap().contains(&[of(0), of(1)]), "{blend}");
        }
        unwrapped(&said.out)
    };
    let strands = |count: u64| {
        move |chart: &mut Value| chart["key"][roof]["strands"] = serde_json::json!({"cross": count})
    };
    try_one(&strands(2), Some(&[[1, 1]]));
    try_one(&strands(3), Some(&[[2, 1]]));
    try_one(&strands(6), Some(&[[3, 3], [4, 2]]));
    let said = try_one(&strands(5), None);
    assert!(said.contains("none, no blend has as many strands as the chart says"), "{said}");
    let line = serde_json::json!([{"from": [0, 0], "to": [3, 0], "entry": roof}]);
    let said = try_one(&|chart: &mut Value| chart["lines"] = line.clone(), None);
    assert!(said.contains("none, it has back-stitch lines or knots"), "{said}");
}

#[test]
fn a_part_of_a_color_half_way_is_worked_in_a_blend_and_not_planned_again() {
    let folder = Folder::new("blends-half-way");
    let shed = shed(&folder);
    let [out, list, new] = ["out.json", "list.json", "new.json"].map(|name| folder.path(name));
    let half_way =
        ["--done", "rows 1-2", "--count", "14", "--left", "PN-3B 0", "--left", "PN-5B 0"];
    let more = [&half_way[..], &["--blends", "--changes", &list]].concat();
    let said = dyekin(&without_two(&shed, &out, &more));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let with = answered(&folder, "list.json", "with.json", &serde_json::json!({"blend": 1}));
    let said = dyekin(&["apply", &with, &shed, "--table", POND, "-o", &new]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert_eq!(blended(&folder, "new.json").len(), 1);
    let again = [&half_way[..], &["--answers", &with, "--force"]].concat();
    let said = dyekin(&without_two(&shed, &out, &again));
    assert_eq!(said.exit, Exit::Input, "{}", said.out);
    let wanted = "an answer with a blend is not held half-way through a piece";
    assert!(unwrapped(&said.err).contains(wanted), "{}", said.err);
}
