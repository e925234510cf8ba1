//! Which file becomes which: names of outputs, and what stands in their way, before anything is
//! written. It does not know what the files hold.

use std::collections::{BTreeMap, HashSet};
use std::ffi::OsString;
use std::path::{Path, PathBuf};

use super::ChartFile;
use crate::chart::{ChartFormat, Looks};
use crate::failure::{Failure, Result};
use crate::files::{self, Identity};

/// What a new chart has in its name until somebody has looked at it.
const PROPOSED: &str = ".proposed";

/// The file in the folder of new charts that says what is done.
const RECORD: &str = "dyekin-record.json";

/// The folders that a run writes into.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Folders<'t> {
    pub(crate) output: &'t Path,
    pub(crate) changes: Option<&'t Path>,
    pub(crate) key: Option<&'t Path>,
    pub(crate) by_hand: Option<&'t Path>,
    /// The format of new charts, when they do not keep their own.
    pub(crate) format: Option<ChartFormat>,
}

/// The files that a chart leads to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Names {
    pub(crate) output: PathBuf,
    pub(crate) changes: PathBuf,
    pub(crate) key: Option<PathBuf>,
    pub(crate) by_hand: Option<PathBuf>,
}

impl Names {
    /// Each file by what it holds.
    pub(crate) fn by_role(&self) -> impl Iterator<Item = (&'static str, &Path)> {
        let more = [("key", self.key.as_deref()), ("by_hand", self.by_hand.as_deref())];
        let more = more.into_iter().filter_map(|(what, path)| Some((what, path?)));
        [("chart", self.output.as_path()), ("changes", self.changes.as_path())]
            .into_iter()
            .chain(more)
    }

    fn all(&self) -> impl Iterator<Item = &Path> {
        self.by_role().map(|(_, path)| path)
    }
}

/// Pairs of names that a message shows.
const SHOWN: usize = 5;

impl Folders<'_> {
    /// Where it is written down what is done.
    pub(crate) fn record(&self) -> PathBuf {
        self.output.join(RECORD)
    }

    /// The files that a chart leads to: `a.png` to `a.proposed.png` and `a.png.changes.json`.
    pub(crate) fn names(&self, chart: &ChartFile) -> Names {
        let beside = |folder: &Path, more: &str| {
            let mut name = chart.name.file_name().unwrap_or_default().to_owned();
            name.push(more);
            folder.join(chart.name.with_file_name(name))
        };
        Names {
            output: self.output.join(self.proposed(chart)),
            changes: beside(self.changes.unwrap_or(self.output), ".changes.json"),
            key: self.key.map(|folder| beside(folder, ".key.csv")),
            by_hand: self.by_hand.map(|folder| beside(folder, ".by-hand.txt")),
        }
    }

    /// The name of the new chart below its folder.
    pub(crate) fn proposed(&self, chart: &ChartFile) -> PathBuf {
        let ending = match self.format {
            Some(ChartFormat::Png) => ".png",
            Some(ChartFormat::Json) => ".json",
            Some(ChartFormat::Csv) => ".csv",
            None => match chart.looks {
                Looks::Picture => ".png",
                Looks::Json => ".json",
                Looks::Codes | Looks::Other(_) => ".csv",
            },
        };
        let stem = chart.name.file_stem().unwrap_or_default();
        // A proposal that is worked on again is one proposal.
        let bare = stem.to_str().and_then(|stem| stem.strip_suffix(PROPOSED));
        let mut name = bare.map_or_else(|| stem.to_owned(), OsString::from);
        name.push(PROPOSED);
        name.push(ending);
        chart.name.with_file_name(name)
    }

    /// Refuses two charts that would become one file, and outputs that are inputs or, unless the run
    /// may replace them, exist.
    pub(crate) fn check(
        &self,
        charts: &[ChartFile],
        inputs: &[&Path],
        may_exist: bool,
    ) -> Result<()> {
        let mut taken: BTreeMap<PathBuf, &Path> = BTreeMap::new();
        let mut both = Vec::new();
        let all = charts.iter().map(|chart| (chart, self.names(chart)));
        let all: Vec<(&ChartFile, Names)> = all.collect();
        for (chart, names) in &all {
            let first = names.all().find_map(|name| Some((name, *taken.get(name)?)));
            if let Some((name, other)) = first {
                let [one, two, name] = [other, &chart.path, name].map(files::shown);
                both.push(format!("{one} and {two} would both become {name}"));
            }
            taken.extend(names.all().map(|name| (name.to_owned(), chart.path.as_path())));
        }
        if !both.is_empty() {
            let hint = "give them in runs of their own with a folder each, or rename one of them; \
                        nothing was written";
            return Err(Failure::said(listed(&both), hint));
        }
        let read: HashSet<Identity> = charts
            .iter()
            .map(|chart| chart.path.as_path())
            .chain(inputs.iter().copied())
            .filter_map(files::identity)
            .collect();
        let is_read = |path: &Path| files::identity(path).is_some_and(|file| read.contains(&file));
        let mut there = Vec::new();
        for name in taken.keys().map(PathBuf::as_path).filter(|name| files::is_taken(name)) {
            if is_read(name) {
                return Err(Failure::said(
                    format!(
                        "writing {}: that is an input, which is never overwritten",
                        files::shown(name)
                    ),
                    "give the new charts another folder",
                ));
            }
            there.push(files::shown(name));
        }
        if may_exist || there.is_empty() {
            return Ok(());
        }
        Err(Failure::said(
            format!("these files exist: {}", listed(&there)),
            "add --resume to go on with the run that wrote them, or --force to replace them, or name \
             another folder",
        ))
    }

    /// Makes the folders, also those below them that charts of folders inside need.
    pub(crate) fn make(&self, charts: &[ChartFile]) -> Result<()> {
        let mut folders: Vec<PathBuf> = vec![self.output.to_owned()];
        for names in charts.iter().map(|chart| self.names(chart)) {
            folders.extend(names.all().filter_map(Path::parent).map(Path::to_owned));
        }
        folders.sort();
        folders.dedup();
        folders.iter().try_for_each(|folder| files::make_folder(folder))
    }
}

fn listed(all: &[String]) -> String {
    let shown: Vec<&str> = all.iter().take(SHOWN).map(String::as_str).collect();
    match all.len().saturating_sub(SHOWN) {
        0 => shown.join("; "),
        more => format!("{}; and {more} more", shown.join("; ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chart(name: &str, looks: Looks) -> ChartFile {
        ChartFile { path: Path::new("charts").join(name), name: name.into(), looks }
    }

    fn folders(format: Option<ChartFormat>) -> Folders<'static> {
        Folders { output: Path::new("out"), changes: None, key: None, by_hand: None, format }
    }

    #[test]
    fn a_chart_keeps_its_name_and_is_marked() {
        for (name, looks, format, expected) in [
            ("a.png", Looks::Picture, None, "a.proposed.png"),
            ("a.jpg", Looks::Picture, None, "a.proposed.png"),
            ("sub/a.b.json", Looks::Json, None, "sub/a.b.proposed.json"),
            ("a.csv", Looks::Codes, Some(ChartFormat::Json), "a.proposed.json"),
            ("a.proposed.png", Looks::Picture, None, "a.proposed.png"),
        ] {
            let found = folders(format).names(&chart(name, looks)).output;
            assert_eq!(found, Path::new("out").join(expected), "{name}");
        }
    }

    #[test]
    fn two_charts_that_become_one_file_are_refused() {
        let charts = [
            chart("a.png", Looks::Picture),
            ChartFile { path: "more/a.png".into(), name: "a.png".into(), looks: Looks::Picture },
        ];
        let error = folders(None).check(&charts, &[], false).unwrap_err().to_string();
        assert!(error.contains("charts/a.png and more/a.png would both become out/a.proposed.png"));
        let charts = [chart("a.png", Looks::Picture), chart("a.jpg", Looks::Picture)];
        assert!(folders(None).check(&charts, &[], false).is_err());
        let charts = [chart("a.png", Looks::Picture), chart("a.json", Looks::Json)];
        assert!(folders(None).check(&charts, &[], false).is_ok());
    }
}
