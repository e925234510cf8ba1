//! A node split in two, where its seats disagree or did so last.
//! It does not know the order in which nodes are looked at.

use super::super::assignment::Domains;
use super::super::meter::Meter;
use super::disagree::Disagreement;
use super::{Node, STEPS, Search, Seat};
use crate::error::Result;

/// A growth beyond this is as good as infinite.
const HOPELESS: f64 = 1e6;

/// How a node is split in two.
#[derive(Clone, Copy)]
enum Way {
    /// Either the row keeps the seat, or it does not.
    Keep(Seat),
    /// Either the first row sits above the level, or the second one sits below it and the first does
    /// not sit above.
    Level { pair: (usize, usize), level: f64 },
}

impl Search<'_, '_> {
    /// The parts of a node in which there may be a better answer, the better one last; takes its
    /// seats as an answer where they agree.
    pub(super) fn branch(&mut self, node: &Node, meter: &mut Meter<'_>) -> Result<Vec<Node>> {
        let columns = node.columns();
        let found = self.disagreements(&columns, meter)?;
        if found.is_empty() {
            self.consider(&columns);
            if self.is_hopeless(node.bound) {
                return Ok(Vec::new());
            }
        }
        let found = if found.is_empty() { &node.broken } else { &found };
        let mut ways: Vec<(f64, Way)> =
            found.iter().flat_map(|pair| self.ways(node, *pair)).collect();
        if ways.is_empty() {
            ways = to_keep(node, &columns);
        }
        let mut children = Vec::with_capacity(2);
        if let Some(way) = first_greatest(&ways) {
            for domains in self.parts(&node.domains, way) {
                let child = Node { domains, ..node.clone() };
                children.extend(self.settle(child, STEPS, meter)?);
            }
        }
        children.sort_by(|one, two| two.bound.total_cmp(&one.bound));
        Ok(children)
    }

    /// The ways to part two seats of which both parts are smaller than the node, each with how much
    /// the bound grows by it.
    fn ways(&self, node: &Node, found: Disagreement) -> Vec<(f64, Way)> {
        match found {
            Disagreement::Clash { one, other } => {
                let has_choice =
                    node.domains.has(one.0, one.1) && node.domains.only(one.0).is_none();
                let grown = growth(
                    least_extra(node, one.0, |next| next != one.1),
                    least_extra(node, other.0, |next| next != other.1),
                );
                has_choice.then_some((grown, Way::Keep(one))).into_iter().collect()
            }
            Disagreement::Order { higher, lower } => {
                let (under, over) = (self.level(higher.1), self.level(lower.1));
                let levels = [under, f64::midpoint(under, over), over];
                let pair = (higher.0, lower.0);
                levels.into_iter().filter_map(|level| self.at_level(node, pair, level)).collect()
            }
        }
    }

    fn at_level(&self, node: &Node, pair: (usize, usize), level: f64) -> Option<(f64, Way)> {
        let (higher, lower) = pair;
        let rises = least_extra(node, higher, |at| self.level(at) > level);
        let falls = least_extra(node, lower, |at| self.level(at) < level);
        let stays = least_extra(node, higher, |at| self.level(at) <= level);
        let above = least_extra(node, lower, |at| self.level(at) >= level);
        let is_split = stays.is_finite() && (above.is_finite() || rises.is_finite());
        is_split.then_some((growth(rises, falls), Way::Level { pair, level }))
    }

    /// Two parts that have every answer between them, and neither the disagreement.
    fn parts(&self, domains: &Domains, way: Way) -> [Domains; 2] {
        let (mut one, mut other) = (domains.clone(), domains.clone());
        match way {
            Way::Keep((row, seat)) => {
                for column in domains.columns(row).filter(|column| *column != seat) {
                    one.take(row, column);
                }
                other.take(row, seat);
            }
            Way::Level { pair: (higher, lower), level } => {
                for column in domains.columns(higher) {
                    let part = if self.level(column) > level { &mut other } else { &mut one };
                    part.take(higher, column);
                }
                for column in domains.columns(lower).filter(|column| self.level(*column) >= level) {
                    other.take(lower, column);
                }
            }
        }
        [one, other]
    }
}

/// To keep a seat or not, for each row with a choice: the seats agree, but cuts hold the bound below
/// what they cost.
fn to_keep(node: &Node, columns: &[usize]) -> Vec<(f64, Way)> {
    let open = columns.iter().enumerate().filter(|(row, _)| node.domains.only(*row).is_none());
    let grown = |row, column| least_extra(node, row, |next| next != column);
    open.map(|(row, column)| (grown(row, *column), Way::Keep((row, *column)))).collect()
}

/// The way with the greatest growth, the first of them.
fn first_greatest(ways: &[(f64, Way)]) -> Option<Way> {
    let later = |best: (f64, Way), next: &(f64, Way)| if next.0 > best.0 { *next } else { best };
    let (first, rest) = ways.split_first()?;
    Some(rest.iter().fold(*first, later).1)
}

/// What the sum grows by at least when a row may only have some of its columns.
fn least_extra(node: &Node, row: usize, may: impl Fn(usize) -> bool) -> f64 {
    let columns = node.domains.columns(row).filter(|column| may(*column));
    columns.map(|column| node.seats.extra(&node.grid, row, column)).fold(f64::INFINITY, f64::min)
}

/// How much two parts grow, the lesser of them counting most: both must be searched.
fn growth(one: f64, other: f64) -> f64 {
    one.min(other).min(HOPELESS) + one.max(other).min(HOPELESS) * 0.1
}
