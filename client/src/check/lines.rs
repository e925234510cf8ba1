//! Notes about back-stitch lines that vanish: an outline in the color of what it outlines.
//! It does not know what a line is meant to show.

use std::collections::BTreeMap;

use super::Findings;
use super::note::{Cells, Code, Finding};
use super::view::View;
use crate::chart::{Cell, Chart};
use crate::summary::cells_along;

/// What a line lies over or beside: a color by its number, or bare cloth.
type Ground = Option<u16>;

/// Pieces of the lines of one color over and along one ground of the same color.
#[derive(Debug, Default)]
struct Vanished {
    /// Pieces with nothing else beside them.
    over: u64,
    /// Pieces with something else on one side.
    beside: u64,
    /// The cells of that ground; some may come twice.
    places: Vec<usize>,
    /// So many places are gathered before they are sorted again.
    room: usize,
}

/// Places that are gathered before those that come twice are taken out.
const GATHERED: usize = 1 << 20;

impl Vanished {
    fn add_places(&mut self, places: impl Iterator<Item = usize>) {
        self.places.extend(places);
        if self.places.len() >= self.room.max(GATHERED) {
            self.places.sort_unstable();
            self.places.dedup();
            self.room = 2 * self.places.len();
        }
    }
}

pub(super) fn find(view: &View<'_>, found: &mut Findings<'_>) {
    let Some(chart) = view.chart().filter(|_| found.wants(Code::LostOutline)) else { return };
    let mut pieces: BTreeMap<u16, u64> = BTreeMap::new();
    let mut vanished: BTreeMap<(u16, Ground), Vanished> = BTreeMap::new();
    let mut near =
        Near { view, within: found.limits.outline_within.value(), known: BTreeMap::new() };
    for line in chart.lines() {
        let Some(own) = view.number(line.entry) else { continue };
        for cells in cells_along(line, chart.size()) {
            *pieces.entry(own).or_default() += 1;
            let same: Vec<(usize, Ground)> = cells
                .iter()
                .filter_map(|place| Some((*place, near.ground(chart, *place, own)?)))
                .collect();
            let Some((_, ground)) = same.first() else { continue };
            let held = vanished.entry((own, *ground)).or_default();
            if same.len() == cells.len() {
                held.over += 1;
            } else {
                held.beside += 1;
            }
            held.add_places(same.iter().map(|(place, _)| *place));
        }
    }
    for ((own, ground), held) in vanished {
        let all = pieces.get(&own).copied().unwrap_or(0);
        tell(view, (own, ground), held, all, found);
    }
}

/// One note, when enough of the lines vanishes.
fn tell(
    view: &View<'_>,
    (own, ground): (u16, Ground),
    mut held: Vanished,
    all: u64,
    found: &mut Findings<'_>,
) {
    #[expect(clippy::cast_precision_loss, reason = "pieces are counted in millions at most")]
    let percent = (held.over + held.beside) as f64 * 100.0 / all.max(1) as f64;
    let limits = found.limits;
    if held.over < limits.outline_over.max(1) && percent < limits.outline_share {
        return;
    }
    held.places.sort_unstable();
    held.places.dedup();
    let (own, ground) = (usize::from(own), ground.map(usize::from));
    let difference = match ground {
        Some(ground) => view.difference(own, ground),
        None => view.against_cloth(own),
    };
    let Some(difference) = difference else { return };
    let colors = [Some(own), ground.filter(|ground| *ground != own)];
    let colors =
        colors.into_iter().flatten().filter_map(|number| view.colors().get(number).cloned());
    let width = view.chart().map_or(1, |chart| usize::from(chart.size().width()));
    let Vanished { over, beside, places, .. } = held;
    let on_cloth = ground.is_none();
    let finding = Finding::LostOutline { difference, over, beside, percent, on_cloth };
    found.add(finding, colors.collect(), Cells::of(places, width));
}

/// Which colors are near to which, each pair measured once.
struct Near<'v, 'c> {
    view: &'v View<'c>,
    within: f64,
    known: BTreeMap<(u16, Ground), bool>,
}

impl Near<'_, '_> {
    /// The ground in a cell that a line of this color vanishes on.
    fn ground(&mut self, chart: &Chart, place: usize, own: u16) -> Option<Ground> {
        match chart.grid().at(place) {
            Cell::Bare => Some(None).filter(|ground| self.is_near(own, *ground)),
            Cell::Full(entry) => self.stitch(entry, own),
            Cell::Parts(parts) => parts.iter().find_map(|part| self.stitch(part.entry, own)),
        }
    }

    fn stitch(&mut self, entry: crate::chart::EntryId, own: u16) -> Option<Ground> {
        let number = self.view.number(entry)?;
        Some(Some(number)).filter(|ground| self.is_near(own, *ground))
    }

    fn is_near(&mut self, own: u16, ground: Ground) -> bool {
        if let Some(known) = self.known.get(&(own, ground)) {
            return *known;
        }
        let own_number = usize::from(own);
        let difference = match ground {
            Some(number) => self.view.difference(own_number, usize::from(number)),
            None => self.view.against_cloth(own_number),
        };
        let near = difference.is_some_and(|held| held.delta_e.value() <= self.within);
        self.known.insert((own, ground), near);
        near
    }
}
