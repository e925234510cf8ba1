//! Needles with two threads that run out, against every choice of whole areas.
//! It does not know joins: no area is begun.

use super::*;
use crate::chart::Blend;

/// Single areas in a row: `a` and `b` are one thread each, `m` both in one needle.
fn chart(areas: &[(char, usize)]) -> Chart {
    let width: usize = areas.iter().map(|(_, length)| length + 1).sum();
    let mut grid = Grid::bare(Size::new(width as u64, 1).unwrap());
    let mut place = 0;
    for (letter, length) in areas {
        let number = "abm".find(*letter).unwrap();
        for cell in place..place + length {
            grid.put_at(cell, EntryId::new(number));
        }
        place += length + 1;
    }
    let gray = |value: u8| Srgb8::new(value, value, value);
    let of = |code: &str| entry(code, gray(90)).work.threads().next().cloned().unwrap();
    let blend = Blend::new((of("A"), 1), (of("B"), 1)).unwrap();
    let mixed = Entry { work: Work::Blend(blend), ..Entry::of_color(gray(92)) };
    let key = vec![entry("A", gray(90)), entry("B", gray(96)), mixed];
    Chart::new(Draft::of_grid(grid, key)).unwrap()
}

fn plan(chart: &Chart, low: [u64; 2]) -> Plan {
    let done = Done::default();
    let left = |code: &str, low: u64| (Left { thread: thread(code), low, high: low }, 6);
    let question = Question {
        chart,
        done: &done,
        held: &[],
        basis: Basis::Count(14.0),
        left: &[left("A", low[0]), left("B", low[1])],
    };
    super::plan(&question).unwrap()
}

/// The least that is given away, weighed, of all choices of whole areas.
fn best(areas: &[(char, usize)], low: [u64; 2]) -> u64 {
    let need = |strands: u8, length: usize| {
        Need::new(Basis::Count(14.0), strands, 6).most(4 * length as u64)
    };
    let mut best = u64::MAX;
    for bits in 0..1_u32 << areas.len() {
        let (mut taken, mut lost) = ([0, 0], 0);
        for (number, (letter, length)) in areas.iter().enumerate() {
            if bits >> number & 1 == 0 {
                lost += 4 * *length as u64 * WEIGHT;
                continue;
            }
            let each = match letter {
                'a' => [need(2, *length), 0],
                'b' => [0, need(2, *length)],
                _ => [need(1, *length), need(1, *length)],
            };
            taken = [taken[0] + each[0], taken[1] + each[1]];
        }
        if taken[0] <= low[0] && taken[1] <= low[1] {
            best = best.min(lost);
        }
    }
    best
}

#[test]
fn two_threads_of_one_needle_are_shared_out_best() {
    let mut dice = Dice(5);
    let (mut kept, mut given) = (0, 0);
    for round in 0..80 {
        let areas: Vec<(char, usize)> = (0..2 + dice.place(7))
            .map(|_| (['a', 'b', 'm', 'm'][dice.place(4)], 1 + dice.place(12)))
            .chain([('m', 3)])
            .collect();
        let low = [dice.place(250) as u64 * 1_000, dice.place(250) as u64 * 1_000];
        let chart = chart(&areas);
        let plan = plan(&chart, low);
        // Every area is small, and bare cloth around it has no color.
        assert_eq!(plan.threads[0].cost, (0, best(&areas, low)), "round {round}: {areas:?}");
        assert!(plan.threads.iter().all(|found| found.proved && found.shares.len() == 1));
        for (found, low) in plan.threads.iter().zip(low) {
            assert!(found.areas.iter().map(|area| area.takes.most).sum::<u64>() <= low);
            for area in found.areas.iter().filter(|area| area.beside.is_some()) {
                kept += u32::from(area.kept_quarters > 0);
                given += u32::from(area.kept_quarters == 0);
            }
        }
    }
    assert!(kept > 80 && given > 80, "{kept} kept, {given} given");
}

#[test]
fn a_needle_of_two_is_no_matter_where_only_one_runs_out() {
    let chart = chart(&[('m', 4), ('a', 4)]);
    let done = Done::default();
    let question = Question {
        chart: &chart,
        done: &done,
        held: &[],
        basis: Basis::Count(14.0),
        left: &[(Left { thread: thread("A"), low: 9_000_000, high: 9_000_000 }, 6)],
    };
    let plan = super::plan(&question).unwrap();
    assert!(plan.threads[0].shares.is_empty() && plan.threads[0].proved);
    assert!(plan.threads[0].areas.iter().all(|area| area.kept_quarters == area.quarters));
}
