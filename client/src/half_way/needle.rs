//! What is worked in the same threads, one or two of which run out: its areas, lines and knots, and
//! what these take. It does not decide what becomes of them.

use dyekin_core::ThreadRef;

use super::Question;
use super::marks::{self, Group, Worked};
use super::need::{self, Ends, Need};
use super::region::{Board, Region};
use crate::chart::{Entry, EntryId, Work};

/// What is worked in one thread, alone or beside another in the needle.
pub(super) struct Needle {
    pub(super) threads: Vec<ThreadRef>,
    /// The threads that run out, one or two: their places in the question, and what they take.
    pub(super) missing: Vec<(usize, Need)>,
    pub(super) board: Board,
    pub(super) regions: Vec<Region>,
    /// Lines and knots, with what they take of each thread that runs out.
    pub(super) groups: Vec<(Group, Vec<Ends>)>,
    /// Lines and knots that are worked.
    pub(super) worked: (u64, u64),
}

/// The needles that threads that run out are in, in the order of the key.
pub(super) fn needles(question: &Question<'_>) -> Vec<Needle> {
    let chart = question.chart;
    let used = crate::chart::used(chart);
    let mut known: Vec<Vec<ThreadRef>> = Vec::new();
    for (entry, _) in chart.key().iter().zip(&used).filter(|(_, used)| **used) {
        let threads = threads_of(entry);
        let is_missing = question.left.iter().any(|(left, _)| threads.contains(&left.thread));
        if is_missing && !known.contains(&threads) {
            known.push(threads);
        }
    }
    let worked = Worked::of(chart, (&question.done.lines, &question.done.knots));
    known.into_iter().map(|threads| Needle::of(question, threads, &worked)).collect()
}

impl Needle {
    fn of(question: &Question<'_>, threads: Vec<ThreadRef>, worked: &Worked) -> Self {
        let chart = question.chart;
        let own: Vec<bool> = chart.key().iter().map(|entry| threads_of(entry) == threads).collect();
        let is_of = |entry: EntryId| own.get(entry.index()).copied().unwrap_or(false);
        let board = Board::new(chart, &is_of, (&question.done.stitches, question.held));
        let usual = need::usual_strands(question.basis);
        let mut missing = Vec::new();
        for (place, (left, sold)) in question.left.iter().enumerate() {
            if threads.contains(&left.thread) {
                let entries = chart.key().iter().filter(|entry| threads_of(entry) == threads);
                let strands = entries.map(|entry| strands(entry, &left.thread, usual)).max();
                missing.push((place, Need::new(question.basis, strands.unwrap_or(usual), *sold)));
            }
        }
        let takes = |group: Group| {
            let of = |(place, need): &(usize, Need)| {
                let thread = question.left.get(*place).map(|(left, _)| &left.thread);
                group.need(chart, need, &|entry| mark_strands(entry, thread))
            };
            let ends = missing.iter().map(of).collect();
            (group, ends)
        };
        Self {
            regions: board.open_regions(),
            groups: marks::groups(chart, &is_of, worked).into_iter().map(takes).collect(),
            worked: marks::worked_of(chart, &is_of, worked),
            board,
            threads,
            missing,
        }
    }

    /// Which of its threads that run out one of the question is.
    pub(super) fn place_of(&self, thread: usize) -> Option<usize> {
        self.missing.iter().position(|(place, _)| *place == thread)
    }
}

pub(super) fn threads_of(entry: &Entry) -> Vec<ThreadRef> {
    entry.work.threads().map(|held| held.thread.clone()).collect()
}

/// Strands of the thread in the needle for crosses.
fn strands(entry: &Entry, thread: &ThreadRef, usual: u8) -> u8 {
    in_blend(entry, thread).unwrap_or_else(|| entry.strands.cross().unwrap_or(usual))
}

/// Strands of the thread in a blend.
fn in_blend(entry: &Entry, thread: &ThreadRef) -> Option<u8> {
    let Work::Blend(blend) = &entry.work else { return None };
    let own = blend.threads().iter().find(|(held, _)| held.thread == *thread);
    own.map(|(_, strands)| *strands)
}

/// Strands in the needle for lines and for knots, where the key does not say. Common practice, no
/// source; a blend has the strands of its stitches at least.
const USUAL_MARKS: (u8, u8) = (1, 2);

/// Strands of the thread in the needle for lines and for knots: the whole needle where it is not
/// known how many of them are the thread's, so that it is never short.
fn mark_strands(entry: &Entry, thread: Option<&ThreadRef>) -> (u8, u8) {
    let own = thread.and_then(|thread| in_blend(entry, thread)).unwrap_or(1);
    let of = |told: Option<u8>, usual: u8| told.unwrap_or_else(|| own.max(usual));
    (of(entry.strands.line(), USUAL_MARKS.0), of(entry.strands.knot(), USUAL_MARKS.1))
}
