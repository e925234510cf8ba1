//! The words of each note, and what to do about it. It does not know files or widths.

use dyekin_core::ThreadRef;
use dyekin_core::difference::Difference;
use dyekin_core::error::harmless;
use dyekin_core::vision::Deficiency;

use super::super::{counted, rounded, size, text, thousands};
use super::about::{About, Counts};
use super::typeable;
use crate::check::{Cells, Code, Degree, Finding, Note, Reason, Worked};

/// Colors and places that one line names.
const NAMED: usize = 4;

/// What mends a note: words, and the command behind the chart and its tables.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Way {
    pub(super) words: &'static str,
    pub(super) command: Option<Command>,
}

/// A command on the chart, ready to be typed but for the chart and its tables.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Command {
    pub(super) verb: &'static str,
    pub(super) options: String,
    pub(super) needs_table: bool,
}

/// A degree as a heading.
pub(crate) fn degree(degree: Degree) -> &'static str {
    match degree {
        Degree::Fix => "Fix before selling",
        Degree::Look => "Look",
        Degree::Information => "For information",
    }
}

/// A degree behind a number.
pub(crate) fn to(degree: Degree) -> &'static str {
    match degree {
        Degree::Fix => "to fix before selling",
        Degree::Look => "to look at",
        Degree::Information => "for information",
    }
}

/// What all notes of one code are about.
pub(super) fn heading(notes: &[&Note], all: u64) -> String {
    let Some(first) = notes.first() else { return String::new() };
    let in_cells = |one: &str, many: &str| counted(first.cells.count, one, many);
    if let Finding::LoneStitches { percent } = &first.finding {
        let stitches = in_cells("stitch", "stitches");
        return format!("{percent:.1} % of the stitches stand alone: {stitches}");
    }
    let about = About::of(first.code());
    let (one, many) = about.counted;
    if first.code() == Code::StrayEdges {
        return format!("{} along edges mix the two sides", in_cells("stitch", "stitches"));
    }
    if one.is_empty() {
        return many.to_owned();
    }
    counted(if about.counts == Counts::Colors { first.colors.len() as u64 } else { all }, one, many)
}

/// One note by itself, with the numbers of its difference when asked for.
pub(super) fn item(note: &Note, details: bool) -> Option<String> {
    let words = of_threads(note)
        .or_else(|| of_key(note))
        .or_else(|| of_stitches(note))
        .or_else(|| of_colors(note))?;
    Some(match note.finding.difference() {
        Some(difference) if details => {
            let contrast = note.contrast().map(|ratio| format!("; contrast {ratio:.2}:1"));
            let contrast = contrast.unwrap_or_default();
            format!("{words}; {}{contrast}", text::difference_details(difference))
        }
        Some(_) | None => words,
    })
}

fn of_threads(note: &Note) -> Option<String> {
    if let Some((thread, status)) = note.finding.supply() {
        return Some(format!("{}: {}", of_thread(thread, note), status.as_str()));
    }
    if let Finding::NoSingleColor { thread, finish } = &note.finding {
        return Some(format!("{}: {}", of_thread(thread, note), finish.as_str()));
    }
    if let Finding::OtherVersion { table } = &note.finding {
        return Some(format!("{table}; its colors and states are taken as they are now"));
    }
    let Finding::ThreadUnknown { thread, near } = &note.finding else { return None };
    let near: Vec<String> = near.iter().map(|code| harmless(code)).collect();
    let near = match near.as_slice() {
        [] => String::new(),
        near => format!(": close in spelling: {}", near.join(", ")),
    };
    Some(format!("{}{near}", of_thread(thread, note)))
}

#[expect(clippy::wildcard_enum_match_arm, reason = "each family of notes is tried in turn")]
fn of_key(note: &Note) -> Option<String> {
    match &note.finding {
        Finding::KeyColor { difference } => {
            let color = note.colors.first()?;
            Some(format!("{}, shown as {}: {}", name(color), color.color, size(difference)))
        }
        Finding::KeyCount { written, in_key, in_chart } => {
            let called = note.colors.first().map(name);
            let called = called.or_else(|| written.as_deref().map(harmless))?;
            let stitches = |count: u64| counted(count, "stitch", "stitches");
            let key = in_key.map_or_else(|| "nothing".to_owned(), stitches);
            Some(format!("{called}: {key} by the key, {} in the chart", stitches(*in_chart)))
        }
        Finding::KeyTwice => {
            let each: Vec<String> = note.colors.iter().map(with_stitches).collect();
            Some(each.join("; "))
        }
        _ => None,
    }
}

#[expect(clippy::wildcard_enum_match_arm, reason = "each family of notes is tried in turn")]
fn of_stitches(note: &Note) -> Option<String> {
    match &note.finding {
        Finding::LoneStitches { .. } => cells(&note.cells),
        Finding::LostOutline { difference, over, beside, percent, on_cloth } => {
            let line = name(note.colors.first()?);
            let ground = match (note.colors.get(1), on_cloth) {
                (_, true) => "the cloth".to_owned(),
                (Some(color), false) => name(color),
                (None, false) => "stitches of its own color".to_owned(),
            };
            let whole = counted(*over, "cell side", "cell sides");
            let edge = thousands(*beside);
            let first = cells(&note.cells).unwrap_or_default();
            Some(format!(
                "{line} on {ground}: {}; {whole} amid it, {edge} along its edge, {percent:.0} % of the \
                 lines in this color; {first}",
                size(difference)
            ))
        }
        Finding::StrayEdges { colors } => {
            let gone = counted(*colors, "color is", "colors are");
            let gone = if *colors == 0 {
                String::new()
            } else {
                format!("; {gone} there for nothing else")
            };
            Some(format!("{}{gone}", cells(&note.cells)?))
        }
        Finding::NotChecked { reason } => Some(unchecked(reason)),
        _ => None,
    }
}

#[expect(clippy::wildcard_enum_match_arm, reason = "each family of notes is tried in turn")]
fn of_colors(note: &Note) -> Option<String> {
    match &note.finding {
        Finding::ColorVision { difference, deficiency, simulated } => {
            let lost = rounded(simulated.value(), difference.trust);
            Some(format!(
                "{}: {}, but {lost} {}",
                pair(note)?,
                size(difference),
                sight(*deficiency)
            ))
        }
        Finding::FewStitches => {
            let color = note.colors.first()?;
            Some(format!("{}: {}{}", name(color), stitches(color), at(color)))
        }
        Finding::LikeCloth { difference, edges, cloth } => {
            let color = note.colors.first()?;
            let words = vanishing(difference, *edges, &format!("the cloth ({cloth})"));
            Some(format!("{}: {words}{}", with_stitches(color), at(color)))
        }
        Finding::LikeSymbols { difference } => {
            Some(format!("{}: {}", pair(note)?, size(difference)))
        }
        Finding::MayBleed { edges } => {
            let sides = counted(*edges, "stitch side", "stitch sides");
            Some(format!("{}: {sides} beside pale colors", names(&note.colors)))
        }
        Finding::NearColors { difference, edges } => {
            let sides = |edges: u64| counted(edges, "stitch side", "stitch sides");
            let touch = match edges {
                None => String::new(),
                Some(0) => "; they do not touch".to_owned(),
                Some(edges) => format!("; they touch along {}", sides(*edges)),
            };
            Some(format!("{}: {}{touch}", pair(note)?, size(difference)))
        }
        Finding::KeyUnused | Finding::NoSymbol | Finding::NoThread | Finding::StatusUntold => {
            Some(names(&note.colors))
        }
        _ => None,
    }
}

fn vanishing(difference: &Difference, edges: u64, ground: &str) -> String {
    let sides = counted(edges, "stitch side", "stitch sides");
    format!("{}; {sides} beside {ground}", size(difference))
}

/// What mends a note.
pub(super) fn way(finding: &Finding) -> Way {
    if let Some((thread, _)) = finding.supply() {
        return substitute(finding.code(), &[thread]);
    }
    let about = About::of(finding.code());
    let words = if let Finding::NotChecked { reason } = finding {
        match reason {
            Reason::NoTable(_) => "add --table with its file",
            Reason::NoCloth => "add --cloth with the color of the cloth",
            Reason::KeyAlone => "give the chart itself",
        }
    } else {
        about.way
    };
    let command = about.command.map(|mend| Command {
        verb: mend.verb,
        options: mend.options.to_owned(),
        needs_table: mend.needs_table,
    });
    Way { words, command }
}

/// The command that replaces threads.
pub(super) fn substitute(code: Code, missing: &[&ThreadRef]) -> Way {
    let codes: Vec<String> =
        missing.iter().map(|thread| format!("{}:{}", thread.table, thread.code)).collect();
    let options = format!(" --missing {} -o OUT", typeable(&codes.join(",")));
    let command = Command { verb: "substitute", options, needs_table: true };
    Way { words: About::of(code).way, command: Some(command) }
}

fn unchecked(reason: &Reason) -> String {
    match reason {
        Reason::NoTable(table) => {
            format!("threads of table {table}, and stray stitches: the table is not given")
        }
        Reason::NoCloth => {
            "colors close to the cloth: the chart does not say what color it has".to_owned()
        }
        Reason::KeyAlone => {
            "what touches what, and single stitches: a key alone has no picture".to_owned()
        }
    }
}

/// Who sees so.
fn sight(deficiency: Deficiency) -> &'static str {
    match deficiency {
        Deficiency::Protan => "without the cones for red (protan)",
        Deficiency::Deutan => "without the cones for green (deutan)",
        Deficiency::Tritan => "without the cones for blue (tritan)",
    }
}

/// The two colors of a note with their stitches.
fn pair(note: &Note) -> Option<String> {
    let [one, other] = note.colors.as_slice() else { return None };
    Some(format!("{} and {}", with_stitches(one), with_stitches(other)))
}

fn with_stitches(color: &Worked) -> String {
    format!("{}, {}", name(color), stitches(color))
}

/// A color by its threads and name, or by its value, with its symbol.
fn name(color: &Worked) -> String {
    let threads: Vec<String> =
        color.threads.iter().map(|thread| text::thread_name(thread, "")).collect();
    let mut name = if threads.is_empty() { color.color.to_string() } else { threads.join(" + ") };
    if let Some(label) = &color.name {
        name = format!("{name} {label}");
    }
    match color.symbols.first() {
        Some(symbol) => format!("{name} ({})", harmless(symbol.as_str())),
        None => name,
    }
}

/// A thread and how many stitches are worked in it.
fn of_thread(thread: &ThreadRef, note: &Note) -> String {
    let stitches: u64 = note.colors.iter().map(|color| color.stitches).sum();
    let named = note.colors.iter().find(|color| color.threads.as_slice() == [thread.clone()]);
    let name = named.map_or_else(|| text::thread_name(thread, ""), name);
    format!("{name}, {}", counted(stitches, "stitch", "stitches"))
}

fn stitches(color: &Worked) -> String {
    counted(color.stitches, "stitch", "stitches")
}

fn at(color: &Worked) -> String {
    color.first.map(|at| format!("; first at {}", place(at))).unwrap_or_default()
}

/// Columns and rows are counted from 1 for people.
pub(super) fn place((x, y): (u16, u16)) -> String {
    format!("column {}, row {}", u32::from(x) + 1, u32::from(y) + 1)
}

fn cells(cells: &Cells) -> Option<String> {
    let first: Vec<String> = cells.first.iter().take(NAMED).map(|at| place(*at)).collect();
    let more = cells.count.saturating_sub(first.len() as u64);
    let more = if more > 0 { format!("; and {} more", thousands(more)) } else { String::new() };
    (!first.is_empty()).then(|| format!("{}{more}", first.join("; ")))
}

fn names(colors: &[Worked]) -> String {
    let named: Vec<String> = colors.iter().take(NAMED).map(name).collect();
    let more = colors.len().saturating_sub(named.len());
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}", named.join(", "))
}
