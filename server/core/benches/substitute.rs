//! How fast 20 missing threads of 500 get the best stand-ins together, and what of the terms holds:
//! 300 seeded charts of five kinds, each asked twice. It does not know how the planner works.
//!
//! `cargo bench -p dyekin-core --bench substitute` prints one line a kind, with everything kept and
//! with formulas and terms in turn, and the slowest questions; a number as an argument is that of the
//! charts of each kind. Times are CPU time of the thread, one run of each question, the differences
//! included.

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
mod clock;
#[path = "support/missing.rs"]
mod missing;
#[path = "../src/seeded.rs"]
mod seeded;

use std::collections::BTreeSet;
use std::time::Duration;

use ask::ask;
use clock::timed;
use dyekin_core::Catalog;
use dyekin_core::change::ChangeList;
use dyekin_core::planner::{Ask, substitute};
use dyekin_core::watch::Patient;
use missing::{EVERYTHING, FORMULAS, Kind, loss, options, terms};

/// Charts of each kind.
const CHARTS: usize = 60;

/// What became of one question.
struct Outcome {
    time: Duration,
    list: ChangeList,
    name: String,
}

fn main() {
    let charts = std::env::args().find_map(|argument| argument.parse().ok()).unwrap_or(CHARTS);
    let mut all = Vec::new();
    for in_turn in [false, true] {
        for kind in Kind::ALL {
            let outcomes: Vec<Outcome> =
                (0..charts).map(|seed| answer(kind, seed, in_turn)).collect();
            let what = if in_turn { "formulas and terms in turn" } else { "everything kept" };
            line(&format!("{kind:?}, {what}"), &outcomes);
            all.extend(outcomes);
        }
    }
    line("all", &all);
    all.sort_by_key(|one| std::cmp::Reverse(one.time));
    for slow in all.iter().take(10) {
        println!("  {} {}", shown(slow.time), slow.name);
    }
}

fn answer(kind: Kind, seed: usize, in_turn: bool) -> Outcome {
    let one = loss(kind, seed as u64);
    let catalog = Catalog::build([one.table]);
    let asked = if in_turn { terms(seed) } else { EVERYTHING };
    let formula = if in_turn { FORMULAS[seed % FORMULAS.len()] } else { FORMULAS[0] };
    let ask = Ask { formula, ..ask() };
    let name = format!("{kind:?} {seed} {formula:?} {asked:?}");
    let options = options(asked);
    let run = || substitute(&catalog, &one.palette, &ask, &options, &Patient);
    let (list, time) = timed(run);
    Outcome { time, list: list.expect("stand-ins"), name }
}

/// Prints times, and what of the terms does not hold though it could.
fn line(what: &str, outcomes: &[Outcome]) {
    let mut times: Vec<Duration> = outcomes.iter().map(|one| one.time).collect();
    times.sort();
    let count =
        |is: &dyn Fn(&ChangeList) -> bool| outcomes.iter().filter(|one| is(&one.list)).count();
    let joint = |list: &ChangeList| list.joint.clone().expect("a report");
    let feasible = |list: &ChangeList| !joint(list).proved_impossible;
    let is_close = |list: &ChangeList| {
        let report = joint(list);
        report.least_apart.is_some_and(|least| least < report.min_apart)
    };
    println!(
        "{what}: proved {} of {}, {} of them impossible as asked; feasible ones with a thread twice \
         {}, too close {}, a step reversed {}; median {}, p95 {}, worst {}",
        count(&|list| list.totals.proved_best),
        outcomes.len(),
        count(&|list| !feasible(list)),
        count(&|list| has_twice(list)),
        count(&|list| feasible(list) && is_close(list)),
        count(&|list| feasible(list) && joint(list).reversed_steps > 0),
        shown(times[times.len() / 2]),
        shown(times[times.len() * 95 / 100]),
        shown(times[times.len() - 1]),
    );
}

fn has_twice(list: &ChangeList) -> bool {
    let mut seen = BTreeSet::new();
    let after = list.changes.iter().flat_map(|change| &change.after);
    !after.into_iter().all(|proposed| seen.insert(&proposed.thread))
}

fn shown(time: Duration) -> String {
    format!("{:.1} ms", time.as_secs_f64() * 1e3)
}
