//! The domain of dyekin: thread colors, exact perceptual search and palette planning.
//!
//! This crate is synchronous and pure. It knows nothing of gRPC, of command lines, of files on disk
//! or of the picture of a chart: readers take bytes, answers are values.
//!
//! ```text
//! bytes ─► table ─► Catalog { one k-d tree per table } ─► nearest
//!                                     └─► planner: reduce · merge · substitute · convert ─► ChangeList
//! ```
//!
//! # Units
//!
//! | quantity | type | unit and range |
//! |---|---|---|
//! | color | [`Lab`] | CIELAB under the white that [`Conditions`] names, L* 0 to 102 |
//! | difference | [`DeltaE`] | units of the [`Formula`] that made it, never negative |
//! | stitches | `u64` | whole stitches of the chart |
//! | thread length | `f64` metres | metres of thread as sold, all strands together |
//!
//! # Invariants
//!
//! - Scores and signatures are `f64`; the index orders and prunes but never changes an answer.
//! - Equal differences are ordered by table id, then by code.
//! - A [`Catalog`] never changes: loading builds a new one.

pub mod audit;
pub mod blend;
pub mod catalog;
pub mod change;
pub mod color;
pub mod compare;
pub mod difference;
pub mod error;
mod index;
pub mod math;
pub mod nearest;
mod noise;
pub mod palette;
pub mod planner;
#[cfg(test)]
mod seeded;
pub mod spectrum;
pub mod table;
pub mod vision;
pub mod watch;

pub use catalog::{Catalog, CatalogTable};
pub use change::ChangeList;
pub use color::{Color, Conditions, Illuminant, Lab, Observer, Origin, Srgb8};
pub use difference::{DeltaE, Difference, Formula};
pub use error::{Error, ErrorKind, Place};
pub use palette::PaletteSummary;
pub use table::{Code, Table, TableHash, TableId, Thread, ThreadRef};
pub use watch::Watch;
