//! A change list as a file: what was asked of which chart, each change with its evidence, and what
//! the chart's owner answered. It does not know how a change is carried out.

mod blend;
mod build;
mod fit;
mod read;
mod undo;
mod write;

pub use blend::{BlendThread, FileBlend};
pub use build::Made;
pub use fit::Fitted;
pub use read::{AnyList, MAX_FILE_BYTES, read, read_any};
pub use undo::{MAX_UNDO_BYTES, Undo, digest};

use dyekin_core::change::{Answer, EdgeReport, Question, Remark, TableVersion, Totals};
use dyekin_core::planner::Answered;
use dyekin_core::{Color, DeltaE, Difference, Formula, Illuminant, Srgb8, ThreadRef};

use crate::chart::{ChartHash, KeyThread, Label, Symbol};
use crate::summary::{Apart, OfColor, Portion};

/// What `format` says in a change list file.
pub(crate) const FORMAT: &str = "dyekin-changes";

/// The version that is written, and the highest that is read.
pub(crate) const VERSION: u64 = 1;

/// A reviewable, answerable list of changes to one chart or key.
#[derive(Clone, Debug, PartialEq)]
pub struct ChangeFile {
    /// Version of the program that made the list.
    pub program: String,
    /// Hash of the chart; `None` when the list was made for a key alone.
    pub chart: Option<ChartHash>,
    /// Hash of the chart after the changes were carried out.
    pub chart_after: Option<ChartHash>,
    /// The tables that the list draws on.
    pub tables: Vec<TableVersion>,
    /// The formula behind every difference in it.
    pub formula: Formula,
    /// The question that it answers.
    pub question: Question,
    /// The settings of the question, by name, such as `threads` and `24`.
    pub settings: Vec<(String, String)>,
    /// The totals.
    pub totals: Totals,
    /// How the edges fare; `None` when neighbors are not known.
    pub edges: Option<EdgeReport>,
    /// The changes, in the order of review.
    pub changes: Vec<FileChange>,
    /// Colors that stay as they are.
    pub unchanged: Vec<ColorRef>,
    /// The way back, once the changes were carried out and it was asked for.
    pub undo: Option<Undo>,
}

/// A color of the chart as a change list names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColorRef {
    /// Its place in the palette summary; the file's id is `c` and this number from 1.
    pub color: usize,
    /// The color as the chart shows it.
    pub hex: Srgb8,
    /// The area that it was split out of.
    pub area: Option<String>,
    /// The cells that it was told apart by; the area is then only a name for them.
    pub portion: Option<Portion>,
    /// The entries of the key that make it up, by their places; empty for a key alone.
    pub entries: Vec<usize>,
    /// The symbols of these entries.
    pub symbols: Vec<Symbol>,
    /// Stitches.
    pub stitches: u64,
    /// Threads it is worked in before: none, one, or two for a blend.
    pub before: Vec<KeyThread>,
}

impl ColorRef {
    /// The id of the color in the file, such as `c12`.
    #[must_use]
    pub fn id(&self) -> String {
        color_id(self.color)
    }

    /// The area of the chart that it was split out of.
    #[must_use]
    pub fn area_of_chart(&self) -> Option<&str> {
        self.area.as_deref().filter(|_| self.portion.is_none())
    }
}

/// One change.
#[derive(Clone, Debug, PartialEq)]
pub struct FileChange {
    /// The color that changes.
    pub of: ColorRef,
    /// What differences are measured from.
    pub standard: Color,
    /// The thread proposed; two for a blend.
    pub after: Vec<FileThread>,
    /// The next best threads, best first.
    pub runners_up: Vec<FileThread>,
    /// Blends that may be answered with, nearest first; empty where none was asked for, or where the
    /// color is no area. None of them is ever chosen but by an answer.
    pub blends: Vec<FileBlend>,
    /// What to know about the change.
    pub remarks: Vec<Remark>,
    /// What the owner says; `None` while it is not answered.
    pub answer: Option<FileAnswer>,
}

/// What the owner says to a change of a list.
#[derive(Clone, Debug, PartialEq)]
pub enum FileAnswer {
    /// To this thread instead.
    Another(ThreadRef),
    /// To the blend at this place of [`FileChange::blends`]; the file counts from 1.
    Blend(usize),
    /// Not to this thread.
    No,
    /// As proposed.
    Yes,
}

impl FileAnswer {
    /// The answer as planners know it; `None` for a blend, which no planner chooses.
    #[must_use]
    pub fn of_threads(&self) -> Option<Answer> {
        match self {
            Self::Another(thread) => Some(Answer::Another(thread.clone())),
            Self::Blend(_) => None,
            Self::No => Some(Answer::No),
            Self::Yes => Some(Answer::Yes),
        }
    }
}

impl From<Answer> for FileAnswer {
    fn from(answer: Answer) -> Self {
        match answer {
            Answer::Another(thread) => Self::Another(thread),
            Answer::No => Self::No,
            Answer::Yes => Self::Yes,
        }
    }
}

impl FileChange {
    /// True when every difference of the proposal was measured, and not only looked at on a screen.
    #[must_use]
    pub fn is_checked(&self) -> bool {
        use dyekin_core::color::Trust;
        self.after.iter().all(|thread| thread.difference.trust == Trust::Measured)
    }

    /// The blend that the change is answered with.
    #[must_use]
    pub fn blend(&self) -> Option<&FileBlend> {
        match self.answer {
            Some(FileAnswer::Blend(place)) => self.blends.get(place),
            _ => None,
        }
    }
}

/// A thread with its evidence.
#[derive(Clone, Debug, PartialEq)]
pub struct FileThread {
    /// Table, table hash and code.
    pub thread: KeyThread,
    /// Its name; foreign text.
    pub name: String,
    /// Its color as a screen shows it.
    pub hex: Srgb8,
    /// The difference from the change's standard.
    pub difference: Difference,
    /// The difference under each light that the list was ranked by, in units of its formula; empty
    /// where listed colors ranked.
    pub lights: Vec<(Illuminant, DeltaE)>,
    /// For a runner-up: true when the data cannot tell whether it or the thread proposed is nearer.
    pub as_near: bool,
}

impl ChangeFile {
    /// The answers of the owner, as a later question over the same summary takes them. Answers with
    /// a blend are not among them: see [`ChangeFile::blended`].
    #[must_use]
    pub fn answers(&self) -> Vec<Answered> {
        let answered = |change: &FileChange| {
            let answer = change.answer.as_ref().and_then(FileAnswer::of_threads);
            answer.map(|answer| Answered {
                color: change.of.color,
                proposed: change.after.iter().map(|held| held.thread.thread.clone()).collect(),
                answer,
            })
        };
        self.changes.iter().filter_map(answered).collect()
    }

    /// The changes that are answered with a blend.
    pub fn blended(&self) -> impl Iterator<Item = (&FileChange, &FileBlend)> {
        self.changes.iter().filter_map(|change| Some((change, change.blend()?)))
    }

    /// Takes over the answers that an earlier list was given: what was agreed to need not be agreed
    /// to again.
    pub fn keep_answers(&mut self, answers: &[Answered]) {
        for change in &mut self.changes {
            let own = answers.iter().filter(|held| held.color == change.of.color);
            let after: Vec<&ThreadRef> =
                change.after.iter().map(|held| &held.thread.thread).collect();
            let is_agreed = |held: &Answered| match &held.answer {
                Answer::Yes => held.proposed.iter().collect::<Vec<_>>() == after,
                Answer::Another(thread) => after == [thread],
                Answer::No => false,
            };
            if own.into_iter().any(is_agreed) {
                change.answer = Some(FileAnswer::Yes);
            }
        }
    }

    /// What the list tells apart by its cells.
    #[must_use]
    pub fn apart(&self) -> Option<Apart> {
        let colors = self.changes.iter().map(|change| &change.of).chain(&self.unchanged);
        let held = colors.filter_map(|of| Some((of, of.area.as_ref()?, of.portion.as_ref()?)));
        let mut name = None;
        let mut portions = Vec::new();
        for (of, area, portion) in held {
            name = name.or_else(|| Label::parse(area).ok());
            let color = OfColor { color: of.hex, threads: of.before.clone() };
            portions.push((color, portion.clone()));
        }
        Some(Apart { name: name?, portions })
    }

    /// The list with an answer wherever a change is carried out without one.
    #[must_use]
    pub fn carried(&self) -> Self {
        let mut file = self.clone();
        for change in &mut file.changes {
            change.answer.get_or_insert(FileAnswer::Yes);
        }
        file
    }

    /// The hash of a table as the list knows it.
    #[must_use]
    pub fn table_hash(&self, thread: &ThreadRef) -> Option<dyekin_core::TableHash> {
        self.tables.iter().find(|held| held.table == thread.table).map(|held| held.hash)
    }

    /// The bytes of the file.
    #[must_use]
    pub fn to_json(&self) -> Vec<u8> {
        write::write(self)
    }
}

/// The id of a color by its place in the summary.
fn color_id(place: usize) -> String {
    format!("c{}", place + 1)
}

/// The place of a color by its id.
fn color_place(id: &str) -> Option<usize> {
    let digits = id.strip_prefix('c')?;
    let plain = digits.bytes().all(|byte| byte.is_ascii_digit()) && !digits.starts_with('0');
    let number = digits.parse::<usize>().ok().filter(|_| plain)?;
    number.checked_sub(1).filter(|place| *place < dyekin_core::palette::MAX_COLORS)
}

/// The word of a question in the file.
fn question_word(question: Question) -> &'static str {
    match question {
        Question::Convert => "convert",
        Question::Reduce => "reduce",
        Question::Substitute => "substitute",
    }
}

/// The keys of the file, for the test that compares them with the schema.
#[cfg(test)]
pub(crate) struct Fields {
    pub(crate) file: &'static [&'static str],
    pub(crate) color: &'static [&'static str],
    pub(crate) change: &'static [&'static str],
    pub(crate) thread: &'static [&'static str],
    pub(crate) blend: &'static [&'static str],
    pub(crate) blend_thread: &'static [&'static str],
    pub(crate) light: &'static [&'static str],
}

/// Them all.
#[cfg(test)]
pub(crate) const FIELDS: Fields = Fields {
    file: &read::FIELDS,
    color: &read::COLOR_FIELDS,
    change: &read::CHANGE_FIELDS,
    thread: &read::THREAD_FIELDS,
    blend: &read::BLEND_FIELDS,
    blend_thread: &read::BLEND_THREAD_FIELDS,
    light: &read::LIGHT_FIELDS,
};
