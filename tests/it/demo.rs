//! Runs the demo as the README tells a newcomer to, and compares what it prints.
//! It does not know the steps.

use std::process::{Command, Stdio};

use dyekin_tests::{TestDir, project};

#[test]
fn the_demo_prints_what_it_should() {
    let out = TestDir::new("demo");
    let run = Command::new(project().join("demo/run"))
        .args(["--out".as_ref(), out.path()])
        .env("COLUMNS", "100")
        .env("NO_COLOR", "1")
        .stdin(Stdio::null())
        .output()
        .expect("the demo starts");
    let errors = String::from_utf8_lossy(&run.stderr);
    assert!(run.status.success(), "demo/run: {}\n{errors}", run.status);
    let printed = steady(&String::from_utf8_lossy(&run.stdout), &out.path().to_string_lossy());
    let expected = project().join("demo/expected.txt");
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(&expected, printed).expect("expected.txt is written");
        return;
    }
    let expected = std::fs::read_to_string(expected).expect("demo/expected.txt");
    assert_eq!(printed, expected, "demo/run prints something else than demo/expected.txt");
}

/// What a run prints without what differs from run to run: its folder and the server's port.
fn steady(printed: &str, folder: &str) -> String {
    let text = printed.replace(folder, "demo/out");
    let mut parts = text.split("http://127.0.0.1:");
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |all, part| {
        let rest = part.trim_start_matches(|digit: char| digit.is_ascii_digit());
        format!("{all}http://127.0.0.1:PORT{rest}")
    })
}
