//! `dyekin table audit`: near-twins, rows that look swapped, colors with no thread near.
//! It does not look for them: the backend does.

use dyekin_core::audit::{Audit, AuditOptions, Clue, Gap, Swap, Twins};
use dyekin_core::color::Trust;
use dyekin_core::error::harmless;
use dyekin_core::{DeltaE, Difference, TableId, Thread};
use serde_json::{Map, Value, json};

use super::opened::{Opened, open};
use crate::cli::{ShowArgs, TableAudit};
use crate::exit::Exit;
use crate::failure::Result;
use crate::printer::Printer;
use crate::report::{Caution, counted, json as as_json, same_listed, text, verdict};
use crate::settings;

/// Entries of one list that are shown without `--details`.
const SHOWN: usize = 20;

pub(super) fn run(typed: &TableAudit, printer: &mut Printer) -> Result<Exit> {
    let options = AuditOptions {
        formula: settings::formula(&typed.formula)?,
        twins: settings::difference("--twins", typed.twins)?,
        gap: settings::difference("--gap", typed.gap)?,
    };
    let Opened { mut backend, ids } = open(&[&typed.file], &typed.reading, printer)?;
    let Some(id) = ids.first() else { return Ok(Exit::Done) };
    let found = backend.audit_table(id, &options)?;
    if typed.show.json {
        printer.data(&as_json::to_text(&object(&found, &options)));
    } else {
        tell(&found, &options, typed.show, printer);
    }
    if differences(&found).any(|difference| difference.trust == Trust::Rough) {
        printer.caution(Caution::Screen.words());
    }
    Ok(if found.is_clean() { Exit::Done } else { Exit::NothingMatched })
}

fn differences(found: &Audit) -> impl Iterator<Item = &Difference> {
    let twins = found.twins.iter().map(|twins| &twins.difference);
    let swaps = found.swaps.iter().map(|swap| &swap.difference);
    twins.chain(swaps).chain(found.gaps.iter().map(|gap| &gap.difference))
}

fn tell(found: &Audit, options: &AuditOptions, show: ShowArgs, printer: &mut Printer) {
    let twins: Vec<_> = found.twins.iter().map(|twins| twin_row(twins, show.details)).collect();
    let head = format!(
        "{} within {}",
        some(found.twins.len(), found.more_twins, "pair of near-twins", "pairs of near-twins"),
        limit(options.twins, options),
    );
    list(&head, &twins, show, printer);
    let swaps: Vec<_> = found.swaps.iter().map(|swap| swap_row(swap, show.details)).collect();
    let (one, many) = ("pair of rows that looks swapped", "pairs of rows that look swapped");
    list(&some(found.swaps.len(), false, one, many), &swaps, show, printer);
    if found.plain_threads == 0 {
        say("no plain thread, so colors with no thread near were not looked for", printer);
        return;
    }
    let gaps: Vec<_> = found.gaps.iter().map(|gap| gap_row(gap, show.details)).collect();
    let (one, many) = ("everyday color with no thread", "everyday colors with no thread");
    let head = format!(
        "{} within {}",
        some(found.gaps.len(), found.more_gaps, one, many),
        limit(options.gap, options),
    );
    list(&head, &gaps, show, printer);
}

fn some(count: usize, more: bool, one: &str, many: &str) -> String {
    match count {
        0 => format!("no {one}"),
        _ if more => format!("more than {}", counted(count as u64, one, many)),
        _ => counted(count as u64, one, many),
    }
}

fn limit(limit: DeltaE, options: &AuditOptions) -> String {
    let usual = options.formula == dyekin_core::Formula::DEFAULT;
    let unit = if usual { String::new() } else { format!(" {}", options.formula) };
    format!("{}{unit}", limit.value())
}

fn say(line: &str, printer: &mut Printer) {
    for part in text::wrap(line, printer.width(), 2) {
        printer.data(&part);
    }
}

/// A heading and its entries: the first ones, or all with `--details`.
fn list(head: &str, rows: &[Vec<String>], show: ShowArgs, printer: &mut Printer) {
    say(head, printer);
    let most = if show.details { rows.len() } else { SHOWN.min(rows.len()) };
    let shown: Vec<Vec<String>> = rows.iter().take(most).cloned().collect();
    for line in text::table(&shown, printer.width().saturating_sub(2)) {
        printer.data(&format!("  {line}"));
    }
    if most < rows.len() {
        say(&format!("… and {} more: --details shows them", rows.len() - most), printer);
    }
}

fn named(thread: &Thread) -> String {
    let name = format!("{} {}", harmless(thread.code.as_str()), harmless(&thread.name));
    name.trim_end().to_owned()
}

fn said(difference: &Difference, words: String, details: bool) -> String {
    if details { format!("{words}; {}", text::difference_details(difference)) } else { words }
}

fn twin_row(twins: &Twins, details: bool) -> Vec<String> {
    let same = same_listed(&twins.first.color, &twins.second.color);
    let words = verdict(&twins.difference, same, "the second");
    let words = said(&twins.difference, words, details);
    vec![named(&twins.first), named(&twins.second), words]
}

fn swap_row(swap: &Swap, details: bool) -> Vec<String> {
    let words = match swap.clue {
        Clue::Lightness => "only these two break the run of lightness around them",
        Clue::Neighbors => "each looks like the rows around the other",
    };
    let words = said(&swap.difference, words.to_owned(), details);
    vec![named(&swap.first), named(&swap.second), words]
}

fn gap_row(gap: &Gap, details: bool) -> Vec<String> {
    let words = said(&gap.difference, verdict(&gap.difference, false, "it"), details);
    vec![gap.color.srgb().to_string(), format!("nearest {}", named(&gap.nearest)), words]
}

fn pair(table: &TableId, first: &Thread, second: &Thread, far: &Difference) -> Map<String, Value> {
    let mut object = Map::new();
    object.insert("first".into(), Value::Object(as_json::thread(table, first)));
    object.insert("second".into(), Value::Object(as_json::thread(table, second)));
    as_json::add_difference(&mut object, far);
    object
}

fn object(found: &Audit, options: &AuditOptions) -> Value {
    let table = &found.table.table;
    let mut object = Map::new();
    object.insert("table".into(), json!(table.as_str()));
    object.insert("hash".into(), json!(found.table.hash.to_string()));
    as_json::add_formula(&mut object, options.formula);
    object.insert("twins_within".into(), json!(options.twins.value()));
    object.insert("gap_beyond".into(), json!(options.gap.value()));
    let twins = found
        .twins
        .iter()
        .map(|twins| Value::Object(pair(table, &twins.first, &twins.second, &twins.difference)));
    object.insert("near_twins".into(), twins.collect());
    object.insert("more_near_twins".into(), json!(found.more_twins));
    let swaps = found.swaps.iter().map(|swap| {
        let mut object = pair(table, &swap.first, &swap.second, &swap.difference);
        let clue = match swap.clue {
            Clue::Lightness => "lightness",
            Clue::Neighbors => "neighbors",
        };
        object.insert("clue".into(), json!(clue));
        Value::Object(object)
    });
    object.insert("swapped_rows".into(), swaps.collect());
    let gaps = found.gaps.iter().map(|gap| {
        let mut object = Map::new();
        object.insert("color".into(), as_json::color(&gap.color));
        object.insert("nearest".into(), Value::Object(as_json::thread(table, &gap.nearest)));
        as_json::add_difference(&mut object, &gap.difference);
        Value::Object(object)
    });
    object.insert("gaps".into(), gaps.collect());
    object.insert("more_gaps".into(), json!(found.more_gaps));
    object.insert("plain_threads".into(), json!(found.plain_threads));
    Value::Object(object)
}
