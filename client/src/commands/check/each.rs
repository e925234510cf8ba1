//! `dyekin check` over several charts: a line for each, all notes of those that must be mended.
//! It does not find notes and does not know how the walk goes.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use serde_json::{Map, Value};

use super::super::several;
use super::super::walk::{End, Form, Walk, Walked};
use super::Checker;
use crate::check::{Degree, Limits};
use crate::cli::CheckArgs;
use crate::exit::Exit;
use crate::failure::Result;
use crate::many::{ChartFile, Counted, Gathered, Outcome, Slot, State, Told as Totals, summary};
use crate::printer::Printer;
use crate::report::check::{Names, Told, sarif, to};
use crate::report::{counted, text, thousands};

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
    let walk =
        Walk { command: "check", charts: &typed.charts, walk: &typed.walk, show: typed.show };
    let mut own: Vec<&Path> = typed.read.from.as_deref().into_iter().collect();
    own.extend(typed.profile.as_deref());
    if typed.tables.reading.server.is_none() {
        own.extend(typed.tables.tables.iter().map(PathBuf::as_path));
    }
    let gathered = walk.gather(&own)?;
    let tables = open(printer)?;
    let checker = Checker::new(typed, &tables, limits, None)?;
    let width = printer.width();
    let document = [summary::document("check", false)];
    let log = sarif::log(limits);
    let form = match (typed.sarif, typed.show.json) {
        (true, _) => Form::Document(&log, results),
        (false, true) => Form::Document(&document, summary::items),
        (false, false) => Form::Lines,
    };
    let work = |_: &mut Slot, chart: &ChartFile| match one(typed, &checker, &chart.path, width) {
        Ok(outcome) => State::Done(Box::new(outcome)),
        Err(failure) => State::Failed(failure),
    };
    let mut checked = BTreeSet::new();
    let over = &mut |chart: &ChartFile, state: &State| {
        if matches!(state, State::Done(_)) {
            checked.insert(chart.path.clone());
        }
        Ok(())
    };
    let walked = walk.go(&gathered, form, (&work, over), printer);
    Ok(tell(typed, &walk, walked, (&gathered, &checked), printer))
}

/// Notes of each degree, and charts that have some, by the names of their totals.
const COUNTS: [(Degree, &str, &str); 3] = [
    (Degree::Fix, "fix", "charts_fix"),
    (Degree::Look, "look", "charts_look"),
    (Degree::Information, "information", "charts_information"),
];

/// One of the charts.
fn one(typed: &CheckArgs, checker: &Checker<'_>, path: &Path, width: usize) -> Result<Outcome> {
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
    let facts = if typed.sarif {
        let entry = sarif::Entry { path, names: &names, checked: &found.checked };
        Map::from_iter([(RESULTS.to_owned(), sarif::results(&entry).into())])
    } else {
        match (typed.show.json, told.json(typed.fail_on)) {
            (true, Value::Object(facts)) => facts,
            _ => Map::new(),
        }
    };
    let cautions = told.cautions();
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

/// The fact of a chart that holds its part of a SARIF log.
const RESULTS: &str = "results";

/// What a chart adds to a SARIF log.
fn results(_: &Path, state: &State) -> Vec<Value> {
    let State::Done(outcome) = state else { return Vec::new() };
    let results = outcome.facts.get(RESULTS).and_then(Value::as_array);
    results.cloned().unwrap_or_default()
}

fn tell(
    typed: &CheckArgs,
    walk: &Walk<'_>,
    Walked { told, document, .. }: Walked,
    (gathered, checked): (&Gathered, &BTreeSet<PathBuf>),
    printer: &mut Printer,
) -> Exit {
    let mut end = End::of(&told);
    end.hint = Some("the same command checks all charts again");
    if let Some(document) = document {
        let members = if typed.sarif {
            let charts = gathered.charts.iter().map(|chart| chart.path.as_path());
            sarif::artifacts(charts.filter(|path| checked.contains(*path)))
        } else {
            told.json(&gathered.left_out)
        };
        document.close(&members, printer);
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
