//! A change list for people: what becomes of the chart as a whole, then change by change.
//! It does not decide anything, and it does not write.

mod proof;

pub(crate) use proof::shown_gap;

use std::collections::{BTreeMap, BTreeSet};

use dyekin_core::change::{Change, Combined, Loosened, Proposed, Question, Remark};
use dyekin_core::color::Trust;
use dyekin_core::{ChangeList, DeltaE, ThreadRef};

use super::{Caution, counted, light, rounded, same_listed, supply, text, thousands, verdict};
use crate::summary::Summary;

/// Changes shown without `--details`: the list begins with those to look at first. House choice.
const CHANGES_SHOWN: usize = 12;

/// Runners-up shown for each change with `--details`.
const RUNNERS_UP_SHOWN: usize = 3;

/// A change list with what is needed to speak about it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Told<'r> {
    pub(crate) list: &'r ChangeList,
    pub(crate) summary: &'r Summary,
    pub(crate) limit: Option<DeltaE>,
    pub(crate) details: bool,
    pub(crate) width: usize,
}

impl Told<'_> {
    /// The whole report as lines.
    pub(crate) fn lines(&self) -> Vec<String> {
        let mut lines = self.headline();
        let all = self.list.changes.len();
        // One more line than needed to say that one is left out would be odd.
        let shown = if self.details || all <= CHANGES_SHOWN + 1 { all } else { CHANGES_SHOWN };
        for change in self.list.changes.iter().take(shown) {
            lines.extend(self.change(change));
        }
        if shown < all {
            let more = thousands((all - shown) as u64);
            let said = format!(
                "and {more} more changes: --details shows them all, --changes FILE writes the list"
            );
            lines.extend(text::wrap(&said, self.width, 2));
        }
        if self.details {
            for need in proof::needs(self.list) {
                lines.extend(text::wrap(&need, self.width, 2));
            }
        }
        if !self.list.unchanged.is_empty() {
            let stay = counted(self.list.unchanged.len() as u64, "color stays", "colors stay");
            let names: Vec<String> =
                self.list.unchanged.iter().map(|place| color_name(self.summary, *place)).collect();
            let said = if self.details {
                format!("{stay} as they are: {}", names.join(", "))
            } else {
                format!("{stay} as {}", if names.len() == 1 { "it is" } else { "they are" })
            };
            lines.extend(text::wrap(&said, self.width, 2));
        }
        lines
    }

    /// The changes alone, all of them.
    pub(crate) fn changes(&self) -> Vec<String> {
        self.list.changes.iter().flat_map(|change| self.change(change)).collect()
    }

    fn headline(&self) -> Vec<String> {
        let totals = &self.list.totals;
        let before = counted(totals.colors_before as u64, "color", "colors");
        let after = counted(totals.threads_after as u64, "thread", "threads");
        let trust = trust(self.list);
        let mean = rounded(totals.mean_difference.value(), trust);
        let most = rounded(totals.max_difference.value(), trust);
        let verb = if totals.colors_before == 1 { "becomes" } else { "become" };
        let mut said = match self.list.question {
            Question::Substitute => {
                let changed = counted(self.list.changes.len() as u64, "color", "colors");
                let verb = if self.list.changes.len() == 1 { "gets" } else { "get" };
                format!(
                    "{changed} of {} {verb} another thread",
                    thousands(totals.colors_before as u64)
                )
            }
            Question::Convert | Question::Reduce => format!("{before} {verb} {after}"),
        };
        said = format!("{said}; difference {mean} on average over all stitches, {most} at most.");
        let mut lines = text::wrap(&said, self.width, 2);
        let sentences = [self.loosened(), self.left_out(), proof::said(self)];
        let supply = supply::sentences(self.list, self.details);
        let edges = [self.edges(), self.shading(), self.together()];
        let edges = edges.into_iter().flatten();
        for sentence in sentences.into_iter().flatten().chain(supply).chain(edges) {
            lines.extend(text::wrap(&sentence, self.width, 2));
        }
        lines
    }

    /// What had to give way, said before anything else.
    fn loosened(&self) -> Option<String> {
        let joint = self.list.joint.as_ref().filter(|joint| !joint.loosened.is_empty())?;
        let gave_way = |loosened: &Loosened| match loosened {
            Loosened::Apart => format!(
                "threads are {:.1} apart at least, and not {:.1}",
                joint.least_apart.map_or(0.0, DeltaE::value),
                joint.min_apart.value()
            ),
            Loosened::Lightness => {
                let steps = counted(joint.steps as u64, "step", "steps");
                let reversed = thousands(joint.reversed_steps as u64);
                format!("{reversed} of {steps} of lightness turned round")
            }
            Loosened::Outlines => "outlines may fade".to_owned(),
        };
        let said: Vec<String> = joint.loosened.iter().map(gave_way).collect();
        let how = if joint.proved_impossible { "cannot be had" } else { "were not found" };
        Some(format!(
            "Look: not everything you asked for could be kept; all of it {how} together. The nearest: {}.",
            said.join("; ")
        ))
    }

    /// What the lights ranked by kept from standing in.
    fn left_out(&self) -> Option<String> {
        let joint = self.list.joint.as_ref().filter(|joint| joint.left_out > 0)?;
        Some(format!("{}.", light::left_out(joint.left_out)))
    }

    fn edges(&self) -> Option<String> {
        let Some(edges) = self.list.edges else {
            return Some(
                "Neighbors unknown: nobody looked whether touching colors stay apart.".to_owned(),
            );
        };
        if edges.outline == 0 {
            return None;
        }
        let outline = counted(edges.outline, "outline edge", "outline edges");
        let (vanished, faded) = (thousands(edges.vanished), thousands(edges.faded));
        let (vanish, fade) = (verb(edges.vanished, "vanish"), verb(edges.faded, "fade"));
        Some(match (edges.vanished, edges.faded) {
            (0, 0) if edges.outline == 1 => "The only outline edge stays clear.".to_owned(),
            (0, 0) => format!("All {outline} stay clear."),
            (1, 0) if edges.outline == 1 => "The only outline edge vanishes.".to_owned(),
            (0, 1) if edges.outline == 1 => "The only outline edge fades.".to_owned(),
            (_, 0) => format!("{vanished} of {outline} {vanish}."),
            (0, _) => format!("{faded} of {outline} {fade}."),
            (_, _) => format!("{vanished} of {outline} {vanish}, {faded} {fade}."),
        })
    }

    /// What becomes of soft edges, and of light and dark.
    fn shading(&self) -> Option<String> {
        let edges = self.list.edges?;
        let mut said = Vec::new();
        if edges.soft_vanished + edges.soft_faded > 0 {
            let soft = counted(edges.soft, "soft edge", "soft edges");
            let (vanished, faded) = (edges.soft_vanished, edges.soft_faded);
            let (vanish, fade) = (verb(vanished, "vanish"), verb(faded, "fade"));
            said.push(match (vanished, faded) {
                (_, 0) => format!("Shading: {} of {soft} {vanish}.", thousands(vanished)),
                (0, _) => format!("Shading: {} of {soft} {fade}.", thousands(faded)),
                (_, _) => format!(
                    "Shading: {} of {soft} {vanish}, {} {fade}.",
                    thousands(vanished),
                    thousands(faded)
                ),
            });
        }
        if edges.turned > 0 {
            let turned = counted(edges.turned, "edge", "edges");
            said.push(format!("Light and dark change sides along {turned}."));
        }
        (!said.is_empty()).then(|| said.join(" "))
    }

    /// Which colors fall together, where nobody asked for fewer threads.
    fn together(&self) -> Option<String> {
        if self.list.question == Question::Reduce {
            return None;
        }
        let groups = shared(self.list, self.summary);
        if groups.is_empty() {
            return None;
        }
        let colors: usize = groups.values().map(BTreeSet::len).sum();
        let colors = counted(colors as u64, "color", "colors");
        let threads = counted(groups.len() as u64, "thread", "threads");
        Some(format!("{colors} fall together in {threads}."))
    }

    fn change(&self, change: &Change) -> Vec<String> {
        let stitches = counted(change.stitches, "stitch", "stitches");
        let mut head = format!("{}, {stitches}", color_name(self.summary, change.color));
        if self.details {
            head = format!("{} {head}", color_id(change.color));
        }
        let mut lines = Vec::new();
        for (number, after) in change.after.iter().enumerate() {
            let name = text::thread_name(&after.thread, &after.name);
            if number == 0 {
                let row = vec![head.clone(), format!("-> {name}"), self.words(change, after)];
                lines.extend(text::rows(&[row], self.width));
            } else {
                let said = self.beside(change, after, &name);
                lines.extend(text::wrap_indented(&said, self.width, 3));
            }
            if self.details {
                lines.extend(text::wrap_indented(
                    &text::difference_details(&after.difference),
                    self.width,
                    5,
                ));
                if let Some(told) = &after.over_lights {
                    lines.extend(text::wrap_indented(&light::details(told), self.width, 5));
                }
            }
        }
        for remark in &change.remarks {
            if let Some(said) = self.remark(remark) {
                lines.extend(text::wrap_indented(&said, self.width, 3));
            }
        }
        if self.details {
            lines.extend(self.runners_up(change));
        } else if let Some(said) = self.as_near(change) {
            lines.extend(text::wrap_indented(&said, self.width, 3));
        }
        lines
    }

    /// The runners-up that may be as near as the stand-in, where one thread is chosen for another.
    fn as_near(&self, change: &Change) -> Option<String> {
        if self.list.question != Question::Substitute {
            return None;
        }
        let near = change.runners_up.iter().filter(|other| other.as_near);
        let names: Vec<String> =
            near.map(|other| text::thread_name(&other.thread, &other.name)).collect();
        let look = match names.len() {
            0 => return None,
            1 => "look at both",
            _ => "look at all of them",
        };
        Some(format!("just as near, as far as the data can tell: {}; {look}", names.join(", ")))
    }

    /// The other thread of a blend.
    fn beside(&self, change: &Change, after: &Proposed, name: &str) -> String {
        let place = self.summary.places().get(change.color);
        if place.is_some_and(|place| place.thread_refs().contains(&after.thread)) {
            return format!("with {name} as before");
        }
        format!("with {name}: {}", self.words(change, after))
    }

    fn words(&self, change: &Change, after: &Proposed) -> String {
        let same = same_listed(&change.standard, &after.color);
        let mut words = verdict(&after.difference, same, "the new one");
        words.push_str(&light::note(after.over_lights.as_deref(), &after.difference));
        let says_so = words.contains("not checked");
        if after.difference.trust != Trust::Measured && !says_so {
            words.push_str(", not checked");
        }
        if let Some(limit) = self.limit.filter(|limit| is_beyond(after, *limit)) {
            words.push_str(&format!("; beyond {:.1}", limit.value()));
        }
        words
    }

    fn remark(&self, remark: &Remark) -> Option<String> {
        let reduce = self.list.question == Question::Reduce;
        match remark {
            Remark::SharesThread(_) if reduce && !self.details => None,
            Remark::NotNearest if !self.details => None,
            // Said beside the difference.
            Remark::BeyondLimit => None,
            Remark::SharesThread(other) => {
                Some(format!("same thread as {}", color_name(self.summary, *other)))
            }
            Remark::Kept => Some("stays with this thread, as you asked".to_owned()),
            Remark::NotNearest => Some("a nearer thread is not among the chosen ones".to_owned()),
            Remark::AlreadyUsed => Some("the chart uses this thread already".to_owned()),
            Remark::LosesEdge(other) => Some(format!(
                "look: no longer stands out from {}, which it touches",
                color_name(self.summary, *other)
            )),
            Remark::FadesIntoCloth => Some("look: no longer stands out from the cloth".to_owned()),
            Remark::TurnsShading(other) => Some(format!(
                "look: light and dark change sides with {}, which it touches",
                color_name(self.summary, *other)
            )),
        }
    }

    fn runners_up(&self, change: &Change) -> Vec<String> {
        change
            .runners_up
            .iter()
            .take(RUNNERS_UP_SHOWN)
            .flat_map(|other| {
                let name = text::thread_name(&other.thread, &other.name);
                let same = same_listed(&change.standard, &other.color);
                let mut words = verdict(&other.difference, same, "it");
                words.push_str(&light::note(other.over_lights.as_deref(), &other.difference));
                if other.as_near {
                    words.push_str(
                        "; just as near as the one proposed, as far as the data can tell",
                    );
                }
                text::wrap_indented(&format!("or {name}: {words}"), self.width, 5)
            })
            .collect()
    }
}

/// The verb as it goes with a number.
fn verb(number: u64, many: &str) -> String {
    match (number, many) {
        (1, "vanish") => "vanishes".to_owned(),
        (1, _) => format!("{many}s"),
        (_, _) => many.to_owned(),
    }
}

/// The cautions that belong to a change list.
pub(crate) fn cautions(list: &ChangeList) -> Vec<Caution> {
    let mut cautions = Vec::new();
    if list.question == Question::Convert {
        cautions.push(Caution::Rights);
    }
    if trust(list) == Trust::Rough {
        cautions.push(Caution::Screen);
    }
    cautions.extend([Caution::Lot, Caution::Wet]);
    cautions
}

/// Rough as soon as one change is.
pub(crate) fn trust(list: &ChangeList) -> Trust {
    let all = list.changes.iter().flat_map(|change| &change.after);
    all.map(|after| after.difference.trust).max().unwrap_or(Trust::Measured)
}

/// Changes with a thread farther than the limit.
pub(crate) fn beyond(list: &ChangeList, limit: Option<DeltaE>) -> usize {
    let Some(limit) = limit else { return 0 };
    let far = |change: &&Change| change.after.iter().any(|after| is_beyond(after, limit));
    list.changes.iter().filter(far).count()
}

fn is_beyond(after: &Proposed, limit: DeltaE) -> bool {
    after.difference.delta_e.value() > limit.value()
}

/// How far what was made small can be from the best possible, in percent of the latter; `None` when
/// no bound is known or the bound says nothing.
pub(crate) fn gap_percent(list: &ChangeList) -> Option<f64> {
    let totals = &list.totals;
    let (found, bound) = match &list.reduction {
        Some(report) => (report.total, report.bound),
        None => (totals.mean_difference.value(), totals.lower_bound.map(DeltaE::value)),
    };
    gap(found, bound, totals.proved_best)
}

/// How far mean difference and lost contrast together can be from the best possible, in percent.
pub(crate) fn combined_gap_percent(combined: &Combined) -> Option<f64> {
    gap(combined.total, Some(combined.lower_bound), false)
}

fn gap(found: f64, bound: Option<f64>, proved_best: bool) -> Option<f64> {
    if proved_best {
        return Some(0.0);
    }
    let bound = bound?;
    (bound > 0.0).then(|| ((found / bound - 1.0) * 100.0).max(0.0))
}

/// Threads that several colors get, with the colors by their places.
pub(crate) fn shared(
    list: &ChangeList,
    summary: &Summary,
) -> BTreeMap<Vec<ThreadRef>, BTreeSet<usize>> {
    let mut groups: BTreeMap<Vec<ThreadRef>, BTreeSet<usize>> = BTreeMap::new();
    for change in &list.changes {
        let threads = change.after.iter().map(|after| after.thread.clone()).collect();
        groups.entry(threads).or_default().insert(change.color);
    }
    for place in &list.unchanged {
        if let Some(color) = summary.places().get(*place) {
            groups.entry(color.thread_refs()).or_default().insert(*place);
        }
    }
    groups.retain(|threads, colors| !threads.is_empty() && colors.len() > 1);
    groups
}

/// The id of a color in reports and change lists: `c` and its place from 1.
pub(crate) fn color_id(place: usize) -> String {
    format!("c{}", place + 1)
}

/// What a color of the chart is called: its threads or its value, and its area.
pub(crate) fn color_name(summary: &Summary, place: usize) -> String {
    let Some(color) = summary.places().get(place) else { return color_id(place) };
    let threads: Vec<String> =
        color.thread_refs().iter().map(|thread| text::thread_name(thread, "")).collect();
    let mut name = if threads.is_empty() { color.color().to_string() } else { threads.join(" + ") };
    if let Some(area) = color.area() {
        name = format!("{name} in {}", dyekin_core::error::harmless(area.as_str()));
    }
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_is_measured_from_the_bound() {
        assert_eq!(gap(2.0, None, false), None);
        assert_eq!(gap(2.0, Some(0.0), false), None);
        assert_eq!(gap(2.0, Some(1.0), false), Some(100.0));
        assert_eq!(gap(2.0, Some(2.0), true), Some(0.0));
    }
}
