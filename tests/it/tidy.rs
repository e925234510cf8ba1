//! The house rules of DEVELOPERS.md as tests: walls between packages, sizes, names, documents.
//! It reads sources as text and does not know what they do.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Lines that a source may have without its inline tests.
const FILE_CAP: usize = 600;

/// Lines that a `main.rs` may have.
const MAIN_CAP: usize = 60;

/// What may stand at the top of the project besides dotfiles.
const TOP_LEVEL: [&str; 12] = [
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE-APACHE",
    "LICENSE-MIT",
    "README.md",
    "client",
    "data",
    "demo",
    "proto",
    "server",
    "tests",
];

/// One Rust source of the project.
struct Source {
    /// Path below the project, with `/`.
    path: String,
    text: String,
}

impl Source {
    /// The lines before the inline tests, without comments.
    fn code(&self) -> String {
        let lines = self.own().lines().filter(|line| !line.trim_start().starts_with("//"));
        lines.collect::<Vec<_>>().join("\n")
    }

    /// The text before the inline tests.
    fn own(&self) -> &str {
        self.text.split("\n#[cfg(test)]\nmod tests {").next().unwrap_or_default()
    }

    fn is_product(&self) -> bool {
        ["/benches/", "/tests/", "/tests.rs", "/examples/"]
            .iter()
            .all(|part| !self.path.contains(part))
            && !self.path.starts_with("tests/")
    }
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("tests/ lies in the project").to_owned()
}

fn read(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// Paths of the files that belong to the project: known to git, or new and not ignored.
fn project_files() -> Vec<String> {
    let listed = Command::new("git")
        .args(["ls-files", "--cached", "--others", "--exclude-standard"])
        .current_dir(root())
        .output()
        .expect("git lists the project's files");
    let mut files: Vec<String> = String::from_utf8_lossy(&listed.stdout)
        .lines()
        .filter(|path| root().join(path).is_file())
        .map(str::to_owned)
        .collect();
    files.sort();
    assert!(files.len() > 50, "the project has more files than {}", files.len());
    files
}

fn sources() -> Vec<Source> {
    project_files()
        .into_iter()
        .filter(|path| path.ends_with(".rs") && !path.contains("/generated/"))
        .map(|path| Source { text: read(&path), path })
        .collect()
}

/// Fails with all offenders at once.
#[track_caller]
fn none(rule: &str, offenders: &[String]) {
    assert!(offenders.is_empty(), "{rule}:\n  {}", offenders.join("\n  "));
}

/// Product sources that hold one of the words in code and are not among the allowed places.
fn strays(words: &[&str], allowed: &[&str]) -> Vec<String> {
    let mut found = Vec::new();
    for source in sources().iter().filter(|source| source.is_product()) {
        if allowed.iter().any(|place| source.path.starts_with(place)) {
            continue;
        }
        let code = source.code();
        for word in words.iter().filter(|word| code.contains(**word)) {
            found.push(format!("{} names {word}", source.path));
        }
    }
    found
}

/// What cargo knows of the packages of the workspace.
fn packages() -> Vec<serde_json::Value> {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--no-deps", "--offline", "--format-version", "1"])
        .current_dir(root())
        .output()
        .expect("cargo describes the workspace");
    let metadata: serde_json::Value =
        serde_json::from_slice(&output.stdout).expect("cargo metadata is JSON");
    metadata["packages"].as_array().expect("a list of packages").clone()
}

/// Names of a package's normal dependencies.
fn dependencies(package: &str) -> BTreeSet<String> {
    let packages = packages();
    let found = packages
        .iter()
        .find(|entry| entry["name"] == package)
        .unwrap_or_else(|| panic!("no package {package}"));
    let listed = found["dependencies"].as_array().expect("a list of dependencies");
    listed
        .iter()
        .filter(|entry| entry["kind"].is_null())
        .filter_map(|entry| entry["name"].as_str().map(str::to_owned))
        .collect()
}

#[test]
fn packages_depend_only_the_agreed_way() {
    let walls = [
        ("dyekin-proto", &["dyekin-core", "dyekin-server", "dyekin-client"][..]),
        ("dyekin-core", &["tonic", "prost", "tokio", "clap", "tracing", "dyekin-proto"][..]),
        ("dyekin-server", &["dyekin-client"][..]),
        ("dyekin-client", &["dyekin-server"][..]),
    ];
    let mut offenders = Vec::new();
    for (package, forbidden) in walls {
        let found = dependencies(package);
        for name in forbidden.iter().filter(|name| found.contains(**name)) {
            offenders.push(format!("{package} depends on {name}"));
        }
    }
    none("dependencies that break a wall", &offenders);
}

#[test]
fn wire_types_stay_at_the_boundary() {
    let words = ["tonic::", "tokio::", "prost::", "dyekin_proto"];
    let allowed = ["proto/", "client/src/backend/remote", "server/src/"];
    none("wire types outside the boundary", &strays(&words, &allowed));
    let inside = ["server/src/grpc", "server/src/lib.rs", "client/", "proto/"];
    none("wire types deep in the server", &strays(&["dyekin_proto"], &inside));
}

/// Cargo builds a library once with the features of all packages: with `std` its mathematics would be
/// the platform's in the tests and pure Rust in the product.
#[test]
fn no_package_gives_palette_the_mathematics_of_the_platform() {
    let mut named = 0;
    for package in packages() {
        let all = package["dependencies"].as_array().expect("a list of dependencies").clone();
        for palette in all.iter().filter(|dependency| dependency["name"] == "palette") {
            named += 1;
            let features = serde_json::json!(["libm"]);
            assert!(
                palette["features"] == features && palette["uses_default_features"] == false,
                "{}: palette takes the feature libm and no other",
                package["name"]
            );
        }
    }
    assert!(named >= 2, "core and its tests name palette");
}

#[test]
fn each_library_has_one_home() {
    let homes = [
        ("kiddo", &["server/core/src/index"][..]),
        ("csv::ReaderBuilder", &["server/core/src/table/csv.rs"][..]),
        ("csv::ByteRecord", &["server/core/src/table/csv.rs"][..]),
        ("quick_xml", &["server/core/src/table/cxf.rs"][..]),
        ("serde::", &["server/core/src/table/json.rs", "client/src/"][..]),
        ("palette::convert", &["server/core/src/color/"][..]),
        ("png::", &["client/src/chart/"][..]),
        ("toml::", &["client/src/profile.rs"][..]),
        ("unicode_security", &["client/src/check/symbols.rs"][..]),
        (
            "clap::",
            &["client/src/cli", "client/src/commands.rs", "server/src/config", "server/src/main"][..],
        ),
    ];
    for (library, allowed) in homes {
        none("libraries named outside their home", &strays(&[library], allowed));
    }
}

#[test]
fn only_the_printer_writes_to_the_terminal() {
    let words = ["println!", "print!(", "io::stdout", "io::stderr", "eprint"];
    let allowed = ["client/src/printer", "server/src/main.rs", "server/src/telemetry.rs"];
    none("output beside the printer", &strays(&words, &allowed));
}

#[test]
fn only_a_few_files_touch_the_disk_and_the_environment() {
    let words = ["std::fs", "std::env", "env::var"];
    let allowed = [
        "client/src/files",
        "client/src/main.rs",
        "client/src/printer",
        "server/src/config",
        "server/src/load.rs",
        "server/src/main.rs",
    ];
    none("disk or environment in other files", &strays(&words, &allowed));
}

#[test]
fn files_and_mains_keep_their_size() {
    let mut offenders = Vec::new();
    for source in sources() {
        let lines = source.own().lines().count();
        let is_main = source.path.ends_with("/main.rs") && source.is_product();
        let cap = if is_main { MAIN_CAP } else { FILE_CAP };
        if lines > cap {
            offenders.push(format!("{}: {lines} lines, the cap is {cap}", source.path));
        }
    }
    none("files that are too long", &offenders);
}

#[test]
fn every_file_opens_with_what_it_is() {
    let offenders: Vec<String> = sources()
        .into_iter()
        .filter(|source| !source.text.starts_with("//!"))
        .map(|source| source.path)
        .collect();
    none("files without a first `//!` line", &offenders);
}

#[test]
fn module_names_say_something() {
    let banned = ["mod", "utils", "util", "helpers", "common", "types", "misc"];
    let says_nothing = |path: &String| {
        let stem = Path::new(path).file_stem().and_then(|stem| stem.to_str());
        stem.is_some_and(|stem| banned.contains(&stem))
    };
    let offenders: Vec<String> =
        sources().into_iter().map(|source| source.path).filter(says_nothing).collect();
    none("module names that say nothing", &offenders);
}

#[test]
fn nothing_is_left_unfinished() {
    let marks = ["TODO", "FIXME", "XXX", "todo!(", "unimplemented!(", "dbg!(", "#[ignore"];
    let mut offenders = Vec::new();
    for source in sources().iter().filter(|source| source.path != "tests/it/tidy.rs") {
        for mark in marks.iter().filter(|mark| source.text.contains(**mark)) {
            offenders.push(format!("{}: {mark}", source.path));
        }
    }
    none("unfinished work", &offenders);
}

#[test]
fn numbers_of_the_standards_stand_once() {
    // 25^7 of CIEDE2000 and the threshold of the sRGB transfer curve.
    for number in ["6_103_515_625", "0.04045", "0.040_45"] {
        let places: Vec<String> = sources()
            .into_iter()
            .filter(|source| source.is_product() && source.code().contains(number))
            .map(|source| source.path)
            .collect();
        assert!(places.len() <= 1, "{number} stands in {}", places.join(", "));
    }
}

#[test]
fn the_top_level_holds_only_the_fixed_names() {
    let offenders: BTreeSet<String> = project_files()
        .iter()
        .filter_map(|path| path.split('/').next())
        .filter(|name| !name.starts_with('.') && !TOP_LEVEL.contains(name))
        .map(str::to_owned)
        .collect();
    none("entries at the top level", &offenders.into_iter().collect::<Vec<_>>());
}

#[test]
fn every_data_file_is_described() {
    let mut offenders = Vec::new();
    for folder in ["data", "demo", "tests/data"] {
        let readme = read(&format!("{folder}/README.md"));
        for path in project_files() {
            let Some(below) = path.strip_prefix(&format!("{folder}/")) else { continue };
            let name = below.rsplit('/').next().unwrap_or(below);
            // Golden files are described together: each is named after its test.
            if name != "README.md" && !readme.contains(name) && !below.starts_with("golden/") {
                offenders.push(path);
            }
        }
    }
    none("files that no README names", &offenders);
}

#[test]
fn every_dependency_has_its_reason() {
    let reasons = read("DEVELOPERS.md");
    let mut offenders = Vec::new();
    for package in ["dyekin-proto", "dyekin-core", "dyekin-server", "dyekin-client"] {
        for name in dependencies(package) {
            if !name.starts_with("dyekin-") && !reasons.contains(&format!("`{name}`")) {
                offenders.push(format!("{package}: {name}"));
            }
        }
    }
    none("dependencies without a reason in DEVELOPERS.md", &offenders);
}

#[test]
fn every_error_reason_is_documented() {
    let readme = read("README.md");
    let protos = project_files().into_iter().filter(|path| path.ends_with(".proto"));
    let contract: String = protos.map(|path| read(&path)).collect();
    let reasons = quoted_reasons(&read("server/src/grpc/status.rs"));
    assert!(reasons.len() >= 10, "status.rs names its reasons: {reasons:?}");
    let mut offenders = Vec::new();
    for reason in reasons {
        if !readme.contains(&reason) {
            offenders.push(format!("README.md does not list {reason}"));
        }
        if !contract.contains(&reason) {
            offenders.push(format!("no proto comment names {reason}"));
        }
    }
    none("error reasons that are not documented", &offenders);
}

/// Texts in quotes of the form `UPPER_SNAKE`.
fn quoted_reasons(text: &str) -> BTreeSet<String> {
    text.split('"')
        .skip(1)
        .step_by(2)
        .filter(|word| word.len() > 3 && !word.starts_with("DYEKIN"))
        .filter(|word| word.bytes().all(|byte| byte.is_ascii_uppercase() || byte == b'_'))
        .map(str::to_owned)
        .collect()
}

#[test]
fn every_variable_is_in_the_readme() {
    let readme = read("README.md");
    let mut offenders = Vec::new();
    for source in sources().iter().filter(|source| source.is_product()) {
        for variable in words_starting(&source.code(), "DYEKIN_") {
            if !readme.contains(&variable) {
                offenders.push(format!("{}: {variable}", source.path));
            }
        }
    }
    none("environment variables that the README does not name", &offenders);
}

fn words_starting(text: &str, prefix: &str) -> BTreeSet<String> {
    text.split(|character: char| !character.is_ascii_alphanumeric() && character != '_')
        .filter(|word| word.starts_with(prefix) && word.len() > prefix.len())
        .map(str::to_owned)
        .collect()
}

#[test]
fn the_reference_pairs_are_all_there() {
    let rows = read("tests/data/reference/ciede2000.csv")
        .lines()
        .filter(|line| line.starts_with(|first: char| first.is_ascii_digit()))
        .count();
    assert_eq!(rows, 34, "Sharma, Wu, Dalal 2005, Table 1 has 34 pairs");
}

#[test]
fn nothing_committed_names_a_machine() {
    let hosts = ["static.crates.io", "pypi.org", "registry.npmjs", "deb.debian.org", "/root/"];
    let mut offenders = Vec::new();
    for path in project_files() {
        let Ok(text) = std::fs::read_to_string(root().join(&path)) else { continue };
        for host in hosts.iter().filter(|host| path != "tests/it/tidy.rs" && text.contains(**host))
        {
            offenders.push(format!("{path}: {host}"));
        }
    }
    none("hosts or paths of a machine", &offenders);
}
