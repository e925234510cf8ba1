//! The nearest threads over 500 to 1,000,000 rows and over two tables that hurt, beside a plain scan
//! with `palette`'s f64 formula in the same rounds.
//! It does not know how the search works.
//!
//! `cargo bench -p dyekin-core --bench nearest` prints medians of thread CPU time, see `rounds.rs`.
//! Rows and colors asked for: 8-bit sRGB, each component uniform over 0 to 255, see `input.rs`. With
//! a number of rows as an argument only that table is measured.

#![expect(clippy::expect_used, reason = "a bench without its input must not run")]
#![expect(clippy::print_stdout, reason = "figures are what a bench is for")]

mod input;
mod rounds;

use std::hint::black_box;

use dyekin_core::nearest::{InstructionSet, NearestOptions, ThreadFilter, nearest, nearest_many};
use dyekin_core::table::{Code, Table, TableId, Thread};
use dyekin_core::watch::Patient;
use dyekin_core::{Catalog, Color, Conditions, Formula, Lab, Origin};
use palette::color_difference::Ciede2000;
use rounds::{ROUNDS, Turn, medians};

/// Colors asked in one round of the index.
const QUESTIONS: usize = 8_192;

/// Formula evaluations of one round of the plain scan, about.
const SCANNED: usize = 1_000_000;

fn main() {
    let only: Option<usize> = std::env::args().find_map(|argument| argument.parse().ok());
    let wanted = |rows: usize| only.is_none_or(|only| only == rows);
    println!("vector instructions: {}", InstructionSet::best());
    println!("medians of {ROUNDS} rounds, nanoseconds of thread CPU time a question, CIEDE2000");
    println!(
        "rows       table           plain scan    nearest 1         nearest 5         many              1 as near"
    );
    for rows in [100, 200, 500, 5_000, 50_000, 1_000_000].into_iter().filter(|rows| wanted(*rows)) {
        let colors = input::colors(11, rows).into_iter().map(Color::screen).collect::<Vec<_>>();
        compare("8-bit sRGB", &colors);
    }
    if wanted(100_000) {
        let drawn = input::colors(11, 100_000);
        let flat = drawn.iter().map(|color| color.to_lab()).map(|at| meter(75.0, at.a(), at.b()));
        compare("L* 75", &flat.collect::<Vec<_>>());
        compare("one color", &vec![meter(40.0, 20.0, -30.0); 100_000]);
    }
}

fn meter(l: f64, a: f64, b: f64) -> Color {
    let lab = Lab::new(l, a, b).expect("a color in range");
    Color::lab_under(lab, Conditions::SCREEN, Origin::Meter)
}

/// Prints one line.
fn compare(name: &str, colors: &[Color]) {
    let catalog = catalog(colors);
    let asked: Vec<Color> = input::colors(7, QUESTIONS).into_iter().map(Color::screen).collect();
    let calls = u32::try_from(QUESTIONS).expect("a small number");
    let ask = |options: NearestOptions| {
        let (catalog, asked) = (&catalog, &asked);
        Turn::new(calls, move || {
            for color in asked {
                let _ = black_box(nearest(catalog, black_box(color), &options));
            }
        })
    };
    let one = options(1);
    let many = Turn::new(calls, || {
        let _ = black_box(nearest_many(&catalog, black_box(&asked), &one, &Patient));
    });
    let as_near = ask(NearestOptions { count_as_near: true, ..options(1) });
    let times =
        medians(vec![plain_scans(colors, &asked), ask(options(1)), ask(options(5)), many, as_near]);
    let [scan, one, five, many, as_near] = times.try_into().expect("five turns");
    let beside = |time: f64| format!("{time:>9.0} {:>6.0}x", scan / time);
    let rows = colors.len();
    println!(
        "{rows:<10} {name:<12} {scan:>13.0} {} {} {} {}",
        beside(one),
        beside(five),
        beside(many),
        beside(as_near)
    );
}

fn plain_scans<'a>(colors: &[Color], asked: &[Color]) -> Turn<'a> {
    let oracle = |color: &Color| input::oracle(color.lab());
    let table: Vec<input::Oracle> = colors.iter().map(oracle).collect();
    let questions: Vec<input::Oracle> = asked.iter().map(oracle).collect();
    let scans = (SCANNED / table.len()).clamp(1, QUESTIONS);
    let mut turn = 0;
    Turn::new(u32::try_from(scans).expect("a small number"), move || {
        for color in questions.iter().cycle().skip(turn).take(scans) {
            black_box(plain_scan(&table, black_box(*color)));
        }
        turn = (turn + scans) % QUESTIONS;
    })
}

fn plain_scan(table: &[input::Oracle], asked: input::Oracle) -> Option<(usize, f64)> {
    table
        .iter()
        .map(|color| asked.difference(*color))
        .enumerate()
        .min_by(|left, right| left.1.total_cmp(&right.1))
}

fn catalog(colors: &[Color]) -> Catalog {
    let threads = colors
        .iter()
        .enumerate()
        .map(|(row, color)| {
            let code = Code::parse(&format!("row-{row}")).expect("a code");
            Thread::plain(code, "", *color)
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
        adaptation: None,
        lights: None,
        limit: None,
        filter: ThreadFilter::default(),
        count_as_near: false,
    }
}
