//! The plan against every choice on small charts, and against giving everything away on many
//! larger ones. Joins, areas and thread are counted here anew, cell by cell.

mod enclosed;
mod marks;
mod shared;
mod speed;

use dyekin_core::{Code, Srgb8, TableHash, TableId};

use super::dice::Dice;
use super::need::Need;
use super::*;
use crate::chart::{Draft, Entry, EntryId, Grid, KeyThread, Size, Strands, Work};

fn thread(code: &str) -> ThreadRef {
    ThreadRef { table: TableId::parse("pond").unwrap(), code: Code::parse(code).unwrap() }
}

fn entry(code: &str, color: Srgb8) -> Entry {
    let table_hash = TableHash::parse(&"0".repeat(64)).unwrap();
    Entry {
        work: Work::Thread(KeyThread { thread: thread(code), table_hash }),
        strands: Strands::new(Some(2), None, None).unwrap(),
        ..Entry::of_color(color)
    }
}

/// A drawn chart: `@` is stitched in the thread that runs out, `#` is not yet, anything else is
/// another thread of much the same color.
#[derive(Clone)]
struct Drawn {
    rows: Vec<Vec<char>>,
}

impl Drawn {
    fn of(rows: &[&str]) -> Self {
        Self { rows: rows.iter().map(|row| row.chars().collect()).collect() }
    }

    fn size(&self) -> Size {
        Size::new(self.rows[0].len() as u64, self.rows.len() as u64).unwrap()
    }

    fn at(&self, x: isize, y: isize) -> char {
        let row = usize::try_from(y).ok().and_then(|y| self.rows.get(y));
        row.and_then(|row| row.get(usize::try_from(x).ok()?)).copied().unwrap_or(' ')
    }

    fn is_own(&self, x: isize, y: isize) -> bool {
        matches!(self.at(x, y), '@' | '#')
    }

    fn cells(&self, wanted: char) -> Vec<(isize, isize)> {
        let mut cells = Vec::new();
        for (y, row) in self.rows.iter().enumerate() {
            for (x, letter) in row.iter().enumerate() {
                if *letter == wanted {
                    cells.push((isize::try_from(x).unwrap(), isize::try_from(y).unwrap()));
                }
            }
        }
        cells
    }

    fn chart(&self) -> Chart {
        let mut grid = Grid::bare(self.size());
        for (place, letter) in self.rows.iter().flatten().enumerate() {
            grid.put_at(place, EntryId::new(usize::from(!matches!(letter, '@' | '#'))));
        }
        let gray = |value: u8| Srgb8::new(value, value, value);
        let key = vec![entry("A", gray(90)), entry("B", gray(96))];
        Chart::new(Draft::of_grid(grid, key)).unwrap()
    }

    fn done(&self) -> Vec<bool> {
        self.rows.iter().flatten().map(|letter| *letter == '@').collect()
    }

    fn plan(&self, low: u64, effort: Effort) -> Plan {
        self.planned(low, |question| plan_within(question, effort).unwrap())
    }

    /// Plans with so much left of the thread.
    fn planned<T>(&self, low: u64, plan: impl FnOnce(&Question<'_>) -> T) -> T {
        let chart = self.chart();
        let done = Done { stitches: self.done(), ..Done::default() };
        let held = vec![false; done.stitches.len()];
        let question = Question {
            chart: &chart,
            done: &done,
            held: &held,
            basis: Basis::Count(14.0),
            left: &[(Left { thread: thread("A"), low, high: low }, 6)],
        };
        plan(&question)
    }

    /// The cells that a plan leaves to the old thread.
    fn kept(&self, plan: &Plan) -> BTreeSet<(isize, isize)> {
        let width = isize::try_from(self.rows[0].len()).unwrap();
        let given: BTreeSet<(isize, isize)> = plan.given[0]
            .cells
            .iter()
            .map(|place| isize::try_from(*place).unwrap())
            .map(|place| (place % width, place / width))
            .collect();
        self.cells('#').into_iter().filter(|cell| !given.contains(cell)).collect()
    }

    /// Joins in half edges and quarters given away, both unweighed, and the most thread.
    fn counted(&self, kept: &BTreeSet<(isize, isize)>) -> (u64, u64, u64) {
        let is_old = |x: isize, y: isize| self.at(x, y) == '@' || kept.contains(&(x, y));
        let (mut join, mut lost) = (0, 0);
        for (x, y) in self.cells('#').into_iter().filter(|cell| !kept.contains(cell)) {
            lost += 4;
            for (dx, dy) in [(-1, 0), (1, 0), (0, -1), (0, 1)] {
                join += 2 * u64::from(is_old(x + dx, y + dy));
            }
            for (dx, dy) in [(-1, -1), (1, -1), (-1, 1), (1, 1)] {
                let alone = !self.is_own(x + dx, y) && !self.is_own(x, y + dy);
                join += u64::from(alone && is_old(x + dx, y + dy));
            }
        }
        let need = Need::new(Basis::Count(14.0), 2, 6);
        let pieces = groups(kept.iter().copied().collect());
        let most = pieces.iter().map(|piece| need.most(4 * piece.len() as u64)).sum();
        (join, lost, most)
    }

    /// True when what is not begun is whole, one way or the other.
    fn is_sound(&self, kept: &BTreeSet<(isize, isize)>) -> bool {
        groups(self.cells('#')).iter().all(|group| {
            let begun =
                group.iter().any(|(x, y)| around(*x, *y).any(|(x, y)| self.at(x, y) == '@'));
            let old = group.iter().filter(|cell| kept.contains(cell)).count();
            begun || old == 0 || old == group.len()
        })
    }

    /// The least joins and then quarters given away, of all choices that thread is enough for.
    fn best(&self, low: u64) -> (u64, u64) {
        let open = self.cells('#');
        let mut best = (u64::MAX, u64::MAX);
        for bits in 0..1_u32 << open.len() {
            let kept = open.iter().enumerate().filter(|(cell, _)| bits >> cell & 1 == 1);
            let kept: BTreeSet<(isize, isize)> = kept.map(|(_, cell)| *cell).collect();
            let (join, lost, most) = self.counted(&kept);
            if most <= low && (join, lost) < best && self.is_sound(&kept) {
                best = (join, lost);
            }
        }
        best
    }
}

fn around(x: isize, y: isize) -> impl Iterator<Item = (isize, isize)> {
    (-1..=1).flat_map(move |dy| (-1..=1).map(move |dx| (x + dx, y + dy)))
}

/// Cells that hang together, edge to edge or corner to corner.
fn groups(cells: Vec<(isize, isize)>) -> Vec<Vec<(isize, isize)>> {
    let mut left: BTreeSet<(isize, isize)> = cells.into_iter().collect();
    let mut groups = Vec::new();
    while let Some(first) = left.pop_first() {
        let mut group = vec![first];
        let mut next = 0;
        while let Some((x, y)) = group.get(next).copied() {
            group.extend(around(x, y).filter(|cell| left.remove(cell)));
            next += 1;
        }
        groups.push(group);
    }
    groups
}

/// All areas of these charts are small and do not stand out.
const WEIGHT: u64 = 3;

/// A small chart with up to so many open cells, and an amount of thread that may not do.
fn small(dice: &mut Dice, most: usize) -> (Drawn, u64) {
    loop {
        let (width, height) = (3 + dice.place(4), 3 + dice.place(3));
        let done = dice.place(height);
        let full = 3 + dice.place(5);
        let mut letter = |y: usize| match (dice.place(8) < full, y < done) {
            (true, true) => '@',
            (true, false) => '#',
            (false, _) => 'o',
        };
        let rows = (0..height).map(|y| (0..width).map(|_| letter(y)).collect()).collect();
        let drawn = Drawn { rows };
        let open = drawn.cells('#').len();
        let all = drawn.cells('@').len() + open;
        if (1..=most).contains(&open) && all < 25 {
            return (drawn, 1_000 * dice.place(12 * open) as u64);
        }
    }
}

#[test]
fn every_choice_on_small_charts_is_no_better() {
    let mut dice = Dice(1);
    let (mut proved, mut joined) = (0, 0);
    for round in 0..150 {
        let (drawn, low) = small(&mut dice, 11);
        let plan = drawn.plan(low, Effort::USUAL);
        let found = &plan.threads[0];
        let (join, lost) = drawn.best(low);
        let best = (join * WEIGHT, lost * WEIGHT);
        assert!(found.cost >= best && found.joins_floor <= best.0, "round {round}");
        if found.proved {
            assert_eq!(found.cost, best, "round {round}: {:?}", drawn.rows);
        }
        let kept = drawn.kept(&plan);
        let counted = drawn.counted(&kept);
        assert_eq!((counted.0 * WEIGHT, counted.1 * WEIGHT), found.cost, "round {round}");
        assert!(counted.2 <= low && drawn.is_sound(&kept), "round {round}");
        proved += u32::from(found.proved);
        joined += u32::from(join > 0);
    }
    assert!(proved >= 145 && joined > 30, "{proved} proved, {joined} with a join");
}

#[test]
fn the_search_for_larger_areas_holds_on_small_ones_too() {
    let mut dice = Dice(2);
    let (mut best_found, mut rounds) = (0, 0);
    while rounds < 60 {
        let (drawn, low) = small(&mut dice, 13);
        if groups(drawn.cells('#')).iter().all(|group| group.len() <= 10) {
            continue;
        }
        rounds += 1;
        let (join, lost) = drawn.best(low);
        let best = (join * WEIGHT, lost * WEIGHT);
        for effort in [Effort::USUAL, Effort { narrow: 0, ..Effort::USUAL }] {
            let plan = drawn.plan(low, effort);
            let found = &plan.threads[0];
            assert!(found.cost >= best && found.joins_floor <= best.0, "{:?}", drawn.rows);
            assert!(!found.proved || found.cost == best, "{:?}", drawn.rows);
            assert!(drawn.counted(&drawn.kept(&plan)).2 <= low, "{:?}", drawn.rows);
            best_found += u32::from(found.cost.0 == best.0);
        }
    }
    assert!(best_found >= 110, "{best_found} of {}", 2 * rounds);
}

/// Heights of a landscape that was made softer so many times.
fn field(
    dice: &mut Dice,
    (width, height): (usize, usize),
    rounds: impl FnOnce(&mut Dice) -> usize,
) -> Vec<Vec<usize>> {
    let mut field = vec![vec![0_usize; width]; height];
    for row in &mut field {
        row.iter_mut().for_each(|value| *value = dice.place(1_000));
    }
    for _ in 0..rounds(dice) {
        let old = field.clone();
        let around = |at: usize, end: usize| at.saturating_sub(1)..end.min(at + 2);
        for (y, row) in field.iter_mut().enumerate() {
            for (x, value) in row.iter_mut().enumerate() {
                let near =
                    || around(y, height).flat_map(move |y| around(x, width).map(move |x| (x, y)));
                *value = near().map(|(x, y)| old[y][x]).sum::<usize>() / near().count();
            }
        }
    }
    field
}

/// A chart of soft blobs, rows of which are done.
fn blobs(dice: &mut Dice) -> Drawn {
    let (width, height) = (24 + dice.place(30), 20 + dice.place(24));
    let field = field(dice, (width, height), |dice| 1 + dice.place(4));
    let mut sorted: Vec<usize> = field.iter().flatten().copied().collect();
    sorted.sort_unstable();
    let level = sorted[sorted.len() * (3 + dice.place(5)) / 10];
    let done = dice.place(height);
    let by_column = dice.place(3) == 0;
    let letter = |x: usize, y: usize, value: usize| match (value > level, by_column) {
        (false, _) => 'o',
        (true, true) if x < done => '@',
        (true, false) if y < done => '@',
        (true, _) => '#',
    };
    let row = |(y, row): (usize, &Vec<usize>)| {
        row.iter().enumerate().map(|(x, value)| letter(x, y, *value)).collect()
    };
    Drawn { rows: field.iter().enumerate().map(row).collect() }
}

#[test]
fn two_hundred_charts_are_never_worse_than_giving_everything_away() {
    let mut dice = Dice(3);
    let effort = Effort { narrow: 3_000_000, ways: 3_000_000, cuts: 3_000_000 };
    let (mut better, mut shortest, mut joined) = (0, 0, 0);
    for round in 0..200 {
        let drawn = blobs(&mut dice);
        let open = drawn.cells('#').len() as u64;
        let low = 1_000 + 6_000 * open * dice.place(100) as u64 / 100;
        let plan = drawn.plan(low, effort);
        let found = &plan.threads[0];
        let kept = drawn.kept(&plan);
        let (join, _, most) = drawn.counted(&kept);
        let (remaining, _, _) = drawn.counted(&BTreeSet::new());
        assert!(most <= low, "round {round}: {most} of {low}");
        assert!(drawn.is_sound(&kept), "round {round}");
        assert!(found.joins_floor <= found.cost.0, "round {round}");
        let told: u64 =
            found.areas.iter().filter_map(|area| area.join.map(|join| join.length())).sum();
        assert_eq!(told, join, "round {round}");
        let weighed: u64 = found.areas.iter().map(|area| begun_join(&drawn, area)).sum();
        assert!(found.cost.0 <= weighed, "round {round}: {} of {weighed}", found.cost.0);
        better += u32::from(join < remaining);
        shortest += u32::from(found.cost.0 == found.joins_floor);
        joined += u32::from(join > 0);
    }
    println!("{better} shorter, {joined} with a join, {shortest} proved shortest");
    assert!(better > 120 && joined > 60, "{better} shorter, {joined} with a join");
    assert!(shortest > 150, "{shortest} proved shortest");
}

/// The weighed join of an area of which nothing is finished.
fn begun_join(drawn: &Drawn, area: &AreaPlan) -> u64 {
    let inside = |(x, y): &(isize, isize)| {
        let (x, y) = (usize::try_from(*x).unwrap(), usize::try_from(*y).unwrap());
        (area.rows.0..=area.rows.1).contains(&y) && (area.columns.0..=area.columns.1).contains(&x)
    };
    let own = groups(drawn.cells('#')).into_iter().find(|group| {
        let size = 4 * group.len() as u64 == area.quarters && group.iter().all(inside);
        let first_row = group.iter().map(|(_, y)| *y).min();
        size && first_row == isize::try_from(area.rows.0).ok()
    });
    let own = own.expect("the area");
    let rest: BTreeSet<(isize, isize)> =
        drawn.cells('#').into_iter().filter(|cell| !own.contains(cell)).collect();
    drawn.counted(&rest).0 * area.weight
}

#[test]
fn a_join_goes_where_an_area_is_narrow() {
    // Enough for the lobe beyond the front, not for the whole.
    let drawn = Drawn::of(&[
        "@@@@@@@@@@@@",
        "############",
        "############",
        "ooooo##ooooo",
        "############",
        "############",
        "############",
        "############",
    ]);
    for effort in [Effort::USUAL, Effort { narrow: 0, ..Effort::USUAL }] {
        let plan = drawn.plan(170_000, effort);
        let kept = drawn.kept(&plan);
        assert_eq!(drawn.counted(&kept).0, 4, "two edges");
        let join = plan.threads[0].areas[0].join.unwrap();
        assert_eq!((join.edges, join.corners), (2, 0));
        assert!(join.rows.0 == join.rows.1 && (3..=4).contains(&join.rows.0));
    }
}

#[test]
fn a_small_area_that_is_begun_is_finished_before_a_large_one_is_joined_shorter() {
    // Thread for the small one's rest, or for some of the large one's.
    let mut rows = vec!["@@ooo@@@@@@@@@@@@@@@@@@@@@"; 1];
    rows.extend(["##ooo#####################"; 10]);
    rows[10] = "ooooo#####################";
    let drawn = Drawn::of(&rows);
    let plan = drawn.plan(160_000, Effort::USUAL);
    let small = &plan.threads[0].areas[0];
    assert_eq!(small.kept_quarters, small.quarters);
    assert_eq!(small.weight, 3);
    assert_eq!(plan.threads[0].areas[1].weight, 1);
}
