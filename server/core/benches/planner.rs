//! How good and how fast palettes of few threads are: 200 seeded questions over tables of 480 and
//! 2,000 threads, 20 over 10,000, beside what people do instead; whole curves and merge lists.
//! It does not know how the planner works.
//!
//! `cargo bench -p dyekin-core --bench planner` prints everything; an argument picks one part:
//! `reduce`, `large`, `others` or `curve`. Times are CPU time of the thread, one run of each
//! question, its cost table included.

#![expect(
    clippy::expect_used,
    clippy::indexing_slicing,
    reason = "a bench without its input must not run"
)]
#![expect(clippy::print_stdout, reason = "figures are what a bench is for")]
#![expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a bench casts small numbers"
)]

#[path = "support/ask.rs"]
mod ask;
#[path = "support/baselines.rs"]
mod baselines;
mod clock;
#[path = "support/instances.rs"]
mod instances;
#[path = "support/range.rs"]
mod range;
#[path = "../src/seeded.rs"]
mod seeded;

use std::time::Duration;

use ask::ask;
use baselines::Ground;
use clock::timed;
use dyekin_core::Catalog;
use dyekin_core::change::{ChangeList, Weighing};
use dyekin_core::planner::{MergeOptions, MergeStep, ReduceOptions, reduce, suggest_merges};
use dyekin_core::table::Table;
use dyekin_core::watch::Patient;
use instances::Instance;

fn main() {
    let parts = ["reduce", "large", "others", "curve"];
    let only = std::env::args().find(|argument| parts.contains(&argument.as_str()));
    let wanted = |part: &str| only.as_deref().is_none_or(|only| only == part);
    let all = instances::all();
    let tables = [range::quillmoor(), instances::table(2_000, 2_000)];
    if wanted("reduce") || wanted("others") {
        let large = all.iter().filter(|one| one.palette.colors().len() >= 150).count();
        println!(
            "{} questions, {large} of them with 150 colors or more, 8 to 60 threads",
            all.len()
        );
    }
    if wanted("reduce") {
        for table in &tables {
            answers(&all, table, Weighing::Plain);
            answers(&all, table, Weighing::Squared);
        }
    }
    if wanted("large") {
        let table = instances::table(10_000, 10_000);
        answers(&all[..20], &table, Weighing::Plain);
        answers(&all[..20], &table, Weighing::Squared);
    }
    if wanted("others") {
        for table in &tables {
            others(&all, table);
        }
    }
    if wanted("curve") {
        curves(&all);
    }
}

fn reduced(catalog: &Catalog, one: &Instance, weighing: Weighing) -> ChangeList {
    let options = ReduceOptions { weighing, ..ReduceOptions::at_most(one.most) };
    reduce(catalog, &one.palette, &ask(), &options, &Patient).expect("a palette")
}

/// Percent above the bound.
fn gap(list: &ChangeList) -> f64 {
    let report = list.reduction.as_ref().expect("a report");
    let bound = report.bound.expect("a bound");
    if list.totals.proved_best { 0.0 } else { (report.total / bound - 1.0) * 100.0 }
}

/// Prints one line: share proved, times and gaps.
fn answers(all: &[Instance], table: &Table, weighing: Weighing) {
    let catalog = Catalog::build([table.clone()]);
    let (mut times, mut proved, mut worst) = (Vec::new(), 0, (0.0, String::new()));
    for one in all {
        let (list, time) = timed(|| reduced(&catalog, one, weighing));
        times.push(time);
        proved += usize::from(list.totals.proved_best);
        if gap(&list) > worst.0 {
            worst = (gap(&list), one.name.clone());
        }
    }
    times.sort();
    println!(
        "{weighing:?}, {:>6} threads: proved {proved} of {}; median {}, p95 {}, most {}; worst gap {:.3} % {}",
        table.threads().len(),
        all.len(),
        shown(times[times.len() / 2]),
        shown(times[times.len() * 95 / 100]),
        shown(times[times.len() - 1]),
        worst.0,
        worst.1
    );
}

fn shown(time: Duration) -> String {
    format!("{:.0} ms", time.as_secs_f64() * 1e3)
}

/// A way to come to so many threads; returns the mean difference that it leaves.
type Way = fn(&Ground, usize) -> f64;

/// Prints how much more difference the other ways leave, in percent of the planner's.
fn others(all: &[Instance], table: &Table) {
    let catalog = Catalog::build([table.clone()]);
    let ways: [(&str, Way); 4] = [
        ("nearest of each", Ground::nearest_each),
        ("pair merging", Ground::pair_merging),
        ("k-means + snap", Ground::k_means),
        ("median cut + snap", Ground::median_cut),
    ];
    let mut more = vec![Vec::new(); ways.len()];
    for one in all {
        let best = reduced(&catalog, one, Weighing::Plain).totals.mean_difference.value();
        let ground = Ground::new(&one.palette, table);
        for ((_, way), more) in ways.iter().zip(&mut more) {
            more.push((way(&ground, one.most) / best - 1.0) * 100.0);
        }
    }
    for ((name, _), more) in ways.iter().zip(&mut more) {
        more.sort_by(f64::total_cmp);
        let mean = more.iter().sum::<f64>() / more.len() as f64;
        println!(
            "{name:<18} {:>6} threads: {mean:+.1} % on average, {:+.1} % least, {:+.1} % most",
            table.threads().len(),
            more[0],
            more[more.len() - 1]
        );
    }
}

/// Prints curves of 200 colors over 500 threads, and how far nested lists stay from them.
fn curves(all: &[Instance]) {
    let catalog = Catalog::build([instances::table(500, 500)]);
    let mut charts: Vec<Instance> = (0..8).map(|seed| instances::drawn(seed, Some(200))).collect();
    charts.extend((0..4).map(|place| all[2 * place + 1].clone()));
    for one in &charts {
        let options = MergeOptions { anchor: None, curve: true };
        let asked =
            || suggest_merges(&catalog, &one.palette, &ask(), options, &Patient).expect("a list");
        let (list, time) = timed(asked);
        let nearest = list.curve[0].mean_difference.value();
        let fewer = list.curve.iter().filter(|point| point.mean_difference.value() > nearest);
        let open = list.curve.iter().filter(|point| !point.proved_best);
        let gap = open
            .clone()
            .map(|point| (point.mean_difference.value() / point.lower_bound.value() - 1.0) * 100.0);
        println!(
            "curve of {}, {} colors: {} counts below the nearest of each, {} not proved, \
             worst gap {:.3} %, {}",
            one.name,
            list.colors,
            fewer.count(),
            open.clone().count(),
            gap.fold(0.0, f64::max),
            shown(time)
        );
        lists(&catalog, one);
    }
}

/// Prints how far nested lists of one palette stay from the best palettes.
fn lists(catalog: &Catalog, one: &Instance) {
    for anchor in [None, Some(12), Some(24), Some(40)] {
        let options = MergeOptions { anchor, curve: true };
        let list = suggest_merges(catalog, &one.palette, &ask(), options, &Patient);
        let list = list.expect("a list");
        let nearest = list.curve[0].mean_difference.value();
        let mean = |wanted: &dyn Fn(&MergeStep) -> bool| {
            let steps = list.steps.iter().filter(|step| wanted(step));
            let gaps: Vec<f64> = steps.filter_map(|step| list.gap_percent(step)).collect();
            gaps.iter().sum::<f64>() / gaps.len().max(1) as f64
        };
        let costs = |step: &MergeStep| {
            let best = list.best(step.threads_left).expect("a point");
            best.mean_difference.value() > nearest
        };
        println!(
            "  list through {:>4}: above the best {:.2} % on average from 8 threads on, {:.2} % \
             where fewer threads cost something; at 24 {:.2} %, 12 {:.2} %, 4 {:.2} %",
            anchor.map_or_else(|| "none".to_owned(), |anchor| anchor.to_string()),
            mean(&|step| step.threads_left >= 8),
            mean(&|step| step.threads_left >= 8 && costs(step)),
            mean(&|step| step.threads_left == 24),
            mean(&|step| step.threads_left == 12),
            mean(&|step| step.threads_left == 4),
        );
    }
}
