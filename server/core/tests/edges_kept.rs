//! Drawn charts with small lettering and faces keep their edges at the usual setting. It does not
//! know how threads are chosen.

#![cfg(test)]
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "drawings are small"
)]

#[path = "../benches/support/ask.rs"]
mod ask;
#[path = "../benches/support/drawn.rs"]
mod drawn;
#[path = "../benches/support/range.rs"]
mod range;

use ask::ask;
use drawn::Drawing;
use dyekin_core::planner::{KeepEdges, ReduceOptions, reduce};
use dyekin_core::watch::Patient;
use dyekin_core::{Catalog, ChangeList};

const CHARTS: u64 = 24;

/// Outline edges, those lost, and the mean difference.
fn figures(list: &ChangeList) -> (u64, u64, f64) {
    let edges = list.edges.unwrap();
    (edges.outline, edges.vanished + edges.faded, list.totals.mean_difference.value())
}

#[test]
fn at_most_one_edge_in_200_is_lost_for_at_most_2_percent_more_difference() {
    let catalog = Catalog::build([range::quillmoor()]);
    let reduced = |seed: u64, keep_edges: KeepEdges| {
        let palette = Drawing::new(seed, false).summary();
        let options = ReduceOptions { keep_edges, ..ReduceOptions::at_most(24) };
        reduce(&catalog, &palette, &ask(), &options, &Patient).unwrap()
    };
    let (mut outline, mut lost, mut lost_without) = (0, 0, 0);
    let (mut mean, mut mean_without) = (0.0, 0.0);
    for seed in 0..CHARTS {
        let list = reduced(seed, KeepEdges::Normal);
        let (all, gone, difference) = figures(&list);
        let (_, gone_without, least) = figures(&reduced(seed, KeepEdges::Off));
        let combined = list.totals.combined.unwrap();
        assert!(combined.total <= 1.03 * combined.lower_bound, "chart {seed}: {combined:?}");
        (outline, lost, lost_without) = (outline + all, lost + gone, lost_without + gone_without);
        (mean, mean_without) = (mean + difference, mean_without + least);
    }
    assert!(lost * 200 <= outline, "{lost} of {outline} edges lost");
    assert!(mean <= 1.02 * mean_without, "{mean} instead of {mean_without}");
    assert!(lost_without > 5 * lost, "the charts are no challenge: {lost_without} lost without");
}
