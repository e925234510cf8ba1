//! Color exchange documents with injuries that no stored file shows: each gets the right value or a
//! clear refusal. It does not know how the reader works.

#![cfg(test)]

#[path = "support/reading.rs"]
mod reading;

use dyekin_core::table::{self, Loaded, ReadOptions};
use dyekin_core::{Conditions, Illuminant, Observer, Origin, TableId, Thread};
use reading::{check_told, loaded, told};

const D50: Conditions = Conditions { illuminant: Illuminant::D50, observer: Observer::TwoDegree };

fn options() -> ReadOptions {
    ReadOptions {
        id: TableId::from_any("exchanged"),
        source_name: "t.cxf".into(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    }
}

fn notices(loaded: &Loaded) -> Vec<&str> {
    loaded.notices.iter().map(|notice| notice.text.as_str()).collect()
}

fn lab(thread: &Thread) -> Vec<f64> {
    let lab = thread.color.lab();
    vec![lab.l(), lab.a(), lab.b()]
}

const NAMESPACE: &str = "http://colorexchangeformat.com/CxF3-core";

/// A specification of measured reflectance under a light and observer.
fn specification(id: &str, light: &str, observer: &str) -> String {
    format!(
        "<ColorSpecification Id=\"{id}\"><TristimulusSpec><Illuminant>{light}</Illuminant>\
         <Observer>{observer}</Observer></TristimulusSpec><MeasurementSpec>\
         <MeasurementType>Spectrum_Reflectance</MeasurementType></MeasurementSpec>\
         </ColorSpecification>\n"
    )
}

fn object(id: &str, values: &str) -> String {
    format!(
        "<Object ObjectType=\"Standard\" Id=\"{id}\" Name=\"Moss {id}\"><ColorValues>{values}</ColorValues></Object>\n"
    )
}

fn lab_value(specification: &str, [l, a, b]: [&str; 3]) -> String {
    format!(
        "<ColorCIELab ColorSpecification=\"{specification}\"><L>{l}</L><A>{a}</A><B>{b}</B></ColorCIELab>"
    )
}

/// A document; its first object stands on line 2.
fn document(objects: &str, specifications: &str) -> String {
    format!(
        "<CxF xmlns=\"{NAMESPACE}\"><Resources><ObjectCollection>\n{objects}</ObjectCollection>\
         <ColorSpecificationCollection>{specifications}</ColorSpecificationCollection>\
         </Resources></CxF>"
    )
}

#[test]
fn elements_are_known_by_namespace_and_not_by_prefix() {
    let objects = object("o1", &lab_value("s", ["42.15", "-18.3", "22.75"]));
    let plain = document(&objects, &specification("s", "D50", "2_Degree"));
    let prefixed = plain
        .replace("xmlns=", "xmlns:q=")
        .replace("</", "\u{1}")
        .replace('<', "<q:")
        .replace('\u{1}', "</q:");
    let foreign = plain.replace(
        "<ColorValues>",
        "<x:ColorValues xmlns:x=\"urn:x\"><x:ColorCIELab/></x:ColorValues><ColorValues>",
    );
    for text in [&plain, &prefixed, &foreign] {
        let loaded = loaded(text);
        let thread = &loaded.table.threads()[0];
        assert_eq!((thread.code.as_str(), thread.name.as_str()), ("o1", "Moss o1"));
        assert_eq!(lab(thread), [42.15, -18.3, 22.75]);
        assert_eq!(thread.color.conditions(), D50);
        assert_eq!(thread.color.origin(), Origin::Meter);
        assert_eq!(
            notices(&loaded),
            [
                "1 row whose specification says measured reflectance: origin meter; say otherwise with `--origin`"
            ]
        );
    }
    let other = plain.replace(NAMESPACE, "urn:other");
    check_told(
        &other,
        &[("line 1: a CxF document whose elements are not in the namespace", NAMESPACE)],
    );
    let html = "<html><body/></html>";
    check_told(html, &[("this is an XML or HTML document, not a thread table", "save it as CSV")]);
    let html = "<!DOCTYPE html><html/>";
    check_told(html, &[("this is an XML or HTML document, not a thread table", "save it as CSV")]);
}

#[test]
fn one_of_several_colors_is_chosen_by_its_specification_only() {
    let values = [lab_value("s1", ["50", "1", "2"]), lab_value("s2", ["51", "3", "4"])].concat();
    let specifications =
        [specification("s1", "D50", "2_Degree"), specification("s2", "D65", "10_Degree")].concat();
    let text = document(&object("o1", &values), &specifications);
    check_told(
        &text,
        &[(
            "line 2, object o1 `Moss o1`: has 2 colors: s1 (D50/2°), s2 (D65/10°)",
            "--white D65/10",
        )],
    );
    for (white, expected) in [("D50/2", [50.0, 1.0, 2.0]), ("D65/10", [51.0, 3.0, 4.0])] {
        let said = ReadOptions { conditions: Conditions::parse(white), ..options() };
        let loaded = table::read(text.as_bytes(), &said).unwrap();
        assert_eq!(lab(&loaded.table.threads()[0]), expected);
        assert_eq!(Some(loaded.table.threads()[0].color.conditions()), Conditions::parse(white));
    }
    let alike = text.replace("D65", "D50").replace("10_Degree", "2_Degree");
    check_told(&alike, &[("line 2, object o1 `Moss o1`: has 2 colors", "`--measurement s1`")]);
    let same = alike.replace(">51<", ">50<").replace(">3<", ">1<").replace(">4<", ">2<");
    assert_eq!(lab(&loaded(&same).table.threads()[0]), [50.0, 1.0, 2.0]);
}

#[test]
fn every_object_that_gives_no_color_is_told_by_name() {
    let spectrum = "<ReflectanceSpectrum ColorSpecification=\"s\" StartWL=\"400\">0.1 0.2</ReflectanceSpectrum>";
    let objects = [
        object("o1", spectrum),
        object("o2", ""),
        object("o3", "<ColorCMYK><Cyan>1</Cyan></ColorCMYK>"),
        object("o4", &lab_value("s", ["103", "x", ""])),
        object("o5", &format!("{spectrum}{}", lab_value("s", ["50", "0", "0"]))),
    ];
    check_told(
        &document(&objects.concat(), &specification("s", "D65", "10_Degree")),
        &[
            ("line 2, object o1 `Moss o1`: `s`: this specification states no first", "Increment"),
            ("line 3, object o2 `Moss o2`: holds no color", "ColorCIELab"),
            ("line 4, object o3 `Moss o3`: holds only ColorCMYK, which is not read", "ColorCIELab"),
            ("line 5, object o4 `Moss o4`, A: `x`: not a number", "42.15"),
            ("line 5, object o4 `Moss o4`, B: the value is missing", "write the number"),
            ("line 5, object o4 `Moss o4`, L: `103` is not a usable color", "from 0 to 102"),
        ],
    );
}

#[test]
fn other_color_spaces_are_converted_and_said() {
    let lch = "<ColorCIELCh ColorSpecification=\"s\"><L>50</L><C>20</C><H>90</H></ColorCIELCh>";
    let xyz =
        "<ColorCIEXYZ ColorSpecification=\"s\"><X>47.4055</X><Y>50</Y><Z>53.6525</Z></ColorCIEXYZ>";
    let srgb = "<ColorSRGB ColorSpecification=\"s\"><R>74</R><G>107</G><B>60</B></ColorSRGB>";
    let wide = "<ColorSRGB ColorSpecification=\"s\"><MaxRange>65535</MaxRange><R>19018</R><G>27499</G><B>15420</B></ColorSRGB>";
    let objects =
        [object("o1", lch), object("o2", xyz), object("o3", srgb), object("o4", wide)].concat();
    let loaded = loaded(&document(&objects, &specification("s", "D65", "10_Degree")));
    let threads = loaded.table.threads();
    assert!((lab(&threads[0])[2] - 20.0).abs() < 1e-9 && lab(&threads[0])[1].abs() < 1e-9);
    assert!((lab(&threads[1])[0] - 76.069).abs() < 1e-3 && lab(&threads[1])[1].abs() < 1e-3);
    for thread in &threads[2..] {
        assert_eq!(thread.color.listed_srgb().unwrap().to_string(), "#4a6b3c");
    }
    let told = notices(&loaded);
    for text in [
        "1 row with L*, C* and hue: converted to CIELAB",
        "1 row with X, Y, Z: converted to CIELAB",
        "X, Y, Z are converted with the white of D65/10°: 94.811 100.000 107.305",
        "1 row with sRGB on another scale than 0 to 255: rounded to 8 bits",
    ] {
        assert!(told.contains(&text), "{text}: {told:#?}");
    }
    let bad = object("o1", &srgb.replace(">74<", ">300<").replace(">60<", ">1.5<"));
    check_told(
        &document(&bad, ""),
        &[
            ("line 2, object o1 `Moss o1`, R: `300` is not a usable color", "clipped"),
            ("line 2, object o1 `Moss o1`, B: `1.5` is not a usable color", "clipped"),
        ],
    );
}

#[test]
fn light_and_observer_that_are_missing_are_asked_for_and_unknown_ones_refused() {
    let objects = object("o1", &lab_value("nowhere", ["50", "0", "0"]));
    let none = loaded(&document(&objects, ""));
    let told = notices(&none);
    assert!(
        told.iter().any(|text| text.contains("taken as D65/10°; say otherwise with `--white")),
        "{told:?}"
    );
    assert!(told.iter().any(|text| text.contains("`--origin meter`")), "{told:?}");
    let objects = object("o1", &lab_value("s", ["50", "0", "0"]));
    let specifications =
        [specification("s", "TL84", "Custom_CMF"), specification("unused", "E", "x")];
    check_told(
        &document(&objects, &specifications.concat()),
        &[
            ("line 3, specification s: `TL84`: an illuminant that is not known here", "D65"),
            ("line 3, specification s: `Custom_CMF`: an observer that is not known", "10_Degree"),
        ],
    );
}

#[test]
fn measured_colors_under_two_lights_do_not_share_a_table() {
    let objects = [
        object("o1", &lab_value("s1", ["50", "0", "0"])),
        object("o2", &lab_value("s2", ["60", "0", "0"])),
    ];
    let specifications =
        [specification("s1", "D50", "2_Degree"), specification("s2", "D65", "10_Degree")];
    check_told(
        &document(&objects.concat(), &specifications.concat()),
        &[("line 3: `D65/10°`: a second light or observer", "one table for each light")],
    );
}

#[test]
fn ids_that_collide_are_told() {
    let objects = [
        object("o1", &lab_value("s", ["50", "0", "0"])),
        object("O1", &lab_value("s", ["60", "0", "0"])),
    ];
    let specifications = [specification("s", "D65", "10_Degree"), specification("s", "D50", "2")];
    check_told(
        &document(&objects.concat(), &specifications.concat()),
        &[
            ("line 2, column code: code `o1` stands on lines 2, 3", "one row"),
            ("line 5: a second specification s, after line 4", "its own Id"),
        ],
    );
}

#[test]
fn entities_depth_and_size_are_bounded() {
    let bomb = format!(
        "<!DOCTYPE CxF [<!ENTITY a \"aaaa\"><!ENTITY b \"&a;&a;&a;\">]>\n{}",
        document(&object("o1", "&b;"), "")
    );
    check_told(&bomb, &[("line 1: a document type (DTD)", "DOCTYPE")]);
    let entity = document(&object("o1", "&b;"), "");
    check_told(
        &entity,
        &[
            ("line 2: the entity &b; is not known", "characters themselves"),
            ("line 2, object o1 `Moss o1`: holds no color", ""),
        ],
    );
    let deep = document(&"<x>".repeat(100_000), "");
    check_told(&deep, &[("line 2: nested deeper than 64 levels", "again")]);
    let long = document(&object("o1", &lab_value("s", [&"1".repeat(70_000), "0", "0"])), "");
    check_told(&long, &[("line 2: bytes of text in one element: 70000, the limit is 65536", "")]);
    let bindings: String = (0..1_000).map(|n| format!(" xmlns:p{n}=\"u\"")).collect();
    let many =
        document(&object("o1", ""), "").replace("<Resources>", &format!("<Resources{bindings}>"));
    let told = told(&many);
    assert!(told[0].starts_with("line 1: not well-formed XML"), "{told:?}");
}

#[test]
fn characters_may_be_written_as_references_or_in_sections() {
    let objects = object("o1", &lab_value("s", ["<![CDATA[50]]>", "&#45;1", "2"]))
        .replace("Moss o1", "Moss &amp; &#x49;ce &quot;5&quot;");
    let loaded = loaded(&document(&objects, &specification("s", "D65", "10_Degree")));
    let thread = &loaded.table.threads()[0];
    assert_eq!(thread.name, "Moss & Ice \"5\"");
    assert_eq!(lab(thread), [50.0, -1.0, 2.0]);
    let bad = objects.replace("&amp;", "&moss;");
    let told = told(&document(&bad, &specification("s", "D65", "10_Degree")));
    assert!(told[0].starts_with("line 2: attribute Name: "), "{told:?}");
}

#[test]
fn documents_that_end_early_or_are_not_well_formed_are_refused_with_the_line() {
    let whole = document(
        &object("o1", &lab_value("s", ["50", "0", "0"])),
        &specification("s", "D65", "10_Degree"),
    );
    for end in (1..whole.len()).filter(|end| whole.is_char_boundary(*end)) {
        let told = told(&whole[..end]);
        assert_eq!(told.len(), 1, "{}: {told:?}", &whole[..end]);
    }
    let crossed = whole.replace("</L>", "</A>");
    let told = told(&crossed);
    assert!(told[0].starts_with("line 2: not well-formed XML: "), "{told:?}");
    let hostile =
        reading::told(&whole.replace("</L>", &format!("</L\u{1b}{}>", "L".repeat(1_000))));
    assert!(hostile[0].contains("\\u{1b}") && hostile[0].len() < 300, "{hostile:?}");
    check_told(&format!("{whole}{whole}"), &[("line 4: a second CxF document", "its own file")]);
    let twice = whole.replace("Id=\"o1\"", "Id=\"o1\" Id=\"o2\"");
    assert_ne!(twice, whole);
    check_told(&twice, &[("line 2: not well-formed XML: ", "the file is damaged")]);
}

/// A specification of spectra at 10 nm from 400 nm.
fn range(id: &str) -> String {
    format!(
        "<ColorSpecification Id=\"{id}\"><MeasurementSpec><WavelengthRange StartWL=\"400\" \
         Increment=\"10.0\"/></MeasurementSpec></ColorSpecification>\n"
    )
}

fn spectrum(specification: &str, values: &str) -> String {
    format!(
        "<ReflectanceSpectrum ColorSpecification=\"{specification}\">{values}</ReflectanceSpectrum>"
    )
}

#[test]
fn an_object_with_a_spectrum_only_gives_the_lab_of_the_light_that_is_asked_for() {
    let gray = vec!["0.18"; 31].join(" ");
    let text = document(&object("o1", &spectrum("w", &gray)), &range("w"));
    for (white, expected) in [(None, Conditions::TEXTILE), (Some(D50), D50)] {
        let loaded =
            table::read(text.as_bytes(), &ReadOptions { conditions: white, ..options() }).unwrap();
        let thread = &loaded.table.threads()[0];
        assert!((lab(thread)[0] - 49.496_1).abs() < 1e-3, "{:?}", lab(thread));
        assert_eq!(
            (thread.color.conditions(), thread.color.origin()),
            (expected, Origin::Spectrum)
        );
        let said = format!("1 row with a reflectance spectrum: Lab is computed for {expected}");
        assert!(notices(&loaded)[0].starts_with(&said), "{:?}", loaded.notices);
    }
    let start = text.replace("\"w\">0.18", "\"w\" StartWL=\"380\">0.18");
    check_told(&start, &[("line 2, object o1 `Moss o1`: `380 to 680 nm`: a color needs", "")]);
    let bad = text.replacen("0.18", "x", 1);
    check_told(&bad, &[("line 2, object o1 `Moss o1`: `x`: not a number", "42.15")]);
    let two = text.replace("</ColorValues>", &(spectrum("v", "0.2 0.3") + "</ColorValues>"));
    check_told(&two, &[("line 2, object o1 `Moss o1`: has 2 spectra: w, v", "`--measurement w`")]);
}

#[test]
fn a_lab_that_its_spectrum_does_not_give_is_said() {
    let gray = spectrum("w", &vec!["0.18"; 31].join(" "));
    let specifications = specification("s", "D65", "10_Degree") + &range("w");
    for (l, end) in [("49.5", "the Lab is read, and agrees"), ("52.5", "by up to 3.0 (CIEDE2000)")]
    {
        let values = format!("{gray}{}", lab_value("s", [l, "0", "0"]));
        let loaded = loaded(&document(&object("o1", &values), &specifications));
        assert!(notices(&loaded).iter().any(|text| text.contains(end)), "{:?}", loaded.notices);
        assert_eq!(lab(&loaded.table.threads()[0])[0].to_string(), l);
        assert_eq!(loaded.table.threads()[0].spectrum.as_ref().unwrap().values(), [0.18; 31]);
    }
}

#[test]
fn of_several_spectra_beside_a_lab_that_of_its_own_specification_is_kept() {
    let gray = |id: &str, value: &str| spectrum(id, &vec![value; 31].join(" "));
    let read = |id: &str| {
        let specifications = specification("s", "D65", "10_Degree") + &range("v") + &range("w");
        let specifications = specifications.replacen("Id=\"s\"", &format!("Id=\"{id}\""), 1);
        let specifications = match id {
            "v" => {
                specification("v", "D65", "10_Degree").replace(
                    "</MeasurementSpec>",
                    "<WavelengthRange StartWL=\"400\" Increment=\"10\"/></MeasurementSpec>",
                ) + &range("w")
            }
            _ => specifications,
        };
        let values = gray("v", "0.18") + &gray("w", "0.17") + &lab_value(id, ["49.5", "0", "0"]);
        loaded(&document(&object("o1", &values), &specifications))
    };
    let own = read("v");
    assert_eq!(own.table.threads()[0].spectrum.as_ref().unwrap().values(), [0.18; 31]);
    let none = read("s");
    assert!(none.table.threads()[0].spectrum.is_none());
    assert!(notices(&none).iter().any(|it| it.contains("several spectra")), "{:?}", none.notices);
}
