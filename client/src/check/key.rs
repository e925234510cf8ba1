//! Notes about a key that does not fit its chart: unused, double, without a symbol, other counts.
//! It does not know which of the two is right.

use std::collections::BTreeMap;

use dyekin_core::table::Finish;
use dyekin_core::{Color, Difference, Formula};

use super::note::{Cells, Code, Finding, Worked};
use super::view::View;
use super::{Findings, Given};
use crate::chart::{Chart, Entry, KeyLine, Strands, Usage, Work};

pub(super) fn find(given: Given<'_>, view: &View<'_>, found: &mut Findings<'_>) {
    let Some(chart) = view.chart() else { return };
    let usages = Usage::of(chart);
    let used = || chart.key().iter().zip(&usages).filter(|(_, usage)| !usage.is_nothing());
    let unused: Vec<Worked> = chart
        .key()
        .iter()
        .zip(&usages)
        .filter(|(_, usage)| usage.is_nothing())
        .map(|(entry, usage)| worked(entry, usage))
        .collect();
    if !unused.is_empty() {
        found.add(Finding::KeyUnused, unused, Cells::none());
    }
    if found.wants(Code::KeyTwice) {
        twice(used(), found);
    }
    let bare: Vec<Worked> = used()
        .filter(|(entry, _)| entry.symbol.is_none())
        .map(|(entry, usage)| worked(entry, usage))
        .collect();
    if !bare.is_empty() && used().any(|(entry, _)| entry.symbol.is_some()) {
        found.add(Finding::NoSymbol, bare, Cells::none());
    }
    for (entry, usage) in used() {
        recolored(view, entry, usage, found);
    }
    if let Some(key) = given.key.filter(|_| found.wants(Code::KeyCount)) {
        counts(chart, &usages, key, found);
    }
}

fn worked(entry: &Entry, usage: &Usage) -> Worked {
    Worked {
        color: entry.color,
        threads: entry.work.threads().map(|held| held.thread.clone()).collect(),
        symbols: entry.symbol.iter().cloned().collect(),
        name: entry.name.clone(),
        stitches: usage.stitches(),
        first: None,
    }
}

/// Entries of the same threads and strands.
fn twice<'e>(used: impl Iterator<Item = (&'e Entry, &'e Usage)>, found: &mut Findings<'_>) {
    let mut groups: BTreeMap<(&Work, Strands), Vec<Worked>> = BTreeMap::new();
    for (entry, usage) in used.filter(|(entry, _)| entry.work != Work::Color) {
        groups.entry((&entry.work, entry.strands)).or_default().push(worked(entry, usage));
    }
    for group in groups.into_values().filter(|group| group.len() > 1) {
        found.add(Finding::KeyTwice, group, Cells::none());
    }
}

/// An entry that the chart shows in another color than its thread's.
fn recolored(view: &View<'_>, entry: &Entry, usage: &Usage, found: &mut Findings<'_>) {
    let Work::Thread(held) = &entry.work else { return };
    let Some(thread) = view.thread(&held.thread).filter(|held| held.finish == Finish::Plain) else {
        return;
    };
    let shown = Color::screen(entry.color);
    let Ok(difference) = Difference::between(&thread.color, &shown, Formula::DEFAULT) else {
        return;
    };
    if difference.delta_e > found.limits.key_color_above {
        found.add(Finding::KeyColor { difference }, vec![worked(entry, usage)], Cells::none());
    }
}

/// What the key counts for each thread or blend, against what the chart has.
fn counts(chart: &Chart, usages: &[Usage], key: &[KeyLine], found: &mut Findings<'_>) {
    let mut held: BTreeMap<Vec<&str>, (Worked, Usage)> = BTreeMap::new();
    for (entry, usage) in chart.key().iter().zip(usages).filter(|(_, usage)| !usage.is_nothing()) {
        let codes: Vec<&str> = entry.work.threads().map(|held| held.thread.code.key()).collect();
        if codes.is_empty() {
            continue;
        }
        let (color, sum) =
            held.entry(sorted(codes)).or_insert_with(|| (worked(entry, usage), Usage::default()));
        *sum = sum.plus(usage);
        color.stitches = sum.stitches();
    }
    let mut listed: BTreeMap<Vec<&str>, (String, u64)> = BTreeMap::new();
    for line in key {
        let codes = sorted(line.codes.iter().map(dyekin_core::Code::key).collect());
        let sum = listed.entry(codes).or_insert_with(|| (line.written.clone(), 0));
        sum.1 = sum.1.saturating_add(line.stitches);
    }
    for (codes, (color, usage)) in &held {
        let in_key = listed.get(codes).map(|(_, count)| *count);
        // Some count lines and knots as stitches, some only crosses: either is a true count.
        if in_key != Some(usage.stitches()) && in_key != Some(usage.full) {
            let finding = Finding::KeyCount { written: None, in_key, in_chart: usage.stitches() };
            found.add(finding, vec![color.clone()], Cells::none());
        }
    }
    for (_, (written, count)) in
        listed.iter().filter(|(codes, (_, n))| *n > 0 && !held.contains_key(*codes))
    {
        let written = Some(written.clone());
        let finding = Finding::KeyCount { written, in_key: Some(*count), in_chart: 0 };
        found.add(finding, Vec::new(), Cells::none());
    }
}

fn sorted(mut codes: Vec<&str>) -> Vec<&str> {
    codes.sort_unstable();
    codes
}
