//! JSON with places: every value knows its line and column, and no key comes twice.
//! It does not know any of the formats that are written in it.

mod field;
mod parse;
mod write;

pub(crate) use field::{Checker, Object, chart_hash, table_hash, whole};
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::problems::Problems;

    /// Names of the properties of an object in a schema.
    fn properties(schema: &str, definition: Option<&str>) -> Vec<String> {
        let (_, tree) = Checker::read(schema, Problems::of("schema"));
        let field = |node: &Node, name: &str| {
            let Value::Object(fields) = &node.value else { return None };
            fields.iter().find(|(key, _)| &*key.text == name).map(|(_, node)| node.clone())
        };
        let mut node = tree.expect("a schema that can be parsed");
        if let Some(name) = definition {
            node = field(&field(&node, "$defs").unwrap(), name).unwrap();
        }
        let Value::Object(fields) = field(&node, "properties").unwrap().value else {
            panic!("properties are an object")
        };
        fields.iter().map(|(key, _)| key.text.to_string()).collect()
    }

    fn same(schema: &str, definition: Option<&str>, fields: &[&str]) {
        let mut properties = properties(schema, definition);
        let mut fields: Vec<String> = fields.iter().map(|field| (*field).to_owned()).collect();
        properties.sort();
        fields.sort();
        assert_eq!(properties, fields, "{definition:?}");
    }

    #[test]
    fn the_schemas_know_the_fields_that_the_readers_know() {
        let chart = include_str!("../chart.schema.json");
        same(chart, None, &crate::chart::JSON_FIELDS);
        let changes = include_str!("../changes.schema.json");
        let fields = crate::change_file::FIELDS;
        same(changes, None, fields.file);
        same(changes, Some("color"), fields.color);
        same(changes, Some("change"), fields.change);
        same(changes, Some("thread"), fields.thread);
        same(changes, Some("light"), fields.light);
        same(changes, Some("blend"), fields.blend);
        same(changes, Some("blend_thread"), fields.blend_thread);
        let stitches = include_str!("../stitches.schema.json");
        same(stitches, None, &crate::stitch_list::FILE_FIELDS);
        same(stitches, Some("color"), &crate::stitch_list::COLOR_FIELDS);
        same(stitches, Some("stitch"), &crate::stitch_list::STITCH_FIELDS);
        same(stitches, Some("suggestion"), &crate::stitch_list::SUGGESTION_FIELDS);
    }

    #[test]
    fn escapes_are_read_as_they_are_written() {
        for text in ["a\"b\\c\n\t\u{1b}\u{202e}\u{feff}é😀", "\u{e0001}", ""] {
            let json = {
                let mut out = JsonWriter::new();
                out.text(text);
                String::from_utf8(out.finish()).unwrap()
            };
            assert!(!json.trim_end().chars().any(dyekin_core::error::is_hostile), "{json}");
            let (_, node) = Checker::read(&json, Problems::of("x"));
            assert!(matches!(node.unwrap().value, Value::Text(read) if *read == *text));
        }
    }
}
