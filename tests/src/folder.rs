//! A folder for one test, gone when the test is over.
//! It does not know what is put into it.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// A folder of its own for a test; removed with all its files when dropped.
#[derive(Debug)]
pub struct TestDir(PathBuf);

impl TestDir {
    /// Makes an empty folder. The name helps to find it while a test is looked into.
    ///
    /// # Panics
    ///
    /// When the folder cannot be made.
    #[must_use]
    #[expect(clippy::expect_used, reason = "a test without its folder must not pass")]
    pub fn new(name: &str) -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let folder = format!("dyekin-{name}-{}-{number}", std::process::id());
        let path = std::env::temp_dir().join(folder);
        std::fs::create_dir_all(&path).expect("a folder for the test");
        Self(path)
    }

    /// The folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for TestDir {
    fn drop(&mut self) {
        // A folder that stays behind harms nobody.
        drop(std::fs::remove_dir_all(&self.0));
    }
}
