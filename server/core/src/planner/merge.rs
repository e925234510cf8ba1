//! The full list of merges, from all colors down to one thread, each measured from the originals.
//! It does not know the chart, and makes no choice between the steps.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use super::case::{Candidate, Case, Wish};
use super::meter::Meter;
use super::model::nothing_admitted;
use super::{Ask, MergeList, MergeMove, MergeOptions, MergeStep, curve, evidence, reduce};
use crate::catalog::Catalog;
use crate::change::TableVersion;
use crate::color::Color;
use crate::difference::DeltaE;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::palette::{MAX_COLORS, PaletteSummary};

/// All that is asked.
#[derive(Clone, Copy)]
pub(super) struct Question<'q, 'c> {
    pub(super) catalog: &'c Catalog,
    pub(super) palette: &'q PaletteSummary,
    pub(super) ask: &'q Ask,
    pub(super) options: MergeOptions,
}

pub(super) fn run(question: Question<'_, '_>, meter: &mut Meter<'_>) -> Result<MergeList> {
    let Question { catalog, palette, ask, options } = question;
    let case = Case::new(catalog, palette, ask, meter)?;
    let [to_steps, to_curve] = if options.curve { [0.1, 0.2] } else { [0.5, 1.0] };
    meter.between(0.0, to_steps);
    let anchored = anchored(&case, options.anchor, meter)?;
    meter.between(to_steps, to_curve);
    let ground = Ground::new(&case, &anchored, meter)?;
    let colors = ground.colors_at_first();
    let mut left = colors;
    let mut steps = ground.shared(&mut left, meter)?;
    Descent::new(&case, &ground, meter)?.run(&mut left, &mut steps, meter)?;
    let tables = versions(&case, &ground);
    meter.between(to_curve, 1.0);
    let curve = if options.curve { curve::points(&case, colors, meter)? } else { Vec::new() };
    let mut list =
        MergeList { formula: ask.formula, tables, colors, anchor: options.anchor, steps, curve };
    hold_against_steps(&mut list);
    Ok(list)
}

/// The threads of the best palette at the anchor.
fn anchored<'c>(
    case: &Case<'_, 'c>,
    anchor: Option<usize>,
    meter: &mut Meter<'_>,
) -> Result<BTreeSet<Candidate<'c>>> {
    match anchor {
        None => Ok(BTreeSet::new()),
        Some(most) if most == 0 || most > MAX_COLORS => Err(no_anchor(most)),
        Some(most) => reduce::best_threads(case, most, meter),
    }
}

/// A step may have come upon a palette that the search for the curve, cut short, did not.
fn hold_against_steps(list: &mut MergeList) {
    for step in &list.steps {
        let point = list.curve.iter_mut().find(|point| point.threads == step.threads_left);
        if let Some(point) = point
            && step.mean_difference.value() < point.mean_difference.value() * (1.0 - curve::CLOSED)
        {
            point.mean_difference = step.mean_difference;
            point.max_difference = step.max_difference;
            curve::close(point);
        }
    }
}

fn versions(case: &Case<'_, '_>, ground: &Ground<'_, '_, '_>) -> Vec<TableVersion> {
    case.versions(&ground.threads.iter().map(|thread| thread.table).collect())
}

/// A color that may move.
struct Row<'p> {
    place: usize,
    stitches: u64,
    weight: f64,
    standard: &'p Color,
    /// Place of its thread in [`Ground::threads`].
    thread: usize,
}

/// Where the merges start: every color on its own or its nearest thread.
struct Ground<'l, 'a, 'c> {
    case: &'l Case<'a, 'c>,
    rows: Vec<Row<'l>>,
    /// Threads in use, kept or anchored, by table and code.
    threads: Vec<Candidate<'c>>,
    locked: Vec<bool>,
    /// Threads that stay until only they and the locked ones are left.
    anchored: Vec<bool>,
    /// Mean difference of the colors that are no rows: kept blends.
    aside: f64,
    aside_max: f64,
}

impl<'l, 'a, 'c> Ground<'l, 'a, 'c> {
    fn new(
        case: &'l Case<'a, 'c>,
        anchored: &BTreeSet<Candidate<'c>>,
        meter: &mut Meter<'_>,
    ) -> Result<Self> {
        let weights = case.weights();
        let mut starts: Vec<(usize, Candidate<'c>)> = Vec::new();
        let (mut aside, mut aside_max) = (0.0, 0.0_f64);
        for (place, (color, wish)) in case.palette.colors().iter().zip(&case.wishes).enumerate() {
            match wish {
                Wish::Fixed(threads) => {
                    if let [only] = threads.as_slice() {
                        starts.push((place, *only));
                    } else {
                        let differences = evidence::differences(case, place, color, threads)?;
                        let mean = evidence::mean(&differences);
                        aside += weights.get(place).map_or(0.0, |weight| weight * mean);
                        aside_max = aside_max.max(mean);
                    }
                }
                Wish::Free(_) => starts.push((place, start(case, place, meter)?)),
            }
        }
        let settled = case.settled_threads();
        let mut threads: BTreeSet<Candidate<'c>> = starts.iter().map(|start| start.1).collect();
        threads.extend(settled.iter().chain(anchored));
        let threads: Vec<Candidate<'c>> = threads.into_iter().collect();
        let locked = threads.iter().map(|thread| settled.contains(thread)).collect();
        let anchored = threads.iter().map(|thread| anchored.contains(thread)).collect();
        let rows = starts
            .into_iter()
            .filter_map(|(place, thread)| {
                Some(Row {
                    place,
                    stitches: case.palette.colors().get(place)?.stitches,
                    weight: *weights.get(place)?,
                    standard: case.standards.get(place)?,
                    thread: threads.binary_search(&thread).ok()?,
                })
            })
            .collect();
        Ok(Self { case, rows, threads, locked, anchored, aside, aside_max })
    }

    /// Colors, and threads that are there for another reason.
    fn colors_at_first(&self) -> usize {
        let used: BTreeSet<usize> = self.rows.iter().map(|row| row.thread).collect();
        self.rows.len() + self.threads.len() - used.len()
    }

    /// True when a color may come to a thread that is not its own.
    fn takes_in(&self, thread: &Candidate<'_>) -> bool {
        self.case.admits(*thread) || self.case.kept_threads.contains(thread)
    }

    fn step_move(&self, row: &Row<'_>, thread: usize) -> Result<Option<MergeMove>> {
        let Some(to) = self.threads.get(thread) else { return Ok(None) };
        Ok(Some(MergeMove {
            color: row.place,
            stitches: row.stitches,
            to: to.name(),
            difference: self.case.difference(row.standard, &to.thread.color)?,
        }))
    }

    /// The steps in which a color joins a larger one that has the same thread, most alike first.
    fn shared(&self, left: &mut usize, meter: &mut Meter<'_>) -> Result<Vec<MergeStep>> {
        let mut groups: BTreeMap<usize, Vec<&Row<'_>>> = BTreeMap::new();
        for row in &self.rows {
            groups.entry(row.thread).or_default().push(row);
        }
        let (mean, max) = self.cost(meter)?;
        let mut joins: Vec<(f64, &Row<'_>)> = Vec::new();
        for group in groups.values_mut() {
            group.sort_by_key(|row| (Reverse(row.stitches), row.place));
            let Some((host, guests)) = group.split_first() else { continue };
            for guest in guests {
                let formula = self.case.ask.formula;
                let apart = meter.white_to_white(host.standard, guest.standard, formula)?;
                joins.push((apart, guest));
            }
        }
        joins.sort_by(|(one, first), (two, second)| {
            one.total_cmp(two).then(first.place.cmp(&second.place))
        });
        let mut steps = Vec::with_capacity(joins.len());
        for (_, row) in joins {
            let Some(thread) = self.threads.get(row.thread) else { continue };
            *left -= 1;
            steps.push(MergeStep {
                threads_left: *left,
                leaving: thread.name(),
                moves: self.step_move(row, row.thread)?.into_iter().collect(),
                stitches_moved: row.stitches,
                mean_difference: DeltaE::computed(mean),
                max_difference: DeltaE::computed(max),
            });
        }
        Ok(steps)
    }

    /// Mean and largest difference at the start.
    fn cost(&self, meter: &mut Meter<'_>) -> Result<(f64, f64)> {
        let (mut mean, mut max) = (self.aside, self.aside_max);
        for row in &self.rows {
            let Some(thread) = self.threads.get(row.thread) else { continue };
            let formula = self.case.ask.formula;
            let difference = meter.difference(row.standard, &thread.thread.color, formula)?;
            mean += row.weight * difference;
            max = max.max(difference);
        }
        Ok((mean, max))
    }
}

/// The thread that a color starts on: its own when that one may answer, or else the nearest of the
/// admitted and the kept ones.
fn start<'c>(case: &Case<'_, 'c>, place: usize, meter: &mut Meter<'_>) -> Result<Candidate<'c>> {
    let refused = |thread: &Candidate<'_>| match case.wishes.get(place) {
        Some(Wish::Free(barred)) => barred.contains(&thread.name()),
        Some(Wish::Fixed(_)) | None => false,
    };
    let own = case.palette.colors().get(place).and_then(|color| case.own_threads(color));
    if let Some([own]) = own.as_deref()
        && !refused(own)
        && (case.admits(*own) || case.kept_threads.contains(own))
    {
        return Ok(*own);
    }
    let mut near = case.nearest_to(place, 1, meter)?;
    let formula = case.ask.formula;
    for kept in case.kept_threads.iter().filter(|kept| !refused(kept)) {
        if let Some(standard) = case.standards.get(place) {
            let difference = meter.difference(standard, &kept.thread.color, formula)?;
            near.push((*kept, difference));
        }
    }
    near.sort_by(|(first, one), (second, two)| one.total_cmp(two).then(first.cmp(second)));
    near.first().map(|(thread, _)| *thread).ok_or_else(|| nothing_admitted(case))
}

/// Reverse greedy: of the threads left, the one whose colors lose least leaves.
struct Descent<'l, 'a, 'c> {
    ground: &'l Ground<'l, 'a, 'c>,
    /// Differences of each row with each thread, one row after another; infinite where refused.
    differences: Vec<f64>,
    alive: Vec<usize>,
    /// Anchored threads are the only ones left to leave.
    is_past_anchor: bool,
    first: Vec<usize>,
    second: Vec<Option<usize>>,
}

impl<'l, 'a, 'c> Descent<'l, 'a, 'c> {
    fn new(
        case: &Case<'_, '_>,
        ground: &'l Ground<'l, 'a, 'c>,
        meter: &mut Meter<'_>,
    ) -> Result<Self> {
        let mut differences = Vec::with_capacity(ground.rows.len() * ground.threads.len());
        for row in &ground.rows {
            let barred = match case.wishes.get(row.place) {
                Some(Wish::Free(barred)) => barred.as_slice(),
                Some(Wish::Fixed(_)) | None => &[],
            };
            for thread in &ground.threads {
                let formula = case.ask.formula;
                let difference = meter.difference(row.standard, &thread.thread.color, formula)?;
                let refused = !barred.is_empty() && barred.contains(&thread.name());
                let own = ground.threads.get(row.thread) == Some(thread);
                let open = own || (!refused && ground.takes_in(thread));
                differences.push(if open { difference } else { f64::INFINITY });
            }
        }
        let mut descent = Self {
            ground,
            differences,
            alive: (0..ground.threads.len()).collect(),
            is_past_anchor: false,
            first: ground.rows.iter().map(|row| row.thread).collect(),
            second: vec![None; ground.rows.len()],
        };
        for row in 0..ground.rows.len() {
            descent.reseat(row);
        }
        Ok(descent)
    }

    fn difference(&self, row: usize, thread: usize) -> f64 {
        let place = row * self.ground.threads.len() + thread;
        self.differences.get(place).copied().unwrap_or(f64::INFINITY)
    }

    /// Finds the second nearest thread of a row again.
    fn reseat(&mut self, row: usize) {
        let first = self.first.get(row).copied();
        let others = self.alive.iter().copied().filter(|thread| Some(*thread) != first);
        let finite = others.filter(|thread| self.difference(row, *thread).is_finite());
        let nearest = finite.min_by(|one, two| {
            self.difference(row, *one).total_cmp(&self.difference(row, *two)).then(one.cmp(two))
        });
        if let Some(second) = self.second.get_mut(row) {
            *second = nearest;
        }
    }

    /// What the palette loses with each thread; infinite where a color has nowhere to go.
    fn losses(&self) -> Vec<f64> {
        let mut losses = vec![0.0; self.ground.threads.len()];
        let seats = self.first.iter().zip(&self.second).zip(&self.ground.rows).enumerate();
        for (place, ((first, second), row)) in seats {
            let next = second.map_or(f64::INFINITY, |second| self.difference(place, second));
            if let Some(loss) = losses.get_mut(*first) {
                *loss += row.weight * (next - self.difference(place, *first)).max(0.0);
            }
        }
        losses
    }

    /// The thread whose colors lose least, unless none may leave.
    fn cheapest(&mut self) -> Option<usize> {
        self.is_past_anchor =
            self.is_past_anchor || !self.alive.iter().any(|at| self.may_leave(*at));
        let losses = self.losses();
        let price = |thread: &usize| losses.get(*thread).copied().unwrap_or(f64::INFINITY);
        let free = self.alive.iter().copied().filter(|thread| self.may_leave(*thread));
        let cheapest = free.min_by(|one, two| price(one).total_cmp(&price(two)))?;
        (self.alive.len() > 1 && price(&cheapest).is_finite()).then_some(cheapest)
    }

    fn may_leave(&self, thread: usize) -> bool {
        let is = |flags: &[bool]| flags.get(thread).copied().unwrap_or(true);
        !is(&self.ground.locked) && (self.is_past_anchor || !is(&self.ground.anchored))
    }

    fn run(
        mut self,
        left: &mut usize,
        steps: &mut Vec<MergeStep>,
        meter: &mut Meter<'_>,
    ) -> Result<()> {
        while let Some(leaving) = self.cheapest() {
            meter.look()?;
            *left -= 1;
            let moves = self.drop_thread(leaving)?;
            let Some(thread) = self.ground.threads.get(leaving) else { return Ok(()) };
            let (mean, max) = self.cost();
            steps.push(MergeStep {
                threads_left: *left,
                leaving: thread.name(),
                stitches_moved: moves.iter().map(|step| step.stitches).sum(),
                moves,
                mean_difference: DeltaE::computed(mean),
                max_difference: DeltaE::computed(max),
            });
            meter.tell(self.fraction(), mean, None);
        }
        Ok(())
    }

    #[expect(clippy::cast_precision_loss, reason = "a palette has at most 4,096 colors")]
    fn fraction(&self) -> f64 {
        1.0 - self.alive.len() as f64 / self.ground.threads.len().max(1) as f64
    }

    /// Closes a thread; its colors go to their nearest one that is left.
    fn drop_thread(&mut self, leaving: usize) -> Result<Vec<MergeMove>> {
        self.alive.retain(|thread| *thread != leaving);
        let mut moves = Vec::new();
        for place in 0..self.first.len() {
            let (Some(first), Some(second)) = (self.first.get_mut(place), self.second.get(place))
            else {
                continue;
            };
            let moved = *first == leaving;
            if !moved && *second != Some(leaving) {
                continue;
            }
            if moved && let Some(to) = *second {
                *first = to;
                if let Some(row) = self.ground.rows.get(place) {
                    moves.extend(self.ground.step_move(row, to)?);
                }
            }
            self.reseat(place);
        }
        moves.sort_by_key(|step| (Reverse(step.stitches), step.color));
        Ok(moves)
    }

    fn cost(&self) -> (f64, f64) {
        let start = (self.ground.aside, self.ground.aside_max);
        let seats = self.first.iter().zip(&self.ground.rows).enumerate();
        seats.fold(start, |(mean, max), (place, (thread, row))| {
            let difference = self.difference(place, *thread);
            (mean + row.weight * difference, max.max(difference))
        })
    }
}

fn no_anchor(most: usize) -> Error {
    Error::new(ErrorKind::BadValue {
        value: most.to_string(),
        reason: format!("a number of threads is 1 to {MAX_COLORS}"),
        remedy: "say how many threads".into(),
    })
    .at(Place::field("anchor_thread_count"))
}
