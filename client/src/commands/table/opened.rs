//! Tables named by position: files in process, names at a server.
//! It does not know what they are asked.

use std::path::{Path, PathBuf};

use dyekin_core::TableId;
use dyekin_core::error::shown;

use crate::backend::{Backend, Embedded};
use crate::cli::ReadingArgs;
use crate::commands::shop::{NOTICES_SHOWN, connect, read_options, show_notices};
use crate::commands::stem;
use crate::failure::{Failure, Result};
use crate::files;
use crate::printer::Printer;
use crate::settings::Reading;

/// A backend and the tables named, in the order of the names.
#[derive(Debug)]
pub(super) struct Opened {
    pub(super) backend: Box<dyn Backend>,
    pub(super) ids: Vec<TableId>,
}

/// Opens tables, or reports all that is wrong with all of them.
pub(super) fn open(
    names: &[&PathBuf],
    reading: &ReadingArgs,
    printer: &mut Printer,
) -> Result<Opened> {
    let read = Reading::checked(reading)?;
    match &reading.server {
        Some(server) => {
            let ids = names.iter().map(|name| at_server(name, server)).collect::<Result<_>>()?;
            Ok(Opened { backend: connect(server, printer.stop_flag())?, ids })
        }
        None => here(names, &read, printer),
    }
}

fn here(names: &[&PathBuf], reading: &Reading, printer: &mut Printer) -> Result<Opened> {
    let mut backend = Embedded::default();
    let (mut ids, mut problems, mut more) = (Vec::new(), Vec::new(), 0);
    for name in names {
        let id = unlike(&TableId::from_any(&stem(name)), &ids);
        let options = read_options(name, Some(&id), reading);
        match backend.import_table(&files::read(name)?, &options) {
            Ok(imported) => {
                show_notices(&options.source_name, &imported.notices, NOTICES_SHOWN, printer);
            }
            Err(Failure::Domain { errors, unlisted }) => {
                problems.extend(errors);
                more += unlisted;
            }
            Err(other) => return Err(other),
        }
        ids.push(id);
    }
    if problems.is_empty() {
        return Ok(Opened { backend: Box::new(backend), ids });
    }
    Err(Failure::Domain { errors: problems, unlisted: more })
}

/// Two versions of a table often have one name, in two folders: the second one gets a number.
fn unlike(id: &TableId, taken: &[TableId]) -> TableId {
    if !taken.contains(id) {
        return id.clone();
    }
    let short: String = id.as_str().chars().take(60).collect();
    TableId::from_any(&format!("{short}-2"))
}

fn at_server(name: &Path, server: &str) -> Result<TableId> {
    let text = name.to_string_lossy();
    TableId::parse(&text).map_err(|error| {
        if !text.contains(['/', '\\', '.']) {
            return error.into();
        }
        let file = files::shown(name);
        Failure::said(
            format!("{}: with --server this is the name of a table there", shown(&text)),
            format!(
                "import the file first: dyekin table import {file} --server {server}; then name {}",
                TableId::from_any(&stem(name))
            ),
        )
    })
}
