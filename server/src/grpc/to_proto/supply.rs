//! Where the threads of a conversion come from: domain to wire. It does not know the requests.

use dyekin_core::DeltaE;
use dyekin_core::change::{OwnReport, Purchase, RangeReport, RangeUse};
use dyekin_proto::v1 as pb;

use super::{color, count32, count64, thread_ref};

pub(super) fn ranges(report: &RangeReport) -> pb::RangeReport {
    pb::RangeReport {
        ranges: report.ranges.iter().map(range).collect(),
        cost_delta_e: report.cost.value(),
        lower_bound_delta_e: report.lower_bound.map(DeltaE::value),
        proved_best: report.proved_best,
    }
}

fn range(held: &RangeUse) -> pb::RangeUse {
    pb::RangeUse {
        table_id: held.table.to_string(),
        price_delta_e: held.price.value(),
        thread_count: count32(held.threads),
        stitch_count: count64(held.stitches),
    }
}

pub(super) fn own(report: &OwnReport) -> pb::OwnReport {
    pb::OwnReport {
        usable_thread_count: count32(report.usable),
        unsuited_thread_count: count32(report.unsuited),
        used_thread_count: count32(report.used),
        within_delta_e: report.within.map(DeltaE::value),
        purchases: report.purchases.iter().map(purchase).collect(),
        beyond_color_count: count32(report.beyond),
        proved_fewest: report.proved_fewest,
    }
}

fn purchase(held: &Purchase) -> pb::Purchase {
    pb::Purchase {
        thread: Some(thread_ref(&held.thread)),
        name: held.name.clone(),
        color: Some(color(&held.color)),
        color_count: count32(held.colors),
        stitch_count: count64(held.stitches),
    }
}
