//! A chart to chart JSON that people can read: a key with one entry a line, rows of runs.
//! It does not know other chart formats.

use super::super::{
    Area, Cell, Chart, Entry, EntryId, Grid, KeyThread, Label, Point, Strands, Symbol, Work,
};
use super::{FORMAT, VERSION, shape_words};
use crate::json::JsonWriter;

/// The bytes of a chart file.
pub(crate) fn write(chart: &Chart) -> Vec<u8> {
    let mut out = JsonWriter::new();
    out.object(false);
    out.key("format").text(FORMAT);
    out.key("version").count(VERSION);
    about(&mut out, chart);
    out.key("width").count(chart.size().width().into());
    out.key("height").count(chart.size().height().into());
    cloth(&mut out, chart);
    out.key("key").list(false);
    chart.key().iter().for_each(|item| entry(&mut out, item));
    out.end_list();
    rows(&mut out, chart.grid());
    parts(&mut out, chart);
    marks(&mut out, chart);
    areas(&mut out, chart.areas());
    out.end_object();
    out.finish()
}

fn label(out: &mut JsonWriter, key: &str, label: Option<&Label>) {
    if let Some(label) = label {
        out.key(key).text(label.as_str());
    }
}

fn about(out: &mut JsonWriter, chart: &Chart) {
    label(out, "title", chart.about().title.as_ref());
    label(out, "designer", chart.about().designer.as_ref());
    label(out, "notes", chart.about().notes.as_ref());
}

fn cloth(out: &mut JsonWriter, chart: &Chart) {
    let cloth = chart.cloth();
    if cloth.color.is_none() && cloth.name.is_none() {
        return;
    }
    out.key("cloth").object(true);
    if let Some(color) = cloth.color {
        out.key("color").text(&color.to_string());
    }
    label(out, "name", cloth.name.as_ref());
    out.end_object();
}

fn entry(out: &mut JsonWriter, entry: &Entry) {
    out.object(true);
    if let Some(symbol) = entry.symbol.as_ref().map(Symbol::as_str) {
        out.key("symbol").text(symbol);
    }
    out.key("color").text(&entry.color.to_string());
    label(out, "name", entry.name.as_ref());
    match &entry.work {
        Work::Color => {}
        Work::Thread(held) => {
            out.key("thread").object(true);
            thread(out, held);
            out.end_object();
        }
        Work::Blend(blend) => {
            out.key("blend").list(true);
            for (held, strands) in blend.threads() {
                out.object(true);
                thread(out, held);
                out.key("strands").count((*strands).into());
                out.end_object();
            }
            out.end_list();
        }
    }
    strands(out, entry.strands);
    out.end_object();
}

fn thread(out: &mut JsonWriter, held: &KeyThread) {
    out.key("table").text(held.thread.table.as_str());
    out.key("code").text(held.thread.code.as_str());
    out.key("hash").text(&held.table_hash.to_string());
}

fn strands(out: &mut JsonWriter, strands: Strands) {
    if strands == Strands::default() {
        return;
    }
    out.key("strands").object(true);
    let uses = [("cross", strands.cross()), ("line", strands.line()), ("knot", strands.knot())];
    for (key, count) in uses {
        if let Some(count) = count {
            out.key(key).count(count.into());
        }
    }
    out.end_object();
}

fn rows(out: &mut JsonWriter, grid: &Grid) {
    out.key("rows").list(false);
    let width = usize::from(grid.size().width());
    for y in 0..usize::from(grid.size().height()) {
        out.list(true);
        let mut run: Option<(u64, Option<EntryId>)> = None;
        for place in (y * width)..((y + 1) * width) {
            let entry = match grid.at(place) {
                Cell::Full(entry) => Some(entry),
                Cell::Bare | Cell::Parts(_) => None,
            };
            match &mut run {
                Some((count, held)) if *held == entry => *count += 1,
                _ => {
                    write_run(out, run.replace((1, entry)));
                }
            }
        }
        write_run(out, run);
        out.end_list();
    }
    out.end_list();
}

fn write_run(out: &mut JsonWriter, run: Option<(u64, Option<EntryId>)>) {
    let Some((count, entry)) = run else { return };
    let entry = entry.map_or_else(|| "null".to_owned(), |entry| entry.index().to_string());
    if count == 1 { out.raw(&entry) } else { out.raw(&format!("[{count}, {entry}]")) }
}

fn parts(out: &mut JsonWriter, chart: &Chart) {
    let width = usize::from(chart.size().width());
    let mut cells = chart.grid().part_cells().peekable();
    if cells.peek().is_none() {
        return;
    }
    out.key("parts").list(false);
    for (place, parts) in cells {
        out.object(true);
        out.key("cell").raw(&format!("[{}, {}]", place % width, place / width));
        out.key("stitches").list(true);
        for part in parts {
            let (key, word) = shape_words(part.shape);
            out.object(true);
            out.key(key).text(word);
            out.key("entry").count(part.entry.number().into());
            out.end_object();
        }
        out.end_list();
        out.end_object();
    }
    out.end_list();
}

fn marks(out: &mut JsonWriter, chart: &Chart) {
    if !chart.lines().is_empty() {
        out.key("lines").list(false);
        for line in chart.lines() {
            out.object(true);
            out.key("from").raw(&point(line.from()));
            out.key("to").raw(&point(line.to()));
            out.key("entry").count(line.entry.number().into());
            out.end_object();
        }
        out.end_list();
    }
    if !chart.knots().is_empty() {
        out.key("knots").list(false);
        for knot in chart.knots() {
            out.object(true);
            out.key("at").raw(&point(knot.at));
            out.key("entry").count(knot.entry.number().into());
            out.end_object();
        }
        out.end_list();
    }
}

fn point(point: Point) -> String {
    format!("[{point}]")
}

fn areas(out: &mut JsonWriter, areas: &[Area]) {
    if areas.is_empty() {
        return;
    }
    out.key("areas").list(false);
    for area in areas {
        out.object(true);
        out.key("name").text(area.name().as_str());
        out.key("cells").list(true);
        for run in area.runs() {
            out.raw(&format!("[{}, {}, {}]", run.x, run.y, run.count));
        }
        out.end_list();
        out.end_object();
    }
    out.end_list();
}
