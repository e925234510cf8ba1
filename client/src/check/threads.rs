//! Notes about threads: gone, low, unknown, without one color, not chosen yet.
//! It does not know what could stand in for them.

use std::collections::BTreeMap;

use dyekin_core::table::{Finish, Status, find as find_code};
use dyekin_core::{Error, ErrorKind, TableId, ThreadRef};

use super::Findings;
use super::note::{Cells, Finding, Reason, Worked};
use super::view::View;

pub(super) fn find(view: &View<'_>, found: &mut Findings<'_>) {
    let mut used: BTreeMap<&ThreadRef, Vec<Worked>> = BTreeMap::new();
    for color in view.colors() {
        for thread in &color.threads {
            used.entry(thread).or_default().push(color.clone());
        }
    }
    let mut untold = Vec::new();
    let mut absent: Vec<&TableId> = Vec::new();
    for (thread, colors) in used {
        match view.table(&thread.table) {
            None if absent.contains(&&thread.table) => {}
            None => absent.push(&thread.table),
            Some(_) => one(view, thread, colors, &mut untold, found),
        }
    }
    if !untold.is_empty() {
        found.add(Finding::StatusUntold, untold, Cells::none());
    }
    for table in view.other_versions() {
        found.add(Finding::OtherVersion { table: table.clone() }, Vec::new(), Cells::none());
    }
    for table in absent {
        let finding = Finding::NotChecked { reason: Reason::NoTable(table.clone()) };
        found.add(finding, Vec::new(), Cells::none());
    }
    let bare: Vec<Worked> =
        view.colors().iter().filter(|color| color.threads.is_empty()).cloned().collect();
    if !bare.is_empty() {
        found.add(Finding::NoThread, bare, Cells::none());
    }
    if view.chart().is_none() {
        let finding = Finding::NotChecked { reason: Reason::KeyAlone };
        found.add(finding, Vec::new(), Cells::none());
    }
}

/// Notes about one thread whose table is at hand.
fn one(
    view: &View<'_>,
    wanted: &ThreadRef,
    colors: Vec<Worked>,
    untold: &mut Vec<Worked>,
    found: &mut Findings<'_>,
) {
    let Some(held) = view.thread(wanted) else {
        let finding = Finding::ThreadUnknown { thread: wanted.clone(), near: near(view, wanted) };
        found.add(finding, colors, Cells::none());
        return;
    };
    if held.finish != Finish::Plain {
        let finding = Finding::NoSingleColor { thread: wanted.clone(), finish: held.finish };
        found.add(finding, colors.clone(), Cells::none());
    }
    let (thread, status) = (wanted.clone(), held.status);
    match status {
        Status::Available => {}
        Status::BackOrder | Status::Low => {
            found.add(Finding::ThreadLow { thread, status }, colors, Cells::none());
        }
        Status::Discontinued | Status::Unavailable => {
            found.add(Finding::ThreadGone { thread, status }, colors, Cells::none());
        }
        Status::Unknown => untold.extend(colors),
    }
}

/// Codes that are spelled like one that the table does not have.
fn near(view: &View<'_>, wanted: &ThreadRef) -> Vec<String> {
    let table = view.table(&wanted.table);
    let error = table.and_then(|table| find_code(table, wanted.code.as_str()).err());
    if let Some(ErrorKind::UnknownThread { near, .. }) = error.as_ref().map(Error::kind) {
        return near.clone();
    }
    Vec::new()
}
