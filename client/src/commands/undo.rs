//! `dyekin undo`: the chart as it was before its changes, byte for byte, or why not.
//! It computes nothing: the list holds the way back.

use std::path::Path;

use serde_json::{Value, json};

use super::planned::{files_object, read_changes, say_written};
use crate::change_file::{ChangeFile, Undo, digest};
use crate::chart::{self, ChartHash, Content, FileKind, PictureOptions, ReadOptions};
use crate::cli::UndoArgs;
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files::{self, Outputs};
use crate::printer::Printer;
use crate::report::json::to_text;

pub(crate) fn run(typed: &UndoArgs, printer: &mut Printer) -> Result<Exit> {
    let mut outputs = Outputs::beside(&[&typed.record, &typed.chart], typed.force);
    outputs.add(&typed.output)?;
    let file = read_changes(&typed.record)?;
    let Some(undo) = &file.undo else {
        return Err(Failure::said(
            format!("reading {}: the list holds no way back", files::shown(&typed.record)),
            "give the file that --undo wrote when the changes were carried out",
        ));
    };
    let endings = endings(undo.kind);
    let found = typed.output.extension().map(|found| found.to_string_lossy().to_lowercase());
    if !endings.iter().any(|ending| found.as_deref() == Some(ending)) {
        let ending = endings.join(" or .");
        return Err(Failure::said(
            format!("writing {}: the chart was a .{ending} file", files::shown(&typed.output)),
            format!("end the name with .{ending}"),
        ));
    }
    check(&file, undo, &typed.chart)?;
    outputs.write(&[(&typed.output, undo.file.clone())])?;
    let written = [("chart", typed.output.as_path())];
    if typed.show.json {
        let value = json!({
            "question": "undo",
            "hash": digest(&undo.file),
            "files": Value::Object(files_object(&written)),
        });
        printer.data(&to_text(&value));
    } else {
        printer.data("The chart is as it was, byte for byte.");
    }
    say_written(&written, &[], printer);
    Ok(Exit::Done)
}

/// Refuses a chart that was changed since: the way back would lose that.
fn check(file: &ChangeFile, undo: &Undo, path: &Path) -> Result<()> {
    let bytes = files::read(path)?;
    let name = files::shown(path);
    if digest(&bytes) == undo.after {
        return Ok(());
    }
    if digest(&bytes) == digest(&undo.file) {
        return Err(Failure::said(
            format!("reading {name}: the changes are not in this chart, or are undone already"),
            "give the chart that the changes led to",
        ));
    }
    let source = path.to_string_lossy();
    let picture = PictureOptions::AS_FOUND;
    let options = ReadOptions { source_name: &source, table: None, picture };
    let same = chart::read(&bytes, &options).is_ok_and(|loaded| match loaded.content {
        Content::Chart(chart) => file.chart_after == Some(ChartHash::of(&chart)),
        Content::Key(_) => false,
    });
    if same {
        return Ok(());
    }
    Err(Failure::said(
        format!("reading {name}: it is not the chart as the changes left it"),
        "what was changed since would be lost: give the chart as it was written then, and carry \
         later changes over by hand",
    ))
}

fn endings(kind: FileKind) -> &'static [&'static str] {
    match kind {
        FileKind::Grid | FileKind::Key => &["csv", "tsv", "txt"],
        FileKind::Jpeg => &["jpg", "jpeg"],
        FileKind::Json => &["json"],
        FileKind::Png => &["png"],
    }
}
