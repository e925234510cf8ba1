//! Files of measurements as instruments and color programs write them: CGATS.17 text and CxF3.
//! It does not know how the readers work.

#![expect(clippy::float_cmp, reason = "a decimal text has one nearest number")]

use dyekin_core::table::{self, CsvForm, Loaded, ReadOptions, write_csv, write_json};
use dyekin_core::{Conditions, Illuminant, Observer, Origin};

use crate::inputs_table::{bytes, codes, labs, names, notices, options};

const D50: Conditions = Conditions { illuminant: Illuminant::D50, observer: Observer::TwoDegree };

const NO_ORIGIN: &str = "taken as unknown; say `--origin meter` when a color meter gave them";

fn loaded(bytes: &[u8], options: &ReadOptions) -> Loaded {
    table::read(bytes, options).unwrap_or_else(|refused| panic!("{refused:?}"))
}

fn example(name: &str) -> Loaded {
    let path = dyekin_tests::data().join("reference").join(name);
    loaded(&std::fs::read(path).expect("a file of the test data"), &options(name))
}

#[track_caller]
fn check_conditions(loaded: &Loaded, expected: Conditions, origin: Origin) {
    for thread in loaded.table.threads() {
        assert_eq!((thread.color.conditions(), thread.color.origin()), (expected, origin));
    }
}

/// What is written of a table reads back with the same content.
fn check_written(loaded: &Loaded) {
    let table = &loaded.table;
    for text in [
        write_csv(table, CsvForm::Plain).unwrap(),
        write_csv(table, CsvForm::SpreadsheetSafe).unwrap(),
        write_json(table).unwrap(),
    ] {
        let again = self::loaded(text.as_bytes(), &options("again"));
        assert_eq!(again.table.hash(), table.hash(), "{text}");
        let agrees = "with Lab and a reflectance spectrum: the Lab is read, and agrees";
        assert!(again.notices.iter().all(|it| it.text.contains(agrees)), "{:?}", again.notices);
    }
}

#[test]
fn lab_columns_in_another_order_are_read_by_name_under_the_stated_white() {
    let loaded = loaded(&bytes("lab-d50.cgats"), &options("lab-d50.cgats"));
    assert_eq!(codes(&loaded), ["1", "2"]);
    assert_eq!(names(&loaded), ["Moss path", "Ice pond"]);
    assert_eq!(labs(&loaded), [[42.15, -18.3, 22.75], [76.0, -8.5, -9.0]]);
    check_conditions(&loaded, D50, Origin::Unknown);
    assert_eq!(notices(&loaded), [format!("12: no origin stated for 2 rows: {NO_ORIGIN}")]);
    check_written(&loaded);
}

#[test]
fn the_light_of_the_file_stands_over_the_option_and_the_origin_is_taken_from_it() {
    let said = ReadOptions {
        conditions: Some(Conditions::TEXTILE),
        origin: Some(Origin::Meter),
        ..options("lab-d50.cgats")
    };
    let loaded = loaded(&bytes("lab-d50.cgats"), &said);
    check_conditions(&loaded, D50, Origin::Meter);
    assert!(loaded.notices.is_empty());
}

#[test]
fn the_example_with_lab_only_is_read() {
    let loaded = example("example_cgats17_lab_only.txt");
    assert_eq!(codes(&loaded), ["1", "2", "3"]);
    assert_eq!(names(&loaded), ["madder red", "navy", "ecru"]);
    assert_eq!(labs(&loaded)[1], [23.39, 9.9, -27.48]);
    check_conditions(&loaded, Conditions::TEXTILE, Origin::Unknown);
    assert_eq!(notices(&loaded), [format!("12: no origin stated for 3 rows: {NO_ORIGIN}")]);
    check_written(&loaded);
}

#[test]
fn the_example_with_spectra_is_read_by_its_lab() {
    let loaded = example("example_cgats17_spectral.txt");
    assert_eq!(names(&loaded), ["madder red sample", "navy sample", "ecru sample"]);
    assert_eq!(labs(&loaded)[0], [45.31, 51.42, 34.47]);
    check_conditions(&loaded, D50, Origin::Unknown);
    let told = notices(&loaded);
    let spectra = "20: 3 rows with Lab and a reflectance spectrum: the Lab is read, and agrees";
    assert_eq!(told, [spectra.into(), format!("20: no origin stated for 3 rows: {NO_ORIGIN}")]);
    check_written(&loaded);
}

#[test]
fn the_example_of_color_exchange_is_read_by_its_specification() {
    let loaded = example("example_cxf3.xml");
    assert_eq!(codes(&loaded), ["o1", "o2", "o3"]);
    assert_eq!(names(&loaded), ["madder red sample", "navy sample", "ecru sample"]);
    assert_eq!(labs(&loaded)[0], [42.95, 45.64, 30.48]);
    check_conditions(&loaded, Conditions::TEXTILE, Origin::Meter);
    assert_eq!(
        notices(&loaded),
        [
            "15: 3 rows whose specification says measured reflectance: origin meter; \
             say otherwise with `--origin`",
            "15: 3 rows with Lab and a reflectance spectrum: the Lab is read, and agrees",
        ]
    );
    check_written(&loaded);
}

/// The Lab that the example states was computed from its spectra before both were rounded, Lab to two
/// and reflectance to four decimals.
#[test]
fn the_example_without_its_lab_gives_that_lab_from_its_spectra() {
    let stated = example("example_cgats17_spectral.txt");
    let path = dyekin_tests::data().join("reference/example_cgats17_spectral.txt");
    let text = std::fs::read_to_string(path).unwrap();
    let other = text.replace("LAB_L\tLAB_A\tLAB_B", "OLD_1\tOLD_2\tOLD_3");
    let computed = loaded(other.as_bytes(), &options("spectra.txt"));
    check_conditions(&computed, D50, Origin::Spectrum);
    for (computed, stated) in labs(&computed).iter().zip(labs(&stated)) {
        let near = computed.iter().zip(stated).all(|(l, r)| (l - r).abs() < 0.012);
        assert!(near, "{computed:?} {stated:?}");
    }
    check_written(&computed);
}
