//! What stays around missing threads: the threads in use, the steps of lightness, the outlines.
//! It does not choose, and it does not know which threads could stand in.

use std::collections::{BTreeMap, BTreeSet};

use super::super::VISIBLE;
use super::super::case::{Case, find};
use super::super::joint::{Sides, Step};
use super::super::meter::Meter;
use super::gap::{Gap, is_stayed_in};
use crate::color::{Color, Lab};
use crate::difference::Formula;
use crate::error::Result;
use crate::math;
use crate::palette::{ChartColor, Side};
use crate::table::ThreadRef;

/// Least step of lightness that must not be reversed, in units of L*: smaller ones are not seen as
/// a step. House choice.
const STEP: f64 = 3.0;

/// Most that two colors of one ramp differ in hue and in chroma, in units of CIELAB: shades of one
/// color keep their hue and lose chroma toward their dark and light ends. House choice.
const RAMP_HUE: f64 = 10.0;
const RAMP_CHROMA: f64 = 25.0;

/// Least difference of an edge that is drawn on purpose: twice the visible limit, CIEDE2000.
const OUTLINE: f64 = 2.0 * VISIBLE;

/// What stays, seen from the missing threads.
pub(super) struct Surroundings {
    /// Colors of the threads that stay in use.
    pub(super) in_use: Vec<Color>,
    /// Steps of lightness: between all missing threads, and to colors that stay where the two touch
    /// or are shades of one ramp.
    pub(super) steps: Vec<Step>,
    /// Pairs of missing threads, lower first, that touch and stand out from each other.
    pub(super) touching: BTreeSet<(usize, usize)>,
    /// By missing thread: colors that stay, which it touches and from which it stands out.
    pub(super) outlines: Vec<Vec<Color>>,
    /// Missing threads in which some colors stay, and what they look like.
    left: Vec<(usize, Color)>,
}

impl Surroundings {
    pub(super) fn of(
        case: &Case<'_, '_>,
        (gaps, staying): (&[Gap<'_>], &[usize]),
        meter: &mut Meter<'_>,
    ) -> Result<Self> {
        let mut found = Self {
            in_use: in_use(case, gaps),
            steps: Vec::new(),
            touching: BTreeSet::new(),
            outlines: vec![Vec::new(); gaps.len()],
            left: left(case, (gaps, staying)),
        };
        let places: BTreeMap<ThreadRef, usize> =
            gaps.iter().enumerate().map(|(place, gap)| (gap.thread.name(), place)).collect();
        let whole = |(place, color): (usize, &ChartColor)| match color.threads.as_slice() {
            [only] if !staying.contains(&place) => places.get(only).copied(),
            _ => None,
        };
        let colors = case.palette.colors().iter().enumerate();
        let of_color: Vec<Option<usize>> = colors.map(whole).collect();
        let touched = found.look_at_neighbors(case, &of_color, meter)?;
        found.find_steps(case, gaps, &of_color, &touched);
        Ok(found)
    }

    /// What stays of other missing threads than this one. Its own stand-in is to be near to what
    /// stays of it.
    pub(super) fn left_beside(&self, gap: usize) -> Vec<Color> {
        self.left.iter().filter(|(other, _)| *other != gap).map(|(_, color)| *color).collect()
    }

    /// Finds outlines; answers with the colors that each missing thread touches, by their places.
    fn look_at_neighbors(
        &mut self,
        case: &Case<'_, '_>,
        of_color: &[Option<usize>],
        meter: &mut Meter<'_>,
    ) -> Result<Vec<BTreeSet<usize>>> {
        let mut touched = vec![BTreeSet::new(); self.outlines.len()];
        let gap = |color: usize| of_color.get(color).copied().flatten();
        let shade = |color: usize| case.standards.get(color);
        for pair in case.palette.neighbors().unwrap_or_default() {
            let second = match pair.second {
                Side::Cloth => None,
                Side::Color(second) => Some(second),
            };
            let sides = (gap(pair.first), second.and_then(gap));
            if sides == (None, None) {
                continue;
            }
            let other = match second {
                None => case.palette.cloth(),
                Some(second) => shade(second),
            };
            let (Some(one), Some(other)) = (shade(pair.first), other) else { continue };
            let stands_out = meter.white_to_white(one, other, Formula::DEFAULT)? >= OUTLINE;
            match sides {
                (Some(one), Some(other)) => {
                    if stands_out && one != other {
                        self.touching.insert((one.min(other), one.max(other)));
                    }
                }
                (Some(gap), None) => {
                    touched.get_mut(gap).into_iter().for_each(|all| all.extend(second));
                    self.outline(gap, other, stands_out);
                }
                (None, Some(gap)) => {
                    touched.get_mut(gap).into_iter().for_each(|all| all.extend([pair.first]));
                    self.outline(gap, one, stands_out);
                }
                (None, None) => {}
            }
        }
        Ok(touched)
    }

    fn outline(&mut self, gap: usize, other: &Color, stands_out: bool) {
        let outlines = self.outlines.get_mut(gap).filter(|_| stands_out);
        outlines.into_iter().for_each(|outlines| outlines.push(*other));
    }

    fn find_steps(
        &mut self,
        case: &Case<'_, '_>,
        gaps: &[Gap<'_>],
        of_color: &[Option<usize>],
        touched: &[BTreeSet<usize>],
    ) {
        for (place, (gap, touched)) in gaps.iter().zip(touched).enumerate() {
            let lab = gap.thread.thread.color.lab();
            for (other, beside) in gaps.iter().enumerate().skip(place + 1) {
                let rise = lab.l() - beside.thread.thread.color.lab().l();
                if rise.abs() > STEP && (gap.fixed.is_none() || beside.fixed.is_none()) {
                    let pair = if rise > 0.0 { (place, other) } else { (other, place) };
                    let sides = Sides::Between(pair.0, pair.1);
                    self.steps.push(Step { size: rise.abs(), sides });
                }
            }
            let colors = case.palette.colors().iter().zip(&case.standards).zip(of_color);
            for (color, ((worked, standard), missing)) in colors.enumerate() {
                let stays = missing.is_none() && !worked.threads.is_empty();
                let other = standard.lab();
                let rise = lab.l() - other.l();
                if gap.fixed.is_some() || !stays || rise.abs() <= STEP {
                    continue;
                }
                if touched.contains(&color) || is_one_ramp(lab, other) {
                    let sides = if rise > 0.0 {
                        Sides::Above(place, other.l())
                    } else {
                        Sides::Below(place, other.l())
                    };
                    self.steps.push(Step { size: rise.abs(), sides });
                }
            }
        }
    }
}

/// Colors of all threads that stay: of single ones as the table has them, where it does.
fn in_use(case: &Case<'_, '_>, gaps: &[Gap<'_>]) -> Vec<Color> {
    let missing: BTreeSet<ThreadRef> = gaps.iter().map(|gap| gap.thread.name()).collect();
    let mut seen = BTreeSet::new();
    let mut in_use = Vec::new();
    for (color, standard) in case.palette.colors().iter().zip(&case.standards) {
        for name in color.threads.iter().filter(|name| !missing.contains(name)) {
            if !seen.insert(name) {
                continue;
            }
            match (find(case.catalog, name), color.threads.len()) {
                (Ok(thread), _) => in_use.push(thread.thread.color),
                (Err(_), 1) => in_use.push(*standard),
                // Nobody knows what a strand of a blend looks like that no table has.
                (Err(_), _) => {}
            }
        }
    }
    in_use
}

/// The missing threads in which some colors stay.
fn left(case: &Case<'_, '_>, (gaps, staying): (&[Gap<'_>], &[usize])) -> Vec<(usize, Color)> {
    let gaps = gaps.iter().enumerate();
    let stays = gaps.filter(|(_, gap)| is_stayed_in(case, &gap.thread.name(), staying));
    stays.map(|(place, gap)| (place, gap.thread.thread.color)).collect()
}

/// True for two shades of one color.
fn is_one_ramp(one: Lab, other: Lab) -> bool {
    let chroma = |lab: Lab| math::hypot(lab.a(), lab.b());
    let step = chroma(one) - chroma(other);
    let plane = math::hypot(one.a() - other.a(), one.b() - other.b());
    let hue = (plane * plane - step * step).max(0.0).sqrt();
    hue <= RAMP_HUE && step.abs() <= RAMP_CHROMA
}
