//! Where the threads of a conversion come from, as the server reports it, in domain types.
//! It does not know how a message travels.

use dyekin_core::change::{OwnReport, Purchase, RangeReport, RangeUse};

use super::{color, delta_e, number, table_id, thread_ref, wire};
use crate::failure::Result;

pub(super) fn ranges(found: &wire::RangeReport) -> Result<RangeReport> {
    let range = |held: &wire::RangeUse| {
        Ok(RangeUse {
            table: table_id(&held.table_id)?,
            price: delta_e(held.price_delta_e)?,
            threads: number(held.thread_count, "thread count")?,
            stitches: number(held.stitch_count, "stitch count")?,
        })
    };
    Ok(RangeReport {
        ranges: found.ranges.iter().map(range).collect::<Result<_>>()?,
        cost: delta_e(found.cost_delta_e)?,
        lower_bound: found.lower_bound_delta_e.map(delta_e).transpose()?,
        proved_best: found.proved_best,
    })
}

pub(super) fn own(found: wire::OwnReport) -> Result<OwnReport> {
    Ok(OwnReport {
        usable: number(found.usable_thread_count, "thread count")?,
        unsuited: number(found.unsuited_thread_count, "thread count")?,
        used: number(found.used_thread_count, "thread count")?,
        within: found.within_delta_e.map(delta_e).transpose()?,
        purchases: found.purchases.into_iter().map(purchase).collect::<Result<_>>()?,
        beyond: number(found.beyond_color_count, "color count")?,
        proved_fewest: found.proved_fewest,
    })
}

fn purchase(found: wire::Purchase) -> Result<Purchase> {
    Ok(Purchase {
        color: color(found.color.as_ref())?,
        thread: thread_ref(found.thread)?,
        name: found.name,
        colors: number(found.color_count, "color count")?,
        stitches: number(found.stitch_count, "stitch count")?,
    })
}
