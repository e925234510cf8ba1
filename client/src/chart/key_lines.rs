//! A printed key as it was typed in: codes and counts line by line, whatever tables have.
//! It does not know the chart that it belongs to.

use dyekin_core::Code;
use dyekin_core::error::Place;
use dyekin_core::table::Refused;

use super::codes::BLEND_SIGN;
use super::problems::{Problems, bad_value, spot};
use super::record::{Record, Records};
use super::text::{decode, unguarded};

/// Most columns.
const MAX_COLUMNS: usize = 100;

/// Most stitches of one line.
const MAX_COUNT: u64 = 1_000_000_000_000;

/// One line of a key.
#[derive(Clone, Debug, PartialEq)]
pub struct KeyLine {
    /// The code, or the two of a blend.
    pub codes: Vec<Code>,
    /// The codes as they stand there. Foreign text: escape it before it is shown.
    pub written: String,
    /// Its stitches.
    pub stitches: u64,
}

/// Reads a CSV with the columns `code` and `stitches` (or `count`); others are not looked at.
///
/// # Errors
///
/// All problems of the file at once.
pub fn read_key_lines(bytes: &[u8], source_name: &str) -> Result<Vec<KeyLine>, Refused> {
    let mut problems = Problems::of(source_name);
    let text = match decode(bytes) {
        Ok(text) => text,
        Err(problem) => {
            problems.push(problem);
            return Err(problems.refused());
        }
    };
    let mut records = Records::new(text, MAX_COLUMNS);
    let columns = match records.next() {
        Some(Ok(header)) => columns(&header, &mut problems),
        Some(Err(problem)) => {
            problems.push(problem);
            None
        }
        None => {
            problems
                .push_file("an empty file", "write a header `code,stitches` and a line per code");
            None
        }
    };
    let Some(columns) = columns else { return Err(problems.refused()) };
    let mut lines = Vec::new();
    for record in records {
        match record {
            Ok(record) if record.is_blank() => {}
            Ok(record) => lines.extend(line(&record, &columns, &mut problems)),
            Err(problem) => problems.push(problem),
        }
    }
    if lines.is_empty() && problems.is_empty() {
        problems.push_file("no code in the file", "write a code and its stitches in each line");
    }
    if problems.is_empty() { Ok(lines) } else { Err(problems.refused()) }
}

struct Columns {
    code: usize,
    count: usize,
    count_name: String,
    width: usize,
}

fn columns(header: &Record<'_>, problems: &mut Problems) -> Option<Columns> {
    let names: Vec<String> = header.fields.iter().map(|name| name.trim().to_lowercase()).collect();
    let find = |wanted: &[&str]| names.iter().position(|name| wanted.contains(&name.as_str()));
    let found = find(&["code"]).zip(find(&["stitches", "count"]));
    if let Some((code, count)) = found {
        let count_name = names.get(count).cloned().unwrap_or_default();
        return Some(Columns { code, count, count_name, width: names.len() });
    }
    let reason = "a key needs the columns code and stitches";
    let remedy = "begin the file with `code,stitches`";
    let problem = bad_value(&header.fields.join(","), reason, remedy);
    problems.push(problem.at(Place::line(header.line)));
    None
}

fn line(record: &Record<'_>, columns: &Columns, problems: &mut Problems) -> Option<KeyLine> {
    if record.fields.len() != columns.width {
        let reason = format!("{}, {} expected", record.counted(), columns.width);
        let remedy = "a comma in a name needs quotes around the name";
        let problem = bad_value(&record.fields.join(","), reason, remedy);
        problems.push(problem.at(Place::line(record.line)));
        return None;
    }
    let field = |place: usize| record.fields.get(place).map_or("", |field| field.trim());
    let text = field(columns.count);
    let digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let stitches = text.parse::<u64>().ok().filter(|count| digits && *count <= MAX_COUNT);
    if stitches.is_none() {
        let reason = format!("stitches are a whole number from 0 to {MAX_COUNT}");
        let problem = bad_value(text, reason, "write for example 1250");
        problems.push(problem.at(Place::cell(record.line, columns.count_name.clone())));
    }
    let written = unguarded(field(columns.code));
    if written.is_empty() {
        // Colors of a picture have no code yet: there is nothing to compare.
        return None;
    }
    let codes: Result<Vec<Code>, _> = written.split(BLEND_SIGN).map(Code::parse).collect();
    match codes {
        Ok(codes) => Some(KeyLine { codes, written: written.to_owned(), stitches: stitches? }),
        Err(problem) => {
            problems.push(problem.at(spot(record.line, columns.code as u64 + 1)));
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_blends_and_counts_are_read_whatever_the_table() {
        let lines =
            read_key_lines(b"symbol,code,stitches\nX,K-1,12\n,K-2 + K-3,4\n\nZ,,9\n", "k").unwrap();
        let told: Vec<_> = lines.iter().map(|line| (line.codes.len(), line.stitches)).collect();
        assert_eq!(told, [(1, 12), (2, 4)]);
    }

    #[test]
    fn all_problems_of_a_key_are_told_at_once() {
        let refused =
            read_key_lines(b"code,stitches\nK-1,many\nK-2\nK-3,-4\n", "k.csv").unwrap_err();
        let lines: Vec<_> =
            refused.problems.iter().map(|problem| problem.place().unwrap().line).collect();
        assert_eq!(lines, [Some(2), Some(3), Some(4)]);
        assert!(read_key_lines(b"name,hex\n", "k.csv").is_err());
        assert!(read_key_lines(b"", "k.csv").is_err());
        assert!(read_key_lines(&[0xFF, 0xFE, 0, 0], "k.csv").is_err());
    }
}
