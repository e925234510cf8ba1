//! The plainest question of the planner: every thread of every table, nothing kept, nothing answered.
//! It does not know charts.

use dyekin_core::Formula;
use dyekin_core::nearest::ThreadFilter;
use dyekin_core::planner::Ask;

/// All of it as it is without options.
pub(crate) fn ask() -> Ask {
    Ask {
        tables: Vec::new(),
        formula: Formula::DEFAULT,
        adaptation: None,
        filter: ThreadFilter::default(),
        keeps: Vec::new(),
        answers: Vec::new(),
    }
}
