//! What the commands that write several charts share: outputs checked first, a record of what is
//! done, and a report. It does not know what a command does to a chart.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use super::outputs::Carried;
use super::planned::program;
use super::shop::{Again, Shop};
use super::walk::{self, End, Form, Walk, Walked};
use crate::change_file::digest;
use crate::cli::ManyArgs;
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files::{self, Existing};
use crate::many::{
    ChartFile, Entry, Folders, Gathered, Names, Outcome, Record, Slot, State, Told, WrittenFile,
    summary,
};
use crate::printer::Printer;
use crate::report::text;

/// Time between two writings of the record.
const RECORD_EVERY: Duration = Duration::from_secs(1);

/// What a run over several charts is good for.
const PROPOSALS: &str = "Nobody has looked at the new charts: they are proposals. Where something is not \
                         right, answer the chart's change list and carry it out with dyekin apply.";

/// What to do after a stop.
const GO_ON: &str = "what is done stays; the same command with --resume does the rest";

/// The count of charts that a command has nothing to do with.
pub(crate) const UNTOUCHED: &str = "charts_untouched";

/// The only chart of a run, as typed; `None` when the run goes over several, or into a folder.
pub(crate) fn lone<'t>(
    charts: &'t [PathBuf],
    output: &Path,
    many: &ManyArgs,
) -> Result<Option<&'t Path>> {
    let [chart] = charts else { return Ok(None) };
    let names_folder = output.as_os_str().as_encoded_bytes().ends_with(b"/");
    if files::is_folder(chart) || files::is_folder(output) || names_folder {
        return Ok(None);
    }
    match many.typed() {
        None => Ok(Some(chart)),
        Some(option) => Err(Failure::said(
            format!("{option} is for several charts, and {} is one", files::shown(chart)),
            format!("leave {option} out, or give a folder of charts and a folder behind -o"),
        )),
    }
}

/// Refuses options that mean nothing for several charts.
pub(crate) fn refuse(typed: &[(&str, bool, &str)]) -> Result<()> {
    match typed.iter().find(|(_, typed, _)| *typed) {
        None => Ok(()),
        Some((option, _, hint)) => {
            Err(Failure::said(format!("{option} is for one chart, not for several"), *hint))
        }
    }
}

/// A run over several charts that writes new ones.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Several<'t> {
    pub(crate) walk: Walk<'t>,
    pub(crate) many: &'t ManyArgs,
    pub(crate) folders: Folders<'t>,
    pub(crate) force: bool,
    /// Files that are read beside the charts, and never written.
    pub(crate) also_read: &'t [&'t Path],
    /// Lists of threads that are read for every chart.
    pub(crate) lists: &'t [&'t Path],
    /// The totals in words.
    pub(crate) totals: fn(&Told) -> String,
}

/// One chart of a run, and where what it leads to goes.
#[derive(Clone, Debug)]
pub(crate) struct Task<'r> {
    pub(crate) chart: &'r ChartFile,
    pub(crate) names: Names,
    pub(crate) existing: Existing,
}

impl Task<'_> {
    /// The files that were written, by the names that were planned for them.
    pub(crate) fn written(&self, carried: &Carried<'_>) -> Vec<WrittenFile> {
        let digest_of = |path: &Path| {
            let each = carried.written.iter().zip(&carried.digests);
            each.into_iter().find(|((_, written), _)| *written == path).map(|(_, digest)| digest)
        };
        let by_role = self.names.by_role();
        by_role
            .filter_map(|(what, path)| {
                let digest = digest_of(path)?.clone();
                Some(WrittenFile { what, path: path.to_owned(), digest })
            })
            .collect()
    }
}

/// The work of a command on one chart; the shop comes back for the next one.
pub(crate) type Make<'w> =
    dyn Fn(Shop, &Task<'_>, &mut Printer) -> (Shop, Result<Outcome>) + Sync + 'w;

impl Several<'_> {
    /// Goes through all charts. `open` opens the tables once the charts and outputs are checked.
    pub(crate) fn go(
        &self,
        open: impl FnOnce(&mut Printer) -> Result<Shop>,
        make: &Make<'_>,
        printer: &mut Printer,
    ) -> Result<Exit> {
        let gathered = self.gather()?;
        let may_exist = self.force || self.many.resume;
        self.folders.check(&gathered.charts, self.also_read, may_exist)?;
        let path = self.folders.record();
        let record = Record::read(&path)?;
        let mut shop = open(printer)?;
        let asked = self.asked(&mut shop)?;
        self.folders.make(&gathered.charts)?;
        let (again, stop) = (shop.again(), printer.stop_flag());
        let one = One { several: self, asked: &asked, record: &record, shop: again, stop, make };
        let (mut record, mut written) = (record.clone(), Instant::now());
        let around = [summary::document(self.walk.command, true)];
        let form = match self.walk.show.json {
            true => Form::Document(&around, summary::items),
            false => Form::Lines,
        };
        let over = &mut |chart: &ChartFile, state: &State| {
            if let State::Done(outcome) = state {
                record.add(&self.folders.proposed(chart), one.entry(outcome));
                if written.elapsed() >= RECORD_EVERY {
                    written = Instant::now();
                    return record.write(&path);
                }
            }
            Ok(())
        };
        let work = |slot: &mut Slot, chart: &ChartFile| one.state(slot, chart);
        let mut walked = self.walk.go(&gathered, form, (&work, over), printer);
        let trouble = record.write(&path).err().or_else(|| walked.trouble.take());
        let exit = self.tell(walked, &gathered, printer);
        trouble.map_or(Ok(exit), Err)
    }

    /// The charts, without the folders and tables of the run itself.
    fn gather(&self) -> Result<Gathered> {
        let Folders { output, changes, key, by_hand, .. } = self.folders;
        for folder in [Some(output), changes, key, by_hand].into_iter().flatten() {
            let own = files::identity(folder);
            let is_input =
                |typed: &&PathBuf| files::is_folder(typed) && files::identity(typed) == own;
            if own.is_some() && self.walk.charts.iter().any(|typed| is_input(&typed)) {
                return Err(Failure::said(
                    format!(
                        "writing into {}: that is a folder of charts to read",
                        files::shown(folder)
                    ),
                    "give the new charts a folder of their own; it may lie inside",
                ));
            }
        }
        let mut own = self.also_read.to_vec();
        own.extend([Some(output), changes, key, by_hand].into_iter().flatten());
        self.walk.gather(&own)
    }

    /// Digest of everything that has a say in the outputs, but for the charts.
    fn asked(&self, shop: &mut Shop) -> Result<String> {
        let mut said = format!("{}\n{}\n{}\n", program(), self.walk.command, self.many.asked);
        let from = shop.from.iter().map(ToString::to_string);
        let chosen: Vec<String> = shop.tables.iter().map(ToString::to_string).chain(from).collect();
        for head in shop.backend.list_tables()? {
            if chosen.is_empty() || chosen.contains(&head.id.to_string()) {
                said.push_str(&format!("table {} {}\n", head.id, head.hash));
            }
        }
        said.push_str(&format!("chosen {}\n", chosen.join(" ")));
        for list in self.lists {
            said.push_str(&format!("list {}\n", digest(&files::read(list)?)));
        }
        Ok(digest(said.as_bytes()))
    }
}

/// What the work on any one chart needs of the run.
struct One<'r> {
    several: &'r Several<'r>,
    asked: &'r str,
    /// What earlier runs did.
    record: &'r Record,
    shop: Again,
    stop: Arc<AtomicBool>,
    make: &'r Make<'r>,
}

impl One<'_> {
    fn state(&self, slot: &mut Slot, chart: &ChartFile) -> State {
        let several = self.several;
        let names = several.folders.names(chart);
        let entry = self.record.of(&several.folders.proposed(chart));
        if several.many.resume
            && let Some(entry) = entry
            && self.is_complete(entry, chart, &names)
        {
            return State::Skipped(entry.exit());
        }
        let known = || entry.map(|entry| entry.files.values().cloned().collect());
        let existing = match (several.force, several.many.resume) {
            (true, _) => Existing::Replaced,
            (false, true) => Existing::Continued(known().unwrap_or_default()),
            (false, false) => Existing::Refused,
        };
        let task = Task { chart, names, existing };
        walk::one(slot, (&self.shop, &self.stop), |shop, printer| (self.make)(shop, &task, printer))
    }

    /// True when the files that an earlier run wrote answer the same question and are still there.
    fn is_complete(&self, entry: &Entry, chart: &ChartFile, names: &Names) -> bool {
        let is =
            |path: &Path, held: &str| files::read(path).is_ok_and(|bytes| digest(&bytes) == held);
        // Nothing was written where there was nothing to do.
        let nothing = entry.files.is_empty();
        entry.asked == self.asked
            && (nothing
                || names
                    .by_role()
                    .all(|(role, path)| entry.files.get(role).is_some_and(|held| is(path, held))))
            && is(&chart.path, &entry.input)
    }

    fn entry(&self, outcome: &Outcome) -> Entry {
        let files = outcome.written.iter().map(|file| (file.what.to_owned(), file.digest.clone()));
        Entry {
            asked: self.asked.to_owned(),
            input: outcome.input.clone(),
            unmatched: outcome.exit == Exit::NothingMatched,
            files: files.collect(),
        }
    }
}

impl Several<'_> {
    fn tell(&self, walked: Walked, gathered: &Gathered, printer: &mut Printer) -> Exit {
        let Walked { told, document, .. } = walked;
        let mut end = End::of(&told);
        let untouched = told.total(UNTOUCHED);
        if untouched < told.done as u64 {
            end.cautions.insert(0, PROPOSALS);
        } else if untouched > 0 && told.skipped == 0 {
            end.worst = end.worst.max(Exit::NothingMatched);
        }
        end.hint = Some(GO_ON);
        if let Some(document) = document {
            document.close(&told.json(&gathered.left_out), printer);
        } else {
            let totals =
                (told.done > 0).then(|| (self.totals)(&told)).filter(|said| !said.is_empty());
            let (width, counts) = (printer.width(), told.counts());
            for said in [Some(counts), totals].into_iter().flatten() {
                for line in text::wrap(&said, width, 2) {
                    printer.data(&line);
                }
            }
        }
        self.walk.end(&end, printer)
    }
}
