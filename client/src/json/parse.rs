//! Text to a tree of values (RFC 8259), with line and column for everything that is wrong.
//! It does not know which keys a format has.

use std::collections::HashSet;

use dyekin_core::error::Error;

use super::{Key, Node, Source, Value};
use crate::chart::problems::{Problems, bad_file};

/// Deepest nesting.
const MAX_DEPTH: usize = 32;

/// Most values in one file: enough for a chart of 2,000 x 2,000 without any run.
const MAX_VALUES: usize = 9_000_000;

/// Reads a whole file. Keys that come twice are all reported; the first break of the syntax ends
/// the reading. `None` when anything was reported.
pub(crate) fn parse(text: &str, problems: &mut Problems) -> Option<Node> {
    let mut parser = Parser { text, at: 0, depth: 0, values: 0, twins: Vec::new() };
    let read = parser.whole();
    let source = Source::new(text);
    for (key, first) in std::mem::take(&mut parser.twins) {
        if problems.count_if_full() {
            continue;
        }
        let reason = format!("the key comes twice, first on line {}", source.line(first));
        problems.push(source.bad_key(&key, &reason, "keep one of the two"));
    }
    match read {
        Ok(node) => problems.is_empty().then_some(node),
        Err(broken) => {
            let place = source.place(broken.at);
            problems.push(broken.error().at(place));
            None
        }
    }
}

impl Source<'_> {
    fn line(self, at: u32) -> u64 {
        self.place(at).line.unwrap_or(1)
    }

    /// A problem with a key.
    pub(crate) fn bad_key(self, key: &Key, reason: &str, remedy: &str) -> Error {
        crate::chart::problems::bad_value(&key.text, reason, remedy).at(self.place(key.at))
    }
}

/// Where and why the syntax breaks.
struct Broken {
    at: u32,
    reason: String,
    remedy: &'static str,
}

impl Broken {
    fn error(&self) -> Error {
        bad_file(self.reason.clone(), self.remedy)
    }
}

const SYNTAX: &str = "the file is not valid JSON from here on; was it cut or edited by hand?";

struct Parser<'t> {
    text: &'t str,
    at: usize,
    depth: usize,
    values: usize,
    /// Keys that come twice, with the offset of the first.
    twins: Vec<(Key, u32)>,
}

/// An offset in the narrow form that values keep. Files are far smaller than 4 GiB.
fn narrow(at: usize) -> u32 {
    u32::try_from(at).unwrap_or(u32::MAX)
}

impl Parser<'_> {
    fn broken<T>(&self, reason: impl Into<String>, remedy: &'static str) -> Result<T, Broken> {
        Err(Broken { at: narrow(self.at), reason: reason.into(), remedy })
    }

    fn whole(&mut self) -> Result<Node, Broken> {
        let node = self.value()?;
        self.blanks();
        match self.peek() {
            None => Ok(node),
            Some(_) => self.broken("something follows the end of the JSON value", SYNTAX),
        }
    }

    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    fn blanks(&mut self) {
        while matches!(self.peek(), Some(b' ' | b'\t' | b'\n' | b'\r')) {
            self.at += 1;
        }
    }

    /// What stands here, for a message.
    fn found(&self) -> String {
        match self.text.get(self.at..).and_then(|rest| rest.chars().next()) {
            None => "the end of the file".into(),
            Some(character) => format!("`{}`", dyekin_core::error::shown(&character.to_string())),
        }
    }

    fn value(&mut self) -> Result<Node, Broken> {
        self.blanks();
        self.values += 1;
        if self.values > MAX_VALUES {
            return self.broken(format!("more than {MAX_VALUES} values"), "write runs of cells");
        }
        let at = narrow(self.at);
        let value = match self.peek() {
            Some(b'{') => self.nested(Self::object)?,
            Some(b'[') => self.nested(Self::list)?,
            Some(b'"') => Value::Text(self.string()?.into()),
            Some(b'-' | b'0'..=b'9') => self.number()?,
            _ => self.word()?,
        };
        Ok(Node { at, value })
    }

    fn nested(
        &mut self,
        inner: impl Fn(&mut Self) -> Result<Value, Broken>,
    ) -> Result<Value, Broken> {
        if self.depth == MAX_DEPTH {
            let reason = format!("nested deeper than {MAX_DEPTH} levels");
            return self.broken(reason, "no format of this program nests so deep");
        }
        self.depth += 1;
        self.at += 1;
        let value = inner(self)?;
        self.depth -= 1;
        Ok(value)
    }

    fn word(&mut self) -> Result<Value, Broken> {
        let rest = self.text.get(self.at..).unwrap_or_default();
        let words =
            [("null", Value::Null), ("true", Value::Flag(true)), ("false", Value::Flag(false))];
        for (word, value) in words {
            if rest.starts_with(word) {
                self.at += word.len();
                return Ok(value);
            }
        }
        if rest.starts_with("NaN") || rest.starts_with("Infinity") {
            return self.broken("a number that is not finite", "write a finite number");
        }
        self.broken(format!("{} where a value is expected", self.found()), SYNTAX)
    }

    fn list(&mut self) -> Result<Value, Broken> {
        let mut items = Vec::new();
        self.blanks();
        if self.peek() == Some(b']') {
            self.at += 1;
            return Ok(Value::List(items.into()));
        }
        loop {
            items.push(self.value()?);
            if self.ends_with(b']', "a list")? {
                return Ok(Value::List(items.into()));
            }
        }
    }

    fn object(&mut self) -> Result<Value, Broken> {
        let mut fields: Vec<(Key, Node)> = Vec::new();
        let mut known = HashSet::new();
        self.blanks();
        if self.peek() == Some(b'}') {
            self.at += 1;
            return Ok(Value::Object(fields.into()));
        }
        loop {
            self.blanks();
            let at = narrow(self.at);
            if self.peek() != Some(b'"') {
                return self.broken(format!("{} where a key is expected", self.found()), SYNTAX);
            }
            let key = Key { at, text: self.string()?.into() };
            self.blanks();
            if self.peek() != Some(b':') {
                return self.broken(format!("{} where `:` is expected", self.found()), SYNTAX);
            }
            self.at += 1;
            let node = self.value()?;
            if known.insert(key.text.clone()) {
                fields.push((key, node));
            } else {
                let first = fields.iter().find(|(held, _)| held.text == key.text);
                self.twins.push((key, first.map_or(0, |(held, _)| held.at)));
            }
            if self.ends_with(b'}', "an object")? {
                return Ok(Value::Object(fields.into()));
            }
        }
    }

    /// After an item: true at the end, false at a comma.
    fn ends_with(&mut self, end: u8, what: &str) -> Result<bool, Broken> {
        self.blanks();
        match self.peek() {
            Some(b',') => {
                self.at += 1;
                Ok(false)
            }
            Some(byte) if byte == end => {
                self.at += 1;
                Ok(true)
            }
            _ => self.broken(format!("{} where {what} goes on or ends", self.found()), SYNTAX),
        }
    }

    fn number(&mut self) -> Result<Value, Broken> {
        let start = self.at;
        if self.peek() == Some(b'-') {
            self.at += 1;
        }
        let whole = self.digits();
        let zero_first = whole.len() > 1 && whole.starts_with('0');
        let mut good = !whole.is_empty() && !zero_first;
        if self.peek() == Some(b'.') {
            self.at += 1;
            good &= !self.digits().is_empty();
        }
        if matches!(self.peek(), Some(b'e' | b'E')) {
            self.at += 1;
            if matches!(self.peek(), Some(b'+' | b'-')) {
                self.at += 1;
            }
            good &= !self.digits().is_empty();
        }
        let text = self.text.get(start..self.at).unwrap_or_default();
        match text.parse::<f64>() {
            Ok(number) if good && number.is_finite() => Ok(Value::Number(number)),
            Ok(number) if good && !number.is_finite() => {
                self.at = start;
                self.broken("a number that is not finite", "write a finite number")
            }
            _ => {
                self.at = start;
                let reason = format!("`{}` is not a JSON number", dyekin_core::error::shown(text));
                self.broken(reason, "write numbers like 12, -0.5 or 3.1")
            }
        }
    }

    fn digits(&mut self) -> &str {
        let start = self.at;
        while matches!(self.peek(), Some(b'0'..=b'9')) {
            self.at += 1;
        }
        self.text.get(start..self.at).unwrap_or_default()
    }

    fn string(&mut self) -> Result<String, Broken> {
        let opening = self.at;
        self.at += 1;
        let mut out = String::new();
        loop {
            let start = self.at;
            while self.peek().is_some_and(|byte| byte != b'"' && byte != b'\\' && byte >= 0x20) {
                self.at += 1;
            }
            out.push_str(self.text.get(start..self.at).unwrap_or_default());
            match self.peek() {
                Some(b'"') => {
                    self.at += 1;
                    return Ok(out);
                }
                Some(b'\\') => {
                    let character = self.escape()?;
                    out.push(character);
                }
                Some(_) => return self.broken("a control character in a text", SYNTAX),
                None => {
                    self.at = opening;
                    return self.broken("a text that never ends", SYNTAX);
                }
            }
        }
    }

    fn escape(&mut self) -> Result<char, Broken> {
        let letter = self.text.as_bytes().get(self.at + 1).copied();
        let plain = match letter {
            Some(b'"') => '"',
            Some(b'\\') => '\\',
            Some(b'/') => '/',
            Some(b'b') => '\u{8}',
            Some(b'f') => '\u{c}',
            Some(b'n') => '\n',
            Some(b'r') => '\r',
            Some(b't') => '\t',
            Some(b'u') => return self.unicode(),
            _ => return self.broken("an escape that JSON does not have", SYNTAX),
        };
        self.at += 2;
        Ok(plain)
    }

    fn unicode(&mut self) -> Result<char, Broken> {
        let first = self.hex_at(self.at + 2);
        let (unit, length) = match first {
            Some(high @ 0xD800..=0xDBFF) => match self.low_half() {
                Some(low) => (Some(0x10000 + (high - 0xD800) * 0x400 + (low - 0xDC00)), 12),
                None => (None, 6),
            },
            other => (other, 6),
        };
        match unit.and_then(char::from_u32) {
            Some(character) => {
                self.at += length;
                Ok(character)
            }
            None => self.broken("an escape that is no character", "write the character itself"),
        }
    }

    fn low_half(&self) -> Option<u32> {
        let marked = self.text.get(self.at + 6..self.at + 8) == Some("\\u");
        self.hex_at(self.at + 8).filter(|low| marked && (0xDC00..=0xDFFF).contains(low))
    }

    fn hex_at(&self, at: usize) -> Option<u32> {
        let digits = self.text.get(at..at + 4)?;
        if !digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            return None;
        }
        u32::from_str_radix(digits, 16).ok()
    }
}
