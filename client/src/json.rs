//! JSON with places: every value knows its line and column, and no key comes twice.
//! It does not know any of the formats that are written in it.

mod field;
mod parse;
mod write;

pub(crate) use field::{Checker, Object, whole};
use parse::parse;
pub(crate) use write::JsonWriter;

use dyekin_core::error::{Error, Place};

use crate::chart::problems::{bad_value, spot};

/// A value and where it begins.
#[derive(Clone, Debug)]
pub(crate) struct Node {
    /// Byte offset in the text.
    pub(crate) at: u32,
    /// The value.
    pub(crate) value: Value,
}

/// A JSON value. Numbers are finite.
#[derive(Clone, Debug)]
pub(crate) enum Value {
    Null,
    Flag(bool),
    Number(f64),
    Text(Box<str>),
    List(Box<[Node]>),
    Object(Box<[(Key, Node)]>),
}

/// A key of an object and where it begins.
#[derive(Clone, Debug)]
pub(crate) struct Key {
    pub(crate) at: u32,
    pub(crate) text: Box<str>,
}

impl Value {
    /// What a message calls it.
    pub(crate) fn kind(&self) -> &'static str {
        match self {
            Self::Null => "null",
            Self::Flag(_) => "true or false",
            Self::Number(_) => "a number",
            Self::Text(_) => "a text",
            Self::List(_) => "a list",
            Self::Object(_) => "an object",
        }
    }

    /// The value for a message.
    pub(crate) fn shown(&self) -> String {
        match self {
            Self::Null => "null".into(),
            Self::Flag(flag) => flag.to_string(),
            Self::Number(number) => number.to_string(),
            Self::Text(text) => text.to_string(),
            Self::List(_) => "[…]".into(),
            Self::Object(_) => "{…}".into(),
        }
    }
}

/// The text that offsets refer to; finds lines and columns.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Source<'t> {
    text: &'t str,
}

impl<'t> Source<'t> {
    pub(crate) fn new(text: &'t str) -> Self {
        Self { text }
    }

    /// Line and column of an offset, both from 1; the column counts characters.
    pub(crate) fn place(self, at: u32) -> Place {
        let before = self.text.as_bytes().get(..at as usize).unwrap_or(self.text.as_bytes());
        let line = before.iter().filter(|byte| **byte == b'\n').count();
        let start = before.iter().rposition(|byte| *byte == b'\n').map_or(0, |place| place + 1);
        // Bytes that continue a character do not begin a column.
        let tail = before.get(start..).unwrap_or_default();
        let column = tail.iter().filter(|byte| **byte & 0xC0 != 0x80).count();
        spot(line as u64 + 1, column as u64 + 1)
    }

    /// A problem with the value of a field.
    pub(crate) fn bad(self, node: &Node, field: &str, reason: &str, remedy: &str) -> Error {
        let mut place = self.place(node.at);
        place.field = Some(field.to_owned());
        bad_value(&node.value.shown(), reason, remedy).at(place)
    }
}
