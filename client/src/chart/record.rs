//! CSV text to records (RFC 4180), one at a time, with the line on which each begins.
//! It does not know what the fields mean.

use std::borrow::Cow;

use dyekin_core::error::{Error, ErrorKind, Place};

use super::problems::{bad_value, spot};

/// Longest field, in bytes.
const MAX_FIELD_BYTES: usize = 4_096;

/// One record.
#[derive(Debug)]
pub(crate) struct Record<'t> {
    /// The file's line on which it begins, from 1.
    pub(crate) line: u64,
    /// The fields.
    pub(crate) fields: Vec<Cow<'t, str>>,
}

impl Record<'_> {
    /// The number of fields in words.
    pub(crate) fn counted(&self) -> String {
        match self.fields.len() {
            1 => "1 field".to_owned(),
            many => format!("{many} fields"),
        }
    }

    /// True for a line without any character.
    pub(crate) fn is_blank(&self) -> bool {
        self.fields.iter().all(|field| field.trim().is_empty()) && self.fields.len() == 1
    }
}

/// The records of a text. After an error that hides where the next record begins it ends.
#[derive(Debug)]
pub(crate) struct Records<'t> {
    text: &'t str,
    at: usize,
    line: u64,
    delimiter: u8,
    max_fields: usize,
    broken: bool,
}

/// The delimiter with which the first line has the most fields: comma, semicolon or tab.
pub(crate) fn delimiter(text: &str) -> u8 {
    let first = text.lines().next().unwrap_or_default();
    let count = |delimiter: u8| first.bytes().filter(|byte| *byte == delimiter).count();
    // Of equal counts the last one wins: the comma.
    [b'\t', b';', b','].into_iter().max_by_key(|delimiter| count(*delimiter)).unwrap_or(b',')
}

impl<'t> Records<'t> {
    /// The records of a text, with at most so many fields each.
    pub(crate) fn new(text: &'t str, max_fields: usize) -> Self {
        Self { text, at: 0, line: 1, delimiter: delimiter(text), max_fields, broken: false }
    }

    fn byte(&self, at: usize) -> Option<u8> {
        self.text.as_bytes().get(at).copied()
    }

    fn is_end(&self, at: usize) -> bool {
        matches!(self.byte(at), None | Some(b'\n' | b'\r'))
    }

    fn record(&mut self) -> Result<Record<'t>, Error> {
        let line = self.line;
        let mut fields = Vec::new();
        loop {
            if fields.len() == self.max_fields {
                self.broken = true;
                return Err(Error::new(ErrorKind::OverLimit {
                    what: "fields in one line".into(),
                    found: fields.len() as u64 + 1,
                    limit: self.max_fields as u64,
                })
                .at(Place::line(line)));
            }
            let number = fields.len() as u64 + 1;
            let field = match self.byte(self.at) {
                Some(b'"') => self.quoted(number)?,
                _ => self.plain(),
            };
            if field.len() > MAX_FIELD_BYTES {
                self.broken = true;
                return Err(Error::new(ErrorKind::OverLimit {
                    what: "bytes in one field".into(),
                    found: field.len() as u64,
                    limit: MAX_FIELD_BYTES as u64,
                })
                .at(spot(line, number)));
            }
            fields.push(field);
            if self.byte(self.at) == Some(self.delimiter) {
                self.at += 1;
                continue;
            }
            self.end_line();
            return Ok(Record { line, fields });
        }
    }

    fn plain(&mut self) -> Cow<'t, str> {
        let start = self.at;
        while !self.is_end(self.at) && self.byte(self.at) != Some(self.delimiter) {
            self.at += 1;
        }
        Cow::Borrowed(self.text.get(start..self.at).unwrap_or_default())
    }

    fn quoted(&mut self, number: u64) -> Result<Cow<'t, str>, Error> {
        let opened = self.line;
        self.at += 1;
        let mut out = String::new();
        loop {
            let start = self.at;
            while self.byte(self.at).is_some_and(|byte| byte != b'"') {
                self.line += u64::from(self.byte(self.at) == Some(b'\n'));
                self.at += 1;
            }
            out.push_str(self.text.get(start..self.at).unwrap_or_default());
            if self.byte(self.at).is_none() {
                self.broken = true;
                let remedy = "close the quote, or leave quotes out of codes";
                return Err(
                    bad_value("\"", "a quote that never closes", remedy).at(spot(opened, number))
                );
            }
            self.at += 1;
            if self.byte(self.at) != Some(b'"') {
                break;
            }
            out.push('"');
            self.at += 1;
        }
        if self.is_end(self.at) || self.byte(self.at) == Some(self.delimiter) {
            return Ok(Cow::Owned(out));
        }
        let rest = self.plain();
        let problem = bad_value(&rest, "text after a closing quote", "quote the whole field")
            .at(spot(self.line, number));
        self.skip_line();
        Err(problem)
    }

    /// Goes to the next line, so that the lines behind a bad one are judged too.
    fn skip_line(&mut self) {
        while !self.is_end(self.at) {
            self.at += 1;
        }
        self.end_line();
    }

    fn end_line(&mut self) {
        if self.byte(self.at) == Some(b'\r') {
            self.at += 1;
            if self.byte(self.at) == Some(b'\n') {
                self.at += 1;
            }
        } else if self.byte(self.at) == Some(b'\n') {
            self.at += 1;
        }
        self.line += 1;
    }
}

impl<'t> Iterator for Records<'t> {
    type Item = Result<Record<'t>, Error>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.broken || self.at >= self.text.len() {
            return None;
        }
        Some(self.record())
    }
}
