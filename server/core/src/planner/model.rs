//! Reduction as a weighted p-median: open at most so many threads, join each color to one.
//! It does not know how the threads are chosen.

use std::collections::BTreeSet;

use super::case::{Candidate, Case, Wish};
use super::meter::Meter;
use crate::color::Color;
use crate::error::{Error, ErrorKind, Result};
use crate::nearest::MAX_COUNT;

/// Most costs that one question may hold: 128 MiB. Where colors times threads is more, each color
/// brings its nearest threads only, and the bound accounts for those left out.
pub(super) const MAX_CELLS: usize = 1 << 24;

/// What a color pays for a thread that its owner refused: more than any whole palette can cost,
/// and small enough to leave ten digits to the differences beside it.
pub(super) const BARRED: f64 = 1e6;

/// Costs of each color with each thread, one column a thread.
#[derive(Clone, Debug)]
pub(super) struct Costs {
    rows: usize,
    cells: Vec<f64>,
}

impl Costs {
    /// Costs from whole columns of `rows` cells each.
    pub(super) fn new(rows: usize, cells: Vec<f64>) -> Self {
        Self { rows, cells }
    }

    /// Colors.
    pub(super) fn rows(&self) -> usize {
        self.rows
    }

    /// Threads.
    pub(super) fn columns(&self) -> usize {
        self.cells.len().checked_div(self.rows).unwrap_or(0)
    }

    /// What each color pays for one thread.
    pub(super) fn column(&self, column: usize) -> &[f64] {
        let start = column * self.rows;
        self.cells.get(start..start + self.rows).unwrap_or(&[])
    }

    /// What one color pays for one thread.
    pub(super) fn cell(&self, row: usize, column: usize) -> f64 {
        self.cells.get(column * self.rows + row).copied().unwrap_or(BARRED)
    }
}

/// The optimization behind a reduction. Costs are parts of the mean difference per stitch.
#[derive(Debug)]
pub(super) struct Model {
    pub(super) costs: Costs,
    /// Columns that must be open.
    pub(super) locked: Vec<usize>,
    /// Most open columns, locked ones included.
    pub(super) open: usize,
    /// What each color pays at least for a thread that has no column; `None` when all have one.
    pub(super) beyond: Option<Vec<f64>>,
}

/// The model with what its rows and columns stand for.
pub(super) struct Reduction<'c> {
    pub(super) model: Model,
    /// The color of each row.
    pub(super) colors: Vec<usize>,
    /// The thread of each column.
    pub(super) threads: Vec<Candidate<'c>>,
}

impl<'c> Reduction<'c> {
    /// Builds the model for at most `max_threads` threads, with about `max_cells` costs at most.
    pub(super) fn new(
        case: &Case<'_, 'c>,
        (max_threads, max_cells): (usize, usize),
        meter: &mut Meter<'_>,
    ) -> Result<Self> {
        let settled = case.settled_threads();
        if settled.len() > max_threads {
            return Err(too_many_settled(settled.len(), max_threads));
        }
        let colors = free_colors(case);
        let mut threads = if colors.is_empty() { Vec::new() } else { case.candidates()? };
        if threads.is_empty() && !colors.is_empty() {
            return Err(nothing_admitted(case));
        }
        let mut beyond = None;
        if colors.len().saturating_mul(threads.len()) > max_cells {
            let near = Nearby::gather(case, &colors, (&settled, max_cells), meter)?;
            threads.retain(|thread| near.threads.contains(thread));
            beyond = Some(near.beyond);
        }
        let locked: Vec<usize> = threads
            .iter()
            .enumerate()
            .filter_map(|(column, thread)| settled.contains(thread).then_some(column))
            .collect();
        let open = (max_threads - settled.len()).saturating_add(locked.len()).min(threads.len());
        if open == 0 && !colors.is_empty() {
            return Err(no_room(settled.len(), max_threads));
        }
        let costs = fill(case, &colors, &threads, meter)?;
        Ok(Self { model: Model { costs, locked, open, beyond }, colors, threads })
    }
}

/// The colors to decide, in an order that does not depend on their order in the palette.
fn free_colors(case: &Case<'_, '_>) -> Vec<usize> {
    let colors = case.palette.colors();
    let key = |place: &usize| {
        let lab = case.standards.get(*place).map(Color::lab);
        let parts = lab.map(|lab| [lab.l(), lab.a(), lab.b()]).unwrap_or_default();
        (colors.get(*place).map_or(0, |color| color.stitches), parts)
    };
    let mut free: Vec<usize> = case
        .wishes
        .iter()
        .enumerate()
        .filter_map(|(place, wish)| matches!(wish, Wish::Free(_)).then_some(place))
        .collect();
    free.sort_by(|left, right| {
        let ((stitches, lab), (others, other)) = (key(left), key(right));
        let by_lab = lab.iter().zip(&other).map(|(one, two)| one.total_cmp(two));
        let by_lab = by_lab.fold(std::cmp::Ordering::Equal, std::cmp::Ordering::then);
        others.cmp(&stitches).then(by_lab)
    });
    free
}

fn fill(
    case: &Case<'_, '_>,
    colors: &[usize],
    threads: &[Candidate<'_>],
    meter: &mut Meter<'_>,
) -> Result<Costs> {
    let weights = case.weights();
    let rows: Vec<(f64, &Color, &Wish<'_>)> = colors
        .iter()
        .filter_map(|color| {
            Some((*weights.get(*color)?, case.standards.get(*color)?, case.wishes.get(*color)?))
        })
        .collect();
    let mut cells = Vec::with_capacity(rows.len() * threads.len());
    for candidate in threads {
        for (weight, standard, wish) in &rows {
            let difference =
                meter.difference(standard, &candidate.thread.color, case.ask.formula)?;
            let barred = is_barred(wish, *candidate);
            cells.push(weight * difference + if barred { BARRED } else { 0.0 });
        }
    }
    Ok(Costs::new(rows.len(), cells))
}

fn is_barred(wish: &Wish<'_>, candidate: Candidate<'_>) -> bool {
    match wish {
        Wish::Free(barred) => barred
            .iter()
            .any(|out| out.table == *candidate.table && out.code == candidate.thread.code),
        Wish::Fixed(_) => true,
    }
}

/// The threads near to some color, and what those left out cost at least.
struct Nearby<'c> {
    threads: BTreeSet<Candidate<'c>>,
    beyond: Vec<f64>,
}

impl<'c> Nearby<'c> {
    /// As many nearest threads of each color as fit into the memory, found by doubling.
    fn gather(
        case: &Case<'_, 'c>,
        colors: &[usize],
        (settled, max_cells): (&BTreeSet<Candidate<'c>>, usize),
        meter: &mut Meter<'_>,
    ) -> Result<Self> {
        let rows = colors.len().max(1);
        let most = max_cells / rows;
        let mut count = (most / rows).clamp(1, MAX_COUNT);
        let mut near = Self::nearest(case, colors, (settled, count), meter)?;
        while count < MAX_COUNT && near.threads.len() < most / 2 {
            count = (count * 2).min(MAX_COUNT);
            let wider = Self::nearest(case, colors, (settled, count), meter)?;
            if wider.threads.len() > most {
                break;
            }
            near = wider;
        }
        Ok(near)
    }

    fn nearest(
        case: &Case<'_, 'c>,
        colors: &[usize],
        (settled, count): (&BTreeSet<Candidate<'c>>, usize),
        meter: &mut Meter<'_>,
    ) -> Result<Self> {
        let weights = case.weights();
        let mut near = Self { threads: settled.clone(), beyond: Vec::with_capacity(colors.len()) };
        for color in colors {
            let found = case.nearest_to(*color, count, meter)?;
            let last = found.last().map_or(0.0, |(_, difference)| *difference);
            near.beyond.push(weights.get(*color).map_or(0.0, |weight| weight * last));
            near.threads.extend(found.into_iter().map(|(thread, _)| thread));
        }
        Ok(near)
    }
}

fn too_many_settled(settled: usize, max_threads: usize) -> Error {
    Error::new(ErrorKind::Impossible {
        reason: format!(
            "{settled} threads that are kept or answered do not fit into {max_threads}"
        ),
        nearest: format!("ask for {settled}, keep fewer, or take answers back"),
    })
}

fn no_room(settled: usize, max_threads: usize) -> Error {
    Error::new(ErrorKind::Impossible {
        reason: format!(
            "{settled} kept threads leave no thread of {max_threads} for the other colors"
        ),
        nearest: format!("ask for {}, or keep fewer", settled.saturating_add(1)),
    })
}

/// The error for filters that let no thread pass.
pub(super) fn nothing_admitted(case: &Case<'_, '_>) -> Error {
    let tables = case.catalog.choose(&case.ask.tables).unwrap_or_default();
    let threads: usize = tables.iter().map(|held| held.table().threads().len()).sum();
    Error::new(ErrorKind::Impossible {
        reason: "no thread of the tables passes the filters".into(),
        nearest: if threads == 0 {
            "load a thread table first".into()
        } else {
            format!("the tables hold {threads} threads; loosen the filters")
        },
    })
}
