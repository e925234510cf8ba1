//! A chart as the cleaner sees it, what moves in it, and the list of that.
//! It does not find strays and writes nothing.

use std::collections::BTreeMap;

use dyekin_core::planner::Keep;
use dyekin_core::{Color, DeltaE, Difference, Formula};

use crate::chart::{Area, Cell, Chart, ChartHash, EntryId};
use crate::clean::{Cells, Found, Tiny, tiny};
use crate::failure::{Failure, Result};
use crate::stitch_list::{Stitch, StitchAnswer, StitchColor, StitchList, Suggestion, Why};
use crate::summary::{ColorPlace, Summary};

/// Difference from its neighbors above which a lone stitch is a highlight, a star or an eye, and
/// never joins them. House choice: twice what is told apart at arm's length.
pub(crate) const STANDS_OUT: f64 = 12.0;

/// A stitch that moves.
#[derive(Clone, Copy, Debug)]
struct Moved {
    to: u16,
    why: Why,
    answer: Option<StitchAnswer>,
}

/// The cells of a chart and what becomes of them.
#[derive(Debug)]
pub(crate) struct Drawing<'c> {
    chart: &'c Chart,
    summary: &'c Summary,
    cells: Cells,
    /// Cells that must stay.
    kept: Vec<bool>,
    /// Moves and refusals by cell.
    moved: BTreeMap<usize, Moved>,
    /// What the owner said to suggestions, by their first cell.
    said: BTreeMap<usize, StitchAnswer>,
    /// Answers by cell.
    answers: BTreeMap<usize, StitchAnswer>,
}

impl<'c> Drawing<'c> {
    pub(crate) fn new(
        chart: &'c Chart,
        summary: &'c Summary,
        keeps: &[Keep],
        goals: Vec<u16>,
    ) -> Self {
        let mut number_of: Vec<Option<u16>> = vec![None; chart.key().len()];
        for (number, place) in summary.places().iter().enumerate() {
            for entry in place.entries() {
                if let Some(held) = number_of.get_mut(entry.index()) {
                    *held = u16::try_from(number).ok();
                }
            }
        }
        let number = |cell: Cell<'_>| match cell {
            Cell::Full(entry) => number_of.get(entry.index()).copied().flatten(),
            Cell::Bare | Cell::Parts(_) => None,
        };
        let cells: Vec<Option<u16>> = chart.grid().cells().map(number).collect();
        let colors = summary.places().iter().map(ColorPlace::color).collect();
        let width = usize::from(chart.size().width());
        let kept = kept_cells(chart, &cells, keeps);
        let cells = Cells { width, cells, colors, goals };
        let (moved, said, answers) = Default::default();
        Self { chart, summary, cells, kept, moved, said, answers }
    }

    pub(crate) fn cells(&self) -> &Cells {
        &self.cells
    }

    pub(crate) fn colors(&self) -> &[ColorPlace] {
        self.summary.places()
    }

    /// Takes the answers of an earlier list into account.
    pub(crate) fn answer(&mut self, list: &StitchList) -> Result<()> {
        let numbers = numbers(list, self.colors())?;
        let own = |answer: StitchAnswer| match answer {
            StitchAnswer::Another(number) => {
                numbers.get(&number).map_or(StitchAnswer::No, |place| StitchAnswer::Another(*place))
            }
            said @ (StitchAnswer::No | StitchAnswer::Yes) => said,
        };
        for stitch in &list.stitches {
            let place = self.chart.size().place(stitch.at.0, stitch.at.1);
            if let (Some(place), Some(answer)) = (place, stitch.answer.or(list.rest)) {
                self.answers.insert(place, own(answer));
            }
        }
        for held in &list.suggestions {
            let first = held.cells.first().and_then(|at| self.chart.size().place(at.0, at.1));
            if let (Some(place), Some(answer)) = (first, held.answer.or(list.rest)) {
                self.said.insert(place, own(answer));
            }
        }
        Ok(())
    }

    /// Moves what was found, but for what must stay.
    pub(crate) fn clean(&mut self, found: &Found) {
        for stray in &found.moves {
            if self.is_kept(stray.place) {
                continue;
            }
            let answer = self.answers.get(&stray.place).copied();
            self.moved.insert(stray.place, Moved { to: stray.to, why: Why::Blend, answer });
        }
    }

    fn is_kept(&self, place: usize) -> bool {
        self.kept.get(place).copied().unwrap_or(true)
    }

    /// Lets lone stitches join within a difference, and those that the owner said yes to.
    pub(crate) fn join(&mut self, lone: &Lone, within: Option<f64>) {
        for (tiny, difference) in &lone.could {
            let said = tiny.cells.first().and_then(|first| self.said.get(first)).copied();
            let joins = match said {
                Some(StitchAnswer::No) => false,
                Some(StitchAnswer::Yes | StitchAnswer::Another(_)) => true,
                None => within.is_some_and(|within| *difference <= within),
            };
            if joins {
                for place in &tiny.cells {
                    let moved = Moved { to: tiny.to, why: Why::Lone, answer: said };
                    self.moved.insert(*place, moved);
                }
            }
        }
    }

    /// Where a cell goes, when it moves.
    fn goal(moved: &Moved) -> Option<u16> {
        match moved.answer {
            Some(StitchAnswer::No) => None,
            Some(StitchAnswer::Another(number)) => u16::try_from(number).ok(),
            Some(StitchAnswer::Yes) | None => Some(moved.to),
        }
    }

    /// The moves as the chart carries them out.
    pub(crate) fn moves(&self) -> Vec<(usize, EntryId)> {
        let entry = |number: u16| {
            self.colors()
                .get(usize::from(number))
                .and_then(|color| color.entries().first())
                .copied()
        };
        let moves = self.moved.iter();
        moves.filter_map(|(place, moved)| Some((*place, entry(Self::goal(moved)?)?))).collect()
    }

    /// The cells after the moves so far.
    fn after(&self) -> Vec<Option<u16>> {
        let mut cells = self.cells.cells.clone();
        for (place, moved) in &self.moved {
            if let (Some(cell), Some(to)) = (cells.get_mut(*place), Self::goal(moved)) {
                *cell = Some(to);
            }
        }
        cells
    }

    /// The list of all moves and suggestions.
    pub(crate) fn list(
        &self,
        lone: &Lone,
        program: String,
        settings: Vec<(String, String)>,
        chart: ChartHash,
    ) -> StitchList {
        let stitches: Vec<Stitch> = self
            .moved
            .iter()
            .filter_map(|(place, moved)| {
                let from = self.cells.cells.get(*place).copied().flatten()?;
                Some(Stitch {
                    at: self.at(*place)?,
                    from: from.into(),
                    to: moved.to.into(),
                    why: moved.why,
                    answer: moved.answer,
                })
            })
            .collect();
        let suggestions: Vec<Suggestion> = lone
            .could
            .iter()
            .filter(|(tiny, _)| !tiny.cells.iter().any(|place| self.joined(*place)))
            .map(|(tiny, difference)| Suggestion {
                cells: tiny.cells.iter().filter_map(|place| self.at(*place)).collect(),
                from: tiny.from.into(),
                to: tiny.to.into(),
                difference: *difference,
                starts: u64::from(tiny.starts),
                answer: tiny.cells.first().and_then(|first| self.said.get(first)).copied(),
            })
            .collect();
        let colors = self.named(&stitches, &suggestions);
        StitchList {
            program,
            chart,
            chart_after: None,
            settings,
            colors,
            rest: None,
            stitches,
            suggestions,
        }
    }

    fn joined(&self, place: usize) -> bool {
        self.moved.get(&place).is_some_and(|moved| moved.why == Why::Lone)
    }

    fn at(&self, place: usize) -> Option<(u16, u16)> {
        let width = self.cells.width.max(1);
        Some((u16::try_from(place % width).ok()?, u16::try_from(place / width).ok()?))
    }

    /// The colors that the list names.
    fn named(&self, stitches: &[Stitch], suggestions: &[Suggestion]) -> Vec<StitchColor> {
        let mut numbers: Vec<usize> = stitches
            .iter()
            .flat_map(|stitch| [Some(stitch.from), Some(stitch.to), another(stitch.answer)])
            .chain(
                suggestions
                    .iter()
                    .flat_map(|held| [Some(held.from), Some(held.to), another(held.answer)]),
            )
            .flatten()
            .collect();
        numbers.sort_unstable();
        numbers.dedup();
        let palette = self.summary.palette().colors();
        numbers
            .into_iter()
            .filter_map(|number| {
                let place = self.colors().get(number)?;
                let stitches = palette.get(number)?.stitches;
                let threads = place.threads().to_vec();
                Some(StitchColor { number, hex: place.color(), stitches, threads })
            })
            .collect()
    }
}

fn another(answer: Option<StitchAnswer>) -> Option<usize> {
    match answer {
        Some(StitchAnswer::Another(number)) => Some(number),
        Some(StitchAnswer::No | StitchAnswer::Yes) | None => None,
    }
}

/// Cells of kept colors and areas.
fn kept_cells(chart: &Chart, cells: &[Option<u16>], keeps: &[Keep]) -> Vec<bool> {
    let (colors, names) = super::kept(keeps);
    let mut kept: Vec<bool> = cells
        .iter()
        .map(|cell| cell.is_some_and(|number| colors.contains(&usize::from(number))))
        .collect();
    let areas = chart.areas().iter().filter(|area| names.contains(&area.name().as_str()));
    for run in areas.flat_map(Area::runs) {
        for x in run.x..run.x.saturating_add(run.count) {
            let place = chart.size().place(x, run.y);
            if let Some(held) = place.and_then(|place| kept.get_mut(place)) {
                *held = true;
            }
        }
    }
    kept
}

/// The colors of a list by their places in this chart.
pub(crate) fn numbers(list: &StitchList, places: &[ColorPlace]) -> Result<BTreeMap<usize, usize>> {
    let mut numbers = BTreeMap::new();
    for held in &list.colors {
        let is_it = |place: &ColorPlace| {
            place.color() == held.hex && place.threads() == held.threads.as_slice()
        };
        let Some(place) = places.iter().position(is_it) else {
            return Err(Failure::said(
                format!("the chart has no color {} worked as the list says", held.hex),
                "leave colors and threads of the list as they were made",
            ));
        };
        numbers.insert(held.number, place);
    }
    Ok(numbers)
}

/// Lone stitches and tiny groups.
#[derive(Debug)]
pub(crate) struct Lone {
    /// Those that could join their neighbors, with the difference.
    pub(crate) could: Vec<(Tiny, f64)>,
    /// Those that stand out and stay.
    pub(crate) stand_out: usize,
    /// Single stitches among all of them.
    pub(crate) single: usize,
    /// Full stitches of the chart.
    pub(crate) stitches: usize,
}

impl Lone {
    pub(crate) fn find(drawing: &Drawing<'_>, class: &dyn Fn(u16) -> u16) -> Self {
        let cells = drawing.after();
        let mut lone = Self {
            could: Vec::new(),
            stand_out: 0,
            single: 0,
            stitches: cells.iter().flatten().count(),
        };
        for tiny in tiny(drawing.cells.width, &cells, class) {
            lone.single += usize::from(tiny.cells.len() == 1);
            let color = |number: u16| {
                drawing.colors().get(usize::from(number)).map(|place| Color::screen(place.color()))
            };
            let apart = color(tiny.from)
                .zip(color(tiny.to))
                .and_then(|(from, to)| Difference::between(&from, &to, Formula::DEFAULT).ok());
            let apart = apart.map_or(f64::INFINITY, |held| DeltaE::value(held.delta_e));
            if apart > STANDS_OUT || tiny.cells.iter().any(|place| drawing.is_kept(*place)) {
                lone.stand_out += 1;
            } else {
                lone.could.push((tiny, apart));
            }
        }
        lone
    }
}
