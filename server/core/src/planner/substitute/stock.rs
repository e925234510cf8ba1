//! Whether a stand-in is there in the length that it is needed in: for the stitches of the missing
//! thread and for those that it is used for already. It does not choose.

use std::collections::BTreeMap;

use super::super::case::{Candidate, Case, find, whole};
use super::super::{MAX_STOCKED, SubstituteOptions};
use super::gap::Gap;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::table::ThreadRef;

/// The field of a request that tells the stock.
const FIELD: &str = "stock";

/// Lengths are equal when they differ by less, in meters.
const EQUAL: f64 = 1e-9;

/// Lengths that are there, and that the chart takes already.
pub(super) struct Lengths {
    /// Meters that are there.
    meters: BTreeMap<ThreadRef, f64>,
    /// Stitches that stay in a thread.
    used: BTreeMap<ThreadRef, f64>,
    per_stitch: f64,
}

impl Lengths {
    pub(super) fn of(
        case: &Case<'_, '_>,
        gaps: &[Gap<'_>],
        options: &SubstituteOptions,
    ) -> Result<Option<Self>> {
        let Some(stock) = &options.stock else { return Ok(None) };
        if stock.meters.len() > MAX_STOCKED {
            let (found, limit) = (stock.meters.len() as u64, MAX_STOCKED as u64);
            let what = "threads in one stock".to_owned();
            let place = Place::field(format!("{FIELD}.threads"));
            return Err(Error::new(ErrorKind::OverLimit { what, found, limit }).at(place));
        }
        if !stock.meters_per_stitch.is_finite() || stock.meters_per_stitch <= 0.0 {
            let value = stock.meters_per_stitch;
            return Err(bad(value, "a stitch takes more than no thread", "meters_per_stitch"));
        }
        let mut meters: BTreeMap<ThreadRef, f64> = BTreeMap::new();
        for (place, (name, length)) in stock.meters.iter().enumerate() {
            let field = format!("threads[{place}]");
            if !length.is_finite() || *length < 0.0 {
                return Err(bad(*length, "a length is 0 or more", &format!("{field}.meters")));
            }
            let at = Place::field(format!("{FIELD}.{field}"));
            let thread = find(case.catalog, name).map_err(|error| error.at(at))?;
            *meters.entry(thread.name()).or_default() += length;
        }
        let mut used: BTreeMap<ThreadRef, f64> = BTreeMap::new();
        for color in case.palette.colors() {
            let each = whole(color.stitches) / whole(color.threads.len().max(1) as u64);
            let stays = |name: &&ThreadRef| !gaps.iter().any(|gap| gap.thread.name() == **name);
            for name in color.threads.iter().filter(stays) {
                *used.entry(name.clone()).or_default() += each;
            }
        }
        Ok(Some(Self { meters, used, per_stitch: stock.meters_per_stitch }))
    }

    /// Meters of a thread that a gap needs beside what it is used for.
    fn needed(&self, case: &Case<'_, '_>, gap: &Gap<'_>, thread: &ThreadRef) -> f64 {
        let own = gap.weight * whole(case.palette.stitches());
        let used = self.used.get(thread).copied().unwrap_or(0.0);
        (own + used) * self.per_stitch
    }

    /// True when there is enough of the thread.
    pub(super) fn suffice(
        &self,
        case: &Case<'_, '_>,
        gap: &Gap<'_>,
        thread: Candidate<'_>,
    ) -> bool {
        let name = thread.name();
        let there = self.meters.get(&name).copied().unwrap_or(0.0);
        there + EQUAL >= self.needed(case, gap, &name)
    }

    /// What a gap needs, in words.
    pub(super) fn wanted(&self, case: &Case<'_, '_>, gap: &Gap<'_>) -> String {
        let own = gap.weight * whole(case.palette.stitches()) * self.per_stitch;
        format!("{own:.1} m")
    }
}

fn bad(value: f64, reason: &str, field: &str) -> Error {
    let remedy = "write meters, such as 0.01".to_owned();
    let (value, reason) = (value.to_string(), reason.to_owned());
    Error::new(ErrorKind::BadValue { value, reason, remedy })
        .at(Place::field(format!("{FIELD}.{field}")))
}
