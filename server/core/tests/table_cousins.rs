//! Tables with injuries that no stored file shows: each gets the right value or a clear refusal.
//! It does not know how the reader works.

#![cfg(test)]

use dyekin_core::table::{self, Finish, Loaded, MAX_THREADS, ReadOptions, Refused, Status};
use dyekin_core::{
    Code, Color, Conditions, Illuminant, Observer, Origin, Srgb8, Table, TableId, Thread,
};

fn options() -> ReadOptions {
    ReadOptions {
        id: TableId::from_any("cousins"),
        source_name: "t.csv".into(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    }
}

fn read(text: &str) -> Result<Loaded, Refused> {
    table::read(text.as_bytes(), &options())
}

fn loaded(text: &str) -> Loaded {
    read(text).unwrap_or_else(|refused| panic!("{text:?}: {refused:?}"))
}

/// Problems with their remedies: `line 2, column hex: … | remedy`.
fn told_of(refused: &Refused) -> Vec<String> {
    let text = |p: &dyekin_core::Error| {
        format!("{p} | {}", p.hint().unwrap_or_default()).replacen("t.csv, ", "", 1)
    };
    refused.problems.iter().map(text).collect()
}

fn told(text: &str) -> Vec<String> {
    told_of(&read(text).expect_err("the text must be refused"))
}

#[track_caller]
fn check_one(text: &str, start: &str, remedy: &str) {
    let told = told(text);
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(told[0].starts_with(start), "{told:?}");
    assert!(told[0].contains(remedy), "{told:?}");
}

fn notices(loaded: &Loaded) -> Vec<&str> {
    loaded.notices.iter().map(|notice| notice.text.as_str()).collect()
}

#[test]
fn every_column_of_the_format_is_read() {
    let loaded = loaded(
        "CODE;Name;L*;a*;b*;Illuminant;Observer;Origin;Uncertainty;Finish;Fibre;Strands;Skein_M;\
         Price;Currency;Pack;Minimum;Status;GTIN;Alternates\n\
         K-1;Moss;42,15;-18,3;22,75;d50;2;METER;0,3;Metallic;Silk;6;8,5;3,50;eur;12;3;back-order;\
         40123455;K-2 K-3\n",
    );
    let thread = &loaded.table.threads()[0];
    assert!((thread.color.lab().a() + 18.3).abs() < 1e-12);
    let conditions = Conditions { illuminant: Illuminant::D50, observer: Observer::TwoDegree };
    assert_eq!(thread.color.conditions(), conditions);
    assert_eq!(thread.color.origin(), Origin::Meter);
    assert_eq!(thread.color.uncertainty(), Some(0.3));
    assert_eq!(thread.finish, Finish::Metallic);
    assert_eq!(thread.fiber.as_deref(), Some("silk"));
    assert_eq!((thread.strands, thread.skein_metres), (Some(6), Some(8.5)));
    let price = thread.price.unwrap();
    assert_eq!((price.micros, price.currency.unwrap().to_string()), (3_500_000, "EUR".into()));
    assert_eq!((thread.pack, thread.minimum), (Some(12), Some(3)));
    assert_eq!(thread.status, Status::BackOrder);
    assert_eq!(thread.gtin.as_ref().unwrap().as_str(), "40123455");
    let alternates: Vec<&str> = thread.alternates.iter().map(|code| code.as_str()).collect();
    assert_eq!(alternates, ["K-2", "K-3"]);
    assert_eq!(notices(&loaded), ["numbers are read with a decimal comma"]);
}

#[test]
fn every_column_refuses_what_it_cannot_mean() {
    let header =
        "code,hex,origin,uncertainty,finish,strands,skein_m,price,currency,pack,status,gtin";
    let row = "K-1,#4a6b3c,web,-1,shiny,0,0,€3,EURO,1.5,maybe,40123456";
    let told = told(&format!("{header}\n{row}\n"));
    let expected = [
        ("origin", "`web`: not a word that is known here", "screen, scan, meter"),
        ("uncertainty", "`-1`: not a number of difference units, 0 or more", "leave it empty"),
        ("finish", "`shiny`: not a word that is known here", "plain, metallic"),
        ("strands", "`0`: not a whole number from 1 to 99", "leave it empty"),
        ("skein_m", "`0`: not a length in metres above 0", "leave it empty"),
        ("currency", "`EURO`: not a word that is known here", "three letters such as EUR"),
        ("price", "`€3`: a price is a number", "the currency in the column currency"),
        ("pack", "`1.5`: not a whole number", "write digits only"),
        ("status", "`maybe`: not a word that is known here", "available, low"),
        ("gtin", "`40123456`: the check digit is wrong", "label"),
    ];
    assert_eq!(told.len(), expected.len(), "{told:#?}");
    for (column, what, remedy) in expected {
        let start = format!("line 2, column {column}: {what}");
        let found = told.iter().find(|text| text.starts_with(&start));
        assert!(found.is_some_and(|text| text.contains(remedy)), "{start}: {told:#?}");
    }
}

#[test]
fn an_unclosed_quote_is_reported_on_the_line_it_opened_on() {
    let text = "code,name,hex\nK-1,Moss,#4a6b3c\nK-2,\"Ice,#9fc3cf\nK-3,Clay,#a4583f\n";
    check_one(text, "line 3: a quote opens here and is never closed", "close it");
}

#[test]
fn text_after_a_closing_quote_is_refused() {
    let text = "code,name,hex\nK-1,\"Moss,#4a6b3c\nK-2,\"Ice\",#9fc3cf\n";
    check_one(text, "line 2: text after a closing quote", "written twice");
}

#[test]
fn a_quote_inside_an_unquoted_name_is_text() {
    let loaded = loaded("code,name,hex\nK-1,Moss 5\" hoop,#4a6b3c\n");
    assert_eq!(loaded.table.threads()[0].name, "Moss 5\" hoop");
}

#[test]
fn a_blank_before_a_quote_is_explained() {
    let text = "code,name,hex\nK-1, \"Moss, dark\",#4a6b3c\n";
    check_one(text, "line 2: 4 fields, 3 expected", "without a blank between");
}

#[test]
fn mixed_line_ends_count_as_lines() {
    let text = "code,hex\r\nK-1,#4a6b3c\rK-2,#9fc3cf\n\n\r\nK-3,#12\n";
    check_one(text, "line 6, column hex: `#12`", "six digits");
}

#[test]
fn mixed_decimal_marks_are_refused_where_they_are_fewer() {
    let text = "code;L;a;b\nK-1;42.15;1.5;2.5\nK-2;42,15;1;2\n";
    check_one(text, "line 3, column L: `42,15`: a decimal comma, where most", "decimal point");
}

#[test]
fn a_comma_that_may_mean_thousands_is_not_guessed() {
    let text = "code;hex;price\nK-1;#4a6b3c;1,250\n";
    let may = "line 2, column price: `1,250`: this may be a decimal comma or a thousands separator";
    check_one(text, may, "decimal point");
    let sure = loaded("code;hex;price\nK-1;#4a6b3c;1,250\nK-2;#4a6b3d;3,5\n");
    assert_eq!(sure.table.threads()[0].price.unwrap().micros, 1_250_000);
}

#[test]
fn a_scale_that_cannot_be_known_is_refused() {
    let text = "code,r,g,b\nK-1,1,1,1\nK-2,0,0,1\n";
    let told = told(text);
    assert_eq!(told.len(), 1);
    assert!(told[0].starts_with("t.csv: r, g and b are all 0 or 1"), "{told:?}");
    assert!(told[0].ends_with("write the colors as hex, such as #ffffff"), "{told:?}");
    let black = loaded("code,r,g,b\nK-1,0,0,0\n");
    assert_eq!(black.table.threads()[0].color.listed_srgb(), Some(Srgb8::new(0, 0, 0)));
}

#[test]
fn one_slip_does_not_turn_the_scale_of_a_file() {
    let text = "code,r,g,b\nK-1,0.5,0.25,0.1\nK-2,0.3,1.2,0.4\n";
    check_one(
        text,
        "line 3, column g: `1.2` is not a usable color: not a number from 0 to 1",
        "clip",
    );
}

#[test]
fn two_columns_of_one_meaning_are_refused() {
    check_one(
        "code,hex,HEX\nK-1,#4a6b3c,#4a6b3c\n",
        "line 1, column HEX: `HEX`: a second",
        "keep one",
    );
    check_one(
        "code,r,g,b,L,a\nK-1,1,2,3,4,5\n",
        "line 1, column b: `b`: a second",
        "L*, a* and b*",
    );
}

#[test]
fn both_rgb_and_lab_columns_are_told_apart_and_lab_is_used() {
    let loaded = loaded("code,r,g,b,L*,a*,b*\nK-1,74,107,60,42.15,-18.3,22.75\n");
    assert!((loaded.table.threads()[0].color.lab().l() - 42.15).abs() < 1e-12);
    assert!(notices(&loaded).iter().any(|text| text.contains("more than one form")));
}

#[test]
fn unknown_columns_are_said_and_not_read() {
    let loaded = loaded("code,hex,shelf\nK-1,#4a6b3c,7\n");
    assert_eq!(notices(&loaded), ["column `shelf` is not one of the format: not read"]);
}

#[test]
fn a_header_without_color_or_code_says_which_is_missing() {
    check_one("code,name\nK-1,Moss\n", "line 1: the header has no color", "code,name,hex");
    check_one(
        "name,hex\nMoss,#4a6b3c\n",
        "line 1: the header has no column `code`",
        "code,name,hex",
    );
}

#[test]
fn a_header_alone_is_no_table() {
    let told = told("code,name,hex\n");
    assert_eq!(told.len(), 1);
    assert!(told[0].starts_with("t.csv: the table has no thread"), "{told:?}");
}

#[test]
fn empty_and_foreign_bytes_are_named() {
    for (bytes, what) in [
        (&b""[..], "the file is empty"),
        (b"\xEF\xBB\xBF \n", "the file is empty"),
        (b"\xD0\xCF\x11\xE0\xA1\xB1", "a spreadsheet workbook of the older kind"),
        (b"\x89PNG\r\n\x1A\n\0\0", "a PNG picture"),
        (b"<?xml version=\"1.0\"?>", "an XML or HTML document"),
        (b"\xFF\xFE\0\0c\0\0\0", "the file is UTF-32"),
        (b"c\0o\0d\0e\0,\0h\0e\0x\0", "looks like UTF-16 without a byte order mark"),
        (b"\xFF\xFEc\0o", "ends inside a character"),
        (b"code,hex\nK-\xC3", "the file ends inside a character"),
    ] {
        let refused = table::read(bytes, &options()).unwrap_err();
        let told = told_of(&refused);
        assert_eq!(told.len(), 1, "{what}: {told:?}");
        assert!(told[0].contains(what), "{what}: {told:?}");
        assert!(refused.problems[0].hint().is_some(), "{what}");
    }
}

#[test]
fn big_endian_utf_16_is_read() {
    let mut bytes = b"\xFE\xFF".to_vec();
    bytes.extend("code,name,hex\nK-1,Étang,#4a6b3c\n".encode_utf16().flat_map(u16::to_be_bytes));
    let loaded = table::read(&bytes, &options()).unwrap();
    assert_eq!(loaded.table.threads()[0].name, "Étang");
}

#[test]
fn a_spreadsheet_that_changed_codes_is_suspected() {
    let loaded = loaded("code,hex\n1E+11,#4a6b3c\n3-Mar,#9fc3cf\n2031-03-01,#a4583f\n");
    assert_eq!(
        notices(&loaded),
        [
            "1 row with a code like 1E+11: a spreadsheet may have lost its digits",
            "2 rows with a code like a date: a spreadsheet may have changed it",
        ]
    );
    check_one(
        "code,hex\n#REF!,#4a6b3c\n",
        "line 2, column code: `#REF!`: a spreadsheet formula",
        "code",
    );
    check_one(
        "code,hex\nK-1,1E+05\n",
        "line 2, column hex: `1E+05`",
        "took the hex digits for a number",
    );
    check_one(
        "code,L,a,b\nK-1,50,3-Mar,0\n",
        "line 2, column a: `3-Mar`: this looks like a date",
        "again",
    );
}

#[test]
fn at_most_fifty_problems_are_listed_and_the_rest_counted() {
    let rows: String = (0..80).map(|row| format!("K-{row},#12\n")).collect();
    let refused = read(&format!("code,hex\n{rows}")).unwrap_err();
    assert_eq!((refused.problems.len(), refused.unlisted), (50, 30));
    let lines: Vec<u64> =
        refused.problems.iter().filter_map(|problem| problem.place()?.line).collect();
    assert_eq!(lines, (2..52).collect::<Vec<u64>>());
}

#[test]
fn a_collision_is_told_beside_other_problems() {
    let told = told("code,hex\nK-1,#4a6b3c\nk-1,#9fc3cf\nK-2,#12\n");
    assert_eq!(told.len(), 2, "{told:?}");
    assert!(told[0].contains("code `K-1` stands on lines 2, 3"));
    assert!(told[1].starts_with("line 4, column hex: `#12`"));
}

#[test]
fn codes_are_compared_case_folded_and_composed() {
    for (one, other) in
        [("Straße", "STRASSE"), ("E\u{301}1", "é1"), ("ΟΔΟΣ", "οδος"), ("A\u{2060}B", "ab")]
    {
        let told = told(&format!("code,hex\n{one},#4a6b3c\n{other},#9fc3cf\n"));
        assert!(told[0].contains("stands on lines 2, 3"), "{one} {other}: {told:?}");
    }
}

#[test]
fn options_stand_for_what_rows_do_not_say() {
    let d50 = Conditions { illuminant: Illuminant::D50, observer: Observer::TwoDegree };
    let said = ReadOptions { conditions: Some(d50), origin: Some(Origin::Meter), ..options() };
    let text = "code,L,a,b,origin\nK-1,50,0,0,\nK-2,60,0,0,scan\n";
    let loaded = table::read(text.as_bytes(), &said).unwrap();
    let colors: Vec<Color> = loaded.table.threads().iter().map(|thread| thread.color).collect();
    assert_eq!(colors[0].conditions(), d50);
    assert_eq!((colors[0].origin(), colors[1].origin()), (Origin::Meter, Origin::Scan));
    assert!(loaded.notices.is_empty());
}

#[test]
fn measured_colors_under_two_lights_do_not_share_a_table() {
    let text = "code,L,a,b,illuminant,observer,origin\n\
                K-1,50,0,0,D65,10,meter\nK-2,60,0,0,D50,2,meter\n";
    check_one(text, "line 3: `D50/2°`: a second light or observer", "one table for each light");
}

#[test]
fn json_syntax_is_refused_with_line_and_column() {
    let told = told("{\"threads\":[\n  {\"code\":\"K-1\",,}\n]}");
    assert_eq!(told.len(), 1);
    assert!(told[0].starts_with("line 2: not valid JSON: "), "{told:?}");
    assert!(told[0].contains("line 2 column 17"), "{told:?}");
}

#[test]
fn json_takes_our_format_and_refuses_others() {
    let thread = "\"threads\":[{\"code\":\"K-1\",\"hex\":\"#4a6b3c\"}]";
    assert_eq!(
        notices(&loaded(&format!("{{{thread}}}"))),
        ["no \"format\": read as dyekin-table version 1"]
    );
    assert!(
        loaded(&format!("{{\"format\":\"dyekin-table\",\"version\":1,{thread}}}"))
            .notices
            .is_empty()
    );
    let newer = format!("{{\"format\":\"dyekin-table\",\"version\":2,{thread}}}");
    check_one(&newer, "line 1, version: a version of the format that is not known", "version 1");
    check_one("[1]", "line 1: a list, where an object is expected", "dyekin-table");
    check_one("{\"rows\":[]}", "line 1: no key `threads`", "dyekin-table");
}

#[test]
fn json_values_keep_line_and_path() {
    let text = "{\"format\":\"dyekin-table\",\"version\":1,\"threads\":[\n\
                {\"code\":1,\"hex\":\"#4a6b3c\"},\n\
                {\"code\":\"K-2\",\"hex\":\"#12\"},\n\
                {\"code\":\"K-3\",\"hex\":\"#4a6b3c\",\"strands\":\"6\"},\n\
                {\"code\":\"K-4\"},\n\
                7]}";
    let told = told(text);
    let expected = [
        "line 2, threads[0].code: `1`: a number is not expected here | this is text",
        "line 3, threads[1].hex: `#12` is not a usable color",
        "line 4, threads[2].strands: `6`: a text is not expected here | write the number without",
        "line 5, threads[3].hex: the row has no color",
        "line 6, threads[4]: a thread is a number, an object is expected",
    ];
    assert_eq!(told.len(), expected.len(), "{told:#?}");
    for (told, expected) in told.iter().zip(expected) {
        assert!(told.starts_with(expected), "{told}");
    }
}

#[test]
fn json_half_characters_and_deep_nesting_are_refused() {
    let half = "{\"threads\":[{\"code\":\"K-1\",\"name\":\"\\ud800\",\"hex\":\"#4a6b3c\"}]}";
    check_one(half, "line 1: a text with half a character", "write the character itself");
    let deep = format!("{{\"note\":{}{}}}", "[".repeat(100_000), "]".repeat(100_000));
    check_one(&deep, "line 1: nested deeper than 32 levels", "flat list");
}

#[test]
fn a_made_table_is_checked_like_a_read_one() {
    let thread = |code: &str| {
        let code = Code::parse(code).unwrap();
        Thread::plain(code, "", Color::screen(Srgb8::new(1, 2, 3)))
    };
    let id = || TableId::from_any("made");
    let mut bad = thread("K-2");
    bad.skein_metres = Some(f64::NAN);
    let problems = Table::new(id(), vec![thread("K-1"), bad, thread("k-1")]).unwrap_err();
    let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
    assert_eq!(
        told,
        [
            "threads[1]: `NaN`: a skein's length is a finite number of metres above 0",
            "threads[0].code: code `K-1` stands on lines 1, 3",
        ]
    );
    assert!(Table::new(id(), Vec::new()).is_err());
}

/// Rows as the generator of large files writes them.
fn many_rows(count: usize) -> String {
    let mut text = String::from("code,L,a,b\n");
    for row in 0..count {
        let lab = [row * 7_919 % 10_001, row * 104_729 % 20_001, row * 1_299_709 % 20_001];
        let (l, a, b) = (lab[0] / 100, lab[1] / 100, lab[2] / 100);
        text.push_str(&format!("Z{row:07},{l},{},{}\n", a as i64 - 100, b as i64 - 100));
    }
    text
}

#[test]
fn a_million_rows_load_and_one_too_many_is_refused_by_count() {
    let loaded = loaded(&many_rows(1_000_000));
    assert_eq!(loaded.table.threads().len(), 1_000_000);
    let code = Code::parse("z0765432").unwrap();
    assert_eq!(loaded.table.row_of(&code), Some(765_432));
    drop(loaded);
    let refused = read(&many_rows(MAX_THREADS + 1)).unwrap_err();
    let told = told_of(&refused);
    assert_eq!(told.len(), 1);
    assert!(told[0].starts_with("line 1048578: threads in one table"), "{told:?}");
    assert!(told[0].contains("the limit is 1048576"), "{told:?}");
}

#[test]
fn a_file_as_long_as_a_sheet_is_possibly_cut_off() {
    let cut = "the file has exactly 65536 lines, where spreadsheets stop: possibly cut off";
    let full = many_rows(65_535);
    assert!(notices(&loaded(&full)).contains(&cut));
    assert!(notices(&loaded(full.trim_end())).contains(&cut));
    assert!(!notices(&loaded(&many_rows(65_534))).contains(&cut));
}

#[test]
fn a_file_over_the_size_limit_is_refused_before_it_is_looked_at() {
    let refused = table::read(&vec![b','; table::MAX_FILE_BYTES + 1], &options()).unwrap_err();
    let told = told_of(&refused);
    assert!(told[0].starts_with("t.csv: bytes in one table file: 67108865"), "{told:?}");
}

#[test]
fn joined_files_are_told_by_their_second_header() {
    let joined = "code,name,hex\nA1,Moss,#4a6b3c\nCODE ,name,hex\ncode,name,hex\nA2,Ice,#9fc3cf\n";
    let told = told(joined);
    assert_eq!(told.len(), 2, "{told:?}");
    assert!(told[1].starts_with("line 4: the header line stands here again"), "{told:?}");
    check_one(
        "\"code\",\"L\",\"a\",\"b\"\nA1,50,0,0\n\"code\",\"L\",\"a\",\"b\"\n",
        "line 3: the header line stands here again",
        "two files joined",
    );
    // A second byte order mark is no part of a code.
    let loaded = loaded("code,hex\nA1,#4a6b3c\n\u{feff}A2,#9fc3cf\n");
    assert_eq!(loaded.table.threads()[1].code, Code::parse("A2").unwrap());
}

#[test]
fn lab_stored_as_parts_of_one_is_suspected() {
    let suspicion = |text: &str| {
        notices(&loaded(text)).iter().any(|notice| notice.contains("are these numbers parts of 1?"))
    };
    let head = "code,L,a,b,illuminant,observer,origin\n";
    assert!(suspicion(&format!("{head}A1,0.4215,-0.183,0.2275,D65,10,meter\n")));
    assert!(!suspicion(&format!("{head}A1,4.2,0.3,-0.2,D65,10,meter\n")));
    assert!(!suspicion("code,hex\nA1,#000000\n"));
}

#[test]
fn units_other_delimiters_and_cut_json_say_what_to_do() {
    check_one(
        "code,hex,skein_m\nA1,#4a6b3c,26 ft\n",
        "line 2, column skein_m: `26 ft`: not a number",
        "in the unit of the column",
    );
    check_one("code|hex\nA1|#4a6b3c\n", "line 1: no header line", "commas, semicolons or tabs");
    check_one(
        "{\"format\":\"dyekin-table\",\"version\":1,\"threads\":[{\"code\":\"K-1",
        "line 1: the JSON ends early",
        "cut off",
    );
}

/// Encodings and line ends that are seldom met, each with its own words.
#[test]
fn seldom_encodings_are_named() {
    let told = |bytes: &[u8]| {
        let refused = table::read(bytes, &options()).unwrap_err();
        told_of(&refused).concat()
    };
    let wide = |text: &str| text.encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<u8>>();
    let table = "code,hex\nA1,#4a6b3c\n";
    assert!(told(&wide(table)).contains("UTF-16 without a byte order mark"));
    let mut odd = wide(&format!("\u{feff}{table}"));
    odd.push(0x41);
    assert!(told(&odd).contains("ends inside a character"));
    let mut broken = wide("\u{feff}code,hex\nA1");
    broken.extend([0x00, 0xd8, 0x2c, 0x00]);
    assert!(told(&broken).contains("is broken"));
    let four: Vec<u8> =
        format!("\u{feff}{table}").chars().flat_map(|c| u32::from(c).to_le_bytes()).collect();
    assert!(told(&four).contains("UTF-32"));
    for bytes in [&b"code,hex\nA1\xc0\xaf,#4a6b3c\n"[..], b"code,hex\nA\xed\xa0\xbd,#4a6b3c\n"] {
        assert!(told(bytes).contains("not UTF-8"), "{bytes:?}");
    }
}

#[test]
fn what_spreadsheets_put_around_a_table_does_not_change_it() {
    let plain = loaded("code,name,hex\nA1,Moss,#4a6b3c\n").table.hash();
    for text in [
        "sep=;\ncode;name;hex\nA1;Moss;#4a6b3c\n",
        "\"code\",\"name\",\"hex\"\r\n\"A1\",\"Moss\",\"#4a6b3c\"\r\n",
        "code,name,hex,,,\nA1,Moss,#4a6b3c,,,\n",
        "\n\ncode,name,hex\n\n,,\n   \nA1,Moss,#4a6b3c\n\n",
        "\u{feff}\u{feff}code\tname\thex\rA1\tMoss\t#4a6b3c\r",
        "code,name,hex\n\u{a0}A1\u{a0},Moss,4A6B3C\n",
    ] {
        assert_eq!(loaded(text).table.hash(), plain, "{text:?}");
    }
}

#[test]
fn json_that_hides_or_repeats_is_refused() {
    let threads = |threads: &str| {
        format!("{{\"format\":\"dyekin-table\",\"version\":1,\"threads\":[{threads}]}}")
    };
    let escaped = threads("{\"code\":\"K-1\",\"h\\u0065x\":\"#4a6b3c\",\"hex\":\"#4a6b3d\"}");
    check_one(&escaped, "line 1, threads[0].hex: the key `hex` stands twice", "keep one");
    let nul = threads("{\"code\":\"K-1\",\"name\":\"a\\u0000b\",\"hex\":\"#4a6b3c\"}");
    check_one(&nul, "line 1, threads[0].name: `a\\u{0}b`: NUL", "take the NUL out");
    let huge = threads("{\"code\":\"K-1\",\"hex\":\"#4a6b3c\",\"pack\":99999999999999999999}");
    check_one(
        &huge,
        "line 1, threads[0].pack: `99999999999999999999`: not a whole number",
        "digits",
    );
    let one = threads("{\"code\":\"K-1\",\"hex\":\"#4a6b3c\"}");
    for (text, start) in [
        (format!("{one}{{}}"), "line 1: not valid JSON"),
        (one.replace("},]", "}]").replace("\"}]", "\"},]"), "line 1: not valid JSON"),
        ("{\"code\":\"K-1\"}\n{\"code\":\"K-2\"}\n".to_owned(), "line 2: not valid JSON"),
        (one.replace(":1,", ":2,"), "line 1, version: a version"),
    ] {
        check_one(&text, start, "");
    }
}
