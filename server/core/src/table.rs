//! Threads and tables of threads, checked when they are made.
//! It does not know where a table is kept or how its threads are searched.

mod code;
mod field;
mod read;

pub use code::{Code, TableId};
pub use field::{Currency, Finish, Gtin, Price, Status};
pub use read::{Loaded, Notice, ReadOptions, Refused, read};

use std::collections::HashMap;
use std::fmt;

use sha2::{Digest, Sha256};

use crate::color::Color;
use crate::error::{Error, ErrorKind, Place, Result};

/// Most threads that one table may hold.
pub const MAX_THREADS: usize = 1_000_000;

/// One thread of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct Thread {
    /// The code as the table writes it.
    pub code: Code,
    /// The name; empty when the table has none. Foreign text: escape it before it is shown.
    pub name: String,
    /// The color with its conditions, origin and uncertainty.
    pub color: Color,
    /// How the surface behaves.
    pub finish: Finish,
    /// The fiber in lower case, such as `cotton`; `None` when the table does not say.
    pub fiber: Option<String>,
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
    pub alternates: Vec<Code>,
}

impl Thread {
    /// A plain thread of unknown status with a code and a color.
    #[must_use]
    pub fn plain(code: Code, name: impl Into<String>, color: Color) -> Self {
        Self {
            code,
            name: name.into(),
            color,
            finish: Finish::Plain,
            fiber: None,
            strands: None,
            skein_metres: None,
            price: None,
            pack: None,
            minimum: None,
            status: Status::Unknown,
            gtin: None,
            alternates: Vec::new(),
        }
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

/// A table of threads: at least one thread, no two of one code, all measured under one condition.
#[derive(Clone, Debug)]
pub struct Table {
    id: TableId,
    threads: Vec<Thread>,
    by_key: HashMap<String, usize>,
    hash: TableHash,
}

impl Table {
    /// A checked table. Threads keep their order.
    ///
    /// # Errors
    ///
    /// All problems at once: no thread, too many threads, codes that are the same.
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
        let mut by_key = HashMap::with_capacity(threads.len());
        let mut problems = Vec::new();
        for (row, thread) in threads.iter().enumerate() {
            if let Some(first) = by_key.insert(thread.code.key().to_owned(), row) {
                problems.push(same_code(thread, first, row));
            }
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        let hash = content_hash(&threads);
        Ok(Self { id, threads, by_key, hash })
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
        self.by_key.get(code.key()).copied()
    }

    /// The thread of a code, whatever its case and blanks.
    #[must_use]
    pub fn thread(&self, code: &Code) -> Option<&Thread> {
        self.row_of(code).and_then(|row| self.threads.get(row))
    }
}

fn same_code(thread: &Thread, first: usize, row: usize) -> Error {
    Error::new(ErrorKind::DuplicateCode {
        code: thread.code.to_string(),
        lines: vec![first as u64 + 1, row as u64 + 1],
    })
    .at(Place::field("threads"))
}

/// Hash over every field in a fixed order and form. Numbers enter as their shortest decimal text.
fn content_hash(threads: &[Thread]) -> TableHash {
    let mut hasher = Sha256::new();
    for thread in threads {
        for text in field::canonical(thread) {
            hasher.update((text.len() as u64).to_le_bytes());
            hasher.update(text.as_bytes());
        }
    }
    TableHash(hasher.finalize().into())
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
