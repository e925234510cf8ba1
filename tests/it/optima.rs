//! The planner against best answers that an outside solver proved: `HiGHS` through scipy's `milp`,
//! stored by `tests/python/reductions.py`. It does not know how either of them searches.

use std::fs;

use dyekin_core::change::Weighing;
use dyekin_core::nearest::ThreadFilter;
use dyekin_core::palette::ChartColor;
use dyekin_core::planner::{
    Answered, Ask, Keep, Money, ReduceOptions, SubstituteOptions, ThreadStock, reduce, substitute,
};
use dyekin_core::table::Price;
use dyekin_core::watch::Patient;
use dyekin_core::{
    Catalog, ChangeList, Code, Color, Conditions, DeltaE, Error, ErrorKind, Formula, Lab, Origin,
    PaletteSummary, Table, TableId, Thread, ThreadRef,
};
use serde_json::Value;

/// Largest difference from the stored optimum, relative to it.
const TOLERANCE: f64 = 1e-6;

fn number(value: &Value) -> Option<f64> {
    value.as_f64()
}

fn place(value: &Value) -> usize {
    usize::try_from(value.as_u64().unwrap()).unwrap()
}

fn places(value: &Value) -> Vec<usize> {
    value.as_array().map_or_else(Vec::new, |list| list.iter().map(place).collect())
}

fn delta_e(value: f64) -> DeltaE {
    DeltaE::new(value).unwrap()
}

fn color(lab: &Value) -> Color {
    let [l, a, b] = [0, 1, 2].map(|part| lab[part].as_f64().unwrap());
    Color::lab_under(Lab::new(l, a, b).unwrap(), Conditions::SCREEN, Origin::Screen)
}

fn thread(place: usize) -> ThreadRef {
    let code = Code::parse(&format!("T-{place:03}")).unwrap();
    ThreadRef { table: TableId::parse("proved").unwrap(), code }
}

fn table(threads: &Value) -> Table {
    let made = threads.as_array().unwrap().iter().enumerate().map(|(place, held)| {
        let mut made = Thread::plain(thread(place).code, "", color(&held["lab"]));
        made.skein_metres = number(&held["skein_meters"]);
        let price = number(&held["price"]);
        made.price = price.map(|price| {
            let text = format!("{price:.6}").replace('.', "");
            Price { micros: text.parse().unwrap(), currency: None }
        });
        made
    });
    Table::new(TableId::parse("proved").unwrap(), made.collect()).unwrap()
}

fn palette(colors: &Value) -> PaletteSummary {
    let made = colors.as_array().unwrap().iter().map(|held| ChartColor {
        color: color(&held["lab"]),
        stitches: held["stitches"].as_u64().unwrap(),
        threads: held["thread"]
            .as_u64()
            .map(|_| thread(place(&held["thread"])))
            .into_iter()
            .collect(),
        area: None,
    });
    PaletteSummary::new(made.collect(), None, None).unwrap()
}

fn ask(question: &Value) -> Ask {
    let colors = places(&question["kept_colors"]).into_iter().map(Keep::Color);
    let threads =
        places(&question["kept_threads"]).into_iter().map(|place| Keep::Thread(thread(place)));
    let refused = question["refused"].as_array().into_iter().flatten().map(|pair| Answered {
        color: place(&pair[0]),
        proposed: vec![thread(place(&pair[1]))],
        answer: dyekin_core::change::Answer::No,
    });
    Ask {
        tables: Vec::new(),
        formula: Formula::Cie76,
        adaptation: None,
        filter: ThreadFilter::default(),
        keeps: colors.chain(threads).collect(),
        answers: refused.collect(),
    }
}

fn options(question: &Value) -> ReduceOptions {
    let threads = question["threads"].as_array().unwrap().iter().enumerate();
    let stock =
        threads.filter_map(|(place, held)| Some((thread(place), number(&held["stock_meters"])?)));
    let meters: Vec<(ThreadRef, f64)> = stock.collect();
    let per_stitch = number(&question["meters_per_stitch"]);
    let squared = question["squared"].as_bool() == Some(true);
    ReduceOptions {
        max_threads: question["max_threads"].as_u64().map(|_| place(&question["max_threads"])),
        tolerance: number(&question["tolerance"]).map(delta_e),
        weighing: if squared { Weighing::Squared } else { Weighing::Plain },
        thread_worth: delta_e(number(&question["thread_worth"]).unwrap_or(0.0)),
        owned: places(&question["owned"]).into_iter().map(thread).collect(),
        money: number(&question["price_worth"]).map(|worth| Money {
            worth: delta_e(worth),
            skein_price: None,
            skein_meters: None,
            meters_per_stitch: per_stitch.unwrap(),
        }),
        stock: (!meters.is_empty())
            .then(|| ThreadStock { meters, meters_per_stitch: per_stitch.unwrap() }),
        ..ReduceOptions::at_most(1)
    }
}

fn answer(question: &Value) -> Result<ChangeList, Error> {
    let catalog = Catalog::build([table(&question["threads"])]);
    let palette = palette(&question["colors"]);
    if question["kind"] == "reduce" {
        return reduce(&catalog, &palette, &ask(question), &options(question), &Patient);
    }
    let options = SubstituteOptions {
        missing: places(&question["missing"]).into_iter().map(thread).collect(),
        allow_used: false,
        limit: None,
        min_apart: delta_e(number(&question["min_apart"]).unwrap()),
        keep_lightness: question["keep_lightness"].as_bool() == Some(true),
        keep_outlines: false,
        lights: None,
        stock: None,
        staying: Vec::new(),
    };
    substitute(&catalog, &palette, &ask(question), &options, &Patient)
}

fn check(question: &Value) {
    let name = &question["name"];
    let fewest = question["fewest"].as_u64();
    match (answer(question), number(&question["optimum"])) {
        (Ok(list), Some(optimum)) => {
            let report = list.reduction.as_ref();
            let mean = list.totals.mean_difference.value();
            let found = report.map_or(mean, |report| report.total);
            let of_mean = || list.totals.lower_bound.map(DeltaE::value);
            let bound = report.map_or_else(of_mean, |report| report.bound);
            let close = TOLERANCE * optimum;
            assert!((found - optimum).abs() <= close, "{name}: {found}, proved best is {optimum}");
            assert!(bound.unwrap() <= optimum + close, "{name}: bound {bound:?} above {optimum}");
            assert!(list.totals.proved_best, "{name}: {found} is best, but not proved");
            let counted = report.and_then(|report| report.fewest).map(|count| count as u64);
            assert_eq!(counted, fewest, "{name}");
        }
        (Err(error), None) => {
            assert!(matches!(error.kind(), ErrorKind::Impossible { .. }), "{name}: {error}");
            let Some(fewest) = fewest else { return };
            let most = question["max_threads"].as_u64().unwrap();
            assert!(
                error.to_string().starts_with(&format!("no {most} threads")),
                "{name}: {error}"
            );
            let hint = error.hint().unwrap();
            assert!(hint.starts_with(&format!("ask for {fewest},")), "{name}: {hint}");
        }
        (found, optimum) => panic!("{name}: {found:?}, proved best is {optimum:?}"),
    }
}

#[test]
fn answers_are_as_good_as_an_outside_solver_proved_possible() {
    let text = fs::read_to_string("data/reference/reductions.json").unwrap();
    let questions: Vec<Value> = serde_json::from_str(&text).unwrap();
    for kind in [
        "count",
        "squares",
        "tolerance",
        "worth",
        "keeps",
        "refusals",
        "stock",
        "skeins",
        "distinct",
        "joint",
    ] {
        let of_kind = |question: &&Value| question["name"].as_str().unwrap().starts_with(kind);
        assert!(questions.iter().filter(of_kind).count() >= 2, "{kind}");
    }
    let joint = |question: &&Value| places(&question["missing"]).len() == 20;
    assert!(questions.iter().filter(joint).count() >= 6);
    assert!(questions.len() >= 20, "{}", questions.len());
    questions.iter().for_each(check);
}
