//! How like the threads of a joint choice are to each other and to those in use, measured once each.
//! It does not choose.

use std::collections::HashMap;

use super::super::VISIBLE;
use super::super::meter::Meter;
use super::super::seating::Seat;
use super::{Field, OUTLINE_FORMULA, Terms, is_fixed};
use crate::color::Color;
use crate::difference::Formula;
use crate::error::Result;

/// How like threads are to each other, measured once each.
pub(super) struct Likeness<'f, 'c> {
    field: &'f Field<'c>,
    between: HashMap<(usize, usize), f64>,
    outlines: HashMap<(usize, usize), f64>,
    room: Vec<Option<f64>>,
    outlined: HashMap<Seat, f64>,
}

impl<'f, 'c> Likeness<'f, 'c> {
    pub(super) fn new(field: &'f Field<'c>) -> Self {
        Self {
            field,
            between: HashMap::new(),
            outlines: HashMap::new(),
            room: vec![None; field.threads.len()],
            outlined: HashMap::new(),
        }
    }

    fn color(&self, thread: usize) -> Option<&'c Color> {
        self.field.threads.get(thread).map(|held| &held.thread.color)
    }

    /// True when two seekers cannot have these threads together.
    pub(super) fn clash(
        &mut self,
        one: Seat,
        other: Seat,
        terms: &Terms,
        meter: &mut Meter<'_>,
    ) -> Result<bool> {
        let field = self.field;
        if is_fixed(field, one.0) && is_fixed(field, other.0) {
            return Ok(false);
        }
        if terms.apart > 0.0 && self.between(one.1, other.1, meter)? < terms.apart {
            return Ok(true);
        }
        let pair = (one.0.min(other.0), one.0.max(other.0));
        if !terms.outlines || !field.touching.contains(&pair) {
            return Ok(false);
        }
        Ok(self.outline(one.1, other.1, meter)? < VISIBLE)
    }

    /// The difference of two threads, the smaller one of both directions.
    pub(super) fn between(
        &mut self,
        one: usize,
        other: usize,
        meter: &mut Meter<'_>,
    ) -> Result<f64> {
        let key = (one.min(other), one.max(other));
        if self.field.reused.contains(&one) && self.field.reused.contains(&other) {
            return Ok(f64::INFINITY);
        }
        if let Some(known) = self.between.get(&key) {
            return Ok(*known);
        }
        let (Some(first), Some(second)) = (self.color(key.0), self.color(key.1)) else {
            return Ok(f64::INFINITY);
        };
        let found = both_ways(first, second, self.field.formula, meter)?;
        self.between.insert(key, found);
        Ok(found)
    }

    fn outline(&mut self, one: usize, other: usize, meter: &mut Meter<'_>) -> Result<f64> {
        let key = (one.min(other), one.max(other));
        if let Some(known) = self.outlines.get(&key) {
            return Ok(*known);
        }
        let (Some(first), Some(second)) = (self.color(key.0), self.color(key.1)) else {
            return Ok(f64::INFINITY);
        };
        let found = meter.white_to_white(first, second, OUTLINE_FORMULA)?;
        self.outlines.insert(key, found);
        Ok(found)
    }

    /// The least difference between a thread and the colors that stay from which its seeker stands
    /// out; infinite when there are none.
    pub(super) fn outlined(&mut self, seat: Seat, meter: &mut Meter<'_>) -> Result<f64> {
        if let Some(known) = self.outlined.get(&seat) {
            return Ok(*known);
        }
        let (Some(seeker), Some(color)) = (self.field.seekers.get(seat.0), self.color(seat.1))
        else {
            return Ok(f64::INFINITY);
        };
        let mut least = f64::INFINITY;
        for other in &seeker.outlines {
            least = least.min(meter.white_to_white(other, color, OUTLINE_FORMULA)?);
        }
        self.outlined.insert(seat, least);
        Ok(least)
    }

    /// The least difference between a seeker's thread and those in use; infinite for one in use
    /// itself.
    pub(super) fn room(&mut self, seat: Seat, meter: &mut Meter<'_>) -> Result<f64> {
        let (place, thread) = seat;
        let mut least = self.room_of_all(thread, meter)?;
        let field = self.field;
        let (Some(seeker), Some(color)) = (field.seekers.get(place), self.color(thread)) else {
            return Ok(least);
        };
        if !field.reused.contains(&thread) {
            for other in &seeker.left {
                least = least.min(both_ways(other, color, field.formula, meter)?);
            }
        }
        Ok(least)
    }

    /// The same for threads in use to which no seeker may come near.
    fn room_of_all(&mut self, thread: usize, meter: &mut Meter<'_>) -> Result<f64> {
        if let Some(known) = self.room.get(thread).copied().flatten() {
            return Ok(known);
        }
        if self.field.reused.contains(&thread) {
            return Ok(f64::INFINITY);
        }
        let Some(color) = self.color(thread) else { return Ok(0.0) };
        let mut least = f64::INFINITY;
        for other in &self.field.in_use {
            least = least.min(both_ways(other, color, self.field.formula, meter)?);
        }
        self.room.get_mut(thread).into_iter().for_each(|room| *room = Some(least));
        Ok(least)
    }
}

fn is_symmetric(formula: Formula) -> bool {
    match formula {
        Formula::Ciede2000(_) | Formula::Din99o | Formula::Hyab | Formula::Cie76 => true,
        Formula::Cmc(_) | Formula::Cie94(_) => false,
    }
}

/// The difference of two threads of which neither is the standard: the smaller one.
fn both_ways(one: &Color, other: &Color, formula: Formula, meter: &mut Meter<'_>) -> Result<f64> {
    let there = meter.white_to_white(one, other, formula)?;
    if is_symmetric(formula) {
        return Ok(there);
    }
    Ok(there.min(meter.white_to_white(other, one, formula)?))
}
