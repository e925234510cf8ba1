//! `dyekin table check|import|audit|compare|list|delete`: thread tables themselves; `convert` has its own file.
//! It does not read their formats: the backend does.

mod audit;
mod compare;
mod opened;

use std::path::Path;

use dyekin_core::TableId;
use dyekin_core::error::harmless;
use serde_json::{Value, json};

use super::shop::{Need, Shop, connect, read_options, show_notices};
use crate::backend::{Backend, Embedded, Imported, TableHead};
use crate::cli::{TableCommand, TableDelete, TableFiles, TableList};
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files;
use crate::printer::Printer;
use crate::report::{counted, json as as_json, text};
use crate::settings::Reading;

pub(crate) fn run(typed: &TableCommand, printer: &mut Printer) -> Result<Exit> {
    match typed {
        TableCommand::Check(typed) => read(typed, Keep::No, printer),
        TableCommand::Convert(typed) => super::table_convert::run(typed, printer),
        TableCommand::Import(typed) => read(typed, Keep::Yes, printer),
        TableCommand::Audit(typed) => audit::run(typed, printer),
        TableCommand::Compare(typed) => compare::run(typed, printer),
        TableCommand::List(typed) => list(typed, printer),
        TableCommand::Delete(typed) => delete(typed, printer),
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Keep {
    No,
    Yes,
}

fn read(typed: &TableFiles, keep: Keep, printer: &mut Printer) -> Result<Exit> {
    let reading = Reading::checked(&typed.reading)?;
    let name = name(typed)?;
    let mut backend = backend(typed.reading.server.as_deref(), keep, printer)?;
    let (mut done, mut problems, mut worst) = (Vec::new(), Vec::new(), Exit::Done);
    for path in &typed.files {
        match read_one(path, name.as_ref(), &reading, keep, backend.as_mut()) {
            Ok(imported) => {
                let source = path.to_string_lossy();
                show_notices(&source, &imported.notices, usize::MAX, printer);
                done.push((path.as_path(), imported));
            }
            Err(failure) => {
                problems.extend(as_json::problems(&path.to_string_lossy(), &failure));
                worst = worst.max(super::complain(&failure, printer));
            }
        }
    }
    if typed.show.json {
        let tables: Vec<Value> = done.iter().map(|(path, table)| imported(path, table)).collect();
        printer.data(&as_json::to_text(&json!({"tables": tables, "problems": problems})));
    } else {
        for (path, table) in &done {
            printer.data(&sentence(path, table, keep));
        }
    }
    Ok(worst)
}

fn name(typed: &TableFiles) -> Result<Option<TableId>> {
    let Some(name) = &typed.name else { return Ok(None) };
    if typed.files.len() > 1 {
        return Err(Failure::said(
            "--name names one table, but several files are given",
            "read the files one by one",
        ));
    }
    Ok(Some(TableId::parse(name)?))
}

fn backend(server: Option<&str>, keep: Keep, printer: &Printer) -> Result<Box<dyn Backend>> {
    match (server, keep) {
        (Some(server), _) => connect(server, printer.stop_flag()),
        (None, Keep::No) => Ok(Box::new(Embedded::default())),
        (None, Keep::Yes) => Err(no_server("table import")),
    }
}

/// Without a server there is nobody to keep a table from one run to the next.
fn no_server(command: &str) -> Failure {
    Failure::said(
        format!("{command} works on a server's tables, and no server is named"),
        "add --server URL; without a server, name the file itself with --table where it is needed",
    )
}

fn read_one(
    path: &Path,
    name: Option<&TableId>,
    reading: &Reading,
    keep: Keep,
    backend: &mut dyn Backend,
) -> Result<Imported> {
    let bytes = files::read(path)?;
    let options = read_options(path, name, reading);
    match keep {
        Keep::No => backend.check_table(&bytes, &options),
        Keep::Yes => backend.import_table(&bytes, &options),
    }
}

fn sentence(path: &Path, imported: &Imported, keep: Keep) -> String {
    let threads = counted(imported.table.threads as u64, "thread", "threads");
    let conditions =
        imported.table.conditions.map(|white| format!(", {white}")).unwrap_or_default();
    match keep {
        Keep::No => format!("{}: good, {threads}{conditions}", files::shown(path)),
        Keep::Yes => {
            let lasting = if imported.durable { "" } else { "; kept until the server stops" };
            format!(
                "{}: imported as {}, {threads}{conditions}{lasting}",
                files::shown(path),
                imported.table.id
            )
        }
    }
}

pub(super) fn imported(path: &Path, imported: &Imported) -> Value {
    let source = path.to_string_lossy();
    let notices: Vec<String> = imported
        .notices
        .iter()
        .map(|notice| text::notice(&source, notice).trim_start_matches("note: ").to_owned())
        .collect();
    let mut value = head(&imported.table);
    if let Value::Object(members) = &mut value {
        members.insert("file".into(), json!(source));
        members.insert("notices".into(), json!(notices));
        members.insert("durable".into(), json!(imported.durable));
    }
    value
}

fn head(head: &TableHead) -> Value {
    json!({
        "table": head.id.as_str(),
        "threads": head.threads,
        "conditions": head.conditions.map(|white| format!("{}/{}", white.illuminant.as_str(), white.observer.degrees())),
        "hash": head.hash.to_string(),
    })
}

fn list(typed: &TableList, printer: &mut Printer) -> Result<Exit> {
    let mut shop = Shop::open(&typed.tables, None, Need::Tables, printer)?;
    let wanted = shop.tables.clone();
    let mut heads = shop.backend.list_tables()?;
    if let Some(missing) = wanted.iter().find(|id| heads.iter().all(|head| head.id != **id)) {
        // The backend knows best which names are close.
        shop.backend.table(missing)?;
    }
    heads.retain(|head| wanted.is_empty() || wanted.contains(&head.id));
    if typed.show.json {
        let tables: Vec<Value> = heads.iter().map(head).collect();
        printer.data(&as_json::to_text(&json!({"tables": tables})));
        return Ok(Exit::Done);
    }
    let rows: Vec<Vec<String>> = heads.iter().map(|head| row(head, typed.show.details)).collect();
    for line in text::rows(&rows, printer.width()) {
        printer.data(&line);
    }
    if heads.is_empty() {
        printer.note("note: the server has no tables: dyekin table import FILE --server URL");
    }
    Ok(Exit::Done)
}

fn row(head: &TableHead, details: bool) -> Vec<String> {
    let conditions = head.conditions.map(|white| white.to_string()).unwrap_or_default();
    let hash = head.hash.to_string();
    let shown = if details { hash } else { hash.chars().take(12).collect() };
    let threads = counted(head.threads as u64, "thread", "threads");
    vec![harmless(head.id.as_str()), threads, conditions, shown]
}

fn delete(typed: &TableDelete, printer: &mut Printer) -> Result<Exit> {
    let ids: Vec<TableId> =
        typed.ids.iter().map(|text| TableId::parse(text)).collect::<std::result::Result<_, _>>()?;
    let server = typed.server.as_deref().ok_or_else(|| no_server("table delete"))?;
    let mut backend = connect(server, printer.stop_flag())?;
    let (mut gone, mut worst) = (Vec::new(), Exit::Done);
    for id in &ids {
        match backend.delete_table(id) {
            Ok(head) => gone.push(head),
            Err(failure) => worst = worst.max(super::complain(&failure, printer)),
        }
    }
    if typed.show.json {
        let tables: Vec<Value> = gone.iter().map(head).collect();
        printer.data(&as_json::to_text(&json!({"deleted": tables})));
    } else {
        for head in &gone {
            let threads = counted(head.threads as u64, "thread", "threads");
            printer.data(&format!("deleted {}, {threads}", head.id));
        }
    }
    Ok(worst)
}
