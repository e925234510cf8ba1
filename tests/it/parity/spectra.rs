//! Reflectance spectra travel whole between client and server, and come back in tables as they were
//! read. It does not check what is computed from them: core's tests do.

use dyekin_core::spectrum::Lights;
use dyekin_core::{Catalog, Illuminant, Table};

use dyekin_client::backend::{Answers, Found};

use super::*;

/// A table of invented spectra on several grids, beside a thread without one.
const MEASURED: &str = "{\"threads\":[
{\"code\":\"K-1\",\"spectrum\":{\"start_nm\":400,\"step_nm\":10,\"values\":[0.05,0.05,0.05,0.06,0.06,0.06,0.07,0.07,0.08,0.1,0.12,0.15,0.19,0.22,0.24,0.24,0.23,0.21,0.18,0.16,0.14,0.13,0.12,0.12,0.12,0.12,0.13,0.14,0.16,0.18,0.2]}},
{\"code\":\"K-2\",\"spectrum\":{\"start_nm\":380,\"step_nm\":20,\"values\":[0.31,0.32,0.33,0.35,0.36,0.37,0.38,0.4,0.41,0.42,0.43,0.44,0.45,0.46,0.47,0.48,0.49,0.5000000000000001]}},
{\"code\":\"K-3\",\"lab\":[40.25,-2.5,11],\"illuminant\":\"D65\",\"observer\":10,\"origin\":\"meter\"}
]}";

const RANGE: &str = "../data/spectra/fallowmere.csv";

/// A catalog with spectra and without, and a server over it.
struct Lit {
    catalog: Catalog,
    served: Served,
}

impl Lit {
    fn start() -> Self {
        let range = fs::read(RANGE).unwrap();
        let range = table::read(&range, &read_options("fallowmere")).unwrap().table;
        let catalog = Catalog::build([range, load("ottersby"), measured("measured")]);
        let runtime = Runtime::new().unwrap();
        let server = runtime.block_on(TestServer::start(catalog.clone()));
        Self { catalog, served: Served { server: Some(server), runtime } }
    }
}

impl Dice {
    /// Some of the lights in some order, or none.
    fn lights(&mut self) -> Option<Lights> {
        let mut left = Illuminant::ALL.to_vec();
        let count = usize::try_from(self.roll(4)).unwrap();
        let draw = |_| left.swap_remove(usize::try_from(self.roll(left.len() as u64)).unwrap());
        let lights: Vec<Illuminant> = (0..count).map(draw).collect();
        Lights::new(&lights).ok()
    }
}

fn measured(name: &str) -> Table {
    table::read(MEASURED.as_bytes(), &read_options(name)).unwrap().table
}

#[test]
fn a_table_comes_back_with_the_spectra_it_was_imported_with() {
    let served = Served::start();
    let options = read_options("measured");
    let (mut here, mut there) = (Embedded::default(), served.remote());
    let left = here.import_table(MEASURED.as_bytes(), &options).unwrap();
    assert_eq!(left, there.import_table(MEASURED.as_bytes(), &options).unwrap());
    let (left, right) = (here.table(&options.id).unwrap(), there.table(&options.id).unwrap());
    assert_eq!(left.threads(), right.threads());
    assert_eq!(left.hash(), right.hash());
    assert_eq!(left.threads(), measured("measured").threads());
    let with = right.threads().iter().filter(|thread| thread.spectrum.is_some()).count();
    assert_eq!(with, 2);
    let asked = ThreadRef { table: options.id.clone(), code: Code::parse("K-2").unwrap() };
    let left = here.threads(std::slice::from_ref(&asked)).unwrap();
    assert_eq!(left, there.threads(&[asked]).unwrap());
}

#[test]
fn versions_of_a_table_that_differ_in_a_spectrum_say_so() {
    let changed = MEASURED.replacen("0.48", "0.480001", 1);
    let new = table::read(changed.as_bytes(), &read_options("new")).unwrap().table;
    let catalog = Catalog::build([measured("old"), new]);
    let runtime = Runtime::new().unwrap();
    let server = runtime.block_on(TestServer::start(catalog.clone()));
    let served = Served { server: Some(server), runtime };
    let (mut here, mut there) = (Embedded::new(catalog), served.remote());
    let [old, new] = ["old", "new"].map(|name| TableId::parse(name).unwrap());
    let measure = Measure::plain(Formula::DEFAULT);
    let left = here.compare_tables(&old, &new, measure).unwrap();
    assert_eq!(left, there.compare_tables(&old, &new, measure).unwrap());
    let fields: Vec<&str> =
        left.others.iter().flat_map(|it| it.fields.iter().map(|f| f.as_str())).collect();
    assert_eq!(fields, ["spectrum"]);
}

#[test]
fn matches_over_lights_are_the_same() {
    let Lit { catalog, served } = Lit::start();
    let (mut here, mut there) = (Embedded::new(catalog.clone()), served.remote());
    let mut dice = Dice(11);
    let (mut ranked, mut refused) = (0, 0);
    for round in 0..40 {
        let asked: Vec<ThreadRef> = (0..5).map(|_| dice.thread(&catalog)).collect();
        let options = NearestOptions {
            tables: Vec::new(),
            formula: dice.formula(),
            lights: dice.lights(),
            ..dice.options(&catalog)
        };
        let left = words(here.match_threads(&asked, &options, round % 2 == 0));
        let right = words(there.match_threads(&asked, &options, round % 2 == 0));
        let split = |answers: Answers<Found>| (kinds(answers.results), answers.tables);
        let (left, right) = (left.map(split), right.map(split));
        assert_eq!(left, right, "round {round}: {options:?}");
        for result in left.unwrap().0 {
            match result {
                Ok(found) => {
                    ranked += found
                        .matches
                        .iter()
                        .filter(|hit| hit.over_lights.as_ref().is_some_and(|told| told.ranked()))
                        .count()
                }
                Err(_) => refused += 1,
            }
        }
    }
    assert!(ranked > 100 && refused > 10, "{ranked} {refused}");
}

#[test]
fn substitutions_over_lights_are_the_same() {
    let Lit { catalog, served } = Lit::start();
    let (mut here, mut there) = (Embedded::new(catalog.clone()), served.remote());
    let held = catalog.table(&TableId::parse("fallowmere").unwrap()).unwrap().table().clone();
    let mut dice = Dice(12);
    for round in 0..10 {
        let rows: Vec<usize> =
            (0..6).map(|step| (7 * round + 11 * step) % held.threads().len()).collect();
        let thread = |row: &usize| {
            let thread = &held.threads()[*row];
            (ThreadRef { table: held.id().clone(), code: thread.code.clone() }, thread.color)
        };
        let colors = rows.iter().map(thread).map(|(thread, color)| ChartColor {
            color,
            stitches: 10 + dice.roll(90),
            threads: vec![thread],
            area: None,
        });
        let palette = PaletteSummary::new(colors.collect(), None, None).unwrap();
        let ask = Ask {
            keeps: Vec::new(),
            answers: Vec::new(),
            tables: vec![held.id().clone()],
            filter: ThreadFilter::default(),
            ..dice.ask(&catalog)
        };
        let options = SubstituteOptions {
            missing: rows.iter().take(3).map(thread).map(|(thread, _)| thread).collect(),
            allow_used: false,
            limit: Some(DeltaE::new(2.0).unwrap()),
            min_apart: DeltaE::new(1.0).unwrap(),
            keep_lightness: false,
            keep_outlines: false,
            lights: dice.lights(),
            stock: None,
            staying: Vec::new(),
        };
        let left = words(here.substitute(&palette, &ask, &options, &Patient));
        let right = words(there.substitute(&palette, &ask, &options, &Patient));
        assert_eq!(left, right, "round {round}: {options:?}");
        let list = left.unwrap();
        assert_eq!(list.joint.as_ref().unwrap().lights, options.lights);
        assert!(list.changes.iter().all(|change| change.after[0].over_lights.is_some()));
    }
}

#[test]
fn commands_over_lights_say_the_same_words() {
    let Lit { served, .. } = Lit::start();
    for typed in [
        "match fallowmere:FM-3J5 -n 2",
        "match fallowmere:FM-3J5 --details --lights daylight,lamp,led",
        "match fallowmere:FM-3J5 #4a6b3c --lights fl11",
        "match fallowmere:FM-3J5 --json --lights LED-B3,A --within 1",
        "match fallowmere:FM-3J5 --lights lamp,lamp",
    ] {
        let asked: Vec<String> = typed.split_whitespace().map(str::to_owned).collect();
        let table = |name: &str| ["--table".to_owned(), name.to_owned()];
        let here = [asked.clone(), table(RANGE).to_vec(), table(&file("ottersby")).to_vec()];
        let server = vec!["--server".to_owned(), served.url()];
        let tables = [table("fallowmere"), table("ottersby")].concat();
        let there = [asked, tables, server];
        assert_eq!(said(&here.concat()), said(&there.concat()), "{typed}");
    }
}

#[test]
fn what_a_file_leaves_open_is_asked_for_and_answered_alike() {
    let Lit { served, .. } = Lit::start();
    let (mut here, mut there) = (Embedded::default(), served.remote());
    let swatches = fs::read("data/inputs/swatches-rgb-lab-cmyk-gray.ase").unwrap();
    // The swatches of RGB and Lab alone: the file says how many blocks it has.
    let mut swatches = swatches[..126].to_vec();
    swatches[11] = 3;
    let thrice = fs::read("data/cli/thrice.cxf").unwrap();
    let white = Conditions::parse("D50/2");
    for (bytes, conditions, measurement, loads) in [
        (&swatches, None, None, false),
        (&swatches, white, None, true),
        (&thrice, None, None, false),
        (&thrice, None, Some("M1"), true),
        (&thrice, None, Some("cs-cut"), true),
        (&thrice, None, Some("M3"), false),
    ] {
        let measurement = measurement.map(str::to_owned);
        let options = ReadOptions { conditions, measurement, ..read_options("open") };
        let left = here.import_table(bytes, &options);
        assert_eq!(left, there.import_table(bytes, &options), "{options:?}");
        assert_eq!(left.is_ok(), loads, "{options:?}: {left:?}");
    }
    for typed in
        ["table check data/cli/thrice.cxf", "table check data/cli/thrice.cxf --measurement M2"]
    {
        let asked: Vec<String> = typed.split_whitespace().map(str::to_owned).collect();
        let there = [asked.clone(), vec!["--server".to_owned(), served.url()]].concat();
        assert_eq!(said(&asked), said(&there), "{typed}");
    }
}
