//! `dyekin match`: the threads nearest to colors or threads.
//! It does not rank: the backend does.

use dyekin_core::change::TableVersion;
use dyekin_core::color::Trust;
use dyekin_core::error::Error;
use dyekin_core::nearest::{MAX_MORE_AS_NEAR, NearestOptions, ThreadFilter};
use dyekin_core::table::Finish;
use dyekin_core::{Color, ThreadRef};
use serde_json::{Map, Value, json};

use super::shop::{Need, Shop, Standard};
use crate::backend::{Answers, Found, Hit};
use crate::cli::{MatchArgs, ShowArgs};
use crate::exit::Exit;
use crate::failure::Result;
use crate::printer::Printer;
use crate::report::{Caution, json as as_json, light, number, same_listed, text, verdict};
use crate::settings::{Measure, Wanted, count, lights};

/// One question with its answer.
type Outcome = (Standard, std::result::Result<Found, Error>);

pub(crate) fn run(typed: &MatchArgs, printer: &mut Printer) -> Result<Exit> {
    let count = count("--count", typed.count)?;
    let measure = Measure::checked(&typed.measure)?;
    let wanted = Wanted::checked(&typed.filter)?;
    let mut shop = Shop::open(&typed.tables, None, Need::Tables, printer)?;
    let standards = shop.resolve(&typed.colors)?;
    let options = NearestOptions {
        tables: shop.tables.clone(),
        count,
        formula: measure.formula,
        adaptation: measure.adaptation,
        lights: lights(&typed.lights)?,
        limit: measure.limit,
        filter: shop.filter(&wanted)?,
        count_as_near: true,
    };
    let (outcomes, tables) = ask(&mut shop, standards, &options, wanted.finish_stated)?;
    if typed.show.json {
        printer.data(&as_json::to_text(&object(&typed.colors, &outcomes, &options, &tables)));
    } else {
        tell(&outcomes, &options, typed.show, printer);
    }
    Ok(finish(&outcomes, printer))
}

/// Asks for all colors at once and for all threads at once, and puts the answers back in order.
fn ask(
    shop: &mut Shop,
    standards: Vec<Standard>,
    options: &NearestOptions,
    finish_stated: bool,
) -> Result<(Vec<Outcome>, Vec<TableVersion>)> {
    let colors: Vec<Color> = standards
        .iter()
        .filter_map(|standard| match standard {
            Standard::Color(color) => Some(*color),
            Standard::Thread(..) => None,
        })
        .collect();
    let threads: Vec<ThreadRef> = standards
        .iter()
        .filter_map(|standard| match standard {
            Standard::Color(_) => None,
            Standard::Thread(wanted, _) => Some(wanted.clone()),
        })
        .collect();
    let mut tables = Vec::new();
    let mut of_colors = Vec::new().into_iter();
    let mut of_threads = Vec::new().into_iter();
    if !colors.is_empty() {
        let options =
            NearestOptions { filter: plain(&options.filter, finish_stated), ..options.clone() };
        let Answers { results, tables: searched } = shop.backend.match_colors(&colors, &options)?;
        (of_colors, tables) = (results.into_iter(), searched);
    }
    if !threads.is_empty() {
        let Answers { results, tables: searched } =
            shop.backend.match_threads(&threads, options, finish_stated)?;
        (of_threads, tables) = (results.into_iter(), searched);
    }
    let outcomes = standards
        .into_iter()
        .filter_map(|standard| {
            let result = match standard {
                Standard::Color(_) => of_colors.next(),
                Standard::Thread(..) => of_threads.next(),
            };
            result.map(|result| (standard, result))
        })
        .collect();
    Ok((outcomes, tables))
}

/// A color that is no thread is matched with plain threads unless the user says otherwise.
pub(crate) fn plain(filter: &ThreadFilter, finish_stated: bool) -> ThreadFilter {
    let mut filter = filter.clone();
    if filter.finishes.is_empty() && !finish_stated {
        filter.finishes.push(Finish::Plain);
    }
    filter
}

fn finish(outcomes: &[Outcome], printer: &mut Printer) -> Exit {
    let hits = || outcomes.iter().filter_map(|(_, result)| result.as_ref().ok());
    if hits().flat_map(|found| &found.matches).any(|hit| hit.difference.trust == Trust::Rough) {
        printer.caution(Caution::Screen.words());
    }
    let problems: Vec<Error> =
        outcomes.iter().filter_map(|(_, result)| result.as_ref().err().cloned()).collect();
    if !problems.is_empty() {
        return super::complain(&problems.into(), printer);
    }
    if hits().any(|found| found.matches.is_empty()) { Exit::NothingMatched } else { Exit::Done }
}

fn tell(outcomes: &[Outcome], options: &NearestOptions, show: ShowArgs, printer: &mut Printer) {
    let width = printer.width();
    for (standard, result) in outcomes {
        printer.data(&format!("{}{}", printer.swatch(standard.color().srgb()), standard.name()));
        if show.details {
            print_all(
                &text::wrap_indented(&text::color_details(standard.color()), width, 2),
                printer,
            );
        }
        match result {
            Ok(found) if found.matches.is_empty() => {
                print_all(&text::wrap_indented(&none(found, options), width, 2), printer);
            }
            Ok(found) if show.details => {
                for (rank, hit) in found.matches.iter().enumerate() {
                    tell_in_full(rank + 1, standard, hit, printer);
                }
            }
            Ok(found) => {
                let rows: Vec<Vec<String>> = found
                    .matches
                    .iter()
                    .enumerate()
                    .map(|(rank, hit)| row(rank + 1, standard, hit))
                    .collect();
                print_all(&text::rows(&rows, width), printer);
            }
            Err(_) => printer.data("  no answer"),
        }
        let found = result.as_ref().ok();
        for said in [found.and_then(as_near), found.and_then(left_out)].into_iter().flatten() {
            print_all(&text::wrap_indented(&said, width, 4), printer);
        }
    }
}

/// How many threads the lights left out.
fn left_out(found: &Found) -> Option<String> {
    (found.left_out > 0).then(|| light::left_out(found.left_out))
}

/// Which of the matches the data cannot tell apart, and how many more there are.
fn as_near(found: &Found) -> Option<String> {
    let shown: Vec<usize> = std::iter::once(1)
        .chain(ranks(&found.matches).filter_map(|(rank, hit)| hit.as_near.then_some(rank)))
        .collect();
    let more = match found.more_as_near {
        0 => None,
        MAX_MORE_AS_NEAR => Some(format!("at least {MAX_MORE_AS_NEAR} more")),
        more => Some(format!("{more} more")),
    };
    let look = match (shown.len(), found.more_as_near) {
        (1, 0) => return None,
        (2, 0) => "cannot tell these apart, look at both".to_owned(),
        (_, 0) => "cannot tell these apart, look at all of them".to_owned(),
        (_, more) => {
            let count = found.matches.len() + more;
            format!("cannot tell these apart; -n {count} shows them")
        }
    };
    Some(format!("{}: {look}", listed(runs(&shown).into_iter().chain(more))))
}

fn ranks(matches: &[Hit]) -> impl Iterator<Item = (usize, &Hit)> {
    matches.iter().enumerate().map(|(place, hit)| (place + 1, hit))
}

/// Numbers in ascending order, each run of three or more as one.
fn runs(numbers: &[usize]) -> Vec<String> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for number in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == *number => *last = *number,
            Some(_) | None => runs.push((*number, *number)),
        }
    }
    let words = |(first, last): (usize, usize)| match last - first {
        0 => vec![first.to_string()],
        1 => vec![first.to_string(), last.to_string()],
        _ => vec![format!("{first} to {last}")],
    };
    runs.into_iter().flat_map(words).collect()
}

/// A list as people write it: `1 to 3, 5 and 7`.
fn listed(words: impl Iterator<Item = String>) -> String {
    let words: Vec<String> = words.collect();
    match words.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, first)) => format!("{} and {last}", first.join(", ")),
        None => String::new(),
    }
}

fn print_all(lines: &[String], printer: &mut Printer) {
    for line in lines {
        printer.data(line);
    }
}

fn row(rank: usize, standard: &Standard, hit: &Hit) -> Vec<String> {
    vec![format!("{rank:2}"), name(hit), words(standard, hit)]
}

fn name(hit: &Hit) -> String {
    let thread = ThreadRef { table: hit.table.clone(), code: hit.thread.code.clone() };
    text::thread_name(&thread, &hit.thread.name)
}

fn words(standard: &Standard, hit: &Hit) -> String {
    let same = same_listed(standard.color(), &hit.thread.color);
    let mut words = verdict(&hit.difference, same, "the thread");
    words.push_str(&light::note(hit.over_lights.as_deref(), &hit.difference));
    text::with_availability(words, &hit.thread)
}

fn tell_in_full(rank: usize, standard: &Standard, hit: &Hit, printer: &mut Printer) {
    let width = printer.width();
    print_all(&text::wrap(&format!("{rank:2}  {}", name(hit)), width, 4), printer);
    let lines = [
        Some(words(standard, hit)),
        Some(text::difference_details(&hit.difference)),
        hit.over_lights.as_deref().map(light::details),
        Some(text::thread_details(&hit.thread)),
    ];
    for line in lines.into_iter().flatten() {
        print_all(&text::wrap_indented(&line, width, 4), printer);
    }
}

/// Says that nothing matches, and what would.
fn none(found: &Found, options: &NearestOptions) -> String {
    match (&found.beyond, options.limit) {
        (Some(hit), Some(limit)) => format!(
            "none within {:.1}; nearest is {} at {}",
            limit.value(),
            name(hit),
            number(&hit.difference)
        ),
        _ if found.left_out > 0 => {
            "none: no thread that passes the filters has a reflectance spectrum".to_owned()
        }
        _ => "none: no thread passes the filters; leave one out, or add a table".to_owned(),
    }
}

fn object(
    asked: &[String],
    outcomes: &[Outcome],
    options: &NearestOptions,
    tables: &[TableVersion],
) -> Value {
    let answers: Vec<Value> =
        asked.iter().zip(outcomes).map(|(asked, outcome)| answer(asked, outcome)).collect();
    let mut object = Map::new();
    object.insert("answers".into(), Value::Array(answers));
    as_json::add_formula(&mut object, options.formula);
    object.insert("lights".into(), light::names(options.lights.as_ref()));
    object.insert("within".into(), json!(options.limit.map(dyekin_core::DeltaE::value)));
    object.insert("tables".into(), as_json::tables(tables));
    Value::Object(object)
}

fn answer(asked: &str, (standard, result): &Outcome) -> Value {
    let mut object = question(asked, standard);
    let (matches, beyond, error) = match result {
        Ok(found) => (found.matches.as_slice(), found.beyond.as_ref(), None),
        Err(error) => (&[] as &[Hit], None, Some(error)),
    };
    let with_words = |hit: &Hit| beside(standard, hit);
    object.insert("matches".into(), matches.iter().map(with_words).collect());
    let more = result.as_ref().map_or(0, |found| found.more_as_near);
    object.insert("more_as_near".into(), json!(more));
    let left_out = result.as_ref().map_or(0, |found| found.left_out);
    object.insert("left_out".into(), json!(left_out));
    object.insert("beyond_limit".into(), beyond.map_or(Value::Null, with_words));
    object.insert("error".into(), error.map_or(Value::Null, as_json::problem));
    Value::Object(object)
}

/// What was asked, as JSON.
pub(super) fn question(asked: &str, standard: &Standard) -> Map<String, Value> {
    let mut object = Map::new();
    object.insert("asked".into(), json!(asked));
    object.insert("color".into(), as_json::color(standard.color()));
    if let Standard::Thread(wanted, thread) = standard {
        object.insert("thread".into(), Value::Object(as_json::thread(&wanted.table, thread)));
    }
    object
}

/// A thread as JSON, and whether its listed value is that of what was asked for.
pub(super) fn beside(standard: &Standard, hit: &Hit) -> Value {
    let mut value = as_json::hit(hit);
    if let Value::Object(members) = &mut value {
        let same = same_listed(standard.color(), &hit.thread.color);
        members.insert("same_listed_value".into(), json!(same));
    }
    value
}

#[cfg(test)]
mod tests {
    use dyekin_core::{Catalog, Code, Formula, Srgb8, Table, TableId, Thread};

    use super::*;
    use crate::backend::scripted::{Asked, Scripted};
    use crate::failure::Failure;

    fn catalog() -> Catalog {
        let thread = |code: &str, hex: &str| {
            let color = Color::screen(Srgb8::parse_hex(hex).unwrap());
            Thread::plain(Code::parse(code).unwrap(), "", color)
        };
        let threads =
            vec![thread("A1", "#102030"), thread("A2", "#405060"), thread("A3", "#f0f0f0")];
        Catalog::build([Table::new(TableId::parse("a").unwrap(), threads).unwrap()])
    }

    fn shop(failure: Option<Failure>) -> (Shop, Asked) {
        let (mut backend, asked) = Scripted::new(catalog());
        if let Some(failure) = failure {
            backend = backend.failing("match_threads", failure);
        }
        (Shop::of(Box::new(backend), vec![TableId::parse("a").unwrap()]), asked)
    }

    fn options() -> NearestOptions {
        NearestOptions {
            tables: Vec::new(),
            count: 1,
            formula: Formula::DEFAULT,
            adaptation: None,
            lights: None,
            limit: None,
            filter: ThreadFilter::default(),
            count_as_near: true,
        }
    }

    fn texts(texts: &[&str]) -> Vec<String> {
        texts.iter().map(|text| (*text).to_owned()).collect()
    }

    #[test]
    fn numbers_are_told_in_runs() {
        for (numbers, said) in [
            (vec![1], "1"),
            (vec![1, 2], "1 and 2"),
            (vec![1, 2, 3], "1 to 3"),
            (vec![1, 3], "1 and 3"),
            (vec![1, 2, 3, 5, 7], "1 to 3, 5 and 7"),
            (vec![1, 2, 9, 10, 11, 12], "1, 2 and 9 to 12"),
        ] {
            assert_eq!(listed(runs(&numbers).into_iter()), said);
        }
    }

    #[test]
    fn colors_and_threads_are_asked_once_each_and_come_back_in_order() {
        let (mut shop, asked) = shop(None);
        let standards = shop.resolve(&texts(&["A1", "#f0f0f0", "a:A2", "#405060"])).unwrap();
        asked.borrow_mut().clear();
        let (outcomes, tables) = ask(&mut shop, standards, &options(), false).unwrap();
        assert_eq!(*asked.borrow(), ["match_colors 2", "match_threads 2"]);
        let codes: Vec<String> = outcomes
            .iter()
            .map(|(_, found)| found.as_ref().unwrap().matches[0].thread.code.to_string())
            .collect();
        assert_eq!(codes, ["A2", "A3", "A1", "A2"]);
        assert_eq!(tables.len(), 1);
    }

    #[test]
    fn a_failure_of_the_backend_ends_the_command() {
        let failure = Failure::TimedOut { server: "http://x".into() };
        let (mut shop, _) = shop(Some(failure.clone()));
        let standards = shop.resolve(&texts(&["A1"])).unwrap();
        assert_eq!(ask(&mut shop, standards, &options(), false).unwrap_err(), failure);
        assert_eq!(failure.exit(), Exit::Unreachable);
    }
}
