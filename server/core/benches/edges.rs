//! Drawn charts with small lettering and faces, reduced with and without their edges kept: edges
//! lost, what that costs in mean difference, gaps and times. It does not know how the search works.
//!
//! `cargo bench -p dyekin-core --bench edges` prints everything; arguments pick parts, `threads`,
//! `tolerance` or `amounts`, and settings, such as `normal`.

#![expect(
    clippy::expect_used,
    clippy::unwrap_used,
    reason = "a bench that cannot build its input has nothing to say"
)]
#![expect(clippy::print_stdout, reason = "a bench prints what it measures")]
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    clippy::indexing_slicing,
    reason = "drawings are small, and a cell outside of one is a mistake in the drawing"
)]

#[path = "support/ask.rs"]
mod ask;
#[path = "support/drawn.rs"]
mod drawn;
#[path = "support/range.rs"]
mod range;

use ask::ask;
use drawn::{Drawing, Seeded};
use dyekin_core::color::{Color, Srgb8};
use dyekin_core::planner::{KeepEdges, Money, ReduceOptions, ThreadStock, reduce};
use dyekin_core::table::{Code, Currency, Price, Table, TableId, Thread, ThreadRef};
use dyekin_core::watch::Patient;
use dyekin_core::{Catalog, DeltaE, PaletteSummary};
use rustix::time::{ClockId, clock_gettime};

/// Charts of each question.
const CHARTS: u64 = 24;

/// 2,000 threads of all colors.
fn wide() -> Catalog {
    let mut random = Seeded(1);
    let mut byte = || u8::try_from(random.whole(0, 256)).unwrap();
    let threads = (0..2_000).map(|row| {
        let shown = Srgb8 { red: byte(), green: byte(), blue: byte() };
        Thread::plain(Code::parse(&format!("T-{row}")).unwrap(), "", Color::screen(shown))
    });
    Catalog::build([Table::new(TableId::parse("wide").unwrap(), threads.collect()).unwrap()])
}

/// Milliseconds of this thread's own work.
fn milliseconds() -> f64 {
    let now = clock_gettime(ClockId::ThreadCPUTime);
    now.tv_sec as f64 * 1e3 + now.tv_nsec as f64 / 1e6
}

/// Sums over the charts of one question.
#[derive(Default)]
struct Sums {
    outline: u64,
    lost: u64,
    soft: u64,
    soft_lost: u64,
    turned: u64,
    mean: f64,
    /// Edges lost of each chart, in percent.
    parts: Vec<f64>,
    /// Gaps of what is made small, lost contrast included where it counts, in percent.
    gaps: Vec<f64>,
    times: Vec<f64>,
}

impl Sums {
    fn over(
        charts: &[&PaletteSummary],
        catalog: &Catalog,
        options: &dyn Fn(&PaletteSummary) -> ReduceOptions,
    ) -> Self {
        let mut sums = Self::default();
        for palette in charts {
            let start = milliseconds();
            let list = reduce(catalog, palette, &ask(), &options(palette), &Patient).unwrap();
            sums.times.push(milliseconds() - start);
            let edges = list.edges.unwrap();
            let lost = edges.vanished + edges.faded;
            sums.outline += edges.outline;
            sums.lost += lost;
            sums.soft += edges.soft;
            sums.soft_lost += edges.soft_vanished + edges.soft_faded;
            sums.turned += edges.turned;
            sums.parts.push(100.0 * lost as f64 / edges.outline as f64);
            sums.mean += list.totals.mean_difference.value() / charts.len() as f64;
            let report = list.reduction.unwrap();
            let alone = report.bound.map(|bound| (report.total, bound));
            let combined = list.totals.combined.map(|all| (all.total, all.lower_bound));
            let gap = combined.or(alone).map(|(total, bound)| (total / bound - 1.0) * 100.0);
            sums.gaps.extend(gap);
        }
        for list in [&mut sums.parts, &mut sums.gaps, &mut sums.times] {
            list.sort_by(f64::total_cmp);
        }
        sums
    }
}

fn at(sorted: &[f64], part: f64) -> f64 {
    let last = sorted.len().saturating_sub(1);
    sorted.get((part * last as f64).round() as usize).copied().unwrap_or(0.0)
}

fn main() {
    let picked = Picked(std::env::args().skip(1).collect());
    let charts: Vec<PaletteSummary> =
        (0..CHARTS).map(|seed| Drawing::new(seed, !seed.is_multiple_of(2)).summary()).collect();
    let mut colors: Vec<usize> = charts.iter().map(|chart| chart.colors().len()).collect();
    colors.sort_unstable();
    println!("{CHARTS} charts, colors: {colors:?}");
    println!(
        "lost: outline edges that vanish or fade, % of all and of the worst chart; soft: soft ones, %; turned: edges along which light and dark change sides, %; more: mean difference"
    );
    println!(
        "threads, asked    setting   lost worst  soft turned   mean   more   gap: median   p95   max   ms: median   p95   max"
    );
    for (name, catalog) in [("480", Catalog::build([range::quillmoor()])), ("2,000", wide())] {
        let asked = |what: &str| format!("{name:>5} {what}");
        let all: Vec<&PaletteSummary> = charts.iter().collect();
        if picked.part("threads") {
            for most in [12, 16, 24, 36, 60] {
                let options = |_: &PaletteSummary| ReduceOptions::at_most(most);
                let asked = asked(&format!("at most {most}"));
                settings(&asked, (&all, &catalog), &options, &picked);
            }
        }
        if picked.part("tolerance") {
            for most in [10, 12, 15] {
                let options = |_: &PaletteSummary| ReduceOptions {
                    max_threads: None,
                    tolerance: Some(DeltaE::new(f64::from(most)).unwrap()),
                    ..ReduceOptions::at_most(1)
                };
                let possible = |chart: &&&PaletteSummary| {
                    reduce(&catalog, chart, &ask(), &options(chart), &Patient).is_ok()
                };
                let charts: Vec<&PaletteSummary> =
                    all.iter().take(12).filter(possible).copied().collect();
                let asked = asked(&format!("within {most}"));
                settings(&asked, (&charts, &catalog), &options, &picked);
            }
        }
        if picked.part("amounts") {
            let charts: Vec<&PaletteSummary> = all.iter().take(12).copied().collect();
            let on_hand = |chart: &PaletteSummary| stocked(chart, &catalog);
            settings(&asked("24 in stock"), (&charts, &catalog), &on_hand, &picked);
            settings(&asked("skeins"), (&charts, &catalog), &|_| priced(), &picked);
        }
    }
}

/// Meters that a stitch takes.
const PER_STITCH: f64 = 0.0043;

/// At most 24 threads, of each of which there is enough for a tenth of the chart or its largest color.
fn stocked(chart: &PaletteSummary, catalog: &Catalog) -> ReduceOptions {
    let largest = chart.colors().iter().map(|color| color.stitches).max().unwrap_or(0);
    let held = PER_STITCH * largest.max(chart.stitches() / 10) as f64;
    let tables = catalog.tables().iter().map(|held| held.table());
    let meters = tables.flat_map(|table| {
        let of =
            |thread: &Thread| ThreadRef { table: table.id().clone(), code: thread.code.clone() };
        table.threads().iter().map(move |thread| (of(thread), held))
    });
    let stock = ThreadStock { meters: meters.collect(), meters_per_stitch: PER_STITCH };
    ReduceOptions { stock: Some(stock), ..ReduceOptions::at_most(24) }
}

/// At most 40 threads, skeins of 8 m at 1.50, of which a unit is worth 0.05.
fn priced() -> ReduceOptions {
    let money = Money {
        worth: DeltaE::new(0.05).unwrap(),
        skein_price: Some(Price { micros: 1_500_000, currency: Currency::parse("EUR") }),
        skein_meters: Some(8.0),
        meters_per_stitch: PER_STITCH,
    };
    ReduceOptions { money: Some(money), ..ReduceOptions::at_most(40) }
}

/// Prints a line of each setting.
fn settings(
    asked: &str,
    (charts, catalog): (&[&PaletteSummary], &Catalog),
    options: &dyn Fn(&PaletteSummary) -> ReduceOptions,
    picked: &Picked,
) {
    let mut least = 0.0;
    for keep_edges in KeepEdges::ALL {
        if keep_edges != KeepEdges::Off && !picked.setting(keep_edges) {
            continue;
        }
        let options = |chart: &PaletteSummary| ReduceOptions { keep_edges, ..options(chart) };
        let sums = Sums::over(charts, catalog, &options);
        if keep_edges == KeepEdges::Off {
            least = sums.mean;
        }
        println!(
            "{asked:<17} {:<8} {:5.2} {:5.2} {:5.1} {:6.2} {:6.3} {:5.2}% {:12.2} {:5.2} {:5.2} {:11.0} {:5.0} {:5.0}",
            keep_edges.as_str(),
            100.0 * sums.lost as f64 / sums.outline as f64,
            at(&sums.parts, 1.0),
            100.0 * sums.soft_lost as f64 / sums.soft as f64,
            100.0 * sums.turned as f64 / (sums.outline + sums.soft) as f64,
            sums.mean,
            100.0 * (sums.mean / least - 1.0),
            at(&sums.gaps, 0.5),
            at(&sums.gaps, 0.95),
            at(&sums.gaps, 1.0),
            at(&sums.times, 0.5),
            at(&sums.times, 0.95),
            at(&sums.times, 1.0),
        );
    }
}

/// What arguments pick; everything when there are none.
struct Picked(Vec<String>);

impl Picked {
    const PARTS: [&str; 3] = ["threads", "tolerance", "amounts"];

    fn part(&self, name: &str) -> bool {
        let has = |name: &str| self.0.iter().any(|argument| argument == name);
        has(name) || !Self::PARTS.into_iter().any(has)
    }

    fn setting(&self, setting: KeepEdges) -> bool {
        let mut named = self.0.iter().filter_map(|argument| KeepEdges::parse(argument)).peekable();
        named.peek().is_none() || named.any(|named| named == setting)
    }
}
