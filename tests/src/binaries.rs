//! Builds the two binaries once and tells where they are.
//! It does not know what the tests do with them.

use std::path::PathBuf;
use std::process::Command;
use std::sync::OnceLock;

/// The folder that holds `dyekin` and `dyekin-server`, built in the profile of the running test.
///
/// # Panics
///
/// When cargo cannot build them.
#[must_use]
#[expect(clippy::expect_used, reason = "a test without its binaries must not pass")]
pub fn folder() -> &'static PathBuf {
    static FOLDER: OnceLock<PathBuf> = OnceLock::new();
    FOLDER.get_or_init(|| {
        let status = Command::new(env!("CARGO"))
            .args(["build", "--locked", "--quiet", "--workspace", "--bins"])
            .current_dir(crate::project())
            .status()
            .expect("cargo starts");
        assert!(status.success(), "cargo builds the binaries");
        // target/debug/deps/it-… ─► target/debug
        let test = std::env::current_exe().expect("the test knows itself");
        let folder = test.ancestors().nth(2).expect("a test lies two folders down").to_owned();
        assert!(folder.join("dyekin").is_file(), "dyekin lies in {}", folder.display());
        folder
    })
}
