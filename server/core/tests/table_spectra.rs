//! Reflectance spectra in our own CSV and JSON: kept as given, refused with their places.
//! It does not know how the readers work.

#![cfg(test)]

#[path = "support/reading.rs"]
mod reading;

use dyekin_core::table::{CsvForm, Loaded, ReadOptions, write_csv, write_json};
use dyekin_core::{Conditions, Origin, TableId};
use reading::{check_told, loaded};

fn options() -> ReadOptions {
    ReadOptions {
        id: TableId::from_any("measured"),
        source_name: "t.csv".into(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    }
}

fn notices(loaded: &Loaded) -> Vec<&str> {
    loaded.notices.iter().map(|notice| notice.text.as_str()).collect()
}

/// Names of columns from a wavelength to another, such as `nm400,nm410`.
fn columns(prefix: &str, ending: &str, (start, end, step): (u16, u16, usize)) -> String {
    let names = (start..=end).step_by(step).map(|nm| format!("{prefix}{nm}{ending}"));
    names.collect::<Vec<_>>().join(",")
}

const USUAL: (u16, u16, usize) = (400, 700, 10);

fn gray(value: &str, count: usize) -> String {
    vec![value; count].join(",")
}

#[test]
fn columns_named_by_wavelengths_give_a_color_and_are_kept() {
    for (names, value) in [
        (columns("nm", "", USUAL), "0.18"),
        (columns("NM ", "", USUAL), "0.18"),
        (columns("", " nm", USUAL), "0.18"),
        (columns("nm", "%", USUAL), "18"),
        (columns("SPECTRAL_PCT", "", USUAL), "18"),
        (columns("R", "", USUAL), "0.18"),
        (columns("", "", USUAL), "0.18"),
    ] {
        let loaded = loaded(&format!("code,{names},name\nK-1,{},Ash\n", gray(value, 31)));
        let thread = &loaded.table.threads()[0];
        let held = thread.spectrum.as_ref().unwrap();
        assert_eq!((held.start_nm(), held.step_nm()), (400, 10), "{names}");
        assert_eq!(held.values(), [0.18; 31], "{names}");
        // L* of Y 18 by CIE 15.
        assert!((thread.color.lab().l() - 49.496_1).abs() < 1e-3, "{names}");
        assert_eq!(thread.color.conditions(), Conditions::TEXTILE);
        assert_eq!(thread.color.origin(), Origin::Spectrum);
        assert_eq!(thread.name, "Ash");
        let said = ["1 row with a reflectance spectrum: Lab is computed for D65/10° (ASTM E308); \
                     say otherwise with `--white D50/2`"];
        assert_eq!(notices(&loaded), said);
    }
}

#[test]
fn rows_of_one_table_may_have_spectra_of_their_own_range_and_step_or_none() {
    let names = columns("nm", "", (380, 780, 10));
    let whole = gray("0.2", 41);
    let middle = format!(",,{},,,,,,,,", gray("0.3", 31));
    let coarse = (0..41).map(|at| if at % 2 == 0 { "0.4" } else { "" }).collect::<Vec<_>>();
    let none = vec![""; 41].join(",");
    let text = format!(
        "code,hex,{names}\nA,,{whole}\nB,,{middle}\nC,,{}\nD,#4a6b3c,{none}\n",
        coarse.join(",")
    );
    let first = loaded(&text);
    let grids: Vec<_> = first
        .table
        .threads()
        .iter()
        .map(|thread| thread.spectrum.as_ref().map(|it| (it.start_nm(), it.step_nm(), it.end_nm())))
        .collect();
    assert_eq!(grids, [Some((380, 10, 780)), Some((400, 10, 700)), Some((380, 20, 780)), None]);
    for text in [
        write_csv(&first.table, CsvForm::Plain).unwrap(),
        write_csv(&first.table, CsvForm::SpreadsheetSafe).unwrap(),
        write_json(&first.table).unwrap(),
    ] {
        let again = loaded(&text);
        assert_eq!(again.table.threads(), first.table.threads(), "{text}");
        assert_eq!(again.table.hash(), first.table.hash());
    }
}

#[test]
fn the_hash_knows_spectra_and_stays_for_tables_without() {
    let hash = |text: &str| loaded(text).table.hash().to_string();
    let head = "code,L,a,b,illuminant,observer,origin";
    let bare = format!("{head}\nK-1,49.5,0,0,D65,10,meter\n");
    // The hash of this table before threads could hold spectra.
    assert_eq!(hash(&bare), "1a9eb52e1a94f47e05ba6477c73c4b860871ef4bd9104ea9c47e56f5963378de");
    let with = |value: &str| {
        let names = columns("nm", "", USUAL);
        format!("{head},{names}\nK-1,49.5,0,0,D65,10,meter,{}\n", gray(value, 31))
    };
    let mut all = vec![hash(&bare), hash(&with("0.18")), hash(&with("0.181"))];
    all.dedup();
    assert_eq!(all.len(), 3);
}

#[test]
fn a_stated_lab_is_read_and_compared_with_its_spectrum() {
    let row = |l: &str| {
        let names = columns("nm", "", USUAL);
        format!(
            "code,L,a,b,illuminant,observer,origin,{names}\nK-1,{l},0,0,D65,10,meter,{}\n",
            gray("0.18", 31)
        )
    };
    let good = loaded(&row("49.5"));
    assert_eq!(good.table.threads()[0].color.origin(), Origin::Meter);
    assert!(good.table.threads()[0].spectrum.is_some());
    let said = "1 row with Lab and a reflectance spectrum: the Lab is read, and agrees";
    assert_eq!(notices(&good), [said]);
    let bad = loaded(&row("52.5"));
    assert!(notices(&bad)[1].contains("by up to 3.0 (CIEDE2000)"), "{:?}", bad.notices);
}

#[test]
fn a_spectrum_goes_before_an_srgb_color_and_says_so() {
    let text = format!("code,hex,{}\nK-1,#ff0000,{}\n", columns("nm", "", USUAL), gray("0.18", 31));
    let loaded = loaded(&text);
    assert!(loaded.table.threads()[0].color.lab().chroma() < 1e-9);
    let said = "1 row with hex or r, g, b beside a reflectance spectrum: the spectrum is used";
    assert!(notices(&loaded).contains(&said), "{:?}", loaded.notices);
}

#[test]
fn bad_cells_are_told_with_line_column_value_and_remedy() {
    let names = columns("nm", "", USUAL);
    let with = |changes: &[(usize, &str)]| {
        let mut cells = vec!["0.5"; 31];
        changes.iter().for_each(|(at, text)| cells[*at] = text);
        format!("code,{names}\nK-1,{}\n", cells.join(","))
    };
    for (changes, start, remedy) in [
        (&[(3, "NaN")][..], "line 2, column nm430: `NaN`: ", "write"),
        (&[(0, "-0.2")], "line 2, column nm400: `-0.2`: no reflectance", "less than 0"),
        (&[(1, "45"), (2, "46")], "line 2, column nm410: `45`: no reflectance, 1 more", "nm400%"),
        (&[(5, "")], "line 2, column nm450: `450 nm`: no reflectance, where", "clear all columns"),
        (&[(5, ""), (6, "")], "line 2, column nm450: `450 nm`: no reflectance", "missing"),
        (&[(0, "")], "line 2: `410 to 700 nm`: a color needs reflectance from 400", "whole range"),
        (&[(30, " ")], "line 2: `400 to 690 nm`: a color needs", "whole range"),
        (&[(2, "#N/A")], "line 2, column nm420: `#N/A`", ""),
    ] {
        check_told(&with(changes), &[(start, remedy)]);
    }
    // Every bad cell of a row is told, and no row hides another.
    let two = with(&[(3, "x"), (4, "y")]) + &format!("K-2,{}\n", gray("9", 31));
    check_told(
        &two,
        &[
            ("line 2, column nm430: `x`", ""),
            ("line 2, column nm440: `y`", ""),
            ("line 3, column nm400: `9`: no reflectance, 30 more in this row", "percents"),
        ],
    );
    let percent = format!("code,{}\nK-1,{}\n", columns("nm", "%", USUAL), gray("1800", 31));
    check_told(&percent, &[("line 2, column nm400%: `1800 %`: no reflectance", "decimal mark")]);
}

#[test]
fn columns_that_cannot_hold_a_spectrum_are_told_once() {
    let row = |count| gray("0.5", count);
    let short = format!("code,{}\nK-1,{}\nK-2,\n", columns("nm", "", (420, 700, 10)), row(29));
    check_told(
        &short,
        &[("line 1, column nm420: `nm420`: the columns of reflectance go", "400 to")],
    );
    let twice = format!("code,{},nm400\nK-1,{}\n", columns("nm", "", USUAL), row(32));
    check_told(&twice, &[("line 1, column nm400: `nm400`: a second column of 400 nm", "one of")]);
    let mixed = format!("code,{},nm710%\nK-1,{}\n", columns("nm", "", USUAL), row(32));
    check_told(&mixed, &[("line 1, column nm710%: `nm710%`: percents in some", "factors")]);
    let seven = format!("code,{}\nK-1,{}\n", columns("nm", "", (400, 701, 7)), row(44));
    check_told(&seven, &[("line 2: `7 nm`: a step", "resample")]);
}

#[test]
fn columns_that_only_look_like_wavelengths_are_left_alone() {
    let loaded = loaded("code,hex,500,R400\nK-1,#4a6b3c,8,2\n");
    assert!(loaded.table.threads()[0].spectrum.is_none());
    assert_eq!(notices(&loaded).len(), 2);
}

#[test]
fn decimal_commas_in_spectra_are_one_decision_of_the_file() {
    let names = columns("nm", "", USUAL).replace(',', ";");
    let cells = gray("0.18", 31).replace(',', ";").replace('.', ",");
    let comma = loaded(&format!("code;{names}\nK-1;{cells}\n"));
    assert_eq!(comma.table.threads()[0].spectrum.as_ref().unwrap().values(), [0.18; 31]);
    assert!(notices(&comma).contains(&"numbers are read with a decimal comma"));
    let mixed = cells.replacen("0,18", "0.18", 1);
    check_told(
        &format!("code;{names}\nK-1;{mixed}\n"),
        &[("line 2, column nm400: `0.18`: a decimal point, where most", "decimal point")],
    );
}

fn json(spectrum: &str) -> String {
    format!("{{\"threads\":[\n{{\"code\":\"K-1\",\"spectrum\":{spectrum}}}]}}")
}

#[test]
fn json_holds_a_spectrum_with_first_wavelength_step_and_values() {
    let values = gray("0.18", 31);
    let text = json(&format!("{{\"start_nm\":400,\"step_nm\":10,\"values\":[{values}]}}"));
    let loaded = loaded(&text);
    let held = loaded.table.threads()[0].spectrum.as_ref().unwrap();
    assert_eq!((held.start_nm(), held.values()), (400, &[0.18; 31][..]));
    let bad = values.replacen("0.18", "18", 1).replacen("0.18", "\"x\"", 1);
    for (spectrum, start, remedy) in [
        ("[1, 2]".into(), "line 2, threads[0].spectrum: ", "start_nm"),
        ("{\"start_nm\":400,\"values\":[]}".into(), "line 2, threads[0].spectrum: no key", "step"),
        (
            format!("{{\"start_nm\":4.5,\"step_nm\":10,\"values\":[{values}]}}"),
            "line 2, threads[0].spectrum.start_nm: `4.5`: not a whole number",
            "400",
        ),
        (
            format!("{{\"start_nm\":410,\"step_nm\":10,\"values\":[{values}]}}"),
            "line 2, threads[0].spectrum: `410 to 710 nm`: a color needs",
            "whole range",
        ),
        (
            format!("{{\"start_nm\":400,\"step_nm\":10,\"values\":[{values}],\"unit\":1}}"),
            "line 2, threads[0].spectrum: the key `unit` is not known",
            "start_nm",
        ),
    ] {
        check_told(&json(&spectrum), &[(start, remedy)]);
    }
    check_told(
        &json(&format!("{{\"start_nm\":400,\"step_nm\":10,\"values\":[{bad}]}}")),
        &[
            ("line 2, threads[0].spectrum.values[0]: `18`: no reflectance", "divide percents"),
            ("line 2, threads[0].spectrum.values[1]: `x`: a text is not", "factors"),
        ],
    );
    check_told(&json("null"), &[("line 2, threads[0].hex: ", "")]);
}
