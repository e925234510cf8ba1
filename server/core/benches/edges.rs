//! Drawn charts with small lettering and faces, reduced with and without their edges kept: edges
//! lost, what that costs in mean difference, gaps and times. It does not know how the search works.
#![expect(clippy::unwrap_used, reason = "a bench that cannot build its input has nothing to say")]
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

use ask::ask;
use drawn::{Drawing, Seeded, quillmoor};
use dyekin_core::color::{Color, Srgb8};
use dyekin_core::planner::{KeepEdges, ReduceOptions, reduce};
use dyekin_core::table::{Code, Table, TableId, Thread};
use dyekin_core::watch::Patient;
use dyekin_core::{Catalog, PaletteSummary};
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
    /// Gaps of the combined objective, in percent.
    gaps: Vec<f64>,
    times: Vec<f64>,
}

impl Sums {
    fn over(charts: &[PaletteSummary], catalog: &Catalog, options: &ReduceOptions) -> Self {
        let mut sums = Self::default();
        for palette in charts {
            let start = milliseconds();
            let list = reduce(catalog, palette, &ask(), options, &Patient).unwrap();
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
            if let Some(all) = list.totals.combined {
                sums.gaps.push((all.total / all.lower_bound - 1.0) * 100.0);
            }
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
    let charts: Vec<PaletteSummary> =
        (0..CHARTS).map(|seed| Drawing::new(seed, !seed.is_multiple_of(2)).summary()).collect();
    let mut colors: Vec<usize> = charts.iter().map(|chart| chart.colors().len()).collect();
    colors.sort_unstable();
    println!("{CHARTS} charts, colors: {colors:?}");
    println!(
        "lost: outline edges that vanish or fade, % of all and of the worst chart; soft: soft ones, %; turned: edges along which light and dark change sides, %; more: mean difference"
    );
    println!(
        "threads   N setting   lost worst  soft turned   mean   more   gap: median   p95   max   ms: median   p95   max"
    );
    for (count, catalog) in [(480, quillmoor()), (2_000, wide())] {
        for max_threads in [16, 24, 36, 60] {
            let mut least = 0.0;
            for keep_edges in KeepEdges::ALL {
                let options = ReduceOptions { keep_edges, ..ReduceOptions::at_most(max_threads) };
                let sums = Sums::over(&charts, &catalog, &options);
                if keep_edges == KeepEdges::Off {
                    least = sums.mean;
                }
                println!(
                    "{count:>7} {max_threads:>3} {:<8} {:5.2} {:5.2} {:5.1} {:6.2} {:6.3} {:5.2}% {:12.2} {:5.2} {:5.2} {:11.0} {:5.0} {:5.0}",
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
    }
}
