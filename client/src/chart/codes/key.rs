//! A key alone: CSV with a header, a code and a count in each line.
//! It does not know grids: what touches what stays unknown.

use dyekin_core::Table;
use dyekin_core::error::{ErrorKind, Place};
use dyekin_core::table::{Notice, Refused, find};

use super::super::problems::{Problems, bad_value};
use super::super::record::{Record, Records};
use super::super::text::unguarded;
use super::super::{KeyAlone, KeyRow, Label, MAX_ENTRIES};
use super::key_thread;

/// Most columns.
const MAX_COLUMNS: usize = 100;

/// Most stitches of one line.
const MAX_COUNT: u64 = 1_000_000_000_000;

/// Columns that the key's own writer adds and that say nothing new here.
const KNOWN: [&str; 11] = [
    "symbol",
    "name",
    "hex",
    "strands",
    "full",
    "three quarter",
    "half",
    "quarter",
    "line length",
    "knots",
    "table",
];

/// Where the columns are.
struct Columns {
    code: usize,
    count: usize,
    count_name: String,
    table: Option<usize>,
    width: usize,
}

/// Reads a key alone with codes of one table.
pub(crate) fn read(
    text: &str,
    source_name: &str,
    table: &Table,
) -> Result<(KeyAlone, Vec<Notice>), Refused> {
    let mut problems = Problems::of(source_name);
    let mut notices = Vec::new();
    let mut records = Records::new(text, MAX_COLUMNS);
    let header = match records.next() {
        Some(Ok(header)) => columns(&header, &mut problems, &mut notices),
        Some(Err(problem)) => {
            problems.push(problem);
            None
        }
        None => None,
    };
    let Some(columns) = header else {
        if problems.is_empty() {
            problems.push_file("an empty file", "write a header `code,count` and a line per code");
        }
        return Err(problems.refused());
    };
    let mut rows = Vec::new();
    for record in records {
        match record {
            Ok(record) if record.is_blank() => {}
            Ok(record) => rows.extend(row(&record, &columns, table, &mut problems)),
            Err(problem) => problems.push(problem),
        }
    }
    twice(&rows, &mut notices);
    let key = KeyAlone::new(rows.into_iter().map(|(_, row)| row).collect());
    match key {
        Some(key) if problems.is_empty() && key.rows().len() <= MAX_ENTRIES => Ok((key, notices)),
        Some(key) if problems.is_empty() => {
            let reason =
                format!("{} different codes, the limit is {MAX_ENTRIES}", key.rows().len());
            problems.push_file(reason, "use fewer threads");
            Err(problems.refused())
        }
        _ => {
            if problems.is_empty() {
                problems
                    .push_file("no code with stitches", "write a code and its count in each line");
            }
            Err(problems.refused())
        }
    }
}

fn columns(
    header: &Record<'_>,
    problems: &mut Problems,
    notices: &mut Vec<Notice>,
) -> Option<Columns> {
    let names: Vec<String> = header.fields.iter().map(|name| name.trim().to_lowercase()).collect();
    let find = |wanted: &[&str]| names.iter().position(|name| wanted.contains(&name.as_str()));
    let (code, count) = (find(&["code"]), find(&["count", "stitches"]));
    let used = |name: &str| ["code", "count", "stitches"].contains(&name) || KNOWN.contains(&name);
    let unread: Vec<&str> =
        header.fields.iter().map(|name| name.trim()).filter(|n| !used(&n.to_lowercase())).collect();
    if !unread.is_empty() {
        let text =
            format!("columns not read: {}", dyekin_core::error::harmless(&unread.join(", ")));
        notices.push(Notice { place: Some(Place::line(header.line)), text });
    }
    if let (Some(code), Some(count)) = (code, count) {
        let count_name = names.get(count).cloned().unwrap_or_default();
        return Some(Columns {
            code,
            count,
            count_name,
            table: find(&["table"]),
            width: names.len(),
        });
    }
    let reason = "a key alone needs the columns code and count";
    let problem = bad_value(&header.fields.join(","), reason, "begin the file with `code,count`");
    problems.push(problem.at(Place::line(header.line)));
    None
}

fn row(
    record: &Record<'_>,
    columns: &Columns,
    table: &Table,
    problems: &mut Problems,
) -> Option<(u64, KeyRow)> {
    let line = record.line;
    if record.fields.len() != columns.width {
        let reason = format!("{}, {} expected", record.counted(), columns.width);
        let remedy = "a comma in a name needs quotes around the name";
        problems.push(bad_value(&record.fields.join(","), reason, remedy).at(Place::line(line)));
        return None;
    }
    let field = |place: usize| record.fields.get(place).map_or("", |field| field.trim());
    let named = columns.table.map_or("", field);
    if !named.is_empty() && named != table.id().as_str() {
        let reason = format!("the key names another table than {}", table.id());
        let remedy = "give the table that the codes belong to";
        problems.push(bad_value(named, reason, remedy).at(Place::cell(line, "table")));
    }
    let count = count(field(columns.count));
    if count.is_none() {
        let reason = format!("stitches are a whole number from 0 to {MAX_COUNT}");
        let problem = bad_value(field(columns.count), reason, "write for example 1250");
        problems.push(problem.at(Place::cell(line, columns.count_name.clone())));
    }
    let written = field(columns.code);
    let thread = find(table, unguarded(written)).or_else(|error| match find(table, written) {
        Ok(thread) => Ok(thread),
        Err(_) => Err(error),
    });
    match thread {
        Ok(thread) => Some((
            line,
            KeyRow {
                thread: key_thread(table, thread),
                name: Label::cut(&thread.name),
                color: thread.color,
                stitches: count?,
            },
        )),
        Err(problem) => {
            let total = matches!(problem.kind(), ErrorKind::BadCode { .. });
            let problem = if total {
                let remedy = "give each line a code; leave out titles, totals and picture colors";
                bad_value(written, "a line without a code", remedy)
            } else {
                problem
            };
            problems.push(problem.at(Place::cell(line, "code")));
            None
        }
    }
}

fn count(text: &str) -> Option<u64> {
    let digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    text.parse::<u64>().ok().filter(|count| digits && *count <= MAX_COUNT)
}

/// Codes that come twice are added up, and said so.
fn twice(rows: &[(u64, KeyRow)], notices: &mut Vec<Notice>) {
    let mut first = std::collections::HashMap::new();
    for (line, row) in rows {
        if let Some(before) = first.insert(row.thread.thread.code.key(), *line) {
            let text = format!(
                "code {} stands on lines {before} and {line}: the counts are added",
                row.thread.thread.code
            );
            notices.push(Notice { place: Some(Place::line(*line)), text });
        }
    }
}
