//! What `clean` did and could do, as lines and as JSON. It does not do it.

use std::collections::BTreeMap;

use dyekin_core::Color;
use dyekin_core::difference::Difference;
use dyekin_core::error::harmless;
use dyekin_core::{Formula, Srgb8};
use serde_json::{Value, json};

use super::{counted, size, text, thousands};
use crate::chart::{Chart, used};
use crate::commands::{Carried, Lone, files_object};
use crate::stitch_list::{StitchAnswer, StitchColor, StitchList, Suggestion, Why};

/// Pairs of colors and suggestions that are told without being asked for details.
const SHOWN: usize = 5;

/// What is told.
#[derive(Debug)]
pub(crate) struct Told<'t> {
    list: &'t StitchList,
    lone: &'t Lone,
    colors_before: usize,
    colors_after: usize,
    mapped: bool,
}

impl<'t> Told<'t> {
    pub(crate) fn new(
        list: &'t StitchList,
        lone: &'t Lone,
        before: &Chart,
        after: &Chart,
        mapped: bool,
    ) -> Self {
        let colors = |chart: &Chart| used(chart).into_iter().filter(|used| *used).count();
        let (colors_before, colors_after) = (colors(before), colors(after));
        Self { list, lone, colors_before, colors_after, mapped }
    }

    /// True when the colors of a picture got threads.
    pub(crate) fn is_mapped(&self) -> bool {
        self.mapped
    }

    fn count(&self, why: Why) -> u64 {
        let moved = self
            .list
            .stitches
            .iter()
            .filter(|stitch| stitch.why == why && stitch.answer != Some(StitchAnswer::No));
        moved.count() as u64
    }

    /// The lines of the report.
    pub(crate) fn lines(&self, details: bool, width: usize) -> Vec<String> {
        let mut lines = Vec::new();
        let mut say = |sentence: &str, indent: usize| {
            let wrapped = match sentence.strip_prefix("  ") {
                Some(item) => text::wrap_indented(item, width, indent - 2),
                None => text::wrap(sentence, width, indent),
            };
            lines.extend(wrapped);
        };
        say(&self.headline(), 2);
        let pairs = self.pairs();
        let shown = if details { pairs.len() } else { SHOWN };
        for ((from, to), count) in pairs.iter().take(shown) {
            let stitches = counted(*count, "stitch", "stitches");
            say(&format!("  {}, {stitches} -> {}", self.name(*from), self.name(*to)), 4);
        }
        if pairs.len() > shown {
            let rest: u64 = pairs.iter().skip(shown).map(|(_, count)| count).sum();
            let more = thousands((pairs.len() - shown) as u64);
            let stitches = counted(rest, "stitch", "stitches");
            say(&format!("  and {more} more, {stitches}; --details shows them"), 4);
        }
        let joined = self.count(Why::Lone);
        if joined > 0 {
            let stitches = counted(joined, "lone stitch joins", "lone stitches join");
            say(&format!("{stitches} the color around."), 2);
        }
        if let Some(sentence) = self.suggested() {
            say(&sentence, 2);
        }
        let shown = if details { usize::MAX } else { SHOWN };
        for held in self.list.suggestions.iter().take(shown) {
            say(&format!("  {}", self.suggestion(held)), 4);
        }
        if self.lone.stand_out > 0 {
            let many = self.lone.stand_out as u64;
            let what = counted(
                many,
                "lone stitch or tiny group stands",
                "lone stitches or tiny groups stand",
            );
            let stay = if many == 1 { "stays" } else { "stay" };
            say(&format!("{what} out from the color around and {stay}."), 2);
        }
        lines
    }

    fn headline(&self) -> String {
        let moved = self.count(Why::Blend);
        let before = counted(self.colors_before as u64, "color", "colors");
        let after = if self.mapped {
            counted(self.colors_after as u64, "thread", "threads")
        } else {
            thousands(self.colors_after as u64)
        };
        let verb = if self.colors_before == 1 { "becomes" } else { "become" };
        if moved == 0 {
            let rest =
                if self.mapped { format!(" {before} {verb} {after}.") } else { String::new() };
            return format!("No stray stitches along edges: none moved.{rest}");
        }
        let stitches = counted(moved, "stray stitch goes", "stray stitches go");
        format!("{stitches} to the side of the edge that they belong to; {before} {verb} {after}.")
    }

    /// Colors that stitches leave and join, most stitches first.
    fn pairs(&self) -> Vec<((usize, usize), u64)> {
        let mut pairs: BTreeMap<(usize, usize), u64> = BTreeMap::new();
        for stitch in &self.list.stitches {
            let to = match stitch.answer {
                Some(StitchAnswer::No) => continue,
                Some(StitchAnswer::Another(color)) => color,
                Some(StitchAnswer::Yes) | None => stitch.to,
            };
            *pairs.entry((stitch.from, to)).or_default() += 1;
        }
        let mut pairs: Vec<_> = pairs.into_iter().collect();
        pairs.sort_by_key(|(pair, count)| (std::cmp::Reverse(*count), *pair));
        pairs
    }

    fn suggested(&self) -> Option<String> {
        let all = &self.list.suggestions;
        if all.is_empty() {
            return None;
        }
        let stitches: u64 = all.iter().map(|held| held.cells.len() as u64).sum();
        let starts: u64 = all.iter().map(|held| held.starts).sum();
        let centimetres = all.iter().map(Suggestion::thread_mm).sum::<u64>() / 10;
        let groups =
            counted(all.len() as u64, "lone stitch or tiny group", "lone stitches or tiny groups");
        Some(format!(
            "{groups} could join the color around: {}, {} and about {centimetres} cm of thread for their ends. --lone lets those within --within join.",
            counted(stitches, "stitch", "stitches"),
            counted(starts, "thread change", "thread changes"),
        ))
    }

    fn suggestion(&self, held: &Suggestion) -> String {
        let place = match held.cells.first() {
            Some((x, y)) => format!("column {}, row {}", x + 1, y + 1),
            None => String::new(),
        };
        let many = match held.cells.len() {
            1 => String::new(),
            several => format!(" ({several} stitches)"),
        };
        let (from, to) = (self.name(held.from), self.name(held.to));
        format!("{place}{many}: {from} -> {to}, {}", self.words(held))
    }

    fn words(&self, held: &Suggestion) -> String {
        let color = |number: usize| self.color(number).map(|color| Color::screen(color.hex));
        color(held.from)
            .zip(color(held.to))
            .and_then(|(from, to)| Difference::between(&from, &to, Formula::DEFAULT).ok())
            .map(|difference| size(&difference))
            .unwrap_or_default()
    }

    fn color(&self, number: usize) -> Option<&StitchColor> {
        self.list.colors.iter().find(|held| held.number == number)
    }

    /// A color by its threads, or by its value.
    fn name(&self, number: usize) -> String {
        let Some(color) = self.color(number) else { return String::new() };
        let threads: Vec<String> =
            color.threads.iter().map(|held| harmless(&held.thread.to_string())).collect();
        if threads.is_empty() { color.hex.to_string() } else { threads.join(" + ") }
    }

    fn hex(&self, number: usize) -> Option<String> {
        self.color(number).map(|color| color.hex).map(|hex: Srgb8| hex.to_string())
    }

    /// The object of `--json`.
    pub(crate) fn json(&self, carried: &Carried<'_>) -> Value {
        let moves: Vec<Value> = self
            .pairs()
            .into_iter()
            .map(|((from, to), stitches)| {
                json!({"from": self.hex(from), "to": self.hex(to), "stitches": stitches})
            })
            .collect();
        let suggestions: Vec<Value> = self
            .list
            .suggestions
            .iter()
            .map(|held| {
                json!({
                    "cells": held.cells.iter().map(|(x, y)| json!([x, y])).collect::<Vec<_>>(),
                    "from": self.hex(held.from),
                    "to": self.hex(held.to),
                    "difference": held.difference,
                    "starts": held.starts,
                    "thread_mm": held.thread_mm(),
                })
            })
            .collect();
        json!({
            "question": "clean",
            "stray": self.count(Why::Blend),
            "joined": self.count(Why::Lone),
            "colors_before": self.colors_before,
            "colors_after": self.colors_after,
            "mapped": self.mapped,
            "stitches": self.lone.stitches,
            "lone": self.lone.single,
            "standing_out": self.lone.stand_out,
            "moves": moves,
            "suggestions": suggestions,
            "files": Value::Object(files_object(&carried.written)),
            "lost": carried.notices,
        })
    }
}
