//! The index against a plain pass over all rows, on colors that hurt.
//! It does not know how the search is pruned.

use super::columns::InstructionSet;
use super::*;
use crate::color::Srgb8;
use crate::difference::{Application, Factors, Formula, Pair, Ratio};
use crate::error::ErrorKind;
use crate::math;
use crate::seeded::bits;
use crate::watch::{Patient, Progress, Watch};

/// Splitmix64: seeded, so that a failure comes back.
pub(super) struct Seeded(pub(super) u64);

impl Seeded {
    fn next(&mut self) -> u64 {
        bits(&mut self.0)
    }

    fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.next() % end as u64).unwrap()
    }

    /// From 0 to 1.
    pub(super) fn part(&mut self) -> f64 {
        self.between(0.0, 1.0)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        let [a, b, c, d, ..] = self.next().to_le_bytes();
        low + (high - low) * f64::from(u32::from_le_bytes([a, b, c, d])) / f64::from(u32::MAX)
    }

    pub(super) fn srgb(&mut self) -> Lab {
        let [red, green, blue, ..] = self.next().to_le_bytes();
        Srgb8::new(red, green, blue).to_lab()
    }

    fn polar(&mut self, light: (f64, f64), chroma: (f64, f64), hue: (f64, f64)) -> Lab {
        let light = self.between(light.0, light.1);
        let chroma = self.between(chroma.0, chroma.1);
        let (sin, cos) = math::sin_cos(self.between(hue.0, hue.1).to_radians());
        lab(light, chroma * cos, chroma * sin)
    }

    fn near(&mut self, at: Lab, by: f64) -> Lab {
        let mut step = || self.between(-by, by);
        lab(at.l() + step(), at.a() + step(), at.b() + step())
    }
}

fn lab(l: f64, a: f64, b: f64) -> Lab {
    Lab::clamped(l, a, b)
}

/// Kinds of tables that have broken searches of this sort.
#[derive(Clone, Copy, Debug)]
pub(super) enum Kind {
    Screen,
    EightBit,
    Blues,
    NearNeutral,
    HueWrap,
    Vivid,
    Ring,
    SparseWide,
    OneLightness,
    GrayLine,
    Opposite,
}

pub(super) const KINDS: [Kind; 11] = [
    Kind::Screen,
    Kind::EightBit,
    Kind::Blues,
    Kind::NearNeutral,
    Kind::HueWrap,
    Kind::Vivid,
    Kind::Ring,
    Kind::SparseWide,
    Kind::OneLightness,
    Kind::GrayLine,
    Kind::Opposite,
];

fn color(kind: Kind, seeded: &mut Seeded) -> Lab {
    match kind {
        Kind::Screen => {
            let at = seeded.srgb();
            seeded.near(at, 0.3)
        }
        Kind::EightBit => seeded.srgb(),
        Kind::Blues => seeded.polar((5.0, 80.0), (5.0, 130.0), (250.0, 300.0)),
        Kind::NearNeutral => seeded.polar((0.0, 102.0), (0.0, 3.0), (0.0, 360.0)),
        Kind::HueWrap => seeded.polar((20.0, 80.0), (0.0, 110.0), (-12.0, 12.0)),
        Kind::Vivid => seeded.polar((10.0, 95.0), (80.0, 180.0), (0.0, 360.0)),
        Kind::Ring => seeded.polar((50.0, 50.0), (40.0, 40.0), (0.0, 360.0)),
        Kind::SparseWide => {
            let mut ab = || seeded.between(-200.0, 200.0);
            let (a, b) = (ab(), ab());
            lab(seeded.between(0.0, 102.0), a, b)
        }
        Kind::OneLightness => seeded.polar((92.0, 92.0), (0.0, 60.0), (0.0, 360.0)),
        Kind::GrayLine => lab(seeded.between(0.0, 102.0), 0.0, 0.0),
        Kind::Opposite => {
            let side = if seeded.below(2) == 0 { 1.0 } else { -1.0 };
            let along = side * seeded.between(0.0, 60.0);
            lab(seeded.between(30.0, 70.0), 0.8 * along, 0.6 * along)
        }
    }
}

pub(super) fn table(kind: Kind, rows: usize, seeded: &mut Seeded) -> Vec<Lab> {
    // Tables print one or two decimals: rounding makes ties and opposite hues to the last bit.
    let decimals = [0.0, 1.0, 10.0, 1e9][seeded.below(4)];
    let mut colors: Vec<Lab> = Vec::new();
    for row in 0..rows {
        let fresh = color(kind, seeded);
        let round =
            |value: f64| if decimals > 0.0 { (value * decimals).round() / decimals } else { value };
        colors.push(match seeded.below(12) {
            0 if row > 0 => colors[seeded.below(row)],
            1 if row > 0 => {
                let twin = colors[seeded.below(row)];
                lab(twin.l(), twin.a(), -twin.b())
            }
            _ => lab(round(fresh.l()), round(fresh.a()), round(fresh.b())),
        });
    }
    colors
}

pub(super) fn question(kind: Kind, colors: &[Lab], seeded: &mut Seeded) -> Lab {
    let row = colors[seeded.below(colors.len())];
    match seeded.below(8) {
        0 => row,
        1 => lab(row.l(), -row.a(), -row.b()),
        2 => seeded.srgb(),
        3 => seeded.near(row, 1e-7),
        4 => seeded.near(row, 20.0),
        5 => color(KINDS[seeded.below(KINDS.len())], seeded),
        _ => color(kind, seeded),
    }
}

/// The presets, and parameters at the ends of what is taken.
fn formulas() -> Vec<Formula> {
    let factors = |l, c, h| Formula::Ciede2000(Factors::new(l, c, h).unwrap());
    let ratio = |l, c| Formula::Cmc(Ratio::new(l, c).unwrap());
    let odd = [
        factors(1.0, 1.0, 10.0),
        factors(10.0, 0.1, 1.0),
        factors(0.1, 10.0, 0.1),
        ratio(10.0, 0.1),
        ratio(0.1, 10.0),
    ];
    Formula::PRESETS.into_iter().chain(odd).collect()
}

fn formula(seeded: &mut Seeded) -> Formula {
    let all = formulas();
    all[seeded.below(all.len())]
}

pub(super) fn factors(seeded: &mut Seeded) -> Factors {
    loop {
        if let Formula::Ciede2000(factors) = formula(seeded) {
            return factors;
        }
    }
}

fn ask(standard: Lab, count: usize, formula: Formula) -> Ask<'static> {
    Ask { standard, count, more: None, formula, limit: None, admit: None, watch: &Patient }
}

/// What a plain pass over the rows answers, without an end.
fn pass(colors: &[Lab], ask: &Ask<'_>) -> Vec<Hit> {
    let mut hits: Vec<Hit> = colors
        .iter()
        .enumerate()
        .filter(|(row, _)| ask.admit.is_none_or(|admit| admit(*row)))
        .map(|(row, sample)| Hit {
            row,
            delta_e: ask.formula.delta_e(Pair { standard: ask.standard, sample: *sample }),
        })
        .collect();
    hits.sort_by(Hit::order);
    hits
}

fn search(index: &LabIndex, ask: &Ask<'_>) -> Vec<Hit> {
    index.nearest(ask, &mut Tally::default()).unwrap()
}

fn agrees(colors: &[Lab], asked: &Ask<'_>) {
    let mut expected = pass(colors, asked);
    expected.truncate(asked.count);
    assert_eq!(search(&LabIndex::build(colors.iter().copied()), asked), expected);
}

/// Searches of each formula. `DYEKIN_SEARCHES=500000` asks for the long form.
fn searches() -> usize {
    const SHORT: usize = 40_000;
    std::env::var("DYEKIN_SEARCHES").map_or(SHORT, |text| text.parse().unwrap())
}

#[test]
fn answers_equal_a_plain_pass_on_tables_that_hurt_under_every_formula() {
    const QUESTIONS: usize = 200;
    const COUNTS: [usize; 3] = [1, 5, 20];
    for (first, formula) in formulas().into_iter().enumerate() {
        let mut seeded = Seeded(20_261_125 + first as u64);
        for place in 0..searches().div_ceil(QUESTIONS * COUNTS.len()) {
            let kind = KINDS[(first + place) % KINDS.len()];
            let rows = [1, 3, 20, 47, 48, 60, 120, 200, 300, 700][seeded.below(10)];
            let colors = table(kind, rows, &mut seeded);
            let index = LabIndex::build(colors.iter().copied());
            for _ in 0..QUESTIONS {
                let standard = question(kind, &colors, &mut seeded);
                let expected = pass(&colors, &ask(standard, 1, formula));
                for count in COUNTS {
                    let found = search(&index, &ask(standard, count, formula));
                    let wanted = &expected[..count.min(expected.len())];
                    assert_eq!(found, wanted, "{kind:?}, {rows} rows, {standard:?}, {formula}");
                }
            }
        }
    }
}

#[test]
fn filters_and_limits_equal_a_plain_pass() {
    let mut seeded = Seeded(7);
    for place in 0..2_000 {
        let kind = KINDS[place % KINDS.len()];
        let rows = 1 + seeded.below(400);
        let colors = table(kind, rows, &mut seeded);
        let keep = [1, 2, 7, 97, 100_000][seeded.below(5)];
        let offset = seeded.below(keep);
        let admit = |row: usize| row % keep == offset;
        let limit = DeltaE::new(seeded.between(0.0, 12.0)).unwrap();
        let count = [1, 5, 20, 1_000][seeded.below(4)];
        let standard = question(kind, &colors, &mut seeded);
        let asked = Ask { admit: Some(&admit), ..ask(standard, count, formula(&mut seeded)) };
        agrees(&colors, &asked);

        let limited = Ask { limit: Some(limit), ..asked };
        let mut expected = pass(&colors, &limited);
        expected.truncate(count);
        let within = expected.partition_point(|hit| hit.delta_e.value() <= limit.value()).max(1);
        let found = search(&LabIndex::build(colors.iter().copied()), &limited);
        let shown = within.min(expected.len());
        assert_eq!(found.get(..shown), Some(&expected[..shown]));
    }
}

#[test]
fn rows_about_as_near_as_the_nearest_equal_a_plain_pass() {
    let mut seeded = Seeded(8);
    for place in 0..3_000 {
        let kind = KINDS[place % KINDS.len()];
        let rows = 1 + seeded.below(400);
        let colors = table(kind, rows, &mut seeded);
        let keep = [1, 3][seeded.below(2)];
        let admit = |row: usize| row.is_multiple_of(keep);
        let within = [0.0, 0.5, 1.7, 30.0][seeded.below(4)];
        let more = More { within, at_most: [1, 20, 100][seeded.below(3)] };
        let count = [1, 2, 7][seeded.below(3)];
        let standard = question(kind, &colors, &mut seeded);
        let asked = ask(standard, count, formula(&mut seeded));
        let asked = Ask { admit: Some(&admit), more: Some(more), ..asked };
        let mut expected = pass(&colors, &asked);
        let reach = expected[0].delta_e.value() + within;
        let near = expected.partition_point(|hit| hit.delta_e.value() <= reach);
        expected.truncate(near.max(count).min(count + more.at_most));
        assert_eq!(search(&LabIndex::build(colors.iter().copied()), &asked), expected);
    }
}

#[test]
fn more_than_the_table_has_gives_the_whole_table() {
    let mut seeded = Seeded(3);
    for rows in [1, 2, 47, 48, 500] {
        let colors = table(Kind::Screen, rows, &mut seeded);
        for formula in formulas() {
            agrees(&colors, &ask(seeded.srgb(), 1_000, formula));
            agrees(&colors, &ask(seeded.srgb(), usize::MAX, formula));
        }
    }
}

#[test]
fn an_empty_index_answers_nothing() {
    let index = LabIndex::build(std::iter::empty());
    assert_eq!(search(&index, &ask(lab(50.0, 0.0, 0.0), 5, Formula::DEFAULT)), []);
}

#[test]
fn identical_rows_are_one_point_and_answer_lowest_row_first() {
    let colors = vec![lab(40.0, 20.0, -30.0); 100_000];
    let index = LabIndex::build(colors.iter().copied());
    let mut tally = Tally::default();
    let hits =
        index.nearest(&ask(lab(41.0, 0.0, 0.0), 1_000, Formula::DEFAULT), &mut tally).unwrap();
    let rows: Vec<usize> = hits.iter().map(|hit| hit.row).collect();
    assert_eq!(rows, (0..1_000).collect::<Vec<_>>());
    assert_eq!(tally.formula_calls, 1);

    let admit = |row: usize| row >= 99_998;
    let asked = Ask { admit: Some(&admit), ..ask(lab(41.0, 0.0, 0.0), 5, Formula::DEFAULT) };
    let rows: Vec<usize> = search(&index, &asked).iter().map(|hit| hit.row).collect();
    assert_eq!(rows, [99_998, 99_999]);
}

#[test]
fn neutrals_that_share_two_coordinates_are_all_found() {
    let grays: Vec<Lab> = (0..200).map(|step| lab(f64::from(step) * 0.51, 0.0, 0.0)).collect();
    for (row, gray) in grays.iter().enumerate() {
        let index = LabIndex::build(grays.iter().copied());
        assert_eq!(search(&index, &ask(*gray, 1, Formula::DEFAULT))[0].row, row);
        agrees(&grays, &ask(*gray, 200, Formula::DEFAULT));
    }
}

#[test]
fn lightness_up_to_102_is_searched_exactly() {
    let mut seeded = Seeded(102);
    let colors: Vec<Lab> =
        (0..300).map(|_| seeded.polar((95.0, 102.0), (0.0, 90.0), (0.0, 360.0))).collect();
    for _ in 0..500 {
        let standard = seeded.polar((80.0, 102.0), (0.0, 90.0), (0.0, 360.0));
        agrees(&colors, &ask(standard, 5, Formula::DEFAULT));
        agrees(&colors, &ask(standard, 5, formula(&mut seeded)));
    }
}

#[test]
fn a_search_stops_before_its_first_formula_call_when_nobody_waits() {
    struct Gone;
    impl Watch for Gone {
        fn stopped(&self) -> bool {
            true
        }
        fn progress(&self, _: &Progress) {}
    }
    let index = LabIndex::build(std::iter::once(lab(50.0, 0.0, 0.0)));
    let asked = Ask { watch: &Gone, ..ask(lab(50.0, 0.0, 0.0), 1, Formula::DEFAULT) };
    let mut tally = Tally::default();
    let stopped = index.nearest(&asked, &mut tally).unwrap_err();
    assert_eq!(*stopped.kind(), ErrorKind::Stopped);
    assert_eq!(tally.formula_calls, 0);
}

/// Mean formula and bound calls of one search over random screen colors.
fn mean_work(formula: Formula, rows: usize, count: usize) -> (f64, f64) {
    const QUESTIONS: u32 = 2_000;
    let mut seeded = Seeded(500);
    let index = LabIndex::build(
        (0..rows).map(|_| color(Kind::Screen, &mut seeded)).collect::<Vec<_>>().into_iter(),
    );
    let mut tally = Tally::default();
    for _ in 0..QUESTIONS {
        let standard = color(Kind::Screen, &mut seeded);
        index.nearest(&ask(standard, count, formula), &mut tally).unwrap();
    }
    let mean = |calls: u64| f64::from(u32::try_from(calls).unwrap()) / f64::from(QUESTIONS);
    (mean(tally.formula_calls), mean(tally.bound_calls))
}

/// Caps about a third above what was counted, so that a change that costs work is seen.
#[test]
fn work_stays_under_its_caps() {
    let usual = Formula::DEFAULT;
    let mut over = Vec::new();
    for (formula, rows, count, formula_cap, cap) in [
        (usual, 500, 1, 1.5, 115.0),
        (usual, 5_000, 1, 1.5, 88.0),
        (usual, 50_000, 1, 1.5, 83.0),
        (usual, 500, 5, 6.7, 265.0),
        (usual, 5_000, 5, 6.7, 250.0),
        (usual, 50_000, 5, 6.7, 145.0),
        (Formula::CMC_ACCEPTABILITY, 5_000, 1, 1.5, 65.0),
        (Formula::CMC_ACCEPTABILITY, 5_000, 5, 6.7, 65.0),
        (Formula::CMC_PERCEPTIBILITY, 5_000, 5, 6.7, 65.0),
        (Formula::Cie94(Application::GraphicArts), 5_000, 5, 6.7, 65.0),
        (Formula::Cie94(Application::Textile), 5_000, 5, 6.7, 65.0),
        (Formula::Din99o, 5_000, 1, 1.5, 65.0),
        (Formula::Din99o, 5_000, 5, 6.7, 65.0),
        (Formula::Hyab, 5_000, 5, 6.7, 65.0),
        (Formula::Cie76, 5_000, 5, 6.7, 65.0),
    ] {
        let (calls, measured) = mean_work(formula, rows, count);
        if calls > formula_cap || measured > cap {
            over.push(format!("{formula}, {rows} rows, {count} asked: {calls} calls, {measured}"));
        }
    }
    assert!(over.is_empty(), "{over:#?}");
}

/// A query far from every color of a table with one lightness: the plane alone must rule out most.
#[test]
fn a_table_of_one_lightness_is_pruned_from_afar() {
    let mut seeded = Seeded(92);
    let colors: Vec<Lab> = (0..5_000).map(|_| color(Kind::OneLightness, &mut seeded)).collect();
    let index = LabIndex::build(colors.iter().copied());
    let mut tally = Tally::default();
    for _ in 0..100 {
        let standard = seeded.polar((10.0, 60.0), (0.0, 60.0), (0.0, 360.0));
        let found = index.nearest(&ask(standard, 1, Formula::DEFAULT), &mut tally).unwrap();
        assert_eq!(found, pass(&colors, &ask(standard, 1, Formula::DEFAULT))[..1]);
    }
    assert!(tally.bound_calls < 100 * 200, "{tally:?}");
}

/// What does not fit a tree of single precision must not be lost.
#[test]
fn colors_that_single_precision_cannot_tell_apart_are_all_found() {
    let mut seeded = Seeded(32);
    let colors: Vec<Lab> = (0..2_000).map(|_| seeded.near(lab(40.0, 20.0, -30.0), 1e-9)).collect();
    for formula in formulas() {
        agrees(&colors, &ask(lab(41.0, 21.0, -29.0), 20, formula));
    }
}

#[test]
fn no_form_exceeds_the_difference_of_a_color_within_reach() {
    let mut seeded = Seeded(40);
    for place in 0..1_100 {
        let kind = KINDS[place % KINDS.len()];
        let colors = table(kind, 40, &mut seeded);
        for _ in 0..50 {
            let standard = question(kind, &colors, &mut seeded);
            let formula = formula(&mut seeded);
            let reach_of = colors[seeded.below(colors.len())];
            forms_hold(Pair { standard, sample: reach_of }, formula, &colors);
        }
    }
}

/// Lower bounds of CIEDE2000 from a color to a box, with a color inside it; computed for this project
/// in double precision.
const BOXES: &str = include_str!("../../../../tests/data/reference/ciede2000_boxes.csv");

#[test]
fn no_bound_exceeds_the_difference_of_the_reference_boxes() {
    let rows: Vec<Vec<f64>> = BOXES
        .lines()
        .filter(|line| line.starts_with(|first: char| first.is_ascii_digit()))
        .map(|line| line.split(',').map(|field| field.parse().unwrap()).collect())
        .collect();
    assert_eq!(rows.len(), 40);
    for row in &rows {
        let at = |from: usize| lab(row[from], row[from + 1], row[from + 2]);
        let pair = Pair { standard: at(0), sample: at(9) };
        let score = Formula::DEFAULT.delta_e(pair).value();
        assert!((score - row[13]).abs() < 1e-6 && row[12] <= score, "{row:?}: {score}");
        forms_hold(pair, Formula::DEFAULT, &[at(3), at(6), at(9)]);
    }
}

/// The reach is the difference of the pair. The first color stands in a block with up to 15 others.
fn forms_hold(pair: Pair, formula: Formula, colors: &[Lab]) {
    let standard = pair.standard;
    let points: Vec<[f64; 3]> = colors.iter().copied().map(Lab::components).collect();
    let around = Around::among(standard, formula, Extent::of(points.iter().copied()));
    let reach = formula.delta_e(pair).value();
    let cut = with_room(reach * reach);
    let form = around.quadratic(cut);
    let blocks = InstructionSet::all()
        .into_iter()
        .map(|set| Boxes::of(points.iter().copied()).within(set, &form, cut));
    let blocks: Vec<Vec<u32>> = blocks.collect();
    for (sample, place) in colors.iter().zip(0..) {
        let at = sample.components();
        let score = formula.delta_e(Pair { standard, sample: *sample }).value();
        let room = with_room(score * score);
        assert!(around.least(at) <= room, "{standard:?} {sample:?}: {} {score}", around.least(at));
        if score <= reach {
            assert!(form.at(at) <= room, "{formula}: {standard:?} {sample:?}: {score}");
            assert!(
                blocks.iter().all(|blocks| blocks.contains(&(place / 16))),
                "{formula}: {standard:?} {sample:?}"
            );
        }
    }
}
