//! Palettes, keeps and answers: wire to domain.
//! It does not know what is asked about them.

use dyekin_core::PaletteSummary;
use dyekin_core::change::Answer;
use dyekin_core::palette::{ChartColor, MAX_COLORS, MAX_NEIGHBORS, Neighbors, Side};
use dyekin_core::planner::{
    Answered, Ask, ConvertOptions, Keep, MAX_MISSING, MAX_OWNED, MAX_STOCKED, MergeOptions,
    RangePrice, SubstituteOptions, Supply, ThreadStock,
};
use dyekin_proto::v1 as pb;

use super::{
    MAX_TABLES, Path, Problems, adaptation, color, each, filter, formula, label, lights, limit,
    one_to, required_ref, table_id, table_ids, thread_ref, thread_refs,
};

fn index(wire: i32, path: Path<'_>, problems: &mut Problems) -> Option<usize> {
    let index = usize::try_from(wire).ok();
    if index.is_none() {
        problems.bad(path, wire, "a place is 0 or more", "count the colors from 0");
    }
    index
}

fn stitches(wire: i64, path: Path<'_>, problems: &mut Problems) -> Option<u64> {
    let count = u64::try_from(wire).ok();
    if count.is_none() {
        problems.bad(path, wire, "a count is 1 or more", "count whole stitches or edges");
    }
    count
}

fn chart_color(
    wire: &pb::PaletteColor,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<ChartColor> {
    let shown = color(wire.color.as_ref(), path.field("color"), problems);
    let count = stitches(wire.stitch_count, path.field("stitch_count"), problems);
    let threads = path.field("threads");
    let blend = problems.within(threads, "threads of one color", wire.threads.len(), 2);
    let threads = thread_refs(&wire.threads, threads, problems);
    let area = label(&wire.area, path.field("area"), problems);
    blend.then_some(())?;
    let area = area.filter(|area| !area.is_empty());
    Some(ChartColor { color: shown?, stitches: count?, threads: threads?, area })
}

fn neighbors(
    wire: &pb::NeighborPair,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Neighbors> {
    let first = index(wire.first_index, path.field("first_index"), problems);
    let edges = stitches(wire.edge_count, path.field("edge_count"), problems);
    let second = match wire.second {
        Some(pb::neighbor_pair::Second::SecondIndex(second)) => {
            index(second, path.field("second_index"), problems).map(Side::Color)
        }
        Some(pb::neighbor_pair::Second::Cloth(true)) => Some(Side::Cloth),
        Some(pb::neighbor_pair::Second::Cloth(false)) | None => {
            problems.bad(path, "", "neighbors are two", "name a color or the cloth");
            None
        }
    };
    Some(Neighbors { first: first?, second: second?, edges: edges? })
}

pub(in crate::grpc) fn palette(
    wire: Option<&pb::PaletteSummary>,
    problems: &mut Problems,
) -> Option<PaletteSummary> {
    let path = Path::Top("palette");
    let Some(wire) = wire else {
        problems.bad(path, "", "a palette is missing", "give the colors of the chart");
        return None;
    };
    let colors = path.field("colors");
    let pairs = path.field("neighbors");
    let count = wire.neighbors.as_ref().map_or(0, |list| list.pairs.len());
    let fits = problems.within(colors, "colors in one palette", wire.colors.len(), MAX_COLORS)
        & problems.within(pairs, "pairs of neighbors", count, MAX_NEIGHBORS);
    fits.then_some(())?;
    let colors = each(&wire.colors, colors, problems, chart_color);
    let touching = match &wire.neighbors {
        Some(list) => each(&list.pairs, pairs.field("pairs"), problems, neighbors).map(Some),
        None => Some(None),
    };
    let cloth = match &wire.cloth {
        Some(found) => color(Some(found), path.field("cloth"), problems).map(Some),
        None => Some(None),
    };
    problems.take(PaletteSummary::new(colors?, touching?, cloth?), path)
}

fn keep(wire: &pb::Keep, path: Path<'_>, problems: &mut Problems) -> Option<Keep> {
    match &wire.subject {
        Some(pb::keep::Subject::ColorIndex(found)) => {
            index(*found, path.field("color_index"), problems).map(Keep::Color)
        }
        Some(pb::keep::Subject::Thread(found)) => {
            thread_ref(found, path.field("thread"), problems).map(Keep::Thread)
        }
        Some(pb::keep::Subject::Area(name)) => {
            label(name, path.field("area"), problems).map(Keep::Area)
        }
        None => {
            problems.bad(path, "", "nothing to keep", "name a color, a thread or an area");
            None
        }
    }
}

fn answered(
    wire: &pb::AnsweredChange,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Answered> {
    let color = index(wire.color_index, path.field("color_index"), problems);
    let proposed = path.field("proposed_threads");
    let blend = problems.within(proposed, "threads of one color", wire.proposed_threads.len(), 2);
    let proposed = thread_refs(&wire.proposed_threads, proposed, problems);
    let answer = answer(wire.answer.as_ref(), path.field("answer"), problems);
    blend.then_some(())?;
    Some(Answered { color: color?, proposed: proposed?, answer: answer? })
}

fn answer(wire: Option<&pb::Answer>, path: Path<'_>, problems: &mut Problems) -> Option<Answer> {
    let decision = wire.map_or(pb::Decision::Unspecified, pb::Answer::decision);
    let another = wire.and_then(|wire| wire.another.as_ref());
    match (decision, another) {
        (pb::Decision::Yes, None) => Some(Answer::Yes),
        (pb::Decision::No, None) => Some(Answer::No),
        (pb::Decision::Another, found) => {
            required_ref(found, path.field("another"), problems).map(Answer::Another)
        }
        (pb::Decision::Yes | pb::Decision::No, Some(_)) => {
            let remedy = "leave it out or decide for another";
            problems.bad(path.field("another"), "", "this decision names no thread", remedy);
            None
        }
        (pb::Decision::Unspecified, _) => {
            problems.bad(path.field("decision"), "", "a decision is missing", "yes, no or another");
            None
        }
    }
}

/// What all palette questions share.
pub(in crate::grpc) fn ask(
    wire: Option<&pb::PaletteOptions>,
    problems: &mut Problems,
) -> Option<Ask> {
    let absent = pb::PaletteOptions::default();
    let wire = wire.unwrap_or(&absent);
    let path = Path::Top("options");
    let keeps = path.field("keeps");
    let answers = path.field("answers");
    let fits = problems.within(keeps, "keeps in one request", wire.keeps.len(), MAX_COLORS)
        & problems.within(answers, "answers in one request", wire.answers.len(), MAX_COLORS);
    fits.then_some(())?;
    let tables = table_ids(&wire.table_ids, path.field("table_ids"), problems);
    let formula = formula(wire.formula.as_ref(), path.field("formula"), problems);
    let adaptation = adaptation(wire.adaptation, path.field("adaptation"), problems);
    let filter = filter(wire.filter.as_ref(), path.field("filter"), problems);
    let keeps = each(&wire.keeps, keeps, problems, keep);
    let answers = each(&wire.answers, answers, problems, answered);
    Some(Ask {
        tables: tables?,
        formula: formula?,
        adaptation: adaptation?,
        filter: filter?,
        keeps: keeps?,
        answers: answers?,
    })
}

fn thread_count(wire: i32, path: Path<'_>, problems: &mut Problems) -> Option<usize> {
    let count = usize::try_from(wire).ok().filter(|count| (1..=MAX_COLORS).contains(count));
    if count.is_none() {
        problems.bad(path, wire, "a number of threads is 1 to 4096", "say how many threads");
    }
    count
}

pub(in crate::grpc) fn merge_options(
    wire: &pb::SuggestMergesRequest,
    problems: &mut Problems,
) -> Option<MergeOptions> {
    let anchor = match wire.anchor_thread_count {
        None => Some(None),
        Some(count) => thread_count(count, Path::Top("anchor_thread_count"), problems).map(Some),
    };
    Some(MergeOptions { anchor: anchor?, curve: wire.with_curve })
}

pub(in crate::grpc) fn substitute_options(
    wire: &pb::SubstituteThreadsRequest,
    problems: &mut Problems,
) -> Option<SubstituteOptions> {
    let path = Path::Top("missing_threads");
    one_to("missing threads", path, wire.missing_threads.len(), MAX_MISSING, problems)?;
    let missing = thread_refs(&wire.missing_threads, path, problems);
    let min_apart = limit(wire.min_apart_delta_e, Path::Top("min_apart_delta_e"), problems);
    let limit = limit(wire.max_delta_e, Path::Top("max_delta_e"), problems);
    let lights = lights(&wire.lights, Path::Top("lights"), problems);
    let stock = stock(wire.stock.as_ref(), problems);
    let staying = staying(&wire.staying_color_indexes, problems);
    Some(SubstituteOptions {
        missing: missing?,
        allow_used: wire.allow_used,
        limit: limit?,
        min_apart: min_apart?.unwrap_or_default(),
        keep_lightness: wire.keep_lightness,
        keep_outlines: wire.keep_outlines,
        lights: lights?,
        stock: stock?,
        staying: staying?,
    })
}

fn staying(wire: &[i32], problems: &mut Problems) -> Option<Vec<usize>> {
    let path = Path::Top("staying_color_indexes");
    problems.within(path, "colors that stay", wire.len(), MAX_COLORS).then_some(())?;
    each(wire, path, problems, |place, path, problems| index(*place, path, problems))
}

/// Lengths of thread; whether they are lengths is for the planner to say.
pub(super) fn stock(
    wire: Option<&pb::ThreadStock>,
    problems: &mut Problems,
) -> Option<Option<ThreadStock>> {
    let Some(wire) = wire else { return Some(None) };
    let path = Path::Top("stock");
    let threads = path.field("threads");
    let count = wire.threads.len();
    problems.within(threads, "threads in one stock", count, MAX_STOCKED).then_some(())?;
    let meters = each(&wire.threads, threads, problems, |held, path, problems| {
        let name = required_ref(held.thread.as_ref(), path.field("thread"), problems);
        name.map(|name| (name, held.meters))
    });
    Some(Some(ThreadStock { meters: meters?, meters_per_stitch: wire.meters_per_stitch }))
}

pub(in crate::grpc) fn convert_options(
    wire: &pb::ConvertPaletteRequest,
    problems: &mut Problems,
) -> Option<ConvertOptions> {
    let distinct = limit(wire.min_apart_delta_e, Path::Top("min_apart_delta_e"), problems);
    let supply = supply(wire, problems);
    Some(ConvertOptions { supply: supply?, distinct: distinct? })
}

fn supply(wire: &pb::ConvertPaletteRequest, problems: &mut Problems) -> Option<Supply> {
    let prices = Path::Top("range_prices");
    let Some(own) = &wire.own else {
        if wire.range_prices.is_empty() {
            return Some(Supply::All);
        }
        let count = wire.range_prices.len();
        problems.within(prices, "prices of ranges", count, MAX_TABLES).then_some(())?;
        return each(&wire.range_prices, prices, problems, range_price).map(Supply::Priced);
    };
    if !wire.range_prices.is_empty() {
        let reason = "ranges have no price where only own threads answer";
        problems.bad(prices, "", reason, "leave one of them out");
    }
    let path = Path::Top("own");
    let threads = path.field("threads");
    let fits = problems.within(threads, "own threads", own.threads.len(), MAX_OWNED);
    fits.then_some(())?;
    let threads = thread_refs(&own.threads, threads, problems);
    let within = limit(own.buy_within_delta_e, path.field("buy_within_delta_e"), problems);
    Some(Supply::Owned { threads: threads?, buy_within: within? })
}

fn range_price(
    wire: &pb::RangePrice,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<RangePrice> {
    let table = table_id(&wire.table_id, path.field("table_id"), problems);
    let price = limit(Some(wire.price_delta_e), path.field("price_delta_e"), problems);
    Some(RangePrice { table: table?, price: price?? })
}
