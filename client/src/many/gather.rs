//! From what was typed to a list of charts, in an order that is always the same.
//! It reads no chart: it looks at names and first bytes, and says what it leaves out.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use crate::chart::{HEAD, Looks, looks};
use crate::failure::{Failure, Result};
use crate::files::{self, Identity, Kind};

/// Most charts of one run. House choice: far more than a catalog has, and their list fits in memory.
const MAX_CHARTS: usize = 100_000;

/// A chart to work on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct ChartFile {
    /// Where it is, as typed.
    pub(crate) path: PathBuf,
    /// Its name below the folder that was typed; the name alone for a file that was typed.
    pub(crate) name: PathBuf,
    pub(crate) looks: Looks,
}

/// What stands in a folder and is no chart of this run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct LeftOut {
    pub(crate) path: PathBuf,
    pub(crate) why: &'static str,
}

/// The charts of a run.
#[derive(Debug, Default)]
pub(crate) struct Gathered {
    pub(crate) charts: Vec<ChartFile>,
    pub(crate) left_out: Vec<LeftOut>,
    /// Folders inside that cannot be read.
    pub(crate) unread: Vec<(PathBuf, Failure)>,
    seen: HashSet<Identity>,
}

/// Why a name in a folder is left out.
const HIDDEN: &str = "hidden";
const INSIDE: &str = "a folder inside";
const LINKED: &str = "a link to a folder";
const NOWHERE: &str = "a link that leads nowhere";
const OF_THE_RUN: &str = "a folder or table of this run";
const SPECIAL: &str = "not an ordinary file";
const TWICE: &str = "the same file again";

/// Finds the charts behind what was typed. `own` are the tables and folders of the run itself.
///
/// # Errors
///
/// When a folder that was typed cannot be read, there is no chart, or there are too many.
pub(crate) fn gather(typed: &[PathBuf], recursive: bool, own: &[&Path]) -> Result<Gathered> {
    let mut gathered = Gathered::default();
    let own: HashSet<Identity> = own.iter().filter_map(|path| files::identity(path)).collect();
    for path in typed {
        if files::is_folder(path) {
            gathered.folder(path, recursive, &own)?;
        } else {
            let head = files::head(path, HEAD).unwrap_or_default();
            gathered.add(path.clone(), PathBuf::from(path.file_name().unwrap_or_default()), &head);
        }
        if gathered.charts.len() > MAX_CHARTS {
            return Err(Failure::said(
                format!("more than {MAX_CHARTS} charts"),
                "give fewer folders at a time",
            ));
        }
    }
    if gathered.charts.is_empty() && gathered.unread.is_empty() {
        let shown: Vec<String> = typed.iter().map(|path| files::shown(path)).collect();
        return Err(Failure::said(
            format!("no charts in {}", shown.join(", ")),
            if recursive {
                "charts are PNG and JPEG pictures, chart JSON, CSV grids of codes and keys"
            } else {
                "charts are PNG and JPEG pictures, chart JSON, CSV grids of codes and keys; for those \
                 of folders inside, add --recursive"
            },
        ));
    }
    Ok(gathered)
}

impl Gathered {
    /// The charts of a folder; then, when asked for, those of the folders inside, name by name.
    fn folder(&mut self, root: &Path, recursive: bool, own: &HashSet<Identity>) -> Result<()> {
        let is_own = |path: &Path| files::identity(path).is_some_and(|file| own.contains(&file));
        let mut waiting = vec![PathBuf::new()];
        while let Some(below) = waiting.pop() {
            let folder = root.join(&below);
            let names = match files::list(&folder) {
                Ok(names) => names,
                Err(failure) if below == Path::new("") => return Err(failure),
                Err(failure) => {
                    self.unread.push((folder, failure));
                    continue;
                }
            };
            let mut inside = Vec::new();
            for found in names {
                let (path, name) = (folder.join(&found.name), below.join(&found.name));
                let why = match found.kind {
                    _ if found.name.as_encoded_bytes().starts_with(b".") => HIDDEN,
                    _ if is_own(&path) => OF_THE_RUN,
                    Kind::File => {
                        self.file(path, name);
                        continue;
                    }
                    Kind::Folder if recursive => {
                        inside.push(name);
                        continue;
                    }
                    Kind::Folder => INSIDE,
                    Kind::LinkedFolder => LINKED,
                    Kind::DeadLink => NOWHERE,
                    Kind::Special => SPECIAL,
                };
                self.left_out.push(LeftOut { path, why });
            }
            if self.charts.len() > MAX_CHARTS {
                return Ok(());
            }
            waiting.extend(inside.into_iter().rev());
        }
        Ok(())
    }

    /// A file of a folder: a chart, or something else that lies beside charts.
    fn file(&mut self, path: PathBuf, name: PathBuf) {
        // Where it cannot be read its name says whether it would be a chart; reading it says why.
        let head = files::head(&path, HEAD).unwrap_or_default();
        match looks(&head, &path.to_string_lossy()) {
            Looks::Other(why) => self.left_out.push(LeftOut { path, why }),
            Looks::Codes | Looks::Json | Looks::Picture => self.add(path, name, &head),
        }
    }

    fn add(&mut self, path: PathBuf, name: PathBuf, head: &[u8]) {
        let is_new = files::identity(&path).is_none_or(|file| self.seen.insert(file));
        if !is_new {
            self.left_out.push(LeftOut { path, why: TWICE });
            return;
        }
        let looks = looks(head, &path.to_string_lossy());
        self.charts.push(ChartFile { path, name, looks });
    }
}

/// Names of one kind that a note shows.
const NAMED: usize = 5;

/// What was left out, in a line for each reason.
pub(crate) fn told(left_out: &[LeftOut]) -> Vec<String> {
    let mut reasons: Vec<&str> = Vec::new();
    for held in left_out {
        if !reasons.contains(&held.why) {
            reasons.push(held.why);
        }
    }
    let line = |why: &&str| {
        let names: Vec<String> = left_out
            .iter()
            .filter(|held| held.why == *why)
            .map(|held| files::shown(&held.path))
            .collect();
        let shown: Vec<String> = names.iter().take(NAMED).cloned().collect();
        let more = match names.len().saturating_sub(NAMED) {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        let what =
            if *why == INSIDE { "a folder inside (--recursive takes its charts)" } else { why };
        format!("note: left out as {what}: {}{more}", shown.join(", "))
    };
    reasons.iter().map(line).collect()
}
