//! A JSON document whose longest list is written as it grows, so that nobody holds it whole.
//! It does not know what the list is of.

use serde_json::{Map, Value, json};

use super::json::to_text;
use crate::printer::Printer;

/// Blanks of an object's members, and of an array's items.
const STEP: usize = 2;

/// An object around the list: its members, and the array that is the next one. In the array stands
/// the next object; in the innermost one stands the list.
#[derive(Clone, Debug)]
pub(crate) struct Around {
    pub(crate) members: Map<String, Value>,
    pub(crate) array: &'static str,
}

/// A document under way. What comes last is not written before it is known what follows it.
#[derive(Debug)]
pub(crate) struct Growing {
    waiting: String,
    is_empty: bool,
    depth: usize,
}

impl Growing {
    /// Opens the document, outermost object first.
    pub(crate) fn open(around: &[Around]) -> Self {
        let mut waiting = String::new();
        for (depth, Around { members, array }) in around.iter().enumerate() {
            if depth > 0 {
                new_line(&mut waiting, outer(depth));
            }
            waiting.push('{');
            for (name, value) in members {
                new_line(&mut waiting, inner(depth));
                waiting.push_str(&member(name, value, inner(depth)));
                waiting.push(',');
            }
            new_line(&mut waiting, inner(depth));
            waiting.push_str(&format!("{}: [", to_text(&json!(array))));
        }
        Self { waiting, is_empty: true, depth: around.len() }
    }

    /// Adds to the list.
    pub(crate) fn add(&mut self, item: &Value, printer: &mut Printer) {
        let blanks = outer(self.depth);
        let item = format!("{}{}", " ".repeat(blanks), indented(&to_text(item), blanks));
        let mut before = std::mem::replace(&mut self.waiting, item);
        if !std::mem::take(&mut self.is_empty) {
            before.push(',');
        }
        printer.data(&before);
    }

    /// Ends the list, and the document with more members of the object that holds it.
    pub(crate) fn close(self, members: &Map<String, Value>, printer: &mut Printer) {
        let mut text = self.waiting;
        for depth in (0..self.depth).rev() {
            let holds_list = depth + 1 == self.depth;
            if !(holds_list && self.is_empty) {
                new_line(&mut text, inner(depth));
            }
            text.push(']');
            for (name, value) in members.iter().filter(|_| holds_list) {
                text.push(',');
                new_line(&mut text, inner(depth));
                text.push_str(&member(name, value, inner(depth)));
            }
            new_line(&mut text, outer(depth));
            text.push('}');
        }
        printer.data(&text);
    }
}

/// Blanks before an object of a depth.
fn outer(depth: usize) -> usize {
    2 * STEP * depth
}

/// Blanks before its members.
fn inner(depth: usize) -> usize {
    outer(depth) + STEP
}

fn new_line(text: &mut String, blanks: usize) {
    text.push('\n');
    text.push_str(&" ".repeat(blanks));
}

fn member(name: &str, value: &Value, blanks: usize) -> String {
    format!("{}: {}", to_text(&json!(name)), indented(&to_text(value), blanks))
}

/// Lines but for the first behind so many blanks. A text of JSON has no line ends inside.
fn indented(text: &str, blanks: usize) -> String {
    text.replace('\n', &format!("\n{}", " ".repeat(blanks)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn members(value: &Value) -> Map<String, Value> {
        value.as_object().unwrap().clone()
    }

    fn written(around: &[Around], items: &[Value], last: &Value) -> String {
        let (mut printer, captured) = Printer::captured(80);
        let mut growing = Growing::open(around);
        items.iter().for_each(|item| growing.add(item, &mut printer));
        growing.close(&members(last), &mut printer);
        captured.out()
    }

    #[test]
    fn a_document_that_grew_is_the_one_that_is_written_whole() {
        let around = [Around { members: members(&json!({"a": [1, {"b": 2}]})), array: "list" }];
        for items in
            [vec![], vec![json!({"x": "line\nend"})], vec![json!([1, 2]), json!({}), json!(3)]]
        {
            let whole = json!({"a": [1, {"b": 2}], "list": items, "n": 1, "m": {"k": []}});
            let grown = written(&around, &items, &json!({"n": 1, "m": {"k": []}}));
            assert_eq!(grown, format!("{}\n", to_text(&whole)));
        }
    }

    #[test]
    fn the_list_may_stand_deeper() {
        let around = [
            Around { members: members(&json!({"version": 2})), array: "runs" },
            Around { members: members(&json!({"tool": {"name": "x"}})), array: "results" },
        ];
        for items in [vec![], vec![json!(1)], vec![json!({"r": 1}), json!({"r": 2})]] {
            let run = json!({"tool": {"name": "x"}, "results": items, "artifacts": [7]});
            let whole = json!({"version": 2, "runs": [run]});
            let grown = written(&around, &items, &json!({"artifacts": [7]}));
            assert_eq!(grown, format!("{}\n", to_text(&whole)));
        }
    }
}
