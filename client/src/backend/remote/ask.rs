//! Questions as messages.
//! It does not know how a message travels.

use dyekin_core::blend::{BlendOptions, Parts};
use dyekin_core::change::{Answer, Weighing};
use dyekin_core::color::AdaptationMethod;
use dyekin_core::difference::Application;
use dyekin_core::nearest::{NearestOptions, ThreadFilter};
use dyekin_core::palette::{ChartColor, Neighbors, Side};
use dyekin_core::planner::{
    Answered, Ask, Keep, KeepEdges, Money, RangePrice, ReduceOptions, Supply, ThreadStock,
};
use dyekin_core::spectrum::Lights;
use dyekin_core::table::{Finish, Price, ReadOptions};
use dyekin_core::{
    Color, Conditions, DeltaE, Formula, Illuminant, Observer, Origin, PaletteSummary, TableId,
    ThreadRef,
};

use super::wire;
use crate::backend::Subject;
use crate::failure::{Failure, Result};

/// A count or a place as the contract's signed number.
pub(super) fn number<N: TryInto<T>, T>(value: N) -> Result<T> {
    value.try_into().map_err(|_| Failure::Bug { what: "a number is too large to be sent".into() })
}

pub(super) fn import_header(
    options: &ReadOptions,
    validate_only: bool,
) -> wire::ImportTableRequest {
    let header = wire::ImportTableHeader {
        table_id: options.id.to_string(),
        source_name: options.source_name.clone(),
        conditions: options.conditions.map(conditions),
        origin: options.origin.map_or(wire::Origin::Unspecified, origin).into(),
        alpha_first: options.alpha_first,
        validate_only,
        request_id: String::new(),
        measurement: options.measurement.clone().unwrap_or_default(),
    };
    let payload = Some(wire::import_table_request::Payload::Header(header));
    wire::ImportTableRequest { payload }
}

pub(super) fn import_chunk(bytes: &[u8]) -> wire::ImportTableRequest {
    let payload = Some(wire::import_table_request::Payload::Chunk(bytes.to_vec()));
    wire::ImportTableRequest { payload }
}

pub(super) fn color_query(asked: &Color) -> wire::ColorQuery {
    wire::ColorQuery { color: Some(color(asked)), query_id: String::new(), spectrum: None }
}

pub(super) fn thread_query(asked: &ThreadRef) -> wire::ThreadQuery {
    wire::ThreadQuery { thread: Some(thread_ref(asked)), query_id: String::new() }
}

pub(super) fn pair((standard, sample): &(Color, Color)) -> wire::ColorPair {
    wire::ColorPair { standard: Some(color(standard)), sample: Some(color(sample)) }
}

pub(super) fn match_options(options: &NearestOptions) -> Result<wire::MatchOptions> {
    Ok(wire::MatchOptions {
        table_ids: table_ids(&options.tables),
        count: number(options.count)?,
        formula: Some(formula(options.formula)),
        max_delta_e: options.limit.map(DeltaE::value),
        filter: Some(filter(&options.filter)),
        adaptation: adaptation(options.adaptation),
        lights: lights(options.lights.as_ref()),
    })
}

pub(super) fn blends(
    subjects: &[Subject],
    options: &BlendOptions,
) -> Result<wire::SuggestBlendsRequest> {
    let parts = |parts: &Parts| match parts {
        Parts::OneAndOne => wire::BlendParts::OneAndOne.into(),
        Parts::TwoAndOne => wire::BlendParts::TwoAndOne.into(),
    };
    Ok(wire::SuggestBlendsRequest {
        queries: subjects.iter().map(blend_query).collect(),
        options: Some(wire::MatchOptions {
            table_ids: table_ids(&options.tables),
            count: number(options.count)?,
            formula: Some(formula(options.formula)),
            max_delta_e: options.limit.map(DeltaE::value),
            filter: Some(filter(&options.filter)),
            adaptation: adaptation(options.adaptation),
            lights: Vec::new(),
        }),
        parts: options.parts.iter().map(parts).collect(),
    })
}

fn blend_query(subject: &Subject) -> wire::BlendQuery {
    use wire::blend_query::Subject as Wire;
    let subject = match subject {
        Subject::Color(asked) => Wire::Color(color(asked)),
        Subject::Thread(asked) => Wire::Thread(thread_ref(asked)),
    };
    wire::BlendQuery { subject: Some(subject), query_id: String::new() }
}

/// The lights that rank, in their order.
pub(super) fn lights(lights: Option<&Lights>) -> Vec<i32> {
    let named = lights.into_iter().flat_map(Lights::illuminants);
    named.map(|light| illuminant(light).into()).collect()
}

fn table_ids(tables: &[TableId]) -> Vec<String> {
    tables.iter().map(ToString::to_string).collect()
}

/// The adaptation asked for; the value of the contract that asks for none.
pub(super) fn adaptation(method: Option<AdaptationMethod>) -> i32 {
    let method = method.map_or(wire::AdaptationMethod::Unspecified, |method| match method {
        AdaptationMethod::Bradford => wire::AdaptationMethod::Bradford,
        AdaptationMethod::Cat16 => wire::AdaptationMethod::Cat16,
    });
    method.into()
}

pub(super) fn formula(formula: Formula) -> wire::DifferenceFormula {
    let (kind, [lightness_factor, chroma_factor, hue_factor]) = match formula {
        Formula::Cie76 => (wire::FormulaKind::Cie76, [None; 3]),
        Formula::Cie94(Application::GraphicArts) => {
            (wire::FormulaKind::Cie94GraphicArts, [None; 3])
        }
        Formula::Cie94(Application::Textile) => (wire::FormulaKind::Cie94Textile, [None; 3]),
        Formula::Ciede2000(factors) => {
            (wire::FormulaKind::Ciede2000, [factors.l(), factors.c(), factors.h()].map(Some))
        }
        Formula::Cmc(ratio) => (wire::FormulaKind::Cmc, [Some(ratio.l()), Some(ratio.c()), None]),
        Formula::Din99o => (wire::FormulaKind::Din99o, [None; 3]),
        Formula::Hyab => (wire::FormulaKind::Hyab, [None; 3]),
    };
    wire::DifferenceFormula { kind: kind.into(), lightness_factor, chroma_factor, hue_factor }
}

fn filter(filter: &ThreadFilter) -> wire::ThreadFilter {
    wire::ThreadFilter {
        available_only: filter.available_only,
        finishes: filter.finishes.iter().map(|known| finish(*known).into()).collect(),
        fibers: filter.fibers.clone(),
        excluded_threads: filter.excluded.iter().map(thread_ref).collect(),
        max_price: filter.max_price.map(price),
    }
}

fn finish(finish: Finish) -> wire::Finish {
    match finish {
        Finish::Fluorescent => wire::Finish::Fluorescent,
        Finish::Metallic => wire::Finish::Metallic,
        Finish::Plain => wire::Finish::Plain,
        Finish::Variegated => wire::Finish::Variegated,
    }
}

fn price(price: Price) -> wire::Price {
    wire::Price {
        amount_micros: price.micros,
        currency_code: price.currency.map(|currency| currency.to_string()).unwrap_or_default(),
    }
}

pub(super) fn thread_ref(thread: &ThreadRef) -> wire::ThreadRef {
    wire::ThreadRef { table_id: thread.table.to_string(), code: thread.code.to_string() }
}

fn color(color: &Color) -> wire::Color {
    let lab = color.lab();
    let value = match color.listed_srgb() {
        Some(listed) => wire::color::Value::Hex(listed.to_string()),
        None => wire::color::Value::Lab(wire::LabColor { l: lab.l(), a: lab.a(), b: lab.b() }),
    };
    wire::Color {
        value: Some(value),
        conditions: Some(conditions(color.conditions())),
        origin: origin(color.origin()).into(),
        uncertainty: color.uncertainty(),
        screen_hex: String::new(),
        computed_lab: None,
    }
}

fn illuminant(light: Illuminant) -> wire::Illuminant {
    match light {
        Illuminant::A => wire::Illuminant::A,
        Illuminant::D50 => wire::Illuminant::D50,
        Illuminant::D65 => wire::Illuminant::D65,
        Illuminant::Fl2 => wire::Illuminant::Fl2,
        Illuminant::Fl11 => wire::Illuminant::Fl11,
        Illuminant::LedB3 => wire::Illuminant::LedB3,
    }
}

fn conditions(conditions: Conditions) -> wire::Conditions {
    let illuminant = illuminant(conditions.illuminant);
    let observer = match conditions.observer {
        Observer::TwoDegree => wire::Observer::TwoDegree,
        Observer::TenDegree => wire::Observer::TenDegree,
    };
    wire::Conditions { illuminant: illuminant.into(), observer: observer.into() }
}

fn origin(origin: Origin) -> wire::Origin {
    match origin {
        Origin::Meter => wire::Origin::Meter,
        Origin::Scan => wire::Origin::Scan,
        Origin::Screen => wire::Origin::Screen,
        Origin::Spectrum => wire::Origin::Spectrum,
        Origin::Unknown => wire::Origin::Unknown,
    }
}

pub(super) fn palette(palette: &PaletteSummary) -> Result<wire::PaletteSummary> {
    let neighbors = palette
        .neighbors()
        .map(|pairs| pairs.iter().map(neighbor_pair).collect::<Result<_>>())
        .transpose()?
        .map(|pairs| wire::NeighborList { pairs });
    Ok(wire::PaletteSummary {
        colors: palette.colors().iter().map(palette_color).collect::<Result<_>>()?,
        neighbors,
        cloth: palette.cloth().map(color),
    })
}

fn palette_color(part: &ChartColor) -> Result<wire::PaletteColor> {
    Ok(wire::PaletteColor {
        color: Some(color(&part.color)),
        stitch_count: number(part.stitches)?,
        threads: part.threads.iter().map(thread_ref).collect(),
        area: part.area.clone().unwrap_or_default(),
    })
}

fn money(money: Money) -> wire::MoneyWorth {
    wire::MoneyWorth {
        worth: money.worth.value(),
        skein_price: money.skein_price.map(price),
        skein_meters: money.skein_meters,
        meters_per_stitch: money.meters_per_stitch,
    }
}

fn keep_edges(setting: KeepEdges) -> wire::KeepEdges {
    match setting {
        KeepEdges::Off => wire::KeepEdges::Off,
        KeepEdges::Low => wire::KeepEdges::Low,
        KeepEdges::Normal => wire::KeepEdges::Normal,
        KeepEdges::High => wire::KeepEdges::High,
    }
}

fn neighbor_pair(pair: &Neighbors) -> Result<wire::NeighborPair> {
    let second = match pair.second {
        Side::Cloth => wire::neighbor_pair::Second::Cloth(true),
        Side::Color(second) => wire::neighbor_pair::Second::SecondIndex(number(second)?),
    };
    Ok(wire::NeighborPair {
        first_index: number(pair.first)?,
        edge_count: number(pair.edges)?,
        second: Some(second),
    })
}

pub(super) fn palette_options(ask: &Ask) -> Result<wire::PaletteOptions> {
    Ok(wire::PaletteOptions {
        table_ids: table_ids(&ask.tables),
        formula: Some(formula(ask.formula)),
        filter: Some(filter(&ask.filter)),
        keeps: ask.keeps.iter().map(keep).collect::<Result<_>>()?,
        answers: ask.answers.iter().map(answered).collect::<Result<_>>()?,
        adaptation: adaptation(ask.adaptation),
    })
}

/// The question for a palette of few threads.
pub(super) fn reduction(
    palette: &PaletteSummary,
    ask: &Ask,
    options: &ReduceOptions,
) -> Result<wire::ReducePaletteRequest> {
    let weighing = match options.weighing {
        Weighing::Plain => wire::Weighing::Plain,
        Weighing::Squared => wire::Weighing::Squared,
    };
    Ok(wire::ReducePaletteRequest {
        palette: Some(self::palette(palette)?),
        options: Some(palette_options(ask)?),
        max_thread_count: options.max_threads.map_or(Ok(0), number)?,
        tolerance_delta_e: options.tolerance.map(DeltaE::value),
        weighing: weighing.into(),
        thread_worth: options.thread_worth.value(),
        owned_threads: options.owned.iter().map(thread_ref).collect(),
        money: options.money.map(money),
        stock: options.stock.as_ref().map(stock),
        keep_edges: keep_edges(options.keep_edges).into(),
        keep_shading_areas: options.keep_shading.clone(),
    })
}

/// Colors by their places.
pub(super) fn places(places: &[usize]) -> Result<Vec<i32>> {
    places.iter().copied().map(number).collect()
}

/// Lengths of thread that are there.
pub(super) fn stock(stock: &ThreadStock) -> wire::ThreadStock {
    let length = |(thread, meters): &(ThreadRef, f64)| wire::ThreadLength {
        thread: Some(thread_ref(thread)),
        meters: *meters,
    };
    wire::ThreadStock {
        threads: stock.meters.iter().map(length).collect(),
        meters_per_stitch: stock.meters_per_stitch,
    }
}

/// Own threads and prices of ranges.
pub(super) fn supply(supply: &Supply) -> (Option<wire::OwnThreads>, Vec<wire::RangePrice>) {
    match supply {
        Supply::All => (None, Vec::new()),
        Supply::Owned { threads, buy_within } => {
            let threads = threads.iter().map(thread_ref).collect();
            let buy_within_delta_e = buy_within.map(DeltaE::value);
            (Some(wire::OwnThreads { threads, buy_within_delta_e }), Vec::new())
        }
        Supply::Priced(prices) => {
            let price = |held: &RangePrice| wire::RangePrice {
                table_id: held.table.to_string(),
                price_delta_e: held.price.value(),
            };
            (None, prices.iter().map(price).collect())
        }
    }
}

fn keep(keep: &Keep) -> Result<wire::Keep> {
    let subject = match keep {
        Keep::Area(area) => wire::keep::Subject::Area(area.clone()),
        Keep::Color(place) => wire::keep::Subject::ColorIndex(number(*place)?),
        Keep::Thread(thread) => wire::keep::Subject::Thread(thread_ref(thread)),
    };
    Ok(wire::Keep { subject: Some(subject) })
}

fn answered(answered: &Answered) -> Result<wire::AnsweredChange> {
    let (decision, another) = match &answered.answer {
        Answer::Another(thread) => (wire::Decision::Another, Some(thread_ref(thread))),
        Answer::No => (wire::Decision::No, None),
        Answer::Yes => (wire::Decision::Yes, None),
    };
    Ok(wire::AnsweredChange {
        color_index: number(answered.color)?,
        proposed_threads: answered.proposed.iter().map(thread_ref).collect(),
        answer: Some(wire::Answer { decision: decision.into(), another }),
    })
}
