//! Whether a stand-in is there in the length that it is needed in: for the stitches of the missing
//! thread and for those that it is used for already. It does not choose.

use std::collections::BTreeMap;

use super::super::case::{Candidate, Case, whole};
use super::super::{SubstituteOptions, stock};
use super::gap::Gap;
use crate::error::Result;
use crate::table::ThreadRef;

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
        let Some(held) = &options.stock else { return Ok(None) };
        let meters = stock::lengths(case.catalog, held)?;
        let mut used: BTreeMap<ThreadRef, f64> = BTreeMap::new();
        for color in case.palette.colors() {
            let each = whole(color.stitches) / whole(color.threads.len().max(1) as u64);
            let stays = |name: &&ThreadRef| !gaps.iter().any(|gap| gap.thread.name() == **name);
            for name in color.threads.iter().filter(stays) {
                *used.entry(name.clone()).or_default() += each;
            }
        }
        Ok(Some(Self { meters, used, per_stitch: held.meters_per_stitch }))
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
