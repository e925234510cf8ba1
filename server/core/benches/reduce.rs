//! Reduction of a whole palette, beside `palette`'s own scan that only builds the same matrix.
//! It does not measure charts or files.
#![expect(clippy::unwrap_used, reason = "a bench that cannot build its input has nothing to say")]

#[path = "support/ask.rs"]
mod ask;
#[path = "../src/seeded.rs"]
mod seeded;

use std::hint::black_box;

use ask::ask;
use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use dyekin_core::Catalog;
use dyekin_core::color::{Color, Srgb8};
use dyekin_core::palette::{ChartColor, PaletteSummary};
use dyekin_core::planner::{MergeOptions, ReduceOptions, reduce, suggest_merges};
use dyekin_core::table::{Code, Table, TableId, Thread};
use dyekin_core::watch::Patient;
use palette::color_difference::Ciede2000;
use palette::white_point::D65;

const COLORS: usize = 120;
const THREADS: usize = 480;
const CHOSEN: usize = 24;

/// Bytes from a seed.
struct Seeded(u64);

impl Seeded {
    fn byte(&mut self) -> u8 {
        seeded::bits(&mut self.0).to_le_bytes()[7]
    }

    fn color(&mut self) -> Color {
        Color::screen(Srgb8 { red: self.byte(), green: self.byte(), blue: self.byte() })
    }
}

fn catalog(threads: usize) -> Catalog {
    let mut random = Seeded(1);
    let threads = (0..threads)
        .map(|row| Thread::plain(Code::parse(&format!("T-{row}")).unwrap(), "", random.color()));
    Catalog::build([Table::new(TableId::parse("bench").unwrap(), threads.collect()).unwrap()])
}

fn summary(colors: usize) -> PaletteSummary {
    let mut random = Seeded(2);
    let mut color = || ChartColor {
        color: random.color(),
        stitches: 1 + u64::from(random.byte()) * u64::from(random.byte()),
        threads: Vec::new(),
        area: None,
    };
    PaletteSummary::new((0..colors).map(|_| color()).collect(), None, None).unwrap()
}

type PaletteLab = palette::Lab<D65, f64>;

fn palette_lab(color: &Color) -> PaletteLab {
    let lab = color.lab();
    PaletteLab::new(lab.l(), lab.a(), lab.b())
}

fn reductions(criterion: &mut Criterion) {
    let (catalog, summary, ask) = (catalog(THREADS), summary(COLORS), ask());
    let options = ReduceOptions::at_most(CHOSEN);
    let steps = MergeOptions { anchor: None, curve: false };
    let mut group = criterion.benchmark_group("reduce 120 colors of 480 threads");
    group.sample_size(20);
    group.bench_function("to 24, with bound", |bencher| {
        bencher.iter(|| reduce(&catalog, &summary, &ask, &options, &Patient).unwrap());
    });
    group.bench_function("full merge list", |bencher| {
        bencher.iter(|| suggest_merges(&catalog, &summary, &ask, steps, &Patient).unwrap());
    });
    let colors: Vec<PaletteLab> =
        summary.colors().iter().map(|color| palette_lab(&color.color)).collect();
    let threads: Vec<PaletteLab> = catalog
        .tables()
        .iter()
        .flat_map(|held| held.table().threads())
        .map(|thread| palette_lab(&thread.color))
        .collect();
    group.bench_function("palette, matrix alone", |bencher| {
        bencher.iter_batched(
            || Vec::with_capacity(COLORS * THREADS),
            |mut matrix: Vec<f64>| {
                for thread in &threads {
                    matrix.extend(colors.iter().map(|color| black_box(*color).difference(*thread)));
                }
                matrix
            },
            BatchSize::LargeInput,
        );
    });
    group.finish();
}

criterion_group!(benches, reductions);
criterion_main!(benches);
