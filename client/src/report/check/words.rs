//! The words of each note, and what to do about it. It does not know files or widths.

use dyekin_core::ThreadRef;
use dyekin_core::error::harmless;
use dyekin_core::table::Status;

use super::super::{counted, size, text, thousands};
use super::typeable;
use crate::check::{Cells, Degree, Finding, Note, Reason, Worked};

/// Colors that one line names.
const NAMED: usize = 4;

/// What mends a note.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Way {
    /// Something that a person does.
    Act(&'static str),
    /// A command on the chart.
    Command {
        /// What it does, before the command; empty where the command says it.
        words: &'static str,
        verb: &'static str,
        /// Behind the chart and its tables.
        options: String,
        needs_table: bool,
    },
}

impl Way {
    pub(super) fn words(&self) -> &'static str {
        match self {
            Self::Act(words) | Self::Command { words, .. } => words,
        }
    }
}

/// A degree as a heading.
pub(super) fn degree(degree: Degree) -> &'static str {
    match degree {
        Degree::Fix => "Fix before selling",
        Degree::Look => "Look",
        Degree::Information => "For information",
    }
}

/// A degree behind a number.
pub(super) fn to(degree: Degree) -> &'static str {
    match degree {
        Degree::Fix => "to fix before selling",
        Degree::Look => "to look at",
        Degree::Information => "for information",
    }
}

/// What all notes of one code are about.
pub(super) fn heading(notes: &[&Note], all: u64) -> String {
    let Some(first) = notes.first() else { return String::new() };
    let of_colors = |one: &str, many: &str| counted(first.colors.len() as u64, one, many);
    match &first.finding {
        Finding::FewStitches => counted(all, "color has few stitches", "colors have few stitches"),
        Finding::LikeCloth { cloth, .. } => {
            format!("{} close to the cloth ({cloth})", counted(all, "color is", "colors are"))
        }
        Finding::LoneStitches { percent } => format!(
            "{percent:.1} % of the stitches stand alone: {}",
            counted(first.cells.count, "stitch", "stitches")
        ),
        Finding::MayBleed { .. } => of_colors(
            "dark, vivid or red color touches pale ones",
            "dark, vivid or red colors touch pale ones",
        ),
        Finding::NearColors { .. } => counted(
            all,
            "pair of colors can hardly be told apart",
            "pairs of colors can hardly be told apart",
        ),
        Finding::NoSingleColor { .. } => counted(
            all,
            "thread has no single color, so what is computed from it means little",
            "threads have no single color, so what is computed from them means little",
        ),
        Finding::NoThread => of_colors("color has no thread yet", "colors have no thread yet"),
        Finding::NotChecked { .. } => "could not be looked at".to_owned(),
        Finding::OtherVersion { .. } => {
            "the chart was made with another version of a table".to_owned()
        }
        Finding::StatusUntold => of_colors(
            "color is worked in a thread whose table does not say whether it can be bought",
            "colors are worked in threads whose table does not say whether they can be bought",
        ),
        Finding::StrayEdges { .. } => format!(
            "{} along edges mix the two sides",
            counted(first.cells.count, "stitch", "stitches")
        ),
        Finding::ThreadGone { .. } => {
            counted(all, "thread cannot be bought", "threads cannot be bought")
        }
        Finding::ThreadLow { .. } => {
            counted(all, "thread is running out", "threads are running out")
        }
        Finding::ThreadUnknown { .. } => {
            counted(all, "thread is not in its table", "threads are not in their table")
        }
    }
}

/// One note by itself; nothing where the heading says it all.
pub(super) fn item(note: &Note, details: bool) -> Option<String> {
    let numbers = |words: String| match note.finding.difference() {
        Some(difference) if details => {
            format!("{words}; {}", text::difference_details(difference))
        }
        _ => words,
    };
    let words = match &note.finding {
        Finding::FewStitches => {
            let color = note.colors.first()?;
            format!("{}: {}{}", name(color), stitches(color), at(color))
        }
        Finding::LikeCloth { difference, edges, .. } => {
            let color = note.colors.first()?;
            let sides = counted(*edges, "stitch side", "stitch sides");
            let (name, stitches) = (name(color), stitches(color));
            let words = size(difference);
            format!("{name}, {stitches}: {words}; {sides} beside the cloth{}", at(color))
        }
        Finding::LoneStitches { .. } => cells(&note.cells)?,
        Finding::MayBleed { edges } => {
            let sides = counted(*edges, "stitch side", "stitch sides");
            format!("{}: {sides} beside pale colors", names(&note.colors))
        }
        Finding::NearColors { difference, edges } => {
            let [one, other] = note.colors.as_slice() else { return None };
            let touch = match edges {
                None => String::new(),
                Some(0) => "; they do not touch".to_owned(),
                Some(edges) => {
                    format!("; they touch along {}", counted(*edges, "stitch side", "stitch sides"))
                }
            };
            let pair = format!(
                "{}, {} and {}, {}",
                name(one),
                stitches(one),
                name(other),
                stitches(other)
            );
            format!("{pair}: {}{touch}", size(difference))
        }
        Finding::NoSingleColor { thread, finish } => {
            format!("{}: {}", of_thread(thread, note), finish.as_str())
        }
        Finding::NoThread | Finding::StatusUntold => names(&note.colors),
        Finding::NotChecked { reason } => unchecked(reason),
        Finding::OtherVersion { table } => {
            format!("{table}; its colors and states are taken as they are now")
        }
        Finding::StrayEdges { colors } => {
            let gone = match colors {
                0 => String::new(),
                some => format!(
                    "; {} for nothing else",
                    counted(*some, "color is there", "colors are there")
                ),
            };
            format!("{}{gone}", cells(&note.cells)?)
        }
        Finding::ThreadGone { thread, status } | Finding::ThreadLow { thread, status } => {
            format!("{}: {}", of_thread(thread, note), status.as_str())
        }
        Finding::ThreadUnknown { thread, near } => {
            let near: Vec<String> = near.iter().map(|code| harmless(code)).collect();
            let near = match near.as_slice() {
                [] => String::new(),
                near => format!(": close in spelling: {}", near.join(", ")),
            };
            format!("{}{near}", of_thread(thread, note))
        }
    };
    Some(numbers(words))
}

/// What mends a note.
pub(super) fn way(finding: &Finding) -> Way {
    let command = |words, verb, options: &str, needs_table| Way::Command {
        words,
        verb,
        options: options.to_owned(),
        needs_table,
    };
    match finding {
        Finding::FewStitches => command(
            "keep eyes, highlights and lettering; for the others see what joining a near color costs",
            "merge",
            "",
            true,
        ),
        Finding::LikeCloth { .. } => {
            Way::Act("choose another cloth or another thread, or outline these stitches")
        }
        Finding::LoneStitches { .. } => command(
            "let those that do not stand out join the color around",
            "clean",
            " --lone -o OUT",
            false,
        ),
        Finding::MayBleed { .. } => Way::Act(
            "wet the thread, blot it on white and let it dry before you stitch, and say so in the chart",
        ),
        Finding::NearColors { .. } => command("see what joining them costs", "merge", "", true),
        Finding::NoSingleColor { .. } => {
            Way::Act("look at the real thread beside the others, in daylight")
        }
        Finding::NoThread => command("give each its thread", "convert", " -o OUT --key FILE", true),
        Finding::NotChecked { reason: Reason::NoTable(_) } => Way::Act("add --table with its file"),
        Finding::NotChecked { reason: Reason::NoCloth } => {
            Way::Act("add --cloth with the color of the cloth")
        }
        Finding::NotChecked { reason: Reason::KeyAlone } => Way::Act("give the chart itself"),
        Finding::OtherVersion { .. } => {
            Way::Act("see what the new version changes with dyekin table compare OLD NEW")
        }
        Finding::StatusUntold => Way::Act("fill in the column status of the table"),
        Finding::StrayEdges { .. } => {
            command("give them to the side that they belong to", "clean", " -o OUT", false)
        }
        Finding::ThreadGone { thread, status } | Finding::ThreadLow { thread, status } => {
            substitute(&[thread], *status)
        }
        Finding::ThreadUnknown { .. } => {
            Way::Act("correct the code in the key, or give the table that has it")
        }
    }
}

/// The command that replaces threads.
pub(super) fn substitute(missing: &[&ThreadRef], status: Status) -> Way {
    let words = match status {
        Status::Low | Status::BackOrder => {
            "buy all that is needed at once, or put others in their place"
        }
        Status::Available | Status::Discontinued | Status::Unavailable | Status::Unknown => {
            "put others in their place"
        }
    };
    let codes: Vec<String> =
        missing.iter().map(|thread| format!("{}:{}", thread.table, thread.code)).collect();
    let options = format!(" --missing {} -o OUT", typeable(&codes.join(",")));
    Way::Command { words, verb: "substitute", options, needs_table: true }
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
    color.first.map(|(x, y)| format!("; first at {}", place((x, y)))).unwrap_or_default()
}

/// Columns and rows are counted from 1 for people.
fn place((x, y): (u16, u16)) -> String {
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
