//! Everything typed that has a say in what a command writes, in one text that is the same whenever
//! the question is. It does not know what the options mean, only which ones change nothing.

use clap::{ArgMatches, CommandFactory};

use super::Cli;

/// Options that change where answers go, how they are shown or how fast they come. What tables and
/// lists hold is compared by content elsewhere.
const NO_SAY: [&str; 16] = [
    "by_hand",
    "changes",
    "charts",
    "details",
    "force",
    "from",
    "jobs",
    "json",
    "key",
    "output",
    "quiet",
    "recursive",
    "resume",
    "server",
    "tables",
    "undo",
];

/// The options of a command by name, with defaults, one a line.
pub(crate) fn asked_for(found: &ArgMatches) -> String {
    let Some((name, typed)) = found.subcommand() else { return String::new() };
    let all = Cli::command();
    let Some(command) = all.find_subcommand(name) else { return String::new() };
    let mut lines = Vec::new();
    for option in command.get_arguments().map(|option| option.get_id().as_str()) {
        if NO_SAY.contains(&option) {
            continue;
        }
        // An option of a subcommand below this one is not known here.
        for value in typed.try_get_raw(option).ok().flatten().into_iter().flatten() {
            lines.push(format!("{option} {}", value.as_encoded_bytes().escape_ascii()));
        }
    }
    lines.sort();
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(line: &str) -> String {
        asked_for(&Cli::command().try_get_matches_from(line.split_whitespace()).unwrap())
    }

    #[test]
    fn only_what_changes_the_outputs_counts() {
        let base = asked("dyekin reduce charts -o out --table a.csv --threads 5");
        for same in [
            "dyekin reduce charts/ more -o other --table b.csv --threads 5 --json --details",
            "dyekin reduce --threads 5 charts --resume --jobs 3 --force -o out -q",
        ] {
            assert_eq!(asked(same), base, "{same}");
        }
        for other in [
            "dyekin reduce charts -o out --table a.csv --threads 6",
            "dyekin reduce charts -o out --table a.csv --threads 5 --within 3",
            "dyekin reduce charts -o out --table a.csv --threads 5 --available",
            "dyekin reduce charts -o out --table a.csv --threads 5 --keep A,B",
            "dyekin reduce charts -o out --table a.csv --threads 5 --formula cie76",
        ] {
            assert_ne!(asked(other), base, "{other}");
        }
    }

    #[test]
    fn every_option_without_a_say_exists() {
        let all = Cli::command();
        let names: Vec<&str> = ["reduce", "clean"]
            .iter()
            .filter_map(|name| all.find_subcommand(name))
            .flat_map(|command| command.get_arguments().map(|option| option.get_id().as_str()))
            .collect();
        for option in NO_SAY {
            assert!(names.contains(&option), "{option}");
        }
    }
}
