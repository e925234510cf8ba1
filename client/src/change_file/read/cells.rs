//! The cells by which a list tells a part of a color apart.
//! It does not know the chart that they lie on.

use super::Reader;
use crate::chart::{Area, Label, MAX_SIDE, Run};
use crate::json::{Node, Object};
use crate::summary::Portion;

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
            Some(node) => self.check.flag(node, &path)?,
            None => false,
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
