//! The file of a change list back to the list, or all that is wrong with it by line and column.
//! It does not know the chart, so it cannot say whether the list fits it.

mod blend;
mod cells;
mod thread;

use std::collections::HashSet;

use dyekin_core::change::{Combined, EdgeReport, Question, Remark, TableVersion, Totals};
use dyekin_core::difference::DeltaE;
use dyekin_core::error::Error;
use dyekin_core::planner::KeepEdges;
use dyekin_core::table::Refused;
use dyekin_core::{Code, Color, Formula, Srgb8, TableId, ThreadRef};

use super::undo::{Undo, digest, from_text, kind_of};
use super::{
    ChangeFile, ColorRef, FORMAT, FileAnswer, FileBlend, FileChange, FileThread, VERSION,
    color_place, question_word,
};
use crate::chart::Symbol;
use crate::chart::problems::{Problems, bad_value};
use crate::json::{Checker, Node, Object, chart_hash, table_hash};
use crate::stitch_list::{self, StitchList};

/// Largest file of a change list, in bytes.
pub const MAX_FILE_BYTES: usize = 64 << 20;

pub(super) const FIELDS: [&str; 14] = [
    "format",
    "version",
    "program",
    "chart",
    "chart_after",
    "tables",
    "formula",
    "question",
    "settings",
    "totals",
    "edges",
    "changes",
    "unchanged",
    "undo",
];

const UNDO_FIELDS: [&str; 4] = ["kind", "before", "after", "file"];

pub(super) const COLOR_FIELDS: [&str; 9] =
    ["id", "hex", "area", "cells", "marks", "entries", "symbols", "stitches", "before"];

pub(super) const CHANGE_FIELDS: [&str; 16] = [
    "answer",
    "id",
    "hex",
    "area",
    "cells",
    "marks",
    "entries",
    "symbols",
    "stitches",
    "before",
    "standard",
    "checked",
    "after",
    "runners_up",
    "blends",
    "remarks",
];

pub(super) const BLEND_FIELDS: [&str; 13] = [
    "threads",
    "hex",
    "difference",
    "words",
    "lightness",
    "chroma",
    "hue",
    "a",
    "b",
    "trust",
    "adapted",
    "full_spread",
    "speckle",
];

pub(super) const BLEND_THREAD_FIELDS: [&str; 5] = ["strands", "table", "code", "hash", "name"];

pub(super) const LIGHT_FIELDS: [&str; 2] = ["light", "difference"];

pub(super) const THREAD_FIELDS: [&str; 16] = [
    "table",
    "code",
    "hash",
    "name",
    "hex",
    "difference",
    "words",
    "lightness",
    "chroma",
    "hue",
    "a",
    "b",
    "trust",
    "adapted",
    "lights",
    "as_near",
];

/// A change list of either kind.
#[derive(Debug)]
pub enum AnyList {
    /// Of colors.
    Changes(Box<ChangeFile>),
    /// Of single stitches.
    Stitches(StitchList),
}

/// Reads the file of a change list, of colors or of single stitches.
///
/// # Errors
///
/// All problems of the file at once.
pub fn read_any(bytes: &[u8], source_name: &str) -> Result<AnyList, Refused> {
    let (check, tree) = parsed(bytes, source_name)?;
    if tree.as_ref().is_some_and(stitch_list::is_of_stitches) {
        return stitch_list::read_tree(check, tree.as_ref()).map(AnyList::Stitches);
    }
    read_tree(check, tree.as_ref()).map(|file| AnyList::Changes(Box::new(file)))
}

/// Reads the file of a change list of colors.
///
/// # Errors
///
/// All problems of the file at once.
pub fn read(bytes: &[u8], source_name: &str) -> Result<ChangeFile, Refused> {
    let (check, tree) = parsed(bytes, source_name)?;
    if tree.as_ref().is_some_and(stitch_list::is_of_stitches) {
        let mut problems = check.into_problems();
        let remedy = "give it to clean --answers or to apply";
        problems.push_file("a list of single stitches, as clean writes it", remedy);
        return Err(problems.refused());
    }
    read_tree(check, tree.as_ref())
}

fn parsed<'t>(bytes: &'t [u8], source_name: &str) -> Result<(Checker<'t>, Option<Node>), Refused> {
    if is_no_json(bytes) {
        let mut problems = Problems::of(source_name);
        let remedy = "give the file that --changes wrote; in apply it comes first, then the chart";
        problems.push_file("not a change list, which is JSON", remedy);
        return Err(problems.refused());
    }
    let most = (MAX_FILE_BYTES, "make the list again");
    let (text, problems) = Problems::reading(source_name, bytes, most)?;
    Ok(Checker::read(text, problems))
}

fn read_tree(check: Checker<'_>, tree: Option<&Node>) -> Result<ChangeFile, Refused> {
    let mut reader = Reader { check, tables: Vec::new(), formula: Formula::DEFAULT };
    let file = tree.and_then(|tree| reader.file(tree));
    reader.check.finish(file, "the change list")
}

/// True for a picture or a table: whatever it is, no JSON begins like this.
fn is_no_json(bytes: &[u8]) -> bool {
    let bytes = bytes.strip_prefix(&[0xEF, 0xBB, 0xBF]).unwrap_or(bytes);
    match bytes.iter().find(|byte| !byte.is_ascii_whitespace()) {
        // A mark of UTF-16 gets its own words.
        None | Some(0xFE | 0xFF | b'{' | b'[') => false,
        Some(_) => true,
    }
}

struct Reader<'t> {
    check: Checker<'t>,
    tables: Vec<TableVersion>,
    formula: Formula,
}

impl Reader<'_> {
    fn file(&mut self, tree: &Node) -> Option<ChangeFile> {
        if self.check.is_other(tree, FORMAT, "change list") {
            return None;
        }
        let root = self.check.object(tree, "changes", &FIELDS)?;
        if !self.check.is_format(root, FORMAT, VERSION, "change list") {
            return None;
        }
        self.tables = self.tables(root);
        let formula = self.formula(root);
        self.formula = formula.unwrap_or(Formula::DEFAULT);
        let program = self.check.need(root, "program", "changes");
        let program = program.and_then(|node| self.check.text(node, "program")).map(str::to_owned);
        let chart = self.check.optional(root, "chart", chart_hash);
        let chart_after = self.check.optional(root, "chart_after", chart_hash);
        let question = self.check.need(root, "question", "changes");
        let question = question.and_then(|node| self.check.parsed(node, "question", question_of));
        let settings = self.check.texts(root, "settings");
        let totals = self.totals(root);
        let edges = root.get("edges").map(|node| self.edges(node));
        let changes = self.changes(root);
        let unchanged = self.unchanged(root);
        let undo = root.get("undo").map(|node| self.undo(node));
        Some(ChangeFile {
            program: program?,
            chart,
            chart_after,
            tables: std::mem::take(&mut self.tables),
            formula: formula?,
            question: question?,
            settings: settings?,
            totals: totals?,
            edges: match edges {
                None => None,
                Some(edges) => Some(edges?),
            },
            changes,
            unchanged,
            undo: match undo {
                None => None,
                Some(undo) => Some(undo?),
            },
        })
    }

    /// The way back; a file that was damaged on the way is none.
    fn undo(&mut self, node: &Node) -> Option<Undo> {
        let object = self.check.object(node, "undo", &UNDO_FIELDS)?;
        let kind = self.check.needed(object, "kind", "undo", |word| {
            let remedy = "grid, jpeg, json, key or png";
            kind_of(word).ok_or_else(|| bad_value(word, "not a kind of chart file", remedy))
        });
        let text = |text: &str| Ok(text.to_owned());
        let before = self.check.needed(object, "before", "undo", text);
        let after = self.check.needed(object, "after", "undo", text);
        let file = self.check.need(object, "file", "undo")?;
        let bytes = self.check.text(file, "undo.file").and_then(from_text);
        let whole = bytes.filter(|bytes| before.as_ref() == Some(&digest(bytes)));
        if whole.is_none() {
            let reason = "the chart in the list is damaged";
            self.check.bad(file, "undo.file", reason, "give the file as --undo wrote it");
        }
        Some(Undo { kind: kind?, after: after?, file: whole? })
    }

    fn tables(&mut self, root: Object<'_>) -> Vec<TableVersion> {
        let mut tables: Vec<TableVersion> = Vec::new();
        for (number, node) in self.check.list_of(root, "tables").iter().enumerate() {
            let path = format!("tables[{number}]");
            let Some(object) = self.check.object(node, &path, &["table", "hash"]) else { continue };
            let table = self.check.needed(object, "table", &path, TableId::parse);
            let hash = self.check.needed(object, "hash", &path, table_hash);
            let (Some(table), Some(hash)) = (table, hash) else { continue };
            if tables.iter().any(|held| held.table == table) {
                self.check.bad(node, &path, "the table is named twice", "name each table once");
            }
            tables.push(TableVersion { table, hash });
        }
        tables
    }

    /// A number field that must be there.
    fn number(&mut self, object: Object<'_>, key: &str, path: &str) -> Option<f64> {
        let node = self.check.need(object, key, path)?;
        self.check.number(node, &format!("{path}.{key}"))
    }

    /// A whole number that must be there.
    fn count(&mut self, object: Object<'_>, key: &str, path: &str) -> Option<u64> {
        let node = self.check.need(object, key, path)?;
        self.check.whole(node, &format!("{path}.{key}"), dyekin_core::palette::MAX_STITCHES)
    }

    /// A difference that must be there.
    fn delta_e(&mut self, object: Object<'_>, key: &str, path: &str) -> Option<DeltaE> {
        let node = self.check.need(object, key, path)?;
        let path = format!("{path}.{key}");
        let number = self.check.number(node, &path)?;
        self.check.take(node, &path, DeltaE::new(number))
    }

    fn formula(&mut self, root: Object<'_>) -> Option<Formula> {
        let node = self.check.need(root, "formula", "changes")?;
        let object = self.check.object(node, "formula", &["name", "parameters"])?;
        let name = self.check.needed(object, "name", "formula", |text| Ok(text.to_owned()))?;
        let parameters = self.check.optional(object, "parameters", |text| Ok(text.to_owned()));
        let formula = formula_of(&name, parameters.as_deref().unwrap_or(""));
        self.check.take(node, "formula", formula)
    }

    fn totals(&mut self, root: Object<'_>) -> Option<Totals> {
        let node = self.check.need(root, "totals", "changes")?;
        let known = [
            "colors_before",
            "threads_after",
            "mean_difference",
            "max_difference",
            "lower_bound",
            "proved_best",
            "combined",
        ];
        let object = self.check.object(node, "totals", &known)?;
        let colors_before = self.count(object, "colors_before", "totals");
        let threads_after = self.count(object, "threads_after", "totals");
        let mean_difference = self.delta_e(object, "mean_difference", "totals");
        let max_difference = self.delta_e(object, "max_difference", "totals");
        let bounded = object.get("lower_bound").is_some();
        let lower_bound =
            if bounded { self.delta_e(object, "lower_bound", "totals") } else { None };
        let proved = self.check.need(object, "proved_best", "totals")?;
        let proved_best = self.check.flag(proved, "totals.proved_best")?;
        let combined = match object.get("combined") {
            Some(node) => Some(self.combined(node)?),
            None => None,
        };
        Some(Totals {
            colors_before: usize::try_from(colors_before?).ok()?,
            threads_after: usize::try_from(threads_after?).ok()?,
            mean_difference: mean_difference?,
            max_difference: max_difference?,
            lower_bound,
            proved_best,
            combined,
        })
    }

    fn combined(&mut self, node: &Node) -> Option<Combined> {
        const PATH: &str = "totals.combined";
        let known = ["keep_edges", "lost_contrast", "total", "lower_bound"];
        let object = self.check.object(node, PATH, &known)?;
        let word = self.check.need(object, "keep_edges", PATH)?;
        let keep_edges = KeepEdges::parse(self.check.text(word, PATH)?);
        if keep_edges.is_none() {
            let reason = "off, low, normal or high is expected";
            self.check.bad(word, PATH, reason, "leave totals as they were made");
        }
        let lost_contrast = self.delta_e(object, "lost_contrast", PATH);
        let total = self.delta_e(object, "total", PATH);
        let lower_bound = self.delta_e(object, "lower_bound", PATH);
        Some(Combined {
            keep_edges: keep_edges?,
            lost_contrast: lost_contrast?.value(),
            total: total?.value(),
            lower_bound: lower_bound?.value(),
        })
    }

    fn edges(&mut self, node: &Node) -> Option<EdgeReport> {
        let known =
            ["outline", "vanished", "faded", "soft", "soft_vanished", "soft_faded", "turned"];
        let object = self.check.object(node, "edges", &known)?;
        let [outline, vanished, faded, soft, soft_vanished, soft_faded, turned] =
            known.map(|name| self.count(object, name, "edges"));
        Some(EdgeReport {
            outline: outline?,
            vanished: vanished?,
            faded: faded?,
            soft: soft?,
            soft_vanished: soft_vanished?,
            soft_faded: soft_faded?,
            turned: turned?,
        })
    }

    fn changes(&mut self, root: Object<'_>) -> Vec<FileChange> {
        let mut changes = Vec::new();
        let mut known = HashSet::new();
        for (number, node) in self.check.list_of(root, "changes").iter().enumerate() {
            let path = format!("changes[{number}]");
            if let Some(change) = self.change(node, &path) {
                if !known.insert(change.of.color) {
                    let reason = "a second change of the same color";
                    self.check.bad(node, &path, reason, "keep one of the two");
                }
                changes.push(change);
            }
        }
        changes
    }

    fn unchanged(&mut self, root: Object<'_>) -> Vec<ColorRef> {
        let mut colors = Vec::new();
        for (number, node) in self.check.list_of(root, "unchanged").iter().enumerate() {
            let path = format!("unchanged[{number}]");
            if let Some(object) = self.check.object(node, &path, &COLOR_FIELDS) {
                colors.extend(self.color(object, &path));
            }
        }
        colors
    }

    fn change(&mut self, node: &Node, path: &str) -> Option<FileChange> {
        let object = self.check.object(node, path, &CHANGE_FIELDS)?;
        let offered = self.check.list_of(object, "blends").len();
        let answer =
            object.get("answer").map(|node| self.answer(node, &format!("{path}.answer"), offered));
        let of = self.color(object, path);
        let standard = self.check.need(object, "standard", path);
        let standard = standard.and_then(|node| self.standard(node, &format!("{path}.standard")));
        let judged = standard.as_ref().map(Color::lab);
        let after = self.threads(object, "after", path, judged);
        let runners_up = self.threads(object, "runners_up", path, judged);
        // Without a standard no thread could be read, and that has been said.
        if judged.is_some() && !(1..=2).contains(&after.len()) {
            let reason = "a change has one thread after it, or the two of a blend";
            self.check.bad(node, &format!("{path}.after"), reason, "make the list again");
        }
        let blends = self.blends(object, path, judged);
        let remarks = self.remarks(object, path);
        let answer = match answer {
            None => None,
            Some(answer) => Some(answer?),
        };
        let change =
            FileChange { of: of?, standard: standard?, after, runners_up, blends, remarks, answer };
        if let Some(flag) = object.get("checked")
            && self.check.flag(flag, path).is_some_and(|flag| flag != change.is_checked())
        {
            let reason = "does not agree with the trust of the differences";
            self.check.bad(flag, &format!("{path}.checked"), reason, "leave it as it was made");
        }
        Some(change)
    }

    fn color(&mut self, object: Object<'_>, path: &str) -> Option<ColorRef> {
        let color = self.check.needed(object, "id", path, color_of);
        let hex = self.check.needed(object, "hex", path, Srgb8::parse_hex);
        let area = self.check.optional(object, "area", |text| Ok(text.to_owned()));
        let portion = match object.get("cells") {
            Some(node) => Some(self.portion(object, (node, path), area.is_some())?),
            None => None,
        };
        let mut entries = Vec::new();
        for node in self.check.list_of(object, "entries") {
            let entry = self.check.whole(node, path, crate::chart::MAX_ENTRIES as u64);
            entries.extend(entry.and_then(|entry| usize::try_from(entry).ok()));
        }
        let mut symbols = Vec::new();
        for node in self.check.list_of(object, "symbols") {
            symbols.extend(self.check.parsed(node, path, Symbol::parse));
        }
        let mut before = Vec::new();
        for node in self.check.list_of(object, "before") {
            let known = ["table", "code", "hash"];
            let thread = self.check.object(node, path, &known);
            before.extend(thread.and_then(|thread| self.key_thread(thread, path)));
        }
        let stitches = self.count(object, "stitches", path);
        let (color, hex, stitches) = (color?, hex?, stitches?);
        Some(ColorRef { color, hex, area, portion, entries, symbols, stitches, before })
    }

    fn remarks(&mut self, object: Object<'_>, path: &str) -> Vec<Remark> {
        let mut remarks = Vec::new();
        for (number, node) in self.check.list_of(object, "remarks").iter().enumerate() {
            remarks.extend(self.remark(node, &format!("{path}.remarks[{number}]")));
        }
        remarks
    }

    fn remark(&mut self, node: &Node, path: &str) -> Option<Remark> {
        let object = self.check.object(node, path, &["kind", "color"])?;
        let color = self.check.optional(object, "color", color_of);
        let kind_node = self.check.need(object, "kind", path)?;
        let kind = self.check.text(kind_node, path)?;
        let remark = match (kind, color) {
            ("already_used", None) => Remark::AlreadyUsed,
            ("beyond_limit", None) => Remark::BeyondLimit,
            ("fades_into_cloth", None) => Remark::FadesIntoCloth,
            ("kept", None) => Remark::Kept,
            ("loses_edge", Some(color)) => Remark::LosesEdge(color),
            ("not_nearest", None) => Remark::NotNearest,
            ("shares_thread", Some(color)) => Remark::SharesThread(color),
            ("turns_shading", Some(color)) => Remark::TurnsShading(color),
            _ => {
                let reason = "not a remark of this version, or its color is missing or too many";
                self.check.bad(kind_node, path, reason, "leave remarks as they were made");
                return None;
            }
        };
        Some(remark)
    }

    /// `offered` is how many blends the change has.
    fn answer(&mut self, node: &Node, path: &str, offered: usize) -> Option<FileAnswer> {
        const REMEDY: &str = "write null, \"yes\", \"no\", {\"another\": {\"table\": \"…\", \"code\": \"…\"}} or, where the change has blends, {\"blend\": 1}";
        if let Some(number) = node.field("blend") {
            self.check.object(node, path, &["blend"])?;
            return self.blend_answer(number, &format!("{path}.blend"), offered);
        }
        let words = (FileAnswer::Yes, FileAnswer::No, REMEDY);
        self.check.answer(node, path, words, |check, another| {
            let object = check.object(another, path, &["table", "code"])?;
            let table = check.needed(object, "table", path, TableId::parse);
            let code = check.needed(object, "code", path, Code::parse);
            Some(FileAnswer::Another(ThreadRef { table: table?, code: code? }))
        })
    }
}

fn color_of(text: &str) -> Result<usize, Error> {
    color_place(text).ok_or_else(|| {
        bad_value(text, "a color's id is `c` and its number from 1", "leave ids as they were made")
    })
}

fn question_of(text: &str) -> Result<Question, Error> {
    [Question::Convert, Question::Reduce, Question::Substitute]
        .into_iter()
        .find(|question| question_word(*question) == text)
        .ok_or_else(|| bad_value(text, "not a question", "convert, reduce or substitute"))
}

fn formula_of(name: &str, parameters: &str) -> Result<Formula, Error> {
    let spelled = format!("{name}:{parameters}");
    // A list states what it was made with: nothing goes without saying.
    Formula::parse(spelled.trim_end_matches(':'))
        .ok()
        .filter(|formula| formula.name() == name && formula.parameters() == parameters)
        .ok_or_else(|| {
            bad_value(
                &format!("{name} {parameters}"),
                "not a formula of this version with its parameters",
                "the name and parameters as `--json` prints them, such as ciede2000 with 1:1:1",
            )
        })
}
