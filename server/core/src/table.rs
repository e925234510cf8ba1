//! Threads and tables of threads, checked when they are made.
//! It does not know where a table is kept or how its threads are searched.

mod bytes;
mod cgats;
mod code;
mod column;
mod csv;
mod cxf;
mod field;
mod finish;
mod gimp;
mod injury;
mod json;
mod naming;
mod number;
mod paint;
mod read;
mod report;
mod row;
mod spectral;
mod swatch;
mod tristimulus;
mod walk;
mod wavelength;
mod write;

pub use bytes::MAX_FILE_BYTES;
pub use code::{Code, TableId};
pub use field::{Currency, Finish, Gtin, Price, Status};
pub use read::{Loaded, Notice, ReadOptions, Refused, read};
pub use report::MAX_LISTED_PROBLEMS;
pub use write::CsvForm;

use std::fmt;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::Arc;

use sha2::{Digest, Sha256};

use crate::color::Color;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::spectrum::Reflectance;

/// Most threads that one table may hold: the rows of a full spreadsheet.
pub const MAX_THREADS: usize = 1_048_576;

/// One thread of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct Thread {
    /// The code as the table writes it.
    pub code: Code,
    /// The name; empty when the table has none. Foreign text: escape it before it is shown.
    pub name: String,
    /// The color with its conditions, origin and uncertainty.
    pub color: Color,
    /// The reflectance spectrum behind the color, when the table has it. A thread with one has a
    /// CIELAB color, not an sRGB one.
    pub spectrum: Option<Arc<Reflectance>>,
    /// How the surface behaves.
    pub finish: Finish,
    /// The fiber in lower case, such as `cotton`; `None` when the table does not say.
    pub fiber: Option<Box<str>>,
    /// Separable strands of the thread as sold, 1 to 99.
    pub strands: Option<u8>,
    /// Metres of thread as sold in one skein, more than 0.
    pub skein_metres: Option<f64>,
    /// Price of one skein.
    pub price: Option<Price>,
    /// Skeins in one pack, 1 or more.
    pub pack: Option<u32>,
    /// Fewest skeins that can be ordered, 1 or more.
    pub minimum: Option<u32>,
    /// Whether it can be bought.
    pub status: Status,
    /// Trade item number.
    pub gtin: Option<Gtin>,
    /// Codes that the table's owner prefers instead, best first.
    pub alternates: Box<[Code]>,
}

impl Thread {
    /// A plain thread of unknown status with a code and a color.
    #[must_use]
    pub fn plain(code: Code, name: impl Into<String>, color: Color) -> Self {
        Self {
            code,
            name: name.into(),
            color,
            spectrum: None,
            finish: Finish::Plain,
            fiber: None,
            strands: None,
            skein_metres: None,
            price: None,
            pack: None,
            minimum: None,
            status: Status::Unknown,
            gtin: None,
            alternates: Box::default(),
        }
    }

    /// The thread for an answer that may hold many of them.
    #[must_use]
    pub fn without_spectrum(&self) -> Self {
        Self { spectrum: None, ..self.clone() }
    }

    /// True when both are of one finish, and of one fiber as far as is known.
    pub(crate) fn is_kin_of(&self, other: &Self) -> bool {
        let fibers = self.fiber.as_ref().zip(other.fiber.as_ref());
        self.finish == other.finish && fibers.is_none_or(|(one, two)| one == two)
    }
}

/// SHA-256 of a table's content, the same for the same threads in CSV and in JSON.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TableHash([u8; 32]);

impl TableHash {
    /// The 32 bytes.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// Reads 64 hexadecimal digits.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let digits: Vec<u8> = text
            .chars()
            .map(|digit| digit.to_digit(16).and_then(|value| u8::try_from(value).ok()))
            .collect::<Option<_>>()?;
        let pairs: Vec<u8> = digits
            .chunks_exact(2)
            .filter_map(|pair| Some(pair.first()? * 16 + pair.get(1)?))
            .collect();
        if digits.len() != 64 {
            return None;
        }
        pairs.try_into().ok().map(Self)
    }
}

impl fmt::Display for TableHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for TableHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "TableHash({self})")
    }
}

/// A thread named by its table and code.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ThreadRef {
    /// The table.
    pub table: TableId,
    /// The code; two codes are equal when their keys are.
    pub code: Code,
}

impl fmt::Display for ThreadRef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.table, self.code)
    }
}

/// A table of threads: at least one thread, no two of one code, each within its ranges, and all
/// measured ones under one light and observer.
#[derive(Clone, Debug)]
pub struct Table {
    id: TableId,
    threads: Vec<Thread>,
    /// Hash of each code's key with its row, in order of hash.
    by_key: Vec<Keyed>,
    hash: TableHash,
}

impl Table {
    /// A checked table. Threads keep their order.
    ///
    /// # Errors
    ///
    /// All problems at once: no thread, too many threads, a field out of range, codes that are the
    /// same ([`ErrorKind::DuplicateCode`] counts the threads from 1), measured colors under several
    /// conditions.
    pub fn new(id: TableId, threads: Vec<Thread>) -> std::result::Result<Self, Vec<Error>> {
        if threads.is_empty() {
            return Err(vec![Error::new(ErrorKind::BadFile {
                reason: format!("table {id} has no thread"),
                remedy: "a table needs at least one row with a code and a color".into(),
            })]);
        }
        if threads.len() > MAX_THREADS {
            return Err(vec![Error::new(ErrorKind::OverLimit {
                what: "threads in one table".into(),
                found: threads.len() as u64,
                limit: MAX_THREADS as u64,
            })]);
        }
        let mut problems: Vec<Error> = faults(&threads)
            .map(|(row, kind)| Error::new(kind).at(Place::field(format!("threads[{row}]"))))
            .collect();
        let by_key = rows_by_key(&threads);
        for group in groups_of_one_code(&threads, &by_key) {
            problems.extend(same_code(&threads, &group));
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        Ok(Self::assembled(id, threads, by_key))
    }

    /// A table of threads that are known to be good.
    fn assembled(id: TableId, threads: Vec<Thread>, by_key: Vec<Keyed>) -> Self {
        let hash = content_hash(&threads);
        Self { id, threads, by_key, hash }
    }

    /// The table's id.
    #[must_use]
    pub fn id(&self) -> &TableId {
        &self.id
    }

    /// SHA-256 of the content.
    #[must_use]
    pub fn hash(&self) -> TableHash {
        self.hash
    }

    /// The threads in the order of the file.
    #[must_use]
    pub fn threads(&self) -> &[Thread] {
        &self.threads
    }

    /// The row of a code, whatever its case and blanks.
    #[must_use]
    pub fn row_of(&self, code: &Code) -> Option<usize> {
        let wanted = key_hash(code);
        let start = self.by_key.partition_point(|(hash, _)| *hash < wanted);
        let same_hash = self.by_key.iter().skip(start).take_while(|(hash, _)| *hash == wanted);
        same_hash
            .map(|(_, row)| *row as usize)
            .find(|row| self.threads.get(*row).is_some_and(|thread| thread.code == *code))
    }

    /// The thread of a code, whatever its case and blanks.
    #[must_use]
    pub fn thread(&self, code: &Code) -> Option<&Thread> {
        self.row_of(code).and_then(|row| self.threads.get(row))
    }
}

fn same_code(threads: &[Thread], group: &[usize]) -> Option<Error> {
    let first = group.first()?;
    let code = threads.get(*first)?.code.to_string();
    let lines = group.iter().map(|row| *row as u64 + 1).collect();
    let place = Place::field(format!("threads[{first}].code"));
    Some(Error::new(ErrorKind::DuplicateCode { code, lines }).at(place))
}

/// Half of a code's hash, and its row.
type Keyed = (u32, u32);

fn key_hash(code: &Code) -> u32 {
    let mut hasher = DefaultHasher::new();
    code.hash(&mut hasher);
    let [a, b, c, d, ..] = hasher.finish().to_le_bytes();
    u32::from_le_bytes([a, b, c, d])
}

/// Rows in order of their codes' hashes, then of the table.
fn rows_by_key(threads: &[Thread]) -> Vec<Keyed> {
    let mut rows: Vec<Keyed> =
        threads.iter().zip(0..).map(|(thread, row)| (key_hash(&thread.code), row)).collect();
    rows.sort_unstable();
    rows
}

/// Groups of two or more rows that share a code, in the order of their first rows.
fn groups_of_one_code(threads: &[Thread], by_key: &[Keyed]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for run in by_key.chunk_by(|left, right| left.0 == right.0).filter(|run| run.len() > 1) {
        // Equal hashes are nearly always equal codes; sorting by key tells the others apart.
        let keyed = |row: usize| Some((threads.get(row)?.code.key(), row));
        let mut rows: Vec<(&str, usize)> =
            run.iter().filter_map(|(_, row)| keyed(*row as usize)).collect();
        rows.sort_unstable();
        let same = rows.chunk_by(|left, right| left.0 == right.0).filter(|same| same.len() > 1);
        groups.extend(same.map(|same| same.iter().map(|(_, row)| *row).collect()));
    }
    groups.sort_unstable();
    groups
}

/// What is wrong with threads apart from their codes, by row.
fn faults(threads: &[Thread]) -> impl Iterator<Item = (usize, ErrorKind)> {
    let measured = threads.iter().find(|thread| thread.color.origin().is_measured());
    let conditions = measured.map(|thread| thread.color.conditions());
    threads.iter().enumerate().filter_map(move |(row, thread)| {
        let fault = field::fault(thread).or_else(|| {
            let own = Some(thread.color.conditions());
            (thread.color.origin().is_measured() && own != conditions).then(|| {
                ErrorKind::BadValue {
                    value: thread.color.conditions().to_string(),
                    reason: "a second light or observer among measured colors".into(),
                    remedy: "make one table for each light and observer".into(),
                }
            })
        });
        fault.map(|kind| (row, kind))
    })
}

/// Hash over every field in a fixed order and form. Numbers enter as their shortest decimal text.
fn content_hash(threads: &[Thread]) -> TableHash {
    let mut hasher = Sha256::new();
    let mut buffer = String::new();
    for thread in threads {
        field::canonical(thread, &mut buffer, |text| {
            hasher.update((text.len() as u64).to_le_bytes());
            hasher.update(text.as_bytes());
        });
    }
    TableHash(hasher.finalize().into())
}

/// Writes a table as CSV, such that reading it gives the same threads and the same hash.
///
/// # Errors
///
/// [`ErrorKind::BadFile`] when the writer fails, which no checked table causes.
pub fn write_csv(table: &Table, form: CsvForm) -> Result<String> {
    csv::write(table, form)
}

/// Writes a table as JSON, such that reading it gives the same threads and the same hash.
///
/// # Errors
///
/// [`ErrorKind::BadFile`] when the writer fails, which no checked table causes.
pub fn write_json(table: &Table) -> Result<String> {
    json::write(table)
}

/// The error for a code that a table does not have, with codes that are spelled alike.
pub(crate) fn unknown_thread(table: &Table, code: &Code) -> Error {
    Error::new(ErrorKind::UnknownThread {
        table: table.id.to_string(),
        code: code.to_string(),
        near: code::near(code, table.threads.iter().map(|thread| &thread.code)),
    })
}

/// Reads a code given by a user and finds it in the table.
///
/// # Errors
///
/// [`ErrorKind::BadCode`] or [`ErrorKind::UnknownThread`] with near spellings.
pub fn find<'t>(table: &'t Table, text: &str) -> Result<&'t Thread> {
    let code = Code::parse(text)?;
    table.thread(&code).ok_or_else(|| unknown_thread(table, &code))
}
