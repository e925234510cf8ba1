//! Files of measurements with injuries that no stored file shows: each gets the right value or a
//! clear refusal. It does not know how the reader works.

#![cfg(test)]

#[path = "support/reading.rs"]
mod reading;

use dyekin_core::table::{self, Loaded, ReadOptions};
use dyekin_core::{Conditions, Illuminant, Observer, Origin, TableId, Thread};
use reading::{check_told, loaded};

const D50: Conditions = Conditions { illuminant: Illuminant::D50, observer: Observer::TwoDegree };

fn options() -> ReadOptions {
    ReadOptions {
        id: TableId::from_any("measured"),
        source_name: "t.txt".into(),
        conditions: None,
        origin: Some(Origin::Meter),
        alpha_first: false,
        measurement: None,
    }
}

fn notices(loaded: &Loaded) -> Vec<&str> {
    loaded.notices.iter().map(|notice| notice.text.as_str()).collect()
}

fn codes(loaded: &Loaded) -> Vec<&str> {
    loaded.table.threads().iter().map(|thread| thread.code.as_str()).collect()
}

fn names(loaded: &Loaded) -> Vec<&str> {
    loaded.table.threads().iter().map(|thread| thread.name.as_str()).collect()
}

fn lab(thread: &Thread) -> [f64; 3] {
    let lab = thread.color.lab();
    [lab.l(), lab.a(), lab.b()]
}

#[track_caller]
fn check_lab(thread: &Thread, expected: [f64; 3], tolerance: f64) {
    let near = lab(thread).iter().zip(expected).all(|(l, r)| (l - r).abs() <= tolerance);
    assert!(near, "{thread:?}, {expected:?} expected");
}

/// A file with codes, names and Lab under D50 and 2 degrees.
fn file(data: &str) -> String {
    let sets = data.lines().count();
    format!(
        "CGATS.17\nILLUMINATION_NAME D50\nOBSERVER_ANGLE 2\nNUMBER_OF_FIELDS 5\n\
         BEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n\
         NUMBER_OF_SETS {sets}\nBEGIN_DATA\n{data}\nEND_DATA\n"
    )
}

/// A file with these keywords and columns, and without counts.
fn made(keywords: &str, format: &str, data: &str) -> String {
    format!(
        "CGATS.17\n{keywords}\nBEGIN_DATA_FORMAT\n{format}\nEND_DATA_FORMAT\nBEGIN_DATA\n{data}\nEND_DATA\n"
    )
}

const GOOD: &str = "1 \"Moss path\" 42.15 -18.3 22.75\n2 Ice 76 -8.5 -9";

#[test]
fn blanks_in_names_comments_and_any_line_end_are_read() {
    let text =
        file("1 \"Moss path\" 42.15 -18.3 22.75 # first\n\n# none\n2 \"5\"\" hoop\"\t76 -8.5 -9\t");
    let text = text.replace("NUMBER_OF_SETS 4", "NUMBER_OF_SETS 2");
    for end in ["\n", "\r\n", "\r"] {
        let loaded = loaded(&text.replace('\n', end));
        assert_eq!(codes(&loaded), ["1", "2"]);
        assert_eq!(names(&loaded), ["Moss path", "5\" hoop"]);
        check_lab(&loaded.table.threads()[0], [42.15, -18.3, 22.75], 0.0);
        assert_eq!(loaded.table.threads()[0].color.conditions(), D50);
        assert!(loaded.notices.is_empty(), "{:?}", loaded.notices);
    }
}

#[test]
fn light_and_observer_are_found_in_each_place_that_states_them() {
    for keywords in [
        "WEIGHTING_FUNCTION \"ILLUMINANT, D50\"\nWEIGHTING_FUNCTION \"OBSERVER, 2 degree\"",
        "WEIGHTING_FUNCTION \"ILLUMINANT,D50\" \"OBSERVER,2\"",
        "WEIGHTING_FUNCTION\tILLUMINANT D50\nWEIGHTING_FUNCTION\tOBSERVER 2°",
        "COMPUTATIONAL_PARAMETER \"ILLUMINANT, D50\"\nOBSERVER \"CIE 1931\"",
        "illumination_name d50\nObserver_Angle \"2 deg\"",
        "MEASUREMENT_SOURCE \"Illumination=D50\tObserverAngle=2°\tWhiteBase=Abs\"",
        "ILLUMINANT \"CIE D50\"\nOBSERVER 2_degree\nILLUMINATION_NAME D50",
    ] {
        let loaded = loaded(&made(keywords, "SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 0 0"));
        assert_eq!(loaded.table.threads()[0].color.conditions(), D50, "{keywords}");
    }
}

#[test]
fn what_no_keyword_states_is_asked_for() {
    let file = |keywords| made(keywords, "SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 0 0");
    for (keywords, notice) in [
        (
            "DESCRIPTOR \"D50, 2 degree\"",
            "no illuminant or observer stated for 1 row: taken as D65/10°; \
             say otherwise with `--white D50/2`",
        ),
        (
            "ILLUMINANT D50",
            "no observer stated for 1 row: taken as 10°; say otherwise with `--white D50/2`",
        ),
        (
            "OBSERVER 2",
            "no illuminant stated for 1 row: taken as D65; say otherwise with `--white D50/2`",
        ),
    ] {
        assert!(notices(&loaded(&file(keywords))).contains(&notice), "{keywords}");
        let said = ReadOptions { conditions: Some(D50), ..options() };
        let loaded = table::read(file(keywords).as_bytes(), &said).unwrap();
        assert_eq!(loaded.table.threads()[0].color.conditions(), D50);
        assert!(!notices(&loaded).iter().any(|text| text.contains("--white")), "{keywords}");
    }
}

#[test]
fn a_light_that_is_unknown_or_stated_twice_is_refused() {
    let file = |keywords| made(keywords, "SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 0 0");
    check_told(
        &file("ILLUMINATION_NAME C\nOBSERVER_ANGLE 4"),
        &[
            ("line 2, column ILLUMINATION_NAME: `C`: an illuminant that is not known here", "D65"),
            ("line 3, column OBSERVER_ANGLE: `4`: an observer that is not known", "10 degree"),
        ],
    );
    check_told(
        &file("ILLUMINATION_NAME D50\nWEIGHTING_FUNCTION \"ILLUMINANT, D65\""),
        &[("line 3, column WEIGHTING_FUNCTION: `D65`: line 2 states another one", "keep the one")],
    );
}

#[test]
fn counts_that_are_missing_or_wrong_are_counted() {
    let wrong = file(GOOD).replace("FIELDS 5", "FIELDS 7").replace("SETS 2", "SETS \"many\"");
    assert_eq!(
        notices(&loaded(&wrong)),
        [
            "NUMBER_OF_FIELDS says 7, 5 are there: counted",
            "NUMBER_OF_SETS says many, 2 are there: counted",
        ]
    );
    let none = made("ILLUMINANT D50\nOBSERVER 2", "SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 0 0");
    assert_eq!(
        notices(&loaded(&none)),
        ["no NUMBER_OF_FIELDS: 4 are there, counted", "no NUMBER_OF_SETS: 1 are there, counted"]
    );
}

#[test]
fn a_file_that_spreadsheets_saved_is_read() {
    let tabs = file("1\tMoss path\t42,15\t-18,3\t22,75\t\t\n2\t\t76\t\u{2212}8,5\t-9\t\t");
    let loaded = loaded(&tabs);
    assert_eq!(names(&loaded), ["Moss path", ""]);
    check_lab(&loaded.table.threads()[1], [76.0, -8.5, -9.0], 0.0);
    let told = notices(&loaded);
    assert!(told[0].starts_with("cells are taken between tabs"), "{told:?}");
    assert!(told.contains(&"numbers are read with a decimal comma"), "{told:?}");
    let quoted =
        file("1\t\"\"\"Moss path\"\"\"\t42.15\t-18.3\t22.75\n2\t\"\"Ice\"\"\t76\t-8.5\t-9");
    assert_eq!(names(&self::loaded(&quoted)), ["Moss path", "Ice"]);
}

#[test]
fn rows_over_several_lines_are_joined() {
    let loaded = loaded(
        &file("1 \"Moss path\"\n42.15 -18.3 22.75\n2 Ice 76\n-8.5\n-9").replace("SETS 5", "SETS 2"),
    );
    assert_eq!(names(&loaded), ["Moss path", "Ice"]);
    assert_eq!(notices(&loaded), ["every row of this table runs over several lines"]);
}

#[test]
fn every_bad_row_is_told_with_its_line_and_column() {
    check_told(
        &file(
            "1 Moss path 42.15 -18.3 22.75\n2 Ice 76 -8.5\n3 \"Clay 1 2 3\n4 Ash 103 x 1e999\n5 Fog 50 0 0",
        ),
        &[
            ("line 10: 6 cells, 5 expected", "a name with blanks needs quotes"),
            ("line 11: 4 cells, 5 expected", "an empty name is written \"\""),
            ("line 12: a quote opens here and is never closed", "close it"),
            ("line 13, column LAB_A: `x`: not a number", "42.15"),
            ("line 13, column LAB_B: `1e999`: too large for a number", "42.15"),
            ("line 13, column LAB_L: `103` is not a usable color: L* is outside 0 to 102", "L*"),
        ],
    );
}

#[test]
fn codes_that_collide_are_told_with_their_lines() {
    let text = file("1 Moss 50 0 0\n1 Ice 60 0 0\n2 Fog 70 0 0\n2 Fog 70 0 0");
    check_told(&text, &[("line 10, column SAMPLE_ID: code `1` stands on lines 10, 11", "one row")]);
}

#[test]
fn a_file_that_ends_early_is_refused() {
    let whole = file(GOOD);
    let cut = whole.replace("END_DATA\n", "");
    check_told(&cut, &[("line 9: the file ends before END_DATA", "cut off")]);
    let cut = &whole[..whole.find("END_DATA_FORMAT").unwrap()];
    check_told(cut, &[("line 5: the file ends before END_DATA_FORMAT", "cut off")]);
}

#[test]
fn tables_without_color_say_what_they_hold() {
    for (format, data, reason) in [
        (
            "SAMPLE_ID SPECTRAL_NM SPECTRAL_PCT",
            "1 400 0.2",
            "it holds reflectance spectra whose columns name no wavelengths",
        ),
        ("SAMPLE_ID RGB_R RGB_G RGB_B", "1 1 2 3", "it holds amounts of a printer or screen only"),
        ("SAMPLE_ID LAB_L LAB_A", "1 1 2", "not all of the columns LAB_L LAB_A LAB_B are there"),
        ("SAMPLE_ID SAMPLE_NAME", "1 Moss", "none of its columns is a color"),
    ] {
        let text = made("", format, data);
        check_told(&text, &[(&format!("line 3: {reason}"), "export the colors as Lab")]);
    }
    check_told(
        "CGATS.17\nBEGIN_DATA\n1 2 3\nEND_DATA",
        &[("line 2: data without a data format", "Lab")],
    );
    check_told("CGATS.17\nORIGINATOR none\n", &[("a file of measurements without data", "again")]);
}

#[test]
fn several_tables_of_one_file_make_one_thread_table() {
    let first = file("1 Moss 42.15 -18.3 22.75");
    let second = "BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B SHELF\nEND_DATA_FORMAT\n\
                  BEGIN_DATA\n7 50 1 2 x\nEND_DATA\n";
    let third = "BEGIN_DATA_FORMAT\nSAMPLE_ID CMYK_C\nEND_DATA_FORMAT\nBEGIN_DATA\n8 1\nEND_DATA";
    let loaded = loaded(&format!("{first}{second}{third}"));
    assert_eq!(codes(&loaded), ["1", "7"]);
    assert_eq!(loaded.table.threads()[1].color.conditions(), D50);
    let told = notices(&loaded);
    for start in [
        "this table states no illuminant",
        "columns not read: SHELF",
        "this table is not read: it holds amounts",
    ] {
        assert!(told.iter().any(|text| text.starts_with(start)), "{start}: {told:#?}");
    }
}

#[test]
fn hue_and_chroma_are_converted_and_said() {
    let text = made("ILLUMINANT D50\nOBSERVER 2", "SAMPLE_ID LAB_L LAB_C LAB_H", "1 50 20 315");
    let loaded = loaded(&text);
    check_lab(&loaded.table.threads()[0], [50.0, 14.142_135_623_73, -14.142_135_623_73], 1e-9);
    assert!(notices(&loaded).contains(&"L*, C* and hue are converted to L*, a*, b*"));
    let bad = text.replace("1 50 20 315", "1 50 -20 400");
    check_told(
        &bad,
        &[
            ("line 8, column LAB_C: `-20` is not a usable color: a chroma is 0 or more", "clipped"),
            ("line 8, column LAB_H: `400` is not a usable color: a hue angle", "clipped"),
        ],
    );
}

#[test]
fn tristimulus_values_are_converted_with_the_white_of_the_file() {
    let keywords = "ILLUMINANT D65\nOBSERVER 10";
    let percent = made(keywords, "SAMPLE_ID XYZ_X XYZ_Y XYZ_Z", "1 20.5 18.25 9.75\n2 1 1 1");
    let unit =
        made(keywords, "SAMPLE_ID XYZ_X XYZ_Y XYZ_Z", "1 0.205 0.1825 0.0975\n2 .01 .01 .01");
    for (text, white_y) in [(percent, "100"), (unit, "1")] {
        let loaded = loaded(&text);
        check_lab(&loaded.table.threads()[0], XYZ_EXPECTED, 1e-3);
        let said = format!(
            "X, Y, Z, where the white has Y {white_y}, are converted to CIELAB with the white of D65/10°: 94.811 100.000 107.305"
        );
        assert!(notices(&loaded).contains(&said.as_str()), "{:?}", notices(&loaded));
    }
    let unsure = made(keywords, "SAMPLE_ID XYZ_X XYZ_Y XYZ_Z", "1 1.2 1.1 0.9");
    check_told(&unsure, &[("the largest of X, Y and Z is 1.2: full light may be", "100")]);
    let negative = made(keywords, "SAMPLE_ID XYZ_X XYZ_Y XYZ_Z", "1 20 -1 9");
    check_told(&negative, &[("line 8, column XYZ_Y: `-1` is not a usable color: X, Y and Z", "")]);
}

/// X 20.5, Y 18.25, Z 9.75 under D65/10, computed apart in Python from the formulas of CIE 15 and
/// the white of ISO 105-J03, which the sum of the weights meets to 0.001.
const XYZ_EXPECTED: [f64; 3] = [49.797_937_254_220, 16.489_850_823_267, 23.530_944_691_084];

#[test]
fn rows_without_an_id_take_their_names_or_numbers() {
    let light = "ILLUMINANT D50\nOBSERVER 2";
    let named = made(light, "SAMPLE_NAME LAB_L LAB_A LAB_B", "\"Moss path\" 50 0 0\nIce 60 0 0");
    assert_eq!(codes(&loaded(&named)), ["Moss path", "Ice"]);
    let twice = named.replace("Ice", "\"moss PATH\"");
    let loaded = loaded(&twice);
    assert_eq!(codes(&loaded), ["1", "2"]);
    assert!(
        notices(&loaded).iter().any(|t| t.starts_with("a table without SAMPLE_ID has no codes"))
    );
}

#[test]
fn columns_that_stand_twice_are_refused_and_vendor_words_may_begin() {
    let twice = file(GOOD)
        .replace("LAB_B\n", "LAB_B LAB_L\n")
        .replace("75\n", "75 9\n")
        .replace("-9\n", "-9 9\n");
    check_told(
        &twice,
        &[("line 5, column LAB_L: `LAB_L`: a second column of this meaning", "keep one")],
    );
    let vendor = file(GOOD).replace("CGATS.17", "COLORLIST 3");
    assert_eq!(codes(&loaded(&vendor)), ["1", "2"]);
}

/// Columns of 31 bands from 400 nm at 10 nm, and a gray of so much reflectance.
fn spectral(prefix: &str, value: &str) -> (String, String) {
    let names: Vec<String> = (40..=70).map(|ten| format!("{prefix}{ten}0")).collect();
    (names.join(" "), vec![value; 31].join(" "))
}

#[test]
fn a_table_of_spectra_gives_the_lab_of_the_light_that_is_asked_for() {
    for (prefix, value) in [
        ("SPECTRAL_NM", "18"),
        ("SPECTRAL_PCT", "18"),
        ("SPECTRAL_DEC", "0.18"),
        ("NM_", "0.18"),
        ("R", "18.0"),
    ] {
        let (names, values) = spectral(prefix, value);
        let text = made("", &format!("SAMPLE_ID {names}"), &format!("1 {values}"));
        let loaded = loaded(&text);
        let thread = &loaded.table.threads()[0];
        // L* of Y 18 by CIE 15; a gray has no hue under any light.
        check_lab(thread, [49.496_1, 0.0, 0.0], 1e-3);
        assert_eq!(thread.color.conditions(), Conditions::TEXTILE);
        assert_eq!(thread.color.origin(), Origin::Spectrum);
        let held = thread.spectrum.as_ref().unwrap();
        assert_eq!((held.start_nm(), held.step_nm(), held.values()), (400, 10, &[0.18; 31][..]));
        let said = "1 row with a reflectance spectrum: Lab is computed for D65/10° (ASTM E308); \
                    say otherwise with `--white D50/2`";
        assert!(notices(&loaded).contains(&said), "{prefix}: {:?}", notices(&loaded));
        let asked = ReadOptions { conditions: Some(D50), ..options() };
        let asked = table::read(text.as_bytes(), &asked).unwrap();
        assert_eq!(asked.table.threads()[0].color.conditions(), D50);
    }
}

#[test]
fn spectra_that_give_no_color_are_told_with_their_place() {
    let (names, values) = spectral("NM_", "0.5");
    let format = format!("SAMPLE_ID {names}");
    let bad = values.replacen("0.5", "x", 2).replacen("0.5", "1e9", 1);
    check_told(
        &made("", &format, &format!("1 {bad}\n2 {}", values.replacen("0.5", "-20", 1))),
        &[
            ("line 7, column NM_400: `x`: not a number", "42.15"),
            ("line 7, column NM_410: `x`: not a number", "42.15"),
            ("line 8: ", ""),
        ],
    );
    let (_, unsure) = spectral("NM_", "1.2");
    let text = made("", &format, &format!("1 {unsure}"));
    check_told(
        &text,
        &[("the largest of the reflectances is 1.2: full light may be 1 or 100", "PCT")],
    );
    let short = made("", "SAMPLE_ID NM_400 NM_410", "1 0.1 0.2");
    check_told(
        &short,
        &[("line 7: `400 to 410 nm`: a color needs reflectance from 400 to 700", "")],
    );
    let uneven = made("", "SAMPLE_ID NM_400 NM_410 NM_430", "1 0.1 0.2 0.3");
    check_told(
        &uneven,
        &[("line 3: the wavelengths of the spectral columns have no equal", "Lab")],
    );
}

#[test]
fn a_lab_that_its_spectrum_does_not_give_is_said() {
    let (names, values) = spectral("NM_", "0.18");
    let format = format!("SAMPLE_ID LAB_L LAB_A LAB_B {names}");
    let light = "ILLUMINANT D50\nOBSERVER 2";
    let good = loaded(&made(light, &format, &format!("1 49.50 0 0 {values}")));
    let said = "1 row with Lab and a reflectance spectrum: the Lab is read, and agrees";
    assert!(notices(&good).contains(&said), "{:?}", notices(&good));
    let bad = loaded(&made(light, &format, &format!("1 52.5 0 0 {values}")));
    let said = "1 row with a Lab that differs from that of the spectrum, by up to 3.0 (CIEDE2000): \
                which of them is right?";
    assert!(notices(&bad).contains(&said), "{:?}", notices(&bad));
    check_lab(&bad.table.threads()[0], [52.5, 0.0, 0.0], 0.0);
}

#[test]
fn counts_that_no_machine_holds_are_counted_too() {
    for count in ["99999999999999999999", "-5", "1e9", "many"] {
        let text = made(
            &format!("NUMBER_OF_SETS {count}"),
            "SAMPLE_ID LAB_L LAB_A LAB_B",
            "A1 42.15 -18.3 22.75",
        );
        let loaded = loaded(&text);
        assert_eq!(codes(&loaded), ["A1"], "{count}");
        let said = format!("NUMBER_OF_SETS says {count}, 1 are there: counted");
        assert!(notices(&loaded).contains(&said.as_str()), "{:?}", notices(&loaded));
    }
}
