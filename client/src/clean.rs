//! Stray blend stitches of a chart: mixes of the two sides of a hard edge, given back to a side.
//! It does not know files, threads by name, or what a chart holds beside full stitches.
//!
//! ```text
//! colors of the cells ─► mixer (what two colors can mix to)
//!                        ├─► settled: colors that stand for themselves
//!                        ├─► gate: is this chart blended at all?
//!                        └─► decide: each stray stitch to the color that covers most of it,
//!                            as choose finds it among the colors near and in the same region
//! ```

mod choose;
mod decide;
mod gate;
mod least;
mod lone;
mod mixer;
mod model;
mod raster;
mod regions;
mod ringing;
mod settled;
mod shape;
mod snap;
mod thin;

use std::thread;

use dyekin_core::Srgb8;

pub use lone::{Tiny, tiny};

use decide::Explain;
use mixer::{Light, Mixer};
use raster::Raster;
use settled::Settled;

/// The full stitches of a chart by their colors.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cells {
    /// Cells across.
    pub width: usize,
    /// In reading order; `None` for cloth and part stitches, which never change.
    pub cells: Vec<Option<u16>>,
    /// The colors that the cells name by their number.
    pub colors: Vec<Srgb8>,
    /// For each color the thread that it will become, by any numbers; empty when nobody knows.
    pub goals: Vec<u16>,
}

/// Which colors the cells could have had.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Range {
    /// Any: the chart is a picture.
    Any,
    /// Those of these threads: the chart was mapped to them.
    Threads(Vec<Srgb8>),
}

/// A stray stitch and where it belongs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stray {
    /// Its cell in reading order.
    pub place: usize,
    /// Its color.
    pub from: u16,
    /// The color of the side that it belongs to.
    pub to: u16,
}

/// What was found in a chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// In reading order.
    pub moves: Vec<Stray>,
}

/// Finds stray blend stitches. A chart without blends gets none, and at once when hardly any of its
/// colors could be blends. Looks at the chart in encoded values and in linear light, in two threads.
#[must_use]
pub fn stray(cells: &Cells, range: &Range) -> Found {
    let raster = Raster::of(cells.width, cells.cells.len());
    if !gate::may_be_blended(cells, raster, range) {
        return Found::default();
    }
    let rings = *range == Range::Any && ringing::is_sharpened(cells, raster);
    let seen = |light: Light| {
        let mut mixer = Mixer::new(cells, range, light);
        mixer.set_rings(rings);
        let settled = Settled::find(cells, raster, &mixer);
        let evidence = gate::evidence(cells, raster, &mixer, &settled);
        evidence.is_enough(&mixer).then_some((evidence.weight, mixer, settled))
    };
    let (encoded, linear) = thread::scope(|scope| {
        let linear = scope.spawn(|| seen(Light::Linear));
        let encoded = seen(Light::Encoded);
        match linear.join() {
            Ok(linear) => (encoded, linear),
            Err(panic) => std::panic::resume_unwind(panic),
        }
    });
    let best = [encoded, linear].into_iter().flatten();
    let best = best.reduce(|best, other| if other.0 > 1.02 * best.0 { other } else { best });
    match best {
        Some((_, mixer, settled)) => {
            Found { moves: Explain::new(cells, raster, &mixer, &settled).strays() }
        }
        None => Found::default(),
    }
}

#[cfg(test)]
mod tests;
