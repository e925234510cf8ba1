//! The workshop: charts, the questions asked about them, and what is written back.
//! It does not know how colors are compared: that is the domain's business.

pub mod change_file;
pub mod chart;
pub mod summary;
