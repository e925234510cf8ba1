//! Values of a JSON tree to the values of a format, with a problem for each that does not fit.
//! It does not know which formats there are.

use dyekin_core::TableHash;
use dyekin_core::error::Error;
use dyekin_core::table::Refused;

use super::{Key, Node, Source, Value, parse};
use crate::chart::ChartHash;
use crate::chart::problems::{Problems, bad_value};

/// Checks values and collects what is wrong with them.
#[derive(Debug)]
pub(crate) struct Checker<'t> {
    source: Source<'t>,
    problems: Problems,
}

/// The fields of an object whose keys are known.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Object<'n> {
    node: &'n Node,
    fields: &'n [(Key, Node)],
}

impl<'n> Object<'n> {
    /// A field that is there and not null.
    pub(crate) fn get(self, key: &str) -> Option<&'n Node> {
        let (_, node) = self.fields.iter().find(|(held, _)| &*held.text == key)?;
        (!matches!(node.value, Value::Null)).then_some(node)
    }
}

impl Node {
    /// The field of an object, whatever its value; `None` of anything else.
    pub(crate) fn field(&self, key: &str) -> Option<&Self> {
        let Value::Object(fields) = &self.value else { return None };
        fields.iter().find(|(held, _)| &*held.text == key).map(|(_, node)| node)
    }
}

impl<'t> Checker<'t> {
    /// Reads the tree of a file; `None` when the syntax is broken.
    pub(crate) fn read(text: &'t str, mut problems: Problems) -> (Self, Option<Node>) {
        let node = parse(text, &mut problems);
        (Self { source: Source::new(text), problems }, node)
    }

    /// What a reader made of the tree, or all problems; when it made nothing of a file in which
    /// nothing is wrong, that is the problem.
    pub(crate) fn finish<T>(self, value: Option<T>, what: &str) -> Result<T, Refused> {
        let mut problems = self.problems;
        match value {
            Some(value) => problems.ok(value),
            None => {
                if problems.is_empty() {
                    problems.push_file(format!("{what} could not be read"), MAKE_AGAIN);
                }
                Err(problems.refused())
            }
        }
    }

    /// The problems so far.
    pub(crate) fn into_problems(self) -> Problems {
        self.problems
    }

    /// True when nothing is wrong so far.
    pub(crate) fn is_clean(&self) -> bool {
        self.problems.is_empty()
    }

    /// A value that cannot stand.
    pub(crate) fn bad(&mut self, node: &Node, path: &str, reason: &str, remedy: &str) {
        // Finding a line reads the whole file: not done for problems that are only counted.
        if !self.problems.count_if_full() {
            self.problems.push(self.source.bad(node, path, reason, remedy));
        }
    }

    /// A value that a checked constructor refused.
    pub(crate) fn refuse(&mut self, node: &Node, path: &str, error: Error) {
        if !self.problems.count_if_full() {
            let mut place = self.source.place(node.at);
            place.field = Some(path.to_owned());
            self.problems.push(error.at(place));
        }
    }

    /// The value of a result, or its problem.
    pub(crate) fn take<T>(
        &mut self,
        node: &Node,
        path: &str,
        value: Result<T, Error>,
    ) -> Option<T> {
        match value {
            Ok(value) => Some(value),
            Err(error) => {
                self.refuse(node, path, error);
                None
            }
        }
    }

    fn wrong_kind(&mut self, node: &Node, path: &str, wanted: &str) {
        let reason = format!("{} where {wanted} is expected", node.value.kind());
        self.bad(node, path, &reason, &format!("write {wanted}"));
    }

    /// An object with these keys only. Unknown keys are refused: nothing is dropped unseen.
    pub(crate) fn object<'n>(
        &mut self,
        node: &'n Node,
        path: &str,
        known: &[&str],
    ) -> Option<Object<'n>> {
        let Value::Object(fields) = &node.value else {
            self.wrong_kind(node, path, "an object");
            return None;
        };
        for (key, _) in fields.iter().filter(|(key, _)| !known.contains(&&*key.text)) {
            if !self.problems.count_if_full() {
                let reason = "this version does not know the key, and nothing is dropped unseen";
                let remedy = format!("remove it; known here: {}", known.join(", "));
                let mut place = self.source.place(key.at);
                place.field = Some(path.to_owned());
                self.problems.push(bad_value(&key.text, reason, &remedy).at(place));
            }
        }
        Some(Object { node, fields })
    }

    /// True when the file says another format; that is then the only problem worth telling.
    pub(crate) fn is_other(&mut self, tree: &Node, format: &str, what: &str) -> bool {
        let Value::Object(fields) = &tree.value else { return false };
        let said = fields.iter().find(|(key, _)| &*key.text == "format").map(|(_, node)| node);
        let other =
            said.filter(|node| matches!(&node.value, Value::Text(text) if **text != *format));
        if let Some(node) = other {
            let remedy = format!("a {what} says \"format\": \"{format}\"");
            self.bad(node, "format", &format!("not the format of a {what}"), &remedy);
        }
        other.is_some()
    }

    /// True when the file says this format and version; anything else is reported.
    pub(crate) fn is_format(
        &mut self,
        root: Object<'_>,
        format: &str,
        version: u64,
        what: &str,
    ) -> bool {
        let Some(node) = self.need(root, "format", what) else { return false };
        if self.text(node, "format").is_none() || self.is_other(root.node, format, what) {
            return false;
        }
        let Some(node) = self.need(root, "version", what) else { return false };
        match self.whole(node, "version", u64::from(u32::MAX)) {
            Some(found) if found == version => true,
            Some(_) => {
                let reason = format!("this program reads version {version}");
                self.bad(node, "version", &reason, "use a newer program for this file");
                false
            }
            None => false,
        }
    }

    /// A field that must be there.
    pub(crate) fn need<'n>(
        &mut self,
        object: Object<'n>,
        key: &str,
        path: &str,
    ) -> Option<&'n Node> {
        let found = object.get(key);
        if found.is_none() {
            let reason = format!("`{key}` is missing");
            self.bad(object.node, path, &reason, &format!("add `{key}`"));
        }
        found
    }

    /// A list.
    pub(crate) fn list<'n>(&mut self, node: &'n Node, path: &str) -> Option<&'n [Node]> {
        if let Value::List(items) = &node.value {
            return Some(items);
        }
        self.wrong_kind(node, path, "a list");
        None
    }

    /// The list of an optional field; empty where there is none.
    pub(crate) fn list_of<'n>(&mut self, object: Object<'n>, key: &str) -> &'n [Node] {
        object.get(key).and_then(|node| self.list(node, key)).unwrap_or_default()
    }

    /// A text.
    pub(crate) fn text<'n>(&mut self, node: &'n Node, path: &str) -> Option<&'n str> {
        if let Value::Text(text) = &node.value {
            return Some(text);
        }
        self.wrong_kind(node, path, "a text");
        None
    }

    /// A text that a reader makes something of.
    pub(crate) fn parsed<T>(
        &mut self,
        node: &Node,
        path: &str,
        read: impl Fn(&str) -> Result<T, Error>,
    ) -> Option<T> {
        let text = self.text(node, path)?;
        self.take(node, path, read(text))
    }

    /// A text field that must be there and that a reader makes something of.
    pub(crate) fn needed<T>(
        &mut self,
        object: Object<'_>,
        key: &str,
        path: &str,
        read: impl Fn(&str) -> Result<T, Error>,
    ) -> Option<T> {
        let node = self.need(object, key, path)?;
        self.parsed(node, &format!("{path}.{key}"), read)
    }

    /// The names and texts of an optional object with any keys.
    pub(crate) fn texts(&mut self, object: Object<'_>, key: &str) -> Option<Vec<(String, String)>> {
        let Some(node) = object.get(key) else { return Some(Vec::new()) };
        let Value::Object(fields) = &node.value else {
            self.bad(node, key, "an object is expected", "write names and texts");
            return None;
        };
        let mut texts = Vec::with_capacity(fields.len());
        for (name, value) in fields {
            let text = self.text(value, key)?;
            texts.push((name.text.to_string(), text.to_owned()));
        }
        Some(texts)
    }

    /// An answer to a proposal: yes, no, or what `another` holds.
    pub(crate) fn answer<T>(
        &mut self,
        node: &Node,
        path: &str,
        (yes, no, remedy): (T, T, &str),
        another: impl FnOnce(&mut Self, &Node) -> Option<T>,
    ) -> Option<T> {
        match &node.value {
            Value::Text(text) if &**text == "yes" => Some(yes),
            Value::Text(text) if &**text == "no" => Some(no),
            Value::Object(_) => {
                let object = self.object(node, path, &["another"])?;
                let held = self.need(object, "another", path)?;
                another(self, held)
            }
            Value::Null | Value::Flag(_) | Value::Number(_) | Value::Text(_) | Value::List(_) => {
                self.bad(node, path, "not an answer", remedy);
                None
            }
        }
    }

    /// The value of an optional text field.
    pub(crate) fn optional<T>(
        &mut self,
        object: Object<'_>,
        key: &str,
        read: impl Fn(&str) -> Result<T, Error>,
    ) -> Option<T> {
        object.get(key).and_then(|node| self.parsed(node, key, read))
    }

    /// A number.
    pub(crate) fn number(&mut self, node: &Node, path: &str) -> Option<f64> {
        if let Value::Number(number) = node.value {
            return Some(number);
        }
        self.wrong_kind(node, path, "a number");
        None
    }

    /// True or false.
    pub(crate) fn flag(&mut self, node: &Node, path: &str) -> Option<bool> {
        if let Value::Flag(flag) = node.value {
            return Some(flag);
        }
        self.wrong_kind(node, path, "true or false");
        None
    }

    /// A whole number from 0 to `max`.
    pub(crate) fn whole(&mut self, node: &Node, path: &str, max: u64) -> Option<u64> {
        let number = self.number(node, path)?;
        let whole = whole(number).filter(|whole| *whole <= max);
        if whole.is_none() {
            let reason = format!("a whole number from 0 to {max} is expected");
            self.bad(node, path, &reason, "write a whole number in range");
        }
        whole
    }
}

const MAKE_AGAIN: &str = "make the list again";

/// The hash of a chart, as lists of changes hold it.
pub(crate) fn chart_hash(text: &str) -> Result<ChartHash, Error> {
    ChartHash::parse(text)
        .ok_or_else(|| bad_value(text, "a chart's hash has 64 hexadecimal digits", MAKE_AGAIN))
}

/// The hash of a table, as lists of changes hold it.
pub(crate) fn table_hash(text: &str) -> Result<TableHash, Error> {
    TableHash::parse(text)
        .ok_or_else(|| bad_value(text, "a table's hash has 64 hexadecimal digits", MAKE_AGAIN))
}

/// A number that is whole, not negative and exact in double precision.
pub(crate) fn whole(number: f64) -> Option<u64> {
    const EXACT: f64 = 9_007_199_254_740_992.0;
    #[expect(clippy::float_cmp, reason = "a whole number equals its floor exactly")]
    let is_whole = number.floor() == number;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "whole and within 0 to 2^53"
    )]
    (is_whole && (0.0..=EXACT).contains(&number)).then_some(number as u64)
}
