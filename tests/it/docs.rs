//! Runs the console blocks of README.md and compares what they print.
//! It does not know what the commands mean.

use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

use dyekin_tests::{TestDir, binaries, project};

/// One `$ command` of a console block with the lines that must follow it.
struct Step {
    /// Line of the command in the document, from 1.
    line: usize,
    command: String,
    expected: String,
}

/// The steps of all blocks that are fenced as `console`.
fn steps(text: &str) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    let mut inside = false;
    for (number, line) in text.lines().enumerate() {
        if line.starts_with("```") {
            inside = line == "```console";
        } else if inside {
            if let Some(command) = line.strip_prefix("$ ") {
                let command = command.to_owned();
                steps.push(Step { line: number + 1, command, expected: String::new() });
            } else if let Some(step) = steps.last_mut() {
                writeln!(step.expected, "{line}").expect("a string takes text");
            }
        }
    }
    steps
}

/// Runs one step in a folder, with both streams together as a terminal would show them.
fn run(step: &Step, folder: &Path) -> String {
    let path =
        format!("{}:{}", binaries::folder().display(), std::env::var("PATH").expect("PATH is set"));
    let output = Command::new("sh")
        .args(["-c", &format!("{{ {}\n}} 2>&1", step.command)])
        .current_dir(folder)
        .env("PATH", path)
        .env("COLUMNS", "100")
        .env("NO_COLOR", "1")
        .stdin(Stdio::null())
        .output()
        .expect("a shell runs");
    String::from_utf8(output.stdout).expect("output is UTF-8")
}

#[test]
fn readme_console_blocks_print_what_they_say() {
    let text = std::fs::read_to_string(project().join("README.md")).expect("a README");
    let folder = TestDir::new("readme");
    for shared in ["data", "demo"] {
        std::os::unix::fs::symlink(project().join(shared), folder.path().join(shared))
            .expect("a link to the examples");
    }
    let steps = steps(&text);
    assert!(steps.len() >= 5, "README.md shows {} commands", steps.len());
    let mut wrong = String::new();
    let mut printed = Vec::new();
    for step in &steps {
        let got = run(step, folder.path());
        printed.push(got.clone());
        if got.trim_end() != step.expected.trim_end() {
            write!(
                wrong,
                "README.md line {}: $ {}\n--- expected\n{}--- got\n{got}\n",
                step.line, step.command, step.expected
            )
            .expect("a string takes text");
        }
    }
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        let updated = with_output(&text, &steps, &printed);
        std::fs::write(project().join("README.md"), updated).expect("README.md is written");
        return;
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// The document with what the commands printed in place of what it showed.
fn with_output(text: &str, steps: &[Step], printed: &[String]) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for (step, output) in steps.iter().zip(printed).rev() {
        let shown = step.expected.lines().count();
        let new = output.trim_end().lines().map(str::to_owned);
        lines.splice(step.line..step.line + shown, new);
    }
    lines.join("\n") + "\n"
}
