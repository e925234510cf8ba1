//! The palette summary: what a planner may see of a chart. Colors, stitch counts and which colors
//! touch; never the picture.

use crate::color::Color;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::table::ThreadRef;

/// Most colors that one summary may hold.
pub const MAX_COLORS: usize = 4_096;

/// Most pairs of neighbors that one summary may hold.
pub const MAX_NEIGHBORS: usize = 200_000;

/// Most stitches of one summary: sums stay whole numbers in double precision.
pub const MAX_STITCHES: u64 = 1 << 53;

/// One color of a chart. A color that is kept in one area only comes twice: once for the area.
#[derive(Clone, Debug, PartialEq)]
pub struct ChartColor {
    /// The color as the chart shows it.
    pub color: Color,
    /// Stitches worked in it, 1 or more; lines and knots count as the chart's owner counts them.
    pub stitches: u64,
    /// The threads it is worked in, when the chart names them: one, or the two of a blend.
    pub threads: Vec<ThreadRef>,
    /// The area it belongs to, when the chart's owner split one out.
    pub area: Option<String>,
}

/// Two colors that touch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Neighbors {
    /// The one color, by its place in the summary.
    pub first: usize,
    /// The other color, or the bare cloth.
    pub second: Side,
    /// Cell edges along which they touch, 1 or more; a line or knot lying over a cell counts too.
    pub edges: u64,
}

/// What a color touches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// The bare cloth.
    Cloth,
    /// A color by its place in the summary.
    Color(usize),
}

/// Colors, stitch counts and neighbors of one chart.
#[derive(Clone, Debug, PartialEq)]
pub struct PaletteSummary {
    colors: Vec<ChartColor>,
    neighbors: Option<Vec<Neighbors>>,
    cloth: Option<Color>,
}

impl PaletteSummary {
    /// A checked summary. `neighbors` is `None` when they are not known, as for a key alone.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::OverLimit`], or [`ErrorKind::BadValue`] for an empty summary, a color without
    /// stitches, or neighbors that name no color.
    pub fn new(
        colors: Vec<ChartColor>,
        neighbors: Option<Vec<Neighbors>>,
        cloth: Option<Color>,
    ) -> Result<Self> {
        within("colors in one palette", colors.len(), MAX_COLORS)?;
        within("pairs of neighbors", neighbors.as_ref().map_or(0, Vec::len), MAX_NEIGHBORS)?;
        if colors.is_empty() {
            let reason = "a palette needs at least one color";
            return Err(bad("palette.colors", "", reason, "give the colors of the chart"));
        }
        if let Some(place) = colors.iter().position(|color| color.stitches == 0) {
            let path = format!("palette.colors[{place}].stitch_count");
            let reason = "a color of the palette has at least one stitch";
            return Err(bad(&path, "0", reason, "leave out colors without stitches"));
        }
        within_stitches(&colors)?;
        let names_a_color = |pair: &Neighbors| {
            let second = match pair.second {
                Side::Cloth => true,
                Side::Color(second) => second < colors.len() && second != pair.first,
            };
            pair.first < colors.len() && second
        };
        if let Some(place) =
            neighbors.iter().flatten().position(|pair| !names_a_color(pair) || pair.edges == 0)
        {
            let path = format!("palette.neighbors.pairs[{place}]");
            let reason = "neighbors are two different colors of the palette that touch";
            return Err(bad(&path, "", reason, "name colors from 0, and edges from 1"));
        }
        Ok(Self { colors, neighbors, cloth })
    }

    /// The colors.
    #[must_use]
    pub fn colors(&self) -> &[ChartColor] {
        &self.colors
    }

    /// Which colors touch; `None` when nobody knows.
    #[must_use]
    pub fn neighbors(&self) -> Option<&[Neighbors]> {
        self.neighbors.as_deref()
    }

    /// The color of the cloth, when it is known.
    #[must_use]
    pub fn cloth(&self) -> Option<&Color> {
        self.cloth.as_ref()
    }

    /// All stitches.
    #[must_use]
    pub fn stitches(&self) -> u64 {
        self.colors.iter().map(|color| color.stitches).sum()
    }
}

fn within(what: &str, found: usize, limit: usize) -> Result<()> {
    if found <= limit {
        return Ok(());
    }
    Err(Error::new(ErrorKind::OverLimit {
        what: what.to_owned(),
        found: found as u64,
        limit: limit as u64,
    }))
}

fn within_stitches(colors: &[ChartColor]) -> Result<()> {
    let found = colors.iter().fold(0_u64, |sum, color| sum.saturating_add(color.stitches));
    if found <= MAX_STITCHES {
        return Ok(());
    }
    let what = "stitches in one palette".to_owned();
    Err(Error::new(ErrorKind::OverLimit { what, found, limit: MAX_STITCHES }))
}

fn bad(path: &str, value: &str, reason: &str, remedy: &str) -> Error {
    Error::new(ErrorKind::BadValue {
        value: value.to_owned(),
        reason: reason.to_owned(),
        remedy: remedy.to_owned(),
    })
    .at(Place::field(path))
}
