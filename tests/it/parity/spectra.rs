//! Reflectance spectra travel whole between client and server, and come back in tables as they were
//! read. It does not check what is computed from them: core's tests do.

use dyekin_core::{Catalog, Table};

use super::*;

/// A table of invented spectra on several grids, beside a thread without one.
const MEASURED: &str = "{\"threads\":[
{\"code\":\"K-1\",\"spectrum\":{\"start_nm\":400,\"step_nm\":10,\"values\":[0.05,0.05,0.05,0.06,0.06,0.06,0.07,0.07,0.08,0.1,0.12,0.15,0.19,0.22,0.24,0.24,0.23,0.21,0.18,0.16,0.14,0.13,0.12,0.12,0.12,0.12,0.13,0.14,0.16,0.18,0.2]}},
{\"code\":\"K-2\",\"spectrum\":{\"start_nm\":380,\"step_nm\":20,\"values\":[0.31,0.32,0.33,0.35,0.36,0.37,0.38,0.4,0.41,0.42,0.43,0.44,0.45,0.46,0.47,0.48,0.49,0.5000000000000001]}},
{\"code\":\"K-3\",\"lab\":[40.25,-2.5,11],\"illuminant\":\"D65\",\"observer\":10,\"origin\":\"meter\"}
]}";

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
    let mut there = Remote::connect(&format!("http://{}", server.address())).unwrap();
    let mut here = Embedded::new(catalog);
    let [old, new] = ["old", "new"].map(|name| TableId::parse(name).unwrap());
    let measure = Measure::plain(Formula::DEFAULT);
    let left = here.compare_tables(&old, &new, measure).unwrap();
    assert_eq!(left, there.compare_tables(&old, &new, measure).unwrap());
    let fields: Vec<&str> =
        left.others.iter().flat_map(|it| it.fields.iter().map(|f| f.as_str())).collect();
    assert_eq!(fields, ["spectrum"]);
    runtime.block_on(server.stop());
}
