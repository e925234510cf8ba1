//! The tables behind a search that keeps contrast: which threads are worth trying, what each color
//! pays for them, and which colors pull at each other. Nothing here changes while it searches, but
//! differences between threads, which are measured when they are first needed.

use super::super::case::{Case, Wish};
use super::super::edges;
use super::super::meter::Meter;
use super::super::model::Reduction;
use super::{Contrast, Goal, Step, signed, without_lightness};
use crate::color::Color;
use crate::error::Result;
use crate::palette::Side;

/// Most threads that are tried. Threads that are near to no color are left out.
const MAX_WIDTH: usize = 1_024;

/// Most products of pairs and threads: the work of weighing every color with every thread once.
const MAX_PULLS: usize = 150_000_000;

/// A color that pulls at another one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Link {
    /// The row of the other color.
    pub(super) row: usize,
    weight: f64,
    goal: Goal,
    /// How the other color stands to this one.
    pub(super) step: Step,
}

impl Link {
    /// What is lost at a signed contrast.
    pub(super) fn loss(&self, signed: f64) -> f64 {
        self.weight * self.goal.missing(signed)
    }
}

/// The signed contrast of one thread with all others, by what the others should be to it.
#[derive(Clone, Debug)]
struct Apart {
    level: Vec<f64>,
    lighter: Vec<f64>,
    darker: Vec<f64>,
}

/// The tables of one search. A thread goes by its number in the shortlist.
pub(super) struct Board<'b> {
    pub(super) rows: usize,
    /// Model columns of the shortlist, ascending.
    pub(super) columns: Vec<usize>,
    pub(super) locked: Vec<bool>,
    /// What each thread costs once it is open.
    pub(super) prices: Vec<f64>,
    /// Most threads open.
    pub(super) most: usize,
    shades: Vec<&'b Color>,
    /// Difference from the chart and contrast lost to what is settled, one row after another.
    costs: Vec<f64>,
    links: Vec<Vec<Link>>,
    /// Contrast of a thread with all others, by number.
    apart: Vec<Option<Apart>>,
    /// Contrast lost between colors that are settled.
    pub(super) settled: f64,
}

impl<'b> Board<'b> {
    /// Fills the tables; `open` are the model columns that must be among the shortlist.
    pub(super) fn new(
        case: &Case<'_, '_>,
        reduction: &'b Reduction<'_>,
        (contrast, open): (&Contrast, &[usize]),
        meter: &mut Meter<'_>,
    ) -> Result<Self> {
        let problem = &reduction.problem;
        let columns = shortlist(reduction, open, width(contrast, open.len()));
        let shades: Vec<&Color> = columns
            .iter()
            .filter_map(|column| reduction.threads.get(*column))
            .map(|candidate| &candidate.thread.color)
            .collect();
        let costs = costs(case, reduction, &columns, meter)?;
        let of = |column: &usize| problem.prices.get(*column).copied().unwrap_or(0.0);
        let is_locked = |column: &usize| problem.locked.get(*column).copied().unwrap_or(true);
        let mut board = Self {
            rows: problem.cells.rows(),
            locked: columns.iter().map(is_locked).collect(),
            prices: columns.iter().map(of).collect(),
            most: problem.most,
            apart: vec![None; columns.len()],
            columns,
            shades,
            costs,
            links: vec![Vec::new(); problem.cells.rows()],
            settled: 0.0,
        };
        board.link(case, reduction, contrast, meter)?;
        Ok(board)
    }

    /// Threads of the shortlist.
    pub(super) fn width(&self) -> usize {
        self.columns.len()
    }

    /// What a row pays for each thread.
    pub(super) fn costs(&self, row: usize) -> &[f64] {
        let start = row * self.width();
        self.costs.get(start..start + self.width()).unwrap_or(&[])
    }

    /// The colors that pull at a row.
    pub(super) fn links(&self, row: usize) -> &[Link] {
        self.links.get(row).map_or(&[], Vec::as_slice)
    }

    /// Signed contrast of one thread with all, which should stand to it like this, once
    /// [`Board::measure`] saw it.
    pub(super) fn apart(&self, thread: usize, step: Step) -> &[f64] {
        let Some(apart) = self.apart.get(thread).and_then(Option::as_ref) else { return &[] };
        match step {
            Step::Level => &apart.level,
            Step::Lighter => &apart.lighter,
            Step::Darker => &apart.darker,
        }
    }

    /// Measures one thread against all, unless that is done.
    pub(super) fn measure(&mut self, thread: usize, meter: &mut Meter<'_>) -> Result<()> {
        if self.apart.get(thread).is_none_or(Option::is_some) {
            return Ok(());
        }
        let Some(shade) = self.shades.get(thread) else { return Ok(()) };
        let measured = Apart::of(shade, &self.shades, meter)?;
        if let Some(apart) = self.apart.get_mut(thread) {
            *apart = Some(measured);
        }
        Ok(())
    }

    /// Pairs of rows become links, pairs of a row and something settled become costs.
    fn link(
        &mut self,
        case: &Case<'_, '_>,
        reduction: &Reduction<'_>,
        contrast: &Contrast,
        meter: &mut Meter<'_>,
    ) -> Result<()> {
        let mut row_of = vec![None; case.palette.colors().len()];
        for (row, color) in reduction.colors.iter().enumerate() {
            row_of.get_mut(*color).into_iter().for_each(|of| *of = Some(row));
        }
        let row = |side: Side| match side {
            Side::Cloth => None,
            Side::Color(color) => row_of.get(color).copied().flatten(),
        };
        for pair in contrast.pairs() {
            let link = |row, step| Link { row, weight: pair.weight, goal: pair.goal, step };
            match (row(Side::Color(pair.first)), row(pair.second)) {
                (Some(first), Some(second)) => {
                    let (there, back) =
                        (link(second, pair.step), link(first, pair.step.reversed()));
                    self.links.get_mut(first).into_iter().for_each(|of| of.push(there));
                    self.links.get_mut(second).into_iter().for_each(|of| of.push(back));
                }
                (Some(row), None) => {
                    self.lean(link(row, pair.step), settled(case, pair.second), meter)?;
                }
                (None, Some(row)) => {
                    let other = settled(case, Side::Color(pair.first));
                    self.lean(link(row, pair.step.reversed()), other, meter)?;
                }
                (None, None) => {
                    let sides =
                        (settled(case, Side::Color(pair.first)), settled(case, pair.second));
                    if let (Some(first), Some(second)) = sides {
                        self.settled += pair.loss(signed(&first, &second, pair.step, meter)?);
                    }
                }
            }
        }
        Ok(())
    }

    /// Adds what a row loses beside something settled, which should stand to it as the link says, to
    /// what it pays for each thread.
    fn lean(&mut self, link: Link, other: Option<Color>, meter: &mut Meter<'_>) -> Result<()> {
        let Some(other) = other else { return Ok(()) };
        let start = link.row * self.width();
        for (cost, shade) in self.costs.iter_mut().skip(start).zip(&self.shades) {
            *cost += link.loss(signed(shade, &other, link.step, meter)?);
        }
        Ok(())
    }
}

impl Apart {
    fn of(shade: &Color, others: &[&Color], meter: &mut Meter<'_>) -> Result<Self> {
        let count = others.len();
        let mut apart = Self {
            level: Vec::with_capacity(count),
            lighter: Vec::with_capacity(count),
            darker: Vec::with_capacity(count),
        };
        for other in others {
            let level = meter.white_to_white(shade, other, edges::FORMULA)?;
            let flat = without_lightness(shade, other, level);
            let (here, there) = (shade.lab().l(), other.lab().l());
            apart.level.push(level);
            apart.lighter.push(if there < here { -flat } else { level });
            apart.darker.push(if there > here { -flat } else { level });
        }
        Ok(apart)
    }
}

/// What each row pays for each of some columns, infinite where it cannot have it.
fn costs(
    case: &Case<'_, '_>,
    reduction: &Reduction<'_>,
    columns: &[usize],
    meter: &mut Meter<'_>,
) -> Result<Vec<f64>> {
    let cells = &reduction.problem.cells;
    let mut number = vec![usize::MAX; cells.columns()];
    for (place, column) in columns.iter().enumerate() {
        number.get_mut(*column).into_iter().for_each(|of| *of = place);
    }
    let mut costs = vec![f64::INFINITY; cells.rows() * columns.len()];
    for (row, held) in costs.chunks_mut(columns.len().max(1)).enumerate() {
        for (cost, column) in cells.row(row) {
            let place = number.get(column).copied().unwrap_or(usize::MAX);
            held.get_mut(place).into_iter().for_each(|held| *held = cost);
        }
        if cells.is_cut(row) {
            reduction.measure_unlisted(case, row, columns.iter().copied().zip(held), meter)?;
        }
        meter.look()?;
    }
    Ok(costs)
}

/// What a side is shown as that no search decides.
fn settled(case: &Case<'_, '_>, side: Side) -> Option<Color> {
    match side {
        Side::Cloth => case.palette.cloth().copied(),
        Side::Color(color) => match case.wishes.get(color)? {
            Wish::Fixed(threads) => {
                let standard = case.standards.get(color)?;
                let held = case.palette.colors().get(color)?;
                Some(edges::shown_after(case, held, standard, threads))
            }
            Wish::Free(_) => None,
        },
    }
}

fn width(contrast: &Contrast, open: usize) -> usize {
    let pulls = contrast.pairs().len().max(1);
    (MAX_PULLS / pulls).min(MAX_WIDTH).max(open)
}

/// The open and locked columns, then the nearest of every color, rank by rank, while there is room.
fn shortlist(reduction: &Reduction<'_>, open: &[usize], most: usize) -> Vec<usize> {
    let problem = &reduction.problem;
    let cells = &problem.cells;
    if cells.columns() <= most {
        return (0..cells.columns()).collect();
    }
    let mut chosen = vec![false; cells.columns()];
    let mut count = 0;
    let mut take = |column: usize| {
        if let Some(chosen) = chosen.get_mut(column)
            && !*chosen
        {
            *chosen = true;
            count += 1;
        }
        count < most
    };
    let locked = problem.locked.iter().enumerate().filter(|(_, locked)| **locked);
    let held = locked.map(|(column, _)| column).chain(open.iter().copied());
    // Every one of these is taken, however many they are.
    let room = held.map(&mut take).fold(true, |_, room| room);
    if room {
        let deep = (4 * most / cells.rows().max(1)).max(1);
        let near: Vec<Vec<usize>> = (0..cells.rows())
            .map(|row| cells.row(row).take(deep).map(|(_, column)| column).collect())
            .collect();
        let mut ranks = (0..deep).flat_map(|rank| near.iter().filter_map(move |n| n.get(rank)));
        ranks.all(|column| take(*column));
    }
    chosen.iter().enumerate().filter_map(|(column, chosen)| chosen.then_some(column)).collect()
}
