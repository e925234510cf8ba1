//! How well the edges between touching colors survive a change of threads.
//! It does not choose threads; it only looks at what was chosen.

use std::cmp::Ordering;

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
pub(super) const FORMULA: Formula = Formula::DEFAULT;

/// Least difference before of an edge that is drawn on purpose: twice the visible limit.
pub(super) const OUTLINE: f64 = 2.0 * VISIBLE;

/// Part of a soft contrast below which it counts as faded. House choice.
const SOFT_LEFT: f64 = 0.5;

/// Least step in L* before, and the least the other way after, that counts as turned. House choice:
/// smaller steps are told from each other by hue as much as by lightness.
pub(super) const STEP: f64 = 2.0;
const TURNED: f64 = 1.0;

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
        if before < VISIBLE {
            continue;
        }
        let least = if before < OUTLINE { SOFT_LEFT * before } else { VISIBLE };
        let fate = if first.threads.is_some() && first.threads == second.threads {
            Fate::Vanishes
        } else if meter.white_to_white(&first.after, &second.after, FORMULA)? < least {
            Fate::Fades
        } else {
            Fate::Stays
        };
        if before < OUTLINE {
            tally.soft(pair, fate);
        } else {
            tally.outline(pair, fate);
        }
        if pair.second != Side::Cloth && is_turned(first, &second) {
            tally.turn(pair);
        }
    }
    Ok(Some(tally.finish()))
}

/// True when the lighter side becomes the darker one.
fn is_turned(first: &Shade, second: &Shade) -> bool {
    let step = |one: &Color, two: &Color| one.lab().l() - two.lab().l();
    let before = step(&first.before, &second.before);
    let after = step(&first.after, &second.after);
    before.abs() >= STEP
        && after.abs() >= TURNED
        && before.is_sign_positive() != after.is_sign_positive()
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
pub(super) fn shown_after(
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

/// Edges along which a color touches a side.
type Contact = (u64, Side);

/// Sums over the pairs.
struct Tally {
    report: EdgeReport,
    /// Sum of difference times edges, and of edges, by color.
    contrasts: Vec<(f64, f64)>,
    /// Lost edges and the other side, by color.
    lost: Vec<Vec<Contact>>,
    /// The same of edges along which light and dark change sides.
    turned: Vec<Vec<Contact>>,
}

impl Tally {
    fn new(colors: usize) -> Self {
        Self {
            report: EdgeReport::default(),
            contrasts: vec![(0.0, 0.0); colors],
            lost: vec![Vec::new(); colors],
            turned: vec![Vec::new(); colors],
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

    fn soft(&mut self, pair: &Neighbors, fate: Fate) {
        let report = &mut self.report;
        report.soft = report.soft.saturating_add(pair.edges);
        match fate {
            Fate::Stays => {}
            Fate::Fades => report.soft_faded = report.soft_faded.saturating_add(pair.edges),
            Fate::Vanishes => {
                report.soft_vanished = report.soft_vanished.saturating_add(pair.edges);
            }
        }
    }

    fn turn(&mut self, pair: &Neighbors) {
        let Side::Color(second) = pair.second else { return };
        self.report.turned = self.report.turned.saturating_add(pair.edges);
        for (one, other) in [(pair.first, second), (second, pair.first)] {
            let contact = (pair.edges, Side::Color(other));
            self.turned.get_mut(one).into_iter().for_each(|of| of.push(contact));
        }
    }

    fn finish(self) -> Edges {
        let mean = |(sum, all): (f64, f64)| if all > 0.0 { sum / all } else { 0.0 };
        Edges {
            report: self.report,
            contrasts: self.contrasts.into_iter().map(mean).collect(),
            remarks: self.lost.into_iter().zip(self.turned).map(remarks).collect(),
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

/// The longest lost edges first, then the longest of those where light and dark change sides.
fn remarks((mut lost, mut turned): (Vec<Contact>, Vec<Contact>)) -> Vec<Remark> {
    lost.sort_by(longest_first);
    turned.sort_by(longest_first);
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
    let turned = turned.into_iter().filter_map(|(_, side)| match side {
        Side::Cloth => None,
        Side::Color(other) => Some(Remark::TurnsShading(other)),
    });
    named.extend(turned.take(NAMED));
    named
}

fn longest_first((one, first): &Contact, (two, second): &Contact) -> Ordering {
    two.cmp(one).then(first.cmp(second))
}
