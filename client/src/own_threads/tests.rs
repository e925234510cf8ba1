//! Lists as people keep them: every line is a thread, a note, or a problem that is told.

use dyekin_core::{Code, Color, ErrorKind, Srgb8, TableId, Thread};

use super::*;

fn table(id: &str, threads: &[(&str, &str)]) -> Table {
    let thread = |(code, name): &(&str, &str)| {
        Thread::plain(Code::parse(code).unwrap(), *name, Color::screen(Srgb8::new(1, 2, 3)))
    };
    Table::new(TableId::parse(id).unwrap(), threads.iter().map(thread).collect()).unwrap()
}

fn tables() -> Vec<Table> {
    vec![
        table(
            "hazelwick",
            &[
                ("HW-101", "Plum Jam"),
                ("HW-102", "River Slate"),
                ("HW-2B", "Old Rope"),
                ("HW-310", "Plum Jam"),
            ],
        ),
        table("fernlow", &[("F 7", "Moss Stair"), ("F 70", "Tin Roof"), ("310", "")]),
    ]
}

fn listed(text: &str) -> OwnList {
    read(text.as_bytes(), "my-threads.txt", &tables()).unwrap()
}

fn one(line: &str) -> (String, Option<String>) {
    let list = read(line.as_bytes(), "my-threads.txt", &tables());
    let list = list.unwrap_or_else(|refused| panic!("{line}: {:?}", refused.problems));
    assert_eq!(list.threads.len(), 1, "{line}");
    let own = &list.threads[0];
    let name = format!("{}:{}", own.thread.table, own.thread.code);
    (name, own.count.map(|count| count.to_string()))
}

fn notices(text: &str) -> Vec<String> {
    listed(text).notices.into_iter().map(|notice| notice.text).collect()
}

fn problems(text: &str) -> Vec<String> {
    let refused = read(text.as_bytes(), "my-threads.txt", &tables()).unwrap_err();
    let told = |error: &dyekin_core::Error| {
        let line = error.place().and_then(|place| place.line).unwrap_or_default();
        format!("{line}: {}; {}", error.kind(), error.hint().unwrap_or_default())
    };
    refused.problems.iter().map(told).collect()
}

#[test]
fn a_code_is_known_in_every_spelling() {
    for line in [
        "HW-101",
        "hw-101",
        "  HW-101\t",
        "HW 101",
        "HW - 101",
        "hw101",
        "HW_101",
        "hazelwick HW-101",
        "hazelwick:HW-101",
        "Hazelwick: HW-101",
        "HAZELWICK #HW-101",
        "Hazel Wick 101",
        "[hazelwick] HW 101",
        "hazelw. HW-101",
        "HW-101 (hazelwick)",
        "101",
        "No. 101",
        "- HW-101",
        "* HW-101",
        "3. HW-101",
        "\u{feff}HW-101",
        "HW-101 Plum Jam",
        "Plum Jam HW-101",
        "HW-\u{200b}101",
    ] {
        assert_eq!(one(line).0, "hazelwick:HW-101", "{line}");
    }
    assert_eq!(one("f7").0, "fernlow:F 7");
    assert_eq!(one("F  70").0, "fernlow:F 70");
    assert_eq!(one("moss stair").0, "fernlow:F 7");
}

#[test]
fn counts_stand_before_or_behind() {
    for (line, count) in [
        ("HW-101 x2", "2"),
        ("HW-101 2x", "2"),
        ("2x HW-101", "2"),
        ("2 x HW-101", "2"),
        ("HW-101 \u{d7} 2", "2"),
        ("HW-101 (2)", "2"),
        ("HW-101, 2", "2"),
        ("HW-101;2;Plum Jam", "2"),
        ("HW-101\t2", "2"),
        ("2 HW-101", "2"),
        ("HW-101 2 skeins", "2"),
        ("HW-101 - 2", "2"),
        ("HW-101 \u{bd}", "0.5"),
        ("1/2 HW-101", "0.5"),
        ("HW-101 0,5", "0.5"),
        ("HW-101 1\u{bd} skeins", "1.5"),
        ("Old Rope x2", "2"),
    ] {
        assert_eq!(one(line).1.as_deref(), Some(count), "{line}");
    }
    assert_eq!(one("HW-101").1, None);
    assert_eq!(one("3. HW-101").1, None);
}

#[test]
fn lengths_are_told_from_skeins() {
    for (line, meters, count) in [
        ("HW-101 12 m", Some("12"), None),
        ("HW-101 12.5m", Some("12.5"), None),
        ("HW-101 (7 metres)", Some("7"), None),
        ("HW-101 x2 3m", Some("3"), Some("2")),
        ("3,5 m HW-101", Some("3.5"), None),
        ("HW-101 4", None, Some("4")),
    ] {
        let own = listed(line).threads.remove(0);
        let said = |held: Option<Count>| held.map(|held| held.to_string());
        assert_eq!(
            (said(own.meters).as_deref(), said(own.count).as_deref()),
            (meters, count),
            "{line}"
        );
        assert_eq!(own.line, 1);
    }
    assert_eq!(listed("HW-101 3 m\nHW-101 2m").threads[0].meters.unwrap().to_string(), "5");
}

#[test]
fn what_is_taken_for_granted_is_told() {
    assert!(notices("HW-101 x2\n").is_empty());
    assert!(notices("hazelwick:hw-101\n").is_empty());
    assert_eq!(notices("hw 101"), ["`hw 101` is read as hazelwick HW-101"]);
    assert_eq!(notices("moss stair"), ["`moss stair` is read as fernlow F 7"]);
    assert_eq!(notices("HW-101 nearly empty"), ["`nearly empty` is taken as a note"]);
    assert_eq!(notices("HW-101 # like HW-102"), ["`like HW-102` is taken as a note"]);
    assert_eq!(
        notices("Reds:\nHW-101\n# old\n\n--\n"),
        ["this and 2 more lines are notes, not threads"]
    );
    assert_eq!(
        notices("HW-101 x2\r\n\r\nHW-2B\r\nhw-101 x1"),
        ["hazelwick HW-101 stands on lines 1, 4; its counts are added"]
    );
    assert_eq!(listed("HW-101 x2\nHW-101 \u{bd}").threads[0].count.unwrap().to_string(), "2.5");
    let none = notices("HW-101 x0\nHW-2B");
    assert_eq!(none, ["none left of hazelwick HW-101, so it does not count as owned"]);
}

#[test]
fn all_lines_that_are_not_sure_are_told_at_once() {
    let told = problems(
        "HW-101\nHW-11\nHW-101 HW-102\nfernlow HW-101\nHW-101 Old Rope\nPlum Jam\n\
         HW-101 x2 x3\nHW-2B x20000\nsome words\n",
    );
    assert_eq!(told.len(), 8, "{told:#?}");
    let expected = [
        ("2: ", "no thread of the tables is named here"),
        ("3: ", "two threads on one line: hazelwick:HW-101 and hazelwick:HW-102"),
        ("4: ", "range fernlow has no such code"),
        ("5: ", "but the name is that of hazelwick:HW-2B"),
        ("6: ", "write hazelwick:HW-101 or hazelwick:HW-310"),
        ("7: ", "more than one count on the line"),
        ("8: ", "20000 skeins are too many"),
        ("9: ", "begin it with # as a note"),
    ];
    for (told, (line, words)) in told.iter().zip(expected) {
        assert!(told.starts_with(line) && told.contains(words), "{told}");
    }
    assert!(told[0].contains("is it HW-101 or"), "{}", told[0]);
}

#[test]
fn the_same_code_in_two_ranges_needs_the_range() {
    let two = vec![table("hazelwick", &[("7", "")]), table("fernlow", &[("7", "")])];
    let refused = read(b"7\n", "my-threads.txt", &two).unwrap_err();
    assert_eq!(refused.problems[0].hint().unwrap(), "write fernlow:7 or hazelwick:7");
    let list = read(b"fern 7 x3\n", "my-threads.txt", &two).unwrap();
    assert_eq!(list.threads[0].thread.table.as_str(), "fernlow");
    assert_eq!(list.threads[0].count.unwrap().to_string(), "3");
}

#[test]
fn an_empty_list_and_one_that_is_no_text_are_refused() {
    for bytes in [&b""[..], b"\n \n", b"# nothing yet\n", b"HW-101 x0\n"] {
        let refused = read(bytes, "my-threads.txt", &tables()).unwrap_err();
        let said = refused.problems[0].kind().to_string();
        assert!(said.contains("no thread that you have is listed"), "{said}");
    }
    let refused = read(b"HW-101\n\xff\xfe\x00", "my-threads.txt", &tables()).unwrap_err();
    assert!(!refused.problems.is_empty());
    let long = vec![b'a'; MAX_BYTES + 1];
    let refused = read(&long, "my-threads.txt", &tables()).unwrap_err();
    assert!(matches!(refused.problems[0].kind(), ErrorKind::BadFile { .. }));
}

#[test]
fn no_line_is_lost_however_strange_it_is() {
    let mut state = 7_u64;
    let parts = [
        "HW-101",
        "x2",
        "\u{bd}",
        "hazelwick",
        "#",
        "//",
        "(",
        ")",
        "310",
        ",",
        "\u{202e}",
        "\u{d6}",
        "-",
        "7",
    ];
    for _ in 0..3_000 {
        let mut line = String::new();
        for _ in 0..6 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            line.push_str(parts[usize::try_from(state >> 33).unwrap() % parts.len()]);
            line.push(' ');
        }
        let text = format!("{line}\nHW-2B\n");
        match read(text.as_bytes(), "my-threads.txt", &tables()) {
            Ok(list) => {
                let is_told = |notice: &Notice| {
                    notice.place.as_ref().is_some_and(|place| place.line == Some(1))
                };
                assert!(list.threads.len() == 2 || list.notices.iter().any(is_told), "{line}");
            }
            Err(refused) => assert_eq!(refused.problems.len(), 1, "{line}"),
        }
    }
}
