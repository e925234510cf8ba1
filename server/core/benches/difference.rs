//! What one difference costs, beside `palette` in the same run.
//! It does not know how a search saves them. Inputs: `input.rs`, 1,024 pairs in turn.

mod input;

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use dyekin_core::Formula;
use dyekin_core::difference::Pair;
use palette::color_difference::Ciede2000;

const PAIRS: usize = 1_024;

fn one_difference(criterion: &mut Criterion) {
    let (standards, samples) = (input::colors(1, PAIRS), input::colors(2, PAIRS));
    let pairs: Vec<Pair> = standards
        .iter()
        .zip(&samples)
        .map(|(standard, sample)| Pair { standard: standard.to_lab(), sample: sample.to_lab() })
        .collect();
    let oracle: Vec<(input::Oracle, input::Oracle)> = standards
        .iter()
        .zip(&samples)
        .map(|(standard, sample)| {
            (input::oracle(standard.to_lab()), input::oracle(sample.to_lab()))
        })
        .collect();

    let mut group = criterion.benchmark_group("one difference");
    for formula in Formula::PRESETS {
        let mut turn = pairs.iter().cycle();
        group.bench_function(formula.to_string(), |bencher| {
            bencher.iter(|| turn.next().map(|pair| formula.delta_e(black_box(*pair))));
        });
    }
    let mut turn = oracle.iter().cycle();
    group.bench_function("palette ciede2000", |bencher| {
        bencher.iter(|| {
            turn.next()
                .map(|(standard, sample)| black_box(*standard).difference(black_box(*sample)))
        });
    });
    group.finish();
}

criterion_group!(benches, one_difference);
criterion_main!(benches);
