//! `dyekin table convert`: a table of any format written as our CSV or JSON, with nothing lost.
//! It does not read or write the formats: the backend and the domain do.

use std::path::Path;

use dyekin_core::Table;
use dyekin_core::TableId;
use dyekin_core::table::{CsvForm, ReadOptions, write_csv, write_json};
use serde_json::{Value, json};

use super::shop::{read_options, show_notices};
use super::table::imported;
use crate::backend::{Backend, Embedded};
use crate::cli::TableConvert;
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files::{self, Outputs};
use crate::printer::Printer;
use crate::report::{counted, json as as_json};
use crate::settings::Reading;

/// How the table is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    Csv(CsvForm),
    Json,
}

pub(super) fn run(typed: &TableConvert, printer: &mut Printer) -> Result<Exit> {
    let reading = Reading::checked(&typed.reading)?;
    let name = typed.name.as_deref().map(TableId::parse).transpose()?;
    if typed.reading.server.is_some() {
        return Err(Failure::said(
            "table convert reads and writes files in process, and a server is named",
            "leave --server out",
        ));
    }
    let form = form(&typed.output, typed.spreadsheet)?;
    let mut outputs = Outputs::beside(&[&typed.file], typed.force);
    outputs.add(&typed.output)?;

    let options = read_options(&typed.file, name.as_ref(), &reading);
    let mut backend = Embedded::default();
    let read = backend.import_table(&files::read(&typed.file)?, &options)?;
    show_notices(&options.source_name, &read.notices, usize::MAX, printer);
    let table = backend.table(&read.table.id)?;
    let text = written(&table, form)?;
    outputs.write(&[(&typed.output, text.into_bytes())])?;
    if typed.show.json {
        let mut value = imported(&typed.file, &read);
        if let Value::Object(members) = &mut value {
            members.remove("durable");
            members.insert("written".into(), json!(typed.output.to_string_lossy()));
        }
        printer.data(&as_json::to_text(&value));
    } else {
        let threads = counted(table.threads().len() as u64, "thread", "threads");
        printer.note(&format!("wrote {}: {threads}", files::shown(&typed.output)));
    }
    Ok(Exit::Done)
}

fn form(path: &Path, for_spreadsheets: bool) -> Result<Form> {
    let name = path.to_string_lossy().to_lowercase();
    match (name.ends_with(".csv"), name.ends_with(".json"), for_spreadsheets) {
        (true, _, false) => Ok(Form::Csv(CsvForm::Plain)),
        (true, _, true) => Ok(Form::Csv(CsvForm::SpreadsheetSafe)),
        (false, true, false) => Ok(Form::Json),
        (false, true, true) => Err(Failure::said(
            format!("writing {}: --spreadsheet is a form of CSV", files::shown(path)),
            "end the name with .csv, or leave --spreadsheet out",
        )),
        (false, false, _) => Err(Failure::said(
            format!("writing {}: its ending names no format", files::shown(path)),
            "end the name with .csv or .json",
        )),
    }
}

/// The table as text, after a look whether that text reads back as the same table.
fn written(table: &Table, form: Form) -> Result<String> {
    let text = match form {
        Form::Csv(form) => write_csv(table, form)?,
        Form::Json => write_json(table)?,
    };
    let options = ReadOptions {
        id: table.id().clone(),
        source_name: "what was to be written".into(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    };
    match dyekin_core::table::read(text.as_bytes(), &options) {
        Ok(again) if again.table.hash() == table.hash() => Ok(text),
        Ok(_) | Err(_) => Err(Failure::Bug {
            what: format!("table {} does not read back as it was written", table.id()),
        }),
    }
}
