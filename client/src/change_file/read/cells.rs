//! The cells by which a list tells a part of a color apart.
//! It does not know the chart that they lie on.

use std::collections::BTreeSet;

use super::Reader;
use crate::chart::{Area, Label, MAX_SIDE, Point, Run};
use crate::json::{Node, Object, Value};
use crate::summary::{Mark, Marked, Portion};

/// What to write for lines and knots.
const MARKS_REMEDY: &str =
    "leave marks as they were made: true, false, or the ends of lines and places of knots";

/// What to write for cells.
const REMEDY: &str = "leave cells as they were made: [column, row, count], from 0";

impl Reader<'_> {
    /// The portion of a color whose area is only a name for its cells.
    pub(super) fn portion(
        &mut self,
        object: Object<'_>,
        (node, path): (&Node, &str),
        is_named: bool,
    ) -> Option<Portion> {
        let path = format!("{path}.cells");
        if !is_named {
            self.check.bad(node, &path, "cells without a name for them", "leave area as it was");
            return None;
        }
        let marks = match object.get("marks") {
            Some(node) => self.marks(node, &path)?,
            None => Marked::None,
        };
        let items = self.check.list(node, &path)?;
        let mut runs = Vec::with_capacity(items.len());
        for item in items {
            runs.push(self.run(item, &path)?);
        }
        if runs.is_empty() {
            // Lines and knots may be all that is meant.
            return Some(Portion { runs, marks });
        }
        // An area joins runs that touch.
        let joined = Label::parse("cells").and_then(|name| Area::new(name, runs));
        let area = self.check.take(node, &path, joined)?;
        Some(Portion { runs: area.runs().to_vec(), marks })
    }

    fn marks(&mut self, node: &Node, path: &str) -> Option<Marked> {
        let Value::List(items) = &node.value else {
            let all = self.check.flag(node, path)?;
            return Some(if all { Marked::All } else { Marked::None });
        };
        let mut marks = BTreeSet::new();
        for item in items {
            marks.insert(self.mark(item, path)?);
        }
        Some(Marked::These(marks))
    }

    fn mark(&mut self, node: &Node, path: &str) -> Option<Mark> {
        let items = self.check.list(node, path)?;
        let mut halves = Vec::with_capacity(items.len());
        for item in items {
            let number = self.check.whole(item, path, 2 * u64::from(MAX_SIDE))?;
            halves.push(u16::try_from(number).ok()?);
        }
        let at = |half_x: &u16, half_y: &u16| Point { half_x: *half_x, half_y: *half_y };
        match halves.as_slice() {
            [x, y] => Some(Mark::Knot(at(x, y))),
            [x, y, to_x, to_y] => Some(Mark::Line(at(x, y), at(to_x, to_y))),
            _ => {
                self.check.bad(node, path, "neither a line nor a knot", MARKS_REMEDY);
                None
            }
        }
    }

    fn run(&mut self, node: &Node, path: &str) -> Option<Run> {
        let items = self.check.list(node, path)?;
        let [x, y, count] = items else {
            self.check.bad(node, path, "not a run of cells", REMEDY);
            return None;
        };
        let mut side = |node: &Node| {
            let number = self.check.whole(node, path, MAX_SIDE.into())?;
            u16::try_from(number).ok()
        };
        let run = Run { x: side(x)?, y: side(y)?, count: side(count)? };
        if run.count == 0 || u32::from(run.x) + u32::from(run.count) > u32::from(MAX_SIDE) {
            self.check.bad(node, path, "no cells of a chart", REMEDY);
            return None;
        }
        Some(run)
    }
}
