//! What it costs when touching colors lose the contrast between them, and how much that counts.
//! It does not choose threads.

mod board;
mod bound;
mod layout;
mod limited;
mod search;
mod set;
mod split;

use super::VISIBLE;
use super::case::{Candidate, Case, whole};
use super::edges::{self, OUTLINE};
use super::meter::Meter;
use crate::color::Color;
use crate::difference::ciede2000::s_l;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::palette::{Neighbors, Side};

pub(super) use limited::keep_within;
pub(super) use search::{Start, keep};

/// Contrast above this needs no keeping: colors that far apart are told apart at a glance. Four
/// times the visible limit; house choice.
const PLENTY: f64 = 4.0 * VISIBLE;

/// How much the contrast between touching colors counts beside closeness to the chart's colors.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum KeepEdges {
    /// Not at all: threads are chosen by stitches alone.
    Off,
    /// A wholly lost edge weighs as much as one stitch that is 10 off.
    Low,
    /// As much as one stitch that is 45 off.
    Normal,
    /// As much as one stitch that is 90 off.
    High,
}

/// How the contrast of touching colors counts.
#[derive(Clone, Copy, Debug)]
pub(super) struct Terms<'t> {
    pub(super) keep: KeepEdges,
    /// Areas whose soft contrast counts too.
    pub(super) shading: &'t [String],
}

impl KeepEdges {
    /// All settings, from none to most.
    pub const ALL: [Self; 4] = [Self::Off, Self::Low, Self::Normal, Self::High];

    /// What one wholly lost edge weighs, in difference units times stitches. Measured on drawn
    /// charts by `benches/edges.rs`.
    #[must_use]
    pub fn price(self) -> f64 {
        match self {
            Self::Off => 0.0,
            Self::Low => 10.0,
            Self::Normal => 45.0,
            Self::High => 90.0,
        }
    }

    /// The setting of a word, as [`Self::as_str`] writes it.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|setting| setting.as_str() == word)
    }

    /// The word for it.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Off => "off",
            Self::Low => "low",
            Self::Normal => "normal",
            Self::High => "high",
        }
    }
}

/// How the other side of a pair stands to this one in lightness.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Step {
    /// About as light, or nobody's concern.
    Level,
    /// It is the lighter one.
    Lighter,
    /// It is the darker one.
    Darker,
}

impl Step {
    fn between(one: &Color, other: &Color) -> Self {
        let step = other.lab().l() - one.lab().l();
        match step.abs() >= edges::STEP {
            true if step > 0.0 => Self::Lighter,
            true => Self::Darker,
            false => Self::Level,
        }
    }

    /// The same seen from the other side.
    fn reversed(self) -> Self {
        match self {
            Self::Level => Self::Level,
            Self::Lighter => Self::Darker,
            Self::Darker => Self::Lighter,
        }
    }
}

/// The contrast between two colors. Where lightness runs the other way than it did, what chroma and
/// hue alone make of it, with a minus.
fn signed(one: &Color, other: &Color, step: Step, meter: &mut Meter<'_>) -> Result<f64> {
    let apart = meter.white_to_white(one, other, edges::FORMULA)?;
    let rises = other.lab().l() > one.lab().l();
    let falls = other.lab().l() < one.lab().l();
    Ok(match step {
        Step::Lighter if falls => -without_lightness(one, other, apart),
        Step::Darker if rises => -without_lightness(one, other, apart),
        Step::Level | Step::Lighter | Step::Darker => apart,
    })
}

/// What a signed contrast counts for beside one that was wanted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Goal {
    /// The contrast that loses nothing.
    wanted: f64,
    /// Part of a contrast that counts where light and dark change sides: that of chroma and hue in
    /// the contrast before, so that a glint never becomes the dark spot in an eye.
    turned: f64,
}

impl Goal {
    fn of(one: &Color, other: &Color, before: f64) -> Self {
        let wanted = before.min(PLENTY);
        Self { wanted, turned: without_lightness(one, other, before) / before }
    }

    /// The lost part, 0 to 1: the cube of what is missing, so that small losses cost little.
    pub(super) fn missing(self, signed: f64) -> f64 {
        let left = if signed < 0.0 { -signed * self.turned } else { signed };
        let short = (1.0 - left / self.wanted).max(0.0);
        short * short * short
    }
}

/// What chroma and hue alone make of a difference.
fn without_lightness(one: &Color, other: &Color, apart: f64) -> f64 {
    let (one, other) = (one.lab().l(), other.lab().l());
    let lightness = (other - one) / s_l(f64::midpoint(one, other));
    (apart * apart - lightness * lightness).max(0.0).sqrt()
}

/// The pairs of touching colors whose contrast counts.
#[derive(Debug)]
pub(super) struct Contrast {
    pairs: Vec<Touching>,
}

/// Two colors that touch.
#[derive(Clone, Copy, Debug)]
pub(super) struct Touching {
    pub(super) first: usize,
    pub(super) second: Side,
    /// What losing the whole contrast costs, in difference units per stitch of the palette.
    pub(super) weight: f64,
    pub(super) goal: Goal,
    /// How the second stands to the first.
    pub(super) step: Step,
}

impl Touching {
    /// What a signed contrast costs: nothing from the wanted one on, the whole weight at none.
    pub(super) fn loss(&self, signed: f64) -> f64 {
        self.weight * self.goal.missing(signed)
    }
}

impl Contrast {
    /// The pairs that count; `None` when none do, or when nobody knows which colors touch.
    ///
    /// Outlines count everywhere. Soft pairs, which differ by one to two times the visible limit,
    /// count where one side lies in an area whose shading is kept.
    pub(super) fn new(
        case: &Case<'_, '_>,
        terms: Terms<'_>,
        meter: &mut Meter<'_>,
    ) -> Result<Option<Self>> {
        let price = terms.keep.price();
        let shaded = shaded_colors(case, terms.shading)?;
        let Some(neighbors) = case.palette.neighbors() else { return Ok(None) };
        if price <= 0.0 {
            return Ok(None);
        }
        let share = price / whole(case.palette.stitches().max(1));
        let mut pairs = Vec::new();
        for neighbors in neighbors {
            let Some((first, second)) = standards(case, neighbors) else { continue };
            let before = meter.white_to_white(first, second, edges::FORMULA)?;
            let soft = (VISIBLE..OUTLINE).contains(&before) && is_shaded(&shaded, neighbors);
            if before >= OUTLINE || soft {
                let (weight, goal) =
                    (share * whole(neighbors.edges), Goal::of(first, second, before));
                let step = match neighbors.second {
                    Side::Cloth => Step::Level,
                    Side::Color(_) => Step::between(first, second),
                };
                let Neighbors { first, second, .. } = *neighbors;
                pairs.push(Touching { first, second, weight, goal, step });
            }
        }
        Ok((!pairs.is_empty()).then_some(Self { pairs }))
    }

    /// All pairs.
    pub(super) fn pairs(&self) -> &[Touching] {
        &self.pairs
    }

    /// What is lost in all once each color has its threads; a color without threads stays as it is.
    pub(super) fn lost(
        &self,
        case: &Case<'_, '_>,
        after: &[Vec<Candidate<'_>>],
        meter: &mut Meter<'_>,
    ) -> Result<f64> {
        let shown = |side: Side| match side {
            Side::Cloth => case.palette.cloth().copied(),
            Side::Color(color) => {
                let held = case.palette.colors().get(color)?;
                let standard = case.standards.get(color)?;
                Some(edges::shown_after(case, held, standard, after.get(color)?))
            }
        };
        let mut sum = 0.0;
        for pair in &self.pairs {
            let sides = (shown(Side::Color(pair.first)), shown(pair.second));
            if let (Some(first), Some(second)) = sides {
                sum += pair.loss(signed(&first, &second, pair.step, meter)?);
            }
        }
        Ok(sum)
    }
}

/// The colors before on both sides.
fn standards<'c>(case: &'c Case<'_, '_>, pair: &Neighbors) -> Option<(&'c Color, &'c Color)> {
    let second = match pair.second {
        Side::Cloth => case.palette.cloth()?,
        Side::Color(second) => case.standards.get(second)?,
    };
    Some((case.standards.get(pair.first)?, second))
}

/// True for the colors of the areas whose shading is kept.
fn shaded_colors(case: &Case<'_, '_>, areas: &[String]) -> Result<Vec<bool>> {
    let colors = case.palette.colors();
    let mut shaded = vec![false; colors.len()];
    for (place, area) in areas.iter().enumerate() {
        let mut any = false;
        for (color, shaded) in colors.iter().zip(&mut shaded) {
            let inside = color.area.as_deref() == Some(area.as_str());
            *shaded |= inside;
            any |= inside;
        }
        if !any {
            return Err(no_such_area(place, area));
        }
    }
    Ok(shaded)
}

fn is_shaded(shaded: &[bool], pair: &Neighbors) -> bool {
    let of = |color: usize| shaded.get(color).copied().unwrap_or(false);
    match pair.second {
        Side::Cloth => of(pair.first),
        Side::Color(second) => of(pair.first) || of(second),
    }
}

fn no_such_area(place: usize, area: &str) -> Error {
    Error::new(ErrorKind::BadValue {
        value: area.to_owned(),
        reason: "no color of the palette lies in this area".into(),
        remedy: "name an area that the palette splits out".into(),
    })
    .at(Place::field(format!("keep_shading_areas[{place}]")))
}
