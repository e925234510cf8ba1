//! `dyekin blend`: two threads in one needle that come near to colors or threads.
//! It does not mix or rank: the backend does.

use dyekin_core::Color;
use dyekin_core::blend::{BlendOptions, Parts};
use dyekin_core::change::TableVersion;
use dyekin_core::error::{Error, harmless};
use dyekin_core::table::Finish;
use dyekin_core::{DeltaE, Difference, Lab, Srgb8, Thread, ThreadRef};
use serde_json::{Map, Value, json};

use super::matching;
use super::shop::{Need, Shop, Standard};
use crate::backend::{Answers, Blend, Blends, Hit, Subject};
use crate::cli::{BlendArgs, ShowArgs};
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::printer::Printer;
use crate::report::{Caution, availability, json as as_json, number, same_listed, text, verdict};
use crate::settings::{Measure, Wanted, count};

/// One question with its answer.
type Outcome = (Standard, std::result::Result<Blends, Error>);

pub(crate) fn run(typed: &BlendArgs, printer: &mut Printer) -> Result<Exit> {
    let count = count("--count", typed.count)?;
    let measure = Measure::checked(&typed.measure)?;
    let wanted = Wanted::checked(&typed.filter)?;
    only_plain(&wanted)?;
    let mut shop = Shop::open(&typed.tables, None, Need::Tables, printer)?;
    let standards = shop.resolve(&typed.colors)?;
    let options = BlendOptions {
        tables: shop.tables.clone(),
        count,
        formula: measure.formula,
        adaptation: measure.adaptation,
        limit: measure.limit,
        filter: shop.filter(&wanted)?,
        parts: typed.strands.map_or_else(|| Parts::ALL.to_vec(), |parts| vec![parts]),
    };
    let Answers { results, tables } = {
        let meter = printer.meter("blend");
        let subjects: Vec<Subject> = standards.iter().map(subject).collect();
        shop.backend.suggest_blends(&subjects, &options, &meter)?
    };
    let outcomes: Vec<Outcome> = standards.into_iter().zip(results).collect();
    if typed.show.json {
        printer.data(&as_json::to_text(&object(&typed.colors, &outcomes, &options, &tables)));
    } else {
        tell(&outcomes, &options, typed.show, printer);
    }
    Ok(finish(&outcomes, printer))
}

/// A thread of another finish has no one color that could be mixed.
fn only_plain(wanted: &Wanted) -> Result<()> {
    if !wanted.finish_stated || wanted.filter.finishes == [Finish::Plain] {
        return Ok(());
    }
    Err(Failure::said("--finish: only plain threads are blended", "leave --finish out"))
}

fn subject(standard: &Standard) -> Subject {
    match standard {
        Standard::Color(color) => Subject::Color(*color),
        Standard::Thread(wanted, _) => Subject::Thread(wanted.clone()),
    }
}

fn finish(outcomes: &[Outcome], printer: &mut Printer) -> Exit {
    let answers = || outcomes.iter().filter_map(|(_, result)| result.as_ref().ok());
    if answers().any(|found| !found.blends.is_empty()) {
        printer.caution(Caution::Blend.words());
    }
    if outcomes.iter().any(|(standard, result)| rests_on_pictures(standard, result)) {
        printer.caution(Caution::Screen.words());
    }
    let problems: Vec<Error> =
        outcomes.iter().filter_map(|(_, result)| result.as_ref().err().cloned()).collect();
    if !problems.is_empty() {
        return super::complain(&problems.into(), printer);
    }
    if answers().any(|found| found.blends.is_empty()) { Exit::NothingMatched } else { Exit::Done }
}

/// Whether any color behind the blends is a picture of a color.
fn rests_on_pictures(standard: &Standard, result: &std::result::Result<Blends, Error>) -> bool {
    let is_picture = |color: &Color| !color.origin().is_measured();
    let blends = result.as_ref().map(|found| found.blends.as_slice()).unwrap_or_default();
    blends.iter().any(|blend| {
        [standard.color(), &blend.first.color, &blend.second.color].into_iter().any(is_picture)
    })
}

fn tell(outcomes: &[Outcome], options: &BlendOptions, show: ShowArgs, printer: &mut Printer) {
    for (standard, result) in outcomes {
        let swatch = printer.swatch(standard.color().srgb());
        printer.data(&format!("{swatch}{}", standard.name()));
        if show.details {
            say(&text::color_details(standard.color()), 2, printer);
        }
        match result {
            Ok(found) if found.blends.is_empty() => say(&none(found, options), 2, printer),
            Ok(found) => {
                for (place, blend) in found.blends.iter().enumerate() {
                    tell_blend(place + 1, blend, show, printer);
                }
            }
            Err(_) => printer.data("  no answer"),
        }
        if let Some((found, hit)) =
            result.as_ref().ok().and_then(|found| Some((found, found.alone.as_ref()?)))
        {
            tell_alone(standard, (found, hit), printer);
        }
    }
}

fn say(line: &str, indent: usize, printer: &mut Printer) {
    for part in text::wrap_indented(line, printer.width(), indent) {
        printer.data(&part);
    }
}

fn tell_blend(rank: usize, blend: &Blend, show: ShowArgs, printer: &mut Printer) {
    let width = printer.width();
    for line in text::wrap(&format!("{rank:2}  {}", name(blend)), width, 4) {
        printer.data(&line);
    }
    say(&estimate(blend), 4, printer);
    if blend.mix.speckle {
        say(&speckle(blend), 4, printer);
    }
    if show.details {
        for line in details(blend) {
            say(&line, 4, printer);
        }
    }
}

/// Both threads with their strands.
pub(super) fn name(blend: &Blend) -> String {
    let (first, second) = blend.mix.parts.strands();
    let side = |strands: u8, thread: &Thread| {
        let unit = if strands == 1 { "strand" } else { "strands" };
        let name = format!("{} {}", harmless(thread.code.as_str()), harmless(&thread.name));
        format!("{strands} {unit} {}", name.trim_end())
    };
    let sides = [side(first, &blend.first), side(second, &blend.second)];
    format!("{} {}", blend.table, sides.join(" + "))
}

/// The size of the estimate in words, how far its range goes, and what cannot simply be bought.
pub(super) fn estimate(blend: &Blend) -> String {
    let mut words = format!(
        "estimate: {}; {} if light spreads between the strands",
        verdict(&blend.difference, false, "the blend"),
        number(&blend.full_spread)
    );
    for thread in [&blend.first, &blend.second] {
        let status = availability(thread);
        if !status.is_empty() {
            words.push_str(&format!("; {}: {status}", harmless(thread.code.as_str())));
        }
    }
    words
}

fn speckle(blend: &Blend) -> String {
    format!(
        "visible speckle: one thread is lighter than the other by {:.0}, so they do not look like one color",
        lightness_apart(blend)
    )
}

fn lightness_apart(blend: &Blend) -> f64 {
    (blend.first.color.lab().l() - blend.second.color.lab().l()).abs()
}

fn details(blend: &Blend) -> Vec<String> {
    let mixed = |lab: Lab, from: &Difference| {
        format!(
            "{}, L* {:.2} a* {:.2} b* {:.2}, {}; {}",
            Srgb8::nearest_to(lab),
            lab.l(),
            lab.a(),
            lab.b(),
            blend.mix.conditions,
            text::difference_details(from)
        )
    };
    let mix = &blend.mix;
    vec![
        format!("light averaged by area: {}", mixed(mix.estimate, &blend.difference)),
        format!("Yule-Nielsen with n = 2: {}", mixed(mix.full_spread, &blend.full_spread)),
        format!("first: {}", text::thread_details(&blend.first)),
        format!("second: {}", text::thread_details(&blend.second)),
    ]
}

/// The nearest single thread, which a blend must beat.
fn tell_alone(standard: &Standard, (found, hit): (&Blends, &Hit), printer: &mut Printer) {
    let best = found.blends.first().map(|blend| &blend.difference);
    let is_nearer = best.is_some_and(|best| hit.difference.delta_e <= best.delta_e);
    let lead = if is_nearer { "alone, and no blend is nearer" } else { "alone" };

    let thread = ThreadRef { table: hit.table.clone(), code: hit.thread.code.clone() };
    let same = same_listed(standard.color(), &hit.thread.color);
    let words = verdict(&hit.difference, same, "the thread");
    let name = text::thread_name(&thread, &hit.thread.name);
    say(&format!("{lead}: {name}: {}", text::with_availability(words, &hit.thread)), 2, printer);
}

/// Says that no blend answers, and what would.
fn none(found: &Blends, options: &BlendOptions) -> String {
    match (&found.beyond, options.limit) {
        (Some(blend), Some(limit)) => format!(
            "none within {:.1}; nearest is {} at {}",
            limit.value(),
            name(blend),
            number(&blend.difference)
        ),
        _ => "none: no two plain threads of one table pass the filters; leave one out, or add a table"
            .to_owned(),
    }
}

fn object(
    asked: &[String],
    outcomes: &[Outcome],
    options: &BlendOptions,
    tables: &[TableVersion],
) -> Value {
    let answers: Vec<Value> =
        asked.iter().zip(outcomes).map(|(asked, outcome)| answer(asked, outcome)).collect();
    let mut object = Map::new();
    object.insert("answers".into(), Value::Array(answers));
    as_json::add_formula(&mut object, options.formula);
    object.insert("within".into(), json!(options.limit.map(DeltaE::value)));
    object.insert("caution".into(), json!(Caution::Blend.words()));
    object.insert("tables".into(), as_json::tables(tables));
    Value::Object(object)
}

fn answer(asked: &str, (standard, result): &Outcome) -> Value {
    let mut object = matching::question(asked, standard);
    let (found, error) = match result {
        Ok(found) => (Some(found), None),
        Err(error) => (None, Some(error)),
    };
    let blends: Vec<Value> = found.iter().flat_map(|found| &found.blends).map(blend).collect();
    object.insert("blends".into(), Value::Array(blends));
    let beyond = found.and_then(|found| found.beyond.as_ref());
    object.insert("beyond_limit".into(), beyond.map_or(Value::Null, blend));
    let alone = found.and_then(|found| found.alone.as_ref());
    object.insert(
        "nearest_thread".into(),
        alone.map_or(Value::Null, |hit| matching::beside(standard, hit)),
    );
    object.insert("error".into(), error.map_or(Value::Null, as_json::problem));
    Value::Object(object)
}

/// A blend as JSON.
pub(super) fn blend(blend: &Blend) -> Value {
    let (first, second) = blend.mix.parts.strands();
    json!({
        "table": blend.table.as_str(),
        "strands": [first, second],
        "first": as_json::thread(&blend.table, &blend.first),
        "second": as_json::thread(&blend.table, &blend.second),
        "estimate": mixed(blend, blend.mix.estimate, &blend.difference),
        "full_spread": mixed(blend, blend.mix.full_spread, &blend.full_spread),
        "lightness_apart": lightness_apart(blend),
        "speckle": blend.mix.speckle,
    })
}

fn mixed(blend: &Blend, lab: Lab, from: &Difference) -> Value {
    let mut object = Map::new();
    object.insert("hex".into(), json!(Srgb8::nearest_to(lab).to_string()));
    object.insert("lab".into(), json!([lab.l(), lab.a(), lab.b()]));
    let under = blend.mix.conditions;
    let words = format!("{}/{}", under.illuminant.as_str(), under.observer.degrees());
    object.insert("conditions".into(), json!(words));
    as_json::add_difference(&mut object, from);
    Value::Object(object)
}
