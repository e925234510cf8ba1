//! The file of a list of stitches back to the list, or all that is wrong with it.
//! It does not know the chart, so it cannot say whether the list fits it.

use std::collections::HashSet;

use dyekin_core::error::Error;
use dyekin_core::table::Refused;
use dyekin_core::{Code, Srgb8, TableId, ThreadRef};

use super::{QUESTION, Stitch, StitchAnswer, StitchColor, StitchList, Suggestion, TAILS_MM, Why};
use crate::change_file::{FORMAT, MAX_FILE_BYTES, VERSION};
use crate::chart::problems::{Problems, bad_value};
use crate::chart::{KeyThread, MAX_ENTRIES, MAX_SIDE};
use crate::json::{Checker, Node, Object, Value, chart_hash, table_hash};

pub(crate) const FILE_FIELDS: [&str; 11] = [
    "format",
    "version",
    "program",
    "chart",
    "chart_after",
    "question",
    "settings",
    "colors",
    "rest",
    "stitches",
    "suggestions",
];

pub(crate) const COLOR_FIELDS: [&str; 4] = ["id", "hex", "stitches", "threads"];

pub(crate) const STITCH_FIELDS: [&str; 5] = ["answer", "at", "from", "to", "why"];

pub(crate) const SUGGESTION_FIELDS: [&str; 7] =
    ["answer", "cells", "from", "to", "difference", "starts", "thread_mm"];

/// True for the tree of a change list that speaks of single stitches.
pub(crate) fn is_of_stitches(tree: &Node) -> bool {
    let Value::Object(fields) = &tree.value else { return false };
    let is_question = |node: &Node| matches!(&node.value, Value::Text(text) if **text == *QUESTION);
    fields.iter().any(|(key, node)| &*key.text == "question" && is_question(node))
}

/// Reads the file of a list of stitches.
///
/// # Errors
///
/// All problems of the file at once.
pub fn read(bytes: &[u8], source_name: &str) -> Result<StitchList, Refused> {
    let most = (MAX_FILE_BYTES, "make the list again");
    let (text, problems) = Problems::reading(source_name, bytes, most)?;
    let (check, tree) = Checker::read(text, problems);
    read_tree(check, tree.as_ref())
}

/// The same from the tree of the file.
pub(crate) fn read_tree(check: Checker<'_>, tree: Option<&Node>) -> Result<StitchList, Refused> {
    let mut reader = Reader { check, known: HashSet::new() };
    let list = tree.and_then(|tree| reader.list(tree));
    reader.check.finish(list, "the list")
}

struct Reader<'t> {
    check: Checker<'t>,
    /// Numbers of the colors that the list names.
    known: HashSet<usize>,
}

impl Reader<'_> {
    fn list(&mut self, tree: &Node) -> Option<StitchList> {
        let root = self.check.object(tree, "list", &FILE_FIELDS)?;
        if !self.check.is_format(root, FORMAT, VERSION, "change list") {
            return None;
        }
        let program = self.check.need(root, "program", "list");
        let program = program.and_then(|node| self.check.text(node, "program")).map(str::to_owned);
        let chart = self.check.need(root, "chart", "list");
        let chart = chart.and_then(|node| self.check.parsed(node, "chart", chart_hash));
        let chart_after = self.check.optional(root, "chart_after", chart_hash);
        let question = self.check.need(root, "question", "list");
        question.and_then(|node| self.check.parsed(node, "question", question_of));
        let settings = self.check.texts(root, "settings");
        let colors = self.colors(root);
        let rest = root.get("rest").map(|node| self.answer(node, "rest"));
        let stitches = self.stitches(root);
        let suggestions = self.suggestions(root);
        let rest = match rest {
            None => None,
            Some(rest) => Some(rest?),
        };
        Some(StitchList {
            program: program?,
            chart: chart?,
            chart_after,
            settings: settings?,
            colors,
            rest,
            stitches,
            suggestions,
        })
    }

    fn colors(&mut self, root: Object<'_>) -> Vec<StitchColor> {
        let mut colors = Vec::new();
        for (place, node) in self.check.list_of(root, "colors").iter().enumerate() {
            let path = format!("colors[{place}]");
            let Some(object) = self.check.object(node, &path, &COLOR_FIELDS) else { continue };
            let number = self.check.needed(object, "id", &path, color_of);
            let hex = self.check.needed(object, "hex", &path, Srgb8::parse_hex);
            let stitches = self.check.need(object, "stitches", &path);
            let most = dyekin_core::palette::MAX_STITCHES;
            let stitches = stitches.and_then(|node| self.check.whole(node, &path, most));
            let mut threads = Vec::new();
            for node in self.check.list_of(object, "threads") {
                threads.extend(self.thread(node, &path));
            }
            let (Some(number), Some(hex), Some(stitches)) = (number, hex, stitches) else {
                continue;
            };
            if !self.known.insert(number) {
                self.check.bad(node, &path, "a second color of this id", "keep one of the two");
            }
            colors.push(StitchColor { number, hex, stitches, threads });
        }
        colors
    }

    fn thread(&mut self, node: &Node, path: &str) -> Option<KeyThread> {
        let object = self.check.object(node, path, &["table", "code", "hash"])?;
        let table = self.check.needed(object, "table", path, TableId::parse);
        let code = self.check.needed(object, "code", path, Code::parse);
        let hash = self.check.needed(object, "hash", path, table_hash);
        Some(KeyThread { thread: ThreadRef { table: table?, code: code? }, table_hash: hash? })
    }

    fn stitches(&mut self, root: Object<'_>) -> Vec<Stitch> {
        let mut stitches = Vec::new();
        for (place, node) in self.check.list_of(root, "stitches").iter().enumerate() {
            let path = format!("stitches[{place}]");
            let Some(object) = self.check.object(node, &path, &STITCH_FIELDS) else { continue };
            let answer =
                object.get("answer").map(|node| self.answer(node, &format!("{path}.answer")));
            let at = self.check.need(object, "at", &path);
            let at = at.and_then(|node| self.cell(node, &format!("{path}.at")));
            let from = self.color(object, "from", &path);
            let to = self.color(object, "to", &path);
            let why = self.check.needed(object, "why", &path, why_of);
            let (Some(at), Some(from), Some(to), Some(why)) = (at, from, to, why) else { continue };
            stitches.push(Stitch { at, from, to, why, answer: answer.flatten() });
        }
        stitches
    }

    fn suggestions(&mut self, root: Object<'_>) -> Vec<Suggestion> {
        let mut suggestions = Vec::new();
        for (place, node) in self.check.list_of(root, "suggestions").iter().enumerate() {
            let path = format!("suggestions[{place}]");
            let Some(object) = self.check.object(node, &path, &SUGGESTION_FIELDS) else { continue };
            let answer =
                object.get("answer").map(|node| self.answer(node, &format!("{path}.answer")));
            let mut cells = Vec::new();
            for node in self.check.list_of(object, "cells") {
                cells.extend(self.cell(node, &format!("{path}.cells")));
            }
            let from = self.color(object, "from", &path);
            let to = self.color(object, "to", &path);
            let difference = self.check.need(object, "difference", &path);
            let difference = difference.and_then(|node| self.check.number(node, &path));
            let starts = self.check.need(object, "starts", &path);
            let most = u64::MAX / TAILS_MM;
            let starts = starts.and_then(|node| self.check.whole(node, &path, most));
            let (Some(from), Some(to), Some(difference), Some(starts)) =
                (from, to, difference, starts)
            else {
                continue;
            };
            let answer = answer.flatten();
            suggestions.push(Suggestion { cells, from, to, difference, starts, answer });
        }
        suggestions
    }

    /// The id of a color that the list names.
    fn color(&mut self, object: Object<'_>, key: &str, path: &str) -> Option<usize> {
        let node = self.check.need(object, key, path)?;
        known_color(&mut self.check, &self.known, node, &format!("{path}.{key}"))
    }

    /// Column and row.
    fn cell(&mut self, node: &Node, path: &str) -> Option<(u16, u16)> {
        let most = u64::from(MAX_SIDE - 1);
        if let [column, row] = self.check.list(node, path)? {
            let column = self.check.whole(column, path, most);
            let row = self.check.whole(row, path, most);
            return Some((u16::try_from(column?).ok()?, u16::try_from(row?).ok()?));
        }
        self.check.bad(node, path, "not a cell", "write column and row from 0, such as [12, 40]");
        None
    }

    fn answer(&mut self, node: &Node, path: &str) -> Option<StitchAnswer> {
        const REMEDY: &str = "write null, \"yes\", \"no\" or {\"another\": \"c2\"}";
        let known = &self.known;
        let words = (StitchAnswer::Yes, StitchAnswer::No, REMEDY);
        self.check.answer(node, path, words, |check, another| {
            known_color(check, known, another, path).map(StitchAnswer::Another)
        })
    }
}

/// The number of a color that the list names.
fn known_color(
    check: &mut Checker<'_>,
    known: &HashSet<usize>,
    node: &Node,
    path: &str,
) -> Option<usize> {
    let number = check.parsed(node, path, color_of)?;
    if known.contains(&number) {
        return Some(number);
    }
    check.bad(node, path, "the list has no color of this id", "name one of `colors`");
    None
}

fn question_of(text: &str) -> Result<(), Error> {
    if text == QUESTION {
        return Ok(());
    }
    Err(bad_value(text, "not a list of single stitches", "give the list that `clean` wrote"))
}

fn why_of(text: &str) -> Result<Why, Error> {
    match text {
        "blend" => Ok(Why::Blend),
        "lone" => Ok(Why::Lone),
        _ => Err(bad_value(text, "not a reason of this version", "leave it as it was made")),
    }
}

fn color_of(text: &str) -> Result<usize, Error> {
    let digits = text.strip_prefix('c').unwrap_or_default();
    let plain = digits.bytes().all(|byte| byte.is_ascii_digit()) && !digits.starts_with('0');
    let number = digits.parse::<usize>().ok().filter(|_| plain);
    number
        .and_then(|number| number.checked_sub(1))
        .filter(|number| *number < MAX_ENTRIES)
        .ok_or_else(|| {
            bad_value(
                text,
                "a color's id is `c` and its number from 1",
                "leave ids as they were made",
            )
        })
}
