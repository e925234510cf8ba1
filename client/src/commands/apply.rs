//! `dyekin apply`: an answered change list carried out on its chart.
//! It proposes nothing: it does what the owner answered.

use std::cell::RefCell;
use std::path::Path;

use dyekin_core::error::{Error, ErrorKind};
use dyekin_core::{TableHash, ThreadRef};
use serde_json::{Value, json};

use super::apply_stitches;
use super::chart_work::{self, BareCodes, ChartWork, Typed};
use super::outputs::{Carried, Plan, Wanted};
use super::planned::{files_object, place_of, say_written};
use super::shop::Need;
use crate::apply::{NewThread, Outcome, Unanswered};
use crate::backend::Backend;
use crate::change_file::{AnyList, ChangeFile, ColorRef, FileChange, Fitted, read_any};
use crate::chart::{Content, KeyThread, Label};
use crate::cli::{ApplyArgs, ShowArgs};
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files;
use crate::printer::Printer;
use crate::report::{Caution, counted, json as as_json, text};

pub(crate) fn run(typed: &ApplyArgs, printer: &mut Printer) -> Result<Exit> {
    let inputs = chart_work::inputs(
        &typed.chart.chart,
        &typed.chart.read,
        &typed.tables,
        &[Some(&typed.changes)],
    );
    let wanted = Wanted {
        output: &typed.out.output,
        changes: None,
        key: typed.out.beside.key.as_deref(),
        by_hand: typed.out.beside.by_hand.as_deref(),
        undo: typed.out.beside.undo.as_deref(),
    };
    let plan = Plan::check(wanted, &inputs, typed.out.beside.force)?;
    let bytes = files::read(&typed.changes)?;
    let file = match read_any(&bytes, &typed.changes.to_string_lossy())? {
        AnyList::Changes(file) => *file,
        AnyList::Stitches(list) => return apply_stitches::run(typed, &list, &plan, printer),
    };
    let apart = file.apart();
    let opened = Typed {
        chart: &typed.chart.chart,
        read: &typed.chart.read,
        keep: &areas(&file),
        shading: &[],
        apart: apart.as_ref(),
        tables: &typed.tables,
        need: Need::Nothing,
        bare: BareCodes::OfTheTable,
    };
    let mut work = ChartWork::open(opened, printer)?;
    plan.suit(&work)?;
    let fitted = work.fitted(file, (&typed.changes, typed.corrected), printer)?;
    let file = &fitted.file;
    let backend = RefCell::new(work.shop.backend.as_mut());
    let find = |thread: &ThreadRef| find(&mut **backend.borrow_mut(), thread);
    let carried = match &work.content {
        Content::Chart(chart) => plan.chart((chart, &work.before), file, Unanswered::Leave, &find),
        Content::Key(key) => plan.key((key, &work.before), file, Unanswered::Leave, &find),
    };
    let carried = carried.map_err(|failure| placed(failure, file, &typed.changes))?;
    tell(&fitted, &carried, typed.show, printer);
    let done = |outcome: Outcome<'_>| {
        matches!(outcome, Outcome::Another(_) | Outcome::Blend(_) | Outcome::Proposed)
    };
    let changed = file.changes.iter().any(|change| done(Outcome::of(change, Unanswered::Leave)));
    Ok(if changed { Exit::Done } else { Exit::NothingMatched })
}

/// Problems of answers with the list and the change that they stand in.
fn placed(failure: Failure, file: &ChangeFile, path: &Path) -> Failure {
    let Failure::Domain { errors, unlisted } = failure else { return failure };
    let place = |error: Error| {
        let field = error.place().and_then(|place| place.field.as_deref()).unwrap_or_default();
        let number = field.strip_prefix("changes[").and_then(|rest| rest.split(']').next());
        let change = number.and_then(|number| file.changes.get(number.parse::<usize>().ok()?));
        match change {
            Some(change) => error.at(place_of(change, path)),
            None => error,
        }
    };
    Failure::Domain { errors: errors.into_iter().map(place).collect(), unlisted }
}

/// The areas that the list splits out, as keeps are typed. Where areas overlap, the first one has
/// the cell: they come in the order in which they were typed.
fn areas(file: &ChangeFile) -> Vec<String> {
    let all = file.changes.iter().map(|change| &change.of).chain(&file.unchanged);
    let mut areas: Vec<String> =
        all.filter_map(|of| of.area_of_chart().map(|area| format!("area:{area}"))).collect();
    let setting = |wanted: &str| {
        let held = file.settings.iter().find(|(name, _)| name == wanted);
        held.map_or("", |(_, typed)| typed).split(',').map(str::trim).collect::<Vec<&str>>()
    };
    let kept = setting("keep");
    let kept = kept.iter().filter_map(|text| text.strip_prefix("area:")).map(str::trim);
    let shaded = setting("keep-shading");
    let typed: Vec<String> =
        kept.chain(shaded.iter().copied()).map(|area| format!("area:{area}")).collect();
    let place = |area: &String| typed.iter().position(|held| held == area).unwrap_or(typed.len());
    areas.sort_by(|one, other| place(one).cmp(&place(other)).then(one.cmp(other)));
    areas.dedup();
    areas
}

/// A thread that an answer names, from the tables at hand.
fn find(backend: &mut dyn Backend, thread: &ThreadRef) -> std::result::Result<NewThread, Error> {
    let not_at_hand = || {
        Error::new(ErrorKind::BadValue {
            value: thread.to_string(),
            reason: "the list does not propose this thread, and its table is not given".into(),
            remedy: format!("add --table with the file of table {}", thread.table),
        })
    };
    let hash = hash_of(backend, thread).ok_or_else(not_at_hand)?;
    let found =
        backend.threads(std::slice::from_ref(thread)).ok().and_then(|mut found| found.pop());
    let found = found.ok_or_else(not_at_hand)??;
    Ok(NewThread {
        thread: KeyThread { thread: thread.clone(), table_hash: hash },
        name: Label::cut(&found.name),
        color: found.color.srgb(),
    })
}

fn hash_of(backend: &mut dyn Backend, thread: &ThreadRef) -> Option<TableHash> {
    let heads = backend.list_tables().ok()?;
    heads.into_iter().find(|head| head.id == thread.table).map(|head| head.hash)
}

/// Most colors that a sentence names without being asked for details.
const NAMED: usize = 8;

/// Says which changes were left, by the ids of their colors.
fn left(why: &str, ids: &[String], details: bool) -> Option<String> {
    let count = counted(ids.len() as u64, "change", "changes");
    match ids.len() {
        0 => None,
        few if few <= NAMED || details => {
            Some(format!("{count} {why} and left out: {}.", ids.join(", ")))
        }
        _ => Some(format!("{count} {why} and left out.")),
    }
}

fn tell(fitted: &Fitted, carried: &Carried<'_>, show: ShowArgs, printer: &mut Printer) {
    let of = |wanted: Outcome<'_>| -> Vec<String> {
        let changes = fitted.file.changes.iter();
        let is_it = |change: &&FileChange| Outcome::of(change, Unanswered::Leave) == wanted;
        changes.filter(is_it).map(|change| change.of.id()).collect()
    };
    let (refused, unanswered) = (of(Outcome::Refused), of(Outcome::Unanswered));
    let gone: Vec<String> = fitted.gone.iter().map(ColorRef::id).collect();
    let done = fitted.file.changes.len() - refused.len() - unanswered.len();
    if show.json {
        let value = json!({
            "changes": done,
            "refused": refused,
            "unanswered": unanswered,
            "gone": gone,
            "files": Value::Object(files_object(&carried.written)),
            "lost": carried.notices,
        });
        printer.data(&as_json::to_text(&value));
    } else {
        let mut said = vec![format!("{} carried out.", counted(done as u64, "change", "changes"))];
        said.extend(left("answered no", &refused, show.details));
        said.extend(left("not answered", &unanswered, show.details));
        for sentence in said {
            for line in text::wrap(&sentence, printer.width(), 2) {
                printer.data(&line);
            }
        }
    }
    say_written(&carried.written, &carried.notices, printer);
    if fitted.file.blended().next().is_some() {
        printer.caution(Caution::Blend.words());
    }
    if done > 0 {
        printer.caution(Caution::Lot.words());
        printer.caution(Caution::Wet.words());
    }
}
