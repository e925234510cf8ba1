//! `dyekin compare`: how far colors look apart from a first one.
//! It does not measure: the backend does.

use dyekin_core::Difference;
use dyekin_core::color::Trust;
use dyekin_core::error::Error;
use serde_json::{Map, Value, json};

use super::shop::{Need, Shop, Standard};
use crate::cli::{CompareArgs, ShowArgs};
use crate::exit::Exit;
use crate::failure::Result;
use crate::printer::Printer;
use crate::report::{Caution, json as as_json, same_listed, text, verdict};
use crate::settings::Measure;

type Outcome = std::result::Result<Difference, Error>;

pub(crate) fn run(typed: &CompareArgs, printer: &mut Printer) -> Result<Exit> {
    let measure = Measure::checked(&typed.measure)?;
    let mut shop = Shop::open(&typed.tables, None, Need::Nothing, printer)?;
    let mut texts = vec![typed.standard.clone()];
    texts.extend(typed.samples.iter().cloned());
    let colors = shop.resolve(&texts)?;
    let Some((standard, samples)) = colors.split_first() else { return Ok(Exit::Done) };
    let pairs: Vec<_> = samples.iter().map(|sample| (*standard.color(), *sample.color())).collect();
    let outcomes = shop.backend.compare(&pairs, measure.of_pairs())?;
    if typed.show.json {
        printer.data(&as_json::to_text(&object(&texts, &colors, &outcomes, measure)));
    } else {
        tell(standard, samples, &outcomes, typed.show, printer);
    }
    Ok(finish(&outcomes, measure, printer))
}

fn finish(outcomes: &[Outcome], measure: Measure, printer: &mut Printer) -> Exit {
    let known = || outcomes.iter().filter_map(|outcome| outcome.as_ref().ok());
    if known().any(|difference| difference.trust == Trust::Rough) {
        printer.caution(Caution::Screen.words());
    }
    let problems: Vec<Error> =
        outcomes.iter().filter_map(|outcome| outcome.as_ref().err().cloned()).collect();
    if !problems.is_empty() {
        return super::complain(&problems.into(), printer);
    }
    let too_far = |difference: &Difference| {
        measure.limit.is_some_and(|limit| difference.delta_e.value() > limit.value())
    };
    if known().any(too_far) { Exit::NothingMatched } else { Exit::Done }
}

fn tell(
    standard: &Standard,
    samples: &[Standard],
    outcomes: &[Outcome],
    show: ShowArgs,
    printer: &mut Printer,
) {
    let width = printer.width();
    printer.data(&format!("{}{}", printer.swatch(standard.color().srgb()), standard.name()));
    if show.details {
        print_details(standard, None, printer);
    }
    for (sample, outcome) in samples.iter().zip(outcomes) {
        let said = match outcome {
            Ok(difference) => {
                let same = same_listed(standard.color(), sample.color());
                verdict(difference, same, "this one")
            }
            Err(_) => "no answer".to_owned(),
        };
        let head = format!("{}{}", printer.swatch(sample.color().srgb()), sample.name());
        for line in text::rows(&[vec![head, said]], width) {
            printer.data(&line);
        }
        if show.details {
            print_details(sample, outcome.as_ref().ok(), printer);
        }
    }
}

fn print_details(color: &Standard, difference: Option<&Difference>, printer: &mut Printer) {
    let mut lines: Vec<String> = difference.map(text::difference_details).into_iter().collect();
    lines.push(match color {
        Standard::Color(color) => text::color_details(color),
        Standard::Thread(_, thread) => text::thread_details(thread),
    });
    for line in lines {
        for part in text::wrap_indented(&line, printer.width(), 4) {
            printer.data(&part);
        }
    }
}

fn object(texts: &[String], colors: &[Standard], outcomes: &[Outcome], measure: Measure) -> Value {
    let asked: Vec<Value> =
        texts.iter().zip(colors).map(|(text, color)| named(text, color)).collect();
    let comparisons: Vec<Value> = asked
        .iter()
        .zip(colors)
        .skip(1)
        .zip(outcomes)
        .map(|((sample, color), outcome)| {
            let mut object = Map::new();
            object.insert("color".into(), sample.clone());
            match outcome {
                Ok(difference) => as_json::add_difference(&mut object, difference),
                Err(error) => {
                    object.insert("error".into(), as_json::problem(error));
                }
            }
            let same =
                colors.first().is_some_and(|first| same_listed(first.color(), color.color()));
            object.insert("same_listed_value".into(), json!(same));
            Value::Object(object)
        })
        .collect();
    let mut object = Map::new();
    object.insert("standard".into(), asked.first().cloned().unwrap_or(Value::Null));
    object.insert("comparisons".into(), Value::Array(comparisons));
    as_json::add_formula(&mut object, measure.formula);
    object.insert("within".into(), json!(measure.limit.map(dyekin_core::DeltaE::value)));
    Value::Object(object)
}

fn named(text: &str, color: &Standard) -> Value {
    let mut object = Map::new();
    object.insert("asked".into(), json!(text));
    match color {
        Standard::Color(color) => {
            if let Value::Object(members) = as_json::color(color) {
                object.extend(members);
            }
        }
        Standard::Thread(wanted, thread) => object.extend(as_json::thread(&wanted.table, thread)),
    }
    Value::Object(object)
}
