//! The key of a chart as a list for people and programs: CSV and JSON.
//! It does not know skeins or prices.

use dyekin_core::error::harmless;

use super::text::csv_cell;
use super::{Chart, Entry, Symbol, Usage, Work};
use crate::json::JsonWriter;

/// What `format` says in a key file.
const FORMAT: &str = "dyekin-key";

const HEADER: &str = "symbol,table,code,name,hex,stitches,strands,full,three quarter,half,quarter,\
                      line length,knots\n";

/// The used entries of a chart with their usage, in the order of the key.
fn used(chart: &Chart) -> impl Iterator<Item = (&Entry, Usage)> {
    let usages = Usage::of(chart);
    chart.key().iter().zip(usages).filter(|(_, usage)| !usage.is_nothing())
}

/// The key as CSV: one line for each used entry; the codes and tables of a blend with ` + `
/// between them. Cells that begin like a formula get an apostrophe before them.
#[must_use]
pub fn key_csv(chart: &Chart) -> Vec<u8> {
    let mut out = HEADER.to_owned();
    for (entry, usage) in used(chart) {
        let tables = joined(entry, |held| held.thread.table.as_str());
        let codes = joined(entry, |held| held.thread.code.as_str());
        let cells = [
            entry.symbol.as_ref().map_or("", Symbol::as_str).to_owned(),
            tables,
            codes,
            entry.name.as_ref().map_or("", |name| name.as_str()).to_owned(),
            entry.color.to_string(),
            usage.stitches().to_string(),
            strands_text(entry),
            usage.full.to_string(),
            usage.three_quarter.to_string(),
            usage.half.to_string(),
            usage.quarter.to_string(),
            rounded(usage.line_length).to_string(),
            usage.knots.to_string(),
        ];
        let line: Vec<String> = cells.iter().map(|cell| csv_cell(cell)).collect();
        out.push_str(&line.join(","));
        out.push('\n');
    }
    out.into_bytes()
}

fn joined<'e>(entry: &'e Entry, text: impl Fn(&'e super::KeyThread) -> &'e str) -> String {
    let mut texts: Vec<&str> = entry.work.threads().map(text).collect();
    texts.dedup();
    texts.join(super::codes::BLEND_SIGN)
}

/// Strands of the crosses, or of the first use that says them; of a blend both.
fn strands_text(entry: &Entry) -> String {
    if let Work::Blend(blend) = &entry.work {
        let counts: Vec<String> = blend.threads().iter().map(|(_, n)| n.to_string()).collect();
        return counts.join(super::codes::BLEND_SIGN);
    }
    let uses = [entry.strands.cross(), entry.strands.line(), entry.strands.knot()];
    uses.into_iter().flatten().next().map_or_else(String::new, |count| count.to_string())
}

/// A length with two decimals.
fn rounded(length: f64) -> f64 {
    (length * 100.0).round() / 100.0
}

/// The key as JSON: `{"format": "dyekin-key", "version": 1, "key": [...]}`.
#[must_use]
pub fn key_json(chart: &Chart) -> Vec<u8> {
    let mut out = JsonWriter::new();
    out.object(false);
    out.key("format").text(FORMAT);
    out.key("version").count(1);
    out.key("key").list(false);
    for (entry, usage) in used(chart) {
        out.object(false);
        out.key("symbol").text_or_null(entry.symbol.as_ref().map(Symbol::as_str));
        out.key("name").text_or_null(entry.name.as_ref().map(|name| name.as_str()));
        out.key("hex").text(&entry.color.to_string());
        out.key("threads").list(false);
        threads(&mut out, entry);
        out.end_list();
        out.key("strands").object(true);
        let strands = entry.strands;
        let uses = [("cross", strands.cross()), ("line", strands.line()), ("knot", strands.knot())];
        for (key, count) in uses {
            if let Some(count) = count {
                out.key(key).count(count.into());
            }
        }
        out.end_object();
        out.key("stitches").count(usage.stitches());
        out.key("full").count(usage.full);
        out.key("three_quarter").count(usage.three_quarter);
        out.key("half").count(usage.half);
        out.key("quarter").count(usage.quarter);
        out.key("line_length").number(rounded(usage.line_length));
        out.key("knots").count(usage.knots);
        out.end_object();
    }
    out.end_list();
    out.end_object();
    out.finish()
}

fn threads(out: &mut JsonWriter, entry: &Entry) {
    let mut thread = |held: &super::KeyThread, strands: Option<u8>| {
        out.object(true);
        out.key("table").text(held.thread.table.as_str());
        out.key("code").text(held.thread.code.as_str());
        out.key("table_hash").text(&held.table_hash.to_string());
        if let Some(strands) = strands {
            out.key("strands").count(strands.into());
        }
        out.end_object();
    };
    match &entry.work {
        Work::Color => {}
        Work::Thread(held) => thread(held, None),
        Work::Blend(blend) => {
            blend.threads().iter().for_each(|(held, strands)| thread(held, Some(*strands)));
        }
    }
}

/// Symbol, color and threads of an entry in one short text for people.
#[must_use]
pub fn entry_words(entry: &Entry) -> String {
    let mut words: Vec<String> = Vec::new();
    for held in entry.work.threads() {
        if !words.is_empty() {
            words.push("+".into());
        }
        words.push(held.thread.to_string());
    }
    if words.is_empty() {
        words.push(entry.color.to_string());
    }
    words.extend(entry.name.as_ref().map(|name| harmless(name.as_str())));
    words.join(" ")
}
