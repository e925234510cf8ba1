//! Palette questions over the example tables in `data/`, read from their files.
//! It does not know how threads are chosen; the planner's own tests compare it with exhaustive
//! search.

mod optima;

use dyekin_core::change::{Answer, Remark};
use dyekin_core::nearest::ThreadFilter;
use dyekin_core::palette::{ChartColor, Neighbors, Side};
use dyekin_core::planner::{
    Answered, Ask, ConvertOptions, Keep, MergeOptions, ReduceOptions, SubstituteOptions, Supply,
    convert, reduce, substitute, suggest_merges,
};
use dyekin_core::table::{self, Finish, ReadOptions};
use dyekin_core::watch::Patient;
use dyekin_core::{Catalog, DeltaE, ErrorKind, Formula, PaletteSummary, Table, TableId, ThreadRef};

fn table(name: &str) -> Table {
    let path = dyekin_tests::data().join("../../data").join(format!("{name}.csv"));
    let options = ReadOptions {
        id: TableId::parse(name).expect("an id"),
        source_name: format!("{name}.csv"),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    };
    table::read(&std::fs::read(path).expect("an example table"), &options).expect("it loads").table
}

fn catalog() -> Catalog {
    Catalog::build(["larkpenny", "ottersby", "quillmoor"].map(table))
}

fn named(table: &Table, row: usize) -> ThreadRef {
    ThreadRef { table: table.id().clone(), code: table.threads()[row].code.clone() }
}

/// A chart worked in every `step`th thread of a table, each color touching the next.
fn worked_in(table: &Table, step: usize) -> PaletteSummary {
    let rows: Vec<usize> = (0..table.threads().len()).step_by(step).collect();
    let color = |row: &usize| ChartColor {
        color: table.threads()[*row].color,
        stitches: 10 + (*row as u64 * 7_919) % 1_000,
        threads: vec![named(table, *row)],
        area: None,
    };
    let touching = |first| Neighbors { first, second: Side::Color(first + 1), edges: 3 };
    let neighbors = (0..rows.len() - 1).map(touching).collect();
    PaletteSummary::new(rows.iter().map(color).collect(), Some(neighbors), None).expect("a palette")
}

fn ask(tables: &[&str]) -> Ask {
    Ask {
        tables: tables.iter().map(|id| TableId::parse(id).expect("an id")).collect(),
        formula: Formula::DEFAULT,
        adaptation: None,
        filter: ThreadFilter { finishes: vec![Finish::Plain], ..ThreadFilter::default() },
        keeps: Vec::new(),
        answers: Vec::new(),
    }
}

/// So many threads, chosen by stitches alone.
fn at_most(max_threads: usize) -> ReduceOptions {
    ReduceOptions::at_most(max_threads)
}

#[test]
fn a_chart_in_one_range_is_reduced_within_half_a_percent_of_the_best() {
    let catalog = catalog();
    let palette = worked_in(&table("quillmoor"), 4);
    for open in [60, 24, 12, 5] {
        let list = reduce(&catalog, &palette, &ask(&["quillmoor"]), &at_most(open), &Patient)
            .expect("a list");
        let (mean, bound) = (list.totals.mean_difference.value(), list.totals.lower_bound);
        let bound = bound.expect("a bound").value();
        assert!(list.totals.threads_after <= open);
        assert!(bound <= mean && bound >= 0.995 * mean, "{open}: {bound} of {mean}");
        assert_eq!(list.changes.len() + list.unchanged.len(), palette.colors().len());
        assert!(list.edges.is_some());
    }
}

#[test]
fn answering_yes_to_a_whole_list_gives_the_same_list_again() {
    let catalog = catalog();
    let palette = worked_in(&table("quillmoor"), 8);
    let mut ask = ask(&["larkpenny"]);
    let first = reduce(&catalog, &palette, &ask, &at_most(16), &Patient).expect("a list");
    ask.answers = first
        .changes
        .iter()
        .map(|change| Answered {
            color: change.color,
            proposed: change.after.iter().map(|next| next.thread.clone()).collect(),
            answer: Answer::Yes,
        })
        .collect();
    let again = reduce(&catalog, &palette, &ask, &at_most(16), &Patient).expect("a list");
    assert_eq!(first.changes, again.changes);
    assert!(again.totals.proved_best);
}

#[test]
fn a_range_of_screen_colors_is_converted_into_a_measured_one() {
    let catalog = catalog();
    let palette = worked_in(&table("quillmoor"), 3);
    let options = ConvertOptions { supply: Supply::All, distinct: None };
    let ask = ask(&["ottersby"]);
    let list = convert(&catalog, &palette, &ask, &options, &Patient).expect("a list");
    assert_eq!(list.changes.len(), palette.colors().len());
    let shared = |remark: &Remark| matches!(remark, Remark::SharesThread(_));
    let collisions = list.changes.iter().filter(|change| change.remarks.iter().any(shared)).count();
    assert!(list.totals.threads_after < palette.colors().len() && collisions > 0);
}

#[test]
fn missing_threads_are_replaced_by_others_of_the_range() {
    let (catalog, range) = (catalog(), table("quillmoor"));
    let palette = worked_in(&range, 4);
    let plain = |color: &&ChartColor| {
        let thread = catalog.thread(&color.threads[0]).expect("a thread");
        thread.finish == Finish::Plain
    };
    let missing: Vec<ThreadRef> =
        palette.colors().iter().filter(plain).take(20).map(|c| c.threads[0].clone()).collect();
    let options = SubstituteOptions {
        missing: missing.clone(),
        allow_used: false,
        limit: None,
        min_apart: DeltaE::default(),
        keep_lightness: false,
        keep_outlines: false,
        lights: None,
        stock: None,
        staying: Vec::new(),
    };
    let mut ask = ask(&["quillmoor"]);
    let list = substitute(&catalog, &palette, &ask, &options, &Patient).expect("a list");
    assert_eq!(list.changes.len(), 20);
    assert_eq!(list.totals.threads_after, palette.colors().len());
    assert!(list.totals.proved_best);
    ask.keeps = vec![Keep::Thread(missing[0].clone())];
    let error = substitute(&catalog, &palette, &ask, &options, &Patient).expect_err("a conflict");
    assert!(matches!(error.kind(), ErrorKind::Impossible { .. }));
}

#[test]
fn the_merge_list_of_a_chart_runs_down_to_one_thread() {
    let palette = worked_in(&table("quillmoor"), 4);
    let options = MergeOptions { anchor: None, curve: false };
    let list = suggest_merges(&catalog(), &palette, &ask(&["quillmoor"]), options, &Patient);
    let list = list.expect("a list");
    let left: Vec<usize> = list.steps.iter().map(|step| step.threads_left).collect();
    assert_eq!(left, (1..list.colors).rev().collect::<Vec<_>>());
    assert!(
        list.steps.windows(2).all(|pair| {
            pair[0].mean_difference.value() <= pair[1].mean_difference.value() + 1e-9
        })
    );
}

#[test]
fn as_many_colors_as_a_palette_holds_are_answered() {
    let catalog = catalog();
    let byte = |value: u64| u8::try_from(value % 256).expect("a byte");
    let color = |place: u64| ChartColor {
        color: dyekin_core::Color::screen(dyekin_core::Srgb8 {
            red: byte(place * 37),
            green: byte(place * 101 % 251),
            blue: byte(place / 16),
        }),
        stitches: 1 + place % 90,
        threads: Vec::new(),
        area: None,
    };
    let palette = PaletteSummary::new((0..4_096).map(color).collect(), None, None).expect("4,096");
    let list =
        reduce(&catalog, &palette, &ask(&["quillmoor"]), &at_most(24), &Patient).expect("a list");
    assert_eq!((list.totals.threads_after, list.changes.len()), (24, 4_096));
    let bound = list.totals.lower_bound.expect("a bound").value();
    assert!(bound >= 0.97 * list.totals.mean_difference.value());
    let options = MergeOptions { anchor: Some(24), curve: true };
    let merges = suggest_merges(&catalog, &palette, &ask(&["quillmoor"]), options, &Patient);
    let merges = merges.expect("merges");
    assert_eq!(merges.steps.len(), merges.colors - 1);
    let counts: Vec<usize> = merges.curve.iter().map(|point| point.threads).collect();
    assert_eq!(counts, (1..=merges.colors).rev().collect::<Vec<_>>());
    assert!(merges.steps.iter().filter_map(|step| merges.gap_percent(step)).all(f64::is_finite));
}
