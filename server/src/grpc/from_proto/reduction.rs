//! What a reduction is asked for: wire to domain.
//! It does not know the palette.

use dyekin_core::change::Weighing;
use dyekin_core::palette::MAX_COLORS;
use dyekin_core::planner::{KeepEdges, MAX_OWNED, Money, ReduceOptions};
use dyekin_proto::v1 as pb;

use super::palette::stock;
use super::{Path, Problems, each, label, limit, price, thread_refs};

fn max_threads(wire: i32, problems: &mut Problems) -> Option<Option<usize>> {
    let count = usize::try_from(wire).ok().filter(|count| *count <= MAX_COLORS);
    if count.is_none() {
        let path = Path::Top("max_thread_count");
        problems.bad(path, wire, "a number of threads is 1 to 4096", "say how many threads");
    }
    count.map(|count| Some(count).filter(|count| *count > 0))
}

fn weighing(wire: i32, path: Path<'_>, problems: &mut Problems) -> Option<Weighing> {
    match pb::Weighing::try_from(wire) {
        Ok(pb::Weighing::Unspecified | pb::Weighing::Plain) => Some(Weighing::Plain),
        Ok(pb::Weighing::Squared) => Some(Weighing::Squared),
        Err(_) => {
            problems.bad(path, wire, "no known weighing", "use a value of the contract");
            None
        }
    }
}

/// What a reduction is asked for.
pub(in crate::grpc) fn reduce_options(
    wire: &pb::ReducePaletteRequest,
    problems: &mut Problems,
) -> Option<ReduceOptions> {
    let most = max_threads(wire.max_thread_count, problems);
    let tolerance = limit(wire.tolerance_delta_e, Path::Top("tolerance_delta_e"), problems);
    let worth = limit(Some(wire.thread_worth), Path::Top("thread_worth"), problems);
    let weighing = weighing(wire.weighing, Path::Top("weighing"), problems);
    let owned = Path::Top("owned_threads");
    let fits = problems.within(owned, "owned threads", wire.owned_threads.len(), MAX_OWNED);
    fits.then_some(())?;
    let owned = thread_refs(&wire.owned_threads, owned, problems);
    let squared = weighing == Some(Weighing::Squared);
    let keep_edges = keep_edges((wire.keep_edges, squared), Path::Top("keep_edges"), problems);
    let shading = Path::Top("keep_shading_areas");
    let count = wire.keep_shading_areas.len();
    problems.within(shading, "areas in one request", count, MAX_COLORS).then_some(())?;
    let shading = each(&wire.keep_shading_areas, shading, problems, |name, path, problems| {
        label(name, path, problems)
    });
    let stock = stock(wire.stock.as_ref(), problems);
    let money = money(wire.money.as_ref(), problems);
    Some(ReduceOptions {
        max_threads: most?,
        tolerance: tolerance?,
        weighing: weighing?,
        thread_worth: worth?.unwrap_or_default(),
        owned: owned?,
        money: money?,
        stock: stock?,
        keep_edges: keep_edges?,
        keep_shading: shading?,
    })
}

/// The setting; by default edges are kept, but not beside squares.
fn keep_edges(
    (wire, squared): (i32, bool),
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<KeepEdges> {
    match pb::KeepEdges::try_from(wire) {
        Ok(pb::KeepEdges::Unspecified) if squared => Some(KeepEdges::Off),
        Ok(pb::KeepEdges::Unspecified | pb::KeepEdges::Normal) => Some(KeepEdges::Normal),
        Ok(pb::KeepEdges::Off) => Some(KeepEdges::Off),
        Ok(pb::KeepEdges::Low) => Some(KeepEdges::Low),
        Ok(pb::KeepEdges::High) => Some(KeepEdges::High),
        Err(_) => {
            problems.bad(path, wire, "no such setting", "say off, low, normal or high");
            None
        }
    }
}

/// What money is worth; whether lengths are lengths is for the planner to say.
fn money(wire: Option<&pb::MoneyWorth>, problems: &mut Problems) -> Option<Option<Money>> {
    let Some(wire) = wire else { return Some(None) };
    let path = Path::Top("money");
    let worth = limit(Some(wire.worth), path.field("worth"), problems);
    let skein_price = match &wire.skein_price {
        Some(found) => price(found, path.field("skein_price"), problems).map(Some),
        None => Some(None),
    };
    Some(Some(Money {
        worth: worth?.unwrap_or_default(),
        skein_price: skein_price?,
        skein_meters: wire.skein_meters,
        meters_per_stitch: wire.meters_per_stitch,
    }))
}
