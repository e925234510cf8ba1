//! How well the edges between touching colors survive a change of threads.
//! It does not choose threads; it only looks at what was chosen.

use super::VISIBLE;
use super::case::{Candidate, Case, whole};
use super::meter::Meter;
use crate::change::{EdgeReport, Remark};
use crate::color::{Color, Lab};
use crate::difference::Formula;
use crate::error::Result;
use crate::palette::{Neighbors, Side};

/// Edges are judged in CIEDE2000, white to white, whatever formula ranks the threads: the visible
/// limit is a limit of that formula.
const FORMULA: Formula = Formula::DEFAULT;

/// Least difference before of an edge that is drawn on purpose: twice the visible limit.
const OUTLINE: f64 = 2.0 * VISIBLE;

/// Most lost edges that one change names.
const NAMED: usize = 8;

/// What became of the edges.
pub(super) struct Edges {
    pub(super) report: EdgeReport,
    /// Mean difference to what a color touches, weighted by edges, by color.
    pub(super) contrasts: Vec<f64>,
    /// What is lost, by color.
    pub(super) remarks: Vec<Vec<Remark>>,
}

/// Looks at every pair of neighbors; `None` when nobody knows them.
pub(super) fn look(
    case: &Case<'_, '_>,
    after: &[Vec<Candidate<'_>>],
    meter: &mut Meter<'_>,
) -> Result<Option<Edges>> {
    let Some(neighbors) = case.palette.neighbors() else { return Ok(None) };
    let shades = shades(case, after);
    let mut tally = Tally::new(shades.len());
    for pair in neighbors {
        let Some(first) = shades.get(pair.first) else { continue };
        let Some(second) = other_side(case, &shades, pair) else { continue };
        let before = meter.white_to_white(&first.before, &second.before, FORMULA)?;
        tally.touch(pair, before);
        if before < OUTLINE {
            continue;
        }
        let fate = if first.threads.is_some() && first.threads == second.threads {
            Fate::Vanishes
        } else if meter.white_to_white(&first.after, &second.after, FORMULA)? < VISIBLE {
            Fate::Fades
        } else {
            Fate::Stays
        };
        tally.outline(pair, fate);
    }
    Ok(Some(tally.finish()))
}

/// What becomes of an edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fate {
    Fades,
    Stays,
    Vanishes,
}

/// A color before and after.
struct Shade {
    before: Color,
    after: Color,
    /// Names of the threads after; `None` for the cloth and for colors without threads.
    threads: Option<Vec<crate::table::ThreadRef>>,
}

fn shades(case: &Case<'_, '_>, after: &[Vec<Candidate<'_>>]) -> Vec<Shade> {
    let colors = case.palette.colors().iter().zip(&case.standards).zip(after);
    let shade = |((color, standard), after): ((&crate::palette::ChartColor, &Color), &Vec<_>)| {
        let mut threads: Vec<_> = after.iter().map(Candidate::name).collect();
        if threads.is_empty() {
            threads.clone_from(&color.threads);
        }
        threads.sort();
        Shade {
            before: *standard,
            after: shown_after(case, color, standard, after),
            threads: Some(threads).filter(|threads| !threads.is_empty()),
        }
    };
    colors.map(shade).collect()
}

/// The thread's color; for a blend the old color moved as its strands move on average, an estimate.
fn shown_after(
    case: &Case<'_, '_>,
    color: &crate::palette::ChartColor,
    standard: &Color,
    after: &[Candidate<'_>],
) -> Color {
    match after {
        [] => *standard,
        [only] => only.thread.color,
        strands => {
            let own = case.own_threads(color).unwrap_or_default();
            let mut moved = [standard.lab().l(), standard.lab().a(), standard.lab().b()];
            for (old, new) in own.iter().zip(strands) {
                let (old, new) = (old.thread.color.lab(), new.thread.color.lab());
                let steps = [new.l() - old.l(), new.a() - old.a(), new.b() - old.b()];
                for (part, step) in moved.iter_mut().zip(steps) {
                    *part += step / whole(strands.len() as u64);
                }
            }
            let [l, a, b] = moved;
            Color::lab_under(Lab::clamped(l, a, b), standard.conditions(), standard.origin())
        }
    }
}

fn other_side(case: &Case<'_, '_>, shades: &[Shade], pair: &Neighbors) -> Option<Shade> {
    match pair.second {
        Side::Cloth => {
            let cloth = *case.palette.cloth()?;
            Some(Shade { before: cloth, after: cloth, threads: None })
        }
        Side::Color(second) => {
            let shade = shades.get(second)?;
            Some(Shade { before: shade.before, after: shade.after, threads: shade.threads.clone() })
        }
    }
}

/// Sums over the pairs.
struct Tally {
    report: EdgeReport,
    /// Sum of difference times edges, and of edges, by color.
    contrasts: Vec<(f64, f64)>,
    /// Lost edges and the other side, by color.
    lost: Vec<Vec<(u64, Side)>>,
}

impl Tally {
    fn new(colors: usize) -> Self {
        Self {
            report: EdgeReport::default(),
            contrasts: vec![(0.0, 0.0); colors],
            lost: vec![Vec::new(); colors],
        }
    }

    fn touch(&mut self, pair: &Neighbors, difference: f64) {
        let edges = whole(pair.edges);
        for color in sides(pair) {
            if let Some((sum, all)) = self.contrasts.get_mut(color) {
                *sum += difference * edges;
                *all += edges;
            }
        }
    }

    fn outline(&mut self, pair: &Neighbors, fate: Fate) {
        let report = &mut self.report;
        report.outline = report.outline.saturating_add(pair.edges);
        match fate {
            Fate::Stays => return,
            Fate::Fades => report.faded = report.faded.saturating_add(pair.edges),
            Fate::Vanishes => report.vanished = report.vanished.saturating_add(pair.edges),
        }
        if let Some(lost) = self.lost.get_mut(pair.first) {
            lost.push((pair.edges, pair.second));
        }
        if let Side::Color(second) = pair.second
            && let Some(lost) = self.lost.get_mut(second)
        {
            lost.push((pair.edges, Side::Color(pair.first)));
        }
    }

    fn finish(self) -> Edges {
        let mean = |(sum, all): (f64, f64)| if all > 0.0 { sum / all } else { 0.0 };
        Edges {
            report: self.report,
            contrasts: self.contrasts.into_iter().map(mean).collect(),
            remarks: self.lost.into_iter().map(remarks).collect(),
        }
    }
}

fn sides(pair: &Neighbors) -> impl Iterator<Item = usize> {
    let second = match pair.second {
        Side::Cloth => None,
        Side::Color(second) => Some(second),
    };
    std::iter::once(pair.first).chain(second)
}

/// The longest lost edges first.
fn remarks(mut lost: Vec<(u64, Side)>) -> Vec<Remark> {
    lost.sort_by(|(one, first), (two, second)| two.cmp(one).then(first.cmp(second)));
    let mut named: Vec<Remark> = Vec::new();
    for (_, side) in lost {
        let remark = match side {
            Side::Cloth => Remark::FadesIntoCloth,
            Side::Color(other) => Remark::LosesEdge(other),
        };
        if named.len() < NAMED && !named.contains(&remark) {
            named.push(remark);
        }
    }
    named
}
