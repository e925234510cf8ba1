//! The planner against exhaustive search on small palettes, and its promises one by one.

use super::*;
use crate::change::Remark;
use crate::color::{Color, Conditions, Lab, Origin, Srgb8};
use crate::difference::Pair;
use crate::error::ErrorKind;
use crate::palette::{ChartColor, Neighbors, Side};
use crate::seeded::bits;
use crate::table::{Code, Finish, Table, Thread};
use crate::watch::{Patient, Progress};

const FORMULA: Formula = Formula::DEFAULT;

fn lab(l: f64, a: f64, b: f64) -> Color {
    Color::lab_under(Lab::new(l, a, b).unwrap(), Conditions::SCREEN, Origin::Screen)
}

fn table_of(id: &str, colors: &[Color]) -> Table {
    let threads = colors.iter().enumerate().map(|(row, color)| {
        Thread::plain(Code::parse(&format!("T-{row:03}")).unwrap(), "", *color)
    });
    Table::new(TableId::parse(id).unwrap(), threads.collect()).unwrap()
}

fn catalog_of(colors: &[Color]) -> Catalog {
    Catalog::build([table_of("own", colors)])
}

fn thread(row: usize) -> ThreadRef {
    ThreadRef {
        table: TableId::parse("own").unwrap(),
        code: Code::parse(&format!("T-{row:03}")).unwrap(),
    }
}

fn picture(color: Color, stitches: u64) -> ChartColor {
    ChartColor { color, stitches, threads: Vec::new(), area: None }
}

fn worked(color: Color, stitches: u64, threads: &[usize]) -> ChartColor {
    let threads = threads.iter().map(|row| thread(*row)).collect();
    ChartColor { color, stitches, threads, area: None }
}

fn summary(colors: Vec<ChartColor>) -> PaletteSummary {
    PaletteSummary::new(colors, None, None).unwrap()
}

/// So many threads, chosen by stitches alone.
fn at_most(max_threads: usize) -> ReduceOptions {
    ReduceOptions::at_most(max_threads)
}

fn ask() -> Ask {
    Ask {
        tables: Vec::new(),
        formula: FORMULA,
        adaptation: None,
        filter: ThreadFilter::default(),
        keeps: Vec::new(),
        answers: Vec::new(),
    }
}

/// The steps of a merge list alone.
const STEPS: MergeOptions = MergeOptions { anchor: None, curve: false };

fn steps_of<'q, 'c>(
    catalog: &'c Catalog,
    palette: &'q PaletteSummary,
    ask: &'q Ask,
) -> merge::Question<'q, 'c> {
    merge::Question { catalog, palette, ask, options: STEPS }
}

/// Conversion with nothing asked for beside it.
const PLAINLY: ConvertOptions = ConvertOptions { supply: Supply::All, distinct: None };

fn convert(
    catalog: &Catalog,
    palette: &PaletteSummary,
    ask: &Ask,
    watch: &dyn Watch,
) -> Result<ChangeList> {
    super::convert(catalog, palette, ask, &PLAINLY, watch)
}

fn apart(standard: Color, sample: Color) -> f64 {
    FORMULA.delta_e(Pair { standard: standard.lab(), sample: sample.lab() }).value()
}

/// A gray ladder: differences are easy to foresee.
fn grays(steps: &[f64]) -> Vec<Color> {
    steps.iter().map(|l| lab(*l, 0.0, 0.0)).collect()
}

fn after(list: &ChangeList, color: usize) -> Option<ThreadRef> {
    let change = list.changes.iter().find(|change| change.color == color)?;
    change.after.first().map(|proposed| proposed.thread.clone())
}

/// Numbers in 0..1 from a seed, the same everywhere (`SplitMix64`).
struct Seeded(u64);

impl Seeded {
    fn next(&mut self) -> f64 {
        (bits(&mut self.0) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn color(&mut self) -> Color {
        Color::screen(Srgb8 {
            red: (self.next() * 255.0) as u8,
            green: (self.next() * 255.0) as u8,
            blue: (self.next() * 255.0) as u8,
        })
    }

    fn palette(&mut self, count: usize) -> Vec<ChartColor> {
        (0..count)
            .map(|_| picture(self.color(), 1 + (self.next().powi(3) * 900.0) as u64))
            .collect()
    }

    fn colors(&mut self, count: usize) -> Vec<Color> {
        (0..count).map(|_| self.color()).collect()
    }
}

/// The least mean difference over all sets of at most `open` threads, by trying each.
fn exhaustive(colors: &[ChartColor], threads: &[Color], open: usize) -> f64 {
    let all: u64 = colors.iter().map(|color| color.stitches).sum();
    let sets = 1_u32..(1 << threads.len());
    let small = sets.filter(|set| set.count_ones() as usize <= open);
    let cost = |set: u32| {
        let nearest = |color: &ChartColor| {
            let open = threads.iter().enumerate().filter(|(row, _)| set >> row & 1 == 1);
            let differences = open.map(|(_, thread)| apart(color.color, *thread));
            color.stitches as f64 / all as f64 * differences.fold(f64::INFINITY, f64::min)
        };
        colors.iter().map(nearest).sum::<f64>()
    };
    small.map(cost).fold(f64::INFINITY, f64::min)
}

#[test]
fn small_palettes_get_the_optimum_and_a_bound_that_never_passes_it() {
    let (mut best, mut proved) = (0, 0);
    let rounds = 400;
    for seed in 0..rounds {
        let mut random = Seeded(seed);
        let colors = random.palette(1 + (seed as usize % 8));
        let threads = random.colors(1 + (seed as usize / 8 % 10));
        let open = 1 + seed as usize % 4;
        let optimum = exhaustive(&colors, &threads, open);
        let list =
            reduce(&catalog_of(&threads), &summary(colors), &ask(), &at_most(open), &Patient)
                .unwrap();
        let found = list.totals.mean_difference.value();
        let bound = list.totals.lower_bound.unwrap().value();
        assert!(bound <= optimum * (1.0 + 1e-8) + 1e-12, "seed {seed}: {bound} > {optimum}");
        assert!(found >= optimum - 1e-9, "seed {seed}");
        best += u32::from(found <= optimum * (1.0 + 1e-9) + 1e-12);
        proved += u32::from(list.totals.proved_best);
        if list.totals.proved_best {
            assert!(found <= optimum * (1.0 + 1e-8) + 1e-12, "seed {seed}: proved, not best");
        }
        assert!(list.totals.threads_after <= open);
    }
    assert!(best == 400 && proved == 400, "optimum in {best}, proved in {proved} of {rounds}");
}

mod adapting;
mod amounts;
mod contrast;
mod conversion;
mod curving;
mod jointly;
mod keeping;
mod lights;
mod merging;
mod reduction;
mod reporting;
mod stocked;
mod substitution;
mod supply;
mod weighing;

/// Stops at a given look, and counts the looks.
struct Impatient {
    looks: std::cell::Cell<u64>,
    stop_at: u64,
}

impl Impatient {
    fn new(stop_at: u64) -> Self {
        Self { looks: std::cell::Cell::new(0), stop_at }
    }
}

impl Watch for Impatient {
    fn stopped(&self) -> bool {
        self.looks.set(self.looks.get() + 1);
        self.looks.get() >= self.stop_at
    }

    fn progress(&self, _: &Progress) {}
}

/// A question that is asked through a meter.
type Metered<'q> = dyn Fn(&mut Meter<'_>) -> Result<()> + 'q;

#[test]
fn a_stopped_watch_stops_every_question_within_256_formula_calls() {
    let mut random = Seeded(7);
    let threads = random.colors(480);
    let catalog = catalog_of(&threads);
    let mut colors = random.palette(60);
    colors.push(worked(threads[3], 40, &[3]));
    let palette = summary(colors);
    let missing = substitution::missing(&[3]);
    let ask = ask();
    let questions: [&Metered<'_>; 4] = [
        &|meter| reduce::run(&catalog, &palette, &ask, &at_most(24), meter).map(drop),
        &|meter| merge::run(steps_of(&catalog, &palette, &ask), meter).map(drop),
        &|meter| substitute::run(&catalog, &palette, &ask, &missing, meter).map(drop),
        &|meter| convert::run(&catalog, &palette, &ask, &PLAINLY, meter).map(drop),
    ];
    for (number, question) in questions.iter().enumerate() {
        let watch = Impatient::new(1);
        let mut meter = Meter::new(&watch);
        let error = question(&mut meter).unwrap_err();
        assert_eq!(*error.kind(), ErrorKind::Stopped, "question {number}");
        assert_eq!(meter.calls(), 0, "question {number}");
    }
    for stop_at in [2, 5, 40, 300] {
        let watch = Impatient::new(stop_at);
        let mut meter = Meter::new(&watch);
        let error = reduce::run(&catalog, &palette, &ask, &at_most(24), &mut meter).unwrap_err();
        assert_eq!(*error.kind(), ErrorKind::Stopped);
        assert!(meter.calls() <= meter::CALLS_BETWEEN_LOOKS * (stop_at - 1), "{}", meter.calls());
        assert_eq!(watch.looks.get(), stop_at);
    }
}
