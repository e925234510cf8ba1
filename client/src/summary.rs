//! A chart to its palette summary, the only thing a backend sees of it, and the way back from a
//! color of the summary to the entries of the key. It does not know questions or answers.

mod apart;
mod contacts;
mod place;

pub(crate) use apart::Spot;
pub use apart::{Apart, Mark, Marked, OfColor, Portion};
pub(crate) use contacts::cells_along;
pub(crate) use place::Areas;
pub use place::ColorPlace;

use dyekin_core::error::{Error, ErrorKind};
use dyekin_core::palette::{ChartColor, MAX_COLORS, MAX_NEIGHBORS};
use dyekin_core::table::Notice;
use dyekin_core::{Color, PaletteSummary, Srgb8, ThreadRef};

use crate::chart::{Chart, ChartHash, KeyAlone, KeyThread, Label};
use contacts::contacts;
use place::{Places, places};

/// A palette summary and where each of its colors stands in the chart.
#[derive(Clone, Debug)]
pub struct Summary {
    palette: PaletteSummary,
    places: Vec<ColorPlace>,
    chart: Option<ChartHash>,
    notices: Vec<Notice>,
}

/// How a chart is summed up.
#[derive(Clone, Copy)]
pub struct SummaryOptions<'o> {
    /// Areas whose colors come apart from the same colors elsewhere, so that they can be kept.
    pub split: &'o [Label],
    /// Cells of some colors that come apart from the rest of these colors, whatever area they are
    /// in.
    pub apart: Option<&'o Apart>,
    /// The color that a table gives a thread; `None` takes the color that the chart shows.
    pub color_of: &'o dyn Fn(&KeyThread) -> Option<Color>,
}

impl std::fmt::Debug for SummaryOptions<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("SummaryOptions")
            .field("split", &self.split)
            .field("apart", &self.apart)
            .finish_non_exhaustive()
    }
}

impl Summary {
    /// Sums up a chart.
    ///
    /// Entries of one color and one thread are one color of the summary. Stitches are counted as
    /// [`crate::chart::Usage::stitches`] says. Neighbors are counted by cell edges: two stitches
    /// side by side or one above the other, a stitch beside bare cloth, the part stitches of one
    /// cell among each other and through the sides that they reach. A line counts once for every
    /// cell that it crosses or, along an edge, for the cell on either side, piece by piece; a knot
    /// counts once for every cell that it touches. The outer edge of the chart counts for nothing:
    /// what lies beyond may be margin, mat or frame. Lines and knots belong to no area.
    ///
    /// # Errors
    ///
    /// When the chart has no stitch, or more colors than a summary may hold.
    pub fn of_chart(chart: &Chart, options: SummaryOptions<'_>) -> Result<Self, Error> {
        let Places { grid, places, usages, of_mark } = places(chart, options.split, options.apart);
        if places.len() > MAX_COLORS {
            // Checked before the table of contacts, whose size is the square of the colors.
            return Err(Error::new(ErrorKind::OverLimit {
                what: "colors in one palette".into(),
                found: places.len() as u64,
                limit: MAX_COLORS as u64,
            }));
        }
        let (neighbors, found) = contacts(chart, &grid, &of_mark, places.len());
        let notices = left_out(found);
        let colors = places
            .iter()
            .zip(&usages)
            .map(|(place, usage)| ChartColor {
                color: place.color_by(options.color_of),
                stitches: usage.stitches(),
                threads: place.thread_refs(),
                area: place.area().map(|area| area.as_str().to_owned()),
            })
            .collect();
        let cloth = chart.cloth().color.map(Color::screen);
        let palette = PaletteSummary::new(colors, Some(neighbors), cloth)?;
        Ok(Self { palette, places, chart: Some(ChartHash::of(chart)), notices })
    }

    /// Sums up a key alone: neighbors are unknown.
    ///
    /// # Errors
    ///
    /// When the key has more threads than a summary may hold.
    pub fn of_key(key: &KeyAlone) -> Result<Self, Error> {
        let color = |row: &crate::chart::KeyRow| ChartColor {
            color: row.color,
            stitches: row.stitches,
            threads: vec![row.thread.thread.clone()],
            area: None,
        };
        let colors = key.rows().iter().map(color).collect();
        let places = key.rows().iter().map(ColorPlace::of_row).collect();
        let palette = PaletteSummary::new(colors, None, None)?;
        Ok(Self { palette, places, chart: None, notices: Vec::new() })
    }

    /// The same chart with some colors, by their places, worked in other threads that look like
    /// this, as far as a backend sees it; where they stand stays the same.
    ///
    /// # Errors
    ///
    /// None that a summary of a chart has not had already.
    pub(crate) fn worked(
        &self,
        colors: impl Iterator<Item = (usize, Srgb8, Vec<ThreadRef>)>,
    ) -> Result<Self, Error> {
        let mut all = self.palette.colors().to_vec();
        for (place, color, threads) in colors {
            if let Some(held) = all.get_mut(place) {
                held.color = Color::screen(color);
                held.threads = threads;
            }
        }
        let neighbors = self.palette.neighbors().map(<[_]>::to_vec);
        let palette = PaletteSummary::new(all, neighbors, self.palette.cloth().copied())?;
        Ok(Self { palette, ..self.clone() })
    }

    /// What a backend may see.
    #[must_use]
    pub fn palette(&self) -> &PaletteSummary {
        &self.palette
    }

    /// Where each color of the palette stands in the chart, in the palette's order.
    #[must_use]
    pub fn places(&self) -> &[ColorPlace] {
        &self.places
    }

    /// The colors, by their place in the palette, that are worked in a thread.
    pub fn worked_in<'s>(&'s self, thread: &'s ThreadRef) -> impl Iterator<Item = usize> + 's {
        let worked =
            move |place: &ColorPlace| place.threads().iter().any(|held| held.thread == *thread);
        self.places
            .iter()
            .enumerate()
            .filter(move |(_, place)| worked(place))
            .map(|(number, _)| number)
    }

    /// Hash of the chart; `None` for a key alone.
    #[must_use]
    pub fn chart(&self) -> Option<ChartHash> {
        self.chart
    }

    /// What the summary leaves out.
    #[must_use]
    pub fn notices(&self) -> &[Notice] {
        &self.notices
    }
}

/// A notice when pairs of neighbors had to be left out.
fn left_out(found: usize) -> Vec<Notice> {
    if found <= MAX_NEIGHBORS {
        return Vec::new();
    }
    let text = format!(
        "{found} pairs of colors touch; the {MAX_NEIGHBORS} with the longest contact are looked at"
    );
    vec![Notice { place: None, text }]
}
