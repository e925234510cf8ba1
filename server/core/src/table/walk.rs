//! A walk through JSON whose syntax is known to be right: lines, repeated keys, numbers as text.
//! It does not check syntax and does not know thread tables.

use std::borrow::Cow;

use super::bytes::Lines;
use super::json::unquote;

/// Deepest nesting that is followed.
const MAX_DEPTH: usize = 32;

/// A value with its line.
#[derive(Debug)]
pub(super) struct Node<'t> {
    pub(super) line: u64,
    pub(super) value: Value<'t>,
}

/// A value; numbers keep their text.
#[derive(Debug)]
pub(super) enum Value<'t> {
    Null,
    Bool(&'t str),
    Number(&'t str),
    Text(Cow<'t, str>),
    List(Vec<Node<'t>>),
    Object(Vec<(Cow<'t, str>, Node<'t>)>),
}

impl Value<'_> {
    /// What kind of value it is, in words.
    pub(super) fn describe(&self) -> &'static str {
        match self {
            Self::Null => "null",
            Self::Bool(_) => "true or false",
            Self::Number(_) => "a number",
            Self::Text(_) => "a text",
            Self::List(_) => "a list",
            Self::Object(_) => "an object",
        }
    }

    /// The value for a message.
    pub(super) fn shown(&self) -> String {
        match self {
            Self::Null => "null".into(),
            Self::Bool(text) | Self::Number(text) => (*text).into(),
            Self::Text(text) => text.clone().into_owned(),
            Self::List(parts) => {
                let parts: Vec<String> =
                    parts.iter().take(10).map(|part| part.value.shown()).collect();
                format!("[{}]", parts.join(", "))
            }
            Self::Object(_) => "{…}".into(),
        }
    }
}

/// A step of the path to a value.
#[derive(Clone, Debug)]
pub(super) enum Step<'t> {
    Key(Cow<'t, str>),
    Index(usize),
}

/// A key that stands twice in one object.
#[derive(Debug)]
pub(super) struct Doubled {
    pub(super) key: String,
    pub(super) path: String,
    pub(super) line: u64,
}

/// Why the walk stopped.
#[derive(Debug)]
pub(super) struct Fault {
    pub(super) reason: String,
    pub(super) remedy: &'static str,
    pub(super) line: u64,
}

/// A place in the text and the path to it.
#[derive(Debug)]
pub(super) struct Walker<'t> {
    text: &'t str,
    at: usize,
    lines: Lines<'t>,
    trail: Vec<Step<'t>>,
    doubled: Vec<Doubled>,
}

impl<'t> Walker<'t> {
    pub(super) fn new(text: &'t str) -> Self {
        Self {
            text,
            at: 0,
            lines: Lines::new(text.as_bytes()),
            trail: Vec::new(),
            doubled: Vec::new(),
        }
    }

    /// Repeated keys in the order in which they were met.
    pub(super) fn into_doubled(self) -> Vec<Doubled> {
        self.doubled
    }

    /// The line of the next value.
    pub(super) fn line(&mut self) -> u64 {
        self.peek();
        self.lines.line_of(self.at)
    }

    pub(super) fn enter(&mut self, step: Step<'t>) {
        self.trail.push(step);
    }

    pub(super) fn leave(&mut self) {
        self.trail.pop();
    }

    /// Steps over an opening bracket when it is next.
    pub(super) fn open(&mut self, bracket: u8) -> bool {
        self.take_if(bracket)
    }

    /// The next key of an open object and its colon; `None` steps over the closing brace.
    pub(super) fn key(&mut self) -> Result<Option<Cow<'t, str>>, Fault> {
        self.take_if(b',');
        if self.take_if(b'}') || self.peek().is_none() {
            return Ok(None);
        }
        let key = self.string()?;
        self.take_if(b':');
        Ok(Some(key))
    }

    /// True when an open list has a next element; false steps over the closing bracket.
    pub(super) fn element(&mut self, is_first: bool) -> bool {
        if !is_first {
            self.take_if(b',');
        }
        !(self.take_if(b']') || self.peek().is_none())
    }

    /// The next value with all that it holds.
    pub(super) fn value(&mut self, depth: usize) -> Result<Node<'t>, Fault> {
        let line = self.line();
        if depth > MAX_DEPTH {
            let reason = format!("nested deeper than {MAX_DEPTH} levels");
            return Err(Fault { reason, remedy: "a thread table is a flat list of threads", line });
        }
        let value = match self.peek() {
            Some(b'{') => Value::Object(self.object(depth)?),
            Some(b'[') => Value::List(self.list(depth)?),
            Some(b'"') => Value::Text(self.string()?),
            _ => self.scalar(),
        };
        Ok(Node { line, value })
    }

    fn object(&mut self, depth: usize) -> Result<Vec<(Cow<'t, str>, Node<'t>)>, Fault> {
        self.take_if(b'{');
        let mut entries = Vec::new();
        while let Some(key) = self.key()? {
            self.enter(Step::Key(key.clone()));
            entries.push((key, self.value(depth + 1)?));
            self.leave();
        }
        let keys = entries.iter().map(|(key, node)| (key.clone(), node.line)).collect();
        self.note_doubled(keys);
        Ok(entries)
    }

    fn list(&mut self, depth: usize) -> Result<Vec<Node<'t>>, Fault> {
        self.take_if(b'[');
        let mut parts = Vec::new();
        while self.element(parts.is_empty()) {
            self.enter(Step::Index(parts.len()));
            parts.push(self.value(depth + 1)?);
            self.leave();
        }
        Ok(parts)
    }

    /// Remembers keys that stand more than once in the object just left.
    pub(super) fn note_doubled(&mut self, mut keys: Vec<(Cow<'t, str>, u64)>) {
        keys.sort_by(|left, right| left.0.cmp(&right.0));
        for pair in keys.windows(2) {
            if let [(first, _), (second, line)] = pair
                && first == second
            {
                let path = self.path(second);
                self.doubled.push(Doubled { key: second.clone().into_owned(), path, line: *line });
            }
        }
    }

    fn path(&self, key: &str) -> String {
        let mut path = String::new();
        for step in self.trail.iter().chain([&Step::Key(Cow::Borrowed(key))]) {
            match step {
                Step::Index(index) => path.push_str(&format!("[{index}]")),
                Step::Key(key) => {
                    if !path.is_empty() {
                        path.push('.');
                    }
                    path.push_str(&crate::error::shown(key));
                }
            }
        }
        path
    }

    fn string(&mut self) -> Result<Cow<'t, str>, Fault> {
        let line = self.line();
        let rest = self.rest();
        let mut escaped = false;
        let end = rest.bytes().skip(1).position(|byte| {
            let ends = byte == b'"' && !escaped;
            escaped = byte == b'\\' && !escaped;
            ends
        });
        let token = rest.get(..end.map_or(rest.len(), |end| end + 2)).unwrap_or(rest);
        self.at += token.len();
        unquote(token).ok_or_else(|| Fault {
            reason: "a text with half a character: an escape \\ud800 to \\udfff stands alone"
                .into(),
            remedy: "write the character itself",
            line,
        })
    }

    fn scalar(&mut self) -> Value<'t> {
        let rest = self.rest();
        let end = rest
            .find(|c: char| matches!(c, ',' | ']' | '}') || c.is_ascii_whitespace())
            .unwrap_or(rest.len());
        let token = rest.get(..end).unwrap_or(rest);
        // At least one byte, so that the walk always ends.
        self.at += token.len().max(1);
        match token {
            "null" => Value::Null,
            "true" | "false" => Value::Bool(token),
            _ => Value::Number(token),
        }
    }

    fn rest(&self) -> &'t str {
        self.text.get(self.at..).unwrap_or_default()
    }

    fn peek(&mut self) -> Option<u8> {
        let rest = self.text.as_bytes().get(self.at..)?;
        let blanks = rest.iter().take_while(|byte| byte.is_ascii_whitespace()).count();
        self.at += blanks;
        rest.get(blanks).copied()
    }

    fn take_if(&mut self, byte: u8) -> bool {
        let found = self.peek() == Some(byte);
        self.at += usize::from(found);
        found
    }
}
