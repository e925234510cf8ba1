//! `dyekin check`: what to know of a chart before it is sold.
//! It finds nothing itself: `crate::check` does, in this process, wherever the tables are.

mod each;

use std::path::Path;

use dyekin_core::table::Notice;
use dyekin_core::{Color, Srgb8, Table};

use super::chart_work::has_codes;
use super::shop::{Need, Shop};
use super::walk;
use crate::asked::{self, Asked};
use crate::chart::{self, KeyLine, PictureOptions, ReadOptions};
use crate::check::{Checked, Given, Limits, notes};
use crate::cli::CheckArgs;
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files;
use crate::printer::Printer;
use crate::profile;
use crate::report::check::{Names, Told, sarif};
use crate::report::growing::Growing;
use crate::report::{json as as_json, text};

pub(crate) fn run(typed: &CheckArgs, printer: &mut Printer) -> Result<Exit> {
    let limits = limits(typed)?;
    let key = typed.key.as_deref().map(key_lines).transpose()?;
    let Some(path) = walk::lone(&typed.charts, &typed.walk)? else {
        return each::run(typed, |printer| Tables::open(typed, printer), &limits, printer);
    };
    let tables = Tables::open(typed, printer)?;
    let checker = Checker::new(typed, &tables, &limits, key.as_deref())?;
    let FileChecked { checked, notices } = checker.check(path)?;
    let source = path.to_string_lossy();
    for notice in &notices {
        printer.note(&text::notice(&source, notice));
    }
    let names = Names::with(typed, &source);
    let told = Told { checked: &checked, names: &names };
    if typed.sarif {
        let entry = sarif::Entry { path, names: &names, checked: &checked };
        let mut log = Growing::open(&sarif::log(&limits));
        sarif::results(&entry).iter().for_each(|result| log.add(result, printer));
        log.close(&sarif::artifacts(std::iter::once(path)), printer);
    } else if typed.show.json {
        printer.data(&as_json::to_text(&told.json(typed.fail_on)));
    } else {
        for line in told.lines(typed.show.details, printer.width()) {
            printer.data(&line);
        }
    }
    for caution in told.cautions() {
        printer.caution(caution.words());
    }
    let fails = typed.fail_on.is_some_and(|degree| checked.reaches(degree));
    Ok(if fails { Exit::NothingMatched } else { Exit::Done })
}

/// The limits of the profile that was typed, or the usual ones.
pub(crate) fn limits(typed: &CheckArgs) -> Result<Limits> {
    let Some(path) = typed.profile.as_deref() else { return Ok(Limits::usual()) };
    Ok(profile::read(&files::read(path)?, &path.to_string_lossy())?)
}

fn key_lines(path: &Path) -> Result<Vec<KeyLine>> {
    Ok(chart::read_key_lines(&files::read(path)?, &path.to_string_lossy())?)
}

/// The tables of a run, and the one that bare codes belong to.
#[derive(Debug)]
pub(crate) struct Tables {
    tables: Vec<Table>,
    owner: Option<usize>,
}

impl Tables {
    /// Reads the tables that were typed, from files or from a server.
    pub(crate) fn open(typed: &CheckArgs, printer: &mut Printer) -> Result<Self> {
        let from = typed.read.from.as_deref();
        let mut shop = Shop::open(&typed.tables, from, Need::Nothing, printer)?;
        let mut ids = shop.searched()?;
        ids.extend(shop.from.clone().filter(|from| !ids.contains(from)));
        let owner = match (&shop.from, ids.as_slice()) {
            (Some(from), ids) => ids.iter().position(|id| id == from),
            (None, [_]) => Some(0),
            (None, _) => None,
        };
        let tables = ids.iter().map(|id| shop.backend.table(id)).collect::<Result<_>>()?;
        Ok(Self { tables, owner })
    }
}

/// Checks one chart after the other by the same tables and limits; charts may be checked at the same
/// time.
#[derive(Debug)]
pub(crate) struct Checker<'t> {
    tables: &'t Tables,
    limits: &'t Limits,
    picture: PictureOptions,
    cloth: Option<Srgb8>,
    key: Option<&'t [KeyLine]>,
}

/// The notes of one chart file, and what its reader took for granted.
#[derive(Debug)]
pub(crate) struct FileChecked {
    pub(crate) checked: Checked,
    pub(crate) notices: Vec<Notice>,
}

impl<'t> Checker<'t> {
    /// A checker; `key` is held against every chart, so it suits a single one.
    pub(crate) fn new(
        typed: &CheckArgs,
        tables: &'t Tables,
        limits: &'t Limits,
        key: Option<&'t [KeyLine]>,
    ) -> Result<Self> {
        let cloth = typed.cloth.as_deref().map(|text| cloth(text, typed)).transpose()?;
        Ok(Self { tables, limits, picture: typed.read.picture.options(), cloth, key })
    }

    /// Reads a chart file and checks it.
    pub(crate) fn check(&self, path: &Path) -> Result<FileChecked> {
        let bytes = files::read(path)?;
        let source_name = path.to_string_lossy();
        let owner = self.tables.owner.and_then(|place| self.tables.tables.get(place));
        let table = owner.filter(|_| has_codes(&bytes));
        let options = ReadOptions { source_name: &source_name, table, picture: self.picture };
        let chart::Loaded { content, mut notices, .. } = chart::read(&bytes, &options)?;
        let given = Given { content: &content, cloth: self.cloth, key: self.key };
        let mut checked = notes(given, &self.tables.tables, self.limits)?;
        notices.append(&mut checked.notices);
        Ok(FileChecked { checked, notices })
    }
}

fn cloth(text: &str, typed: &CheckArgs) -> Result<Srgb8> {
    let reading = crate::settings::Reading::checked(&typed.tables.reading)?;
    if let Ok(Asked::Color(color) | Asked::Either(color, _)) = asked::parse(text, &reading) {
        return Ok(Color::srgb(&color));
    }
    let shown = dyekin_core::error::shown(text);
    Err(Failure::said(
        format!("--cloth `{shown}`: not a color"),
        "write it as '#f4f0e6' or rgb(244, 240, 230)",
    ))
}
