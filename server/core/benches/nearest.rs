//! The nearest threads over 500, 5,000 and 50,000 rows, beside a plain scan with `palette`'s f64
//! formula in the same run.
//! It does not know how the search works. Inputs: `input.rs`; 1,024 colors asked in turn.

#![expect(clippy::expect_used, reason = "a bench without its input must not run")]

mod input;

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use dyekin_core::nearest::{NearestOptions, ThreadFilter, nearest};
use dyekin_core::table::{Code, Table, TableId, Thread};
use dyekin_core::{Catalog, Color, Formula, Srgb8};
use palette::color_difference::Ciede2000;

const QUESTIONS: usize = 1_024;

fn catalog(colors: &[Srgb8]) -> Catalog {
    let threads = colors
        .iter()
        .enumerate()
        .map(|(row, color)| {
            let code = Code::parse(&format!("row-{row}")).expect("a code");
            Thread::plain(code, "", Color::screen(*color))
        })
        .collect();
    let id = TableId::parse("random").expect("an id");
    Catalog::build([Table::new(id, threads).expect("codes that differ")])
}

fn options(count: usize) -> NearestOptions {
    NearestOptions {
        tables: Vec::new(),
        count,
        formula: Formula::DEFAULT,
        limit: None,
        filter: ThreadFilter::default(),
    }
}

fn plain_scan(table: &[input::Oracle], asked: input::Oracle) -> Option<(usize, f64)> {
    table
        .iter()
        .map(|color| asked.difference(*color))
        .enumerate()
        .min_by(|left, right| left.1.total_cmp(&right.1))
}

fn nearest_threads(criterion: &mut Criterion) {
    let asked = input::colors(7, QUESTIONS);
    for rows in [500, 5_000, 50_000] {
        let colors = input::colors(11, rows);
        let catalog = catalog(&colors);
        let mut group = criterion.benchmark_group(format!("nearest over {rows} rows"));
        for count in [1, 5] {
            let options = options(count);
            let mut turn = asked.iter().map(|color| Color::screen(*color)).collect::<Vec<_>>();
            turn.rotate_left(count);
            let mut turn = turn.iter().cycle();
            group.bench_function(format!("index, {count} asked"), |bencher| {
                bencher.iter(|| {
                    turn.next().map(|color| nearest(&catalog, black_box(color), &options))
                });
            });
        }
        let oracle: Vec<input::Oracle> = colors.iter().copied().map(input::oracle).collect();
        let questions: Vec<input::Oracle> = asked.iter().copied().map(input::oracle).collect();
        let mut turn = questions.iter().cycle();
        group.bench_function("plain palette scan", |bencher| {
            bencher.iter(|| turn.next().map(|color| plain_scan(&oracle, black_box(*color))));
        });
        group.finish();
    }
}

criterion_group!(benches, nearest_threads);
criterion_main!(benches);
