//! Objects of color exchange documents that were measured several times: one is chosen by what the
//! sample was lit with or by its specification, never because it stands first. It does not know how
//! the reader works.
//!
//! Conditions M0 to M3: ISO 13655. Their spellings in documents: the enumeration of device
//! illumination in the schema of CxF3, as the generated classes of `colour-cxf` 0.1.1 hold it.

#![cfg(test)]

use dyekin_core::table::{self, Loaded, ReadOptions, Refused};
use dyekin_core::{Conditions, Origin, TableId};

fn read(text: &str, measurement: Option<&str>) -> Result<Loaded, Refused> {
    let options = ReadOptions {
        id: TableId::from_any("exchanged"),
        source_name: "t.cxf".into(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: measurement.map(str::to_owned),
    };
    table::read(text.as_bytes(), &options)
}

#[track_caller]
fn check_told(text: &str, measurement: Option<&str>, expected: &[(&str, &str)]) {
    let refused = read(text, measurement).expect_err("the text must be refused");
    for (problem, (start, remedy)) in refused.problems.iter().zip(expected) {
        let said = problem.to_string().replacen("t.cxf, ", "", 1).replacen("t.cxf: ", "", 1);
        let hint = problem.hint().unwrap_or_default();
        assert!(
            said.starts_with(start) && hint.contains(remedy),
            "{said} | {hint}\n{start} … {remedy}"
        );
    }
    assert_eq!(refused.problems.len(), expected.len(), "{refused:#?}");
}

fn specification(id: &str, lit: &str, light: &str) -> String {
    let lit = match lit {
        "" => String::new(),
        lit => format!("<Device><DeviceIllumination>{lit}</DeviceIllumination></Device>"),
    };
    let light = match light {
        "" => String::new(),
        light => format!(
            "<TristimulusSpec><Illuminant>{light}</Illuminant><Observer>2_Degree</Observer></TristimulusSpec>"
        ),
    };
    format!(
        "<ColorSpecification Id=\"{id}\">{light}<MeasurementSpec>\
         <MeasurementType>Spectrum_Reflectance</MeasurementType>{lit}\
         <WavelengthRange StartWL=\"400\" Increment=\"10\"/></MeasurementSpec></ColorSpecification>"
    )
}

fn spectrum(specification: &str, value: &str) -> String {
    let values = vec![value; 31].join(" ");
    format!(
        "<ReflectanceSpectrum ColorSpecification=\"{specification}\">{values}</ReflectanceSpectrum>"
    )
}

fn lab(specification: &str, l: &str) -> String {
    format!(
        "<ColorCIELab ColorSpecification=\"{specification}\"><L>{l}</L><A>0</A><B>0</B></ColorCIELab>"
    )
}

fn object(id: &str, values: &[String]) -> String {
    format!("<Object Id=\"{id}\"><ColorValues>{}</ColorValues></Object>\n", values.concat())
}

/// A document; its first object stands on line 2.
fn document(objects: &str, specifications: &[String]) -> String {
    format!(
        "<CxF xmlns=\"http://colorexchangeformat.com/CxF3-core\"><Resources><ObjectCollection>\n\
         {objects}</ObjectCollection><ColorSpecificationCollection>{}\
         </ColorSpecificationCollection></Resources></CxF>",
        specifications.concat()
    )
}

/// Three measurements of one sample, as print devices give them.
fn thrice() -> String {
    let values = [spectrum("a", "0.18"), spectrum("b", "0.20"), spectrum("c", "0.16")];
    let specifications = [("a", "M0_Incandescent"), ("b", "M1_Daylight"), ("c", "M2_UVExcluded")];
    let specifications = specifications.map(|(id, lit)| specification(id, lit, ""));
    document(&object("o1", &values), &specifications)
}

#[test]
fn a_sample_measured_thrice_is_asked_about_in_words() {
    check_told(
        &thrice(),
        None,
        &[(
            "line 2, object o1: has 3 spectra: a (M0), b (M1), c (M2)",
            "say which with `--measurement`: M0, M1, M2 (M0 was lit by a lamp, M1 by daylight",
        )],
    );
}

#[test]
fn one_measurement_is_chosen_by_its_light_or_its_specification() {
    for (wanted, value) in
        [("M0", 0.18), ("M1", 0.20), ("m2", 0.16), ("a", 0.18), ("b", 0.20), ("c", 0.16)]
    {
        let loaded = read(&thrice(), Some(wanted)).unwrap();
        let thread = &loaded.table.threads()[0];
        assert_eq!(thread.spectrum.as_ref().unwrap().values(), [value; 31], "{wanted}");
        assert_eq!(thread.color.origin(), Origin::Spectrum);
    }
    for wanted in ["M3", "A", "d"] {
        check_told(
            &thrice(),
            Some(wanted),
            &[(
                &format!("`{wanted}`: no measurement of this document is that"),
                "a (M0), b (M1), c (M2)",
            )],
        );
    }
}

#[test]
fn a_lab_of_each_measurement_comes_with_its_own_spectrum() {
    let values = [spectrum("a", "0.18"), spectrum("b", "0.20"), lab("a", "49.5"), lab("b", "51.8")];
    let specifications =
        [specification("a", "M0_Incandescent", "D50"), specification("b", "M1_Daylight", "D50")];
    let text = document(&object("o1", &values), &specifications);
    let which = "say which with `--measurement`: M0, M1 (";
    let told = "line 2, object o1: has 2 colors: a (M0) (D50/2°), b (M1) (D50/2°)";
    check_told(&text, None, &[(told, which)]);
    for (wanted, l, value) in [("M0", 49.5, 0.18), ("M1", 51.8, 0.20)] {
        let loaded = read(&text, Some(wanted)).unwrap();
        let thread = &loaded.table.threads()[0];
        assert!((thread.color.lab().l() - l).abs() < 1e-12);
        assert_eq!(thread.spectrum.as_ref().unwrap().values(), [value; 31]);
        assert_eq!(thread.color.conditions(), Conditions::parse("D50/2").unwrap());
    }
}

#[test]
fn a_lab_that_does_not_say_its_measurement_gets_the_spectrum_that_is_asked_for() {
    let values = [spectrum("a", "0.18"), spectrum("b", "0.20"), lab("s", "51.8")];
    let specifications = [
        specification("a", "M0_Incandescent", ""),
        specification("b", "M1_Daylight", ""),
        specification("s", "", "D50"),
    ];
    let text = document(&object("o1", &values), &specifications);
    let unasked = read(&text, None).unwrap();
    assert!(unasked.table.threads()[0].spectrum.is_none());
    let said = "no spectrum is kept; say which with `--measurement M1`";
    assert!(unasked.notices.iter().any(|it| it.text.contains(said)), "{:?}", unasked.notices);
    let asked = read(&text, Some("M1")).unwrap();
    let thread = &asked.table.threads()[0];
    assert!((thread.color.lab().l() - 51.8).abs() < 1e-12);
    assert_eq!(thread.spectrum.as_ref().unwrap().values(), [0.20; 31]);
    // The other spectrum does not give that Lab, which is said.
    let other = read(&text, Some("M0")).unwrap();
    assert!(other.notices.iter().any(|it| it.text.contains("differs from that of the spectrum")));
}

#[test]
fn objects_without_the_measurement_asked_for_are_named_and_none_is_taken_instead() {
    let objects = [
        object("o1", &[spectrum("a", "0.18"), spectrum("b", "0.20")]),
        object("o2", &[spectrum("a", "0.18")]),
        object("o3", &[lab("s", "50")]),
        object("o4", &[spectrum("a", "0.18"), lab("s", "50")]),
    ];
    let specifications = [
        specification("a", "M0_Incandescent", ""),
        specification("b", "M1_Daylight", ""),
        specification("s", "", "D50"),
    ];
    let text = document(&objects.concat(), &specifications);
    check_told(
        &text,
        Some("M1"),
        &[
            ("line 3, object o2: has nothing of M1, only of a (M0)", "another `--measurement`"),
            ("line 5, object o4: has nothing of M1, only of a (M0), s", "another"),
        ],
    );
    check_told(
        &text,
        Some("b"),
        &[
            ("line 3, object o2: has nothing of b", ""),
            ("line 4, object o3: has nothing of b, only of s", ""),
            ("line 5, object o4: has nothing of b", ""),
        ],
    );
}

#[test]
fn spectra_that_only_their_specifications_tell_apart_are_chosen_by_id() {
    let values = [spectrum("wet", "0.18"), spectrum("dry", "0.20")];
    let specifications = [specification("wet", "", ""), specification("dry", "Custom", "")];
    let text = document(&object("o1", &values), &specifications);
    let remedy = "say which with `--measurement`, such as `--measurement wet`";
    check_told(&text, None, &[("line 2, object o1: has 2 spectra: wet, dry", remedy)]);
    let loaded = read(&text, Some("dry")).unwrap();
    assert_eq!(loaded.table.threads()[0].spectrum.as_ref().unwrap().values(), [0.20; 31]);
    check_told(&text, Some("M1"), &[("`M1`: no measurement of this document", "dry, wet")]);
    let bare = document(&object("o1", &[lab("x", "50")]), &[]);
    check_told(&bare, Some("M1"), &[("`M1`: no measurement", "leave `--measurement` out")]);
}

#[test]
fn the_measurement_of_other_formats_is_not_looked_at() {
    let loaded = read("code,hex\nK-1,#4a6b3c\n", Some("M1")).unwrap();
    assert_eq!(loaded.table.threads().len(), 1);
}
