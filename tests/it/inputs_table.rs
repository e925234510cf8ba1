//! Thread tables as people really send them: each file of `data/inputs` loads right or is refused
//! with its line, column, value and remedy. It does not know how the reader works.

use dyekin_core::table::{self, CsvForm, Loaded, ReadOptions, Refused};
use dyekin_core::{Code, Conditions, ErrorKind, Origin, Srgb8, TableId};

pub(super) fn options(name: &str) -> ReadOptions {
    ReadOptions {
        id: TableId::from_any("hurt"),
        source_name: name.to_owned(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    }
}

pub(super) fn bytes(name: &str) -> Vec<u8> {
    let path = dyekin_tests::data().join("inputs").join(name);
    std::fs::read(&path).unwrap_or_else(|problem| panic!("{}: {problem}", path.display()))
}

fn read(name: &str) -> Result<Loaded, Refused> {
    table::read(&bytes(name), &options(name))
}

fn loaded(name: &str) -> Loaded {
    read(name).unwrap_or_else(|refused| panic!("{name}: {refused:?}"))
}

/// The problems as a person reads them, without the file's name, each with its remedy.
fn told(name: &str) -> Vec<(String, String)> {
    let refused = read(name).expect_err("the file must be refused");
    assert_eq!(refused.unlisted, 0);
    let prefix = [format!("{name}, "), format!("{name}: ")];
    let strip = |text: &str| {
        let bare = prefix.iter().find_map(|prefix| text.strip_prefix(prefix));
        bare.expect("the file's name").to_owned()
    };
    let problems = refused.problems.iter();
    problems.map(|p| (strip(&p.to_string()), p.hint().unwrap_or_default())).collect()
}

pub(super) fn check_told(name: &str, expected: &[(&str, &str)]) {
    let told = told(name);
    for ((text, hint), (wanted, remedy)) in told.iter().zip(expected) {
        assert_eq!(text, wanted, "{name}");
        assert!(hint.contains(remedy), "{name}: `{hint}` does not say `{remedy}`");
    }
    assert_eq!(told.len(), expected.len(), "{name}: {told:?}");
}

pub(super) fn notices(loaded: &Loaded) -> Vec<String> {
    let place = |line: Option<u64>| line.map(|line| format!("{line}: ")).unwrap_or_default();
    let line = |notice: &table::Notice| notice.place.as_ref().and_then(|place| place.line);
    loaded.notices.iter().map(|n| format!("{}{}", place(line(n)), n.text)).collect()
}

pub(super) fn codes(loaded: &Loaded) -> Vec<&str> {
    loaded.table.threads().iter().map(|thread| thread.code.as_str()).collect()
}

pub(super) fn names(loaded: &Loaded) -> Vec<&str> {
    loaded.table.threads().iter().map(|thread| thread.name.as_str()).collect()
}

pub(super) fn colors(loaded: &Loaded) -> Vec<String> {
    let listed =
        |thread: &dyekin_core::Thread| thread.color.listed_srgb().map(|rgb| rgb.to_string());
    loaded.table.threads().iter().map(|thread| listed(thread).unwrap_or_default()).collect()
}

pub(super) fn labs(loaded: &Loaded) -> Vec<[f64; 3]> {
    let lab = |thread: &dyekin_core::Thread| thread.color.lab();
    loaded.table.threads().iter().map(|t| [lab(t).l(), lab(t).a(), lab(t).b()]).collect()
}

const NO_WHITE: &str = "2: no illuminant or observer stated for 2 rows: taken as D65/10°; \
                        say otherwise with `--white D50/2`";
const NO_ORIGIN: &str = "2: no origin stated for 2 rows: taken as unknown; \
                         say `--origin meter` when a color meter gave them";
const NO_HEADER: &str = "write a header line above the rows, such as code,name,hex";

#[test]
fn a_byte_order_mark_is_not_part_of_the_first_column_name() {
    let loaded = loaded("bom-utf8.csv");
    assert_eq!(codes(&loaded), ["QV01"]);
    assert_eq!(colors(&loaded), ["#4a6b3c"]);
    assert!(loaded.notices.is_empty());
}

#[test]
fn utf_16_with_tabs_is_read() {
    let loaded = loaded("utf16le-bom-tab.txt");
    assert_eq!(names(&loaded), ["Moss path", "Étang gelé"]);
    assert_eq!(colors(&loaded), ["#4a6b3c", "#9fc3cf"]);
    assert_eq!(notices(&loaded), ["the file is UTF-16 and was read as such"]);
}

#[test]
fn windows_1252_is_named_with_its_first_byte() {
    let expected =
        ("line 2: byte 22 (0xE9): not UTF-8, looks like windows-1252", "re-save as UTF-8");
    check_told("cp1252.csv", &[expected]);
}

#[test]
fn a_decimal_comma_is_read_and_said() {
    let loaded = loaded("semicolon-decimal-comma.csv");
    assert_eq!(labs(&loaded), [[42.15, -18.3, 22.75], [76.0, -8.5, -9.0]]);
    let comma = "2: numbers are read with a decimal comma";
    assert_eq!(notices(&loaded), [comma, NO_WHITE, NO_ORIGIN]);
}

#[test]
fn a_typographic_minus_is_never_lost() {
    let loaded = loaded("unicode-minus.csv");
    assert_eq!(labs(&loaded), [[42.15, -18.3, 22.75], [76.0, -8.5, -9.0]]);
    let minus = "2: 2 rows with a dash or U+2212 before digits: read as minus";
    assert_eq!(notices(&loaded), [NO_WHITE, NO_ORIGIN, minus]);
}

#[test]
fn a_line_break_inside_quotes_stays_in_the_name_and_counts_as_a_line() {
    let loaded = loaded("quoted-newline.csv");
    assert_eq!(names(&loaded), ["Moss\npath, \"dark\"", "Ice pond"]);
    let mut broken = bytes("quoted-newline.csv");
    broken.extend(b"QV03,Clay,#12\n");
    let refused = table::read(&broken, &options("broken.csv")).unwrap_err();
    assert_eq!(refused.problems[0].place().unwrap().line, Some(5));
}

#[test]
fn carriage_returns_alone_end_lines() {
    assert_eq!(names(&loaded("cr-only.csv")), ["Moss path", "Ice pond"]);
}

#[test]
fn leading_zeros_make_different_codes_and_a_warning() {
    let loaded = loaded("leading-zeros.csv");
    assert_eq!(codes(&loaded), ["0090417", "090417", "90417.0"]);
    let warning =
        "2: 0090417 / 090417 / 90417.0 differ only in zeros: was this saved by a spreadsheet?";
    assert_eq!(notices(&loaded), [warning]);
}

#[test]
fn codes_with_exponents_stay_text() {
    let loaded = loaded("exponent-codes.csv");
    assert_eq!(codes(&loaded), ["1E5", "100000", "5587E590003"]);
    let power = loaded.table.thread(&Code::parse("1E5").unwrap()).unwrap();
    assert_eq!(power.name, "Moss path");
    let million = loaded.table.thread(&Code::parse("100000").unwrap()).unwrap();
    assert_eq!(million.name, "Ice pond");
}

#[test]
fn words_for_nothing_are_codes() {
    assert_eq!(codes(&loaded("na-null-codes.csv")), ["NA", "null", "None", "true"]);
}

#[test]
fn codes_that_differ_only_in_case_or_blanks_collide_on_all_their_lines() {
    let text = "line 2, column code: code `QV10` stands on lines 2, 3, 4, 5";
    check_told("dup-case-blank.csv", &[(text, "give each thread one row")]);
    let refused = read("dup-case-blank.csv").unwrap_err();
    let kind = ErrorKind::DuplicateCode { code: "QV10".into(), lines: vec![2, 3, 4, 5] };
    assert_eq!(refused.problems[0].kind(), &kind);
}

#[test]
fn rows_that_repeat_a_thread_exactly_are_kept_once() {
    let text = "code,name,hex\nQV11,Moss path,#4A6B3C\nqv11,Moss path,#4A6B3C\n";
    let loaded = table::read(text.as_bytes(), &options("twice.csv")).unwrap();
    assert_eq!(codes(&loaded), ["QV11"]);
    assert_eq!(notices(&loaded), ["3: 1 row equal to an earlier one in every column: kept once"]);
}

#[test]
fn short_hex_is_read_with_its_mark_only_and_opaque_only() {
    check_told(
        "short-hex.csv",
        &[
            (
                "line 4, column hex: `#F118` is not a usable color: alpha 136 of 255 is not opaque",
                "leave the alpha out",
            ),
            (
                "line 5, column hex: `#12345` is not a usable color: 5 digits, 6 expected",
                "six digits",
            ),
        ],
    );
    let good = first_lines("short-hex.csv", 3);
    let loaded = table::read(&good, &options("short.csv")).unwrap();
    assert_eq!(colors(&loaded), ["#ffffff", "#11aa22"]);
}

/// The first lines of a file.
fn first_lines(name: &str, count: usize) -> Vec<u8> {
    let text = String::from_utf8(bytes(name)).unwrap();
    text.lines().take(count).flat_map(|line| format!("{line}\n").into_bytes()).collect()
}

/// A file without some of its lines, counted from 1.
fn without_lines(name: &str, out: &[usize]) -> Vec<u8> {
    let text = String::from_utf8(bytes(name)).unwrap();
    let kept = text.lines().enumerate().filter(|(index, _)| !out.contains(&(index + 1)));
    kept.flat_map(|(_, line)| format!("{line}\n").into_bytes()).collect()
}

#[test]
fn six_hex_digits_need_no_mark_and_fewer_hint_at_lost_zeros() {
    let lost = "were leading zeros lost?";
    check_told(
        "hex-without-hash.csv",
        &[
            ("line 5, column hex: `40FF` is not a usable color: 4 digits, 6 expected", lost),
            (
                "line 8, column hex: `4A6B3G` is not a usable color: not only the digits 0-9 and A-F",
                "write six digits such as #4a6b3c",
            ),
            ("line 9, column hex: `120` is not a usable color: 3 digits, 6 expected", lost),
        ],
    );
    let good = without_lines("hex-without-hash.csv", &[5, 8, 9]);
    let loaded = table::read(&good, &options("good.csv")).unwrap();
    assert_eq!(colors(&loaded), ["#000000", "#123456", "#1e1e10", "#4a6b3c", "#4a6b3c"]);
}

#[test]
fn alpha_is_last_unless_the_option_says_first() {
    let color = |digits: &str, alpha: u8| {
        format!("column hex: `#{digits}` is not a usable color: alpha {alpha} of 255 is not opaque")
    };
    check_told(
        "hex8-alpha.csv",
        &[
            (&format!("line 3, {}", color("FF4A6B3C", 60)), "--alpha-first"),
            (&format!("line 4, {}", color("4A6B3C80", 128)), "leave the alpha out"),
            (&format!("line 5, {}", color("804A6B3C", 60)), "leave the alpha out"),
        ],
    );
    let first = ReadOptions { alpha_first: true, ..options("argb.csv") };
    let loaded = table::read(b"code,hex\nQV02,#FF4A6B3C\n", &first).unwrap();
    assert_eq!(loaded.table.threads()[0].color.listed_srgb(), Some(Srgb8::new(74, 107, 60)));
    let refused = table::read(b"code,hex\nQV01,#4A6B3CFF\n", &first).unwrap_err();
    assert!(refused.problems[0].hint().unwrap().contains("--alpha-first was given"));
}

#[test]
fn css_rgb_is_read_and_other_forms_are_refused() {
    let unread = "this form of color is not read";
    let at = |line: u32, value: &str, reason: &str| {
        format!("line {line}, column colour: `{value}` is not a usable color: {reason}")
    };
    check_told(
        "css-rgb-strings.csv",
        &[
            (&at(4, "rgb(74 107 60 / 50%)", "alpha 50% is not opaque"), "leave the alpha out"),
            (
                &at(7, "rgb(300,107,60)", "300 is not a whole number from 0 to 255"),
                "nothing is clipped",
            ),
            (&at(8, "hsl(102, 28%, 33%)", unread), "write #4a6b3c or rgb(74, 107, 60)"),
            (&at(9, "rebeccapurple", unread), "write #4a6b3c or rgb(74, 107, 60)"),
        ],
    );
    let good = without_lines("css-rgb-strings.csv", &[4, 7, 8, 9]);
    let loaded = table::read(&good, &options("good.csv")).unwrap();
    assert_eq!(codes(&loaded), ["QV01", "QV02", "QV04", "QV05"]);
    assert_eq!(colors(&loaded), ["#4a6b3c", "#4a6b3c", "#4a6b3d", "#4a6b3c"]);
}

#[test]
fn the_scale_of_r_g_b_is_decided_once_for_a_file() {
    let loaded = loaded("range-0-1.csv");
    assert_eq!(colors(&loaded), ["#4a6b3c", "#ffffff", "#0000ff", "#d9b359"]);
    let scale = "r, g and b are read on the scale 0 to 1 and rounded to 8 bits";
    assert_eq!(notices(&loaded), [scale]);
}

#[test]
fn r_g_b_out_of_range_are_refused_and_not_clipped() {
    let whole = "is not a usable color: not a whole number from 0 to 255";
    check_told(
        "range-out.csv",
        &[
            (&format!("line 3, column r: `256` {whole}"), "nothing is clipped"),
            (&format!("line 4, column r: `-1` {whole}"), "nothing is clipped"),
            (&format!("line 5, column r: `127.5` {whole}"), "nothing is clipped"),
            ("line 6, column g: the value is missing", "write the number"),
        ],
    );
}

#[test]
fn lab_columns_are_found_by_name_and_the_white_taken_is_said() {
    let loaded = loaded("lab-other-order.csv");
    assert_eq!(labs(&loaded), [[42.15, -18.3, 22.75], [76.0, -8.5, -9.0]]);
    assert_eq!(notices(&loaded), [NO_WHITE, NO_ORIGIN]);
    let color = loaded.table.threads()[0].color;
    assert_eq!((color.conditions(), color.origin()), (Conditions::TEXTILE, Origin::Unknown));
}

#[test]
fn a_file_without_header_is_refused() {
    let text = "line 1: no header line names a code and a color; \
                line 1 reads `QV01,-18.30,22.75,42.15`";
    check_told("lab-noheader-swapped.csv", &[(text, NO_HEADER)]);
    let text = "line 1: no header line names a code and a color; line 1 reads `chart,palette`";
    check_told("path-names.csv", &[(text, NO_HEADER)]);
}

#[test]
fn what_is_no_number_is_named_on_every_line() {
    check_told(
        "nan-inf-empty.csv",
        &[
            ("line 2, column L: `NaN`: not a finite number", "42.15"),
            ("line 3, column a: `inf`: not a finite number", "42.15"),
            ("line 4, column a: the value is missing", "write the number"),
            ("line 5, column L: `-Infinity`: not a finite number", "42.15"),
            ("line 6, column L: `1e400`: too large for a number", "42.15"),
            ("line 7, column a: `#N/A`: a spreadsheet formula failed here", "the number itself"),
            ("line 8, column a: `#DIV/0!`: a spreadsheet formula failed here", "the number itself"),
        ],
    );
    let good = without_lines("nan-inf-empty.csv", &[2, 3, 4, 5, 6, 7, 8]);
    let loaded = table::read(&good, &options("good.csv")).unwrap();
    assert_eq!(labs(&loaded), [[50.0, 0.0, 0.0], [100.4, 0.0, 0.0], [50.0, 0.0, 0.0]]);
    assert!(loaded.table.threads()[2].color.lab().b().is_sign_positive());
    let bright = "3: 1 row with L* above 100: a fluorescent thread, or a slip?";
    assert!(notices(&loaded).iter().any(|text| text == bright));
}

#[test]
fn json_values_of_the_wrong_kind_are_named_by_their_path() {
    let three = "write three numbers, such as [42.15, -18.3, 22.75]";
    check_told(
        "null-nan.json",
        &[
            ("line 1, threads[1].lab[0]: `null`: null is not expected here", three),
            ("line 1, threads[2].lab[0]: `1e999`: too large for a number", "42.15"),
            ("line 1, threads[3].lab[0]: `50`: a text is not expected here", three),
            (
                "line 1, threads[4].lab: `[50, 0]` is not a usable color: 2 values, 3 expected",
                three,
            ),
        ],
    );
}

#[test]
fn title_rows_and_total_rows_are_not_threads() {
    let loaded = loaded("title-and-total-rows.csv");
    assert_eq!(codes(&loaded), ["QV01", "QV02"]);
    let skipped = "1: lines 1 to 3 above the header are not read";
    let total = "8: 1 row with no color, looks like a total: not read";
    assert_eq!(notices(&loaded), [skipped, total]);
}

#[test]
fn workbooks_are_told_by_their_content() {
    let text = "this is a spreadsheet workbook or another zip archive, not a thread table";
    check_told("zip-bomb.xlsx", &[(text, "save the sheet as CSV")]);
}

#[test]
fn nul_is_refused_with_its_place() {
    let text = "line 2: NUL at byte 23, 5 in all: the file is damaged or not text";
    check_told("nul-bytes.csv", &[(text, "save the table again")]);
}

#[test]
fn a_huge_field_is_refused_with_the_limit() {
    let text = format!("code,name,hex\nQV01,{},#4A6B3C\n", "x".repeat(200_000));
    let refused = table::read(text.as_bytes(), &options("huge.csv")).unwrap_err();
    let told: Vec<String> = refused.problems.iter().map(ToString::to_string).collect();
    assert_eq!(told, ["huge.csv, line 2: a field of 200000 bytes, the limit is 8192"]);
}

#[test]
fn formula_names_load_as_text_and_leave_safely() {
    let loaded = loaded("formula-names.csv");
    let expected = ["=1+1", "+1+1", "-2+3", "@SUM(1,1)", "\t=1+1", "\r=1+1", "\u{ff1d}1+1", "-5"];
    assert_eq!(names(&loaded), expected);
    let plain = table::write_csv(&loaded.table, CsvForm::Plain).unwrap();
    let safe = table::write_csv(&loaded.table, CsvForm::SpreadsheetSafe).unwrap();
    assert!(plain.contains("QV01,=1+1,#4a6b3c"));
    assert!(safe.starts_with("'code,'name,hex"));
    let cells: Vec<&str> = safe.split(['\n', ',']).map(|cell| cell.trim_matches('"')).collect();
    for start in ['=', '+', '-', '@', '\t', '\r', '\u{ff1d}'] {
        assert!(!cells.iter().any(|cell| cell.starts_with(start)), "{safe}");
    }
    for written in [plain, safe] {
        let again = table::read(written.as_bytes(), &options("again.csv")).unwrap();
        assert_eq!(names(&again), expected);
        assert_eq!(again.table.hash(), loaded.table.hash());
    }
}

#[test]
fn a_code_that_looks_like_a_negative_number_survives_both_forms() {
    let loaded = table::read(b"code,hex\n-5,#4A6B3C\n", &options("minus.csv")).unwrap();
    for form in [CsvForm::Plain, CsvForm::SpreadsheetSafe] {
        let written = table::write_csv(&loaded.table, form).unwrap();
        let again = table::read(written.as_bytes(), &options("again.csv")).unwrap();
        assert_eq!(codes(&again), ["-5"]);
    }
}

#[test]
fn terminal_sequences_in_names_are_kept_and_said() {
    let loaded = loaded("ansi-names.csv");
    assert_eq!(loaded.table.threads().len(), 6);
    assert_eq!(names(&loaded)[0], "\u{1b}[31mMoss\u{1b}[0m");
    assert_eq!(names(&loaded)[4], "\u{9b}31mC1");
    let said = "2: 6 rows with control or invisible characters in the name: kept, shown escaped";
    assert_eq!(notices(&loaded), [said]);
    let json = table::write_json(&loaded.table).unwrap();
    assert!(!json.chars().any(|c| c.is_control() && c != '\n'));
    assert!(json.contains("\\u001b]8;;file:///x"));
    let again = table::read(json.as_bytes(), &options("again.json")).unwrap();
    assert_eq!(names(&again), names(&loaded));
}

#[test]
fn markup_in_names_is_text_and_in_colors_an_error() {
    let text = "line 5, column hex: `#fff;background:url(x)` is not a usable color: \
                this form of color is not read";
    check_told("html-names.csv", &[(text, "write #4a6b3c")]);
    let good = first_lines("html-names.csv", 4);
    let loaded = table::read(&good, &options("good.csv")).unwrap();
    assert_eq!(names(&loaded)[0], "<img src=x onerror=alert(1)>");
    assert_eq!(names(&loaded)[2], "A & B \"q\" 's'");
}

#[test]
fn repeated_json_keys_are_found() {
    let twice = |path: &str, key: &str| {
        format!("line 1, {path}: the key `{key}` stands twice in one object")
    };
    check_told(
        "duplicate-json-keys.json",
        &[
            ("line 1, threads: threads is an object, a list is expected", "\"threads\":[{"),
            (&twice("threads.QV01.hex", "hex"), "keep one"),
            (&twice("threads.QV01", "QV01"), "keep one"),
        ],
    );
}

#[test]
fn every_ragged_row_is_listed() {
    check_told(
        "ragged-rows.csv",
        &[
            ("line 2: 4 fields, 3 expected", "a comma in a name needs quotes"),
            ("line 3: 2 fields, 3 expected", "keep their delimiters"),
            ("line 4: 5 fields, 3 expected", "take the delimiters at the end of the line away"),
        ],
    );
}
