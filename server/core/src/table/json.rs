//! Thread tables as JSON: each thread object becomes a row, and back.
//! It does not know what a value means; it checks kinds of values and keys.

mod spectrum;

use std::borrow::Cow;

use super::Table;
use super::column::{COLUMNS, Column, Header};
use super::csv::MAX_CELL_BYTES;
use super::row::{Keyed, Row, Rows};
use super::spectral::Spectral;
use super::walk::{Node, Step, Value, Walker};
use super::write;
use crate::error::{Error, ErrorKind, Place, Result, shown};

/// The format's name in the file.
const FORMAT: &str = "dyekin-table";

/// The format's version.
const VERSION: &str = "1";

/// Reads all threads of a text.
pub(super) fn read(text: &str, rows: &mut Rows<'_>) {
    if let Err(error) = valid(text) {
        let kind = if error.is_eof() {
            bad_file("the JSON ends early", "the file may be cut off: save or export it again")
        } else {
            let reason = format!("not valid JSON: {error}");
            bad_file(&reason, "correct the JSON at that place, or give the table as CSV")
        };
        let line = Some(error.line() as u64).filter(|line| *line > 0);
        rows.report.problem(kind, Place { line, ..Place::default() });
        return;
    }
    let mut walker = Walker::new(text);
    if let Err(fault) = read_root(&mut walker, rows) {
        rows.report.problem(bad_file(&fault.reason, fault.remedy), Place::line(fault.line));
    }
    for doubled in walker.into_doubled() {
        let reason = format!("the key `{}` stands twice in one object", shown(&doubled.key));
        let place =
            Place { line: Some(doubled.line), field: Some(doubled.path), ..Place::default() };
        rows.report.problem(bad_file(&reason, "keep one of them"), place);
    }
}

/// Checks the syntax without keeping anything.
fn valid(text: &str) -> serde_json::Result<()> {
    serde_json::from_str::<serde::de::IgnoredAny>(text).map(|_| ())
}

/// The text of a JSON string, quotes and escapes taken off.
pub(super) fn unquote(token: &str) -> Option<Cow<'_, str>> {
    let inside = token.strip_prefix('"')?.strip_suffix('"')?;
    if inside.contains('\\') {
        return serde_json::from_str::<String>(token).ok().map(Cow::Owned);
    }
    Some(Cow::Borrowed(inside))
}

fn bad_file(reason: &str, remedy: &str) -> ErrorKind {
    ErrorKind::BadFile { reason: reason.into(), remedy: remedy.into() }
}

/// Reads the outer object, thread by thread, so that no tree of the whole file is held.
fn read_root(
    walker: &mut Walker<'_>,
    rows: &mut Rows<'_>,
) -> std::result::Result<(), super::walk::Fault> {
    let mut has_threads = false;
    let mut fields: Vec<(String, Node<'_>)> = Vec::new();
    let line = walker.line();
    if !walker.open(b'{') {
        let kind = bad_file("a list, where an object is expected", SHAPE);
        rows.report.problem(kind, Place::line(line));
        return Ok(());
    }
    let mut keys = Vec::new();
    while let Some(key) = walker.key()? {
        keys.push((key.clone(), walker.line()));
        walker.enter(Step::Key(key.clone()));
        if key == "threads" && walker.open(b'[') {
            has_threads = true;
            read_threads(walker, rows)?;
        } else {
            fields.push((key.into_owned(), walker.value(0)?));
        }
        walker.leave();
    }
    walker.note_doubled(keys);
    for (key, node) in &fields {
        check_field(key, node, rows);
    }
    if !fields.iter().any(|(key, _)| key == "format") {
        let text = format!("no \"format\": read as {FORMAT} version {VERSION}");
        rows.report.notice(None, text);
    }
    if !has_threads && !fields.iter().any(|(key, _)| key == "threads") {
        rows.report.problem(bad_file("no key `threads`", SHAPE), Place::line(line));
    }
    Ok(())
}

const SHAPE: &str = "write {\"format\":\"dyekin-table\",\"version\":1,\"threads\":[{\"code\":\"K-1\",\"hex\":\"#4a6b3c\"}]}";

fn check_field(key: &str, node: &Node<'_>, rows: &mut Rows<'_>) {
    let place = Place { line: Some(node.line), field: Some(shown(key)), ..Place::default() };
    match (key, &node.value) {
        ("format", Value::Text(text)) if text == FORMAT => {}
        ("version", Value::Number(number)) if *number == VERSION => {}
        ("table", Value::Text(_)) => {}
        ("format", _) => {
            let kind = bad_file(&format!("the format is not {FORMAT}"), SHAPE);
            rows.report.problem(kind, place);
        }
        ("version", _) => {
            let kind =
                bad_file("a version of the format that is not known", "only version 1 is read");
            rows.report.problem(kind, place);
        }
        ("table", _) => {
            rows.report
                .problem(bad_file("the table's id is not a text", "write it in quotes"), place);
        }
        ("threads", value) => {
            let reason = format!("threads is {}, a list is expected", value.describe());
            rows.report.problem(bad_file(&reason, SHAPE), place);
        }
        _ => {
            let text = format!("key `{}` is not one of the format: not read", shown(key));
            rows.report.notice(Some(place), text);
        }
    }
}

fn read_threads(
    walker: &mut Walker<'_>,
    rows: &mut Rows<'_>,
) -> std::result::Result<(), super::walk::Fault> {
    let mut index = 0;
    let mut unknown: Vec<String> = Vec::new();
    while walker.element(index == 0) {
        walker.enter(Step::Index(index));
        let node = walker.value(0)?;
        walker.leave();
        // Beyond the limit the walk goes on to the end, for the keys after the threads.
        if !rows.is_full {
            read_thread(&node, index, &mut unknown, rows);
        }
        index += 1;
    }
    Ok(())
}

fn read_thread(node: &Node<'_>, index: usize, unknown: &mut Vec<String>, rows: &mut Rows<'_>) {
    let path = format!("threads[{index}]");
    let Value::Object(entries) = &node.value else {
        let reason = format!("a thread is {}, an object is expected", node.value.describe());
        let place = Place { line: Some(node.line), field: Some(path), ..Place::default() };
        rows.report.problem(bad_file(&reason, SHAPE), place);
        return;
    };
    let mut cells: [Cow<'_, str>; COLUMNS] = Default::default();
    let mut keys = [""; COLUMNS];
    let plain = entries.iter().map(|(key, _)| key.as_ref()).filter(|key| !is_ours_alone(key));
    let header = Header::parse(plain);
    let mut whole = doubled_is_fine(&header, node, &path, rows);
    let mut named = header.columns.iter();
    let mut held = Spectral::Absent;
    for (key, value) in entries {
        let at = At { path: &path, key };
        if key == "lab" {
            whole &= read_lab(value, &mut cells, at, rows);
            for (column, name) in Column::LAB.into_iter().zip(["lab[0]", "lab[1]", "lab[2]"]) {
                set(&mut keys, column, name);
            }
            continue;
        }
        if key == "spectrum" {
            held = spectrum::read(value, at, rows);
            continue;
        }
        match named.next().and_then(Option::as_ref) {
            Some(named) => {
                set(&mut keys, named.column, key);
                whole &= read_cell(value, named.column, &mut cells, at, rows);
            }
            None => note_unknown(key, node.line, unknown, rows),
        }
    }
    if !whole {
        return;
    }
    let path = format!("{path}.");
    let origin = Some(Keyed { path: &path, keys });
    let mut row = Row { line: node.line, origin, cells: [""; COLUMNS], spectrum: held };
    for (to, from) in row.cells.iter_mut().zip(&cells) {
        *to = from;
    }
    rows.push(&row);
}

/// True for the keys that no column of CSV has.
fn is_ours_alone(key: &str) -> bool {
    matches!(key, "lab" | "spectrum")
}

fn set<'k>(keys: &mut [&'k str; COLUMNS], column: Column, key: &'k str) {
    if let Some(place) = keys.get_mut(column.index()) {
        *place = key;
    }
}

/// Where a value stands, for messages.
#[derive(Clone, Copy, Debug)]
struct At<'p> {
    path: &'p str,
    key: &'p str,
}

fn refuse(node: &Node<'_>, at: At<'_>, part: &str, remedy: &str, rows: &mut Rows<'_>) {
    let kind = ErrorKind::BadValue {
        value: node.value.shown(),
        reason: format!("{} is not expected here", node.value.describe()),
        remedy: remedy.into(),
    };
    let field = Some(format!("{}.{}{part}", at.path, shown(at.key)));
    rows.report.problem(kind, Place { line: Some(node.line), field, ..Place::default() });
}

fn doubled_is_fine(header: &Header, node: &Node<'_>, path: &str, rows: &mut Rows<'_>) -> bool {
    // Exactly equal keys are told by the walker; here two spellings of one column are.
    for name in &header.doubled {
        let same = header.columns.iter().flatten().filter(|named| named.spelled == *name).count();
        if same < 2 {
            let kind = bad_file(
                &format!("the key `{}` gives a value that another key gave", shown(name)),
                "keep one of them",
            );
            let place =
                Place { line: Some(node.line), field: Some(path.into()), ..Place::default() };
            rows.report.problem(kind, place);
        }
    }
    header.doubled.is_empty()
}

fn note_unknown(key: &str, line: u64, unknown: &mut Vec<String>, rows: &mut Rows<'_>) {
    const NAMED: usize = 20;
    if unknown.len() < NAMED && !unknown.iter().any(|known| known == key) {
        unknown.push(key.to_owned());
        let text = format!("key `{}` is not one of the format: not read", shown(key));
        rows.report.notice(Some(Place::line(line)), text);
    }
}

/// `"lab": [L, a, b]`. True when it holds three numbers.
fn read_lab<'n>(
    node: &'n Node<'_>,
    cells: &mut [Cow<'n, str>; COLUMNS],
    at: At<'_>,
    rows: &mut Rows<'_>,
) -> bool {
    const REMEDY: &str = "write three numbers, such as [42.15, -18.3, 22.75]";
    if matches!(node.value, Value::Null) {
        return true;
    }
    let Value::List(parts) = &node.value else {
        refuse(node, at, "", REMEDY, rows);
        return false;
    };
    let [_, _, _] = parts.as_slice() else {
        let count = parts.len();
        let kind = ErrorKind::BadColor {
            value: node.value.shown(),
            reason: format!("{count} values, 3 expected"),
            remedy: REMEDY.into(),
        };
        let field = Some(format!("{}.lab", at.path));
        rows.report.problem(kind, Place { line: Some(node.line), field, ..Place::default() });
        return false;
    };
    let mut whole = true;
    for (index, (column, part)) in Column::LAB.into_iter().zip(parts).enumerate() {
        let Value::Number(number) = part.value else {
            refuse(part, at, &format!("[{index}]"), REMEDY, rows);
            whole = false;
            continue;
        };
        if let Some(cell) = cells.get_mut(column.index()) {
            *cell = Cow::Borrowed(number);
        }
    }
    whole
}

/// One value of a thread. True when its kind is one that the column takes.
fn read_cell<'n>(
    node: &'n Node<'_>,
    column: Column,
    cells: &mut [Cow<'n, str>; COLUMNS],
    at: At<'_>,
    rows: &mut Rows<'_>,
) -> bool {
    let text = match (&node.value, column) {
        (Value::Null, _) if column != Column::Code => return true,
        (Value::Number(_), Column::Code | Column::Gtin | Column::Name | Column::Hex) => {
            refuse(node, at, "", "this is text: write it in quotes", rows);
            return false;
        }
        (Value::Number(number), _) => Cow::Borrowed(*number),
        (Value::Text(_), column) if takes_numbers(column) => {
            refuse(node, at, "", "write the number without quotes", rows);
            return false;
        }
        (Value::Text(text), _) => Cow::Borrowed(text.as_ref()),
        (Value::List(parts), Column::Alternates) => match alternates(parts, at, rows) {
            Some(text) => Cow::Owned(text),
            None => return false,
        },
        (Value::Null | Value::Bool(_) | Value::List(_) | Value::Object(_), _) => {
            refuse(node, at, "", "write a text or a number", rows);
            return false;
        }
    };
    if text.len() > MAX_CELL_BYTES || text.contains('\0') {
        refuse_text(&text, node.line, at, rows);
        return false;
    }
    if let Some(cell) = cells.get_mut(column.index()) {
        *cell = text;
    }
    true
}

fn takes_numbers(column: Column) -> bool {
    matches!(
        column,
        Column::Red
            | Column::Green
            | Column::Blue
            | Column::LabL
            | Column::LabA
            | Column::LabB
            | Column::Uncertainty
            | Column::Strands
            | Column::SkeinMetres
            | Column::Pack
            | Column::Minimum
    )
}

fn refuse_text(text: &str, line: u64, at: At<'_>, rows: &mut Rows<'_>) {
    let field = Some(format!("{}.{}", at.path, shown(at.key)));
    let place = Place { line: Some(line), field, ..Place::default() };
    let kind = if text.len() > MAX_CELL_BYTES {
        ErrorKind::OverLimit {
            what: "bytes in one field".into(),
            found: text.len() as u64,
            limit: MAX_CELL_BYTES as u64,
        }
    } else {
        ErrorKind::BadValue {
            value: text.into(),
            reason: "NUL is not a character of a text".into(),
            remedy: "take the NUL out".into(),
        }
    };
    rows.report.problem(kind, place);
}

/// A list of codes, one a line.
fn alternates(parts: &[Node<'_>], at: At<'_>, rows: &mut Rows<'_>) -> Option<String> {
    let mut text = String::new();
    for (index, part) in parts.iter().enumerate() {
        let Value::Text(code) = &part.value else {
            refuse(part, at, &format!("[{index}]"), "codes are text: write them in quotes", rows);
            return None;
        };
        if code.contains('\n') {
            refuse(part, at, &format!("[{index}]"), "a code has no line break", rows);
            return None;
        }
        text.push_str(code);
        text.push('\n');
    }
    Some(text)
}

/// Writes a table as JSON, one thread a line.
pub(super) fn write(table: &Table) -> Result<String> {
    let columns = write::used_columns(table);
    let id = serialized(&table.id().as_str())?;
    let mut out =
        format!("{{\"format\":\"{FORMAT}\",\"version\":{VERSION},\"table\":{id},\"threads\":[");
    for (index, thread) in table.threads().iter().enumerate() {
        out.push_str(if index == 0 { "\n{" } else { ",\n{" });
        for (place, (key, value)) in members(thread, &columns)?.into_iter().enumerate() {
            out.push_str(if place == 0 { "\"" } else { ",\"" });
            out.push_str(key);
            out.push_str("\":");
            out.push_str(&value);
        }
        if let Some(held) = &thread.spectrum {
            out.push_str(&spectrum::written(held));
        }
        out.push('}');
    }
    out.push_str("\n]}\n");
    Ok(out)
}

fn members(thread: &super::Thread, columns: &[Column]) -> Result<Vec<(&'static str, String)>> {
    let mut members = Vec::new();
    for column in columns.iter().copied() {
        let text = write::text(thread, column);
        if text.is_empty() || matches!(column, Column::LabA | Column::LabB) {
            continue;
        }
        let (key, value) = if column == Column::LabL {
            let [a, b] = [Column::LabA, Column::LabB].map(|column| write::text(thread, column));
            ("lab", format!("[{text},{a},{b}]"))
        } else if column == Column::Alternates {
            let codes: Vec<&str> = thread.alternates.iter().map(super::Code::as_str).collect();
            (column.as_str(), serialized(&codes)?)
        } else if takes_numbers(column) || matches!(column, Column::Observer | Column::Price) {
            (column.as_str(), text)
        } else {
            (column.as_str(), serialized(&text)?)
        };
        members.push((key, value));
    }
    Ok(members)
}

/// JSON text with control and invisible characters escaped, so that it is harmless in a terminal.
fn serialized<T: serde::Serialize>(value: &T) -> Result<String> {
    let text = serde_json::to_string(value).map_err(|error| {
        Error::new(bad_file(&format!("the table cannot be written as JSON: {error}"), ""))
    })?;
    if !text.chars().any(crate::error::is_hostile) {
        return Ok(text);
    }
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        if crate::error::is_hostile(character) {
            let mut units = [0; 2];
            for unit in character.encode_utf16(&mut units) {
                out.push_str(&format!("\\u{unit:04x}"));
            }
        } else {
            out.push(character);
        }
    }
    Ok(out)
}
