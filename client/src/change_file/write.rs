//! A change list to its file: readable, every change with the words that people review it by.
//! It does not know who answers.

use dyekin_core::change::Remark;
use dyekin_core::color::Trust;
use dyekin_core::difference::{band, describe};
use dyekin_core::{Color, Difference, Lab};

use super::undo::{digest, kind_word, to_text};
use super::{
    ChangeFile, ColorRef, FORMAT, FileAnswer, FileBlend, FileChange, FileThread, VERSION, color_id,
    question_word,
};
use crate::chart::{KeyThread, Point, Symbol};
use crate::json::JsonWriter;
use crate::summary::{Mark, Marked};

/// The bytes of the file.
pub(super) fn write(file: &ChangeFile) -> Vec<u8> {
    let mut out = JsonWriter::new();
    out.object(false);
    out.key("format").text(FORMAT);
    out.key("version").count(VERSION);
    out.key("program").text(&file.program);
    out.key("chart").text_or_null(file.chart.map(|hash| hash.to_string()).as_deref());
    out.key("chart_after").text_or_null(file.chart_after.map(|hash| hash.to_string()).as_deref());
    out.key("tables").list(false);
    for held in &file.tables {
        out.object(true);
        out.key("table").text(held.table.as_str());
        out.key("hash").text(&held.hash.to_string());
        out.end_object();
    }
    out.end_list();
    out.key("formula").object(true);
    out.key("name").text(file.formula.name());
    out.key("parameters").text(&file.formula.parameters());
    out.end_object();
    out.key("question").text(question_word(file.question));
    out.key("settings").object(false);
    file.settings.iter().for_each(|(name, value)| out.key(name).text(value));
    out.end_object();
    totals(&mut out, file);
    out.key("changes").list(false);
    file.changes.iter().for_each(|held| change(&mut out, held));
    out.end_list();
    out.key("unchanged").list(false);
    for held in &file.unchanged {
        out.object(true);
        color(&mut out, held);
        out.end_object();
    }
    out.end_list();
    if let Some(undo) = &file.undo {
        out.key("undo").object(false);
        out.key("kind").text(kind_word(undo.kind));
        out.key("before").text(&digest(&undo.file));
        out.key("after").text(&undo.after);
        out.key("file").text(&to_text(&undo.file));
        out.end_object();
    }
    out.end_object();
    out.finish()
}

fn totals(out: &mut JsonWriter, file: &ChangeFile) {
    let totals = file.totals;
    out.key("totals").object(false);
    out.key("colors_before").count(totals.colors_before as u64);
    out.key("threads_after").count(totals.threads_after as u64);
    out.key("mean_difference").number(totals.mean_difference.value());
    out.key("max_difference").number(totals.max_difference.value());
    match totals.lower_bound {
        Some(bound) => out.key("lower_bound").number(bound.value()),
        None => out.key("lower_bound").raw("null"),
    }
    out.key("proved_best").flag(totals.proved_best);
    if let Some(combined) = &totals.combined {
        out.key("combined").object(true);
        out.key("keep_edges").text(combined.keep_edges.as_str());
        out.key("lost_contrast").number(combined.lost_contrast);
        out.key("total").number(combined.total);
        out.key("lower_bound").number(combined.lower_bound);
        out.end_object();
    }
    out.end_object();
    match file.edges {
        None => out.key("edges").raw("null"),
        Some(edges) => {
            out.key("edges").object(true);
            out.key("outline").count(edges.outline);
            out.key("vanished").count(edges.vanished);
            out.key("faded").count(edges.faded);
            out.key("soft").count(edges.soft);
            out.key("soft_vanished").count(edges.soft_vanished);
            out.key("soft_faded").count(edges.soft_faded);
            out.key("turned").count(edges.turned);
            out.end_object();
        }
    }
}

/// Lines as their two ends and knots as their one point, in half cells.
fn marks(out: &mut JsonWriter, held: &Marked) {
    let at = |point: &Point| format!("{}, {}", point.half_x, point.half_y);
    match held {
        Marked::All => out.flag(true),
        Marked::None => out.flag(false),
        Marked::These(marks) => {
            out.list(true);
            for mark in marks {
                out.raw(&match mark {
                    Mark::Line(from, to) => format!("[{}, {}]", at(from), at(to)),
                    Mark::Knot(point) => format!("[{}]", at(point)),
                });
            }
            out.end_list();
        }
    }
}

fn color(out: &mut JsonWriter, held: &ColorRef) {
    out.key("id").text(&held.id());
    out.key("hex").text(&held.hex.to_string());
    out.key("area").text_or_null(held.area.as_deref());
    if let Some(portion) = &held.portion {
        out.key("cells").list(true);
        for run in &portion.runs {
            out.raw(&format!("[{}, {}, {}]", run.x, run.y, run.count));
        }
        out.end_list();
        marks(out.key("marks"), &portion.marks);
    }
    out.key("entries").list(true);
    held.entries.iter().for_each(|entry| out.count(*entry as u64));
    out.end_list();
    out.key("symbols").list(true);
    held.symbols.iter().map(Symbol::as_str).for_each(|symbol| out.text(symbol));
    out.end_list();
    out.key("stitches").count(held.stitches);
    out.key("before").list(true);
    for thread in &held.before {
        out.object(true);
        key_thread(out, thread);
        out.end_object();
    }
    out.end_list();
}

fn key_thread(out: &mut JsonWriter, held: &KeyThread) {
    out.key("table").text(held.thread.table.as_str());
    out.key("code").text(held.thread.code.as_str());
    out.key("hash").text(&held.table_hash.to_string());
}

fn change(out: &mut JsonWriter, change: &FileChange) {
    out.object(false);
    out.key("answer");
    answer(out, change.answer.as_ref());
    color(out, &change.of);
    out.key("standard");
    standard(out, &change.standard);
    out.key("checked").flag(change.is_checked());
    for (key, threads) in [("after", &change.after), ("runners_up", &change.runners_up)] {
        out.key(key).list(false);
        threads.iter().for_each(|held| thread(out, held));
        out.end_list();
    }
    if !change.blends.is_empty() {
        out.key("blends").list(false);
        change.blends.iter().for_each(|held| blend(out, held));
        out.end_list();
    }
    out.key("remarks").list(false);
    change.remarks.iter().for_each(|held| remark(out, held));
    out.end_list();
    out.end_object();
}

fn answer(out: &mut JsonWriter, answer: Option<&FileAnswer>) {
    match answer {
        None => out.raw("null"),
        Some(FileAnswer::Yes) => out.text("yes"),
        Some(FileAnswer::No) => out.text("no"),
        Some(FileAnswer::Blend(place)) => {
            out.object(true);
            out.key("blend").count(*place as u64 + 1);
            out.end_object();
        }
        Some(FileAnswer::Another(thread)) => {
            out.object(true);
            out.key("another").object(true);
            out.key("table").text(thread.table.as_str());
            out.key("code").text(thread.code.as_str());
            out.end_object();
            out.end_object();
        }
    }
}

fn standard(out: &mut JsonWriter, color: &Color) {
    out.object(true);
    if let Some(hex) = color.listed_srgb() {
        out.key("hex").text(&hex.to_string());
    } else {
        out.key("lab");
        lab(out, color.lab());
        out.key("illuminant").text(color.conditions().illuminant.as_str());
        out.key("observer").count(color.conditions().observer.degrees().into());
    }
    out.key("origin").text(color.origin().as_str());
    if let Some(uncertainty) = color.uncertainty() {
        out.key("uncertainty").number(uncertainty);
    }
    out.end_object();
}

fn thread(out: &mut JsonWriter, held: &FileThread) {
    out.object(true);
    key_thread(out, &held.thread);
    out.key("name").text(&held.name);
    out.key("hex").text(&held.hex.to_string());
    difference(out, &held.difference);
    if !held.lights.is_empty() {
        out.key("lights").list(true);
        for (light, delta_e) in &held.lights {
            out.object(true);
            out.key("light").text(light.as_str());
            out.key("difference").number(delta_e.value());
            out.end_object();
        }
        out.end_list();
    }
    if held.as_near {
        out.key("as_near").raw("true");
    }
    out.end_object();
}

fn blend(out: &mut JsonWriter, held: &FileBlend) {
    out.object(true);
    out.key("threads").list(true);
    for side in &held.threads {
        out.object(true);
        out.key("strands").count(side.strands.into());
        key_thread(out, &side.thread);
        out.key("name").text(&side.name);
        out.end_object();
    }
    out.end_list();
    out.key("hex").text(&held.hex.to_string());
    difference(out, &held.difference);
    out.key("full_spread").number(held.full_spread.value());
    out.key("speckle").flag(held.speckle);
    out.end_object();
}

fn difference(out: &mut JsonWriter, held: &Difference) {
    out.key("difference").number(held.delta_e.value());
    out.key("words").text(&words(held));
    out.key("lightness").number(held.lightness);
    out.key("chroma").number(held.chroma);
    out.key("hue").number(held.hue);
    out.key("a").number(held.a);
    out.key("b").number(held.b);
    let trust = match held.trust {
        Trust::Measured => "measured",
        Trust::Adapted(_) => "adapted",
        Trust::Rough => "rough",
    };
    out.key("trust").text(trust);
    if let Trust::Adapted(method) = held.trust {
        out.key("adapted").object(true);
        out.key("method").text(method.as_str());
        out.key("standard");
        lab(out, held.standard);
        out.end_object();
    }
}

fn lab(out: &mut JsonWriter, lab: Lab) {
    out.list(true);
    [lab.l(), lab.a(), lab.b()].into_iter().for_each(|part| out.number(part));
    out.end_list();
}

/// The size of a difference and its direction, for people who do not read numbers.
fn words(held: &Difference) -> String {
    match describe(held).as_str() {
        "" => band(held).to_owned(),
        direction => format!("{}: {direction}", band(held)),
    }
}

fn remark(out: &mut JsonWriter, remark: &Remark) {
    out.object(true);
    let (kind, color) = match remark {
        Remark::AlreadyUsed => ("already_used", None),
        Remark::BeyondLimit => ("beyond_limit", None),
        Remark::FadesIntoCloth => ("fades_into_cloth", None),
        Remark::Kept => ("kept", None),
        Remark::LosesEdge(color) => ("loses_edge", Some(*color)),
        Remark::NotNearest => ("not_nearest", None),
        Remark::SharesThread(color) => ("shares_thread", Some(*color)),
        Remark::TurnsShading(color) => ("turns_shading", Some(*color)),
    };
    out.key("kind").text(kind);
    if let Some(color) = color {
        out.key("color").text(&color_id(color));
    }
    out.end_object();
}
