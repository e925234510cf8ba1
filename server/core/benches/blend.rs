//! What the five best blends of one color cost over a table of 500 threads, all pairs, 1+1 and 2+1.
//! It does not know how pairs are ruled out. Inputs: `input.rs`; far colors lie outside every gamut.

#[expect(dead_code, reason = "no other implementation stands beside this figure")]
mod input;

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use dyekin_core::blend::{BlendOptions, Parts, suggest_blends};
use dyekin_core::nearest::ThreadFilter;
use dyekin_core::table::{Code, Table, TableId, Thread};
use dyekin_core::watch::Patient;
use dyekin_core::{Catalog, Color, Conditions, Formula, Lab, Origin};

const THREADS: usize = 500;

const QUERIES: usize = 256;

fn five_best_blends(criterion: &mut Criterion) {
    let threads = (0..)
        .zip(input::colors(1, THREADS))
        .filter_map(|(at, color)| {
            Some(Thread::plain(Code::parse(&format!("t{at}")).ok()?, "", Color::screen(color)))
        })
        .collect();
    let table = TableId::parse("shelf").ok().and_then(|id| Table::new(id, threads).ok());
    let catalog = Catalog::build(table);
    let options = BlendOptions {
        tables: Vec::new(),
        count: 5,
        formula: Formula::DEFAULT,
        limit: None,
        filter: ThreadFilter::default(),
        parts: Parts::ALL.to_vec(),
    };
    let near: Vec<Color> = input::colors(2, QUERIES).into_iter().map(Color::screen).collect();
    let far: Vec<Color> = near.iter().filter_map(|color| vivid(color.lab())).collect();

    let mut group = criterion.benchmark_group("five best blends of 500 threads");
    for (name, queries) in [("screen colors", near), ("far colors", far)] {
        let mut turn = queries.iter().cycle();
        group.bench_function(name, |bencher| {
            bencher.iter(|| {
                turn.next()
                    .map(|color| suggest_blends(&catalog, black_box(color), &options, &Patient))
            });
        });
    }
    group.finish();
}

/// The same hue and lightness with a chroma of 130.
fn vivid(lab: Lab) -> Option<Color> {
    let by = 130.0 / lab.chroma().max(1e-6);
    let lab = Lab::new(lab.l(), lab.a() * by, lab.b() * by).ok()?;
    Some(Color::lab_under(lab, Conditions::SCREEN, Origin::Screen))
}

criterion_group!(benches, five_best_blends);
criterion_main!(benches);
