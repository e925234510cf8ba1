//! A chart on the table: read, summed up, with what the user said about keeps and threads.
//! It does not know which question is asked of it.

use std::path::{Path, PathBuf};

use dyekin_core::error::{Error, ErrorKind, harmless};
use dyekin_core::nearest::ThreadFilter;
use dyekin_core::planner::{Answered, Ask, Keep};
use dyekin_core::table::Finish;
use dyekin_core::{Table, TableId, ThreadRef};

use super::shop::{Need, Shop};
use crate::asked::{self, Asked};
use crate::change_file::{ChangeFile, ColorRef, Fitted};
use crate::chart::{self, Chart, ChartHash, Content, FileKind, KeyThread, Label, ReadOptions};
use crate::cli::{ReadArgs, TableArgs};
use crate::failure::{Failure, Result};
use crate::files;
use crate::printer::Printer;
use crate::report::changes::color_name;
use crate::report::{counted, text};
use crate::settings::{Measure, Wanted};
use crate::summary::{Apart, Summary, SummaryOptions};

/// A chart, or a key alone, with the backend that is asked about it.
#[derive(Debug)]
pub(crate) struct ChartWork {
    pub(crate) path: PathBuf,
    pub(crate) shop: Shop,
    pub(crate) content: Content,
    pub(crate) before: Before,
    pub(crate) summary: Summary,
}

/// A chart that was read, without a backend.
#[derive(Debug)]
pub(crate) struct ReadChart {
    path: PathBuf,
    content: Content,
    before: Before,
    summary: Summary,
}

impl ReadChart {
    /// Reads the chart and sums it up, with the tables that are open.
    pub(crate) fn read(shop: &mut Shop, typed: Typed<'_>, printer: &mut Printer) -> Result<Self> {
        let bytes = files::read(typed.chart)?;
        let table = if has_codes(&bytes) { owner(shop, typed.bare)? } else { None };
        let source_name = typed.chart.to_string_lossy();
        let options = ReadOptions {
            source_name: &source_name,
            table: table.as_ref(),
            picture: typed.read.picture.options(),
        };
        let chart::Loaded { content, kind, notices } = chart::read(&bytes, &options)?;
        let summary = sum_up(&content, (typed.keep, typed.shading), typed.apart)?;
        for notice in notices.iter().chain(summary.notices()) {
            printer.note(&text::notice(&source_name, notice));
        }
        let before = Before { kind, bytes };
        Ok(Self { path: typed.chart.to_owned(), content, before, summary })
    }

    /// The chart with the backend that is asked about it.
    pub(crate) fn with(self, shop: Shop) -> ChartWork {
        let Self { path, content, before, summary } = self;
        ChartWork { path, shop, content, before, summary }
    }
}

/// The chart's file as it was read.
#[derive(Clone, Debug)]
pub(crate) struct Before {
    pub(crate) kind: FileKind,
    pub(crate) bytes: Vec<u8>,
}

/// Whose codes the bare codes of a chart are when nobody says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum BareCodes {
    /// Those of the only table given.
    OfTheTable,
    /// Nobody's: `--from` must say.
    Unknown,
}

/// What is read beside the tables: the chart as typed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Typed<'t> {
    pub(crate) chart: &'t Path,
    pub(crate) read: &'t ReadArgs,
    pub(crate) keep: &'t [String],
    /// Areas whose colors are told apart beside those that are kept.
    pub(crate) shading: &'t [String],
    /// Cells of some colors that are told apart from the rest of these colors.
    pub(crate) apart: Option<&'t Apart>,
    pub(crate) tables: &'t TableArgs,
    pub(crate) need: Need,
    pub(crate) bare: BareCodes,
}

/// Colors that a note names.
const NAMED: usize = 5;

impl ChartWork {
    /// Opens the tables and reads the chart.
    pub(crate) fn open(typed: Typed<'_>, printer: &mut Printer) -> Result<Self> {
        let from = typed.read.from.as_deref();
        let mut shop = Shop::open(typed.tables, from, typed.need, printer)?;
        Ok(ReadChart::read(&mut shop, typed, printer)?.with(shop))
    }

    /// Tells cells of some colors apart from the rest of these colors.
    pub(crate) fn tell_apart(&mut self, keep: &[String], apart: &Apart) -> Result<()> {
        self.summary = sum_up(&self.content, (keep, &[]), Some(apart))?;
        Ok(())
    }

    /// The chart, when there is more than a key.
    pub(crate) fn chart(&self) -> Option<&Chart> {
        match &self.content {
            Content::Chart(chart) => Some(chart),
            Content::Key(_) => None,
        }
    }

    /// What all palette questions share.
    pub(crate) fn ask(
        &mut self,
        measure: Measure,
        filter: ThreadFilter,
        keep: &[String],
        answers: Vec<Answered>,
    ) -> Result<Ask> {
        Ok(Ask {
            tables: self.shop.tables.clone(),
            formula: measure.formula,
            adaptation: measure.adaptation,
            filter,
            keeps: self.keeps(keep)?,
            answers,
        })
    }

    /// The filter for colors that get threads: plain ones, and the finishes that the chart has
    /// already, unless the user names finishes.
    pub(crate) fn filter(&mut self, wanted: &Wanted) -> Result<ThreadFilter> {
        let mut filter = self.shop.filter(wanted)?;
        if wanted.finish_stated {
            return Ok(filter);
        }
        filter.finishes = vec![Finish::Plain];
        let used = self.used_threads();
        for thread in self.shop.backend.threads(&used)?.into_iter().flatten() {
            if !filter.finishes.contains(&thread.finish) {
                filter.finishes.push(thread.finish);
            }
        }
        Ok(filter)
    }

    /// The threads of the chart, each once.
    pub(crate) fn used_threads(&self) -> Vec<ThreadRef> {
        let all = self.summary.places().iter().flat_map(|place| place.thread_refs());
        all.collect::<std::collections::BTreeSet<_>>().into_iter().collect()
    }

    /// Says when the chart's threads come from another version of a table that is given.
    pub(crate) fn note_other_versions(&mut self, printer: &mut Printer) -> Result<()> {
        let heads = self.shop.backend.list_tables()?;
        let mut told: Vec<TableId> = Vec::new();
        for held in self.summary.places().iter().flat_map(|place| place.threads()) {
            let KeyThread { thread, table_hash } = held;
            let differs = |head: &&crate::backend::TableHead| {
                head.id == thread.table && head.hash != *table_hash
            };
            if heads.iter().any(|head| differs(&head)) && !told.contains(&thread.table) {
                printer.note(&format!(
                    "note: the chart was made with another version of table {}; its codes are taken as they are now",
                    thread.table
                ));
                told.push(thread.table.clone());
            }
        }
        Ok(())
    }

    /// Says which threads of the chart a table that is given does not have.
    pub(crate) fn note_unknown_threads(&mut self, printer: &mut Printer) -> Result<()> {
        let heads = self.shop.backend.list_tables()?;
        let mut used = self.used_threads();
        used.retain(|thread| heads.iter().any(|head| head.id == thread.table));
        let (_, unknown) = self.shop.known(&used)?;
        for error in unknown {
            printer.note(&format!(
                "note: {}; for the chart's use of it, the color in the chart's key counts",
                harmless(&error.kind().to_string())
            ));
        }
        Ok(())
    }

    /// The list as it fits the chart. A list of another chart or key is refused, unless the chart
    /// was corrected since; one of tables that have changed since always is.
    pub(crate) fn fitted(
        &mut self,
        file: ChangeFile,
        (path, corrected): (&Path, bool),
        printer: &mut Printer,
    ) -> Result<Fitted> {
        self.check_tables(&file, path)?;
        let places = self.summary.places();
        let fits = |of: &ColorRef| {
            places.get(of.color).is_some_and(|place| place.threads() == of.before.as_slice())
        };
        let mut all = file.changes.iter().map(|change| &change.of).chain(&file.unchanged);
        if file.chart == self.summary.chart() && all.all(fits) {
            return Ok(Fitted { file, gone: Vec::new(), new: Vec::new() });
        }
        if !corrected {
            let done = file.chart_after.is_some() && file.chart_after == self.summary.chart();
            return Err(self.of_another(path, done));
        }
        let fitted = file.fitted(&self.summary)?;
        if fitted.file.changes.is_empty() && !file.changes.is_empty() {
            return Err(self.of_another(path, false));
        }
        for line in self.told_apart(&file, &fitted) {
            printer.note(&line);
        }
        Ok(fitted)
    }

    fn of_another(&self, path: &Path, done: bool) -> Failure {
        let reading = format!("reading {}", files::shown(path));
        let chart = files::shown(&self.path);
        if done {
            return Failure::said(
                format!("{reading}: the changes are already carried out in {chart}"),
                "give the chart as it was before",
            );
        }
        Failure::said(
            format!("{reading}: the list was made for another chart than {chart}"),
            "give the chart that the list was made for; if it was corrected since, add --corrected",
        )
    }

    /// What a corrected chart has and has not of a list.
    fn told_apart(&self, file: &ChangeFile, fitted: &Fitted) -> Vec<String> {
        let short = |hash: Option<ChartHash>| {
            hash.map_or_else(
                || "a key alone".to_owned(),
                |hash| format!("{:.12}", hash.to_string()),
            )
        };
        let (then, now) = (short(file.chart), short(self.summary.chart()));
        let mut told = vec![format!("note: the list was made for chart {then}, and this is {now}")];
        let named = |names: Vec<String>| {
            let shown: Vec<String> = names.iter().take(NAMED).cloned().collect();
            let more = if names.len() > NAMED { ", …" } else { "" };
            format!("{}{more}", shown.join(", "))
        };
        if !fitted.gone.is_empty() {
            let names = fitted.gone.iter().map(|of| format!("{} ({})", of.id(), of.hex)).collect();
            let count = counted(fitted.gone.len() as u64, "change is", "changes are");
            told.push(format!("note: {count} of colors that it no longer has: {}", named(names)));
        }
        if !fitted.new.is_empty() {
            let names = fitted.new.iter().map(|place| color_name(&self.summary, *place)).collect();
            let count = counted(fitted.new.len() as u64, "new color stays", "new colors stay");
            told.push(format!("note: {count} as drawn: {}", named(names)));
        }
        told
    }

    /// Refuses a list of tables that have changed since.
    fn check_tables(&mut self, file: &ChangeFile, path: &Path) -> Result<()> {
        let reading = format!("reading {}", files::shown(path));
        let heads = self.shop.backend.list_tables()?;
        for held in &file.tables {
            if heads.iter().any(|head| head.id == held.table && head.hash != held.hash) {
                return Err(Failure::said(
                    format!("{reading}: table {} has changed since the list was made", held.table),
                    "give the table as it was, or make the list again",
                ));
            }
        }
        Ok(())
    }

    /// What typed keeps mean: colors of the chart, threads of the tables, areas.
    pub(crate) fn keeps(&mut self, texts: &[String]) -> Result<Vec<Keep>> {
        let (mut keeps, mut problems) = (Vec::new(), Vec::new());
        for text in texts {
            if let Some(area) = area_name(text) {
                match self.of_area(area) {
                    Ok(found) => keeps.push(found),
                    Err(error) => problems.push(error),
                }
                continue;
            }
            match asked::parse(text, &self.shop.reading) {
                Ok(Asked::Color(color)) => match self.of_value(color.srgb(), text) {
                    Ok(found) => keeps.extend(found),
                    Err(error) => problems.push(error),
                },
                Ok(Asked::Thread { table, code }) => match self.of_thread(table, &code)? {
                    Ok(found) => keeps.extend(found),
                    Err(errors) => problems.extend(errors),
                },
                Ok(Asked::Either(color, code)) => match self.of_thread(None, &code)? {
                    Ok(found) => keeps.extend(found),
                    Err(_) => match self.of_value(color.srgb(), text) {
                        Ok(found) => keeps.extend(found),
                        Err(error) => problems.push(error),
                    },
                },
                Err(error) => problems.push(error),
            }
        }
        if problems.is_empty() { Ok(keeps) } else { Err(problems.into()) }
    }

    /// Says which of these are no areas of the chart.
    pub(crate) fn check_areas(&self, areas: &[String]) -> Result<()> {
        let problems: Vec<Error> =
            areas.iter().filter_map(|area| self.of_area(area).err()).collect();
        if problems.is_empty() { Ok(()) } else { Err(problems.into()) }
    }

    /// An area of the chart.
    fn of_area(&self, area: &str) -> std::result::Result<Keep, Error> {
        let areas = self.chart().map_or(&[] as &[_], Chart::areas);
        if areas.iter().any(|held| held.name().as_str() == area) {
            return Ok(Keep::Area(area.to_owned()));
        }
        let names: Vec<&str> = areas.iter().map(|held| held.name().as_str()).collect();
        let remedy = if names.is_empty() {
            "it names no areas (chart JSON can): keep colors or threads instead".to_owned()
        } else {
            format!("its areas are: {}", names.join(", "))
        };
        let reason = "the chart has no area of this name".to_owned();
        Err(Error::new(ErrorKind::BadValue { value: area.to_owned(), reason, remedy }))
    }

    /// The colors of the chart that have this value.
    fn of_value(
        &self,
        value: dyekin_core::Srgb8,
        text: &str,
    ) -> std::result::Result<Vec<Keep>, Error> {
        let places = self.summary.places().iter().enumerate();
        let found: Vec<Keep> = places
            .filter(|(_, place)| place.color() == value)
            .map(|(number, _)| Keep::Color(number))
            .collect();
        if found.is_empty() {
            return Err(no_such_color(text));
        }
        Ok(found)
    }

    /// The colors of the chart that are worked in this thread, and the thread itself where the
    /// tables have it.
    fn of_thread(
        &mut self,
        table: Option<TableId>,
        code: &dyekin_core::Code,
    ) -> Result<std::result::Result<Vec<Keep>, Vec<Error>>> {
        let means = |thread: &ThreadRef| {
            thread.code == *code && table.as_ref().is_none_or(|table| *table == thread.table)
        };
        let mut keeps: Vec<Keep> = Vec::new();
        for (number, place) in self.summary.places().iter().enumerate() {
            if place.thread_refs().iter().any(means) {
                keeps.push(Keep::Color(number));
            }
        }
        if !keeps.is_empty() {
            return Ok(Ok(keeps));
        }
        let tables = match table {
            Some(table) => vec![table],
            None => self.shop.searched()?,
        };
        let refs: Vec<ThreadRef> =
            tables.into_iter().map(|table| ThreadRef { table, code: code.clone() }).collect();
        let (known, unknown) = self.shop.known(&refs)?;
        if known.is_empty() {
            return Ok(Err(unknown));
        }
        Ok(Ok(known.into_iter().map(Keep::Thread).collect()))
    }
}

/// Marks a kept area on the command line.
const AREA: &str = "area:";

pub(crate) fn area_name(text: &str) -> Option<&str> {
    text.trim().strip_prefix(AREA).map(str::trim)
}

fn no_such_color(text: &str) -> Error {
    Error::new(ErrorKind::BadValue {
        value: text.to_owned(),
        reason: "no color of the chart has this value".into(),
        remedy: "write a value as the chart has it; dyekin merge CHART lists all".into(),
    })
}

/// True for a file that may hold bare codes: neither a picture nor JSON.
pub(super) fn has_codes(bytes: &[u8]) -> bool {
    let first = bytes.iter().find(|byte| !byte.is_ascii_whitespace() && **byte < 0x80);
    !chart::is_picture(bytes) && first != Some(&b'{')
}

/// The table that bare codes belong to.
fn owner(shop: &mut Shop, bare: BareCodes) -> Result<Option<Table>> {
    let id = match (&shop.from, bare, shop.tables.as_slice()) {
        (Some(from), _, _) => from.clone(),
        (None, BareCodes::OfTheTable, [only]) => only.clone(),
        _ => return Ok(None),
    };
    shop.backend.table(&id).map(Some)
}

fn sum_up(
    content: &Content,
    (keep, shading): (&[String], &[String]),
    apart: Option<&Apart>,
) -> Result<Summary> {
    match content {
        Content::Chart(chart) => {
            // Where areas overlap, the first one has the cell: what is kept before what is shaded.
            let kept = keep.iter().filter_map(|text| area_name(text));
            let mut names: Vec<&str> = Vec::new();
            for name in kept.chain(shading.iter().map(String::as_str)) {
                if !names.contains(&name) {
                    names.push(name);
                }
            }
            let split: Vec<Label> =
                names.into_iter().map(Label::parse).collect::<std::result::Result<_, Error>>()?;
            // Table colors are put in by whoever answers, who has the tables.
            let options = SummaryOptions { split: &split, apart, color_of: &|_| None };
            Ok(Summary::of_chart(chart, options)?)
        }
        Content::Key(key) => Ok(Summary::of_key(key)?),
    }
}

/// Paths that are read and must never be written.
pub(crate) fn inputs<'p>(
    chart: &'p Path,
    read: &'p ReadArgs,
    tables: &'p TableArgs,
    others: &[Option<&'p Path>],
) -> Vec<&'p Path> {
    let mut inputs: Vec<&Path> = vec![chart];
    inputs.extend(read.from.as_deref());
    inputs.extend(others.iter().flatten());
    if tables.reading.server.is_none() {
        inputs.extend(tables.tables.iter().map(PathBuf::as_path));
    }
    inputs
}
