//! Outside check of conversions: optima that the solver of scipy 1.17.1 (PyPI) proved for 24 small
//! invented palettes, made by `tests/python/optima.py`. Tolerance: 1e-6 relative, that of the solver.

use dyekin_core::planner::{ConvertOptions, RangePrice, Supply};
use dyekin_core::{Code, Conditions, Lab, Origin, Thread};
use serde_json::Value;

use super::*;

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn color(lab: &Value) -> dyekin_core::Color {
    let lab = Lab::new(number(&lab[0]), number(&lab[1]), number(&lab[2])).expect("a Lab");
    dyekin_core::Color::lab_under(lab, Conditions::TEXTILE, Origin::Meter)
}

fn range(number: usize) -> TableId {
    TableId::parse(&format!("range-{number}")).expect("an id")
}

fn code(row: usize) -> Code {
    Code::parse(&format!("T-{row:03}")).expect("a code")
}

fn tables(case: &Value) -> Catalog {
    let table = |(place, threads): (usize, &Value)| {
        let threads = threads.as_array().expect("threads").iter().enumerate();
        let threads = threads.map(|(row, lab)| Thread::plain(code(row), "", color(lab)));
        Table::new(range(place), threads.collect()).expect("a table")
    };
    Catalog::build(case["ranges"].as_array().expect("ranges").iter().enumerate().map(table))
}

fn palette(case: &Value) -> PaletteSummary {
    let color = |lab: &Value| ChartColor {
        color: color(lab),
        stitches: lab[3].as_u64().expect("stitches"),
        threads: Vec::new(),
        area: None,
    };
    let colors = case["colors"].as_array().expect("colors").iter().map(color).collect();
    PaletteSummary::new(colors, None, None).expect("a palette")
}

fn options(case: &Value, kind: &str) -> ConvertOptions {
    let ranges = case["ranges"].as_array().expect("ranges");
    let each = ranges[0].as_array().expect("threads").len();
    let units = |value: &Value| DeltaE::new(number(value)).expect("a difference");
    let supply = match kind {
        "ranges" | "both" => {
            let price = units(&case["price"]);
            let priced = |place| RangePrice { table: range(place), price };
            Supply::Priced((1..ranges.len()).map(priced).collect())
        }
        "own" => {
            let places = case["own"].as_array().expect("places").iter();
            let places = places.map(|place| usize::try_from(place.as_u64().unwrap()).unwrap());
            let thread = |place| ThreadRef { table: range(place / each), code: code(place % each) };
            let buy_within = Some(units(&case["limit"]));
            Supply::Owned { threads: places.map(thread).collect(), buy_within }
        }
        _ => Supply::All,
    };
    let distinct = matches!(kind, "both" | "distinct").then(DeltaE::default);
    ConvertOptions { supply, distinct }
}

#[test]
fn conversions_reach_the_optima_of_another_solver() {
    let path = dyekin_tests::data().join("reference/conversion_optima.json");
    let text = std::fs::read_to_string(path).expect("the instances");
    let cases: Vec<Value> = serde_json::from_str(&text).expect("JSON");
    assert_eq!(cases.len(), 24);
    for (number_of, case) in cases.iter().enumerate() {
        let kind = case["kind"].as_str().expect("a kind");
        let ask = Ask { formula: Formula::Cie76, ..ask(&[]) };
        let options = options(case, kind);
        let list =
            convert(&tables(case), &palette(case), &ask, &options, &Patient).expect("a list");
        let mean = list.totals.mean_difference.value();
        let (found, proved) = match (&list.ranges, &list.own) {
            (Some(report), _) => (report.cost.value(), report.proved_best),
            (_, Some(report)) => {
                let bought = case["optimum"]["buy"].as_u64().expect("a count");
                assert_eq!(report.purchases.len() as u64, bought, "{number_of}");
                (mean, report.proved_fewest)
            }
            (None, None) => (mean, list.totals.proved_best),
        };
        let best = number(&case["optimum"]["cost"]);
        assert!((found - best).abs() <= 1e-6 * best, "{number_of} {kind}: {found} {best}");
        assert!(proved, "{number_of} {kind}");
    }
}
