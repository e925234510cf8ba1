//! Real processes that are killed or stopped in the middle of a run, and the run that goes on.
//! It does not judge the charts.

use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use dyekin_tests::binaries;

use super::*;

/// Charts of a long run.
const CHARTS: usize = 30;

/// Enough charts that a run is long enough to be stopped in its middle.
fn long() -> Charts {
    let charts = Charts::new("many-killed", &[]);
    fs::copy(project().join("data/quillmoor.csv"), charts.path("quillmoor.csv")).unwrap();
    let table = fs::read_to_string(charts.path("quillmoor.csv")).unwrap();
    let codes: Vec<&str> =
        table.lines().filter_map(|line| line.split(',').next()).skip(1).collect();
    for number in 0..CHARTS {
        let row = |y: usize| {
            let code = |x: usize| codes[(x * 7 + y * 3 + number * 11) % 40 + 20];
            (0..30).map(code).collect::<Vec<_>>().join(",")
        };
        let text = (0..30).map(row).collect::<Vec<_>>().join("\n");
        charts.write(&format!("charts/{number:02}.csv"), &(text + "\n"));
    }
    charts
}

fn start(charts: &Charts, out: &str, more: &[&str]) -> Child {
    Command::new(binaries::folder().join("dyekin"))
        .args(["reduce", "charts", "--table", "quillmoor.csv", "--threads", "12", "-o", out])
        .args(more)
        .current_dir(charts.folder.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Waits until a run has written some of its charts, and says whether it still goes on.
fn is_under_way(charts: &Charts, child: &mut Child, out: &str, least: usize) -> bool {
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(60) {
        if child.try_wait().unwrap().is_some() {
            return false;
        }
        let done = charts.files(out).keys().filter(|name| name.ends_with("changes.json")).count();
        if done >= least {
            return true;
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    panic!("no chart within a minute");
}

/// What a run that nobody stopped writes.
fn whole(charts: &Charts) -> BTreeMap<String, Vec<u8>> {
    let output = start(charts, "whole", &["-q"]).wait_with_output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    charts.files("whole")
}

#[test]
fn a_killed_run_goes_on_where_it_was_and_ends_with_the_same_files() {
    let charts = long();
    let expected = whole(&charts);
    let mut killed = 0;
    for least in [1, 12] {
        let _ = fs::remove_dir_all(charts.path("out"));
        let mut child = start(&charts, "out", &[]);
        killed += usize::from(is_under_way(&charts, &mut child, "out", least));
        let _ = child.kill();
        child.wait().unwrap();
        // Twice killed is killed as well.
        let mut child = start(&charts, "out", &["--resume"]);
        is_under_way(&charts, &mut child, "out", least + 5);
        let _ = child.kill();
        child.wait().unwrap();
        for (name, bytes) in charts.files("out") {
            let is_draft = name.starts_with('.') || name.contains("/.");
            assert!(is_draft || name == "dyekin-record.json" || expected[&name] == bytes, "{name}");
        }
        let output = start(&charts, "out", &["--resume"]).wait_with_output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let mut found = charts.files("out");
        // What was killed in the middle of a file leaves a hidden draft, which the next hour sweeps.
        found.retain(|name, _| !name.starts_with('.'));
        assert!(found == expected);
    }
    assert!(killed > 0, "every run was over before it could be killed");
}

#[test]
fn ctrl_c_keeps_what_is_done_and_says_how_to_go_on() {
    let charts = long();
    let expected = whole(&charts);
    let mut child = start(&charts, "out", &[]);
    assert!(is_under_way(&charts, &mut child, "out", 3), "the run was over too soon");
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
    let output = child.wait_with_output().unwrap();
    let (out, err) =
        (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
    assert_eq!(output.status.code(), Some(130), "{err}");
    assert!(err.contains("error: stopped before all charts were done"), "{err}");
    assert!(err.contains("--resume"), "{err}");
    let done = out.lines().filter(|line| line.contains("become 12 threads;")).count();
    assert!((3..CHARTS).contains(&done), "{out}");
    let left = charts.files("out");
    assert!(left.keys().all(|name| !name.starts_with('.')), "a draft is left behind");
    // All that is done is recorded: nothing of it is done again.
    let output = start(&charts, "out", &["--resume"]).wait_with_output().unwrap();
    let again = String::from_utf8(output.stdout).unwrap();
    assert!(again.contains(&format!("{done} as an earlier run left")), "{again}");
    assert!(charts.files("out") == expected);
    assert!(is_same(
        &charts.path("out/dyekin-record.json"),
        &charts.path("whole/dyekin-record.json")
    ));
}

#[test]
fn a_pipe_gets_no_bar() {
    let charts = long();
    let output = start(&charts, "out", &[]).wait_with_output().unwrap();
    assert!(!output.stdout.contains(&0x1b) && !output.stderr.contains(&0x1b));
}

#[test]
fn a_terminal_gets_a_bar_that_leaves_nothing_behind() {
    let charts = long();
    let dyekin = binaries::folder().join("dyekin");
    let line =
        format!("{} reduce charts --table quillmoor.csv --threads 12 -o out", dyekin.display());
    let output = Command::new("script")
        .args(["-qec", &line, "/dev/null"])
        .current_dir(charts.folder.path())
        .env("TERM", "xterm")
        .env("COLUMNS", "60")
        .stdin(Stdio::null())
        .output();
    // Where the system cannot play a terminal, nothing can be seen.
    let Some(output) = output.ok().filter(|output| output.status.success()) else { return };
    let text = String::from_utf8(output.stdout).unwrap();
    let drawn: Vec<&str> = text
        .split("\u{1b}[K")
        .skip(1)
        .map(|rest| rest.split(['\r', '\n']).next().unwrap_or_default())
        .filter(|line| line.contains(&format!(" of {CHARTS}")))
        .collect();
    assert!(!drawn.is_empty(), "{text}");
    assert!(drawn.iter().all(|line| line.chars().count() < 60), "{drawn:?}");
    // How long it takes is the machine's.
    let tells = |line: &&str| line.contains(" left") || line.contains("nearly done");
    assert!(drawn.iter().any(|line| line.contains(" a second") && tells(line)), "{drawn:?}");
}
