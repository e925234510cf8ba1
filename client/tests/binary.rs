//! The real binary: pipes, widths, color, files of a command that is killed, exit codes.
//! It does not repeat what commands answer: `tests/it/cli.rs` does.

// Says to clippy that helpers here are test code too.
#![cfg(test)]

use std::fs;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

const DYEKIN: &str = env!("CARGO_BIN_EXE_dyekin");

struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("dyekin-bin-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn file(&self, name: &str, text: &str) -> PathBuf {
        let path = self.0.join(name);
        fs::write(&path, text).unwrap();
        path
    }

    /// A table of many threads, so that an answer is longer than a pipe holds.
    fn large_table(&self) {
        let rows =
            (0_u32..4_096).map(|row| format!("LT-{row},Thread {row},#{:06x}\n", row * 4_093));
        self.file("large.csv", &format!("code,name,hex\n{}", rows.collect::<String>()));
    }

    fn small_table(&self) {
        self.file("small.csv", "code,name,hex\nST-1,Moss,#4a6b3c\nST-2,Ice,#b0c4d0\n");
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn dyekin(folder: &Folder) -> Command {
    let mut command = Command::new(DYEKIN);
    command.current_dir(&folder.0).env_remove("COLUMNS").env_remove("NO_COLOR");
    command
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

fn run(command: &mut Command) -> Output {
    command.output().unwrap()
}

#[test]
fn the_bare_command_offers_three_ways_in() {
    let folder = Folder::new("bare");
    let output = run(&mut dyekin(&folder));
    assert_eq!(output.status.code(), Some(0));
    assert!(text(&output.stdout).contains("a thread is missing"));
    assert!(output.stderr.is_empty());
}

#[test]
fn exit_codes_reach_the_shell() {
    let folder = Folder::new("exit");
    folder.small_table();
    for (args, code) in [
        (vec!["match", "#4a6b3c", "--table", "small.csv"], 0),
        (vec!["match", "#ff0000", "--table", "small.csv", "--within", "1"], 1),
        (vec!["match", "#4a6b3c", "--table", "nowhere.csv"], 2),
        (vec!["--version"], 0),
    ] {
        let output = run(dyekin(&folder).args(&args));
        assert_eq!(output.status.code(), Some(code), "{args:?}: {}", text(&output.stderr));
    }
}

#[cfg(feature = "remote")]
#[test]
fn a_server_that_is_not_there_ends_with_three() {
    let folder = Folder::new("unreachable");
    let output = run(dyekin(&folder).args(["match", "#000", "--server", "http://127.0.0.1:1"]));
    assert_eq!(output.status.code(), Some(3), "{}", text(&output.stderr));
}

#[test]
fn a_reader_that_has_enough_is_no_error() {
    let folder = Folder::new("pipe");
    folder.large_table();
    let mut child = dyekin(&folder)
        .args(["match", "#4a6b3c", "--table", "large.csv", "--count", "1000", "--json", "-q"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut first = String::new();
    BufReader::with_capacity(2, child.stdout.take().unwrap()).read_line(&mut first).unwrap();
    assert_eq!(first, "{\n");
    // The reader is dropped by now: the pipe is closed.
    let mut said = String::new();
    child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(0), "{said}");
    assert_eq!(said, "");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_an_error() {
    let folder = Folder::new("full");
    folder.small_table();
    let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output = run(dyekin(&folder).args(["match", "#000", "--table", "small.csv"]).stdout(full));
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("error: writing the answer"));
}

#[test]
fn columns_set_the_width() {
    let folder = Folder::new("columns");
    folder.small_table();
    let shown = |columns: &str| {
        let mut command = dyekin(&folder);
        command.args(["match", "#4a6b40", "--table", "small.csv"]).env("COLUMNS", columns);
        text(&run(&mut command).stdout)
    };
    let narrow = shown("40");
    assert!(narrow.lines().all(|line| line.chars().count() <= 40), "{narrow}");
    assert!(shown("200").lines().count() < narrow.lines().count());
}

#[test]
fn a_pipe_gets_no_color() {
    let folder = Folder::new("plain");
    folder.small_table();
    for plain in ["", "1"] {
        let mut command = dyekin(&folder);
        command.args(["match", "#4a6b3c", "--table", "small.csv"]).env("NO_COLOR", plain);
        let output = run(&mut command);
        assert!(!output.stdout.contains(&0x1b) && !output.stderr.contains(&0x1b));
    }
}

/// What a terminal shows, by the `script` command; `None` where the system has none.
fn in_a_terminal(folder: &Folder, line: &str, no_color: bool) -> Option<String> {
    let mut command = Command::new("script");
    command.args(["-qec", line, "/dev/null"]).current_dir(&folder.0).env("TERM", "xterm");
    command.env_remove("NO_COLOR").stdin(Stdio::null());
    if no_color {
        command.env("NO_COLOR", "1");
    }
    let output = command.output().ok().filter(|output| output.status.success());
    output.map(|output| text(&output.stdout))
}

#[test]
fn a_terminal_gets_swatches_unless_no_color_is_set() {
    let folder = Folder::new("terminal");
    folder.small_table();
    let line = format!("{DYEKIN} match '#4a6b3c' --table small.csv");
    let Some(colored) = in_a_terminal(&folder, &line, false) else { return };
    assert!(colored.contains("\u{1b}[48;2;74;107;60m"), "{colored}");
    let plain = in_a_terminal(&folder, &line, true).unwrap();
    assert!(!plain.contains("\u{1b}[48"), "{plain}");
}

#[test]
fn the_input_is_never_overwritten_and_force_replaces_an_output() {
    let folder = Folder::new("force");
    folder.small_table();
    let grid = folder.file("grid.csv", "ST-1,ST-2\nST-2,ST-1\n");
    let reduce = |out: &str, force: bool| {
        let mut command = dyekin(&folder);
        command.args(["reduce", "grid.csv", "--table", "small.csv", "--threads", "1", "-o", out]);
        if force {
            command.arg("--force");
        }
        run(&mut command)
    };
    for same in ["grid.csv", "./grid.csv", grid.to_str().unwrap()] {
        let output = reduce(same, true);
        assert_eq!(output.status.code(), Some(2), "{same}");
        assert!(text(&output.stderr).contains("never overwritten"));
    }
    let out = folder.file("out.csv", "mine");
    assert_eq!(reduce("out.csv", false).status.code(), Some(2));
    assert_eq!(fs::read_to_string(&out).unwrap(), "mine");
    let output = reduce("out.csv", true);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert_ne!(fs::read_to_string(&out).unwrap(), "mine");
    assert_eq!(fs::read_to_string(&grid).unwrap(), "ST-1,ST-2\nST-2,ST-1\n");
}

#[test]
fn a_command_that_is_killed_leaves_no_half_file() {
    let folder = Folder::new("killed");
    folder.large_table();
    let row = ["LT-1", "LT-900", "LT-2000", "LT-3100"].repeat(150).join(",");
    folder.file("grid.csv", &format!("{row}\n").repeat(500));
    let out = folder.0.join("out.json");
    let start = || {
        dyekin(&folder)
            .args(["reduce", "grid.csv", "--table", "large.csv", "--threads", "2"])
            .args(["-o", "out.json", "--force", "-q"])
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap()
    };
    let begun = Instant::now();
    let output = start().wait_with_output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    let longest = begun.elapsed();
    let whole = fs::read(&out).unwrap();
    let old = b"the file of an earlier run".as_slice();
    for part in 1..=12_u32 {
        fs::write(&out, old).unwrap();
        let mut child = start();
        std::thread::sleep(longest * part / 12);
        let _ = child.kill();
        child.wait().unwrap();
        let found = fs::read(&out).unwrap();
        assert!(found == old || found == whole, "part {part}: {} bytes", found.len());
    }
}

#[cfg(unix)]
#[test]
fn an_interrupted_command_says_so_and_writes_nothing() {
    let folder = Folder::new("interrupted");
    folder.large_table();
    let row: Vec<String> = (0..400_u32).map(|column| format!("LT-{}", column * 10)).collect();
    folder.file("grid.csv", &format!("{}\n", row.join(",")).repeat(3));
    let child = dyekin(&folder)
        .args(["reduce", "grid.csv", "--table", "large.csv", "--threads", "150", "-o", "out.json"])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_millis(250));
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    let output = child.wait_with_output().unwrap();
    let out = folder.0.join("out.json");
    if !sent.success() || output.status.code() == Some(0) {
        // The work was done before the signal came: then everything is written.
        assert!(Path::exists(&out));
        return;
    }
    assert_eq!(output.status.code(), Some(130), "{}", text(&output.stderr));
    assert!(text(&output.stderr).contains("stopped before the answer was complete"));
    assert!(!Path::exists(&out));
}
