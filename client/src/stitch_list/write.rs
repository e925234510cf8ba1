//! A list of stitches to its file: one line each. It does not know who answers.

use super::{QUESTION, Stitch, StitchAnswer, StitchList, Suggestion, Why, color_id};
use crate::change_file::{FORMAT, VERSION};
use crate::json::JsonWriter;

/// The bytes of the file.
pub(super) fn write(list: &StitchList) -> Vec<u8> {
    let mut out = JsonWriter::new();
    out.object(false);
    out.key("format").text(FORMAT);
    out.key("version").count(VERSION);
    out.key("program").text(&list.program);
    out.key("chart").text(&list.chart.to_string());
    out.key("chart_after").text_or_null(list.chart_after.map(|hash| hash.to_string()).as_deref());
    out.key("question").text(QUESTION);
    out.key("settings").object(false);
    list.settings.iter().for_each(|(name, value)| out.key(name).text(value));
    out.end_object();
    colors(&mut out, list);
    out.key("rest");
    answer(&mut out, list.rest);
    out.key("stitches").list(false);
    list.stitches.iter().for_each(|held| stitch(&mut out, held));
    out.end_list();
    out.key("suggestions").list(false);
    list.suggestions.iter().for_each(|held| suggestion(&mut out, held));
    out.end_list();
    out.end_object();
    out.finish()
}

fn colors(out: &mut JsonWriter, list: &StitchList) {
    out.key("colors").list(false);
    for held in &list.colors {
        out.object(true);
        out.key("id").text(&color_id(held.number));
        out.key("hex").text(&held.hex.to_string());
        out.key("stitches").count(held.stitches);
        out.key("threads").list(true);
        for thread in &held.threads {
            out.object(true);
            out.key("table").text(thread.thread.table.as_str());
            out.key("code").text(thread.thread.code.as_str());
            out.key("hash").text(&thread.table_hash.to_string());
            out.end_object();
        }
        out.end_list();
        out.end_object();
    }
    out.end_list();
}

fn stitch(out: &mut JsonWriter, held: &Stitch) {
    out.object(true);
    out.key("answer");
    answer(out, held.answer);
    out.key("at");
    cell(out, held.at);
    out.key("from").text(&color_id(held.from));
    out.key("to").text(&color_id(held.to));
    out.key("why").text(match held.why {
        Why::Blend => "blend",
        Why::Lone => "lone",
    });
    out.end_object();
}

fn suggestion(out: &mut JsonWriter, held: &Suggestion) {
    out.object(true);
    out.key("answer");
    answer(out, held.answer);
    out.key("cells").list(true);
    held.cells.iter().for_each(|at| cell(out, *at));
    out.end_list();
    out.key("from").text(&color_id(held.from));
    out.key("to").text(&color_id(held.to));
    out.key("difference").number(held.difference);
    out.key("starts").count(held.starts);
    out.key("thread_mm").count(held.thread_mm());
    out.end_object();
}

fn cell(out: &mut JsonWriter, (x, y): (u16, u16)) {
    out.list(true);
    out.count(x.into());
    out.count(y.into());
    out.end_list();
}

fn answer(out: &mut JsonWriter, answer: Option<StitchAnswer>) {
    match answer {
        None => out.raw("null"),
        Some(StitchAnswer::Yes) => out.text("yes"),
        Some(StitchAnswer::No) => out.text("no"),
        Some(StitchAnswer::Another(color)) => {
            out.object(true);
            out.key("another").text(&color_id(color));
            out.end_object();
        }
    }
}
