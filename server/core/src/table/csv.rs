//! CSV and TSV with a header line: delimiter, header, records, and the way back.
//! It does not know what a cell means; it knows lines, quotes and delimiters.

use super::Table;
use super::bytes::{Lines, line_at};
use super::column::{COLUMNS, Column, Header};
use super::row::{Row, Rows};
use super::spectral::Spectral;
use super::wavelength::Bands;
use super::write::{self, CsvForm};
use crate::error::{Error, ErrorKind, Place, Result, shown};

/// Longest cell, in bytes.
pub(super) const MAX_CELL_BYTES: usize = 8_192;

/// Longest row, in bytes, line breaks inside quotes included.
pub(super) const MAX_ROW_BYTES: usize = 65_536;

/// Lines from the top among which the header line is looked for.
const HEADER_LINES: usize = 50;

/// Most columns.
const MAX_COLUMNS: usize = 1_024;

const DELIMITERS: [u8; 3] = [b',', b';', b'\t'];

/// Where the rows begin and how they are cut.
#[derive(Debug)]
struct Layout {
    header: Header,
    delimiter: u8,
    header_line: u64,
    body: usize,
}

/// Reads all rows of a text.
pub(super) fn read(text: &str, rows: &mut Rows<'_>) {
    let layout = match find_layout(text) {
        Ok(layout) => layout,
        Err((kind, line)) => {
            rows.report.problem(*kind, line.map(Place::line).unwrap_or_default());
            return;
        }
    };
    announce(&layout, rows);
    if layout.header.doubled.is_empty() && layout.header.bands.faults().is_empty() {
        read_body(text, &layout, rows);
    }
}

/// Tells what was skipped and sets the column names that messages use.
fn announce(layout: &Layout, rows: &mut Rows<'_>) {
    let line = layout.header_line;
    if line > 1 {
        let text = match line {
            2 => "line 1 above the header is not read".into(),
            _ => format!("lines 1 to {} above the header are not read", line - 1),
        };
        rows.report.notice(Some(Place::line(1)), text);
    }
    for name in &layout.header.unknown {
        let text = format!("column `{}` is not one of the format: not read", shown(name));
        rows.report.notice(Some(Place::line(line)), text);
    }
    for name in &layout.header.doubled {
        let remedy = if name.eq_ignore_ascii_case("b") {
            "name the Lab columns L*, a* and b* where r, g and b stand beside them"
        } else {
            "keep one of them"
        };
        let kind = ErrorKind::BadValue {
            value: name.clone(),
            reason: "a second column of this meaning".into(),
            remedy: remedy.into(),
        };
        rows.report.problem(kind, Place::cell(line, name.clone()));
    }
    for (kind, column) in layout.header.bands.faults() {
        rows.report.problem(kind, Place::cell(line, column));
    }
    for (columns, names) in [(Column::LAB, "L, a, b"), (Column::RGB, "r, g, b")] {
        let some = columns.into_iter().any(|column| layout.header.has(column));
        if some && !layout.header.has_all(columns) {
            let text = format!("not all of the columns {names} are there: none of them is read");
            rows.report.notice(Some(Place::line(line)), text);
        }
    }
    rows.spelled = Default::default();
    for named in layout.header.columns.iter().flatten() {
        if let Some(spelled) = rows.spelled.get_mut(named.column.index()) {
            spelled.clone_from(&named.spelled);
        }
    }
}

type Fault = (Box<ErrorKind>, Option<u64>);

fn bad_file(reason: impl Into<String>, remedy: impl Into<String>) -> Box<ErrorKind> {
    Box::new(ErrorKind::BadFile { reason: reason.into(), remedy: remedy.into() })
}

/// Finds the first line that names a code and a color under exactly one delimiter.
fn find_layout(text: &str) -> std::result::Result<Layout, Fault> {
    let mut nearest: Option<(u64, Header)> = None;
    let mut start = 0;
    for header_line in 1..=HEADER_LINES as u64 {
        let Some(rest) = text.get(start..).filter(|rest| !rest.is_empty()) else { break };
        let (line, body) = first_line(rest);
        start += body;
        if line.len() > MAX_ROW_BYTES {
            break;
        }
        let mut found: Option<Layout> = None;
        for delimiter in DELIMITERS {
            let header = header_of(line, delimiter);
            if header.is_enough() {
                if found.is_some() {
                    let reason = "two delimiters both give column names";
                    return Err((
                        bad_file(reason, "use one of comma, semicolon, tab"),
                        Some(header_line),
                    ));
                }
                found = Some(Layout { header, delimiter, header_line, body: start });
            } else if header.known() > nearest.as_ref().map_or(0, |(_, near)| near.known()) {
                nearest = Some((header_line, header));
            }
        }
        if let Some(layout) = found {
            return Ok(layout);
        }
    }
    Err(no_header(text, nearest))
}

/// The first line without its end, and where the next one begins.
fn first_line(text: &str) -> (&str, usize) {
    let end = text.find(['\n', '\r']).unwrap_or(text.len());
    let (line, rest) = text.split_at_checked(end).unwrap_or((text, ""));
    let width = if rest.starts_with("\r\n") { 2 } else { usize::from(!rest.is_empty()) };
    (line, end + width)
}

fn header_of(line: &str, delimiter: u8) -> Header {
    let mut record = csv::StringRecord::new();
    match reader(line.as_bytes(), delimiter).read_record(&mut record) {
        Ok(true) if record.len() <= MAX_COLUMNS => {
            Header::parse(record.iter()).with_bands(Bands::find(record.iter()))
        }
        Ok(_) | Err(_) => Header::default(),
    }
}

fn reader(bytes: &[u8], delimiter: u8) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter)
        .from_reader(bytes)
}

/// Why no line can be the header.
fn no_header(text: &str, nearest: Option<(u64, Header)>) -> Fault {
    const COLUMNS_WANTED: &str =
        "write a header line above the rows, such as code,name,hex or code,name,L,a,b";
    let Some((line, header)) = nearest
        .filter(|(_, header)| header.has(Column::Code) || header.has_color() || header.known() > 1)
    else {
        let (first, _) = first_line(text);
        let reason =
            format!("no header line names a code and a color; line 1 reads `{}`", shown(first));
        let remedy = if first.contains('|') {
            "separate the columns with commas, semicolons or tabs"
        } else {
            COLUMNS_WANTED
        };
        return (bad_file(reason, remedy), Some(1));
    };
    if !header.has(Column::Code) {
        return (bad_file("the header has no column `code`", COLUMNS_WANTED), Some(line));
    }
    let reason = "the header has no color: neither hex nor all of L, a, b nor all of r, g, b \
                  nor a spectrum (nm400, nm410 … nm700)";
    (bad_file(reason, COLUMNS_WANTED), Some(line))
}

fn read_body(text: &str, layout: &Layout, rows: &mut Rows<'_>) {
    let body = text.get(layout.body..).unwrap_or_default();
    let mut lines = Lines::new(text.as_bytes());
    let mut reader = reader(body.as_bytes(), layout.delimiter);
    let mut record = csv::StringRecord::new();
    loop {
        let begin = offset(reader.position(), layout.body);
        match reader.read_record(&mut record) {
            Ok(true) => {}
            Ok(false) => break,
            Err(error) => {
                let line = Place::line(lines.line_of(begin));
                rows.report
                    .problem(*bad_file(error.to_string(), "save the table again as CSV"), line);
                return;
            }
        }
        let end = offset(reader.position(), layout.body);
        let raw = text.get(begin..end).unwrap_or_default();
        let blank = raw.len() - raw.trim_start_matches(['\n', '\r']).len();
        let line = lines.line_of(begin + blank);
        let raw = raw.trim_matches(['\n', '\r']);
        read_record(&record, Raw { text: raw, line }, layout, rows);
        if rows.is_full {
            return;
        }
    }
    let last = lines.line_of(text.len());
    let ended = text.ends_with(['\n', '\r']);
    rows.note_line_count(if ended { last - 1 } else { last });
}

fn offset(position: &csv::Position, body: usize) -> usize {
    usize::try_from(position.byte()).map_or(usize::MAX, |byte| byte.saturating_add(body))
}

/// A record as it stands in the file.
#[derive(Clone, Copy, Debug)]
struct Raw<'t> {
    text: &'t str,
    line: u64,
}

fn read_record(record: &csv::StringRecord, raw: Raw<'_>, layout: &Layout, rows: &mut Rows<'_>) {
    if record.iter().all(|cell| cell.trim().is_empty()) {
        return;
    }
    if let Some((kind, line)) = quote_fault(raw, layout.delimiter) {
        rows.report.problem(kind, Place::line(line));
        return;
    }
    if layout.header.stands_again(record) {
        let remedy = "take this line out; were two files joined?";
        let kind = *bad_file("the header line stands here again", remedy);
        rows.report.problem(kind, Place::line(raw.line));
        return;
    }
    let mut row = row_of(record, raw.line, &layout.header);
    if let Some(kind) = size_fault(&row, raw) {
        rows.report.problem(kind, Place::line(raw.line));
        return;
    }
    let expected = layout.header.columns.len();
    if record.len() != expected && !row.is_total() {
        rows.report.problem(ragged(record, expected, layout.delimiter), Place::line(raw.line));
        return;
    }
    if !layout.header.bands.is_empty() {
        let cell = |at: usize| record.get(at).unwrap_or_default();
        row.spectrum = layout.header.bands.spectrum(raw.line, cell, rows);
    }
    rows.push(&row);
}

fn row_of<'r>(record: &'r csv::StringRecord, line: u64, header: &Header) -> Row<'r> {
    let mut cells = [""; COLUMNS];
    for (cell, named) in record.iter().zip(&header.columns) {
        if let Some(named) = named
            && let Some(place) = cells.get_mut(named.column.index())
        {
            *place = if named.guarded { cell.strip_prefix('\'').unwrap_or(cell) } else { cell };
        }
    }
    Row { line, origin: None, cells, spectrum: Spectral::Absent }
}

fn size_fault(row: &Row<'_>, raw: Raw<'_>) -> Option<ErrorKind> {
    let longest = row.cells.iter().map(|cell| cell.len()).max().unwrap_or(0);
    let reason = if longest > MAX_CELL_BYTES {
        format!("a field of {longest} bytes, the limit is {MAX_CELL_BYTES}")
    } else if raw.text.len() > MAX_ROW_BYTES {
        format!("a row of {} bytes, the limit is {MAX_ROW_BYTES}", raw.text.len())
    } else {
        return None;
    };
    let remedy = if raw.text.contains(['\n', '\r']) {
        "it runs over several lines: is a quote missing?"
    } else {
        "shorten it"
    };
    Some(*bad_file(reason, remedy))
}

fn ragged(record: &csv::StringRecord, expected: usize, delimiter: u8) -> ErrorKind {
    let found = record.len();
    let fields = if found == 1 { "field" } else { "fields" };
    let remedy = if record.iter().any(|cell| cell.trim_start().starts_with('"')) {
        "a quote must follow the delimiter at once, without a blank between"
    } else if found < expected {
        "leave missing cells empty but keep their delimiters"
    } else if record.iter().skip(expected).all(|cell| cell.trim().is_empty()) {
        "take the delimiters at the end of the line away, or name the columns they make"
    } else if delimiter == b',' {
        "a comma in a name needs quotes: \"Moss, dark\""
    } else {
        "a delimiter in a name needs quotes"
    };
    ErrorKind::BadFile {
        reason: format!("{found} {fields}, {expected} expected"),
        remedy: remedy.into(),
    }
}

/// A quote that is never closed, or text after a closing quote, with the line the quote opened on.
fn quote_fault(raw: Raw<'_>, delimiter: u8) -> Option<(ErrorKind, u64)> {
    let bytes = raw.text.as_bytes();
    if !bytes.contains(&b'"') {
        return None;
    }
    let mut opened = None;
    let mut at_start = true;
    let mut index = 0;
    while let Some(byte) = bytes.get(index) {
        let next = bytes.get(index + 1).copied();
        match (opened, byte) {
            (None, b'"') if at_start => opened = Some(index),
            (None, byte) => at_start = *byte == delimiter,
            (Some(_), b'"') if next == Some(b'"') => index += 1,
            (Some(start), b'"') => {
                opened = None;
                at_start = false;
                if next.is_some_and(|next| next != delimiter) {
                    let kind = bad_file(
                        "text after a closing quote",
                        "inside quotes a quote is written twice: \"5\"\" hoop\"",
                    );
                    return Some((*kind, opened_on(raw, start)));
                }
            }
            (Some(_), _) => {}
        }
        index += 1;
    }
    let start = opened?;
    let kind = bad_file("a quote opens here and is never closed", "close it, or remove it");
    Some((*kind, opened_on(raw, start)))
}

fn opened_on(raw: Raw<'_>, offset: usize) -> u64 {
    raw.line + line_at(raw.text.as_bytes(), offset) - 1
}

/// Writes a table as CSV with commas.
pub(super) fn write(table: &Table, form: CsvForm) -> Result<String> {
    let columns = write::used_columns(table);
    let wavelengths = write::wavelengths(table);
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut record: Vec<String> =
        columns.iter().map(|column| write::header(*column, form)).collect();
    record.extend(wavelengths.iter().map(|nm| format!("nm{nm}")));
    writer.write_record(&record).map_err(|error| unwritten(&error))?;
    for thread in table.threads() {
        record.clear();
        record.extend(columns.iter().map(|column| write::cell(thread, *column, form)));
        record.extend(wavelengths.iter().map(|nm| write::factor(thread, *nm)));
        writer.write_record(&record).map_err(|error| unwritten(&error))?;
    }
    let bytes = writer.into_inner().map_err(|error| unwritten(error.error()))?;
    String::from_utf8(bytes).map_err(|error| unwritten(&error))
}

fn unwritten(error: &dyn std::error::Error) -> Error {
    Error::new(*bad_file(format!("the table cannot be written as CSV: {error}"), ""))
}
