//! Lines and knots of a thread that runs out: what goes together, what is worked, what thread they
//! take. It does not know areas of stitches.

use super::*;
use crate::chart::{Knot, Line, Point};

fn at(half_x: u16, half_y: u16) -> Point {
    Point { half_x, half_y }
}

/// A chart of 8 by 6 bare cells, `o` stitched in another thread, with lines and knots in the one
/// that runs out.
fn chart(rows: &[&str], lines: &[(Point, Point)], knots: &[Point]) -> Chart {
    let drawn = Drawn::of(rows);
    let mut draft = drawn.chart().into_draft();
    let mut grid = Grid::bare(drawn.size());
    for (place, letter) in drawn.rows.iter().flatten().enumerate() {
        if *letter == 'o' {
            grid.put_at(place, EntryId::new(1));
        }
    }
    draft.grid = grid;
    let own = EntryId::new(0).unwrap();
    draft.lines = lines.iter().map(|(from, to)| Line::new(*from, *to, own).unwrap()).collect();
    draft.knots = knots.iter().map(|at| Knot { at: *at, entry: own }).collect();
    Chart::new(draft).unwrap()
}

const BARE: [&str; 6] = ["........"; 6];

/// The plan where lines and knots in the first `done` rows are worked, and so much is left.
fn plan(chart: &Chart, done: usize, low: u64) -> Plan {
    let width = usize::from(chart.size().width());
    let marked: Vec<bool> = (0..chart.size().cells()).map(|place| place / width < done).collect();
    let held = vec![false; marked.len()];
    let done = Done { lines: marked.clone(), knots: marked, ..Done::default() };
    let question = Question {
        chart,
        done: &done,
        held: &held,
        basis: Basis::Count(14.0),
        left: &[(Left { thread: thread("A"), low, high: low }, 6)],
    };
    super::plan(&question).unwrap()
}

fn stays(plan: &Plan) -> Vec<bool> {
    plan.threads[0].marks.iter().map(|marks| marks.stays).collect()
}

const PLENTY: u64 = 9_000_000;

#[test]
fn lines_that_hang_together_go_to_one_thread() {
    // A corner, a line that ends on another one's middle, and one by itself.
    let lines =
        [(at(0, 0), at(4, 0)), (at(4, 0), at(4, 6)), (at(4, 4), at(10, 4)), (at(12, 8), at(16, 8))];
    let chart = chart(&BARE, &lines, &[]);
    let whole = plan(&chart, 0, PLENTY);
    let counts: Vec<u64> = whole.threads[0].marks.iter().map(|marks| marks.lines).collect();
    assert_eq!(counts, [3, 1]);
    assert_eq!(stays(&whole), [true, true]);
    // Enough for the smaller one only, and for neither.
    let small = whole.threads[0].marks[1].takes.most;
    assert_eq!(stays(&plan(&chart, 0, small)), [false, true]);
    assert_eq!(stays(&plan(&chart, 0, small - 1)), [false, false]);
    assert_eq!(plan(&chart, 0, small).given[0].marks.len(), 3);
}

#[test]
fn a_line_that_is_begun_goes_on_before_others_are_worked() {
    // The first two rows are worked: the first line wholly, the second not at all.
    let lines = [(at(2, 0), at(2, 4)), (at(2, 4), at(2, 8)), (at(10, 6), at(10, 10))];
    let chart = chart(&BARE, &lines, &[]);
    let whole = plan(&chart, 2, PLENTY);
    assert_eq!(whole.threads[0].done_marks, (1, 0));
    assert_eq!(whole.threads[0].marks.iter().map(|marks| marks.meets).collect::<Vec<_>>(), [1, 0]);
    let one = whole.threads[0].marks[0].takes.most;
    assert_eq!(stays(&plan(&chart, 2, one)), [true, false]);
    let none = plan(&chart, 2, 0);
    assert_eq!(none.threads[0].cost.0, 4, "one point, weighed twice");
    // A line of which only some is worked counts whole, and as begun.
    let cut = plan(&chart, 1, PLENTY);
    assert_eq!(cut.threads[0].done_marks, (0, 0));
    assert_eq!(cut.threads[0].marks[0].meets, 1);
    assert_eq!(cut.threads[0].marks[0].lines, 2);
}

#[test]
fn knots_of_one_area_are_alike() {
    let rows = ["oo....oo", "oo....oo", "........", "........", "oo....oo", "oo....oo"];
    // Two on the first area, one of them on its edge to the cloth, one on another area, one on cloth.
    let knots = [at(1, 1), at(4, 2), at(15, 1), at(8, 5)];
    let chart = chart(&rows, &[], &knots);
    let whole = plan(&chart, 0, PLENTY);
    let mut counts: Vec<u64> = whole.threads[0].marks.iter().map(|marks| marks.knots).collect();
    counts.sort_unstable();
    assert_eq!(counts, [1, 1, 2]);
    // Each is begun by itself: two strands of 60 mm, a fifth more.
    assert_eq!(plan(&chart, 0, 2 * 24_000).given[0].marks.len(), 2);
    // What is worked of an area comes first.
    let begun = plan(&chart, 1, 24_000);
    let found: Vec<(u64, u64, bool)> = begun.threads[0]
        .marks
        .iter()
        .map(|marks| (marks.knots, marks.meets, marks.stays))
        .collect();
    assert!(begun.threads[0].done_marks.1 >= 2, "{:?}", begun.threads[0].done_marks);
    assert!(found.iter().all(|(_, meets, stays)| *stays || *meets == 0), "{found:?}");
}

#[test]
fn what_stays_never_takes_more_than_is_left() {
    let mut dice = Dice(11);
    let below = |dice: &mut Dice, sides: usize| u16::try_from(dice.place(sides)).unwrap();
    for round in 0..60 {
        let point = |dice: &mut Dice| at(below(dice, 17), below(dice, 13));
        let mut lines = Vec::new();
        while lines.len() < 7 {
            let (from, to) = (point(&mut dice), point(&mut dice));
            if from != to {
                lines.push((from, to));
            }
        }
        let knots: Vec<Point> = (0..4).map(|_| point(&mut dice)).collect();
        let chart = chart(&BARE, &lines, &knots);
        let low = 10_000 * dice.place(40) as u64;
        let plan = plan(&chart, dice.place(4), low);
        let found = &plan.threads[0];
        let taken: u64 = found.marks.iter().map(|marks| marks.takes.most).sum();
        assert!(taken <= low && found.proved, "round {round}");
        assert!(found.marks.iter().all(|marks| marks.takes.least <= marks.takes.most));
        let given: u64 = found
            .marks
            .iter()
            .filter(|marks| !marks.stays)
            .map(|marks| marks.lines + marks.knots)
            .sum();
        assert!(plan.given[0].marks.len() as u64 <= given, "round {round}");
    }
}
