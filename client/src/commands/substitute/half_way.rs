//! `dyekin substitute --done … --left …`: what is stitched and what is left, checked, and the chart
//! told apart by what becomes of it. It does not choose threads.

use std::path::{Path, PathBuf};

use dyekin_core::error::{Error, ErrorKind};
use dyekin_core::{Srgb8, ThreadRef};

use super::super::chart_work::ChartWork;
use crate::chart::problems::bad_value;
use crate::chart::{self, Chart, KeyThread, Size};
use crate::cli::{HalfWayArgs, SubstituteArgs};
use crate::failure::{Failure, Result};
use crate::files;
use crate::half_way::{
    self, Basis, COUNTS, Done, DoneWhere, Left, Question, STRANDS_SOLD, SaidDone, SaidLeft,
    ThreadPlan,
};
use crate::summary::OfColor;

/// What was found about a piece half-way through; nothing where nobody asked.
#[derive(Debug, Default)]
pub(super) struct HalfWay {
    /// Colors of the summary that stay in a missing thread.
    pub(super) staying: Vec<usize>,
    pub(super) threads: Vec<ThreadPlan>,
}

/// True when something of it was typed.
pub(super) fn is_asked(typed: &HalfWayArgs) -> bool {
    !typed.done.is_empty() || !typed.left.is_empty()
}

/// The pictures that say what is stitched.
pub(super) fn pictures(typed: &HalfWayArgs) -> Vec<PathBuf> {
    let picture = |text: &String| match half_way::said_done(text).ok()?.place {
        DoneWhere::Picture(path) => Some(path),
        DoneWhere::Cells { .. } => None,
    };
    typed.done.iter().filter_map(picture).collect()
}

/// Everything typed that has a say in the choice, by the names of the options.
pub(super) fn settings(typed: &HalfWayArgs) -> Vec<(String, String)> {
    let lists = [("done", &typed.done), ("left", &typed.left)];
    let lists = lists.into_iter().filter(|(_, texts)| !texts.is_empty());
    let mut settings: Vec<(String, String)> =
        lists.map(|(name, texts)| (name.to_owned(), texts.join("; "))).collect();
    settings.extend(typed.count.map(|count| ("count".to_owned(), count.to_string())));
    settings
}

/// Finds what to finish and what to give away, and tells the chart's colors apart by it.
pub(super) fn prepare(
    typed: &SubstituteArgs,
    work: &mut ChartWork,
    missing: &[ThreadRef],
) -> Result<HalfWay> {
    let own = &typed.half_way;
    if !is_asked(own) {
        return match own.count {
            None => Ok(HalfWay::default()),
            Some(count) => Err(Failure::said(
                format!("--count {count}: nothing asks how far what is left reaches"),
                "give --left with it",
            )),
        };
    }
    let Some(chart) = work.chart().cloned() else {
        return Err(Failure::said(
            "--done and --left: a key alone does not say where stitches are",
            "give the chart",
        ));
    };
    let mut problems = Vec::new();
    let done = done(own, chart.size(), &mut problems)?;
    let left = left(own, work, missing, &mut problems)?;
    let basis = basis(typed, &mut problems);
    let (Some(basis), true) = (basis, problems.is_empty()) else {
        return Err(problems.into());
    };
    let held = held(&chart, &typed.plan.chart.keep);
    let question = Question { chart: &chart, done: &done, held: &held, basis, left: &left };
    let plan = half_way::plan(&question)?;
    let (apart, staying) = plan.apart(&chart)?;
    work.tell_apart(&typed.plan.chart.keep, &apart)?;
    Ok(HalfWay { staying: places(work, &staying), threads: plan.threads })
}

/// The colors of the summary that stay, outside of what is told apart.
fn places(work: &ChartWork, staying: &[OfColor]) -> Vec<usize> {
    let stays = |color: Srgb8, threads: &[KeyThread]| {
        staying.iter().any(|of| of.color == color && of.threads == threads)
    };
    let places = work.summary.places().iter().enumerate();
    places
        .filter(|(_, place)| place.portion().is_none() && stays(place.color(), place.threads()))
        .map(|(number, _)| number)
        .collect()
}

/// The cells in which stitches, lines and knots are worked.
fn done(typed: &HalfWayArgs, size: Size, problems: &mut Vec<Error>) -> Result<Done> {
    let nothing = vec![false; size.cells()];
    let mut done =
        Done { stitches: nothing.clone(), lines: nothing.clone(), knots: nothing.clone() };
    for text in &typed.done {
        let SaidDone { what, place } = match half_way::said_done(text) {
            Ok(said) => said,
            Err(problem) => {
                problems.push(problem);
                continue;
            }
        };
        let mut cells = nothing.clone();
        match place {
            DoneWhere::Cells { rows, columns, typed } => {
                let found = half_way::mark(&mut cells, (&rows, &columns, &typed), size);
                problems.extend(found.err().into_iter().flatten());
            }
            DoneWhere::Picture(path) if !path.exists() && !is_png(&path) => {
                let reason = "neither rows or columns nor a file that is there";
                problems.push(bad_value(text.trim(), reason, half_way::DONE_REMEDY));
            }
            DoneWhere::Picture(path) => {
                let bytes = files::read(&path)?;
                match chart::marks(&bytes, &path.to_string_lossy(), size) {
                    Ok(marks) => cells = marks,
                    Err(refused) => problems.extend(refused.problems),
                }
            }
        }
        let kinds = [
            (what.stitches, &mut done.stitches),
            (what.lines, &mut done.lines),
            (what.knots, &mut done.knots),
        ];
        for (_, own) in kinds.into_iter().filter(|(is_meant, _)| *is_meant) {
            own.iter_mut().zip(&cells).for_each(|(own, cell)| *own |= cell);
        }
    }
    Ok(done)
}

/// True for the name of a picture.
fn is_png(path: &Path) -> bool {
    path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("png"))
}

/// What is left of each missing thread, with the strands that it is sold with.
fn left(
    typed: &HalfWayArgs,
    work: &mut ChartWork,
    missing: &[ThreadRef],
    problems: &mut Vec<Error>,
) -> Result<Vec<(Left, u8)>> {
    let mut said: Vec<SaidLeft> = Vec::new();
    for text in &typed.left {
        match half_way::said_left(text) {
            Ok(read) => said.push(read),
            Err(problem) => problems.push(problem),
        }
    }
    for held in &said {
        let meant: Vec<&ThreadRef> = missing.iter().filter(|thread| held.means(thread)).collect();
        if meant.len() != 1 {
            problems.push(unclear(held, &meant, missing));
        }
    }
    let mut left = Vec::new();
    for (thread, known) in missing.iter().zip(work.shop.backend.threads(missing)?) {
        let mut own = said.iter().filter(|held| held.means(thread));
        let (first, second) = (own.next(), own.next());
        if let Some(second) = second {
            let reason = format!("a second amount of {thread}");
            problems.push(bad_value(second.typed(), reason, "write one amount for each thread"));
        }
        let Some(first) = first else {
            problems.push(Error::new(ErrorKind::BadValue {
                value: thread.to_string(),
                reason: "nobody says how much of it is left".into(),
                remedy: format!("add --left \"{0} 4.2 m\", or --left \"{0} 0\"", typed_as(thread)),
            }));
            continue;
        };
        let known = known.ok();
        let skein = known.as_ref().and_then(|known| known.skein_metres);
        let sold = known.as_ref().and_then(|known| known.strands).unwrap_or(STRANDS_SOLD);
        match first.of(thread, skein) {
            Ok(amount) => left.push((amount, sold)),
            Err(problem) => problems.push(problem),
        }
    }
    Ok(left)
}

/// A thread as it is typed.
fn typed_as(thread: &ThreadRef) -> String {
    format!("{}:{}", thread.table, thread.code)
}

/// An amount of a thread that is not missing, or not surely one.
fn unclear(said: &SaidLeft, meant: &[&ThreadRef], missing: &[ThreadRef]) -> Error {
    let named = |threads: &[&ThreadRef]| -> Vec<String> {
        threads.iter().map(|thread| typed_as(thread)).collect()
    };
    let all: Vec<&ThreadRef> = missing.iter().collect();
    let (reason, remedy) = match meant {
        [] => {
            ("no missing thread has this code", format!("missing are: {}", named(&all).join(", ")))
        }
        _ => (
            "several missing threads have this code",
            format!("write {}", named(meant).join(" or ")),
        ),
    };
    bad_value(said.typed(), reason, &remedy)
}

/// What thread use rests on.
fn basis(typed: &SubstituteArgs, problems: &mut Vec<Error>) -> Option<Basis> {
    match (typed.meters_per_stitch, typed.half_way.count) {
        (Some(meters), _) => Some(Basis::MetersPerStitch(meters)),
        (None, Some(count)) if (COUNTS.0..=COUNTS.1).contains(&count) => Some(Basis::Count(count)),
        (None, Some(count)) => {
            let reason = format!("outside {} to {} stitches to the inch", COUNTS.0, COUNTS.1);
            problems.push(bad_value(&format!("--count {count}"), reason, "write for example 14"));
            None
        }
        (None, None) => {
            problems.push(bad_value(
                "--left",
                "nobody says how much thread a stitch takes",
                "add --count with the stitches to the inch, such as 14, or --meters-per-stitch",
            ));
            None
        }
    }
}

/// The cells of kept areas.
fn held(chart: &Chart, keep: &[String]) -> Vec<bool> {
    let mut held = vec![false; chart.size().cells()];
    let names: Vec<&str> =
        keep.iter().filter_map(|text| super::super::chart_work::area_name(text)).collect();
    let kept = chart.areas().iter().filter(|area| names.contains(&area.name().as_str()));
    for run in kept.flat_map(chart::Area::runs) {
        let Some(first) = chart.size().place(run.x, run.y) else { continue };
        held.iter_mut().skip(first).take(run.count.into()).for_each(|cell| *cell = true);
    }
    held
}
