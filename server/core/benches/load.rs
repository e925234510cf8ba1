//! What it costs to read a table from CSV and to index it, and how much memory that takes at its peak.
//! It does not know what is asked of the table.
//!
//! `cargo bench -p dyekin-core --bench load` prints medians of thread CPU time, see `rounds.rs`, for
//! 10,000 and 1,000,000 rows of a code, a name and a color; with a number of rows as an argument only
//! for that many. The peak is that of the whole process, the file's bytes and earlier rounds included.

#![expect(clippy::expect_used, reason = "a bench without its input must not run")]
#![expect(clippy::print_stdout, reason = "figures are what a bench is for")]

mod rounds;

use std::fmt::Write;
use std::hint::black_box;

use dyekin_core::Catalog;
use dyekin_core::table::{ReadOptions, TableId, read};
use rounds::{ROUNDS, Turn, medians};

fn main() {
    let only: Option<usize> = std::env::args().find_map(|argument| argument.parse().ok());
    println!("medians of {ROUNDS} rounds, thread CPU time to read and index a CSV");
    for rows in [10_000, 1_000_000].into_iter().filter(|rows| only.is_none_or(|only| only == *rows))
    {
        let file = csv(rows);
        let turn = |count| {
            let file = &file;
            Turn::new(count, move || {
                for _ in 0..count {
                    black_box(load(black_box(file)));
                }
            })
        };
        let times = medians(vec![turn(if rows < 100_000 { 10 } else { 1 })]);
        let time = times.first().copied().unwrap_or(f64::NAN) / 1e6;
        println!("{rows:>9} rows {time:>9.1} ms   peak {}", peak());
    }
}

fn load(file: &str) -> Catalog {
    let options = ReadOptions {
        id: TableId::parse("bench").expect("an id"),
        source_name: "bench.csv".into(),
        conditions: None,
        origin: None,
        measurement: None,
        alpha_first: false,
    };
    let loaded = read(file.as_bytes(), &options).expect("a table");
    Catalog::build([loaded.table])
}

fn csv(rows: usize) -> String {
    let mut file = String::from("code,name,hex\n");
    for row in (0_u32..).take(rows) {
        // Looks random, and no two are the same for a long while.
        let color = row.wrapping_mul(2_654_435_761) >> 8;
        writeln!(file, "T-{row},Thread number {row},#{color:06x}").expect("memory");
    }
    file
}

/// The largest memory of the process so far, where the system tells.
fn peak() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.map_or_else(|| "unknown".into(), |line| line.trim().to_owned())
}
