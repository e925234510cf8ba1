//! The workshop of dyekin: charts, commands and reports around the domain in `dyekin-core`.
//! It does not know colors or planning; it asks a [`backend::Backend`], in process or remote.
//!
//! ```text
//! typed ─► cli ─► settings ─► command ─► chart ─► summary ─► Backend
//!                                └──◄── report ─► printer ◄── change list ◄──┘
//! ```

pub mod apply;
mod asked;
pub mod backend;
pub mod change_file;
pub mod chart;
pub mod check;
pub mod clean;
mod cli;
mod commands;
pub mod exit;
pub mod failure;
pub mod files;
mod half_way;
mod json;
mod many;
mod own_threads;
pub mod printer;
pub mod profile;
mod report;
mod settings;
pub mod stitch_list;
pub mod summary;

pub use commands::run;
pub use exit::Exit;
pub use failure::Failure;
pub use printer::Printer;
