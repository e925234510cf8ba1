//! Colors of everyday work that no thread of a table comes near to.
//! It does not know which colors a chart needs: it samples the colors that a screen shows.
//!
//! CIELAB is cut into cells of [`EDGE`] units; the middle of each cell stands for it. A color is an
//! everyday one when a screen still shows it with a third more chroma: dyed thread does not reach
//! the edge of what screens show (house choice, no source). Cells are taken from the largest
//! difference down, and one that a thread at a listed color would serve is not listed again, so the
//! list is short: with a thread at each of its colors, no gap would be left.

use super::{AuditOptions, Gap, MAX_LISTED};
use crate::catalog::CatalogTable;
use crate::color::{Color, Lab, Srgb8};
use crate::difference::{Difference, Pair};
use crate::error::{ErrorKind, Result};
use crate::index::{Ask, Tally};
use crate::table::{Finish, Thread};
use crate::watch::Watch;

/// Edge of a cell, in CIELAB units. House choice: about half of the differences that matter here.
const EDGE: f64 = 5.0;

/// Cells from L* 0 to 100.
const LIGHTNESS_CELLS: u32 = 20;

/// Cells from -130 to 130 along a* and b*: all that a screen shows.
const CHROMA_CELLS: u32 = 52;

/// How much more chroma a screen must still show.
const ROOM: f64 = 4.0 / 3.0;

/// A color that comes back from the screen within this is one that the screen shows, in CIELAB
/// units: rounding to bytes moves dark colors by about 0.5.
const SHOWN: f64 = 1.5;

/// True when the thread can serve a color that is no thread.
pub(super) fn may_fill(thread: &Thread) -> bool {
    thread.finish == Finish::Plain
}

/// The gaps, largest first, and whether there are more than can be listed.
pub(super) fn find(
    held: &CatalogTable,
    options: &AuditOptions,
    watch: &dyn Watch,
) -> Result<(Vec<Gap>, bool)> {
    let mut open = Vec::new();
    for cell in cells() {
        open.extend(gap(held, cell, options, watch)?);
    }
    // The sort is stable: of equal differences the first cell stays first.
    open.sort_by(|left, right| right.difference.delta_e.order(&left.difference.delta_e));
    let mut listed: Vec<Gap> = Vec::new();
    for next in open {
        if watch.stopped() {
            return Err(ErrorKind::Stopped.into());
        }
        let served = |listed: &Gap| {
            let pair = Pair { standard: next.color.lab(), sample: listed.color.lab() };
            options.formula.delta_e(pair).value() <= options.gap.value()
        };
        if listed.iter().any(served) {
            continue;
        }
        if listed.len() == MAX_LISTED {
            return Ok((listed, true));
        }
        listed.push(next);
    }
    Ok((listed, false))
}

/// The gap at a color; none when a thread is near, or when no thread may fill it.
fn gap(
    held: &CatalogTable,
    cell: Srgb8,
    options: &AuditOptions,
    watch: &dyn Watch,
) -> Result<Option<Gap>> {
    let color = Color::screen(cell);
    let admit = |row: usize| held.thread_at(row).is_some_and(may_fill);
    let ask = Ask {
        standard: color.lab(),
        count: 1,
        more: None,
        formula: options.formula,
        limit: None,
        admit: Some(&admit),
        watch,
    };
    let hits = held.index().nearest(&ask, &mut Tally::default())?;
    let far = hits.first().filter(|hit| hit.delta_e.value() > options.gap.value());
    let Some(nearest) = far.and_then(|hit| held.thread_at(hit.row)) else { return Ok(None) };
    let difference = Difference::between(&color, &nearest.color, options.formula)?;
    Ok(Some(Gap { color, nearest: nearest.without_spectrum(), difference }))
}

/// The middle of every cell whose color is an everyday one, in a fixed order.
fn cells() -> impl Iterator<Item = Srgb8> {
    let middle = |cell: u32, cells: u32| EDGE * (f64::from(cell) + 0.5 - f64::from(cells) / 2.0);
    let chroma = move |cell| middle(cell, CHROMA_CELLS);
    let lightness = |cell: u32| EDGE * (f64::from(cell) + 0.5);
    (0..LIGHTNESS_CELLS).flat_map(move |l| {
        (0..CHROMA_CELLS).flat_map(move |a| {
            (0..CHROMA_CELLS).filter_map(move |b| everyday(lightness(l), chroma(a), chroma(b)))
        })
    })
}

/// The screen color of a CIELAB value, when a screen shows it with chroma to spare.
fn everyday(l: f64, a: f64, b: f64) -> Option<Srgb8> {
    shown(Lab::new(l, a * ROOM, b * ROOM).ok()?)?;
    shown(Lab::new(l, a, b).ok()?)
}

fn shown(lab: Lab) -> Option<Srgb8> {
    let screen = Srgb8::nearest_to(lab);
    let back = crate::Formula::Cie76.delta_e(Pair { standard: lab, sample: screen.to_lab() });
    (back.value() <= SHOWN).then_some(screen)
}
