//! Values to JSON text that is pleasant to read and harmless to show.
//! It does not know any of the formats that are written in it.

use dyekin_core::error::is_hostile;

/// Writes objects and lists over several lines, or on one line where the caller says so.
#[derive(Debug, Default)]
pub(crate) struct JsonWriter {
    out: String,
    /// For each open object or list: whether it stands on one line, and whether it has an item.
    open: Vec<(bool, bool)>,
}

impl JsonWriter {
    /// An empty text.
    pub(crate) fn new() -> Self {
        Self::default()
    }

    /// The text with a line break at its end.
    pub(crate) fn finish(mut self) -> Vec<u8> {
        self.out.push('\n');
        self.out.into_bytes()
    }

    /// Begins an item of the innermost list.
    fn item(&mut self) {
        let depth = self.open.len();
        let Some((flat, filled)) = self.open.last_mut() else { return };
        if *filled {
            self.out.push_str(if *flat { ", " } else { "," });
        }
        *filled = true;
        if !*flat {
            self.out.push('\n');
            self.out.extend(std::iter::repeat_n(' ', depth * 2));
        }
    }

    /// Begins a field of the innermost object; a value must follow.
    pub(crate) fn key(&mut self, key: &str) -> &mut Self {
        self.item();
        self.out.push_str(&quoted(key));
        self.out.push_str(": ");
        // The value that follows is not an item of its own.
        self.open.push((true, false));
        self
    }

    fn begin_value(&mut self) {
        // After a key the value only closes the key's bracket; in a list it is an item.
        if self.out.ends_with(": ") {
            self.open.pop();
        } else {
            self.item();
        }
    }

    /// Opens an object, on one line when `flat`.
    pub(crate) fn object(&mut self, flat: bool) {
        self.begin_value();
        self.out.push('{');
        self.open.push((flat || self.is_flat(), false));
    }

    /// Opens a list, on one line when `flat`.
    pub(crate) fn list(&mut self, flat: bool) {
        self.begin_value();
        self.out.push('[');
        self.open.push((flat || self.is_flat(), false));
    }

    fn is_flat(&self) -> bool {
        self.open.last().is_some_and(|(flat, _)| *flat)
    }

    /// Closes the innermost object.
    pub(crate) fn end_object(&mut self) {
        self.end('}');
    }

    /// Closes the innermost list.
    pub(crate) fn end_list(&mut self) {
        self.end(']');
    }

    fn end(&mut self, bracket: char) {
        if let Some((flat, filled)) = self.open.pop()
            && filled
            && !flat
        {
            self.out.push('\n');
            self.out.extend(std::iter::repeat_n(' ', self.open.len() * 2));
        }
        self.out.push(bracket);
    }

    /// A text.
    pub(crate) fn text(&mut self, text: &str) {
        self.raw(&quoted(text));
    }

    /// A text, or null.
    pub(crate) fn text_or_null(&mut self, text: Option<&str>) {
        match text {
            Some(text) => self.text(text),
            None => self.raw("null"),
        }
    }

    /// A whole number.
    pub(crate) fn count(&mut self, count: u64) {
        self.raw(&count.to_string());
    }

    /// A number; the callers' numbers are finite, and null says so should one not be.
    pub(crate) fn number(&mut self, number: f64) {
        if number.is_finite() { self.raw(&number.to_string()) } else { self.raw("null") }
    }

    /// True or false.
    pub(crate) fn flag(&mut self, flag: bool) {
        self.raw(if flag { "true" } else { "false" });
    }

    /// A ready piece of JSON.
    pub(crate) fn raw(&mut self, json: &str) {
        self.begin_value();
        self.out.push_str(json);
    }
}

/// A text in quotes. Control and bidi characters are escaped, so that the file can be shown.
fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for character in text.chars() {
        match character {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            '\r' => out.push_str("\\r"),
            _ if is_hostile(character) => {
                let mut units = [0_u16; 2];
                for unit in character.encode_utf16(&mut units) {
                    out.push_str(&format!("\\u{unit:04x}"));
                }
            }
            _ => out.push(character),
        }
    }
    out.push('"');
    out
}
