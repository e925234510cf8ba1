//! The harness that the cross-package tests share: where the test data lies and how it is read.
//! It does not know what any test asserts.

pub mod binaries;
mod folder;
pub mod server;
pub mod threads;

use std::path::{Path, PathBuf};

pub use folder::TestDir;

/// The project's top folder.
#[must_use]
pub fn project() -> &'static Path {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR"));
    tests.parent().unwrap_or(tests)
}

/// The folder `tests/data`.
#[must_use]
pub fn data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data")
}

/// The rows of a reference file of numbers: comment lines and the header row left out, fields split
/// at commas.
///
/// # Panics
///
/// When the file cannot be read: a test without its data must not pass.
#[must_use]
#[expect(clippy::panic, reason = "a test without its data must not pass")]
pub fn reference_rows(name: &str) -> Vec<Vec<String>> {
    let path = data().join("reference").join(name);
    let text = std::fs::read_to_string(&path)
        .unwrap_or_else(|problem| panic!("{}: {problem}", path.display()));
    text.lines()
        .filter(|line| !line.starts_with('#') && !line.trim().is_empty())
        .skip(1)
        .map(|line| line.split(',').map(|field| field.trim().to_owned()).collect())
        .collect()
}
