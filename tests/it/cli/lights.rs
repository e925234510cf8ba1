//! Whether a match holds under other lights: told unasked, ranked by on request, refused plainly.
//! It does not know how a spectrum is weighted.

use serde_json::Value;

use super::{Exit, Folder, POND, WIDE, dyekin, golden};

const RANGE: &str = "../data/spectra/fallowmere.csv";
const KITE: &str = "data/cli/kite.csv";

fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn answer(args: &[&str]) -> Value {
    let said = dyekin(&[args, &["--table", RANGE, "--json"]].concat());
    serde_json::from_str(&said.out).unwrap_or_else(|_| panic!("{}", said.err))
}

#[test]
fn a_match_that_drifts_under_another_light_says_so_unasked() {
    let name = "a_match_that_drifts_under_another_light_says_so_unasked";
    let said = golden(name, None, WIDE, &["match", "FM-3J5", "--table", RANGE]);
    assert_eq!(said.exit, Exit::Done);
    let found = unwrapped(&said.out);
    assert!(found.contains("under lamp light visible side by side (3.56)"), "{found}");
    // The one that holds says nothing.
    let second = found.split(" 2 fallowmere ").nth(1).unwrap();
    assert!(!second.split(" 3 fallowmere ").next().unwrap().contains("under"), "{second}");
}

#[test]
fn lights_rank_by_the_worst_of_them() {
    let name = "lights_rank_by_the_worst_of_them";
    let args = ["match", "FM-3J5", "--table", RANGE, "--lights", "daylight,lamp,led", "--details"];
    let said = golden(name, None, WIDE, &args);
    assert_eq!(said.exit, Exit::Done);
    assert!(said.out.lines().nth(2).unwrap().starts_with("1 fallowmere FM-5D7"), "{}", said.out);
    let found = answer(&["match", "FM-3J5", "--lights", "daylight,lamp,led", "-n", "70"]);
    assert_eq!(found["lights"], serde_json::json!(["D65", "A", "LED-B3"]));
    let matches = found["answers"][0]["matches"].as_array().unwrap();
    assert_eq!(matches.len(), 70);
    let mut before = 0.0;
    for hit in matches {
        let told = &hit["over_lights"];
        let each = told["lights"].as_array().unwrap().iter();
        let worst = each.map(|light| light["difference"].as_f64().unwrap()).fold(0.0, f64::max);
        assert_eq!(
            (told["ranked"].as_bool(), hit["difference"].as_f64()),
            (Some(true), Some(worst))
        );
        assert!(worst >= before, "{hit}");
        before = worst;
    }
}

#[test]
fn without_lights_json_tells_the_usual_three() {
    let found = answer(&["match", "FM-3J5", "-n", "1"]);
    assert_eq!((&found["lights"], &found["answers"][0]["left_out"]), (&Value::Null, &0.into()));
    let told = &found["answers"][0]["matches"][0]["over_lights"];
    assert_eq!(
        (&told["worst"], &told["ranked"], &told["observer"]),
        (&"A".into(), &false.into(), &10.into())
    );
    let lights: Vec<&Value> =
        told["lights"].as_array().unwrap().iter().map(|it| &it["light"]).collect();
    assert_eq!(lights, ["D65", "A", "LED-B3"]);
    assert_eq!(told["lights"][0]["metamerism"], Value::Null);
    assert!(told["lights"][1]["metamerism"].as_f64().unwrap() > 1.0);
}

#[test]
fn colors_without_a_spectrum_are_refused_and_threads_without_one_counted() {
    let name = "colors_without_a_spectrum_are_refused_and_threads_without_one_counted";
    let args = [
        "match", "FM-3J5", "#4a6b3c", "--table", RANGE, "--table", POND, "--lights", "lamp", "-n",
        "1",
    ];
    let said = golden(name, None, WIDE, &args);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.out.contains("without a reflectance spectrum"), "{}", said.out);
    assert!(said.err.contains("no reflectance spectrum"), "{}", said.err);
    let none = dyekin(&[
        "match",
        "fallowmere:FM-3J5",
        "--table",
        RANGE,
        "--lights",
        "lamp",
        "--finish",
        "metallic",
    ]);
    assert_eq!(none.exit, Exit::NothingMatched);
}

#[test]
fn names_of_lights_are_those_of_people_and_of_the_cie() {
    for (typed, refused) in [
        ("daylight,lamp,led", None),
        ("D50,D65,A,FL2,FL11,LED-B3", None),
        ("Lamp, LED", None),
        ("candle", Some("--lights `candle`: not a known light")),
        ("lamp,A", Some("--lights `A`: the light stands twice")),
        ("", Some("--lights not a known light")),
    ] {
        let said = dyekin(&["match", "FM-3J5", "--table", RANGE, "--lights", typed]);
        match refused {
            None => assert_eq!(said.exit, Exit::Done, "{typed}: {}", said.err),
            Some(refusal) => {
                assert_eq!(said.exit, Exit::Input);
                assert!(
                    said.err.contains(refusal) && said.err.contains("daylight, lamp, led"),
                    "{}",
                    said.err
                );
            }
        }
    }
}

#[test]
fn stand_ins_hold_under_the_lights_asked_for() {
    let folder = Folder::new("lights");
    let (plain, lit) = (folder.path("plain.json"), folder.path("lit.json"));
    let args = |out| {
        [
            "substitute",
            KITE,
            "--table",
            RANGE,
            "--from",
            "fallowmere",
            "--missing",
            "FM-3J5,FM-3H5",
            "-o",
            out,
        ]
    };
    let said = dyekin(&args(&plain));
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(unwrapped(&said.out).contains("; under "), "{}", said.out);
    let changes = folder.path("changes.json");
    let more = ["--lights", "daylight,lamp,led", "--changes", &changes];
    let name = "stand_ins_hold_under_the_lights_asked_for";
    let said = golden(name, Some(&folder), WIDE, &[&args(&lit)[..], &more].concat());
    assert!(unwrapped(&said.out).contains(", worst under "), "{}", said.out);
    let file: Value = serde_json::from_str(&folder.text("changes.json")).unwrap();
    assert_eq!(file["settings"]["lights"], "D65,A,LED-B3");
    let after = &file["changes"][0]["after"][0];
    let under = after["lights"].as_array().unwrap().iter();
    let (lights, differences): (Vec<&str>, Vec<f64>) =
        under.map(|it| (it["light"].as_str().unwrap(), it["difference"].as_f64().unwrap())).unzip();
    assert_eq!(lights, ["D65", "A", "LED-B3"]);
    // The difference of the change is that under the worst light.
    let worst = differences.iter().copied().fold(0.0, f64::max);
    assert!((worst - after["difference"].as_f64().unwrap()).abs() < 1e-12);
    let bytes = folder.text("changes.json").into_bytes();
    let again = dyekin_client::change_file::read(&bytes, "changes.json").unwrap();
    assert_eq!(again.to_json(), bytes);
    let third = folder.path("third.json");
    let typed = [&args(&third)[..], &["--lights", "led", "--json"]].concat();
    let found: Value = serde_json::from_str(&dyekin(&typed).out).unwrap();
    assert_eq!(found["joint"]["lights"], serde_json::json!(["LED-B3"]));
    assert_eq!(found["changes"][0]["after"][0]["over_lights"]["ranked"], true);
}
