//! What a reduction was asked for and how good it is: message to domain.
//! It does not know the changes.

use dyekin_core::change::{ReduceReport, ThreadNeed, Weighing};

use super::{delta_e, missing, number, price, thread_ref, wire};
use crate::failure::Result;

pub(super) fn report(found: &wire::ReduceReport) -> Result<ReduceReport> {
    let weighing = match found.weighing() {
        wire::Weighing::Unspecified => return Err(missing("weighing")),
        wire::Weighing::Plain => Weighing::Plain,
        wire::Weighing::Squared => Weighing::Squared,
    };
    let count = |count: Option<i32>| count.map(|count| number(count, "number of threads"));
    Ok(ReduceReport {
        max_threads: count(found.max_thread_count).transpose()?,
        tolerance: found.tolerance_delta_e.map(delta_e).transpose()?,
        fewest: count(found.fewest_thread_count).transpose()?,
        weighing,
        thread_worth: delta_e(found.thread_worth)?,
        threads_to_get: number(found.needed_thread_count, "number of threads")?,
        total: found.total,
        bound: found.lower_bound,
        money_worth: delta_e(found.money_worth)?,
        needs: found.needs.iter().map(need).collect::<Result<_>>()?,
    })
}

fn need(found: &wire::ThreadNeed) -> Result<ThreadNeed> {
    let skeins = found.skein_count.map(|count| number(count, "number of skeins"));
    Ok(ThreadNeed {
        thread: thread_ref(found.thread.clone())?,
        meters: found.meters,
        skeins: skeins.transpose()?,
        price: found.price.as_ref().map(price).transpose()?,
        owned: found.owned,
        stock_meters: found.stock_meters,
    })
}
