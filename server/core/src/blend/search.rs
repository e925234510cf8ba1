//! All pairs of one table's threads against one color: exact, and nearly all of them ruled out
//! without computing their color. It does not know what a blend is shown with.
//!
//! 1. The thread nearest to the color is paired with all others, and exchanges of one thread in the
//!    best pair follow until they gain nothing: the worst pair of those kept gives the reach.
//! 2. A quadratic form that no color within reach falls below (`index::Quadratic`) is a lower bound
//!    for a box of CIELAB, and two boxes of threads have a box of mixes (`tree`).
//!    Where the reach is long that form is weak, and a formula may say more of a box (`index::ring`).
//! 3. Pairs of boxes are halved, the nearer half first, and dropped once their bound is above the
//!    reach.
//! 4. The pairs of two leaves get the form, a bound, then the formula, and the reach shrinks. For
//!    CIEDE2000 a leaf is a block, whose mixes with one thread are measured at once (`index::mixes`):
//!    that costs so little that far outside the colors of a table, where no bound helps, measuring
//!    all pairs is quick enough.

use std::cmp::Ordering;
use std::ops::Range;

use super::tree::{Node, Strand, Tree, nearly_compressed};
use super::{BlendOptions, Parts, average, lab};
use crate::catalog::near::Part;
use crate::color::Lab;
use crate::difference::{DeltaE, Formula, Pair};
use crate::error::{Error, ErrorKind, Result};
use crate::index::{Around, Lights, Mixer, Quadratic, Tally, with_room};
use crate::table::Thread;
use crate::watch::Watch;

/// Rounds of exchanges; more find nothing on random tables.
const ROUNDS: usize = 4;

/// A squared reach below this share of the one that a form was made for is worth a new form.
const TIGHTER: f64 = 0.8;

/// Bounds taken between two looks at the watch.
const POLL: u64 = 256;

/// Most threads of a leaf where pairs are taken one by one. Measured: 2 and 8 cost more.
const LEAF: usize = 4;

/// Most threads of a leaf under a formula.
pub(super) fn leaf(formula: Formula) -> usize {
    if matches!(formula, Formula::Ciede2000(_)) { Lights::BLOCK } else { LEAF }
}

/// What is asked of one table.
#[derive(Clone, Copy, Debug)]
pub(super) struct Question {
    pub(super) standard: Lab,
    /// The pairs that may answer: with a measured thread among them, of two pictures, or all.
    pub(super) part: Part,
    /// The row that takes no part.
    pub(super) without: Option<usize>,
}

impl Question {
    fn admits(&self, first: &Strand<'_>, second: &Strand<'_>) -> bool {
        let is_right = match self.part {
            Part::All => true,
            Part::Measured => first.measured || second.measured,
            Part::Pictures => !first.measured && !second.measured,
        };
        is_right && first.row != second.row && self.takes(first) && self.takes(second)
    }

    fn takes(&self, strand: &Strand<'_>) -> bool {
        self.without != Some(strand.row)
    }
}

/// The place of one thread of pairs, with whether it comes first.
#[derive(Clone, Copy, Debug)]
enum Side {
    First(usize),
    Second(usize),
}

impl Side {
    fn pair(self, other: usize) -> (usize, usize) {
        match self {
            Self::First(one) => (one, other),
            Self::Second(one) => (other, one),
        }
    }
}

/// A pair with its exact difference.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found<'c> {
    pub(super) delta_e: DeltaE,
    pub(super) first: &'c Thread,
    pub(super) second: &'c Thread,
    pub(super) parts: Parts,
    /// Places of both in the order of codes.
    rows: (usize, usize),
}

impl Found<'_> {
    /// Difference, first code, second code, parts.
    pub(super) fn order(&self, other: &Self) -> Ordering {
        self.delta_e
            .order(&other.delta_e)
            .then_with(|| (self.rows, self.parts).cmp(&(other.rows, other.parts)))
    }
}

/// The search of one table for one color.
pub(super) struct Search<'t, 'c, 'o> {
    tree: &'t Tree<'c>,
    question: Question,
    options: &'o BlendOptions,
    watch: &'o dyn Watch,
    around: Around,
    mixer: Option<Mixer>,
    /// Places of a block that are still to be scored.
    open: Vec<u32>,
    /// The form, and the squared reach that it was made for.
    form: (Quadratic, f64),
    best: Vec<Found<'c>>,
    /// The squared difference above which nothing matters.
    cut: f64,
    tally: Tally,
}

impl<'t, 'c, 'o> Search<'t, 'c, 'o> {
    pub(super) fn new(
        tree: &'t Tree<'c>,
        question: Question,
        options: &'o BlendOptions,
        watch: &'o dyn Watch,
    ) -> Self {
        let standard = question.standard;
        let range = tree.lightness().unwrap_or_else(|| (standard.l(), standard.l()));
        let around = Around::new(standard, options.formula, range);
        let form = (around.quadratic(f64::INFINITY), f64::INFINITY);
        let (mixer, open) = (around.mixer(), Vec::new());
        let (best, cut, tally) = (Vec::new(), f64::INFINITY, Tally::default());
        Self { tree, question, options, watch, around, mixer, open, form, best, cut, tally }
    }

    /// The best pairs in order, at most as many as asked for; beyond the limit only the nearest one
    /// is certain to be among them.
    pub(super) fn run(mut self, tally: &mut Tally) -> Result<Vec<Found<'c>>> {
        if let Some(root) = self.tree.root().filter(|_| self.options.count > 0) {
            self.poll()?;
            self.exchange()?;
            for parts in self.options.parts.iter().copied() {
                self.sweep((root, root), parts)?;
            }
        }
        tally.formula_calls += self.tally.formula_calls;
        tally.bound_calls += self.tally.bound_calls;
        Ok(self.best)
    }

    /// Step 1.
    fn exchange(&mut self) -> Result<()> {
        let strands = self.tree.strands();
        let least = |place: usize| {
            let strand = strands.get(place).filter(|strand| self.question.takes(strand));
            let lab = strand.map(|strand| strand.thread.color.lab());
            lab.map_or(f64::INFINITY, |lab| self.around.least(lab.components()))
        };
        let nearest = (0..strands.len()).min_by(|one, other| least(*one).total_cmp(&least(*other)));
        let (Some(nearest), Some(parts)) = (nearest, self.options.parts.first().copied()) else {
            return Ok(());
        };
        let mut pair = (nearest, nearest, parts);
        for _ in 0..ROUNDS {
            for side in [Side::First(pair.0), Side::Second(pair.1)] {
                self.beside(side, 0..strands.len(), pair.2)?;
            }
            let place = |row: usize| strands.iter().position(|strand| strand.row == row);
            let found = self
                .best
                .first()
                .and_then(|best| Some((place(best.rows.0)?, place(best.rows.1)?, best.parts)));
            match found {
                Some(found) if found != pair => pair = found,
                _ => return Ok(()),
            }
        }
        Ok(())
    }

    /// Steps 3 and 4 for the pairs of two nodes, which are one or have no thread in common.
    fn sweep(&mut self, (one, other): (usize, usize), parts: Parts) -> Result<()> {
        let (Some(first), Some(second)) = (self.tree.node(one), self.tree.node(other)) else {
            return Ok(());
        };
        let share = parts.share();
        let splits_first = first.spread * share >= second.spread * (1.0 - share);
        match (first.halves, second.halves) {
            (Some((left, right)), Some(_)) if one == other => {
                let crossed = (parts == Parts::TwoAndOne).then_some((right, left));
                let four = [Some((left, left)), Some((left, right)), crossed, Some((right, right))];
                self.nearer_first(four, parts)
            }
            (Some((left, right)), halves) if splits_first || halves.is_none() => {
                self.nearer_first([Some((left, other)), Some((right, other)), None, None], parts)
            }
            (_, Some((left, right))) => {
                self.nearer_first([Some((one, left)), Some((one, right)), None, None], parts)
            }
            (_, None) => self.leaves(first, second, parts),
        }
    }

    fn nearer_first(&mut self, pairs: [Option<(usize, usize)>; 4], parts: Parts) -> Result<()> {
        let mut order = [(f64::INFINITY, None); 4];
        for (slot, pair) in order.iter_mut().zip(pairs) {
            let least = pair.map(|pair| self.least(pair, parts)).transpose()?;
            *slot = (least.unwrap_or(f64::INFINITY), pair);
        }
        order.sort_by(|left, right| left.0.total_cmp(&right.0));
        for (least, pair) in order {
            let Some(pair) = pair.filter(|_| least <= self.cut) else { return Ok(()) };
            self.sweep(pair, parts)?;
        }
        Ok(())
    }

    /// Step 2.
    fn least(&mut self, (one, other): (usize, usize), parts: Parts) -> Result<f64> {
        self.count(1)?;
        let least = match (self.tree.node(one), self.tree.node(other)) {
            (Some(first), Some(second)) => {
                let (low, high) = first.bounds.mixed(&second.bounds, parts.share()).lab();
                let least = self.form().least(low, high);
                if least > self.cut {
                    return Ok(least);
                }
                least.max(self.around.within(low, high))
            }
            _ => f64::INFINITY,
        };
        Ok(least)
    }

    fn leaves(&mut self, first: &Node, second: &Node, parts: Parts) -> Result<()> {
        let same = first.places == second.places && parts == Parts::OneAndOne;
        for one in first.places.clone() {
            let start = if same { one + 1 } else { second.places.start };
            self.beside(Side::First(one), start..second.places.end, parts)?;
        }
        Ok(())
    }

    /// Step 4 for the pairs of one thread with those of some places.
    fn beside(&mut self, side: Side, places: Range<usize>, parts: Parts) -> Result<()> {
        match self.mixer {
            Some(mixer) => self.measure(&mixer, side, places, parts),
            None => places.into_iter().try_for_each(|other| {
                let (one, other) = side.pair(other);
                self.consider(one, other, parts)
            }),
        }
    }

    /// The same, a block at once.
    fn measure(
        &mut self,
        mixer: &Mixer,
        side: Side,
        places: Range<usize>,
        parts: Parts,
    ) -> Result<()> {
        let (fixed, share) = match side {
            Side::First(fixed) => (fixed, parts.share()),
            Side::Second(fixed) => (fixed, 1.0 - parts.share()),
        };
        let Some(strand) = self.tree.strands().get(fixed) else { return Ok(()) };
        let light = strand.opposed();
        let mut open = std::mem::take(&mut self.open);
        for block in places.start / Lights::BLOCK..places.end.div_ceil(Lights::BLOCK) {
            self.count(Lights::BLOCK as u64)?;
            open.clear();
            mixer.sift((light, share), (self.tree.lights(), block), self.cut, &mut open);
            for other in open.iter().map(|place| *place as usize) {
                if places.contains(&other) {
                    let (one, other) = side.pair(other);
                    self.score(one, other, parts);
                }
            }
        }
        self.open = open;
        Ok(())
    }

    /// Step 4: scores the pair when no bound rules it out.
    fn consider(&mut self, one: usize, other: usize, parts: Parts) -> Result<()> {
        let strands = self.tree.strands();
        let (Some(first), Some(second)) = (strands.get(one), strands.get(other)) else {
            return Ok(());
        };
        self.count(1)?;
        let at = nearly_compressed(average(first.light, second.light, parts.share()));
        let cut = self.cut;
        if self.form().at(at) <= cut && self.around.least(at) <= cut {
            self.score(one, other, parts);
        }
        Ok(())
    }

    /// Keeps the pair when it may answer and is among the best.
    fn score(&mut self, one: usize, other: usize, parts: Parts) {
        let strands = self.tree.strands();
        let pair = strands.get(one).zip(strands.get(other));
        let Some((first, second)) = pair.filter(|(one, other)| self.question.admits(one, other))
        else {
            return;
        };
        // A mix that is no CIELAB value cannot be near one.
        let Ok(sample) = lab(average(first.light, second.light, parts.share())) else { return };
        self.tally.formula_calls += 1;
        let pair = Pair { standard: self.question.standard, sample };
        let delta_e = self.options.formula.delta_e(pair);
        self.keep(delta_e, first, second, parts);
    }

    fn keep(&mut self, delta_e: DeltaE, first: &Strand<'c>, second: &Strand<'c>, parts: Parts) {
        let is_swapped = parts == Parts::OneAndOne && second.row < first.row;
        let (first, second) = if is_swapped { (second, first) } else { (first, second) };
        let rows = (first.row, second.row);
        let found = Found { delta_e, first: first.thread, second: second.thread, parts, rows };
        if let Err(at) = self.best.binary_search_by(|held| held.order(&found)) {
            self.best.insert(at, found);
            self.best.truncate(self.options.count);
            self.cut = self.reach();
        }
    }

    /// The form for the reach of now, or for one that is little larger.
    fn form(&mut self) -> &Quadratic {
        let cut = self.cut;
        if cut < TIGHTER * self.form.1 {
            self.form = (self.around.quadratic(cut), cut);
        }
        &self.form.0
    }

    /// What the best pairs so far leave of [`Search::cut`].
    fn reach(&self) -> f64 {
        let full = self.best.len() >= self.options.count;
        let last = self.best.last().filter(|_| full).map(|found| found.delta_e.value());
        let limited = self.options.limit.and_then(|limit| {
            self.best.first().map(|found| limit.value().max(found.delta_e.value()))
        });
        let reach = match (last, limited) {
            (Some(last), Some(limited)) => Some(last.min(limited)),
            (one, other) => one.or(other),
        };
        reach.map_or(f64::INFINITY, |reach| with_room(reach * reach))
    }

    fn count(&mut self, bounds: u64) -> Result<()> {
        let before = self.tally.bound_calls;
        self.tally.bound_calls += bounds;
        if before / POLL < self.tally.bound_calls / POLL { self.poll() } else { Ok(()) }
    }

    fn poll(&self) -> Result<()> {
        if self.watch.stopped() { Err(Error::new(ErrorKind::Stopped)) } else { Ok(()) }
    }
}
