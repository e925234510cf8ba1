//! The invented range of the project, for benches and tests. It does not know what is asked of it.

use dyekin_core::table::{self, ReadOptions};
use dyekin_core::{Table, TableId};

/// 480 threads.
pub(crate) fn quillmoor() -> Table {
    let options = ReadOptions {
        id: TableId::from_any("quillmoor"),
        source_name: "quillmoor.csv".into(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    };
    let bytes = include_bytes!("../../../../data/quillmoor.csv");
    table::read(bytes, &options).expect("a table").table
}
