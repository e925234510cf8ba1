//! Wire to domain: every field checked, every problem of a request found at once with its path.
//! It does not know the answers.

mod blends;
mod color;
mod light;
mod matching;
mod palette;
mod reduction;
mod tables;

use std::fmt;

use dyekin_core::{Code, Error, ErrorKind, Place, TableId, ThreadRef};
use dyekin_proto::v1 as pb;

use super::status::Failure;

pub(super) use blends::{Subject, blend_options, blend_queries};
use color::{adaptation, conditions, formula, limit, origin};
pub(super) use color::{color, measure};
use light::{illuminant, lights, spectrum};
pub(super) use matching::{
    Query, SeenColor, color_pairs, color_queries, color_query, match_options, thread_queries,
};
use matching::{filter, price};
pub(super) use palette::{ask, convert_options, merge_options, palette, substitute_options};
pub(super) use reduction::reduce_options;
pub(super) use tables::{audit, entries, import_header, page_size, versions};

/// Most queries or pairs in one request.
pub(crate) const MAX_QUERIES: usize = 1_000;

/// Most tables that one request names.
const MAX_TABLES: usize = 100;

/// Longest query id or area, in characters.
pub(super) const MAX_LABEL_CHARS: usize = 64;

/// Most problems that are listed; the others are counted.
const MAX_PROBLEMS: usize = 50;

/// Path of a field, written out only when something is wrong with it.
#[derive(Clone, Copy)]
pub(super) enum Path<'a> {
    Top(&'static str),
    Field(&'a Self, &'static str),
    Item(&'a Self, usize),
}

impl<'a> Path<'a> {
    fn field(&'a self, name: &'static str) -> Self {
        Path::Field(self, name)
    }

    fn item(&'a self, index: usize) -> Self {
        Path::Item(self, index)
    }
}

impl fmt::Display for Path<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Path::Top(name) => f.write_str(name),
            Path::Field(parent, name) => write!(f, "{parent}.{name}"),
            Path::Item(parent, index) => write!(f, "{parent}[{index}]"),
        }
    }
}

/// All that is wrong with a request.
#[derive(Default)]
pub(super) struct Problems {
    listed: Vec<Error>,
    unlisted: usize,
}

impl Problems {
    fn add(&mut self, error: Error, path: Path<'_>) {
        if self.listed.len() == MAX_PROBLEMS {
            self.unlisted += 1;
            return;
        }
        let placed = error.place().is_some();
        self.listed.push(if placed { error } else { error.at(Place::field(path.to_string())) });
    }

    fn bad(&mut self, path: Path<'_>, value: impl fmt::Display, reason: &str, remedy: &str) {
        let kind = ErrorKind::BadValue {
            value: value.to_string(),
            reason: reason.to_owned(),
            remedy: remedy.to_owned(),
        };
        self.add(Error::new(kind), path);
    }

    /// The value of a core constructor, or its error noted.
    fn take<T>(&mut self, result: Result<T, Error>, path: Path<'_>) -> Option<T> {
        result.map_err(|error| self.add(error, path)).ok()
    }

    fn within(&mut self, path: Path<'_>, what: &str, found: usize, limit: usize) -> bool {
        if found <= limit {
            return true;
        }
        let (found, limit) = (found as u64, limit as u64);
        self.add(Error::new(ErrorKind::OverLimit { what: what.to_owned(), found, limit }), path);
        false
    }

    /// The converted request, or everything that is wrong with it.
    pub(super) fn finish<T>(self, value: Option<T>) -> Result<T, Failure> {
        match value {
            Some(value) if self.listed.is_empty() => Ok(value),
            Some(_) | None => Err(Failure::Domain(self.listed, self.unlisted)),
        }
    }
}

/// Converts with a list of problems of its own.
pub(super) fn checked<T>(convert: impl FnOnce(&mut Problems) -> Option<T>) -> Result<T, Failure> {
    let mut problems = Problems::default();
    let value = convert(&mut problems);
    problems.finish(value)
}

pub(super) fn table_id(text: &str, path: Path<'_>, problems: &mut Problems) -> Option<TableId> {
    problems.take(TableId::parse(text), path)
}

fn table_ids(ids: &[String], path: Path<'_>, problems: &mut Problems) -> Option<Vec<TableId>> {
    problems.within(path, "tables in one request", ids.len(), MAX_TABLES).then_some(())?;
    each(ids, path, problems, |id, path, problems| table_id(id, path, problems))
}

/// Converts each item; `None` when any of them failed, with all failures noted.
fn each<W, T>(
    items: &[W],
    path: Path<'_>,
    problems: &mut Problems,
    convert: impl Fn(&W, Path<'_>, &mut Problems) -> Option<T>,
) -> Option<Vec<T>> {
    let mut all = Some(Vec::with_capacity(items.len()));
    for (index, item) in items.iter().enumerate() {
        match (convert(item, path.item(index), problems), &mut all) {
            (Some(value), Some(values)) => values.push(value),
            (Some(_), None) => {}
            (None, _) => all = None,
        }
    }
    all
}

pub(super) fn thread_ref(
    wire: &pb::ThreadRef,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<ThreadRef> {
    let table = table_id(&wire.table_id, path.field("table_id"), problems);
    let code = problems.take(Code::parse(&wire.code), path.field("code"));
    Some(ThreadRef { table: table?, code: code? })
}

fn thread_refs(
    wire: &[pb::ThreadRef],
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Vec<ThreadRef>> {
    each(wire, path, problems, thread_ref)
}

fn one_to(
    what: &str,
    path: Path<'_>,
    found: usize,
    most: usize,
    problems: &mut Problems,
) -> Option<()> {
    if found == 0 {
        problems.bad(path, "", "at least one is needed", "give one or more");
        return None;
    }
    problems.within(path, what, found, most).then_some(())
}

fn label(text: &str, path: Path<'_>, problems: &mut Problems) -> Option<String> {
    problems
        .within(path, "characters in a label", text.chars().count(), MAX_LABEL_CHARS)
        .then(|| text.to_owned())
}

fn required_ref(
    wire: Option<&pb::ThreadRef>,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<ThreadRef> {
    let Some(wire) = wire else {
        problems.bad(path, "", "a thread is missing", "give its table and code");
        return None;
    };
    thread_ref(wire, path, problems)
}

/// A name of a write: up to 36 printable characters of ASCII.
pub(super) fn request_id(text: &str, path: Path<'_>, problems: &mut Problems) -> Option<()> {
    if text.len() <= 36 && text.bytes().all(|byte| byte.is_ascii_graphic()) {
        return Some(());
    }
    let reason = "a request id is at most 36 printable ASCII characters";
    problems.bad(path, text, reason, "use a UUID");
    None
}
