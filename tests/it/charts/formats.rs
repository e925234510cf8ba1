//! Charts through PNG, JSON and CSV, and files that are refused.
//! It does not test summaries or changes.

use dyekin_client::chart::{
    Chart, ChartFormat, ChartHash, Content, Label, PictureOptions, ReadOptions, SymbolSet, key_csv,
    key_json, read, write,
};
use dyekin_client::summary::Summary;

use super::made::{colors, drawn, full_chart, read_bytes, read_text, table, told, worked};

#[test]
fn chart_json_holds_everything() {
    let chart = full_chart();
    let written = write(&chart, ChartFormat::Json).unwrap();
    assert_eq!(written.notices, []);
    let again = read_bytes(&written.bytes).unwrap_or_else(|refused| panic!("{refused:?}"));
    assert_eq!(again, chart);
    assert_eq!(ChartHash::of(&again), ChartHash::of(&chart));
    // Harmless to show: no control or bidi character but the line breaks of the layout.
    let text = String::from_utf8(written.bytes).unwrap();
    assert!(!text.chars().any(|c| c != '\n' && dyekin_core::error::is_hostile(c)));
    assert!(text.contains("[[2, 0], 1, null]") || text.contains("[[2, 0], 1"), "{text}");
}

#[test]
fn one_chart_has_one_hash_whatever_its_format() {
    let chart = Chart::new(drawn(&["ab.", "bba"], colors(&["#102030", "#fff"]))).unwrap();
    let hash = ChartHash::of(&chart);
    for format in [ChartFormat::Json, ChartFormat::Png] {
        let again = read_bytes(&write(&chart, format).unwrap().bytes).unwrap();
        assert_eq!(ChartHash::of(&again), hash, "{format:?}");
    }
    // The order of the key, unused entries, symbols and texts do not count.
    let mut draft = drawn(&["ca.", "aac"], colors(&["#fff", "#777", "#102030"]));
    draft.about.title = Label::parse("other").ok();
    let other = Chart::new(draft).unwrap().with_symbols(SymbolSet::Ascii);
    assert_eq!(ChartHash::of(&other), hash);
    let moved = Chart::new(drawn(&["a.b", "bba"], colors(&["#102030", "#fff"]))).unwrap();
    assert_ne!(ChartHash::of(&moved), hash);
    assert_eq!(ChartHash::parse(&hash.to_string()), Some(hash));
}

#[test]
fn a_picture_says_what_it_loses() {
    let written = write(&full_chart(), ChartFormat::Png).unwrap();
    let texts: Vec<&str> = written.notices.iter().map(|notice| notice.text.as_str()).collect();
    for lost in ["2 lines", "1 knot", "1 area", "3 entries' threads", "cells of part stitches"] {
        assert!(texts.iter().any(|text| text.contains(lost)), "{lost} in {texts:?}");
    }
}

#[test]
fn a_small_picture_of_blocks_that_we_wrote_is_read_again() {
    let rows = ["aabbaabb", "aabbaabb", "bbaabbaa", "bbaabbaa", "aabbaabb", "aabbaabb"];
    let chart = Chart::new(drawn(&rows, colors(&["#102030", "#fff"]))).unwrap();
    let bytes = write(&chart, ChartFormat::Png).unwrap().bytes;
    assert_eq!(read_bytes(&bytes).unwrap(), chart);
}

#[test]
fn a_grid_of_codes_comes_back() {
    let key = vec![worked("QV01"), worked("-5"), worked("QV03")];
    let chart = Chart::new(drawn(&["ab.", ".ca"], key)).unwrap();
    let written = write(&chart, ChartFormat::Csv).unwrap();
    assert_eq!(String::from_utf8(written.bytes.clone()).unwrap(), "QV01,'-5,\n,QV03,QV01\n");
    assert_eq!(written.notices.len(), 1);
    assert!(written.notices[0].text.ends_with("--from meadow"));
    assert_eq!(read_bytes(&written.bytes).unwrap(), chart);
}

#[test]
fn a_blend_stands_in_a_grid_of_codes() {
    let chart = read_text("QV01;QV01 + QV02\n;qv02\n").unwrap();
    assert_eq!(chart.key().len(), 3);
    assert_eq!(chart.key()[1].work.threads().count(), 2);
    let bytes = write(&chart, ChartFormat::Csv).unwrap().bytes;
    assert_eq!(String::from_utf8(bytes).unwrap(), "QV01,QV01 + QV02\n,QV02\n");
}

#[test]
fn all_wrong_codes_are_told_with_line_column_and_spellings() {
    let refused = read_text("QV01,QV2\nQV01\nQV2,nix\n\"open,QV01\n").unwrap_err();
    assert_eq!(
        told(&refused),
        [
            "chart, line 1, column 2: table meadow has no thread `QV2`",
            "chart, line 2: `QV01`: 1 field, 2 expected",
            "chart, line 3, column 2: table meadow has no thread `nix`",
            "chart, line 4, column 1: `\"`: a quote that never closes",
        ]
    );
    assert_eq!(refused.problems[0].hint().unwrap(), "close in spelling: QV02, QV01, QV03");
}

#[test]
fn bare_codes_need_their_table() {
    let options =
        ReadOptions { source_name: "c.csv", table: None, picture: PictureOptions::AS_FOUND };
    let refused = read(b"QV01,QV02\n", &options).unwrap_err();
    assert!(refused.problems[0].hint().unwrap().contains("--from with the table's file"));
}

#[test]
fn a_key_alone_has_no_neighbors() {
    let table = table();
    let options = ReadOptions {
        source_name: "k.csv",
        table: Some(&table),
        picture: PictureOptions::AS_FOUND,
    };
    let text = b"name,code,count,shelf\nMoss,QV01,120,4\n,'-5,7,\n,QV01,30,\n";
    let loaded = read(text, &options).unwrap();
    let Content::Key(key) = loaded.content else { panic!() };
    let summary = Summary::of_key(&key).unwrap();
    assert_eq!(summary.palette().neighbors(), None);
    let counts: Vec<u64> = summary.palette().colors().iter().map(|c| c.stitches).collect();
    assert_eq!(counts, [150, 7]);
    let notices: Vec<&str> = loaded.notices.iter().map(|n| n.text.as_str()).collect();
    assert_eq!(
        notices,
        ["columns not read: shelf", "code QV01 stands on lines 2 and 4: the counts are added"]
    );
    let bad = read(b"code,count\nQV01,1.5\nTotal,-3\nQV02,1,2\n", &options).unwrap_err();
    assert_eq!(
        told(&bad),
        [
            "k.csv, line 2, column count: `1.5`: stitches are a whole number from 0 to 1000000000000",
            "k.csv, line 3, column count: `-3`: stitches are a whole number from 0 to 1000000000000",
            "k.csv, line 3, column code: table meadow has no thread `Total`",
            "k.csv, line 4: `QV02,1,2`: 3 fields, 2 expected",
        ]
    );
}

#[test]
fn the_key_as_a_list_is_safe_in_spreadsheets() {
    let chart = Chart::new(drawn(&["ab.", "bba"], vec![worked("QV01"), worked("-5")])).unwrap();
    let chart = chart.with_symbols(SymbolSet::Ascii);
    let csv = String::from_utf8(key_csv(&chart)).unwrap();
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(lines[1], "X,meadow,QV01,Moss path,#4a6b3c,2,,2,0,0,0,0,0");
    assert_eq!(lines[2], "A,meadow,'-5,\"'=HYPERLINK(\"\"x\"\")\",#202020,3,,3,0,0,0,0,0");
    let json: String = String::from_utf8(key_json(&chart)).unwrap();
    assert!(json.contains("\"name\": \"=HYPERLINK(\\\"x\\\")\""), "{json}");
    // The list can be read again as a key alone.
    let table = table();
    let options = ReadOptions {
        source_name: "k.csv",
        table: Some(&table),
        picture: PictureOptions::AS_FOUND,
    };
    let Content::Key(key) = read(csv.as_bytes(), &options).unwrap().content else { panic!() };
    assert_eq!(key.rows().iter().map(|row| row.stitches).sum::<u64>(), 5);
}

#[test]
fn json_problems_are_all_told_with_line_and_column() {
    let text = "{\"format\": \"dyekin-chart\", \"version\": 1,\n\"width\": 3, \"height\": 2,\n\
                \"key\": [{\"color\": \"#12345\"}, {\"color\": \"#fff\", \"colour\": 1}],\n\
                \"rows\": [[[2, 0], 5], [[4, 1]]],\n\"lines\": [{\"from\": [0, 0], \"to\": [0.3, 1], \
                \"entry\": 0}]}";
    let refused = read_text(text).unwrap_err();
    assert_eq!(
        told(&refused),
        [
            "chart, line 3, column 19, key[0].color: `#12345` is not a usable color: 5 digits, 6 \
             expected",
            "chart, line 3, column 48, key[1]: `colour`: this version does not know the key, and \
             nothing is dropped unseen",
            "chart, line 4, column 19, rows[0]: `5`: the key has 2 entries, numbered from 0",
            "chart, line 4, column 23, rows[1]: `[…]`: 4 cells in this row, the width says 3",
            "chart, line 5, column 34, lines[0]: `[…]`: not a corner or half on the chart of 3 x 2 \
             cells",
        ]
    );
}

#[test]
fn json_is_refused_where_it_breaks() {
    for (text, wanted) in [
        (
            "{\"a\": 1, \"a\": 2}",
            "chart, line 1, column 10: `a`: the key comes twice, first on line 1",
        ),
        ("{\"a\":\n 1e999}", "chart, line 2, column 2: a number that is not finite"),
        ("{\"a\": NaN}", "chart, line 1, column 7: a number that is not finite"),
        ("{\"a\": 01}", "chart, line 1, column 7: `01` is not a JSON number"),
        ("{\"a\": \"é\u{1}\"}", "chart, line 1, column 9: a control character in a text"),
        ("{\"a\": \"x", "chart, line 1, column 7: a text that never ends"),
        ("{} x", "chart, line 1, column 4: something follows the end of the JSON value"),
        (
            "{\"format\": \"other\"}",
            "chart, line 1, column 12, format: `other`: not the format of a chart",
        ),
        (
            "{\"format\": \"dyekin-chart\", \"version\": 2}",
            "chart, line 1, column 39, version: `2`: this program reads version 1",
        ),
    ] {
        assert_eq!(told(&read_text(text).unwrap_err()), [wanted], "{text}");
    }
    let deep = "[".repeat(100_000);
    assert!(told(&read_text(&deep).unwrap_err())[0].contains("nested deeper than 32 levels"));
    let huge = "{\"format\": \"dyekin-chart\", \"version\": 1, \"width\": 100000, \"height\": 9, \
                \"key\": [], \"rows\": []}";
    assert!(told(&read_text(huge).unwrap_err())[0].contains("100000 x 9 cells, the limit is 2000"));
}

#[test]
fn foreign_files_are_refused_by_name_with_a_remedy() {
    for (bytes, what) in [
        (&b"GIF89a\x01\x00"[..], "a GIF picture"),
        (b"PK\x03\x04rest", "a spreadsheet workbook or other zip file"),
        (b"<svg></svg>", "an XML, SVG or HTML file"),
        (b"RIFF\x10\x00\x00\x00WEBPVP8 ", "a WebP picture"),
        (b"BM\x46\x00\x00\x00\x00\x00", "a BMP picture"),
        (b"%PDF-1.7", "a PDF document"),
    ] {
        let refused = read_bytes(bytes).unwrap_err();
        assert_eq!(told(&refused), [format!("chart: {what}, which is not read")]);
        assert!(refused.problems[0].hint().is_some());
    }
    assert_eq!(told(&read_bytes(b" \n").unwrap_err()), ["chart: an empty file"]);
    assert_eq!(
        told(&read_bytes(b"code,name,hex\nQV01,x,#fff\n").unwrap_err()),
        ["chart: a thread table, not a chart"]
    );
}
