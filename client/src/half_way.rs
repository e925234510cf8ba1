//! Half-way through a piece: which areas to finish with what is left of a thread, and which to give
//! wholly to another one, so that old and new meet as little as can be.
//! It does not know which thread takes over, and it writes nothing.

mod cuts;
mod done;
mod flow;
mod join;
mod lattice;
mod left;
mod marks;
mod menu;
mod need;
mod pack;
mod profile;
mod region;
#[cfg(test)]
mod tests;

use std::collections::BTreeSet;

use dyekin_core::ThreadRef;
use dyekin_core::error::{Error, ErrorKind};

pub(crate) use done::{Said as SaidDone, mark, said as said_done};
pub(crate) use join::Join;
pub(crate) use left::{Left, Said as SaidLeft, said as said_left};
use marks::Marks;
use menu::{Choice, Dish, Effort, Menu};
use need::Need;
pub(crate) use need::{Basis, COUNTS, STRANDS_SOLD, meters};
use pack::{Cost, Offer, floor, pack};
use region::{Board, Region};

use crate::chart::{Cell, Chart, Entry, EntryId, KeyThread, Label, Work};
use crate::summary::{Apart, OfColor, Portion};

/// A chart half-way through, and what is left of the threads that cannot be had any more.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Question<'q> {
    pub(crate) chart: &'q Chart,
    /// Cells that are stitched.
    pub(crate) done: &'q [bool],
    /// Cells that must stay in their thread.
    pub(crate) held: &'q [bool],
    pub(crate) basis: Basis,
    /// What is left, with the strands that each thread is sold with.
    pub(crate) left: &'q [(Left, u8)],
}

/// What becomes of the areas of one thread.
#[derive(Clone, Debug)]
pub(crate) struct ThreadPlan {
    pub(crate) left: Left,
    /// Quarters of a stitch that are done.
    pub(crate) done_quarters: u64,
    /// Quarters of a stitch in one piece that what is left surely does, and with luck.
    pub(crate) reach: (u64, u64),
    /// Areas that are not finished, in reading order of what each thread list works.
    pub(crate) areas: Vec<AreaPlan>,
    pub(crate) marks: Vec<MarksPlan>,
    /// The joins, weighed, that no choice is below.
    pub(crate) joins_floor: u64,
    pub(crate) cost: Cost,
    /// Whether no choice costs less.
    pub(crate) proved: bool,
}

/// What becomes of one area.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct AreaPlan {
    /// First and last row and column of what is not stitched, from 0.
    pub(crate) rows: (usize, usize),
    pub(crate) columns: (usize, usize),
    /// Quarters of a stitch that are not stitched, and how many of these stay in the old thread.
    pub(crate) quarters: u64,
    pub(crate) kept_quarters: u64,
    /// The most and the least thread that what stays takes, in micrometres.
    pub(crate) most: u64,
    pub(crate) least: u64,
    /// Whether some of the area is stitched, or must stay.
    pub(crate) begun: bool,
    /// How much a join in it weighs.
    pub(crate) weight: u64,
    /// Where old and new meet.
    pub(crate) join: Option<Join>,
    /// Whether another thread of the same needle is missing too.
    pub(crate) other_missing: bool,
}

/// What becomes of the lines and knots of one color.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct MarksPlan {
    pub(crate) lines: u64,
    pub(crate) knots: u64,
    pub(crate) stays: bool,
    pub(crate) most: u64,
    pub(crate) least: u64,
}

/// The plan for all threads.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub(crate) threads: Vec<ThreadPlan>,
    given: Vec<Given>,
}

/// What is given to another thread of what is worked in the same threads.
#[derive(Clone, Debug)]
struct Given {
    needle: Vec<ThreadRef>,
    cells: BTreeSet<usize>,
    marks: bool,
}

/// Finds the plan.
///
/// # Errors
///
/// When what must stay takes more than is left, thread by thread.
pub(crate) fn plan(question: &Question<'_>) -> Result<Plan, Vec<Error>> {
    plan_within(question, Effort::USUAL)
}

fn plan_within(question: &Question<'_>, effort: Effort) -> Result<Plan, Vec<Error>> {
    let mut found = Plan { threads: Vec::new(), given: Vec::new() };
    let mut problems = Vec::new();
    for (left, sold) in question.left {
        match of_thread(question, (left, *sold), effort) {
            Ok((plan, given)) => {
                found.threads.push(plan);
                found.given.extend(given);
            }
            Err(problem) => problems.push(problem),
        }
    }
    if problems.is_empty() { Ok(found) } else { Err(problems) }
}

/// What is worked in one thread, alone or beside another in the needle.
struct Needle {
    threads: Vec<ThreadRef>,
    need: Need,
    board: Board,
    regions: Vec<Region>,
    marks: Marks,
    other_missing: bool,
}

fn of_thread(
    question: &Question<'_>,
    (left, sold): (&Left, u8),
    mut effort: Effort,
) -> Result<(ThreadPlan, Vec<Given>), Error> {
    let needles = needles(question, left, sold);
    let mut menus = Vec::new();
    for needle in &needles {
        for region in &needle.regions {
            let dish = Dish { region, board: &needle.board, need: &needle.need };
            menus.push(match needle.other_missing {
                true => Menu::nothing(dish),
                false => Menu::of(dish, left.low, &mut effort),
            });
        }
        let marks = Menu::of_marks(needle.marks, &needle.need, needle.other_missing);
        menus.extend(needle.marks.is_any().then_some(marks));
    }
    let offers: Vec<Vec<Offer>> = menus.iter().map(Menu::offers).collect();
    let floors: Vec<Vec<Offer>> = menus.iter().map(|menu| menu.floor.clone()).collect();
    let packed = pack(&offers, left.low).ok_or_else(|| too_little(left, &offers))?;
    let least = floor(&floors, left.low).unwrap_or_default();
    let mut chosen =
        menus.iter().zip(&packed.taken).filter_map(|(menu, place)| menu.choices.get(*place));
    let mut plan = ThreadPlan {
        left: left.clone(),
        done_quarters: 0,
        reach: (0, 0),
        areas: Vec::new(),
        marks: Vec::new(),
        joins_floor: least.0,
        cost: packed.cost,
        proved: packed.cost == least,
    };
    let mut given = Vec::new();
    for needle in &needles {
        plan.done_quarters += needle.board.done_quarters();
        let reach = (needle.need.reach(left.low), needle.need.lucky_reach(left.high));
        plan.reach = (plan.reach.0.max(reach.0), plan.reach.1.max(reach.1));
        let mut cells = BTreeSet::new();
        for region in &needle.regions {
            let Some(choice) = chosen.next() else { continue };
            plan.areas.push(area(needle, region, choice));
            let kept: BTreeSet<usize> = choice.kept.iter().copied().collect();
            cells.extend(region.cells.iter().filter(|place| !kept.contains(place)));
        }
        let mut marks_given = false;
        if needle.marks.is_any()
            && let Some(choice) = chosen.next()
        {
            marks_given = choice.cost.1 > 0;
            plan.marks.push(MarksPlan {
                lines: needle.marks.lines,
                knots: needle.marks.knots,
                stays: !marks_given,
                most: choice.need,
                least: if marks_given { 0 } else { needle.need.least(needle.marks.quarters) },
            });
        }
        given.push(Given { needle: needle.threads.clone(), cells, marks: marks_given });
    }
    Ok((plan, given))
}

fn too_little(left: &Left, offers: &[Vec<Offer>]) -> Error {
    let least = offers.iter().filter_map(|offers| offers.iter().map(|offer| offer.need).min());
    let needed = least.fold(0, u64::saturating_add);
    Error::new(ErrorKind::Impossible {
        reason: format!(
            "what you keep takes up to {:.2} m of {}, and there may be only {:.2} m left",
            meters(needed),
            left.thread,
            meters(left.low)
        ),
        nearest: "keep less of it, or measure what is left and write a range such as 3.9-4.1 m"
            .into(),
    })
}

/// The needles of the chart that a thread is in, in the order of the key.
fn needles(question: &Question<'_>, left: &Left, sold: u8) -> Vec<Needle> {
    let chart = question.chart;
    let used = crate::chart::used(chart);
    let mut known: Vec<Vec<ThreadRef>> = Vec::new();
    for (entry, _) in chart.key().iter().zip(&used).filter(|(_, used)| **used) {
        let threads = threads_of(entry);
        if threads.contains(&left.thread) && !known.contains(&threads) {
            known.push(threads);
        }
    }
    let is_missing =
        |thread: &ThreadRef| question.left.iter().any(|(own, _)| own.thread == *thread);
    let needle = |threads: Vec<ThreadRef>| {
        let own: Vec<bool> = chart.key().iter().map(|entry| threads_of(entry) == threads).collect();
        let is_of = |entry: EntryId| own.get(entry.index()).copied().unwrap_or(false);
        let usual = need::usual_strands(question.basis);
        let entries = chart.key().iter().filter(|entry| threads_of(entry) == threads);
        let strands = entries.clone().map(|entry| strands(entry, &left.thread, usual)).max();
        let board = Board::new(chart, &is_of, (question.done, question.held));
        Needle {
            need: Need::new(question.basis, strands.unwrap_or(usual), sold),
            regions: board.open_regions(),
            marks: Marks::of(chart, &is_of),
            other_missing: threads.iter().any(|held| *held != left.thread && is_missing(held)),
            board,
            threads,
        }
    };
    known.into_iter().map(needle).collect()
}

fn threads_of(entry: &Entry) -> Vec<ThreadRef> {
    entry.work.threads().map(|held| held.thread.clone()).collect()
}

/// Strands of the thread in the needle for crosses.
fn strands(entry: &Entry, thread: &ThreadRef, usual: u8) -> u8 {
    if let Work::Blend(blend) = &entry.work {
        let own = blend.threads().iter().find(|(held, _)| held.thread == *thread);
        return own.map_or(usual, |(_, strands)| *strands);
    }
    entry.strands.cross().unwrap_or(usual)
}

fn area(needle: &Needle, region: &Region, choice: &Choice) -> AreaPlan {
    let board = &needle.board;
    let quarters = |cells: &[usize]| cells.iter().map(|place| board.quarters_at(*place)).sum();
    let (rows, columns) = board.bounds(&region.cells);
    let pieces = board.pieces(&choice.kept);
    AreaPlan {
        rows,
        columns,
        quarters: quarters(&region.cells),
        kept_quarters: pieces.iter().sum(),
        most: choice.need,
        least: pieces.iter().map(|piece| needle.need.least(*piece)).sum(),
        begun: menu::is_begun(board, region),
        weight: region.weight,
        join: Join::between(board, region, &choice.kept),
        other_missing: needle.other_missing,
    }
}

impl Plan {
    /// The plan as cells of colors that come apart, under a name that the chart does not have, and
    /// the colors of which something stays.
    pub(crate) fn apart(&self, chart: &Chart) -> Result<(Apart, Vec<OfColor>), Error> {
        let mut portions: Vec<(OfColor, Portion)> = Vec::new();
        let mut staying = Vec::new();
        for of in colors(chart) {
            let refs: Vec<ThreadRef> = of.threads.iter().map(|held| held.thread.clone()).collect();
            // Where both threads of a needle are missing, what either gives away is all of it.
            let mut given = self.given.iter().filter(|given| given.needle == refs).peekable();
            if given.peek().is_none() {
                continue;
            }
            let (mut cells, mut marks) = (BTreeSet::new(), false);
            for held in given {
                cells.extend(held.cells.iter().copied());
                marks |= held.marks;
            }
            let is_of = |entry: EntryId| {
                let entry = chart.entry(entry);
                entry.is_some_and(|entry| *entry_color(entry) == of)
            };
            let (mut own, mut rest) = (BTreeSet::new(), false);
            for (place, cell) in chart.grid().cells().enumerate() {
                let is_here = match cell {
                    Cell::Bare => false,
                    Cell::Full(entry) => is_of(entry),
                    Cell::Parts(parts) => parts.iter().any(|part| is_of(part.entry)),
                };
                if is_here && cells.contains(&place) {
                    own.insert(place);
                } else {
                    rest |= is_here;
                }
            }
            let has_marks = Marks::of(chart, &is_of).is_any();
            if rest || (has_marks && !marks) {
                staying.push(of.clone());
                if !own.is_empty() || (has_marks && marks) {
                    let portion = Portion::of_places(&own, chart.size(), has_marks && marks);
                    portions.push((of, portion));
                }
            }
        }
        Ok((Apart { name: name(chart)?, portions }, staying))
    }
}

/// What is to change of a color, as reports call it.
const NAME: &str = "areas to change";

fn name(chart: &Chart) -> Result<Label, Error> {
    let taken = |name: &str| chart.areas().iter().any(|area| area.name().as_str() == name);
    let mut name = NAME.to_owned();
    let mut number = 1;
    while taken(&name) {
        number += 1;
        name = format!("{NAME} {number}");
    }
    Label::parse(&name)
}

fn entry_color(entry: &Entry) -> Box<OfColor> {
    let threads: Vec<KeyThread> = entry.work.threads().cloned().collect();
    Box::new(OfColor { color: entry.color, threads })
}

/// The colors of the key, each once.
fn colors(chart: &Chart) -> Vec<OfColor> {
    let mut colors: Vec<OfColor> = Vec::new();
    for entry in chart.key() {
        let of = entry_color(entry);
        if !colors.contains(&of) {
            colors.push(*of);
        }
    }
    colors
}
