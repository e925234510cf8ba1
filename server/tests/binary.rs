//! The real binary: starts, reloads on SIGHUP, stops on SIGTERM, refuses what it cannot use.
//! It does not ask for the numbers of answers.
#![cfg(test)]

use std::fs;
use std::io::{BufRead, BufReader};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use dyekin_proto::v1 as pb;
use dyekin_proto::v1::matching_service_client::MatchingServiceClient;
use dyekin_proto::v1::palette_service_client::PaletteServiceClient;
use dyekin_proto::v1::table_service_client::TableServiceClient;
use tonic::transport::{Channel, Endpoint};

const SOUND: &str = "code,name,hex\nk-1,Moss path,#4a6b3c\n";

/// Longest wait for anything; far above what is needed.
const PATIENCE: Duration = Duration::from_secs(20);

/// A running binary and its log; ended by its id when dropped.
struct Process {
    child: Child,
    log: Receiver<String>,
    address: String,
}

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn command() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_dyekin-server"));
    command.env_clear().stderr(Stdio::piped());
    command
}

fn start(tables: &Path, more: &[&str]) -> Process {
    let file = tables.join("address");
    let mut command = command();
    command.arg("--listen").arg("127.0.0.1:0").arg("--tables").arg(tables);
    let mut child = command.arg("--address-file").arg(&file).args(more).spawn().unwrap();
    let stderr = child.stderr.take().unwrap();
    let (sender, log) = channel();
    std::thread::spawn(move || {
        for line in BufReader::new(stderr).lines().map_while(Result::ok) {
            if sender.send(line).is_err() {
                break;
            }
        }
    });
    let mut process = Process { child, log, address: String::new() };
    let line = process.wait_for(" serving ");
    let text = fs::read_to_string(&file).unwrap();
    assert!(line.contains(text.trim()), "{line} names {text}");
    process.address = text.trim().to_owned();
    process
}

impl Process {
    /// The first log line that contains the text.
    fn wait_for(&self, text: &str) -> String {
        let mut seen = Vec::new();
        loop {
            match self.log.recv_timeout(PATIENCE) {
                Ok(line) if line.contains(text) => return line,
                Ok(line) => seen.push(line),
                Err(error) => panic!("no `{text}` ({error}) in:\n{}", seen.join("\n")),
            }
        }
    }

    fn signal(&self, name: &str) {
        let id = self.child.id().to_string();
        assert!(Command::new("kill").args(["-s", name, &id]).status().unwrap().success());
    }

    fn channel(&self) -> Channel {
        Endpoint::from_shared(format!("http://{}", self.address)).unwrap().connect_lazy()
    }

    fn tables(&self) -> Vec<String> {
        tokio_test::block_on(async {
            let request = pb::ListTablesRequest::default();
            let answer =
                TableServiceClient::new(self.channel()).list_tables(request).await.unwrap();
            answer.into_inner().tables.into_iter().map(|table| table.table_id).collect()
        })
    }

    fn wait_for_end(mut self) -> Option<i32> {
        let begun = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status.code();
            }
            assert!(begun.elapsed() < PATIENCE, "the process does not end");
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

fn ends_with(command: &mut Command) -> (Option<i32>, String) {
    let output = command.output().unwrap();
    (output.status.code(), String::from_utf8(output.stderr).unwrap())
}

#[test]
fn tables_are_reloaded_on_hangup_and_kept_when_one_fails() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("Meadow.csv"), SOUND).unwrap();
    let process = start(folder.path(), &[]);
    assert_eq!(process.tables(), ["meadow"]);
    fs::write(folder.path().join("shore.csv"), SOUND).unwrap();
    process.signal("HUP");
    process.wait_for("tables loaded");
    assert_eq!(process.tables(), ["meadow", "shore"]);
    fs::remove_file(folder.path().join("Meadow.csv")).unwrap();
    fs::write(folder.path().join("shore.csv"), "code,hex\nk-1,#xyz\n").unwrap();
    process.signal("HUP");
    let problem = process.wait_for("shore.csv");
    assert!(problem.contains("line 2"), "{problem}");
    process.wait_for("the tables of before stay");
    assert_eq!(process.tables(), ["meadow", "shore"]);
}

#[test]
fn a_termination_signal_ends_it_in_time_even_with_silent_connections() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("meadow.csv"), SOUND).unwrap();
    let process = start(folder.path(), &["--drain", "1"]);
    let silent: Vec<TcpStream> =
        (0..20).map(|_| TcpStream::connect(&process.address).unwrap()).collect();
    assert_eq!(process.tables(), ["meadow"]);
    let begun = Instant::now();
    process.signal("TERM");
    assert_eq!(process.wait_for_end(), Some(0));
    assert!(begun.elapsed() < Duration::from_secs(4), "{:?}", begun.elapsed());
    drop(silent);
}

#[test]
fn an_unsound_table_keeps_it_from_starting_and_every_problem_is_logged() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("good.csv"), SOUND).unwrap();
    fs::write(folder.path().join("bad.csv"), "code,hex\nk-1,#xyz\nk-2,\n").unwrap();
    fs::write(folder.path().join("Good.tsv"), SOUND.replace(',', "\t")).unwrap();
    let mut command = command();
    let (code, log) =
        ends_with(command.args(["--listen", "127.0.0.1:0"]).arg("--tables").arg(folder.path()));
    assert_eq!(code, Some(2), "{log}");
    for part in ["line 2", "line 3", "both give table good"] {
        assert!(log.contains(part), "{part} in {log}");
    }
}

fn hex(text: &str) -> pb::Color {
    pb::Color { value: Some(pb::color::Value::Hex(text.into())), ..Default::default() }
}

#[test]
fn each_call_is_logged_with_its_size_results_and_formula_and_without_colors() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("meadow.csv"), SOUND).unwrap();
    let process = start(folder.path(), &["--log", "debug"]);
    tokio_test::block_on(async {
        let ask = |text: &str| {
            let query = pb::ColorQuery { color: Some(hex(text)), ..Default::default() };
            pb::MatchColorsRequest { queries: vec![query; 3], options: None }
        };
        let mut client = MatchingServiceClient::new(process.channel());
        client.match_colors(ask("#4c6d3a")).await.unwrap();
        client.match_colors(ask("#4c6d3")).await.unwrap_err();
    });
    let answered = process.wait_for("answered");
    for part in ["DEBUG", "results=3", "formula=CIEDE2000", "MatchColors", "request_bytes="] {
        assert!(answered.contains(part), "{part} in {answered}");
    }
    let refused = process.wait_for("refused");
    for part in ["INFO", "results=0", "code=InvalidArgument"] {
        assert!(refused.contains(part), "{part} in {refused}");
    }
    assert!(!answered.contains("4c6d3") && !refused.contains("4c6d3"), "{answered}\n{refused}");
    assert!(!answered.contains("request_bytes=0 ") && !answered.contains("response_bytes=0 "));
}

/// A reduction of some seconds.
fn long_reduction() -> pb::ReducePaletteRequest {
    let color = |place: u32| pb::PaletteColor {
        color: Some(hex(&format!("#{:06x}", (place * 1_048_573) & 0x00ff_ffff))),
        stitch_count: 10,
        ..Default::default()
    };
    let colors = (0..2_000).map(color).collect();
    let palette = Some(pb::PaletteSummary { colors, neighbors: None, cloth: None });
    pb::ReducePaletteRequest { palette, options: None, max_thread_count: 40, ..Default::default() }
}

#[test]
fn a_caller_who_goes_away_is_logged_and_a_stop_ends_what_still_runs() {
    use std::fmt::Write;

    let folder = tempfile::tempdir().unwrap();
    let mut rows = String::from("code,hex\n");
    for row in 0_u32..2_000 {
        writeln!(rows, "t-{row},#{:06x}", (row * 1_048_571) & 0x00ff_ffff).unwrap();
    }
    fs::write(folder.path().join("meadow.csv"), rows).unwrap();
    let process = start(folder.path(), &["--drain", "0"]);
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap();
    let call = async |channel| {
        PaletteServiceClient::new(channel).reduce_palette(long_reduction()).await.unwrap()
    };
    let answers = runtime.block_on(async { call(process.channel()).await });
    drop(answers);
    let line = process.wait_for("the caller went away");
    assert!(line.contains("ReducePalette"), "{line}");
    let mut running = runtime.block_on(async { call(process.channel()).await.into_inner() });
    let begun = Instant::now();
    process.signal("TERM");
    let cut = runtime.block_on(async {
        loop {
            match running.message().await {
                Ok(Some(_)) => {}
                Ok(None) => panic!("the reduction is done"),
                Err(status) => break status,
            }
        }
    });
    assert_ne!(cut.code(), tonic::Code::Ok);
    assert_eq!(process.wait_for_end(), Some(0));
    assert!(begun.elapsed() < Duration::from_secs(3), "{:?}", begun.elapsed());
}

/// Starts over these tables and expects that it ends by itself with code 2.
fn refused_over(tables: &Path) -> String {
    let mut command = command();
    let (code, log) =
        ends_with(command.args(["--listen", "127.0.0.1:0"]).arg("--tables").arg(tables));
    assert_eq!(code, Some(2), "{log}");
    log
}

#[test]
fn whatever_is_named_like_a_table_and_is_no_file_is_refused_at_once() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("folder.csv")).unwrap();
    let pipe = folder.path().join("pipe.csv");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    std::os::unix::fs::symlink("two.csv", folder.path().join("one.csv")).unwrap();
    std::os::unix::fs::symlink("one.csv", folder.path().join("two.csv")).unwrap();
    std::os::unix::fs::symlink("nowhere", folder.path().join("dangling.csv")).unwrap();
    fs::write(folder.path().join("empty.csv"), "").unwrap();
    fs::File::create(folder.path().join("huge.csv")).unwrap().set_len(65 << 20).unwrap();
    let log = refused_over(folder.path());
    for part in [
        "folder.csv: not a file",
        "pipe.csv: not a file",
        "one.csv: Too many levels",
        "two.csv: Too many levels",
        "dangling.csv: No such file",
        "empty.csv: the file is empty",
        "huge.csv: more than 67108864 bytes",
        "7 problems in the directory of tables",
    ] {
        assert!(log.contains(part), "{part} in {log}");
    }
    let file = folder.path().join("empty.csv");
    assert!(refused_over(&file).contains("empty.csv: Not a directory"));
}

#[test]
fn an_address_file_is_made_anew_or_named_when_it_cannot_be() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("meadow.csv"), SOUND).unwrap();
    let file = folder.path().join("address");
    fs::write(&file, "127.0.0.1:1\n").unwrap();
    drop(start(folder.path(), &[]));
    assert_ne!(fs::read_to_string(&file).unwrap(), "127.0.0.1:1\n");
    let (code, log) = ends_with(command().args([
        "--listen",
        "127.0.0.1:0",
        "--address-file",
        "/no/such/folder/address",
    ]));
    assert_eq!(code, Some(2), "{log}");
    assert!(log.contains("cannot write the address file /no/such/folder/address"), "{log}");
}

#[test]
fn settings_that_cannot_be_used_are_named() {
    let mut bad = command();
    let (code, log) = ends_with(bad.env("DYEKIN_LISTEN", "somewhere"));
    assert_eq!(code, Some(2));
    assert!(log.contains("DYEKIN_LISTEN") && log.contains("somewhere"), "{log}");
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = taken.local_addr().unwrap().to_string();
    let (code, log) = ends_with(command().args(["--listen", &address]));
    assert_eq!(code, Some(2), "{log}");
    assert!(log.contains(&address), "{log}");
    let (code, log) =
        ends_with(command().args(["--listen", "127.0.0.1:0", "--tables", "/no/such"]));
    assert_eq!(code, Some(2), "{log}");
    assert!(log.contains("/no/such"), "{log}");
}
