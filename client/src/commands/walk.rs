//! A walk over several charts: each worked on by itself, shown in its turn, with a bar meanwhile.
//! It does not know what a command does to a chart, nor whether anything is written.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use serde_json::Value;

use super::chart_work::{ChartWork, ReadChart, Typed};
use super::shop::{Again, Shop};
use crate::cli::{ShowArgs, WalkArgs};
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files;
use crate::many::{
    Bar, ChartFile, Gathered, Heard, Outcome, Run, Slot, State, Told, gather, summary,
};
use crate::printer::Printer;
use crate::report::growing::{Around, Growing};
use crate::report::{counted, text};

/// Columns for what is kept of a chart: it is wrapped when it is shown.
const UNWRAPPED: usize = 100_000;

/// Charts to go through.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Walk<'t> {
    /// What the user typed behind `dyekin`.
    pub(crate) command: &'static str,
    pub(crate) charts: &'t [PathBuf],
    pub(crate) walk: &'t WalkArgs,
    pub(crate) show: ShowArgs,
}

/// The only chart that was typed, when it is one; `None` when there are several.
pub(crate) fn lone<'t>(charts: &'t [PathBuf], walk: &WalkArgs) -> Result<Option<&'t Path>> {
    let [chart] = charts else { return Ok(None) };
    if files::is_folder(chart) {
        return Ok(None);
    }
    match walk.typed() {
        None => Ok(Some(chart)),
        Some(option) => Err(Failure::said(
            format!("{option} is for several charts, and {} is one", files::shown(chart)),
            format!("leave {option} out, or give a folder of charts"),
        )),
    }
}

/// What a walk answers with.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Form<'f> {
    /// Lines for people.
    Lines,
    /// A document for programs, written as it grows: what is around its list, and what a chart, or a
    /// folder inside that cannot be read, adds to it.
    Document(&'f [Around], Items),
}

/// What a chart or a folder adds to a document.
pub(crate) type Items = fn(&Path, &State) -> Vec<Value>;

/// The work on one chart.
pub(crate) type Work<'w> = dyn Fn(&mut Slot, &ChartFile) -> State + Sync + 'w;

/// Who hears of each chart that is over.
pub(crate) type Over<'o> = dyn FnMut(&ChartFile, &State) -> Result<()> + 'o;

/// What a walk came to.
#[derive(Debug)]
pub(crate) struct Walked {
    pub(crate) told: Told,
    /// The document, to be closed.
    pub(crate) document: Option<Growing>,
    /// What ended the walk beside the charts themselves.
    pub(crate) trouble: Option<Failure>,
}

impl Walk<'_> {
    /// Finds the charts, without the tables and folders of the run itself, and says what is left out.
    pub(crate) fn gather(&self, own: &[&Path]) -> Result<Gathered> {
        if self.walk.jobs == Some(0) {
            return Err(Failure::said("--jobs 0: nobody would work", "write 1 or more"));
        }
        gather(self.charts, self.walk.recursive, own)
    }

    /// Goes through the charts. `over` hears of each that is over, as soon as it is.
    pub(crate) fn go(
        &self,
        gathered: &Gathered,
        form: Form<'_>,
        (work, over): (&Work<'_>, &mut Over<'_>),
        printer: &mut Printer,
    ) -> Walked {
        for line in summary::left_out(&gathered.left_out) {
            wrapped(&line, printer);
        }
        let (charts, stop) = (&gathered.charts, printer.stop_flag());
        let mut shown = Shown::begin(form, self.show);
        for (path, failure) in &gathered.unread {
            text::failure(failure).iter().for_each(|line| printer.error(line));
            shown.add(path, &State::Failed(failure.clone()), printer);
        }
        let mut bar = Bar::new(self.command, charts.len());
        let mut waiting: BTreeMap<usize, State> = BTreeMap::new();
        let (mut next, mut unreachable, mut trouble) = (0, false, None);
        let at = |slot: &mut Slot, place: usize| match charts.get(place) {
            Some(chart) => work(slot, chart),
            None => State::Failed(Failure::Bug { what: format!("no chart {place}") }),
        };
        let (count, at_once) = (charts.len(), self.walk.jobs);
        Run { count, at_once, stop: &stop, work: &at }.go(|heard| {
            if let Heard::Over(place, state) = heard {
                bar.over += 1;
                bar.worked += usize::from(!matches!(state, State::Skipped(_)));
                unreachable |= matches!(&state, State::Failed(Failure::Unreachable { .. }));
                if let Some(chart) = charts.get(place) {
                    trouble = trouble.take().or_else(|| over(chart, &state).err());
                }
                waiting.insert(place, state);
                while let (Some(state), Some(chart)) = (waiting.remove(&next), charts.get(next)) {
                    shown.chart(chart, &state, printer);
                    next += 1;
                }
            }
            if printer.shows_progress()
                && let Some(line) = bar.due(printer.width())
            {
                printer.draw(&line);
            }
            !unreachable && trouble.is_none()
        });
        printer.wipe();
        // A walk that was stopped has gaps: what is behind them is done all the same.
        for (place, state) in &waiting {
            if let Some(chart) = charts.get(*place) {
                shown.chart(chart, state, printer);
            }
        }
        let Shown { mut told, document, .. } = shown;
        let folders = gathered.unread.len();
        told.left = (charts.len() + folders).saturating_sub(told.done + told.skipped + told.failed);
        Walked { told, document: document.map(|(document, _)| document), trouble }
    }

    /// What is said last, beside the answer; and how the run ends.
    pub(crate) fn end(&self, end: &End<'_>, printer: &mut Printer) -> Exit {
        if end.notes > 0 && !self.show.details {
            let said = counted(end.notes as u64, "note", "notes");
            printer.note(&format!("note: {said} about these charts; --details shows them"));
        }
        end.cautions.iter().for_each(|words| printer.caution(words));
        let stopped = printer.is_stopped();
        if stopped || end.left > 0 {
            printer.error("error: stopped before all charts were done");
            if let Some(hint) = end.hint {
                printer.error(&format!("hint: {hint}"));
            }
        }
        if stopped { Exit::Stopped } else { end.worst }
    }
}

/// What was shown so far.
struct Shown {
    show: ShowArgs,
    told: Told,
    document: Option<(Growing, Items)>,
}

impl Shown {
    fn begin(form: Form<'_>, show: ShowArgs) -> Self {
        let document = match form {
            Form::Lines => None,
            Form::Document(around, items) => Some((Growing::open(around), items)),
        };
        Self { show, told: Told::default(), document }
    }

    /// Counts a chart or a folder, and lets the document grow by it.
    fn add(&mut self, path: &Path, state: &State, printer: &mut Printer) {
        self.told.add(state);
        if let Some((document, items)) = &mut self.document {
            items(path, state).iter().for_each(|item| document.add(item, printer));
        }
    }

    /// A chart that is over, in its turn.
    fn chart(&mut self, chart: &ChartFile, state: &State, printer: &mut Printer) {
        self.add(&chart.path, state, printer);
        if self.document.is_none() {
            let mut lines = summary::lines(chart, state).into_iter();
            let width = printer.width();
            for line in lines.next().iter().flat_map(|line| text::wrap(line, width, 2)) {
                printer.data(&line);
            }
            lines.for_each(|line| printer.data(&line));
        }
        match state {
            State::Failed(failure) if failure.exit() != Exit::Stopped => {
                for line in summary::failure(chart, failure) {
                    printer.error(&line);
                }
            }
            State::Done(outcome) if self.show.details => {
                for note in &outcome.notes {
                    wrapped(&format!("note: {}: {note}", files::shown(&chart.path)), printer);
                }
            }
            State::Done(_) | State::Failed(_) | State::Skipped(_) => {}
        }
    }
}

/// How a walk ends.
#[derive(Clone, Debug)]
pub(crate) struct End<'e> {
    pub(crate) notes: usize,
    pub(crate) left: usize,
    pub(crate) worst: Exit,
    /// What to know before acting on the answers.
    pub(crate) cautions: Vec<&'e str>,
    /// What to do after a stop.
    pub(crate) hint: Option<&'e str>,
}

impl<'e> End<'e> {
    pub(crate) fn of(told: &Told) -> Self {
        Self {
            notes: told.notes,
            left: told.left,
            worst: told.worst.unwrap_or(Exit::Done),
            cautions: told.cautions.iter().map(|caution| caution.words()).collect(),
            hint: None,
        }
    }
}

/// One chart with a shop that its worker keeps from chart to chart. What is said is kept as notes.
pub(crate) fn one(
    slot: &mut Slot,
    (again, stop): (&Again, &Arc<AtomicBool>),
    work: impl FnOnce(Shop, &mut Printer) -> (Shop, Result<Outcome>),
) -> State {
    let shop = match slot.take().map_or_else(|| again.open(Arc::clone(stop)), Ok) {
        Ok(shop) => shop,
        Err(failure) => return State::Failed(failure),
    };
    let (mut printer, captured) = Printer::kept(UNWRAPPED, Arc::clone(stop));
    let (shop, done) = work(shop, &mut printer);
    *slot = Some(shop);
    match done {
        Ok(mut outcome) => {
            let said = captured.err();
            let said = said.lines().map(|line| line.trim_start_matches("note: ").to_owned());
            outcome.notes.splice(0..0, said);
            State::Done(Box::new(outcome))
        }
        Err(failure) => State::Failed(failure),
    }
}

/// Reads a chart and works on it; the shop comes back in any case.
pub(crate) fn with_chart<T>(
    mut shop: Shop,
    typed: Typed<'_>,
    printer: &mut Printer,
    work: impl FnOnce(&mut ChartWork, &mut Printer) -> Result<T>,
) -> (Shop, Result<T>) {
    match ReadChart::read(&mut shop, typed, printer) {
        Err(failure) => (shop, Err(failure)),
        Ok(read) => {
            let mut held = read.with(shop);
            let done = work(&mut held, printer);
            (held.shop, done)
        }
    }
}

/// A note, wrapped.
pub(crate) fn wrapped(line: &str, printer: &mut Printer) {
    for line in text::wrap(line, printer.width(), 2) {
        printer.note(&line);
    }
}
