//! What the plan takes on drawn charts of the size that people stitch, and how often it is proved.
//! It asserts no time: machines are shared.
//!
//! `DYEKIN_HALF_WAY=200 cargo test --release -p dyekin-client --lib half_way::tests::speed --
//! --nocapture` prints the figures of 200 charts, times as thread CPU time.

use std::time::Duration;

use rustix::time::{ClockId, clock_gettime};

use super::*;

fn thread_time() -> Duration {
    let time = clock_gettime(ClockId::ThreadCPUTime);
    let whole = Duration::from_secs(u64::try_from(time.tv_sec).unwrap());
    whole + Duration::from_nanos(u64::try_from(time.tv_nsec).unwrap())
}

/// A chart of 150 x 150 to 300 x 300 cells: everything above a height of a soft landscape, as large
/// shapes are, or a band of heights, as shading is.
fn landscape(dice: &mut Dice, is_band: bool) -> Drawn {
    let (width, height) = (150 + dice.place(151), 150 + dice.place(151));
    let field = field(dice, (width, height), |dice| 4 + dice.place(20));
    let mut sorted: Vec<usize> = field.iter().flatten().copied().collect();
    sorted.sort_unstable();
    let at = |hundredths: usize| sorted[(sorted.len() - 1) * hundredths.min(100) / 100];
    let share = 5 + dice.place(if is_band { 20 } else { 40 });
    let low = if is_band { dice.place(100 - share) } else { 100 - share };
    let (low, high) = (at(low), at(low + share));
    let done = height / 10 + dice.place(height * 8 / 10);
    let letter = |y: usize, value: usize| match ((low..=high).contains(&value), y < done) {
        (false, _) => 'o',
        (true, true) => '@',
        (true, false) => '#',
    };
    let row = |(y, row): (usize, &Vec<usize>)| row.iter().map(|value| letter(y, *value)).collect();
    Drawn { rows: field.iter().enumerate().map(row).collect() }
}

/// Charts that are planned without being asked for more.
const SHORT: usize = 2;

#[test]
fn charts_of_150_to_300_stitches_a_side_are_planned_within_what_is_left() {
    let asked = std::env::var("DYEKIN_HALF_WAY");
    let charts = asked.map_or(SHORT, |text| text.parse().unwrap()).max(1);
    let mut dice = Dice(4);
    let mut times = Vec::new();
    let (mut open, mut shortest, mut best) = (0, 0, 0);
    let mut gaps = Vec::new();
    while times.len() < charts {
        let drawn = landscape(&mut dice, times.len() % 2 == 1);
        let cells = drawn.cells('#').len() as u64;
        if cells == 0 {
            continue;
        }
        // From next to nothing to almost enough for everything.
        let low = 1_000 + 6_000 * cells * dice.place(100) as u64 / 100;
        let (plan, time) = drawn.planned(low, |question| {
            let start = thread_time();
            (plan(question).unwrap(), thread_time() - start)
        });
        times.push(time);
        let found = &plan.threads[0];
        assert!(found.areas.iter().map(|area| area.takes.most).sum::<u64>() <= low);
        open += cells;
        let is_shortest = found.cost.0 == found.joins_floor;
        shortest += u32::from(is_shortest);
        best += u32::from(found.proved);
        if !is_shortest {
            gaps.push(100 * (found.cost.0 - found.joins_floor) / found.cost.0);
        }
    }
    times.sort();
    println!(
        "{} open stitches on average; {shortest} of {charts} proved shortest, {best} proved best",
        open / charts as u64
    );
    println!(
        "joins of the {} others above their floor: {} % on average, {} % at most",
        gaps.len(),
        gaps.iter().sum::<u64>() / (gaps.len().max(1) as u64),
        gaps.iter().max().copied().unwrap_or(0)
    );
    let at = |percent: usize| times[(charts * percent).div_ceil(100) - 1];
    println!("p50 {:?}, p95 {:?}, worst {:?}", at(50), at(95), at(100));
}
