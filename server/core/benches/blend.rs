//! What the five best blends of one color cost over a table of 500 threads, all pairs, 1+1 and 2+1:
//! median, 99th percentile and most of 2,000 colors, in CPU time of the thread.
//! It does not know how pairs are ruled out. Threads and screen colors: `input.rs`.
//!
//! `cargo bench -p dyekin-core --bench blend -- [FORMULA]` measures one formula.

#![expect(clippy::print_stdout, reason = "figures are what a bench is for")]

#[expect(dead_code, reason = "no other implementation stands beside this figure")]
mod input;

use std::hint::black_box;
use std::time::Duration;

use dyekin_core::blend::{BlendOptions, Blender, Parts};
use dyekin_core::nearest::ThreadFilter;
use dyekin_core::table::{Code, Table, TableId, Thread};
use dyekin_core::watch::Patient;
use dyekin_core::{Catalog, Color, Conditions, Formula, Lab, Origin};
use rustix::time::{ClockId, clock_gettime};

const THREADS: usize = 500;

const QUERIES: usize = 2_000;

fn main() {
    let threads = (0..)
        .zip(input::colors(1, THREADS))
        .filter_map(|(at, color)| {
            Some(Thread::plain(Code::parse(&format!("t{at}")).ok()?, "", Color::screen(color)))
        })
        .collect();
    let table = TableId::parse("shelf").ok().and_then(|id| Table::new(id, threads).ok());
    let catalog = Catalog::build(table);
    let asked = std::env::args().nth(1).filter(|argument| !argument.starts_with("--"));
    let wanted = |formula: &Formula| asked.as_ref().is_none_or(|asked| asked == formula.name());
    println!("microseconds a color: median, 99th percentile, most");
    for formula in Formula::PRESETS.into_iter().filter(wanted) {
        for (name, queries) in kinds() {
            let [median, high, most] = times(&catalog, formula, &queries);
            println!("{:24} {name:28} {median:8.0} {high:8.0} {most:8.0}", formula.to_string());
        }
    }
}

/// Random screen colors; the same with a chroma of 130, nearly all outside every gamut; and colors
/// uniform over the whole range of CIELAB that files may hold.
fn kinds() -> [(&'static str, Vec<Color>); 3] {
    let screen = input::colors(2, QUERIES);
    let vivid = screen.iter().filter_map(|color| vivid(color.to_lab())).collect();
    let uniform = screen.iter().filter_map(|color| uniform(&color.to_string())).collect();
    let screen = screen.into_iter().map(Color::screen).collect();
    [("screen colors", screen), ("chroma 130", vivid), ("L* 0-100, a* b* -128-128", uniform)]
}

fn times(catalog: &Catalog, formula: Formula, queries: &[Color]) -> [f64; 3] {
    let (count, parts) = (5, Parts::ALL.to_vec());
    let (tables, filter) = (Vec::new(), ThreadFilter::default());
    let (adaptation, limit) = (None, None);
    let options = BlendOptions { tables, count, formula, adaptation, limit, filter, parts };
    let mut times: Vec<f64> = queries
        .iter()
        .map(|color| {
            let start = thread_time();
            // The tree of threads counts as well: a single color pays for it.
            let blender = Blender::new(catalog, &options);
            let answer = blender.and_then(|blender| blender.suggest(black_box(color), &Patient));
            black_box(answer.is_ok_and(|answer| answer.blends.len() == count));
            (thread_time() - start).as_secs_f64() * 1e6
        })
        .collect();
    times.sort_by(f64::total_cmp);
    let at = |place: usize| times.get(place).copied().unwrap_or(f64::NAN);
    let last = times.len().saturating_sub(1);
    [at(last / 2), at(last * 99 / 100), at(last)]
}

/// The same hue and lightness with a chroma of 130.
fn vivid(lab: Lab) -> Option<Color> {
    let by = 130.0 / lab.chroma().max(1e-6);
    under(Lab::new(lab.l(), lab.a() * by, lab.b() * by).ok()?)
}

/// Three bytes of a hex color spread over the range of each axis.
fn uniform(hex: &str) -> Option<Color> {
    let axis = |at: usize| {
        let byte = u8::from_str_radix(hex.get(at..at + 2)?, 16).ok()?;
        Some(f64::from(byte) / 255.0)
    };
    let (l, a, b) = (axis(1)?, axis(3)?, axis(5)?);
    under(Lab::new(100.0 * l, 256.0 * a - 128.0, 256.0 * b - 128.0).ok()?)
}

fn under(lab: Lab) -> Option<Color> {
    Some(Color::lab_under(lab, Conditions::SCREEN, Origin::Screen))
}

/// CPU time of this thread so far: the machine's other work does not count.
fn thread_time() -> Duration {
    let time = clock_gettime(ClockId::ThreadCPUTime);
    let whole = Duration::from_secs(u64::try_from(time.tv_sec).unwrap_or(0));
    whole + Duration::from_nanos(u64::try_from(time.tv_nsec).unwrap_or(0))
}
