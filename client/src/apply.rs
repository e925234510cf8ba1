//! A change list carried out on its chart: a new chart, and where each entry went.
//! It does not know files or tables, and never touches the chart that it is given.

mod by_hand;
mod rework;
mod stitches;

pub use by_hand::by_hand;
pub use stitches::restitched;

use std::collections::HashMap;

use dyekin_core::error::{Error, ErrorKind, Place};
use dyekin_core::{Srgb8, ThreadRef};

use crate::change_file::{ChangeFile, ColorRef, FileAnswer, FileBlend, FileChange};
use crate::chart::problems::{bad_file, bad_value};
use crate::chart::{Chart, ChartHash, EntryId, KeyThread, Label};

/// What happens to changes that nobody has answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unanswered {
    /// They are carried out: asking for the output was the yes.
    Carry,
    /// They are left, and reported.
    Leave,
}

/// A thread as an entry of a key takes it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewThread {
    /// Table, table hash and code.
    pub thread: KeyThread,
    /// Its name.
    pub name: Option<Label>,
    /// Its color as a screen shows it.
    pub color: Srgb8,
}

/// Finds a thread that an answer names in the tables at hand.
pub type FindThread<'f> = dyn Fn(&ThreadRef) -> Result<NewThread, Error> + 'f;

/// What becomes of one change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome<'c> {
    /// To the thread that the owner names.
    Another(&'c ThreadRef),
    /// To the blend that the owner chose, by its place among those of the change.
    Blend(usize),
    /// To the threads as proposed.
    Proposed,
    /// Answered no: nothing changes.
    Refused,
    /// Not answered, and left for that.
    Unanswered,
}

impl Outcome<'_> {
    /// The outcome of a change.
    #[must_use]
    pub fn of(change: &FileChange, unanswered: Unanswered) -> Outcome<'_> {
        match (&change.answer, unanswered) {
            (Some(FileAnswer::Another(thread)), _) => Outcome::Another(thread),
            (Some(FileAnswer::Blend(place)), _) => Outcome::Blend(*place),
            (Some(FileAnswer::Yes), _) | (None, Unanswered::Carry) => Outcome::Proposed,
            (Some(FileAnswer::No), _) => Outcome::Refused,
            (None, Unanswered::Leave) => Outcome::Unanswered,
        }
    }
}

/// Where the stitches of an old entry went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Move {
    /// The entry in the old key.
    pub from: EntryId,
    /// The entry in the new key.
    pub to: EntryId,
    /// True when it is worked in another thread now.
    pub changed: bool,
}

/// A chart with its changes carried out.
#[derive(Clone, Debug)]
pub struct Applied {
    /// The new chart. Every entry has a symbol.
    pub chart: Chart,
    /// Where each entry went, in the order of the old key; entries of split areas may come twice.
    pub moves: Vec<Move>,
    /// Colors whose change was answered no, by their ids.
    pub refused: Vec<String>,
    /// Colors whose change is not answered and was left, by their ids.
    pub unanswered: Vec<String>,
}

impl Applied {
    /// New entries that more than one old entry went to, each with the old ones.
    #[must_use]
    pub fn joined(&self) -> Vec<(EntryId, Vec<EntryId>)> {
        let mut sources: HashMap<EntryId, Vec<EntryId>> = HashMap::new();
        for held in &self.moves {
            let from = sources.entry(held.to).or_default();
            if !from.contains(&held.from) {
                from.push(held.from);
            }
        }
        let mut joined: Vec<_> = sources.into_iter().filter(|(_, from)| from.len() > 1).collect();
        joined.sort();
        joined
    }
}

/// What one color of the list becomes.
pub(crate) struct Target<'c> {
    of: &'c ColorRef,
    goal: Goal<'c>,
}

/// What it is worked in.
pub(crate) enum Goal<'c> {
    /// A blend that the owner chose, with its own strands.
    Blend(&'c FileBlend),
    /// One thread, or the two of a blend with the strands of the entry.
    Threads(Vec<NewThread>),
}

/// Carries out a change list. `find` is asked for threads that answers name.
///
/// # Errors
///
/// All problems at once: a list made for another chart, colors that the chart does not have, threads
/// that cannot be found or come from another version of a table than the list was made with.
pub fn apply(
    chart: &Chart,
    file: &ChangeFile,
    unanswered: Unanswered,
    find: &FindThread<'_>,
) -> Result<Applied, Vec<Error>> {
    check_chart(chart, file).map_err(|problem| vec![problem])?;
    let mut problems = Vec::new();
    let mut targets = Vec::new();
    let (mut refused, mut left) = (Vec::new(), Vec::new());
    for (number, change) in file.changes.iter().enumerate() {
        let goal = match Outcome::of(change, unanswered) {
            Outcome::Refused => {
                refused.push(change.of.id());
                continue;
            }
            Outcome::Unanswered => {
                left.push(change.of.id());
                continue;
            }
            Outcome::Proposed => Ok(Goal::Threads(proposed(change))),
            Outcome::Another(thread) => {
                named(file, thread, find).map(|thread| Goal::Threads(vec![thread]))
            }
            Outcome::Blend(place) => blend(change, place).map(Goal::Blend),
        };
        match goal {
            Ok(goal) => targets.push(Target { of: &change.of, goal }),
            Err(problem) => {
                problems.push(problem.at(Place::field(format!("changes[{number}].answer"))));
            }
        }
    }
    let reworked = rework::rework(chart, file, &targets, &mut problems);
    match reworked {
        Some((chart, moves)) if problems.is_empty() => {
            Ok(Applied { chart, moves, refused, unanswered: left })
        }
        _ => Err(problems),
    }
}

fn check_chart(chart: &Chart, file: &ChangeFile) -> Result<(), Error> {
    let Some(made_for) = file.chart else {
        let remedy = "carry the changes out by hand: see the by-hand list";
        return Err(bad_file("the change list was made for a key alone, not for a chart", remedy));
    };
    let found = ChartHash::of(chart);
    if found == made_for {
        return Ok(());
    }
    if file.chart_after == Some(found) {
        let remedy = "give the chart as it was before";
        return Err(bad_file("the changes are already carried out in this chart", remedy));
    }
    Err(bad_file(
        format!(
            "the change list was made for another chart: {:.12}… and not {:.12}…",
            made_for.to_string(),
            found.to_string()
        ),
        "give the chart that the list was made for, or make the list again",
    ))
}

fn proposed(change: &FileChange) -> Vec<NewThread> {
    let new = |held: &crate::change_file::FileThread| NewThread {
        thread: held.thread.clone(),
        name: Label::cut(&held.name),
        color: held.hex,
    };
    change.after.iter().map(new).collect()
}

/// The blend that an answer names.
fn blend(change: &FileChange, place: usize) -> Result<&FileBlend, Error> {
    change.blends.get(place).ok_or_else(|| {
        bad_value(
            &(place + 1).to_string(),
            format!("the change has {} blends", change.blends.len()),
            "answer with a blend of the change",
        )
    })
}

/// The thread that an answer names, of the same version of its table as the list.
///
/// # Errors
///
/// When it is not found, or its table has changed since.
pub(crate) fn named(
    file: &ChangeFile,
    thread: &ThreadRef,
    find: &FindThread<'_>,
) -> Result<NewThread, Error> {
    // The list itself knows the threads that it proposes.
    let listed =
        file.changes.iter().flat_map(|change| change.after.iter().chain(&change.runners_up));
    for held in listed {
        if held.thread.thread == *thread {
            let name = Label::cut(&held.name);
            return Ok(NewThread { thread: held.thread.clone(), name, color: held.hex });
        }
    }
    let found = find(thread)?;
    match file.table_hash(thread) {
        Some(hash) if hash != found.thread.table_hash => Err(bad_value(
            &thread.to_string(),
            format!("table {} has changed since the list was made", thread.table),
            "give the table as it was, or make the list again",
        )),
        _ => Ok(found),
    }
}

/// A color of the list that the chart does not have.
pub(crate) fn no_such_color(of: &ColorRef) -> Error {
    Error::new(ErrorKind::BadValue {
        value: of.hex.to_string(),
        reason: format!("the chart has no color {} worked as the list says", of.id()),
        remedy: "leave colors and threads of the list as they were made".into(),
    })
    .at(Place::field(of.id()))
}
