//! `dyekin check` over several charts: a line for each, all notes of those that must be mended.
//! It does not find notes and does not know how the walk goes.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use serde_json::{Map, Value};

use super::super::several;
use super::super::walk::{End, Walk};
use super::Checker;
use crate::check::{Checked, Degree, Limits};
use crate::cli::{CheckArgs, ShowArgs};
use crate::exit::Exit;
use crate::failure::Result;
use crate::many::{About, Counted, Gathered, Outcome, State, Told as Totals};
use crate::printer::Printer;
use crate::report::check::{Names, Told, sarif, to};
use crate::report::{counted, json as as_json, text, thousands};

pub(super) fn run(
    typed: &CheckArgs,
    open: impl FnOnce(&mut Printer) -> Result<super::Tables>,
    limits: &Limits,
    printer: &mut Printer,
) -> Result<Exit> {
    several::refuse(&[(
        "--key",
        typed.key.is_some(),
        "give the one chart that the key is sold with",
    )])?;
    // A log is for programs, as JSON is: nothing stands beside it.
    let show = ShowArgs { json: typed.show.json || typed.sarif, ..typed.show };
    let walk = Walk { command: "check", charts: &typed.charts, walk: &typed.walk, show };
    let mut own: Vec<&Path> = typed.read.from.as_deref().into_iter().collect();
    own.extend(typed.profile.as_deref());
    if typed.tables.reading.server.is_none() {
        own.extend(typed.tables.tables.iter().map(PathBuf::as_path));
    }
    let gathered = walk.gather(&own)?;
    let tables = open(printer)?;
    let checker = Checker::new(typed, &tables, limits, None)?;
    let width = printer.width();
    let log: Mutex<BTreeMap<PathBuf, Checked>> = Mutex::default();
    let walked = walk.go(
        &gathered,
        &|_, chart| match one(typed, &checker, (&chart.path, &log), width) {
            Ok(outcome) => State::Done(Box::new(outcome)),
            Err(failure) => State::Failed(failure),
        },
        &mut |_, _| Ok(()),
        printer,
    );
    if typed.sarif {
        let log = log.into_inner().unwrap_or_else(PoisonError::into_inner);
        printer.data(&as_json::to_text(&logged(typed, &gathered, &log, limits)));
    }
    Ok(tell(typed, &walk, walked.told, &gathered, printer))
}

/// Notes of each degree, and charts that have some, by the names of their totals.
const COUNTS: [(Degree, &str, &str); 3] = [
    (Degree::Fix, "fix", "charts_fix"),
    (Degree::Look, "look", "charts_look"),
    (Degree::Information, "information", "charts_information"),
];

/// One of the charts.
fn one(
    typed: &CheckArgs,
    checker: &Checker<'_>,
    (path, log): (&Path, &Mutex<BTreeMap<PathBuf, Checked>>),
    width: usize,
) -> Result<Outcome> {
    let found = checker.check(path)?;
    let names = Names::with(typed, &path.to_string_lossy());
    let told = Told { checked: &found.checked, names: &names };
    let fails = typed.fail_on.is_some_and(|degree| found.checked.reaches(degree));
    let mut lines = vec![told.of_chart()];
    if typed.show.details || found.checked.reaches(typed.fail_on.unwrap_or(Degree::Fix)) {
        let inner = width.saturating_sub(2);
        let notes = told.notes(typed.show.details, inner);
        lines.extend(notes.into_iter().map(|line| format!("  {line}").trim_end().to_owned()));
    }
    let mut counts = vec![Counted { name: "stitches", number: found.checked.stitches }];
    for (degree, notes, charts) in COUNTS {
        let number = found.checked.count(degree) as u64;
        counts.push(Counted { name: notes, number });
        counts.push(Counted { name: charts, number: u64::from(number > 0) });
    }
    let facts = match (typed.show.json, told.json(typed.fail_on)) {
        (true, Value::Object(facts)) => facts,
        _ => Map::new(),
    };
    let cautions = told.cautions();
    if typed.sarif {
        let mut log = log.lock().unwrap_or_else(PoisonError::into_inner);
        log.insert(path.to_owned(), found.checked);
    }
    Ok(Outcome {
        exit: if fails { Exit::NothingMatched } else { Exit::Done },
        lines,
        facts,
        counts,
        cautions,
        input: String::new(),
        written: Vec::new(),
        notes: found.notices.iter().map(|notice| notice.text.clone()).collect(),
    })
}

/// The log of all charts that could be checked, in their order.
fn logged(
    typed: &CheckArgs,
    gathered: &Gathered,
    log: &BTreeMap<PathBuf, Checked>,
    limits: &Limits,
) -> Value {
    let found = gathered.charts.iter().filter_map(|chart| {
        let path = chart.path.as_path();
        Some((path, Names::with(typed, &path.to_string_lossy()), log.get(path)?))
    });
    let found: Vec<(&Path, Names, &Checked)> = found.collect();
    let entries: Vec<sarif::Entry<'_>> =
        found.iter().map(|(path, names, checked)| sarif::Entry { path, names, checked }).collect();
    sarif::log(&entries, limits)
}

fn tell(
    typed: &CheckArgs,
    walk: &Walk<'_>,
    told: Totals,
    gathered: &Gathered,
    printer: &mut Printer,
) -> Exit {
    let mut end = End::of(&told);
    end.hint = Some("the same command checks all charts again");
    if typed.sarif {
        return walk.end(&end, printer);
    }
    if typed.show.json {
        let about = About { command: "check", proposals: false, left_out: &gathered.left_out };
        printer.data(&as_json::to_text(&told.json(about)));
    } else {
        let width = printer.width();
        for said in [told.counts(), totals(&told)] {
            for line in text::wrap(&said, width, 2) {
                printer.data(&line);
            }
        }
    }
    walk.end(&end, printer)
}

/// The notes of all charts in words.
fn totals(told: &Totals) -> String {
    let each = COUNTS.iter().filter(|(_, notes, _)| told.total(notes) > 0);
    let said: Vec<String> = each
        .map(|(degree, notes, charts)| {
            let charts = counted(told.total(charts), "chart", "charts");
            format!("{} {} in {charts}", thousands(told.total(notes)), to(*degree))
        })
        .collect();
    match said.is_empty() {
        true => "No notes.".to_owned(),
        false => format!("Notes: {}.", said.join("; ")),
    }
}
