//! Half-way through a piece: which areas to finish with what is left of a thread, and which to give
//! wholly to another one, so that old and new meet as little as can be.
//! It does not know which thread takes over, and it writes nothing.

mod apart;
mod cuts;
#[cfg(test)]
mod dice;
mod done;
mod enclose;
mod flow;
mod join;
mod joint;
mod lattice;
mod left;
mod marks;
mod menu;
mod need;
mod needle;
mod pack;
mod plane;
mod profile;
mod region;
#[cfg(test)]
mod tests;

use std::collections::BTreeSet;

use dyekin_core::ThreadRef;
use dyekin_core::error::{Error, ErrorKind};

pub(crate) use done::{
    REMEDY as DONE_REMEDY, Said as SaidDone, Where as DoneWhere, mark, said as said_done,
};
pub(crate) use join::Join;
use joint::{Items, Shared, SharedOffer, Taken};
pub(crate) use left::{Left, Said as SaidLeft, said as said_left};
use menu::{Choice, Dish, Effort, Menu};
pub(crate) use need::{Basis, COUNTS, Ends, STRANDS_SOLD, meters};
use needle::{Needle, needles};
use pack::{Cost, Offer};
use region::Region;

use crate::chart::Chart;
use crate::summary::Mark;

/// A chart half-way through, and what is left of the threads that cannot be had any more.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Question<'q> {
    pub(crate) chart: &'q Chart,
    pub(crate) done: &'q Done,
    /// Cells that must stay in their thread.
    pub(crate) held: &'q [bool],
    pub(crate) basis: Basis,
    /// What is left, with the strands that each thread is sold with.
    pub(crate) left: &'q [(Left, u8)],
}

/// Cells in which something is worked already.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Done {
    /// Stitches, whole and part.
    pub(crate) stitches: Vec<bool>,
    pub(crate) lines: Vec<bool>,
    pub(crate) knots: Vec<bool>,
}

/// What becomes of the areas of one thread.
#[derive(Clone, Debug)]
pub(crate) struct ThreadPlan {
    pub(crate) left: Left,
    /// Quarters of a stitch that are done.
    pub(crate) done_quarters: u64,
    /// Lines and knots that are done.
    pub(crate) done_marks: (u64, u64),
    /// Quarters of a stitch in one piece that what is left surely does, and with luck.
    pub(crate) reach: (u64, u64),
    /// Areas that are not finished, in reading order of what each thread list works.
    pub(crate) areas: Vec<AreaPlan>,
    pub(crate) marks: Vec<MarksPlan>,
    /// The joins, weighed, that no choice is below; with those of threads that share a needle.
    pub(crate) joins_floor: u64,
    /// Joins and what is given away, weighed, likewise.
    pub(crate) cost: Cost,
    /// Whether no choice costs less.
    pub(crate) proved: bool,
    /// Missing threads that it shares a needle with, one after the other.
    pub(crate) shares: Vec<ThreadRef>,
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
    /// What that takes of the thread.
    pub(crate) takes: Ends,
    /// Whether some of the area is stitched, or must stay.
    pub(crate) begun: bool,
    /// How much a join in it weighs.
    pub(crate) weight: u64,
    /// Where old and new meet.
    pub(crate) join: Option<Join>,
    /// The other missing thread of its needle.
    pub(crate) beside: Option<ThreadRef>,
}

/// What becomes of lines that hang together, or of the knots of one area.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct MarksPlan {
    pub(crate) lines: u64,
    pub(crate) knots: u64,
    /// First and last row and column of the cells that they touch, from 0.
    pub(crate) rows: (usize, usize),
    pub(crate) columns: (usize, usize),
    pub(crate) stays: bool,
    /// What they take of the thread where they stay.
    pub(crate) takes: Ends,
    /// Points at which they meet what is worked; for knots 1 where some of their area are.
    pub(crate) meets: u64,
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
    marks: BTreeSet<Mark>,
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
    let needles = needles(question);
    let mut found = Plan { threads: Vec::new(), given: Vec::new() };
    let mut plans: Vec<Option<ThreadPlan>> = vec![None; question.left.len()];
    let mut problems = Vec::new();
    for threads in together(question, &needles) {
        let is_own = |needle: &&Needle| needle.missing.iter().any(|(at, _)| threads.contains(at));
        let own: Vec<&Needle> = needles.iter().filter(is_own).collect();
        let group = Group { question, threads: &threads, needles: &own };
        match group.solve(effort) {
            Ok(solved) => {
                for thread in &threads {
                    let plan = group.plan(*thread, &solved);
                    plans.get_mut(*thread).into_iter().for_each(|held| held.clone_from(&plan));
                }
                found.given.extend(group.given(&solved));
            }
            Err(problem) => problems.extend(problem),
        }
    }
    found.threads = plans.into_iter().flatten().collect();
    if problems.is_empty() { Ok(found) } else { Err(problems) }
}

/// The threads by who shares needles with whom, as places in the question.
fn together(question: &Question<'_>, needles: &[Needle]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = (0..question.left.len()).map(|thread| vec![thread]).collect();
    for needle in needles {
        let meets = |group: &Vec<usize>| needle.missing.iter().any(|(at, _)| group.contains(at));
        let (met, rest): (Vec<_>, Vec<_>) = groups.into_iter().partition(meets);
        groups = rest;
        let mut joined: Vec<usize> = met.into_iter().flatten().collect();
        joined.sort_unstable();
        groups.extend((!joined.is_empty()).then_some(joined));
    }
    groups.sort();
    groups
}

/// Threads that must be looked at together.
struct Group<'a> {
    question: &'a Question<'a>,
    threads: &'a [usize],
    needles: &'a [&'a Needle],
}

/// What is done with each area and each group of lines and knots, needle by needle.
struct Solved {
    /// By needle: the choices for its regions and then for its lines and knots.
    choices: Vec<Vec<Choice>>,
    cost: Cost,
    least: Cost,
}

impl Group<'_> {
    fn solve(&self, mut effort: Effort) -> Result<Solved, Vec<Error>> {
        let mut menus: Vec<Vec<Menu>> = Vec::new();
        for needle in self.needles {
            let threads: Vec<(need::Need, u64)> =
                needle.missing.iter().map(|(at, need)| (*need, self.room(*at))).collect();
            let dish = |region| Dish { region, board: &needle.board, threads: &threads };
            let mut own: Vec<Menu> =
                needle.regions.iter().map(|region| Menu::of(dish(region), &mut effort)).collect();
            for (group, ends) in &needle.groups {
                let most = |at: usize| ends.get(at).map_or(0, |ends| ends.most);
                own.push(Menu::of_marks(group.cost(self.question.chart), [most(0), most(1)]));
            }
            menus.push(own);
        }
        let items = self.items(&menus, &Menu::offers);
        let Some(taken) = items.pack() else { return Err(self.too_little(&items)) };
        let floors = self.items(&menus, &|menu| menu.floor.clone());
        let least = floors.floor().unwrap_or_default();
        let cost = taken.cost;
        Ok(Solved { choices: self.choices(&menus, &taken), cost, least })
    }

    /// What is left of a thread at least.
    fn room(&self, thread: usize) -> u64 {
        self.question.left.get(thread).map_or(0, |(left, _)| left.low)
    }

    /// What menus offer, sorted by whose thread it takes.
    fn items(&self, menus: &[Vec<Menu>], offers: &dyn Fn(&Menu) -> Vec<SharedOffer>) -> Items {
        let rooms = self.threads.iter().map(|thread| self.room(*thread)).collect();
        let mut items =
            Items { own: vec![Vec::new(); self.threads.len()], shared: Vec::new(), rooms };
        for (needle, menus) in self.needles.iter().zip(menus) {
            for menu in menus {
                match self.places(needle).as_slice() {
                    [one, other] => {
                        let threads = [*one, *other];
                        items.shared.push(Shared { threads, offers: offers(menu) });
                    }
                    places => {
                        let alone =
                            |offer: SharedOffer| Offer { need: offer.needs[0], cost: offer.cost };
                        let own = places.first().and_then(|place| items.own.get_mut(*place));
                        let offers = offers(menu).into_iter().map(alone).collect();
                        if let Some(own) = own {
                            own.push(offers);
                        }
                    }
                }
            }
        }
        items
    }

    /// The threads of a needle that run out, as places in the group.
    fn places(&self, needle: &Needle) -> Vec<usize> {
        let at = |(at, _): &(usize, need::Need)| self.threads.iter().position(|held| held == at);
        needle.missing.iter().filter_map(at).collect()
    }

    /// What was taken, put back in the order of the needles.
    fn choices(&self, menus: &[Vec<Menu>], taken: &Taken) -> Vec<Vec<Choice>> {
        let mut own: Vec<_> = taken.own.iter().map(|places| places.iter()).collect();
        let mut shared = taken.shared.iter();
        let each = self.needles.iter().zip(menus).map(|(needle, menus)| {
            let places = self.places(needle);
            let mut next = || match places.as_slice() {
                [_, _] => shared.next(),
                places => own.get_mut(*places.first()?)?.next(),
            };
            menus.iter().filter_map(|menu| menu.choices.get(*next()?).cloned()).collect()
        });
        each.collect()
    }

    /// The threads of which what must stay takes more than is left.
    fn too_little(&self, items: &Items) -> Vec<Error> {
        let mut needed: Vec<u64> = Vec::new();
        for own in &items.own {
            let least = own.iter().filter_map(|offers| offers.iter().map(|offer| offer.need).min());
            needed.push(least.fold(0, u64::saturating_add));
        }
        for item in &items.shared {
            let least = item.offers.iter().map(|offer| offer.needs).min().unwrap_or_default();
            for (thread, need) in item.threads.iter().zip(least) {
                let sum = needed.get_mut(*thread);
                sum.into_iter().for_each(|sum| *sum = sum.saturating_add(need));
            }
        }
        let left = self.threads.iter().filter_map(|thread| self.question.left.get(*thread));
        let short = left.zip(needed).filter(|((left, _), needed)| *needed > left.low);
        short.map(|((left, _), needed)| too_little(left, needed)).collect()
    }

    /// What becomes of one of the threads.
    fn plan(&self, thread: usize, solved: &Solved) -> Option<ThreadPlan> {
        let (left, _) = self.question.left.get(thread)?;
        let name = |at: &usize| Some(self.question.left.get(*at)?.0.thread.clone());
        let mut plan = ThreadPlan {
            left: left.clone(),
            done_quarters: 0,
            done_marks: (0, 0),
            reach: (0, 0),
            areas: Vec::new(),
            marks: Vec::new(),
            joins_floor: solved.least.0,
            cost: solved.cost,
            proved: solved.cost == solved.least,
            shares: self.threads.iter().filter(|at| **at != thread).filter_map(name).collect(),
        };
        for (needle, choices) in self.needles.iter().zip(&solved.choices) {
            let Some(own) = needle.place_of(thread) else { continue };
            let Some((_, need)) = needle.missing.get(own) else { continue };
            plan.done_quarters += needle.board.done_quarters();
            plan.done_marks.0 += needle.worked.0;
            plan.done_marks.1 += needle.worked.1;
            let reach = (need.reach(left.low), need.lucky_reach(left.high));
            plan.reach = (plan.reach.0.max(reach.0), plan.reach.1.max(reach.1));
            let beside = needle.missing.iter().find(|(at, _)| *at != thread);
            let beside = beside.and_then(|(at, _)| name(at));
            for (region, choice) in needle.regions.iter().zip(choices) {
                let area = area((needle, own), region, choice);
                plan.areas.push(AreaPlan { beside: beside.clone(), ..area });
            }
            let marks = needle.groups.iter().zip(choices.iter().skip(needle.regions.len()));
            for ((group, ends), choice) in marks {
                let stays = choice.cost == (0, 0);
                let ((lines, knots), (rows, columns)) =
                    (group.counts(), group.bounds(self.question.chart));
                let takes = ends.get(own).copied().filter(|_| stays).unwrap_or_default();
                let meets = group.meets;
                plan.marks.push(MarksPlan { lines, knots, rows, columns, stays, takes, meets });
            }
        }
        Some(plan)
    }

    /// What is given away of each needle.
    fn given(&self, solved: &Solved) -> Vec<Given> {
        let of = |(needle, choices): (&&Needle, &Vec<Choice>)| {
            let mut cells = BTreeSet::new();
            for (region, choice) in needle.regions.iter().zip(choices) {
                let kept: BTreeSet<usize> = choice.kept.iter().copied().collect();
                cells.extend(region.cells.iter().filter(|place| !kept.contains(place)));
            }
            let groups = needle.groups.iter().zip(choices.iter().skip(needle.regions.len()));
            let given = groups.filter(|(_, choice)| choice.cost != (0, 0));
            let marks = given.flat_map(|((group, _), _)| group.places(self.question.chart));
            Given { needle: needle.threads.clone(), cells, marks: marks.collect() }
        };
        self.needles.iter().zip(&solved.choices).map(of).collect()
    }
}

fn too_little(left: &Left, needed: u64) -> Error {
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

/// What becomes of an area, seen from one of its missing threads.
fn area((needle, own): (&Needle, usize), region: &Region, choice: &Choice) -> AreaPlan {
    let board = &needle.board;
    let (rows, columns) = board.bounds(&region.cells);
    let pieces = board.pieces(&choice.kept);
    let need = needle.missing.get(own).map(|(_, need)| need);
    let least = need.map_or(0, |need| pieces.iter().map(|piece| need.least(*piece)).sum());
    AreaPlan {
        rows,
        columns,
        quarters: region.cells.iter().map(|place| board.quarters_at(*place)).sum(),
        kept_quarters: pieces.iter().sum(),
        takes: Ends { least, most: choice.needs.get(own).copied().unwrap_or(0) },
        begun: menu::is_begun(board, region),
        weight: region.weight,
        join: Join::between(board, region, &choice.kept),
        beside: None,
    }
}
